//! The head of a table: what stands between its cells, and which column says what.

use std::io::{BufRead, BufReader, Read};

use super::PaperError;
use crate::records::table::{Column, ColumnSpec};

/// What may stand between cells, in the order in which they are tried.
const SEPARATORS: [u8; 3] = [b',', b';', b'\t'];
/// The longest head that is looked at, in bytes.
const LONGEST_HEAD: u64 = 64 * 1024;

/// The head.
#[derive(Debug, Clone, PartialEq)]
pub struct Head {
    /// What stands between cells.
    pub separator: u8,
    /// Lines before the head: one where a spreadsheet says what stands between cells ("sep=;").
    pub(super) lines_before: u64,
    /// The headings as they stand there.
    pub headings: Vec<String>,
    /// For each column that is read, its place.
    pub(super) places: Vec<(Column, usize)>,
    /// Headings that mean nothing here.
    pub unknown: Vec<String>,
    /// Headings of columns that are only ever written.
    pub told: Vec<String>,
    /// Where the scan stands that a row tells of: it may tell two rows of one frame apart.
    pub(super) scan: Option<usize>,
}

impl Head {
    pub(super) fn read(text: impl Read) -> Result<Self, PaperError> {
        let (line, lines_before, stated) = first_row(text)?;
        let separator = stated.unwrap_or_else(|| separator_of(&line));
        let headings = cells(&line, separator);
        let found = headings.iter().filter(|heading| !heading.trim().is_empty()).cloned().collect::<Vec<_>>();
        if found.is_empty() {
            return Err(PaperError::Empty);
        }
        let mut head = Self {
            separator,
            lines_before,
            headings: headings.clone(),
            places: Vec::new(),
            unknown: Vec::new(),
            told: Vec::new(),
            scan: None,
        };
        for (place, heading) in headings.iter().enumerate() {
            head.take(place, heading)?;
        }
        if head.places.is_empty() {
            return Err(PaperError::NoKnownColumn { found });
        }
        if head.place(Column::Frame).is_none() {
            return Err(PaperError::NoFrameColumn { found });
        }
        Ok(head)
    }

    fn take(&mut self, place: usize, heading: &str) -> Result<(), PaperError> {
        let Some(spec) = ColumnSpec::of_heading(heading) else {
            if !heading.trim().is_empty() {
                self.unknown.push(heading.trim().to_owned());
            }
            return Ok(());
        };
        if !spec.read {
            self.told.push(heading.trim().to_owned());
            if spec.column == Column::ScanNumber || (spec.column == Column::ScanFile && self.scan.is_none()) {
                self.scan = Some(place);
            }
            return Ok(());
        }
        if let Some(first) = self.place(spec.column) {
            let (first, second) = (self.headings[first].clone(), heading.to_owned());
            return Err(PaperError::ColumnTwice { first, second, meaning: spec.name });
        }
        self.places.push((spec.column, place));
        Ok(())
    }

    /// Where a column stands.
    pub(super) fn place(&self, column: Column) -> Option<usize> {
        self.places.iter().find(|(known, _)| *known == column).map(|(_, place)| *place)
    }

    /// What stands between cells, in words.
    pub fn separator_name(&self) -> &'static str {
        match self.separator {
            b';' => "semicolons",
            b'\t' => "tabs",
            _ => "commas",
        }
    }

    /// A reader of the rows, the head among them.
    pub(super) fn rows<R: Read>(&self, text: R) -> Result<csv::Reader<impl Read>, PaperError> {
        let mut text = BufReader::new(text);
        let mut skipped = Vec::new();
        for _ in 0..self.lines_before {
            text.read_until(b'\n', &mut skipped)?;
        }
        Ok(csv::ReaderBuilder::new().delimiter(self.separator).has_headers(false).flexible(true).from_reader(text))
    }
}

/// The first row that holds anything, quotes and all, and what it or a line before it says of the separator.
fn first_row(text: impl Read) -> Result<(String, u64, Option<u8>), PaperError> {
    let mut text = BufReader::new(text).take(LONGEST_HEAD);
    let (mut row, mut stated, mut lines_before) = (String::new(), None, 0);
    loop {
        let mut line = Vec::new();
        if text.read_until(b'\n', &mut line)? == 0 {
            break;
        }
        let line = String::from_utf8(line).map_err(|_| PaperError::NotText("its first row is too long"))?;
        if row.is_empty() && stated.is_none() && line.len() < 16 {
            let separator = line.trim_end_matches(['\r', '\n']).strip_prefix("sep=").map(str::as_bytes);
            if let Some([separator]) = separator.filter(|found| SEPARATORS.contains(found.first().unwrap_or(&0))) {
                (stated, lines_before) = (Some(*separator), 1);
                continue;
            }
        }
        row += &line;
        let open = row.matches('"').count() % 2 == 1;
        if !open && !row.trim().is_empty() {
            break;
        }
    }
    Ok((row, lines_before, stated))
}

/// The separator that makes the most known headings; where none makes any, the one that makes the most cells.
fn separator_of(row: &str) -> u8 {
    let known = |separator: u8| {
        let cells = cells(row, separator);
        (cells.iter().filter(|cell| ColumnSpec::of_heading(cell).is_some()).count(), cells.len())
    };
    SEPARATORS.into_iter().rev().max_by_key(|separator| known(*separator)).unwrap_or(b',')
}

fn cells(row: &str, separator: u8) -> Vec<String> {
    let mut reader =
        csv::ReaderBuilder::new().delimiter(separator).has_headers(false).flexible(true).from_reader(row.as_bytes());
    let first = reader.records().next().and_then(Result::ok).unwrap_or_default();
    first.iter().map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn head(text: &str) -> Result<Head, PaperError> {
        Head::read(text.as_bytes())
    }

    #[test]
    fn separators_are_found_out() {
        for (text, separator) in [
            ("roll,frame,note\n", b','),
            ("roll;frame;note\n", b';'),
            ("roll\tframe\tnote\n", b'\t'),
            ("frame\n", b','),
            ("\r\n\r\n\"roll\";\"no\nte\";frame\r\n", b';'),
            ("sep=;\nroll;frame\n", b';'),
            ("shutter (s, as set);frame;note\n", b';'),
        ] {
            let found = head(text).unwrap();
            assert_eq!((found.separator, found.place(Column::Frame).is_some()), (separator, true), "{text:?}");
        }
    }

    #[test]
    fn heads_that_cannot_be_read_say_why() {
        assert!(matches!(head(""), Err(PaperError::Empty)));
        assert!(matches!(head(",,\n"), Err(PaperError::Empty)));
        let error = head("weather,mood\n1,2\n").unwrap_err().to_string();
        assert!(error.contains("weather, mood") && error.contains("f_number"), "{error}");
        let error = head("roll,note\n").unwrap_err().to_string();
        assert!(error.contains("no column “frame” among roll, note"), "{error}");
        let error = head("frame,f_number,Aperture\n").unwrap_err().to_string();
        assert!(error.contains("“f_number” and “Aperture” mean the same"), "{error}");
        let found = head("frame,weather,scan_file\n").unwrap();
        assert_eq!((found.unknown, found.told), (vec!["weather".to_owned()], vec!["scan_file".to_owned()]));
    }
}
