//! Tables that were sent and not kept yet: files without a name, gone with the program.

use std::fs::File;
use std::io;
use std::sync::{Arc, Mutex, PoisonError};

use notebook::JobId;

/// So many tables wait; the oldest goes first.
const MOST: usize = 4;

/// The tables that wait, each under a word of its own.
#[derive(Clone, Default)]
pub(in crate::web) struct Shelf(Arc<Mutex<Vec<(String, JobId, File)>>>);

impl Shelf {
    /// Puts a table on the shelf and gives the word for it.
    pub fn put(&self, job: JobId, file: File) -> String {
        let word = crate::web::scans::new_name();
        let mut tables = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if tables.len() >= MOST {
            tables.remove(0);
        }
        tables.push((word.clone(), job, file));
        word
    }

    /// The table of a job under a word; it stays on the shelf, in case keeping it fails.
    pub fn get(&self, job: JobId, word: &str) -> io::Result<Option<File>> {
        let tables = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let found = tables.iter().find(|(known, of, _)| known == word && *of == job);
        found.map(|(.., file)| file.try_clone()).transpose()
    }

    /// Takes a table that was kept off the shelf.
    pub fn take(&self, word: &str) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).retain(|(known, ..)| known != word);
    }
}
