//! The parts of the kit. What a part's text means is the kit's affair; here it is a text with an id.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::store::Notebook;
use crate::values::{Checked, filled};

/// One part of the kit.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct PartRecord {
    /// What sort of part, for example "lens".
    pub kind: String,
    /// What the part is called: once in the kit.
    pub id: String,
    /// The part as one TOML table, kept verbatim.
    pub document: String,
}

impl PartRecord {
    pub(crate) fn check(&self) -> Checked {
        filled("the id of the part", &self.id)?;
        filled("the kind of the part", &self.kind)
    }

    pub(crate) fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self { kind: row.get("kind")?, id: row.get("id")?, document: row.get("document")? })
    }

    pub(crate) fn taken(&self) -> NotebookError {
        NotebookError::DuplicatePart { id: self.id.clone() }
    }
}

impl Notebook {
    /// All parts, in the order in which they were entered.
    pub fn parts(&self) -> Result<Vec<PartRecord>, NotebookError> {
        self.many("SELECT * FROM parts ORDER BY place", [], PartRecord::read)
    }

    /// The part called `id`.
    pub fn part(&self, id: &str) -> Result<Option<PartRecord>, NotebookError> {
        self.one("SELECT * FROM parts WHERE id = ?1", [id], PartRecord::read)
    }

    /// Adds a part at the end of the kit.
    pub fn add_part(&mut self, part: &PartRecord) -> Result<(), NotebookError> {
        part.check()?;
        let sql = "INSERT INTO parts (id, kind, document) VALUES (?1, ?2, ?3)";
        self.write(sql, params![part.id, part.kind, part.document]).map_err(|failure| failure.taken(part.taken()))?;
        Ok(())
    }

    /// Puts `part` in the place of the part called `old_id`. Its id may change, when the new one is free.
    pub fn update_part(&mut self, old_id: &str, part: &PartRecord) -> Result<(), NotebookError> {
        part.check()?;
        let sql = "UPDATE parts SET id = ?2, kind = ?3, document = ?4 WHERE id = ?1";
        let missing = NotebookError::NoSuchPart { id: old_id.to_owned() };
        self.write_one(sql, params![old_id, part.id, part.kind, part.document], missing)
            .map_err(|failure| failure.taken(part.taken()))?;
        Ok(())
    }

    /// Takes the part called `id` out of the kit.
    pub fn delete_part(&mut self, id: &str) -> Result<(), NotebookError> {
        let missing = NotebookError::NoSuchPart { id: id.to_owned() };
        Ok(self.write_one("DELETE FROM parts WHERE id = ?1", [id], missing)?)
    }

    /// Puts these parts in the place of the whole kit: all of them, or, when one is refused, none.
    pub fn replace_kit(&mut self, parts: &[PartRecord]) -> Result<(), NotebookError> {
        self.atomically(|book| {
            book.write("DELETE FROM parts", [])?;
            parts.iter().try_for_each(|part| book.add_part(part))
        })
    }
}
