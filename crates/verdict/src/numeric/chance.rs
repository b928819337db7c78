//! A repeatable source of chance.

use super::normal_quantile;

/// A repeatable stream of chance: the same seed gives the same draws on every machine (SplitMix64: Steele, Lea, Flood,
/// "Fast splittable pseudorandom number generators", 2014).
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// A stream from its seed.
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Evenly between 0 and 1, neither of them ever.
    pub fn uniform(&mut self) -> f64 {
        ((self.bits() >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// A whole number below `n`, all alike (to one in 2⁵³ / n); 0 when `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        ((self.uniform() * n as f64) as usize).min(n.saturating_sub(1))
    }

    /// A standard normal draw, by the quantile of a uniform one.
    pub fn normal(&mut self) -> f64 {
        normal_quantile(self.uniform())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn draws_have_the_moments_of_their_distribution() {
        // Standard errors with 40 000 draws: mean 0.005, variance 0.0071, fourth moment √(96 / 40 000) = 0.049; four of each.
        let mut chance = Chance::new(3);
        let draws: Vec<f64> = (0..40_000).map(|_| chance.normal()).collect();
        let moment = |k: i32| draws.iter().map(|d| d.powi(k)).sum::<f64>() / draws.len() as f64;
        assert_close!(moment(1), 0.0, absolute = 0.02);
        assert_close!(moment(2), 1.0, absolute = 0.028);
        assert_close!(moment(4), 3.0, absolute = 0.2);
    }

    #[test]
    fn whole_numbers_fall_alike_and_repeat() {
        let counts = |seed| {
            let mut chance = Chance::new(seed);
            (0..30_000).fold([0; 3], |mut counts, _| {
                counts[chance.below(3)] += 1;
                counts
            })
        };
        // Standard deviation of each count: √(30 000 · 2/9) = 82; four of them.
        assert!(counts(1).iter().all(|count: &i32| (count - 10_000).abs() < 330), "{:?}", counts(1));
        assert_eq!(counts(1), counts(1));
        assert_ne!(counts(1), counts(2));
    }
}
