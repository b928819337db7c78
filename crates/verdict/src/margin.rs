//! Margins as sums of independent doubts, and the chance that all of them are kept.

use crate::numeric::{Symmetric, normal_below, normal_below_quick, normal_quantile, normal_quantile_quick};

/// How far a figure lies on the right side of its limit: a mean and normal doubts, each with a number that says whose it is.
/// Two margins with the same number share that doubt.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Margin {
    pub(crate) mean: f64,
    /// Number of the doubt, and by how much the margin rises for one standard deviation of it.
    pub(crate) doubts: Vec<(usize, f64)>,
}

impl Margin {
    pub(crate) fn variance(&self) -> f64 {
        self.doubts.iter().map(|(_, effect)| effect * effect).sum()
    }

    fn effect(&self, doubt: usize) -> f64 {
        self.doubts.iter().filter(|(number, _)| *number == doubt).map(|(_, effect)| effect).sum()
    }

    fn covariance(&self, other: &Self) -> f64 {
        self.doubts.iter().map(|(number, effect)| effect * other.effect(*number)).sum()
    }

    /// The chance that this margin alone is kept. Exactly at its limit without doubt it is.
    pub(crate) fn kept(&self) -> f64 {
        let deviation = self.variance().sqrt();
        if deviation > 0.0 { normal_below(self.mean / deviation) } else { f64::from(u8::from(self.mean >= 0.0)) }
    }

    /// What is left once this doubt has turned out to be `at` standard deviations.
    fn given(&self, doubt: usize, at: f64) -> Self {
        let doubts = self.doubts.iter().filter(|(number, _)| *number != doubt).copied().collect();
        Self { mean: self.mean + at * self.effect(doubt), doubts }
    }

    /// The margin in a world whose doubts have these values.
    pub(crate) fn in_world(&self, world: &[f64]) -> f64 {
        self.mean + self.doubts.iter().map(|(number, effect)| effect * world[*number]).sum::<f64>()
    }
}

/// Points for a probability that is told to a person: right to about 10⁻³ in a dozen dimensions.
pub(crate) const FINE: usize = 2000;
/// Points where a probability is only asked on which side of a limit it lies.
const COARSE: usize = 250;

/// The chance that all margins are kept: Genz, "Numerical computation of multivariate normal probabilities", *Journal of
/// Computational and Graphical Statistics* 1 (1992), 141-149, on a lattice of square roots of primes instead of random points, so
/// that it is the same every time. A margin that the ones before it determine is a plain yes or no there.
pub(crate) fn all_kept(margins: &[Margin], points: usize) -> f64 {
    let mut open: Vec<&Margin> = margins.iter().filter(|margin| margin.kept() < SURE).collect();
    // The least likely first: the others then vary little (Genz 1992, section 4).
    open.sort_by(|a, b| a.kept().total_cmp(&b.kept()));
    match open[..] {
        [] => return 1.0,
        [only] => return only.kept(),
        _ if open.iter().any(|margin| margin.kept() <= 1.0 - SURE) => return 0.0,
        _ => {}
    }
    let mut covariance = Symmetric::zero(open.len());
    for (i, a) in open.iter().enumerate() {
        for (j, b) in open.iter().enumerate() {
            covariance.add(i, j, a.covariance(b) / (a.variance() * b.variance()).sqrt());
        }
    }
    let limits: Vec<f64> = open.iter().map(|margin| margin.mean / margin.variance().sqrt()).collect();
    // Sums of squares have no negative direction; rounding at most makes one.
    let Some(factor) = covariance.factor() else { return f64::NAN };
    let sum: f64 = (0..points).map(|point| at_point(&limits, &factor, point)).sum();
    (sum / points as f64).clamp(0.0, 1.0)
}

/// A chance so near to 1 that the rest does not show; also the limit for nothing.
const SURE: f64 = 1.0 - 1e-9;

fn at_point(limits: &[f64], factor: &[Vec<f64>], point: usize) -> f64 {
    let (mut chance, mut drawn) = (1.0, Vec::with_capacity(limits.len()));
    for (i, limit) in limits.iter().enumerate() {
        let room = limit - drawn.iter().zip(&factor[i]).map(|(y, l)| y * l).sum::<f64>();
        let pivot = factor[i][i];
        let here = if pivot > 0.0 { normal_below_quick(room / pivot) } else { f64::from(u8::from(room >= 0.0)) };
        chance *= here;
        if chance == 0.0 {
            return 0.0;
        }
        drawn.push(normal_quantile_quick((lattice(point, i) * here).max(1e-300)));
    }
    chance
}

/// A number between 0 and 1: multiples of √prime, folded so that the ends meet (Genz and Bretz, *Computation of Multivariate
/// Normal and t Probabilities*, 2009, section 4.2.1).
fn lattice(point: usize, dimension: usize) -> f64 {
    const PRIMES: [f64; 24] = [
        2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0, 23.0, 29.0, 31.0, 37.0, 41.0, 43.0, 47.0, 53.0, 59.0, 61.0, 67.0,
        71.0, 73.0, 79.0, 83.0, 89.0,
    ];
    // Beyond, shifted by a part that is irrational to the first ones.
    let turn = (1 + dimension / PRIMES.len()) as f64;
    let step = (PRIMES[dimension % PRIMES.len()]).sqrt() * turn.sqrt();
    (2.0 * ((point as f64 + 1.0) * step + 0.5).fract() - 1.0).abs().clamp(1e-12, 1.0 - 1e-12)
}

/// What knowing one doubt would bring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Worth {
    pub(crate) doubt: usize,
    /// The chance that the answer is then decided.
    pub(crate) decides: f64,
    /// The share of the answer's variance that goes with it (Sobol's first-order index of the yes or no).
    pub(crate) explains: f64,
}

/// Values that a doubt is tried at, equally likely ones.
const TRIED: usize = 25;

/// What knowing each doubt exactly would bring, the best first; `sure` is the chance from which the answer is yes.
pub(crate) fn worth(margins: &[Margin], sure: f64) -> Vec<Worth> {
    let mut doubts: Vec<usize> = margins.iter().flat_map(|m| m.doubts.iter().map(|(number, _)| *number)).collect();
    doubts.sort_unstable();
    doubts.dedup();
    let of = |doubt: usize| {
        let at = |k: usize| normal_quantile((k as f64 + 0.5) / TRIED as f64);
        let chance = |k: usize| {
            let given: Vec<Margin> = margins.iter().map(|margin| margin.given(doubt, at(k))).collect();
            all_kept(&given, COARSE)
        };
        let chances: Vec<f64> = (0..TRIED).map(chance).collect();
        let mean = chances.iter().sum::<f64>() / TRIED as f64;
        let decided = chances.iter().filter(|p| **p >= sure || **p <= 1.0 - sure).count() as f64;
        let spread = chances.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / TRIED as f64;
        let explains = if spread > 0.0 { spread / (mean * (1.0 - mean)) } else { 0.0 };
        Worth { doubt, decides: decided / TRIED as f64, explains }
    };
    let mut all: Vec<Worth> = doubts.into_iter().map(of).collect();
    all.sort_by(|a, b| b.decides.total_cmp(&a.decides).then(b.explains.total_cmp(&a.explains)));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    /// Two margins of unit variance with that correlation.
    fn two(means: [f64; 2], correlation: f64) -> [Margin; 2] {
        let own = f64::sqrt(1.0 - correlation * correlation);
        [
            Margin { mean: means[0], doubts: vec![(0, 1.0)] },
            Margin { mean: means[1], doubts: vec![(0, correlation), (1, own)] },
        ]
    }

    #[test]
    fn two_at_their_limits_have_a_closed_form() {
        // Sheppard's formula (Abramowitz & Stegun 26.3.19): 1/4 + asin ρ / 2π.
        for correlation in [-0.9, -0.5, 0.0, 0.3, 0.8, 0.99] {
            let expected = 0.25 + f64::asin(correlation) / (2.0 * std::f64::consts::PI);
            assert_close!(all_kept(&two([0.0; 2], correlation), FINE), expected, absolute = 3e-4, "{correlation}");
        }
    }

    #[test]
    fn equally_joined_margins_at_their_limits() {
        // n + 1 independent normals: the chance that one is the largest, 1/(n + 1), is that of n margins correlated ½.
        for n in 2..=10 {
            let margin = |k| Margin { mean: 0.0, doubts: vec![(0, 1.0), (k, 1.0)] };
            let margins: Vec<Margin> = (1..=n).map(margin).collect();
            assert_close!(all_kept(&margins, FINE), 1.0 / (n as f64 + 1.0), absolute = 1e-3, "{n}");
        }
    }

    #[test]
    fn independent_margins_multiply_and_one_doubt_alone_is_the_weakest() {
        let apart: Vec<Margin> = (0..5).map(|k| Margin { mean: 0.3 * k as f64, doubts: vec![(k, 1.0)] }).collect();
        let product: f64 = apart.iter().map(Margin::kept).product();
        assert_close!(all_kept(&apart, FINE), product, absolute = 1e-3);
        let one: Vec<Margin> = (0..5).map(|k| Margin { mean: 0.3 * k as f64, doubts: vec![(0, 1.0)] }).collect();
        assert_close!(all_kept(&one, FINE), one[0].kept(), absolute = 1e-3);
        // Against each other: both kept for −0.5 < z < 0.5 (Abramowitz & Stegun, table 26.1: 2 · 0.691 462 − 1).
        let facing = [1.0, -1.0].map(|effect| Margin { mean: 0.5, doubts: vec![(0, effect)] });
        assert_close!(all_kept(&facing, FINE), 0.382_925, absolute = 2e-3);
    }

    #[test]
    fn recorded_values_in_four_dimensions() {
        // scipy 1.17.1: multivariate_normal.cdf(means, cov=A Aᵀ, maxpts=10⁷), A the effects below; right to 10⁻⁸.
        let effects = [[1.0, 0.0, 0.0, 0.5], [0.4, 0.8, 0.0, 0.5], [0.0, 0.3, 1.2, 0.5], [-0.5, 0.2, 0.1, 0.6]];
        let means = [0.8, 0.2, 1.5, 0.4];
        let margin = |k: usize| Margin { mean: means[k], doubts: effects[k].into_iter().enumerate().collect() };
        let margins: Vec<Margin> = (0..4).map(margin).collect();
        assert_close!(all_kept(&margins, FINE), 0.364_977_28, absolute = 5e-4);
    }

    #[test]
    fn certain_ones_do_not_count_and_impossible_ones_end_it() {
        let sure = Margin { mean: 1.0, doubts: vec![] };
        let never = Margin { mean: -1.0, doubts: vec![] };
        let open = Margin { mean: 0.0, doubts: vec![(0, 1.0)] };
        assert_close!(all_kept(&[sure.clone(), open.clone()], FINE), 0.5, absolute = 1e-15);
        assert_close!(all_kept(&[never, open, sure.clone()], FINE), 0.0, absolute = 0.0);
        assert_close!(all_kept(&[sure], FINE), 1.0, absolute = 0.0);
    }

    #[test]
    fn the_larger_doubt_is_worth_more() {
        // One margin of two doubts: its answer's variance goes with them in the order of their size; known both, all is known.
        let margin = [Margin { mean: 0.2, doubts: vec![(3, 0.1), (7, 1.0)] }];
        let all = worth(&margin, 0.95);
        assert_eq!((all[0].doubt, all[1].doubt), (7, 3));
        // Known 7: undecided only where 0.2 + z lies within 1.645 · 0.1 of 0: 13 % of the normal distribution there.
        assert_close!(all[0].decides, 0.87, absolute = 0.04);
        assert_close!(all[1].decides, 0.0, absolute = 0.0);
        assert!(all[0].explains > 0.8 && all[1].explains < 0.02, "{all:?}");
    }
}
