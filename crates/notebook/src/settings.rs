//! Small things that the program has to remember about this notebook, such as whether the demo was made.

use crate::error::NotebookError;
use crate::store::Notebook;

impl Notebook {
    /// What is remembered under `key`.
    pub fn setting(&self, key: &str) -> Result<Option<String>, NotebookError> {
        self.one("SELECT value FROM settings WHERE key = ?1", [key], |row| row.get(0))
    }

    /// Remembers `value` under `key`, in place of what was there.
    pub fn set_setting(&mut self, key: &str, value: &str) -> Result<(), NotebookError> {
        let sql = "INSERT INTO settings (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = ?2";
        self.write(sql, [key, value])?;
        Ok(())
    }
}
