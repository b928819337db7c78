//! The page's fields as a test, and back.

use kit::Kit;
use notebook::{Frame, Job, Roll, RollId};
use planning::test_roll::{AperturesAsked, Layout, Rounds, Scatter, Slot};

use crate::planner::Wishes;
use crate::test_roll::{Asked, ControlAsked, Laid, OnRoll, key, on_roll, without_draws};
use crate::web::form::{Filled, parse_number};

/// Frames that a roll is taken to hold where nothing is said: 6x6 on 120.
pub const USUAL_FRAMES: u32 = 12;

/// Rolls on the page at most.
const MOST_ROLLS: usize = 20;

/// A roll at hand: one of the notebook's, or one to be made.
#[derive(Debug, Clone)]
pub struct AtHand {
    /// The notebook's, with its frames; `None` for a new one.
    pub known: Option<(Roll, Vec<Frame>)>,
    /// How many frames it holds.
    pub holds: u32,
}

impl AtHand {
    /// What it leaves to a test, after the frames of the test on the rolls before it.
    pub fn seen(&self, laid: &Laid, before: &[Slot]) -> OnRoll {
        match &self.known {
            Some((roll, frames)) => on_roll(self.holds, &roll.plan, frames, laid, before),
            None => on_roll(self.holds, "", &[], laid, before),
        }
    }
}

/// Splits parts as typed: commas or blanks between them.
pub fn parts(text: &str) -> Vec<String> {
    text.split([',', ' ', '+']).map(str::trim).filter(|word| !word.is_empty()).map(str::to_owned).collect()
}

/// The set-ups that are ticked or typed, in that order.
pub fn set_ups(filled: &Filled) -> Vec<Vec<String>> {
    let ticked = filled.all("setup").map(parts);
    let typed = filled.untrimmed("more").lines().map(parts);
    ticked.chain(typed).filter(|parts| !parts.is_empty()).collect()
}

/// What the fields ask for; what is wrong is noted at its field.
pub fn read(filled: &mut Filled, kit: &Kit, job: &Job) -> Asked {
    let set_ups = set_ups(filled);
    let base = Asked::new(Wishes::of(&job.draft), set_ups);
    let count = filled.number_within("apertures", 1.0, 9.0, "").unwrap_or(3.0) as usize;
    let listed = effective(filled);
    let scatter = filled.number_within("scatter", 0.01, 500.0, "lp/mm");
    let degrees = filled.number_within("degrees", 0.0, 1000.0, "").unwrap_or(0.0) as usize;
    let control = control(filled, kit, &base.set_ups);
    Asked {
        other_tubes: filled.ticked("tubes"),
        tolerance: filled.number_within("tolerance", 0.1, 20.0, "%").map(|percent| percent / 100.0),
        apertures: if listed.is_empty() { AperturesAsked::Around(count) } else { AperturesAsked::These(listed) },
        click_stops: filled.text("click").parse().unwrap_or(0.5),
        scatter: scatter.map(|lp_mm| Scatter { lp_mm, degrees }),
        difference_lp_mm: filled.number_within("difference", 0.01, 500.0, "lp/mm"),
        focus_plus_minus_mm: filled.number_within("focus", 0.0, 100.0, "mm"),
        longest_bracket: filled.text("bracket").parse().ok(),
        control,
        rounds: if filled.text("rounds") == "back" { Rounds::ThereAndBack } else { Rounds::Together },
        ..base
    }
}

fn effective(filled: &mut Filled) -> Vec<f64> {
    let typed = filled.text("effective").to_owned();
    let words =
        typed.split([' ', ';', '/']).map(|word| word.trim_end_matches(',')).filter(|w| !w.is_empty() && *w != "f");
    let found: Vec<Option<f64>> = words.map(|word| parse_number(word).filter(|n| (0.5..=1000.0).contains(n))).collect();
    if found.iter().any(Option::is_none) || found.len() > 9 {
        filled.wrong(
            "effective",
            format!("“{typed}” is no list of f-numbers. Write up to nine with blanks between: 16 22 32."),
        );
    }
    found.into_iter().flatten().collect()
}

fn control(filled: &Filled, kit: &Kit, set_ups: &[Vec<String>]) -> ControlAsked {
    match filled.text("control") {
        "bare" => ControlAsked::Bare,
        "off" => ControlAsked::Off,
        named => {
            let place = set_ups.iter().position(|parts| key(kit, parts) == named);
            ControlAsked::Reference(place.unwrap_or(0))
        }
    }
}

/// The rolls that are ticked, then the new ones.
pub fn rolls(filled: &mut Filled, known: &[(Roll, Vec<Frame>)]) -> Vec<AtHand> {
    let ticked: Vec<RollId> = filled.all("roll").filter_map(|id| id.parse().ok()).collect();
    let usual = filled.number_within("frames", 1.0, 1000.0, "frames").map_or(USUAL_FRAMES, |n| n as u32);
    let new = filled.number_within("new", 0.0, MOST_ROLLS as f64, "rolls").unwrap_or(0.0) as usize;
    let old = known
        .iter()
        .filter(|(roll, _)| ticked.contains(&roll.id))
        .map(|both| AtHand { holds: both.0.frames.unwrap_or(usual), known: Some(both.clone()) });
    old.chain(std::iter::repeat_n(AtHand { known: None, holds: usual }, new)).take(MOST_ROLLS).collect()
}

/// The frames as a person left them; `None` where the plan is as planned. What is no slot is dropped.
pub fn layout(filled: &Filled, rolls: usize) -> Option<Layout> {
    let mut layout: Layout =
        filled.all("on").map(|text| text.split(',').filter_map(|slot| slot.parse::<Slot>().ok()).collect()).collect();
    if layout.is_empty() {
        return None;
    }
    // Frames of rolls that are no longer there come to the last one, which then says that it is full.
    let mut lost: Vec<Slot> = layout.drain(rolls.max(1).min(layout.len())..).flatten().collect();
    layout.resize(rolls.max(1), Vec::new());
    layout.last_mut()?.append(&mut lost);
    Some(layout)
}

/// A layout as the values of the fields `on`.
pub fn layout_fields(layout: &[Vec<Slot>]) -> Vec<String> {
    let text = |frames: &Vec<Slot>| frames.iter().map(Slot::to_string).collect::<Vec<_>>().join(",");
    layout.iter().map(text).collect()
}

/// The fields of the question, without frames and without what was just done.
pub const QUESTION: [&str; 18] = [
    "asked",
    "setup",
    "more",
    "tubes",
    "tolerance",
    "apertures",
    "effective",
    "click",
    "scatter",
    "degrees",
    "difference",
    "focus",
    "bracket",
    "control",
    "rounds",
    "roll",
    "new",
    "frames",
];

/// Every field of the question with its values.
pub fn question_fields(filled: &Filled) -> Vec<(String, String)> {
    let of =
        |name: &'static str| filled.all(name).map(move |value| (name.to_owned(), value.to_owned())).collect::<Vec<_>>();
    QUESTION.into_iter().flat_map(of).filter(|(_, value)| !value.is_empty()).collect()
}

/// A query of the question's fields and a layout.
pub fn query(filled: &Filled, layout: Option<&Layout>) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.extend_pairs(question_fields(filled));
    for frames in layout.map(|layout| layout_fields(layout)).unwrap_or_default() {
        query.append_pair("on", &frames);
    }
    query.finish()
}

/// Whether two lists of parts are the same set-up.
pub fn same(kit: &Kit, p: &[String], q: &[String]) -> bool {
    without_draws(kit, p) == without_draws(kit, q)
}
