//! Embedded ICC profiles: tone curves, primaries, tables.
//!
//! Measuring wants the scanner's own channels, so of a profile with curves and primaries only the curves are applied;
//! the primaries give the shares of luminance and the way to sRGB for viewing. Table-based profiles have no curves that
//! stand alone; colours go through them to linear sRGB.

use std::sync::Arc;

use moxcms::{
    ColorProfile, DataColorSpace, Layout, ParametricCurve, ProfileText, ToneReprCurve, TransformF32Executor,
    TransformOptions,
};

use crate::Colour;
use crate::info::{ProfileKind, ProfileSummary};

/// Largest value that a curve may give for zero and still pass for one that begins in black.
const BLACK_LIMIT: f64 = 0.05;
/// Least value that a curve may give for full scale; it is scaled up to 1.
const WHITE_LIMIT: f64 = 0.5;
/// How far a curve may fall back between neighbouring entries (a table's rounding) and still count as rising.
const MONOTONE_SLACK: f64 = 2.0 / 65535.0;

/// A profile made ready for use.
#[derive(Clone)]
pub(crate) enum Profile {
    /// A curve per channel, and the matrix from the channels' light to linear sRGB.
    Curves { curves: Vec<Curve>, luma: [f32; 3], to_srgb: [[f32; 3]; 3] },
    /// Colours to linear sRGB through tables.
    Table(Arc<TransformF32Executor>),
}

/// A tone curve evaluated in double precision.
#[derive(Clone, PartialEq)]
pub(crate) struct Curve(ToneReprCurve);

impl Curve {
    /// Light for an encoded value, both 0 ..= 1; as ICC.1:2022 sections 10.6 and 10.18 define the curve types.
    pub(crate) fn raw(&self, x: f64) -> f64 {
        match &self.0 {
            ToneReprCurve::Lut(table) => match table.as_slice() {
                [] => x,
                [gamma] => x.powf(f64::from(*gamma) / 256.0),
                table => interpolate(table, x),
            },
            ToneReprCurve::Parametric(parameters) => parametric(parameters, x),
        }
    }

    /// A table of light for every encoded value 0 ..= `full_scale`, with 0 at 0 and exactly 1 at full scale.
    pub(crate) fn table(&self, full_scale: u16) -> Vec<f32> {
        let white = self.raw(1.0);
        tone_table(full_scale, |x| self.raw(x) / white)
    }

    /// Why the curve cannot turn encoded values into light, if it cannot.
    fn defect(&self) -> Option<&'static str> {
        let values: Vec<f64> = (0..=1024).map(|i| self.raw(f64::from(i) / 1024.0)).collect();
        if values.iter().any(|v| !v.is_finite()) {
            return Some("a tone curve is not a number everywhere");
        }
        if values.windows(2).any(|w| w[1] < w[0] - MONOTONE_SLACK) {
            return Some("a tone curve falls where it should rise");
        }
        (values[0] > BLACK_LIMIT || values[1024] < WHITE_LIMIT)
            .then_some("a tone curve does not run from black to white")
    }
}

/// A table of `curve` for every encoded value, pinned to 0 at 0 and to 1 at full scale so that clipping can be told.
pub(crate) fn tone_table(full_scale: u16, curve: impl Fn(f64) -> f64) -> Vec<f32> {
    let light = |i: u16| match i {
        0 => 0.0,
        i if i == full_scale => 1.0,
        i => curve(f64::from(i) / f64::from(full_scale)).clamp(0.0, 1.0) as f32,
    };
    (0..=full_scale).map(light).collect()
}

fn interpolate(table: &[u16], x: f64) -> f64 {
    let place = x.clamp(0.0, 1.0) * (table.len() - 1) as f64;
    let below = (place as usize).min(table.len() - 2);
    let share = place - below as f64;
    (f64::from(table[below]) * (1.0 - share) + f64::from(table[below + 1]) * share) / 65535.0
}

fn parametric(parameters: &[f32], x: f64) -> f64 {
    let Some(p) = (!parameters.is_empty()).then(|| ParametricCurve::new(parameters)).flatten() else {
        return f64::NAN;
    };
    let [g, a, b, c, d, e, f] = [p.g, p.a, p.b, p.c, p.d, p.e, p.f].map(f64::from);
    if x < d { c * x + f } else { (a * x + b).max(0.0).powf(g) + e }
}

/// Reads a profile for pictures of that colour; the summary is there even when the profile is of no use.
pub(crate) fn parse(bytes: &[u8], colour: Colour) -> (ProfileSummary, Result<Profile, String>) {
    match ColorProfile::new_from_slice(bytes) {
        Ok(icc) => {
            let made = make(&icc, colour);
            let kind = match (&made, colour) {
                (Err(_), _) => ProfileKind::Unusable,
                (Ok(Profile::Table(_)), _) => ProfileKind::Table,
                (Ok(_), Colour::Grey) => ProfileKind::Grey,
                (Ok(_), Colour::Rgb) => ProfileKind::Matrix,
            };
            (ProfileSummary { description: description(&icc), kind }, made)
        }
        Err(error) => {
            let summary = ProfileSummary { description: String::new(), kind: ProfileKind::Unusable };
            (summary, Err(format!("it is damaged: {error}")))
        }
    }
}

fn make(icc: &ColorProfile, colour: Colour) -> Result<Profile, String> {
    match (colour, icc.color_space) {
        (Colour::Grey, DataColorSpace::Gray) => grey(icc),
        (Colour::Rgb, DataColorSpace::Rgb) => rgb(icc),
        (_, other) => Err(format!("it is made for {other:?} pictures and this one is {colour:?}")),
    }
}

fn grey(icc: &ColorProfile) -> Result<Profile, String> {
    let curve = icc.gray_trc.clone().ok_or("it holds no tone curve for grey")?;
    let curves = checked(vec![curve])?;
    Ok(Profile::Curves { curves, luma: SRGB_LUMA, to_srgb: UNITY })
}

fn rgb(icc: &ColorProfile) -> Result<Profile, String> {
    let curves = [&icc.red_trc, &icc.green_trc, &icc.blue_trc].map(|c| c.clone());
    let columns = icc.colorant_matrix().v;
    let luminance: f64 = columns[1].iter().sum();
    match (curves, luminance.is_finite() && luminance > 0.1) {
        ([Some(r), Some(g), Some(b)], true) => {
            let curves = checked(vec![r, g, b])?;
            let luma = columns[1].map(|y| (y / luminance) as f32);
            let to_srgb = to_srgb(columns).ok_or("its primaries lie on one line")?;
            Ok(Profile::Curves { curves, luma, to_srgb })
        }
        _ => table(icc).map(Profile::Table),
    }
}

fn checked(curves: Vec<ToneReprCurve>) -> Result<Vec<Curve>, String> {
    let curves: Vec<Curve> = curves.into_iter().map(Curve).collect();
    match curves.iter().find_map(Curve::defect) {
        Some(defect) => Err(defect.into()),
        None => Ok(curves),
    }
}

fn table(icc: &ColorProfile) -> Result<Arc<TransformF32Executor>, String> {
    let mut linear = ColorProfile::new_srgb();
    let straight = Some(ToneReprCurve::Lut(Vec::new()));
    (linear.red_trc, linear.green_trc, linear.blue_trc) = (straight.clone(), straight.clone(), straight);
    linear.cicp = None;
    icc.create_transform_f32(Layout::Rgb, &linear, Layout::Rgb, TransformOptions::default())
        .map_err(|error| format!("its tables cannot be used: {error}"))
}

pub(crate) const SRGB_LUMA: [f32; 3] = planes::LumaWeights::SRGB.0;
pub(crate) const UNITY: [[f32; 3]; 3] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// From light in the profile's channels to linear sRGB: both profiles' colorants are adapted to the same D50 white.
pub(crate) fn to_srgb(columns: [[f64; 3]; 3]) -> Option<[[f32; 3]; 3]> {
    let from_xyz = inverse(ColorProfile::new_srgb().colorant_matrix().v)?;
    inverse(columns)?;
    let cell = |r: usize, c: usize| (0..3).map(|k| from_xyz[r][k] * columns[k][c]).sum::<f64>() as f32;
    Some([0, 1, 2].map(|r| [0, 1, 2].map(|c| cell(r, c))))
}

/// Inverse by cofactors; `None` when the determinant vanishes.
pub(crate) fn inverse(m: [[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let cofactor = |r: usize, c: usize| {
        let (r1, r2, c1, c2) = ((r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3);
        m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]
    };
    let determinant: f64 = (0..3).map(|c| m[0][c] * cofactor(0, c)).sum();
    let usable = determinant.is_finite() && determinant.abs() > 1e-9;
    usable.then(|| [0, 1, 2].map(|r| [0, 1, 2].map(|c| cofactor(c, r) / determinant)))
}

fn description(icc: &ColorProfile) -> String {
    let text = match &icc.description {
        Some(ProfileText::PlainString(text)) => text.clone(),
        Some(ProfileText::Localizable(all)) => {
            let english = all.iter().find(|s| s.language == "en").or(all.first());
            english.map(|s| s.value.clone()).unwrap_or_default()
        }
        Some(ProfileText::Description(d)) if !d.ascii_string.is_empty() => d.ascii_string.clone(),
        Some(ProfileText::Description(d)) => d.unicode_string.clone(),
        None => String::new(),
    };
    text.trim_matches(|c: char| c.is_whitespace() || c.is_control()).to_owned()
}
