//! What a solution must cost at least.

use super::{MOST_PARTS, PartSet, members};

/// Rounds of shifting shares; more lift the bound by little.
const ROUNDS: usize = 12;
/// How far a round shifts the shares toward the uses that want the part.
const SHIFT: f64 = 0.4;

/// The open uses of a branch: what each of their set-ups still lacks.
pub(super) type Open = Vec<Vec<PartSet>>;

/// A bound, and how much each part is wanted: the share of its price that the last round's cheapest set-ups pay.
pub(super) struct Bound {
    pub(super) least: f64,
    pub(super) wanted: Box<[f64; MOST_PARTS]>,
}

/// The least that the open uses can cost, up to rounding. Stops as soon as `enough` is reached.
pub(super) fn bound(costs: &[i64], open: &Open, enough: f64) -> Bound {
    let parts: Vec<PartSet> = open.iter().map(|use_| use_.iter().fold(0, |all, set| all | set)).collect();
    let mut shares: Vec<Vec<f64>> = parts.iter().map(|of| first_shares(costs, &parts, *of)).collect();
    let mut best = Bound { least: 0.0, wanted: Box::new([0.0; MOST_PARTS]) };
    for _ in 0..ROUNDS {
        let (sum, chosen) = cheapest_each(open, &shares);
        best.least = best.least.max(sum);
        for (use_, set) in chosen.iter().enumerate() {
            members(*set).for_each(|part| best.wanted[part] += shares[use_][part]);
        }
        if best.least >= enough || open.len() < 2 {
            break;
        }
        shift(costs, &mut shares, &chosen);
    }
    best
}

/// Every part's price in equal shares to the uses that could want it.
fn first_shares(costs: &[i64], parts: &[PartSet], own: PartSet) -> Vec<f64> {
    let share = |part: usize| {
        let among = parts.iter().filter(|of| *of >> part & 1 == 1).count();
        if own >> part & 1 == 1 { costs[part] as f64 / among as f64 } else { 0.0 }
    };
    (0..costs.len()).map(share).collect()
}

fn cheapest_each(open: &Open, shares: &[Vec<f64>]) -> (f64, Vec<PartSet>) {
    let mut sum = 0.0;
    let chosen = open.iter().zip(shares).map(|(sets, shares)| {
        let price = |set: PartSet| bits(set).map(|part| shares[part]).sum::<f64>();
        let priced = sets.iter().map(|set| (price(*set), *set));
        let (least, set) = priced.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0));
        sum += least;
        set
    });
    let chosen = chosen.collect();
    (sum, chosen)
}

/// Moves every wanted part's price toward the uses whose cheapest set-up wants it; the shares of a part still make its price.
fn shift(costs: &[i64], shares: &mut [Vec<f64>], chosen: &[PartSet]) {
    for (part, cost) in costs.iter().enumerate() {
        let wanting = chosen.iter().filter(|set| *set >> part & 1 == 1).count();
        if wanting == 0 || wanting == chosen.len() {
            continue;
        }
        for (share, set) in shares.iter_mut().map(|shares| &mut shares[part]).zip(chosen) {
            let toward = if set >> part & 1 == 1 { *cost as f64 / wanting as f64 } else { 0.0 };
            *share += SHIFT * (toward - *share);
        }
    }
}

/// The members of a set, in few steps.
pub(super) fn bits(mut set: PartSet) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let part = set.trailing_zeros() as usize;
        (set != 0).then(|| {
            set &= set - 1;
            part
        })
    })
}
