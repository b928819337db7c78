//! Films and their laws in words, and everything that is warned of.

use super::Exposed;
use crate::web::fmt;
use film::{By, Form, Law, Row};
use kit::ChosenFilm;

/// "HP5 Plus (ILFORD): HARMAN technology, …, from a copy of the maker's sheet".
pub fn words_of_film(chosen: &ChosenFilm) -> String {
    let film = &chosen.film;
    match film.law() {
        None => format!("{}: nothing is known of its loss", film.full_name()),
        Some(law) if law.source.by == By::Own => format!("{}: {}", film.full_name(), law.source.words()),
        Some(law) => format!("{}: {}, {}", film.full_name(), law.source.words(), law.source.standing()),
    }
}

/// A law as a formula or as what its table holds.
pub fn law_words(law: &Law) -> String {
    match &law.form {
        Form::Power { exponent, from_s } => {
            format!(
                "given time = metered time to the power {exponent}, in seconds, above {from_s} s; as metered up to there"
            )
        }
        Form::Added { factor, exponent } => {
            format!("given time = metered time + {factor} × metered time to the power {exponent}, in seconds")
        }
        Form::Table(table) => {
            let begins = table.no_loss_to_s().map_or(String::new(), |s| {
                format!("; from no loss at {} (most films, by {})", fmt::shutter(s), film::shipped().general.words())
            });
            format!("a table, read along straight lines between the logarithms of its times{begins}")
        }
    }
}

/// A line of a table: "open up 1/2, or 15 s".
pub fn row_words(row: &Row) -> String {
    let stops = row.stops.as_ref();
    match (stops, row.time_s) {
        (_, Some(time)) if time <= row.metered_s => "none".into(),
        (Some(stops), None) if stops.value == 0.0 => "none".into(),
        (Some(stops), Some(time)) => format!("open up {stops}, or give {}", fmt::shutter(time)),
        (Some(stops), None) => format!("open up {stops}"),
        (None, Some(time)) => format!("give {}", fmt::shutter(time)),
        (None, None) => String::new(),
    }
}

impl Exposed {
    /// Everything that is warned of, one sentence each.
    pub fn warnings(&self, film: Option<&ChosenFilm>) -> Vec<String> {
        let shadows = film.filter(|chosen| chosen.shadows).map(|chosen| {
            format!("film \"{}\" of the kit stands in the place of the published one of that id", chosen.film.id)
        });
        let smeared = self.moved.filter(|(swept, _)| swept.short_of_stops.is_some_and(|stops| stops > 0.0));
        let smear = smeared.map(|(swept, allowed)| {
            format!(
                "the movement smears {} µm on film, more than the {} µm allowed: it takes {} at most, {} stops more light, or flash",
                fmt::figure(swept.smear_um.value, 2),
                fmt::figure(allowed, 2),
                swept.slowest_s.map(fmt::shutter).unwrap_or_default(),
                fmt::figure(swept.short_of_stops.unwrap_or(0.0), 2)
            )
        });
        let remarks = self.answer.remarks.iter().map(ToString::to_string);
        shadows
            .into_iter()
            .chain(remarks)
            .chain(self.filters.remarks.iter().cloned())
            .chain(smear)
            .chain(self.shake.map(|shake| shake.to_string()))
            .chain(self.open_doubt())
            .collect()
    }

    /// What a bracket of too few frames leaves open.
    fn open_doubt(&self) -> Option<String> {
        let (dark, bright) = self.bracket.uncovered_stops;
        let open = |stops: f64, side: &str| (stops > 0.05).then(|| format!("{} stops {side}", fmt::figure(stops, 1)));
        let sides: Vec<_> = [open(dark, "too dark"), open(bright, "too bright")].into_iter().flatten().collect();
        (!sides.is_empty()).then(|| {
            format!("with these frames the best one may still lie {} beyond what the film forgives", sides.join(" or "))
        })
    }
}
