//! What becomes known of a scan, or is decided about it, after it has arrived.

use rusqlite::{Params, params};

use crate::error::NotebookError;
use crate::ids::{FrameId, JobId, ScanId};
use crate::scans::{Magnification, Matched, ScanState};
use crate::store::Notebook;
use crate::values::{Checked, above_zero_if_any, allowed, not_negative_if_any};

/// What was found when a scan's file was read.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ScanPicture {
    /// Its width in pixels; at least 1.
    pub width: u32,
    /// Its height in pixels; at least 1.
    pub height: u32,
    /// Bits per sample; at least 1.
    pub bits: u8,
    /// The distance on the film from pixel to pixel, in micrometres, when known.
    pub pitch_um: Option<f64>,
    /// How the pitch came to be known: "file", "entered", or empty.
    pub pitch_from: String,
    /// How its numbers were turned into light: "icc", "srgb" and the like.
    pub transfer: String,
    /// Remarks made when it was read, as JSON, kept verbatim.
    pub about: String,
}

impl ScanPicture {
    fn check(&self) -> Checked {
        at_least_one("the width of the scan", self.width)?;
        at_least_one("the height of the scan", self.height)?;
        at_least_one("the bits per sample of the scan", self.bits.into())?;
        check_pitch(self.pitch_um)
    }
}

fn at_least_one(field: &'static str, given: u32) -> Checked {
    allowed(given >= 1, field, given.into(), "1 or more")
}

fn check_pitch(pitch_um: Option<f64>) -> Checked {
    above_zero_if_any("the distance from pixel to pixel", pitch_um, "a number above 0, in micrometres")
}

impl Notebook {
    /// Notes what was found when the scan's file was read.
    pub fn set_scan_picture(&mut self, id: ScanId, found: &ScanPicture) -> Result<(), NotebookError> {
        found.check()?;
        let sql = "UPDATE scans SET width = ?2, height = ?3, bits = ?4, pitch_um = ?5, pitch_from = ?6, transfer = ?7, \
                   about = ?8 WHERE id = ?1";
        let ScanPicture { width, height, bits, pitch_um, pitch_from, transfer, about } = found;
        self.change_scan(id, sql, params![id, width, height, bits, pitch_um, pitch_from, transfer, about])
    }

    /// Notes how far the scan has come.
    pub fn set_scan_state(&mut self, id: ScanId, state: &ScanState) -> Result<(), NotebookError> {
        state.check()?;
        let (word, share, why) = state.columns();
        let sql = "UPDATE scans SET state = ?2, share = ?3, why = ?4 WHERE id = ?1";
        self.change_scan(id, sql, params![id, word, share, why])
    }

    /// Notes how large the subject stands on the film, or that this is not known.
    pub fn set_scan_magnification(
        &mut self,
        id: ScanId,
        magnification: Option<Magnification>,
    ) -> Result<(), NotebookError> {
        let (value, plus_minus) = (magnification.map(|m| m.value), magnification.and_then(|m| m.plus_minus));
        above_zero_if_any("the magnification", value, "a number above 0")?;
        not_negative_if_any("the uncertainty of the magnification", plus_minus, "0 or a number above it")?;
        let sql = "UPDATE scans SET magnification = ?2, magnification_plus_minus = ?3, magnification_from = ?4 \
                   WHERE id = ?1";
        self.change_scan(id, sql, params![id, value, plus_minus, magnification.map(|m| m.from.word())])
    }

    /// Notes the distance on the film from pixel to pixel, in micrometres, and how it came to be known ("file",
    /// "entered", or empty).
    pub fn set_scan_pitch(&mut self, id: ScanId, pitch_um: Option<f64>, from: &str) -> Result<(), NotebookError> {
        check_pitch(pitch_um)?;
        let sql = "UPDATE scans SET pitch_um = ?2, pitch_from = ?3 WHERE id = ?1";
        self.change_scan(id, sql, params![id, pitch_um, from])
    }

    /// Says by hand which frame the scan shows; the scan then belongs to that frame's job. With `None` it keeps its job.
    pub fn set_scan_frame(&mut self, id: ScanId, frame: Option<FrameId>) -> Result<(), NotebookError> {
        self.match_scan(id, frame.map(|frame| (frame, Matched::Hand)))
    }

    /// Says which frame the scan shows and how that was found out; with `None` it shows no frame and keeps its job.
    pub fn match_scan(&mut self, id: ScanId, to: Option<(FrameId, Matched)>) -> Result<(), NotebookError> {
        self.atomically(|book| {
            let frame = to.map(|(frame, _)| frame);
            let job = frame.map(|frame| book.job_of_frame(frame)).transpose()?;
            let sql = "UPDATE scans SET frame = ?2, job = coalesce(?3, job), matched_by = ?4 WHERE id = ?1";
            let by = to.map_or("", |(_, by)| by.word());
            book.change_scan(id, sql, params![id, frame, job, by])
        })
    }

    /// Says which job the scan belongs to. When it showed a frame of another job, it lets go of that frame.
    pub fn set_scan_job(&mut self, id: ScanId, job: Option<JobId>) -> Result<(), NotebookError> {
        self.atomically(|book| {
            if let Some(id) = job {
                book.job(id)?.ok_or(NotebookError::NoSuchJob { id })?;
            }
            let sql = "UPDATE scans SET frame = iif(job IS ?2, frame, NULL), job = ?2 WHERE id = ?1";
            book.change_scan(id, sql, params![id, job])
        })
    }

    /// Deletes a scan with its measurements, and gives its name in the folder of scans, so that the file can follow.
    pub fn delete_scan(&mut self, id: ScanId) -> Result<String, NotebookError> {
        self.atomically(|book| {
            let stored = book.scan(id)?.ok_or(NotebookError::NoSuchScan { id })?.stored;
            book.change_scan(id, "DELETE FROM scans WHERE id = ?1", [id])?;
            Ok(stored)
        })
    }

    fn change_scan(&mut self, id: ScanId, sql: &str, values: impl Params) -> Result<(), NotebookError> {
        Ok(self.write_one(sql, values, NotebookError::NoSuchScan { id })?)
    }
}
