//! Focus brackets against focus error.

use super::power::{normal_below, normal_point};

/// How sure the focusing is, and what is to be made of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Focusing {
    /// Half the 95 % interval of where the sharp plane falls after focusing once, mm on the subject.
    pub plus_minus_mm: f64,
    /// From one frame of a bracket to the next, as a share of the depth; below 1 their depths overlap.
    pub step_share: f64,
    /// The chance wanted that one frame at least has the subject within its depth.
    pub confidence: f64,
    /// Frames of a bracket at most, odd.
    pub most: usize,
}

/// Frames focused one behind the other around where the focus is thought to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bracket {
    /// How many, odd; 1 is no bracket.
    pub count: usize,
    /// How far subject or camera moves from one to the next, mm.
    pub step_mm: f64,
    /// What each holds sharp, mm of the subject, on both sides together.
    pub depth_mm: f64,
    /// The chance that one of them at least is in focus.
    pub chance: f64,
}

/// What arithmetic leaves over is no miss.
const ROUNDING: f64 = 1e-9;

impl Focusing {
    /// A standard deviation of the focus, mm.
    pub fn spread_mm(&self) -> f64 {
        self.plus_minus_mm / normal_point(0.975)
    }

    /// The bracket that a depth (mm, on both sides together) needs: the fewest frames that reach the confidence, or the most
    /// that are allowed.
    ///
    /// With steps no wider than the depth, `count` frames cover ((count − 1)·step + depth)/2 to either side, and the chance
    /// is 2Φ(that/σ) − 1.
    pub fn bracket(&self, depth_mm: f64) -> Bracket {
        let step_mm = self.step_share * depth_mm;
        let chance = |count: usize| self.chance(&steps(count), step_mm, depth_mm);
        let counts = (1..=self.most.max(1)).step_by(2);
        let count =
            counts.clone().find(|&count| chance(count) >= self.confidence - ROUNDING).or(counts.last()).unwrap_or(1);
        Bracket { count, step_mm, depth_mm, chance: chance(count) }
    }

    /// The chance that one at least of the frames at these steps is in focus.
    pub fn chance(&self, steps: &[i32], step_mm: f64, depth_mm: f64) -> f64 {
        let spread = self.spread_mm();
        let mut steps: Vec<i32> = steps.to_vec();
        steps.sort_unstable();
        let (mut covered, mut chance) = (f64::NEG_INFINITY, 0.0);
        for step in steps {
            let middle = f64::from(step) * step_mm;
            let (from, to) = ((middle - 0.5 * depth_mm).max(covered), middle + 0.5 * depth_mm);
            if to > from {
                chance += if spread > 0.0 {
                    normal_below(to / spread) - normal_below(from / spread)
                } else {
                    f64::from(u8::from(from <= 0.0 && to > 0.0))
                };
            }
            covered = covered.max(to);
        }
        chance
    }
}

/// The steps of a bracket: 0, −1, 1, −2, 2 …
pub fn steps(count: usize) -> Vec<i32> {
    let half = count as i32 / 2;
    std::iter::once(0).chain((1..=half).flat_map(|k| [-k, k])).collect()
}
