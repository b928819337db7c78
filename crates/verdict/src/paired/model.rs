//! The likelihood of picks, its slopes and its curvature.

use std::collections::BTreeMap;

use super::{Pick, Tally};
use crate::numeric::Symmetric;

/// Probabilities of left, right and no difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Odds {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) tie: f64,
}

impl Odds {
    /// From the difference of strengths, the side's advantage included, and ln ν (minus infinity: no ties).
    pub(super) fn of(difference: f64, ties: f64) -> Self {
        let logs = [difference / 2.0, -difference / 2.0, ties];
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let [left, right, tie] = logs.map(|log| (log - most).exp());
        let sum = left + right + tie;
        Self { left: left / sum, right: right / sum, tie: tie / sum }
    }

    /// Fisher information of one pick about the difference: the variance of ½ for left, −½ for right, 0 for neither.
    pub(super) fn information(&self) -> f64 {
        (self.left + self.right) / 4.0 - ((self.left - self.right) / 2.0).powi(2)
    }
}

/// Which unknowns there are besides the strengths, and all picks gathered by pair and order.
#[derive(Debug, Clone)]
pub(super) struct Model {
    pub(super) items: usize,
    pub(super) tallies: BTreeMap<(usize, usize), Tally>,
    /// Where ln ν stands among the unknowns; `None` when nothing was ever a tie and ν is 0.
    pub(super) tie_at: Option<usize>,
    /// Where the left side's advantage stands.
    pub(super) side_at: Option<usize>,
    /// Standard deviation of the prior on strengths and the side's advantage, if one is used.
    pub(super) prior_sd: Option<f64>,
}

impl Model {
    pub(super) fn new(items: usize, picks: &[Pick], with_side: bool) -> Self {
        let mut tallies: BTreeMap<_, Tally> = BTreeMap::new();
        for pick in picks {
            tallies.entry((pick.left, pick.right)).or_default().add(pick.seen);
        }
        let ties = tallies.values().any(|tally| tally.ties > 0);
        let side_at = with_side.then_some(items + usize::from(ties));
        Self { items, tallies, tie_at: ties.then_some(items), side_at, prior_sd: None }
    }

    pub(super) fn unknowns(&self) -> usize {
        self.items + usize::from(self.tie_at.is_some()) + usize::from(self.side_at.is_some())
    }

    /// Unknowns that the picks determine: strengths count one less, as only their differences show.
    pub(super) fn free(&self) -> usize {
        self.unknowns() - 1
    }

    pub(super) fn ties(&self, unknowns: &[f64]) -> f64 {
        self.tie_at.map_or(f64::NEG_INFINITY, |at| unknowns[at])
    }

    pub(super) fn odds(&self, unknowns: &[f64], left: usize, right: usize) -> Odds {
        let side = self.side_at.map_or(0.0, |at| unknowns[at]);
        Odds::of(unknowns[left] - unknowns[right] + side, self.ties(unknowns))
    }

    /// The weights by which the unknowns make the difference of a pair.
    fn weights(&self, left: usize, right: usize) -> Vec<(usize, f64)> {
        let side = self.side_at.map(|at| (at, 1.0));
        [(left, 1.0), (right, -1.0)].into_iter().chain(side).collect()
    }

    /// Log-likelihood, the prior's logarithm added where there is one.
    pub(super) fn height(&self, unknowns: &[f64]) -> f64 {
        let of = |(&(left, right), tally): (&(usize, usize), &Tally)| {
            let odds = self.odds(unknowns, left, right);
            times_log(tally.left, odds.left) + times_log(tally.right, odds.right) + times_log(tally.ties, odds.tie)
        };
        let data: f64 = self.tallies.iter().map(of).sum();
        data - self.under_prior().map(|(at, weight)| 0.5 * weight * unknowns[at].powi(2)).sum::<f64>()
    }

    /// Unknowns under the prior, with one over its variance.
    fn under_prior(&self) -> impl Iterator<Item = (usize, f64)> {
        let weight = self.prior_sd.map(|sd| 1.0 / (sd * sd));
        (0..self.items).chain(self.side_at).filter_map(move |at| Some((at, weight?)))
    }

    /// Slopes of the height and its curvature with the sign turned (the observed information, which for this model is the
    /// expected one too). The strengths' mean, which nothing determines, is pinned by adding 1 1ᵀ; that leaves every
    /// difference as it is.
    pub(super) fn slopes(&self, unknowns: &[f64]) -> (Vec<f64>, Symmetric) {
        let mut slope = vec![0.0; self.unknowns()];
        let mut curvature = Symmetric::zero(self.unknowns());
        for (&(left, right), tally) in &self.tallies {
            let odds = self.odds(unknowns, left, right);
            let (n, weights) = (f64::from(tally.total()), self.weights(left, right));
            let lead = (odds.left - odds.right) / 2.0;
            let surplus = (f64::from(tally.left) - f64::from(tally.right)) / 2.0 - n * lead;
            weights.iter().for_each(|&(at, weight)| slope[at] += weight * surplus);
            curvature.add_square(&weights, n * odds.information());
            if let Some(tie_at) = self.tie_at {
                slope[tie_at] += f64::from(tally.ties) - n * odds.tie;
                curvature.add(tie_at, tie_at, n * odds.tie * (1.0 - odds.tie));
                for &(at, weight) in &weights {
                    curvature.add(at, tie_at, -weight * n * lead * odds.tie);
                    curvature.add(tie_at, at, -weight * n * lead * odds.tie);
                }
            }
        }
        for (at, weight) in self.under_prior() {
            slope[at] -= weight * unknowns[at];
            curvature.add(at, at, weight);
        }
        let all: Vec<_> = (0..self.items).map(|item| (item, 1.0)).collect();
        curvature.add_square(&all, 1.0);
        (slope, curvature)
    }
}

/// n ln p, and 0 for no picks whatever p.
fn times_log(n: u32, p: f64) -> f64 {
    if n == 0 { 0.0 } else { f64::from(n) * p.ln() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paired::Seen;
    use testkit::assert_close;

    fn model() -> Model {
        let picks = [(0, 1, Seen::Left), (1, 0, Seen::NoDifference), (2, 1, Seen::Right), (0, 2, Seen::Left)]
            .map(|(left, right, seen)| Pick { left, right, seen });
        Model { prior_sd: Some(2.0), ..Model::new(3, &picks, true) }
    }

    #[test]
    fn slopes_and_curvature_are_those_of_the_height() {
        // Law: central differences of the height and of the slopes, step 1e-5 (error about 1e-10 of the third derivative).
        let (model, at, step) = (model(), [0.4, -0.1, -0.3, -0.7, 0.2], 1e-5);
        let moved = |k: usize, by: f64| {
            let mut there = at;
            there[k] += by;
            there
        };
        let (slope, curvature) = model.slopes(&at);
        for (k, slope) in slope.into_iter().enumerate() {
            let rise = model.height(&moved(k, step)) - model.height(&moved(k, -step));
            assert_close!(slope, rise / (2.0 * step), absolute = 1e-8, "slope {k}");
            let (high, low) = (model.slopes(&moved(k, step)).0, model.slopes(&moved(k, -step)).0);
            for j in 0..5 {
                let pinned = f64::from(u8::from(j < 3 && k < 3));
                let expected = (low[j] - high[j]) / (2.0 * step) + pinned;
                assert_close!(curvature.at(j, k), expected, absolute = 1e-8, "curvature {j} {k}");
            }
        }
    }

    #[test]
    fn odds_add_up_and_ties_leave_the_ratio_alone() {
        for ties in [f64::NEG_INFINITY, -1.0, 2.0] {
            let odds = Odds::of(0.8, ties);
            assert_close!(odds.left + odds.right + odds.tie, 1.0, absolute = 1e-15);
            // Davidson (1970): the ratio of the strengths, e^0.8.
            assert_close!(odds.left / odds.right, 0.8_f64.exp(), relative = 1e-14);
        }
        // No overflow far out.
        assert_close!(Odds::of(3000.0, 0.0).left, 1.0, absolute = 0.0);
    }
}
