//! The set-ups that nothing else beats.

use crate::choice::Choice;
use std::collections::HashMap;

/// Something that set-ups are compared in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Axis {
    /// Light lost, stops: less is better.
    LightLost,
    /// Room in front of the set-up, mm: more is better, infinite best.
    WorkingDistance,
    /// Lenses added: fewer is better.
    GlassAdded,
    /// The most depth that one exposure holds, mm: more is better.
    Depth,
    /// Past the lens's own close range: less is better, and within it is all the same.
    PastCloseRange,
    /// Enlargement of the film for the print: less is better.
    Enlargement,
}

/// The difference that does not count.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Hair {
    /// So much, in the axis's own unit.
    Absolute(f64),
    /// That share.
    Relative(f64),
}

impl Axis {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::LightLost,
        Self::WorkingDistance,
        Self::GlassAdded,
        Self::Depth,
        Self::PastCloseRange,
        Self::Enlargement,
    ];

    /// What a photographer calls it.
    pub fn label(self) -> &'static str {
        match self {
            Self::LightLost => "light lost",
            Self::WorkingDistance => "working distance",
            Self::GlassAdded => "glass added",
            Self::Depth => "depth in one exposure",
            Self::PastCloseRange => "past the lens's close range",
            Self::Enlargement => "enlargement",
        }
    }

    /// Its unit, empty for a plain ratio or number.
    pub fn unit(self) -> &'static str {
        match self {
            Self::LightLost => "stops",
            Self::WorkingDistance | Self::Depth => "mm",
            Self::GlassAdded | Self::PastCloseRange | Self::Enlargement => "",
        }
    }

    /// Whether more is better.
    pub fn more_is_better(self) -> bool {
        matches!(self, Self::WorkingDistance | Self::Depth)
    }

    /// The width of the cells that figures are sorted into before they are compared (common practice, no source: what a
    /// photographer could not set or see anyway).
    ///
    /// Cells, and not "closer than a hair", because closeness does not carry over: of three figures the first may be close to
    /// the second and the second to the third, and who beats whom would depend on who is asked first. The price is that
    /// two figures closer than a hair count as different when a border runs between them.
    pub fn hair(self) -> Hair {
        match self {
            Self::LightLost => Hair::Absolute(0.05),
            Self::WorkingDistance | Self::GlassAdded => Hair::Absolute(1.0),
            Self::Depth => Hair::Relative(0.02),
            Self::PastCloseRange | Self::Enlargement => Hair::Relative(0.01),
        }
    }

    /// The figure of a set-up; `None` when infinite.
    pub fn figure(self, choice: &Choice) -> Option<f64> {
        match self {
            Self::LightLost => Some(choice.candidate.stops_lost),
            Self::WorkingDistance => choice.candidate.working_distance_mm,
            Self::GlassAdded => Some(choice.candidate.glass_added as f64),
            Self::Depth => Some(choice.depth_mm),
            Self::PastCloseRange => Some(choice.candidate.past_close_range.max(1.0)),
            Self::Enlargement => Some(choice.negative.enlargement),
        }
    }

    /// The number of the cell, less being better.
    fn cell(self, choice: &Choice) -> i64 {
        let figure = self.figure(choice).unwrap_or(f64::INFINITY);
        let cells = match self.hair() {
            Hair::Absolute(hair) => figure / hair,
            // Cells as wide as that share all along: equal steps of the logarithm.
            Hair::Relative(hair) => figure.ln() / hair.ln_1p(),
        };
        // The cast holds the infinite at the ends of an i64.
        let cell = cells.round() as i64;
        if self.more_is_better() { cell.saturating_neg() } else { cell }
    }
}

/// A set-up that another one beats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dominated {
    /// Its place in the list.
    pub index: usize,
    /// The place of one that is at least as good in everything and better in something; itself beaten by none.
    pub by: usize,
}

/// Which set-ups nothing else beats.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Front {
    /// Their places in the list, ascending. Equal ones are all there.
    pub members: Vec<usize>,
    /// All others, ascending.
    pub dominated: Vec<Dominated>,
}

/// The cells of one set-up, axes that are not asked for being all alike.
type Cells = [i64; Axis::ALL.len()];

fn cells(choice: &Choice, axes: &[Axis]) -> Cells {
    Axis::ALL.map(|axis| if axes.contains(&axis) { axis.cell(choice) } else { 0 })
}

fn at_least_as_good(p: &Cells, q: &Cells) -> bool {
    p.iter().zip(q).all(|(p, q)| p <= q)
}

/// Whether `p` beats `q`: at least as good on every axis and better on one, differences below [`Axis::hair`] aside. A strict
/// partial order.
pub fn dominates(p: &Choice, q: &Choice, axes: &[Axis]) -> bool {
    let (p, q) = (cells(p, axes), cells(q, axes));
    p != q && at_least_as_good(&p, &q)
}

/// The set-ups that nothing else beats on these axes, and by which one each other is beaten.
///
/// Exact. Equal ones are put together first, and the rest sorted so that whatever beats one comes before it; each is then
/// compared with the front so far only, because what is beaten by a beaten one is beaten by a member too.
pub fn front(choices: &[Choice], axes: &[Axis]) -> Front {
    let all: Vec<Cells> = choices.iter().map(|choice| cells(choice, axes)).collect();
    let mut order: Vec<usize> = (0..choices.len()).collect();
    order.sort_by_key(|&index| (all[index], index));
    // The first of each kind stands for all that equal it.
    order.dedup_by_key(|index| all[*index]);
    let mut best: Vec<usize> = Vec::new();
    let mut fate: HashMap<Cells, Option<usize>> = HashMap::with_capacity(order.len());
    for index in order {
        let by = best.iter().copied().find(|&member| at_least_as_good(&all[member], &all[index]));
        if by.is_none() {
            best.push(index);
        }
        fate.insert(all[index], by);
    }
    let mut front = Front { members: Vec::new(), dominated: Vec::new() };
    for (index, cells) in all.iter().enumerate() {
        match fate[cells] {
            None => front.members.push(index),
            Some(by) => front.dominated.push(Dominated { index, by }),
        }
    }
    front
}

/// Beaten set-ups that are worth choosing after all, once something more is known of some than the axes say; in the order in which they
/// are found, which is that of their figures.
///
/// `members` is the front; `surely_better(p, q)` says that `p` is better than `q` in some of what more is known, beyond all doubt, and
/// says no where of either nothing more is known. A set-up is reprieved when it is surely better than every member, and every one that
/// was reprieved before it, that is at least as good as it on the axes. So nothing that was worth choosing is lost, and doubt adds
/// nothing.
pub fn reprieved(
    choices: &[Choice],
    axes: &[Axis],
    members: &[usize],
    surely_better: &dyn Fn(usize, usize) -> bool,
) -> Vec<usize> {
    let all: Vec<Cells> = choices.iter().map(|choice| cells(choice, axes)).collect();
    let mut order: Vec<usize> = (0..choices.len()).filter(|index| !members.contains(index)).collect();
    // Whatever is at least as good as one comes before it.
    order.sort_by_key(|&index| (all[index], index));
    let mut worth = members.to_vec();
    for index in order {
        let mut beaters = worth.iter().filter(|&&by| at_least_as_good(&all[by], &all[index]));
        if beaters.all(|&by| surely_better(index, by)) {
            worth.push(index);
        }
    }
    worth.split_off(members.len())
}
