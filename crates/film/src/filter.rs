//! Filters as a film's data sheet gives them.

use crate::fraction::Printed;
use crate::source::Source;

/// What the subject is lit by, as filter tables tell it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lamp {
    /// Daylight, and flash of its colour.
    Daylight,
    /// Incandescent light.
    Tungsten,
}

impl Lamp {
    /// Its name.
    pub fn words(self) -> &'static str {
        match self {
            Self::Daylight => "daylight",
            Self::Tungsten => "tungsten",
        }
    }
}

/// What a filter takes, in the two columns of the table. Neither is made from the other: they are rounded apart, and one entry of the
/// shipped table disagrees by a third of a stop.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// To open up by.
    pub stops: Printed,
    /// To multiply the time by.
    pub factor: f64,
}

impl Taken {
    /// The factor's stops less the printed ones.
    pub fn disagree_stops(&self) -> f64 {
        self.factor.log2() - self.stops.value
    }
}

/// One filter.
#[derive(Debug, Clone, PartialEq)]
pub struct Filter {
    /// Its id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// In daylight.
    pub daylight: Taken,
    /// In tungsten light.
    pub tungsten: Taken,
}

impl Filter {
    /// What it takes in that light.
    pub fn taken(&self, lamp: Lamp) -> &Taken {
        match lamp {
            Lamp::Daylight => &self.daylight,
            Lamp::Tungsten => &self.tungsten,
        }
    }
}

/// Filters of one data sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct FilterTable {
    /// The sheet.
    pub source: Source,
    /// Ids of the films it is printed for.
    pub films: Vec<String>,
    /// Its lines.
    pub filters: Vec<Filter>,
}
