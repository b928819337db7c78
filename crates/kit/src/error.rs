//! What can be wrong with a kit or a set-up, in a photographer's terms.

use crate::{Kind, Misfit, Order};
use optics::{CloseRangeError, FocusError};

/// Where in a kit file something is wrong.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Place {
    /// Line, counted from 1, when the text came from a file.
    pub line: Option<usize>,
    /// The part's kind and id, as far as they are known.
    pub part: Option<String>,
    /// The field.
    pub field: Option<String>,
}

/// A kit that could not be read; nothing of it was taken.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}{problem}", prefix(.place))]
pub struct KitError {
    /// Where.
    pub place: Place,
    /// What, and what to do.
    pub problem: Problem,
}

fn prefix(place: &Place) -> String {
    let mut words = place.line.map(|line| format!("line {line}: ")).unwrap_or_default();
    words += &place.part.as_ref().map(|part| format!("{part}: ")).unwrap_or_default();
    words + &place.field.as_ref().map(|field| format!("{field} ")).unwrap_or_default()
}

/// What is wrong in a kit, and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Problem {
    /// Not TOML.
    #[error("this is not valid TOML: {message}; mend that line{}", .found.is_empty().then(String::new).unwrap_or_else(|| format!(" ({found})")))]
    Syntax {
        /// What the parser says.
        message: String,
        /// The line, as far as it helps to recognise it.
        found: String,
    },
    /// A table that names no kind of part.
    #[error("\"{0}\" is no kind of part; use one of {1}")]
    UnknownKind(String, String),
    /// A table where an array of tables belongs.
    #[error("each {0} is one entry of a list; begin it with [[{0}]]")]
    NotAList(String),
    /// A field that the kind does not have.
    #[error("is no field of a {kind}; {}", .closest.as_ref().map_or("remove it".into(), |c| format!("did you mean {c}?")))]
    UnknownField {
        /// The kind's label.
        kind: &'static str,
        /// The nearest field that exists, when one is near.
        closest: Option<&'static str>,
    },
    /// A field that the kind must have.
    #[error("is missing; add it{}", unit_hint(.0))]
    Missing(&'static str),
    /// A number outside its range.
    #[error("must be {rule}, not {found}; write the figure{}", unit_hint(.unit))]
    OutOfRange {
        /// What was found.
        found: f64,
        /// What it must be.
        rule: String,
        /// The unit.
        unit: &'static str,
    },
    /// Something else where a number belongs.
    #[error("must be a number{}, not {found}; write it without quotes, for example {example}", unit_hint(.unit))]
    NotANumber {
        /// What was found.
        found: String,
        /// The unit.
        unit: &'static str,
        /// What would be right.
        example: &'static str,
    },
    /// A list of the wrong length or something that is no list.
    #[error("must be {want}, not {found}; write it in square brackets, for example [56, 56]")]
    NotNumbers {
        /// What was found.
        found: String,
        /// What belongs there.
        want: &'static str,
    },
    /// Something else where words belong.
    #[error("must be words in quotes, not {0}; write \"…\"")]
    NotWords(String),
    /// A word that is not among those allowed.
    #[error("must be {1}, not \"{0}\"")]
    NotOneOf(String, String),
    /// Something else where yes or no belongs.
    #[error("must be true or false, not {0}")]
    NotAFlag(String),
    /// An id that is absent or ill-formed.
    #[error("\"{0}\" cannot be an id; use lower-case letters, digits and dashes, for example \"tube-21\"")]
    BadId(String),
    /// Two parts with one id.
    #[error("the id \"{id}\" is taken already{}; give each part an id of its own", .first_line.map_or(String::new(), |l| format!(" (line {l})")))]
    DuplicateId {
        /// The id.
        id: String,
        /// Where it was used first.
        first_line: Option<usize>,
    },
    /// A pair whose first number should not exceed its second.
    #[error("goes from {from} to {to}; write the shorter figure first")]
    WrongOrder {
        /// The first.
        from: f64,
        /// The second.
        to: f64,
    },
    /// The smallest stop is wider than the widest.
    #[error("is {min}, wider than max_aperture {max}; the smallest stop has the largest f-number")]
    AperturesCrossed {
        /// The smallest stop.
        min: f64,
        /// The widest.
        max: f64,
    },
}

fn unit_hint(unit: &str) -> String {
    match unit {
        "mm" => " in millimetres".into(),
        "s" => " in seconds".into(),
        "dpt" => " in dioptres".into(),
        _ => String::new(),
    }
}

/// Why a choice of parts makes no set-up that can be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SetupError {
    /// The parts are not listed from the body to the subject.
    #[error("{0}")]
    Order(#[from] Order),
    /// Two neighbours do not join.
    #[error("{0}")]
    Misfit(#[from] Misfit),
    /// No part of that id.
    #[error("the kit has no part \"{id}\"; {}", .closest.as_ref().map_or("check the id".into(), |c| format!("did you mean \"{c}\"?")))]
    NoSuchPart {
        /// The id asked for.
        id: String,
        /// The nearest one there is.
        closest: Option<String>,
    },
    /// One thing in two places.
    #[error("part \"{0}\" is listed twice; each thing is there once")]
    Twice(String),
    /// A kind whose optics are not built yet.
    #[error("part \"{id}\" is a {}; its optics are not part of this version, so the set-up is not computed without it", .kind.spec().label)]
    NoOptics {
        /// The part.
        id: String,
        /// Its kind.
        kind: Kind,
    },
    /// A lens that focuses by moving glass inside.
    #[error("lens \"{0}\" focuses internally; its optics are not part of this version, so the set-up is not computed")]
    InternalFocusing(String),
    /// A bellows without a draw, or with one outside its range.
    #[error("bellows \"{id}\" {}; give {id}=MM with MM from {shortest} to {longest}", .found.map_or("needs its draw".into(), |f| format!("cannot be drawn to {f} mm")))]
    Draw {
        /// The bellows.
        id: String,
        /// The draw asked for.
        found: Option<f64>,
        /// Its shortest draw, mm.
        shortest: f64,
        /// Its longest, mm.
        longest: f64,
    },
    /// A length given for a part that has none to set.
    #[error("part \"{0}\" has no draw to set; name it without \"=\"")]
    NoDraw(String),
    /// An f-number that the lens does not have.
    #[error("lens \"{id}\" has no f/{found}; give one from f/{widest} {}", .smallest.map_or("on".into(), |s| format!("to f/{s}")))]
    FNumber {
        /// The lens.
        id: String,
        /// The f-number asked for.
        found: f64,
        /// Its widest.
        widest: f64,
        /// Its smallest stop, when known.
        smallest: Option<f64>,
    },
    /// The closest mark is asked for and nothing in the kit tells where it is.
    #[error(
        "the kit does not say how close lens \"{0}\" focuses; add close_focus_mm or max_magnification, or give --focus travel=MM"
    )]
    NoCloseRange(String),
    /// More travel than the lens has.
    #[error("lens \"{id}\" cannot travel {found} mm; its closest mark is reached at {most:.1} mm, so give no more")]
    Travel {
        /// The lens.
        id: String,
        /// The travel asked for, mm.
        found: f64,
        /// The largest, mm.
        most: f64,
    },
    /// A setting that is no positive number.
    #[error("{what} must be {rule}, not {found}")]
    Setting {
        /// Which.
        what: &'static str,
        /// What it must be.
        rule: &'static str,
        /// What it was.
        found: f64,
    },
    /// The close-focus mark contradicts the focal length.
    #[error("lens \"{id}\": close_focus_mm cannot be right: {source}; check close_focus_mm and focal_length_mm")]
    CloseRange {
        /// The lens.
        id: String,
        /// Why.
        source: CloseRangeError,
    },
    /// Figures beyond what numbers can hold.
    #[error(
        "no {0} can be given: a figure in the kit is too small or too large to be real; check the lengths and powers"
    )]
    Beyond(&'static str),
    /// Nothing real can be sharp.
    #[error("this set-up focuses on nothing in front of it: {0}; take extension or a close-up lens away")]
    Focus(#[from] FocusError),
    /// The sharp plane lies inside the set-up.
    #[error(
        "the subject would have to lie {inside_mm:.1} mm behind the front of the set-up; take extension or a close-up lens away"
    )]
    SubjectInside {
        /// How deep, mm.
        inside_mm: f64,
    },
}
