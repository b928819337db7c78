//! Random numbers that are the same everywhere.

/// A small deterministic source of random numbers, for grain and for tests.
///
/// The integers are SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014,
/// with the mixing constants of its reference code); the normal deviates are Box and Muller's (1958). It is meant for
/// pictures, not for secrets.
#[derive(Debug, Clone)]
pub struct Noise {
    state: u64,
    spare: Option<f64>,
}

const GOLDEN_GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

fn mix(z: u64) -> u64 {
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Noise {
    /// The source that this seed stands for.
    pub fn new(seed: u64) -> Self {
        Self { state: seed, spare: None }
    }

    /// An independent source for one part of a larger job: the same seed and labels give the same numbers whatever
    /// was drawn before, so that a picture does not depend on the order in which its parts were made.
    pub fn for_part(seed: u64, labels: &[u64]) -> Self {
        let start = mix(seed.wrapping_add(GOLDEN_GAMMA));
        Self::new(labels.iter().fold(start, |state, &label| mix(state ^ mix(label.wrapping_add(GOLDEN_GAMMA)))))
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(GOLDEN_GAMMA);
        mix(self.state)
    }

    /// Evenly spread over 0 ..< 1.
    pub fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    /// Evenly spread between two limits.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Normally distributed with mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        // 1 - u lies in (0, 1], where the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        let (sin, cos) = (std::f64::consts::TAU * self.uniform()).sin_cos();
        self.spare = Some(radius * sin);
        radius * cos
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn splitmix_reference_sequence() {
        // Published first outputs of SplitMix64 for seed 1234567 (Rosetta Code, "Pseudo-random numbers/Splitmix64").
        let mut noise = Noise::new(1_234_567);
        let first = [(); 5].map(|()| noise.bits());
        let published = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!(first, published);
    }

    #[test]
    fn normal_deviates_have_the_moments_of_a_normal_distribution() {
        let mut noise = Noise::new(7);
        let count = 200_000;
        let mut sums = [0.0; 4];
        for _ in 0..count {
            let x = noise.normal();
            for (power, sum) in sums.iter_mut().enumerate() {
                *sum += x.powi(power as i32 + 1);
            }
        }
        let moment = |power: usize| sums[power - 1] / f64::from(count);
        // Five standard errors: sqrt(var(x^k) / n) with var 1, 2, 15 and 96.
        let allowed = |variance: f64| 5.0 * (variance / f64::from(count)).sqrt();
        assert_close!(moment(1), 0.0, absolute = allowed(1.0));
        assert_close!(moment(2), 1.0, absolute = allowed(2.0));
        assert_close!(moment(3), 0.0, absolute = allowed(15.0));
        assert_close!(moment(4), 3.0, absolute = allowed(96.0));
    }

    #[test]
    fn parts_do_not_depend_on_what_was_drawn_before() {
        let mut first = Noise::for_part(3, &[1, 2]);
        assert_eq!(first.bits(), Noise::for_part(3, &[1, 2]).bits());
        assert_ne!(Noise::for_part(3, &[1, 2]).bits(), Noise::for_part(3, &[2, 1]).bits());
    }
}
