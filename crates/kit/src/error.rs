//! What can be wrong with a kit, in a photographer's terms.

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
    #[error("must be {}, not {found}; write it in square brackets, for example {example}", numbers(*.pair))]
    NotNumbers {
        /// What was found.
        found: String,
        /// Whether two numbers belong there, or any count of them.
        pair: bool,
        /// What would be right.
        example: &'static str,
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
    #[error("{}; use lower-case letters, digits and dashes, for example \"tube-21\"", if .0.is_empty() { "the id is empty".into() } else { format!("\"{}\" cannot be an id", .0) })]
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
    /// Something else where a point of a test belongs.
    #[error(
        "point {place}: {found} is no pair of numbers; write \"1=1.3, 10=20\": metered time, what was right, with decimal points"
    )]
    NotAPoint {
        /// Which, counted from 1.
        place: usize,
        /// What was found.
        found: String,
    },
    /// A test that no film can give.
    #[error("{0}")]
    NotATest(film::TableError),
    /// A film that is not among those that come with the program.
    #[error("names \"{0}\", which is not among the films that come with the program; {1}")]
    NotPublished(String, String),
    /// A figure that no real part has: most likely a slip of the decimal point, or another unit.
    #[error("{0}; if it is right, say how sure it is, {{ value = {found}, plus_minus = … }}, and it is taken", found = .0.found)]
    Implausible(Box<Slip>),
    /// An adapter between two mounts of one name.
    #[error(
        "joins mount \"{0}\" to itself: that is a tube, so enter it as [[tube]], or give the other mount another name"
    )]
    AdapterToItself(String),
    /// The smallest stop is wider than the widest.
    #[error("is {min}, wider than max_aperture {max}; the smallest stop has the largest f-number")]
    AperturesCrossed {
        /// The smallest stop.
        min: f64,
        /// The widest.
        max: f64,
    },
}

/// A figure that no real part has.
#[derive(Debug, Clone, PartialEq)]
pub struct Slip {
    /// What was found.
    pub found: f64,
    /// The unit.
    pub unit: &'static str,
    /// What real parts have.
    pub usual: String,
    /// What was probably meant.
    pub meant: Option<f64>,
}

impl std::fmt::Display for Slip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        write!(
            f,
            "is {}{unit}, which no real part has ({}): check the decimal point and the unit",
            self.found, self.usual
        )?;
        self.meant.map_or(Ok(()), |meant| write!(f, " (was {meant} meant?)"))
    }
}

impl Problem {
    /// The same for somebody who types into a form: to be read after the field's label, and without a word about how a
    /// kit file is written.
    pub fn in_form(&self) -> String {
        match self {
            Self::Missing(_) => "is missing".into(),
            Self::OutOfRange { found, rule, .. } => {
                format!("must be {}, not {found}", rule.replace("in its plus_minus", "after the ±"))
            }
            Self::NotANumber { found, unit, example } => {
                format!("must be a number{}, not {found}; for example {}", unit_hint(unit), bare(example))
            }
            Self::NotNumbers { found, pair, example } => {
                format!("must be {}, not {found}; for example {}", numbers(*pair), bare(example))
            }
            Self::NotWords(found) => format!("must be words, not {found}"),
            Self::NotOneOf(word, choices) => format!("must be {}, not {word}", choices.replace('"', "")),
            Self::NotAFlag(found) => format!("must be yes or no, not {found}"),
            Self::Implausible(slip) => {
                format!("{slip}; if it is right, type how sure it is, {} ± …, and it is taken", slip.found)
            }
            Self::NotAPoint { place, found } => {
                format!(
                    "holds “{found}” at point {place}; write 1=1.3, 10=20: metered time, what was right, with decimal points"
                )
            }
            Self::AdapterToItself(mount) => {
                format!(
                    "joins mount “{mount}” to itself: that is a tube, so enter it as one, or give the other mount another name"
                )
            }
            Self::BadId(id) if id.is_empty() => {
                "is missing; give it a short name in lower-case letters, for example tube-21".into()
            }
            Self::BadId(_) => "may hold only lower-case letters a to z, digits and dashes, for example tube-21".into(),
            Self::DuplicateId { .. } => "is taken already; give each part an id of its own".into(),
            Self::AperturesCrossed { min, max } => {
                format!("is {min}, wider than the widest f-number {max}; the smallest stop has the largest figure")
            }
            other => other.to_string(),
        }
    }
}

fn numbers(pair: bool) -> &'static str {
    if pair { "two numbers" } else { "a list of numbers" }
}

/// An example of the kit file as it is typed into a form.
fn bare(example: &str) -> &str {
    example.trim_matches(['[', ']'])
}

fn unit_hint(unit: &str) -> String {
    match unit {
        "mm" => " in millimetres".into(),
        "s" => " in seconds".into(),
        "dpt" => " in dioptres".into(),
        _ => String::new(),
    }
}
