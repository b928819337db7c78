//! The law of propagation of uncertainty.

use crate::Dual;

/// Half-width of the 95 % interval over the standard uncertainty, for a normal distribution (JCGM 100:2008, table G.1).
pub const COVERAGE_95: f64 = 1.959_963_984_540_054;

/// An input figure and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// The figure.
    pub value: f64,
    /// Half-width of its 95 % interval; 0 when exact.
    pub plus_minus: f64,
}

/// A result and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Half-width of its 95 % interval; 0 when exact.
    pub plus_minus: f64,
}

impl Estimate {
    /// A figure without any uncertainty.
    pub fn exact(value: f64) -> Self {
        Self { value, plus_minus: 0.0 }
    }

    /// The half-width, or `None` when the figure is exact.
    pub fn half_width(self) -> Option<f64> {
        (self.plus_minus > 0.0).then_some(self.plus_minus)
    }
}

/// Results of `compute` with their uncertainties, by the law of propagation for independent inputs (JCGM 100:2008,
/// 5.1.2, first order), the derivatives taken by automatic differentiation through `compute` itself, one input a pass.
///
/// `compute` must give as many results, in the same order, whatever the slopes; a result may be missing (infinite).
/// Whether first order is good enough is another question: [`crate::propagate_checked`] asks it.
pub fn propagate<E>(
    inputs: &[Input],
    compute: impl FnMut(&[Dual]) -> Result<Vec<Option<Dual>>, E>,
) -> Result<Vec<Option<Estimate>>, E> {
    propagate_row(inputs, compute)
}

/// As [`propagate`], for a `compute` that gives any kind of row: one of fixed length (`[Option<Dual>; 12]`) saves an
/// allocation a pass.
pub fn propagate_row<R: AsRef<[Option<Dual>]>, E>(
    inputs: &[Input],
    compute: impl FnMut(&[Dual]) -> Result<R, E>,
) -> Result<Vec<Option<Estimate>>, E> {
    let mut squares = Vec::new();
    let plain = each_slope(inputs, compute, |half_width, row| {
        squares.resize(row.len(), 0.0);
        for (square, result) in squares.iter_mut().zip(row) {
            *square += result.map_or(0.0, |dual| (dual.slope * half_width).powi(2));
        }
    })?;
    let plain = plain.as_ref();
    squares.resize(plain.len(), 0.0);
    let estimate = |(result, square): (&Option<Dual>, f64)| {
        result.map(|dual| Estimate { value: dual.value, plus_minus: square.sqrt() })
    };
    Ok(plain.iter().zip(squares).map(estimate).collect())
}

/// The results at the inputs' best estimates; `each` is told, for every uncertain input in turn, its half-width and the
/// results with their slopes by it.
pub(crate) fn each_slope<R: AsRef<[Option<Dual>]>, E>(
    inputs: &[Input],
    mut compute: impl FnMut(&[Dual]) -> Result<R, E>,
    mut each: impl FnMut(f64, &[Option<Dual>]),
) -> Result<R, E> {
    let mut numbers: Vec<Dual> = inputs.iter().map(|input| Dual { value: input.value, slope: 0.0 }).collect();
    let plain = compute(&numbers)?;
    for (index, input) in inputs.iter().enumerate().filter(|(_, input)| input.plus_minus > 0.0) {
        numbers[index].slope = 1.0;
        each(input.plus_minus, compute(&numbers)?.as_ref());
        numbers[index].slope = 0.0;
    }
    Ok(plain)
}
