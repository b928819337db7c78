//! Opening the file: what it is, whether this program may touch it, and how it is to be kept safe.

use std::path::{Path, PathBuf};
use std::thread;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use crate::error::NotebookError;
use crate::migrate::{APPLICATION_ID, STEPS, bring_up, newest, version};
use crate::store::Notebook;

/// How long to wait for another program's change before giving up: longer than any change of this program takes, and
/// short enough that a person still waits for the answer.
const PATIENCE: Duration = Duration::from_secs(5);

/// The pause between two tries where SQLite itself does not wait.
const PAUSE: Duration = Duration::from_millis(20);

impl Notebook {
    /// Opens the notebook at `path`, or begins a new one there. The folder must exist.
    ///
    /// A notebook of an older format is brought up to date. One of a newer format, and a file that is no notebook,
    /// are refused and left as they are.
    pub fn open(path: &Path) -> Result<Self, NotebookError> {
        let told = |error| NotebookError::from_sqlite(path, error);
        // No SQLITE_OPEN_URI: a name that happens to begin with "file:" is a name.
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut db = Connection::open_with_flags(path, flags).map_err(told)?;
        db.busy_timeout(PATIENCE).map_err(told)?;
        admit(&db, path)?;
        prepare(&mut db).map_err(told)?;
        Ok(Self::over(db, path.to_owned()))
    }

    /// A notebook that is never written to a file and is gone when it is dropped.
    pub fn in_memory() -> Result<Self, NotebookError> {
        let path = PathBuf::from("the notebook in memory");
        let opened = Connection::open_in_memory().and_then(|mut db| {
            prepare(&mut db)?;
            Ok(db)
        });
        let db = opened.map_err(|error| NotebookError::from_sqlite(&path, error))?;
        Ok(Self::over(db, path))
    }

    /// Sets how long a change waits for another program's change before it fails with [`NotebookError::Locked`].
    /// Five seconds unless set.
    pub fn set_patience(&mut self, patience: Duration) -> Result<(), NotebookError> {
        self.db.busy_timeout(patience).map_err(|error| self.told(error))
    }

    /// Reads the whole file and reports the first damage found. Takes about as long as reading the file.
    pub fn check(&self) -> Result<(), NotebookError> {
        let said = self.one("PRAGMA integrity_check(1)", [], |row| row.get::<_, String>(0))?.unwrap_or_default();
        if said != "ok" {
            return Err(NotebookError::Damaged { path: self.path.clone(), what: said });
        }
        let orphan = self.one("PRAGMA foreign_key_check", [], |row| row.get::<_, String>(0))?;
        orphan.map_or(Ok(()), |table| {
            let what = format!("an entry of \"{table}\" belongs to something that is not there");
            Err(NotebookError::Damaged { path: self.path.clone(), what })
        })
    }
}

/// Lets a file in, before anything is written to it.
fn admit(db: &Connection, path: &Path) -> Result<(), NotebookError> {
    let told = |error| NotebookError::from_sqlite(path, error);
    // A refused file is left as it is: closing it must not fold another program's log into it either.
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, has_log(path)).map_err(told)?;
    let found = Found::read(db).map_err(told)?;
    let path = || path.to_owned();
    match found {
        _ if found.is_nothing() => {}
        Found { application: APPLICATION_ID, format, .. } if format > newest(STEPS) => {
            return Err(NotebookError::NewerFile { path: path(), found: format, known: newest(STEPS) });
        }
        Found { application: APPLICATION_ID, format, .. } if format < 1 => {
            return Err(NotebookError::Damaged { path: path(), what: format!("its format number is {format}") });
        }
        Found { application: APPLICATION_ID, .. } => {}
        _ => return Err(NotebookError::NotANotebook { path: path() }),
    }
    if db.is_readonly("main").map_err(told)? {
        return Err(NotebookError::ReadOnly { path: path() });
    }
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false).map_err(told)?;
    Ok(())
}

/// Whether a write-ahead log with something in it lies beside the file.
fn has_log(path: &Path) -> bool {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    std::fs::metadata(log).is_ok_and(|log| log.len() > 0)
}

/// What the file says that it is.
struct Found {
    application: i32,
    format: i32,
    tables: i64,
}

impl Found {
    /// Reads all three in one transaction: another program may be writing them just now.
    fn read(db: &Connection) -> rusqlite::Result<Self> {
        let transaction = db.unchecked_transaction()?;
        Ok(Self {
            application: transaction.pragma_query_value(None, "application_id", |row| row.get(0))?,
            format: version(&transaction)?,
            tables: transaction.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?,
        })
    }

    /// A new file, or one in which a first start was cut short.
    fn is_nothing(&self) -> bool {
        self.application == 0 && self.format == 0 && self.tables == 0
    }
}

/// Sets how the file is kept, and brings it up to date.
fn prepare(db: &mut Connection) -> rusqlite::Result<()> {
    keep_log(db)?;
    // FULL: the log is on the disk before a change counts as saved.
    db.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;")?;
    bring_up(db, STEPS)
}

/// Turns the write-ahead log on. Where that is not to be had (in memory; a disk without shared memory) SQLite
/// keeps to its rollback journal, which is as safe and lets readers wait a little longer.
fn keep_log(db: &Connection) -> rusqlite::Result<()> {
    let tries = PATIENCE.as_millis() / PAUSE.as_millis();
    for _ in 0..tries {
        match turn_log_on(db) {
            // SQLite does not always wait by itself when two programs turn the log on at once.
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) => thread::sleep(PAUSE),
            done => return done,
        }
    }
    turn_log_on(db)
}

fn turn_log_on(db: &Connection) -> rusqlite::Result<()> {
    let mode: String = db.pragma_query_value(None, "journal_mode", |row| row.get(0))?;
    if mode != "wal" {
        db.pragma_update_and_check(None, "journal_mode", "wal", |row| row.get::<_, String>(0))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_must_not_be_written_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notebook");
        drop(Notebook::open(&path).unwrap());
        // Permissions do not bind the user under whom tests often run: the file is opened for reading instead.
        let db = Connection::open_with_flags(&path, OpenFlags::SQLITE_OPEN_READ_ONLY).unwrap();
        assert!(matches!(admit(&db, &path), Err(NotebookError::ReadOnly { .. })));
    }

    #[test]
    fn the_file_is_kept_as_promised() {
        let folder = tempfile::tempdir().unwrap();
        let book = Notebook::open(&folder.path().join("notebook")).unwrap();
        let number = |name| book.db.pragma_query_value(None, name, |row| row.get::<_, i64>(0)).unwrap();
        assert_eq!(number("synchronous"), 2, "2 is FULL");
        assert_eq!(number("foreign_keys"), 1);
        assert_eq!(number("busy_timeout"), 5000);
        let loose =
            "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite%' AND strict = 0";
        assert_eq!(book.db.query_row(loose, [], |row| row.get::<_, i64>(0)).unwrap(), 0, "every table is STRICT");
    }

    #[test]
    fn an_entry_that_belongs_to_nothing_is_found() {
        let book = Notebook::in_memory().unwrap();
        book.check().unwrap();
        let sql = "PRAGMA foreign_keys = OFF; INSERT INTO decisions (job, text, created) VALUES (9, 'x', 'x');";
        book.db.execute_batch(sql).unwrap();
        let error = book.check().unwrap_err();
        assert!(matches!(&error, NotebookError::Damaged { what, .. } if what.contains("\"decisions\"")), "{error}");
    }
}
