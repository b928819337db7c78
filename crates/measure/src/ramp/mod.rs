//! Where the sharpest plane lay, from a ramp of known slope beside the subject.

mod course;
mod strip;

pub use course::{BarCourse, bar_course};
pub use strip::{Bars, RampScale, StripError, StripOptions, StripPoint, strip_modulation};

use crate::algebra::{COVERAGE_95, Figure, least_squares, student_975, variance};
use crate::numeric::robust_deviation;

/// Least places of a curve with three unknowns: three left over besides.
const LEAST_PLACES: usize = 6;
/// Share of the highest sharpness below which places are left out of the fit: there false detail comes back, and no simple curve
/// follows.
const FOLLOWED: f64 = 0.3;
/// Share of the peak that the fitted curve must fall below on both sides within the ramp.
const FALLEN: f64 = 0.9;
/// Share of the highest sharpness by which a place must differ from the middle of itself and its neighbours to be doubted.
const SUDDEN: f64 = 0.08;
/// Standardised residual beyond which a place is taken for dirt.
const OUTLYING: f64 = 4.0;
/// Standardised residual from which on a place weighs less (Huber).
const HUBER: f64 = 2.5;

/// Sharpness at one place of the ramp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RampSample {
    /// Place along the ramp, millimetres on the card.
    pub along_mm: f64,
    /// Height above the card there, millimetres, positive toward the lens.
    pub height_mm: f64,
    /// Local sharpness in any measure that is greatest in focus, as the response at one frequency or the modulation of bars.
    pub sharpness: Figure,
}

/// Where a ramp's sharpest plane is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct RampOptions {
    /// Height of the mark that was focused on, millimetres above the card.
    pub mark_height_mm: f64,
}

/// The curve that sharpness follows over the height: a·(1 + (x/w)²/β)^(-β).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RampShape {
    /// β = 1: long feet.
    Lorentz,
    /// β = 3: between the two.
    Between,
    /// β without limit: a normal curve, short feet.
    Gauss,
    /// β = -3, and nothing beyond where that reaches 0: no feet. To fourth order this is 2·J1(x)/x, the response of an even disc of
    /// blur, which a lens's own curve resembles down to where false detail begins.
    Disc,
}

impl RampShape {
    const ALL: [Self; 4] = [Self::Lorentz, Self::Between, Self::Gauss, Self::Disc];

    /// Level and its slope by the square of the distance in widths.
    pub(crate) fn level(self, square: f64) -> (f64, f64) {
        match self {
            Self::Gauss => ((-square).exp(), -(-square).exp()),
            Self::Disc => {
                let base = (1.0 - square / 3.0).max(0.0);
                (base.powi(3), -base.powi(2))
            }
            Self::Lorentz | Self::Between => {
                let power = if self == Self::Lorentz { 1.0 } else { 3.0 };
                let base = 1.0 + square / power;
                (base.powf(-power), -base.powf(-power - 1.0))
            }
        }
    }

    /// Distance in widths at which the curve has fallen to a half.
    pub(crate) fn half(self) -> f64 {
        match self {
            Self::Gauss => 2_f64.ln().sqrt(),
            Self::Lorentz => 1.0,
            Self::Disc => (3.0 * (1.0 - 0.5_f64.powf(1.0 / 3.0))).sqrt(),
            Self::Between => (3.0 * (2_f64.powf(1.0 / 3.0) - 1.0)).sqrt(),
        }
    }
}

/// Where the sharpest plane lay.
#[derive(Debug, Clone, PartialEq)]
pub struct RampReport {
    /// Height of the sharpest plane above the card, millimetres, positive toward the lens.
    pub peak_height_mm: Figure,
    /// That height less the mark's: positive when the lens was focused nearer to itself than the mark.
    pub from_mark_mm: Figure,
    /// Sharpness there.
    pub peak_sharpness: Figure,
    /// Depth over which sharpness stays above half of its peak, millimetres, both sides together.
    pub depth_mm: Figure,
    /// The curve that followed the places best.
    pub shape: RampShape,
    /// Residuals over what the places' own intervals ask for: about 1 when the curve says all.
    pub residual_ratio: f64,
    /// Places that took part.
    pub places: usize,
    /// Reservations.
    pub remarks: Vec<RampRemark>,
}

/// Where the focus lies when the ramp does not reach it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beyond {
    /// Nearer to the lens than the ramp's highest place.
    Nearer,
    /// Farther from the lens than the ramp's lowest place.
    Farther,
}

impl std::fmt::Display for Beyond {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Nearer => "nearer to the lens",
            Self::Farther => "farther from the lens",
        })
    }
}

/// Why no sharpest plane was found.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RampError {
    /// Too few places.
    #[error(
        "{found} places of the ramp show how sharp they are, at least {least} are needed: measure more of them, closer together"
    )]
    TooFewPlaces {
        /// Places that can be followed.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// A place with a number that is none, or without an interval.
    #[error("place number {number} of the ramp: {what} is {value}, which must be {wanted}")]
    BadSample {
        /// Which place, from 1 on.
        number: usize,
        /// What.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What is taken.
        wanted: &'static str,
    },
    /// All places at one height.
    #[error("all places lie at one height ({height_mm} mm): a ramp must rise along its length")]
    NoRise {
        /// That height.
        height_mm: f64,
    },
    /// Sharpness is alike everywhere.
    #[error(
        "sharpness hardly changes along the ramp, by {ratio:.1} times its own doubt where {least} times are needed: stop down less, or \
         use finer bars or a steeper ramp"
    )]
    Flat {
        /// Range of sharpness over its doubt.
        ratio: f64,
        /// Least ratio.
        least: f64,
    },
    /// The peak lies beyond the ramp's end.
    #[error(
        "the focus lies {beyond} than the ramp reaches, which spans {from_mm:.2} to {to_mm:.2} mm above the card: sharpness does not \
         fall on both sides; focus again, or use a longer ramp"
    )]
    OneSided {
        /// On which side.
        beyond: Beyond,
        /// Lowest place, millimetres.
        from_mm: f64,
        /// Highest place.
        to_mm: f64,
    },
    /// No curve with one peak follows the places.
    #[error("no curve with a single peak follows the ramp's {places} places: look for dirt or glare on it")]
    NoPeak {
        /// Places that were tried.
        places: usize,
    },
}

/// A reservation about a ramp.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum RampRemark {
    /// Places that no curve follows because sharpness there is below a share of the highest.
    FeetLeftOut {
        /// How many.
        count: usize,
        /// Of how many.
        of: usize,
    },
    /// Sharpness does not fall to a half on both sides within the ramp: the depth is carried on.
    DepthExtrapolated,
    /// The places scatter more than their own intervals promise; the figures' intervals are wider for it.
    Scattered {
        /// Residuals over what the intervals ask for.
        ratio: f64,
    },
    /// Places that do not follow the curve weigh less, or nothing.
    Outlying {
        /// How many.
        count: usize,
    },
}

impl std::fmt::Display for RampRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::FeetLeftOut { count, of } => {
                write!(f, "{count} of {of} places are too blurred to be followed and were left out")
            }
            Self::DepthExtrapolated => f.write_str(
                "sharpness does not fall to a half on both sides of the ramp: the depth is carried on by the curve",
            ),
            Self::Scattered { ratio } => write!(
                f,
                "the places scatter {ratio:.1} times as much as their own intervals promise; the figures' intervals are widened by that"
            ),
            Self::Outlying { count } => {
                write!(f, "{count} places do not follow the others' curve (dirt, glare) and weigh little or nothing")
            }
        }
    }
}

/// Range of sharpness over its doubt from which on a ramp shows a focus.
const LEAST_RANGE: f64 = 3.0;

/// Where the sharpest plane lay along a ramp: sharpness over height is followed by a curve with one peak, symmetrical about
/// it, whichever of four follows best, by weighted least squares in which places that stand out weigh less.
///
/// Intervals are those of the fit; where residuals are larger than the places' own intervals promise they are widened by
/// Student's t of what is left.
pub fn focus_ramp(samples: &[RampSample], options: &RampOptions) -> Result<RampReport, RampError> {
    check(samples)?;
    let heights = || samples.iter().map(|s| s.height_mm);
    let (low, high) = (heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max));
    if samples.len() < LEAST_PLACES {
        return Err(RampError::TooFewPlaces { found: samples.len(), least: LEAST_PLACES });
    }
    if high - low <= 1e-9 {
        return Err(RampError::NoRise { height_mm: low });
    }
    let top = top_of(samples);
    let bottom = samples.iter().map(|s| s.sharpness.value).fold(f64::INFINITY, f64::min);
    let doubts: Vec<f64> = samples.iter().map(|s| s.sharpness.plus_minus).collect();
    let ratio = (top - bottom) / crate::numeric::median(&doubts).max(1e-300);
    if ratio < LEAST_RANGE {
        return Err(RampError::Flat { ratio, least: LEAST_RANGE });
    }
    let one_sided = |beyond| RampError::OneSided { beyond, from_mm: low, to_mm: high };
    let kept: Vec<RampSample> = followed(samples, top);
    if kept.len() < LEAST_PLACES {
        return Err(RampError::TooFewPlaces { found: kept.len(), least: LEAST_PLACES });
    }
    let plain: Vec<RampSample> = kept.iter().zip(sudden(&kept, top)).filter(|(_, s)| !s).map(|(k, _)| *k).collect();
    let first = if plain.len() < LEAST_PLACES { None } else { best_of(&plain) };
    // What stood out from its neighbours comes back when it follows the others' curve all the same.
    let follows = |s: &RampSample| first.as_ref().is_none_or(|fit| fit.standard(s).abs() <= OUTLYING * fit.scale);
    let all = kept.len();
    let kept: Vec<RampSample> = kept.into_iter().filter(follows).collect();
    if kept.len() < LEAST_PLACES {
        return Err(RampError::TooFewPlaces { found: kept.len(), least: LEAST_PLACES });
    }
    let wild = all - kept.len();
    let best = best_of(&kept);
    let Some(fit) = best else {
        return Err(rising(samples).map_or(RampError::NoPeak { places: kept.len() }, one_sided));
    };
    let peak = fit.p[1];
    // Either the peak lies off the ramp, or the curve hardly falls between it and one end.
    let beyond = |end: f64| fit.value(end) > FALLEN * fit.p[0];
    if peak > high || (peak > f64::midpoint(low, high) && beyond(high)) {
        return Err(one_sided(Beyond::Nearer));
    }
    if peak < low || beyond(low) {
        return Err(one_sided(Beyond::Farther));
    }
    Ok(report(&fit, &kept, (samples.len() - all, wild), (low, high), options))
}

/// The shape that follows best, fitted; one yardstick for all: the scatter of the one that scatters least.
fn best_of(samples: &[RampSample]) -> Option<Fit> {
    let fits: Vec<Fit> = RampShape::ALL.into_iter().filter_map(|shape| Fit::of(shape, samples)).collect();
    let scale = fits.iter().map(|fit| fit.scale).fold(f64::INFINITY, f64::min);
    fits.into_iter().min_by(|a, b| a.loss(scale).total_cmp(&b.loss(scale)))
}

/// Which places stand out from both neighbours, as dirt does and a curve with one peak does not.
fn sudden(samples: &[RampSample], top: f64) -> Vec<bool> {
    let level = |i: usize| samples[i].sharpness.value;
    let stands_out = |i: usize| {
        let near: Vec<f64> = (i.saturating_sub(1)..(i + 2).min(samples.len())).map(level).collect();
        // At an end there is but one neighbour, from which a flank may well differ by this much.
        let off = if near.len() < 3 { 0.0 } else { (level(i) - crate::numeric::median(&near)).abs() };
        off > SUDDEN * top && off > 2.0 * OUTLYING / COVERAGE_95 * samples[i].sharpness.plus_minus
    };
    (0..samples.len()).map(stands_out).collect()
}

/// The highest sharpness, by the middle one of three neighbours so that one wild place does not set it.
fn top_of(samples: &[RampSample]) -> f64 {
    let mut sorted: Vec<RampSample> = samples.to_vec();
    sorted.sort_by(|a, b| a.height_mm.total_cmp(&b.height_mm));
    let middle =
        |w: &[RampSample]| crate::numeric::median(&[w[0].sharpness.value, w[1].sharpness.value, w[2].sharpness.value]);
    sorted.windows(3).map(middle).fold(0.0, f64::max)
}

/// The places about the peak that reach the share of it that is followed, without the returns of false detail beyond.
fn followed(samples: &[RampSample], top: f64) -> Vec<RampSample> {
    let mut sorted: Vec<RampSample> = samples.to_vec();
    sorted.sort_by(|a, b| a.height_mm.total_cmp(&b.height_mm));
    let smooth = |i: usize| {
        let near = &sorted[i.saturating_sub(1)..(i + 2).min(sorted.len())];
        crate::numeric::median(&near.iter().map(|s| s.sharpness.value).collect::<Vec<_>>())
    };
    let levels: Vec<f64> = (0..sorted.len()).map(smooth).collect();
    let at = (0..levels.len()).fold(0, |best, i| if levels[i] > levels[best] { i } else { best });
    let low = |i: &usize| levels[*i] < FOLLOWED * top;
    let first = (0..at).rev().find(low).map_or(0, |i| i + 1);
    let last = (at..levels.len()).find(low).unwrap_or(levels.len());
    sorted[first..last].to_vec()
}

/// Which way sharpness rises, when it surely does.
fn rising(samples: &[RampSample]) -> Option<Beyond> {
    let rows: Vec<Vec<f64>> =
        samples.iter().map(|s| vec![1.0 / s.sharpness.plus_minus, s.height_mm / s.sharpness.plus_minus]).collect();
    let right: Vec<f64> = samples.iter().map(|s| s.sharpness.value / s.sharpness.plus_minus).collect();
    let slope = least_squares(&rows, &right)?.x[1];
    Some(if slope > 0.0 { Beyond::Nearer } else { Beyond::Farther })
}

fn check(samples: &[RampSample]) -> Result<(), RampError> {
    for (i, s) in samples.iter().enumerate() {
        let bad = |what, value, wanted| Err(RampError::BadSample { number: i + 1, what, value, wanted });
        for (what, value) in
            [("its place", s.along_mm), ("its height", s.height_mm), ("its sharpness", s.sharpness.value)]
        {
            if !value.is_finite() {
                return bad(what, value, "a finite number");
            }
        }
        if !(s.sharpness.plus_minus > 0.0 && s.sharpness.plus_minus.is_finite()) {
            return bad("its sharpness's half-width", s.sharpness.plus_minus, "above 0");
        }
    }
    Ok(())
}

/// A fitted curve: peak, its height, its width.
struct Fit {
    shape: RampShape,
    p: [f64; 3],
    unit_covariance: Vec<Vec<f64>>,
    /// Standardised residuals.
    residuals: Vec<f64>,
    /// Scatter of the standardised residuals, never below 1: places are at most as good as they say.
    scale: f64,
}

impl Fit {
    fn value(&self, height: f64) -> f64 {
        self.p[0] * self.shape.level(((height - self.p[1]) / self.p[2]).powi(2)).0
    }

    fn of(shape: RampShape, samples: &[RampSample]) -> Option<Self> {
        let highest = samples.iter().max_by(|a, b| a.sharpness.value.total_cmp(&b.sharpness.value))?;
        let total: f64 = samples.iter().map(|s| s.sharpness.value).sum();
        let mean = samples.iter().map(|s| s.sharpness.value * s.height_mm).sum::<f64>() / total;
        let spread = samples.iter().map(|s| s.sharpness.value * (s.height_mm - mean).powi(2)).sum::<f64>() / total;
        let mut fit = Self {
            shape,
            p: [highest.sharpness.value, mean, (2.0 * spread).sqrt().max(1e-6)],
            unit_covariance: Vec::new(),
            residuals: Vec::new(),
            scale: f64::INFINITY,
        };
        fit.judge(samples);
        // First without weights, then by the places' own word (which wild places bend least), then with the scatter that this leaves,
        // until it stays.
        fit.descend(samples)?;
        fit.scale = 1.0;
        for _ in 0..20 {
            fit.descend(samples)?;
            let scale = robust_deviation(&fit.residuals).max(1.0);
            let settled = (scale - fit.scale).abs() <= 1e-6 * scale;
            fit.scale = scale;
            if settled {
                break;
            }
        }
        (fit.p[0] > 0.0 && fit.p.iter().all(|v| v.is_finite()) && !fit.unit_covariance.is_empty()).then_some(fit)
    }

    /// Gauss-Newton at one scatter, with halved steps where a whole one leads uphill.
    fn descend(&mut self, samples: &[RampSample]) -> Option<()> {
        let heights = || samples.iter().map(|s| s.height_mm);
        let (low, high) = (heights().fold(f64::INFINITY, f64::min), heights().fold(f64::NEG_INFINITY, f64::max));
        for _ in 0..100 {
            let (rows, right) = self.equations(samples);
            let step = least_squares(&rows, &right)?;
            self.unit_covariance = step.unit_covariance;
            let (from, before) = (self.p, self.loss(self.scale));
            let mut share = 1.0;
            loop {
                self.p = [0, 1, 2].map(|i| from[i] + share * step.x[i]);
                self.judge(samples);
                if self.p[2] > 0.0 && self.loss(self.scale) <= before {
                    break;
                }
                share *= 0.5;
                if share < 1e-4 {
                    self.p = from;
                    self.judge(samples);
                    return Some(());
                }
            }
            // A peak that runs away from the ramp is beyond it, wherever it would settle.
            let away = 3.0 * (high - low);
            if self.p[1] > high + away || self.p[1] < low - away || before - self.loss(self.scale) <= 1e-12 * before {
                break;
            }
        }
        Some(())
    }

    fn standard(&self, s: &RampSample) -> f64 {
        (s.sharpness.value - self.value(s.height_mm)) / (s.sharpness.plus_minus / COVERAGE_95)
    }

    fn judge(&mut self, samples: &[RampSample]) {
        self.residuals = samples.iter().map(|s| self.standard(s)).collect();
    }

    /// Huber's loss of the residuals at a scatter.
    fn loss(&self, scale: f64) -> f64 {
        let bend = HUBER * scale;
        let huber = |z: &f64| if z.abs() <= bend { z * z } else { bend * (2.0 * z.abs() - bend) };
        self.residuals.iter().map(huber).sum()
    }

    /// Root of a residual's weight.
    fn weight(&self, residual: f64) -> f64 {
        let bend = HUBER * self.scale;
        if residual.abs() <= bend { 1.0 } else { (bend / residual.abs()).sqrt() }
    }

    fn equations(&self, samples: &[RampSample]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let [top, peak, width] = self.p;
        let line = |(s, residual): (&RampSample, &f64)| {
            let x = (s.height_mm - peak) / width;
            let (level, slope) = self.shape.level(x * x);
            let weight = self.weight(*residual);
            let by = weight / (s.sharpness.plus_minus / COVERAGE_95);
            let row = vec![level * by, -2.0 * top * slope * x / width * by, -2.0 * top * slope * x * x / width * by];
            (row, weight * residual)
        };
        samples.iter().zip(&self.residuals).map(line).unzip()
    }
}

fn report(
    fit: &Fit,
    kept: &[RampSample],
    (feet, wild): (usize, usize),
    (low, high): (f64, f64),
    options: &RampOptions,
) -> RampReport {
    let degrees = kept.len() - 3;
    let squares: f64 = fit.residuals.iter().map(|z| (fit.weight(*z) * z).powi(2)).sum();
    let ratio = (squares / degrees as f64).sqrt();
    let factor = if ratio > 1.0 { ratio * student_975(degrees) } else { COVERAGE_95 };
    let half = |gradient: [f64; 3]| factor * variance(&gradient, &fit.unit_covariance).max(0.0).sqrt();
    let peak = Figure::new(fit.p[1], half([0.0, 1.0, 0.0]));
    let widths = 2.0 * fit.shape.half();
    let depth = Figure::new(widths * fit.p[2], half([0.0, 0.0, widths]));
    let mut remarks = Vec::new();
    if feet > 0 {
        remarks.push(RampRemark::FeetLeftOut { count: feet, of: feet + wild + kept.len() });
    }
    if peak.value - depth.value / 2.0 < low || peak.value + depth.value / 2.0 > high {
        remarks.push(RampRemark::DepthExtrapolated);
    }
    // Chance alone passes this once in a thousand (Wilson and Hilferty).
    let share = 2.0 / (9.0 * degrees as f64);
    if ratio > (1.0 - share + 3.09 * share.sqrt()).powf(1.5) {
        remarks.push(RampRemark::Scattered { ratio });
    }
    let count = wild + fit.residuals.iter().filter(|z| z.abs() > OUTLYING * fit.scale).count();
    if count > 0 {
        remarks.push(RampRemark::Outlying { count });
    }
    RampReport {
        peak_height_mm: peak,
        from_mark_mm: Figure::new(peak.value - options.mark_height_mm, peak.plus_minus),
        peak_sharpness: Figure::new(fit.p[0], half([1.0, 0.0, 0.0])),
        depth_mm: depth,
        shape: fit.shape,
        residual_ratio: ratio,
        places: kept.len(),
        remarks,
    }
}
