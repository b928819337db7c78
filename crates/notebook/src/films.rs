//! A person's own test results of films. What a text means is the caller's affair.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::store::Notebook;
use crate::values::filled;

/// What a person found out about a film.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FilmRecord {
    /// The film: once in the notebook.
    pub name: String,
    /// The results, kept verbatim.
    pub document: String,
    /// When they were last entered, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl FilmRecord {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { name: row.get("name")?, document: row.get("document")?, created: row.get("created")? })
    }
}

impl Notebook {
    /// Keeps the results of a film, in the place of what was kept of it; `now` is RFC 3339.
    pub fn put_film(&mut self, name: &str, document: &str, now: &str) -> Result<(), NotebookError> {
        filled("the name of the film", name)?;
        let sql = "INSERT INTO films (name, document, created) VALUES (?1, ?2, ?3) \
                   ON CONFLICT (name) DO UPDATE SET document = ?2, created = ?3";
        self.write(sql, params![name, document, now])?;
        Ok(())
    }

    /// What is kept of films, in the order in which they were first entered.
    pub fn films(&self) -> Result<Vec<FilmRecord>, NotebookError> {
        self.many("SELECT * FROM films ORDER BY id", [], FilmRecord::read)
    }

    /// What is kept of this film.
    pub fn film(&self, name: &str) -> Result<Option<FilmRecord>, NotebookError> {
        self.one("SELECT * FROM films WHERE name = ?1", [name], FilmRecord::read)
    }

    /// Forgets what is kept of this film.
    pub fn delete_film(&mut self, name: &str) -> Result<(), NotebookError> {
        let missing = NotebookError::NoSuchFilm { name: name.to_owned() };
        Ok(self.write_one("DELETE FROM films WHERE name = ?1", [name], missing)?)
    }
}
