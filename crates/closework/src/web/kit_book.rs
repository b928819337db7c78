//! The kit as the notebook keeps it: each part as its own piece of kit file.

use kit::{Kit, KitError, Part};
use notebook::{Notebook, PartRecord};

use super::PageError;

/// A set-up's name: its parts without the body, which is the same in most.
pub fn set_up_name(parts: &[String]) -> String {
    parts.iter().skip(1).map(String::as_str).collect::<Vec<_>>().join(" + ")
}

/// Everything in the drawer.
pub fn read_kit(book: &Notebook) -> Result<Kit, PageError> {
    let text: String = book.parts()?.iter().map(|record| record.document.clone() + "\n").collect();
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
