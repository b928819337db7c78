//! An order of frames that changes the gear little.

use std::collections::HashMap;

/// What stands on the stand for a frame: equal numbers are the same thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Gear {
    /// The lens, and which way round.
    pub lens: u32,
    /// Tubes, bellows, converter.
    pub extension: u32,
    /// Close-up lenses.
    pub close_up: u32,
    /// What the ring is set to.
    pub aperture: u32,
    /// Where it is focused: travel, draw, and the step of a bracket.
    pub focus: u32,
}

/// What changing something costs, in any unit: minutes, or risk of a knock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChangeCosts {
    /// The lens.
    pub lens: u32,
    /// Tubes, bellows, converter.
    pub extension: u32,
    /// Close-up lenses.
    pub close_up: u32,
    /// The ring.
    pub aperture: u32,
    /// The focus.
    pub focus: u32,
}

/// A lens change is refocused and squared up anew, a click of the ring is nothing (common practice, no source).
impl Default for ChangeCosts {
    fn default() -> Self {
        Self { lens: 12, extension: 8, close_up: 5, aperture: 1, focus: 3 }
    }
}

impl ChangeCosts {
    /// What it costs from one frame to the next. The sum over what differs is a distance: a detour never saves anything,
    /// so frames with the same gear belong together.
    pub fn between(&self, p: &Gear, q: &Gear) -> u32 {
        let costs = [self.lens, self.extension, self.close_up, self.aperture, self.focus];
        let all = |g: &Gear| [g.lens, g.extension, g.close_up, g.aperture, g.focus];
        all(p).iter().zip(all(q)).zip(costs).filter(|((p, q), _)| **p != *q).map(|(_, cost)| cost).sum()
    }

    /// What a whole sequence costs.
    pub fn along(&self, gear: &[Gear]) -> u32 {
        gear.windows(2).map(|two| self.between(&two[0], &two[1])).sum()
    }
}

/// An order and what is known of how good it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Ordered {
    /// Places in the list that was given, in their order.
    pub order: Vec<usize>,
    /// What it costs, from `first` through all to `last`.
    pub cost: u32,
    /// No order costs less than this. Equal to the cost where the order is proved the best.
    pub at_least: u32,
}

/// Up to so many different gears the best order is found by dynamic programming: 2ⁿ·n² steps (M. Held and R. M. Karp,
/// *J. SIAM* 10, 1962).
const EXACT: usize = 12;

/// The order that costs least between a first and a last gear, either of which may be left open. Exact for up to twelve
/// different gears; above, a walk around the cheapest tree, improved by turning stretches round and moving frames, and at
/// most twice the best.
pub fn order(gear: &[Gear], ends: [Option<Gear>; 2], costs: &ChangeCosts) -> Ordered {
    let mut places: HashMap<Gear, Vec<usize>> = HashMap::new();
    let mut kinds: Vec<Gear> = Vec::new();
    for (place, one) in gear.iter().enumerate() {
        let known = places.entry(*one).or_default();
        if known.is_empty() {
            kinds.push(*one);
        }
        known.push(place);
    }
    let problem = Walk { kinds: &kinds, ends, costs };
    let tree = problem.tree();
    let (walk, at_least) = if kinds.len() <= EXACT {
        let best = problem.best();
        let cost = problem.cost(&best);
        (best, cost)
    } else {
        let walk = problem.improved(problem.around(&tree));
        (walk, tree.weight)
    };
    let cost = problem.cost(&walk);
    let order = walk.iter().flat_map(|&kind| places[&kinds[kind]].iter().copied()).collect();
    Ordered { order, cost, at_least: at_least.min(cost) }
}

struct Walk<'a> {
    kinds: &'a [Gear],
    ends: [Option<Gear>; 2],
    costs: &'a ChangeCosts,
}

/// The cheapest tree over all gears and ends: no walk can cost less.
struct Tree {
    /// The node that each hangs on, in the order in which they were hung.
    hung: Vec<(usize, usize)>,
    weight: u32,
}

impl Walk<'_> {
    fn between(&self, p: usize, q: usize) -> u32 {
        self.costs.between(&self.kinds[p], &self.kinds[q])
    }

    fn to_end(&self, end: usize, kind: usize) -> u32 {
        self.ends[end].map_or(0, |gear| self.costs.between(&gear, &self.kinds[kind]))
    }

    fn cost(&self, walk: &[usize]) -> u32 {
        let (Some(first), Some(last)) = (walk.first(), walk.last()) else {
            let [Some(p), Some(q)] = self.ends else { return 0 };
            return self.costs.between(&p, &q);
        };
        let inside: u32 = walk.windows(2).map(|two| self.between(two[0], two[1])).sum();
        self.to_end(0, *first) + inside + self.to_end(1, *last)
    }

    /// Held and Karp: the least cost to have seen a set and stand at one of it.
    fn best(&self) -> Vec<usize> {
        let n = self.kinds.len();
        if n == 0 {
            return Vec::new();
        }
        let mut least = vec![vec![(u32::MAX, n); n]; 1 << n];
        for kind in 0..n {
            least[1 << kind][kind] = (self.to_end(0, kind), n);
        }
        for seen in 1usize..1 << n {
            for at in (0..n).filter(|at| seen & (1 << at) != 0) {
                let so_far = least[seen][at].0;
                for next in (0..n).filter(|next| seen & (1 << next) == 0) {
                    let cost = so_far + self.between(at, next);
                    let slot = &mut least[seen | 1 << next][next];
                    if cost < slot.0 {
                        *slot = (cost, at);
                    }
                }
            }
        }
        let mut seen = (1 << n) - 1;
        let last = |at: &usize| least[seen][*at].0 + self.to_end(1, *at);
        let Some(mut at) = (0..n).min_by_key(last) else { return Vec::new() };
        let mut walk = Vec::with_capacity(n);
        while at < n {
            walk.push(at);
            let before = least[seen][at].1;
            seen &= !(1 << at);
            at = before;
        }
        walk.reverse();
        walk
    }

    /// Prim's tree, from the first gear. Node n stands for the first end and n + 1 for the last, where they are given.
    fn tree(&self) -> Tree {
        let n = self.kinds.len();
        let node = |i: usize| if i < n { Some(self.kinds[i]) } else { self.ends[i - n] };
        let mut outside: Vec<(usize, u32, usize)> =
            (0..n + 2).filter(|i| node(*i).is_some()).map(|i| (i, u32::MAX, i)).collect();
        outside.reverse();
        let mut tree = Tree { hung: Vec::new(), weight: 0 };
        let Some((mut newest, ..)) = outside.pop() else { return tree };
        while !outside.is_empty() {
            let Some(new) = node(newest) else { break };
            for (other, cost, on) in &mut outside {
                let now = node(*other).map_or(u32::MAX, |gear| self.costs.between(&new, &gear));
                if now < *cost {
                    (*cost, *on) = (now, newest);
                }
            }
            let Some(nearest) = (0..outside.len()).min_by_key(|&i| (outside[i].1, outside[i].0)) else { break };
            let (node, cost, on) = outside.swap_remove(nearest);
            tree.weight += cost;
            tree.hung.push((node, on));
            newest = node;
        }
        tree
    }

    /// A walk around the tree, each gear at its first sight, the branch with the last end seen last: every branch but the way
    /// to that end is walked twice, and a short cut costs no more, so this is at most twice the tree.
    fn around(&self, tree: &Tree) -> Vec<usize> {
        let n = self.kinds.len();
        let mut beneath: Vec<Vec<usize>> = vec![Vec::new(); n + 2];
        for &(node, on) in &tree.hung {
            beneath[node].push(on);
            beneath[on].push(node);
        }
        let start = if self.ends[0].is_some() { n } else { 0 };
        let way = way_to(&beneath, start, n + 1);
        let (mut walk, mut seen, mut open) = (Vec::new(), vec![false; n + 2], vec![start]);
        while let Some(node) = open.pop() {
            if std::mem::replace(&mut seen[node], true) {
                continue;
            }
            if node < n {
                walk.push(node);
            }
            // What is pushed first is seen last.
            open.extend(beneath[node].iter().filter(|next| way.contains(next)));
            open.extend(beneath[node].iter().rev().filter(|next| !way.contains(next)));
        }
        walk
    }

    /// Turns stretches round and moves single gears as long as that saves something.
    fn improved(&self, mut walk: Vec<usize>) -> Vec<usize> {
        /// Rounds over all pairs at most: each must save something, and few are needed.
        const ROUNDS: usize = 30;
        for _ in 0..ROUNDS {
            let turned = self.turn(&mut walk);
            let moved = self.shift(&mut walk);
            if !turned && !moved {
                break;
            }
        }
        walk
    }

    /// The cost of the joint in front of place `i`, were `before` and `after` its two sides.
    fn joint(&self, before: Option<usize>, after: Option<usize>) -> u32 {
        match (before, after) {
            (Some(p), Some(q)) => self.between(p, q),
            (None, Some(q)) => self.to_end(0, q),
            (Some(p), None) => self.to_end(1, p),
            (None, None) => 0,
        }
    }

    fn turn(&self, walk: &mut [usize]) -> bool {
        let mut saved = false;
        for i in 0..walk.len() {
            for j in i + 1..walk.len() {
                let (before, after) = (i.checked_sub(1).map(|b| walk[b]), walk.get(j + 1).copied());
                let now = self.joint(before, Some(walk[i])) + self.joint(Some(walk[j]), after);
                let then = self.joint(before, Some(walk[j])) + self.joint(Some(walk[i]), after);
                if then < now {
                    walk[i..=j].reverse();
                    saved = true;
                }
            }
        }
        saved
    }

    fn shift(&self, walk: &mut Vec<usize>) -> bool {
        let mut saved = false;
        for i in 0..walk.len() {
            let one = walk[i];
            let (before, after) = (i.checked_sub(1).map(|b| walk[b]), walk.get(i + 1).copied());
            let gain = i64::from(self.joint(before, Some(one)) + self.joint(Some(one), after))
                - i64::from(self.joint(before, after));
            walk.remove(i);
            let price = |place: &usize| {
                let (before, after) = (place.checked_sub(1).map(|b| walk[b]), walk.get(*place).copied());
                i64::from(self.joint(before, Some(one)) + self.joint(Some(one), after))
                    - i64::from(self.joint(before, after))
            };
            let best = (0..=walk.len()).min_by_key(price).filter(|place| price(place) < gain);
            saved |= best.is_some();
            walk.insert(best.unwrap_or(i), one);
        }
        saved
    }
}

/// The nodes of a tree from one to another, both included; empty when there is no way.
fn way_to(beneath: &[Vec<usize>], start: usize, end: usize) -> Vec<usize> {
    let mut from = vec![usize::MAX; beneath.len()];
    let mut open = vec![start];
    from[start] = start;
    while let Some(node) = open.pop() {
        for &next in &beneath[node] {
            if from[next] == usize::MAX {
                from[next] = node;
                open.push(next);
            }
        }
    }
    if from[end] == usize::MAX {
        return Vec::new();
    }
    let mut way = vec![end];
    while let Some(&node) = way.last().filter(|node| **node != start) {
        way.push(from[node]);
    }
    way
}
