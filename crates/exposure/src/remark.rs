//! What to know before pressing the release.

use film::Where;

/// Whether the film forgives the difference between what is set and what is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Forgiven {
    /// Over the whole doubt.
    Yes,
    /// Over part of the doubt.
    Perhaps,
    /// Not at all.
    No,
}

/// Something to know before pressing the release.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Remark {
    /// Long exposures lose more than the meter says.
    #[error(
        "most films lose speed in exposures longer than about a second, and no film is named here: name it, look at its data sheet, or bracket toward more light"
    )]
    LongExposure,
    /// The film has no figures at all.
    #[error("nothing is known of what {0} loses in long exposures: test it, or bracket toward more light")]
    NoLaw(String),
    /// The time lies outside the range that the film's figures cover.
    #[error("{film}: {} for {} s, so test it; this is the best estimate{}", place_words(.place), round(*.metered_s), .others.map_or(String::new(), |(least, most)| format!(" (films with figures for it lose {} to {} stops)", round(least), round(most))))]
    TestIt {
        /// The film.
        film: String,
        /// The metered time with everything but the film's loss, s.
        metered_s: f64,
        /// Which end is passed.
        place: Where,
        /// What other films lose there, the least and the most, stops.
        others: Option<(f64, f64)>,
    },
    /// Two sources disagree about the film.
    #[error("{used} and {other} disagree: the other gives {} s, {} stops {}; {used} is counted, and nothing is averaged", round(*.other_s), round(.stops.abs()), if *.stops > 0.0 { "more" } else { "less" })]
    LawsDisagree {
        /// The source that is used.
        used: String,
        /// The other.
        other: String,
        /// What the other gives, s.
        other_s: f64,
        /// Against the one that is used, stops.
        stops: f64,
    },
    /// A time made from stops alone.
    #[error(
        "the figures of {0} are stops to open up; the time is the one that makes up for its own loss by them, which is not published"
    )]
    TimeFromStops(String),
    /// A larger stop saves more than more time.
    #[error("the film's own loss is {} stops here: a larger stop or more light saves it (Kodak E-31, July 2002, p. 1, advises so)", round(*.0))]
    OpenUp(f64),
    /// The nearest speed is far off.
    #[error("the nearest speed is {} stops {}: {}", round(.stops.abs()), if *.stops > 0.0 { "too long" } else { "too short" }, if *.bulb { "use B and count, or another f-number" } else { "use another f-number or a filter" })]
    FarOff {
        /// Positive is too much light.
        stops: f64,
        /// Whether the shutter can be held open.
        bulb: bool,
    },
    /// How a grey card is held.
    #[error(
        "a grey card is turned halfway between lamp and camera, without a glint on it, and read from where its shadow does not fall (common practice, no source)"
    )]
    HoldTheCard,
}

pub(crate) fn round(stops: f64) -> String {
    if stops.abs() >= 99.5 { format!("{stops:.0}") } else { format!("{stops:.1}") }
}

fn place_words(place: &Where) -> String {
    match place {
        Where::Inside => "there are figures".into(),
        Where::Before(end) => format!("its figures begin at {end} s and say nothing"),
        Where::Beyond(end) => format!("its figures end at {end} s and say nothing"),
    }
}
