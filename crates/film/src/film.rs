//! A film.

use crate::law::{Given, Law};
use crate::source::{By, Source};

/// What the film becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Tone {
    /// Developed to a negative.
    Negative,
    /// Developed to a positive: a slide.
    Reversal,
}

impl Tone {
    /// How far an exposure may be off before it shows: negatives −1 to +2 stops, reversal films ±1/3 (common practice, no
    /// source).
    pub fn latitude(self) -> Latitude {
        match self {
            Self::Negative => Latitude { under: 1.0, over: 2.0 },
            Self::Reversal => Latitude { under: 1.0 / 3.0, over: 1.0 / 3.0 },
        }
    }

    /// "negative film".
    pub fn words(self) -> &'static str {
        match self {
            Self::Negative => "negative film",
            Self::Reversal => "reversal film",
        }
    }
}

/// How far off an exposure may be, stops; both are counted above 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Latitude {
    /// Too little light.
    pub under: f64,
    /// Too much light.
    pub over: f64,
}

/// A published figure of the image's structure.
#[derive(Debug, Clone, PartialEq)]
pub struct Structure {
    /// RMS granularity: the density's standard deviation × 1000 through a hole of 48 µm at a mean density of 1.0.
    pub rms_granularity: f64,
    /// Where it stands.
    pub source: Source,
}

/// A film and what is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Film {
    /// Its id: lower-case letters, digits and dashes.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Who makes it; empty when not said.
    pub maker: String,
    /// What it becomes, where it is known.
    pub tone: Option<Tone>,
    /// The speed that the meter is set to (ISO), where it is known.
    pub speed: Option<f64>,
    /// Grain, where it is published.
    pub structure: Option<Structure>,
    /// What long exposures cost it: the one that is used first, the others beside it.
    pub laws: Vec<Law>,
    /// What else to know; empty for nothing.
    pub note: String,
}

impl Film {
    /// The law that is used: the person's own test, else the maker's, else whatever there is.
    pub fn law(&self) -> Option<&Law> {
        let by = |by: By| self.laws.iter().find(move |law| law.source.by == by);
        by(By::Own).or_else(|| by(By::Maker)).or_else(|| self.laws.first())
    }

    /// The other laws with what they give at this metered time.
    pub fn others(&self, metered_s: f64) -> Vec<(&Law, Given)> {
        let used = self.law();
        self.laws
            .iter()
            .filter(|law| !used.is_some_and(|used| std::ptr::eq(used, *law)))
            .map(|law| (law, law.given(metered_s)))
            .collect()
    }

    /// "T-MAX 100 (Kodak)".
    pub fn full_name(&self) -> String {
        if self.maker.is_empty() { self.name.clone() } else { format!("{} ({})", self.name, self.maker) }
    }
}
