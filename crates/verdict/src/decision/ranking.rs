//! Which set-ups serve a use, best first and why.

use optics::Estimate;

use super::case::Case;
use crate::Answer;
use crate::enough::{Basis, Figure, Finding, Missing, Quantity, Ruling};

/// How a use stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// A set-up of owned parts surely serves it.
    Served,
    /// None surely does, and one may: measure it.
    Perhaps,
    /// Nothing owned does.
    NotServed,
}

/// Why a set-up stands above the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Why {
    /// There is no next.
    Only,
    /// It meets everything with a higher probability.
    Surer {
        /// The next one's.
        than: f64,
    },
    /// As sure, and its tightest requirement has more room, as a share of the limit.
    Roomier {
        /// Its room.
        room: f64,
        /// The next one's.
        than: f64,
    },
    /// As good, and of fewer parts, or the order given.
    Simpler,
}

/// The figure of a set-up that comes nearest to failing, or failed most.
#[derive(Debug, Clone, PartialEq)]
pub struct Nearest {
    /// The set-up.
    pub set_up: String,
    /// Index of the requirement in its use.
    pub requirement: usize,
    /// The figure with its doubt, in the requirement's unit.
    pub figure: Estimate,
    /// Where in the frame; `None` for the whole.
    pub at: Option<f64>,
    /// How far it lies on the right side of the limit.
    pub margin: Estimate,
    /// Whether it was measured or predicted.
    pub basis: Basis,
    /// Ids of the frames and measurements behind it.
    pub evidence: Vec<String>,
}

/// One set-up for one use.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The set-up.
    pub set_up: String,
    /// The answer.
    pub answer: Answer,
    /// The chance that it meets everything; with something missing, the most that it can be.
    pub probability: f64,
    /// Its tightest requirement; `None` when nothing of it is known.
    pub tightest: Option<Nearest>,
    /// What is not known of it.
    pub missing: Vec<Missing>,
    /// Why it stands above the next.
    pub why: Why,
}

/// All set-ups of owned parts for one use.
#[derive(Debug, Clone, PartialEq)]
pub struct UseVerdict {
    /// The use.
    pub use_id: String,
    /// How it stands.
    pub standing: Standing,
    /// Best first.
    pub ranked: Vec<Ranked>,
}

/// Set-ups whose probabilities differ by less are equally sure.
const AS_SURE: f64 = 0.01;

pub(super) fn verdict(case: &Case, use_: usize) -> UseVerdict {
    let order = order(case, use_, case.owned);
    let ranked = order.iter().enumerate().map(|(at, set_up)| ranked(case, use_, *set_up, order.get(at + 1).copied()));
    let ranked: Vec<Ranked> = ranked.collect();
    let standing = match ranked.first().map(|best| best.answer) {
        Some(Answer::Serves) => Standing::Served,
        Some(Answer::Undecided) => Standing::Perhaps,
        _ => Standing::NotServed,
    };
    UseVerdict { use_id: case.use_id(use_), standing, ranked }
}

/// Whether a set-up surely cuts the subject off: however sharp it is, its picture is another one.
fn cuts_off(case: &Case, use_: usize, ruling: &Ruling) -> bool {
    let requirements = &case.drawer.uses[use_].requirements;
    let field = |finding: &&Finding| requirements[finding.requirement].quantity == Quantity::Field;
    ruling.findings.iter().filter(field).any(|finding| finding.probability <= SURELY_NOT)
}

/// A chance so small that a limit is surely missed.
const SURELY_NOT: f64 = 0.05;

/// Set-ups that can be built, best first: by answer, those that cut the subject off last; probability in steps, room, number of parts.
pub(super) fn order(case: &Case, use_: usize, available: crate::cover::PartSet) -> Vec<usize> {
    let mut order: Vec<usize> = case.buildable(available).collect();
    let class = |ruling: &Ruling| match ruling.answer {
        Answer::Serves => 0,
        Answer::Undecided if ruling.missing.is_empty() => 1,
        Answer::Undecided => 2,
        Answer::FallsShort if cuts_off(case, use_, ruling) => 4,
        Answer::FallsShort => 3,
    };
    order.sort_by(|a, b| {
        let (p, q) = (&case.rulings[use_][*a], &case.rulings[use_][*b]);
        let sureness = class(p).cmp(&class(q)).then(step(q.probability).cmp(&step(p.probability)));
        let by_room = room(case, use_, *b).total_cmp(&room(case, use_, *a));
        sureness.then(by_room).then(case.parts[*a].count_ones().cmp(&case.parts[*b].count_ones()))
    });
    order
}

fn step(probability: f64) -> i64 {
    (probability / AS_SURE).round() as i64
}

/// The least margin over its limit's size.
fn room(case: &Case, use_: usize, set_up: usize) -> f64 {
    let share = |finding: &Finding| {
        let limit = case.drawer.uses[use_].requirements[finding.requirement].limit.value;
        finding.margin.value / limit.abs().max(1e-9)
    };
    case.rulings[use_][set_up].findings.iter().map(share).fold(f64::INFINITY, f64::min)
}

fn ranked(case: &Case, use_: usize, set_up: usize, next: Option<usize>) -> Ranked {
    let ruling = &case.rulings[use_][set_up];
    let why = next.map_or(Why::Only, |next| {
        let (own, than) = (room(case, use_, set_up), room(case, use_, next));
        let other = &case.rulings[use_][next];
        match () {
            () if step(ruling.probability) > step(other.probability) => Why::Surer { than: other.probability },
            () if own > than => Why::Roomier { room: own, than },
            () => Why::Simpler,
        }
    });
    Ranked {
        set_up: case.set_up_id(set_up),
        answer: ruling.answer,
        probability: ruling.probability,
        tightest: nearest(case, use_, set_up),
        missing: ruling.missing.clone(),
        why,
    }
}

/// The finding that is met least surely, with its figure.
pub(super) fn nearest(case: &Case, use_: usize, set_up: usize) -> Option<Nearest> {
    let finding = case.rulings[use_][set_up].weakest()?;
    let figure = figure(case, set_up, finding);
    Some(Nearest {
        set_up: case.set_up_id(set_up),
        requirement: finding.requirement,
        figure: figure.estimate(),
        at: figure.at,
        margin: finding.margin,
        basis: finding.basis,
        evidence: figure.evidence.clone(),
    })
}

pub(super) fn figure<'a>(case: &'a Case, set_up: usize, finding: &Finding) -> &'a Figure {
    let dossier = &case.drawer.set_ups[set_up].dossier;
    match finding.basis {
        Basis::Measured => &dossier.measured[finding.figure].0,
        Basis::Predicted => &dossier.predicted[finding.figure].0,
    }
}
