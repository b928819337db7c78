//! Readings and settings that cannot be.

use crate::question::{Question, Reading};
use optics::Estimate;

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ExposureError {
    /// A figure that must be above zero is not.
    #[error("{what} must be {rule}, not {}", plain(*.found))]
    OutOfRange {
        /// Which.
        what: &'static str,
        /// What it must be.
        rule: &'static str,
        /// What it was.
        found: f64,
    },
    /// A time that no exposure has.
    #[error("{what} of {} would make an exposure of {} s, which cannot be; check it", plain(*.found), plain(*.time_s))]
    Absurd {
        /// The figure that does most to make it so.
        what: &'static str,
        /// What it is.
        found: f64,
        /// The time that would follow, s; it may be infinite.
        time_s: f64,
    },
}

/// Figures of ordinary size as they are, others by powers of ten: nobody counts three hundred zeros.
pub(crate) fn plain(found: f64) -> String {
    if found == 0.0 || !found.is_finite() || (1e-6..1e9).contains(&found.abs()) {
        found.to_string()
    } else {
        format!("{found:e}")
    }
}

/// What a hand-held meter can say, s (common practice, no source: a microsecond to eleven days).
const METERED_S: std::ops::RangeInclusive<f64> = 1e-6..=1e6;

/// The densest stack of filters, stops: two welder's glasses and more (common practice, no source).
const MOST_FILTER_STOPS: f64 = 40.0;

/// Farther from middle grey no film shows anything (common practice, no source: five stops either way, and some room).
const MOST_PLACED_STOPS: f64 = 8.0;

/// The exposures that there are, s: the shortest flash to thirty years.
const TIMES_S: std::ops::RangeInclusive<f64> = 1e-9..=1e9;

const METERED_TIME: &str = "the metered time in seconds";

pub(crate) fn check(question: &Question<'_>) -> Result<(), ExposureError> {
    let positive = [
        (METERED_TIME, question.metered_s),
        ("the metered f-number", question.metered_f_number),
        ("the f-number", question.f_number),
    ];
    if let Some((what, found)) = positive.into_iter().find(|(_, x)| !(x.is_finite() && *x > 0.0)) {
        return Err(ExposureError::OutOfRange { what, rule: "above 0", found });
    }
    within(METERED_TIME, "from 0.000001 to 1000000", question.metered_s, METERED_S)?;
    check_reading(question)?;
    let lost = question.extension_stops;
    if !(lost.value.is_finite() && lost.plus_minus.is_finite()) {
        let (what, rule) = ("the light that the set-up loses, in stops,", "a finite number");
        return Err(ExposureError::OutOfRange { what, rule, found: lost.value });
    }
    let (filters, rule) = ("the light that filters take, in stops,", "0 or more and at most 40");
    within(filters, rule, question.filter_stops.value, 0.0..=MOST_FILTER_STOPS)?;
    within(filters, rule, question.filter_stops.plus_minus, 0.0..=MOST_FILTER_STOPS)
}

fn check_reading(question: &Question<'_>) -> Result<(), ExposureError> {
    match question.reading {
        Reading::Incident => {}
        Reading::Spot { placed_stops } => {
            let what = "the place of the spot, in stops from middle grey,";
            within(what, "from -8 to 8", placed_stops, -MOST_PLACED_STOPS..=MOST_PLACED_STOPS)?;
        }
        Reading::Card { reflectance } => {
            let what = "the share of the light that the card reflects";
            within(what, "from 0.01 to 1 (18 % is 0.18)", reflectance, 0.01..=1.0)?;
        }
    }
    within("the doubt of the reading, in stops,", "from 0 to 5", question.reading_doubt_stops, 0.0..=5.0)
}

fn within(
    what: &'static str,
    rule: &'static str,
    found: f64,
    range: std::ops::RangeInclusive<f64>,
) -> Result<(), ExposureError> {
    if range.contains(&found) { Ok(()) } else { Err(ExposureError::OutOfRange { what, rule, found }) }
}

/// Figures that are possible each by itself can make an impossible time together: the one that does most is named.
pub(crate) fn check_time(question: &Question<'_>, time_s: Estimate) -> Result<(), ExposureError> {
    if TIMES_S.contains(&time_s.value) && time_s.plus_minus.is_finite() {
        return Ok(());
    }
    let aperture_stops = 2.0 * (question.f_number / question.metered_f_number).log2();
    let (extension, filters) = (question.extension_stops.value, question.filter_stops.value);
    let shares = [
        (METERED_TIME, question.metered_s, question.metered_s.log2()),
        ("an f-number", question.f_number, aperture_stops),
        ("a loss in the set-up, in stops,", extension, extension),
        ("a loss in filters, in stops,", filters, filters),
    ];
    // Toward the side on which the time is wrong.
    let side = if time_s.value < *TIMES_S.start() { -1.0 } else { 1.0 };
    let most = shares.into_iter().max_by(|p, q| (side * p.2).total_cmp(&(side * q.2)));
    let (what, found) = most.map_or((METERED_TIME, question.metered_s), |(what, found, _)| (what, found));
    Err(ExposureError::Absurd { what, found, time_s: time_s.value })
}
