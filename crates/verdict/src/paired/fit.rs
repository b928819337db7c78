//! The fit of strengths to picks.

use super::interval::Interval;
use super::model::{Model, Odds};
use super::{Pick, Seen};
use crate::numeric::Symmetric;

/// Whether, and how, what was known before the picks counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Prior {
    /// Only the picks count, unless they leave a strength without bound (an item that never lost). Then every strength is
    /// normal about the mean with this standard deviation, log-odds.
    WhenNeeded(f64),
    /// Always such a prior.
    Always(f64),
}

/// How a trial is fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitOptions {
    /// The prior; usually a standard deviation of 2, odds of 7 to 1 either way (own choice, no source): wide against what
    /// pictures worth a trial differ by, and narrow enough that an item which won its three picks is not called unbeatable.
    pub prior: Prior,
    /// Look for a preference of one side too.
    pub side: bool,
}

impl Default for FitOptions {
    fn default() -> Self {
        Self { prior: Prior::WhenNeeded(2.0), side: false }
    }
}

/// Why no scale can be had.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// Fewer than two items.
    #[error("{items} item is nothing to compare; two are needed")]
    TooFewItems {
        /// Given.
        items: usize,
    },
    /// A pick names an item that there is not, or one item twice.
    #[error(
        "pick number {number} shows items {left} and {right}; it must show two different ones of {items}, counted from 0"
    )]
    BadPick {
        /// Which pick, from 1.
        number: usize,
        /// Its left item.
        left: usize,
        /// Its right item.
        right: usize,
        /// How many items there are.
        items: usize,
    },
    /// Items that no chain of picks joins cannot stand on one scale.
    #[error("no pick, not even through others, compares item {lonely} with item 0: show them against each other")]
    NotConnected {
        /// The first item that is not joined to item 0.
        lonely: usize,
    },
    /// Every answer was "no difference".
    #[error("all {picks} picks say “no difference”: there is no scale, and nothing to choose between")]
    OnlyTies {
        /// Picks made.
        picks: usize,
    },
    /// The prior's width makes no sense.
    #[error("the prior's standard deviation is {sd}; it must lie between {least} and {most} log-odds")]
    BadPrior {
        /// As given.
        sd: f64,
        /// Smallest allowed.
        least: f64,
        /// Largest allowed.
        most: f64,
    },
    /// The strengths have no finite best values and stay so under the prior: figures outside of what can be computed.
    #[error("the fit did not settle within {steps} steps")]
    NotSettled {
        /// Steps tried.
        steps: usize,
    },
}

/// A reservation about a scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FitRemark {
    /// The picks alone leave a strength without bound, so the prior was used.
    PriorUsed {
        /// Its standard deviation, log-odds.
        sd: f64,
    },
    /// This item won every pick.
    NeverLost {
        /// Its number.
        item: usize,
    },
    /// This item lost every pick.
    NeverWon {
        /// Its number.
        item: usize,
    },
}

/// A fitted scale.
#[derive(Debug, Clone)]
pub struct PairedFit {
    /// Strengths, log-odds against the mean of all items. A difference of 1.1 wins three times as often as it loses.
    pub strengths: Vec<Interval>,
    /// The share of "no difference" between two equal items, ν / (2 + ν); `None` when none was ever said.
    pub tie_share: Option<Interval>,
    /// The left side's advantage, log-odds; `None` when it was not looked for.
    pub side: Option<Interval>,
    /// Log-likelihood at the fit, the prior left out; the constant for the order of picks is left out too.
    pub log_likelihood: f64,
    /// Picks used.
    pub picks: usize,
    /// Reservations.
    pub remarks: Vec<FitRemark>,
    pub(super) model: Model,
    pub(super) unknowns: Vec<f64>,
    /// Inverse of the observed information with the mean pinned.
    pub(super) covariance: Symmetric,
}

/// Narrower, the prior decides and not the picks; wider, it does not hold what is without bound.
const PRIOR_RANGE: (f64, f64) = (0.1, 10.0);
/// Odds of e^10, twenty thousand to one, come of no trial that a person could make: a strength beyond has no bound. It must lie
/// below what [`LAST_GAIN`] lets an unbounded strength reach, some 12.
const UNBOUNDED: f64 = 10.0;
const MOST_STEPS: usize = 100;
/// A step that promises less than this of the log-likelihood is the last: Newton's method squares what is left, so that the
/// step lands within rounding.
const LAST_GAIN: f64 = 1e-11;

/// Fits strengths to picks by Newton's method with halved steps; the log-likelihood is concave, so what it settles at is
/// the one maximum.
pub fn fit(items: usize, picks: &[Pick], options: &FitOptions) -> Result<PairedFit, FitError> {
    check(items, picks, options)?;
    let (model, unknowns) = settled(Model::new(items, picks, options.side), options.prior)
        .ok_or(FitError::NotSettled { steps: MOST_STEPS })?;
    let mut remarks = extremes(items, picks);
    if let Some(sd) = model.prior_sd {
        remarks.insert(0, FitRemark::PriorUsed { sd });
    }
    PairedFit::of(model, unknowns, picks.len(), remarks)
}

/// The model with the prior that it took, and its unknowns.
pub(super) fn settled(mut model: Model, prior: Prior) -> Option<(Model, Vec<f64>)> {
    let (Prior::Always(sd) | Prior::WhenNeeded(sd)) = prior;
    if let (Prior::WhenNeeded(_), Some(unknowns)) = (prior, climb(&model)) {
        return Some((model, unknowns));
    }
    model.prior_sd = Some(sd);
    climb(&model).map(|unknowns| (model, unknowns))
}

impl PairedFit {
    fn of(model: Model, unknowns: Vec<f64>, picks: usize, remarks: Vec<FitRemark>) -> Result<Self, FitError> {
        let unsettled = FitError::NotSettled { steps: MOST_STEPS };
        let covariance = model.slopes(&unknowns).1.inverse().ok_or(unsettled)?;
        let log_likelihood = Model { prior_sd: None, ..model.clone() }.height(&unknowns);
        let (strengths, tie_share, side) = (Vec::new(), None, None);
        let mut fit = Self { strengths, tie_share, side, log_likelihood, picks, remarks, model, unknowns, covariance };
        fit.strengths = (0..fit.model.items).map(|item| fit.profile(&fit.against_mean(item))).collect();
        let share = |log: f64| 1.0 / (1.0 + 2.0 * (-log).exp());
        fit.tie_share = fit.model.tie_at.map(|at| fit.profile(&fit.unit(at)).through(share));
        fit.side = fit.model.side_at.map(|at| fit.profile(&fit.unit(at)));
        Ok(fit)
    }

    fn unit(&self, at: usize) -> Vec<f64> {
        let mut weights = vec![0.0; self.model.unknowns()];
        weights[at] = 1.0;
        weights
    }

    fn against_mean(&self, item: usize) -> Vec<f64> {
        let mut weights = self.unit(item);
        weights[..self.model.items].iter_mut().for_each(|w| *w -= 1.0 / self.model.items as f64);
        weights
    }

    pub(super) fn contrast(&self, better: usize, worse: usize) -> Vec<f64> {
        let mut weights = self.unit(better);
        weights[worse] -= 1.0;
        weights
    }

    /// How much stronger one item is than another, log-odds.
    pub fn difference(&self, better: usize, worse: usize) -> Interval {
        self.profile(&self.contrast(better, worse))
    }

    /// Standard error of that difference by the observed information, log-odds.
    pub fn standard_error(&self, better: usize, worse: usize) -> f64 {
        let weights = self.contrast(better, worse);
        self.covariance.between(&weights, &weights).max(0.0).sqrt()
    }

    /// The share of "this one" , "that one" and "no difference" to expect when two items are shown, no side preferred.
    pub fn expected(&self, this: usize, that: usize) -> (f64, f64, f64) {
        let odds = Odds::of(self.unknowns[this] - self.unknowns[that], self.model.ties(&self.unknowns));
        (odds.left, odds.right, odds.tie)
    }

    /// The 95 % interval of a weighted sum of unknowns by profile likelihood.
    pub(super) fn profile(&self, weights: &[f64]) -> Interval {
        let value = dot(weights, &self.unknowns);
        let step = self.covariance.between(weights, weights).sqrt();
        Interval { value, low: self.end(weights, value, -step), high: self.end(weights, value, step) }
    }

    /// Where the signed root of the likelihood ratio reaches the normal distribution's 97.5 % point. The root is nearly
    /// straight, so the chord finds it in a few steps; a bracket keeps it safe.
    fn end(&self, weights: &[f64], value: f64, step: f64) -> f64 {
        const WANTED: f64 = optics::COVERAGE_95;
        let (mut inside, mut outside) = ((value, 0.0), None);
        let mut guess = value + WANTED * step;
        for _ in 0..60 {
            let root = self.root(weights, guess);
            if (root - WANTED).abs() < 1e-7 {
                return guess;
            }
            if root < WANTED {
                inside = (guess, root)
            } else {
                outside = Some((guess, root))
            }
            guess = match outside {
                Some((far, beyond)) => inside.0 + chord(WANTED, inside.1, beyond) * (far - inside.0),
                None if (guess - value).abs() > 4.0 * UNBOUNDED => return f64::INFINITY.copysign(step),
                None => value + (guess - value) * 1.6,
            };
        }
        guess
    }

    /// √(2 (highest − height with the weighted sum held)), never negative.
    pub(super) fn root(&self, weights: &[f64], held: f64) -> f64 {
        let top = self.model.height(&self.unknowns);
        let there = climb_held(&self.model, &self.unknowns, &self.covariance, weights, held);
        (2.0 * (top - self.model.height(&there))).max(0.0).sqrt()
    }
}

/// How far along the chord the wanted root lies, kept off the ends so that the bracket shrinks from both.
fn chord(wanted: f64, inside: f64, beyond: f64) -> f64 {
    ((wanted - inside) / (beyond - inside)).clamp(0.02, 0.98)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn check(items: usize, picks: &[Pick], options: &FitOptions) -> Result<(), FitError> {
    let (Prior::Always(sd) | Prior::WhenNeeded(sd)) = options.prior;
    if !(PRIOR_RANGE.0..=PRIOR_RANGE.1).contains(&sd) {
        return Err(FitError::BadPrior { sd, least: PRIOR_RANGE.0, most: PRIOR_RANGE.1 });
    }
    if items < 2 {
        return Err(FitError::TooFewItems { items });
    }
    let bad = |pick: &Pick| pick.left == pick.right || pick.left >= items || pick.right >= items;
    if let Some(at) = picks.iter().position(bad) {
        let Pick { left, right, .. } = picks[at];
        return Err(FitError::BadPick { number: at + 1, left, right, items });
    }
    if let Some(lonely) = lonely(items, picks) {
        return Err(FitError::NotConnected { lonely });
    }
    if picks.iter().all(|pick| pick.seen == Seen::NoDifference) {
        return Err(FitError::OnlyTies { picks: picks.len() });
    }
    Ok(())
}

/// The first item that no chain of picks joins to item 0.
fn lonely(items: usize, picks: &[Pick]) -> Option<usize> {
    let mut joined = vec![false; items];
    joined[0] = true;
    loop {
        let next = picks.iter().find(|pick| joined[pick.left] != joined[pick.right]);
        match next {
            Some(pick) => (joined[pick.left], joined[pick.right]) = (true, true),
            None => return joined.iter().position(|j| !j),
        }
    }
}

fn extremes(items: usize, picks: &[Pick]) -> Vec<FitRemark> {
    let mut remarks = Vec::new();
    for item in 0..items {
        let results = picks.iter().filter(|pick| pick.left == item || pick.right == item);
        let wins = |pick: &Pick| match pick.seen {
            Seen::NoDifference => None,
            Seen::Left => Some(pick.left == item),
            Seen::Right => Some(pick.right == item),
        };
        let results: Vec<_> = results.map(wins).collect();
        if results.iter().all(|won| *won == Some(true)) {
            remarks.push(FitRemark::NeverLost { item });
        } else if results.iter().all(|won| *won == Some(false)) {
            remarks.push(FitRemark::NeverWon { item });
        }
    }
    remarks
}

/// The maximum, or `None` where the picks have none within [`UNBOUNDED`].
fn climb(model: &Model) -> Option<Vec<f64>> {
    let mut at = vec![0.0; model.unknowns()];
    for _ in 0..MOST_STEPS {
        let (slope, curvature) = model.slopes(&at);
        let step = curvature.inverse()?.times(&slope);
        let last = dot(&step, &slope) < LAST_GAIN;
        at = halved(model, &at, &step);
        if at.iter().any(|x| x.abs() > UNBOUNDED) {
            return None;
        }
        if last {
            return Some(at);
        }
    }
    None
}

/// The maximum with a weighted sum of unknowns held: Newton's steps within that plane.
fn climb_held(model: &Model, top: &[f64], covariance: &Symmetric, weights: &[f64], held: f64) -> Vec<f64> {
    // To start with, the point that the curvature at the top expects.
    let along = covariance.times(weights);
    let share = (held - dot(weights, top)) / dot(weights, &along);
    let mut at: Vec<f64> = top.iter().zip(&along).map(|(x, a)| x + share * a).collect();
    for _ in 0..MOST_STEPS {
        let (slope, curvature) = model.slopes(&at);
        let Some(inverse) = curvature.inverse() else { break };
        let (free, bound) = (inverse.times(&slope), inverse.times(weights));
        let multiplier = dot(weights, &free) / dot(weights, &bound);
        let step: Vec<f64> = free.iter().zip(&bound).map(|(f, b)| f - multiplier * b).collect();
        at = halved(model, &at, &step);
        if dot(&step, &slope) < LAST_GAIN {
            break;
        }
    }
    at
}

/// A step, halved until it climbs.
fn halved(model: &Model, at: &[f64], step: &[f64]) -> Vec<f64> {
    let here = model.height(at);
    let mut share = 1.0;
    loop {
        let there: Vec<f64> = at.iter().zip(step).map(|(x, s)| x + share * s).collect();
        if model.height(&there) >= here || share < 1e-9 {
            return there;
        }
        share /= 2.0;
    }
}
