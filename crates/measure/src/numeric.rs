//! Small numerical tools: banded and dense least squares, quantiles, a repeatable source of chance.

/// Sub-diagonals of the banded matrices here: a quintic B-spline overlaps its five neighbours on either side.
pub(crate) const BAND: usize = 5;

/// A symmetric positive definite banded matrix; `rows[i][k]` is the element (i, i - k).
#[derive(Debug, Clone)]
pub(crate) struct Banded {
    pub(crate) rows: Vec<[f64; BAND + 1]>,
}

impl Banded {
    pub(crate) fn zero(size: usize) -> Self {
        Self { rows: vec![[0.0; BAND + 1]; size] }
    }

    /// Adds to the element (i, j); both orders are the same element.
    pub(crate) fn add(&mut self, i: usize, j: usize, value: f64) {
        let (low, high) = if i < j { (i, j) } else { (j, i) };
        self.rows[high][high - low] += value;
    }

    /// The product with a vector.
    pub(crate) fn times(&self, x: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; self.rows.len()];
        for (i, row) in self.rows.iter().enumerate() {
            out[i] += row[0] * x[i];
            for k in 1..=BAND.min(i) {
                out[i] += row[k] * x[i - k];
                out[i - k] += row[k] * x[i];
            }
        }
        out
    }

    /// Cholesky factor; `None` when the matrix is not positive definite.
    pub(crate) fn factor(&self) -> Option<Factor> {
        let mut l = self.rows.clone();
        for i in 0..l.len() {
            for k in (0..=BAND.min(i)).rev() {
                let j = i - k;
                let mut sum = l[i][k];
                for m in k + 1..=BAND.min(i) {
                    if m - k <= BAND {
                        sum -= l[i][m] * l[j][m - k];
                    }
                }
                if k > 0 {
                    l[i][k] = sum / l[j][0];
                } else if sum > 0.0 {
                    l[i][0] = sum.sqrt();
                } else {
                    return None;
                }
            }
        }
        Some(Factor { rows: l })
    }
}

/// The lower Cholesky factor of a [`Banded`] matrix.
#[derive(Debug, Clone)]
pub(crate) struct Factor {
    rows: Vec<[f64; BAND + 1]>,
}

impl Factor {
    /// Solves the factored system for one right-hand side.
    pub(crate) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let n = self.rows.len();
        let mut x = right.to_vec();
        for i in 0..n {
            for k in 1..=BAND.min(i) {
                x[i] -= self.rows[i][k] * x[i - k];
            }
            x[i] /= self.rows[i][0];
        }
        for i in (0..n).rev() {
            x[i] /= self.rows[i][0];
            for k in 1..=BAND.min(i) {
                x[i - k] -= self.rows[i][k] * x[i];
            }
        }
        x
    }
}

/// Weighted least-squares polynomial, lowest power first; `None` when the points do not determine it.
pub(crate) fn fit_polynomial(points: &[(f64, f64, f64)], degree: usize) -> Option<Vec<f64>> {
    let n = degree + 1;
    // Sums of powers first: the matrix repeats them along its diagonals.
    let (mut sums, mut values) = (vec![0.0; 2 * n - 1], vec![0.0; n]);
    for &(x, y, weight) in points {
        let mut power = weight;
        for value in &mut values {
            *value += power * y;
            power *= x;
        }
        power = weight;
        for sum in &mut sums {
            *sum += power;
            power *= x;
        }
    }
    let row = |i: usize| sums[i..i + n].iter().copied().chain([values[i]]).collect();
    let matrix = (0..n).map(row).collect();
    solve_dense(matrix)
}

/// Gaussian elimination with pivoting on a matrix that carries its right-hand side as last column.
pub(crate) fn solve_dense(mut m: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let n = m.len();
    for i in 0..n {
        let pivot = (i..n).max_by(|&a, &b| m[a][i].abs().total_cmp(&m[b][i].abs()))?;
        m.swap(i, pivot);
        let scale = m[i][i];
        if scale.abs() < 1e-300 || !scale.is_finite() {
            return None;
        }
        let (upper, lower) = m.split_at_mut(i + 1);
        for row in lower {
            let share = row[i] / scale;
            row.iter_mut().zip(&upper[i]).skip(i).for_each(|(cell, top)| *cell -= share * top);
        }
    }
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|c| m[i][c] * x[c]).sum();
        x[i] = (m[i][n] - known) / m[i][i];
    }
    x.iter().all(|v| v.is_finite()).then_some(x)
}

/// A polynomial's value, lowest power first.
pub(crate) fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

/// A polynomial's slope, lowest power first.
pub(crate) fn polynomial_slope(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().enumerate().skip(1).rev().fold(0.0, |sum, (i, c)| sum * x + i as f64 * c)
}

/// The value below which this share of the values lies (nearest rank); 0 for none.
pub(crate) fn quantile(values: &[f64], share: f64) -> f64 {
    let mut values = values.to_vec();
    if values.is_empty() {
        return 0.0;
    }
    let rank = (share * (values.len() - 1) as f64).round() as usize;
    *values.select_nth_unstable_by(rank, f64::total_cmp).1
}

/// Middle value; 0 for none.
pub(crate) fn median(values: &[f64]) -> f64 {
    quantile(values, 0.5)
}

/// Standard deviation that a few wild values cannot spoil: 1.4826 times the median distance from the median, which
/// equals the standard deviation for a normal distribution.
pub(crate) fn robust_deviation(values: &[f64]) -> f64 {
    let middle = median(values);
    let distances: Vec<f64> = values.iter().map(|v| (v - middle).abs()).collect();
    1.4826 * median(&distances)
}

/// Student's t that 97.5 % of the distribution lies below, by the Cornish-Fisher expansion (Abramowitz & Stegun
/// 26.7.5); right to 0.1 % from 5 degrees of freedom on.
pub(crate) fn student_975(degrees: f64) -> f64 {
    const Z: f64 = 1.959_963_984_540_054;
    let n = degrees.max(2.0);
    let g1 = (Z.powi(3) + Z) / 4.0;
    let g2 = (5.0 * Z.powi(5) + 16.0 * Z.powi(3) + 3.0 * Z) / 96.0;
    let g3 = (3.0 * Z.powi(7) + 19.0 * Z.powi(5) + 17.0 * Z.powi(3) - 15.0 * Z) / 384.0;
    Z + g1 / n + g2 / n.powi(2) + g3 / n.powi(3)
}

/// A repeatable stream of pseudo-random bits (SplitMix64: Steele, Lea, Flood, "Fast splittable pseudorandom number
/// generators", 2014).
#[derive(Debug, Clone)]
pub(crate) struct Chance(u64);

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// One of six values of mean 0 and variance 1 (Webb, "Reworking wild bootstrap based inference for clustered
    /// errors", 2014): unlike a coin's two they give many different resamples of few blocks.
    pub(crate) fn multiplier(&mut self) -> f64 {
        let which = self.next() % 6;
        let size = [0.5_f64, 1.0, 1.5][(which / 2) as usize].sqrt();
        if which.is_multiple_of(2) { size } else { -size }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn banded_solution_satisfies_its_equation() {
        let mut m = Banded::zero(12);
        for i in 0..12usize {
            for j in i.saturating_sub(BAND)..=i {
                m.add(i, j, if i == j { 9.0 } else { 1.0 / (1.0 + (i - j) as f64) });
            }
        }
        let x: Vec<f64> = (0..12).map(|i| f64::from(i) * 0.7 - 2.0).collect();
        let found = m.factor().unwrap().solve(&m.times(&x));
        for (a, b) in found.iter().zip(&x) {
            assert_close!(*a, *b, absolute = 1e-12);
        }
    }

    #[test]
    fn a_matrix_that_is_not_positive_is_refused() {
        assert!(Banded::zero(3).factor().is_none());
    }

    #[test]
    fn polynomial_is_recovered() {
        let truth = [0.5, -2.0, 0.25, 1.5];
        let points: Vec<_> = (-10..=10).map(|i| f64::from(i) / 10.0).map(|x| (x, polynomial(&truth, x), 1.0)).collect();
        for (a, b) in fit_polynomial(&points, 3).unwrap().iter().zip(truth) {
            assert_close!(*a, b, absolute = 1e-10);
        }
        // d/dx at 0.4 of the cubic above: -2 + 2*0.25*0.4 + 3*1.5*0.16.
        assert_close!(polynomial_slope(&truth, 0.4), -1.08, absolute = 1e-12);
    }

    #[test]
    fn student_quantiles_as_tabled() {
        // Fisher & Yates, Statistical Tables, two-sided 5 % (from memory; any table has them).
        assert_close!(student_975(10.0), 2.228, absolute = 0.002);
        assert_close!(student_975(30.0), 2.042, absolute = 0.001);
    }

    #[test]
    fn multipliers_have_mean_zero_and_variance_one() {
        let mut chance = Chance::new(1);
        let draws: Vec<f64> = (0..60_000).map(|_| chance.multiplier()).collect();
        let n = draws.len() as f64;
        // Standard error of a mean of 60 000 such draws is 0.004; five of them.
        assert_close!(draws.iter().sum::<f64>() / n, 0.0, absolute = 0.02);
        assert_close!(draws.iter().map(|d| d * d).sum::<f64>() / n, 1.0, absolute = 0.02);
    }
}
