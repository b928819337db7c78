//! What a use asks for, as the notebook keeps it.

use serde::{Deserialize, Serialize};
use verdict::enough::{Bound, Limit, Quantity, Requirement, Source};

/// The version that this program writes. Another one is refused by name instead of being half understood.
pub const USE_VERSION: u32 = 1;

/// The requirements of a use: the text in the notebook's `uses`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UseDocument {
    /// [`USE_VERSION`] when it was written.
    pub version: u32,
    /// What is asked for, all at once.
    pub requirements: Vec<RequirementDocument>,
}

/// One limit. Figures on film hold at the size that the job wants: a frame taken smaller is judged at the same structure of the subject.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RequirementDocument {
    /// Of what.
    pub quantity: Asked,
    /// The share of contrast (0 to 1) of a resolution; the fineness (line pairs per mm on film) of a contrast; absent otherwise.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at: Option<f64>,
    /// On which side of the limit.
    pub side: Side,
    /// The limit: lp/mm on film, a share (0 to 1), µm on film, stops or mm.
    pub limit: f64,
    /// Half-width of the limit's own 95 % interval; 0 for a limit that is a decision.
    #[serde(default)]
    pub plus_minus: f64,
    /// From the centre out to this share of the way to the corner, 0 to 1.
    pub out_to: f64,
    /// Why.
    pub reason: String,
    /// Where it comes from: "common practice", "own choice", or the words of a source.
    pub source: String,
}

/// What can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Asked {
    /// Line pairs per mm on film at which a share of the contrast is left.
    Resolution,
    /// The share of contrast left at a fineness on film.
    Contrast,
    /// Red or blue beside green, µm on film.
    Fringing,
    /// Stray light in black over light from white.
    Glare,
    /// Fall-off, stops.
    Unevenness,
    /// Subject to the foremost part, mm.
    WorkingDistance,
    /// Stops lost to extension, converters and filters.
    LightLost,
    /// Shorter side of what the frame covers, mm.
    Field,
}

impl Asked {
    /// All, in the order in which a page offers them.
    pub const ALL: [Self; 8] = [
        Self::Resolution,
        Self::Contrast,
        Self::Fringing,
        Self::Glare,
        Self::Unevenness,
        Self::WorkingDistance,
        Self::LightLost,
        Self::Field,
    ];

    /// What a person calls it.
    pub fn label(self) -> &'static str {
        match self {
            Self::Resolution => "resolution on film",
            Self::Contrast => "contrast of fine detail",
            Self::Fringing => "colour fringing on film",
            Self::Glare => "veiling glare",
            Self::Unevenness => "fall-off of the light",
            Self::WorkingDistance => "room in front",
            Self::LightLost => "light lost",
            Self::Field => "shorter side of the field",
        }
    }

    /// Its unit; empty for a share.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Resolution => "lp/mm",
            Self::Contrast | Self::Glare => "",
            Self::Fringing => "µm",
            Self::Unevenness | Self::LightLost => "stops",
            Self::WorkingDistance | Self::Field => "mm",
        }
    }

    /// Its word in forms and documents.
    pub fn word(self) -> &'static str {
        match self {
            Self::Resolution => "resolution",
            Self::Contrast => "contrast",
            Self::Fringing => "fringing",
            Self::Glare => "glare",
            Self::Unevenness => "unevenness",
            Self::WorkingDistance => "working_distance",
            Self::LightLost => "light_lost",
            Self::Field => "field",
        }
    }

    /// The one with this word.
    pub fn of(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|asked| asked.word() == word)
    }

    /// What [`RequirementDocument::at`] is of this one, and its unit; `None` where it has none.
    pub fn at_what(self) -> Option<&'static str> {
        match self {
            Self::Resolution => Some("share of contrast"),
            Self::Contrast => Some("lp/mm"),
            _ => None,
        }
    }

    /// Whether it differs from place to place in the frame.
    pub fn has_places(self) -> bool {
        matches!(self, Self::Resolution | Self::Contrast | Self::Fringing)
    }

    /// On which side it usually is wanted.
    pub fn usual_side(self) -> Side {
        match self {
            Self::Resolution | Self::Contrast | Self::WorkingDistance | Self::Field => Side::AtLeast,
            Self::Fringing | Self::Glare | Self::Unevenness | Self::LightLost => Side::AtMost,
        }
    }
}

/// On which side of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// At the limit or above.
    AtLeast,
    /// At the limit or below.
    AtMost,
}

impl Side {
    /// "at least" or "at most".
    pub fn words(self) -> &'static str {
        match self {
            Self::AtLeast => "at least",
            Self::AtMost => "at most",
        }
    }
}

/// Word for limits that nobody printed.
pub const COMMON_PRACTICE: &str = "common practice";
/// Word for limits of a person's own.
pub const OWN_CHOICE: &str = "own choice";

impl RequirementDocument {
    /// The quantity, its contrast or fineness on film as stated.
    pub fn quantity(&self) -> Quantity {
        let at = self.at.unwrap_or(f64::NAN);
        match self.quantity {
            Asked::Resolution => Quantity::Resolution { contrast: at },
            Asked::Contrast => Quantity::Contrast { lp_mm: at },
            Asked::Fringing => Quantity::Fringing,
            Asked::Glare => Quantity::Glare,
            Asked::Unevenness => Quantity::Unevenness,
            Asked::WorkingDistance => Quantity::WorkingDistance,
            Asked::LightLost => Quantity::LightLost,
            Asked::Field => Quantity::Field,
        }
    }

    /// As the judging crate takes it, figures on film as stated.
    pub fn requirement(&self) -> Requirement {
        let bound = match self.side {
            Side::AtLeast => Bound::AtLeast,
            Side::AtMost => Bound::AtMost,
        };
        let source = match self.source.as_str() {
            COMMON_PRACTICE => Source::CommonPractice,
            OWN_CHOICE => Source::OwnChoice,
            printed => Source::Published(printed.into()),
        };
        let limit = Limit { value: self.limit, plus_minus: self.plus_minus };
        Requirement {
            quantity: self.quantity(),
            bound,
            limit,
            out_to: self.out_to,
            reason: self.reason.clone(),
            source,
        }
    }

    /// Back; `None` for a quantity that no use asks for.
    pub fn of(requirement: &Requirement) -> Option<Self> {
        let (quantity, at) = match requirement.quantity {
            Quantity::Resolution { contrast } => (Asked::Resolution, Some(contrast)),
            Quantity::Contrast { lp_mm } => (Asked::Contrast, Some(lp_mm)),
            Quantity::Fringing => (Asked::Fringing, None),
            Quantity::Glare => (Asked::Glare, None),
            Quantity::Unevenness => (Asked::Unevenness, None),
            Quantity::WorkingDistance => (Asked::WorkingDistance, None),
            Quantity::LightLost => (Asked::LightLost, None),
            Quantity::Field => (Asked::Field, None),
            _ => return None,
        };
        let side = if requirement.bound == Bound::AtLeast { Side::AtLeast } else { Side::AtMost };
        let source = match &requirement.source {
            Source::Published(printed) => printed.clone(),
            Source::CommonPractice => COMMON_PRACTICE.into(),
            Source::OwnChoice => OWN_CHOICE.into(),
        };
        Some(Self {
            quantity,
            at,
            side,
            limit: requirement.limit.value,
            plus_minus: requirement.limit.plus_minus,
            out_to: requirement.out_to,
            reason: requirement.reason.clone(),
            source,
        })
    }
}

/// Why the text of a use cannot be read.
#[derive(Debug, thiserror::Error)]
pub enum UnreadableUse {
    /// It is no such document.
    #[error("its limits cannot be read ({0})")]
    Text(#[from] serde_json::Error),
    /// Another version.
    #[error("its limits were written in form {0}; this program reads form {USE_VERSION}")]
    Version(u32),
}

impl UseDocument {
    /// Of these requirements.
    pub fn of(requirements: &[Requirement]) -> Self {
        Self { version: USE_VERSION, requirements: requirements.iter().filter_map(RequirementDocument::of).collect() }
    }

    /// As the notebook keeps it.
    pub fn read(text: &str) -> Result<Self, UnreadableUse> {
        #[derive(Deserialize)]
        struct Head {
            version: u32,
        }
        match serde_json::from_str::<Head>(text)?.version {
            USE_VERSION => Ok(serde_json::from_str(text)?),
            other => Err(UnreadableUse::Version(other)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use verdict::enough::{PictureSize, ready_made};

    #[test]
    fn every_ready_made_use_comes_back_as_it_was() {
        for use_ in ready_made(PictureSize { frame_mm: 56.0 }) {
            let document = UseDocument::of(&use_.requirements);
            let text = serde_json::to_string(&document).expect("text");
            let read = UseDocument::read(&text).expect("read");
            let back: Vec<Requirement> = read.requirements.iter().map(RequirementDocument::requirement).collect();
            assert_eq!(back, use_.requirements, "{}", use_.id);
        }
    }

    #[test]
    fn every_quantity_has_a_word_of_its_own() {
        for asked in Asked::ALL {
            assert_eq!(Asked::of(asked.word()), Some(asked));
        }
        let stated = |asked| RequirementDocument {
            quantity: asked,
            at: asked.at_what().map(|_| 0.3),
            side: asked.usual_side(),
            limit: 1.0,
            plus_minus: 0.0,
            out_to: 1.0,
            reason: String::new(),
            source: OWN_CHOICE.into(),
        };
        for asked in Asked::ALL {
            let there = stated(asked);
            assert_eq!(RequirementDocument::of(&there.requirement()), Some(there));
            assert_eq!(stated(asked).requirement().bound, stated(asked).quantity().usual_bound());
        }
    }

    #[test]
    fn other_versions_and_other_texts_are_refused_by_name() {
        assert!(matches!(UseDocument::read("{\"version\": 7, \"limits\": []}"), Err(UnreadableUse::Version(7))));
        for wrong in ["", "[]", "{}", "{\"version\": 1}"] {
            assert!(matches!(UseDocument::read(wrong), Err(UnreadableUse::Text(_))), "{wrong}");
        }
    }
}
