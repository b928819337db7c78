//! Local modulation of a printed bar pattern along a ramp.

use planes::{Linear, Picture, Plane};

use super::RampSample;
use crate::algebra::{Figure, student_975};
use crate::numeric::solve_dense;

/// Least pixels per bar and gap: the pixels must carry the pattern's first harmonic.
const LEAST_PERIOD_PX: f64 = 3.0;
/// Least periods within a window.
const LEAST_PERIODS: f64 = 2.0;
/// Parts of a window whose scatter shows the interval.
const PARTS: usize = 6;
/// How far the period is looked for about what was given, and in how many steps to either side.
const SEARCH: f64 = 0.08;
const SEARCH_STEPS: i32 = 16;

/// Which way the bars repeat in the strip, whose columns run along the ramp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bars {
    /// The bars run along the ramp and repeat down the rows: every column shows them all.
    RepeatAcross,
    /// The bars lie across the ramp and repeat along the columns.
    RepeatAlong,
}

/// How a strip's modulation is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripOptions {
    /// Which way the bars repeat.
    pub bars: Bars,
    /// One bar and one gap, pixels; it is looked for within 8 % about this.
    pub period_px: f64,
    /// Columns of one window along the ramp.
    pub window_px: usize,
    /// Columns from one window to the next; windows that overlap are not independent.
    pub step_px: usize,
}

/// Modulation at one place along the strip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripPoint {
    /// Middle of the window, columns from the strip's left edge.
    pub column_px: f64,
    /// Amplitude of the pattern's first harmonic over the mean light: 4/π for sharp black and white bars of equal width, 1 for
    /// a full sine.
    pub modulation: Figure,
    /// Mean light there, linear.
    pub mean: f64,
}

/// From columns of a strip to places on the ramp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RampScale {
    /// Column at which the mark lies.
    pub mark_column_px: f64,
    /// Columns per millimetre of the card, as seen from above.
    pub px_per_mm: f64,
    /// Height at the mark above the card, millimetres.
    pub mark_height_mm: f64,
    /// Rise per millimetre of the card, as seen from above: the tangent of the ramp's slope; negative when it falls to the right.
    pub rise: f64,
}

impl RampScale {
    /// The strip's points as places of the ramp.
    pub fn samples(&self, points: &[StripPoint]) -> Vec<RampSample> {
        let sample = |p: &StripPoint| {
            let along_mm = (p.column_px - self.mark_column_px) / self.px_per_mm;
            RampSample { along_mm, height_mm: self.mark_height_mm + self.rise * along_mm, sharpness: p.modulation }
        };
        points.iter().map(sample).collect()
    }
}

/// Why a strip gives no modulation.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StripError {
    /// Bars too fine for the pixels.
    #[error(
        "a bar and a gap are {period_px:.2} pixels, at least {least_px} are needed: scan finer or use coarser bars"
    )]
    TooFine {
        /// Given period.
        period_px: f64,
        /// Least period.
        least_px: f64,
    },
    /// Too few periods in a window or across the strip.
    #[error(
        "a window holds {periods:.1} bars, at least {least} are needed: take a higher strip, or a longer window along the bars"
    )]
    TooFewBars {
        /// Periods that fit.
        periods: f64,
        /// Least number.
        least: f64,
    },
    /// A window that the strip does not hold, or that cannot be parted.
    #[error(
        "a window of {window_px} columns and {height_px} rows every {step_px}: the strip is {width_px} columns wide, and each part needs a pixel"
    )]
    BadWindow {
        /// Columns of a window.
        window_px: usize,
        /// Step.
        step_px: usize,
        /// Columns of the strip.
        width_px: usize,
        /// Rows of the strip.
        height_px: usize,
    },
    /// Samples that are no numbers.
    #[error("{count} samples of the strip are not finite numbers: the file or its tone curve is broken")]
    NotFinite {
        /// How many.
        count: usize,
    },
    /// No window shows the pattern.
    #[error(
        "no bars about {period_px:.1} pixels apart are seen anywhere on the strip: is this the ramp, and the period right?"
    )]
    NoPattern {
        /// Given period.
        period_px: f64,
    },
}

/// One part's pattern: real and imaginary amplitude over the mean, and the mean.
type Part = (f64, f64, f64);

/// Local modulation of a printed bar pattern on a rectified strip, whose columns run along the ramp, in luminance.
///
/// In every window the light is followed by a constant, a slope and the pattern's harmonics that the pixels can carry; the first
/// harmonic's amplitude over the mean is the modulation. Its interval is Student's, from six parts of the window.
pub fn strip_modulation(strip: &Picture<Linear>, options: &StripOptions) -> Result<Vec<StripPoint>, StripError> {
    let StripOptions { bars, period_px, window_px, step_px } = *options;
    if period_px.is_nan() || period_px < LEAST_PERIOD_PX || period_px.is_infinite() {
        return Err(StripError::TooFine { period_px, least_px: LEAST_PERIOD_PX });
    }
    let light = strip.luminance();
    let (width_px, height_px) = (light.width(), light.height());
    let parted = if bars == Bars::RepeatAcross { window_px } else { height_px };
    if window_px == 0 || step_px == 0 || window_px > width_px || parted < PARTS {
        return Err(StripError::BadWindow { window_px, step_px, width_px, height_px });
    }
    let extent = if bars == Bars::RepeatAcross { height_px } else { window_px };
    let periods = extent as f64 / (period_px * (1.0 + SEARCH));
    if periods < LEAST_PERIODS {
        return Err(StripError::TooFewBars { periods, least: LEAST_PERIODS });
    }
    let count = light.samples().iter().filter(|s| !s.is_finite()).count();
    if count > 0 {
        return Err(StripError::NotFinite { count });
    }
    let windows: Vec<usize> = (0..=(width_px - window_px) / step_px).map(|i| i * step_px).collect();
    let found = |period: f64| -> Vec<StripPoint> {
        windows.iter().filter_map(|&first| window(&light, first, options, period)).collect()
    };
    let power = |points: &[StripPoint]| points.iter().map(|p| p.modulation.value.powi(2)).sum::<f64>();
    let tried = (-SEARCH_STEPS..=SEARCH_STEPS).map(|i| {
        let points = found(period_px * (1.0 + SEARCH * f64::from(i) / f64::from(SEARCH_STEPS)));
        (power(&points), points)
    });
    let best = tried.max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, points)| points).unwrap_or_default();
    let shown = best.iter().any(|p| p.modulation.value > 2.0 * p.modulation.plus_minus && p.modulation.value > 0.01);
    if shown { Ok(best) } else { Err(StripError::NoPattern { period_px }) }
}

fn window(light: &Plane<Linear>, first: usize, options: &StripOptions, period: f64) -> Option<StripPoint> {
    let columns = first..first + options.window_px;
    let parts: Option<Vec<Part>> = (0..PARTS)
        .map(|i| {
            let cut = |extent: usize| i * extent / PARTS..(i + 1) * extent / PARTS;
            let profile: Vec<f64> = match options.bars {
                Bars::RepeatAcross => {
                    let part = cut(options.window_px);
                    let part = first + part.start..first + part.end;
                    let mean = |row: usize| {
                        light.row(row)[part.clone()].iter().map(|s| f64::from(*s)).sum::<f64>() / part.len() as f64
                    };
                    (0..light.height()).map(mean).collect()
                }
                Bars::RepeatAlong => {
                    let part = cut(light.height());
                    let mean =
                        |c: usize| part.clone().map(|r| f64::from(light.at(c, r))).sum::<f64>() / part.len() as f64;
                    columns.clone().map(mean).collect()
                }
            };
            harmonic(&profile, period)
        })
        .collect();
    let parts = parts?;
    let n = PARTS as f64;
    let mean_of = |f: fn(&Part) -> f64| parts.iter().map(f).sum::<f64>() / n;
    let (re, im, mean) = (mean_of(|p| p.0), mean_of(|p| p.1), mean_of(|p| p.2));
    let modulation = re.hypot(im);
    // Only what lies along the mean's own phase changes its length.
    let along: Vec<f64> = parts.iter().map(|p| (p.0 * re + p.1 * im) / modulation.max(1e-300)).collect();
    let variance = along.iter().map(|a| (a - modulation).powi(2)).sum::<f64>() / (n - 1.0);
    let half = (student_975(PARTS - 1) * (variance / n).sqrt()).max(1e-6);
    let column_px = first as f64 + options.window_px as f64 / 2.0;
    Some(StripPoint { column_px, modulation: Figure::new(modulation, half), mean })
}

/// The first harmonic of a profile, by least squares beside a slope and the higher harmonics that the pixels carry.
fn harmonic(profile: &[f64], period: f64) -> Option<Part> {
    let most = ((period / 2.5) as usize).clamp(1, 3);
    let size = 2 + 2 * most;
    let middle = profile.len() as f64 / 2.0;
    let mut matrix = vec![vec![0.0; size + 1]; size];
    for (i, value) in profile.iter().enumerate() {
        let at = i as f64 + 0.5 - middle;
        let mut row = vec![1.0, at / middle];
        for k in 1..=most {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 * at / period).sin_cos();
            row.extend([cos, sin]);
        }
        for a in 0..size {
            for b in 0..size {
                matrix[a][b] += row[a] * row[b];
            }
            matrix[a][size] += row[a] * value;
        }
    }
    let found = solve_dense(matrix)?;
    (found[0] > 0.0).then(|| (found[2] / found[0], found[3] / found[0], found[0]))
}
