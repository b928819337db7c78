//! Sidecars and tables: printed by `sidecars --json` and `frames in --json`.

use serde::Serialize;

/// Sidecars as they would be written: `sidecars --json` without `--beside`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SidecarsDocument {
    /// One for each scan that shows a frame.
    pub sidecars: Vec<SidecarDocument>,
    /// Scans that show no frame, so that nothing is known to write.
    pub without_frame: Vec<String>,
}

/// One sidecar.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SidecarDocument {
    /// The scan's file.
    pub scan: String,
    /// The sidecar's.
    pub sidecar: String,
    /// The whole packet.
    pub content: String,
}

/// What was written beside the scans: `sidecars --beside FOLDER --json`. Names of files.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WrittenDocument {
    /// The folder.
    pub folder: String,
    /// New sidecars.
    pub new: Vec<String>,
    /// Sidecars of ours that were made anew.
    pub renewed: Vec<String>,
    /// Sidecars that said the same already.
    pub unchanged: Vec<String>,
    /// Scans that do not lie in the folder.
    pub not_there: Vec<String>,
    /// Scans that show no frame.
    pub without_frame: Vec<String>,
}

/// What a table does: `frames in --json`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PaperDocument {
    /// It is kept; otherwise this is what it would do.
    pub kept: bool,
    /// Rows that tell of a frame.
    pub rows: usize,
    /// Frames that are new.
    pub new: usize,
    /// Frames that change.
    pub changed: usize,
    /// Frames that said the same already.
    pub same: usize,
    /// Rolls that begin.
    pub new_rolls: Vec<String>,
    /// Rolls whose film or speed changes.
    pub changed_rolls: Vec<String>,
    /// "UTF-8", "UTF-16" or "Windows-1252".
    pub encoding: &'static str,
    /// "commas", "semicolons" or "tabs".
    pub separator: &'static str,
    /// Headings that mean nothing here.
    pub unknown_columns: Vec<String>,
    /// Reservations, as sentences.
    pub remarks: Vec<String>,
}
