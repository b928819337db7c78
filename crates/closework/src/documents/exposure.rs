//! `exposure --json`

use super::Uncertain;
use crate::exposing::{Exposed, Taken};
use ::exposure::{Bracket, Forgiven, OtherLaw, Reading, Stage, Swept};
use film::Where;
use kit::ChosenFilm;
use optics::Estimate;
use serde::Serialize;

/// `exposure --json`
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ExposureDocument {
    metered_s: f64,
    reading: ReadingDocument,
    aperture_stops: Uncertain,
    extension_stops: Uncertain,
    filter_stops: Uncertain,
    filters: Vec<FilterDocument>,
    /// The time before the film's loss.
    needed_s: Uncertain,
    reciprocity_stops: Uncertain,
    film: Option<FilmDocument>,
    time_s: Uncertain,
    set_s: Option<f64>,
    set_error_stops: Uncertain,
    /// The same as the film sees it.
    delivered_error_stops: Uncertain,
    forgiven: Option<&'static str>,
    steps: Vec<StepDocument>,
    bracket: BracketDocument,
    movement: Option<MovementDocument>,
    warnings: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ReadingDocument {
    kind: &'static str,
    stops: Uncertain,
}

/// One filter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct FilterDocument {
    name: String,
    stops: Uncertain,
    printed_factor: Option<f64>,
    printed_stops: Option<String>,
    source: Option<String>,
}

/// The film, and the source that is counted.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct FilmDocument {
    id: String,
    name: String,
    of_kit: bool,
    source: Option<String>,
    standing: Option<&'static str>,
    range: Option<&'static str>,
    /// What to open up by instead, the time left as it was, where the source says so.
    open_stops: Option<f64>,
    others: Vec<OtherDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct OtherDocument {
    source: String,
    standing: &'static str,
    range: &'static str,
    time_s: f64,
    /// Against the source that is counted.
    stops: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct StepDocument {
    step: &'static str,
    stops: Uncertain,
    time_s: Uncertain,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct BracketDocument {
    frames: Vec<FrameDocument>,
    /// What the film forgives, too little and too much light.
    forgives_stops: [f64; 2],
    /// How far the best estimate may come out too dark and too bright.
    doubt_stops: [f64; 2],
    uncovered_stops: [f64; 2],
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct FrameDocument {
    stops: f64,
    time_s: f64,
    set_s: Option<f64>,
    set_stops: Option<f64>,
    f_number: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct MovementDocument {
    um_per_mm_s: Uncertain,
    smear_um: Uncertain,
    allowed_um: f64,
    slowest_s: Option<f64>,
    slowest_set_s: Option<f64>,
}

/// The word for a stage.
pub fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Meter => "meter",
        Stage::Reading => "reading",
        Stage::Aperture => "aperture",
        Stage::Extension => "extension",
        Stage::Filters => "filters",
        Stage::Film => "film",
    }
}

fn range(place: Where) -> &'static str {
    match place {
        Where::Inside => "inside",
        Where::Before(_) => "before",
        Where::Beyond(_) => "beyond",
    }
}

fn uncertain(estimate: Estimate) -> Uncertain {
    Some(estimate).into()
}

pub(super) fn filters(taken: &Taken) -> Vec<FilterDocument> {
    let of = |line: &crate::exposing::FilterLine| FilterDocument {
        name: line.name.clone(),
        stops: uncertain(line.stops),
        printed_factor: line.factor,
        printed_stops: line.printed.clone(),
        source: line.source.clone(),
    };
    taken.lines.iter().map(of).collect()
}

impl ExposureDocument {
    /// The answer with its warnings in words.
    pub fn of(exposed: &Exposed, reading: Reading, film: Option<&ChosenFilm>, warnings: Vec<String>) -> Self {
        let answer = &exposed.answer;
        let step = |step: &::exposure::Step| StepDocument {
            step: stage(step.stage),
            stops: uncertain(step.stops),
            time_s: uncertain(step.time_s),
        };
        Self {
            metered_s: answer.metered_s,
            reading: ReadingDocument { kind: kind(reading), stops: uncertain(answer.reading_stops) },
            aperture_stops: uncertain(Estimate::exact(answer.aperture_stops)),
            extension_stops: uncertain(answer.extension_stops),
            filter_stops: uncertain(answer.filter_stops),
            filters: filters(&exposed.filters),
            needed_s: uncertain(answer.needed_s),
            reciprocity_stops: uncertain(answer.reciprocity_stops),
            film: film.map(|chosen| FilmDocument::of(chosen, exposed)),
            time_s: uncertain(answer.time_s),
            set_s: answer.set_s,
            set_error_stops: answer.set_error_stops.into(),
            delivered_error_stops: answer.delivered_error_stops.into(),
            forgiven: answer.forgiven.map(forgiven),
            steps: answer.steps.iter().map(step).collect(),
            bracket: (&exposed.bracket).into(),
            movement: exposed.moved.map(|moved| movement(moved, exposed.slowest_set_s)),
            warnings,
        }
    }
}

fn kind(reading: Reading) -> &'static str {
    match reading {
        Reading::Incident => "incident",
        Reading::Spot { .. } => "spot",
        Reading::Card { .. } => "card",
    }
}

fn forgiven(forgiven: Forgiven) -> &'static str {
    match forgiven {
        Forgiven::Yes => "yes",
        Forgiven::Perhaps => "perhaps",
        Forgiven::No => "no",
    }
}

impl FilmDocument {
    fn of(chosen: &ChosenFilm, exposed: &Exposed) -> Self {
        let law = chosen.film.law();
        let other = |other: &OtherLaw| OtherDocument {
            source: other.source.clone(),
            standing: other.standing,
            range: range(other.place),
            time_s: other.time_s,
            stops: other.stops,
        };
        Self {
            id: chosen.film.id.clone(),
            name: chosen.film.name.clone(),
            of_kit: chosen.of_kit,
            source: law.map(|law| law.source.words()),
            standing: law.map(|law| law.source.standing()),
            range: exposed.answer.given.map(|given| range(given.place)),
            open_stops: exposed.answer.given.and_then(|given| given.open_stops),
            others: exposed.answer.others.iter().map(other).collect(),
        }
    }
}

impl From<&Bracket> for BracketDocument {
    fn from(bracket: &Bracket) -> Self {
        let frame = |frame: &::exposure::Frame| FrameDocument {
            stops: frame.stops,
            time_s: frame.time_s,
            set_s: frame.set_s,
            set_stops: frame.set_stops,
            f_number: frame.f_number,
        };
        Self {
            frames: bracket.frames.iter().map(frame).collect(),
            forgives_stops: [bracket.latitude.under, bracket.latitude.over],
            doubt_stops: bracket.doubt_stops.into(),
            uncovered_stops: bracket.uncovered_stops.into(),
        }
    }
}

fn movement((swept, allowed_um): (Swept, f64), slowest_set_s: Option<f64>) -> MovementDocument {
    MovementDocument {
        um_per_mm_s: uncertain(swept.um_per_mm_s),
        smear_um: uncertain(swept.smear_um),
        allowed_um,
        slowest_s: swept.slowest_s,
        slowest_set_s,
    }
}
