//! The decision as sentences would have it: data, to be put into words elsewhere.

use super::case::Case;
use super::kit::{KitChoice, Purchase, Sum};
use super::losses::Loss;
use super::ranking::{Nearest, Ranked, Standing, UseVerdict};
use crate::enough::Missing;

/// Why a part is kept.
#[derive(Debug, Clone, PartialEq)]
pub enum KeptFor {
    /// No other set-up serves these uses; each with the one that comes nearest without the part.
    OnlyWay(Vec<(String, Option<Nearest>)>),
    /// Other parts would do, and would tie up more by this much; `None` where a price is missing.
    Cheapest(Option<Sum>),
}

/// One thing to be said.
#[derive(Debug, Clone, PartialEq)]
pub enum Statement {
    /// This set-up is the best for a use.
    Best {
        /// The use.
        use_id: String,
        /// The set-up, its tightest figure with evidence, and why it stands above the next.
        set_up: Ranked,
    },
    /// No set-up surely serves a use; this one may, once it is measured.
    Perhaps {
        /// The use.
        use_id: String,
        /// The set-up.
        set_up: Ranked,
    },
    /// Nothing owned serves a use.
    NotServed {
        /// The use.
        use_id: String,
        /// What came nearest; `None` when no set-up can be built.
        nearest: Option<Nearest>,
        /// What is not known of it.
        missing: Vec<Missing>,
    },
    /// Keep a part.
    Keep {
        /// The part.
        part: String,
        /// Why.
        because: KeptFor,
    },
    /// A part could go.
    CouldGo {
        /// The part.
        part: String,
        /// What it would bring, if that is known.
        brings: Option<Sum>,
        /// How many uses have it in their best set-up now and go on with another.
        weakened: usize,
    },
    /// Parts whose price decides and is not known.
    PricesMissing {
        /// The parts.
        parts: Vec<String>,
    },
    /// Buying a part would serve more uses, or free money.
    Buy(Purchase),
}

pub(super) fn all(
    case: &Case,
    uses: &[UseVerdict],
    kit: &KitChoice,
    losses: &[Loss],
    purchases: &[Purchase],
) -> Vec<Statement> {
    let mut out: Vec<Statement> = uses.iter().map(of_use).collect();
    out.extend(losses.iter().map(|loss| of_part(loss, kit)));
    let missing: Vec<String> = case
        .drawer
        .parts
        .iter()
        .filter(|part| part.owned && part.price.is_none())
        .map(|part| part.id.clone())
        .collect();
    out.extend((!missing.is_empty()).then_some(Statement::PricesMissing { parts: missing }));
    let brings = |purchase: &&Purchase| {
        !purchase.newly_served.is_empty() || purchase.frees.is_some_and(|frees| frees.value > 0.0)
    };
    out.extend(purchases.iter().filter(brings).cloned().map(Statement::Buy));
    out
}

fn of_use(verdict: &UseVerdict) -> Statement {
    let (use_id, best) = (verdict.use_id.clone(), verdict.ranked.first().cloned());
    match (verdict.standing, best) {
        (Standing::Served, Some(set_up)) => Statement::Best { use_id, set_up },
        (Standing::Perhaps, Some(set_up)) => Statement::Perhaps { use_id, set_up },
        (_, Some(Ranked { tightest, missing, .. })) => Statement::NotServed { use_id, nearest: tightest, missing },
        (_, None) => Statement::NotServed { use_id, nearest: None, missing: Vec::new() },
    }
}

fn of_part(loss: &Loss, kit: &KitChoice) -> Statement {
    let part = loss.part.clone();
    if let Some((_, brings)) = kit.could_go.iter().find(|(id, _)| *id == part) {
        return Statement::CouldGo { part, brings: *brings, weakened: loss.weakened.len() };
    }
    let because = match &loss.lost[..] {
        [] => KeptFor::Cheapest(loss.dearer_by),
        lost => KeptFor::OnlyWay(lost.to_vec()),
    };
    Statement::Keep { part, because }
}
