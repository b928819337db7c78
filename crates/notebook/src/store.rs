//! The open notebook, and the few ways by which every record goes in and out of it.

use std::path::PathBuf;

use rusqlite::{Connection, OptionalExtension, Params, Row, ffi};

use crate::error::NotebookError;

/// An open notebook.
///
/// One notebook is used by one thread at a time; a server keeps it behind a mutex. Several programs, or several
/// `Notebook`s in one program, may have the same file open: each waits for the other's change to be done.
#[derive(Debug)]
pub struct Notebook {
    pub(crate) db: Connection,
    /// The file's name for error messages.
    pub(crate) path: PathBuf,
    /// How many calls of `atomically` are open inside one another.
    depth: u32,
}

impl Notebook {
    pub(crate) fn over(db: Connection, path: PathBuf) -> Self {
        Self { db, path, depth: 0 }
    }

    /// Does several things as one: all of them are kept, or, when `act` fails or panics, none.
    ///
    /// Calls may be nested; an inner one that fails takes back its own changes only.
    pub fn atomically<T>(
        &mut self,
        act: impl FnOnce(&mut Notebook) -> Result<T, NotebookError>,
    ) -> Result<T, NotebookError> {
        let group = Group::begin(self)?;
        let value = act(group.book)?;
        group.keep()?;
        Ok(value)
    }

    /// Runs one changing statement and says how many rows it touched.
    pub(crate) fn write(&mut self, sql: &str, values: impl Params) -> Result<usize, Failure> {
        if self.depth > 0 && self.db.is_autocommit() {
            // SQLite takes back a whole transaction by itself when the disk is full or failing. Going on would
            // keep the rest of a group whose beginning is lost.
            return Err(NotebookError::TakenBack { path: self.path.clone() }.into());
        }
        let touched = self.db.prepare_cached(sql).and_then(|mut statement| statement.execute(values));
        touched.map_err(|error| Failure::new(self, error))
    }

    /// Runs an `INSERT` and gives the new row's number.
    pub(crate) fn insert(&mut self, sql: &str, values: impl Params) -> Result<i64, Failure> {
        self.write(sql, values)?;
        Ok(self.db.last_insert_rowid())
    }

    /// Runs a statement that must touch a row; when there is none to touch, the error says which.
    pub(crate) fn write_one(&mut self, sql: &str, values: impl Params, missing: NotebookError) -> Result<(), Failure> {
        if self.write(sql, values)? == 0 { Err(missing.into()) } else { Ok(()) }
    }

    /// Reads at most one row.
    pub(crate) fn one<T>(&self, sql: &str, values: impl Params, read: Reader<T>) -> Result<Option<T>, NotebookError> {
        let found = self.db.prepare_cached(sql).and_then(|mut statement| statement.query_row(values, read).optional());
        found.map_err(|error| self.told(error))
    }

    /// Reads all rows.
    pub(crate) fn many<T>(&self, sql: &str, values: impl Params, read: Reader<T>) -> Result<Vec<T>, NotebookError> {
        let found = self.db.prepare_cached(sql).and_then(|mut statement| statement.query_map(values, read)?.collect());
        found.map_err(|error| self.told(error))
    }

    /// An error of SQLite in the photographer's words.
    pub(crate) fn told(&self, error: rusqlite::Error) -> NotebookError {
        NotebookError::from_sqlite(&self.path, error)
    }
}

/// Makes a record of a row.
pub(crate) type Reader<T> = fn(&Row<'_>) -> rusqlite::Result<T>;

/// A change that the file refused, before the caller has said what that means.
#[derive(Debug)]
pub(crate) struct Failure {
    clash: Clash,
    error: NotebookError,
}

/// The rules of the file whose breach means something particular to each record.
#[derive(Debug, PartialEq)]
enum Clash {
    /// Something that must be there once only is there already.
    Taken,
    /// The entry that this one belongs to is not there.
    NoOwner,
    Other,
}

impl Failure {
    fn new(book: &Notebook, error: rusqlite::Error) -> Self {
        let clash = match error.sqlite_error().map(|error| error.extended_code) {
            Some(ffi::SQLITE_CONSTRAINT_UNIQUE | ffi::SQLITE_CONSTRAINT_PRIMARYKEY) => Clash::Taken,
            Some(ffi::SQLITE_CONSTRAINT_FOREIGNKEY) => Clash::NoOwner,
            _ => Clash::Other,
        };
        Self { clash, error: book.told(error) }
    }

    /// What it means that something is there already.
    pub(crate) fn taken(self, meaning: NotebookError) -> Self {
        self.meaning(Clash::Taken, meaning)
    }

    /// What it means that the owner is not there.
    pub(crate) fn no_owner(self, meaning: NotebookError) -> Self {
        self.meaning(Clash::NoOwner, meaning)
    }

    fn meaning(self, clash: Clash, meaning: NotebookError) -> Self {
        if self.clash == clash { meaning.into() } else { self }
    }
}

impl From<NotebookError> for Failure {
    fn from(error: NotebookError) -> Self {
        Self { clash: Clash::Other, error }
    }
}

impl From<Failure> for NotebookError {
    fn from(failure: Failure) -> Self {
        failure.error
    }
}

/// A group of changes under way. Dropped before [`keep`](Group::keep), it takes them back: so also when the caller
/// panics, for a transaction left open would swallow every later entry.
struct Group<'a> {
    book: &'a mut Notebook,
    outermost: bool,
    open: bool,
}

impl<'a> Group<'a> {
    fn begin(book: &'a mut Notebook) -> Result<Self, NotebookError> {
        let outermost = book.depth == 0;
        // IMMEDIATE: wait for another writer here, at the beginning, and never fail for it half-way.
        let sql = if outermost { "BEGIN IMMEDIATE" } else { "SAVEPOINT inner_group" };
        book.db.execute_batch(sql).map_err(|error| book.told(error))?;
        book.depth += 1;
        Ok(Self { book, outermost, open: true })
    }

    fn keep(mut self) -> Result<(), NotebookError> {
        if self.book.db.is_autocommit() {
            return Err(NotebookError::TakenBack { path: self.book.path.clone() });
        }
        let sql = if self.outermost { "COMMIT" } else { "RELEASE inner_group" };
        self.book.db.execute_batch(sql).map_err(|error| self.book.told(error))?;
        self.open = false;
        Ok(())
    }
}

impl Drop for Group<'_> {
    fn drop(&mut self) {
        self.book.depth -= 1;
        if self.open && !self.book.db.is_autocommit() {
            let sql = if self.outermost { "ROLLBACK" } else { "ROLLBACK TO inner_group; RELEASE inner_group" };
            // A rollback that fails leaves nothing to be done here; closing the file takes the changes back.
            let _ = self.book.db.execute_batch(sql);
        }
    }
}

#[cfg(test)]
mod tests;
