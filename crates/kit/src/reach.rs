//! Every set-up that mounts and threads allow, and the magnifications that it reaches.
//!
//! Without close-up lenses or with them, normal or reversed, the lateral magnification of a train is a straight line
//! in the distance between lens and film. So each combination of parts is one family with one free length, its *slack*:
//! what the focusing travel and the bellows can still add. That makes the range exact and the setting for a wanted
//! magnification one division.

use crate::error::SetupError;
use crate::fit::{Choice, mounts_join, threads_join};
use crate::part::{Kit, Part, closest};
use crate::resolve::{Focus, Setup, SetupRequest, marks_contradict};
use crate::schema::Kind;
use crate::spec::Spec;
use optics::{Figure, Figures};

/// How large a stack may get.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Tubes at most.
    pub tubes: usize,
    /// Bellows at most.
    pub bellows: usize,
    /// Close-up lenses at most.
    pub close_ups: usize,
}

impl Default for Limits {
    /// Three tubes, one bellows, two close-up lenses: beyond that stacks sag and pictures suffer (common practice, no
    /// source).
    fn default() -> Self {
        Self { tubes: 3, bellows: 1, close_ups: 2 }
    }
}

/// What is asked of a kit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Demand {
    /// Only set-ups on this body.
    pub body: Option<String>,
    /// Only set-ups that reach this magnification.
    pub magnification: Option<f64>,
    /// How large a stack may get.
    pub limits: Limits,
}

/// A range of magnifications; `min` is 0 when the set-up focuses at infinity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The smallest.
    pub min: f64,
    /// The largest.
    pub max: f64,
}

impl Span {
    /// Whether a magnification is reached; the last part in 10⁹ is rounding.
    pub fn holds(&self, magnification: f64) -> bool {
        magnification >= self.min * (1.0 - 1e-9) && magnification <= self.max * (1.0 + 1e-9)
    }
}

/// How a set-up is set for a wanted magnification.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// The parts, a bellows with its draw.
    pub parts: Vec<String>,
    /// Where the lens is focused.
    pub focus: Focus,
    /// The figures there, at the lens's widest f-number.
    pub figures: Figures<f64>,
}

/// A set-up with its range.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachedSetup {
    /// The parts from the body outwards.
    pub parts: Vec<String>,
    /// What it reaches.
    pub magnification: Span,
    /// Light lost at the two ends of the range, stops.
    pub stops: Span,
    /// Lenses added in front.
    pub glass_added: usize,
    /// How to set it for the wanted magnification, when one was asked for.
    pub setting: Option<Setting>,
}

/// A set-up that does not reach the wanted magnification.
#[derive(Debug, Clone, PartialEq)]
pub struct Miss {
    /// The parts from the body outwards.
    pub parts: Vec<String>,
    /// What it reaches.
    pub magnification: Span,
    /// What is missing.
    pub why: String,
}

/// What a kit reaches.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Reach {
    /// The set-ups: all by largest magnification, or those that reach the wanted one, best first.
    pub setups: Vec<ReachedSetup>,
    /// The nearest misses, nearest first; empty when no magnification was asked for.
    pub misses: Vec<Miss>,
    /// Parts that were not used, and why.
    pub left_out: Vec<String>,
}

/// Lists every set-up that mounts and threads allow.
///
/// "Best first" means: fewest lenses added in front, then least light lost (to a tenth of a stop), then fewest parts. It
/// is an order to read in, not a verdict.
pub fn reach(kit: &Kit, demand: &Demand) -> Result<Reach, SetupError> {
    check(kit, demand)?;
    let mut reach = Reach { left_out: left_out(kit), ..Reach::default() };
    let mut misses = Vec::new();
    each_combination(kit, demand, &mut |choices| {
        let Some(family) = Family::of(choices) else { return };
        match (family.span(), demand.magnification) {
            (None, None) => {}
            (None, Some(_)) => misses.push((f64::INFINITY, family.blocked())),
            (Some(span), None) => reach.setups.push(family.reached(span, None)),
            (Some(span), Some(wanted)) if span.holds(wanted) => reach.setups.push(family.reached(span, Some(wanted))),
            (Some(span), Some(wanted)) => misses.push(family.miss(span, wanted)),
        }
    });
    sort(&mut reach.setups, demand.magnification.is_some());
    misses.sort_by(|(a, p), (b, q)| a.total_cmp(b).then(p.parts.len().cmp(&q.parts.len())));
    reach.misses = misses.into_iter().map(|(_, miss)| miss).take(MISSES_SHOWN).collect();
    Ok(reach)
}

/// More near misses than this help nobody choose.
const MISSES_SHOWN: usize = 20;

fn check(kit: &Kit, demand: &Demand) -> Result<(), SetupError> {
    if let Some(id) = &demand.body
        && !kit.of_kind(Kind::Body).any(|body| body.id() == id)
    {
        let near = closest(id, kit.of_kind(Kind::Body).map(Part::id)).map(Into::into);
        return Err(SetupError::NoSuchPart { id: id.clone(), closest: near });
    }
    match demand.magnification {
        Some(found) if !(found.is_finite() && found > 0.0) => {
            Err(SetupError::Setting { what: "the magnification", rule: "above 0", found })
        }
        _ => Ok(()),
    }
}

fn sort(setups: &mut [ReachedSetup], wanted: bool) {
    if wanted {
        // A tenth of a stop is less than anybody sees: within it the smaller stack comes first.
        let lost = |setup: &ReachedSetup| {
            let stops = setup.setting.as_ref().and_then(|s| s.figures.get(Figure::ExposureStops));
            (stops.unwrap_or(f64::INFINITY) * 10.0).round()
        };
        setups.sort_by(|p, q| {
            let glass = p.glass_added.cmp(&q.glass_added);
            glass.then(lost(p).total_cmp(&lost(q))).then(p.parts.len().cmp(&q.parts.len()))
        });
    } else {
        setups.sort_by(|p, q| p.magnification.max.total_cmp(&q.magnification.max));
    }
}

fn left_out(kit: &Kit) -> Vec<String> {
    let unable = kit.parts().iter().filter_map(|part| {
        let why = match part {
            part if !part.kind().has_optics() => "its optics are not part of this version",
            part if part.words("focusing") == Some("internal") => "internal focusing is not part of this version",
            part if part.kind() == Kind::Lens && marks_contradict(part) => {
                "its close_focus_mm is nearer than its focal length allows; check both"
            }
            _ => return None,
        };
        Some(format!("{} \"{}\": {why}", part.kind().spec().label, part.id()))
    });
    unable.collect()
}

/// Calls `visit` with every combination of parts whose neighbours join, each set of tubes once.
fn each_combination<'a>(kit: &'a Kit, demand: &Demand, visit: &mut impl FnMut(&[Choice<'a>])) {
    let asked = |body: &&Part| demand.body.as_ref().is_none_or(|id| body.id() == id);
    for body in kit.of_kind(Kind::Body).filter(asked) {
        let mounted = |kind| kit.of_kind(kind).filter(|part| mounts_join(body, part).is_ok()).collect::<Vec<_>>();
        let spacers = spacer_sets(&mounted(Kind::Tube), &mounted(Kind::Bellows), demand.limits);
        for end in lens_ends(kit, body, demand.limits) {
            for set in &spacers {
                let parts = [body].into_iter().chain(set.iter().copied()).chain(end.iter().copied());
                visit(&parts.map(shortest).collect::<Vec<_>>());
            }
        }
    }
}

/// A part as chosen; a bellows at its shortest draw.
fn shortest(part: &Part) -> Choice<'_> {
    Choice { part, draw_mm: part.numbers("draw_mm").first().copied() }
}

/// Every set of tubes with every set of bellows, within the limits. Their order makes no difference to the light.
fn spacer_sets<'a>(tubes: &[&'a Part], bellows: &[&'a Part], limits: Limits) -> Vec<Vec<&'a Part>> {
    let bellows = subsets(bellows, limits.bellows);
    let join = |tubes: Vec<&'a Part>| {
        bellows.iter().map(|b| tubes.iter().chain(b).copied().collect()).collect::<Vec<Vec<_>>>()
    };
    subsets(tubes, limits.tubes).into_iter().flat_map(join).collect()
}

/// Every subset of at most `most` items, the empty one first.
fn subsets<T: Copy>(items: &[T], most: usize) -> Vec<Vec<T>> {
    let mut all = vec![Vec::new()];
    for item in items {
        let grown: Vec<Vec<T>> =
            all.iter().filter(|set| set.len() < most).map(|set| [&set[..], &[*item]].concat()).collect();
        all.extend(grown);
    }
    all
}

/// Every lens that can end a set-up on this body: by its mount with close-up lenses, or reversed on a ring.
fn lens_ends<'a>(kit: &'a Kit, body: &Part, limits: Limits) -> Vec<Vec<&'a Part>> {
    let mut ends = Vec::new();
    for lens in kit.of_kind(Kind::Lens).filter(|lens| lens.words("focusing") != Some("internal")) {
        if mounts_join(body, lens).is_ok() {
            let close_ups: Vec<_> = kit.of_kind(Kind::CloseUpLens).collect();
            screw_on(&mut vec![lens], &close_ups, limits.close_ups, &mut ends);
        }
        let rings = kit.of_kind(Kind::ReversingRing);
        let rings = rings.filter(|ring| mounts_join(body, ring).is_ok() && threads_join(ring, lens).is_ok());
        ends.extend(rings.map(|ring| vec![ring, lens]));
    }
    ends
}

/// Every sequence of close-up lenses that fits the outermost rim; their order matters, as each has its own place.
fn screw_on<'a>(stack: &mut Vec<&'a Part>, close_ups: &[&'a Part], left: usize, ends: &mut Vec<Vec<&'a Part>>) {
    ends.push(stack.clone());
    if left == 0 {
        return;
    }
    for close_up in close_ups {
        let rim = stack[stack.len() - 1];
        if !stack.iter().any(|part| part.id() == close_up.id()) && threads_join(rim, close_up).is_ok() {
            stack.push(close_up);
            screw_on(stack, close_ups, left - 1, ends);
            stack.pop();
        }
    }
}

/// One combination of parts with its free length.
struct Family<'a> {
    setup: Setup<'a>,
    /// The set-up at infinity focus and shortest draw.
    shortest: Spec<f64>,
    /// How much longer the bellows can be drawn, mm.
    draw_slack: f64,
    /// How far the lens can travel and have it count, mm.
    travel_slack: f64,
}

impl<'a> Family<'a> {
    /// `None` when the lens's marks contradict each other, so that its travel is unknown.
    fn of(choices: &[Choice<'a>]) -> Option<Self> {
        let setup = Setup::of(choices.to_vec(), &SetupRequest::default()).ok()?;
        let shortest = setup.numbers();
        let reversed = setup.roles.reversing_ring.is_some();
        let travel = shortest.lens.largest_travel().ok()?.unwrap_or(0.0);
        let draw = |choice: &Choice<'_>| match choice.part.numbers("draw_mm")[..] {
            [from, to] => to - from,
            _ => 0.0,
        };
        let draw_slack = choices.iter().map(draw).sum();
        Some(Self { setup, shortest, draw_slack, travel_slack: if reversed { 0.0 } else { travel } })
    }

    fn slack(&self) -> f64 {
        self.draw_slack + self.travel_slack
    }

    /// The set-up with `slack` mm more between lens and film. For a lens held by its mount an extra tube and the same
    /// travel are the same thing; a reversed one has no travel that counts.
    fn at(&self, slack: f64) -> Spec<f64> {
        let mut spec = self.shortest.clone();
        spec.spacers.push(slack);
        spec
    }

    /// Minus the lateral magnification's sign included: positive for a real, inverted picture, 0 at infinity.
    fn signed_magnification(&self, slack: f64) -> Option<f64> {
        Some(-self.at(slack).train(0.0).matrix()?.a)
    }

    fn figures(&self, slack: f64) -> Option<Figures<f64>> {
        self.at(slack).figures(self.setup.coc_mm).ok()
    }

    fn working_distance(&self, slack: f64) -> f64 {
        self.figures(slack).map_or(f64::NEG_INFINITY, |f| f.get(Figure::WorkingDistance).unwrap_or(f64::INFINITY))
    }

    /// The slack at which the magnification is `wanted`, by the straight line through both ends.
    fn slack_for(&self, wanted: f64) -> Option<f64> {
        let from = self.signed_magnification(0.0)?;
        // A millimetre gives the slope even where there is no slack at all.
        let slope = self.signed_magnification(1.0)? - from;
        Some((wanted - from) / slope)
    }

    /// The usable part of the slack: something real is sharp and lies in front of the set-up.
    fn usable(&self) -> Option<(f64, f64)> {
        let from = if self.signed_magnification(0.0)? < 0.0 { self.slack_for(0.0)? } else { 0.0 };
        let to = self.slack();
        if from > to || self.working_distance(from) < 0.0 {
            return None;
        }
        Some((from, if self.working_distance(to) >= 0.0 { to } else { self.touching(from, to) }))
    }

    /// The slack at which the subject touches the front: working distance falls as slack grows.
    fn touching(&self, mut clear: f64, mut inside: f64) -> f64 {
        // Forty halvings take any bellows below a nanometre.
        for _ in 0..40 {
            let middle = 0.5 * (clear + inside);
            if self.working_distance(middle) >= 0.0 { clear = middle } else { inside = middle }
        }
        clear
    }

    fn span(&self) -> Option<Span> {
        let (from, to) = self.usable()?;
        let magnification = |slack| self.figures(slack)?.get(Figure::Magnification).filter(|m| m.is_finite());
        Some(Span { min: magnification(from)?, max: magnification(to)? })
    }

    fn parts(&self) -> Vec<String> {
        self.setup.choices.iter().map(|choice| choice.part.id().to_string()).collect()
    }

    fn reached(&self, span: Span, wanted: Option<f64>) -> ReachedSetup {
        let stops = |m: f64| {
            let figures = self.slack_for(m).and_then(|slack| self.figures(slack));
            figures.and_then(|f| f.get(Figure::ExposureStops)).unwrap_or(0.0)
        };
        ReachedSetup {
            parts: self.parts(),
            magnification: span,
            stops: Span { min: stops(span.min), max: stops(span.max) },
            glass_added: self.setup.roles.close_ups.len(),
            setting: wanted.and_then(|m| self.setting(m)),
        }
    }

    /// How to set the parts for a magnification in range: the bellows does what it can, the focusing ring the rest.
    fn setting(&self, wanted: f64) -> Option<Setting> {
        let slack = self.slack_for(wanted)?.clamp(0.0, self.slack());
        let drawn = slack.min(self.draw_slack);
        let mut left = drawn;
        let parts = self.setup.choices.iter().map(|choice| match choice.part.numbers("draw_mm")[..] {
            [from, to] => {
                let more = left.min(to - from);
                left -= more;
                format!("{}={}", choice.part.id(), from + more)
            }
            _ => choice.part.id().to_string(),
        });
        let parts = parts.collect();
        let travel = slack - drawn;
        let focus = if travel > 0.0 { Focus::Travel(travel) } else { Focus::Infinity };
        Some(Setting { parts, focus, figures: self.figures(slack)? })
    }

    fn miss(&self, span: Span, wanted: f64) -> (f64, Miss) {
        let off = if wanted > span.max { (wanted / span.max).ln() } else { (span.min / wanted).ln() };
        let slack = self.slack_for(wanted).unwrap_or(f64::NAN);
        let why = if wanted < span.min {
            self.too_much(span.min, -slack)
        } else if self.working_distance(slack) < 0.0 {
            format!("reaches {:.3}× at most: at {wanted}× the subject would lie inside the set-up", span.max)
        } else {
            format!("reaches {:.3}× at most; {:.1} mm more extension would do", span.max, slack - self.slack())
        };
        (off, Miss { parts: self.parts(), magnification: span, why })
    }

    /// What would bring the magnification down: less extension where there is as much, something else where not.
    fn too_much(&self, least: f64, less: f64) -> String {
        let extension = self.shortest.extension(0.0);
        let remedy = if less <= extension {
            format!("{less:.1} mm less extension would do")
        } else if !self.setup.roles.close_ups.is_empty() {
            "a weaker close-up lens, or none, would do".into()
        } else {
            "another lens would do".into()
        };
        format!("goes no lower than {least:.3}×; {remedy}")
    }

    fn blocked(&self) -> Miss {
        let why = "nothing in front of it can be sharp".into();
        Miss { parts: self.parts(), magnification: Span { min: 0.0, max: 0.0 }, why }
    }
}
