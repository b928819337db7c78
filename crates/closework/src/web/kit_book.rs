//! The kit as the notebook keeps it: each part as its own piece of kit file.

use kit::{Kind, Kit, KitError, Part};
use notebook::{Notebook, PartRecord};

use super::PageError;

/// A set-up's name: its parts without the body, which is the same in most. Names hold commas and plus signs of their own, so
/// that a raised dot parts them.
pub fn set_up_name(kit: &Kit, parts: &[String]) -> String {
    parts.iter().skip(1).map(|word| word_name(kit, word)).collect::<Vec<_>>().join(" · ")
}

/// [`set_up_name`] in short names, where there is no room for more.
pub fn short_name(parts: &[String]) -> String {
    parts.iter().skip(1).map(String::as_str).collect::<Vec<_>>().join(" + ")
}

/// The body of a set-up, where the kit has more than one and it has to be said.
pub fn body_name(kit: &Kit, parts: &[String]) -> Option<String> {
    kit.of_kind(Kind::Body).nth(1)?;
    Some(part_name(kit, parts.first()?))
}

/// "normal.pupil_ratio" as the part's id and the field's label.
pub fn named_field<'a>(kit: &Kit, field: &'a str) -> (&'a str, String) {
    let (part, name) = field.split_once('.').unwrap_or((field, ""));
    let spec = kit.part(part).and_then(|part| part.kind().field(name));
    (part, spec.map_or_else(|| name.trim_end_matches("_mm").replace('_', " "), |spec| spec.label.to_owned()))
}

/// A part's name; its short name where the kit no longer has it, and that too where two parts share a name.
pub fn part_name(kit: &Kit, id: &str) -> String {
    let Some(part) = kit.part(id) else { return id.to_owned() };
    if kit.parts().iter().any(|other| other.id() != id && other.name() == part.name()) {
        format!("{} ({id})", part.name())
    } else {
        part.name().to_owned()
    }
}

/// A word of a list of parts: "bellows=85", "normal-85=reversed", "free=120" or a part alone.
pub fn word_name(kit: &Kit, word: &str) -> String {
    match word.split_once('=') {
        None => part_name(kit, word),
        Some(("free", mm)) => format!("{mm} mm free"),
        Some((id, "reversed")) => format!("{}, reversed", part_name(kit, id)),
        Some((id, mm)) => format!("{} at {mm} mm", part_name(kit, id)),
    }
}

/// Everything in the drawer.
pub fn read_kit(book: &Notebook) -> Result<Kit, PageError> {
    of_records(&book.parts()?)
}

/// What is wished for, beside the drawer.
pub fn read_wishes(book: &Notebook) -> Result<Kit, PageError> {
    of_records(&book.wishes()?)
}

fn of_records(records: &[PartRecord]) -> Result<Kit, PageError> {
    let text: String = records.iter().map(|record| record.document.clone() + "\n").collect();
    Kit::parse(&text).map_err(unreadable)
}

/// One part as it is kept.
pub fn record(part: &Part) -> PartRecord {
    PartRecord { kind: part.kind().spec().table.into(), id: part.id().into(), document: part.to_toml() }
}

/// All parts as they are kept.
pub fn records(kit: &Kit) -> Vec<PartRecord> {
    kit.parts().iter().map(record).collect()
}

fn unreadable(error: KitError) -> PageError {
    PageError::broken("A part in the notebook cannot be read; it was perhaps written by a newer version.", error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn set_ups_go_by_the_names_of_their_parts() {
        let tube = |id: &str, name: &str| {
            format!("[[tube]]\nid = \"{id}\"\nmount = \"m\"\nlength_mm = 10\nname = \"{name}\"\n")
        };
        let kit = Kit::parse(&(tube("a", "Tube, 10 mm") + &tube("b", "Ring") + &tube("c", "Ring"))).unwrap();
        let name = |words: &[&str]| set_up_name(&kit, &words.iter().map(ToString::to_string).collect::<Vec<_>>());
        assert_eq!(name(&["body", "a", "gone"]), "Tube, 10 mm · gone");
        // Shared names are told apart by what the kit file calls them.
        assert_eq!(name(&["body", "b", "c"]), "Ring (b) · Ring (c)");
        assert_eq!(
            name(&["body", "free=120", "a=reversed", "a=85"]),
            "120 mm free · Tube, 10 mm, reversed · Tube, 10 mm at 85 mm"
        );
    }
}
