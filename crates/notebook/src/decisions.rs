//! Decisions: the sentences with which a job ends.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{DecisionId, JobId};
use crate::store::Notebook;
use crate::values::filled;

/// A decision in the notebook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// Its number.
    pub id: DecisionId,
    /// The job that it was taken for.
    pub job: JobId,
    /// What was decided; not empty.
    pub text: String,
    /// When, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Decision {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { id: row.get("id")?, job: row.get("job")?, text: row.get("text")?, created: row.get("created")? })
    }
}

impl Notebook {
    /// Adds a decision to a job; `now` is the time at which it was taken, RFC 3339.
    pub fn add_decision(&mut self, job: JobId, text: &str, now: &str) -> Result<DecisionId, NotebookError> {
        filled("the text of the decision", text)?;
        let sql = "INSERT INTO decisions (job, text, created) VALUES (?1, ?2, ?3)";
        let id = self
            .insert(sql, params![job, text, now])
            .map_err(|failure| failure.no_owner(NotebookError::NoSuchJob { id: job }))?;
        Ok(DecisionId(id))
    }

    /// The decisions of a job, in the order in which they were taken.
    pub fn decisions(&self, job: JobId) -> Result<Vec<Decision>, NotebookError> {
        self.many("SELECT * FROM decisions WHERE job = ?1 ORDER BY id", [job], Decision::read)
    }

    /// Deletes a decision.
    pub fn delete_decision(&mut self, id: DecisionId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM decisions WHERE id = ?1", [id], NotebookError::NoSuchDecision { id })?)
    }
}
