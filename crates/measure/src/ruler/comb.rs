//! From a guessed spacing to numbered marks: one mark after the other is sought near where the last one leads to.

use super::fit::Tick;
use super::period::vertex;
use super::strip::Trace;
use crate::numeric::{median, quantile};

/// Steps per spacing in the first search.
const STEPS: f64 = 32.0;
/// A mark is sought within this share of the spacing from where it is expected.
const CATCH: f64 = 0.3;
/// Least strength of a mark against the marks before it.
const LEAST_STRENGTH: f64 = 0.3;
/// Expected marks that may be missing one after the other; after more the ruler is taken to end.
const MOST_MISSING: usize = 4;
/// Share of the difference by which spacing and strength follow the marks found: a ruler seen at a slant changes slowly.
const FOLLOW: f64 = 0.2;

/// Marks found, ascending, with their numbers.
#[derive(Debug, Clone)]
pub(crate) struct Comb {
    pub(crate) ticks: Vec<Tick>,
}

impl Comb {
    /// Marks that would lie between the first and the last one found, both included.
    pub(crate) fn expected(&self) -> usize {
        match (self.ticks.first(), self.ticks.last()) {
            (Some(first), Some(last)) => (last.number - first.number) as usize + 1,
            _ => 0,
        }
    }
}

/// How strongly a mark shows at each step along the line: the profile against one wave of the spacing.
struct Strength {
    trace: Trace,
    length: f64,
}

impl Strength {
    fn of(profile: &Trace, period: f64, length: f64) -> Self {
        let even = profile.above_mean(period, profile.step.max(period / STEPS));
        let reach = (period / 2.0 / even.step).floor() as i64;
        let wave = |k: i64| (std::f64::consts::TAU * k as f64 * even.step / period).cos();
        let taps: Vec<(i64, f64)> = (-reach..=reach).map(|k| (k, wave(k))).collect();
        let last = even.values.len() as i64 - 1;
        let at = |i: i64| taps.iter().map(|(k, w)| w * even.values[(i + k).clamp(0, last) as usize]).sum::<f64>();
        let values: Vec<f64> = (0..=last).map(at).collect();
        let sign = polarity(&even.values);
        Self { trace: Trace::new(even.start, even.step, values.iter().map(|v| sign * v).collect()), length }
    }

    /// The best place to start: where five marks in a row show most, none counting for more than a strong one.
    fn start(&self, period: f64) -> (f64, f64) {
        let cap = quantile(&self.trace.values, 0.9);
        let five = |s: f64| [-2.0, -1.0, 0.0, 1.0, 2.0].map(|k| s + k * period).map(|s| self.on_line(s).min(cap));
        let steps = (self.length / self.trace.step) as usize;
        let places = (0..=steps).map(|i| i as f64 * self.trace.step);
        let best = places.max_by(|&a, &b| five(a).iter().sum::<f64>().total_cmp(&five(b).iter().sum()));
        let best = best.unwrap_or(0.0);
        (best, median(&five(best)).max(five(best)[2]))
    }

    /// Strength on the line, nothing beyond its ends.
    fn on_line(&self, s: f64) -> f64 {
        if (0.0..=self.length).contains(&s) { self.trace.at(s) } else { 0.0 }
    }

    /// The strongest place within reach, when it is a peak of its own.
    fn peak(&self, near: f64, reach: f64) -> Option<(f64, f64)> {
        let index = |s: f64| ((s - self.trace.start) / self.trace.step).round().max(1.0) as usize;
        let v = &self.trace.values;
        let range = index(near - reach)..=index(near + reach).min(v.len() - 2);
        let i = range.max_by(|&a, &b| v[a].total_cmp(&v[b]))?;
        let place = self.trace.start + self.trace.step * (i as f64 + vertex(v[i - 1], v[i], v[i + 1]));
        let peak = v[i] >= v[i - 1] && v[i] >= v[i + 1];
        (peak && (0.0..=self.length).contains(&place)).then_some((place, v[i]))
    }

    /// Marks from a start in one direction, `way` being 1 or -1; the start itself is left out.
    fn walk(&self, start: (f64, f64), period: f64, way: f64) -> Vec<Tick> {
        let (mut last, mut strength, mut spacing) = (start.0, start.1, period);
        let mut found = Vec::new();
        let (mut number, mut missing) = (0, 0);
        while missing <= MOST_MISSING {
            number += 1;
            let expected = last + way * spacing;
            if !(0.0..=self.length).contains(&(expected - way * CATCH * spacing)) {
                break;
            }
            let seen = self.peak(expected, CATCH * spacing).filter(|p| p.1 >= LEAST_STRENGTH * strength);
            if let Some((place, height)) = seen {
                if missing == 0 {
                    spacing += FOLLOW * (way * (place - last) - spacing);
                }
                strength += FOLLOW * (height.min(2.0 * strength) - strength);
                found.push(Tick { number: way as i64 * number, place });
                (last, missing) = (place, 0);
            } else {
                (last, missing) = (expected, missing + 1);
            }
        }
        found
    }
}

/// 1 for bright marks on dark, -1 for dark ones on bright: marks are narrower than the ground between them, so the
/// profile leans to their side. Where it does not, either will do.
fn polarity(values: &[f64]) -> f64 {
    if values.iter().map(|v| v.powi(3)).sum::<f64>() < 0.0 { -1.0 } else { 1.0 }
}

/// The marks at about this spacing on the line.
pub(crate) fn track(profile: &Trace, period: f64, length: f64) -> Comb {
    let strength = Strength::of(profile, period, length);
    let (near, height) = strength.start(period);
    let Some(start) = strength.peak(near, CATCH * period) else { return Comb { ticks: Vec::new() } };
    let start = (start.0, start.1.min(height.max(0.0)));
    let mut ticks = strength.walk(start, period, -1.0);
    ticks.reverse();
    ticks.push(Tick { number: 0, place: start.0 });
    ticks.extend(strength.walk(start, period, 1.0));
    Comb { ticks }
}
