//! Fourier transforms of square grids, for blur and for looking for one picture in another.
//!
//! A transform multiplied with another needs neither of them turned the usual way round: grids come out with rows and columns exchanged
//! and go in so on the way back, which saves half of the turning.

use std::fmt;
use std::sync::Arc;

pub use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};

/// Transforms of grids of one size, there and back.
#[derive(Clone)]
pub struct Square {
    size: usize,
    there: Arc<dyn Fft<f32>>,
    back: Arc<dyn Fft<f32>>,
}

/// Memory that transforms work in, to be used again.
#[derive(Debug, Default)]
pub struct Room {
    scratch: Vec<Complex32>,
    turned: Vec<Complex32>,
}

impl fmt::Debug for Square {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Square").field("size", &self.size).finish_non_exhaustive()
    }
}

impl Square {
    /// For grids of `size` × `size`; sizes from [`smooth`] are fast.
    pub fn new(size: usize) -> Self {
        let mut planner = FftPlanner::new();
        Self { size, there: planner.plan_fft_forward(size), back: planner.plan_fft_inverse(size) }
    }

    /// Columns, and rows.
    pub fn size(&self) -> usize {
        self.size
    }

    /// Z(u, v) = Σ z(x, y) exp(−2πi(ux + vy)/size) in the place of z, with v along the rows and u down the columns. Rows from `filled`
    /// on must hold nothing but 0, and cost less.
    ///
    /// # Panics
    ///
    /// When the grid has another size, or fewer rows than are filled.
    pub fn there(&self, grid: &mut Vec<Complex32>, filled: usize, room: &mut Room) {
        self.both(&self.there, grid, filled, room);
    }

    /// Σ Z(u, v) exp(2πi(ux + vy)/size) in the place of what [`Self::there`] gave, with x along the rows again. Not divided by the number
    /// of places: there and back is the grid `size`² times.
    ///
    /// # Panics
    ///
    /// When the grid has another size.
    pub fn back(&self, grid: &mut Vec<Complex32>, room: &mut Room) {
        self.both(&self.back, grid, self.size, room);
    }

    fn both(&self, along: &Arc<dyn Fft<f32>>, grid: &mut Vec<Complex32>, filled: usize, room: &mut Room) {
        assert_eq!(grid.len(), self.size * self.size, "a grid of {0} by {0}", self.size);
        let Room { scratch, turned } = room;
        scratch.resize(along.get_inplace_scratch_len(), Complex32::default());
        turned.resize(grid.len(), Complex32::default());
        along.process_with_scratch(&mut grid[..filled * self.size], scratch);
        transpose(grid, turned, self.size);
        along.process_with_scratch(turned, scratch);
        std::mem::swap(grid, turned);
    }
}

/// In tiles that fit the processor's nearest memory.
fn transpose(from: &[Complex32], to: &mut [Complex32], size: usize) {
    const TILE: usize = 16;
    for top in (0..size).step_by(TILE) {
        for left in (0..size).step_by(TILE) {
            for row in top..(top + TILE).min(size) {
                for column in left..(left + TILE).min(size) {
                    to[column * size + row] = from[row * size + column];
                }
            }
        }
    }
}

/// The next size that is a product of 2, 3 and 5 and a multiple of 16: transforms of such sizes are fast.
pub fn smooth(least: usize) -> usize {
    let is_smooth = |n: usize| {
        let rest = [2, 3, 5].into_iter().fold(n, |mut rest, prime| {
            while rest.is_multiple_of(prime) {
                rest /= prime;
            }
            rest
        });
        rest == 1
    };
    (least.max(1)..).find(|n| n.is_multiple_of(16) && is_smooth(*n)).unwrap_or(least)
}
