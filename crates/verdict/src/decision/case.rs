//! The drawer with every ruling made.

use super::DecideOptions;
use super::drawer::{DecideError, Drawer, check};
use super::ranking::order;
use crate::Answer;
use crate::cover::PartSet;
use crate::enough::{Doubts, Ruling, rule_with};

/// A drawer judged.
pub(super) struct Case<'a> {
    pub(super) drawer: &'a Drawer,
    /// The parts of each set-up.
    pub(super) parts: Vec<PartSet>,
    pub(super) owned: PartSet,
    /// Rulings by use, then by set-up.
    pub(super) rulings: Vec<Vec<Ruling>>,
    /// How many doubts there are in all rulings together.
    pub(super) doubts: usize,
}

impl<'a> Case<'a> {
    pub(super) fn new(drawer: &'a Drawer, options: &DecideOptions) -> Result<Self, DecideError> {
        check(drawer)?;
        let parts = drawer.set_ups.iter().map(|set_up| set_of(drawer, &set_up.parts, &set_up.dossier.set_up));
        let parts = parts.collect::<Result<Vec<_>, _>>()?;
        let owned =
            drawer.parts.iter().enumerate().filter(|(_, part)| part.owned).fold(0, |set, (at, _)| set | 1 << at);
        let mut doubts = Doubts::default();
        let mut of_use = |use_| -> Result<Vec<Ruling>, DecideError> {
            let rule = |set_up: &super::SetUp| rule_with(use_, &set_up.dossier, options.sure, &mut doubts);
            Ok(drawer.set_ups.iter().map(rule).collect::<Result<_, _>>()?)
        };
        let rulings = drawer.uses.iter().map(&mut of_use).collect::<Result<_, _>>()?;
        Ok(Self { drawer, parts, owned, rulings, doubts: doubts.count() })
    }

    /// Numbers of the set-ups that can be built of these parts.
    pub(super) fn buildable(&self, available: PartSet) -> impl Iterator<Item = usize> {
        (0..self.parts.len()).filter(move |set_up| self.parts[*set_up] & !available == 0)
    }

    /// The set-ups that count as serving a use: those that surely do; where there are none, the one that is ranked first among
    /// those that may. A kit must not lose the only candidate before it was measured, nor keep another one than is called the likeliest.
    pub(super) fn counted(&self, use_: usize, available: PartSet) -> Vec<usize> {
        let rulings = &self.rulings[use_];
        let sure: Vec<_> = self.buildable(available).filter(|at| rulings[*at].answer == Answer::Serves).collect();
        if !sure.is_empty() {
            return sure;
        }
        let mut best_first = order(self, use_, available).into_iter();
        best_first.find(|at| rulings[*at].answer == Answer::Undecided).into_iter().collect()
    }

    pub(super) fn surely_served(&self, use_: usize, available: PartSet) -> bool {
        self.buildable(available).any(|at| self.rulings[use_][at].answer == Answer::Serves)
    }

    pub(super) fn set_up_id(&self, set_up: usize) -> String {
        self.drawer.set_ups[set_up].dossier.set_up.clone()
    }

    pub(super) fn use_id(&self, use_: usize) -> String {
        self.drawer.uses[use_].id.clone()
    }

    pub(super) fn part_id(&self, part: usize) -> String {
        self.drawer.parts[part].id.clone()
    }
}

fn set_of(drawer: &Drawer, ids: &[String], set_up: &str) -> Result<PartSet, DecideError> {
    ids.iter().try_fold(0, |set, id| match drawer.parts.iter().position(|part| part.id == *id) {
        Some(at) => Ok(set | 1 << at),
        None => Err(DecideError::NoSuchPart { set_up: set_up.into(), part: id.clone() }),
    })
}
