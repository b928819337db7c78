//! Rolls of film, each shot for one job.

use std::ops::Deref;

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{JobId, RollId};
use crate::store::Notebook;
use crate::values::{Checked, above_zero_if_any};

/// A roll as a person fills it in.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RollDraft {
    /// What the roll is called.
    pub title: String,
    /// The film.
    pub film: String,
    /// The exposure index at which it is exposed (ISO arithmetic).
    pub iso: Option<f64>,
    /// How many frames the roll holds, when known; at least 1.
    pub frames: Option<u32>,
    /// The question that its frames were planned to answer, as text (JSON) kept verbatim; empty without one.
    pub plan: String,
    /// Anything else.
    pub notes: String,
}

impl RollDraft {
    fn check(&self) -> Checked {
        above_zero_if_any("the film speed", self.iso, "a number above 0 (ISO)")?;
        above_zero_if_any("the number of frames on the roll", self.frames.map(f64::from), "1 or more")
    }
}

/// A roll in the notebook. What the person filled in is reached directly: `roll.film`.
#[derive(Debug, Clone, PartialEq)]
pub struct Roll {
    /// Its number.
    pub id: RollId,
    /// The job that it belongs to.
    pub job: JobId,
    /// As filled in.
    pub draft: RollDraft,
    /// Whether paired phones may see it and log on it.
    pub at_camera: bool,
}

impl Deref for Roll {
    type Target = RollDraft;

    fn deref(&self) -> &RollDraft {
        &self.draft
    }
}

impl Roll {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let draft = RollDraft {
            title: row.get("title")?,
            film: row.get("film")?,
            iso: row.get("iso")?,
            frames: row.get("frames")?,
            plan: row.get("plan")?,
            notes: row.get("notes")?,
        };
        Ok(Self { id: row.get("id")?, job: row.get("job")?, draft, at_camera: row.get("at_camera")? })
    }
}

impl Notebook {
    /// Adds a roll to a job.
    pub fn add_roll(&mut self, job: JobId, draft: &RollDraft) -> Result<RollId, NotebookError> {
        draft.check()?;
        let sql = "INSERT INTO rolls (job, title, film, iso, notes, frames, plan) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)";
        let id = self
            .insert(sql, params![job, draft.title, draft.film, draft.iso, draft.notes, draft.frames, draft.plan])
            .map_err(|failure| failure.no_owner(NotebookError::NoSuchJob { id: job }))?;
        Ok(RollId(id))
    }

    /// The rolls of a job, in the order in which they were entered.
    pub fn rolls(&self, job: JobId) -> Result<Vec<Roll>, NotebookError> {
        self.many("SELECT * FROM rolls WHERE job = ?1 ORDER BY id", [job], Roll::read)
    }

    /// The roll of this number.
    pub fn roll(&self, id: RollId) -> Result<Option<Roll>, NotebookError> {
        self.one("SELECT * FROM rolls WHERE id = ?1", [id], Roll::read)
    }

    /// Puts `draft` in the place of what the roll said.
    pub fn update_roll(&mut self, id: RollId, draft: &RollDraft) -> Result<(), NotebookError> {
        draft.check()?;
        let sql = "UPDATE rolls SET title = ?2, film = ?3, iso = ?4, notes = ?5, frames = ?6, plan = ?7 \
                   WHERE id = ?1";
        let values = params![id, draft.title, draft.film, draft.iso, draft.notes, draft.frames, draft.plan];
        Ok(self.write_one(sql, values, NotebookError::NoSuchRoll { id })?)
    }

    /// Opens a roll to the paired phones, or closes it to them.
    pub fn set_roll_at_camera(&mut self, id: RollId, open: bool) -> Result<(), NotebookError> {
        let sql = "UPDATE rolls SET at_camera = ?2 WHERE id = ?1";
        Ok(self.write_one(sql, params![id, open], NotebookError::NoSuchRoll { id })?)
    }

    /// The rolls that paired phones may see and log on, in the order in which they were entered.
    pub fn rolls_at_camera(&self) -> Result<Vec<Roll>, NotebookError> {
        self.many("SELECT * FROM rolls WHERE at_camera = 1 ORDER BY id", [], Roll::read)
    }

    /// Deletes a roll with its frames. Their scans stay, with no frame.
    pub fn delete_roll(&mut self, id: RollId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM rolls WHERE id = ?1", [id], NotebookError::NoSuchRoll { id })?)
    }
}
