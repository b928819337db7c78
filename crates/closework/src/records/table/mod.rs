//! Every frame of a job as a table: one row for each frame and scan of it, then the scans that show no frame.
//!
//! The form is RFC 4180: commas, CR LF, quotes where they are needed, UTF-8. Numbers carry their full precision with a decimal
//! point. A text that a spreadsheet would take for a formula gets an apostrophe in front ([`guarded`]), and [`super::paper`]
//! takes it away again, so that what goes out comes back the same.

mod columns;
mod measured;

pub use columns::{Column, ColumnSpec};
pub use measured::Measured;

use notebook::{Exposed, Frame, FrameDraft, FrameState, Scan};
use optics::Estimate;

use super::facts::{Known, unique_titles};

/// A byte order mark: some spreadsheets read a table as UTF-8 only behind one.
pub const BYTE_ORDER_MARK: &str = "\u{feff}";

/// A text as it stands in a table: one that begins with `=`, `+`, `-`, `@`, a tab or a return, behind apostrophes or not, gets
/// one more apostrophe. Spreadsheets would compute it (OWASP, "CSV Injection").
pub fn guarded(text: &str) -> String {
    if is_risky(text) { format!("'{text}") } else { text.to_owned() }
}

/// The text that [`guarded`] was given.
pub fn unguarded(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if is_risky(rest) => rest,
        _ => text,
    }
}

fn is_risky(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// The state of a frame as the table says it.
pub fn state_word(state: FrameState) -> &'static str {
    match state {
        FrameState::Planned => "planned",
        FrameState::Shot => "taken",
        FrameState::LeftOut => "left out",
    }
}

/// The whole table.
pub fn write(known: &Known) -> String {
    let titles = unique_titles(&known.rolls);
    let mut rows = vec![ColumnSpec::ALL.iter().map(|spec| spec.name.to_owned()).collect()];
    for frame in &known.frames {
        let scans: Vec<&Scan> = known.scans.iter().filter(|scan| scan.frame == Some(frame.id)).collect();
        let first = scans.first().copied();
        rows.push(row(known, &titles, Some(frame), first));
        rows.extend(scans.iter().skip(1).map(|scan| row(known, &titles, Some(frame), Some(scan))));
    }
    let loose = known.scans.iter().filter(|scan| known.frame_of(scan).is_none());
    rows.extend(loose.map(|scan| row(known, &titles, None, Some(scan))));
    written(&rows)
}

/// A table to print or to fill in: the columns that are read, with the frames that are planned so far.
pub fn template(known: Option<&Known>) -> String {
    let specs: Vec<&ColumnSpec> = ColumnSpec::ALL.iter().filter(|spec| spec.on_paper).collect();
    let mut rows: Vec<Vec<String>> = vec![specs.iter().map(|spec| spec.name.to_owned()).collect()];
    if let Some(known) = known {
        let titles = unique_titles(&known.rolls);
        let planned = known.frames.iter().filter(|frame| frame.state == FrameState::Planned);
        rows.extend(planned.map(|frame| {
            specs.iter().map(|spec| Row { known, titles: &titles, frame: Some(frame), scan: None }.cell(spec)).collect()
        }));
    }
    written(&rows)
}

fn row(known: &Known, titles: &[String], frame: Option<&Frame>, scan: Option<&Scan>) -> Vec<String> {
    let row = Row { known, titles, frame, scan };
    ColumnSpec::ALL.iter().map(|spec| row.cell(spec)).collect()
}

/// Rows as RFC 4180 writes them.
pub fn written(rows: &[Vec<String>]) -> String {
    let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
    for row in rows {
        // Writing to memory does not fail, and all rows have the same length.
        let _ = writer.write_record(row);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

/// A cell's text, and whether it is a number.
type Cell = (String, bool);

fn words(text: &str) -> Option<Cell> {
    Some((text.to_owned(), false))
}

fn number(figure: Option<f64>) -> Option<Cell> {
    figure.map(|figure| (figure.to_string(), true))
}

/// What a frame's own columns say.
fn plain_cell(frame: &FrameDraft, planned: Option<&Exposed>, column: Column) -> Option<Cell> {
    match column {
        Column::Frame => Some((frame.number.to_string(), true)),
        Column::State => words(state_word(frame.state)),
        Column::Label => words(&frame.label),
        Column::Purpose => words(&frame.purpose),
        Column::Slot => words(&frame.slot),
        Column::Parts => words(&frame.parts.join(", ")),
        Column::Focus => words(&frame.focus),
        Column::FocusOffset => number(frame.focus_offset_mm),
        Column::FNumber => number(frame.f_number),
        Column::Shutter => number(frame.shutter_s),
        Column::Metered => number(frame.metered_s),
        Column::ExposureNote => words(&frame.exposure_note),
        Column::Note => words(&frame.note),
        Column::PlannedParts => words(&planned?.parts.join(", ")),
        Column::PlannedFocus => words(&planned?.focus),
        Column::PlannedFNumber => number(planned?.f_number),
        Column::PlannedShutter => number(planned?.shutter_s),
        Column::PlannedMetered => number(planned?.metered_s),
        _ => None,
    }
}

/// A frame's own cell as it is written; empty where nothing is known.
pub(super) fn frame_cell(frame: &FrameDraft, planned: Option<&Exposed>, column: Column) -> String {
    let (text, number) = plain_cell(frame, planned, column).unwrap_or_default();
    if number { text } else { guarded(&text) }
}

/// One row under way.
struct Row<'a> {
    known: &'a Known,
    titles: &'a [String],
    frame: Option<&'a Frame>,
    scan: Option<&'a Scan>,
}

impl Row<'_> {
    fn cell(&self, spec: &ColumnSpec) -> String {
        let (text, is_number) = match (self.of_frame(spec.column), self.of_scan(spec.column)) {
            (Some(cell), _) | (None, Some(cell)) => cell,
            (None, None) => (String::new(), false),
        };
        if is_number { text } else { guarded(&text) }
    }

    /// What the frame says in a column, and whether that is a number.
    fn of_frame(&self, column: Column) -> Option<Cell> {
        let frame = self.frame?;
        let roll = self.known.rolls.iter().position(|roll| roll.id == frame.roll);
        match column {
            Column::Roll => words(&self.titles[roll?]),
            Column::Film => words(&self.known.rolls[roll?].film),
            Column::Iso => number(self.known.rolls[roll?].iso),
            Column::TakenAt => words(self.known.taken_at(frame.id)?),
            _ => plain_cell(frame, frame.planned.as_ref(), column).or_else(|| self.of_set_up(frame, column)),
        }
    }

    fn of_set_up(&self, frame: &Frame, column: Column) -> Option<Cell> {
        let (figures, planned) = (self.known.figures(frame), self.known.planned_figures(frame));
        let value = |figure: Option<Estimate>| number(figure.map(|figure| figure.value));
        let doubt = |figure: Option<Estimate>| number(figure.map(|figure| figure.plus_minus));
        match column {
            Column::SetUpMagnification => value(figures.magnification),
            Column::SetUpMagnificationDoubt => doubt(figures.magnification),
            Column::PlannedMagnification => frame.planned.as_ref().and_then(|_| value(planned.magnification)),
            Column::EffectiveFNumber => value(figures.effective_f_number),
            Column::EffectiveFNumberDoubt => doubt(figures.effective_f_number),
            Column::SubjectToFilm => value(figures.subject_to_film_mm),
            Column::SubjectToFilmDoubt => doubt(figures.subject_to_film_mm),
            Column::Extension => value(figures.extension_mm),
            _ => None,
        }
    }

    fn of_scan(&self, column: Column) -> Option<Cell> {
        let scan = self.scan?;
        let size = scan.magnification;
        match column {
            Column::ScanFile => words(&scan.file_name),
            Column::ScanNumber => Some((scan.id.to_string(), true)),
            Column::MatchedBy => words(scan.matched?.word()),
            Column::Pitch => number(scan.pitch_um),
            Column::Magnification => number(size.map(|m| m.value)),
            Column::MagnificationDoubt => number(size.and_then(|m| m.plus_minus)),
            Column::MagnificationFrom => words(size?.from.word()),
            _ => self.known.measured(scan.id).cell(column),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_spreadsheet_would_compute_is_guarded_and_comes_back() {
        for text in ["=1+1", "+1", "-x", "@a", "\tb", "\rc", "'=1", "''=1"] {
            assert_eq!(guarded(text), format!("'{text}"), "{text:?}");
        }
        for text in ["", "a", "'a", "'", "''", "1-2", " =1", "Käfer"] {
            assert_eq!(guarded(text), text, "{text:?}");
        }
    }

    proptest::proptest! {
        #[test]
        fn guarding_is_taken_back(text in "['=+@a\\-\\t\\r ]{0,6}") {
            let out = guarded(&text);
            assert_eq!(unguarded(&out), text);
            assert!(!out.starts_with(['=', '+', '-', '@', '\t', '\r']));
        }
    }

    #[test]
    fn quotes_stand_as_rfc_4180_wants_them() {
        // RFC 4180, section 2, rules 1, 6 and 7.
        let rows = [["a", "b\r\nc", "d\"e", "f,g", ""].map(str::to_owned).to_vec()];
        assert_eq!(written(&rows), "a,\"b\r\nc\",\"d\"\"e\",\"f,g\",\r\n");
    }
}
