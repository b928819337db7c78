//! Where the subject lies in a scan, so that scans can be laid over each other.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::ScanId;
use crate::store::Notebook;

/// The placing of a scan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Placing {
    /// The scan.
    pub scan: ScanId,
    /// Points and where they came from, kept verbatim.
    pub document: String,
    /// When, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Placing {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { scan: row.get("scan")?, document: row.get("document")?, created: row.get("created")? })
    }
}

impl Notebook {
    /// Puts this in the place of what was known of the scan's placing; `now` is the time of entry, RFC 3339.
    pub fn set_placing(&mut self, scan: ScanId, document: &str, now: &str) -> Result<(), NotebookError> {
        let sql = "INSERT INTO placings (scan, document, created) VALUES (?1, ?2, ?3) \
                   ON CONFLICT (scan) DO UPDATE SET document = ?2, created = ?3";
        self.write(sql, params![scan, document, now])
            .map_err(|failure| failure.no_owner(NotebookError::NoSuchScan { id: scan }))?;
        Ok(())
    }

    /// The placing of a scan, when there is one.
    pub fn placing(&self, scan: ScanId) -> Result<Option<Placing>, NotebookError> {
        self.one("SELECT * FROM placings WHERE scan = ?1", [scan], Placing::read)
    }

    /// Forgets the placing of a scan; without one nothing happens.
    pub fn forget_placing(&mut self, scan: ScanId) -> Result<(), NotebookError> {
        self.write("DELETE FROM placings WHERE scan = ?1", [scan])?;
        Ok(())
    }
}
