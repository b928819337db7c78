//! A part from a form and back: every field as a line of text.

use crate::error::{KitError, Place, Problem};
use crate::field::{FieldSpec, Quantity, Range, Shape, Value};
use crate::parse::{check_id, check_range, example, one_of};
use crate::part::Part;
use crate::schema::Kind;
use std::collections::BTreeMap;

impl Part {
    /// A part from what was typed in a form; `typed` gives the text of a field, blank or `None` when nothing was typed.
    ///
    /// Numbers may be followed by their own uncertainty ("90 ± 1.5" or "90 +- 1.5"), a decimal comma counts as a point
    /// unless several numbers stand in the field, and shutter speeds may be fractions ("1/125"). All that is wrong is
    /// reported, each with its field.
    pub fn from_form(kind: Kind, id: &str, typed: impl Fn(&str) -> Option<String>) -> Result<Self, Vec<KitError>> {
        let mut errors = Vec::new();
        let mut values = BTreeMap::new();
        let place = |field: &str| Place { line: None, part: None, field: Some(field.into()) };
        let mut fail = |field: &str, problem| errors.push(KitError { place: place(field), problem });
        let id = check_id(id.trim()).unwrap_or_else(|problem| {
            fail("id", problem);
            String::new()
        });
        for field in kind.fields() {
            let text = typed(field.name).unwrap_or_default();
            match (text.trim(), field.required) {
                ("", true) => fail(field.name, Problem::Missing(field.unit)),
                ("", false) => {}
                (text, _) => match typed_value(field, text) {
                    Ok(value) => drop(values.insert(field.name, value)),
                    Err(problem) => fail(field.name, problem),
                },
            }
        }
        let part = Self { kind, id, values };
        if let Err((field, problem)) = part.check_together() {
            fail(field, problem);
        }
        if errors.is_empty() { Ok(part) } else { Err(errors) }
    }

    /// A field's value as it would be typed in a form; empty when absent.
    pub fn form_text(&self, field: &str) -> String {
        match self.value(field) {
            None => String::new(),
            Some(Value::Number(quantity)) => quantity_text(*quantity),
            Some(Value::Numbers(list)) => list.iter().map(|q| quantity_text(*q)).collect::<Vec<_>>().join(", "),
            Some(Value::Words(words)) => words.clone(),
            Some(Value::Flag(flag)) => if *flag { "true" } else { "" }.into(),
        }
    }
}

fn quantity_text(quantity: Quantity) -> String {
    match quantity.plus_minus {
        None => quantity.value.to_string(),
        Some(plus_minus) => format!("{} ± {plus_minus}", quantity.value),
    }
}

fn typed_value(field: &FieldSpec, text: &str) -> Result<Value, Problem> {
    match field.shape {
        Shape::Number(range) => typed_number(field, range, &decimal_point(text)).map(Value::Number),
        Shape::Pair(range) => {
            let list = typed_list(field, range, text)?;
            if list.len() != 2 {
                return Err(Problem::NotNumbers { found: format!("{} of them", list.len()), want: "two numbers" });
            }
            Ok(Value::Numbers(list))
        }
        Shape::Numbers(range) => typed_list(field, range, text).map(Value::Numbers),
        Shape::Words => Ok(Value::Words(text.into())),
        Shape::OneOf(allowed) => one_of(text.into(), allowed).map(Value::Words),
        Shape::Flag => match text {
            "true" | "on" | "yes" => Ok(Value::Flag(true)),
            "false" | "off" | "no" => Ok(Value::Flag(false)),
            other => Err(Problem::NotAFlag(format!("\"{other}\""))),
        },
    }
}

/// "0,92" is 0.92 where one number is asked for; "56, 56" is left alone.
fn decimal_point(text: &str) -> String {
    if text.contains('.') { text.into() } else { text.replace(',', ".") }
}

fn typed_list(field: &FieldSpec, range: Range, text: &str) -> Result<Vec<Quantity>, Problem> {
    // "56 ± 0.5" is one number: no blank may part it.
    let text = text.replace("+-", "±").split('±').map(str::trim).collect::<Vec<_>>().join("±");
    let pieces = text.split([',', ';', '×', 'x', ' ']).map(str::trim).filter(|piece| !piece.is_empty());
    pieces.map(|piece| typed_number(field, range, piece)).collect()
}

fn typed_number(field: &FieldSpec, range: Range, text: &str) -> Result<Quantity, Problem> {
    let (value, plus_minus) = match text.split_once('±').or_else(|| text.split_once("+-")) {
        None => (text, None),
        Some((value, plus_minus)) => (value, Some(plus_minus)),
    };
    let number = |text: &str| {
        let found = || Problem::NotANumber { found: format!("\"{text}\""), unit: field.unit, example: example(field) };
        fraction(text.trim()).ok_or_else(found)
    };
    let quantity = Quantity { value: number(value)?, plus_minus: plus_minus.map(number).transpose()? };
    check_range(field, range, quantity)
}

/// "0.5" or "1/2".
fn fraction(text: &str) -> Option<f64> {
    match text.split_once('/') {
        None => text.parse().ok(),
        Some((above, below)) => {
            Some(above.trim().parse::<f64>().ok()? / below.trim().parse::<f64>().ok().filter(|b| *b != 0.0)?)
        }
    }
}
