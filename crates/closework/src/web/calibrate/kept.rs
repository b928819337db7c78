//! What the notebook remembers of a part's calibration beside frames and scans: entries made by hand, as the text of a
//! calibrating file, and what was unticked.

use notebook::{Notebook, NotebookError};

use crate::calibrating::Given;
use crate::web::PageError;

/// Entries by hand, options, and what takes no part.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Kept {
    /// Entries made by hand, and the options.
    pub given: Given,
    /// Names of what was unticked: "scan 12", or "by hand: A1".
    pub left_out: Vec<String>,
}

impl Kept {
    pub fn takes(&self, name: &str) -> bool {
        !self.left_out.iter().any(|left| left == name)
    }
}

/// The name of an entry made by hand among the ticks.
pub(super) fn hand_name(label: &str) -> String {
    format!("by hand: {label}")
}

fn keys(part: &str) -> [String; 2] {
    [format!("calibrating {part}"), format!("calibrating {part}, left out")]
}

pub(super) fn read(book: &Notebook, part: &str) -> Result<Kept, PageError> {
    let [given, left_out] = keys(part);
    let text = book.setting(&given)?.unwrap_or_default();
    let broken = |error| {
        PageError::broken(
            "The frames entered for this part cannot be read; a newer version wrote them, perhaps.",
            error,
        )
    };
    let given = Given::parse(&text).map_err(broken)?;
    let left_out = book.setting(&left_out)?.unwrap_or_default().lines().map(str::to_owned).collect();
    Ok(Kept { given, left_out })
}

pub(super) fn write(book: &mut Notebook, part: &str, kept: &Kept) -> Result<(), NotebookError> {
    let [given, left_out] = keys(part);
    book.atomically(|book| {
        book.set_setting(&given, &kept.given.to_toml())?;
        book.set_setting(&left_out, &kept.left_out.join("\n"))
    })
}
