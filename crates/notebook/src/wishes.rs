//! Parts that are wished for. They lie beside the kit, so that nothing counts on them that only counts what is owned.

use rusqlite::params;

use crate::error::NotebookError;
use crate::kit::PartRecord;
use crate::store::Notebook;

impl Notebook {
    /// All parts that are wished for, in the order in which they were entered.
    pub fn wishes(&self) -> Result<Vec<PartRecord>, NotebookError> {
        self.many("SELECT * FROM wishes ORDER BY place", [], PartRecord::read)
    }

    /// Adds a wish. An id that another wish has is refused; whether the kit has it is the caller's to ask.
    pub fn add_wish(&mut self, part: &PartRecord) -> Result<(), NotebookError> {
        part.check()?;
        let sql = "INSERT INTO wishes (id, kind, document) VALUES (?1, ?2, ?3)";
        self.write(sql, params![part.id, part.kind, part.document]).map_err(|failure| failure.taken(part.taken()))?;
        Ok(())
    }

    /// Puts `part` in the place of the wish called `old_id`.
    pub fn update_wish(&mut self, old_id: &str, part: &PartRecord) -> Result<(), NotebookError> {
        part.check()?;
        let sql = "UPDATE wishes SET id = ?2, kind = ?3, document = ?4 WHERE id = ?1";
        let missing = NotebookError::NoSuchPart { id: old_id.to_owned() };
        self.write_one(sql, params![old_id, part.id, part.kind, part.document], missing)
            .map_err(|failure| failure.taken(part.taken()))?;
        Ok(())
    }

    /// Takes a wish off the list.
    pub fn delete_wish(&mut self, id: &str) -> Result<(), NotebookError> {
        let missing = NotebookError::NoSuchPart { id: id.to_owned() };
        Ok(self.write_one("DELETE FROM wishes WHERE id = ?1", [id], missing)?)
    }

    /// A wish that came true: off the list and into the kit, both or neither.
    pub fn fulfil_wish(&mut self, id: &str) -> Result<(), NotebookError> {
        self.atomically(|book| {
            let wish = book.wishes()?.into_iter().find(|wish| wish.id == id);
            let wish = wish.ok_or_else(|| NotebookError::NoSuchPart { id: id.to_owned() })?;
            book.add_part(&wish)?;
            book.delete_wish(id)
        })
    }
}
