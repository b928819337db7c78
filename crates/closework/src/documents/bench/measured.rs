//! `bench measured --json` and `bench fit --json`

use crate::bench::{Fit, MeasuredFrame, not_yours};
use serde::Serialize;

/// `bench measured --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchMeasuredDocument {
    frames: Vec<FrameBeside>,
    note: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FrameBeside {
    frame: i64,
    job: i64,
    name: String,
    parts: Vec<String>,
    focus: String,
    f_number: Option<f64>,
    /// Root mean square difference as a share of the middle's contrast; null where nothing can be compared.
    off_by: Option<f64>,
    /// Why it could not be predicted; null where it was.
    refused: Option<String>,
    places: Vec<PlaceBeside>,
    shares: Vec<ShareBeside>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PlaceBeside {
    zone: String,
    /// "both", "sagittal" or "tangential".
    way: &'static str,
    film_mm: f64,
    /// The scan's with the half-width of its 95 % interval, and the lens's alone by rays.
    contrast: Vec<PointBeside>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PointBeside {
    cycles_per_mm: f64,
    measured: f64,
    plus_minus: f64,
    predicted: Option<f64>,
}

/// As shares of the middle's contrast.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct ShareBeside {
    zone: String,
    way: &'static str,
    cycles_per_mm: f64,
    measured: f64,
    plus_minus: f64,
    predicted: f64,
}

impl FrameBeside {
    fn of(frame: &MeasuredFrame, refused: Option<String>) -> Self {
        let place = |place: &crate::bench::MeasuredPlace| PlaceBeside {
            zone: place.zone.clone(),
            way: place.way.word(),
            film_mm: place.film_mm,
            contrast: place
                .points
                .iter()
                .map(|point| PointBeside {
                    cycles_per_mm: point.cycles_per_mm,
                    measured: point.measured,
                    plus_minus: point.plus_minus,
                    predicted: point.predicted,
                })
                .collect(),
        };
        let share = |share: crate::bench::Share| ShareBeside {
            way: share.way.word(),
            zone: share.zone,
            cycles_per_mm: share.cycles_per_mm,
            measured: share.measured,
            plus_minus: share.plus_minus,
            predicted: share.predicted,
        };
        Self {
            frame: frame.id.0,
            job: frame.job.0,
            name: frame.name.clone(),
            parts: frame.request.parts.clone(),
            focus: frame.request.focus.to_string(),
            f_number: frame.request.f_number,
            off_by: frame.off_by(),
            refused,
            places: frame.places.iter().map(place).collect(),
            shares: frame.shares().into_iter().map(share).collect(),
        }
    }
}

impl BenchMeasuredDocument {
    /// Frames, each with its prediction or why there is none.
    pub fn of(told: &[(MeasuredFrame, Result<MeasuredFrame, String>)], note: String) -> Self {
        let frame = |(measured, predicted): &(MeasuredFrame, Result<MeasuredFrame, String>)| match predicted {
            Ok(predicted) => FrameBeside::of(predicted, None),
            Err(why) => FrameBeside::of(measured, Some(why.clone())),
        };
        Self { frames: told.iter().map(frame).collect(), note }
    }
}

/// `bench fit --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BenchFitDocument {
    lens: String,
    /// The best first.
    forms: Vec<FitDocument>,
    note: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FitDocument {
    form: String,
    name: String,
    /// Whether it is a lens table of the kit and no form of the library.
    own: bool,
    /// Root mean square difference as a share of the middle's contrast.
    off_by: Option<f64>,
    refused: Option<String>,
    chosen: bool,
}

impl BenchFitDocument {
    /// Forms in that order.
    pub fn of(lens: &str, fits: &[Fit]) -> Self {
        let one = |fit: &Fit| FitDocument {
            form: fit.design.key().into(),
            name: fit.design.name().into(),
            own: fit.design.own().is_some(),
            off_by: fit.off_by.as_ref().ok().copied(),
            refused: fit.off_by.as_ref().err().cloned(),
            chosen: fit.chosen,
        };
        let note = not_yours(fits.iter().map(|fit| &fit.design));
        Self { lens: lens.into(), forms: fits.iter().map(one).collect(), note }
    }
}
