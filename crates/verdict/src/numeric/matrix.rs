//! Symmetric positive definite matrices of a few rows.

/// A symmetric matrix, all of it kept.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Symmetric(Vec<Vec<f64>>);

impl Symmetric {
    pub(crate) fn zero(size: usize) -> Self {
        Self(vec![vec![0.0; size]; size])
    }

    pub(crate) fn size(&self) -> usize {
        self.0.len()
    }

    #[cfg(test)]
    pub(crate) fn at(&self, i: usize, j: usize) -> f64 {
        self.0[i][j]
    }

    pub(crate) fn add(&mut self, i: usize, j: usize, value: f64) {
        self.0[i][j] += value;
    }

    /// Adds `weight` · v vᵀ, v given by its entries that are not zero.
    pub(crate) fn add_square(&mut self, v: &[(usize, f64)], weight: f64) {
        for &(i, a) in v {
            for &(j, b) in v {
                self.0[i][j] += weight * a * b;
            }
        }
    }

    /// vᵀ M w.
    pub(crate) fn between(&self, v: &[f64], w: &[f64]) -> f64 {
        self.0.iter().zip(v).map(|(row, a)| a * row.iter().zip(w).map(|(m, b)| m * b).sum::<f64>()).sum()
    }

    /// The lower factor L with L Lᵀ = M. A row that the rows before it determine (within `1e-12` of its size) gets a diagonal of 0; `None`
    /// when the matrix has a negative direction.
    pub(crate) fn factor(&self) -> Option<Vec<Vec<f64>>> {
        let n = self.size();
        let mut l = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let rest = self.0[i][j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
                l[i][j] = match (i == j, l[j][j]) {
                    (true, _) if rest.abs() <= 1e-12 * self.0[i][i].abs() => 0.0,
                    (true, _) if rest > 0.0 => rest.sqrt(),
                    (true, _) => return None,
                    (false, pivot) if pivot > 0.0 => rest / pivot,
                    (false, _) => 0.0,
                };
            }
        }
        Some(l)
    }

    /// The inverse; `None` when the matrix is not positive definite.
    pub(crate) fn inverse(&self) -> Option<Self> {
        let l = self.factor()?;
        if (0..self.size()).any(|i| l[i][i] <= 0.0) {
            return None;
        }
        let unit = |i: usize| (0..self.size()).map(|j| f64::from(u8::from(i == j))).collect::<Vec<_>>();
        Some(Self((0..self.size()).map(|i| solve(&l, &unit(i))).collect()))
    }

    pub(crate) fn times(&self, v: &[f64]) -> Vec<f64> {
        self.0.iter().map(|row| row.iter().zip(v).map(|(m, x)| m * x).sum()).collect()
    }
}

/// Forward and back substitution with a lower factor.
fn solve(l: &[Vec<f64>], right: &[f64]) -> Vec<f64> {
    let n = right.len();
    let mut x = right.to_vec();
    for i in 0..n {
        x[i] = (x[i] - (0..i).map(|k| l[i][k] * x[k]).sum::<f64>()) / l[i][i];
    }
    for i in (0..n).rev() {
        x[i] = (x[i] - (i + 1..n).map(|k| l[k][i] * x[k]).sum::<f64>()) / l[i][i];
    }
    x
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn the_inverse_undoes_the_matrix() {
        let mut m = Symmetric::zero(3);
        m.add_square(&[(0, 1.0), (1, -1.0)], 2.0);
        m.add_square(&[(1, 1.0), (2, 3.0)], 1.0);
        m.add_square(&[(0, 1.0), (2, 1.0)], 0.5);
        let v = [0.3, -2.0, 1.1];
        let back = m.inverse().unwrap().times(&m.times(&v));
        back.iter().zip(v).for_each(|(a, b)| assert_close!(*a, b, absolute = 1e-12));
    }

    #[test]
    fn a_determined_row_has_no_room_and_a_negative_one_is_refused() {
        let mut m = Symmetric::zero(2);
        m.add_square(&[(0, 2.0), (1, 1.0)], 1.0);
        assert_eq!(m.factor().unwrap()[1][1], 0.0);
        assert!(m.inverse().is_none());
        m.add(1, 1, -3.0);
        assert!(m.factor().is_none());
    }
}
