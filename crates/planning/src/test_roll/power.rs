//! How large a difference so many takes can tell, and how many takes a difference needs.
//!
//! Two set-ups are compared by the means of their takes, with the scatter of all takes pooled: Student's t. A difference
//! counts as told when the test finds it with the chance [`Certainty::power`], while it cries wolf with the chance
//! [`Certainty::false_alarm`] where there is none (two-sided).

use std::f64::consts::PI;

/// How sure a comparison is to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Certainty {
    /// The chance that a difference is found where there is none, each pair by itself, both signs together.
    pub false_alarm: f64,
    /// The chance that a difference of the stated size is found.
    pub power: f64,
}

/// Five in a hundred and eight in ten: what statistics asks by custom (J. Cohen, *Statistical Power Analysis for the
/// Behavioral Sciences*, 2nd ed. 1988, section 2.4; from memory).
impl Default for Certainty {
    fn default() -> Self {
        Self { false_alarm: 0.05, power: 0.8 }
    }
}

/// The complementary error function: its Taylor series below 2, its continued fraction above (Abramowitz & Stegun,
/// *Handbook of Mathematical Functions*, 1964, 7.1.6 and 7.1.14), for arguments from 0.
fn erfc(x: f64) -> f64 {
    if x < 2.0 {
        let (mut term, mut sum, mut n) = (x, x, 0.0);
        while term > 1e-17 * sum {
            n += 1.0;
            term *= 2.0 * x * x / (2.0 * n + 1.0);
            sum += term;
        }
        return 1.0 - 2.0 / PI.sqrt() * (-x * x).exp() * sum;
    }
    // From its tail: x + (1/2)/(x + 1/(x + (3/2)/(x + …))); so many terms are exact to rounding from 2 on.
    let terms = 12 + (300.0 / (x * x)) as i32;
    let fraction = (1..=terms).rev().fold(x, |below, k| x + 0.5 * f64::from(k) / below);
    (-x * x).exp() / (PI.sqrt() * fraction)
}

/// The chance that a standard normal variable lies below `x`.
pub fn normal_below(x: f64) -> f64 {
    let tail = 0.5 * erfc(x.abs() / 2f64.sqrt());
    if x < 0.0 { tail } else { 1.0 - tail }
}

/// The point that a standard normal variable lies below with this chance (over 0, under 1): [`normal_below`] the other way
/// round, by halving.
pub fn normal_point(chance: f64) -> f64 {
    halve(-40.0, 40.0, |x| normal_below(x) < chance)
}

/// The border between `true` and `false` of a condition that changes once from `low` to `high`. Fifty halvings leave a
/// part in 10¹⁵ of the range.
fn halve(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if holds(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The mean of `of` over S = √(χ²/ν), the found over the true scatter, whose density is in proportion to s^(ν−1)·exp(−ν·s²/2).
///
/// With s = exp(x) all is smooth and dies out at both ends, so that the plain sum of equal steps converges faster than any
/// power of the step; `finest` is the width in x of the finest detail of `of`.
fn over_scatter(degrees: usize, finest: f64, of: impl Fn(f64) -> f64) -> f64 {
    /// The logarithm of what counts as nothing.
    const NOTHING: f64 = -36.0;
    let nu = degrees as f64;
    // Half the density's own width; 0.15 keeps the sum exact to 1e-13 where both are wide.
    let step = (0.5 / (2.0 * nu).sqrt()).min(0.7 * finest).min(0.15);
    // Of s·density, relative to its peak at s = 1.
    let log = |x: f64| nu * (x + 0.5 - 0.5 * (2.0 * x).exp());
    let side = |sign: f64| {
        let places = (0..).map(move |i| sign * step * f64::from(i));
        places.take_while(|x| log(*x) > NOTHING).map(|x| (log(x).exp(), x.exp()))
    };
    let all = side(1.0).chain(side(-1.0).skip(1));
    let (weights, sum) = all.fold((0.0, 0.0), |(weights, sum), (weight, s)| (weights + weight, sum + weight * of(s)));
    sum / weights
}

/// The chance that a t test with this limit and so many degrees of freedom calls out, where the true difference is `shift`
/// times its standard error: both tails of the noncentral t distribution.
pub fn chance_beyond(limit: f64, degrees: usize, shift: f64) -> f64 {
    over_scatter(degrees, 1.0 / (1.0 + shift), |s| normal_below(shift - limit * s) + normal_below(-shift - limit * s))
}

/// The limit of a two-sided t test that cries wolf with the chance `false_alarm`.
pub fn student_limit(degrees: usize, false_alarm: f64) -> f64 {
    // With one degree of freedom t is the tangent of an even angle (Cauchy's distribution), whose tail is longest.
    let cauchy = (0.5 * PI * (1.0 - false_alarm)).tan();
    halve(0.0, 1.001 * cauchy, |limit| chance_beyond(limit, degrees, 0.0) > false_alarm)
}

impl Certainty {
    /// The least true difference that is told, in standard errors of the difference; `None` without a degree of freedom: then
    /// nothing says how far takes scatter.
    pub fn least_shift(&self, degrees: usize) -> Option<f64> {
        if degrees == 0 {
            return None;
        }
        let limit = student_limit(degrees, self.false_alarm);
        // The chance grows with the shift; at twice the limit and ten more it is all but 1.
        Some(halve(0.0, 2.0 * limit + 10.0, |shift| chance_beyond(limit, degrees, shift) < self.power))
    }

    /// The least difference that so many takes of the one and the other tell, in standard deviations of a single take.
    pub fn least_difference(&self, takes: [usize; 2], degrees: usize) -> Option<f64> {
        if takes.contains(&0) {
            return None;
        }
        let [p, q] = takes.map(|n| 1.0 / n as f64);
        Some(self.least_shift(degrees)? * (p + q).sqrt())
    }

    /// How many takes of each of two set-ups a difference needs, when those takes alone tell the scatter; `None` when over
    /// `most`. `effect` is the difference in standard deviations of a single take.
    pub fn takes_needed(&self, effect: f64, most: usize) -> Option<usize> {
        let told = |n: usize| self.least_difference([n, n], 2 * n - 2).is_some_and(|least| least <= effect);
        if most < 2 || !told(most) {
            return None;
        }
        // More takes never tell less, so halving finds the fewest.
        let (mut too_few, mut enough) = (1, most);
        while enough - too_few > 1 {
            let middle = usize::midpoint(too_few, enough);
            if told(middle) { enough = middle } else { too_few = middle }
        }
        Some(enough)
    }

    /// The same if the scatter were known: 2·(z₁ + z₂)²/effect², not rounded up. What a t test needs comes to this from above
    /// as takes grow.
    pub fn takes_needed_known_scatter(&self, effect: f64) -> f64 {
        let z = normal_point(1.0 - 0.5 * self.false_alarm) + normal_point(self.power);
        2.0 * (z / effect).powi(2)
    }
}
