//! From what a person says to an exposure and back: what the command line and the pages have in common.

mod filters;
mod lit;
mod words;

pub use filters::{Filters, FiltersError, Line as FilterLine, Taken};
pub use lit::{Lit, LitError, Sync, beyond_the_iris, sync};
pub use words::{law_words, row_words, words_of_film};

use exposure::{
    Answer, Bracket, ExposureError, Mirror, Movement, Question, Reading, Shake, Swept, bracket, expose, shake,
};
use kit::{ChosenFilm, Kind, Report, Setup, Shutter};
use optics::{Estimate, Figure};

/// What a person says of an exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The meter's reading, s.
    pub metered_s: f64,
    /// The f-number that it was set to; the one in use when `None`.
    pub metered_f_number: Option<f64>,
    /// How it was held.
    pub reading: Reading,
    /// Half-width of the reading, stops; 0 when it is taken as it stands.
    pub reading_doubt_stops: f64,
    /// What stands in front of the lens.
    pub filters: Filters,
    /// The film.
    pub film: Option<ChosenFilm>,
    /// Frames that a bracket may take; `None` for as many as it needs.
    pub frames: Option<usize>,
    /// How fast the subject or the camera moves, mm/s.
    pub moving_mm_s: Option<f64>,
    /// What may be smeared on film, µm; the disc that counts as sharp when `None`.
    pub blur_um: Option<f64>,
}

/// Everything that is said of an exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Exposed {
    /// The f-number that the meter was set to.
    pub metered_f_number: f64,
    /// The f-number in use.
    pub f_number: f64,
    /// Whether the shutter can be held open.
    pub bulb: bool,
    /// The exposure.
    pub answer: Answer,
    /// The filters, one by one.
    pub filters: Taken,
    /// The frames to take.
    pub bracket: Bracket,
    /// What moves, when a speed was given: with what may be smeared, µm.
    pub moved: Option<(Swept, f64)>,
    /// The slowest speed that the shutter has and that keeps within it, s.
    pub slowest_set_s: Option<f64>,
    /// Shake of the camera's own making.
    pub shake: Option<Shake>,
    /// Of what the light is lost in.
    pub losses: Vec<String>,
}

/// Why there is no exposure.
#[derive(Debug, thiserror::Error)]
pub enum ExposingError {
    /// A figure that cannot be.
    #[error("{0}")]
    Exposure(#[from] ExposureError),
    /// A filter that cannot be.
    #[error("{0}")]
    Filters(#[from] FiltersError),
}

/// The exposure of a set-up.
pub fn exposed(setup: &Setup<'_>, report: &Report, asked: &Asked) -> Result<Exposed, ExposingError> {
    let filters = asked.filters.taken(asked.film.as_ref())?;
    let speeds = setup.shutter_s();
    let f_number = setup.numbers().f_number;
    let question = Question {
        metered_s: asked.metered_s,
        metered_f_number: asked.metered_f_number.unwrap_or(f_number),
        reading: asked.reading,
        reading_doubt_stops: asked.reading_doubt_stops,
        f_number,
        extension_stops: lost(report),
        filter_stops: filters.stops,
        film: asked.film.as_ref().map(|chosen| &chosen.film),
        shutter_s: &speeds,
        bulb: setup.has_bulb(),
    };
    let answer = expose(&question)?;
    let bracket = bracket(&question, &answer, asked.frames.unwrap_or(usize::MAX));
    let time_s = answer.set_s.filter(|_| !far_off(&answer)).unwrap_or(answer.time_s.value);
    let moved = moved(setup, report, asked, time_s);
    let slowest_set_s = moved.and_then(|(swept, _)| {
        let kept = |speed: &f64| swept.slowest_s.is_some_and(|slowest| *speed <= slowest * (1.0 + 1e-9));
        speeds.iter().copied().filter(kept).max_by(f64::total_cmp)
    });
    Ok(Exposed {
        metered_f_number: question.metered_f_number,
        f_number,
        bulb: question.bulb,
        filters,
        bracket,
        moved,
        slowest_set_s,
        shake: shake(time_s, mirror(setup), matches!(setup.shutter(), Shutter::Lens(_))),
        losses: losses(setup),
        answer,
    })
}

/// All the light that a set-up loses, stops.
pub fn lost(report: &Report) -> Estimate {
    report.figures.get(Figure::ExposureStops).unwrap_or(Estimate::exact(0.0))
}

/// Whether no speed comes near, so that the time is counted on B.
pub fn far_off(answer: &Answer) -> bool {
    answer.remarks.iter().any(|remark| matches!(remark, exposure::Remark::FarOff { .. }))
}

fn moved(setup: &Setup<'_>, report: &Report, asked: &Asked, time_s: f64) -> Option<(Swept, f64)> {
    let magnification = report.figures.get(Figure::Magnification).unwrap_or(Estimate::exact(0.0));
    let allowed_um = asked.blur_um.unwrap_or(setup.coc_mm() * 1000.0);
    let movement = Movement { magnification, time_s, speed_mm_s: asked.moving_mm_s?, allowed_um };
    Some((movement.swept()?, allowed_um))
}

fn mirror(setup: &Setup<'_>) -> Mirror {
    match setup.body().words("mirror") {
        Some("yes") => Mirror::Swings,
        Some(_) => Mirror::None,
        None => Mirror::Unknown,
    }
}

/// What of the set-up loses light, and what does not though one might think so.
fn losses(setup: &Setup<'_>) -> Vec<String> {
    let of = |kind: Kind| setup.choices().iter().filter_map(|c| c.part()).filter(move |part| part.kind() == kind);
    let mut words = Vec::new();
    for converter in of(Kind::Teleconverter) {
        let factor = converter.number("factor").unwrap_or(1.0);
        let stops = crate::web::fmt::figure(2.0 * factor.log2(), 3);
        words.push(format!("{} takes {stops} stops of it: its factor of {factor}, squared", converter.name()));
    }
    for close_up in of(Kind::CloseUpLens) {
        words.push(format!(
            "{} takes no light: it brings the subject nearer without extending the lens; what is lost is lost to the lens's own extension",
            close_up.name()
        ));
    }
    let (ratio, lens) = (setup.lens().number("pupil_ratio"), setup.lens());
    words.push(match ratio {
        Some(ratio) => format!("the pupil ratio of {} ({ratio}) is counted", lens.name()),
        None if lens.number("calibrated_pupil_ratio").is_some() => {
            format!("the calibrated pupil ratio of {} is counted", lens.name())
        }
        None => format!("the pupil ratio of {} is not known and assumed to be 1, with doubt", lens.name()),
    });
    words
}
