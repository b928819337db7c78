//! Whether the model fits the picks.

use super::fit::{PairedFit, Prior, settled};
use super::model::{Model, Odds};
use super::{Pick, Seen};
use crate::numeric::{Chance, chi_square_above};

/// A test of fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitCheck {
    /// Likelihood-ratio statistic G² of the picks against the fit, over pairs in the order in which they were shown.
    pub statistic: f64,
    /// Its degrees of freedom.
    pub degrees: usize,
    /// The chance of a statistic as large if the model is true, by the chi-square distribution; wrong with few picks a pair.
    pub by_chi_square: f64,
    /// The same from trials drawn from the fit, right with any number of picks; its own standard error is at most 0.5/√draws.
    pub by_simulation: f64,
    /// Trials drawn.
    pub draws: usize,
}

/// Tests the fit: G² against a model in which every pair has odds of its own, its chance by chi-square and by as many
/// trials as `draws` drawn from the fit and fitted anew (a parametric bootstrap; Davison and Hinkley, *Bootstrap Methods and
/// their Application*, 1997, section 4.2).
pub fn check_fit(fit: &PairedFit, draws: usize, seed: u64) -> FitCheck {
    let statistic = deviance(&fit.model, &fit.unknowns);
    // Two free shares an order shown, one where there are no ties.
    let cells = if fit.model.tie_at.is_some() { 2 } else { 1 };
    let degrees = (cells * fit.model.tallies.len()).saturating_sub(fit.model.free());
    let mut chance = Chance::new(seed);
    let beyond = (0..draws).filter(|_| drawn_deviance(fit, &mut chance) >= statistic - 1e-9).count();
    // The picks themselves count as one draw: the chance is never said to be nothing.
    let by_simulation = (beyond + 1) as f64 / (draws + 1) as f64;
    FitCheck { statistic, degrees, by_chi_square: chi_square_above(statistic, degrees), by_simulation, draws }
}

/// G² = 2 Σ seen · ln(seen / expected).
fn deviance(model: &Model, unknowns: &[f64]) -> f64 {
    let of = |(&(left, right), tally): (&(usize, usize), &super::Tally)| {
        let (odds, n) = (model.odds(unknowns, left, right), f64::from(tally.total()));
        let term = |seen: u32, p: f64| if seen == 0 { 0.0 } else { f64::from(seen) * (f64::from(seen) / (n * p)).ln() };
        2.0 * (term(tally.left, odds.left) + term(tally.right, odds.right) + term(tally.ties, odds.tie))
    };
    model.tallies.iter().map(of).sum()
}

/// G² of a trial drawn from the fit; what cannot be fitted (all ties) fits itself.
fn drawn_deviance(of: &PairedFit, chance: &mut Chance) -> f64 {
    let mut picks = Vec::new();
    for (&(left, right), tally) in &of.model.tallies {
        let odds = of.model.odds(&of.unknowns, left, right);
        picks.extend((0..tally.total()).map(|_| Pick { left, right, seen: draw(odds, chance) }));
    }
    let prior = of.model.prior_sd.map_or(Prior::WhenNeeded(2.0), Prior::Always);
    let model = Model::new(of.model.items, &picks, of.model.side_at.is_some());
    settled(model, prior).map_or(0.0, |(model, unknowns)| deviance(&model, &unknowns))
}

pub(super) fn draw(odds: Odds, chance: &mut Chance) -> Seen {
    match chance.uniform() {
        u if u < odds.left => Seen::Left,
        u if u < odds.left + odds.right => Seen::Right,
        _ => Seen::NoDifference,
    }
}
