//! Scans laid along frames so that both keep their order.

/// What it costs that a scan shows none of the frames: dearer than any doubtful match, cheaper than one that disagrees.
pub(crate) const SCAN_LEFT_OVER: f64 = 15.0;
/// A match that what was measured rules out.
pub(crate) const RULED_OUT: f64 = 40.0;
/// A place where frames are skipped begins: one shift explains more than several.
const GAP: f64 = 4.0;
/// Each frame that is skipped.
const SKIPPED: f64 = 0.5;
/// A frame skipped before the first or after the last scan, where a roll is often not full.
const SKIPPED_AT_END: f64 = 0.25;

/// For each scan its frame, both counted from 0, and what that costs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Aligned {
    pub frames: Vec<Option<usize>>,
    pub cost: f64,
}

/// The step by which a cell of the table was reached.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Step {
    Begin,
    Match,
    Gap,
    LeftOver,
}

/// A way to reach a place in the table: what it costs, its last step, and whether that step began in a gap.
#[derive(Debug, Clone, Copy)]
struct Reached {
    cost: f64,
    step: Step,
    from_gap: bool,
}

const NEVER: Reached = Reached { cost: f64::INFINITY, step: Step::Begin, from_gap: false };

/// The table of least costs: of the first `k` scans on the first `i` frames, ending with a frame that is shown (or with
/// nothing yet), and ending in a gap.
struct Table {
    scans: usize,
    frames: usize,
    cells: Vec<[Reached; 2]>,
}

impl Table {
    fn of(scans: usize, frames: usize, cost: impl Fn(usize, usize) -> f64) -> Self {
        let mut table = Self { scans, frames, cells: Vec::with_capacity((scans + 1) * (frames + 1)) };
        for k in 0..=scans {
            for i in 0..=frames {
                table.cells.push(table.reach(k, i, &cost));
            }
        }
        table
    }

    fn at(&self, scan: usize, frame: usize, gap: bool) -> Reached {
        self.cells[scan * (self.frames + 1) + frame][usize::from(gap)]
    }

    /// The cheapest ways to a place. Of equals the one that comes out of a gap: then frames are shown as early as may be.
    fn reach(&self, k: usize, i: usize, cost: &impl Fn(usize, usize) -> f64) -> [Reached; 2] {
        let begin = Reached { cost: 0.0, ..NEVER };
        let mut cell = if (k, i) == (0, 0) { [begin, NEVER] } else { [NEVER, NEVER] };
        let mut offer = |gap: bool, cost: f64, step: Step, from_gap: bool| {
            if cost < cell[usize::from(gap)].cost {
                cell[usize::from(gap)] = Reached { cost, step, from_gap };
            }
        };
        // At either end of the roll a gap begins for nothing.
        let at_end = k == 0 || k == self.scans;
        let skipped = if at_end { SKIPPED_AT_END } else { SKIPPED };
        for from_gap in [true, false] {
            if k > 0 && i > 0 {
                offer(false, self.at(k - 1, i - 1, from_gap).cost + cost(k - 1, i - 1), Step::Match, from_gap);
            }
            if k > 0 {
                offer(from_gap, self.at(k - 1, i, from_gap).cost + SCAN_LEFT_OVER, Step::LeftOver, from_gap);
            }
            if i > 0 {
                let begin = if from_gap || at_end { 0.0 } else { GAP };
                offer(true, self.at(k, i - 1, from_gap).cost + begin + skipped, Step::Gap, from_gap);
            }
        }
        cell
    }

    fn walk_back(&self) -> Aligned {
        let (mut k, mut i) = (self.scans, self.frames);
        let mut gap = self.at(k, i, true).cost <= self.at(k, i, false).cost;
        let cost = self.at(k, i, gap).cost;
        let mut shown = vec![None; k];
        while (k, i) != (0, 0) {
            let reached = self.at(k, i, gap);
            match reached.step {
                Step::Match => {
                    (k, i) = (k - 1, i - 1);
                    shown[k] = Some(i);
                }
                Step::LeftOver => k -= 1,
                Step::Gap => i -= 1,
                Step::Begin => break,
            }
            gap = reached.from_gap;
        }
        Aligned { frames: shown, cost }
    }
}

/// The cheapest way to lay `scans` along `frames`; `cost` says what it costs that a scan shows a frame. Of equals the one with
/// the earliest frames.
pub(crate) fn cheapest(scans: usize, frames: usize, cost: impl Fn(usize, usize) -> f64) -> Aligned {
    Table::of(scans, frames, cost).walk_back()
}

/// For each scan the frames that it can show when every scan shows another one, in this order, and none that `allowed` rules
/// out. Empty where there is no such way.
pub(crate) fn possible(scans: usize, frames: usize, allowed: impl Fn(usize, usize) -> bool) -> Vec<Vec<usize>> {
    if scans > frames {
        return vec![Vec::new(); scans];
    }
    // The earliest frame of each scan, going forwards, and the latest, going backwards. Every allowed frame between them is
    // possible: the scans before can take their earliest ones, those after their latest.
    let mut earliest = Vec::with_capacity(scans);
    let mut next = 0;
    for k in 0..scans {
        match (next..frames).find(|i| allowed(k, *i)) {
            Some(i) => (earliest.push(i), next = i + 1),
            None => return vec![Vec::new(); scans],
        };
    }
    let mut latest = vec![0; scans];
    let mut end = frames;
    for k in (0..scans).rev() {
        // There is one: the earliest way exists.
        latest[k] = (0..end).rfind(|i| allowed(k, *i)).unwrap_or(earliest[k]);
        end = latest[k];
    }
    (0..scans).map(|k| (earliest[k]..=latest[k]).filter(|i| allowed(k, *i)).collect()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every way to lay `scans` along `frames`, one frame each, in order.
    fn every_way(scans: usize, frames: usize) -> Vec<Vec<usize>> {
        if scans == 0 {
            return vec![Vec::new()];
        }
        let shorter = every_way(scans - 1, frames);
        let longer = shorter.iter().flat_map(|way| {
            let from = way.last().map_or(0, |last| last + 1);
            (from..frames).map(|i| way.iter().copied().chain([i]).collect())
        });
        longer.collect()
    }

    proptest::proptest! {
        #[test]
        fn what_is_possible_is_what_every_way_together_shows(
            scans in 0usize..5, frames in 0usize..7, ruled_out in proptest::collection::vec(proptest::bool::ANY, 35),
        ) {
            let allowed = |k: usize, i: usize| ruled_out[k * 7 + i];
            let ways = every_way(scans, frames);
            let kept: Vec<_> = ways.iter().filter(|way| way.iter().enumerate().all(|(k, i)| allowed(k, *i))).collect();
            let found = possible(scans, frames, allowed);
            for k in 0..scans {
                let mut shown: Vec<usize> = kept.iter().map(|way| way[k]).collect();
                shown.sort_unstable();
                shown.dedup();
                assert_eq!(found[k], shown, "scan {k}");
            }
        }

        #[test]
        fn the_cheapest_way_keeps_the_order_and_nothing_is_cheaper(
            scans in 0usize..5, frames in 0usize..6, costs in proptest::collection::vec(0.0f64..50.0, 30),
        ) {
            let cost = |k: usize, i: usize| costs[k * 6 + i];
            let found = cheapest(scans, frames, cost);
            assert!(found.frames.iter().flatten().is_sorted_by(|a, b| a < b));
            testkit::assert_close!(price(&found.frames, frames, cost), found.cost, absolute = 1e-9);
            // Every way in which every scan shows a frame, and the one in which none does.
            let none = vec![None; scans];
            let ways = every_way(scans, frames).into_iter().map(|way| way.into_iter().map(Some).collect()).chain([none]);
            for way in ways {
                assert!(found.cost <= price(&way, frames, cost) + 1e-9, "{way:?}");
            }
        }
    }

    /// The price of a way, counted afresh from what the constants say.
    fn price(way: &[Option<usize>], frames: usize, cost: impl Fn(usize, usize) -> f64) -> f64 {
        let matched: Vec<(usize, usize)> = way.iter().enumerate().filter_map(|(k, i)| Some((k, (*i)?))).collect();
        let mut sum = SCAN_LEFT_OVER * (way.len() - matched.len()) as f64;
        sum += matched.iter().map(|(k, i)| cost(*k, *i)).sum::<f64>();
        let first = matched.first().map_or(frames, |(_, i)| *i);
        sum += SKIPPED_AT_END * first as f64;
        if let Some((_, last)) = matched.last() {
            sum += SKIPPED_AT_END * (frames - 1 - last) as f64;
        }
        for pair in matched.windows(2) {
            let skipped = pair[1].1 - pair[0].1 - 1;
            if skipped > 0 {
                sum += GAP + SKIPPED * skipped as f64;
            }
        }
        sum
    }
}
