//! What a stack reaches, in numbers: heads on mount sides, without building each stack part by part.
//!
//! With H the matrix of a head from its foremost principal plane to its mount face, and C that of what stands behind
//! (register, rear length, converter), a stack with L mm between head and converter is C·path(L)·H. Its first entry,
//! the lateral magnification with its sign, is a straight line in L and in the rear length alike. So is the condition
//! that the subject clears the front. That makes every range and every setting a division, and all stacks of a group
//! one stretch of a sorted list.

mod stretch;

use stretch::bends_together;
pub(crate) use stretch::{Prepared, Stretch};

use crate::arrange::{Class, Group};
use crate::fit::{Choice, Facing};
use crate::part::Part;
use crate::reach::Span;
use crate::resolve::{Focus, Setup, SetupRequest};
use crate::schema::Kind;
use crate::spec::{CloseRange, ConverterSpec, FocusSpec, Focusing, Gap, Link, Spec};

use optics::{Converter, Figure, RayMatrix, Stop};

/// The head's side of a stack at one setting of its focusing ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HeadOptics {
    /// From the foremost principal plane to the mount face.
    pub matrix: RayMatrix<f64>,
    /// From the foremost principal plane to the front end, mm, positive toward the subject.
    pub nose: f64,
    /// Largest magnification by the head alone at which the subject still clears the front; infinite when it always
    /// does.
    pub touch: f64,
}

/// A head on a body.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SolvedHead<'a> {
    /// Its parts from the mount outwards.
    pub parts: Vec<&'a Part>,
    /// Equal heads of other parts.
    pub alternatives: Vec<Vec<&'a Part>>,
    /// At its infinity mark.
    pub far: HeadOptics,
    /// From its infinity mark to its closest in even steps, where that is not the same as moving the whole of it.
    pub inside: Vec<HeadOptics>,
    /// How much of the way to the closest mark its scale tells: beyond, it runs back.
    told: f64,
    /// How far the whole of it moves, mm.
    pub travel: f64,
    /// Apertures: their matrix to the mount face, and half their diameter.
    pub stops: Vec<(RayMatrix<f64>, f64)>,
    /// The f-number in use.
    pub f_number: f64,
    /// Lenses in it that are not the lens nearest the body.
    pub glass: usize,
    /// Obstacles that do not depend on what stands behind.
    pub obstacles: usize,
    /// Whether its iris needs a linkage.
    pub coupled: bool,
    /// Numbers of the body with this head, for settings between the marks.
    spec: Spec<f64>,
}

impl HeadOptics {
    fn of(spec: &Spec<f64>) -> Option<Self> {
        let layout = spec.layout().ok()?;
        let whole = layout.train.matrix()?;
        let matrix = RayMatrix::path(-spec.register).after(whole);
        let foremost = layout.train.elements.last()?.front;
        let nose = layout.train.front - foremost;
        Some(Self { matrix, nose, touch: touch(matrix, nose) })
    }
}

/// The magnification at which the subject of a bare head meets its front, or its foremost principal plane where that
/// lies in front: between conjugate planes the determinant makes it one over the angle from angle there.
fn touch(head: RayMatrix<f64>, nose: f64) -> f64 {
    let angles = head.after(RayMatrix::path(nose.max(0.0))).d;
    if angles < 0.0 { -1.0 / angles } else { f64::INFINITY }
}

/// Steps in which the focusing of an internally focusing lens is looked at: between two the magnification moves one
/// way.
const INSIDE_STEPS: usize = 16;

impl<'a> SolvedHead<'a> {
    /// The head on this body; `None` when it can make no set-up there.
    pub fn of(body: &'a Part, parts: &[&'a Part]) -> Option<Self> {
        let choices: Vec<Choice<'a>> = std::iter::once(body).chain(parts.iter().copied()).map(Choice::of).collect();
        // What the head's own parts need is found by resolving it on the body alone; where mounts differ an adapter
        // stands between, which counts among the lengths.
        let setup = Setup::unjoined(choices, &SetupRequest::default()).ok()?;
        let spec = setup.numbers();
        let (_, lens) = spec.first_lens()?;
        let facing = lens.facing;
        let travel = match (lens.lens.focusing, facing) {
            // A reversed lens moves its seat and not its glass.
            (Focusing::Internal, _) | (_, Facing::Reversed) => 0.0,
            _ => lens.lens.largest_travel().ok()?.unwrap_or(0.0),
        };
        let inside =
            matches!((lens.lens.focusing, lens.lens.close_range), (Focusing::Internal, CloseRange::Both { .. }));
        let layout = spec.layout().ok()?;
        let to_face = |stop: &Stop<f64>| RayMatrix::path(-spec.register).after(layout.train.behind(stop));
        // The body's throat stays where it is when lengths come between: it is none of the head's.
        let own = layout.train.stops.iter().zip(&layout.stop_of).filter(|(_, owner)| owner.is_some());
        let stops = own.map(|(stop, _)| (to_face(stop), 0.5 * stop.diameter)).collect();
        let coupled = setup.lens().words("iris") == Some("coupled");
        let mut head = Self {
            parts: parts.to_vec(),
            alternatives: Vec::new(),
            far: HeadOptics::of(&spec)?,
            inside: Vec::new(),
            told: lens.lens.share_told(),
            travel,
            stops,
            f_number: spec.f_number,
            glass: layout.train.elements.len() - 1,
            obstacles: setup.obstacles().len(),
            coupled: coupled && setup.obstacles().is_empty(),
            spec,
        };
        if inside {
            let steps = (0..=INSIDE_STEPS).map(|step| head.between(step as f64 / INSIDE_STEPS as f64));
            head.inside = steps.map(|step| Some(step?.0)).collect::<Option<_>>()?;
        }
        Some(head)
    }

    /// The head at a setting between its marks, by the magnification of the lens alone over the largest that its scale
    /// tells.
    fn between(&self, share: f64) -> Option<(HeadOptics, Focus)> {
        let share = share * self.told;
        let (_, link) = self.spec.first_lens()?;
        let CloseRange::Both { magnification, .. } = link.lens.close_range else { return None };
        let focus = if share <= 0.0 {
            Focus::Infinity
        } else if share >= 1.0 {
            Focus::Closest
        } else {
            Focus::Distance(link.lens.inside_distance_at(share * magnification))
        };
        Some((HeadOptics::of(&self.at(focus))?, focus))
    }

    /// The numbers of the head on its body at a focus.
    fn at(&self, focus: Focus) -> Spec<f64> {
        let focus = match focus {
            Focus::Infinity => FocusSpec::Infinity,
            Focus::Closest => FocusSpec::Closest,
            Focus::Travel(travel) => FocusSpec::Travel(travel),
            Focus::Distance(distance) => FocusSpec::Distance(distance),
        };
        Spec { focus, ..self.spec.clone() }
    }

    /// The largest magnification that the lens nearest the body reaches by itself, where its marks tell it.
    pub fn own_close_range(&self) -> Option<f64> {
        let (_, link) = self.spec.first_lens()?;
        link.lens.closest_magnification().ok().flatten()
    }

    /// From the foremost principal plane to the front end, mm.
    fn nose(&self) -> f64 {
        self.far.nose
    }

    /// Whether two heads are the same to the light.
    pub fn key(&self) -> Vec<i64> {
        let grain = |figure: f64| if figure.is_finite() { (figure * 1e9).round() as i64 } else { i64::MAX };
        let optics = |o: &HeadOptics| [o.matrix.a, o.matrix.b * 1e-3, o.matrix.c * 1e3, o.matrix.d, o.nose * 1e-3];
        let mut key: Vec<i64> = optics(&self.far).into_iter().map(grain).collect();
        key.extend(self.inside.last().into_iter().flat_map(|near| optics(near).map(grain)));
        key.extend([self.travel * 1e-3, self.f_number].map(grain));
        key.extend(self.stops.iter().flat_map(|(m, r)| [m.b * 1e-3, m.d, *r * 1e-3].map(grain)));
        key
    }
}

/// What stands behind the head: from the converter's front face, or the body's mount face, to the film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Behind {
    matrix: RayMatrix<f64>,
}

impl Behind {
    /// `None` for a converter that cannot be.
    pub fn of(register: f64, converter: Option<&ConverterSpec<f64>>, rear: f64) -> Option<Self> {
        let Some(spec) = converter else { return Some(Self { matrix: RayMatrix::path(register + rear) }) };
        let element =
            Converter { factor: spec.factor, length: spec.length, register: spec.register.unwrap_or(register) }
                .seated(register + rear)
                .ok()?;
        let face = register + rear + spec.length;
        let matrix = RayMatrix::path(element.back)
            .after(RayMatrix::refraction(element.power))
            .after(RayMatrix::path(face - element.front));
        Some(Self { matrix })
    }

    /// From the converter's front face, or the body's mount face, to the film.
    pub fn matrix(&self) -> RayMatrix<f64> {
        self.matrix
    }

    /// How much the converter enlarges.
    pub fn factor(&self) -> f64 {
        self.matrix.a
    }

    /// Magnification with L mm between, as a straight line: at L = 0, and its slope.
    pub fn line(&self, head: &RayMatrix<f64>) -> (f64, f64) {
        (-(self.matrix.a * head.a + self.matrix.b * head.c), -self.matrix.a * head.c)
    }
}

/// What can be moved, in the order in which it is: what stands behind a converter brings the subject less near for the
/// same magnification than what stands before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mover {
    /// The bellows behind the converter.
    Rear,
    /// The bellows before it.
    Front,
    /// The focusing.
    Focus,
}

/// One thing moving while the others stay at the near or the far end of what they can.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Leg {
    mover: Mover,
    /// Whether the bellows behind, the bellows before and the focusing stand at their far end.
    out: [bool; 3],
}

impl Leg {
    /// From everything in to everything out: where every length raises the magnification, this runs through all of it.
    const WAY: [Self; 3] = [
        Self { mover: Mover::Rear, out: [false; 3] },
        Self { mover: Mover::Front, out: [true, false, false] },
        Self { mover: Mover::Focus, out: [true, true, false] },
    ];
}

/// How a stack is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Setting {
    /// What the bellows behind the converter adds to its shortest, mm.
    pub rear: f64,
    /// What the bellows before it adds, mm.
    pub front: f64,
    /// Where the head is focused.
    pub focus: Focus,
}

/// A stack at one place of a leg, as its matrix from the foremost principal plane to the film.
#[derive(Debug, Clone, Copy)]
struct Point {
    /// Height from height: minus the magnification of an inverted picture.
    a: f64,
    /// Height from angle: nothing with the subject in the foremost principal plane.
    b: f64,
    /// Height from angle from the front end: nothing with the subject there.
    b_front: f64,
}

impl Point {
    /// Whether something real is sharp and clears the front.
    fn works(&self) -> bool {
        self.is_infinity() || -self.b_front / self.a >= 0.0
    }

    fn is_infinity(&self) -> bool {
        self.a.abs() < INFINITY_MAGNIFICATION
    }

    fn magnification(&self) -> f64 {
        if self.is_infinity() { 0.0 } else { self.a.abs() }
    }

    fn toward(&self, other: &Self, share: f64) -> Self {
        let at = |p: f64, q: f64| p + share * (q - p);
        Self { a: at(self.a, other.a), b: at(self.b, other.b), b_front: at(self.b_front, other.b_front) }
    }
}

/// Below this the subject counts as infinitely far, as in the train.
const INFINITY_MAGNIFICATION: f64 = 1e-9;

/// A part of a leg on which everything works and the magnification moves one way.
#[derive(Debug, Clone, Copy)]
struct Piece {
    leg: Leg,
    /// Shares of the leg, from 0 to 1.
    shares: [f64; 2],
    /// Magnifications there.
    ends: [f64; 2],
}

impl Piece {
    /// Whether a magnification is reached on it; the last part in 10⁹ is rounding.
    fn holds(&self, wanted: f64) -> bool {
        let [p, q] = self.ends;
        Span { min: p.min(q), max: p.max(q) }.holds(wanted)
    }
}

/// A stack in numbers.
pub(crate) struct Stack<'s, 'a> {
    /// The body's register, mm.
    pub register: f64,
    /// What stands on it.
    pub group: &'s Group<'a>,
    /// Its lengths.
    pub class: &'s Class<'a>,
    /// What stands in front.
    pub head: &'s SolvedHead<'a>,
}

impl<'a> Stack<'_, 'a> {
    fn behind(&self, rear: f64) -> Option<Behind> {
        Behind::of(self.register, self.group.numbers.as_ref(), self.group.rear.min + rear)
    }

    fn point(&self, rear: f64, front: f64, head: &HeadOptics) -> Option<Point> {
        let whole = self.behind(rear)?.matrix.after(RayMatrix::path(self.class.front.min + front)).after(head.matrix);
        Some(Point { a: whole.a, b: whole.b, b_front: whole.b + head.nose * whole.a })
    }

    fn moves(&self) -> [bool; 3] {
        let focuses = self.head.travel > 0.0 || !self.head.inside.is_empty();
        [self.group.rear.slack > 0.0, self.class.front.slack > 0.0, focuses]
    }

    /// The legs that cover all it can be set to. A head that does not simply bring the picture up with every length may
    /// be at its least or most at any corner, so every edge between two corners is one; where nothing moves, one leg of
    /// no length.
    fn legs(&self) -> impl Iterator<Item = Leg> {
        let moves = self.moves();
        let moving = |leg: &Leg| moves[leg.mover as usize];
        // Three on the way from corner to corner, and twelve edges in all.
        let mut legs = [None; 15];
        for (place, leg) in legs.iter_mut().zip(Leg::WAY) {
            *place = Some(leg).filter(moving);
        }
        if !bends_together(self.head) {
            for index in 3..15 {
                let mover = [Mover::Rear, Mover::Front, Mover::Focus][(index - 3) / 4];
                let others = (0..3).filter(|i| *i != mover as usize);
                let mut leg = Leg { mover, out: [false; 3] };
                others.zip([index & 1, index >> 1 & 1]).for_each(|(i, bit)| leg.out[i] = bit == 1 && moves[i]);
                let known = |old: &Leg| old.mover == mover && (0..3).all(|i| !moves[i] || old.out[i] == leg.out[i]);
                let is_new = !legs.iter().flatten().any(known);
                legs[index] = Some(leg).filter(|leg| moving(leg) && is_new);
            }
        }
        if legs.iter().all(Option::is_none) {
            legs[0] = Some(Leg::WAY[1]);
        }
        legs.into_iter().flatten()
    }

    /// What the bellows behind and before the converter add at a share of a leg.
    fn lengths(&self, leg: Leg, share: f64) -> [f64; 2] {
        let part = |mover: Mover, slack: f64| match leg.mover == mover {
            true => share * slack,
            false if leg.out[mover as usize] => slack,
            false => 0.0,
        };
        [part(Mover::Rear, self.group.rear.slack), part(Mover::Front, self.class.front.slack)]
    }

    /// How far the focusing is moved at a share of a leg, as a share of what it can.
    fn focus_share(leg: Leg, share: f64) -> f64 {
        if leg.mover == Mover::Focus { share } else { f64::from(u8::from(leg.out[2])) }
    }

    /// One place of a leg.
    fn at(&self, leg: Leg, share: f64) -> Option<Point> {
        let [rear, front] = self.lengths(leg, share);
        let focus = Self::focus_share(leg, share);
        if self.head.inside.is_empty() {
            return self.point(rear, front + focus * self.head.travel, &self.head.far);
        }
        self.point(rear, front, &self.head.between(focus)?.0)
    }

    /// The pieces of a leg, one by one to `visit` until it says that it has enough.
    fn pieces(&self, leg: Leg, visit: &mut impl FnMut(Piece) -> bool) -> Option<()> {
        if leg.mover == Mover::Focus && !self.head.inside.is_empty() {
            return self.pieces_inside(leg, visit);
        }
        let (p, q) = (self.at(leg, 0.0)?, self.at(leg, 1.0)?);
        // Between the places where one of the three changes its sign, all of it works or none.
        let crossing = |from: f64, to: f64| if (from < 0.0) != (to < 0.0) { from / (from - to) } else { 0.0 };
        let mut shares = [0.0, crossing(p.a, q.a), crossing(p.b, q.b), crossing(p.b_front, q.b_front), 1.0];
        shares.sort_by(f64::total_cmp);
        let mut none = true;
        for pair in shares.windows(2).filter(|pair| pair[0] < pair[1]) {
            let [from, to] = [pair[0], pair[1]];
            if p.toward(&q, 0.5 * (from + to)).works() {
                none = false;
                let ends = [from, to].map(|share| p.toward(&q, share).magnification());
                if visit(Piece { leg, shares: [from, to], ends }) {
                    break;
                }
            }
        }
        // Just at infinity with everything out, and nowhere else.
        if none && let Some((share, point)) = [(0.0, p), (1.0, q)].into_iter().find(|(_, point)| point.works()) {
            visit(Piece { leg, shares: [share; 2], ends: [point.magnification(); 2] });
        }
        Some(())
    }

    /// The same for the focusing of a lens that moves nothing outside, which is no straight line in anything.
    fn pieces_inside(&self, leg: Leg, visit: &mut impl FnMut(Piece) -> bool) -> Option<()> {
        let [rear, front] = self.lengths(leg, 0.0);
        let steps = self.head.inside.len() - 1;
        let share = |step: usize| step as f64 / steps as f64;
        for (step, pair) in self.head.inside.windows(2).enumerate() {
            let (p, q) = (self.point(rear, front, &pair[0])?, self.point(rear, front, &pair[1])?);
            let mut shares = [share(step), share(step + 1)];
            let mut ends = [p.magnification(), q.magnification()];
            match (p.works(), q.works()) {
                (false, false) => continue,
                (true, true) => {}
                (begins, _) => {
                    let [mut low, mut high] = shares;
                    for _ in 0..40 {
                        let middle = 0.5 * (low + high);
                        if self.at(leg, middle)?.works() == begins { low = middle } else { high = middle }
                    }
                    let (end, edge) = if begins { (1, low) } else { (0, high) };
                    shares[end] = edge;
                    ends[end] = self.at(leg, edge)?.magnification();
                }
            }
            if visit(Piece { leg, shares, ends }) {
                break;
            }
        }
        Some(())
    }

    /// The magnifications that it can be set to; `None` when nothing real is ever sharp in front of it.
    pub fn span(&self) -> Option<(f64, f64)> {
        let mut span: Option<(f64, f64)> = None;
        for leg in self.legs() {
            self.pieces(leg, &mut |piece| {
                let [p, q] = piece.ends;
                let (low, high) = (p.min(q), p.max(q));
                span = Some(span.map_or((low, high), |(l, h)| (l.min(low), h.max(high))));
                false
            });
        }
        span
    }

    /// How it is set for a wanted magnification: the bellows does what it can, the focusing the rest.
    pub fn setting(&self, wanted: f64) -> Option<Setting> {
        let mut found = None;
        for leg in self.legs() {
            self.pieces(leg, &mut |piece| {
                found = piece.holds(wanted).then_some(piece);
                found.is_some()
            });
            if let Some(piece) = found {
                return self.set(&piece, wanted);
            }
        }
        None
    }

    fn set(&self, piece: &Piece, wanted: f64) -> Option<Setting> {
        let ([from, to], [low, high]) = (piece.shares, piece.ends);
        let is_inside = !self.head.inside.is_empty();
        let share = if is_inside && piece.leg.mover == Mover::Focus {
            self.inside(piece, wanted)?
        } else {
            let share = if high == low { 0.0 } else { ((wanted - low) / (high - low)).clamp(0.0, 1.0) };
            from + share * (to - from)
        };
        let [rear, front] = self.lengths(piece.leg, share);
        let focus = Self::focus_share(piece.leg, share);
        let travel = focus * self.head.travel;
        let focus = match is_inside {
            true => self.head.between(focus)?.1,
            false if travel > 0.0 => Focus::Travel(travel),
            false => Focus::Infinity,
        };
        Some(Setting { rear, front, focus })
    }

    /// Where on a piece an internally focusing lens gives a magnification, by bisection.
    fn inside(&self, piece: &Piece, wanted: f64) -> Option<f64> {
        let ([mut low, mut high], [from, to]) = (piece.shares, piece.ends);
        for (share, end) in [(low, from), (high, to)] {
            if near(wanted, end) {
                return Some(share);
            }
        }
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let here = self.at(piece.leg, middle)?.magnification();
            if (here < wanted) == (from < to) { low = middle } else { high = middle }
        }
        Some(0.5 * (low + high))
    }

    /// How much the lengths and the focusing can add, mm.
    pub fn slack(&self) -> f64 {
        self.class.front.slack + self.head.travel
    }

    /// Tubes and bellows at their shortest, behind the converter and before it, mm.
    pub fn shortest_extension(&self) -> [f64; 2] {
        let mut sums = [0.0; 2];
        let mut side = usize::from(self.group.converter.is_none());
        for part in &self.class.parts {
            match part.kind() {
                Kind::Teleconverter => side = 1,
                Kind::Tube => sums[side] += part.number("length_mm").unwrap_or(0.0),
                Kind::Bellows => sums[side] += part.numbers("draw_mm").first().copied().unwrap_or(0.0),
                _ => {}
            }
        }
        sums
    }

    /// How much less length behind the converter brings its least magnification down to a wanted one, mm.
    pub fn less_behind(&self, least: f64, wanted: f64) -> Option<f64> {
        self.group.converter?;
        let (here, nearer) = (self.point(0.0, 0.0, &self.head.far)?, self.point(-1.0, 0.0, &self.head.far)?);
        let less = (least - wanted) / (nearer.a - here.a);
        Some(less).filter(|less| *less > 0.0 && less.is_finite())
    }

    /// How much more length in front, beyond the longest, a magnification takes, mm; negative when there is too much.
    pub fn more_for(&self, wanted: f64) -> Option<f64> {
        let head = self.head.inside.last().unwrap_or(&self.head.far);
        let (from, slope) = self.behind(self.group.rear.slack)?.line(&head.matrix);
        let more = (wanted - from) / slope - self.class.front.max() - self.head.travel;
        more.is_finite().then_some(more)
    }

    /// Whether the subject would meet the front at a magnification.
    pub fn touches(&self, wanted: f64) -> bool {
        self.behind(self.group.rear.slack).is_some_and(|behind| wanted > self.head.far.touch * behind.factor())
    }

    /// The magnification at which the lens nearest the body works by itself, without converter and close-up lenses.
    pub fn own_magnification(&self, setting: &Setting, magnification: f64) -> Option<f64> {
        let by_converter = self.behind(setting.rear)?.factor();
        let (_, link) = self.head.spec.first_lens()?;
        let screwed_on = self.head.parts.iter().any(|part| part.kind() == Kind::CloseUpLens);
        if !screwed_on || link.facing == Facing::Reversed {
            return Some(magnification / by_converter);
        }
        // A close-up lens leaves the lens's own distance to its picture, and so its own magnification, as it was.
        let travel = if let Focus::Travel(travel) = setting.focus { travel } else { 0.0 };
        let register = self.head.spec.register - link.lens.register.unwrap_or(self.head.spec.register);
        Some((self.class.front.min + setting.front + travel + register) / link.lens.focal_length)
    }

    /// What is free in front at a setting, mm.
    pub fn room_at(&self, setting: &Setting) -> Option<f64> {
        let (head, travel) = match setting.focus {
            Focus::Travel(travel) => (self.head.far, travel),
            Focus::Infinity => (self.head.far, 0.0),
            Focus::Closest | Focus::Distance(_) => (HeadOptics::of(&self.head.at(setting.focus))?, 0.0),
        };
        let length = self.class.front.min + setting.front + travel;
        let whole = self.behind(setting.rear)?.matrix.after(RayMatrix::path(length)).after(head.matrix);
        Some(-whole.b / whole.a - head.nose)
    }

    /// Light lost against the f-number in use at a setting, stops.
    pub fn stops(&self, setting: &Setting) -> Option<f64> {
        let throat = self.head.spec.throat.is_some();
        if throat || !self.class.openings.is_empty() || !self.head.inside.is_empty() {
            return self.spec(setting).figures(1.0).ok()?.get(Figure::ExposureStops);
        }
        let travel = if let Focus::Travel(travel) = setting.focus { travel } else { 0.0 };
        let behind = self.behind(setting.rear)?;
        let whole = behind.matrix.after(RayMatrix::path(self.class.front.min + setting.front + travel));
        light_lost([&whole, &whole], self.head)
    }

    /// The whole of it in numbers.
    fn spec(&self, setting: &Setting) -> Spec<f64> {
        let mut spec = self.head.at(setting.focus);
        let links = drawn(&self.class.parts, setting).map(|(part, draw)| {
            let gap = |length, extends| Link::Gap(Gap { length, clear: part.number("clear_mm"), extends });
            match (part.kind(), draw, self.group.numbers) {
                (Kind::Teleconverter, _, Some(numbers)) => {
                    Link::Converter(ConverterSpec { clear: part.number("clear_mm"), ..numbers })
                }
                (_, Some(draw), _) => gap(draw, true),
                (kind, None, _) => gap(part.number("length_mm").unwrap_or(0.0), kind == Kind::Tube),
            }
        });
        spec.links.splice(0..0, links);
        spec
    }
}

/// The parts between body and head, each bellows with its draw at a setting.
pub(crate) fn drawn<'p, 'a>(
    parts: &'p [&'a Part],
    setting: &Setting,
) -> impl Iterator<Item = (&'a Part, Option<f64>)> + use<'p, 'a> {
    let mut behind_converter = parts.iter().any(|part| part.kind() == Kind::Teleconverter);
    let mut left = [setting.rear, setting.front];
    parts.iter().map(move |part| {
        if part.kind() == Kind::Teleconverter {
            behind_converter = false;
        }
        let [from, to] = part.numbers("draw_mm")[..] else { return (*part, None) };
        let left = &mut left[usize::from(!behind_converter)];
        let more = left.min(to - from);
        *left -= more;
        (*part, Some(from + more))
    })
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs()
}

/// Light lost, stops, at the least of two matrices from the mount face to the film for each aperture by itself: with
/// both the same it is the light lost there.
fn light_lost(to_film: [&RayMatrix<f64>; 2], head: &SolvedHead<'_>) -> Option<f64> {
    let reach = |m: &RayMatrix<f64>| {
        let [p, q] = to_film.map(|film| film.a * m.b + film.b * m.d);
        // Where it changes its sign between, it is nothing somewhere.
        if p * q <= 0.0 { 0.0 } else { p.abs().min(q.abs()) }
    };
    let slope = head.stops.iter().map(|(m, radius)| radius / reach(m)).fold(f64::INFINITY, f64::min);
    (slope > 0.0 && slope.is_finite()).then(|| 2.0 * (0.5 / slope / head.f_number).log2())
}
