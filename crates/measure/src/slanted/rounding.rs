//! What a file's own steps of tone do to a profile.
//!
//! Rounding is no noise: samples of one true level are all rounded alike, so that a plateau is wrong by up to half a step
//! however many samples it has; at slopes such as 1:3, where every third row meets the same phases, so is every place of
//! the profile. The scatter between blocks of rows cannot show what all rows share. It is found here by
//! rounding a smooth profile again, many times over, with the steps shifted.

use std::f64::consts::PI;

use planes::{Linear, Plane};

use super::profile::{Profile, Strip};
use crate::numeric::Factor;

/// Times that the profile is rounded again: the mean square of an error that is even over the step is then right to about 5 %.
const ROUNDINGS: usize = 48;
/// Share of the region's range of tone in which the step about either plateau is looked for.
const NEAR_PLATEAU: f64 = 0.3;
/// The coarsest file: 8 bits, even or through a curve for the eye of at most this exponent (common practice, no source).
const COARSEST_TOP: f64 = 255.0;
const STEEPEST_CURVE: f64 = 2.4;
/// Steps grow with tone by a power: 0 for even ones, 1 - 1/g for a curve of exponent g.
const HIGHEST_POWER: f64 = 1.0 - 1.0 / STEEPEST_CURVE;
/// Darker tones count as this one, so that a power of it stays a number.
const LEAST_TONE: f64 = 1e-4;
/// More steps than this from plateau to plateau are no file's of 16 bits: the samples were never rounded.
const MOST_STEPS: f64 = 65_535.0;
/// The golden ratio: its multiples' fractions spread evenly and go with no regular count.
const GOLDEN: f64 = 1.618_033_988_749_895;
/// Noise of so many steps leaves less than a thousandth of the rounding that rows share (see [`Rounding::errors`]).
const DITHERED: f64 = 0.6;

/// How the coefficients would move by one rounding; one vector per rounding, none where rounding does not matter.
///
/// `smooth` are the coefficients of a profile that does not follow the steps; `factor` is that of the fit.
pub(crate) fn moves(strip: &Strip<'_>, profile: &Profile, smooth: &[f64], factor: &Factor) -> Vec<Vec<f64>> {
    let Some(rounding) = Rounding::of(strip, profile) else { return Vec::new() };
    let basis = &profile.basis;
    let smooth = basis.tabulate(smooth);
    let mut moves = vec![vec![0.0; basis.unknowns()]; ROUNDINGS];
    for row in strip.rows() {
        let distance = strip.line.row(row);
        for column in distance.columns(basis.span(), strip.plane.width()) {
            let place = distance.of(column);
            let Some((piece, u)) = basis.locate(place) else { continue };
            let values = basis.values(piece, u);
            for (right, error) in moves.iter_mut().zip(rounding.errors(smooth.value(basis, place))) {
                for (k, value) in values.iter().enumerate() {
                    right[basis.unknown(piece + k)] += value * error;
                }
            }
        }
    }
    moves.iter().map(|right| factor.solve(right)).collect()
}

/// The size of a file's steps in linear light by tone: scale times tone to a power.
#[derive(Debug, Clone, Copy)]
struct Steps {
    scale: f64,
    power: f64,
}

impl Steps {
    /// From the distances between the different values that occur on some rows: near either plateau, where the edge runs
    /// flat, neighbours are one step apart. `None` when there are too few values to have a distance there.
    ///
    /// Where a sharp edge has few different values the steps may come out too large, never too small.
    fn of(plane: &Plane<Linear>, rows: std::ops::Range<usize>) -> Option<Self> {
        let mut values: Vec<f32> = rows.flat_map(|r| plane.row(r).iter().copied()).collect();
        values.sort_unstable_by(f32::total_cmp);
        values.dedup();
        let (low, high) = (f64::from(*values.first()?), f64::from(*values.last()?));
        let gap = |w: &[f32]| {
            let (a, b) = (f64::from(w[0]), f64::from(w[1]));
            (f64::midpoint(a, b).max(LEAST_TONE), b - a)
        };
        let gaps: Vec<(f64, f64)> = values.windows(2).map(gap).collect();
        let least = |from: f64, to: f64| {
            let inside = gaps.iter().filter(|g| g.0 >= from && g.0 <= to);
            inside.copied().min_by(|a, b| a.1.total_cmp(&b.1))
        };
        let near = NEAR_PLATEAU * (high - low);
        let (dark, bright) = least(low, low + near).zip(least(high - near, high))?;
        let power = ((bright.1 / dark.1).ln() / (bright.0 / dark.0).ln()).clamp(0.0, HIGHEST_POWER);
        // No distance is less than one step.
        let scale = gaps.iter().map(|g| g.1 / g.0.powf(power)).fold(f64::INFINITY, f64::min);
        (scale.is_finite() && scale > 0.0 && power.is_finite()).then_some(Self { scale, power })
    }

    /// One step at a tone.
    fn at(self, tone: f64) -> f64 {
        (self.scale * tone.max(LEAST_TONE).powf(self.power)).min(coarsest(tone))
    }

    /// Steps below a tone.
    fn below(self, tone: f64) -> f64 {
        tone.max(LEAST_TONE).powf(1.0 - self.power) / (1.0 - self.power) / self.scale
    }
}

/// The coarsest step that a file may have at a tone.
fn coarsest(tone: f64) -> f64 {
    f64::max(STEEPEST_CURVE * tone.max(LEAST_TONE).powf(HIGHEST_POWER), 1.0) / COARSEST_TOP
}

/// Standard deviation of the noise before rounding, from the samples' scatter and the steps at the two plateaus.
fn noise_before(scatter: f64, (small, large): (f64, f64)) -> f64 {
    // A rounding's variance is step^2 / 12; as a region is about half dark, half bright, so is its mean.
    let own = (small * small + large * large) / 24.0;
    (scatter * scatter - own).max(0.0).sqrt()
}

/// [`ROUNDINGS`] different roundings.
#[derive(Debug, Clone)]
struct Rounding {
    steps: Steps,
    /// Steps below the dark plateau, and from there to the bright one.
    dark: f64,
    between: f64,
    /// Standard deviation of the noise before rounding.
    noise: f64,
}

impl Rounding {
    fn of(strip: &Strip<'_>, profile: &Profile) -> Option<Self> {
        let (left, right) = profile.plateaus();
        let (dark, bright) = (left.min(right), left.max(right));
        // Looking for the steps costs more than all else: not where noise would hide even the coarsest.
        let (small, large) = (coarsest(dark), coarsest(bright));
        if noise_before(profile.noise, (small, large)) >= DITHERED * large {
            return None;
        }
        Self::new(Steps::of(strip.plane, strip.rows())?, (dark, bright), profile.noise)
    }

    /// `scatter` is the standard deviation of samples about the profile, their rounding included. `None` when the samples
    /// were not rounded, or noise hides it.
    fn new(steps: Steps, (dark, bright): (f64, f64), scatter: f64) -> Option<Self> {
        let (small, large) = (steps.at(dark), steps.at(bright));
        let noise = noise_before(scatter, (small, large));
        let between = steps.below(bright) - steps.below(dark);
        let matters = noise < DITHERED * large && between > 0.0 && between < MOST_STEPS;
        matters.then(|| Self { steps, dark: steps.below(dark), between, noise })
    }

    /// How far each rounding moves the mean of many samples of one level.
    ///
    /// The error is a saw-tooth of the level. Noise of s steps lets its first harmonic through by exp(-2 pi^2 s^2), the
    /// Fourier transform of the normal distribution, and the higher ones by less: they are taken to pass as well as the first.
    ///
    /// Where the steps lie against either plateau is chance: from rounding to rounding they are shifted, and stretched
    /// by up to one from plateau to plateau; what lies within one step of tone keeps together.
    fn errors(&self, level: f64) -> impl Iterator<Item = f64> + use<> {
        let step = self.steps.at(level);
        let size = step * (-2.0 * (PI * self.noise / step).powi(2)).exp();
        let place = self.steps.below(level);
        let along = (place - self.dark) / self.between;
        (0..ROUNDINGS).map(move |m| {
            let (shift, stretch) = ((m as f64 + 0.5) / ROUNDINGS as f64, (m as f64 / GOLDEN).fract());
            let moved = place + shift + stretch * along;
            size * (moved.round() - moved)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use planes::ToneCurve;
    use testkit::assert_close;

    /// A slope through all tones from 0.1 to 0.8 as a file of so many steps holds it.
    fn slope(curve: ToneCurve, top: f64) -> Plane<Linear> {
        let level = |c: usize, r: usize| 0.1 + 0.7 * (c as f64 + 0.1 * r as f64) / 410.0;
        let rounded = |tone: f64| curve.decode((curve.encode(tone) * top).round() / top);
        Plane::from_fn(400, 100, |c, r| rounded(level(c, r)) as f32).unwrap()
    }

    #[test]
    fn steps_are_those_of_the_file() {
        // Even steps: 1/255. A curve of exponent g: d(code^g)/d(code) = g tone^(1 - 1/g), over 255.
        for (curve, g) in [(ToneCurve::Linear, 1.0_f64), (ToneCurve::Gamma(1.8), 1.8), (ToneCurve::Gamma(2.2), 2.2)] {
            let steps = Steps::of(&slope(curve, 255.0), 0..100).unwrap();
            for tone in [0.12, 0.4, 0.75] {
                assert_close!(steps.at(tone), g * tone.powf(1.0 - 1.0 / g) / 255.0, relative = 0.02, "{g} at {tone}");
            }
            // So many codes lie between two tones.
            let codes = 255.0 * (0.75_f64.powf(1.0 / g) - 0.12_f64.powf(1.0 / g));
            assert_close!(steps.below(0.75) - steps.below(0.12), codes, relative = 0.02, "{g}");
        }
    }

    #[test]
    fn no_file_has_coarser_steps_than_eight_bits() {
        // Three values only: nothing is known of the steps but that they are no coarser.
        let plane = Plane::from_fn(30, 30, |c, _| [0.2_f32, 0.5, 0.8][c / 10]).unwrap();
        let steps = Steps::of(&plane, 0..30);
        assert!(steps.is_none_or(|s| s.at(0.5) <= 2.4 / 255.0), "{steps:?}");
    }

    #[test]
    fn errors_are_even_over_the_step() {
        // Variance of an even distribution: step^2 / 12. The two plateaus' errors have nothing to do with each other.
        let steps = Steps { scale: 0.004, power: 0.0 };
        let rounding = Rounding::new(steps, (0.1, 0.8), 0.0).unwrap();
        let mean = |values: Vec<f64>| values.iter().sum::<f64>() / values.len() as f64;
        let product = |a: f64, b: f64| mean(rounding.errors(a).zip(rounding.errors(b)).map(|(a, b)| a * b).collect());
        let variance = 0.004_f64.powi(2) / 12.0;
        for level in [0.1, 0.31, 0.8] {
            assert_close!(product(level, level), variance, relative = 0.05, "{level}");
        }
        assert_close!(product(0.1, 0.8) / variance, 0.0, absolute = 0.1);
        // Half a step apart: 1 - 6 t (1 - t) at t = 1/2.
        assert_close!(product(0.31, 0.312) / variance, -0.5, absolute = 0.1);
    }

    #[test]
    fn noise_of_a_step_hides_the_rounding() {
        let steps = Steps { scale: 0.004, power: 0.0 };
        assert!(Rounding::new(steps, (0.1, 0.8), 0.004).is_none());
        assert!(Rounding::new(Steps { scale: 1e-7, power: 0.0 }, (0.1, 0.8), 0.0).is_none(), "never rounded");
    }
}
