//! A part from a form and back: every field as a line of text.

use crate::error::{KitError, Place, Problem};
use crate::field::{FieldSpec, Quantity, Range, Shape, Value};
use crate::parse::{check_id, check_range, empty_list, example, one_of};
use crate::part::Part;
use crate::points::{points_text, typed_points};
use crate::schema::Kind;
use std::collections::BTreeMap;

impl Part {
    /// A part from what was typed in a form; `typed` gives the text of a field, blank or `None` when nothing was typed.
    ///
    /// Numbers may be followed by their own uncertainty ("90 ± 1.5" or "90 +- 1.5"), a decimal comma counts as a point
    /// where it parts no numbers ("56,5 × 56,5"), lists may be written as in the kit file ("[56, 56]"), and shutter
    /// speeds may be fractions ("1/125"). All that is wrong is reported, each with its field.
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
            Some(Value::Points(points)) => points_text(points),
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
                let found = format!("{} of them", list.len());
                return Err(Problem::NotNumbers { found, pair: true, example: example(field) });
            }
            Ok(Value::Numbers(list))
        }
        Shape::Numbers(range) => match typed_list(field, range, text)? {
            list if list.is_empty() => Err(empty_list(field)),
            list => Ok(Value::Numbers(list)),
        },
        Shape::Words => Ok(Value::Words(text.into())),
        Shape::OneOf(allowed) => one_of(text.into(), allowed).map(Value::Words),
        Shape::Flag => match text {
            "true" | "on" | "yes" => Ok(Value::Flag(true)),
            "false" | "off" | "no" => Ok(Value::Flag(false)),
            other => Err(Problem::NotAFlag(format!("\"{other}\""))),
        },
        Shape::Points => typed_points(text).map(Value::Points),
    }
}

/// "0,92" is 0.92 where one number is asked for; "56, 56" is left alone.
fn decimal_point(text: &str) -> String {
    if text.contains('.') { text.into() } else { text.replace(',', ".") }
}

fn typed_list(field: &FieldSpec, range: Range, text: &str) -> Result<Vec<Quantity>, Problem> {
    // "56 ± 0.5" is one number: no blank may part it.
    let text = text.replace("+-", "±").split('±').map(str::trim).collect::<Vec<_>>().join("±");
    let text = without_unit(text.trim_matches(['[', ']']), field.unit);
    pieces(&text).iter().map(|piece| typed_number(field, range, piece)).collect()
}

/// "36 mm × 24 mm" and "36x24mm" as numbers alone, where the unit is the field's own; another unit stays and is refused.
fn without_unit(text: &str, unit: &str) -> String {
    if unit.is_empty() || !unit.chars().all(char::is_alphabetic) {
        return text.into();
    }
    let mut rest = text;
    let mut bare = String::new();
    while let Some(at) = rest.find(unit) {
        let (before, after) = (&rest[..at], &rest[at + unit.len()..]);
        let whole = before.trim_end().ends_with(|c: char| c.is_ascii_digit() || c == '.')
            && !after.starts_with(|c: char| c.is_alphanumeric() && !matches!(c, 'x' | 'X'));
        bare.push_str(before);
        bare.push_str(if whole { " " } else { unit });
        rest = after;
    }
    bare + rest
}

/// The numbers of a list as typed. Semicolons, crosses, blanks and a comma beside a blank part them. A comma between
/// digits is a decimal comma where something else does the parting ("56,5 × 41,5"), and parts them where nothing else
/// does ("1,0.5,0.25"). A piece that could be meant either way ("2, 1,5") is left as it is, which no number is.
fn pieces(text: &str) -> Vec<String> {
    let spaced = text.split([';', '×', 'x', 'X', '*']).map(str::trim).collect::<Vec<_>>().join(" ");
    let blank_commas = spaced.split_whitespace().any(|piece| piece.starts_with(',') || piece.ends_with(','));
    let words: Vec<&str> =
        spaced.split_whitespace().map(|piece| piece.trim_matches(',')).filter(|piece| !piece.is_empty()).collect();
    let alone = words.len() == 1;
    let part = |word: &str| -> Vec<String> {
        if word.contains(',') && (alone || word.contains(['.', '/'])) {
            word.split(',').filter(|piece| !piece.is_empty()).map(Into::into).collect()
        } else if blank_commas {
            vec![word.into()]
        } else {
            vec![word.replace(',', ".")]
        }
    };
    words.into_iter().flat_map(part).collect()
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
