//! A flat subject at an angle: what it costs in depth, and how tilting gets it sharp without stopping down.

use crate::brief::{FRAME_MM, MAGNIFICATION, OutOfRange, within};

/// Angles that have a tangent to speak of, degrees.
const TILT_DEG: std::ops::RangeInclusive<f64> = 0.0..=85.0;
/// Focal lengths of camera lenses, mm.
const FOCAL_MM: std::ops::RangeInclusive<f64> = 1.0..=5000.0;

/// A flat subject that does not face the camera squarely.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TiltedSubject {
    /// The depth to be held by stopping down when nothing is tilted, mm: ((w/m)·tan ψ over the image's width w).
    pub depth_mm: f64,
    /// By how much film and lens must be out of parallel in the other way instead, degrees: the angle of the sharp image to
    /// the plane across the axis, tan ψ' = m·tan ψ (Scheimpflug's rule for a thin lens, closed form). Then the whole of it is
    /// sharp at any f-number.
    pub image_tilt_deg: f64,
}

/// What a flat subject tilted by `tilt_deg` (degrees from facing the camera squarely) asks for, its image `image_width_mm`
/// wide on film, square to the tilt's hinge.
pub fn tilted_subject(image_width_mm: f64, magnification: f64, tilt_deg: f64) -> Result<TiltedSubject, OutOfRange> {
    within("the image's width", image_width_mm, 0.1..=*FRAME_MM.end(), "mm")?;
    within("the magnification", magnification, MAGNIFICATION, "")?;
    within("the subject's tilt", tilt_deg, TILT_DEG, "°")?;
    let slope = tilt_deg.to_radians().tan();
    Ok(TiltedSubject {
        depth_mm: image_width_mm / magnification * slope,
        image_tilt_deg: (magnification * slope).atan().to_degrees(),
    })
}

/// By how much a flat subject may be out of parallel with the film, degrees, until `depth_mm` in all no longer holds it over
/// an image `image_width_mm` wide, square to the hinge: the inverse of [`tilted_subject`]'s depth, ψ = atan(depth·m/w).
pub fn tilt_held_deg(image_width_mm: f64, magnification: f64, depth_mm: f64) -> Result<f64, OutOfRange> {
    within("the image's width", image_width_mm, 0.1..=*FRAME_MM.end(), "mm")?;
    within("the magnification", magnification, MAGNIFICATION, "")?;
    within("the depth", depth_mm, 0.0..=1e9, "mm")?;
    Ok((depth_mm * magnification / image_width_mm).atan().to_degrees())
}

/// How far from the lens, mm, the hinge lies that the sharp plane turns about when the lens is tilted by `tilt_deg` against
/// the film, measured in the film's direction: J = f/sin α (Merklinger, *Focusing the View Camera*, from memory).
pub fn hinge_distance_mm(focal_mm: f64, tilt_deg: f64) -> Result<f64, OutOfRange> {
    within("the focal length", focal_mm, FOCAL_MM, "mm")?;
    within("the lens's tilt", tilt_deg, 0.01..=*TILT_DEG.end(), "°")?;
    Ok(focal_mm / tilt_deg.to_radians().sin())
}

/// The tilt of the lens against the film, degrees, that puts the hinge `distance_mm` from the lens: the inverse of
/// [`hinge_distance_mm`]. No tilt brings it nearer than the focal length.
pub fn hinge_tilt_deg(focal_mm: f64, distance_mm: f64) -> Result<f64, OutOfRange> {
    within("the focal length", focal_mm, FOCAL_MM, "mm")?;
    within("the hinge's distance", distance_mm, focal_mm..=1e9, "mm")?;
    Ok((focal_mm / distance_mm).asin().to_degrees())
}
