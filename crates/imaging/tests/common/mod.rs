//! Things that several tests need.
#![allow(dead_code, reason = "each test takes what it needs")]

use planes::{Channels, Meaning, Picture, Plane, Region};

/// The planes of a picture, one or three.
pub fn channels_of<M: Meaning>(picture: &Picture<M>) -> &[Plane<M>] {
    match picture.channels() {
        Channels::Grey(plane) => std::slice::from_ref(plane),
        Channels::Rgb { planes, .. } => planes.as_slice(),
    }
}

/// Repeatable chance: a linear congruential generator (Knuth, The Art of Computer Programming, 3.3.4, his MMIX).
pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        self.0 >> 33
    }

    /// 0 ..< `limit`.
    pub fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit.max(1) as u64) as usize
    }

    /// A region within a picture of that size.
    pub fn region(&mut self, width: u32, height: u32) -> Region {
        let (x, y) = (self.below(width as usize) as u32, self.below(height as usize) as u32);
        let side = |random: &mut Self, rest: u32| 1 + random.below(rest as usize) as u32;
        Region { x, y, width: side(self, width - x), height: side(self, height - y) }
    }
}
