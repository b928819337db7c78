//! What is known before the exposure.

use film::Film;
use optics::Estimate;

/// How the meter was held.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Reading {
    /// At the subject, toward the camera: the light that falls on it.
    #[default]
    Incident,
    /// At one spot of the subject, which is to come out so many stops brighter (or, below 0, darker) than middle grey.
    Spot {
        /// Stops from middle grey.
        placed_stops: f64,
    },
    /// At a card that reflects this share of the light; the meter makes it middle grey, 18 %.
    Card {
        /// 0.18 for a grey card, about 0.9 for white paper.
        reflectance: f64,
    },
}

/// What middle grey reflects, by convention (18 %).
pub(crate) const MIDDLE_GREY: f64 = 0.18;

impl Reading {
    /// Light to give besides what the meter says, stops: placed stops as they are, a card's log₂(reflectance/18 %).
    pub fn stops(self) -> f64 {
        match self {
            Self::Incident => 0.0,
            Self::Spot { placed_stops } => placed_stops,
            Self::Card { reflectance } => (reflectance / MIDDLE_GREY).log2(),
        }
    }
}

/// What is known before the exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Question<'a> {
    /// What the meter says at [`Self::metered_f_number`], s.
    pub metered_s: f64,
    /// The f-number that the meter was set to.
    pub metered_f_number: f64,
    /// How it was held.
    pub reading: Reading,
    /// Half-width (95 %) of the reading, stops; 0 when it is taken as it stands.
    pub reading_doubt_stops: f64,
    /// The f-number engraved on the lens that is in use.
    pub f_number: f64,
    /// All the light that the set-up loses against the engraved f-number, stops.
    pub extension_stops: Estimate,
    /// Light that all filters together take, stops.
    pub filter_stops: Estimate,
    /// The film, when it is known.
    pub film: Option<&'a Film>,
    /// The speeds that the shutter has, s; empty when unknown.
    pub shutter_s: &'a [f64],
    /// Whether the shutter can be held open.
    pub bulb: bool,
}
