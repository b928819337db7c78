//! Whether a set-up is good enough for a use.

use std::collections::BTreeMap;

use optics::{COVERAGE_95, Estimate};

use super::figure::{Dossier, Figure, FigureError, standard};
use super::requirement::{Bound, Requirement, Use, UseError};
use crate::Answer;
use crate::margin::{FINE, Margin, Worth, all_kept, worth};

/// Why nothing can be said.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RuleError {
    /// The use makes no sense.
    #[error(transparent)]
    Use(#[from] UseError),
    /// A figure makes no sense.
    #[error(transparent)]
    Figure(#[from] FigureError),
    /// The confidence asked for is no majority.
    #[error("a verdict at {sure} was asked for; it must be above 0.5 and below 1")]
    BadConfidence {
        /// As given.
        sure: f64,
    },
}

/// Whose doubt it is.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Doubt {
    /// A measured figure's own: measuring it again, on another frame, lessens it.
    Measured {
        /// The set-up.
        set_up: String,
        /// Index among its measured figures.
        figure: usize,
    },
    /// A predicted figure's own: measuring it settles it.
    Predicted {
        /// The set-up.
        set_up: String,
        /// Index among its predicted figures.
        figure: usize,
    },
    /// Shared by several figures, such as the scale's.
    Cause(String),
    /// The limit's: the use must be stated more surely.
    Limit {
        /// The use.
        use_id: String,
        /// Index of its requirement.
        requirement: usize,
    },
}

/// What a finding rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Basis {
    /// Frames.
    Measured,
    /// The kit's data.
    Predicted,
}

/// One figure against one requirement.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Index of the requirement.
    pub requirement: usize,
    /// What it rests on.
    pub basis: Basis,
    /// Index of the figure among those of its basis.
    pub figure: usize,
    /// How far the figure lies on the right side of the limit, in the quantity's unit, the limit's doubt included.
    pub margin: Estimate,
    /// The chance that this requirement is met there.
    pub probability: f64,
}

impl Finding {
    /// The margin in standard deviations; infinite where there is no doubt.
    pub fn safety(&self) -> f64 {
        self.margin.value / standard(self.margin.plus_minus)
    }
}

/// Why a requirement cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WhyMissing {
    /// Neither measured nor predicted.
    NothingKnown,
    /// Known only up to here; the requirement reaches further out.
    RimNotReached {
        /// Place of the outermost figure, 0 to 1.
        farthest: f64,
    },
    /// Known only as a bound that leaves it open, such as "at least 40 lp/mm" where 50 are asked for.
    OnlyBounded {
        /// The bound.
        value: f64,
    },
}

/// A requirement for which a frame is missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Missing {
    /// Index of the requirement.
    pub requirement: usize,
    /// Why.
    pub why: WhyMissing,
}

/// What knowing a doubt would bring.
#[derive(Debug, Clone, PartialEq)]
pub struct Decider {
    /// Whose doubt.
    pub doubt: Doubt,
    /// The chance that the verdict is decided once this is known exactly: what the best possible measurement of it can do.
    pub decides: f64,
    /// The share of the verdict's own variance that goes with it, 0 to 1.
    pub explains: f64,
}

/// A verdict about one set-up and one use.
#[derive(Debug, Clone, PartialEq)]
pub struct Ruling {
    /// The answer at the confidence that was asked for.
    pub answer: Answer,
    /// The chance that all requirements are met; with something missing, the most that it can be.
    pub probability: f64,
    /// Every figure against every requirement.
    pub findings: Vec<Finding>,
    /// What is not known; with anything missing the answer is never yes.
    pub missing: Vec<Missing>,
    pub(crate) margins: Vec<Margin>,
}

impl Ruling {
    /// The finding that is met least surely.
    pub fn weakest(&self) -> Option<&Finding> {
        self.findings.iter().min_by(|a, b| a.safety().total_cmp(&b.safety()))
    }

    /// What the ruling rests on: `None` when it rests on both, or on nothing.
    pub fn basis(&self) -> Option<Basis> {
        let first = self.findings.first()?.basis;
        self.findings.iter().all(|finding| finding.basis == first).then_some(first)
    }

    /// Whether something is missing and nothing that is known fails in a world, one that falls short for certain aside.
    pub(crate) fn may_hold_in(&self, world: &[f64]) -> bool {
        let kept = self.margins.iter().all(|margin| margin.in_world(world) >= 0.0);
        !self.missing.is_empty() && self.answer != Answer::FallsShort && kept
    }

    /// Whether it holds in a world whose doubts have these values; what is missing counts as not met.
    pub(crate) fn holds_in(&self, world: &[f64]) -> bool {
        self.missing.is_empty() && self.margins.iter().all(|margin| margin.in_world(world) >= 0.0)
    }
}

/// Doubts by number, so that rulings about different uses and set-ups share them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Doubts(BTreeMap<Doubt, usize>);

impl Doubts {
    fn number(&mut self, doubt: Doubt) -> usize {
        let next = self.0.len();
        *self.0.entry(doubt).or_insert(next)
    }

    pub(crate) fn count(&self) -> usize {
        self.0.len()
    }

    fn named(&self, number: usize) -> Option<&Doubt> {
        self.0.iter().find(|(_, at)| **at == number).map(|(doubt, _)| doubt)
    }
}

/// A place within this of a requirement's rim belongs to it.
const RIM_SLACK: f64 = 0.02;
/// The outermost figure must come this near to the rim: figures change slowly, but a corner is not known from mid-field.
const RIM_REACH: f64 = 0.15;

/// Judges a set-up for a use. `sure` is the probability from which the answer is yes, and 1 − `sure` that up to which it is no; 0.95
/// is usual.
pub fn rule(use_: &Use, set_up: &Dossier, sure: f64) -> Result<Ruling, RuleError> {
    rule_with(use_, set_up, sure, &mut Doubts::default())
}

/// What would decide an undecided ruling with nothing missing, the best first; empty for any other (a decided one needs
/// nothing, and what is missing decides before any doubt does).
pub fn deciders(use_: &Use, set_up: &Dossier, sure: f64) -> Result<Vec<Decider>, RuleError> {
    let mut doubts = Doubts::default();
    let ruling = rule_with(use_, set_up, sure, &mut doubts)?;
    if ruling.answer != Answer::Undecided || !ruling.missing.is_empty() {
        return Ok(Vec::new());
    }
    let decider = |worth: Worth| {
        let doubt = doubts.named(worth.doubt)?.clone();
        Some(Decider { doubt, decides: worth.decides, explains: worth.explains })
    };
    Ok(worth(&ruling.margins, sure).into_iter().filter_map(decider).collect())
}

/// As [`rule`], its doubts numbered together with those of other rulings.
pub(crate) fn rule_with(use_: &Use, set_up: &Dossier, sure: f64, doubts: &mut Doubts) -> Result<Ruling, RuleError> {
    if !(sure > 0.5 && sure < 1.0) {
        return Err(RuleError::BadConfidence { sure });
    }
    use_.check()?;
    set_up.check()?;
    let (mut findings, mut margins, mut missing) = (Vec::new(), Vec::new(), Vec::new());
    for (at, requirement) in use_.requirements.iter().enumerate() {
        let (basis, figures) = known(set_up, requirement);
        if let Some(why) = lacks(requirement, &figures) {
            missing.push(Missing { requirement: at, why });
        }
        let (figures, open): (Vec<_>, Vec<_>) = figures.into_iter().partition(|(_, of)| tells(requirement, of));
        missing.extend(
            open.first().map(|(_, of)| Missing { requirement: at, why: WhyMissing::OnlyBounded { value: of.value } }),
        );
        for (figure, of) in figures {
            let margin = margin((use_, at), (set_up, basis, figure, of), doubts);
            let plus_minus = COVERAGE_95 * margin.variance().sqrt();
            let (estimate, probability) = (Estimate { value: margin.mean, plus_minus }, margin.kept());
            findings.push(Finding { requirement: at, basis, figure, margin: estimate, probability });
            margins.push(margin);
        }
    }
    let probability = all_kept(&margins, FINE);
    let answer = match probability {
        p if p <= 1.0 - sure => Answer::FallsShort,
        p if p >= sure && missing.is_empty() => Answer::Serves,
        _ => Answer::Undecided,
    };
    Ok(Ruling { answer, probability, findings, missing, margins })
}

/// The figures that decide a requirement: measured ones where there are any, else predicted ones; never both.
fn known<'a>(set_up: &'a Dossier, requirement: &Requirement) -> (Basis, Vec<(usize, &'a Figure)>) {
    let fits = |(_, figure): &(usize, &Figure)| {
        let inside = figure.at.is_none_or(|place| place <= requirement.out_to + RIM_SLACK);
        figure.quantity.is_same(requirement.quantity) && inside
    };
    let measured: Vec<_> = set_up.measured.iter().map(|m| &m.0).enumerate().filter(fits).collect();
    if !measured.is_empty() {
        return (Basis::Measured, measured);
    }
    (Basis::Predicted, set_up.predicted.iter().map(|p| &p.0).enumerate().filter(fits).collect())
}

/// Whether a figure says on which side of the limit the truth lies: one that is only a bound does so when the limit does not lie beyond
/// it, on the side on which the truth may be anywhere.
fn tells(requirement: &Requirement, figure: &Figure) -> bool {
    let Some(only) = figure.only else { return true };
    let margin = sign(requirement.bound) * (figure.value - requirement.limit.value);
    if only == requirement.bound { margin >= 0.0 } else { margin < 0.0 }
}

fn sign(bound: Bound) -> f64 {
    if bound == Bound::AtLeast { 1.0 } else { -1.0 }
}

fn lacks(requirement: &Requirement, figures: &[(usize, &Figure)]) -> Option<WhyMissing> {
    if figures.is_empty() {
        return Some(WhyMissing::NothingKnown);
    }
    // A figure of the whole frame reaches everywhere.
    let farthest = figures.iter().map(|(_, figure)| figure.at.unwrap_or(1.0)).fold(0.0, f64::max);
    (farthest < requirement.out_to - RIM_REACH).then_some(WhyMissing::RimNotReached { farthest })
}

fn margin(
    (use_, at): (&Use, usize),
    (set_up, basis, index, figure): (&Dossier, Basis, usize, &Figure),
    doubts: &mut Doubts,
) -> Margin {
    let requirement = &use_.requirements[at];
    let sign = sign(requirement.bound);
    let name = set_up.set_up.clone();
    let own = match basis {
        Basis::Measured => Doubt::Measured { set_up: name, figure: index },
        Basis::Predicted => Doubt::Predicted { set_up: name, figure: index },
    };
    let limit = Doubt::Limit { use_id: use_.id.clone(), requirement: at };
    let shared = figure.shared.iter().map(|cause| (Doubt::Cause(cause.name.clone()), sign * cause.plus_minus));
    let all =
        [(own, sign * figure.own_plus_minus), (limit, -sign * requirement.limit.plus_minus)].into_iter().chain(shared);
    let mut sum: BTreeMap<usize, f64> = BTreeMap::new();
    for (doubt, plus_minus) in all.filter(|(_, plus_minus)| *plus_minus != 0.0) {
        *sum.entry(doubts.number(doubt)).or_default() += standard(plus_minus);
    }
    Margin { mean: sign * (figure.value - requirement.limit.value), doubts: sum.into_iter().collect() }
}
