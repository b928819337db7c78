//! What a field of a part can hold.

use optics::Input;

/// A number with, where its owner states one, its own uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    /// The number, in the field's unit.
    pub value: f64,
    /// Half-width of the 95 % interval, when stated.
    pub plus_minus: Option<f64>,
}

impl Quantity {
    /// A number without a stated uncertainty.
    pub fn plain(value: f64) -> Self {
        Self { value, plus_minus: None }
    }
}

/// What a field of a part holds.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// One number.
    Number(Quantity),
    /// Several numbers.
    Numbers(Vec<Quantity>),
    /// Words.
    Words(String),
    /// Yes or no.
    Flag(bool),
    /// Points of a test: a metered time with what was right.
    Points(Vec<(f64, f64)>),
}

/// Which numbers a field accepts. All must be finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// Above zero.
    Positive,
    /// Zero or above.
    NotNegative,
    /// Above this figure.
    Above(f64),
    /// Any finite number.
    Any,
}

impl Range {
    /// True when the number is finite and inside.
    pub fn holds(self, number: f64) -> bool {
        number.is_finite()
            && match self {
                Self::Positive => number > 0.0,
                Self::NotNegative => number >= 0.0,
                Self::Above(limit) => number > limit,
                Self::Any => true,
            }
    }

    /// What a number must be, to follow "must be".
    pub fn rule(self) -> String {
        match self {
            Self::Positive => "above 0".into(),
            Self::NotNegative => "0 or more".into(),
            Self::Above(limit) => format!("above {limit}"),
            Self::Any => "a finite number".into(),
        }
    }
}

/// The form of a field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// One number.
    Number(Range),
    /// Exactly two numbers.
    Pair(Range),
    /// One or more numbers.
    Numbers(Range),
    /// Words, any.
    Words,
    /// One of these words.
    OneOf(&'static [&'static str]),
    /// true or false.
    Flag,
    /// Pairs of numbers, as "1=1.3, 10=20".
    Points,
}

/// The uncertainty that a plain number gets: half-width of the 95 % interval, the two contributions added in
/// quadrature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// In the field's unit.
    pub absolute: f64,
    /// As a share of the number.
    pub share: f64,
    /// Why this much.
    pub why: &'static str,
}

impl Spread {
    /// Half-width of the 95 % interval of a plain `number`.
    pub fn of(&self, number: f64) -> f64 {
        self.absolute.hypot(self.share * number)
    }

    /// "± 0.2 mm", "± 4 %", or both where both count.
    fn amount(&self, unit: &str) -> String {
        let absolute = format!("{} {unit}", self.absolute);
        // Shares are whole percents, or tenths of one, in the registry: beyond that the digits are rounding.
        let share = format!("{} %", (self.share * 1e4).round() / 1e2);
        match (self.absolute > 0.0, self.share > 0.0) {
            (true, true) => format!("± {} and {share}, added in quadrature", absolute.trim()),
            (_, true) => format!("± {share}"),
            _ => format!("± {}", absolute.trim()),
        }
    }
}

/// What is assumed where a field is absent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Absent {
    /// The assumed number.
    pub value: f64,
    /// Half-width of its 95 % interval.
    pub plus_minus: f64,
    /// How to find the true one.
    pub find: &'static str,
}

/// One field of a kind of part, declared once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldSpec {
    /// Its key in the kit file.
    pub name: &'static str,
    /// What a form calls it.
    pub label: &'static str,
    /// Its unit, empty for none.
    pub unit: &'static str,
    /// Its form.
    pub shape: Shape,
    /// Whether a part must have it.
    pub required: bool,
    /// What it means, in a sentence.
    pub help: &'static str,
    /// The uncertainty of a plain number.
    pub spread: Option<Spread>,
    /// What is assumed when it is absent.
    pub absent: Option<Absent>,
    /// The field that holds the same figure as found by calibration; it wins where it is present.
    pub calibrated: Option<&'static str>,
    /// The smallest and the largest figure that a real part has. What lies outside is taken for a slip of the decimal
    /// point or the unit, unless it carries its own uncertainty, which nobody states for a slip.
    pub plausible: Option<(f64, f64)>,
}

impl FieldSpec {
    /// A number that a part may have.
    pub(crate) const fn number(name: &'static str, label: &'static str, unit: &'static str, range: Range) -> Self {
        Self::of(name, label, unit, Shape::Number(range))
    }

    /// Words that a part may have.
    pub(crate) const fn words(name: &'static str, label: &'static str) -> Self {
        Self::of(name, label, "", Shape::Words)
    }

    /// Any field that a part may have.
    pub(crate) const fn of(name: &'static str, label: &'static str, unit: &'static str, shape: Shape) -> Self {
        Self {
            name,
            label,
            unit,
            shape,
            required: false,
            help: "",
            spread: None,
            absent: None,
            calibrated: None,
            plausible: None,
        }
    }

    /// The same field, which a part must have.
    pub(crate) const fn must(mut self) -> Self {
        self.required = true;
        self
    }

    /// The same field, explained.
    pub(crate) const fn means(mut self, help: &'static str) -> Self {
        self.help = help;
        self
    }

    /// The same field; a plain number is uncertain by this half-width of the 95 % interval.
    pub(crate) const fn within(mut self, absolute: f64, share: f64, why: &'static str) -> Self {
        self.spread = Some(Spread { absolute, share, why });
        self
    }

    /// The same field; this is assumed when it is absent.
    pub(crate) const fn assumed(mut self, value: f64, plus_minus: f64, find: &'static str) -> Self {
        self.absent = Some(Absent { value, plus_minus, find });
        self
    }

    /// The same field; calibration keeps what it finds of it in that one.
    pub(crate) const fn found_as(mut self, name: &'static str) -> Self {
        self.calibrated = Some(name);
        self
    }

    /// The same field; real parts lie within these figures.
    pub(crate) const fn between(mut self, low: f64, high: f64) -> Self {
        self.plausible = Some((low, high));
        self
    }

    /// A number of this field as an input to a computation, with its uncertainty: its own or the default.
    pub fn input(&self, quantity: Quantity) -> Input {
        let default = || self.spread.map_or(0.0, |spread| spread.of(quantity.value));
        Input { value: quantity.value, plus_minus: quantity.plus_minus.unwrap_or_else(default) }
    }

    /// How far a plain number of this field is trusted, and why, for example "± 0.2 mm: lengths read off the part …";
    /// `None` where a plain number is taken as exact.
    pub fn usual(&self) -> Option<String> {
        self.spread.map(|spread| format!("{}: {}", spread.amount(self.unit), spread.why))
    }

    /// What is taken where the field is absent, and how to find the true figure; `None` where nothing is.
    pub fn when_absent(&self) -> Option<String> {
        let Absent { value, plus_minus, find } = self.absent?;
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        Some(format!("{value} ± {plus_minus}{unit}; to find the true one, {find}"))
    }
}
