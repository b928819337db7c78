//! A roll as the phone is given it: the frames, what can be chosen, and what has arrived.

use notebook::{Device, Frame, FrameState, Notebook, Roll};
use serde::Serialize;

use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::{PageError, clock, fmt};

/// Full stops and the halves between them as they are engraved (the rounded series of ISO 517, and the trade's half stops).
const F_NUMBERS: [f64; 27] = [
    1.0, 1.2, 1.4, 1.7, 2.0, 2.4, 2.8, 3.3, 4.0, 4.8, 5.6, 6.7, 8.0, 9.5, 11.0, 13.0, 16.0, 19.0, 22.0, 27.0, 32.0,
    38.0, 45.0, 54.0, 64.0, 76.0, 90.0,
];
/// The speeds of a shutter that the kit does not know, seconds (the rounded series of ISO 516).
const SPEEDS: [f64; 11] = [0.001, 0.002, 0.004, 0.008, 1.0 / 60.0, 1.0 / 30.0, 1.0 / 15.0, 0.125, 0.25, 0.5, 1.0];
/// Times counted on B, seconds.
const COUNTED: [f64; 6] = [2.0, 4.0, 8.0, 15.0, 30.0, 60.0];

/// What the page works with.
#[derive(Debug, Serialize)]
pub struct Sheet {
    roll: i64,
    title: String,
    film: String,
    /// How many frames the roll holds, when that is known.
    holds: Option<u32>,
    frames: Vec<FrameSheet>,
    set_ups: Vec<SetUp>,
    f_numbers: Vec<f64>,
    speeds: Vec<Speed>,
    /// The last sequence number that has arrived from this phone.
    last: u32,
    phone: String,
    /// The computer's clock.
    now: String,
}

#[derive(Debug, Serialize)]
struct FrameSheet {
    id: i64,
    number: u32,
    label: String,
    purpose: String,
    state: &'static str,
    /// As planned, or as taken.
    set: Set,
    /// What was planned, when something else was taken.
    planned: Option<Set>,
    /// How the shutter time was worked out.
    exposure: String,
    /// Focus set off on purpose, mm.
    offset_mm: Option<f64>,
}

/// What is set for one exposure.
#[derive(Debug, Serialize)]
struct Set {
    parts: Vec<String>,
    name: String,
    focus: String,
    f_number: Option<f64>,
    shutter_s: Option<f64>,
    metered_s: Option<f64>,
}

#[derive(Debug, Serialize)]
struct SetUp {
    parts: Vec<String>,
    name: String,
}

#[derive(Debug, Serialize)]
struct Speed {
    s: f64,
    text: String,
}

/// The word for a state, as the page knows it.
pub fn state_word(state: FrameState) -> &'static str {
    match state {
        FrameState::Planned => "planned",
        FrameState::Shot => "shot",
        FrameState::LeftOut => "left out",
    }
}

impl Sheet {
    /// The roll's sheet for a phone.
    pub fn of(book: &Notebook, roll: &Roll, phone: &Device) -> Result<Self, PageError> {
        let kit = read_kit(book)?;
        let frames = book.frames(roll.id)?;
        let set = |set: notebook::Exposed| Set {
            name: set_up_name(&kit, &set.parts),
            parts: set.parts,
            focus: set.focus,
            f_number: set.f_number,
            shutter_s: set.shutter_s,
            metered_s: set.metered_s,
        };
        let frame = |frame: &Frame| FrameSheet {
            id: frame.id.0,
            number: frame.number,
            label: frame.label.clone(),
            purpose: frame.purpose.clone(),
            state: state_word(frame.state),
            set: set(frame.draft.exposed()),
            planned: frame.planned.clone().map(set),
            exposure: frame.exposure_note.clone(),
            offset_mm: frame.focus_offset_mm,
        };
        Ok(Self {
            roll: roll.id.0,
            title: roll.title.clone(),
            film: roll.film.clone(),
            holds: roll.frames,
            set_ups: set_ups(&kit, &frames),
            f_numbers: with_own(&F_NUMBERS, frames.iter().flat_map(|frame| [frame.f_number, frame.plan().f_number])),
            speeds: speeds(&kit, &frames),
            frames: frames.iter().map(frame).collect(),
            last: book.last_sequence(phone.id)?,
            phone: phone.name.clone(),
            now: clock::now(),
        })
    }
}

/// The set-ups on the roll, each once.
fn set_ups(kit: &kit::Kit, frames: &[Frame]) -> Vec<SetUp> {
    let mut all: Vec<Vec<String>> = Vec::new();
    for parts in frames.iter().flat_map(|frame| [frame.draft.parts.clone(), frame.plan().parts]) {
        if !parts.is_empty() && !all.contains(&parts) {
            all.push(parts);
        }
    }
    all.into_iter().map(|parts| SetUp { name: set_up_name(kit, &parts), parts }).collect()
}

/// A series, and what is on the roll besides, in order.
fn with_own(series: &[f64], own: impl Iterator<Item = Option<f64>>) -> Vec<f64> {
    let mut all: Vec<f64> = series.iter().copied().chain(own.flatten()).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

/// The speeds of the shutters on the roll; those of no shutter in particular where the kit names none.
fn speeds(kit: &kit::Kit, frames: &[Frame]) -> Vec<Speed> {
    let words = frames.iter().flat_map(|frame| &frame.draft.parts);
    let parts = words.filter_map(|word| kit.part(word.split('=').next().unwrap_or(word)));
    let known: Vec<f64> = parts.flat_map(|part| part.numbers("shutter_s")).collect();
    let series = if known.is_empty() { SPEEDS.to_vec() } else { known };
    let own = frames.iter().flat_map(|frame| [frame.shutter_s, frame.plan().shutter_s]);
    let all = with_own(&[series.as_slice(), &COUNTED].concat(), own);
    all.into_iter().map(|s| Speed { s, text: fmt::shutter(s) }).collect()
}
