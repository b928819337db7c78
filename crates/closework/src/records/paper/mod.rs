//! A log that was kept on paper and typed into a table, read into the notebook.
//!
//! Read are tables with commas, semicolons or tabs between the cells, decimal points or commas, a byte order mark or none,
//! UTF-8, UTF-16 with its mark, or Windows-1252 (which is said, since it is a guess); quoted cells may hold line breaks. The
//! columns are those of [`super::table`], in any order and under any of their names; columns of other names are named and
//! passed over. Rolls go by their titles: a new title begins a roll. A frame that the roll has is changed as its row says, an
//! empty cell leaves what is there; a frame that it has not is new.
//!
//! Nothing is half-read: every slip is told by row and column ([`PaperError::Slips`]), and without one all rows go into the
//! notebook together. A table is read twice, row by row, and never held whole: first [`check`], then [`keep`].

mod encoding;
mod head;
mod keep;
mod row;
mod rows;

pub use encoding::Encoding;
pub use head::Head;
pub use keep::{Kept, keep};
pub use row::{Change, Entry};
pub use rows::{Preview, check};

use std::fs::File;
use std::io::{Seek, SeekFrom};

use notebook::NotebookError;

/// The largest table that is read, in bytes: 100 000 rows with long notes are a third of it.
pub const MOST_BYTES: u64 = 64 * 1024 * 1024;
/// The most rows that are read.
pub const MOST_ROWS: usize = 200_000;
/// The longest cell, in letters.
pub const LONGEST_CELL: usize = 20_000;
/// So many slips are listed; the others are counted.
pub const LISTED: usize = 20;

/// Something wrong in one cell or row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    /// The row as a spreadsheet counts: the head is row 1.
    pub row: u64,
    /// The heading of the column as it stands in the table; empty for the row as a whole.
    pub column: String,
    /// What is wrong, and what to write.
    pub what: String,
}

impl std::fmt::Display for Slip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.column.is_empty() {
            write!(f, "row {}: {}", self.row, self.what)
        } else {
            write!(f, "row {}, {}: {}", self.row, self.column, self.what)
        }
    }
}

/// The slips of a table: the first of them, and how many there are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Slips {
    /// The first [`LISTED`], by rows.
    pub first: Vec<Slip>,
    /// How many in all.
    pub all: usize,
}

impl Slips {
    fn add(&mut self, slip: Slip) {
        self.all += 1;
        if self.first.len() < LISTED {
            self.first.push(slip);
        }
    }
}

impl std::fmt::Display for Slips {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let listed: Vec<String> = self.first.iter().map(ToString::to_string).collect();
        write!(f, "{}", listed.join("; "))?;
        match self.all - self.first.len() {
            0 => Ok(()),
            more => write!(f, "; and {more} more"),
        }
    }
}

/// Why a table was not read. Nothing of it was kept.
#[derive(Debug, thiserror::Error)]
pub enum PaperError {
    /// It has no head.
    #[error("the table is empty; its first row must name the columns, frame among them")]
    Empty,
    /// It is a spreadsheet's own file.
    #[error("this is a spreadsheet's own file, not a table as text; save it as CSV and load that")]
    Spreadsheet,
    /// It is no text.
    #[error("this is not text ({0}); save the table as CSV in UTF-8")]
    NotText(&'static str),
    /// It is too large.
    #[error("the table has {bytes} bytes and at most {MOST_BYTES} are read; load it in pieces")]
    TooLarge {
        /// Its size.
        bytes: u64,
    },
    /// It has too many rows.
    #[error("the table has more than {MOST_ROWS} rows; load it in pieces")]
    TooManyRows,
    /// No heading is known.
    #[error("no heading in the first row is known ({}); frame is needed, and these are read: {}", .found.join(", "), names())]
    NoKnownColumn {
        /// What stands there.
        found: Vec<String>,
    },
    /// The frame's number is missing.
    #[error("there is no column “frame” among {}; add it with the frame's number on the film", .found.join(", "))]
    NoFrameColumn {
        /// What stands there.
        found: Vec<String>,
    },
    /// Two columns say the same.
    #[error("the columns “{first}” and “{second}” mean the same ({meaning}); take one of them out")]
    ColumnTwice {
        /// The first heading.
        first: String,
        /// The second heading.
        second: String,
        /// What both mean.
        meaning: &'static str,
    },
    /// Cells that cannot be.
    #[error("{0}")]
    Slips(Slips),
    /// The file could not be read.
    #[error("the table could not be read ({0})")]
    Read(#[from] std::io::Error),
    /// The notebook refused.
    #[error(transparent)]
    Notebook(#[from] NotebookError),
}

fn names() -> String {
    super::table::ColumnSpec::read_names().join(", ")
}

/// A table that lies in a file, its writing and its head read.
#[derive(Debug)]
pub struct Paper {
    file: File,
    /// In which writing it is.
    pub encoding: Encoding,
    /// Its head.
    pub head: Head,
}

impl Paper {
    /// Looks at a table: its size, its writing, its head.
    pub fn open(mut file: File) -> Result<Self, PaperError> {
        let bytes = file.metadata()?.len();
        if bytes > MOST_BYTES {
            return Err(PaperError::TooLarge { bytes });
        }
        let encoding = Encoding::find(&mut file)?;
        file.seek(SeekFrom::Start(0))?;
        let head = Head::read(encoding.text(&mut file)?)?;
        Ok(Self { file, encoding, head })
    }

    /// What to say of the table before it is kept.
    pub fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        remarks.extend(self.encoding.remark().map(str::to_owned));
        if !self.head.unknown.is_empty() {
            remarks.push(format!("Columns of other names are passed over: {}.", self.head.unknown.join(", ")));
        }
        if !self.head.told.is_empty() {
            let told = self.head.told.join(", ");
            remarks.push(format!(
                "These columns are only ever written, from scans and the log, and are not read back: {told}."
            ));
        }
        remarks
    }
}
