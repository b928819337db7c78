//! From encoded samples to linear light.

use std::sync::Arc;

use moxcms::TransformF32Executor;
use planes::{LumaWeights, ToneCurve};

use crate::profile::{Curve, Profile, SRGB_LUMA, UNITY, tone_table};
use crate::source::{Declared, Primaries, Scale, from_words};
use crate::{Colour, Remark};

/// How encoded samples are to be turned into light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ToneChoice {
    /// The embedded profile; without one the tone that the file states otherwise; without that sRGB, with a remark.
    Icc,
    /// This curve, whatever the file says.
    Curve(ToneCurve),
}

/// How encoded samples were turned into light.
#[derive(Debug, Clone, PartialEq)]
pub enum ToneUsed {
    /// By the embedded profile.
    Icc {
        /// The profile's own description.
        description: String,
    },
    /// By the sRGB curve, because nothing usable was in the file.
    SrgbAssumed,
    /// By this curve, chosen by the caller or stated by the file.
    Curve(ToneCurve),
    /// By the inverse of the camera curve of Rec. ITU-R BT.709, stated by the file.
    Bt709,
}

impl ToneUsed {
    /// "icc", "srgb", "linear", "bt709" or "gamma=2.2".
    pub fn label(&self) -> String {
        match self {
            Self::Icc { .. } => "icc".into(),
            Self::SrgbAssumed | Self::Curve(ToneCurve::Srgb) => "srgb".into(),
            Self::Curve(ToneCurve::Linear) => "linear".into(),
            Self::Bt709 => "bt709".into(),
            Self::Curve(ToneCurve::Gamma(gamma)) => format!("gamma={gamma}"),
        }
    }
}

/// The way to light, ready to be applied row by row.
pub(crate) struct Tone {
    way: Way,
    scale: Scale,
    pub(crate) used: ToneUsed,
    pub(crate) luma: LumaWeights,
    /// From light in the channels to linear sRGB.
    pub(crate) to_srgb: [[f32; 3]; 3],
    pub(crate) remarks: Vec<Remark>,
}

enum Way {
    /// A table of light for every value, per channel.
    Tables(Vec<Arc<[f32]>>),
    /// A curve per channel, for samples that are too fine for a table.
    Curves(Vec<Light>),
    /// Through a profile's tables to linear sRGB.
    Transform(Arc<TransformF32Executor>),
}

/// The largest value below 1: what a sample that is *not* clipped may reach.
const BELOW_ONE: f32 = 1.0 - f32::EPSILON / 2.0;
/// The least value above 0 that a sample that is not clipped is given.
const ABOVE_ZERO: f32 = f32::MIN_POSITIVE;

/// A tone curve from 0 ..= 1 to 0 ..= 1.
type Light = Arc<dyn Fn(f64) -> f64 + Send + Sync>;

impl Way {
    /// One curve for all channels.
    fn of(curve: Light, colour: Colour, scale: Scale) -> Self {
        match scale {
            Scale::Whole(full_scale) => {
                let table: Arc<[f32]> = tone_table(full_scale, |x| curve(x)).into();
                Self::Tables(vec![table; colour.channels()])
            }
            Scale::Float => Self::Curves(vec![curve; colour.channels()]),
        }
    }
}

impl Tone {
    /// One curve for all channels.
    pub(crate) fn curve(curve: ToneCurve, colour: Colour, scale: Scale) -> Self {
        let way = Way::of(Arc::new(move |x| curve.decode(x)), colour, scale);
        Self::by(way, scale, ToneUsed::Curve(curve))
    }

    fn by(way: Way, scale: Scale, used: ToneUsed) -> Self {
        Self { way, scale, used, luma: LumaWeights(SRGB_LUMA), to_srgb: UNITY, remarks: Vec::new() }
    }

    /// What a file without a profile states, or sRGB.
    pub(crate) fn declared(declared: Declared, colour: Colour, scale: Scale) -> Self {
        let mut tone = match declared {
            Declared::Srgb => return Self::curve(ToneCurve::Srgb, colour, scale),
            Declared::Nothing => return Self::assumed(Remark::SrgbAssumed, colour, scale),
            Declared::LinearByCustom => {
                let tone = Self::curve(ToneCurve::Linear, colour, scale);
                return Self { remarks: vec![Remark::LinearAssumed], ..tone };
            }
            Declared::Gamma(gamma) if gamma != 1.0 => Self::curve(ToneCurve::Gamma(gamma), colour, scale),
            Declared::Gamma(_) | Declared::Linear => Self::curve(ToneCurve::Linear, colour, scale),
            Declared::Bt709 => Self::by(Way::of(Arc::new(bt709_decode), colour, scale), scale, ToneUsed::Bt709),
        };
        tone.remarks.push(Remark::ToneDeclared { label: tone.used.label() });
        tone
    }

    /// sRGB for want of something better, with the remark that says why.
    pub(crate) fn assumed(remark: Remark, colour: Colour, scale: Scale) -> Self {
        let tone = Self::curve(ToneCurve::Srgb, colour, scale);
        Self { used: ToneUsed::SrgbAssumed, remarks: vec![remark], ..tone }
    }

    /// The embedded profile.
    pub(crate) fn profile(profile: &Profile, description: &str, scale: Scale) -> Self {
        let used = ToneUsed::Icc { description: description.into() };
        match profile {
            Profile::Curves { curves, luma, to_srgb } => {
                let primaries = Primaries { luma: *luma, to_srgb: *to_srgb };
                Self::by(profile_way(curves, scale), scale, used).with_primaries(primaries)
            }
            Profile::Table(transform) => {
                let tone = Self::by(Way::Transform(transform.clone()), scale, used);
                Self { remarks: vec![Remark::ProfileTableBased], ..tone }
            }
        }
    }

    /// The same curve with the primaries of a profile: a curve chosen by hand says nothing about them.
    pub(crate) fn with_primaries_of(self, profile: &Profile) -> Self {
        if let Profile::Curves { luma, to_srgb, .. } = profile {
            return self.with_primaries(Primaries { luma: *luma, to_srgb: *to_srgb });
        }
        self
    }

    /// The same with those primaries.
    pub(crate) fn with_primaries(mut self, primaries: Primaries) -> Self {
        (self.luma, self.to_srgb) = (LumaWeights(primaries.luma), primaries.to_srgb);
        self
    }

    /// The tables of light, one per channel; `None` when a profile mixes the channels.
    pub(crate) fn tables(&self) -> Option<&[Arc<[f32]>]> {
        match &self.way {
            Way::Tables(tables) => Some(tables),
            Way::Curves(_) | Way::Transform(_) => None,
        }
    }

    /// Light for a row of samples, pixel by pixel as they come. 0 becomes 0 and full scale exactly 1; nothing else
    /// becomes 1.
    pub(crate) fn apply(&self, row: &[u16], light: &mut Vec<f32>) {
        light.clear();
        match &self.way {
            Way::Tables(tables) => match tables.as_slice() {
                [r, g, b] => {
                    light.extend(row.chunks_exact(3).flat_map(|p| [look(r, p[0]), look(g, p[1]), look(b, p[2])]));
                }
                tables => light.extend(row.iter().map(|&v| look(&tables[0], v))),
            },
            Way::Curves(curves) => {
                let samples = row.chunks_exact(2).map(from_words).zip(curves.iter().cycle());
                light.extend(samples.map(|(v, curve)| pinned(v, || curve(f64::from(v)) as f32)));
            }
            Way::Transform(transform) => self.transform(transform.as_ref(), row, light),
        }
    }

    /// A table-based profile mixes the channels, so the ends are pinned afterwards: a sample that is clipped in the file
    /// is clipped in the result, and no other is.
    fn transform(&self, transform: &TransformF32Executor, row: &[u16], light: &mut Vec<f32>) {
        let mut encoded = Vec::new();
        shares(row, self.scale, &mut encoded);
        light.resize(encoded.len(), 0.0);
        // The lengths agree and are multiples of three, which is all that can go wrong here; were it to, black shows it.
        let _ = transform.transform(&encoded, light);
        for (out, &v) in light.iter_mut().zip(&encoded) {
            *out = pinned(v, || *out);
        }
    }
}

/// 0 for what is at or below 0, 1 for what is at or above 1, and between them light that is neither.
fn pinned(encoded: f32, light: impl FnOnce() -> f32) -> f32 {
    // What is no number compares as neither and is black.
    if encoded >= 1.0 {
        return 1.0;
    }
    if encoded > 0.0 {
        let light = light();
        return if light.is_finite() { light.clamp(ABOVE_ZERO, BELOW_ONE) } else { ABOVE_ZERO };
    }
    0.0
}

/// The curves of a profile, equal ones shared.
fn profile_way(curves: &[Curve], scale: Scale) -> Way {
    let Scale::Whole(full_scale) = scale else {
        let light = |curve: &Curve| -> Light {
            let curve = curve.clone();
            let white = curve.raw(1.0);
            Arc::new(move |x| curve.raw(x) / white)
        };
        return Way::Curves(curves.iter().map(light).collect());
    };
    let mut tables: Vec<Arc<[f32]>> = Vec::new();
    for (i, curve) in curves.iter().enumerate() {
        let twin = curves[..i].iter().position(|c| c == curve);
        tables.push(twin.map_or_else(|| curve.table(full_scale).into(), |j| tables[j].clone()));
    }
    Way::Tables(tables)
}

/// Encoded samples over full scale, 0 ..= 1; clipped, and black where they are no numbers.
pub(crate) fn shares(row: &[u16], scale: Scale, shares: &mut Vec<f32>) {
    shares.clear();
    match scale {
        Scale::Whole(full_scale) => shares.extend(row.iter().map(|&v| f32::from(v) / f32::from(full_scale))),
        Scale::Float => shares.extend(row.chunks_exact(2).map(from_words).map(|v| pinned(v, || v))),
    }
}

/// How many samples of a row lie outside 0 ..= 1 or are no numbers.
pub(crate) fn outside(row: &[u16], scale: Scale) -> u64 {
    match scale {
        Scale::Whole(_) => 0,
        Scale::Float => row.chunks_exact(2).filter(|w| !(0.0..=1.0).contains(&from_words(w))).count() as u64,
    }
}

/// Light for a sample of Rec. ITU-R BT.709-6, item 1.2, both 0 ..= 1.
fn bt709_decode(encoded: f64) -> f64 {
    if encoded < 0.081 { encoded / 4.5 } else { ((encoded + 0.099) / 1.099).powf(1.0 / 0.45) }
}

fn look(table: &[f32], value: u16) -> f32 {
    table.get(usize::from(value)).copied().unwrap_or(1.0)
}
