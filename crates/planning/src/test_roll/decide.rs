//! What a list of frames can tell, and what it cannot.

use super::bench::{Control, Test};
use super::slot::{Role, Slot};
use super::words::f_text;
use crate::words::{figure, percent};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A set-up at an aperture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Cell {
    /// The set-up, by its place among the contenders.
    pub contender: usize,
    /// The aperture, by its place in the group's list.
    pub aperture: usize,
}

/// What there is of a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// Which.
    pub cell: Cell,
    /// How many takes, each focused anew.
    pub takes: usize,
    /// The chance that one of them at least is in focus.
    pub in_focus: f64,
}

/// Two cells side by side: two set-ups at one aperture, or one set-up at two.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    /// Which.
    pub cells: [Cell; 2],
    /// How many takes of each.
    pub takes: [usize; 2],
    /// The least difference that is told, lp/mm on film; `None` when there are no takes, or nothing that shows the scatter.
    pub least_lp_mm: Option<f64>,
    /// The chance that both have a take in focus.
    pub in_focus: f64,
    /// Whether the difference asked about is told, and both are in focus with the chance wanted.
    pub told: bool,
}

impl Pair {
    /// Whether it holds two set-ups against each other, rather than two apertures of one.
    pub fn is_between_set_ups(&self) -> bool {
        self.cells[0].contender != self.cells[1].contender
    }
}

/// What frames can tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Decision {
    /// Every set-up at every aperture of its group, taken or not.
    pub cells: Vec<Held>,
    /// Every two that are compared.
    pub pairs: Vec<Pair>,
    /// Degrees of freedom of the scatter: those it was measured with, and one for each repeat.
    pub degrees: usize,
    /// The least drift from start to end that is told, lp/mm on film; `None` without a control at both ends.
    pub drift_lp_mm: Option<f64>,
}

impl Decision {
    /// How many pairs are told.
    pub fn told(&self) -> usize {
        self.pairs.iter().filter(|pair| pair.told).count()
    }

    /// The worst least difference between set-ups at one aperture of one group (by the group's contenders); `None` where
    /// some pair has none.
    pub fn worst(&self, aperture: usize, members: &[usize]) -> Option<f64> {
        let asked = self.pairs.iter().filter(|pair| pair.is_between_set_ups());
        let asked = asked.filter(|pair| {
            pair.cells[0].aperture == aperture && pair.cells.iter().all(|cell| members.contains(&cell.contender))
        });
        asked.map(|pair| pair.least_lp_mm).try_fold(0.0f64, |worst, least| Some(worst.max(least?)))
    }
}

/// [`super::Certainty::least_shift`] by degrees of freedom, worked out once each.
pub(super) struct Shifts {
    certainty: super::Certainty,
    known: HashMap<usize, Option<f64>>,
}

impl Shifts {
    pub fn of(test: &Test) -> Self {
        Self { certainty: test.question.certainty, known: HashMap::new() }
    }

    fn least(&mut self, degrees: usize) -> Option<f64> {
        let certainty = self.certainty;
        *self.known.entry(degrees).or_insert_with(|| certainty.least_shift(degrees))
    }
}

/// The steps taken of each take of each cell.
type Takes = BTreeMap<Cell, BTreeMap<(Role, usize), BTreeSet<i32>>>;

impl Test {
    /// What frames can tell. Frames that are not of this test tell nothing.
    pub fn decide(&self, slots: &[Slot]) -> Decision {
        self.decide_with(slots, &mut Shifts::of(self))
    }

    pub(super) fn decide_with(&self, slots: &[Slot], shifts: &mut Shifts) -> Decision {
        let takes = self.takes(slots);
        let cells: Vec<Held> = self.all_cells().map(|cell| self.held(cell, &takes)).collect();
        let repeats: usize = cells.iter().map(|held| held.takes.saturating_sub(1)).sum();
        let bare = slots.iter().filter(|slot| slot.contender == self.names.len() && slot.role != Role::Own).count();
        let degrees = self.question.scatter.degrees + repeats + bare.saturating_sub(1);
        let shift = shifts.least(degrees);
        let belong = |p: &Held, q: &Held| self.belong(p.cell, q.cell);
        let two = cells.iter().enumerate().flat_map(|(i, p)| cells[i + 1..].iter().map(move |q| (p, q)));
        let pairs = two.filter(|(p, q)| belong(p, q)).map(|(p, q)| self.pair(p, q, shift)).collect();
        let both = [Role::Start, Role::End].iter().all(|role| slots.iter().any(|slot| slot.role == *role));
        let drift_lp_mm = shift.filter(|_| both).map(|shift| shift * 2f64.sqrt() * self.question.scatter.lp_mm);
        Decision { cells, pairs, degrees, drift_lp_mm }
    }

    fn all_cells(&self) -> impl Iterator<Item = Cell> {
        self.groups.iter().flat_map(|group| {
            let has = |m: usize, aperture: usize| group.brackets[m][aperture].is_some();
            (0..group.members.len()).flat_map(move |m| {
                let apertures = (0..group.apertures.len()).filter(move |a| has(m, *a));
                apertures.map(move |aperture| Cell { contender: group.members[m].contender, aperture })
            })
        })
    }

    fn takes(&self, slots: &[Slot]) -> Takes {
        let mut takes = Takes::new();
        for slot in slots.iter().filter(|slot| slot.role != Role::Own && self.knows(slot)) {
            let cell = Cell { contender: slot.contender, aperture: slot.aperture };
            // The first frame and the steps around it are one take; other frames of the control are takes of their own.
            let role = if slot.role == Role::Start { Role::Compare } else { slot.role };
            takes.entry(cell).or_default().entry((role, slot.take)).or_default().insert(slot.step);
        }
        takes
    }

    fn held(&self, cell: Cell, takes: &Takes) -> Held {
        let none = BTreeMap::new();
        let of = takes.get(&cell).unwrap_or(&none);
        let bracket = self
            .member(cell.contender)
            .and_then(|(group, m)| Some((group.brackets[m].get(cell.aperture).copied().flatten()?, group.focusing[m])));
        let missed = of.values().map(|steps| match bracket {
            Some((bracket, focusing)) => {
                let steps: Vec<i32> = steps.iter().copied().collect();
                1.0 - focusing.chance(&steps, bracket.step_mm, bracket.depth_mm)
            }
            None => 1.0,
        });
        Held { cell, takes: of.len(), in_focus: 1.0 - missed.product::<f64>() }
    }

    /// Two set-ups of a group at one aperture, or one set-up at two.
    fn belong(&self, p: Cell, q: Cell) -> bool {
        if p.contender == q.contender {
            return p.aperture != q.aperture;
        }
        let together = |group: &super::TestGroup| {
            [p, q].iter().all(|cell| group.members.iter().any(|member| member.contender == cell.contender))
        };
        p.aperture == q.aperture && self.groups.iter().any(together)
    }

    fn pair(&self, p: &Held, q: &Held, shift: Option<f64>) -> Pair {
        let question = &self.question;
        let takes = [p.takes, q.takes];
        let there = !takes.contains(&0);
        let spread = takes.iter().map(|n| 1.0 / *n as f64).sum::<f64>().sqrt();
        let least_lp_mm = shift.filter(|_| there).map(|shift| shift * spread * question.scatter.lp_mm);
        let in_focus = p.in_focus * q.in_focus;
        let focused = p.in_focus.min(q.in_focus) >= question.focus_confidence;
        let told = focused && least_lp_mm.is_some_and(|least| least <= question.difference_lp_mm);
        Pair { cells: [p.cell, q.cell], takes, least_lp_mm, in_focus, told }
    }
}

/// Something that the frames cannot tell.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Cannot {
    /// No difference at all.
    #[error("Nothing is repeated, so that nothing tells scatter from difference: repeat one frame at least.")]
    Scatter,
    /// Not the difference asked about, at an aperture.
    #[error("At effective f/{} a difference under {} lp/mm cannot be told between {names}; {} was asked about.", f_text(*.effective), figure(*.least_lp_mm), figure(*.asked_lp_mm))]
    Difference {
        /// The effective f-number.
        effective: f64,
        /// The least that is told between the two that are told worst, lp/mm on film.
        least_lp_mm: f64,
        /// What was asked about.
        asked_lp_mm: f64,
        /// The two.
        names: String,
    },
    /// An aperture that nobody, or not everybody, is taken at.
    #[error("Effective f/{} is not compared: there is no frame of {names} at it.", f_text(*.effective))]
    NotTaken {
        /// The effective f-number.
        effective: f64,
        /// Who is missing.
        names: String,
    },
    /// An aperture that a ring does not go to.
    #[error("{names} cannot be set to effective f/{}{}.", f_text(*.effective), if *.left_out { ", so that nothing is compared at it" } else { ": the others are compared without" })]
    Aperture {
        /// The effective f-number.
        effective: f64,
        /// Who.
        names: String,
        /// Whether the aperture is left out for everybody.
        left_out: bool,
    },
    /// A focus that may miss.
    #[error("{name} at effective f/{} is in focus with a chance of {} only{}.", f_text(*.effective), percent(*.chance), if *.wanted > 1 { format!("; a bracket of {wanted} would make it {}", percent(*.with_bracket)) } else { String::new() })]
    Focus {
        /// The set-up.
        name: String,
        /// The effective f-number.
        effective: f64,
        /// The chance that there is.
        chance: f64,
        /// The frames of a bracket that would do, or the most allowed.
        wanted: usize,
        /// The chance with those.
        with_bracket: f64,
    },
    /// No control at the end.
    #[error("There is no control at both ends: a drift of light, film or focus would look like a difference.")]
    Drift,
    /// Set-ups of different sizes.
    #[error("{first} stand at {}× and {second} at {}×: each is compared within its group, not with the other.", figure(.magnifications[0]), figure(.magnifications[1]))]
    Groups {
        /// The one group.
        first: String,
        /// The other.
        second: String,
        /// Where they stand.
        magnifications: [f64; 2],
    },
    /// A set-up that is left out.
    #[error("{0}: it is left out.")]
    LeftOut(super::LeftOut),
    /// There is nobody to compare with.
    #[error("With one set-up only its apertures are compared, and it is held against what the job needs.")]
    OneSetUp,
}

impl Test {
    /// What frames with this decision cannot tell, the gravest first.
    pub fn cannot(&self, decision: &Decision) -> Vec<Cannot> {
        let mut cannot: Vec<Cannot> = self.left_out.iter().map(|(_, why)| Cannot::LeftOut(why.clone())).collect();
        if self.names.len() == 1 {
            cannot.push(Cannot::OneSetUp);
        }
        if let [first, second, ..] = &self.groups[..] {
            let magnifications = [first.magnification, second.magnification];
            cannot.push(Cannot::Groups { first: self.all_of(first), second: self.all_of(second), magnifications });
        }
        if decision.degrees == 0 {
            cannot.push(Cannot::Scatter);
        }
        for group in &self.groups {
            let at = |aperture: usize| self.cannot_at(group, aperture, decision);
            cannot.extend((0..group.apertures.len()).filter_map(at));
            cannot.extend(group.missed.iter().map(|missed| {
                let who = missed.members.iter().map(|&m| self.name(group.members[m].contender)).collect::<Vec<_>>();
                Cannot::Aperture { effective: missed.effective, names: joined(&who), left_out: missed.left_out }
            }));
        }
        cannot.extend(decision.cells.iter().filter_map(|held| self.misses_focus(held)));
        let no_control = matches!(self.question.control, Control::Off);
        if no_control || (decision.drift_lp_mm.is_none() && decision.degrees > 0) {
            cannot.push(Cannot::Drift);
        }
        cannot
    }

    fn all_of(&self, group: &super::TestGroup) -> String {
        joined(&group.members.iter().map(|member| self.name(member.contender)).collect::<Vec<_>>())
    }

    fn cannot_at(&self, group: &super::TestGroup, aperture: usize, decision: &Decision) -> Option<Cannot> {
        let effective = group.apertures[aperture].effective;
        let in_group = |cell: &Cell| group.members.iter().any(|member| member.contender == cell.contender);
        let cells = decision.cells.iter().filter(|held| held.cell.aperture == aperture && in_group(&held.cell));
        let absent: Vec<&str> =
            cells.filter(|held| held.takes == 0).map(|held| self.name(held.cell.contender)).collect();
        if !absent.is_empty() {
            return Some(Cannot::NotTaken { effective, names: joined(&absent) });
        }
        let here =
            |pair: &&Pair| pair.is_between_set_ups() && pair.cells[0].aperture == aperture && in_group(&pair.cells[0]);
        let told = decision.pairs.iter().filter(here).filter_map(|pair| Some((pair.least_lp_mm?, pair)));
        let (least_lp_mm, pair) = told.max_by(|p, q| p.0.total_cmp(&q.0))?;
        let asked_lp_mm = self.question.difference_lp_mm;
        let names = joined(&pair.cells.map(|cell| self.name(cell.contender)));
        (least_lp_mm > asked_lp_mm).then_some(Cannot::Difference { effective, least_lp_mm, asked_lp_mm, names })
    }

    fn misses_focus(&self, held: &Held) -> Option<Cannot> {
        let (group, m) = self.member(held.cell.contender)?;
        let bracket = group.brackets[m][held.cell.aperture]?;
        let short = held.takes > 0 && held.in_focus < self.question.focus_confidence;
        short.then(|| Cannot::Focus {
            name: self.name(held.cell.contender).to_owned(),
            effective: group.apertures[held.cell.aperture].effective,
            chance: held.in_focus,
            wanted: bracket.count,
            with_bracket: bracket.chance,
        })
    }
}

fn joined(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}
