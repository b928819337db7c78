//! What of a group, by its lengths in front, reaches a magnification: one stretch of a sorted list instead of stack by stack.

use super::{Behind, Point, SolvedHead, Stack, light_lost};
use crate::arrange::{Class, Group};
use crate::reach::Span;
use optics::RayMatrix;
use std::ops::Range;

/// The stretch of lengths in front for which a group's stacks reach a magnification.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    /// The shortest front length may be at most this.
    pub most: f64,
    /// The shortest front length must be at least this.
    pub least: f64,
    /// Rear lengths between which it is reached, as shares of the group's slack, and the front length there.
    ends: [(f64, f64); 2],
}

/// A group with what stands behind its heads worked out once for all of them.
pub(crate) struct Prepared<'s, 'a> {
    group: &'s Group<'a>,
    /// With the shortest rear length, and with the longest.
    behind: [Behind; 2],
    /// The shortest front length of all, and the longest.
    lengths: [f64; 2],
}

impl<'s, 'a> Prepared<'s, 'a> {
    /// `None` for a group with a converter that cannot be.
    pub fn of(register: f64, group: &'s Group<'a>) -> Option<Self> {
        let behind = |rear| Behind::of(register, group.numbers.as_ref(), rear);
        let (first, last) = (group.classes.first()?, group.classes.last()?);
        let lengths = [first.front.min, last.front.max()];
        Some(Self { group, behind: [behind(group.rear.min)?, behind(group.rear.max())?], lengths })
    }

    /// What stands behind with a share of the rear slack drawn out: every entry of the matrix is a straight line in it.
    fn behind(&self, share: f64) -> RayMatrix<f64> {
        let [p, q] = [self.behind[0].matrix, self.behind[1].matrix];
        let at = |p: f64, q: f64| p + share * (q - p);
        RayMatrix { a: at(p.a, q.a), b: at(p.b, q.b), c: at(p.c, q.c), d: at(p.d, q.d) }
    }

    /// Whether any class could lie in a stretch.
    fn meets(&self, least: f64, most: f64) -> bool {
        most >= self.lengths[0] && least <= self.lengths[1]
    }

    /// The stretches of lengths in front that reach a magnification with a head; `None` where they are no stretches.
    ///
    /// With no bellows behind the converter, a head that moves as a whole reaches a magnification at one length only with the
    /// picture inverted, and at one with it upright; whether something real is sharp there, and clears the front, is the same for
    /// the whole group. With one, that holds as far as [`is_stretch`] says.
    pub fn reaching(&self, register: f64, head: &SolvedHead<'_>, wanted: f64) -> Option<[Option<Stretch>; 2]> {
        if !head.inside.is_empty() {
            return None;
        }
        if self.group.rear.slack > 0.0 {
            let [first, last] = [&self.behind[0], &self.behind[1]].map(|behind| behind.line(&head.far.matrix));
            // Far from what the group can do, nothing finer has to be asked.
            let long = self.lengths[1] + head.travel;
            let all = [first.0 + first.1 * self.lengths[0], last.0 + last.1 * long];
            if first.1 > 0.0
                && last.1 > 0.0
                && all[0] > 0.0
                && (wanted < 0.999 * all[0].min(all[1]) || wanted > 1.001 * all[1].max(all[0]))
                && bends_together(head)
            {
                return Some([None, None]);
            }
            return is_stretch(register, self.group, head).then(|| [self.drawn(head, wanted), None]);
        }
        let (from, slope) = self.behind[0].line(&head.far.matrix);
        if slope.abs() < AFOCAL_PER_MM {
            return None;
        }
        let at = |signed: f64| {
            let length = (signed - from) / slope;
            let hair = (signed * ROUNDING / slope).abs();
            let (most, least) = (length + hair, length - hair - head.travel - self.group.front_slack);
            let m = self.behind[0].matrix.after(RayMatrix::path(length)).after(head.far.matrix);
            let point = Point { a: m.a, b: m.b, b_front: m.b + head.far.nose * m.a };
            point.works().then_some(Stretch { most, least, ends: [(0.0, length); 2] })
        };
        // What nothing in the group comes near needs no closer look, but that it is there is asked by the misses.
        Some([at(wanted), at(-wanted)])
    }

    /// The stretch of a group with a bellows behind the converter: the magnification grows with every length.
    fn drawn(&self, head: &SolvedHead<'_>, wanted: f64) -> Option<Stretch> {
        let factors = [self.behind[0].factor(), self.behind[1].factor()];
        // The subject clears the front where the head alone magnifies less than `touch`: the converter must do the rest.
        let needed = wanted * (1.0 - ROUNDING) / head.far.touch;
        let mut first = 0.0;
        if factors[0] < needed {
            first = (needed - factors[0]) / (factors[1] - factors[0]);
            if first.is_nan() || first > 1.0 {
                return None;
            }
        }
        let line = |share: f64| Behind { matrix: self.behind(share) }.line(&head.far.matrix);
        let length = |share: f64, wanted: f64| {
            let (from, slope) = line(share);
            (slope > 0.0).then(|| (wanted - from) / slope)
        };
        let most = length(first, wanted * (1.0 + ROUNDING))?;
        let least = length(1.0, wanted * (1.0 - ROUNDING))? - head.travel - self.group.front_slack;
        Some(Stretch { most, least, ends: [(first, length(first, wanted)?), (1.0, length(1.0, wanted)?)] })
    }

    /// The places of a stretch in the group's list.
    pub fn indices(&self, stretch: &Stretch) -> Range<usize> {
        if !self.meets(stretch.least, stretch.most) {
            return 0..0;
        }
        let classes = &self.group.classes;
        let from = classes.partition_point(|class| class.front.min < stretch.least);
        let to = classes.partition_point(|class| class.front.min <= stretch.most);
        from..to.max(from)
    }

    /// No stack of a stretch loses less light than this, stops: at one magnification the height at an aperture is a straight line in
    /// the rear length, so each is least at an end.
    pub fn least_stops(&self, stretch: &Stretch, head: &SolvedHead<'_>) -> f64 {
        let to_film = |(share, length): (f64, f64)| self.behind(share).after(RayMatrix::path(length));
        let [p, q] = stretch.ends.map(to_film);
        light_lost([&p, &q], head).unwrap_or(f64::NEG_INFINITY)
    }

    /// How much a millimetre of length in front adds to the magnification.
    pub fn per_mm(&self, head: &SolvedHead<'_>) -> f64 {
        self.behind[0].line(&head.far.matrix).1
    }

    /// Whether a stack with a bellows behind its converter, and none before it, reaches a magnification with a head that moves
    /// as a whole: by the bellows with the focusing in, or by the focusing with the bellows out, or the other way round too
    /// where the head does not simply bring the picture up. On each of these edges the magnification is a straight line, so that each offers one place with the picture inverted and one
    /// with it upright. `None` where more moves than that.
    pub fn reaches(&self, class: &Class<'_>, head: &SolvedHead<'_>, wanted: f64) -> Option<bool> {
        if !head.inside.is_empty() || class.front.slack > 0.0 || self.group.rear.slack == 0.0 {
            return None;
        }
        let near = class.front.min;
        let far = near + head.travel;
        let at = |share: f64, length: f64| self.behind(share).after(RayMatrix::path(length)).after(head.far.matrix);
        let edges = [(0.0, near, 1.0, near), (1.0, near, 1.0, far), (0.0, far, 1.0, far), (0.0, near, 0.0, far)];
        // The same edges as a stack walks by itself.
        let edges = match (head.travel > 0.0, bends_together(head)) {
            (false, _) => &edges[..1],
            (true, true) => &edges[..2],
            (true, false) => &edges[..],
        };
        Some(edges.iter().any(|&(share, length, to_share, to_length)| {
            let (p, q) = (at(share, length), at(to_share, to_length));
            // What does not move the magnification offers nothing that an edge beside it does not.
            if (q.a - p.a).abs() < AFOCAL_PER_MM {
                return false;
            }
            [-wanted, wanted].into_iter().any(|a| {
                let place = (a - p.a) / (q.a - p.a);
                // As far beyond an end as rounding reaches.
                let hair = ROUNDING * (a / (q.a - p.a)).abs();
                if !(place >= -hair && place <= 1.0 + hair) {
                    return false;
                }
                // Where it just works, rounding is not to decide.
                [place, place - hair, place + hair].into_iter().any(|place| {
                    let place = place.clamp(0.0, 1.0);
                    let (a, b) = (p.a + place * (q.a - p.a), p.b + place * (q.b - p.b));
                    Point { a, b, b_front: b + head.nose() * a }.works()
                })
            })
        }))
    }

    /// Whether a stack could reach a magnification at all: whether it lies between those of the corners of what can be moved. Quick,
    /// and without looking whether anything real is sharp.
    pub fn may_reach(&self, class: &Class<'_>, head: &SolvedHead<'_>, wanted: f64) -> bool {
        if !head.inside.is_empty() {
            return true;
        }
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for behind in &self.behind {
            let (from, slope) = behind.line(&head.far.matrix);
            for length in [class.front.min, class.front.max() + head.travel] {
                let m = from + slope * length;
                (low, high) = (low.min(m), high.max(m));
            }
        }
        let most = low.abs().max(high.abs());
        let least = if low < 0.0 && high > 0.0 { 0.0 } else { low.abs().min(high.abs()) };
        Span { min: least, max: most }.holds(wanted)
    }
}

/// A magnification that a whole metre of length changes by less than this is not set by length.
const AFOCAL_PER_MM: f64 = 1e-9;

/// The part of a magnification that is rounding, as in [`Span::holds`].
const ROUNDING: f64 = 1e-9;

/// Whether a head moves as a whole and throws a smaller picture the nearer the film is.
pub(super) fn bends_together(head: &SolvedHead<'_>) -> bool {
    head.inside.is_empty() && head.far.matrix.c < -1e-9
}

/// Whether a head before a group with a bellows behind its converter reaches magnifications in one stretch: it bends
/// light together and moves as a whole, the converter leaves the picture the right way round, and not even the shortest
/// stack throws an upright picture.
fn is_stretch(register: f64, group: &Group<'_>, head: &SolvedHead<'_>) -> bool {
    if !bends_together(head) {
        return false;
    }
    let Some(shortest) = group.classes.first() else { return false };
    let Some(point) = (Stack { register, group, class: shortest, head }).point(0.0, 0.0, &head.far) else {
        return false;
    };
    let upright = point.a > 0.0 && !point.is_infinity() && point.works();
    !upright && Behind::of(register, group.numbers.as_ref(), group.rear.min).is_some_and(|behind| behind.factor() > 0.0)
}
