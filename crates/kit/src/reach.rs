//! Every set-up that mounts and threads allow, and the magnifications that it reaches.
//!
//! Without close-up lenses or with them, normal or reversed, the lateral magnification of a train is a straight line
//! in the distance between lens and film. So each combination of parts is one family with one free length, its *slack*:
//! what the focusing travel and the bellows can still add. That makes the range exact and the setting for a wanted
//! magnification one division.

use crate::family::Family;
use crate::fit::{Choice, mounts_join, threads_join};
use crate::limits::{Limits, lenses};
use crate::parse::shown;
use crate::part::{Kit, Part, closest};
use crate::resolve::{Focus, marks_contradict};
use crate::schema::Kind;
use crate::setup_error::SetupError;
use optics::{Figure, Figures};

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
    /// The limits that stacks were held to.
    pub limits: Limits,
    /// What those limits keep off the list, a sentence each; empty when the list is whole.
    pub cut: Vec<String>,
}

/// Lists every set-up that mounts and threads allow.
///
/// "Best first" means: fewest lenses added in front, then least light lost (to a tenth of a stop), then fewest parts. It
/// is an order to read in, not a verdict.
pub fn reach(kit: &Kit, demand: &Demand) -> Result<Reach, SetupError> {
    check(kit, demand)?;
    let cut = demand.limits.cut(kit, demand.body.as_deref());
    let mut reach = Reach { left_out: left_out(kit), limits: demand.limits, cut, ..Reach::default() };
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
        // A large kit misses in hundreds of thousands of ways: only the nearest are kept.
        if misses.len() > 100 * MISSES_SHOWN {
            keep_nearest(&mut misses);
        }
    });
    sort(&mut reach.setups, demand.magnification.is_some());
    keep_nearest(&mut misses);
    reach.misses = misses.into_iter().map(|(_, miss)| miss).collect();
    Ok(reach)
}

/// More near misses than this help nobody choose.
const MISSES_SHOWN: usize = 20;

fn keep_nearest(misses: &mut Vec<(f64, Miss)>) {
    misses.sort_by(|(a, p), (b, q)| a.total_cmp(b).then(p.parts.len().cmp(&q.parts.len())));
    misses.truncate(MISSES_SHOWN);
}

fn check(kit: &Kit, demand: &Demand) -> Result<(), SetupError> {
    if let Some(id) = &demand.body {
        check_body(kit, id)?;
    }
    match demand.magnification {
        Some(found) if !(found.is_finite() && found > 0.0) => {
            Err(SetupError::Setting { what: "the magnification", rule: "above 0", found })
        }
        _ => Ok(()),
    }
}

fn check_body(kit: &Kit, id: &str) -> Result<(), SetupError> {
    let ids = || kit.of_kind(Kind::Body).map(Part::id);
    match kit.part(id) {
        Some(part) if part.kind() == Kind::Body => Ok(()),
        Some(part) => {
            Err(SetupError::NotABody { id: id.into(), kind: part.kind(), bodies: ids().map(Into::into).collect() })
        }
        None => Err(SetupError::NoSuchPart { id: shown(id), closest: closest(id, ids()).map(Into::into) }),
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
    for lens in lenses(kit) {
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
