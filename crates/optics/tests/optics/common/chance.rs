//! Seeded chance, so that a failure can be had again.

/// SplitMix64 (Steele, Lea & Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014; constants from
/// memory), with normal deviates by Box and Muller.
pub struct Chance(pub u64);

impl Chance {
    fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Above 0, at most 1.
    pub fn share(&mut self) -> f64 {
        ((self.bits() >> 11) + 1) as f64 / (1u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        (-2.0 * self.share().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.share()).cos()
    }
}
