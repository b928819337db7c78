//! Small dense least squares with covariances, and figures with their intervals.

/// A figure and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Figure {
    /// The figure, in the unit that its field names.
    pub value: f64,
    /// Half-width of its 95 % interval, in the same unit; 0 when exact.
    pub plus_minus: f64,
}

impl Figure {
    /// A figure with its half-width.
    pub fn new(value: f64, plus_minus: f64) -> Self {
        Self { value, plus_minus }
    }

    /// A figure without any uncertainty.
    pub fn exact(value: f64) -> Self {
        Self { value, plus_minus: 0.0 }
    }

    /// The same figure in another unit; the half-width stays positive.
    pub fn times(self, factor: f64) -> Self {
        Self { value: self.value * factor, plus_minus: self.plus_minus * factor.abs() }
    }

    /// True when the interval leaves 0 out: the figure is surely not nothing.
    pub fn stands_out(self) -> bool {
        self.value.abs() > self.plus_minus
    }
}

/// Half-width of the 95 % interval over the standard error, for a normal distribution (JCGM 100:2008, table G.1).
pub(crate) const COVERAGE_95: f64 = 1.959_963_984_540_054;

/// Student's t that 97.5 % of the distribution lies below, from one degree of freedom on.
///
/// The first four as tabled (JCGM 100:2008, table G.2: 12.71, 4.30, 3.18, 2.78), beyond them by the expansion in powers of the
/// reciprocal (Abramowitz & Stegun 1964, 26.7.5).
pub fn student_975(degrees: usize) -> f64 {
    match degrees {
        0 => f64::INFINITY,
        1 => 12.706_204_736,
        2 => 4.302_652_730,
        3 => 3.182_446_305,
        4 => 2.776_445_105,
        _ => crate::numeric::student_975(degrees as f64),
    }
}

/// A linear least-squares problem solved.
#[derive(Debug, Clone)]
pub(crate) struct Solution {
    /// The unknowns.
    pub(crate) x: Vec<f64>,
    /// Inverse of the normal matrix: the covariance when every row has unit standard error.
    pub(crate) unit_covariance: Vec<Vec<f64>>,
    /// Sum of the squares of the rows' residuals.
    pub(crate) squares: f64,
}

/// Loss of digits, as largest over smallest pivot of columns scaled to one length, beyond which the rows do not
/// determine the unknowns.
const WORST_PIVOTS: f64 = 1e9;

/// Solves rows·x = right by Householder reflections on columns scaled to one length; `None` when there are fewer rows than unknowns or
/// the rows do not determine them.
pub(crate) fn least_squares(rows: &[Vec<f64>], right: &[f64]) -> Option<Solution> {
    let n = rows.first()?.len();
    let m = rows.len();
    if m < n || n == 0 {
        return None;
    }
    let lengths: Vec<f64> = (0..n).map(|j| rows.iter().map(|r| r[j] * r[j]).sum::<f64>().sqrt()).collect();
    if lengths.iter().any(|l| !l.is_finite() || *l <= 0.0) {
        return None;
    }
    let mut a: Vec<Vec<f64>> =
        rows.iter().map(|row| row.iter().zip(&lengths).map(|(cell, length)| cell / length).collect()).collect();
    let mut b = right.to_vec();
    for k in 0..n {
        let norm = (k..m).map(|i| a[i][k] * a[i][k]).sum::<f64>().sqrt();
        if norm < 1.0 / WORST_PIVOTS {
            return None;
        }
        let alpha = if a[k][k] > 0.0 { -norm } else { norm };
        let mut v: Vec<f64> = (k..m).map(|i| a[i][k]).collect();
        v[0] -= alpha;
        let vv: f64 = v.iter().map(|c| c * c).sum();
        for j in k..n {
            let share = 2.0 * v.iter().zip(&a[k..]).map(|(c, row)| c * row[j]).sum::<f64>() / vv;
            v.iter().zip(&mut a[k..]).for_each(|(c, row)| row[j] -= share * c);
        }
        let share = 2.0 * v.iter().zip(&b[k..]).map(|(c, y)| c * y).sum::<f64>() / vv;
        v.iter().zip(&mut b[k..]).for_each(|(c, y)| *y -= share * c);
    }
    // The inverse of the triangle gives both the unknowns and their covariance.
    let mut inverse = vec![vec![0.0; n]; n];
    for j in 0..n {
        inverse[j][j] = 1.0 / a[j][j];
        for i in (0..j).rev() {
            let sum: f64 = (i + 1..=j).map(|k| a[i][k] * inverse[k][j]).sum();
            inverse[i][j] = -sum / a[i][i];
        }
    }
    let x: Vec<f64> = (0..n).map(|i| (i..n).map(|j| inverse[i][j] * b[j]).sum::<f64>() / lengths[i]).collect();
    let element = |i: usize, j: usize| {
        (i.max(j)..n).map(|k| inverse[i][k] * inverse[j][k]).sum::<f64>() / lengths[i] / lengths[j]
    };
    let unit_covariance: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| element(i, j)).collect()).collect();
    let squares = b[n..].iter().map(|r| r * r).sum();
    x.iter().all(|v| v.is_finite()).then_some(Solution { x, unit_covariance, squares })
}

/// gradient · covariance · gradient: the variance of a figure with that gradient.
pub(crate) fn variance(gradient: &[f64], covariance: &[Vec<f64>]) -> f64 {
    covariance_of(gradient, gradient, covariance)
}

/// Covariance of two figures with these gradients.
pub(crate) fn covariance_of(one: &[f64], other: &[f64], covariance: &[Vec<f64>]) -> f64 {
    one.iter().zip(covariance).map(|(a, row)| a * row.iter().zip(other).map(|(c, b)| c * b).sum::<f64>()).sum()
}

/// Gradients of a row of figures by every parameter, by central differences over a hundredth of the parameter's standard
/// error (or a millionth of the parameter): wide enough for the digits, narrow enough for the curvature.
pub(crate) fn gradients<const N: usize>(
    parameters: &[f64],
    covariance: &[Vec<f64>],
    figures: impl Fn(&[f64]) -> Option<[f64; N]>,
) -> Option<[Vec<f64>; N]> {
    let mut out: [Vec<f64>; N] = std::array::from_fn(|_| vec![0.0; parameters.len()]);
    let mut moved = parameters.to_vec();
    for i in 0..parameters.len() {
        let step = (0.01 * covariance[i][i].max(0.0).sqrt()).max(1e-6 * parameters[i].abs()).max(1e-9);
        moved[i] = parameters[i] + step;
        let up = figures(&moved)?;
        moved[i] = parameters[i] - step;
        let down = figures(&moved)?;
        moved[i] = parameters[i];
        for (k, row) in out.iter_mut().enumerate() {
            row[i] = (up[k] - down[k]) / (2.0 * step);
        }
    }
    Some(out)
}

/// Eigenvalues (smallest first) and their vectors of a symmetric matrix, by Jacobi's rotations.
pub(crate) fn eigen(mut m: Vec<Vec<f64>>) -> Vec<(f64, Vec<f64>)> {
    let n = m.len();
    let mut vectors: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for _ in 0..60 {
        let off: f64 = (0..n).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| m[i][j] * m[i][j]).sum();
        let on: f64 = (0..n).map(|i| m[i][i] * m[i][i]).sum();
        if off <= 1e-32 * on {
            break;
        }
        for p in 0..n {
            for q in p + 1..n {
                if m[p][q] == 0.0 {
                    continue;
                }
                let theta = (m[q][q] - m[p][p]) / (2.0 * m[p][q]);
                let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
                let c = 1.0 / (t * t + 1.0).sqrt();
                let s = t * c;
                for row in &mut m {
                    let (a, b) = (row[p], row[q]);
                    (row[p], row[q]) = (c * a - s * b, s * a + c * b);
                }
                let (upper, lower) = m.split_at_mut(q);
                for (one, other) in upper[p].iter_mut().zip(&mut lower[0]) {
                    (*one, *other) = (c * *one - s * *other, s * *one + c * *other);
                }
                for row in &mut vectors {
                    let (a, b) = (row[p], row[q]);
                    (row[p], row[q]) = (c * a - s * b, s * a + c * b);
                }
            }
        }
    }
    let mut out: Vec<(f64, Vec<f64>)> = (0..n).map(|i| (m[i][i], vectors.iter().map(|row| row[i]).collect())).collect();
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_straight_line_and_its_covariance() {
        // y = 2 - 3x on x = -1, 0, 1, 2: normal matrix [[4, 2], [2, 6]], its inverse [[6, -2], [-2, 4]] / 20.
        let rows: Vec<Vec<f64>> = [-1.0, 0.0, 1.0, 2.0].iter().map(|x| vec![1.0, *x]).collect();
        let right: Vec<f64> = rows.iter().map(|r| 2.0 - 3.0 * r[1]).collect();
        let found = least_squares(&rows, &right).unwrap();
        for (value, truth) in found.x.iter().zip([2.0, -3.0]) {
            assert_close!(*value, truth, absolute = 1e-13);
        }
        for (value, truth) in found.unit_covariance.concat().iter().zip([0.3, -0.1, -0.1, 0.2]) {
            assert_close!(*value, truth, absolute = 1e-14);
        }
        assert_close!(found.squares, 0.0, absolute = 1e-24);
    }

    #[test]
    fn what_is_not_determined_is_none() {
        let twice: Vec<Vec<f64>> = (0..5).map(|i| vec![f64::from(i), 2.0 * f64::from(i)]).collect();
        assert!(least_squares(&twice, &[0.0; 5]).is_none());
        assert!(least_squares(&[vec![1.0, 2.0]], &[1.0]).is_none());
    }

    #[test]
    fn eigenvalues_of_a_known_matrix() {
        // [[2, 1], [1, 2]] has 1 and 3, with (1, -1) and (1, 1).
        let found = eigen(vec![vec![2.0, 1.0], vec![1.0, 2.0]]);
        assert_close!(found[0].0, 1.0, absolute = 1e-14);
        assert_close!(found[1].0, 3.0, absolute = 1e-14);
        assert_close!(found[0].1[0] + found[0].1[1], 0.0, absolute = 1e-14);
    }

    #[test]
    fn student_quantiles_of_few_degrees() {
        // JCGM 100:2008, table G.2, 95 %.
        for (degrees, tabled) in [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (10, 2.23)] {
            assert_close!(student_975(degrees), tabled, absolute = 0.006);
        }
    }

    #[test]
    fn a_gradient_of_a_known_function() {
        let found = gradients(&[2.0, 3.0], &[vec![1.0, 0.0], vec![0.0, 1.0]], |p| Some([p[0] * p[0] * p[1]])).unwrap();
        assert_close!(found[0][0], 12.0, absolute = 1e-6);
        assert_close!(found[0][1], 4.0, absolute = 1e-6);
    }
}
