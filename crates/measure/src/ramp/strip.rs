//! Local modulation of a printed bar pattern along a ramp.

use planes::{Linear, Picture, Plane};

use super::RampSample;
use crate::algebra::{Figure, student_975};
use crate::numeric::solve_dense;

/// Least pixels per bar and gap: the pixels must carry the pattern's first harmonic.
const LEAST_PERIOD_PX: f64 = 3.0;
/// Least periods within a window.
const LEAST_PERIODS: f64 = 2.0;
/// Harmonics that are told apart: those of finer detail hardly reach the film.
const HARMONICS: usize = 3;
/// Parts of a window whose scatter shows the interval.
const PARTS: usize = 6;
/// How far the period is looked for about what was given, and in how many steps to either side.
const SEARCH: f64 = 0.08;
const SEARCH_STEPS: i32 = 16;
/// Steps to either side of the strongest that are looked at by what is left over: with two periods in a window, the fewest there
/// may be, the strongest lies up to three steps off.
const FINE_STEPS: i32 = 4;

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
    /// Which harmonic of the pattern is measured: 1 for bars as wide as their gaps; thin lines far apart carry finer detail in the
    /// second and third.
    pub harmonic: usize,
}

/// Modulation at one place along the strip.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StripPoint {
    /// Middle of the window, columns from the strip's left edge.
    pub column_px: f64,
    /// Amplitude of the pattern's harmonic over the mean light. Of the first: 4/π for sharp black and white bars of equal
    /// width, 1 for a full sine.
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
/// In every window the light is followed by a constant, a slope and the pattern's harmonics that the pixels can carry; the wanted
/// harmonic's amplitude over the mean is the modulation. Its interval is Student's, from six parts of the window.
pub fn strip_modulation(strip: &Picture<Linear>, options: &StripOptions) -> Result<Vec<StripPoint>, StripError> {
    let StripOptions { bars, period_px, window_px, step_px, harmonic } = *options;
    let least_px = LEAST_PERIOD_PX * harmonic.max(1) as f64;
    if period_px.is_nan() || period_px < least_px || period_px.is_infinite() || !(1..=HARMONICS).contains(&harmonic) {
        return Err(StripError::TooFine { period_px, least_px });
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
    let windows: Vec<Window> =
        (0..=(width_px - window_px) / step_px).map(|i| Window::cut(&light, i * step_px, options)).collect();
    let found = |period: f64, harmonic: usize| -> Vec<StripPoint> {
        let Some(tool) = Projector::new(windows[0].parts[0].len(), period, harmonic) else { return Vec::new() };
        windows.iter().filter_map(|window| window.point(&tool)).collect()
    };
    let power = |points: &[StripPoint]| points.iter().map(|p| p.modulation.value.powi(2)).sum::<f64>();
    let period = |i: i32| period_px * (1.0 + SEARCH * f64::from(i) / f64::from(SEARCH_STEPS));
    let powers = (-SEARCH_STEPS..=SEARCH_STEPS).map(|i| (power(&found(period(i), 1)), i));
    // The first harmonic is strongest near the period; but a pattern a little off lends it light from its neighbours, so that the
    // last steps go by what the whole pattern leaves unexplained.
    let near = powers.max_by(|a, b| a.0.total_cmp(&b.0)).map_or(0, |(_, i)| i);
    let profiles: Vec<Vec<f64>> = windows.iter().map(Window::whole).collect();
    let least = (near - FINE_STEPS..=near + FINE_STEPS)
        .map(|i| (unexplained(&profiles, period(i)), i))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let best = found(period(least.map_or(near, |(_, i)| i)), harmonic);
    let shown = best.iter().any(|p| p.modulation.value > 2.0 * p.modulation.plus_minus && p.modulation.value > 0.01);
    if shown { Ok(best) } else { Err(StripError::NoPattern { period_px }) }
}

/// The light's square that a constant, a slope and the harmonics of this period leave unexplained in the profiles, all of one length.
fn unexplained(profiles: &[Vec<f64>], period: f64) -> f64 {
    let Some(length) = profiles.first().map(Vec::len) else { return f64::INFINITY };
    let terms = terms(length, period, 1);
    // Columns made orthonormal one after the other (modified Gram-Schmidt).
    let mut basis: Vec<Vec<f64>> = Vec::new();
    for k in 0..terms.first().map_or(0, Vec::len) {
        let mut column: Vec<f64> = terms.iter().map(|row| row[k]).collect();
        for unit in &basis {
            let along = dot(unit, &column);
            column.iter_mut().zip(unit).for_each(|(cell, u)| *cell -= along * u);
        }
        let norm = dot(&column, &column).sqrt();
        if norm > 1e-9 {
            column.iter_mut().for_each(|cell| *cell /= norm);
            basis.push(column);
        }
    }
    let left =
        |profile: &Vec<f64>| dot(profile, profile) - basis.iter().map(|unit| dot(unit, profile).powi(2)).sum::<f64>();
    profiles.iter().map(left).sum()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The light's model at each of so many pixels: a constant, a slope, and cosine and sine of the harmonics that the pixels carry, at least
/// up to `order`.
fn terms(length: usize, period: f64, order: usize) -> Vec<Vec<f64>> {
    let most = ((period / 2.5) as usize).clamp(order, HARMONICS);
    let middle = length as f64 / 2.0;
    let row = |i: usize| {
        let at = i as f64 + 0.5 - middle;
        let waves = (1..=most).flat_map(move |k| {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 * at / period).sin_cos();
            [cos, sin]
        });
        [1.0, at / middle].into_iter().chain(waves).collect::<Vec<f64>>()
    };
    (0..length).map(row).collect()
}

/// Profiles along the pattern of a window's six parts.
struct Window {
    column_px: f64,
    parts: Vec<Vec<f64>>,
}

impl Window {
    fn cut(light: &Plane<Linear>, first: usize, options: &StripOptions) -> Self {
        let cut = |extent: usize, i: usize| i * extent / PARTS..(i + 1) * extent / PARTS;
        let mean = |cells: &mut dyn Iterator<Item = f32>, n: usize| cells.map(f64::from).sum::<f64>() / n as f64;
        let part = |i: usize| -> Vec<f64> {
            match options.bars {
                Bars::RepeatAcross => {
                    let part = cut(options.window_px, i);
                    let part = first + part.start..first + part.end;
                    let row = |row| mean(&mut light.row(row)[part.clone()].iter().copied(), part.len());
                    (0..light.height()).map(row).collect()
                }
                Bars::RepeatAlong => {
                    let part = cut(light.height(), i);
                    let column = |c| mean(&mut part.clone().map(|r| light.at(c, r)), part.len());
                    (first..first + options.window_px).map(column).collect()
                }
            }
        };
        Self { column_px: first as f64 + options.window_px as f64 / 2.0, parts: (0..PARTS).map(part).collect() }
    }

    /// The mean of the parts' profiles.
    fn whole(&self) -> Vec<f64> {
        let length = self.parts[0].len();
        (0..length).map(|i| self.parts.iter().map(|part| part[i]).sum::<f64>() / PARTS as f64).collect()
    }

    fn point(&self, tool: &Projector) -> Option<StripPoint> {
        let parts: Vec<Part> = self.parts.iter().map(|profile| tool.harmonic(profile)).collect::<Option<_>>()?;
        let n = PARTS as f64;
        let mean_of = |f: fn(&Part) -> f64| parts.iter().map(f).sum::<f64>() / n;
        let (re, im, mean) = (mean_of(|p| p.0), mean_of(|p| p.1), mean_of(|p| p.2));
        let modulation = re.hypot(im);
        // Only what lies along the mean's own phase changes its length.
        let along: Vec<f64> = parts.iter().map(|p| (p.0 * re + p.1 * im) / modulation.max(1e-300)).collect();
        let variance = along.iter().map(|a| (a - modulation).powi(2)).sum::<f64>() / (n - 1.0);
        let half = (student_975(PARTS - 1) * (variance / n).sqrt()).max(1e-6);
        Some(StripPoint { column_px: self.column_px, modulation: Figure::new(modulation, half), mean })
    }
}

/// What tells a harmonic of a profile of one length, by least squares beside a slope and the other harmonics that the pixels carry:
/// the rows of the pseudo-inverse for the mean and for the harmonic's two amplitudes. They are the same for all windows.
struct Projector {
    rows: [Vec<f64>; 3],
}

impl Projector {
    fn new(length: usize, period: f64, order: usize) -> Option<Self> {
        let design = terms(length, period, order);
        let size = design.first()?.len();
        let mut matrix = vec![vec![0.0; size + 1]; size];
        for row in &design {
            for (cells, a) in matrix.iter_mut().zip(row) {
                cells.iter_mut().zip(row).for_each(|(cell, b)| *cell += a * b);
            }
        }
        let row = |wanted: usize| -> Option<Vec<f64>> {
            let mut system = matrix.clone();
            system[wanted][size] = 1.0;
            let inverse = solve_dense(system)?;
            Some(design.iter().map(|terms| terms.iter().zip(&inverse).map(|(a, b)| a * b).sum()).collect())
        };
        Some(Self { rows: [row(0)?, row(2 * order)?, row(2 * order + 1)?] })
    }

    /// Real and imaginary amplitude over the mean, and the mean; `None` where there is no light.
    fn harmonic(&self, profile: &[f64]) -> Option<Part> {
        let [mean, re, im] =
            [0, 1, 2].map(|i| self.rows[i].iter().zip(profile).map(|(weight, value)| weight * value).sum::<f64>());
        (mean > 0.0).then(|| (re / mean, im / mean, mean))
    }
}
