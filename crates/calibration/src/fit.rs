//! Least squares for small problems: Gauss-Newton steps by singular values, derivatives by dual numbers.
//!
//! Singular values (one-sided Jacobi rotations: Hestenes 1958; Golub & Van Loan, *Matrix Computations*, 8.6, from
//! memory) rather than normal equations: they square no condition number, and the same numbers give the step, the
//! covariance, each reading's leverage, and, when something cannot be told, which unknowns it is.

use crate::odds::{DOUBT, chi_square_above, student_95};
use optics::{COVERAGE_95, Dual, Input, Real};

/// What readings are expected for given unknowns.
pub(crate) trait Model {
    /// One figure per reading, always as many and in the same order.
    fn predict<T: Real>(&self, unknowns: &[T]) -> Vec<T>;
}

/// A fit that came to rest.
#[derive(Debug, Clone)]
pub(crate) struct Fit {
    pub(crate) values: Vec<f64>,
    /// From the stated uncertainties alone (standard, squared).
    pub(crate) covariance: Vec<Vec<f64>>,
    /// (reading − fitted)/u per reading.
    pub(crate) residuals: Vec<f64>,
    pub(crate) chi_square: f64,
    /// Orthonormal columns that span what the unknowns can do to the readings; their rows' products are the leverages.
    span: Vec<Vec<f64>>,
}

/// Why there is no fit.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Trouble {
    /// The weight, 0 to 1, that each unknown has in what cannot be told.
    Singular(Vec<f64>),
    /// No rest within the allowed steps, or figures that are no numbers.
    Restless,
}

/// Singular values below this share of the largest are none: columns are scaled to length 1, so that honest ones of the
/// problems here lie above 1e-5 and rounding leaves some 1e-15.
const SINGULAR: f64 = 1e-9;
const MOST_STEPS: usize = 100;

/// `a` as orthogonal columns (what was `a` times v) and the rotations v.
struct Rotated {
    columns: Vec<Vec<f64>>,
    v: Vec<Vec<f64>>,
    singular: Vec<f64>,
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn rotate(pair: [&mut Vec<f64>; 2], c: f64, s: f64) {
    let [p, q] = pair;
    for (p, q) in p.iter_mut().zip(q) {
        (*p, *q) = (c * *p - s * *q, s * *p + c * *q);
    }
}

fn two(columns: &mut [Vec<f64>], p: usize, q: usize) -> [&mut Vec<f64>; 2] {
    let (left, right) = columns.split_at_mut(q);
    [&mut left[p], &mut right[0]]
}

impl Rotated {
    fn of(mut columns: Vec<Vec<f64>>) -> Self {
        let n = columns.len();
        let mut v: Vec<Vec<f64>> = (0..n).map(|i| (0..n).map(|j| f64::from(u8::from(i == j))).collect()).collect();
        for _ in 0..60 {
            let mut turned = false;
            for p in 0..n {
                for q in p + 1..n {
                    let [a, b] = two(&mut columns, p, q);
                    let (alpha, beta, gamma) = (dot(a, a), dot(b, b), dot(a, b));
                    if gamma == 0.0 || gamma.abs() <= 1e-15 * (alpha * beta).sqrt() {
                        continue;
                    }
                    turned = true;
                    let zeta = (beta - alpha) / (2.0 * gamma);
                    let tan = zeta.signum() / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
                    let cos = 1.0 / (1.0 + tan * tan).sqrt();
                    rotate([a, b], cos, cos * tan);
                    rotate(two(&mut v, p, q), cos, cos * tan);
                }
            }
            if !turned {
                break;
            }
        }
        let singular = columns.iter().map(|column| dot(column, column).sqrt()).collect();
        Self { columns, v, singular }
    }
}

/// The slopes of the readings by the unknowns, made ready: whitened, scaled, rotated.
struct Slopes {
    rotated: Rotated,
    scales: Vec<f64>,
}

impl Slopes {
    fn at<M: Model>(model: &M, readings: &[Input], values: &[f64]) -> Result<Self, Trouble> {
        let mut duals: Vec<Dual> = values.iter().map(|&value| Dual { value, slope: 0.0 }).collect();
        let mut columns = Vec::with_capacity(values.len());
        let mut scales = Vec::with_capacity(values.len());
        for index in 0..values.len() {
            duals[index].slope = 1.0;
            let mut column: Vec<f64> = model
                .predict(&duals)
                .iter()
                .zip(readings)
                .map(|(dual, reading)| dual.slope / standard(reading))
                .collect();
            duals[index].slope = 0.0;
            let length = dot(&column, &column).sqrt();
            if !length.is_finite() {
                return Err(Trouble::Restless);
            }
            let scale = if length > 0.0 { length } else { 1.0 };
            column.iter_mut().for_each(|cell| *cell /= scale);
            columns.push(column);
            scales.push(scale);
        }
        let slopes = Self { rotated: Rotated::of(columns), scales };
        slopes.told().map(|()| slopes)
    }

    /// Refuses when some mixture of unknowns changes no reading.
    fn told(&self) -> Result<(), Trouble> {
        let singular = &self.rotated.singular;
        let largest = singular.iter().copied().fold(0.0, f64::max);
        let untold: Vec<usize> = (0..singular.len()).filter(|&i| singular[i] <= SINGULAR * largest).collect();
        if untold.is_empty() {
            return Ok(());
        }
        let weight = |j: usize| untold.iter().map(|&i| self.rotated.v[i][j].powi(2)).sum::<f64>().sqrt();
        Err(Trouble::Singular((0..singular.len()).map(weight).collect()))
    }

    /// How far to go for the residuals, and how far that is in standard uncertainties.
    fn step(&self, residuals: &[f64]) -> (Vec<f64>, f64) {
        let Rotated { columns, v, singular } = &self.rotated;
        let mut step = vec![0.0; singular.len()];
        let mut size = 0.0;
        for ((column, turn), sigma) in columns.iter().zip(v).zip(singular) {
            let along = dot(column, residuals) / sigma;
            size += along * along;
            for ((step, turn), scale) in step.iter_mut().zip(turn).zip(&self.scales) {
                *step += along / sigma * turn / scale;
            }
        }
        (step, size.sqrt())
    }

    fn covariance(&self) -> Vec<Vec<f64>> {
        let Rotated { v, singular, .. } = &self.rotated;
        let n = singular.len();
        let cell = |i: usize, j: usize| {
            let sum: f64 = v.iter().zip(singular).map(|(turn, sigma)| turn[i] / sigma * (turn[j] / sigma)).sum();
            sum / (self.scales[i] * self.scales[j])
        };
        (0..n).map(|i| (0..n).map(|j| cell(i, j)).collect()).collect()
    }

    fn span(&self) -> Vec<Vec<f64>> {
        let Rotated { columns, singular, .. } = &self.rotated;
        columns.iter().zip(singular).map(|(column, sigma)| column.iter().map(|cell| cell / sigma).collect()).collect()
    }
}

/// Standard uncertainty of an input.
pub(crate) fn standard(input: &Input) -> f64 {
    input.plus_minus / COVERAGE_95
}

fn whitened<M: Model>(model: &M, readings: &[Input], values: &[f64]) -> Vec<f64> {
    let fitted = model.predict(values);
    readings.iter().zip(fitted).map(|(reading, fitted)| (reading.value - fitted) / standard(reading)).collect()
}

/// The unknowns that make the sum of ((reading − expected)/u)² least, from a start near them.
pub(crate) fn fit<M: Model>(model: &M, readings: &[Input], start: &[f64]) -> Result<Fit, Trouble> {
    let mut values = start.to_vec();
    let mut residuals = whitened(model, readings, &values);
    let mut chi_square = dot(&residuals, &residuals);
    if !chi_square.is_finite() {
        return Err(Trouble::Restless);
    }
    for _ in 0..MOST_STEPS {
        let slopes = Slopes::at(model, readings, &values)?;
        let (step, size) = slopes.step(&residuals);
        let small = |(step, value): (&f64, &f64)| step.abs() <= 1e-14 * value.abs();
        // At rest: less than a billionth of a standard uncertainty to go, or no digit left to change.
        let at_rest = size < 1e-9 || step.iter().zip(&values).all(small);
        let mut share = 1.0;
        loop {
            let tried: Vec<f64> = values.iter().zip(&step).map(|(value, step)| value + share * step).collect();
            let next = whitened(model, readings, &tried);
            let sum = dot(&next, &next);
            // Near the least sum its changes drown in rounding; a full step is then right whatever the sum seems to do.
            if sum.is_finite() && (sum <= chi_square * (1.0 + 1e-13) || size < 1e-6) {
                (values, residuals, chi_square) = (tried, next, sum);
                break;
            }
            share *= 0.5;
            if share < 1e-6 {
                return Err(Trouble::Restless);
            }
        }
        if at_rest {
            let covariance = slopes.covariance();
            return Ok(Fit { values, covariance, residuals, chi_square, span: slopes.span() });
        }
    }
    Err(Trouble::Restless)
}

/// The covariance to be expected where the unknowns are known; no reading is looked at, only how sure it is.
pub(crate) fn expected<M: Model>(model: &M, readings: &[Input], values: &[f64]) -> Result<Vec<Vec<f64>>, Trouble> {
    Slopes::at(model, readings, values).map(|slopes| slopes.covariance())
}

/// What leaving one or two readings out takes off chi-square, and how many of them the others can foretell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LeftOut {
    pub(crate) chi_square: f64,
    pub(crate) foretold: usize,
}

impl Fit {
    /// 1 less leverage: the share of a reading's variance that is left in its residual.
    pub(crate) fn freedom(&self, i: usize, j: usize) -> f64 {
        f64::from(u8::from(i == j)) - self.span.iter().map(|column| column[i] * column[j]).sum::<f64>()
    }

    /// The residual over its own standard uncertainty u·√(1 − leverage); `None` when the others do not foretell it.
    pub(crate) fn studentised(&self, i: usize) -> Option<f64> {
        let freedom = self.freedom(i, i);
        (freedom > FORETOLD).then(|| self.residuals[i] / freedom.sqrt())
    }

    /// Leaves a block of readings out: r'(I − H)⁻¹r over the directions that the rest foretells (Cook & Weisberg,
    /// *Residuals and Influence in Regression*, 1982, from memory).
    pub(crate) fn left_out(&self, rows: std::ops::Range<usize>) -> LeftOut {
        let block: Vec<Vec<f64>> = rows.clone().map(|i| rows.clone().map(|j| self.freedom(i, j)).collect()).collect();
        let residuals = &self.residuals[rows];
        // The block is symmetric: rotating its columns until they are orthogonal finds its eigenvectors.
        let Rotated { v, singular, .. } = Rotated::of(block);
        let told = v.iter().zip(&singular).filter(|(_, freedom)| **freedom > FORETOLD);
        let mut left = LeftOut { chi_square: 0.0, foretold: 0 };
        for (turn, freedom) in told {
            left.chi_square += dot(turn, residuals).powi(2) / freedom;
            left.foretold += 1;
        }
        left
    }
}

/// Below this a freedom is rounding: a reading that only its own unknown explains.
const FORETOLD: f64 = 1e-10;

/// How well readings agree with what was fitted to them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChiSquare {
    /// The sum of squared residuals, each in its stated standard uncertainty.
    pub value: f64,
    /// Degrees of freedom: readings less unknowns.
    pub degrees: usize,
    /// Probability of so large a sum by chance, if the stated uncertainties are right; `None` without a degree of
    /// freedom.
    pub probability: Option<f64>,
}

impl ChiSquare {
    pub(crate) fn new(value: f64, degrees: usize) -> Self {
        Self { value, degrees, probability: (degrees > 0).then(|| chi_square_above(value, degrees)) }
    }

    /// Whether the scatter is within what the stated uncertainties allow in 19 cases of 20, or cannot be judged.
    pub fn consistent(&self) -> bool {
        self.probability.is_none_or(|probability| probability >= DOUBT)
    }

    pub(crate) fn spread(&self) -> Spread {
        if self.consistent() {
            return Spread { inflation: 1.0, factor: COVERAGE_95, basis: Basis::Stated };
        }
        let inflation = (self.value / self.degrees as f64).sqrt();
        Spread { inflation, factor: student_95(self.degrees), basis: Basis::Scatter }
    }
}

/// What an interval rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// On the stated uncertainties: the readings scatter no more than these allow.
    Stated,
    /// On the scatter of the readings, which is larger than the stated uncertainties allow.
    Scatter,
}

/// From a standard uncertainty by the stated uncertainties to a half-width of 95 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spread {
    /// Birge's ratio √(χ²/ν), 1 when not inflated.
    pub(crate) inflation: f64,
    /// Half-width over standard uncertainty.
    pub(crate) factor: f64,
    pub(crate) basis: Basis,
}

impl Spread {
    pub(crate) fn half_width(&self, variance: f64) -> f64 {
        self.factor * self.inflation * variance.sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    /// y = a + b·x, each x exact or an unknown of its own with a reading.
    struct Line {
        exact: Option<Vec<f64>>,
        count: usize,
    }

    impl Model for Line {
        fn predict<T: Real>(&self, p: &[T]) -> Vec<T> {
            let x = |i: usize| self.exact.as_ref().map_or_else(|| p[2 + i], |x| T::exact(x[i]));
            let mut out: Vec<T> = (0..self.count).map(|i| p[0] + p[1] * x(i)).collect();
            out.extend_from_slice(&p[2..]);
            out
        }
    }

    fn reading(value: f64, u: f64) -> Input {
        Input { value, plus_minus: COVERAGE_95 * u }
    }

    #[test]
    fn norris() {
        // NIST Statistical Reference Datasets, linear regression, "Norris", data and certified values from memory: that
        // 36 points and four certified figures agree to ten digits is itself the proof that they were remembered
        // rightly.
        #[rustfmt::skip]
        let data = [
            (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5), (668.5, 666.3),
            (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4), (0.1, 0.6), (778.1, 775.5),
            (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6), (557.7, 556.0), (228.3, 228.1), (998.0, 995.8),
            (888.8, 887.6), (119.6, 120.2), (0.3, 0.3), (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2),
            (998.5, 999.0), (778.9, 779.0), (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9),
            (0.2, 0.5),
        ];
        let line = Line { exact: Some(data.iter().map(|p| p.1).collect()), count: data.len() };
        let readings: Vec<Input> = data.iter().map(|p| reading(p.0, 1.0)).collect();
        let fit = fit(&line, &readings, &[0.0, 0.5]).unwrap();
        let inflation = (fit.chi_square / 34.0).sqrt();
        assert_close!(fit.values[0], -0.262323073774029, relative = 1e-10);
        assert_close!(fit.values[1], 1.00211681802045, relative = 1e-12);
        assert_close!(inflation, 0.884796396144373, relative = 1e-10);
        assert_close!(inflation * fit.covariance[0][0].sqrt(), 0.232818234301152, relative = 1e-10);
        assert_close!(inflation * fit.covariance[1][1].sqrt(), 0.429796848199937e-3, relative = 1e-10);
    }

    #[test]
    fn a_line_with_errors_both_ways() {
        // Pearson's points with York's weights, as in York, Evensen, Martinez & De Basabe, "Unified equations for the
        // slope, intercept, and standard errors of the best straight line", Am. J. Phys. 72 (2004) 367 (data and
        // answers from memory; their agreement to nine digits is the proof that they were remembered rightly).
        let x = [0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4];
        let x_weight = [1000.0, 1000.0, 500.0, 800.0, 200.0, 80.0, 60.0, 20.0, 1.8, 1.0_f64];
        let y = [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5];
        let y_weight = [1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0_f64];
        let mut readings: Vec<Input> = y.iter().zip(y_weight).map(|(y, w)| reading(*y, 1.0 / w.sqrt())).collect();
        readings.extend(x.iter().zip(x_weight).map(|(x, w)| reading(*x, 1.0 / w.sqrt())));
        let mut start = vec![6.0, -0.5];
        start.extend(x);
        let fit = fit(&Line { exact: None, count: 10 }, &readings, &start).unwrap();
        assert_close!(fit.values[0], 5.47991022, relative = 2e-9);
        assert_close!(fit.values[1], -0.480533407, relative = 2e-9);
        assert_close!(fit.chi_square, 11.8663532, relative = 1e-8);
        assert_close!(fit.covariance[0][0].sqrt(), 0.294707, relative = 1e-3);
        assert_close!(fit.covariance[1][1].sqrt(), 0.0579835, relative = 1e-3);
    }

    #[test]
    fn what_cannot_be_told_is_named() {
        // Two unknowns and one abscissa: intercept and slope trade against each other, whatever is read.
        let line = Line { exact: Some(vec![3.0, 3.0]), count: 2 };
        let Err(Trouble::Singular(weights)) = fit(&line, &[reading(1.0, 0.1), reading(1.1, 0.1)], &[0.0, 0.0]) else {
            panic!("one abscissa fixed a line");
        };
        // Scaled to the same effect, both have the same part in it: 1/√2.
        for weight in weights {
            assert_close!(weight, 0.5_f64.sqrt(), relative = 1e-9);
        }
    }

    #[test]
    fn leaving_out_is_foretold_from_the_whole() {
        // A straight line is linear: what one fit foretells must be what the fit without the point gives.
        let x = [0.0, 1.0, 2.0, 4.0, 7.0];
        let y = [0.1, 0.9, 2.2, 3.7, 7.5];
        let all: Vec<Input> = y.map(|y| reading(y, 0.2)).to_vec();
        let line = |x: Vec<f64>| Line { count: x.len(), exact: Some(x) };
        let whole = fit(&line(x.to_vec()), &all, &[0.0, 1.0]).unwrap();
        for i in 0..x.len() {
            let (mut fewer, mut places) = (all.clone(), x.to_vec());
            fewer.remove(i);
            places.remove(i);
            let rest = fit(&line(places), &fewer, &[0.0, 1.0]).unwrap();
            let left = whole.left_out(i..i + 1);
            assert_close!(whole.chi_square - left.chi_square, rest.chi_square, absolute = 1e-10);
            assert_close!(left.chi_square, whole.studentised(i).unwrap().powi(2), relative = 1e-10);
        }
        let (pair, rest) = (whole.left_out(1..3), [0, 3, 4]);
        let rest = fit(&line(rest.map(|i| x[i]).to_vec()), &rest.map(|i| all[i]), &[0.0, 1.0]).unwrap();
        assert_close!(whole.chi_square - pair.chi_square, rest.chi_square, absolute = 1e-10);
        assert_eq!(pair.foretold, 2);
    }
}
