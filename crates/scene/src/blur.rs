//! Gaussian convolution on the fine grid, with a spread that changes from place to place.
//!
//! A kernel is made of weights at whole cells of a grid `OVERSAMPLING` times finer than the pixels. Cells hold exact
//! area coverage, and three of them side by side add up to a pixel exactly, so that the only approximation is the
//! sampling of the Gaussian itself. Two kinds of weights keep the transfer's error below 1.2e-3 up to half a cycle per
//! pixel at any spread: samples of the Gaussian where it is broad enough (their transform repeats at a distance where
//! the Gaussian has died away), and below that five weights with the Gaussian's sum, second and fourth moment.
//!
//! What repeats at three cycles per pixel is weakened by the pixel's box but not gone: a ripple in the profile of an
//! upright edge of up to 2.6 % of the step where the Gaussian's deviation is a tenth of a pixel, 1.4 % at a third,
//! 0.35 % at four fifths, none without a blur; less where the edge is slanted. Measured transfer, which ends at one cycle
//! per pixel, does not feel it.

/// Cells per pixel along each axis.
pub(crate) const OVERSAMPLING: usize = 3;

/// Cells; above it, sampled weights: their transform then errs by less than exp(-2 pi^2 0.7^2 (5/6)^2), about 1e-3,
/// at the pixels' Nyquist frequency, and less below.
const SAMPLED_FROM: f64 = 0.7;
/// Standard deviations at which a sampled kernel ends; 4e-6 of its weight lies beyond.
const REACH: f64 = 4.6;
/// Cells; from one kernel of a table to the next. Half of it is the largest error of the spread.
const FINEST_STEP: f64 = 0.004;
/// Kernels in the largest table.
const MOST_KERNELS: f64 = 4000.0;

/// Weights at cells -radius ..= radius, adding up to 1.
pub(crate) fn gaussian_weights(sigma: f64) -> Vec<f64> {
    if sigma <= 0.0 {
        return vec![1.0];
    }
    if sigma < SAMPLED_FROM {
        let (second, fourth) = (sigma * sigma, 3.0 * sigma.powi(4));
        let outer = (fourth - second) / 24.0;
        let inner = 0.5 * second - 4.0 * outer;
        return vec![outer, inner, 1.0 - 2.0 * (inner + outer), inner, outer];
    }
    let radius = (REACH * sigma).ceil() as i32;
    let raw: Vec<f64> = (-radius..=radius).map(|k| (-0.5 * (f64::from(k) / sigma).powi(2)).exp()).collect();
    let sum: f64 = raw.iter().sum();
    raw.iter().map(|w| w / sum).collect()
}

/// The kernel convolved with the box of a pixel: weights for the cells from `-radius` to `radius + OVERSAMPLING - 1`
/// counted from the pixel's first cell.
fn with_pixel_box(weights: &[f64]) -> Vec<f64> {
    let mut boxed = vec![0.0; weights.len() + OVERSAMPLING - 1];
    for (i, w) in weights.iter().enumerate() {
        for cell in &mut boxed[i..i + OVERSAMPLING] {
            *cell += w / OVERSAMPLING as f64;
        }
    }
    boxed
}

/// Weights of one kernel and how far they begin before the cell (or the pixel's first cell).
#[derive(Debug, Clone)]
pub(crate) struct Kernel {
    pub before: usize,
    pub weights: Vec<f32>,
}

impl Kernel {
    fn new(weights: &[f64], before: usize) -> Self {
        Self { before, weights: weights.iter().map(|&w| w as f32).collect() }
    }
}

/// Kernels for every spread from none to the broadest.
#[derive(Debug, Clone)]
pub(crate) struct Kernels {
    per_cell: f64,
    table: Vec<Kernel>,
    reach: usize,
}

impl Kernels {
    fn build(broadest: f64, make: impl Fn(f64) -> Kernel) -> Self {
        let step = FINEST_STEP.max(broadest / MOST_KERNELS);
        let count = (broadest / step).ceil() as usize + 1;
        let table: Vec<Kernel> = (0..=count).map(|i| make(i as f64 * step)).collect();
        let reach = table.iter().map(|k| k.before).max().unwrap_or(0);
        Self { per_cell: 1.0 / step, table, reach }
    }

    /// Kernels that blur and gather cells into pixels, for spreads up to `broadest` cells.
    pub fn gathering(broadest: f64) -> Self {
        Self::build(broadest, |sigma| {
            let weights = gaussian_weights(sigma);
            Kernel::new(&with_pixel_box(&weights), weights.len() / 2)
        })
    }

    /// Kernels that blur only.
    pub fn plain(broadest: f64) -> Self {
        Self::build(broadest, |sigma| {
            let weights = gaussian_weights(sigma);
            Kernel::new(&weights, weights.len() / 2)
        })
    }

    /// Cells that the broadest kernel needs on either side.
    pub fn reach(&self) -> usize {
        self.reach
    }

    /// The kernel whose spread is nearest to that variance, square cells.
    pub fn of_variance(&self, variance: f64) -> &Kernel {
        let index = (variance.max(0.0).sqrt() * self.per_cell + 0.5) as usize;
        &self.table[index.min(self.table.len() - 1)]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gauss::{gaussian_mtf, sinc};
    use testkit::assert_close;

    fn transform(kernel: &[f64], nu_per_cell: f64) -> f64 {
        let middle = (kernel.len() - 1) as f64 / 2.0;
        let angle = |i: usize| std::f64::consts::TAU * nu_per_cell * (i as f64 - middle);
        kernel.iter().enumerate().map(|(i, w)| w * angle(i).cos()).sum()
    }

    #[test]
    fn kernels_have_the_transfer_of_the_gaussian_at_any_spread() {
        for sigma in [0.05, 0.2, 0.4, 0.6, 0.69, 0.71, 0.9, 1.3, 2.0, 5.0] {
            for nu_px in [0.05, 0.1, 0.2, 0.3, 0.4, 0.5] {
                let nu = nu_px / OVERSAMPLING as f64;
                let found = transform(&gaussian_weights(sigma), nu);
                assert_close!(found, gaussian_mtf(sigma, nu), absolute = 1.2e-3, "sigma {sigma}, nu {nu_px}");
            }
        }
    }

    #[test]
    fn gathering_is_the_box_of_three_cells() {
        // Three equal weights transform to sin(3a) / (3 sin a); with the box of one cell that the coverage carries,
        // sin a / a, the product is the box of a pixel. Here the first factor alone.
        let boxed = with_pixel_box(&gaussian_weights(0.0));
        for nu_px in [0.1, 0.3, 0.5] {
            let nu = nu_px / OVERSAMPLING as f64;
            assert_close!(transform(&boxed, nu) * sinc(nu), sinc(nu_px), absolute = 1e-12);
        }
    }
}
