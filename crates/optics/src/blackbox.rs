//! A photographic lens known only by its markings.

use crate::{Element, Real, Stop};

/// A lens as a Gaussian black box, normal way round, focused at infinity on the register it was built for.
///
/// With P the pupil ratio, the pupils are conjugate at magnification P, which alone places them: the entrance pupil
/// lies f(1/P − 1) from H and the exit pupil f(1 − P) from H', both positive toward the film (Ray, *Applied Photographic
/// Optics*, and Greivenkamp, *Field Guide to Geometrical Optics*, both from memory; checked in the tests against a traced
/// patent lens).
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

/// The magnification at which a unit-focusing lens has the subject `distance` mm from the film: the smaller root of
/// distance = f(2 + m + 1/m) + t (Jacobson, *Photographic Lenses FAQ*, 1995, Q4-Q5, with the principal separation added).
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
