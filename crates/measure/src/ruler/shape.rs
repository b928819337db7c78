//! The marks' common shape, learned from themselves, and each mark's place by matching it to that shape.

use super::fit::{Spacing, Tick, spacing};
use super::strip::Trace;
use crate::numeric::{quantile, solve_dense};

/// Steps of the shape over one spacing, at least; and the longest step, pixels: a sharp mark's flank is a pixel wide.
const LEAST_STEPS: usize = 64;
const LONGEST_STEP_PX: f64 = 1.0;
/// Rounds of learning the shape and moving the marks.
const ROUNDS: usize = 4;
/// A mark so unlike the others is none.
const LEAST_LIKENESS: f64 = 0.4;

/// A mark lower than this share of the higher ones is like none of them: half-way between marks the running mean leaves a
/// hump a third as high, which would pass for a mark.
const LEAST_HEIGHT: f64 = 0.45;

/// Marks placed by their common shape.
#[derive(Debug, Clone)]
pub(crate) struct Placed {
    pub(crate) spacing: Spacing,
    /// Likeness (correlation) to the common shape that all but the worst third of the marks reach, every mark taken
    /// where even spacing puts it.
    pub(crate) likeness: f64,
    /// Energy of the marks in the profile.
    pub(crate) energy: f64,
    /// Difference between the lightest and the darkest place of the common shape, linear light.
    pub(crate) amplitude: f64,
}

struct Match {
    /// Height against the common shape's.
    height: f64,
    shift: f64,
    likeness: f64,
    energy: f64,
}

/// Places the marks; `None` when they do not fit even spacing at all.
pub(crate) fn place(profile: &Trace, ticks: &[Tick]) -> Option<Placed> {
    let mut ticks = ticks.to_vec();
    let mut fitted = spacing(&ticks)?;
    let (mut energy, mut amplitude) = (0.0, 0.0);
    for _ in 0..ROUNDS {
        let even = profile.above_mean(fitted.period, profile.step);
        let shape = Shape::learn(&even, &fitted.ticks, fitted.period);
        let matches: Vec<_> = ticks.iter().map(|t| shape.match_at(&even, t.place)).collect();
        let good = |m: &Option<Match>| m.as_ref().is_some_and(|m| m.likeness >= LEAST_LIKENESS);
        amplitude = Trace::new(0.0, 1.0, shape.values.clone()).range();
        energy = matches.iter().flatten().map(|m| m.energy).sum();
        let moved = ticks.iter().zip(&matches).filter(|(_, m)| good(m));
        ticks = moved.map(|(t, m)| Tick { place: t.place + m.as_ref().map_or(0.0, |m| m.shift), ..*t }).collect();
        fitted = spacing(&ticks)?;
    }
    Some(Placed { likeness: regular_likeness(profile, &fitted), spacing: fitted, energy, amplitude })
}

/// See [`Placed::likeness`]. Marks that may each seek their own place find some likeness in any texture; marks that
/// must stand in line do not.
fn regular_likeness(profile: &Trace, fitted: &Spacing) -> f64 {
    let regular = fitted.regular();
    let even = profile.above_mean(fitted.period, profile.step);
    let shape = Shape::learn(&even, &regular, fitted.period);
    let matches: Vec<Option<Match>> = regular.iter().map(|t| shape.match_at(&even, t.place)).collect();
    let heights: Vec<f64> = matches.iter().map(|m| m.as_ref().map_or(0.0, |m| m.height)).collect();
    let least = LEAST_HEIGHT * quantile(&heights, 0.75);
    let judged = |m: &Option<Match>| m.as_ref().filter(|m| m.height >= least).map_or(0.0, |m| m.likeness);
    let all: Vec<f64> = matches.iter().map(judged).collect();
    // A mark is part of the shape that it is compared with; noise alone would reach the root of 1/n.
    let chance = 1.0 / (all.len() as f64).sqrt();
    (quantile(&all, 1.0 / 3.0) - chance) / (1.0 - chance)
}

/// Mean profile about a mark and its slope.
struct Shape {
    period: f64,
    offsets: Vec<f64>,
    values: Vec<f64>,
    slopes: Vec<f64>,
}

impl Shape {
    /// The middle of all marks at each point, so that dirt on one of them does not enter.
    fn learn(even: &Trace, ticks: &[Tick], period: f64) -> Self {
        let steps = LEAST_STEPS.max((period / LONGEST_STEP_PX).ceil() as usize);
        let step = period / steps as f64;
        let offsets: Vec<f64> = (0..=steps).map(|i| i as f64 * step - period / 2.0).collect();
        let values_at = |x: f64| ticks.iter().map(|t| even.at(t.place + x)).collect::<Vec<f64>>();
        let values: Vec<f64> = offsets.iter().map(|x| trimmed_mean(values_at(*x))).collect();
        let slope = |i: usize| {
            let (a, b) = (i.saturating_sub(1), (i + 1).min(steps));
            (values[b] - values[a]) / ((b - a) as f64 * step)
        };
        let slopes = (0..=steps).map(slope).collect();
        Self { period, offsets, values, slopes }
    }

    /// Least squares of the shape's height, a constant and the shape's slope: the slope's share is the shift.
    fn match_at(&self, even: &Trace, place: f64) -> Option<Match> {
        let (first, last) = even.span();
        let half = self.period / 2.0;
        if place - half < first || place + half > last {
            return None;
        }
        let seen: Vec<f64> = self.offsets.iter().map(|x| even.at(place + x)).collect();
        let mut m = vec![vec![0.0; 4]; 3];
        for ((v, s), y) in self.values.iter().zip(&self.slopes).zip(&seen) {
            let terms = [*v, *s, 1.0, *y];
            for (row, a) in m.iter_mut().zip(terms) {
                row.iter_mut().zip(terms).for_each(|(cell, b)| *cell += a * b);
            }
        }
        let [height, slope, _] = solve_dense(m)?[..] else { return None };
        if height <= 0.0 {
            return None;
        }
        let limit = 0.1 * self.period;
        let energy =
            height * height * self.values.iter().map(|v| v * v).sum::<f64>() * self.period / self.values.len() as f64;
        Some(Match {
            height,
            shift: (-slope / height).clamp(-limit, limit),
            likeness: likeness(&self.values, &seen),
            energy,
        })
    }
}

/// Mean of the middle half; of all when they are few.
fn trimmed_mean(mut values: Vec<f64>) -> f64 {
    if values.len() < 8 {
        return values.iter().sum::<f64>() / values.len() as f64;
    }
    values.sort_by(f64::total_cmp);
    let quarter = values.len() / 4;
    let middle = &values[quarter..values.len() - quarter];
    middle.iter().sum::<f64>() / middle.len() as f64
}

/// Correlation coefficient.
fn likeness(a: &[f64], b: &[f64]) -> f64 {
    let n = a.len() as f64;
    let (ma, mb) = (a.iter().sum::<f64>() / n, b.iter().sum::<f64>() / n);
    let sums = a.iter().zip(b).map(|(a, b)| (a - ma, b - mb));
    let sums = sums.fold((0.0, 0.0, 0.0), |s, (a, b)| (s.0 + a * b, s.1 + a * a, s.2 + b * b));
    sums.0 / (sums.1 * sums.2).sqrt().max(1e-300)
}
