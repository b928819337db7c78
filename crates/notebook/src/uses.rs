//! What the pictures of a job are for, and what each use asks of them.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{JobId, UseId};
use crate::store::Notebook;
use crate::values::{Checked, filled};

/// A use as it is handed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UseDraft {
    /// What it is called: once in its job.
    pub title: String,
    /// What it asks for, kept verbatim.
    pub requirements: String,
}

impl UseDraft {
    fn check(&self) -> Checked {
        filled("the name of the use", &self.title)
    }

    fn taken(&self) -> NotebookError {
        NotebookError::UseTitleTaken { title: self.title.clone() }
    }
}

/// A use in the notebook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UseRecord {
    /// Its number.
    pub id: UseId,
    /// The job that it belongs to.
    pub job: JobId,
    /// As handed in.
    pub draft: UseDraft,
    /// When, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl UseRecord {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let draft = UseDraft { title: row.get("title")?, requirements: row.get("requirements")? };
        Ok(Self { id: row.get("id")?, job: row.get("job")?, draft, created: row.get("created")? })
    }
}

impl Notebook {
    /// Adds a use to a job; `now` is the time of entry, RFC 3339. A name that the job has already is refused.
    pub fn add_use(&mut self, job: JobId, draft: &UseDraft, now: &str) -> Result<UseId, NotebookError> {
        draft.check()?;
        let sql = "INSERT INTO uses (job, title, requirements, created) VALUES (?1, ?2, ?3, ?4)";
        let id = self
            .insert(sql, params![job, draft.title, draft.requirements, now])
            .map_err(|failure| failure.taken(draft.taken()).no_owner(NotebookError::NoSuchJob { id: job }))?;
        Ok(UseId(id))
    }

    /// Puts `draft` in the place of what the use said before.
    pub fn update_use(&mut self, id: UseId, draft: &UseDraft) -> Result<(), NotebookError> {
        draft.check()?;
        let sql = "UPDATE uses SET title = ?2, requirements = ?3 WHERE id = ?1";
        self.write_one(sql, params![id, draft.title, draft.requirements], NotebookError::NoSuchUse { id })
            .map_err(|failure| failure.taken(draft.taken()))?;
        Ok(())
    }

    /// All uses of all jobs, in the order in which they were entered.
    pub fn uses(&self) -> Result<Vec<UseRecord>, NotebookError> {
        self.many("SELECT * FROM uses ORDER BY id", [], UseRecord::read)
    }

    /// The uses of a job, in the order in which they were entered.
    pub fn uses_of_job(&self, job: JobId) -> Result<Vec<UseRecord>, NotebookError> {
        self.many("SELECT * FROM uses WHERE job = ?1 ORDER BY id", [job], UseRecord::read)
    }

    /// The use of this number.
    pub fn use_of(&self, id: UseId) -> Result<Option<UseRecord>, NotebookError> {
        self.one("SELECT * FROM uses WHERE id = ?1", [id], UseRecord::read)
    }

    /// Deletes a use.
    pub fn delete_use(&mut self, id: UseId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM uses WHERE id = ?1", [id], NotebookError::NoSuchUse { id })?)
    }
}
