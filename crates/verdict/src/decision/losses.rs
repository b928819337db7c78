//! What would be lost without a part.

use super::case::Case;
use super::drawer::DecideError;
use super::kit::{Sum, cheapest_of, difference};
use super::ranking::{Nearest, nearest, order};
use crate::Answer;
use crate::cover::members;

/// A use that is still served without the part, by another set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Weakened {
    /// The use.
    pub use_id: String,
    /// Its best set-up now.
    pub from: String,
    /// Its best set-up then.
    pub to: String,
    /// The chance that all is met, now and then.
    pub probability: (f64, f64),
    /// Its tightest requirement then.
    pub tightest: Option<Nearest>,
}

/// What an owned part is good for.
#[derive(Debug, Clone, PartialEq)]
pub struct Loss {
    /// The part.
    pub part: String,
    /// Uses that are surely served now and would not be, each with the set-up that would come nearest.
    pub lost: Vec<(String, Option<Nearest>)>,
    /// Uses whose best set-up needs it and that another would still serve.
    pub weakened: Vec<Weakened>,
    /// By how much the cheapest kit would tie up more without it; `None` where a use is lost or a price is missing.
    pub dearer_by: Option<Sum>,
}

impl Loss {
    /// Whether nothing would be missed.
    pub fn is_nothing(&self) -> bool {
        self.lost.is_empty() && self.weakened.is_empty()
    }
}

pub(super) fn all(case: &Case) -> Result<Vec<Loss>, DecideError> {
    let served = (0..case.drawer.uses.len()).filter(|use_| !case.counted(*use_, case.owned).is_empty()).count();
    let now = cheapest_of(case, case.owned, 0)?;
    members(case.owned).map(|part| loss(case, part, served, now.as_ref())).collect()
}

fn loss(case: &Case, part: usize, served: usize, now: Option<&super::Kit>) -> Result<Loss, DecideError> {
    let rest = case.owned & !(1 << part);
    let (mut lost, mut weakened) = (Vec::new(), Vec::new());
    for use_ in (0..case.drawer.uses.len()).filter(|use_| case.surely_served(*use_, case.owned)) {
        let (Some(from), to) =
            (order(case, use_, case.owned).first().copied(), order(case, use_, rest).first().copied())
        else {
            continue;
        };
        match to {
            Some(to) if case.rulings[use_][to].answer == Answer::Serves => {
                weakened.extend((to != from).then(|| weaker(case, use_, from, to)));
            }
            to => lost.push((case.use_id(use_), to.and_then(|to| nearest(case, use_, to)))),
        }
    }
    let then = cheapest_of(case, rest, served)?.filter(|kit| lost.is_empty() && kit.unpriced.is_empty());
    let dearer_by = then.zip(now.filter(|now| now.unpriced.is_empty())).map(|(then, now)| difference(case, &then, now));
    Ok(Loss { part: case.part_id(part), lost, weakened, dearer_by })
}

fn weaker(case: &Case, use_: usize, from: usize, to: usize) -> Weakened {
    let chance = |set_up: usize| case.rulings[use_][set_up].probability;
    Weakened {
        use_id: case.use_id(use_),
        from: case.set_up_id(from),
        to: case.set_up_id(to),
        probability: (chance(from), chance(to)),
        tightest: nearest(case, use_, to),
    }
}
