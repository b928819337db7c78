//! The scalar that all computing here is generic over.

use std::ops::{Add, Div, Mul, Neg, Sub};

/// A real number that optics can be computed in: a plain `f64`, or a [`Dual`] that carries a derivative.
pub trait Real:
    Copy
    + std::fmt::Debug
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
{
    /// A number known exactly.
    fn exact(value: f64) -> Self;
    /// The number itself, for comparing and deciding.
    fn value(self) -> f64;
    /// Square root; NaN below zero, so check first.
    fn sqrt(self) -> Self;
    /// Logarithm to base 2; NaN below zero, so check first.
    fn log2(self) -> Self;

    /// Distance from zero.
    fn abs(self) -> Self {
        if self.value() < 0.0 { -self } else { self }
    }
}

impl Real for f64 {
    fn exact(value: f64) -> Self {
        value
    }
    fn value(self) -> f64 {
        self
    }
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    fn log2(self) -> Self {
        f64::log2(self)
    }
}

/// A number with its derivative by one chosen input (forward-mode automatic differentiation).
///
/// One input at a time keeps the type small and `Copy`; a set-up has some fifteen inputs and one pass costs well under
/// a microsecond, so that a gradient of fixed width would gain nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dual {
    /// The number.
    pub value: f64,
    /// Its derivative by the chosen input.
    pub slope: f64,
}

impl Dual {
    /// The chosen input itself: its derivative is 1.
    pub fn chosen(value: f64) -> Self {
        Self { value, slope: 1.0 }
    }
}

impl Add for Dual {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { value: self.value + other.value, slope: self.slope + other.slope }
    }
}

impl Sub for Dual {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { value: self.value - other.value, slope: self.slope - other.slope }
    }
}

impl Mul for Dual {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self { value: self.value * other.value, slope: self.slope * other.value + self.value * other.slope }
    }
}

impl Div for Dual {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let value = self.value / other.value;
        Self { value, slope: (self.slope - value * other.slope) / other.value }
    }
}

impl Neg for Dual {
    type Output = Self;
    fn neg(self) -> Self {
        Self { value: -self.value, slope: -self.slope }
    }
}

impl Real for Dual {
    fn exact(value: f64) -> Self {
        Self { value, slope: 0.0 }
    }
    fn value(self) -> f64 {
        self.value
    }
    fn sqrt(self) -> Self {
        let value = self.value.sqrt();
        Self { value, slope: self.slope / (2.0 * value) }
    }
    fn log2(self) -> Self {
        Self { value: self.value.log2(), slope: self.slope / (self.value * std::f64::consts::LN_2) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    /// Every operation at once; its derivative by hand is in the test.
    fn mixed<T: Real>(x: T) -> T {
        (x * x + T::exact(3.0)).sqrt() / x.log2() - (-x).abs()
    }

    #[test]
    fn slopes_agree_with_the_derivative_taken_by_hand() {
        let x: f64 = 2.5;
        let (root, log) = ((x * x + 3.0).sqrt(), x.log2());
        let expected = (x / root * log - root / (x * std::f64::consts::LN_2)) / (log * log) - 1.0;
        let got = mixed(Dual::chosen(x));
        assert_close!(got.slope, expected, relative = 1e-14);
        assert_close!(got.value, mixed(x), relative = 0.0);
    }

    #[test]
    fn exact_numbers_have_no_slope() {
        assert_close!(mixed(Dual::exact(2.5)).slope, 0.0, absolute = 0.0);
    }
}
