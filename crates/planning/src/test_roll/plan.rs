//! Frames for the rolls at hand, in their order.

use super::bench::{Rounds, Test};
use super::decide::{Cell, Decision, Shifts};
use super::error::TestRollError;
use super::order::{Gear, order};
use super::slot::{Role, Slot};
use std::collections::HashSet;

/// A roll at hand.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RollAtHand {
    /// The numbers of the frames that are still free, ascending: none before one that was shot, since film does not go back.
    pub free: Vec<u32>,
    /// The frames of this test that are on it already.
    pub shot: Vec<Slot>,
}

/// More frames than this are no test.
pub const MOST_FRAMES: usize = 2000;

/// The frames planned on each roll, in their order; the first goes to the first free number.
pub type Layout = Vec<Vec<Slot>>;

/// What one more roll would add.
#[derive(Debug, Clone, PartialEq)]
pub struct OneMore {
    /// Frames of it that would be used.
    pub frames: usize,
    /// What could be told then.
    pub decision: Decision,
}

/// A plan.
#[derive(Debug, Clone, PartialEq)]
pub struct TestPlan {
    /// The frames.
    pub layout: Layout,
    /// What they can tell together with those that were shot.
    pub decision: Decision,
    /// How many frames the test wants beyond these.
    pub wanting: usize,
    /// Frames that stay free.
    pub free: usize,
    /// What one more roll of as many frames as the largest at hand would add; `None` when nothing is wanting.
    pub one_more: Option<OneMore>,
}

/// What changing the gear along a layout costs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Changes {
    /// Changes of the lens.
    pub lens: usize,
    /// Of what stands between body and lens.
    pub extension: usize,
    /// Of close-up lenses.
    pub close_up: usize,
    /// Of the aperture.
    pub aperture: usize,
    /// Of the focus.
    pub focus: usize,
    /// All of them by [`super::ChangeCosts`].
    pub cost: u32,
}

impl Test {
    /// The plan for the rolls at hand: as many of [`Test::wishes`] as fit, in an order that changes the gear little.
    pub fn plan(&self, rolls: &[RollAtHand]) -> Result<TestPlan, TestRollError> {
        let room: usize = rolls.iter().map(|roll| roll.free.len()).sum();
        if room == 0 {
            return Err(TestRollError::NoFrames);
        }
        if room > MOST_FRAMES {
            return Err(TestRollError::TooManyFrames { found: room, most: MOST_FRAMES });
        }
        let largest = rolls.iter().map(|roll| roll.free.len() + roll.shot.len()).max().unwrap_or(0);
        let shot: Vec<Slot> = rolls.iter().flat_map(|roll| roll.shot.iter().copied()).collect();
        let mut wishes = self.wishes(room + largest + shot.len() + rolls.len() + 1);
        wishes.retain(|slot| !shot.contains(slot));
        let mut shifts = Shifts::of(self);
        let chosen = self.choose(&wishes, rolls);
        let wanting = wishes.iter().filter(|slot| !chosen.contains(slot)).count();
        let all = |chosen: &[Slot]| shot.iter().chain(chosen).copied().collect::<Vec<_>>();
        let one_more = (wanting > 0).then(|| {
            let another = RollAtHand { free: (1..=largest as u32).collect(), shot: Vec::new() };
            let rolls: Vec<RollAtHand> = rolls.iter().cloned().chain([another]).collect();
            let more = self.choose(&wishes, &rolls);
            OneMore { frames: more.len() - chosen.len(), decision: self.decide_with(&all(&more), &mut shifts) }
        });
        let decision = self.decide_with(&all(&chosen), &mut shifts);
        let free = room - chosen.len();
        Ok(TestPlan { layout: self.lay_out(&chosen, rolls), decision, wanting, free, one_more })
    }

    /// The first wishes that fit, with the control once more on each further roll.
    fn choose(&self, wishes: &[Slot], rolls: &[RollAtHand]) -> Vec<Slot> {
        let controlled = !matches!(self.question.control, super::Control::Off);
        let mut chosen = Vec::new();
        let mut wishes = wishes.iter().copied().peekable();
        let mut first = rolls.iter().all(|roll| roll.shot.is_empty());
        for (number, roll) in rolls.iter().enumerate().filter(|(_, roll)| !roll.free.is_empty()) {
            if wishes.peek().is_none() {
                break;
            }
            let mut room = roll.free.len();
            // A control of its own is worth a frame only where something stands beside it.
            let has = roll.shot.iter().any(|slot| slot.role != Role::Compare);
            if controlled && !first && !has && room > 1 {
                chosen.push(self.control_slot(Role::Roll, number));
                room -= 1;
            }
            first = false;
            chosen.extend(wishes.by_ref().take(room));
        }
        chosen
    }

    /// In order, roll by roll.
    fn lay_out(&self, chosen: &[Slot], rolls: &[RollAtHand]) -> Layout {
        let of = |role: Role| chosen.iter().copied().filter(move |slot| slot.role == role);
        let compared: Vec<Slot> = of(Role::Compare).collect();
        let ends = [of(Role::Start).next(), of(Role::End).next()].map(|slot| slot.map(|slot| self.gear(&slot)));
        let sequence = of(Role::Start).chain(self.in_order(&compared, ends)).chain(of(Role::End));
        let mut sequence = sequence.peekable();
        let lay = |(number, roll): (usize, &RollAtHand)| {
            let control = of(Role::Roll).find(|slot| slot.take == number);
            let mut frames: Vec<Slot> = control.into_iter().collect();
            frames.extend(sequence.by_ref().take(roll.free.len() - frames.len()));
            frames
        };
        rolls.iter().enumerate().map(lay).collect()
    }

    fn in_order(&self, slots: &[Slot], ends: [Option<Gear>; 2]) -> Vec<Slot> {
        let gear: Vec<Gear> = slots.iter().map(|slot| self.gear(slot)).collect();
        let costs = &self.question.costs;
        let mut sequence: Vec<Slot> = order(&gear, ends, costs).order.into_iter().map(|i| slots[i]).collect();
        if self.question.rounds == Rounds::ThereAndBack {
            let rank = |slot: &Slot, i: usize| if slot.take.is_multiple_of(2) { i as i64 } else { -(i as i64) };
            let mut ranked: Vec<(usize, i64, Slot)> =
                sequence.iter().enumerate().map(|(i, slot)| (slot.take, rank(slot, i), *slot)).collect();
            ranked.sort();
            sequence = ranked.into_iter().map(|(.., slot)| slot).collect();
        }
        sequence
    }

    /// What changing the gear along a layout costs.
    pub fn changes(&self, layout: &[Vec<Slot>]) -> Changes {
        let gear: Vec<Gear> =
            layout.iter().flatten().filter(|slot| self.knows(slot)).map(|slot| self.gear(slot)).collect();
        let count = |of: fn(&Gear) -> u32| gear.windows(2).filter(|two| of(&two[0]) != of(&two[1])).count();
        Changes {
            lens: count(|gear| gear.lens),
            extension: count(|gear| gear.extension),
            close_up: count(|gear| gear.close_up),
            aperture: count(|gear| gear.aperture),
            focus: count(|gear| gear.focus),
            cost: self.question.costs.along(&gear),
        }
    }
}

impl Test {
    /// No order of the frames of a layout, its first and last left where they are, costs less than this.
    pub fn changes_at_least(&self, layout: &[Vec<Slot>]) -> u32 {
        let gear: Vec<Gear> =
            layout.iter().flatten().filter(|slot| self.knows(slot)).map(|slot| self.gear(slot)).collect();
        match &gear[..] {
            [first, inside @ .., last] => order(inside, [Some(*first), Some(*last)], &self.question.costs).at_least,
            _ => 0,
        }
    }
}

/// Why a layout cannot be kept.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Trouble {
    /// More frames than a roll has left.
    #[error("roll {} has {left} frames left, and {planned} are planned on it: move {} to another roll or take them off", .roll + 1, .planned - .left)]
    TooMany {
        /// Its place.
        roll: usize,
        /// What it has left.
        left: usize,
        /// What is planned.
        planned: usize,
    },
    /// A frame twice.
    #[error("frames {} and {} of the list are the same take: take one off, or repeat the frame to have another take", .places[0] + 1, .places[1] + 1)]
    Twice {
        /// Their places among all.
        places: [usize; 2],
    },
    /// A frame that is not of this test.
    #[error("frame {} of the list is at an aperture or of a set-up that is no longer part of the test: take it off", .place + 1)]
    Unknown {
        /// Its place among all.
        place: usize,
    },
    /// A take that was shot already.
    #[error("frame {} of the list was shot already: take it off, or repeat it to have another take", .place + 1)]
    Shot {
        /// Its place among all.
        place: usize,
    },
    /// Nothing is planned.
    #[error("no frame is planned: add one, or plan again")]
    Nothing,
}

/// What a repeat would add.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RepeatHelps {
    /// The cell to repeat.
    pub cell: Cell,
    /// What is told now between the two that are told worst at its aperture, lp/mm on film; `None` for nothing.
    pub least_lp_mm: Option<f64>,
    /// What would be told between them.
    pub with_repeat_lp_mm: f64,
}

impl Test {
    /// Everything that keeps a layout from being kept; empty when it is valid.
    pub fn troubles(&self, layout: &[Vec<Slot>], rolls: &[RollAtHand]) -> Vec<Trouble> {
        let mut troubles = Vec::new();
        for (roll, frames) in layout.iter().enumerate() {
            let left = rolls.get(roll).map_or(0, |roll| roll.free.len());
            if frames.len() > left {
                troubles.push(Trouble::TooMany { roll, left, planned: frames.len() });
            }
        }
        let all: Vec<&Slot> = layout.iter().flatten().collect();
        if all.is_empty() {
            troubles.push(Trouble::Nothing);
        }
        let shot: HashSet<&Slot> = rolls.iter().flat_map(|roll| &roll.shot).collect();
        for (place, slot) in all.iter().enumerate() {
            if !self.knows(slot) {
                troubles.push(Trouble::Unknown { place });
            } else if let Some(first) = all[..place].iter().position(|other| other == slot) {
                troubles.push(Trouble::Twice { places: [first, place] });
            } else if shot.contains(slot) {
                troubles.push(Trouble::Shot { place });
            }
        }
        troubles
    }

    /// The next take of a slot that neither the layout nor the rolls hold yet: what repeating a frame adds.
    pub fn repeated(&self, slot: &Slot, taken: &[Slot]) -> Slot {
        // A repeat of the control is a repeat of its set-up; the bare lens stays the control's.
        let bare = slot.contender >= self.names.len();
        let role = if slot.role == Role::Own || bare { slot.role } else { Role::Compare };
        let same = |other: &&Slot| (other.contender, other.aperture) == (slot.contender, slot.aperture);
        let used: HashSet<usize> =
            taken.iter().filter(same).filter(|other| other.step == slot.step).map(|other| other.take).collect();
        let take = (0..).find(|take| !used.contains(take)).unwrap_or(0);
        Slot { role, take, ..*slot }
    }

    /// The repeat that helps most where set-ups are told worst, at the first aperture where less is told than asked; `None`
    /// when all is told that was asked.
    pub fn best_repeat(&self, slots: &[Slot]) -> Option<RepeatHelps> {
        let mut shifts = Shifts::of(self);
        let decision = self.decide_with(slots, &mut shifts);
        let worst = |p: &Option<f64>| p.unwrap_or(f64::INFINITY);
        let short = decision.pairs.iter().filter(|pair| {
            let taken = !pair.takes.contains(&0);
            taken && pair.is_between_set_ups() && worst(&pair.least_lp_mm) > self.question.difference_lp_mm
        });
        let first = short.clone().map(|pair| pair.cells[0].aperture).min()?;
        let pair = short
            .filter(|pair| pair.cells[0].aperture == first)
            .max_by(|p, q| worst(&p.least_lp_mm).total_cmp(&worst(&q.least_lp_mm)))?;
        let cell = if pair.takes[0] <= pair.takes[1] { pair.cells[0] } else { pair.cells[1] };
        let centre = Slot { role: Role::Compare, contender: cell.contender, aperture: cell.aperture, take: 0, step: 0 };
        let more: Vec<Slot> = slots.iter().copied().chain([self.repeated(&centre, slots)]).collect();
        let then = self.decide_with(&more, &mut shifts);
        let with_repeat_lp_mm = then.pairs.iter().find(|other| other.cells == pair.cells)?.least_lp_mm?;
        Some(RepeatHelps { cell, least_lp_mm: pair.least_lp_mm, with_repeat_lp_mm })
    }
}
