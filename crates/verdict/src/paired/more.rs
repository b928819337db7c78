//! When a pair is settled, how many more picks it takes, and which pair to show next.

use super::Pick;
use super::fit::PairedFit;
use super::interval::Interval;
use super::model::Odds;
use crate::numeric::{normal_below, normal_quantile};

/// What counts as settled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettleOptions {
    /// A preference within this is none worth having: how much more often one is picked than the other, as a share of all
    /// showings, "no difference" among them; above 0, below 1. 0.2: six picks of ten against four (own choice, no source).
    pub margin: f64,
    /// The size of difference for which the rule stops soonest, log-odds; it errs no more often at others.
    pub expected: f64,
    /// More picks than this of one pair nobody makes: such a pair stays open without a number.
    pub most: u32,
}

impl Default for SettleOptions {
    fn default() -> Self {
        Self { margin: 0.2, expected: 1.0, most: 1000 }
    }
}

/// Whether a pair needs more picks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Settled {
    /// This one is better.
    Better(usize),
    /// No difference worth having.
    NoDifference,
    /// Neither can be said.
    Open {
        /// Picks of this pair alone that would settle it four times out of five if the truth is what it looks like now;
        /// `None` when no bearable number would.
        more: Option<u32>,
    },
}

/// Where a pair stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PairState {
    /// The two items, the smaller number first.
    pub items: (usize, usize),
    /// How much stronger the first is, log-odds.
    pub difference: Interval,
    /// The chance that the first is stronger (normal, by the observed information).
    pub first_stronger: f64,
    /// How often the two were shown together.
    pub shown: u32,
    /// Whether it needs more.
    pub settled: Settled,
}

/// Share of wrong decisions that is borne, however often one looks.
const ERRORS: f64 = 0.05;
/// Share of trials in which the number of further picks shall be enough.
const POWER: f64 = 0.8;

/// Where every pair stands.
///
/// A person looks after every pick, and an interval at a fixed 95 % looked at often enough excludes the truth in far more
/// than 5 % of trials. The rule here may be looked at after every pick: Robbins' normal mixture ("Statistical methods related
/// to the law of the iterated logarithm", *Annals of Mathematical Statistics* 41 (1970), 1397-1409). With the variance V of
/// the difference and τ = [`SettleOptions::expected`] it holds the truth always within
/// √(V (V + τ²)/τ² · ln((V + τ²)/(V α²))) in 1 − α of all trials, as far as the estimate is normal. Against "none" the
/// likelihood ratio stands in for (d/√V)², so that few picks do not mislead. It holds for each pair by itself.
pub fn settle(fit: &PairedFit, options: &SettleOptions) -> Vec<PairState> {
    let items = fit.model.items;
    let pairs = (0..items).flat_map(|a| (a + 1..items).map(move |b| (a, b)));
    pairs.map(|pair| state(fit, options, pair)).collect()
}

fn state(fit: &PairedFit, options: &SettleOptions, (a, b): (usize, usize)) -> PairState {
    let difference = fit.difference(a, b);
    let variance = fit.standard_error(a, b).powi(2);
    let reach = reach(variance, options.expected);
    let margin = margin(fit, options);
    let surprise = fit.root(&fit.contrast(a, b), 0.0);
    let settled = if surprise * variance.sqrt() > reach {
        Settled::Better(if difference.value > 0.0 { a } else { b })
    } else if difference.value.abs() + reach < margin {
        Settled::NoDifference
    } else {
        Settled::Open { more: more(fit, options, difference.value.abs(), variance) }
    };
    let shown = [(a, b), (b, a)].iter().filter_map(|order| fit.model.tallies.get(order)).map(|t| t.total()).sum();
    let first_stronger = normal_below(difference.value / variance.sqrt());
    PairState { items: (a, b), difference, first_stronger, shown, settled }
}

/// Half-width of the interval that may be looked at after every pick.
fn reach(variance: f64, expected: f64) -> f64 {
    let mixed = variance + expected * expected;
    (variance * mixed / (expected * expected) * (mixed / (variance * ERRORS * ERRORS)).ln()).sqrt()
}

/// The difference of strengths, log-odds, whose preference is the margin with the ties that there are; by halving, as the
/// preference rises with the difference.
fn margin(fit: &PairedFit, options: &SettleOptions) -> f64 {
    let ties = fit.model.ties(&fit.unknowns);
    let preference = |difference: f64| {
        let odds = Odds::of(difference, ties);
        odds.left - odds.right
    };
    let (mut low, mut high) = (0.0, 60.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if preference(middle) > options.margin { high = middle } else { low = middle }
    }
    low
}

/// Picks of one pair that bring its variance down to where it is decided, one way or the other, with [`POWER`].
fn more(fit: &PairedFit, options: &SettleOptions, size: f64, variance: f64) -> Option<u32> {
    let room = size.max(margin(fit, options) - size);
    let needed = |variance: f64| needed(variance, options);
    // `needed` falls with the variance: halve the interval of its logarithm.
    let (mut low, mut high) = (1e-9_f64, variance);
    for _ in 0..100 {
        let middle = (low * high).sqrt();
        if needed(middle) > room { high = middle } else { low = middle }
    }
    let each = Odds::of(size, fit.model.ties(&fit.unknowns)).information();
    let picks = ((1.0 / low - 1.0 / variance) / each).ceil().max(1.0);
    (picks <= f64::from(options.most)).then_some(picks as u32)
}

/// The room, log-odds, that a pair must have on one side or the other to be decided at a variance with [`POWER`].
fn needed(variance: f64, options: &SettleOptions) -> f64 {
    reach(variance, options.expected) + normal_quantile(POWER) * variance.sqrt()
}

/// A pair that picks can still settle, as a run of foreseen picks sees it.
struct Foreseen {
    weights: Vec<f64>,
    /// Fisher information of one pick of it.
    information: f64,
    /// What must be needed no more.
    room: f64,
}

/// How many picks would settle all pairs that a bearable number settles, shown in the order of [`next_pair`], if the truth is
/// what it looks like now: each takes its share off the variances of all pairs (Σ' = Σ − i Σc(Σc)ᵀ / (1 + i cᵀΣc)). So many do
/// for a pair four times out of five. At most [`SettleOptions::most`] a pair.
pub fn picks_to_settle(fit: &PairedFit, states: &[PairState], options: &SettleOptions) -> u32 {
    let margin = margin(fit, options);
    let ties = fit.model.ties(&fit.unknowns);
    let foreseen = |state: &PairState| {
        let size = state.difference.value;
        let open = matches!(state.settled, Settled::Open { more: Some(_) });
        open.then(|| Foreseen {
            weights: fit.contrast(state.items.0, state.items.1),
            information: Odds::of(size, ties).information(),
            room: size.abs().max(margin - size.abs()),
        })
    };
    let mut open: Vec<Foreseen> = states.iter().filter_map(foreseen).collect();
    let (mut covariance, most) = (fit.covariance.clone(), options.most * open.len() as u32);
    for picks in 0..most {
        let taken: Vec<Vec<f64>> = open.iter().map(|pair| covariance.times(&pair.weights)).collect();
        let variance = |k: usize| dot(&open[k].weights, &taken[k]);
        let still: Vec<usize> = (0..open.len()).filter(|k| needed(variance(*k), options) > open[*k].room).collect();
        let spread = |k: usize| 1.0 + open[k].information * variance(k);
        let gain = |k: usize| {
            still.iter().map(|j| dot(&open[*j].weights, &taken[k]).powi(2)).sum::<f64>() * open[k].information
                / spread(k)
        };
        let Some(&best) = still.iter().max_by(|a, b| gain(**a).total_cmp(&gain(**b))) else { return picks };
        let shown: Vec<(usize, f64)> = taken[best].iter().copied().enumerate().collect();
        covariance.add_square(&shown, -open[best].information / spread(best));
        let mut at = 0;
        open.retain(|_| {
            at += 1;
            still.contains(&(at - 1))
        });
    }
    most
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The next pair to show: of the open ones that whose pick takes most variance off all open differences together (A-optimal
/// design; Fedorov, *Theory of Optimal Experiments*, 1972). Without a fit, the pair shown least. `None` when all are settled.
/// The pair shown last comes again only when no other is open.
pub fn next_pair(
    items: usize,
    picks: &[Pick],
    fit: Option<&PairedFit>,
    options: &SettleOptions,
) -> Option<(usize, usize)> {
    let last = picks.last().map(|pick| (pick.left.min(pick.right), pick.left.max(pick.right)));
    let Some(fit) = fit else { return least_shown(items, picks, last) };
    let open: Vec<_> = settle(fit, options).into_iter().filter(|p| matches!(p.settled, Settled::Open { .. })).collect();
    let others = open.iter().filter(|pair| open.len() == 1 || Some(pair.items) != last);
    others.max_by(|p, q| gain(fit, p, &open).total_cmp(&gain(fit, q, &open))).map(|pair| pair.items)
}

/// Variance that one more pick of a pair takes off all open differences: Σ (cᵀΣv)² i / (1 + i vᵀΣv).
fn gain(fit: &PairedFit, of: &PairState, open: &[PairState]) -> f64 {
    let shown = fit.contrast(of.items.0, of.items.1);
    let information = Odds::of(of.difference.value, fit.model.ties(&fit.unknowns)).information();
    let spread = 1.0 + information * fit.covariance.between(&shown, &shown);
    let taken = |pair: &PairState| {
        fit.covariance.between(&fit.contrast(pair.items.0, pair.items.1), &shown).powi(2) * information / spread
    };
    open.iter().map(taken).sum()
}

fn least_shown(items: usize, picks: &[Pick], last: Option<(usize, usize)>) -> Option<(usize, usize)> {
    let shown = |(a, b): (usize, usize)| {
        picks.iter().filter(|p| (p.left, p.right) == (a, b) || (p.left, p.right) == (b, a)).count()
    };
    let pairs = (0..items).flat_map(|a| (a + 1..items).map(move |b| (a, b)));
    pairs.min_by_key(|pair| (Some(*pair) == last, shown(*pair)))
}
