//! Several rays side by side in one register, with arithmetic that reads like arithmetic.

use pulp::Simd;
use std::ops::{Add, BitAnd, BitOr, Div, Mul, Sub};

/// As many numbers as the processor takes at a time.
#[derive(Clone, Copy)]
pub(crate) struct Lanes<S: Simd> {
    pub(crate) simd: S,
    pub(crate) value: S::f64s,
}

/// A yes or no for every lane.
#[derive(Clone, Copy)]
pub(crate) struct Mask<S: Simd> {
    simd: S,
    value: S::m64s,
}

macro_rules! operator {
    ($trait:ident, $name:ident, $with:ident) => {
        impl<S: Simd> $trait for Lanes<S> {
            type Output = Self;
            #[inline(always)]
            fn $name(self, other: Self) -> Self {
                Self { simd: self.simd, value: self.simd.$with(self.value, other.value) }
            }
        }
    };
}
operator!(Add, add, add_f64s);
operator!(Sub, sub, sub_f64s);
operator!(Mul, mul, mul_f64s);
operator!(Div, div, div_f64s);

impl<S: Simd> Lanes<S> {
    /// The same number in every lane.
    #[inline(always)]
    pub(crate) fn all(simd: S, value: f64) -> Self {
        Self { simd, value: simd.splat_f64s(value) }
    }

    /// self · factor + summand, in one rounding where the processor can.
    #[inline(always)]
    pub(crate) fn times_plus(self, factor: Self, summand: Self) -> Self {
        Self { simd: self.simd, value: self.simd.mul_add_e_f64s(self.value, factor.value, summand.value) }
    }

    /// minuend − self · factor.
    #[inline(always)]
    pub(crate) fn times_from(self, factor: Self, minuend: Self) -> Self {
        Self { simd: self.simd, value: self.simd.negate_mul_add_e_f64s(self.value, factor.value, minuend.value) }
    }

    #[inline(always)]
    pub(crate) fn square(self) -> Self {
        self * self
    }

    #[inline(always)]
    pub(crate) fn sqrt(self) -> Self {
        Self { simd: self.simd, value: self.simd.sqrt_f64s(self.value) }
    }

    #[inline(always)]
    pub(crate) fn abs(self) -> Self {
        Self { simd: self.simd, value: self.simd.abs_f64s(self.value) }
    }

    #[inline(always)]
    pub(crate) fn max(self, other: Self) -> Self {
        Self { simd: self.simd, value: self.simd.max_f64s(self.value, other.value) }
    }

    #[inline(always)]
    pub(crate) fn min(self, other: Self) -> Self {
        Self { simd: self.simd, value: self.simd.min_f64s(self.value, other.value) }
    }

    /// Where `self` lies above `other`; NaN lies nowhere.
    #[inline(always)]
    pub(crate) fn above(self, other: Self) -> Mask<S> {
        Mask { simd: self.simd, value: self.simd.greater_than_f64s(self.value, other.value) }
    }

    /// Where `self` lies at or above `other`; NaN lies nowhere.
    #[inline(always)]
    pub(crate) fn at_least(self, other: Self) -> Mask<S> {
        Mask { simd: self.simd, value: self.simd.greater_than_or_equal_f64s(self.value, other.value) }
    }
}

impl<S: Simd> Mask<S> {
    /// `yes` where the mask is set, `no` elsewhere.
    #[inline(always)]
    pub(crate) fn choose(self, yes: Lanes<S>, no: Lanes<S>) -> Lanes<S> {
        Lanes { simd: self.simd, value: self.simd.select_f64s(self.value, yes.value, no.value) }
    }

    #[inline(always)]
    pub(crate) fn not(self) -> Self {
        Self { simd: self.simd, value: self.simd.not_m64s(self.value) }
    }

    /// Whether any lane is set.
    #[inline(always)]
    pub(crate) fn any(self) -> bool {
        self.simd.first_true_m64s(self.value) < S::F64_LANES
    }
}

impl<S: Simd> BitAnd for Mask<S> {
    type Output = Self;
    #[inline(always)]
    fn bitand(self, other: Self) -> Self {
        Self { simd: self.simd, value: self.simd.and_m64s(self.value, other.value) }
    }
}

impl<S: Simd> BitOr for Mask<S> {
    type Output = Self;
    #[inline(always)]
    fn bitor(self, other: Self) -> Self {
        Self { simd: self.simd, value: self.simd.or_m64s(self.value, other.value) }
    }
}
