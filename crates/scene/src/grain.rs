//! Film grain.

use crate::noise::Noise;

/// Rows of normally distributed numbers, correlated between neighbours by a Gaussian.
#[derive(Debug, Clone)]
pub(crate) struct GrainField {
    seed: u64,
    weights: Vec<f64>,
}

/// Below this spread in pixels neighbours share nothing that could be seen.
const UNCORRELATED_BELOW_PX: f64 = 0.2;

impl GrainField {
    /// Grain whose pixels share through a Gaussian of that standard deviation, pixels.
    pub fn new(seed: u64, correlation_px: f64) -> Self {
        let weights = if correlation_px < UNCORRELATED_BELOW_PX {
            vec![1.0]
        } else {
            let radius = (3.0 * correlation_px).ceil() as i32;
            (-radius..=radius).map(|k| (-0.5 * (f64::from(k) / correlation_px).powi(2)).exp()).collect()
        };
        // The variance of a weighted sum is the sum of the squared weights: they are scaled to make it 1.
        let norm = weights.iter().map(|w| w * w).sum::<f64>().sqrt();
        Self { seed, weights: weights.iter().map(|w| w / norm).collect() }
    }

    fn white_row(&self, channel: usize, row: i64, width: usize) -> Vec<f64> {
        let mut noise = Noise::for_part(self.seed, &[channel as u64, row as u64]);
        (0..width).map(|_| noise.normal()).collect()
    }

    /// One row shared along itself.
    fn smooth_row(&self, channel: usize, row: i64, width: usize) -> Vec<f32> {
        let white = self.white_row(channel, row, width + self.weights.len() - 1);
        let at = |x: usize| self.weights.iter().zip(&white[x..]).map(|(w, n)| w * n).sum::<f64>() as f32;
        (0..width).map(at).collect()
    }

    /// Rows `first ..= first + count - 1` of one colour's grain, mean 0 and standard deviation 1, one after the other.
    pub fn rows(&self, channel: usize, first: usize, count: usize, width: usize) -> Vec<f32> {
        let radius = (self.weights.len() / 2) as i64;
        let needed = count + self.weights.len() - 1;
        let start = first as i64 - radius;
        let smooth: Vec<Vec<f32>> = (0..needed as i64).map(|i| self.smooth_row(channel, start + i, width)).collect();
        let mut rows = vec![0.0f32; count * width];
        for (r, out) in rows.chunks_exact_mut(width).enumerate() {
            for (weight, row) in self.weights.iter().zip(&smooth[r..]) {
                out.iter_mut().zip(row).for_each(|(o, n)| *o += *weight as f32 * n);
            }
        }
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn grain_has_unit_deviation_and_the_stated_correlation() {
        let (width, height) = (400, 300);
        for sigma in [0.0, 0.6, 1.0] {
            let field = GrainField::new(11, sigma);
            let rows = field.rows(1, 0, height, width);
            let at = |x: usize, y: usize| f64::from(rows[y * width + x]);
            let mean_of = |dx: usize, dy: usize| {
                let places = (0..height - 4).flat_map(|y| (0..width - 4).map(move |x| (x, y)));
                let products: Vec<f64> = places.map(|(x, y)| at(x, y) * at(x + dx, y + dy)).collect();
                products.iter().sum::<f64>() / products.len() as f64
            };
            // Some 1e5 samples: five standard errors of a variance are 5 sqrt(2 / 1e5), more where they are correlated.
            assert_close!(mean_of(0, 0), 1.0, absolute = 0.05, "sigma {sigma}");
            // A Gaussian with itself, displaced by d and summed over whole pixels.
            let overlap = |d: f64| {
                (-9..=9)
                    .map(|k| (-(f64::from(k).powi(2) + (f64::from(k) + d).powi(2)) / (2.0 * sigma * sigma)).exp())
                    .sum::<f64>()
            };
            let expected = |d: f64| if sigma == 0.0 { 0.0 } else { overlap(d) / overlap(0.0) };
            assert_close!(mean_of(1, 0), expected(1.0), absolute = 0.04, "sigma {sigma}");
            assert_close!(mean_of(0, 2), expected(2.0), absolute = 0.04, "sigma {sigma}");
        }
    }

    #[test]
    fn rows_are_the_same_however_they_are_cut() {
        let field = GrainField::new(5, 0.8);
        let whole = field.rows(0, 0, 8, 30);
        assert_eq!(whole[5 * 30..7 * 30], field.rows(0, 5, 2, 30));
    }
}
