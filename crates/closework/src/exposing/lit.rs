//! Flash on a set-up.

use super::{Filters, FiltersError, Taken, lost};
use exposure::{Flash, FlashAnswer, FlashError, Power};
use kit::{ChosenFilm, Report, Setup, Shutter};

/// Which speeds a flash may be used at.
#[derive(Debug, Clone, PartialEq)]
pub enum Sync {
    /// A leaf shutter in this lens: all.
    Leaf(String),
    /// The body's shutter: none shorter than this, s; with those that it has.
    Longest(f64, Vec<f64>),
    /// The kit does not say.
    Unknown,
}

/// Which speeds a flash may be used at on a set-up.
pub fn sync(setup: &Setup<'_>) -> Sync {
    match setup.shutter() {
        Shutter::Lens(lens) => Sync::Leaf(lens.name().to_owned()),
        _ => setup.body().number("flash_sync_s").map_or(Sync::Unknown, |shortest| {
            let kept = setup.shutter_s().into_iter().filter(|speed| *speed >= shortest * 0.999);
            Sync::Longest(shortest, kept.collect())
        }),
    }
}

impl Sync {
    /// In a sentence.
    pub fn words(&self) -> String {
        use crate::web::fmt::shutter;
        match self {
            Self::Leaf(lens) => format!("the leaf shutter of {lens} fires flash at all its speeds"),
            Self::Longest(shortest, _) => {
                format!("the body fires flash at {} and longer: at shorter times only part of the frame is open", shutter(*shortest))
            }
            Self::Unknown => {
                "the kit does not say at which speeds this body fires flash: set the one that is marked on it, or a longer one".into()
            }
        }
    }
}

/// Flash, as a person says it.
#[derive(Debug, Clone, PartialEq)]
pub struct Lit {
    /// The light.
    pub power: Power,
    /// The film's speed; the film's own when `None`.
    pub iso: Option<f64>,
    /// The film.
    pub film: Option<ChosenFilm>,
    /// What stands in front of the lens.
    pub filters: Filters,
    /// How long the flash burns, s.
    pub burns_s: Option<f64>,
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum LitError {
    /// A figure that cannot be.
    #[error("{0}")]
    Flash(#[from] FlashError),
    /// A filter that cannot be.
    #[error("{0}")]
    Filters(#[from] FiltersError),
    /// Nobody says how fast the film is.
    #[error("the film's speed is needed: give it as on the box{}", .0.as_ref().map_or(String::new(), |film| format!(" (for {film} none is published here)")))]
    NoSpeed(Option<String>),
}

impl Lit {
    /// What to set on a set-up.
    pub fn answer(&self, setup: &Setup<'_>, report: &Report) -> Result<(FlashAnswer, Taken), LitError> {
        let filters = self.filters.taken(self.film.as_ref())?;
        let film = self.film.as_ref().map(|chosen| &chosen.film);
        let iso = self.iso.or(film.and_then(|film| film.speed));
        let flash = Flash {
            power: self.power.clone(),
            iso: iso.ok_or_else(|| LitError::NoSpeed(film.map(|film| film.name.clone())))?,
            extension_stops: lost(report),
            filter_stops: filters.stops,
            burns_s: self.burns_s,
            film,
            f_number: setup.numbers().f_number,
        };
        Ok((flash.answer()?, filters))
    }
}

/// Where the right f-number lies beyond the stops that the lens has: what to do.
pub fn beyond_the_iris(setup: &Setup<'_>, found: &FlashAnswer) -> Option<String> {
    let (lens, right) = (setup.lens(), found.f_number.value);
    let named = |n: f64| crate::web::fmt::figure(n, 2);
    let smallest = lens.number("min_aperture").filter(|smallest| right > smallest * BETWEEN_STOPS);
    let widest = lens.number("max_aperture").filter(|widest| right * BETWEEN_STOPS < *widest);
    match (smallest, widest) {
        (Some(stop), _) => Some(format!(
            "f/{} is more than {} can be stopped down to (f/{stop}): take the flash farther away, turn its power down, or put a grey filter in front of the lens",
            named(right),
            lens.name()
        )),
        (None, Some(stop)) => Some(format!(
            "f/{} is wider than {} opens (f/{stop}): bring the flash nearer, give more power, or flash several times with the shutter held open",
            named(right),
            lens.name()
        )),
        (None, None) => None,
    }
}

/// An iris is set between its marks by a sixth of a stop either way.
const BETWEEN_STOPS: f64 = 1.06;
