//! How the sharp surface lies against the subject, and how much of a corner's softness that explains.

use crate::algebra::{COVERAGE_95, Figure, least_squares, student_975, variance};

/// Least places: three unknowns of a plane.
const LEAST_PLACES: usize = 3;
/// Left over from which on the residuals' own scatter is trusted.
const TRUSTED_DEGREES: usize = 4;
/// By how much the other unknowns may swell an unknown's variance before it counts as not told.
const MOST_INFLATION: f64 = 100.0;

/// Contrast that a perfect round lens leaves when it is out of focus: its signed transfer function at a frequency (Hopkins, "The
/// frequency response of a defocused optical system", Proc. R. Soc. A 231, 1955, in the form of a single integral).
///
/// `share` is the frequency over the cut-off 1/(λ·N), `waves` the wave-front's error at the pupil's rim in wavelengths:
/// (4/π)·∫ from 0 to 1 - s of √(1 - (x + s)²)·cos(8π·W·s·x) dx. Negative values are contrast that is turned over.
pub fn hopkins(share: f64, waves: f64) -> f64 {
    let s = share.abs();
    if s.is_nan() || s >= 1.0 {
        return 0.0;
    }
    // x + s = sin t makes the integrand smooth: cos² t · cos(8π W s (sin t - s)).
    let (from, to) = (s.asin(), std::f64::consts::FRAC_PI_2);
    let turns = 4.0 * waves.abs() * s * (1.0 - s);
    let steps = 2 * (64 + (16.0 * turns).min(1e5) as usize);
    let h = (to - from) / steps as f64;
    let value = |i: usize| {
        let t = from + h * i as f64;
        t.cos().powi(2) * (8.0 * std::f64::consts::PI * waves * s * (t.sin() - s)).cos()
    };
    let sum: f64 = (0..=steps)
        .map(|i| if i == 0 || i == steps { value(i) } else { value(i) * if i % 2 == 1 { 4.0 } else { 2.0 } })
        .sum();
    4.0 / std::f64::consts::PI * sum * h / 3.0
}

/// The wave-front's error at the pupil's rim, wavelengths, when the film lies `defocus_mm` from the focus of a lens of this effective
/// f-number: dz/(8·N²·λ).
pub fn defocus_waves(defocus_mm: f64, effective_f_number: f64, wavelength_mm: f64) -> f64 {
    defocus_mm / (8.0 * effective_f_number.powi(2) * wavelength_mm)
}

/// Contrast that the film's distance from the focus leaves, diffraction included, at a frequency on film.
pub fn defocus_mtf(cy_per_mm: f64, defocus_mm: f64, effective_f_number: f64, wavelength_mm: f64) -> f64 {
    let share = cy_per_mm * wavelength_mm * effective_f_number;
    hopkins(share, defocus_waves(defocus_mm, effective_f_number, wavelength_mm))
}

/// Contrast of an even disc of light, 2·J1(a)/a with a = π·ν·dz/N: what rays alone leave.
pub fn geometric_defocus_mtf(cy_per_mm: f64, defocus_mm: f64, effective_f_number: f64) -> f64 {
    let a = std::f64::consts::PI * cy_per_mm * defocus_mm.abs() / effective_f_number;
    if a < 1e-6 { 1.0 } else { 2.0 * bessel_j1(a) / a }
}

/// Bessel's J1 by its integral (1/π)∫ cos(t - x sin t) dt from 0 to π; the trapezium rule is exact to rounding for a
/// smooth periodic integrand once the steps outnumber x.
pub(crate) fn bessel_j1(x: f64) -> f64 {
    let n = 64 + 2 * x.abs().min(1e5) as usize;
    let step = std::f64::consts::PI / n as f64;
    let value = |i: usize| {
        let t = step * i as f64;
        (t - x * t.sin()).cos()
    };
    ((1..n).map(value).sum::<f64>() + f64::midpoint(value(0), value(n))) / n as f64
}

/// How far the focus moves on film, mm, when the subject's plane lies `height_mm` from the sharp one: m²·dz (first order: true while
/// the depth is small against the subject's distance).
pub fn film_defocus_mm(height_mm: f64, magnification: f64) -> f64 {
    magnification * magnification * height_mm
}

/// How deep detail stays above half of its best contrast, mm on the subject, both sides together, with a perfect lens of this
/// effective f-number: the distance between the planes at which [`defocus_mtf`] has fallen to half of what diffraction alone leaves. `None`
/// when diffraction leaves nothing of that detail, or the figures are none.
///
/// It takes the detail by line pairs per mm on the subject; on film that is divided by the magnification, and distances there are
/// larger by its square.
pub fn depth_to_half_mm(
    subject_lp_mm: f64,
    magnification: f64,
    effective_f_number: f64,
    wavelength_mm: f64,
) -> Option<f64> {
    let given = [subject_lp_mm, magnification, effective_f_number, wavelength_mm];
    if given.iter().any(|v| !(v.is_finite() && *v > 0.0)) {
        return None;
    }
    let on_film = subject_lp_mm / magnification;
    let left = |dz: f64| defocus_mtf(on_film, dz, effective_f_number, wavelength_mm);
    let half = left(0.0) / 2.0;
    if half <= 0.0 {
        return None;
    }
    // Rays alone: 2·J1(a)/a is a half at a = 2.2151; diffraction makes it deeper.
    let mut far = 2.2151 * effective_f_number / (std::f64::consts::PI * on_film);
    while left(far) > half {
        far *= 1.5;
    }
    let mut near = 0.0;
    for _ in 0..60 {
        let middle = f64::midpoint(near, far);
        if left(middle) > half { near = middle } else { far = middle }
    }
    Some(2.0 * near / (magnification * magnification))
}

/// Where the sharp surface was found at one place of the subject.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharpPlace {
    /// Place on the subject from the frame's centre, millimetres: (to the right, downward) in the picture.
    pub position_mm: (f64, f64),
    /// Height of the sharpest plane there above the card, millimetres, positive toward the lens.
    pub height_mm: Figure,
}

/// How the sharp surface is fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AlignmentOptions {
    /// What the frame covers on the subject, millimetres (width, height).
    pub field_mm: (f64, f64),
    /// Look for a curvature of the sharp surface besides its tilt.
    pub curvature: bool,
}

/// How the sharp surface lies: z = z0 + a·x + b·y + c·r².
#[derive(Debug, Clone, PartialEq)]
pub struct AlignmentReport {
    /// Height of the sharp surface at the centre, millimetres above the card.
    pub centre_mm: Figure,
    /// Tilt about the picture's upright axis, degrees: positive when the sharp surface rises toward the lens to the right, as it does when the
    /// card's right side lies too far from the lens.
    pub about_upright_deg: Figure,
    /// Tilt about the picture's level axis, degrees: positive when the sharp surface rises toward the lens downward.
    pub about_level_deg: Figure,
    /// Curvature, millimetres at the corner: positive when the corners are sharp nearer to the lens. `None` when it was not looked
    /// for or the places do not tell it from the centre's height (all at one distance from the centre).
    pub curvature_mm: Option<Figure>,
    /// Height of the sharp surface at the corners: upper left, upper right, lower left, lower right.
    pub corners_mm: [Figure; 4],
    /// Residuals over what the places' own intervals ask for; `None` when nothing is left over.
    pub residual_ratio: Option<f64>,
    /// Reservations.
    pub remarks: Vec<AlignmentRemark>,
    corner_mm: f64,
    parameters: Vec<f64>,
    covariance_95: Vec<Vec<f64>>,
}

/// Why no sharp surface was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AlignmentError {
    /// Too few places.
    #[error("{found} places were given, at least {least} are needed: lay ramps into all four corners")]
    TooFewPlaces {
        /// Places given.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// Places along one line.
    #[error("the places lie along one line or close together and do not tell a tilt: lay ramps into all four corners")]
    Degenerate,
    /// A place with a number that is none, or without an interval.
    #[error("place number {number}: {what} is {value}, which must be {wanted}")]
    BadPlace {
        /// Which place, from 1 on.
        number: usize,
        /// What.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What is taken.
        wanted: &'static str,
    },
    /// A field without size.
    #[error("the frame is said to cover {width_mm} x {height_mm} mm of the subject: give two lengths above 0")]
    BadField {
        /// Width given.
        width_mm: f64,
        /// Height given.
        height_mm: f64,
    },
}

/// A reservation about the sharp surface.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum AlignmentRemark {
    /// The curvature is not told from the centre's height.
    NoCurvature,
    /// The curvature was told by how sharp the flat card is, not by ramps alone.
    BySquares,
    /// The lens by itself loses more towards the corner than is usual.
    LensLoses {
        /// Share of the contrast of the bars' detail that it loses from the middle to the corner.
        share: f64,
    },
    /// A surface curved the other way fits as well.
    EitherWay,
    /// No tilt is shown.
    NoTilt,
    /// The places scatter more than their own intervals promise; the figures' intervals are wider for it.
    Scattered {
        /// Residuals over what the intervals ask for.
        ratio: f64,
    },
}

impl std::fmt::Display for AlignmentRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoCurvature => f.write_str(
                "the places do not tell a curved sharp surface from one that lies higher: add a ramp at the frame's centre",
            ),
            Self::BySquares => f.write_str(
                "the curvature is told by how much sharper or softer the flat squares are than the ramps' own focus, taking that the lens by \
                 itself loses alike on all sides",
            ),
            Self::LensLoses { share } => write!(
                f,
                "from the middle to the corner the lens by itself loses about {:.0} % of the contrast of detail as coarse as the bars",
                100.0 * share
            ),
            Self::EitherWay => f.write_str(
                "how far the middle is out of focus is seen, not on which side: a surface curved the other way fits as well; lean the \
                 card by one or two degrees and photograph it again, which tells them apart",
            ),
            Self::NoTilt => f.write_str("no tilt is shown: both tilts lie within their own intervals"),
            Self::Scattered { ratio } => write!(
                f,
                "the places scatter {ratio:.1} times as much as their own intervals promise; the figures' intervals are widened by that"
            ),
        }
    }
}

fn terms((x, y): (f64, f64), curved: bool) -> Vec<f64> {
    let mut out = vec![1.0, x, y];
    if curved {
        out.push(x * x + y * y);
    }
    out
}

fn design(places: &[SharpPlace], corner_mm: f64, curved: bool) -> (Vec<Vec<f64>>, Vec<f64>) {
    let line = |p: &SharpPlace| {
        let deviation = p.height_mm.plus_minus / COVERAGE_95;
        let at = (p.position_mm.0 / corner_mm, p.position_mm.1 / corner_mm);
        (terms(at, curved).iter().map(|t| t / deviation).collect(), p.height_mm.value / deviation)
    };
    places.iter().map(line).unzip()
}

fn told(places: &[SharpPlace], corner_mm: f64, curved: bool) -> bool {
    let (rows, right) = design(places, corner_mm, curved);
    let Some(found) = least_squares(&rows, &right) else { return false };
    let own = |i: usize| rows.iter().map(|r| r[i] * r[i]).sum::<f64>();
    // The tilt's two and the curvature; the height at the centre is swollen by nothing else.
    (1..rows[0].len()).all(|i| own(i) * found.unit_covariance[i][i] <= MOST_INFLATION)
}

/// How the sharp surface lies over the field, from where it was found at three places or more.
pub fn alignment(places: &[SharpPlace], options: &AlignmentOptions) -> Result<AlignmentReport, AlignmentError> {
    let (width_mm, height_mm) = options.field_mm;
    if !(width_mm > 0.0 && height_mm > 0.0 && width_mm.is_finite() && height_mm.is_finite()) {
        return Err(AlignmentError::BadField { width_mm, height_mm });
    }
    for (i, p) in places.iter().enumerate() {
        let bad = |what, value, wanted| Err(AlignmentError::BadPlace { number: i + 1, what, value, wanted });
        for (what, value) in
            [("its place", p.position_mm.0), ("its place", p.position_mm.1), ("its height", p.height_mm.value)]
        {
            if !value.is_finite() {
                return bad(what, value, "a finite number");
            }
        }
        if !(p.height_mm.plus_minus > 0.0 && p.height_mm.plus_minus.is_finite()) {
            return bad("its height's half-width", p.height_mm.plus_minus, "above 0");
        }
    }
    if places.len() < LEAST_PLACES {
        return Err(AlignmentError::TooFewPlaces { found: places.len(), least: LEAST_PLACES });
    }
    let corner_mm = width_mm.hypot(height_mm) / 2.0;
    if !told(places, corner_mm, false) {
        return Err(AlignmentError::Degenerate);
    }
    let curved = options.curvature && told(places, corner_mm, true);
    let (rows, right) = design(places, corner_mm, curved);
    let found = least_squares(&rows, &right).ok_or(AlignmentError::Degenerate)?;
    let degrees = places.len() - found.x.len();
    let ratio = (degrees > 0).then(|| (found.squares / degrees as f64).sqrt());
    // One or two left over say little about the scatter: they widen the intervals, but are not asked for Student's t.
    let factor = match ratio {
        Some(ratio) if ratio > 1.0 && degrees >= TRUSTED_DEGREES => ratio * student_975(degrees),
        Some(ratio) => COVERAGE_95 * ratio.max(1.0),
        None => COVERAGE_95,
    };
    let covariance_95: Vec<Vec<f64>> =
        found.unit_covariance.iter().map(|r| r.iter().map(|c| c * factor * factor).collect()).collect();
    let mut report = AlignmentReport::new(found.x, covariance_95, options.field_mm);
    report.residual_ratio = ratio;
    if options.curvature && !curved {
        report.remarks.insert(0, AlignmentRemark::NoCurvature);
    }
    if let Some(ratio) = ratio {
        let share = 2.0 / (9.0 * degrees as f64);
        if ratio > (1.0 - share + 3.09 * share.sqrt()).powf(1.5) {
            report.remarks.push(AlignmentRemark::Scattered { ratio });
        }
    }
    Ok(report)
}

impl AlignmentReport {
    /// From height, tilts and perhaps curvature, in millimetres at the corner, and their covariance, whose roots are half-widths.
    pub(crate) fn new(parameters: Vec<f64>, covariance_95: Vec<Vec<f64>>, (width_mm, height_mm): (f64, f64)) -> Self {
        let corner_mm = width_mm.hypot(height_mm) / 2.0;
        let figure = |i: usize| Figure::new(parameters[i], covariance_95[i][i].max(0.0).sqrt());
        let degree = |i: usize| {
            let slope = figure(i).times(1.0 / corner_mm);
            let plus_minus = (slope.plus_minus / (1.0 + slope.value * slope.value)).to_degrees();
            Figure::new(slope.value.atan().to_degrees(), plus_minus)
        };
        let mut report = Self {
            centre_mm: figure(0),
            about_upright_deg: degree(1),
            about_level_deg: degree(2),
            curvature_mm: (parameters.len() > 3).then(|| figure(3)),
            corners_mm: [Figure::default(); 4],
            residual_ratio: None,
            remarks: Vec::new(),
            corner_mm,
            parameters,
            covariance_95,
        };
        let (x, y) = (width_mm / 2.0, height_mm / 2.0);
        report.corners_mm = [(-x, -y), (x, -y), (-x, y), (x, y)].map(|corner| report.height_at(corner));
        if !report.about_upright_deg.stands_out() && !report.about_level_deg.stands_out() {
            report.remarks.push(AlignmentRemark::NoTilt);
        }
        report
    }

    /// From the frame's centre to its corner on the subject, millimetres.
    pub(crate) fn corner_mm(&self) -> f64 {
        self.corner_mm
    }

    /// Height of the sharp surface at a place on the subject, millimetres from the frame's centre.
    pub fn height_at(&self, (x, y): (f64, f64)) -> Figure {
        let gradient = terms((x / self.corner_mm, y / self.corner_mm), self.parameters.len() > 3);
        let value = gradient.iter().zip(&self.parameters).map(|(g, p)| g * p).sum();
        Figure::new(value, variance(&gradient, &self.covariance_95).max(0.0).sqrt())
    }
}

/// A soft corner and what its place against the sharp surface asks for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Softness {
    /// Frequency on film, cycles per millimetre, that the responses are of.
    pub cy_per_mm: f64,
    /// Wavelength, millimetres (0.55e-3 for green).
    pub wavelength_mm: f64,
    /// Effective f-number at the film.
    pub effective_f_number: f64,
    /// How far the film lies from the corner's focus, millimetres ([`film_defocus_mm`]).
    pub defocus_mm: Figure,
    /// The same where the picture is sharp: a tilted or curved surface may miss the centre too.
    pub sharp_defocus_mm: Figure,
    /// Response measured in the corner.
    pub corner: Figure,
    /// Response measured where the picture is sharp (the centre).
    pub sharp: Figure,
}

/// How much of a corner's softness its defocus explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoftnessReport {
    /// Share of the contrast that defocus alone leaves: with the corner's over with the sharp place's.
    pub left_by_defocus: Figure,
    /// Share of the contrast that the corner has: its response over the sharp place's.
    pub left_in_corner: Figure,
    /// Share of the loss that defocus explains, in stops of contrast (logarithms), 0 to 1. Its interval may reach beyond.
    pub explained: Figure,
}

/// Why a corner's softness was not shared out.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SoftnessError {
    /// The corner is no softer.
    #[error(
        "the corner ({corner:.3}) is not surely softer than the sharp place ({sharp:.3} ± {doubt:.3}): there is no loss to explain"
    )]
    NoLoss {
        /// Response of the corner.
        corner: f64,
        /// Response of the sharp place.
        sharp: f64,
        /// Half-width of their difference.
        doubt: f64,
    },
    /// An input that is no usable number.
    #[error("{what} is {value}: give a finite number above 0")]
    BadInput {
        /// Which input.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// A frequency that no lens of this f-number carries.
    #[error(
        "at {cy_per_mm} cycles/mm a lens of this f-number carries nothing (its cut-off is {cut_off:.1}): compare at a lower frequency"
    )]
    BeyondCutOff {
        /// Given frequency.
        cy_per_mm: f64,
        /// Cut-off.
        cut_off: f64,
    },
}

/// Least contrast that logarithms are taken of.
const LEAST_CONTRAST: f64 = 1e-3;

/// How much of a corner's loss of contrast its place against the sharp surface explains: ln(left by defocus) over
/// ln(corner / sharp). Factors of contrast multiply, so their logarithms share out.
///
/// Defocus alone is that of a perfect lens ([`defocus_mtf`], the corner's over the sharp place's). The defocus's interval is carried by its ends,
/// since at the focus itself the slope is 0; the responses' by first order.
pub fn softness_explained(softness: &Softness) -> Result<SoftnessReport, SoftnessError> {
    let s = softness;
    for (what, value) in [
        ("the frequency", s.cy_per_mm),
        ("the wavelength", s.wavelength_mm),
        ("the f-number", s.effective_f_number),
        ("the corner's response", s.corner.value),
        ("the sharp place's response", s.sharp.value),
    ] {
        if !(value.is_finite() && value > 0.0) {
            return Err(SoftnessError::BadInput { what, value });
        }
    }
    for defocus in [s.defocus_mm, s.sharp_defocus_mm] {
        if !(defocus.value.is_finite() && defocus.plus_minus.is_finite() && defocus.plus_minus >= 0.0) {
            return Err(SoftnessError::BadInput { what: "the defocus", value: defocus.value });
        }
    }
    let cut_off = 1.0 / (s.wavelength_mm * s.effective_f_number);
    if s.cy_per_mm >= cut_off {
        return Err(SoftnessError::BeyondCutOff { cy_per_mm: s.cy_per_mm, cut_off });
    }
    let doubt = s.corner.plus_minus.hypot(s.sharp.plus_minus);
    if s.sharp.value - s.corner.value <= doubt {
        return Err(SoftnessError::NoLoss { corner: s.corner.value, sharp: s.sharp.value, doubt });
    }
    let (corner, sharp) = (s.left_by(s.defocus_mm), s.left_by(s.sharp_defocus_mm));
    let ratio = s.corner.value / s.sharp.value;
    let ratio_half = ratio * (s.corner.plus_minus / s.corner.value).hypot(s.sharp.plus_minus / s.sharp.value);
    let loss = -ratio.ln();
    let explained = (sharp.value - corner.value) / loss;
    let by_defocus = corner.plus_minus.hypot(sharp.plus_minus) / loss;
    let by_response = explained * ratio_half / ratio / loss;
    let left = (corner.value - sharp.value).exp();
    Ok(SoftnessReport {
        left_by_defocus: Figure::new(left, left * by_defocus * loss),
        left_in_corner: Figure::new(ratio, ratio_half),
        explained: Figure::new(explained.clamp(0.0, 1.0), by_defocus.hypot(by_response)),
    })
}

impl Softness {
    /// Logarithm of the contrast that a defocus leaves a perfect lens, over that in focus; half of its range over the defocus's interval.
    fn left_by(&self, defocus_mm: Figure) -> Figure {
        let mtf = |dz: f64| defocus_mtf(self.cy_per_mm, dz, self.effective_f_number, self.wavelength_mm);
        let left = |dz: f64| (mtf(dz) / mtf(0.0)).max(LEAST_CONTRAST).ln();
        let (dz, half) = (defocus_mm.value.abs(), defocus_mm.plus_minus);
        // Through the whole interval: where it holds the focus, nothing is lost at the near end.
        let places = (0..=20).map(|i| left((dz - half + 2.0 * half * f64::from(i) / 20.0).max(0.0)));
        let (low, high) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), l| (a.min(l), b.max(l)));
        Figure::new(left(dz), (high - low) / 2.0)
    }
}
