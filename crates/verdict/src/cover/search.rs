//! Branch and bound.

use super::bound::{Open, bits, bound};
use super::{Cover, PartSet, smallest};

pub(super) struct Search<'a> {
    costs: &'a [i64],
    root: Open,
    best: Option<(i64, PartSet)>,
    first_bound: i64,
    branches: u64,
}

/// What a branch has come to.
enum State {
    /// Everything is served.
    Served,
    /// A use has no set-up left.
    Hopeless,
    /// These uses are open.
    Open(Open),
}

impl<'a> Search<'a> {
    pub(super) fn new(costs: &'a [i64], uses: &[Vec<PartSet>]) -> Self {
        let root = uses.iter().map(|sets| smallest(sets)).collect();
        Self { costs, root, best: None, first_bound: 0, branches: 0 }
    }

    pub(super) fn run(mut self) -> Cover {
        let root = std::mem::take(&mut self.root);
        self.branch(root, 0, 0);
        let (cost, parts) = self.best.unwrap_or_default();
        Cover { parts, cost, first_bound: self.first_bound, branches: self.branches }
    }

    fn cost(&self, set: PartSet) -> i64 {
        bits(set).map(|part| self.costs[part]).sum()
    }

    /// Looks into the branch in which `kept` is kept; `open` holds what the set-ups of the uses lack, none of it left out.
    fn branch(&mut self, open: Open, mut kept: PartSet, depth: usize) {
        self.branches += 1;
        let open = match take_forced(open, &mut kept) {
            State::Hopeless => return,
            State::Served => return self.found(kept),
            State::Open(open) => open,
        };
        let paid = self.cost(kept);
        // Prices are whole numbers: a branch must be cheaper by one to matter.
        let enough = self.best.map_or(f64::INFINITY, |(best, _)| (best - paid) as f64 - 1.0 + ROUNDING);
        let bound = bound(self.costs, &open, enough);
        if depth == 0 {
            self.first_bound = paid + (bound.least - ROUNDING).ceil().max(0.0) as i64;
        }
        if bound.least > enough {
            return;
        }
        let all = open.iter().flatten().fold(0, |all, set| all | set);
        let Some(part) = bits(all).max_by(|a, b| bound.wanted[*a].total_cmp(&bound.wanted[*b])) else { return };
        let bit = 1 << part;
        self.branch(with(&open, bit), kept | bit, depth + 1);
        self.branch(without(open, bit), kept, depth + 1);
    }

    fn found(&mut self, kept: PartSet) {
        let cost = self.cost(kept);
        if self.best.is_none_or(|(best, _)| cost < best) {
            self.best = Some((cost, kept));
        }
    }
}

/// More than rounding can add to a bound's sum, less than half of the smallest step of prices.
const ROUNDING: f64 = 1e-3;

/// Keeps what every set-up of a use needs, until nothing is forced any more.
fn take_forced(mut open: Open, kept: &mut PartSet) -> State {
    loop {
        open.retain(|sets| !sets.contains(&0));
        if open.iter().any(Vec::is_empty) {
            return State::Hopeless;
        }
        let forced = open.iter().map(|sets| sets.iter().fold(PartSet::MAX, |all, set| all & set)).fold(0, |a, b| a | b);
        if open.is_empty() {
            return State::Served;
        }
        if forced == 0 {
            return State::Open(open);
        }
        *kept |= forced;
        open = with(&open, forced);
    }
}

/// What set-ups lack once these parts are there.
fn with(open: &Open, parts: PartSet) -> Open {
    let less = |sets: &Vec<PartSet>| {
        let all: Vec<PartSet> = sets.iter().map(|set| set & !parts).collect();
        if all.contains(&0) { vec![0] } else { smallest(&all) }
    };
    open.iter().map(less).collect()
}

/// The set-ups that do without these parts.
fn without(mut open: Open, parts: PartSet) -> Open {
    open.iter_mut().for_each(|sets| sets.retain(|set| set & parts == 0));
    open
}
