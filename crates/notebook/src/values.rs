//! Checks of what is about to be kept, and readers for what was kept as a word.

use rusqlite::types::Type;

use crate::error::NotebookError;

/// The result of a check.
pub(crate) type Checked = Result<(), NotebookError>;

/// A finite number above zero.
pub(crate) fn above_zero(field: &'static str, given: f64, wanted: &'static str) -> Checked {
    allowed(given.is_finite() && given > 0.0, field, given, wanted)
}

/// Nothing, or a finite number above zero.
pub(crate) fn above_zero_if_any(field: &'static str, given: Option<f64>, wanted: &'static str) -> Checked {
    given.map_or(Ok(()), |given| above_zero(field, given, wanted))
}

/// Nothing, or a finite number that is not negative.
pub(crate) fn not_negative_if_any(field: &'static str, given: Option<f64>, wanted: &'static str) -> Checked {
    given.map_or(Ok(()), |given| allowed(given.is_finite() && given >= 0.0, field, given, wanted))
}

/// A number of which the caller has found out whether it `holds`.
pub(crate) fn allowed(holds: bool, field: &'static str, given: f64, wanted: &'static str) -> Checked {
    if holds { Ok(()) } else { Err(NotebookError::Value { field, given, wanted }) }
}

/// A text with something in it.
pub(crate) fn filled(field: &'static str, given: &str) -> Checked {
    if given.trim().is_empty() { Err(NotebookError::Blank { field }) } else { Ok(()) }
}

/// A word in the file that this program never wrote there.
#[derive(Debug, thiserror::Error)]
#[error("{column} says \"{found}\"")]
struct OddWord {
    column: &'static str,
    found: String,
}

/// The error for a word that stands for nothing.
pub(crate) fn odd_word(column: &'static str, found: impl Into<String>) -> rusqlite::Error {
    rusqlite::Error::FromSqlConversionFailure(0, Type::Text, Box::new(OddWord { column, found: found.into() }))
}
