//! Which side an item is shown on, and whether that was fair.

use super::{Pick, Seen};
use crate::numeric::Chance;

/// How fairly items were placed.
#[derive(Debug, Clone, PartialEq)]
pub struct Balance {
    /// How often each item was shown on the left and on the right.
    pub sides: Vec<(u32, u32)>,
    /// The largest difference between how often a pair was shown in one order and in the other, with the pair.
    pub worst_pair: Option<((usize, usize), u32)>,
    /// Picks of the left one, of the right one, of neither.
    pub said: (u32, u32, u32),
    /// How often a pair was shown twice in a row.
    pub repeats: usize,
}

/// Counts how items were placed. Picks that name an item beyond `items` are left out.
pub fn balance(items: usize, picks: &[Pick]) -> Balance {
    let mut sides = vec![(0, 0); items];
    let mut said = (0, 0, 0);
    for pick in picks.iter().filter(|pick| pick.left < items && pick.right < items) {
        sides[pick.left].0 += 1;
        sides[pick.right].1 += 1;
        match pick.seen {
            Seen::Left => said.0 += 1,
            Seen::Right => said.1 += 1,
            Seen::NoDifference => said.2 += 1,
        }
    }
    let pairs = (0..items).flat_map(|a| (a + 1..items).map(move |b| (a, b)));
    let worst_pair = pairs.map(|(a, b)| ((a, b), in_order(picks, a, b).abs_diff(in_order(picks, b, a))));
    let worst_pair = worst_pair.filter(|(_, off)| *off > 0).max_by_key(|(_, off)| *off);
    let pair = |pick: &Pick| (pick.left.min(pick.right), pick.left.max(pick.right));
    let repeats = picks.windows(2).filter(|two| pair(&two[0]) == pair(&two[1])).count();
    Balance { sides, worst_pair, said, repeats }
}

fn in_order(picks: &[Pick], left: usize, right: usize) -> u32 {
    picks.iter().filter(|pick| (pick.left, pick.right) == (left, right)).count() as u32
}

/// Which of a pair goes to the left and which to the right: the order shown less often; then the item that stood on the left
/// less often; then by chance (the seed together with the number of picks: it can be had again, and the person cannot guess).
pub fn place(pair: (usize, usize), picks: &[Pick], seed: u64) -> (usize, usize) {
    let (a, b) = pair;
    let lead = |item: usize| {
        let left = picks.iter().filter(|pick| pick.left == item).count() as i64;
        left - picks.iter().filter(|pick| pick.right == item).count() as i64
    };
    let order = in_order(picks, a, b).cmp(&in_order(picks, b, a)).then(lead(a).cmp(&lead(b)));
    let turned = order.is_gt() || (order.is_eq() && by_chance(seed, picks.len()));
    if turned { (b, a) } else { (a, b) }
}

fn by_chance(seed: u64, picks: usize) -> bool {
    Chance::new(seed ^ (picks as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15)).below(2) == 1
}
