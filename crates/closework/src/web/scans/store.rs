//! The folder of scans: names of our own, and nothing that a visitor chose.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{SystemTime, UNIX_EPOCH};

use notebook::Scan;

use crate::web::App;

/// A name for a new file: the time and a count, so that it is new even when the clock was set back.
pub fn new_name() -> String {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    format!("{:x}-{:x}-{:x}", since.as_micros(), std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed))
}

/// Where the file of a scan lies, by its stored name.
pub fn file_of(app: &App, stored: &str) -> PathBuf {
    app.scans_folder().join(stored)
}

/// The folder of a scan's tiles.
pub fn tiles_of(app: &App, stored: &str) -> PathBuf {
    app.scans_folder().join(format!("{stored}.tiles"))
}

/// The folder of the marks on a scan's clipped samples.
pub fn ends_of(app: &App, stored: &str) -> PathBuf {
    app.scans_folder().join(format!("{stored}.ends"))
}

/// Removes a scan's file, tiles and marks; what is gone already is no fault.
pub fn discard(app: &App, stored: &str) {
    let _ = std::fs::remove_file(file_of(app, stored));
    let _ = std::fs::remove_dir_all(tiles_of(app, stored));
    let _ = std::fs::remove_dir_all(ends_of(app, stored));
}

/// Removes what killed uploads, imports and deletions left: everything that belongs to none of the scans.
pub fn sweep(app: &App, known: &[Scan]) {
    let Ok(entries) = std::fs::read_dir(app.scans_folder()) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let kept =
            |scan: &Scan| name.strip_prefix(&scan.stored).is_some_and(|end| ["", ".tiles", ".ends"].contains(&end));
        let ours = known.iter().any(kept);
        if !ours && looks_like_ours(&name) {
            let path = entry.path();
            let _ = if path.is_dir() { std::fs::remove_dir_all(path) } else { std::fs::remove_file(path) };
        }
    }
}

/// Only names that [`new_name`] makes are ever swept away: a file that a person put here stays.
fn looks_like_ours(name: &str) -> bool {
    let base = name.split('.').next().unwrap_or_default();
    let parts: Vec<_> = base.split('-').collect();
    parts.len() == 3 && parts.iter().all(|p| !p.is_empty() && p.bytes().all(|b| b.is_ascii_hexdigit()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_differ_and_are_known_again() {
        let (a, b) = (new_name(), new_name());
        assert_ne!(a, b);
        for name in [
            a.clone(),
            format!("{a}.part"),
            format!("{a}.tiles"),
            format!("{a}.tiles.part"),
            format!("{a}.ends.part"),
            format!("{a}.tif"),
        ] {
            assert!(looks_like_ours(&name), "{name}");
        }
        for name in ["holiday.tif", "a-b.tif", "x-y-z", ""] {
            assert!(!looks_like_ours(name), "{name}");
        }
    }
}
