//! The few distributions that judging a fit needs, in closed form for whole degrees of freedom.

use std::f64::consts::PI;

/// Half of what a 95 % limit leaves over at both ends together.
pub(crate) const DOUBT: f64 = 0.05;

/// The complementary error function: its Taylor series below 2, its continued fraction above (Abramowitz & Stegun,
/// *Handbook of Mathematical Functions*, 1964, 7.1.6 and 7.1.14), for arguments from 0.
fn erfc(x: f64) -> f64 {
    if x < 2.0 {
        // 7.1.6: all terms positive, so that nothing cancels but the last subtraction.
        let (mut term, mut sum, mut n) = (x, x, 0.0);
        while term > 1e-17 * sum {
            n += 1.0;
            term *= 2.0 * x * x / (2.0 * n + 1.0);
            sum += term;
        }
        return 1.0 - 2.0 / PI.sqrt() * (-x * x).exp() * sum;
    }
    // 7.1.14 from its tail: x + (1/2)/(x + 1/(x + (3/2)/(x + …))); 80 terms are exact to rounding from 2 on.
    let fraction = (1..=80).rev().fold(x, |below, k| x + 0.5 * f64::from(k) / below);
    (-x * x).exp() / (PI.sqrt() * fraction)
}

/// Probability that a chi-square variable with that many degrees of freedom exceeds `value`: the finite sums of
/// Abramowitz & Stegun, 26.4.4 and 26.4.5.
pub(crate) fn chi_square_above(value: f64, degrees: usize) -> f64 {
    let half = 0.5 * value.max(0.0);
    // Q(a + 1, h) = Q(a, h) + h^a e^-h / Γ(a + 1), from a = 1/2 or 1.
    let (mut order, mut term, mut sum) = if degrees % 2 == 1 {
        (0.5, (half / PI).sqrt() * 2.0 * (-half).exp(), erfc(half.sqrt()))
    } else {
        (1.0, half * (-half).exp(), (-half).exp())
    };
    while order + 0.75 < 0.5 * degrees as f64 {
        sum += term;
        order += 1.0;
        term *= half / order;
    }
    sum.min(1.0)
}

/// Probability that Student's t with that many degrees of freedom lies farther from 0 than `t`: the finite sums of
/// Abramowitz & Stegun, 26.7.3 and 26.7.4.
pub(crate) fn student_beyond(t: f64, degrees: usize) -> f64 {
    let nu = degrees as f64;
    let angle = (t.abs() / nu.sqrt()).atan();
    let (sin, cos) = angle.sin_cos();
    let odd = degrees % 2 == 1;
    let (mut term, mut k) = if odd { (cos, 2.0) } else { (1.0, 1.0) };
    let mut sum = 0.0;
    // Exponents of the cosine run up to nu − 2.
    while k < nu {
        sum += term;
        term *= cos * cos * k / (k + 1.0);
        k += 2.0;
    }
    let within = if odd { 2.0 / PI * (angle + sin * sum) } else { sin * sum };
    (1.0 - within).clamp(0.0, 1.0)
}

/// Probability that F with 1 or 2 degrees over `below` exceeds `value`. With 1 it is the square of Student's t; with 2
/// the integral is elementary, (1 + 2F/ν)^(−ν/2).
pub(crate) fn f_above(value: f64, above: usize, below: usize) -> f64 {
    if above == 1 {
        return student_beyond(value.max(0.0).sqrt(), below);
    }
    let nu = below as f64;
    (1.0 + 2.0 * value.max(0.0) / nu).powf(-0.5 * nu)
}

/// The t that 95 % lie within, by bisection.
pub(crate) fn student_95(degrees: usize) -> f64 {
    // One degree of freedom has 12.7.
    let (mut low, mut high) = (1.0, 20.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if student_beyond(middle, degrees) > DOUBT {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn both_branches_of_erfc() {
        // Abramowitz & Stegun, table 7.1 (from memory): erf(0.5), erf(1), erf(2).
        assert_close!(erfc(0.5), 1.0 - 0.520_499_877_8, absolute = 1e-10);
        assert_close!(erfc(1.0), 1.0 - 0.842_700_792_9, absolute = 1e-10);
        assert_close!(erfc(2.0), 1.0 - 0.995_322_265_0, absolute = 1e-10);
        assert_close!(erfc(0.0), 1.0, absolute = 0.0);
        // Where the branches meet, their slope alone may tell them apart.
        let slope = -2.0 / PI.sqrt() * (-4.0_f64).exp();
        assert_close!(erfc(2.0) - erfc(2.0 - 1e-6), 1e-6 * slope, relative = 1e-4);
    }

    #[test]
    fn chi_square_at_published_limits() {
        // Abramowitz & Stegun, table 26.8 (from memory): the limits exceeded with probability 0.05.
        for (degrees, limit) in
            [(1, 3.841_46), (2, 5.991_46), (3, 7.814_73), (4, 9.487_73), (10, 18.307_0), (15, 24.995_8)]
        {
            assert_close!(chi_square_above(limit, degrees), 0.05, relative = 2e-5, "{degrees}");
        }
        assert_close!(chi_square_above(0.0, 3), 1.0, absolute = 0.0);
    }

    #[test]
    fn student_at_published_limits() {
        // JCGM 100:2008, table G.2: 95 %.
        for (degrees, limit) in
            [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23), (20, 2.09), (50, 2.01)]
        {
            assert_close!(student_95(degrees), limit, absolute = 0.005, "{degrees}");
        }
        assert_close!(student_95(100_000), optics::COVERAGE_95, absolute = 3e-5);
    }

    #[test]
    fn f_meets_its_neighbours() {
        // With many degrees below, F is chi-square over its degrees; with 1 over 1 it is Cauchy's law squared.
        assert_close!(f_above(5.991_46 / 2.0, 2, 1_000_000), 0.05, relative = 1e-4);
        assert_close!(f_above(3.841_46, 1, 100_000), 0.05, relative = 1e-3);
        assert_close!(f_above(1.0, 1, 1), 0.5, relative = 1e-12);
        // F(2, 2) exceeds x with probability 1/(1 + x).
        assert_close!(f_above(19.0, 2, 2), 0.05, relative = 1e-12);
    }
}
