//! What a part says of itself, beside what calibration found.

use kit::{FieldSpec, Part, Value};
use optics::{Dual, Estimate, Input, magnification_at_distance, propagate, separation_from_marks};
use std::convert::Infallible;

/// Where a figure beside a calibrated one comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// Engraved, published or entered.
    Stated,
    /// Worked out from the marks at the closest focus.
    WorkedOut,
    /// Assumed, because nothing is stated.
    Assumed,
}

impl Origin {
    /// A word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Stated => "marked",
            Self::WorkedOut => "from the marks",
            Self::Assumed => "assumed",
        }
    }
}

/// A figure as it is without calibration.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Marked {
    /// The figure.
    pub figure: Estimate,
    /// Where it comes from.
    pub origin: Origin,
}

impl Marked {
    /// As an input to a computation.
    pub fn input(&self) -> Input {
        Input { value: self.figure.value, plus_minus: self.figure.plus_minus }
    }
}

/// A stated number of a part with its uncertainty, its own or the registry's.
pub fn stated(part: &Part, field: &str) -> Option<Input> {
    match part.value(field)? {
        Value::Number(quantity) => Some(part.kind().field(field)?.input(*quantity)),
        _ => None,
    }
}

/// The calibrated figure where there is one, else the marked one.
pub fn best(part: &Part, field: &str) -> Option<Input> {
    let calibrated = part.kind().field(field).and_then(|spec: &FieldSpec| stated(part, spec.calibrated?));
    calibrated.or_else(|| marked(part, field).map(|marked| marked.input()))
}

/// A field as it is without calibration: stated, worked out, or assumed.
pub fn marked(part: &Part, field: &str) -> Option<Marked> {
    let as_figure = |input: Input| Estimate { value: input.value, plus_minus: input.plus_minus };
    if let Some(input) = stated(part, field) {
        return Some(Marked { figure: as_figure(input), origin: Origin::Stated });
    }
    if field == "principal_separation_mm"
        && part.words("focusing") != Some("internal")
        && let Some(figure) = separation(part)
    {
        return Some(Marked { figure, origin: Origin::WorkedOut });
    }
    let absent = part.kind().field(field)?.absent?;
    Some(Marked { figure: Estimate { value: absent.value, plus_minus: absent.plus_minus }, origin: Origin::Assumed })
}

/// Implied by both marks at the closest focus, as a set-up takes it.
fn separation(lens: &Part) -> Option<Estimate> {
    let field = |name: &str| stated(lens, name);
    let inputs = [field("close_focus_mm")?, field("focal_length_mm")?, field("max_magnification")?];
    let compute = |x: &[Dual]| Ok::<_, Infallible>(vec![Some(separation_from_marks(x[0], x[1], x[2]))]);
    let Ok(results) = propagate(&inputs, compute);
    results[0]
}

/// The travel to the closest mark that the marks imply: f·m, from the magnification there or the distance.
pub fn marked_travel(lens: &Part) -> Option<Marked> {
    let focal = stated(lens, "focal_length_mm")?;
    let results = match (stated(lens, "max_magnification"), stated(lens, "close_focus_mm")) {
        (Some(m), _) => propagate(&[focal, m], |x| Ok::<_, ()>(vec![Some(x[0] * x[1])])).ok()?,
        (None, Some(distance)) => {
            let separation = marked(lens, "principal_separation_mm")?.input();
            let inputs = [focal, distance, separation];
            propagate(&inputs, |x| magnification_at_distance(x[1], x[0], x[2]).map(|m| vec![Some(x[0] * m)])).ok()?
        }
        _ => return None,
    };
    Some(Marked { figure: results[0]?, origin: Origin::WorkedOut })
}
