//! All rows, one after the other, and what they would do.

use std::cell::RefCell;
use std::collections::hash_map::{DefaultHasher, Entry as Slot};
use std::collections::{HashMap, VecDeque};
use std::hash::{Hash, Hasher};
use std::io::{self, Read};
use std::rc::Rc;

use kit::Kit;
use notebook::{Job, Notebook, NotebookError};

use super::row::{Cells, There};
use super::{Change, Entry, Head, LISTED, MOST_ROWS, Paper, PaperError, Slips};

/// What a table would do, before it is kept.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Preview {
    /// Rows that tell of a frame.
    pub rows: usize,
    /// Frames that are new.
    pub new: usize,
    /// Frames that change.
    pub changed: usize,
    /// Frames that say the same already.
    pub same: usize,
    /// Rows about scans that show no frame.
    pub loose_scans: usize,
    /// Rolls that begin.
    pub new_rolls: Vec<String>,
    /// Rolls whose film or speed changes.
    pub changed_rolls: Vec<String>,
    /// The first rows that do something.
    pub first: Vec<Entry>,
}

/// Reads a table without keeping anything.
pub fn check(paper: &mut Paper, book: &Notebook, job: &Job, kit: &Kit) -> Result<Preview, PaperError> {
    let mut there = There::read(book, job, kit)?;
    let mut preview = Preview::default();
    let passed_over = each(paper, &mut there, |_, entry| {
        preview.take(entry);
        Ok(())
    })?;
    preview.loose_scans = passed_over;
    let names = |rolls: Vec<&super::row::RollThere>| rolls.into_iter().map(|roll| roll.name.clone()).collect();
    preview.new_rolls = names(there.rolls.iter().filter(|roll| roll.known.is_none()).collect());
    preview.changed_rolls = names(there.rolls.iter().filter(|roll| roll.changes()).collect());
    Ok(preview)
}

impl Preview {
    fn take(&mut self, entry: Entry) {
        self.rows += 1;
        match entry.change {
            Change::New => self.new += 1,
            Change::Changed(_) => self.changed += 1,
            Change::Same => self.same += 1,
        }
        if entry.change != Change::Same && self.first.len() < LISTED {
            self.first.push(entry);
        }
    }

    /// Whether anything would change.
    pub fn does_nothing(&self) -> bool {
        self.new + self.changed + self.changed_rolls.len() == 0
    }
}

/// Hands every row on to `sink` as it is meant, and gives the number of rows about scans without a frame. With one slip
/// anywhere the answer is all slips; `sink` may have seen rows by then.
pub(super) fn each(
    paper: &mut Paper,
    there: &mut There<'_>,
    mut sink: impl FnMut(&There<'_>, Entry) -> Result<(), NotebookError>,
) -> Result<usize, PaperError> {
    let head = paper.head.clone();
    let text = paper.encoding.text(&mut paper.file)?;
    let starts = Rc::new(RefCell::new(VecDeque::new()));
    let mut reader = head.rows(RowStarts::new(text, head.separator, head.lines_before, starts.clone()))?;
    let (mut slips, mut seen) = (Slips::default(), Seen::default());
    let (mut loose_scans, mut rows) = (0, 0);
    let mut record = csv::StringRecord::new();
    let mut in_head = true;
    while reader.read_record(&mut record).map_err(io_error)? {
        let row = starts.borrow_mut().pop_front().unwrap_or_default();
        if std::mem::take(&mut in_head) {
            continue;
        }
        rows += 1;
        if rows > MOST_ROWS {
            return Err(PaperError::TooManyRows);
        }
        let mut cells = Cells { head: &head, record: &record, row, slips: &mut slips };
        if cells.is_blank() || !cells.has_its_shape() {
            continue;
        }
        if cells.is_loose_scan() {
            loose_scans += 1;
            continue;
        }
        let Some(entry) = cells.entry(there) else { continue };
        if seen.first_of(&head, &mut cells, &entry) {
            sink(there, entry)?;
        }
    }
    if slips.all > 0 { Err(PaperError::Slips(slips)) } else { Ok(loose_scans) }
}

fn io_error(error: csv::Error) -> PaperError {
    match error.into_kind() {
        csv::ErrorKind::Io(error) => PaperError::Read(error),
        _ => PaperError::NotText("a row cannot be read"),
    }
}

/// The frames that rows told of.
#[derive(Default)]
struct Seen(HashMap<(usize, u32), First>);

/// The first row of a frame.
struct First {
    row: u64,
    frame: u64,
    scan: u64,
}

impl Seen {
    /// Whether this is the frame's first row. A frame may have further rows only where each tells of another scan and all say
    /// the same of the frame; any other is a slip, told with both rows.
    fn first_of(&mut self, head: &Head, cells: &mut Cells<'_>, entry: &Entry) -> bool {
        let frame = hash(head.places.iter().map(|(_, place)| cells.record.get(*place).unwrap_or_default()));
        let scan = if cells.scan().trim().is_empty() { 0 } else { hash([cells.scan()].into_iter()).max(1) };
        match self.0.entry((entry.roll, entry.draft.number)) {
            Slot::Vacant(place) => {
                place.insert(First { row: entry.row, frame, scan });
                true
            }
            Slot::Occupied(first) => {
                let first = first.get();
                let another_scan = first.scan != 0 && scan != 0 && first.scan != scan;
                if !(another_scan && first.frame == frame) {
                    let (number, roll, row) = (entry.draft.number, entry.roll_name.clone(), first.row);
                    cells.row_slip(format!(
                        "frame {number} of roll “{roll}” stands in row {row} already; a number is used once on a roll, so \
                         correct one of the two rows"
                    ));
                }
                false
            }
        }
    }
}

fn hash<'a>(cells: impl Iterator<Item = &'a str>) -> u64 {
    let mut hasher = DefaultHasher::new();
    cells.for_each(|cell| cell.hash(&mut hasher));
    hasher.finish()
}

/// Passes bytes on and notes at which row of a spreadsheet each record begins: blank lines count there and make no record,
/// line breaks in quotes do not count.
struct RowStarts<R> {
    inner: R,
    separator: u8,
    at: At,
    row: u64,
    after_return: bool,
    blank: bool,
    /// Lines before the head that make no record.
    skip: u64,
    starts: Rc<RefCell<VecDeque<u64>>>,
}

/// Where in a row a byte stands, by the rules of RFC 4180: a quote opens at the beginning of a cell only, so that `4"` is four
/// seconds.
#[derive(Debug, Clone, Copy, PartialEq)]
enum At {
    CellStart,
    Plain,
    Quoted,
    /// Behind a quote in a quoted cell: its end, or the first half of a doubled one.
    QuoteInQuoted,
}

impl<R> RowStarts<R> {
    fn new(inner: R, separator: u8, skip: u64, starts: Rc<RefCell<VecDeque<u64>>>) -> Self {
        Self { inner, separator, at: At::CellStart, row: 1, after_return: false, blank: true, skip, starts }
    }

    fn see(&mut self, byte: u8) {
        let ends_row = matches!(byte, b'\n' | b'\r') && self.at != At::Quoted;
        if ends_row {
            let second_half = byte == b'\n' && self.after_return;
            self.after_return = byte == b'\r';
            if !second_half {
                self.end_row();
            }
            return;
        }
        self.after_return = false;
        if std::mem::take(&mut self.blank) && self.skip == 0 {
            self.starts.borrow_mut().push_back(self.row);
        }
        self.at = match (self.at, byte) {
            (At::CellStart, b'"') | (At::QuoteInQuoted, b'"') => At::Quoted,
            (At::Quoted, b'"') => At::QuoteInQuoted,
            (At::Quoted, _) => At::Quoted,
            (_, byte) if byte == self.separator => At::CellStart,
            _ => At::Plain,
        };
    }

    fn end_row(&mut self) {
        (self.at, self.blank) = (At::CellStart, true);
        if self.skip > 0 {
            self.skip -= 1;
        } else {
            self.row += 1;
        }
    }
}

impl<R: Read> Read for RowStarts<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let count = self.inner.read(buffer)?;
        buffer[..count].iter().for_each(|byte| self.see(*byte));
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn starts(text: &str) -> Vec<u64> {
        let starts = Rc::new(RefCell::new(VecDeque::new()));
        let counted = RowStarts::new(text.as_bytes(), b',', 0, starts.clone());
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(counted);
        let records = reader.records().count();
        let starts: Vec<u64> = starts.borrow().iter().copied().collect();
        assert_eq!(records, starts.len(), "{text:?}");
        starts
    }

    #[test]
    fn rows_are_counted_as_a_spreadsheet_does() {
        assert_eq!(starts("a,b\n1,2\n3,4\n"), [1, 2, 3]);
        assert_eq!(starts("a,b\r\n1,2\r\n3,4"), [1, 2, 3]);
        assert_eq!(starts("a,b\r1,2\r3,4\r"), [1, 2, 3]);
        assert_eq!(starts("a,b\n\n\n1,2\n"), [1, 4], "blank lines count");
        assert_eq!(starts("a,\"b\r\nc\nd\"\n1,2\n"), [1, 2], "line breaks in quotes do not");
        assert_eq!(starts("a,b\n4\",2\n3,4\n"), [1, 2, 3], "a quote within a cell opens nothing");
        assert_eq!(starts("a,\"b\"\"c\nd\"\n1,2\n"), [1, 2]);
        assert_eq!(starts("a,\"open\n1,2\n3,4\n"), [1], "an open quote swallows the rest");
    }
}
