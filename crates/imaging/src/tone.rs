//! From encoded samples to linear light.

use std::sync::Arc;

use moxcms::TransformF32Executor;
use planes::{LumaWeights, ToneCurve};

use crate::profile::{Profile, SRGB_LUMA, UNITY, tone_table};
use crate::source::Declared;
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
}

impl ToneUsed {
    /// "icc", "srgb", "linear" or "gamma=2.2".
    pub fn label(&self) -> String {
        match self {
            Self::Icc { .. } => "icc".into(),
            Self::SrgbAssumed | Self::Curve(ToneCurve::Srgb) => "srgb".into(),
            Self::Curve(ToneCurve::Linear) => "linear".into(),
            Self::Curve(ToneCurve::Gamma(gamma)) => format!("gamma={gamma}"),
        }
    }
}

/// The way to light, ready to be applied row by row.
pub(crate) struct Tone {
    way: Way,
    full_scale: u16,
    pub(crate) used: ToneUsed,
    pub(crate) luma: LumaWeights,
    /// From light in the channels to linear sRGB.
    pub(crate) to_srgb: [[f32; 3]; 3],
    pub(crate) remarks: Vec<Remark>,
}

enum Way {
    /// A table of light for every value, per channel.
    Tables(Vec<Arc<[f32]>>),
    /// Through a profile's tables to linear sRGB.
    Transform(Arc<TransformF32Executor>),
}

/// The largest value below 1: what a sample that is *not* clipped may reach.
const BELOW_ONE: f32 = 1.0 - f32::EPSILON / 2.0;
/// The least value above 0 that a sample that is not clipped is given.
const ABOVE_ZERO: f32 = f32::MIN_POSITIVE;

impl Tone {
    /// One curve for all channels.
    pub(crate) fn curve(curve: ToneCurve, colour: Colour, full_scale: u16) -> Self {
        let table: Arc<[f32]> = tone_table(full_scale, |x| curve.decode(x)).into();
        let way = Way::Tables(vec![table; colour.channels()]);
        let used = ToneUsed::Curve(curve);
        Self { way, full_scale, used, luma: LumaWeights(SRGB_LUMA), to_srgb: UNITY, remarks: Vec::new() }
    }

    /// What a file without a profile states, or sRGB.
    pub(crate) fn declared(declared: Declared, colour: Colour, full_scale: u16) -> Self {
        match declared {
            Declared::Srgb => Self::curve(ToneCurve::Srgb, colour, full_scale),
            Declared::Gamma(gamma) => {
                let curve = if gamma == 1.0 { ToneCurve::Linear } else { ToneCurve::Gamma(gamma) };
                let mut tone = Self::curve(curve, colour, full_scale);
                tone.remarks.push(Remark::ToneDeclared { label: tone.used.label() });
                tone
            }
            Declared::Nothing => Self::assumed(Remark::SrgbAssumed, colour, full_scale),
        }
    }

    /// sRGB for want of something better, with the remark that says why.
    pub(crate) fn assumed(remark: Remark, colour: Colour, full_scale: u16) -> Self {
        let tone = Self::curve(ToneCurve::Srgb, colour, full_scale);
        Self { used: ToneUsed::SrgbAssumed, remarks: vec![remark], ..tone }
    }

    /// The embedded profile.
    pub(crate) fn profile(profile: &Profile, description: &str, full_scale: u16) -> Self {
        let used = ToneUsed::Icc { description: description.into() };
        match profile {
            Profile::Curves { curves, luma, to_srgb } => {
                let mut tables: Vec<Arc<[f32]>> = Vec::new();
                for (i, curve) in curves.iter().enumerate() {
                    let twin = curves[..i].iter().position(|c| c == curve);
                    tables.push(twin.map_or_else(|| curve.table(full_scale).into(), |j| tables[j].clone()));
                }
                let (luma, to_srgb) = (LumaWeights(*luma), *to_srgb);
                Self { way: Way::Tables(tables), full_scale, used, luma, to_srgb, remarks: Vec::new() }
            }
            Profile::Table(transform) => Self {
                way: Way::Transform(transform.clone()),
                full_scale,
                used,
                luma: LumaWeights(SRGB_LUMA),
                to_srgb: UNITY,
                remarks: vec![Remark::ProfileTableBased],
            },
        }
    }

    /// The same curve with the primaries of a profile: a curve chosen by hand says nothing about them.
    pub(crate) fn with_primaries_of(mut self, profile: &Profile) -> Self {
        if let Profile::Curves { luma, to_srgb, .. } = profile {
            (self.luma, self.to_srgb) = (LumaWeights(*luma), *to_srgb);
        }
        self
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
            Way::Transform(transform) => self.transform(transform.as_ref(), row, light),
        }
    }

    /// A table-based profile mixes the channels, so the ends are pinned afterwards: a sample that is clipped in the file
    /// is clipped in the result, and no other is.
    fn transform(&self, transform: &TransformF32Executor, row: &[u16], light: &mut Vec<f32>) {
        let encoded: Vec<f32> = row.iter().map(|&v| f32::from(v) / f32::from(self.full_scale)).collect();
        light.resize(row.len(), 0.0);
        // The lengths agree and are multiples of three, which is all that can go wrong here; were it to, black shows it.
        let _ = transform.transform(&encoded, light);
        for (out, &v) in light.iter_mut().zip(row) {
            *out = match v {
                0 => 0.0,
                v if v == self.full_scale => 1.0,
                _ if out.is_finite() => out.clamp(ABOVE_ZERO, BELOW_ONE),
                _ => ABOVE_ZERO,
            };
        }
    }
}

fn look(table: &[f32], value: u16) -> f32 {
    table.get(usize::from(value)).copied().unwrap_or(1.0)
}
