//! The JSON documents that commands print and that the notebook keeps. Full double precision, unrounded.

mod bench;
mod calibrate;
mod edge;
mod exposure;
mod films;
mod flash;
pub mod foreseen;
mod frame;
mod placing;
mod plan;
mod pocket;
mod records;
mod scale;
mod target;
mod test_roll;
mod uses;
pub mod verdict;

pub use self::exposure::ExposureDocument;
pub use self::target::TargetDocument;
pub use self::test_roll::TestRollDocument;
pub use self::verdict::VerdictDocument;
pub use bench::{BenchDocument, BenchFitDocument, BenchFormsDocument, BenchMeasuredDocument, FormDocument};
pub use calibrate::CalibrateDocument;
pub use edge::{ChannelDocument, Circumstances, EdgeDocument, Sizes, direction, on_curve};
pub use films::FilmsDocument;
pub use flash::FlashDocument;
pub use frame::{
    AlignmentDocument, Bounded, CSV_HEAD, CardDocument, ChannelFringingDocument, ContrastDocument, EvennessDocument,
    ExposedDocument, FrameDocument, FramesDocument, FringeAt, FringingDocument, GrainDocument, GreyDocument,
    LeftOutDocument, MappingDocument, Measured, PlaceDocument, PlacedEdge, RampDocument, RulerDocument,
    SharpnessDocument, SheetDocument, ZoneDocument,
};
pub use placing::{LaidDocument, PlacingDocument, PointsDocument};
pub use plan::PlanDocument;
pub use pocket::PocketDocument;
pub use records::{PaperDocument, SidecarDocument, SidecarsDocument, WrittenDocument};
pub use scale::{ScaleDocument, around_line};
#[cfg(test)]
pub(crate) use uses::tests::need;
pub use uses::{
    Asked, COMMON_PRACTICE, OWN_CHOICE, PrintDocument, RequirementDocument, Seen, Side, Terms, USE_VERSION,
    UnreadableUse, UseDocument,
};

use kit::{Reach, ReachedSetup, Report};
use optics::{Estimate, Figure};
use serde::Serialize;

/// What made a document: kept beside every measurement, so that it can be made again.
pub const MADE_BY: &str = concat!("closework ", env!("CARGO_PKG_VERSION"));

/// One document, ended by a line break.
pub fn to_json(document: &impl Serialize) -> Result<String, serde_json::Error> {
    Ok(serde_json::to_string_pretty(document)? + "\n")
}

/// A figure with the half-width of its 95 % interval: `null` where it is exact; both `null` where it is infinite.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Uncertain {
    value: Option<f64>,
    plus_minus: Option<f64>,
}

impl From<Option<Estimate>> for Uncertain {
    fn from(estimate: Option<Estimate>) -> Self {
        Self { value: estimate.map(|e| e.value), plus_minus: estimate.and_then(Estimate::half_width) }
    }
}

/// Two figures side by side.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct UncertainPair {
    value: Option<[f64; 2]>,
    plus_minus: Option<[f64; 2]>,
}

/// `setup --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetupDocument {
    magnification: Uncertain,
    ratio: Option<String>,
    field_mm: UncertainPair,
    subject_to_film_mm: Uncertain,
    working_distance_mm: Uncertain,
    extension_mm: Uncertain,
    effective_f_number: Uncertain,
    exposure_stops: Uncertain,
    depth_of_field_mm: Uncertain,
    depth_near_mm: Uncertain,
    depth_far_mm: Uncertain,
    airy_diameter_um: Uncertain,
    limited_by: String,
    lit_circle_mm: Option<f64>,
    image_circle_mm: Option<f64>,
    assumed: Vec<String>,
    calibrated: Vec<String>,
    /// Figures over whose doubt first order does not hold, with their 95 % interval by simulation.
    simulated: std::collections::BTreeMap<&'static str, IntervalDocument>,
    warnings: Vec<String>,
}

/// A 95 % interval as a simulation has it; an end is `null` where it is infinite.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
struct IntervalDocument {
    low: Option<f64>,
    high: Option<f64>,
    /// Share of the trials in which the figure was infinite or did not exist.
    missing_share: f64,
}

impl SetupDocument {
    /// The same with what a simulation says of the figures that first order does not hold for.
    pub fn with_simulated(mut self, checked: &[(Figure, optics::Checked)]) -> Self {
        for (figure, checked) in checked.iter().filter(|(_, checked)| !checked.first_order_holds()) {
            let finite = |end: f64| Some(end).filter(|end| end.is_finite());
            let (low, high) = checked.interval().map_or((None, None), |(low, high)| (finite(low), finite(high)));
            let open = checked.drawn.is_some_and(|drawn| drawn.is_open());
            let high = high.filter(|_| !open);
            self.simulated.insert(key(*figure), IntervalDocument { low, high, missing_share: checked.missing_share() });
        }
        self
    }
}

/// A figure's name in the document.
fn key(figure: Figure) -> &'static str {
    match figure {
        Figure::Magnification => "magnification",
        Figure::FieldWidth => "field_width_mm",
        Figure::FieldHeight => "field_height_mm",
        Figure::SubjectToFilm => "subject_to_film_mm",
        Figure::WorkingDistance => "working_distance_mm",
        Figure::Extension => "extension_mm",
        Figure::EffectiveFNumber => "effective_f_number",
        Figure::ExposureStops => "exposure_stops",
        Figure::DepthOfField => "depth_of_field_mm",
        Figure::DepthNear => "depth_near_mm",
        Figure::DepthFar => "depth_far_mm",
        Figure::AiryDiameter => "airy_diameter_um",
    }
}

impl From<&Report> for SetupDocument {
    fn from(report: &Report) -> Self {
        let figure = |figure| Uncertain::from(report.figures.get(figure));
        let m = report.figures.get(Figure::Magnification).map_or(0.0, |m| m.value);
        let sides = report.figures.get(Figure::FieldWidth).zip(report.figures.get(Figure::FieldHeight));
        Self {
            magnification: figure(Figure::Magnification),
            ratio: (m > 0.0).then(|| crate::web::fmt::ratio(m)),
            field_mm: UncertainPair {
                value: sides.map(|(width, height)| [width.value, height.value]),
                plus_minus: sides.map(|(width, height)| [width.plus_minus, height.plus_minus]),
            },
            subject_to_film_mm: figure(Figure::SubjectToFilm),
            working_distance_mm: figure(Figure::WorkingDistance),
            extension_mm: figure(Figure::Extension),
            effective_f_number: figure(Figure::EffectiveFNumber),
            exposure_stops: figure(Figure::ExposureStops),
            depth_of_field_mm: figure(Figure::DepthOfField),
            depth_near_mm: figure(Figure::DepthNear),
            depth_far_mm: figure(Figure::DepthFar),
            airy_diameter_um: figure(Figure::AiryDiameter),
            limited_by: report.limited_by.clone(),
            lit_circle_mm: report.lit_whole_mm.map(|radius| 2.0 * radius),
            image_circle_mm: report.image_circle_mm,
            assumed: report.assumed.clone(),
            calibrated: report.calibrated.clone(),
            simulated: std::collections::BTreeMap::new(),
            warnings: report.warnings.iter().map(ToString::to_string).collect(),
        }
    }
}

/// Two ends.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
struct Ends {
    min: f64,
    max: f64,
}

impl From<kit::Span> for Ends {
    fn from(span: kit::Span) -> Self {
        Self { min: span.min, max: span.max }
    }
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SettingDocument {
    parts: Vec<String>,
    focus: String,
    working_distance_mm: Option<f64>,
    exposure_stops: Option<f64>,
    extension_mm: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ReachedDocument {
    parts: Vec<String>,
    alternatives: Vec<Vec<String>>,
    ways: usize,
    obstacles: Vec<String>,
    magnification: Ends,
    exposure_stops: Ends,
    #[serde(skip_serializing_if = "Option::is_none")]
    at: Option<SettingDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct MissDocument {
    parts: Vec<String>,
    magnification: Ends,
    why: String,
}

/// `reach --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReachDocument {
    total: u64,
    ways: u64,
    setups: Vec<ReachedDocument>,
    misses: Vec<MissDocument>,
    missing_rings: Vec<MissingDocument>,
    limits: LimitsDocument,
    left_out: Vec<String>,
}

/// How many of a kind one set-up was allowed to hold.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
struct LimitsDocument {
    tubes: usize,
    bellows: usize,
    close_ups: usize,
    converters: usize,
    lenses: usize,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct MissingDocument {
    ring: String,
    parts: Vec<String>,
    magnification: Ends,
    remark: Option<&'static str>,
}

impl ReachDocument {
    /// The set-ups that were built; the total counts them all. What the limits on stacks keep off the list stands with the
    /// parts that are left out.
    pub fn of(reach: &Reach) -> Self {
        let misses = reach.misses.iter().map(|miss| MissDocument {
            parts: miss.parts.clone(),
            magnification: miss.magnification.into(),
            why: miss.why.clone(),
        });
        let missing = reach.missing.iter().map(|missing| MissingDocument {
            ring: missing.ring.clone(),
            parts: missing.parts.clone(),
            magnification: missing.magnification.into(),
            remark: missing.remark,
        });
        let kit::Limits { tubes, bellows, close_ups, converters, lenses } = reach.limits;
        Self {
            total: reach.total,
            ways: reach.ways,
            setups: reach.setups.iter().map(reached).collect(),
            misses: misses.collect(),
            missing_rings: missing.collect(),
            limits: LimitsDocument { tubes, bellows, close_ups, converters, lenses },
            left_out: reach.left_out.iter().chain(&reach.cut).cloned().collect(),
        }
    }
}

fn reached(setup: &ReachedSetup) -> ReachedDocument {
    let at = setup.setting.as_ref().map(|setting| SettingDocument {
        parts: setting.parts.clone(),
        focus: setting.focus.to_string(),
        working_distance_mm: setting.figures.get(Figure::WorkingDistance),
        exposure_stops: setting.figures.get(Figure::ExposureStops),
        extension_mm: setting.figures.get(Figure::Extension),
    });
    ReachedDocument {
        parts: setup.parts.clone(),
        alternatives: setup.alternatives.clone(),
        ways: setup.ways,
        obstacles: setup.obstacles.iter().map(ToString::to_string).collect(),
        magnification: setup.magnification.into(),
        exposure_stops: setup.stops.into(),
        at,
    }
}
