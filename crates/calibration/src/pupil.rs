//! The pupil ratio from photographs of the lens itself.

use crate::error::CalibrationError;
use crate::fit::ChiSquare;
use crate::frame::{any_sign, positive, positive_or_exact};
use optics::{Estimate, Input, propagate};
use std::convert::Infallible;

/// Pupil ratios that lenses have, with much to spare: a strong telephoto has some 0.4, a strong retrofocus some 2.5
/// (common practice, no source).
pub const PUPIL_RATIOS: [f64; 2] = [0.1, 10.0];

/// Where the ruler lay, as seen from the camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Perspective {
    /// Camera (its entrance pupil) to the ruler's plane, or to whatever plane the scale holds for, mm.
    pub distance: Input,
    /// From that plane to the pupil, mm; positive when the pupil lies farther from the camera, as it does behind a rim.
    pub depth: Input,
}

/// A photograph of the stopped-down lens from one end: a bright disc.
#[derive(Debug, Clone, PartialEq)]
pub struct PupilPhoto {
    /// Its name.
    pub id: String,
    /// Diameter of the disc, pixels.
    pub diameter_px: Input,
    /// Pixels per mm from a ruler in the picture; `None` when all photographs were taken by the same camera from the
    /// same distance.
    pub scale_px_per_mm: Option<Input>,
    /// For a ruler that lay in another plane than the pupil: (d + depth)/d larger than it measures.
    pub perspective: Option<Perspective>,
}

/// From which end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The front: the entrance pupil.
    Front,
    /// The back: the exit pupil.
    Back,
}

impl std::fmt::Display for End {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Front => "the front",
            Self::Back => "the back",
        })
    }
}

/// A reservation about a pupil ratio.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PupilRemark {
    /// One photograph from that end: nothing would show a slip.
    #[error("there is one photograph from {0}, so nothing would show a slip")]
    OnePhotograph(End),
    /// The photographs from that end differ beyond their uncertainties; the interval was enlarged.
    #[error("the photographs from {end} differ by more than their uncertainties allow: the interval was enlarged")]
    PhotographsDisagree {
        /// From which end.
        end: End,
        /// How well they agree.
        chi_square: ChiSquare,
    },
    /// Not all photographs say where the ruler lay: each hundredth of the camera's distance between ruler and pupil is
    /// an error of one per cent that the interval does not hold.
    #[error(
        "not all photographs say how far the pupil lies from the ruler's plane: each hundredth of the camera's distance is an error of one per cent that the interval does not hold"
    )]
    NoPerspective,
    /// No scales: that all were taken from the same distance is taken on trust.
    #[error("no photograph has a scale: that all were taken by one camera from one distance is taken on trust")]
    SameDistanceAssumed,
}

/// A pupil ratio.
#[derive(Debug, Clone, PartialEq)]
pub struct PupilRatio {
    /// Exit pupil over entrance pupil, P.
    pub ratio: Estimate,
    /// Entrance pupil at the stop photographed, mm (pixels when no scale was given).
    pub entrance: Estimate,
    /// Exit pupil at the stop photographed, mm (pixels when no scale was given).
    pub exit: Estimate,
    /// Reservations.
    pub remarks: Vec<PupilRemark>,
}

/// The pupil ratio P = exit/entrance from photographs of the lens from the front and from the back, one or more of
/// each, at one and the same stop.
///
/// Seen from afar, the bright disc in a stopped-down lens is the image of its iris through the glass on the viewer's
/// side: from the front the entrance pupil, from the back the exit pupil, by definition. Several photographs of one end
/// are averaged by their uncertainties; where chi-square says that they differ beyond these, the interval is enlarged
/// as in [`crate::calibrate_lens`].
pub fn pupil_ratio(front: &[PupilPhoto], back: &[PupilPhoto]) -> Result<PupilRatio, CalibrationError> {
    let both = || front.iter().chain(back);
    if front.is_empty() || back.is_empty() {
        return Err(CalibrationError::NoFrames);
    }
    for photo in both() {
        check(photo)?;
    }
    let scaled = both().filter(|photo| photo.scale_px_per_mm.is_some()).count();
    if scaled != 0 && scaled != front.len() + back.len() {
        return Err(CalibrationError::ScalesMixed);
    }
    let mut remarks = Vec::new();
    if scaled == 0 {
        remarks.push(PupilRemark::SameDistanceAssumed);
    }
    if both().any(|photo| photo.perspective.is_none()) {
        remarks.push(PupilRemark::NoPerspective);
    }
    let entrance = mean(front, End::Front, &mut remarks);
    let exit = mean(back, End::Back, &mut remarks);
    let value = exit.value / entrance.value;
    let [least, most] = PUPIL_RATIOS;
    if !(least..=most).contains(&value) {
        return Err(CalibrationError::PupilRatio { ratio: value, least, most });
    }
    let share = (exit.plus_minus / exit.value).hypot(entrance.plus_minus / entrance.value);
    Ok(PupilRatio { ratio: Estimate { value, plus_minus: value * share }, entrance, exit, remarks })
}

fn check(photo: &PupilPhoto) -> Result<(), CalibrationError> {
    positive(&photo.id, "diameter", photo.diameter_px)?;
    if let Some(scale) = photo.scale_px_per_mm {
        positive_or_exact(&photo.id, "scale", scale)?;
    }
    if let Some(Perspective { distance, depth }) = photo.perspective {
        positive_or_exact(&photo.id, "distance of the camera", distance)?;
        any_sign(&photo.id, "depth of the pupil", depth)?;
        let value = distance.value + depth.value;
        if value <= 0.0 {
            let place = photo.id.clone();
            return Err(CalibrationError::NotPositive { place, what: "distance from camera to pupil", value });
        }
    }
    Ok(())
}

/// The disc's diameter: pixels over scale, times (d + depth)/d (similar triangles at the camera's pupil).
fn diameter(photo: &PupilPhoto) -> Estimate {
    let exact = |value| Input { value, plus_minus: 0.0 };
    let scale = photo.scale_px_per_mm.unwrap_or(exact(1.0));
    let Perspective { distance, depth } =
        photo.perspective.unwrap_or(Perspective { distance: exact(1.0), depth: exact(0.0) });
    let inputs = [photo.diameter_px, scale, distance, depth];
    let Ok(results) = propagate(&inputs, |x| {
        let diameter = x[0] / x[1] * ((x[2] + x[3]) / x[2]);
        Ok::<_, Infallible>(vec![Some(diameter)])
    });
    results[0].unwrap_or(Estimate::exact(f64::NAN))
}

/// The weighted mean of one end's photographs.
fn mean(photos: &[PupilPhoto], end: End, remarks: &mut Vec<PupilRemark>) -> Estimate {
    let diameters: Vec<Estimate> = photos.iter().map(diameter).collect();
    let weight = |d: &Estimate| (optics::COVERAGE_95 / d.plus_minus).powi(2);
    let weights: f64 = diameters.iter().map(weight).sum();
    let value = diameters.iter().map(|d| d.value * weight(d)).sum::<f64>() / weights;
    let sum = diameters.iter().map(|d| (d.value - value).powi(2) * weight(d)).sum();
    let chi_square = ChiSquare::new(sum, photos.len() - 1);
    if photos.len() == 1 {
        remarks.push(PupilRemark::OnePhotograph(end));
    }
    if !chi_square.consistent() {
        remarks.push(PupilRemark::PhotographsDisagree { end, chi_square });
    }
    Estimate { value, plus_minus: chi_square.spread().half_width(1.0 / weights) }
}
