//! Two-by-two ray-transfer matrices.

use crate::Real;

/// How a paraxial ray changes: it takes (height above the axis in mm, angle) on the subject's side to the same pair on
/// the film's side.
///
/// ```text
///   | height' |   | a  b | | height |
///   | angle'  | = | c  d | | angle  |
/// ```
///
/// Angles are slopes in air (the refractive index is 1 at both ends), so the determinant is 1. Greivenkamp, *Field
/// Guide to Geometrical Optics* (SPIE, 2004), "Gaussian imagery"; some books write the pair the other way round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RayMatrix<T> {
    /// Height from height: the lateral magnification between conjugate planes.
    pub a: T,
    /// Height from angle, mm: zero between conjugate planes.
    pub b: T,
    /// Angle from height, 1/mm: minus the power.
    pub c: T,
    /// Angle from angle: the angular magnification between conjugate planes.
    pub d: T,
}

impl<T: Real> RayMatrix<T> {
    /// Nothing at all.
    pub fn identity() -> Self {
        let (one, zero) = (T::exact(1.0), T::exact(0.0));
        Self { a: one, b: zero, c: zero, d: one }
    }

    /// A free path of `length` mm.
    pub fn path(length: T) -> Self {
        Self { b: length, ..Self::identity() }
    }

    /// Refraction of a thin lens, or from a lens's first principal plane to its second; `power` in 1/mm.
    pub fn refraction(power: T) -> Self {
        Self { c: -power, ..Self::identity() }
    }

    /// This matrix after `earlier`, which the light meets first: the product `self · earlier`.
    pub fn after(self, earlier: Self) -> Self {
        Self {
            a: self.a * earlier.a + self.b * earlier.c,
            b: self.a * earlier.b + self.b * earlier.d,
            c: self.c * earlier.a + self.d * earlier.c,
            d: self.c * earlier.b + self.d * earlier.d,
        }
    }

    /// The way back from the film's side to the subject's: the inverse, which exists because the determinant is 1.
    pub fn undone(self) -> Self {
        Self { a: self.d, b: -self.b, c: -self.c, d: self.a }
    }

    /// The same part turned round, so that light enters where it left.
    pub fn reversed(self) -> Self {
        Self { a: self.d, d: self.a, ..self }
    }

    /// a·d − b·c, which is 1 in air.
    pub fn determinant(self) -> T {
        self.a * self.d - self.b * self.c
    }
}
