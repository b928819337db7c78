//! Frames of a roll, planned and shot.

use std::ops::Deref;

use rusqlite::{Params, Row, ToSql, params};

use crate::error::NotebookError;
use crate::ids::{FrameId, JobId, RollId};
use crate::store::Notebook;
use crate::values::{Checked, above_zero_if_any, allowed, odd_word};

/// How far a frame has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum FrameState {
    /// To be taken as noted.
    #[default]
    Planned,
    /// Taken as noted.
    Shot,
    /// Planned, and then not taken on purpose.
    LeftOut,
}

impl FrameState {
    /// The word in the column `state`, and whether `left_out` is set.
    fn columns(self) -> (&'static str, bool) {
        match self {
            Self::Planned => ("planned", false),
            Self::Shot => ("shot", false),
            Self::LeftOut => ("planned", true),
        }
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let word: String = row.get("state")?;
        match (word.as_str(), row.get("left_out")?) {
            ("planned", false) => Ok(Self::Planned),
            ("planned", true) => Ok(Self::LeftOut),
            ("shot", _) => Ok(Self::Shot),
            _ => Err(odd_word("the state of a frame", word)),
        }
    }
}

/// What is set for one exposure, and what the meter said.
#[derive(Debug, Clone, PartialEq)]
pub struct Exposed {
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
    /// What the frame is for, in one sentence, when a test roll was planned.
    pub purpose: String,
    /// The planner's key: which repeat, control or step of a bracket this is.
    pub slot: String,
    /// How far the focus is set off on purpose, in millimetres, positive away from the subject; none without a bracket.
    pub focus_offset_mm: Option<f64>,
    /// How the shutter time was worked out, in a sentence.
    pub exposure_note: String,
    /// Planned, shot or left out.
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
            purpose: String::new(),
            slot: String::new(),
            focus_offset_mm: None,
            exposure_note: String::new(),
            state: FrameState::Planned,
        }
    }
}

impl FrameDraft {
    fn check(&self) -> Checked {
        above_zero_if_any("the f-number", self.f_number, "a number above 0")?;
        above_zero_if_any("the shutter time", self.shutter_s, "a number above 0, in seconds")?;
        above_zero_if_any("the metered time", self.metered_s, "a number above 0, in seconds")?;
        let offset = self.focus_offset_mm;
        let finite = offset.is_none_or(f64::is_finite);
        allowed(finite, "the focus offset", offset.unwrap_or_default(), "a number, in mm")
    }

    /// What is set for the exposure.
    pub fn exposed(&self) -> Exposed {
        let Self { parts, focus, f_number, shutter_s, metered_s, .. } = self.clone();
        Exposed { parts, focus, f_number, shutter_s, metered_s }
    }

    /// The columns in one order, for both ways of writing a frame; `first` is the roll's number or the frame's own.
    fn values<'a>(&'a self, first: impl ToSql + 'a) -> impl Params + 'a {
        let (state, left_out) = self.state.columns();
        (
            first,
            self.number,
            &self.label,
            parts_json(&self.parts),
            &self.focus,
            self.f_number,
            self.shutter_s,
            self.metered_s,
            &self.note,
            &self.purpose,
            &self.slot,
            self.focus_offset_mm,
            &self.exposure_note,
            state,
            left_out,
        )
    }

    /// Puts `set` in the place of what is set for the exposure.
    pub fn set_exposed(&mut self, set: Exposed) {
        let Exposed { parts, focus, f_number, shutter_s, metered_s } = set;
        (self.parts, self.focus, self.f_number) = (parts, focus, f_number);
        (self.shutter_s, self.metered_s) = (shutter_s, metered_s);
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            number: row.get("number")?,
            label: row.get("label")?,
            parts: from_parts_json(row.get("parts")?)?,
            focus: row.get("focus")?,
            f_number: row.get("f_number")?,
            shutter_s: row.get("shutter_s")?,
            metered_s: row.get("metered_s")?,
            note: row.get("note")?,
            purpose: row.get("purpose")?,
            slot: row.get("slot")?,
            focus_offset_mm: row.get("focus_offset_mm")?,
            exposure_note: row.get("exposure_note")?,
            state: FrameState::read(row)?,
        })
    }
}

impl Exposed {
    /// What was planned, where that is kept apart from what was taken.
    fn read_planned(row: &Row<'_>) -> rusqlite::Result<Option<Self>> {
        let (Some(parts), Some(focus)) = (row.get("planned_parts")?, row.get("planned_focus")?) else {
            return Ok(None);
        };
        Ok(Some(Self {
            parts: from_parts_json(parts)?,
            focus,
            f_number: row.get("planned_f_number")?,
            shutter_s: row.get("planned_shutter_s")?,
            metered_s: row.get("planned_metered_s")?,
        }))
    }
}

/// The parts as a JSON array of texts.
pub(crate) fn parts_json(parts: &[String]) -> String {
    serde_json::Value::from(parts.to_vec()).to_string()
}

pub(crate) fn from_parts_json(parts: String) -> rusqlite::Result<Vec<String>> {
    serde_json::from_str(&parts).map_err(|_| odd_word("the parts of a frame", parts))
}

/// A frame in the notebook. What the person filled in is reached directly: `frame.number`.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Its number in the notebook (not on the film).
    pub id: FrameId,
    /// The roll that it is on.
    pub roll: RollId,
    /// As filled in; once it is shot, as it was taken.
    pub draft: FrameDraft,
    /// What was planned, when something else was taken.
    pub planned: Option<Exposed>,
}

impl Deref for Frame {
    type Target = FrameDraft;

    fn deref(&self) -> &FrameDraft {
        &self.draft
    }
}

impl Frame {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let (draft, planned) = (FrameDraft::read(row)?, Exposed::read_planned(row)?);
        Ok(Self { id: row.get("id")?, roll: row.get("roll")?, draft, planned })
    }

    /// The plan: where something else was taken, what was planned before.
    pub fn plan(&self) -> Exposed {
        self.planned.clone().unwrap_or_else(|| self.draft.exposed())
    }
}

impl Notebook {
    /// Adds a frame to a roll.
    pub fn add_frame(&mut self, roll: RollId, draft: &FrameDraft) -> Result<FrameId, NotebookError> {
        draft.check()?;
        let sql = "INSERT INTO frames (roll, number, label, parts, focus, f_number, shutter_s, metered_s, note, \
                   purpose, slot, focus_offset_mm, exposure_note, state, left_out) \
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)";
        let id = self.insert(sql, draft.values(roll)).map_err(|failure| {
            failure
                .no_owner(NotebookError::NoSuchRoll { id: roll })
                .taken(NotebookError::FrameNumberTaken { roll, number: draft.number })
        })?;
        Ok(FrameId(id))
    }

    /// Puts `draft` in the place of what the frame said. Its number may change, when the new one is free.
    ///
    /// What was planned stays beside it as long as it differs; a frame that is planned (again) has nothing beside its
    /// plan.
    pub fn update_frame(&mut self, id: FrameId, draft: &FrameDraft) -> Result<(), NotebookError> {
        draft.check()?;
        self.atomically(|book| {
            let before = book.frame(id)?.ok_or(NotebookError::NoSuchFrame { id })?;
            let plan = (before.state != FrameState::Shot).then(|| before.draft.exposed());
            book.write_frame(&before, draft, before.planned.clone().or(plan).as_ref())
        })
    }

    /// Writes a frame with its plan beside it, unless the plan says the same or the frame is not taken.
    pub(crate) fn write_frame(
        &mut self,
        before: &Frame,
        draft: &FrameDraft,
        plan: Option<&Exposed>,
    ) -> Result<(), NotebookError> {
        draft.check()?;
        let taken = NotebookError::FrameNumberTaken { roll: before.roll, number: draft.number };
        let sql = "UPDATE frames SET number = ?2, label = ?3, parts = ?4, focus = ?5, f_number = ?6, shutter_s = ?7, \
                   metered_s = ?8, note = ?9, purpose = ?10, slot = ?11, focus_offset_mm = ?12, exposure_note = ?13, \
                   state = ?14, left_out = ?15 WHERE id = ?1";
        self.atomically(|book| {
            book.write(sql, draft.values(before.id)).map_err(|failure| failure.taken(taken))?;
            let differs = plan.filter(|plan| draft.state == FrameState::Shot && **plan != draft.exposed());
            book.write_plan(before.id, differs)
        })
    }

    fn write_plan(&mut self, id: FrameId, plan: Option<&Exposed>) -> Result<(), NotebookError> {
        let sql = "UPDATE frames SET planned_parts = ?2, planned_focus = ?3, planned_f_number = ?4, \
                   planned_shutter_s = ?5, planned_metered_s = ?6 WHERE id = ?1";
        let values = params![
            id,
            plan.map(|plan| parts_json(&plan.parts)),
            plan.map(|plan| &plan.focus),
            plan.and_then(|plan| plan.f_number),
            plan.and_then(|plan| plan.shutter_s),
            plan.and_then(|plan| plan.metered_s),
        ];
        self.write(sql, values)?;
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
