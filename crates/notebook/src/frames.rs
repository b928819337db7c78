//! Frames of a roll, planned and shot.

use std::ops::Deref;

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{FrameId, JobId, RollId};
use crate::store::Notebook;
use crate::values::{Checked, above_zero_if_any, odd_word};

/// How far a frame has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum FrameState {
    /// To be taken as noted.
    #[default]
    Planned,
    /// Taken as noted.
    Shot,
}

impl FrameState {
    fn word(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Shot => "shot",
        }
    }

    fn of(word: &str) -> rusqlite::Result<Self> {
        match word {
            "planned" => Ok(Self::Planned),
            "shot" => Ok(Self::Shot),
            other => Err(odd_word("the state of a frame", other)),
        }
    }
}

/// A frame as a person fills it in.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameDraft {
    /// The frame's number on the film: once per roll.
    pub number: u32,
    /// What is on it, in a few words.
    pub label: String,
    /// The parts from body to subject, each as on the command line: "bellows-1=85".
    pub parts: Vec<String>,
    /// How the lens is focused: "infinity", "closest" or "travel=3.5" (mm).
    pub focus: String,
    /// The f-number set on the lens.
    pub f_number: Option<f64>,
    /// The shutter time set, in seconds.
    pub shutter_s: Option<f64>,
    /// The time that the meter gave, in seconds.
    pub metered_s: Option<f64>,
    /// Anything else.
    pub note: String,
    /// Planned or shot.
    pub state: FrameState,
}

/// The first frame of a roll, focused at infinity, nothing else filled in.
impl Default for FrameDraft {
    fn default() -> Self {
        Self {
            number: 1,
            label: String::new(),
            parts: Vec::new(),
            focus: "infinity".to_owned(),
            f_number: None,
            shutter_s: None,
            metered_s: None,
            note: String::new(),
            state: FrameState::Planned,
        }
    }
}

impl FrameDraft {
    fn check(&self) -> Checked {
        above_zero_if_any("the f-number", self.f_number, "a number above 0")?;
        above_zero_if_any("the shutter time", self.shutter_s, "a number above 0, in seconds")?;
        above_zero_if_any("the metered time", self.metered_s, "a number above 0, in seconds")
    }

    /// The parts as a JSON array of texts.
    fn parts_json(&self) -> String {
        serde_json::Value::from(self.parts.clone()).to_string()
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let parts: String = row.get("parts")?;
        Ok(Self {
            number: row.get("number")?,
            label: row.get("label")?,
            parts: serde_json::from_str(&parts).map_err(|_| odd_word("the parts of a frame", parts))?,
            focus: row.get("focus")?,
            f_number: row.get("f_number")?,
            shutter_s: row.get("shutter_s")?,
            metered_s: row.get("metered_s")?,
            note: row.get("note")?,
            state: FrameState::of(&row.get::<_, String>("state")?)?,
        })
    }
}

/// A frame in the notebook. What the person filled in is reached directly: `frame.number`.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Its number in the notebook (not on the film).
    pub id: FrameId,
    /// The roll that it is on.
    pub roll: RollId,
    /// As filled in.
    pub draft: FrameDraft,
}

impl Deref for Frame {
    type Target = FrameDraft;

    fn deref(&self) -> &FrameDraft {
        &self.draft
    }
}

impl Frame {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { id: row.get("id")?, roll: row.get("roll")?, draft: FrameDraft::read(row)? })
    }
}

impl Notebook {
    /// Adds a frame to a roll.
    pub fn add_frame(&mut self, roll: RollId, draft: &FrameDraft) -> Result<FrameId, NotebookError> {
        draft.check()?;
        let sql = "INSERT INTO frames (roll, number, label, parts, focus, f_number, shutter_s, metered_s, note, state) \
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)";
        let values = params![
            roll,
            draft.number,
            draft.label,
            draft.parts_json(),
            draft.focus,
            draft.f_number,
            draft.shutter_s,
            draft.metered_s,
            draft.note,
            draft.state.word(),
        ];
        let id = self.insert(sql, values).map_err(|failure| {
            failure
                .no_owner(NotebookError::NoSuchRoll { id: roll })
                .taken(NotebookError::FrameNumberTaken { roll, number: draft.number })
        })?;
        Ok(FrameId(id))
    }

    /// Puts `draft` in the place of what the frame said. Its number may change, when the new one is free.
    pub fn update_frame(&mut self, id: FrameId, draft: &FrameDraft) -> Result<(), NotebookError> {
        draft.check()?;
        self.atomically(|book| {
            let roll = book.frame(id)?.ok_or(NotebookError::NoSuchFrame { id })?.roll;
            book.write_frame(id, draft, NotebookError::FrameNumberTaken { roll, number: draft.number })
        })
    }

    fn write_frame(&mut self, id: FrameId, draft: &FrameDraft, taken: NotebookError) -> Result<(), NotebookError> {
        let sql = "UPDATE frames SET number = ?2, label = ?3, parts = ?4, focus = ?5, f_number = ?6, shutter_s = ?7, \
                   metered_s = ?8, note = ?9, state = ?10 WHERE id = ?1";
        let values = params![
            id,
            draft.number,
            draft.label,
            draft.parts_json(),
            draft.focus,
            draft.f_number,
            draft.shutter_s,
            draft.metered_s,
            draft.note,
            draft.state.word(),
        ];
        self.write(sql, values).map_err(|failure| failure.taken(taken))?;
        Ok(())
    }

    /// The frames of a roll, by their numbers on the film.
    pub fn frames(&self, roll: RollId) -> Result<Vec<Frame>, NotebookError> {
        self.many("SELECT * FROM frames WHERE roll = ?1 ORDER BY number", [roll], Frame::read)
    }

    /// The frames of all rolls of a job, roll by roll, by their numbers on the film.
    pub fn frames_of_job(&self, job: JobId) -> Result<Vec<Frame>, NotebookError> {
        let sql = "SELECT frames.* FROM frames JOIN rolls ON rolls.id = frames.roll WHERE rolls.job = ?1 \
                   ORDER BY frames.roll, frames.number";
        self.many(sql, [job], Frame::read)
    }

    /// The frame of this number in the notebook.
    pub fn frame(&self, id: FrameId) -> Result<Option<Frame>, NotebookError> {
        self.one("SELECT * FROM frames WHERE id = ?1", [id], Frame::read)
    }

    /// Deletes a frame. Its scans stay, with no frame.
    pub fn delete_frame(&mut self, id: FrameId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM frames WHERE id = ?1", [id], NotebookError::NoSuchFrame { id })?)
    }
}
