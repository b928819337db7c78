//! Rings that the kit lacks: what one of them would join, and whether that reaches what is wanted.

use crate::arrange::{groups, reachable_mounts};
use crate::heads::{Head, heads};
use crate::limits::Limits;
use crate::part::{Kit, Part};
use crate::reach::{Demand, Place, Span, invented, solved};
use crate::schema::Kind;
use crate::solve::Stack;

/// A ring that would help.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// The ring in words: "a step ring from 52 to 58 mm".
    pub ring: String,
    /// A set-up that it would join, without the ring, from the body outwards.
    pub parts: Vec<String>,
    /// What that set-up would reach.
    pub magnification: Span,
    /// A remark, where there is one to make.
    pub remark: Option<&'static str>,
}

/// So many are told.
const SHOWN: usize = 6;
/// Beyond so many ends of stacks the search is left alone: a drawer that large does not lack rings.
const MOST_HEADS: usize = 5_000;
const INVENTED: &str = "closework-invented-";

/// The rings that the kit lacks and that would bring set-ups of it to the wanted magnification, each once, the set-up
/// of fewest parts for it.
pub(crate) fn missing_rings(kit: &Kit, demand: &Demand, wanted: f64) -> Vec<Missing> {
    let rings = candidates(kit);
    // What one ring is good for shows in a small stack; a ring that helps only in a large one is no remedy.
    let usual = demand.limits;
    let limits = Limits {
        tubes: usual.tubes.min(2),
        bellows: usual.bellows.min(1),
        close_ups: usual.close_ups.min(1),
        converters: 0,
        lenses: 1,
    };
    let mut found: Vec<Missing> = Vec::new();
    for (ring, words, remark) in rings {
        let with = Kit { parts: kit.parts.iter().cloned().chain([ring]).collect() };
        let mut best: Option<Missing> = None;
        let Ok(heads) = heads(&with, limits) else { continue };
        let new: Vec<Head<'_>> = heads.into_iter().filter(|head| head.parts.iter().any(is_invented)).collect();
        if new.len() > MOST_HEADS {
            continue;
        }
        let asked = |body: &&Part| demand.body.as_ref().is_none_or(|id| body.id() == id);
        for body in with.of_kind(Kind::Body).filter(asked) {
            for mount in reachable_mounts(&with, body) {
                let Ok(groups) = groups(&with, body, mount, limits) else { continue };
                let heads = solved(body, new.iter().filter(|head| head.mount == mount));
                let register = body.number("register_mm").unwrap_or(f64::NAN);
                let place = Place::bare(body, register, groups, heads);
                best = smallest(best, &place, wanted, &words, remark);
            }
        }
        found.extend(best);
    }
    found.sort_by_key(|missing| missing.parts.len());
    found.truncate(SHOWN);
    found
}

fn is_invented(part: &&Part) -> bool {
    part.id().starts_with(INVENTED)
}

fn smallest(
    mut best: Option<Missing>,
    place: &Place<'_>,
    wanted: f64,
    ring: &str,
    remark: Option<&'static str>,
) -> Option<Missing> {
    for group in place.groups.iter().filter(|group| group.converter.is_none()) {
        for head in &place.heads {
            for class in &group.classes {
                let count = class.parts.len() + head.parts.len();
                if best.as_ref().is_some_and(|best| best.parts.len() <= count) {
                    continue;
                }
                let stack = Stack { register: place.register, group, class, head };
                let Some((min, max)) = stack.span().filter(|_| stack.setting(wanted).is_some()) else { continue };
                let real = std::iter::once(&place.body).chain(&class.parts).chain(&head.parts);
                let parts = real.filter(|part| !is_invented(part)).map(|part| part.id().to_owned()).collect();
                best = Some(Missing { ring: ring.into(), parts, magnification: Span { min, max }, remark });
            }
        }
    }
    best
}

/// Step rings between threads that the kit has and does not join, and reversing rings for threads that it has none for.
fn candidates(kit: &Kit) -> Vec<(Part, String, Option<&'static str>)> {
    let mut rings = Vec::new();
    let threads = |kind, field| {
        let mut found: Vec<f64> = kit.of_kind(kind).filter_map(|part: &Part| part.number(field)).collect();
        found.sort_by(f64::total_cmp);
        found.dedup();
        found
    };
    let rims = threads(Kind::Lens, "thread_mm");
    let has_step = |from: f64, to: f64| {
        kit.of_kind(Kind::StepRing).any(|ring| ring.number("from_mm") == Some(from) && ring.number("to_mm") == Some(to))
    };
    for &from in &rims {
        for to in threads(Kind::CloseUpLens, "thread_mm") {
            if from != to && !has_step(from, to) {
                let id = format!("{INVENTED}step-{from}-{to}");
                let part = invented(Kind::StepRing, &id, &[], &[("from_mm", from), ("to_mm", to)]);
                let narrower = "it narrows the front and may cut the corners";
                rings.push((part, format!("a step ring from {from} to {to} mm"), (to < from).then_some(narrower)));
            }
        }
    }
    let mut mounts: Vec<&str> = kit.of_kind(Kind::Body).filter_map(|body| body.words("mount")).collect();
    mounts.sort_unstable();
    mounts.dedup();
    for mount in mounts {
        for &thread in &rims {
            let has = |ring: &Part| ring.words("mount") == Some(mount) && ring.number("thread_mm") == Some(thread);
            if !kit.of_kind(Kind::ReversingRing).any(has) {
                let id = format!("{INVENTED}reverse-{thread}");
                let part = invented(Kind::ReversingRing, &id, &[("mount", mount)], &[("thread_mm", thread)]);
                rings.push((part, format!("a reversing ring from mount \"{mount}\" to {thread} mm"), None));
            }
        }
    }
    rings
}
