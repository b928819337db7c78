//! Kits of chance: what was written is what is read, and writing it again changes nothing.

use kit::{FieldSpec, Kind, Kit, Range, Shape};
use proptest::collection::vec;
use proptest::prelude::*;

/// A number with or without its own uncertainty.
type Stated = (f64, Option<f64>);

/// Chance for one field: whether it is stated, two numbers between 0 and 1 with uncertainties, words, a choice.
#[derive(Debug, Clone)]
struct Chance {
    stated: bool,
    shares: [f64; 2],
    plus_minus: [Option<f64>; 2],
    words: String,
    pick: usize,
}

fn chance() -> impl Strategy<Value = Chance> {
    let half = || proptest::option::of(prop_oneof![Just(0.0), 0.0..5.0f64]);
    (any::<bool>(), [0.0..1.0f64, 0.0..1.0f64], [half(), half()], any::<String>(), 0..7usize)
        .prop_map(|(stated, shares, plus_minus, words, pick)| Chance { stated, shares, plus_minus, words, pick })
}

/// A part with a choice of its fields: kind, id number, and chance for each field.
fn part() -> impl Strategy<Value = (Kind, Vec<Chance>)> {
    (0..Kind::ALL.len()).prop_flat_map(|index| {
        let kind = Kind::ALL[index];
        vec(chance(), kind.fields().count()).prop_map(move |chances| (kind, chances))
    })
}

/// Whole, broken, tiny and huge numbers of a range.
fn number(range: Range, share: f64) -> f64 {
    let size = if share < 0.3 { (share * 1000.0).ceil() } else { 10f64.powf(12.0 * share - 6.0) };
    match range {
        Range::Positive => size.max(1e-6),
        Range::NotNegative => {
            if share < 0.1 {
                0.0
            } else {
                size
            }
        }
        Range::Above(limit) => limit + size.max(1e-3),
        Range::Any => {
            if share < 0.5 {
                -size
            } else {
                size
            }
        }
    }
}

/// What a field shall hold, as text of a kit file.
fn numbers_of(field: &FieldSpec, chance: &Chance) -> Vec<Stated> {
    // What no real part has is taken only with an uncertainty of its own; a register's limits hang on the frame.
    let stated = |number: f64, plus_minus: Option<f64>| {
        let real = field.plausible.is_none_or(|(low, high)| number >= low && number <= high);
        let free = real && !["frame_mm", "register_mm"].contains(&field.name);
        if free { plus_minus } else { plus_minus.or(Some(0.5)) }
    };
    let of = |range, i: usize| {
        let number = number(range, chance.shares[i]);
        (number, stated(number, chance.plus_minus[i]))
    };
    match field.shape {
        Shape::Number(range) => vec![of(range, 0)],
        Shape::Pair(range) => {
            let mut pair = vec![of(range, 0), of(range, 1)];
            pair.sort_by(|p, q| p.0.total_cmp(&q.0));
            pair
        }
        Shape::Numbers(range) => (0..chance.pick + 1).map(|i| of(range, i % 2)).collect(),
        Shape::Words | Shape::OneOf(_) | Shape::Flag | Shape::Points => Vec::new(),
    }
}

fn number_text((value, plus_minus): Stated) -> String {
    match plus_minus {
        None => format!("{value:?}"),
        Some(half) => format!("{{ value = {value:?}, plus_minus = {half:?} }}"),
    }
}

/// Every character as its code point, so that no rule of quoting is repeated here.
fn quoted(words: &str) -> String {
    let escaped: String = words.chars().map(|c| format!("\\U{:08X}", c as u32)).collect();
    format!("\"{escaped}\"")
}

fn field_text(field: &FieldSpec, chance: &Chance) -> String {
    let numbers: Vec<_> = numbers_of(field, chance).into_iter().map(number_text).collect();
    match field.shape {
        Shape::Number(_) => numbers.concat(),
        Shape::Pair(_) | Shape::Numbers(_) => format!("[{}]", numbers.join(", ")),
        Shape::Words => quoted(&chance.words),
        Shape::OneOf(allowed) => quoted(allowed[chance.pick % allowed.len()]),
        Shape::Flag => chance.pick.is_multiple_of(2).to_string(),
        Shape::Points => format!("\"{}\"", points_of(field, chance)),
    }
}

/// A test that a film can give, in either column.
fn points_of(field: &FieldSpec, chance: &Chance) -> String {
    let [a, b] = chance.shares;
    if field.name == "times_s" { format!("1={}, 10={}", 1.0 + a, 10.0 + b) } else { format!("1={a}, 10={}", a + b) }
}

/// Fields that are stated; a smallest stop only where it is the smaller one.
fn stated(kind: Kind, chances: &[Chance]) -> Vec<(&'static FieldSpec, Chance)> {
    let fields = kind.fields().zip(chances).filter(|(field, chance)| field.required || chance.stated);
    let mut stated: Vec<_> = fields.map(|(field, chance)| (field, chance.clone())).collect();
    // A film's published name is one of few.
    stated.retain(|field| field.0.name != "published_as");
    let value = |name| stated.iter().find(|f| f.0.name == name).map(|f| numbers_of(f.0, &f.1)[0].0);
    if value("min_aperture").zip(value("max_aperture")).is_some_and(|(min, max)| min < max) {
        stated.retain(|field| field.0.name != "min_aperture");
    }
    stated
}

fn text(parts: &[(Kind, Vec<Chance>)]) -> String {
    let mut text = String::new();
    for (index, (kind, chances)) in parts.iter().enumerate() {
        text += &format!("[[{}]]\nid = \"part-{index}\"\n", kind.spec().table);
        for (field, chance) in stated(*kind, chances) {
            // A converter of mounts that joins one to itself is refused; the name of the field makes the two differ.
            let own = if field.name == "lens_mount" {
                Chance { words: chance.words.clone() + "!", ..chance }
            } else {
                chance
            };
            text += &format!("{} = {}\n", field.name, field_text(field, &own));
        }
    }
    text
}

proptest! {
    #[test]
    fn what_was_written_is_what_is_read(parts in vec(part(), 0..8)) {
        let text = text(&parts);
        let kit = Kit::parse(&text).unwrap_or_else(|error| panic!("{error}\n{text}"));
        prop_assert_eq!(kit.parts().len(), parts.len());
        for (index, (read, (kind, chances))) in kit.parts().iter().zip(&parts).enumerate() {
            prop_assert_eq!(read.kind(), *kind, "the order of the file is kept");
            prop_assert_eq!(read.id(), format!("part-{index}"));
            for (field, chance) in stated(*kind, chances) {
                let name = field.name;
                match field.shape {
                    Shape::Number(_) => prop_assert_eq!(read.number(name), Some(numbers_of(field, &chance)[0].0)),
                    Shape::Words if name == "lens_mount" => prop_assert!(read.words(name).is_some()),
                    Shape::Words => prop_assert_eq!(read.words(name), Some(chance.words.as_str())),
                    Shape::Flag => prop_assert_eq!(read.flag(name), chance.pick.is_multiple_of(2)),
                    _ => prop_assert!(read.value(name).is_some()),
                }
            }
        }
    }

    #[test]
    fn writing_and_reading_again_is_the_identity(parts in vec(part(), 0..8)) {
        let kit = Kit::parse(&text(&parts)).unwrap();
        let written = kit.to_toml();
        let again = Kit::parse(&written).unwrap_or_else(|error| panic!("{error}\n{written}"));
        prop_assert_eq!(&again, &kit);
        prop_assert_eq!(again.to_toml(), written);
    }

    #[test]
    fn a_form_gives_back_the_numbers_it_showed((kind, chances) in part()) {
        let kit = Kit::parse(&text(&[(kind, chances)])).unwrap();
        let part = &kit.parts()[0];
        let shown = |field: &str| match kind.field(field).map(|f| f.shape) {
            Some(Shape::Words) if field == "published_as" => None,
            // Words are trimmed in forms; numbers must come back to the last bit.
            Some(Shape::Words) => Some(format!("words of {field}")),
            _ => Some(part.form_text(field)),
        };
        let typed = kit::Part::from_form(kind, part.id(), shown).unwrap_or_else(|errors| panic!("{errors:?}"));
        for field in kind.fields().filter(|f| !matches!(f.shape, Shape::Words | Shape::Flag)) {
            prop_assert_eq!(typed.value(field.name), part.value(field.name), "{}", field.name);
        }
    }
}
