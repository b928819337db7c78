//! Which files are let in, and which are refused and left alone.

use std::fs;
use std::path::{Path, PathBuf};

use notebook::{Notebook, NotebookError};
use rusqlite::Connection;
use tempfile::TempDir;

use crate::samples::{self, NOW, plant};

fn folder() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notebook.closework");
    (folder, path)
}

/// Everything in a folder: names and contents.
fn contents(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let mut all: Vec<_> = paths.map(|path| (path.clone(), fs::read(path).unwrap())).collect();
    all.sort();
    all
}

/// Opens a file that must be refused, and sees that it, and all around it, stays as it is.
fn refused(folder: &Path, path: &Path) -> NotebookError {
    let before = contents(folder);
    let error = Notebook::open(path).unwrap_err();
    assert!(before == contents(folder), "the refused file, or something beside it, has changed");
    assert!(error.to_string().starts_with(&path.display().to_string()), "{error}");
    error
}

#[test]
fn a_new_file_is_begun_and_an_empty_one_filled() {
    let (_folder, path) = folder();
    Notebook::open(&path).unwrap().add_part(&samples::part("a")).unwrap();
    assert_eq!(Notebook::open(&path).unwrap().parts().unwrap().len(), 1);
    fs::write(&path, "").unwrap();
    assert_eq!(Notebook::open(&path).unwrap().parts().unwrap().len(), 0);
}

#[test]
fn a_database_with_nothing_in_it_is_brought_up() {
    let (_folder, path) = folder();
    let db = Connection::open(&path).unwrap();
    db.execute_batch("PRAGMA journal_mode = wal; CREATE TABLE t (x); DROP TABLE t; VACUUM;").unwrap();
    drop(db);
    assert!(fs::metadata(&path).unwrap().len() > 0);
    let mut book = Notebook::open(&path).unwrap();
    plant(&mut book, "tree");
    book.check().unwrap();
}

#[test]
fn the_file_says_what_it_is_and_is_kept_safe() {
    let (_folder, path) = folder();
    let book = Notebook::open(&path).unwrap();
    let db = Connection::open(&path).unwrap();
    let pragma = |name| db.pragma_query_value(None, name, |row| row.get::<_, rusqlite::types::Value>(0)).unwrap();
    assert_eq!(pragma("application_id"), i64::from(i32::from_be_bytes(*b"Clsw")).into());
    assert_eq!(pragma("user_version"), 5.into());
    assert_eq!(pragma("journal_mode"), "wal".to_owned().into());
    drop(book);
}

#[test]
fn a_newer_notebook_is_refused_and_left_as_it_is() {
    let (folder, path) = folder();
    plant(&mut Notebook::open(&path).unwrap(), "tree");
    let db = Connection::open(&path).unwrap();
    db.pragma_update(None, "user_version", 6).unwrap();
    drop(db);
    let error = refused(folder.path(), &path);
    assert!(matches!(error, NotebookError::NewerFile { found: 6, known: 5, .. }), "{error:?}");
    assert!(error.to_string().contains("its format is 6, this program knows up to 5"));
}

#[test]
fn a_newer_notebook_in_use_keeps_its_log() {
    let (_folder, path) = folder();
    drop(Notebook::open(&path).unwrap());
    let newer = Connection::open(&path).unwrap();
    newer.pragma_update(None, "user_version", 6).unwrap();
    let log = path.with_extension("closework-wal");
    let before = (fs::read(&path).unwrap(), fs::read(&log).unwrap());
    assert!(!before.1.is_empty());
    assert!(matches!(Notebook::open(&path), Err(NotebookError::NewerFile { .. })));
    assert!(before == (fs::read(&path).unwrap(), fs::read(&log).unwrap()));
}

#[test]
fn files_that_are_no_notebook() {
    let (folder, path) = folder();
    let texts: [&[u8]; 5] =
        [b"xy", b"[[lens]]\nid = \"a\"\n", b"\xff\xd8\xff\xe0 JFIF", &[0; 4096], b"SQLite format 2\0 and so on"];
    for bytes in texts {
        fs::write(&path, bytes).unwrap();
        assert!(matches!(refused(folder.path(), &path), NotebookError::NotANotebook { .. }));
    }
    fs::remove_file(&path).unwrap();
    for sql in ["CREATE TABLE jobs (id)", "PRAGMA application_id = 7", "PRAGMA user_version = 1"] {
        let db = Connection::open(&path).unwrap();
        db.execute_batch(sql).unwrap();
        drop(db);
        assert!(matches!(refused(folder.path(), &path), NotebookError::NotANotebook { .. }), "{sql}");
        fs::remove_file(&path).unwrap();
    }
}

#[test]
fn places_where_no_file_can_be() {
    let (folder, path) = folder();
    let nowhere = path.join("deeper");
    for place in [nowhere.as_path(), folder.path()] {
        assert!(matches!(refused(folder.path(), place), NotebookError::CannotOpen { .. }));
    }
}

#[test]
fn a_name_is_a_name() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["file:a?mode=memory", ":memory:", "a b'\"", "käfer 🪲", "100%#?"] {
        let path = folder.path().join(name);
        Notebook::open(&path).unwrap().set_setting("name", name).unwrap();
        assert!(path.is_file(), "{name}");
        assert_eq!(Notebook::open(&path).unwrap().setting("name").unwrap().as_deref(), Some(name));
    }
}

/// A notebook of some hundred kilobytes, closed.
fn grown(path: &Path) {
    let mut book = Notebook::open(path).unwrap();
    for number in 0..200 {
        let tree = plant(&mut book, &format!("tree-{number}"));
        book.add_decision(tree.job, &"because ".repeat(200), NOW).unwrap();
    }
}

#[test]
fn a_file_cut_short_is_told_as_damaged() {
    let (_folder, path) = folder();
    grown(&path);
    let whole = fs::read(&path).unwrap();
    for share in [0.1, 0.5, 0.9] {
        let length = (whole.len() as f64 * share) as usize;
        fs::write(&path, &whole[..length]).unwrap();
        let found = Notebook::open(&path).and_then(|book| book.check());
        assert!(matches!(found, Err(NotebookError::Damaged { .. })), "{share}: {found:?}");
    }
}

#[test]
fn a_file_with_a_spoiled_stretch_is_told_as_damaged() {
    let (_folder, path) = folder();
    grown(&path);
    let whole = fs::read(&path).unwrap();
    for start in (4096..whole.len() - 4096).step_by(16 * 4096) {
        let mut spoiled = whole.clone();
        spoiled[start..start + 4096].fill(0xa5);
        fs::write(&path, &spoiled).unwrap();
        let found = Notebook::open(&path).and_then(|book| book.check());
        assert!(matches!(found, Err(NotebookError::Damaged { .. })), "{start}: {found:?}");
    }
}

#[test]
fn words_that_this_program_never_wrote_are_told_as_damage() {
    let (_folder, path) = folder();
    let mut book = Notebook::open(&path).unwrap();
    let tree = plant(&mut book, "tree");
    let db = Connection::open(&path).unwrap();
    db.execute_batch(
        "PRAGMA ignore_check_constraints = ON;
         UPDATE frames SET parts = '{\"a\": 1}'; UPDATE scans SET state = 'lost'; UPDATE measurements SET kind = 'x';
         UPDATE jobs SET title = CAST(X'ff' AS TEXT);",
    )
    .unwrap();
    let told = [
        book.frame(tree.frame).map(drop),
        book.scan(tree.scan).map(drop),
        book.measurements(tree.scan).map(drop),
        book.job(tree.job).map(drop),
    ];
    for result in told {
        assert!(matches!(result, Err(NotebookError::Damaged { .. })), "{result:?}");
    }
}
