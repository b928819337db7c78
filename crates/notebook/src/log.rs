//! What was said at the camera: entries that are never changed, and what follows from them for the frames.
//!
//! Every entry carries a name made where it was made ([`Uid`]); the same entry arriving again changes nothing. The
//! entries of one phone are taken in the order in which they were made ([`EntryDraft::sequence`]), whatever way they came;
//! those of several phones in the order of their arrival. Of the entries of a frame the last one that is not a note
//! stands, and the frame is as it says. An entry that finds no frame any more is kept all the same, with the reason.

use std::collections::HashMap;

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::frames::{Exposed, Frame, FrameDraft, FrameState, from_parts_json, parts_json};
use crate::ids::{DeviceId, EntryId, FrameId, RollId, Uid};
use crate::store::Notebook;
use crate::values::{Checked, above_zero_if_any, odd_word};

/// What was set otherwise than planned; nothing where it was as planned.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Deviations {
    /// The parts from body to subject.
    pub parts: Option<Vec<String>>,
    /// How the lens was focused: "infinity", "closest" or "travel=3.5" (mm).
    pub focus: Option<String>,
    /// The f-number.
    pub f_number: Option<f64>,
    /// The shutter time, in seconds.
    pub shutter_s: Option<f64>,
    /// The time that the meter gave, in seconds.
    pub metered_s: Option<f64>,
}

impl Deviations {
    fn check(&self) -> Checked {
        above_zero_if_any("the f-number", self.f_number, "a number above 0")?;
        above_zero_if_any("the shutter time", self.shutter_s, "a number above 0, in seconds")?;
        above_zero_if_any("the metered time", self.metered_s, "a number above 0, in seconds")
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            parts: row.get::<_, Option<String>>("parts")?.map(from_parts_json).transpose()?,
            focus: row.get("focus")?,
            f_number: row.get("f_number")?,
            shutter_s: row.get("shutter_s")?,
            metered_s: row.get("metered_s")?,
        })
    }

    /// What was set, where this was planned.
    pub fn from_plan(&self, plan: &Exposed) -> Exposed {
        Exposed {
            parts: self.parts.clone().unwrap_or_else(|| plan.parts.clone()),
            focus: self.focus.clone().unwrap_or_else(|| plan.focus.clone()),
            f_number: self.f_number.or(plan.f_number),
            shutter_s: self.shutter_s.or(plan.shutter_s),
            metered_s: self.metered_s.or(plan.metered_s),
        }
    }
}

/// What an entry says.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// The frame was taken as planned.
    Taken,
    /// The frame was taken otherwise than planned.
    Changed(Deviations),
    /// A frame was taken that nobody had planned; its number must be free.
    Extra(Deviations),
    /// The frame was left out on purpose.
    LeftOut,
    /// Words alone, for a frame or for the roll.
    Note,
    /// What was said of the frame no longer counts: it is to be taken as planned.
    PutBack,
}

impl Said {
    fn word(&self) -> &'static str {
        match self {
            Self::Taken => "taken",
            Self::Changed(_) => "changed",
            Self::Extra(_) => "extra",
            Self::LeftOut => "left out",
            Self::Note => "note",
            Self::PutBack => "put back",
        }
    }

    /// What was set otherwise.
    pub fn deviations(&self) -> Option<&Deviations> {
        match self {
            Self::Changed(deviations) | Self::Extra(deviations) => Some(deviations),
            _ => None,
        }
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let word: String = row.get("kind")?;
        match word.as_str() {
            "taken" => Ok(Self::Taken),
            "changed" => Ok(Self::Changed(Deviations::read(row)?)),
            "extra" => Ok(Self::Extra(Deviations::read(row)?)),
            "left out" => Ok(Self::LeftOut),
            "note" => Ok(Self::Note),
            "put back" => Ok(Self::PutBack),
            _ => Err(odd_word("what a log entry says", word)),
        }
    }

    /// What becomes of a frame with this plan.
    fn standing(&self, plan: &Exposed) -> (FrameState, Exposed) {
        match self {
            Self::Changed(deviations) | Self::Extra(deviations) => (FrameState::Shot, deviations.from_plan(plan)),
            Self::Taken => (FrameState::Shot, plan.clone()),
            Self::LeftOut => (FrameState::LeftOut, plan.clone()),
            Self::PutBack | Self::Note => (FrameState::Planned, plan.clone()),
        }
    }
}

/// An entry as it is made.
#[derive(Debug, Clone, PartialEq)]
pub struct EntryDraft {
    /// Its name, made where it was made.
    pub uid: Uid,
    /// The roll in the camera.
    pub roll: RollId,
    /// The frame. Without one, [`number`](Self::number) names it; without both it is a note on the roll.
    pub frame: Option<FrameId>,
    /// The frame's number on the film as it is known at the camera.
    pub number: Option<u32>,
    /// The phone; none at the computer.
    pub device: Option<DeviceId>,
    /// The phone counts its entries: they are taken in this order.
    pub sequence: u32,
    /// What it says.
    pub said: Said,
    /// What the meter showed, as it was written down.
    pub meter: String,
    /// Anything else, in words.
    pub note: String,
    /// When it was made, by the clock there (RFC 3339).
    pub said_at: String,
}

/// An entry in the notebook. What was said is reached directly: `entry.said`.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Its number, in the order of arrival.
    pub id: EntryId,
    /// Its name.
    pub uid: Uid,
    /// The roll; none once that was deleted.
    pub roll: Option<RollId>,
    /// The frame that it concerns, while that is there.
    pub frame: Option<FrameId>,
    /// The frame's number on the film as it was known at the camera.
    pub number: Option<u32>,
    /// The phone; none at the computer.
    pub device: Option<DeviceId>,
    /// Its place among the entries of its phone.
    pub sequence: u32,
    /// What it says.
    pub said: Said,
    /// What the meter showed, as it was written down.
    pub meter: String,
    /// Anything else, in words.
    pub note: String,
    /// When it was made, by the clock there (RFC 3339).
    pub said_at: String,
    /// When it arrived, by the computer's clock (RFC 3339).
    pub arrived: String,
    /// Why it could not be put to its frame, in words; empty when it could, or had none.
    pub remark: String,
}

impl Entry {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get("id")?,
            uid: row.get("uid")?,
            roll: row.get("roll")?,
            frame: row.get("frame")?,
            number: row.get("number")?,
            device: row.get("device")?,
            sequence: row.get("sequence")?,
            said: Said::read(row)?,
            meter: row.get("meter")?,
            note: row.get("note")?,
            said_at: row.get("said_at")?,
            arrived: row.get("arrived")?,
            remark: row.get("remark")?,
        })
    }
}

/// What became of an entry that was handed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Arrival {
    /// It is kept.
    New(EntryId),
    /// It was there already; nothing changed.
    Known(EntryId),
}

impl Arrival {
    /// The entry's number.
    pub fn id(self) -> EntryId {
        match self {
            Self::New(id) | Self::Known(id) => id,
        }
    }
}

/// Where an entry belongs: the frame that it found, or why it found none.
type Place = Result<Option<Frame>, String>;

impl Notebook {
    /// Takes in an entry and lets it tell on its frame; `now` is the time of arrival, RFC 3339.
    ///
    /// An entry whose roll or frame is gone, or whose number is taken, is kept with a remark that says so.
    pub fn add_entry(&mut self, draft: &EntryDraft, now: &str) -> Result<Arrival, NotebookError> {
        draft.said.deviations().map_or(Ok(()), Deviations::check)?;
        self.atomically(|book| {
            if let Some(known) = book.entry_called(&draft.uid)? {
                return Ok(Arrival::Known(known.id));
            }
            let place = book.place_of(draft)?;
            let id = book.insert_entry(draft, &place, now)?;
            if let Ok(Some(frame)) = place {
                book.let_stand(&frame, id)?;
            }
            Ok(Arrival::New(id))
        })
    }

    fn place_of(&mut self, draft: &EntryDraft) -> Result<Place, NotebookError> {
        if self.roll(draft.roll)?.is_none() {
            return Ok(Err("The roll was deleted before this arrived.".to_owned()));
        }
        if matches!(draft.said, Said::Extra(_)) {
            return self.extra_frame(draft);
        }
        let found = match (draft.frame, draft.number) {
            (Some(id), _) => self.frame(id)?.filter(|frame| frame.roll == draft.roll),
            (None, Some(number)) => self.frame_numbered(draft.roll, number)?,
            (None, None) if draft.said == Said::Note => return Ok(Ok(None)),
            (None, None) => None,
        };
        let gone = || match draft.number {
            Some(number) => format!("Frame {number} was deleted before this arrived, so it is kept as a note."),
            None => "The frame was deleted before this arrived, so it is kept as a note.".to_owned(),
        };
        Ok(found.map(Some).ok_or_else(gone))
    }

    /// A frame that nobody planned, made by its entry.
    fn extra_frame(&mut self, draft: &EntryDraft) -> Result<Place, NotebookError> {
        let Some(number) = draft.number else {
            return Ok(Err("It names no frame number, so it is kept as a note.".to_owned()));
        };
        let blank = FrameDraft { number, ..FrameDraft::default() };
        match self.add_frame(draft.roll, &blank) {
            Ok(id) => Ok(self.frame(id)?.map(Some).ok_or_else(String::new)),
            Err(NotebookError::FrameNumberTaken { .. }) => {
                Ok(Err(format!("The roll has a frame {number} already, so this one is kept as a note.")))
            }
            Err(error) => Err(error),
        }
    }

    fn insert_entry(&mut self, draft: &EntryDraft, place: &Place, now: &str) -> Result<EntryId, NotebookError> {
        let roll = self.roll(draft.roll)?.map(|roll| roll.id);
        let (frame, remark) = match place {
            Ok(frame) => (frame.as_ref(), ""),
            Err(remark) => (None, remark.as_str()),
        };
        let set = draft.said.deviations().cloned().unwrap_or_default();
        let sql = "INSERT INTO log_entries (uid, roll, frame, number, device, sequence, kind, parts, focus, f_number, \
                   shutter_s, metered_s, meter, note, said_at, arrived, remark) \
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)";
        let values = params![
            draft.uid,
            roll,
            frame.map(|frame| frame.id),
            frame.map(|frame| frame.number).or(draft.number),
            draft.device,
            draft.sequence,
            draft.said.word(),
            set.parts.as_deref().map(parts_json),
            set.focus,
            set.f_number,
            set.shutter_s,
            set.metered_s,
            draft.meter,
            draft.note,
            draft.said_at,
            now,
            remark,
        ];
        let no_phone = |id| NotebookError::NoSuchDevice { id };
        let inserted = self.insert(sql, values);
        Ok(EntryId(match draft.device {
            Some(id) => inserted.map_err(|failure| failure.no_owner(no_phone(id)))?,
            None => inserted?,
        }))
    }

    /// Brings the frame to what `new` says, if that is the entry that stands now: one that came late, after a later one of
    /// its phone, changes nothing.
    fn let_stand(&mut self, frame: &Frame, new: EntryId) -> Result<(), NotebookError> {
        let entries = self.entries_of_frame(frame.id)?;
        let Some(last) = entries.iter().rfind(|entry| entry.said != Said::Note).filter(|last| last.id == new) else {
            return Ok(());
        };
        let plan = frame.plan();
        let (state, set) = last.said.standing(&plan);
        let mut draft = FrameDraft { state, ..frame.draft.clone() };
        draft.set_exposed(set);
        let plan = Some(&plan).filter(|_| !matches!(last.said, Said::Extra(_)));
        self.write_frame(frame, &draft, plan)
    }

    fn frame_numbered(&self, roll: RollId, number: u32) -> Result<Option<Frame>, NotebookError> {
        Ok(self.frames(roll)?.into_iter().find(|frame| frame.number == number))
    }

    /// The entry of this name.
    pub fn entry_called(&self, uid: &Uid) -> Result<Option<Entry>, NotebookError> {
        self.one("SELECT * FROM log_entries WHERE uid = ?1", [uid], Entry::read)
    }

    /// What was said of a roll and its frames, in order.
    pub fn entries_of_roll(&self, roll: RollId) -> Result<Vec<Entry>, NotebookError> {
        self.many("SELECT * FROM log_entries WHERE roll = ?1 ORDER BY id", [roll], Entry::read).map(in_order)
    }

    /// What was said of a frame, in order.
    pub fn entries_of_frame(&self, frame: FrameId) -> Result<Vec<Entry>, NotebookError> {
        self.many("SELECT * FROM log_entries WHERE frame = ?1 ORDER BY id", [frame], Entry::read).map(in_order)
    }

    /// What was said of rolls that were deleted, in order.
    pub fn entries_without_roll(&self) -> Result<Vec<Entry>, NotebookError> {
        self.many("SELECT * FROM log_entries WHERE roll IS NULL ORDER BY id", [], Entry::read).map(in_order)
    }
}

/// From the order of arrival to the order in which things were said: each phone keeps its places in the row, and fills
/// them in the order of its own numbers. At the computer both orders are the same.
fn in_order(arrived: Vec<Entry>) -> Vec<Entry> {
    let mut of_phone: HashMap<DeviceId, Vec<Entry>> = HashMap::new();
    let places: Vec<_> = arrived.iter().map(|entry| entry.device).collect();
    let (phones, mut computer): (Vec<_>, Vec<_>) = arrived.into_iter().partition(|entry| entry.device.is_some());
    for entry in phones {
        of_phone.entry(entry.device.unwrap_or(DeviceId(0))).or_default().push(entry);
    }
    for entries in of_phone.values_mut() {
        // Taken from the end below.
        entries.sort_by_key(|entry| std::cmp::Reverse((entry.sequence, entry.id)));
    }
    computer.reverse();
    let next = |place: Option<DeviceId>| match place {
        Some(phone) => of_phone.get_mut(&phone).and_then(Vec::pop),
        None => computer.pop(),
    };
    places.into_iter().filter_map(next).collect()
}
