//! Measurements taken in scans. Where and what they are is JSON, kept verbatim.

use std::ops::Deref;

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{JobId, MeasurementId, ScanId};
use crate::store::Notebook;
use crate::values::odd_word;

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MeasurementKind {
    /// The sharpness of an edge.
    Edge,
    /// The scale, on a ruler.
    Scale,
    /// Everything that one frame holds.
    Frame,
}

impl MeasurementKind {
    fn word(self) -> &'static str {
        match self {
            Self::Edge => "edge",
            Self::Scale => "scale",
            Self::Frame => "frame",
        }
    }

    fn of(word: &str) -> rusqlite::Result<Self> {
        match word {
            "edge" => Ok(Self::Edge),
            "scale" => Ok(Self::Scale),
            "frame" => Ok(Self::Frame),
            other => Err(odd_word("the kind of a measurement", other)),
        }
    }
}

/// A measurement as it is handed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeasurementDraft {
    /// The scan that it was taken in.
    pub scan: ScanId,
    /// What was measured.
    pub kind: MeasurementKind,
    /// Where, in words, for example "centre".
    pub label: String,
    /// Where, as JSON: a region, or from where to where.
    pub place: String,
    /// What came out, as JSON.
    pub result: String,
    /// With which settings it was made, as JSON; empty where there were none to choose.
    pub settings: String,
    /// Which program in which version made it; empty for what was kept before that was written down.
    pub made_by: String,
}

/// A measurement in the notebook. What was handed in is reached directly: `measurement.result`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measurement {
    /// Its number.
    pub id: MeasurementId,
    /// As handed in.
    pub draft: MeasurementDraft,
    /// When it was taken, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Deref for Measurement {
    type Target = MeasurementDraft;

    fn deref(&self) -> &MeasurementDraft {
        &self.draft
    }
}

impl Measurement {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let draft = MeasurementDraft {
            scan: row.get("scan")?,
            kind: MeasurementKind::of(&row.get::<_, String>("kind")?)?,
            label: row.get("label")?,
            place: row.get("place")?,
            result: row.get("result")?,
            settings: row.get("settings")?,
            made_by: row.get("made_by")?,
        };
        Ok(Self { id: row.get("id")?, draft, created: row.get("created")? })
    }
}

impl Notebook {
    /// Adds a measurement; `now` is the time at which it was taken, RFC 3339.
    pub fn add_measurement(&mut self, draft: &MeasurementDraft, now: &str) -> Result<MeasurementId, NotebookError> {
        let sql = "INSERT INTO measurements (scan, kind, label, place, result, settings, made_by, created) \
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)";
        let MeasurementDraft { scan, kind, label, place, result, settings, made_by } = draft;
        let values = params![scan, kind.word(), label, place, result, settings, made_by, now];
        let id = self
            .insert(sql, values)
            .map_err(|failure| failure.no_owner(NotebookError::NoSuchScan { id: draft.scan }))?;
        Ok(MeasurementId(id))
    }

    /// The measurement of this number.
    pub fn measurement(&self, id: MeasurementId) -> Result<Option<Measurement>, NotebookError> {
        self.one("SELECT * FROM measurements WHERE id = ?1", [id], Measurement::read)
    }

    /// The measurements taken in a scan, in the order in which they were taken.
    pub fn measurements(&self, scan: ScanId) -> Result<Vec<Measurement>, NotebookError> {
        self.many("SELECT * FROM measurements WHERE scan = ?1 ORDER BY id", [scan], Measurement::read)
    }

    /// The measurements taken in all scans of a job, in the order in which they were taken.
    pub fn measurements_of_job(&self, job: JobId) -> Result<Vec<Measurement>, NotebookError> {
        let sql = "SELECT measurements.* FROM measurements JOIN scans ON scans.id = measurements.scan \
                   WHERE scans.job = ?1 ORDER BY measurements.id";
        self.many(sql, [job], Measurement::read)
    }

    /// Deletes a measurement.
    pub fn delete_measurement(&mut self, id: MeasurementId) -> Result<(), NotebookError> {
        let missing = NotebookError::NoSuchMeasurement { id };
        Ok(self.write_one("DELETE FROM measurements WHERE id = ?1", [id], missing)?)
    }
}
