//! First guess of the marks' spacing: at which distances does the line's profile look like itself?

use super::LEAST_PERIOD_PX;
use super::strip::Trace;

/// Likeness (correlation coefficient) of the profile with itself, displaced, from which a distance is tried.
const LEAST_LIKENESS: f64 = 0.25;
/// Each running mean is wider than the one before by this factor.
const GROWTH: f64 = 1.6;
/// Steps in a running mean's width: tells spacings to about a hundredth.
const STEPS: f64 = 64.0;
/// Distances up to this share of the line are tried; three marks then lie on it.
const LONGEST_SHARE: f64 = 0.7;

/// Distances worth trying, pixels, ascending.
///
/// One running mean after the other is taken off, so that neither uneven light nor the ruler's longer marks hide
/// the shorter distances.
pub(crate) fn candidates(trace: &Trace, length: f64) -> Vec<f64> {
    let mut found: Vec<(f64, f64)> = Vec::new();
    let mut width = 1.5 * LEAST_PERIOD_PX;
    while width < GROWTH * length {
        let step = trace.step.max(width / STEPS);
        let values = within(&trace.above_mean(width, step), length);
        found.extend(peaks(&values, step, (width / 2.2, (1.1 * width).min(LONGEST_SHARE * length))));
        width *= GROWTH;
    }
    distinct(found)
}

/// The values on the line itself.
fn within(trace: &Trace, length: f64) -> Vec<f64> {
    let on_line = |i: &usize| (0.0..=length).contains(&(trace.start + *i as f64 * trace.step));
    (0..trace.values.len()).filter(on_line).map(|i| trace.values[i]).collect()
}

/// (distance, likeness) at the peaks between two distances.
fn peaks(values: &[f64], step: f64, (from, to): (f64, f64)) -> Vec<(f64, f64)> {
    let first = ((from.max(LEAST_PERIOD_PX) / step).floor() as usize).max(2);
    let last = (to / step).ceil() as usize;
    if last <= first || last + 2 >= values.len() {
        return Vec::new();
    }
    let likeness: Vec<f64> = (first - 1..=last + 1).map(|lag| likeness(values, lag)).collect();
    let top = |w: &[f64]| w[1] >= LEAST_LIKENESS && w[1] >= w[0] && w[1] > w[2];
    let tops = likeness.windows(3).enumerate().filter(|(_, w)| top(w));
    tops.map(|(i, w)| (step * ((first + i) as f64 + vertex(w[0], w[1], w[2])), w[1])).collect()
}

/// Place of the top of a parabola through three even points, from the middle one.
pub(crate) fn vertex(a: f64, b: f64, c: f64) -> f64 {
    let curvature = a - 2.0 * b + c;
    if curvature.abs() < 1e-300 { 0.0 } else { (0.5 * (a - c) / curvature).clamp(-0.5, 0.5) }
}

/// Correlation of the values with themselves, displaced.
fn likeness(values: &[f64], lag: usize) -> f64 {
    let (a, b) = (&values[..values.len() - lag], &values[lag..]);
    let sums = a.iter().zip(b).fold((0.0, 0.0, 0.0), |s, (a, b)| (s.0 + a * b, s.1 + a * a, s.2 + b * b));
    sums.0 / (sums.1 * sums.2).sqrt().max(1e-300)
}

/// Of distances that differ by less than a twentieth the likest.
fn distinct(mut found: Vec<(f64, f64)>) -> Vec<f64> {
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut kept: Vec<f64> = Vec::new();
    for (period, _) in found {
        if kept.iter().all(|k| (k / period - 1.0).abs() > 0.05) {
            kept.push(period);
        }
    }
    kept.sort_by(f64::total_cmp);
    kept
}
