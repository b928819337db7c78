//! What scanners (and films, by their data sheets) do to an edge: kept once, divided out of later measurements.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::ResponseId;
use crate::store::Notebook;
use crate::values::{filled, odd_word};

/// Whose response.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ResponseKind {
    /// A scanner's at one setting.
    Scanner,
    /// A film's.
    Film,
}

impl ResponseKind {
    /// The word for it: "scanner", "film".
    pub fn word(self) -> &'static str {
        match self {
            Self::Scanner => "scanner",
            Self::Film => "film",
        }
    }

    fn of(word: &str) -> rusqlite::Result<Self> {
        match word {
            "scanner" => Ok(Self::Scanner),
            "film" => Ok(Self::Film),
            other => Err(odd_word("the kind of a response", other)),
        }
    }
}

/// A response as it is handed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ResponseDraft {
    /// What it is called, for example "flatbed, 2400 dpi, no sharpening": once in the notebook.
    pub name: String,
    /// Whose.
    pub kind: ResponseKind,
    /// Where it comes from: the scan of a blade, or a document with its date.
    pub source: String,
    /// The curve, as JSON, kept verbatim.
    pub document: String,
}

/// A response in the notebook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Response {
    /// Its number.
    pub id: ResponseId,
    /// As handed in.
    pub draft: ResponseDraft,
    /// When, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Response {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let draft = ResponseDraft {
            name: row.get("name")?,
            kind: ResponseKind::of(&row.get::<_, String>("kind")?)?,
            source: row.get("source")?,
            document: row.get("document")?,
        };
        Ok(Self { id: row.get("id")?, draft, created: row.get("created")? })
    }
}

impl Notebook {
    /// Adds a response; `now` is the time of entry, RFC 3339. A name that is taken is refused.
    pub fn add_response(&mut self, draft: &ResponseDraft, now: &str) -> Result<ResponseId, NotebookError> {
        filled("the name of the response", &draft.name)?;
        let sql = "INSERT INTO responses (name, kind, source, document, created) VALUES (?1, ?2, ?3, ?4, ?5)";
        let id = self
            .insert(sql, params![draft.name, draft.kind.word(), draft.source, draft.document, now])
            .map_err(|failure| failure.taken(NotebookError::ResponseNameTaken { name: draft.name.clone() }))?;
        Ok(ResponseId(id))
    }

    /// All responses, in the order in which they were entered.
    pub fn responses(&self) -> Result<Vec<Response>, NotebookError> {
        self.many("SELECT * FROM responses ORDER BY id", [], Response::read)
    }

    /// The response of this number.
    pub fn response(&self, id: ResponseId) -> Result<Option<Response>, NotebookError> {
        self.one("SELECT * FROM responses WHERE id = ?1", [id], Response::read)
    }

    /// Deletes a response. What was measured with it keeps its figures.
    pub fn delete_response(&mut self, id: ResponseId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM responses WHERE id = ?1", [id], NotebookError::NoSuchResponse { id })?)
    }
}
