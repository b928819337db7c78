//! A photographic lens known only by its markings.

use crate::{Element, Real, Stop};

/// A lens as a Gaussian black box, normal way round, focused at infinity on the register it was built for.
///
/// With P the pupil ratio, the pupils are conjugate at magnification P, which alone places them: the entrance pupil
/// lies f(1/P − 1) from H and the exit pupil f(1 − P) from H', both positive toward the film (Ray, *Applied
/// Photographic Optics*, and Greivenkamp, *Field Guide to Geometrical Optics*, both from memory; checked in the tests
/// against a traced patent lens).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BlackBox<T> {
    /// Focal length f, mm.
    pub focal_length: T,
    /// Distance from H to H', mm, positive when H lies nearer the subject.
    pub separation: T,
    /// Exit pupil diameter over entrance pupil diameter, P.
    pub pupil_ratio: T,
    /// Engraved f-number in use, N: the entrance pupil is f/N wide.
    pub f_number: T,
    /// Mount seat to front rim, mm.
    pub length: T,
    /// Mount seat to film for which the lens was built, mm.
    pub register: T,
}

/// A lens in its place: element, stop and ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed<T> {
    /// The refracting part.
    pub element: Element<T>,
    /// Its iris, as `element` counted from the film.
    pub stop: Stop<T>,
    /// The end that faces the subject, mm in front of the film.
    pub front: T,
}

impl<T: Real> BlackBox<T> {
    /// The lens with its seat `seat` mm in front of the film and its glass moved `travel` mm forward of the infinity
    /// mark; `index` is its place among the train's elements, counted from the film.
    pub fn seated(&self, seat: T, travel: T, index: usize) -> Placed<T> {
        let one = T::exact(1.0);
        // f + (seat − R) rather than seat − (R − f): at the lens's own register this is f to the last bit.
        let back = self.focal_length + (seat - self.register) + travel;
        Placed {
            element: Element { power: one / self.focal_length, front: back + self.separation, back },
            stop: Stop {
                element: index,
                position: back - self.focal_length * (one - self.pupil_ratio),
                diameter: self.pupil_ratio * self.focal_length / self.f_number,
            },
            front: seat + self.length + travel,
        }
    }

    /// The lens turned round with its front rim `rim` mm in front of the film. Travel moves the seat, not the glass:
    /// the glass hangs from the rim.
    pub fn reversed(&self, rim: T, travel: T, index: usize) -> Placed<T> {
        let one = T::exact(1.0);
        // Rim to H: the lens's length, plus seat to H' (R − f, toward the film that was), less H to H'.
        let back = rim + self.length + self.register - self.focal_length - self.separation;
        Placed {
            element: Element { power: one / self.focal_length, front: back + self.separation, back },
            stop: Stop {
                element: index,
                position: back + self.focal_length * (one / self.pupil_ratio - one),
                diameter: self.focal_length / self.f_number,
            },
            front: rim + self.length + travel,
        }
    }
}

/// A teleconverter as a thin negative lens, from its factor k, its length L and the register R it was built for.
///
/// It turns a picture R behind its front face into one R behind its rear face, k times as large, which alone fixes its
/// place d behind the front face and its power: with s = R − d and s' = R + L − d, s'/s = k gives d = R − L/(k − 1),
/// and the power is 1/s' − 1/s. The equivalent thin lens may lie outside the barrel (d above L, or below 0).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Converter<T> {
    /// Picture with it over picture without.
    pub factor: T,
    /// Mount face to mount face, mm.
    pub length: T,
    /// Mount seat to film for which it was built, mm.
    pub register: T,
}

/// Why figures make no teleconverter.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ConverterError {
    /// A factor of 1 or less.
    #[error("a converter's factor must be above 1, not {0}")]
    Factor(f64),
    /// The lens would have to lie behind the picture that it enlarges.
    #[error(
        "with factor {factor}, length {length_mm} mm and register {register_mm} mm its glass would lie {behind_mm:.1} mm behind the picture that it enlarges"
    )]
    NoPicture {
        /// Factor.
        factor: f64,
        /// mm.
        length_mm: f64,
        /// mm.
        register_mm: f64,
        /// mm.
        behind_mm: f64,
    },
}

impl<T: Real> Converter<T> {
    /// The element with the converter's rear face `rear` mm in front of the film.
    pub fn seated(&self, rear: T) -> Result<Element<T>, ConverterError> {
        let one = T::exact(1.0);
        let [factor, length_mm, register_mm] = [self.factor, self.length, self.register].map(Real::value);
        if factor.is_nan() || factor <= 1.0 {
            return Err(ConverterError::Factor(factor));
        }
        // The picture without it lies s = L/(k − 1) behind the glass.
        let behind = self.length / (self.factor - one);
        if behind.value().is_nan() || behind.value() <= 0.0 {
            return Err(ConverterError::NoPicture { factor, length_mm, register_mm, behind_mm: -behind.value() });
        }
        let depth = self.register - behind;
        let power = one / (behind + self.length) - one / behind;
        let at = rear + self.length - depth;
        Ok(Element { power, front: at, back: at })
    }
}

/// Why a close-focus mark cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "a subject {distance_mm} mm from the film is nearer than any lens of that focal length can focus ({least_mm:.1} mm)"
)]
pub struct CloseRangeError {
    /// The distance asked for, mm.
    pub distance_mm: f64,
    /// The least possible one, 4f + t, mm.
    pub least_mm: f64,
}

/// The focal length that a close-focus distance and the magnification there imply for a lens that keeps its length:
/// f = (D − t)/(2 + m + 1/m), the closed form of [`magnification_at_distance`] solved for f.
pub fn focal_length_from_marks<T: Real>(distance: T, magnification: T, separation: T) -> T {
    let sum = T::exact(2.0) + magnification + T::exact(1.0) / magnification;
    (distance - separation) / sum
}

/// The magnification at which a unit-focusing lens has the subject `distance` mm from the film: the smaller root of
/// distance = f(2 + m + 1/m) + t (Jacobson, *Photographic Lenses FAQ*, 1995, Q4-Q5, with the principal separation
/// added).
pub fn magnification_at_distance<T: Real>(distance: T, focal_length: T, separation: T) -> Result<T, CloseRangeError> {
    let two = T::exact(2.0);
    let sum = (distance - separation) / focal_length - two;
    if sum.value().is_nan() || sum.value() < 2.0 {
        let least_mm = 4.0 * focal_length.value() + separation.value();
        return Err(CloseRangeError { distance_mm: distance.value(), least_mm });
    }
    // 2/(k + √(k² − 4)) is the smaller root (k − √(k² − 4))/2 without its cancellation at small m.
    Ok(two / (sum + (sum * sum - T::exact(4.0)).sqrt()))
}

/// The principal separation that a close-focus distance and the magnification there imply together: a small difference
/// of large numbers, so its uncertainty is large.
pub fn separation_from_marks<T: Real>(distance: T, focal_length: T, magnification: T) -> T {
    distance - focal_length * (T::exact(2.0) + magnification + T::exact(1.0) / magnification)
}
