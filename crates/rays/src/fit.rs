//! Smooth functions over a pupil by least squares: polynomials in two direction cosines.

/// Powers of both variables, and how many of them, up to the fifth together: rays need not land exactly where the fit says,
/// since what is off is put right to first order afterwards (see [`crate::Pencil`]); a higher degree would need more rays.
const DEGREE: u32 = 5;

/// A polynomial Σ cᵢⱼ·xⁱyʲ with even i only, or odd i only: what a symmetry about x = 0 leaves.
#[derive(Debug, Clone)]
pub(crate) struct Polynomial {
    powers: Vec<[u32; 2]>,
    coefficients: Vec<f64>,
}

impl Polynomial {
    /// The best through `values` at `places`; `None` when there are too few or they lie badly.
    pub(crate) fn fitted(odd: bool, places: &[[f64; 2]], values: &[f64]) -> Option<Self> {
        let powers = powers(odd);
        let columns: Vec<Vec<f64>> =
            powers.iter().map(|power| places.iter().map(|place| monomial(*power, *place)).collect()).collect();
        Some(Self { coefficients: least_squares(columns, values.to_vec())?, powers })
    }

    pub(crate) fn at(&self, place: [f64; 2]) -> f64 {
        self.powers.iter().zip(&self.coefficients).map(|(power, c)| c * monomial(*power, place)).sum()
    }
}

fn powers(odd: bool) -> Vec<[u32; 2]> {
    let all = (0..=DEGREE).flat_map(|i| (0..=DEGREE - i).map(move |j| [i, j]));
    all.filter(|[i, _]| (i % 2 == 1) == odd).collect()
}

fn monomial([i, j]: [u32; 2], [x, y]: [f64; 2]) -> f64 {
    x.powi(i as i32) * y.powi(j as i32)
}

/// Columns shorter than this share of their own length, once the others are taken out, are no direction of their own.
const DEPENDENT: f64 = 1e-9;

/// Least squares by orthogonal columns (modified Gram-Schmidt, with the right side as one more column: Björck, 1967).
fn least_squares(mut columns: Vec<Vec<f64>>, mut values: Vec<f64>) -> Option<Vec<f64>> {
    let count = columns.len();
    if values.len() < count {
        return None;
    }
    let dot = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(p, q)| p * q).sum::<f64>();
    let mut upper = vec![vec![0.0; count]; count];
    let mut right = vec![0.0; count];
    let lengths: Vec<f64> = columns.iter().map(|column| dot(column, column).sqrt()).collect();
    for i in 0..count {
        let (done, rest) = columns.split_at_mut(i + 1);
        let pivot = &mut done[i];
        let length = dot(pivot, pivot).sqrt();
        if length.is_nan() || length <= DEPENDENT * lengths[i] {
            return None;
        }
        pivot.iter_mut().for_each(|value| *value /= length);
        upper[i][i] = length;
        for (k, column) in rest.iter_mut().enumerate() {
            let share = dot(pivot, column);
            upper[i][i + 1 + k] = share;
            column.iter_mut().zip(&*pivot).for_each(|(value, p)| *value -= share * p);
        }
        right[i] = dot(pivot, &values);
        values.iter_mut().zip(&*pivot).for_each(|(value, p)| *value -= right[i] * p);
    }
    let mut solved = vec![0.0; count];
    for i in (0..count).rev() {
        let known: f64 = (i + 1..count).map(|k| upper[i][k] * solved[k]).sum();
        solved[i] = (right[i] - known) / upper[i][i];
    }
    Some(solved)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_polynomial_of_its_own_kind_comes_back_exactly() {
        let truth = |[x, y]: [f64; 2]| 1.0 - 2.0 * y + 3.0 * x * x * y - 0.5 * x.powi(4) * y + y.powi(5);
        let places: Vec<[f64; 2]> = (0..40).map(|i| [(f64::from(i) * 0.7).sin(), (f64::from(i) * 1.3).cos()]).collect();
        let values: Vec<f64> = places.iter().map(|place| truth(*place)).collect();
        let even = Polynomial::fitted(false, &places, &values).unwrap();
        let odd =
            Polynomial::fitted(true, &places, &places.iter().map(|[x, y]| x * y - x).collect::<Vec<_>>()).unwrap();
        assert_close!(even.at([0.3, -0.4]), truth([0.3, -0.4]), absolute = 1e-12);
        assert_close!(odd.at([0.3, -0.4]), -0.42, absolute = 1e-12);
        assert_eq!((powers(false).len(), powers(true).len()), (12, 9));
    }

    #[test]
    fn too_few_places_or_all_on_one_line_are_no_fit() {
        assert!(Polynomial::fitted(false, &[[0.0, 0.0]], &[1.0]).is_none());
        let line: Vec<[f64; 2]> = (0..40).map(|i| [0.0, f64::from(i)]).collect();
        assert!(Polynomial::fitted(false, &line, &[1.0; 40]).is_none());
    }
}
