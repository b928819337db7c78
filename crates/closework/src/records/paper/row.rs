//! One row: what its cells say, put over what the notebook has.

use std::collections::HashMap;

use kit::{Kit, Setup, SetupRequest};
use notebook::{Exposed, Frame, FrameDraft, FrameState, Job, Notebook, NotebookError, Roll};

use super::{Head, LONGEST_CELL, Slip, Slips};
use crate::records::cells;
use crate::records::facts::unique_titles;
use crate::records::table::{Column, frame_cell, unguarded};

/// What a row does to the notebook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// The frame is new.
    New,
    /// The frame is there; these columns change.
    Changed(Vec<&'static str>),
    /// The frame is there and says the same.
    Same,
}

/// A row as it is meant.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// The row as a spreadsheet counts.
    pub row: u64,
    /// Its roll, as an index into the rolls that are there or begun by the table.
    pub(super) roll: usize,
    /// What the roll is called.
    pub roll_name: String,
    /// The frame as the notebook has it.
    pub before: Option<Frame>,
    /// The frame as it will be.
    pub draft: FrameDraft,
    /// What was planned, where the table says it.
    pub(super) plan: Option<Exposed>,
    /// What that changes.
    pub change: Change,
}

/// A roll that is there or begun by the table, and what the table says of it.
#[derive(Debug, Clone)]
pub(super) struct RollThere {
    pub name: String,
    pub known: Option<Roll>,
    /// With the row that said it.
    pub film: Option<(String, u64)>,
    pub iso: Option<(f64, u64)>,
}

impl RollThere {
    /// Whether the table changes what the notebook says of it.
    pub fn changes(&self) -> bool {
        let Some(known) = &self.known else { return false };
        let film = self.film.as_ref().is_some_and(|(film, _)| *film != known.film);
        film || self.iso.is_some_and(|(iso, _)| Some(iso) != known.iso)
    }
}

/// Everything that rows are put over.
pub(super) struct There<'a> {
    kit: &'a Kit,
    body: Option<String>,
    pub rolls: Vec<RollThere>,
    frames: HashMap<(usize, u32), Frame>,
    /// Set-ups that were tried, with why they cannot be.
    tried: HashMap<(Vec<String>, String, Option<u64>), Option<String>>,
}

/// So many set-ups are remembered: a log has a handful.
const MOST_TRIED: usize = 10_000;

impl<'a> There<'a> {
    pub fn read(book: &Notebook, job: &Job, kit: &'a Kit) -> Result<Self, NotebookError> {
        let rolls = book.rolls(job.id)?;
        let names = unique_titles(&rolls);
        let place = |frame: &Frame| rolls.iter().position(|roll| roll.id == frame.roll);
        let frames = book.frames_of_job(job.id)?.into_iter();
        let frames = frames.filter_map(|frame| Some(((place(&frame)?, frame.number), frame))).collect();
        let there =
            |(roll, name): (&Roll, String)| RollThere { name, known: Some(roll.clone()), film: None, iso: None };
        let rolls = rolls.iter().zip(names).map(there).collect();
        Ok(Self { kit, body: job.body.clone(), rolls, frames, tried: HashMap::new() })
    }

    /// The roll of a name; a new one where there is none. Without a name it is the only one.
    fn roll(&mut self, name: &str) -> Result<usize, String> {
        let name = name.trim();
        if name.is_empty() {
            return match self.rolls.len() {
                0 => Ok(self.begin("First roll")),
                1 => Ok(0),
                _ => Err(format!("the roll is missing, and there are {}; write which", self.rolls.len())),
            };
        }
        let exact = self.rolls.iter().position(|roll| roll.name.trim() == name);
        let lower = name.to_lowercase();
        let mut alike = self.rolls.iter().enumerate().filter(|(_, roll)| roll.name.trim().to_lowercase() == lower);
        let only = alike.next().map(|(index, _)| index).filter(|_| alike.next().is_none());
        Ok(exact.or(only).unwrap_or_else(|| self.begin(name)))
    }

    fn begin(&mut self, name: &str) -> usize {
        self.rolls.push(RollThere { name: name.to_owned(), known: None, film: None, iso: None });
        self.rolls.len() - 1
    }

    /// Why the kit cannot make a set-up; nothing when it can.
    fn why_not(&mut self, draft: &FrameDraft) -> Option<String> {
        if draft.parts.is_empty() {
            return None;
        }
        let key = (draft.parts.clone(), draft.focus.clone(), draft.f_number.map(f64::to_bits));
        if let Some(known) = self.tried.get(&key) {
            return known.clone();
        }
        let why = self.resolve(draft).err();
        if self.tried.len() < MOST_TRIED {
            self.tried.insert(key, why.clone());
        }
        why
    }

    fn resolve(&self, draft: &FrameDraft) -> Result<(), String> {
        let focus = draft.focus.parse()?;
        let request = SetupRequest { parts: draft.parts.clone(), focus, f_number: draft.f_number, coc_mm: None };
        Setup::resolve(self.kit, &request).map(drop).map_err(|error| error.to_string())
    }
}

/// The cells of a row, with the place to note slips.
pub(super) struct Cells<'a> {
    pub head: &'a Head,
    pub record: &'a csv::StringRecord,
    pub row: u64,
    pub slips: &'a mut Slips,
}

impl Cells<'_> {
    fn text(&self, column: Column) -> &str {
        self.head.place(column).and_then(|place| self.record.get(place)).unwrap_or_default()
    }

    /// What the row says of the scan, as it stands there.
    pub fn scan(&self) -> &str {
        self.head.scan.and_then(|place| self.record.get(place)).unwrap_or_default()
    }

    pub fn is_blank(&self) -> bool {
        self.record.iter().all(|cell| cell.trim().is_empty())
    }

    /// A row about a scan that shows no frame: it says nothing of any.
    pub fn is_loose_scan(&self) -> bool {
        self.text(Column::Frame).trim().is_empty() && !self.scan().trim().is_empty()
    }

    fn slip(&mut self, column: Column, what: String) {
        let heading = self.head.place(column).map(|place| self.head.headings[place].trim().to_owned());
        self.slips.add(Slip { row: self.row, column: heading.unwrap_or_default(), what });
    }

    /// A slip of the row as a whole.
    pub fn row_slip(&mut self, what: String) {
        self.slips.add(Slip { row: self.row, column: String::new(), what });
    }

    /// Notes rows that are not as long as the head, and cells without end.
    pub fn has_its_shape(&mut self) -> bool {
        let (cells, head) = (self.record.len(), self.head.headings.len());
        let long = self.record.iter().position(|cell| cell.len() > LONGEST_CELL);
        if let Some(place) = long {
            let column = self.head.headings.get(place).map(|heading| heading.trim().to_owned()).unwrap_or_default();
            let what =
                format!("the cell is longer than {LONGEST_CELL} letters; a quote may be open that is never closed");
            self.slips.add(Slip { row: self.row, column, what });
        } else if cells != head {
            let separator = self.head.separator_name();
            self.row_slip(format!(
                "it has {cells} cells and the head has {head}; texts that hold {separator} must stand in quotes"
            ));
        }
        long.is_none() && cells == head
    }

    /// A cell's value: nothing when it is empty; a slip when it cannot be.
    fn value<T>(&mut self, column: Column, read: impl Fn(&str) -> Result<T, String>) -> Option<T> {
        let text = unguarded(self.text(column)).to_owned();
        if text.trim().is_empty() {
            return None;
        }
        read(&text).map_err(|what| self.slip(column, what)).ok()
    }

    /// The row as it is meant; nothing when there are slips in it.
    pub fn entry(&mut self, there: &mut There<'_>) -> Option<Entry> {
        let before_slips = self.slips.all;
        let number = self.value(Column::Frame, cells::frame_number);
        if number.is_none() && self.slips.all == before_slips {
            self.slip(Column::Frame, "the frame's number is missing".into());
        }
        let roll_name = unguarded(self.text(Column::Roll)).to_owned();
        let roll = there.roll(&roll_name).map_err(|what| self.slip(Column::Roll, what)).ok();
        let (number, roll) = (number?, roll?);
        self.about_roll(&mut there.rolls[roll]);
        let before = there.frames.get(&(roll, number)).cloned();
        let start = FrameDraft { number, ..FrameDraft::default() };
        let base = before.as_ref().map_or(start, |frame| frame.draft.clone());
        let draft = self.draft(&base, before.is_some(), there);
        let plan = self.plan(before.as_ref(), there);
        if draft.exposed() != base.exposed()
            && let Some(why) = there.why_not(&draft)
        {
            self.slip(Column::Parts, why);
        }
        if self.slips.all > before_slips {
            return None;
        }
        let change = change(before.as_ref(), &draft, plan.as_ref());
        let roll_name = there.rolls[roll].name.clone();
        Some(Entry { row: self.row, roll, roll_name, before, draft, plan, change })
    }

    /// Film and speed belong to the roll: all of its rows must say the same, or nothing.
    fn about_roll(&mut self, roll: &mut RollThere) {
        if let Some(film) = self.value(Column::Film, |text| Ok(text.to_owned())) {
            match &roll.film {
                Some((said, row)) if *said != film => {
                    let what = format!("row {row} says {} for this roll; a roll has one film", cells::shown(said));
                    self.slip(Column::Film, what);
                }
                _ => roll.film = roll.film.take().or(Some((film, self.row))),
            }
        }
        if let Some(iso) = self.value(Column::Iso, cells::iso) {
            match roll.iso {
                Some((said, row)) if said != iso => {
                    self.slip(Column::Iso, format!("row {row} says {said} for this roll; a roll has one speed"));
                }
                _ => roll.iso = roll.iso.or(Some((iso, self.row))),
            }
        }
    }

    /// What the frame will be: what it was, with every cell that says something put over it.
    fn draft(&mut self, base: &FrameDraft, there_already: bool, there: &There<'_>) -> FrameDraft {
        let mut draft = base.clone();
        let says = |cells: &Self, column: Column| {
            let as_it_was = there_already && frame_cell(base, None, column) == cells.text(column);
            !as_it_was && !cells.text(column).is_empty()
        };
        for (column, field) in [
            (Column::Label, &mut draft.label),
            (Column::Purpose, &mut draft.purpose),
            (Column::Slot, &mut draft.slot),
            (Column::ExposureNote, &mut draft.exposure_note),
            (Column::Note, &mut draft.note),
        ] {
            if says(self, column) {
                *field = unguarded(self.text(column)).to_owned();
            }
        }
        for (column, field, read) in [
            (Column::FNumber, &mut draft.f_number, cells::f_number as fn(&str) -> Result<f64, String>),
            (Column::Shutter, &mut draft.shutter_s, cells::seconds),
            (Column::Metered, &mut draft.metered_s, cells::seconds),
            (Column::FocusOffset, &mut draft.focus_offset_mm, cells::offset_mm),
        ] {
            if says(self, column) {
                *field = self.value(column, read).or(*field);
            }
        }
        if says(self, Column::Parts)
            && let Some(parts) = self.value(Column::Parts, |text| cells::parts(text, there.kit, there.body.as_deref()))
        {
            draft.parts = parts;
        }
        if says(self, Column::Focus) {
            draft.focus = self.value(Column::Focus, cells::focus).unwrap_or(draft.focus);
        }
        draft.state = match self.value(Column::State, cells::state) {
            Some(state) => state,
            None if self.says_how_it_was_exposed() => FrameState::Shot,
            None => draft.state,
        };
        draft
    }

    /// A row without a state tells of a frame that was taken when it says how.
    fn says_how_it_was_exposed(&self) -> bool {
        let exposed = [Column::FNumber, Column::Shutter, Column::Metered];
        self.text(Column::State).trim().is_empty() && exposed.iter().any(|column| !self.text(*column).trim().is_empty())
    }

    /// What was planned, where the row says it.
    fn plan(&mut self, before: Option<&Frame>, there: &There<'_>) -> Option<Exposed> {
        if self.text(Column::PlannedFocus).is_empty() {
            return None;
        }
        let planned = before.and_then(|frame| frame.planned.as_ref());
        let was = |cells: &Self, column: Column| {
            before.is_some_and(|frame| frame_cell(frame, planned, column) == cells.text(column))
        };
        let as_it_was = planned.filter(|_| {
            [
                Column::PlannedParts,
                Column::PlannedFocus,
                Column::PlannedFNumber,
                Column::PlannedShutter,
                Column::PlannedMetered,
            ]
            .iter()
            .all(|column| was(self, *column))
        });
        if let Some(planned) = as_it_was {
            return Some(planned.clone());
        }
        let body = there.body.as_deref();
        Some(Exposed {
            parts: self.value(Column::PlannedParts, |text| cells::parts(text, there.kit, body)).unwrap_or_default(),
            focus: self.value(Column::PlannedFocus, cells::focus)?,
            f_number: self.value(Column::PlannedFNumber, cells::f_number),
            shutter_s: self.value(Column::PlannedShutter, cells::seconds),
            metered_s: self.value(Column::PlannedMetered, cells::seconds),
        })
    }
}

/// What changes in a frame.
fn change(before: Option<&Frame>, draft: &FrameDraft, plan: Option<&Exposed>) -> Change {
    let Some(before) = before else { return Change::New };
    let mut columns = Vec::new();
    let mut compare = |name: &'static str, same: bool| {
        if !same {
            columns.push(name);
        }
    };
    compare("state", before.state == draft.state);
    compare("label", before.label == draft.label);
    compare("purpose", before.purpose == draft.purpose);
    compare("slot", before.slot == draft.slot);
    compare("parts", before.parts == draft.parts);
    compare("focus", before.focus == draft.focus);
    compare("focus_offset_mm", before.focus_offset_mm == draft.focus_offset_mm);
    compare("f_number", before.f_number == draft.f_number);
    compare("shutter_s", before.shutter_s == draft.shutter_s);
    compare("metered_s", before.metered_s == draft.metered_s);
    compare("exposure_note", before.exposure_note == draft.exposure_note);
    compare("note", before.note == draft.note);
    compare("plan", plan.is_none_or(|plan| before.planned.as_ref() == Some(plan)));
    if columns.is_empty() { Change::Same } else { Change::Changed(columns) }
}
