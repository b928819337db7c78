//! By order: the scans put in order and laid along the frames.

use crate::align::{Aligned, RULED_OUT, SCAN_LEFT_OVER, cheapest, possible};
use crate::facts::{Film, Fit, Scan, fit, measured};
use crate::sort::{SortBy, sorted};
use crate::{MOST_CANDIDATES, Proposal, Proposals, Reason, Sureness};

/// In which direction the scans run along the frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Direction {
    /// The first scan shows the first frame.
    #[default]
    Forwards,
    /// The first scan shows the last frame of the last roll.
    Backwards,
    /// Roll after roll, each from its last frame to its first.
    RollsBackwards,
}

impl Direction {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Forwards, Self::Backwards, Self::RollsBackwards];

    /// The frames that may have a scan, in the order in which this direction meets them.
    fn walk(self, film: &Film) -> Vec<usize> {
        match self {
            Self::Forwards => film.present().collect(),
            Self::Backwards => film.present().rev().collect(),
            Self::RollsBackwards => {
                let mut frames: Vec<usize> = film.present().collect();
                frames.chunk_by_mut(|a, b| film.frames[*a].roll == film.frames[*b].roll).for_each(<[usize]>::reverse);
                frames
            }
        }
    }
}

/// How the scans are put in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Order {
    /// By what.
    pub by: SortBy,
    /// In which direction they run along the frames.
    pub direction: Direction,
}

/// A frame that is only planned, where others are logged as taken, is shown only for better reasons: dearer than a place
/// where frames are skipped.
const NOT_TAKEN: f64 = 6.0;
/// So much cheaper must another direction be before it is named: two scans that find no frame in the one that was asked for.
const CLEARLY: f64 = 2.0 * SCAN_LEFT_OVER;

/// Proposes frames by the order of the scans and by what was measured in them.
///
/// Sure is what holds in every way to lay the scans along the frames, in any direction, each scan on another frame, none ruled
/// out by its measured magnification, where that magnification also agrees. Without measurements nothing is sure.
pub fn by_order(film: &Film, scans: &[Scan], order: Order) -> Proposals {
    let in_order = sorted(scans, order.by);
    let lanes: Vec<Lane<'_>> = Direction::ALL.iter().map(|way| Lane::new(film, scans, &in_order, *way)).collect();
    let asked = lanes.iter().position(|lane| lane.direction == order.direction).unwrap_or_default();
    let asked = &lanes[asked];
    let laid = asked.lay();
    let may_show = everything_possible(&lanes);
    let found = Laid { holds: asked.holds(&asked.walk), shown: laid.frames.clone() };
    let proposals = in_order.iter().enumerate().map(|(place, scan)| {
        let reason = Reason::Place { place: place + 1, of: in_order.len(), by: order.by };
        asked.proposal(place, *scan, &found, &may_show[place], reason)
    });
    Proposals {
        proposals: proposals.collect(),
        may_be_missing: asked.may_be_missing(),
        better: better(&lanes, asked, &laid),
        without_scan: asked.without_scan(&laid),
    }
}

/// For each place in order, every frame that some direction allows; empty everywhere when no way at all is left.
fn everything_possible(lanes: &[Lane<'_>]) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![Vec::new(); lanes[0].scans.len()];
    for lane in lanes {
        for (place, frames) in lane.possible().into_iter().enumerate() {
            all[place].extend(frames);
        }
    }
    for frames in &mut all {
        frames.sort_unstable();
        frames.dedup();
    }
    all
}

fn better(lanes: &[Lane<'_>], asked: &Lane<'_>, laid: &Aligned) -> Option<Direction> {
    let others = lanes.iter().filter(|lane| lane.walk != asked.walk).map(|lane| (lane.lay().cost, lane.direction));
    let best = others.min_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 + CLEARLY <= laid.cost).then_some(best.1)
}

/// Scans laid along frames.
struct Laid {
    /// Every scan can show another frame, in this order, without one that was ruled out.
    holds: bool,
    shown: Vec<Option<usize>>,
}

/// Scans in order beside the frames in one direction.
struct Lane<'a> {
    film: &'a Film,
    scans: Vec<&'a Scan>,
    direction: Direction,
    walk: Vec<usize>,
    some_taken: bool,
}

impl<'a> Lane<'a> {
    fn new(film: &'a Film, scans: &'a [Scan], in_order: &[usize], direction: Direction) -> Self {
        let some_taken = film.frames.iter().any(|frame| frame.taken);
        let scans = in_order.iter().map(|scan| &scans[*scan]).collect();
        Self { film, scans, direction, walk: direction.walk(film), some_taken }
    }

    fn lay(&self) -> Aligned {
        cheapest(self.scans.len(), self.walk.len(), |place, step| self.cost(place, step))
    }

    /// The squared distance between measured and planned size, in half-widths: what a sum of squares would weigh.
    fn cost(&self, place: usize, step: usize) -> f64 {
        let (scan, frame) = (self.scans[place], &self.film.frames[self.walk[step]]);
        let size = match (scan.size, frame.size) {
            (Some(a), Some(b)) if a.fit(b) == Fit::Disagrees => RULED_OUT,
            (Some(a), Some(b)) => 4.0 * a.apart(b).powi(2),
            _ => 0.0,
        };
        size + if self.some_taken && !frame.taken { NOT_TAKEN } else { 0.0 }
    }

    fn allowed(&self, place: usize, frame: usize) -> bool {
        fit(self.scans[place], &self.film.frames[frame]) != Some(Fit::Disagrees)
    }

    /// Whether the scans can lie along these frames at all, one each.
    fn holds(&self, walk: &[usize]) -> bool {
        let mut frames = walk.iter();
        (0..self.scans.len()).all(|place| frames.any(|frame| self.allowed(place, *frame)))
    }

    /// Frames without which the scans still lie along the others.
    fn may_be_missing(&self) -> Vec<usize> {
        if self.scans.is_empty() || self.scans.len() >= self.walk.len() {
            return Vec::new();
        }
        let holds_without = |missing: &usize| {
            let others: Vec<usize> = self.walk.iter().copied().filter(|frame| frame != missing).collect();
            self.holds(&others)
        };
        let mut missing: Vec<usize> = self.walk.iter().copied().filter(holds_without).collect();
        missing.sort_unstable();
        missing
    }

    /// For each place the frames that this direction allows.
    fn possible(&self) -> Vec<Vec<usize>> {
        let steps = possible(self.scans.len(), self.walk.len(), |place, step| self.allowed(place, self.walk[step]));
        steps.into_iter().map(|steps| steps.into_iter().map(|step| self.walk[step]).collect()).collect()
    }

    fn proposal(&self, place: usize, scan: usize, laid: &Laid, may_show: &[usize], reason: Reason) -> Proposal {
        let Some(frame) = laid.shown[place].map(|step| self.walk[step]) else {
            return Proposal { reasons: vec![reason, Reason::LeftOver], ..Proposal::nothing(scan, Reason::LeftOver) };
        };
        let (known, facts) = (self.scans[place], &self.film.frames[frame]);
        let found = fit(known, facts);
        let mut reasons = vec![reason];
        reasons.extend(measured(known, facts));
        let only = may_show == [frame];
        if only {
            reasons.push(Reason::OnlyOne);
        }
        let sureness = match found {
            Some(Fit::Agrees) if only => Sureness::Sure,
            Some(Fit::Disagrees) => Sureness::Open,
            // As many scans as frames: the order alone tells, and nothing speaks against it.
            _ if laid.holds && (only || self.scans.len() == self.walk.len()) => Sureness::Likely,
            _ => Sureness::Open,
        };
        let mut candidates = may_show.to_vec();
        if !candidates.contains(&frame) {
            candidates.insert(0, frame);
        }
        let candidates_in_all = candidates.len();
        if let Some(at) = candidates.iter().position(|one| *one == frame) {
            candidates.swap(0, at);
        }
        candidates.truncate(MOST_CANDIDATES);
        Proposal { scan, frame: Some(frame), sureness, candidates, candidates_in_all, reasons }
    }

    fn without_scan(&self, laid: &Aligned) -> Vec<usize> {
        let mut shown = vec![false; self.walk.len()];
        laid.frames.iter().flatten().for_each(|step| shown[*step] = true);
        let mut without: Vec<usize> =
            self.walk.iter().zip(&shown).filter(|(_, shown)| !**shown).map(|(frame, _)| *frame).collect();
        without.sort_unstable();
        without
    }
}
