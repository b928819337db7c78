//! The kit file, written.

use crate::field::{Quantity, Value};
use crate::part::{Kit, Part};
use crate::points::points_text;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value as Toml};

impl Kit {
    /// The kit as the text of a kit file; reading it again gives the same kit.
    pub fn to_toml(&self) -> String {
        let mut document = DocumentMut::new();
        for (position, part) in self.parts.iter().enumerate() {
            let entry = document.entry(part.kind.spec().table).or_insert(Item::ArrayOfTables(ArrayOfTables::new()));
            if let Item::ArrayOfTables(tables) = entry {
                let mut table = part.table();
                table.set_position(Some(position as isize));
                tables.push(table);
            }
        }
        document.to_string().trim_start().to_string()
    }
}

impl Part {
    /// The part alone as the text of a kit file.
    pub fn to_toml(&self) -> String {
        Kit { parts: vec![self.clone()] }.to_toml()
    }

    fn table(&self) -> Table {
        let mut table = Table::new();
        table.insert("id", self.id.as_str().into());
        let stated = self.kind.fields().filter_map(|field| Some((field.name, self.value(field.name)?)));
        for (name, value) in stated {
            table.insert(name, Item::Value(toml(value)));
        }
        table
    }
}

fn toml(value: &Value) -> Toml {
    match value {
        Value::Number(quantity) => number(*quantity),
        Value::Numbers(list) => Toml::Array(list.iter().map(|quantity| number(*quantity)).collect::<Array>()),
        Value::Words(words) => words.as_str().into(),
        Value::Flag(flag) => (*flag).into(),
        Value::Points(points) => points_text(points).into(),
    }
}

fn number(quantity: Quantity) -> Toml {
    let Some(plus_minus) = quantity.plus_minus else { return plain(quantity.value) };
    let mut table = InlineTable::new();
    table.insert("value", plain(quantity.value));
    table.insert("plus_minus", plain(plus_minus));
    Toml::InlineTable(table)
}

/// Whole numbers without a point, as a person writes them; beyond 2⁵³ a float's own digits are the honest ones.
fn plain(number: f64) -> Toml {
    if number.fract() == 0.0 && number.abs() < 9e15 { (number as i64).into() } else { number.into() }
}
