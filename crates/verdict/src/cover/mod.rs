//! The cheapest set of parts from which every use can be served: exact.
//!
//! A use is served by any one of several set-ups, and a set-up needs all of its parts. Choosing the cheapest parts so that
//! every use has a set-up whole is a set cover with alternatives, hard in general and small in a drawer. It is solved by branch
//! and bound on the parts, "kept" first and "not kept" then. The bound splits every part's price among the uses that could
//! want it: whatever is kept, each use pays at least the cheapest of its set-ups at such shares, so the sum over uses is no
//! more than the price of any solution (weak duality; Nemhauser and Wolsey, *Integer and Combinatorial Optimization*, 1988,
//! section II.3.6). A few rounds shift the shares toward the uses that want the part, which lifts the bound.

mod bound;
mod search;

/// Parts as bits: part number k is bit k.
pub type PartSet = u128;

/// As many parts as a [`PartSet`] has bits.
pub const MOST_PARTS: usize = 128;

/// The numbers of the parts of a set.
pub fn members(set: PartSet) -> impl Iterator<Item = usize> {
    (0..MOST_PARTS).filter(move |part| set >> part & 1 == 1)
}

/// A solution with its proof.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cover {
    /// The parts kept.
    pub parts: PartSet,
    /// What they cost, in the unit of the costs.
    pub cost: i64,
    /// What no solution can be cheaper than, found before any branching.
    pub first_bound: i64,
    /// Branches looked into; with the bounds they prove that nothing is cheaper.
    pub branches: u64,
}

/// Why there is no cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum CoverError {
    /// A use that no set-up serves.
    #[error("no set-up serves use number {number}")]
    Unserved {
        /// Which, from 0.
        number: usize,
    },
    /// More parts than can be reckoned with.
    #[error("{parts} parts; at most {most} can be weighed up together")]
    TooManyParts {
        /// Given.
        parts: usize,
        /// Allowed.
        most: usize,
    },
    /// A set-up names a part that has no cost.
    #[error("a set-up of use number {number} has part number {part}, but costs were given for {parts} parts only")]
    NoSuchPart {
        /// The use, from 0.
        number: usize,
        /// The part, from 0.
        part: usize,
        /// Costs given.
        parts: usize,
    },
    /// Costs must not pay for themselves.
    #[error("part number {part} costs {cost}; a cost must not be below 0 nor above {most}")]
    BadCost {
        /// The part, from 0.
        part: usize,
        /// As given.
        cost: i64,
        /// Largest allowed, so that no sum overflows.
        most: i64,
    },
}

const MOST_COST: i64 = 1 << 55;

/// The cheapest parts that serve every use. `uses` holds for each use the sets of parts that serve it; an empty list of uses
/// costs nothing. Of equally cheap solutions it is always the same one that comes out.
pub fn cheapest(costs: &[i64], uses: &[Vec<PartSet>]) -> Result<Cover, CoverError> {
    check(costs, uses)?;
    Ok(search::Search::new(costs, uses).run())
}

fn check(costs: &[i64], uses: &[Vec<PartSet>]) -> Result<(), CoverError> {
    let parts = costs.len();
    if parts > MOST_PARTS {
        return Err(CoverError::TooManyParts { parts, most: MOST_PARTS });
    }
    if let Some(part) = costs.iter().position(|cost| !(0..=MOST_COST).contains(cost)) {
        return Err(CoverError::BadCost { part, cost: costs[part], most: MOST_COST });
    }
    for (number, set_ups) in uses.iter().enumerate() {
        if set_ups.is_empty() {
            return Err(CoverError::Unserved { number });
        }
        let all = set_ups.iter().fold(0, |all, set| all | set);
        if let Some(part) = members(all).find(|part| *part >= parts) {
            return Err(CoverError::NoSuchPart { number, part, parts });
        }
    }
    Ok(())
}

/// The sets that contain no other of them, each once.
pub(crate) fn smallest(sets: &[PartSet]) -> Vec<PartSet> {
    let mut sorted = sets.to_vec();
    sorted.sort_unstable_by_key(|set| (set.count_ones(), *set));
    sorted.dedup();
    let mut kept: Vec<PartSet> = Vec::new();
    for set in sorted {
        if kept.iter().all(|small| small & set != *small) {
            kept.push(set);
        }
    }
    kept
}
