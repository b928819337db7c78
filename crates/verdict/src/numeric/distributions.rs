//! The normal and the chi-square distribution.

use std::f64::consts::PI;

/// Beyond this the series needs many terms and the continued fraction few.
const SERIES_TO: f64 = 3.0;

fn density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * PI).sqrt()
}

/// Probability that a standard normal variable lies below `x`, to rounding: within 3 by the series of Abramowitz & Stegun,
/// *Handbook of Mathematical Functions* (1964), 26.2.11, beyond by the continued fraction 26.2.14.
pub(crate) fn normal_below(x: f64) -> f64 {
    if x.abs() < SERIES_TO {
        return 0.5 + density(x) * series(x);
    }
    let tail = upper_tail(x.abs());
    if x > 0.0 { 1.0 - tail } else { tail }
}

/// x + x³/3 + x⁵/15 + …
fn series(x: f64) -> f64 {
    let (mut term, mut sum, mut odd) = (x, x, 1.0);
    while term.abs() > 1e-17 * sum.abs() {
        odd += 2.0;
        term *= x * x / odd;
        sum += term;
    }
    sum
}

/// Density over x + 1/(x + 2/(x + 3/(x + …))), from the inside out; 60 levels reach rounding from 3 on.
fn upper_tail(x: f64) -> f64 {
    if x.is_nan() {
        return x;
    }
    density(x) / (1..=60).rev().fold(x, |inner, k| x + f64::from(k) / inner)
}

/// The value below which a standard normal variable lies with probability `p`: a start from Abramowitz & Stegun 26.2.23
/// (right to 4.5·10⁻⁴), then two steps of Halley's rule. Infinite at 0 and 1.
pub(crate) fn normal_quantile(p: f64) -> f64 {
    if p <= 0.0 || p >= 1.0 {
        return if p <= 0.0 { f64::NEG_INFINITY } else { f64::INFINITY };
    }
    let tail = p.min(1.0 - p);
    // In the lower tail, where the probability keeps all its digits.
    let mut x = lower_quantile(tail);
    for _ in 0..2 {
        let step = (normal_below(x) - tail) / density(x);
        x -= step / (1.0 + 0.5 * x * step);
    }
    if p < 0.5 { x } else { -x }
}

/// As [`normal_below`] to 7.5·10⁻⁸ in a tenth of the time (Abramowitz & Stegun 26.2.17), for sums over thousands of points.
pub(crate) fn normal_below_quick(x: f64) -> f64 {
    const B: [f64; 5] = [0.319_381_530, -0.356_563_782, 1.781_477_937, -1.821_255_978, 1.330_274_429];
    let t = 1.0 / (1.0 + 0.231_641_9 * x.abs());
    let tail = density(x) * B.iter().rev().fold(0.0, |sum, b| (sum + b) * t);
    if x >= 0.0 { 1.0 - tail } else { tail }
}

/// As [`normal_quantile`] to 4.5·10⁻⁴ (Abramowitz & Stegun 26.2.23), which moves an integrand's points by less than their
/// number leaves open.
pub(crate) fn normal_quantile_quick(p: f64) -> f64 {
    let x = lower_quantile(p.min(1.0 - p));
    if p < 0.5 { x } else { -x }
}

/// Abramowitz & Stegun 26.2.23, for a lower tail.
fn lower_quantile(tail: f64) -> f64 {
    let t = (-2.0 * tail.ln()).sqrt();
    let ratio =
        (2.515_517 + t * (0.802_853 + t * 0.010_328)) / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    ratio - t
}

/// Probability that a chi-square variable of `degrees` degrees of freedom lies above `x` (Abramowitz & Stegun 26.4.4 for an
/// odd number of degrees, 26.4.5 for an even one).
pub(crate) fn chi_square_above(x: f64, degrees: usize) -> f64 {
    if x <= 0.0 || degrees == 0 {
        return if x <= 0.0 { 1.0 } else { 0.0 };
    }
    let root = x.sqrt();
    let (mut term, mut sum, first) = if degrees.is_multiple_of(2) {
        let start = (-0.5 * x).exp();
        (start, start, 2)
    } else {
        (2.0 * density(root) / root, 2.0 * normal_below(-root), 1)
    };
    for k in (first..degrees).step_by(2) {
        term *= x / k as f64;
        sum += term;
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn normal_distribution_at_published_points() {
        // Abramowitz & Stegun, table 26.1: P(1), P(1.96); table 26.2 for the tail: −log₁₀ Q(5) = 6.542 65.
        assert_close!(normal_below(1.0), 0.841_344_746_068_543, absolute = 1e-14);
        assert_close!(normal_below(1.96), 0.975_002_104_851_780, absolute = 1e-14);
        assert_close!(-normal_below(-5.0).log10(), 6.542_65, absolute = 5e-6);
        assert_close!(normal_below(f64::NEG_INFINITY), 0.0, absolute = 0.0);
        assert!(normal_below(f64::NAN).is_nan());
    }

    #[test]
    fn both_ways_of_the_normal_distribution_meet() {
        for x in [2.5, 2.9, 3.0, 3.1, 4.0] {
            assert_close!(0.5 - density(x) * series(x), upper_tail(x), absolute = 1e-15);
        }
    }

    #[test]
    fn quantiles_undo_the_distribution() {
        for p in [1e-12, 1e-6, 0.001, 0.025, 0.3, 0.5, 0.8, 0.975, 0.999_999] {
            assert_close!(normal_below(normal_quantile(p)), p, relative = 1e-12);
        }
        // JCGM 100:2008, table G.1.
        assert_close!(normal_quantile(0.975), 1.959_963_984_540_054, absolute = 1e-12);
        assert!(normal_quantile(1.0).is_infinite());
    }

    #[test]
    fn the_quick_ones_are_as_right_as_printed() {
        for k in -60..=60 {
            let x = f64::from(k) / 10.0;
            assert_close!(normal_below_quick(x), normal_below(x), absolute = 7.6e-8);
            assert_close!(normal_quantile_quick(normal_below(x)), x, absolute = 4.6e-4);
        }
    }

    #[test]
    fn chi_square_at_published_points() {
        // Abramowitz & Stegun, table 26.8 (percentage points at 5 %, from memory): 3.841 46, 5.991 46, 11.0705, 18.3070.
        for (degrees, point) in [(1, 3.841_46), (2, 5.991_46), (5, 11.0705), (10, 18.3070)] {
            assert_close!(chi_square_above(point, degrees), 0.05, absolute = 2e-6, "{degrees}");
        }
        assert_close!(chi_square_above(0.0, 3), 1.0, absolute = 0.0);
    }
}
