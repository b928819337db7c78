//! How sure a decision is: the same question in worlds drawn from the doubts.

use std::collections::BTreeMap;

use optics::COVERAGE_95;

use super::DecideOptions;
use super::case::Case;
use super::drawer::DecideError;
use super::kit::{First, Kit, solve, solve_at};
use super::ranking::order;
use crate::cover::{PartSet, smallest};
use crate::numeric::Chance;

/// Fewer worlds tell a share to no better than ± 10 %.
pub const LEAST_WORLDS: usize = 100;

/// What becomes of a decision in worlds drawn from the doubts. In each world every figure, limit, shared cause and price has one value,
/// so that every set-up either serves or does not. A share of n worlds has a standard error of at most 0.5/√n.
#[derive(Debug, Clone, PartialEq)]
pub struct Worlds {
    /// Worlds drawn.
    pub drawn: usize,
    /// Share in which the same kit comes out as the cheapest. What no frame has shown yet is no doubt that could be drawn: where nothing
    /// serves a use in a world, its likeliest unmeasured set-up is kept for, as the decision itself does.
    pub same_kit: f64,
    /// Share in which the kit serves every use that anything owned serves there: nothing was given away that was needed.
    pub nothing_lost: f64,
    /// For every use the share in which the kit serves it.
    pub served: Vec<(String, f64)>,
    /// For every owned part the share in which the cheapest kit has it.
    pub kept: Vec<(String, f64)>,
}

pub(super) fn draw(case: &Case, kit: &Kit, options: &DecideOptions) -> Result<Worlds, DecideError> {
    let drawn = options.worlds;
    if drawn < LEAST_WORLDS {
        return Err(DecideError::TooFewWorlds { worlds: drawn, least: LEAST_WORLDS });
    }
    let (mut chance, mut tally) = (Chance::new(options.seed), Tally::new(case));
    let mut solved = BTreeMap::new();
    let doubtful = case.drawer.parts.iter().any(|part| part.price_plus_minus > 0.0);
    let orders: Vec<Vec<usize>> = (0..case.drawer.uses.len()).map(|use_| order(case, use_, case.owned)).collect();
    for _ in 0..drawn {
        let world: Vec<f64> = (0..case.doubts).map(|_| chance.normal()).collect();
        let serving: Vec<Vec<PartSet>> = (0..case.drawer.uses.len()).map(|use_| serving(case, use_, &world)).collect();
        let kept_for: Vec<Vec<PartSet>> =
            (0..).zip(&serving).map(|(use_, sets)| kept_for(case, use_, &orders[use_], sets, &world)).collect();
        let uses = || -> Vec<_> { kept_for.iter().filter(|sets| !sets.is_empty()).cloned().collect() };
        let cheapest = match solved.get(&kept_for) {
            _ if doubtful => solve_at(case, &prices(case, &mut chance), &uses())?,
            Some(known) => *known,
            None => {
                let found = solve(case, First::Price, &uses())?;
                solved.insert(kept_for, found);
                found
            }
        };
        tally.add(kit.set, cheapest, &serving);
    }
    Ok(tally.shares(case, drawn))
}

/// Prices in one world; nothing is worth less than nothing.
fn prices(case: &Case, chance: &mut Chance) -> Vec<Option<f64>> {
    let parts = case.drawer.parts.iter();
    let mut drawn = |part: &super::Part, price: f64| match part.price_plus_minus {
        0.0 => price,
        plus_minus => (price + chance.normal() * plus_minus / COVERAGE_95).max(0.0),
    };
    parts.map(|part| part.price.map(|price| drawn(part, price))).collect()
}

/// The smallest sets of owned parts that serve a use in a world.
fn serving(case: &Case, use_: usize, world: &[f64]) -> Vec<PartSet> {
    let holds = case.buildable(case.owned).filter(|set_up| case.rulings[use_][*set_up].holds_in(world));
    smallest(&holds.map(|set_up| case.parts[set_up]).collect::<Vec<_>>())
}

/// What serves a use in a world; where nothing does, the set-up that is ranked first of those of which something is not known and
/// of which nothing that is known fails there.
fn kept_for(case: &Case, use_: usize, best_first: &[usize], serving: &[PartSet], world: &[f64]) -> Vec<PartSet> {
    if !serving.is_empty() {
        return serving.to_vec();
    }
    let likeliest = best_first.iter().find(|at| case.rulings[use_][**at].may_hold_in(world));
    likeliest.map(|set_up| case.parts[*set_up]).into_iter().collect()
}

struct Tally {
    same: usize,
    nothing_lost: usize,
    served: Vec<usize>,
    kept: Vec<usize>,
}

impl Tally {
    fn new(case: &Case) -> Self {
        let (served, kept) = (vec![0; case.drawer.uses.len()], vec![0; case.drawer.parts.len()]);
        Self { same: 0, nothing_lost: 0, served, kept }
    }

    fn add(&mut self, kit: PartSet, cheapest: PartSet, serving: &[Vec<PartSet>]) {
        self.same += usize::from(kit == cheapest);
        let mut lost = false;
        for (count, sets) in self.served.iter_mut().zip(serving) {
            let served = sets.iter().any(|set| set & !kit == 0);
            *count += usize::from(served);
            lost |= !served && !sets.is_empty();
        }
        self.nothing_lost += usize::from(!lost);
        for (part, count) in self.kept.iter_mut().enumerate() {
            *count += usize::from(cheapest >> part & 1 == 1);
        }
    }

    fn shares(&self, case: &Case, drawn: usize) -> Worlds {
        let share = |count: usize| count as f64 / drawn as f64;
        let served = self.served.iter().enumerate().map(|(use_, count)| (case.use_id(use_), share(*count)));
        let owned = self.kept.iter().enumerate().filter(|(part, _)| case.drawer.parts[*part].owned);
        Worlds {
            drawn,
            same_kit: share(self.same),
            nothing_lost: share(self.nothing_lost),
            served: served.collect(),
            kept: owned.map(|(part, count)| (case.part_id(part), share(*count))).collect(),
        }
    }
}
