//! `test-roll --json`

use super::{MADE_BY, Uncertain};
use crate::test_roll::Laid;
use planning::test_roll::{Cell, Decision, Pair, Slot, TestGroup, TestPlan};
use serde::Serialize;

/// A test laid out and planned.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TestRollDocument {
    made_by: &'static str,
    wanted_magnification: f64,
    difference_lp_mm: f64,
    scatter_lp_mm: f64,
    groups: Vec<GroupDocument>,
    left_out: Vec<LeftOutDocument>,
    rolls: Vec<Vec<TestFrameDocument>>,
    free_frames: usize,
    wanting_frames: usize,
    changes: ChangesDocument,
    tells: DecisionDocument,
    cannot_tell: Vec<String>,
    one_more_roll: Option<MoreDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct GroupDocument {
    magnification: f64,
    effective_f_numbers: Vec<f64>,
    set_ups: Vec<StandDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct StandDocument {
    /// What sentences call it: A, B, C.
    mark: String,
    name: String,
    parts: Vec<String>,
    focus: String,
    on_other_tubes: bool,
    magnification: Uncertain,
    focus_plus_minus_mm: f64,
    /// One for each effective f-number of the group; `null` where the ring does not go there.
    apertures: Vec<Option<RingDocument>>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct RingDocument {
    f_number: f64,
    off_stops: f64,
    focus_steps: usize,
    focus_step_mm: f64,
    chance_in_focus: f64,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct LeftOutDocument {
    name: String,
    why: String,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct TestFrameDocument {
    number: usize,
    slot: String,
    label: String,
    purpose: String,
    parts: Vec<String>,
    focus: Option<String>,
    f_number: Option<f64>,
    focus_offset_mm: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct ChangesDocument {
    lens: usize,
    extension: usize,
    close_up: usize,
    aperture: usize,
    focus: usize,
    cost: u32,
    /// No order of these frames costs less.
    at_least: u32,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct DecisionDocument {
    told: usize,
    of: usize,
    degrees_of_freedom: usize,
    drift_lp_mm: Option<f64>,
    pairs: Vec<PairDocument>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct PairDocument {
    between: [CellDocument; 2],
    takes: [usize; 2],
    /// The least difference that is told, on film; `null` for none.
    least_lp_mm: Option<f64>,
    chance_both_in_focus: f64,
    told: bool,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct CellDocument {
    set_up: String,
    effective_f_number: Option<f64>,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct MoreDocument {
    frames: usize,
    tells: DecisionDocument,
}

impl TestRollDocument {
    /// Of a test and its plan.
    pub fn of(laid: &Laid, plan: &TestPlan) -> Self {
        let test = &laid.test;
        let changes = test.changes(&plan.layout);
        Self {
            made_by: MADE_BY,
            wanted_magnification: test.question.need.magnification,
            difference_lp_mm: test.question.difference_lp_mm,
            scatter_lp_mm: test.question.scatter.lp_mm,
            groups: test.groups.iter().map(|group| group_of(laid, group)).collect(),
            left_out: test
                .left_out
                .iter()
                .map(|(c, why)| LeftOutDocument {
                    name: laid.names.get(*c).cloned().unwrap_or_default(),
                    why: why.to_string(),
                })
                .collect(),
            rolls: plan.layout.iter().map(|frames| frames_of(laid, frames)).collect(),
            free_frames: plan.free,
            wanting_frames: plan.wanting,
            changes: ChangesDocument {
                lens: changes.lens,
                extension: changes.extension,
                close_up: changes.close_up,
                aperture: changes.aperture,
                focus: changes.focus,
                cost: changes.cost,
                at_least: test.changes_at_least(&plan.layout),
            },
            tells: decision(laid, &plan.decision),
            cannot_tell: test.cannot(&plan.decision).iter().map(ToString::to_string).collect(),
            one_more_roll: plan
                .one_more
                .as_ref()
                .map(|more| MoreDocument { frames: more.frames, tells: decision(laid, &more.decision) }),
        }
    }
}

fn group_of(laid: &Laid, group: &TestGroup) -> GroupDocument {
    let ring = |m: usize, a: usize| {
        let (setting, bracket) = (group.apertures[a].settings[m]?, group.brackets[m][a]?);
        Some(RingDocument {
            f_number: setting.engraved,
            off_stops: setting.off_stops,
            focus_steps: bracket.count,
            focus_step_mm: bracket.step_mm,
            chance_in_focus: bracket.chance,
        })
    };
    let stand = |(m, member): (usize, &planning::test_roll::Matched)| {
        let stand = laid.stands[member.contender].as_ref();
        StandDocument {
            mark: laid.test.name(member.contender).into(),
            name: laid.names.get(member.contender).cloned().unwrap_or_default(),
            parts: stand.map(|stand| stand.parts.clone()).unwrap_or_default(),
            focus: stand.map(|stand| stand.focus.to_string()).unwrap_or_default(),
            on_other_tubes: laid.other_tubes.contains(&member.contender),
            magnification: Some(member.magnification).into(),
            focus_plus_minus_mm: group.focusing[m].plus_minus_mm,
            apertures: (0..group.apertures.len()).map(|a| ring(m, a)).collect(),
        }
    };
    GroupDocument {
        magnification: group.magnification,
        effective_f_numbers: group.apertures.iter().map(|aperture| aperture.effective).collect(),
        set_ups: group.members.iter().enumerate().map(stand).collect(),
    }
}

fn frames_of(laid: &Laid, frames: &[Slot]) -> Vec<TestFrameDocument> {
    let one = |(place, slot): (usize, &Slot)| {
        let stand = laid.stand(slot);
        TestFrameDocument {
            number: place + 1,
            slot: slot.to_string(),
            label: laid.label(slot),
            purpose: laid.test.purpose(slot),
            parts: stand.map(|stand| stand.parts.clone()).unwrap_or_default(),
            focus: stand.map(|stand| stand.focus.to_string()),
            f_number: laid.f_number(slot),
            focus_offset_mm: laid.focus_offset_mm(slot),
        }
    };
    frames.iter().enumerate().map(one).collect()
}

fn decision(laid: &Laid, decision: &Decision) -> DecisionDocument {
    let cell = |cell: Cell| CellDocument {
        set_up: laid.test.name(cell.contender).into(),
        effective_f_number: laid
            .test
            .member(cell.contender)
            .and_then(|(group, _)| Some(group.apertures.get(cell.aperture)?.effective)),
    };
    let pair = |pair: &Pair| PairDocument {
        between: pair.cells.map(cell),
        takes: pair.takes,
        least_lp_mm: pair.least_lp_mm,
        chance_both_in_focus: pair.in_focus,
        told: pair.told,
    };
    DecisionDocument {
        told: decision.told(),
        of: decision.pairs.len(),
        degrees_of_freedom: decision.degrees,
        drift_lp_mm: decision.drift_lp_mm,
        pairs: decision.pairs.iter().map(pair).collect(),
    }
}
