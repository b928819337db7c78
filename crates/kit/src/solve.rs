//! What a stack reaches, in numbers: heads on mount sides, without building each stack part by part.
//!
//! With H the matrix of a head from its foremost principal plane to its mount face, and C that of what stands behind (register,
//! rear length, converter), a stack with L mm between head and converter is C·path(L)·H. Its first entry, the lateral
//! magnification with its sign, is a straight line in L and in the rear length alike. So is the condition that the subject clears
//! the front. That makes every range and every setting a division, and all stacks of a group one stretch of a sorted list.

use crate::arrange::{Class, Group};
use crate::fit::{Choice, Facing};
use crate::part::Part;
use crate::resolve::{Focus, Setup, SetupRequest};
use crate::schema::Kind;
use crate::spec::{CloseRange, FocusSpec, Focusing, Spec};
use optics::{Converter, RayMatrix, Stop};

/// The head's side of a stack at one setting of its focusing ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct HeadOptics {
    /// From the foremost principal plane to the mount face.
    pub matrix: RayMatrix<f64>,
    /// From the foremost principal plane to the front end, mm, positive toward the subject.
    pub nose: f64,
    /// Largest magnification by the head alone at which the subject still clears the front; infinite when it always does.
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
    /// At its closest mark, where that is not the same as moving the whole of it.
    pub near: Option<HeadOptics>,
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

/// The magnification at which the subject of a bare head meets its front: the picture then lies where the matrix from that
/// plane has no height from angle.
fn touch(head: RayMatrix<f64>, nose: f64) -> f64 {
    let from_front = head.after(RayMatrix::path(nose));
    // b + d·L = 0 with L the distance from mount face to picture.
    let length = -from_front.b / from_front.d;
    let m = -(from_front.a + length * from_front.c);
    if m.is_finite() && m > 0.0 { m } else { f64::INFINITY }
}

impl<'a> SolvedHead<'a> {
    /// The head on this body; `None` when it can make no set-up there.
    pub fn of(body: &'a Part, parts: &[&'a Part]) -> Option<Self> {
        let choices: Vec<Choice<'a>> = std::iter::once(body).chain(parts.iter().copied()).map(Choice::of).collect();
        // What the head's own parts need is found by resolving it on the body alone; where mounts differ an adapter stands between,
        // which counts among the lengths.
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
        let closest = Spec { focus: FocusSpec::Closest, ..spec.clone() };
        let near = if inside { Some(HeadOptics::of(&closest)?) } else { None };
        let layout = spec.layout().ok()?;
        let to_face = |stop: &Stop<f64>| RayMatrix::path(-spec.register).after(layout.train.behind(stop));
        let stops = layout.train.stops.iter().map(|stop| (to_face(stop), 0.5 * stop.diameter)).collect();
        let coupled = setup.lens().words("iris") == Some("coupled");
        Some(Self {
            parts: parts.to_vec(),
            alternatives: Vec::new(),
            far: HeadOptics::of(&spec)?,
            near,
            travel,
            stops,
            f_number: spec.f_number,
            glass: layout.train.elements.len() - 1,
            obstacles: setup.obstacles().len(),
            coupled: coupled && setup.obstacles().is_empty(),
            spec,
        })
    }

    /// The head at a setting between its marks, by the magnification of the lens alone over that at its closest mark.
    fn between(&self, share: f64) -> Option<(HeadOptics, Focus)> {
        let (_, link) = self.spec.first_lens()?;
        let CloseRange::Both { magnification, .. } = link.lens.close_range else { return None };
        let distance = link.lens.inside_distance_at(share * magnification);
        let spec = Spec { focus: FocusSpec::Distance(distance), ..self.spec.clone() };
        let focus = if share >= 1.0 { Focus::Closest } else { Focus::Distance(distance) };
        Some((HeadOptics::of(&spec)?, focus))
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

    /// Whether two heads are the same to the light.
    pub fn key(&self) -> Vec<i64> {
        let grain = |figure: f64| if figure.is_finite() { (figure * 1e9).round() as i64 } else { i64::MAX };
        let optics = |o: &HeadOptics| [o.matrix.a, o.matrix.b * 1e-3, o.matrix.c * 1e3, o.matrix.d, o.nose * 1e-3];
        let mut key: Vec<i64> = optics(&self.far).into_iter().map(grain).collect();
        key.extend(self.near.iter().flat_map(|near| optics(near).map(grain)));
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
    pub fn of(register: f64, converter: Option<&Part>, rear: f64) -> Option<Self> {
        let Some(part) = converter else { return Some(Self { matrix: RayMatrix::path(register + rear) }) };
        let length = part.number("length_mm")?;
        let own = part.number("register_mm").unwrap_or(register);
        let element =
            Converter { factor: part.number("factor")?, length, register: own }.seated(register + rear).ok()?;
        let face = register + rear + length;
        let matrix = RayMatrix::path(element.back)
            .after(RayMatrix::refraction(element.power))
            .after(RayMatrix::path(face - element.front));
        Some(Self { matrix })
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

/// A stretch of settings on which something moves evenly: the bellows first, then the focusing.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Leg {
    Bellows,
    Focus,
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

/// One end of a leg.
#[derive(Debug, Clone, Copy)]
struct Point {
    magnification: f64,
    /// Positive while the subject clears the front.
    clearance: f64,
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

impl Stack<'_, '_> {
    fn behind(&self, rear: f64) -> Option<Behind> {
        Behind::of(self.register, self.group.converter, self.group.rear.min + rear)
    }

    fn point(&self, rear: f64, front: f64, head: &HeadOptics) -> Option<Point> {
        let behind = self.behind(rear)?;
        let (from, slope) = behind.line(&head.matrix);
        let magnification = from + slope * (self.class.front.min + front);
        Some(Point { magnification, clearance: head.touch * behind.factor() - magnification })
    }

    /// The two ends of a leg, and how much of the leg is bellows or travel.
    fn ends(&self, leg: Leg) -> Option<[Point; 2]> {
        let (rear, front) = (self.group.rear.slack, self.class.front.slack);
        match (leg, &self.head.near) {
            (Leg::Bellows, _) => {
                Some([self.point(0.0, 0.0, &self.head.far)?, self.point(rear, front, &self.head.far)?])
            }
            (Leg::Focus, None) => Some([
                self.point(rear, front, &self.head.far)?,
                self.point(rear, front + self.head.travel, &self.head.far)?,
            ]),
            (Leg::Focus, Some(near)) => {
                Some([self.point(rear, front, &self.head.far)?, self.point(rear, front, near)?])
            }
        }
    }

    fn moves(&self, leg: Leg) -> bool {
        match leg {
            Leg::Bellows => true,
            Leg::Focus => self.head.near.is_some() || self.head.travel > 0.0,
        }
    }

    /// The usable share of a leg, from 0 to 1: something real is sharp and clears the front.
    fn usable(&self, leg: Leg) -> Option<([f64; 2], [Point; 2])> {
        let ends = self.ends(leg)?;
        let [a, b] = ends;
        let mut share = [0.0f64, 1.0f64];
        for (from, to) in [(a.magnification + ROUNDING, b.magnification + ROUNDING), (a.clearance, b.clearance)] {
            if from.is_infinite() || to.is_infinite() {
                continue;
            }
            match (from >= 0.0, to >= 0.0) {
                (true, true) => {}
                (false, false) => return None,
                (ahead, _) => {
                    let cross = from / (from - to);
                    if ahead { share[1] = share[1].min(cross) } else { share[0] = share[0].max(cross) }
                }
            }
        }
        (share[0] <= share[1]).then_some((share, ends))
    }

    /// The magnifications that it can be set to; `None` when nothing real is ever sharp in front of it.
    pub fn span(&self) -> Option<(f64, f64)> {
        let mut span: Option<(f64, f64)> = None;
        for leg in [Leg::Bellows, Leg::Focus].into_iter().filter(|leg| self.moves(*leg)) {
            let Some((share, [a, b])) = self.usable(leg) else { continue };
            let at = |x: f64| (a.magnification + x * (b.magnification - a.magnification)).max(0.0);
            let (p, q) = (at(share[0]), at(share[1]));
            let (low, high) = (p.min(q), p.max(q));
            span = Some(span.map_or((low, high), |(l, h)| (l.min(low), h.max(high))));
        }
        span
    }

    /// How it is set for a wanted magnification: the bellows does what it can, the focusing the rest.
    pub fn setting(&self, wanted: f64) -> Option<Setting> {
        for leg in [Leg::Bellows, Leg::Focus].into_iter().filter(|leg| self.moves(*leg)) {
            let Some((share, [a, b])) = self.usable(leg) else { continue };
            let span = b.magnification - a.magnification;
            let x = if span == 0.0 { 0.0 } else { (wanted - a.magnification) / span };
            let slack = 1e-9 * (1.0 + wanted / span.abs().max(1e-12));
            if !(x >= share[0] - slack && x <= share[1] + slack) || (span == 0.0 && !near(wanted, a.magnification)) {
                continue;
            }
            return self.set(leg, x.clamp(0.0, 1.0), wanted);
        }
        None
    }

    fn set(&self, leg: Leg, x: f64, wanted: f64) -> Option<Setting> {
        let (rear, front) = (self.group.rear.slack, self.class.front.slack);
        match (leg, &self.head.near) {
            (Leg::Bellows, _) => Some(Setting { rear: x * rear, front: x * front, focus: Focus::Infinity }),
            (Leg::Focus, None) => {
                let travel = x * self.head.travel;
                Some(Setting { rear, front, focus: if travel > 0.0 { Focus::Travel(travel) } else { Focus::Infinity } })
            }
            (Leg::Focus, Some(_)) => Some(Setting { rear, front, focus: self.inside(rear, front, wanted)? }),
        }
    }

    /// The setting of an internally focusing lens, whose magnification is no straight line in anything: by bisection.
    fn inside(&self, rear: f64, front: f64, wanted: f64) -> Option<Focus> {
        let magnification = |share: f64| {
            let (head, _) = self.head.between(share)?;
            Some(self.point(rear, front, &head)?.magnification)
        };
        let (mut low, mut high) = (1e-6, 1.0);
        let rising = magnification(high)? >= magnification(low)?;
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if (magnification(middle)? < wanted) == rising { low = middle } else { high = middle }
        }
        self.head.between(0.5 * (low + high)).map(|(_, focus)| focus)
    }

    /// How much the lengths and the focusing can add, mm.
    pub fn slack(&self) -> f64 {
        self.class.front.slack + self.head.travel
    }

    /// Tubes and bellows at their shortest, mm.
    pub fn shortest_extension(&self) -> f64 {
        let lengths = self.class.parts.iter().filter(|part| matches!(part.kind(), Kind::Tube | Kind::Bellows));
        let shortest =
            |part: &&Part| part.numbers("draw_mm").first().copied().or_else(|| part.number("length_mm")).unwrap_or(0.0);
        lengths.map(shortest).sum()
    }

    /// How much more length in front, beyond the longest, a magnification takes, mm; negative when there is too much.
    pub fn more_for(&self, wanted: f64) -> Option<f64> {
        let head = self.head.near.as_ref().unwrap_or(&self.head.far);
        let (from, slope) = self.behind(self.group.rear.slack)?.line(&head.matrix);
        let more = (wanted - from) / slope - self.class.front.max() - self.head.travel;
        more.is_finite().then_some(more)
    }

    /// Whether the subject would meet the front at a magnification.
    pub fn touches(&self, wanted: f64) -> bool {
        self.behind(self.group.rear.slack).is_some_and(|behind| wanted > self.head.far.touch * behind.factor())
    }

    /// What is free in front at a magnification, with nothing but the head moving, mm.
    pub fn clearance_at(&self, magnification: f64) -> Option<f64> {
        let head = &self.head.far;
        let behind = self.behind(0.0)?;
        let (from, slope) = behind.line(&head.matrix);
        let whole = behind.matrix.after(RayMatrix::path((magnification - from) / slope)).after(head.matrix);
        Some(-whole.b / whole.a - head.nose)
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
        let register = self.register - link.lens.register.unwrap_or(self.register);
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

    /// Light lost against the f-number in use at a setting, stops, as far as the head's own apertures limit it.
    pub fn stops(&self, setting: &Setting) -> Option<f64> {
        let travel = if let Focus::Travel(travel) = setting.focus { travel } else { 0.0 };
        let behind = self.behind(setting.rear)?;
        let whole = behind.matrix.after(RayMatrix::path(self.class.front.min + setting.front + travel));
        light_lost(&whole, self.head)
    }
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs()
}

/// A magnification of less than this below zero is rounding at infinity.
const ROUNDING: f64 = 1e-12;

fn light_lost(to_film: &RayMatrix<f64>, head: &SolvedHead<'_>) -> Option<f64> {
    let reach = |m: &RayMatrix<f64>| (to_film.a * m.b + to_film.b * m.d).abs();
    let slope = head.stops.iter().map(|(m, radius)| radius / reach(m)).fold(f64::INFINITY, f64::min);
    (slope > 0.0 && slope.is_finite()).then(|| 2.0 * (0.5 / slope / head.f_number).log2())
}

/// The stretch of lengths in front for which a group's stacks reach a magnification.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stretch {
    /// The shortest front length may be at most this.
    pub most: f64,
    /// The shortest front length must be at least this.
    pub least: f64,
    /// Light lost at its ends of the rear bellows, stops: at most and at least this much.
    pub stops: [f64; 2],
}

/// What of a group, by its lengths in front, reaches `wanted` with this head; `None` when nothing does.
///
/// Only for heads of positive power that move as a whole: with them the magnification grows with every length.
pub(crate) fn stretch(register: f64, group: &Group<'_>, head: &SolvedHead<'_>, wanted: f64) -> Option<Stretch> {
    let behind = |rear: f64| Behind::of(register, group.converter, group.rear.min + rear);
    let mut rear = [0.0, group.rear.slack];
    let first = behind(0.0)?;
    // The subject clears the front where the head alone magnifies less than `touch`: the converter must do the rest.
    let needed = wanted / head.far.touch;
    if group.rear.slack > 0.0 {
        let slope = (behind(group.rear.slack)?.factor() - first.factor()) / group.rear.slack;
        if first.factor() < needed {
            if slope <= 0.0 {
                return None;
            }
            rear[0] = (needed - first.factor()) / slope;
        }
        if rear[0] > rear[1] * (1.0 + 1e-12) {
            return None;
        }
    } else if first.factor() * (1.0 + 1e-12) < needed {
        return None;
    }
    let length = |rear: f64| {
        let (from, slope) = behind(rear)?.line(&head.far.matrix);
        (slope > 0.0).then(|| (wanted - from) / slope)
    };
    let (most, least) = (length(rear[0])?, length(rear[1])? - head.travel - group.front_slack);
    let stops = |rear: f64, front: f64| {
        let whole = behind(rear)?.matrix.after(RayMatrix::path(front));
        light_lost(&whole, head)
    };
    let ends = [stops(rear[0], length(rear[0])?)?, stops(rear[1], length(rear[1])?)?];
    // A nanometre is rounding: a range that ends at the wanted figure reaches it.
    Some(Stretch { most: most + 1e-6, least: least - 1e-6, stops: ends })
}

/// Whether [`stretch`] holds for a head.
pub(crate) fn moves_as_a_whole(head: &SolvedHead<'_>) -> bool {
    head.near.is_none() && head.far.matrix.c < -1e-9
}
