//! What calibration told: printed by `calibrate --json`.

use super::Uncertain;
use crate::calibrating::{LensFound, Marked, Origin, PowerFound, Told, Whole};
use calibration::{ChiSquare, Focused, FrameResidual, Outlier, Residual, Solution, Unknown};
use optics::{Estimate, Input};
use serde::Serialize;

/// `calibrate --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CalibrateDocument {
    lenses: Vec<LensDocument>,
    close_up_lenses: Vec<PowerDocument>,
    /// The half-widths that plain numbers got, as sentences.
    usual: Vec<String>,
    /// The file that the kit was saved to.
    #[serde(skip_serializing_if = "Option::is_none")]
    saved: Option<String>,
}

/// A calibrated figure beside the marked one.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct ToldDocument {
    value: Option<f64>,
    plus_minus: Option<f64>,
    /// The field of the kit that keeps it.
    field: &'static str,
    /// Without calibration; `null` where nothing is known.
    marked: Option<Uncertain>,
    /// "marked", "from the marks" or "assumed".
    marked_is: Option<&'static str>,
    /// Whether the marking tells it better.
    worse_than_marked: bool,
    /// Whether `--save` writes it.
    kept: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct LensDocument {
    id: String,
    focal_length_mm: Option<ToldDocument>,
    travel_mm: Option<ToldDocument>,
    principal_separation_mm: Option<ToldDocument>,
    pupil_ratio: Option<ToldDocument>,
    /// How far the lens stands forward of true infinity at its mark, when that was fitted.
    infinity_mark_offset_mm: Option<Uncertain>,
    fit: Option<FitDocument>,
    /// The fit with the outliers where `fit` is without them, or the other way round.
    other_fit: Option<FitDocument>,
    outliers: Vec<OutlierDocument>,
    outliers_left_out: bool,
    entrance_pupil: Option<Uncertain>,
    exit_pupil: Option<Uncertain>,
    worth: Option<WorthDocument>,
    remarks: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FitDocument {
    /// Every fitted figure, in the order of `covariance`.
    unknowns: Vec<UnknownDocument>,
    /// Squares of standard uncertainties on its diagonal; mm².
    covariance: Vec<Vec<f64>>,
    /// Half-width over standard uncertainty.
    coverage: f64,
    /// By how much the uncertainties were enlarged for the readings' scatter.
    inflation: f64,
    chi_square: ChiSquareDocument,
    frames: Vec<FrameDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct UnknownDocument {
    name: String,
    value: Option<f64>,
    plus_minus: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
struct ChiSquareDocument {
    value: f64,
    degrees: usize,
    probability: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FrameDocument {
    label: String,
    left_out: bool,
    extension_mm: Option<f64>,
    focus: Option<String>,
    magnification: Option<ResidualDocument>,
    subject_to_film_mm: Option<ResidualDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ResidualDocument {
    measured: Uncertain,
    fitted: f64,
    /// Measured less fitted.
    difference: f64,
    /// The difference in its own standard uncertainty; `null` where nothing else foretells the reading.
    studentised: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct OutlierDocument {
    label: String,
    /// From what the others foretell, in standard uncertainties of that difference.
    distance: f64,
    /// That the worst of as many good frames lies so far out.
    probability: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct WorthDocument {
    steps: Vec<StepDocument>,
    /// After so many frames each further one betters the focal length by less than a tenth.
    enough: Option<usize>,
    /// The very next frame that makes the focal length surest.
    tells_most: Option<String>,
}

/// Half-widths (95 %) to be expected with so many frames.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct StepDocument {
    frames: usize,
    added: String,
    to_take: bool,
    focal_length_plus_minus_mm: Option<f64>,
    travel_plus_minus_mm: Option<f64>,
    principal_separation_plus_minus_mm: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PowerDocument {
    id: String,
    lens: String,
    power_dpt: Option<ToldDocument>,
    chi_square: ChiSquareDocument,
    pairs: Vec<PairDocument>,
    remarks: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PairDocument {
    label: String,
    measured: f64,
    fitted: f64,
    difference: f64,
    studentised: Option<f64>,
}

impl CalibrateDocument {
    /// Everything that was told; `saved` names the file that the kit went to.
    pub fn of(whole: &Whole, saved: Option<String>) -> Self {
        Self {
            lenses: whole.lenses.iter().map(lens).collect(),
            close_up_lenses: whole.close_ups.iter().map(power).collect(),
            usual: whole.usual.clone(),
            saved,
        }
    }
}

fn uncertain(estimate: Estimate) -> Uncertain {
    Uncertain { value: Some(estimate.value), plus_minus: estimate.half_width() }
}

fn told(told: &Told) -> ToldDocument {
    ToldDocument {
        value: Some(told.found.value),
        plus_minus: told.found.half_width(),
        field: told.kept_as,
        marked: told.marked.map(|Marked { figure, .. }| uncertain(figure)),
        marked_is: told.marked.map(|marked| Origin::word(marked.origin)),
        worse_than_marked: told.worse(),
        kept: told.keeps(),
    }
}

fn chi_square(found: ChiSquare) -> ChiSquareDocument {
    ChiSquareDocument { value: found.value, degrees: found.degrees, probability: found.probability }
}

fn lens(found: &LensFound) -> LensDocument {
    let figure = |field: &str| found.told.iter().find(|told| told.field == field).map(told);
    let fit = found.fit.as_ref();
    LensDocument {
        id: found.id.clone(),
        focal_length_mm: figure("focal_length_mm"),
        travel_mm: figure("travel_mm"),
        principal_separation_mm: figure("principal_separation_mm"),
        pupil_ratio: figure("pupil_ratio"),
        infinity_mark_offset_mm: found.offset().map(uncertain),
        fit: fit.map(|fit| fit_of(found, &fit.solution)),
        other_fit: fit.and_then(|fit| fit.other.as_ref()).map(|other| fit_of(found, other)),
        outliers: fit.iter().flat_map(|fit| &fit.outliers).map(outlier).collect(),
        outliers_left_out: fit.is_some_and(|fit| fit.outliers_left_out),
        entrance_pupil: found.pupil.as_ref().map(|pupil| uncertain(pupil.entrance)),
        exit_pupil: found.pupil.as_ref().map(|pupil| uncertain(pupil.exit)),
        worth: worth(found),
        remarks: found.remarks(),
    }
}

fn outlier(outlier: &Outlier) -> OutlierDocument {
    OutlierDocument { label: outlier.id.clone(), distance: outlier.distance, probability: outlier.probability }
}

fn fit_of(found: &LensFound, solution: &Solution) -> FitDocument {
    let unknown = |unknown: &Unknown| {
        let estimate = solution.estimate(unknown);
        UnknownDocument {
            name: unknown.to_string(),
            value: estimate.map(|e| e.value),
            plus_minus: estimate.and_then(Estimate::half_width),
        }
    };
    FitDocument {
        unknowns: solution.unknowns.iter().map(unknown).collect(),
        covariance: solution.covariance.clone(),
        coverage: solution.coverage,
        inflation: solution.inflation,
        chi_square: chi_square(solution.chi_square),
        frames: solution.frames.iter().map(|row| frame(found, row)).collect(),
    }
}

fn residual(found: Residual, measured: Option<Input>) -> ResidualDocument {
    let plus_minus = measured.map(|input| input.plus_minus);
    ResidualDocument {
        measured: Uncertain { value: Some(found.measured), plus_minus },
        fitted: found.fitted,
        difference: found.difference,
        studentised: found.studentised,
    }
}

fn frame(found: &LensFound, row: &FrameResidual) -> FrameDocument {
    let taken = found.frames.iter().find(|frame| frame.id == row.id);
    let focus = taken.map(|frame| match frame.focused {
        Focused::AtInfinityMark => "infinity".to_owned(),
        Focused::AtClosestMark => "closest".to_owned(),
        Focused::Travel(travel) => format!("travel={}", travel.value),
    });
    FrameDocument {
        label: row.id.clone(),
        left_out: row.left_out,
        extension_mm: taken.map(calibration::Frame::extension_mm),
        focus,
        magnification: row.magnification.map(|m| residual(m, taken.map(|frame| frame.magnification))),
        subject_to_film_mm: row.distance.map(|d| residual(d, taken.and_then(|frame| frame.distance))),
    }
}

fn worth(found: &LensFound) -> Option<WorthDocument> {
    let worth = found.worth.as_ref()?;
    let steps = worth.steps.iter().map(|step| StepDocument {
        frames: step.frames,
        added: step.added.clone(),
        to_take: step.to_take,
        focal_length_plus_minus_mm: step.focal_length,
        travel_plus_minus_mm: step.travel,
        principal_separation_plus_minus_mm: step.separation,
    });
    Some(WorthDocument { steps: steps.collect(), enough: found.enough(), tells_most: worth.tells_most.clone() })
}

fn power(found: &PowerFound) -> PowerDocument {
    let pair = |(label, residual): &(String, Residual)| PairDocument {
        label: label.clone(),
        measured: residual.measured,
        fitted: residual.fitted,
        difference: residual.difference,
        studentised: residual.studentised,
    };
    PowerDocument {
        id: found.id.clone(),
        lens: found.lens.clone(),
        power_dpt: found.told.first().map(told),
        chi_square: chi_square(found.fit.chi_square),
        pairs: found.fit.pairs.iter().map(pair).collect(),
        remarks: found.fit.remarks.iter().map(ToString::to_string).collect(),
    }
}
