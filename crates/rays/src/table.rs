//! Lens tables as people type them or paste them from a patent.
//!
//! One surface to a line, light meeting the first line first:
//!
//! ```text
//! # radius  gap    glass    V     half clear diameter
//!   29.475  3.76   1.67125  47.1  12.6
//!   84.83   0.12   air      -     12.6
//!   stop    4.5    air      -     8.55
//!   -14.5   1.18   N-BK7    -     8.5     k=-0.4 a4=1e-6
//!   -39.7   -      air
//! ```
//!
//! A radius is a number, or `plane` (also `inf`, `0`); `stop` in its place is the stop as a plane, and `stop` at a line's end makes
//! that surface the stop. Glass is `air`, an index at the d line, or a name of [`crate::CATALOGUE`]; V is `-` where it is not known.
//! Behind the last surface stands no gap, `-`, or the printed back focus. Columns are parted by blanks, tabs, semicolons or
//! bars; a comma between two digits is a decimal comma where the line has no point, and parts columns elsewhere. `#` begins a
//! remark; a first line without any figure is a heading.

use crate::{ASPHERE_TERMS, Medium, Prescription, PrescriptionError, Row, Surface, catalogue_glass};

/// A table that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// The lens.
    pub lens: Prescription,
    /// What stood behind the last surface: the back focus as printed, mm.
    pub printed_back_focus_mm: Option<f64>,
}

/// Why a text is no lens table. Lines count from 1, remarks and empty ones included.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TableError {
    /// Nothing in it.
    #[error("the table has no surface")]
    Empty,
    /// More surfaces than any photographic lens has.
    #[error("the table has more than {} surfaces", MOST_ROWS)]
    TooLong,
    /// A word where a number belongs.
    #[error("line {line}: {what} is “{word}”, which is no number")]
    NoNumber {
        /// Which line.
        line: usize,
        /// What belongs there.
        what: &'static str,
        /// What stands there.
        word: String,
    },
    /// A column that is not there.
    #[error("line {line} has no {what}")]
    Missing {
        /// Which line.
        line: usize,
        /// What is missing.
        what: &'static str,
    },
    /// A glass that the catalogue does not have.
    #[error("line {line}: no glass “{name}” is known here; give its index and V instead")]
    UnknownGlass {
        /// Which line.
        line: usize,
        /// Its name.
        name: String,
    },
    /// A word at a line's end that says nothing.
    #[error("line {line}: “{word}” is none of stop, k=…, a4=… to a{}=…", 2 * ASPHERE_TERMS + 2)]
    UnknownWord {
        /// Which line.
        line: usize,
        /// The word.
        word: String,
    },
    /// Surfaces that make no lens.
    #[error("line {line}: {why}")]
    Lens {
        /// The line of the surface that the refusal is about.
        line: usize,
        /// Why; its rows are surfaces counted from 1.
        why: PrescriptionError,
    },
}

/// The longest table that is read.
pub const MOST_ROWS: usize = 100;

/// One line taken apart.
struct Line<'a> {
    number: usize,
    words: Vec<&'a str>,
}

/// A line understood.
struct Read {
    line: usize,
    row: Row,
}

impl Prescription {
    /// Reads a table; see the head of this module's source for its form.
    pub fn read(text: &str) -> Result<Table, TableError> {
        let lines: Vec<Line> = text
            .lines()
            .enumerate()
            .map(|(i, line)| Line::of(i + 1, line))
            .filter(|line| !line.words.is_empty())
            .collect();
        let heading = lines.first().is_some_and(Line::is_heading);
        let lines = &lines[usize::from(heading)..];
        if lines.len() > MOST_ROWS {
            return Err(TableError::TooLong);
        }
        let mut read: Vec<Read> = Vec::with_capacity(lines.len());
        for (i, line) in lines.iter().enumerate() {
            let before = read.last().map_or(Medium::Air, |read| read.row.after);
            read.push(line.read(before, i + 1 == lines.len())?);
        }
        let last = read.last_mut().ok_or(TableError::Empty)?;
        let printed_back_focus_mm = last.row.gap_mm.take();
        let lens = Self::new(read.iter().map(|read| read.row).collect()).map_err(|why| TableError::Lens {
            line: read[why.row().saturating_sub(1).min(read.len() - 1)].line,
            why,
        })?;
        Ok(Table { lens, printed_back_focus_mm })
    }
}

impl PrescriptionError {
    /// The row that a refusal is about, counted from 1; 0 where it is about none.
    pub fn row(&self) -> usize {
        match *self {
            Self::Empty | Self::Scale { .. } => 0,
            Self::NotFinite { row, .. }
            | Self::MissingGap { row }
            | Self::GapAfterLast { row, .. }
            | Self::Index { row, .. }
            | Self::Abbe { row, .. }
            | Self::Aperture { row, .. }
            | Self::BeyondSurface { row, .. }
            | Self::Crossing { row, .. }
            | Self::StopOutside { row, .. } => row,
            Self::TwoStops { second, .. } => second,
        }
    }
}

impl<'a> Line<'a> {
    fn of(number: usize, line: &'a str) -> Self {
        let line = line.split('#').next().unwrap_or_default();
        // With a point in the line, or a comma that is not between digits, commas part columns.
        let parting = line.contains('.');
        let words = line.split([' ', '\t', ';', '|', '\u{a0}', '\r']).flat_map(|word| {
            let commas = word.matches(',').count();
            let parts = parting || commas > 1 || word.starts_with(',') || word.ends_with(',');
            if parts { word.split(',').collect::<Vec<_>>() } else { vec![word] }
        });
        Self { number, words: words.filter(|word| !word.is_empty()).collect() }
    }

    fn is_heading(&self) -> bool {
        let says = |word: &str| number(word).is_some() || is_plane(word) || word.eq_ignore_ascii_case("stop");
        !self.words.iter().any(|word| says(word))
    }

    fn number(&self, what: &'static str, word: &str) -> Result<f64, TableError> {
        number(word).ok_or_else(|| TableError::NoNumber { line: self.number, what, word: word.into() })
    }

    fn read(&self, before: Medium, last: bool) -> Result<Read, TableError> {
        let is_more = |word: &&str| word.contains('=') || word.eq_ignore_ascii_case("stop");
        let beyond = self.words.iter().skip(1).position(is_more).map_or(self.words.len(), |i| i + 1);
        let (columns, more) = self.words.split_at(beyond);
        let stop = columns[0].eq_ignore_ascii_case("stop");
        let surface = match columns[0] {
            word if stop || is_plane(word) => Surface::PLANE,
            word => Surface::sphere(self.number("the radius", word)?),
        };
        let gap_mm = match columns.get(1) {
            None | Some(&("-" | "–" | "—")) if last => None,
            None | Some(&("-" | "–" | "—")) => return Err(TableError::Missing { line: self.number, what: "gap" }),
            Some(word) => Some(self.number("the gap", word)?),
        };
        let (after, rest) = self.glass(columns.get(2..).unwrap_or_default(), (stop || last).then_some(before), last)?;
        let mut row = Row { stop, ..Row::new(surface, gap_mm, after) };
        match rest {
            [] | ["-"] => {}
            [word] => row.semi_aperture_mm = Some(self.number("half the clear diameter", word)?),
            [_, word, ..] => return Err(TableError::UnknownWord { line: self.number, word: (*word).into() }),
        }
        more.iter().try_for_each(|word| self.more(&mut row, word))?;
        Ok(Read { line: self.number, row })
    }

    /// What fills the gap, and the columns behind it.
    fn glass<'w>(
        &self,
        columns: &'w [&'a str],
        default: Option<Medium>,
        last: bool,
    ) -> Result<(Medium, &'w [&'a str]), TableError> {
        let Some((name, rest)) = columns.split_first() else {
            // Behind the last surface lies air, behind a stop what lay before it.
            let default = if last { Some(Medium::Air) } else { default };
            return default
                .map(|medium| (medium, columns))
                .ok_or(TableError::Missing { line: self.number, what: "glass" });
        };
        let skipped = |rest: &'w [&'a str]| if rest.first() == Some(&"-") { &rest[1..] } else { rest };
        if name.eq_ignore_ascii_case("air") || *name == "-" || number(name) == Some(1.0) {
            return Ok((Medium::Air, skipped(rest)));
        }
        if let Some(glass) = catalogue_glass(&name.to_uppercase()) {
            return Ok((glass.medium(), skipped(rest)));
        }
        let unknown = || TableError::UnknownGlass { line: self.number, name: (*name).into() };
        let index = number(name).ok_or_else(unknown)?;
        match rest.split_first() {
            None => Ok((Medium::Constant(index), rest)),
            Some((&"-", rest)) => Ok((Medium::Constant(index), rest)),
            Some((abbe, rest)) => Ok((Medium::patent(index, self.number("V", abbe)?), rest)),
        }
    }

    /// A word at the end: the stop, the conic constant, a term of the asphere.
    fn more(&self, row: &mut Row, word: &str) -> Result<(), TableError> {
        if word.eq_ignore_ascii_case("stop") {
            row.stop = true;
            return Ok(());
        }
        let unknown = || TableError::UnknownWord { line: self.number, word: word.into() };
        let (name, value) = word.split_once('=').ok_or_else(unknown)?;
        if name.eq_ignore_ascii_case("k") {
            row.surface.conic = self.number("the conic constant", value)?;
            return Ok(());
        }
        let power: usize = name.strip_prefix(['a', 'A']).and_then(|power| power.parse().ok()).ok_or_else(unknown)?;
        let term = (power >= 4 && power.is_multiple_of(2)).then(|| power / 2 - 2).filter(|term| *term < ASPHERE_TERMS);
        row.surface.asphere[term.ok_or_else(unknown)?] = self.number("an aspheric term", value)?;
        Ok(())
    }
}

fn is_plane(word: &str) -> bool {
    ["plane", "plano", "inf", "infinity", "∞"].iter().any(|plane| word.eq_ignore_ascii_case(plane))
        || number(word) == Some(0.0)
}

/// A number with a point or a decimal comma, and a true minus sign where print has one; only finite ones.
fn number(word: &str) -> Option<f64> {
    let plain = word.replace(['−', '–'], "-").replace(',', ".");
    plain.parse::<f64>().ok().filter(|value| value.is_finite())
}
