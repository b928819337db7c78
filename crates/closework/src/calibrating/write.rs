//! The calibrating file, written.

use super::entries::{At, CloseUpEntry, FrameEntry, Given, Number, PupilEntry, Reading};
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, Value};

impl Given {
    /// The text of a calibrating file; reading it again gives the same.
    pub fn to_toml(&self) -> String {
        let mut document = DocumentMut::new();
        if let Some(share) = self.common_scale {
            document.insert("common_scale", share.into_item());
        }
        for (key, set) in [("fit_infinity_mark", self.fit_infinity_mark), ("use_outliers", self.use_outliers)] {
            if set {
                document.insert(key, set.into_item());
            }
        }
        let lists = [
            ("frame", self.frames.iter().map(frame).collect::<Vec<_>>()),
            ("pupil", self.pupils.iter().map(pupil).collect()),
            ("close_up", self.close_ups.iter().map(close_up).collect()),
        ];
        for (key, tables) in lists {
            if !tables.is_empty() {
                document.insert(key, Item::ArrayOfTables(tables.into_iter().collect::<ArrayOfTables>()));
            }
        }
        document.to_string().trim_start().to_owned()
    }
}

trait IntoItem {
    fn into_item(self) -> Item;
}

impl<T: Into<Value>> IntoItem for T {
    fn into_item(self) -> Item {
        Item::Value(self.into())
    }
}

fn number(number: Number) -> Item {
    let Some(plus_minus) = number.plus_minus else { return number.value.into_item() };
    let mut table = InlineTable::new();
    table.insert("value", number.value.into());
    table.insert("plus_minus", plus_minus.into());
    Item::Value(Value::InlineTable(table))
}

fn put(table: &mut Table, key: &str, given: Option<Number>) {
    if let Some(given) = given {
        table.insert(key, number(given));
    }
}

fn list(words: &[String]) -> Item {
    Item::Value(Value::Array(words.iter().map(String::as_str).collect::<Array>()))
}

fn focus(at: &At) -> Item {
    match at {
        At::Travel(travel) if travel.plus_minus.is_some() => number(*travel),
        other => other.to_string().into_item(),
    }
}

fn reading(table: &mut Table, reading: &Reading, magnification: &str, scale: &str) {
    match reading {
        Reading::Magnification(m) => drop(table.insert(magnification, number(*m))),
        Reading::Scan { px_per_mm, pitch_um } => {
            table.insert(scale, number(*px_per_mm));
            table.insert("pitch_um", (*pitch_um).into_item());
        }
    }
}

fn frame(entry: &FrameEntry) -> Table {
    let mut table = Table::new();
    table.insert("label", entry.label.as_str().into_item());
    table.insert("parts", list(&entry.parts));
    table.insert("focus", focus(&entry.at));
    reading(&mut table, &entry.reading, "magnification", "px_per_mm");
    put(&mut table, "subject_to_film_mm", entry.subject_to_film_mm);
    table
}

fn pupil(entry: &PupilEntry) -> Table {
    let mut table = Table::new();
    table.insert("label", entry.label.as_str().into_item());
    if let Some(lens) = &entry.lens {
        table.insert("lens", lens.as_str().into_item());
    }
    table.insert("side", entry.side.word().into_item());
    put(&mut table, "diameter_px", Some(entry.diameter_px));
    put(&mut table, "px_per_mm", entry.px_per_mm);
    put(&mut table, "camera_mm", entry.camera_mm);
    put(&mut table, "depth_mm", entry.depth_mm);
    table
}

fn close_up(entry: &CloseUpEntry) -> Table {
    let mut table = Table::new();
    for (key, words) in [("label", &entry.label), ("part", &entry.part), ("lens", &entry.lens)] {
        table.insert(key, words.as_str().into_item());
    }
    if let Some(body) = &entry.body {
        table.insert("body", body.as_str().into_item());
    }
    if !entry.rings.is_empty() {
        table.insert("rings", list(&entry.rings));
    }
    table.insert("focus", focus(&entry.at));
    if let Some(without) = &entry.without {
        reading(&mut table, without, "magnification_without", "px_per_mm_without");
    }
    reading(&mut table, &entry.with, "magnification_with", "px_per_mm_with");
    table
}

#[cfg(test)]
mod tests {
    use super::super::{At, FrameEntry, Given, Number, Reading};

    #[test]
    fn what_is_written_is_read_again() {
        let text = r#"
            common_scale = 0.002
            use_outliers = true
            [[frame]]
            label = "A \"quoted\" name"
            parts = ["six", "tube-50", "normal"]
            focus = { value = 3.5, plus_minus = 0.05 }
            px_per_mm = { value = 71.25, plus_minus = 0.1 }
            pitch_um = 6.35
            subject_to_film_mm = 342
            [[pupil]]
            side = "back"
            diameter_px = 400
            camera_mm = 600
            depth_mm = -12.5
            [[close_up]]
            part = "plus-4"
            lens = "normal"
            rings = ["step"]
            focus = "closest"
            magnification_without = 0.12
            magnification_with = 0.45
        "#;
        let given = Given::parse(text).expect("a calibrating file");
        assert_eq!(Given::parse(&given.to_toml()).as_ref(), Ok(&given), "{}", given.to_toml());
        let reading = Reading::Scan { px_per_mm: Number { value: 71.25, plus_minus: Some(0.1) }, pitch_um: 6.35 };
        let frame: &FrameEntry = &given.frames[0];
        assert_eq!((frame.reading, frame.at), (reading, At::Travel(Number { value: 3.5, plus_minus: Some(0.05) })));
        // Without a label an entry is called by its place.
        assert_eq!(
            (given.pupils[0].label.as_str(), given.close_ups[0].label.as_str()),
            ("pupil photograph 1", "close-up pair 1")
        );
    }
}
