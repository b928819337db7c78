//! Trials with the names hidden, and the picks made in them.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{JobId, TrialId};
use crate::store::Notebook;
use crate::values::{Checked, filled, odd_word};

/// A trial as it is handed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrialDraft {
    /// What it is called.
    pub title: String,
    /// The candidates, what is shown of them and in which order, kept verbatim and never changed.
    pub document: String,
}

/// A trial in the notebook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trial {
    /// Its number.
    pub id: TrialId,
    /// The job that it belongs to.
    pub job: JobId,
    /// As handed in.
    pub draft: TrialDraft,
    /// When, as the caller wrote it (RFC 3339).
    pub created: String,
    /// When it was ended and the names shown; `None` while they are hidden.
    pub ended: Option<String>,
}

impl Trial {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let draft = TrialDraft { title: row.get("title")?, document: row.get("document")? };
        let (id, job) = (row.get("id")?, row.get("job")?);
        Ok(Self { id, job, draft, created: row.get("created")?, ended: row.get("ended")? })
    }
}

/// Which of two was the better one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Choice {
    /// The one on the left.
    Left,
    /// The one on the right.
    Right,
    /// Neither.
    NoDifference,
}

impl Choice {
    /// The word for it: "left", "right", "no difference".
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::NoDifference => "no difference",
        }
    }

    fn of(word: &str) -> rusqlite::Result<Self> {
        match word {
            "left" => Ok(Self::Left),
            "right" => Ok(Self::Right),
            "no difference" => Ok(Self::NoDifference),
            other => Err(odd_word("the choice of a pick", other)),
        }
    }
}

/// One pick. Candidates are called by their numbers in the trial's document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pick {
    /// Which pick of its trial, from 1.
    pub number: u32,
    /// What was shown on the left.
    pub left: u32,
    /// What was shown on the right; not the same.
    pub right: u32,
    /// Which was taken.
    pub choice: Choice,
    /// When, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Pick {
    fn check(&self) -> Checked {
        let holds = self.number > 0 && self.left != self.right;
        if holds { Ok(()) } else { Err(NotebookError::PickOfOne { number: self.number }) }
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let choice = Choice::of(&row.get::<_, String>("choice")?)?;
        let (left, right) = (row.get("left_side")?, row.get("right_side")?);
        Ok(Self { number: row.get("number")?, left, right, choice, created: row.get("created")? })
    }
}

impl Notebook {
    /// Adds a trial to a job; `now` is the time of entry, RFC 3339.
    pub fn add_trial(&mut self, job: JobId, draft: &TrialDraft, now: &str) -> Result<TrialId, NotebookError> {
        filled("the name of the trial", &draft.title)?;
        let sql = "INSERT INTO trials (job, title, document, created) VALUES (?1, ?2, ?3, ?4)";
        let id = self
            .insert(sql, params![job, draft.title, draft.document, now])
            .map_err(|failure| failure.no_owner(NotebookError::NoSuchJob { id: job }))?;
        Ok(TrialId(id))
    }

    /// The trials of a job, in the order in which they were begun.
    pub fn trials_of_job(&self, job: JobId) -> Result<Vec<Trial>, NotebookError> {
        self.many("SELECT * FROM trials WHERE job = ?1 ORDER BY id", [job], Trial::read)
    }

    /// The trial of this number.
    pub fn trial(&self, id: TrialId) -> Result<Option<Trial>, NotebookError> {
        self.one("SELECT * FROM trials WHERE id = ?1", [id], Trial::read)
    }

    /// Ends a trial at `now`. One that has ended keeps the time at which it did.
    pub fn end_trial(&mut self, id: TrialId, now: &str) -> Result<(), NotebookError> {
        let sql = "UPDATE trials SET ended = coalesce(ended, ?2) WHERE id = ?1";
        Ok(self.write_one(sql, params![id, now], NotebookError::NoSuchTrial { id })?)
    }

    /// Deletes a trial with its picks.
    pub fn delete_trial(&mut self, id: TrialId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM trials WHERE id = ?1", [id], NotebookError::NoSuchTrial { id })?)
    }

    /// Adds a pick to a trial whose names are still hidden. A number that is taken is refused: a form sent twice counts once.
    pub fn add_pick(&mut self, trial: TrialId, pick: &Pick) -> Result<(), NotebookError> {
        pick.check()?;
        self.atomically(|book| {
            book.hidden(trial)?;
            let sql = "INSERT INTO picks (trial, number, left_side, right_side, choice, created) \
                       VALUES (?1, ?2, ?3, ?4, ?5, ?6)";
            let values = params![trial, pick.number, pick.left, pick.right, pick.choice.word(), pick.created];
            book.write(sql, values)
                .map_err(|failure| failure.taken(NotebookError::PickTaken { number: pick.number }))?;
            Ok(())
        })
    }

    /// Takes back the last pick of a trial whose names are still hidden, and says what it was.
    pub fn take_back_pick(&mut self, trial: TrialId) -> Result<Option<Pick>, NotebookError> {
        self.atomically(|book| {
            book.hidden(trial)?;
            let last = book.picks(trial)?.pop();
            if let Some(pick) = &last {
                book.write("DELETE FROM picks WHERE trial = ?1 AND number = ?2", params![trial, pick.number])?;
            }
            Ok(last)
        })
    }

    /// The picks of a trial, in their order.
    pub fn picks(&self, trial: TrialId) -> Result<Vec<Pick>, NotebookError> {
        self.many("SELECT * FROM picks WHERE trial = ?1 ORDER BY number", [trial], Pick::read)
    }

    /// Who has seen the names no longer picks blindly.
    fn hidden(&self, id: TrialId) -> Checked {
        let trial = self.trial(id)?.ok_or(NotebookError::NoSuchTrial { id })?;
        if trial.ended.is_some() { Err(NotebookError::TrialEnded { title: trial.draft.title }) } else { Ok(()) }
    }
}
