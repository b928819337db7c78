//! A plan as it is kept with a roll, and what is left of an earlier one.

use notebook::{Frame, FrameState};
use planning::test_roll::{RollAtHand, Slot};
use serde::{Deserialize, Serialize};

use super::Laid;
use crate::documents::MADE_BY;

/// The question and settings of a plan, kept as JSON with the roll: what its frames' slots count by.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// What made it.
    pub made_by: String,
    /// The set-ups as they were asked for; slots name them by their place here.
    pub set_ups: Vec<String>,
    /// The groups.
    pub groups: Vec<KeptGroup>,
    /// The difference that is to be told, lp/mm on film.
    pub difference_lp_mm: f64,
    /// One standard deviation of takes, lp/mm on film.
    pub scatter_lp_mm: f64,
    /// The page's fields, to plan again from.
    pub query: String,
}

/// Set-ups of one size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeptGroup {
    /// Where they meet.
    pub magnification: f64,
    /// Who, by their place among the set-ups.
    pub members: Vec<usize>,
    /// The effective f-numbers; slots name them by their place here.
    pub effective_f_numbers: Vec<f64>,
}

impl Kept {
    /// What is kept of a test.
    pub fn of(laid: &Laid, query: &str) -> Self {
        let group = |group: &planning::test_roll::TestGroup| KeptGroup {
            magnification: group.magnification,
            members: group.members.iter().map(|member| member.contender).collect(),
            effective_f_numbers: group.apertures.iter().map(|aperture| aperture.effective).collect(),
        };
        Self {
            made_by: MADE_BY.into(),
            set_ups: laid.keys.clone(),
            groups: laid.test.groups.iter().map(group).collect(),
            difference_lp_mm: laid.test.question.difference_lp_mm,
            scatter_lp_mm: laid.test.question.scatter.lp_mm,
            query: query.into(),
        }
    }

    /// A slot of this plan as one of another test: the same set-up at the same size and effective f-number; `None` when that
    /// test has none like it.
    pub fn translated(&self, slot: &Slot, laid: &Laid) -> Option<Slot> {
        if slot.contender == self.set_ups.len() {
            // The bare lens stays the bare lens where there is one.
            let bare = laid.stands.last()?.is_some();
            return bare.then_some(Slot { contender: laid.keys.len(), ..*slot });
        }
        let key = self.set_ups.get(slot.contender)?;
        let contender = laid.keys.iter().position(|known| known == key)?;
        let (group, _) = laid.test.member(contender)?;
        let before = self.groups.iter().find(|group| group.members.contains(&slot.contender))?;
        let size = (before.magnification / group.magnification).ln().abs();
        let effective = before.effective_f_numbers.get(slot.aperture)?;
        let off = |n: f64| 2.0 * (n / effective).log2().abs();
        let near = group.apertures.iter().position(|aperture| off(aperture.effective) <= SAME_STOPS)?;
        let found = Slot { contender, aperture: near, ..*slot };
        (size <= laid.tolerance && laid.test.knows(&found)).then_some(found)
    }
}

/// Effective f-numbers closer than this are the same: half of half a click.
const SAME_STOPS: f64 = 0.26;

/// A roll of the notebook as a plan sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct OnRoll {
    /// What is free and what was shot of this test.
    pub at_hand: RollAtHand,
    /// Frames that are planned on it by a test and not shot: a new plan takes their place.
    pub replaced: Vec<notebook::FrameId>,
    /// Frames that keep their numbers: shot, left out, or planned by hand.
    pub kept: usize,
    /// Frames that keep their numbers and have another slot in this test than in the plan that they were planned by.
    pub renamed: Vec<(notebook::FrameId, String)>,
}

/// Before the slot of a frame that a later plan has no place for.
const EARLIER: &str = "earlier:";

/// What a roll's frames leave to a test, after those of the rolls `before`. Film does not go back: what lies before the last
/// frame shot is gone.
pub fn on_roll(holds: u32, plan: &str, frames: &[Frame], laid: &Laid, before: &[Slot]) -> OnRoll {
    let kept: Option<Kept> = serde_json::from_str(plan).ok();
    let exposed = |frame: &&Frame| frame.state == FrameState::Shot;
    let last = frames.iter().filter(exposed).map(|frame| frame.number).max().unwrap_or(0);
    let ours = |frame: &&Frame| frame.state == FrameState::Planned && !frame.slot.is_empty();
    let (replaced, stays): (Vec<&Frame>, Vec<&Frame>) = frames.iter().partition(|frame| ours(frame));
    let free = (last + 1..=holds).filter(|number| stays.iter().all(|frame| frame.number != *number)).collect();
    let (mut shot, mut renamed): (Vec<Slot>, Vec<(notebook::FrameId, String)>) = (Vec::new(), Vec::new());
    for frame in stays.iter().filter(|frame| !frame.slot.is_empty() && !frame.slot.starts_with(EARLIER)) {
        let found = kept.as_ref().zip(frame.slot.parse().ok()).and_then(|(kept, slot)| kept.translated(&slot, laid));
        let taken: Vec<Slot> = before.iter().chain(&shot).copied().collect();
        // Two takes that two plans gave one place are two takes still.
        let found = found.map(|slot| if taken.contains(&slot) { laid.test.repeated(&slot, &taken) } else { slot });
        let text = found.map_or_else(|| format!("{EARLIER}{}", frame.slot), |slot| slot.to_string());
        if text != frame.slot {
            renamed.push((frame.id, text));
        }
        shot.extend(found.filter(|_| frame.state == FrameState::Shot));
    }
    OnRoll {
        at_hand: RollAtHand { free, shot },
        replaced: replaced.iter().map(|frame| frame.id).collect(),
        kept: stays.len(),
        renamed,
    }
}
