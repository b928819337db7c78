//! What comes near a wanted magnification without reaching it, and what it lacks.

use crate::arrange::Group;
use crate::reach::{Miss, Place, Span};
use crate::schema::Kind;
use crate::solve::{Prepared, SolvedHead, Stack, Stretch};
use std::ops::Range;

/// More extension than this nobody puts together (common practice, no source).
const MOST_MORE_MM: f64 = 300.0;

/// Two mounts back to back (common practice, no source).
const SHORTEST_TUBE_MM: f64 = 5.0;

/// More near misses than this help nobody choose.
const SHOWN: usize = 20;

/// Up to so many pairs of head and arrangement each is looked at; beyond, only those next to what reaches.
const FEW: usize = 20_000;

/// Close-up lenses are sold in powers up to about this, dpt (common practice, no source).
const STRONGEST_DPT: f64 = 10.0;

/// The nearest misses so far.
pub(crate) struct Misses {
    wanted: f64,
    all: bool,
    found: Vec<(f64, Miss)>,
    /// How far off the worst that is still worth keeping is, as a share of the wanted magnification.
    worst_share: f64,
}

impl Misses {
    /// `pairs`: how many stacks there are to look at.
    pub fn new(wanted: f64, pairs: usize) -> Self {
        Self { wanted, all: pairs <= FEW, found: Vec::new(), worst_share: f64::INFINITY }
    }

    pub fn add(&mut self, miss: (f64, Miss)) {
        self.found.push(miss);
        if self.found.len() > 50 * SHOWN {
            self.keep_nearest();
        }
    }

    fn keep_nearest(&mut self) {
        self.sort();
        self.worst_share = self.worst().exp_m1();
    }

    fn sort(&mut self) {
        self.found.sort_by(|(a, p), (b, q)| a.total_cmp(b).then(p.parts.len().cmp(&q.parts.len())));
        self.found.truncate(SHOWN);
    }

    /// The worst that is still worth keeping.
    fn worst(&self) -> f64 {
        if self.found.len() < SHOWN { f64::INFINITY } else { self.found[SHOWN - 1].0 }
    }

    pub fn nearest(mut self) -> Vec<Miss> {
        self.keep_nearest();
        self.found.into_iter().map(|(_, miss)| miss).collect()
    }

    /// The classes of a group beside those that reach, `reaching`: all of them in a small kit, else the nearest on
    /// either side.
    pub fn around(
        &mut self,
        place: &Place<'_>,
        (prepared, group, head): (&Prepared<'_, '_>, &Group<'_>, &SolvedHead<'_>),
        stretches: [Option<Stretch>; 2],
        reaching: [&Range<usize>; 2],
    ) {
        let count = group.classes.len();
        if self.all {
            for index in (0..count).filter(|index| !reaching.iter().any(|range| range.contains(index))) {
                self.look(place, (group, head), index);
            }
            return;
        }
        let (stretch, reaching) = (stretches[0], reaching[0]);
        // Without a stretch the subject would touch the front at any length, or nothing is ever sharp: one example will
        // do.
        let Some(stretch) = stretch else {
            if self.found.len() < SHOWN && group.converter.is_none() {
                self.look(place, (group, head), 0);
            }
            return;
        };
        let (per_mm, share) = (prepared.per_mm(head) / self.wanted, self.worst_share);
        let far_off = |by: f64| (per_mm * by).abs() > share;
        let before = reaching.start.checked_sub(1);
        let before = before.filter(|&i| !far_off(stretch.least - group.classes[i].front.min));
        let after = Some(reaching.end).filter(|&i| i < count && !far_off(group.classes[i].front.min - stretch.most));
        for index in before.into_iter().chain(after) {
            self.look(place, (group, head), index);
        }
        // Often, so that what is farther off is soon known to be.
        if self.found.len() > SHOWN + 4 {
            self.keep_nearest();
        }
    }

    /// A stack that was looked at by itself: in a large kit only what could be among the nearest is told.
    pub fn consider(&mut self, place: &Place<'_>, stack: &Stack<'_, '_>) {
        if !self.all {
            // Lenses that focus inside alone: of what is neither that nor a stretch there is too much, and none is the remedy.
            if stack.head.inside.is_empty() {
                return;
            }
            if !self.is_near(stack) {
                return;
            }
        }
        if let Some(miss) = one_miss(place, stack, self.wanted) {
            self.add(miss);
        }
    }

    /// Whether a stack could be among the nearest misses; one in which nothing is ever sharp only while there are few.
    fn is_near(&self, stack: &Stack<'_, '_>) -> bool {
        stack.span().map_or(self.found.len() < SHOWN, |(min, max)| {
            let off = if self.wanted > max { (self.wanted / max).ln() } else { (min / self.wanted).ln() };
            off < self.worst()
        })
    }

    fn look(&mut self, place: &Place<'_>, (group, head): (&Group<'_>, &SolvedHead<'_>), index: usize) {
        let stack = Stack { register: place.register, group, class: &group.classes[index], head };
        if !self.all && !self.is_near(&stack) {
            return;
        }
        if let Some(miss) = one_miss(place, &stack, self.wanted) {
            self.add(miss);
        }
    }
}

/// How far a stack is from the wanted magnification (as a logarithm), and what it lacks.
fn one_miss(place: &Place<'_>, stack: &Stack<'_, '_>, wanted: f64) -> Option<(f64, Miss)> {
    let parts = std::iter::once(&place.body).chain(&stack.class.parts).chain(&stack.head.parts);
    let parts: Vec<String> = parts.map(|part| part.id().to_owned()).collect();
    let Some((min, max)) = stack.span() else { return Some((f64::INFINITY, blocked(stack, parts)?)) };
    let magnification = Span { min, max };
    if magnification.holds(wanted) {
        return None;
    }
    let off = if wanted > max { (wanted / max).ln() } else { (min / wanted).ln() };
    let more = stack.more_for(wanted)?;
    let why = if wanted < min {
        too_much(stack, (min, wanted), -(more + stack.slack()))
    } else if stack.touches(wanted) {
        format!("reaches {}× at most: at {wanted}× the subject would lie inside the set-up", size(max))
    } else {
        format!("reaches {}× at most; {}", size(max), too_little(stack, more, wanted))
    };
    Some((off, Miss { parts, magnification, why }))
}

/// What would bring the magnification up: a tube of whole millimetres where the focusing travel or the bellows takes up
/// the rest, the length itself where nothing does; a close-up lens where the front is free.
fn too_little(stack: &Stack<'_, '_>, more: f64, wanted: f64) -> String {
    // A millionth is rounding and must not cost a whole millimetre.
    let longest = (more + stack.slack() + 1e-6).min(MOST_MORE_MM).floor();
    // No tube is thinner than its two mounts, when a longer one does as well.
    let shortest = (more - 1e-6).ceil().max(SHORTEST_TUBE_MM.min(longest));
    let tube = if more.is_nan() || more > MOST_MORE_MM {
        "that is out of reach with this lens; a shorter one would do".into()
    } else if shortest < longest {
        format!("a tube of {shortest} to {longest} mm would do")
    } else if shortest == longest {
        format!("a tube of {shortest} mm would do")
    } else {
        format!("{more:.1} mm more extension would do")
    };
    match power(stack, wanted) {
        Some((weakest, strongest)) => format!("{tube}, or a close-up lens of +{weakest:.1} to +{strongest:.1} dpt"),
        None => tube,
    }
}

/// The powers of a close-up lens that would bring a bare lens to the wanted magnification, from its closest mark to
/// infinity.
fn power(stack: &Stack<'_, '_>, wanted: f64) -> Option<(f64, f64)> {
    let bare = stack.head.parts.len() == 1 && stack.class.parts.is_empty();
    let lens = stack.head.parts.first().filter(|lens| bare && lens.number("thread_mm").is_some())?;
    let (focal, gap) = (lens.number("focal_length_mm")?, Kind::CloseUpLens.field("gap_mm")?.absent?.value);
    let (_, closest) = stack.span()?;
    // m = m0(1 + D(u − s)), u − s being what is free in front of the rim less the gap.
    let free = stack.room_at(&stack.setting(closest)?)? - gap;
    // To the tenth that still does.
    let weakest = (1e4 * (wanted / closest - 1.0) / free).ceil() / 10.0;
    let strongest = (1e4 * wanted / focal).floor() / 10.0;
    (weakest > 0.0 && weakest < strongest && weakest < STRONGEST_DPT).then_some((weakest, strongest.min(STRONGEST_DPT)))
}

/// What would bring the magnification down: less extension where there is as much, something else where not.
fn too_much(stack: &Stack<'_, '_>, (least, wanted): (f64, f64), less: f64) -> String {
    let close_ups = stack.head.parts.iter().any(|part| part.kind() == Kind::CloseUpLens);
    let [rear, front] = stack.shortest_extension();
    let less_behind = stack.less_behind(least, wanted).filter(|less| *less <= rear);
    let remedy = match less_behind {
        _ if less <= front => format!("{less:.1} mm less extension would do"),
        Some(less) => format!("{less:.1} mm less extension behind the converter would do"),
        None if close_ups => "a weaker close-up lens, or none, would do".into(),
        None => "another lens would do".into(),
    };
    format!("goes no lower than {}×; {remedy}", size(least))
}

fn blocked(stack: &Stack<'_, '_>, parts: Vec<String>) -> Option<Miss> {
    let missing = stack.more_for(0.0).filter(|more| *more > 0.0);
    let cause = missing.map(|more| format!(": the lens sits {more:.1} mm too near the film"));
    let why = format!("nothing in front of it can be sharp{}", cause.unwrap_or_default());
    Some(Miss { parts, magnification: Span { min: 0.0, max: 0.0 }, why })
}

/// A size to three places; one of a kit of nonsense by powers of ten, as nobody counts its digits.
fn size(magnification: f64) -> String {
    if magnification < 1e6 { format!("{magnification:.3}") } else { format!("{magnification:.3e}") }
}
