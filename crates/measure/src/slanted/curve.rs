//! A response curve on its own: the value between its points, where it falls to a level, what lies under it.

use super::report::SfrPoint;
use crate::algebra::Figure;

/// Index of the piece that holds a frequency, and the place in it, 0 to 1; `None` outside.
fn place(points: &[SfrPoint], frequency: f64) -> Option<(usize, f64)> {
    let (first, last) = (points.first()?.frequency_cy_px, points.last()?.frequency_cy_px);
    if points.len() < 2 || !(first..=last).contains(&frequency) {
        return None;
    }
    let i = points.partition_point(|p| p.frequency_cy_px <= frequency).clamp(1, points.len() - 1) - 1;
    let (a, b) = (points[i].frequency_cy_px, points[i + 1].frequency_cy_px);
    Some((i, (frequency - a) / (b - a)))
}

/// Slopes per piece at the ends of piece `i`: Catmull-Rom on even points.
fn slopes(points: &[SfrPoint], i: usize) -> (f64, f64) {
    let r = |k: usize| points[k].response;
    // A curve that starts at frequency 0 is even about it; elsewhere a straight continuation stands in beyond the ends.
    let before = match i {
        0 if points[0].frequency_cy_px == 0.0 => r(1),
        0 => 2.0 * r(0) - r(1),
        _ => r(i - 1),
    };
    let beyond = if i + 2 < points.len() { r(i + 2) } else { 2.0 * r(i + 1) - r(i) };
    ((r(i + 1) - before) / 2.0, (beyond - r(i)) / 2.0)
}

/// Response and half-width at a frequency; `None` outside the curve.
pub(crate) fn at(points: &[SfrPoint], frequency: f64) -> Option<Figure> {
    let (i, u) = place(points, frequency)?;
    let (a, b) = (points[i], points[i + 1]);
    let (low, high) = slopes(points, i);
    let rise = b.response - a.response;
    let response = a.response + u * (low + u * (3.0 * rise - 2.0 * low - high + u * (low + high - 2.0 * rise)));
    Some(Figure::new(response.max(0.0), a.plus_minus + (b.plus_minus - a.plus_minus) * u))
}

/// Lowest frequency at which the curve falls to a level, with the half-width that follows from the curve's own, to first
/// order over its slope. `None` when it does not fall so far, or when the interval there reaches down to 0.
pub(crate) fn falls_to(points: &[SfrPoint], level: f64) -> Option<Figure> {
    let i = points.windows(2).position(|w| w[0].response >= level && w[1].response < level)?;
    let (from, to) = (points[i].frequency_cy_px, points[i + 1].frequency_cy_px);
    let (mut low, mut high) = (from, to);
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if at(points, middle)?.value >= level { low = middle } else { high = middle }
    }
    let half = at(points, low)?.plus_minus;
    let step = 0.25 * (to - from);
    let (before, after) = ((low - step).max(points[0].frequency_cy_px), low + step);
    let slope = match at(points, after) {
        Some(after_) => (at(points, before)?.value - after_.value) / (after - before),
        None => (points[i].response - points[i + 1].response) / (to - from),
    };
    (half < level && slope > 0.0).then(|| Figure::new(low, half / slope))
}

/// Integral of the response from the curve's start to a frequency on it.
///
/// The half-width adds up as if the whole curve erred one way: neighbouring points do, distant ones need not, so that it is
/// never too small.
pub(crate) fn area(points: &[SfrPoint], limit: f64) -> Option<Figure> {
    let (last, share) = place(points, limit)?;
    let mut sum = Figure::default();
    for i in 0..=last {
        let (from, to) = (points[i].frequency_cy_px, points[i + 1].frequency_cy_px);
        let end = if i == last { from + share * (to - from) } else { to };
        // Simpson's rule is exact for cubics.
        let value = |f: f64| at(points, f.min(to));
        let (a, m, b) = (value(from)?, value(f64::midpoint(from, end))?, value(end)?);
        let of = |f: fn(Figure) -> f64| (f(a) + 4.0 * f(m) + f(b)) / 6.0 * (end - from);
        sum = Figure::new(sum.value + of(|f| f.value), sum.plus_minus + of(|f| f.plus_minus));
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn gauss(step: f64, half: f64) -> Vec<SfrPoint> {
        let point = |i: u32| {
            let frequency_cy_px = f64::from(i) * step;
            SfrPoint { frequency_cy_px, response: (-8.0 * frequency_cy_px.powi(2)).exp(), plus_minus: half, noise: 0.0 }
        };
        (0..=60).map(point).collect()
    }

    #[test]
    fn crossing_of_a_gaussian() {
        // exp(-8 v^2) = 1/2 at sqrt(ln 2 / 8) = 0.29435; the slope there is -8 v = -2.3548.
        let found = falls_to(&gauss(0.0125, 0.01), 0.5).unwrap();
        assert_close!(found.value, 0.294_352, absolute = 2e-6);
        assert_close!(found.plus_minus, 0.01 / 2.354_82, relative = 2e-3);
        assert_eq!(falls_to(&gauss(0.0125, 0.6), 0.5), None, "an interval down to 0 has no crossing");
        assert_eq!(falls_to(&gauss(0.0125, 0.01)[..10], 0.5), None);
    }

    #[test]
    fn area_of_a_gaussian() {
        // sqrt(pi/8)/2 erf(sqrt(8) v): erf(sqrt 2) = 0.954499736 at v = 1/2 (table of the normal distribution: 2 sigma).
        let found = area(&gauss(0.0125, 0.01), 0.5).unwrap();
        assert_close!(found.value, 0.5 * (std::f64::consts::PI / 8.0).sqrt() * 0.954_499_736, absolute = 2e-6);
        assert_close!(found.plus_minus, 0.005, absolute = 1e-12);
        // Not on a point of the curve.
        let part = area(&gauss(0.0125, 0.0), 0.103).unwrap().value;
        let plain: f64 =
            (0..1000).map(|i| (-8.0 * ((f64::from(i) + 0.5) * 0.000_103_f64).powi(2)).exp() * 0.000_103).sum();
        assert_close!(part, plain, absolute = 1e-6);
        assert_eq!(area(&gauss(0.0125, 0.0), 0.9), None);
    }

    #[test]
    fn uneven_points_are_read_between() {
        let point = |f: f64| SfrPoint { frequency_cy_px: f, response: 1.0 - f, plus_minus: f, noise: 0.0 };
        let points = [point(0.1), point(0.2), point(0.3)];
        assert_close!(at(&points, 0.25).unwrap().value, 0.75, absolute = 1e-12);
        assert_close!(at(&points, 0.1).unwrap().plus_minus, 0.1, absolute = 1e-12);
        assert_eq!(at(&points, 0.05), None);
        assert_eq!(at(&points[..1], 0.1), None);
    }
}
