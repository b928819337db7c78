//! Every set-up that mounts and threads allow, and the magnifications that it reaches.
//!
//! A set-up is a head (a lens with what is screwed into it, or reversed on a ring) on an arrangement of lengths between
//! it and the film. Arrangements of equal lengths are one class, equal heads are one head: what is the same to the
//! light is one result with its alternatives. How many reach a wanted magnification is then counted without going
//! through them, and only the best are built.

use crate::arrange::{Class, Group, groups, reachable_mounts};
use crate::field::{Quantity, Value};
use crate::fit::Choice;
use crate::heads::{Head, heads};
use crate::limits::{Limits, MOST_STACKS};
use crate::misses::Misses;
use crate::missing::{Missing, missing_rings};
use crate::parse::shown;
use crate::part::{Kit, Part, closest};
use crate::resolve::{Focus, Setup, SetupRequest, marks_contradict};
use crate::schema::Kind;
use crate::setup_error::SetupError;
use crate::solve::{self, Prepared, SolvedHead, Stack, drawn};
use crate::working::Obstacle;
use optics::{Figure, Figures};
use std::collections::{BinaryHeap, HashMap};

/// What is asked of a kit.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// Only set-ups on this body.
    pub body: Option<String>,
    /// Only set-ups that reach this magnification.
    pub magnification: Option<f64>,
    /// How large a stack may get.
    pub limits: Limits,
    /// How many set-ups to build; all are counted.
    pub most: usize,
}

impl Default for Demand {
    fn default() -> Self {
        Self { body: None, magnification: None, limits: Limits::default(), most: usize::MAX }
    }
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
    /// Other parts that give the same to the light, a few of them.
    pub alternatives: Vec<Vec<String>>,
    /// In how many ways it can be put together, this one included.
    pub ways: usize,
    /// What it reaches.
    pub magnification: Span,
    /// Light lost at the two ends of the range, stops.
    pub stops: Span,
    /// Lenses added to the one nearest the body: close-up lenses, a converter, a second lens.
    pub glass_added: usize,
    /// What keeps it from being worked as usual.
    pub obstacles: Vec<Obstacle>,
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
    /// How many set-ups there are, those that are the same to the light counted once.
    pub total: u64,
    /// In how many ways parts can be put together to them.
    pub ways: u64,
    /// The set-ups, as many as were asked for: by largest magnification, or those that reach the wanted one, best
    /// first.
    pub setups: Vec<ReachedSetup>,
    /// The nearest misses, nearest first; empty when no magnification was asked for.
    pub misses: Vec<Miss>,
    /// Rings that the kit lacks and that would join parts of it to set-ups that reach the wanted magnification.
    pub missing: Vec<Missing>,
    /// Parts that were not used, and why.
    pub left_out: Vec<String>,
    /// The limits that stacks were held to.
    pub limits: Limits,
    /// What those limits keep off the list, a sentence each; empty when the list is whole.
    pub cut: Vec<String>,
}

/// Lists every set-up that mounts and threads allow.
///
/// "Best first" means: fewest obstacles to working it, then fewest lenses added, then least light lost (to a tenth of a
/// stop), then fewest parts. It is an order to read in, not a verdict.
pub fn reach(kit: &Kit, demand: &Demand) -> Result<Reach, SetupError> {
    check(kit, demand)?;
    let mut reach = Reach { left_out: left_out(kit), limits: demand.limits, cut: cut(kit, demand), ..Reach::default() };
    let field = Field::of(kit, demand)?;
    let mut best = Best { most: demand.most, heap: BinaryHeap::new(), added: 0 };
    match demand.magnification {
        Some(wanted) => {
            let mut misses = Misses::new(wanted, field.pairs());
            field.each_body(&mut |place| seek(place, wanted, &mut best, &mut misses, &mut reach));
            reach.misses = misses.nearest();
            reach.missing = missing_rings(kit, demand, wanted);
        }
        None => field.each_body(&mut |place| list(place, &mut best, &mut reach)),
    }
    let picks = best.heap.into_sorted_vec();
    reach.setups = picks.iter().filter_map(|(_, _, pick)| field.reached(pick, demand.magnification)).collect();
    Ok(reach)
}

/// Every body, every mount that it can end in, and what stands on both sides of that mount.
pub(crate) struct Field<'a> {
    places: Vec<Place<'a>>,
}

/// One body and one mount.
pub(crate) struct Place<'a> {
    index: usize,
    pub body: &'a Part,
    pub register: f64,
    pub groups: Vec<Group<'a>>,
    pub heads: Vec<SolvedHead<'a>>,
}

/// A set-up among the places.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Pick {
    place: usize,
    head: usize,
    group: usize,
    class: usize,
}

impl<'a> Field<'a> {
    pub fn of(kit: &'a Kit, demand: &Demand) -> Result<Self, SetupError> {
        let too_many = || SetupError::TooMany { most: MOST_STACKS as u64 };
        let all_heads = heads(kit, demand.limits).map_err(|_| too_many())?;
        let mut places = Vec::new();
        let asked = |body: &&Part| demand.body.as_ref().is_none_or(|id| body.id() == id);
        for body in kit.of_kind(Kind::Body).filter(asked) {
            for mount in reachable_mounts(kit, body) {
                let groups = groups(kit, body, mount, demand.limits).map_err(|_| too_many())?;
                let register = body.number("register_mm").unwrap_or(f64::NAN);
                let heads = solved(body, all_heads.iter().filter(|head| head.mount == mount));
                places.push(Place { index: places.len(), body, register, groups, heads });
            }
        }
        Ok(Self { places })
    }

    /// How many pairs of head and class there are.
    fn pairs(&self) -> usize {
        let of = |place: &Place<'_>| place.heads.len() * place.groups.iter().map(|g| g.classes.len()).sum::<usize>();
        self.places.iter().map(of).sum()
    }

    pub fn each_body(&self, visit: &mut impl FnMut(&Place<'a>)) {
        self.places.iter().for_each(visit);
    }

    /// The set-up of these places in the lists (place, head, group, class), set for a magnification.
    pub fn reached_at(&self, [place, head, group, class]: [usize; 4], wanted: f64) -> Option<ReachedSetup> {
        self.reached(&Pick { place, head, group, class }, Some(wanted))
    }

    fn reached(&self, pick: &Pick, wanted: Option<f64>) -> Option<ReachedSetup> {
        let place = &self.places[pick.place];
        let (head, group) = (&place.heads[pick.head], &place.groups[pick.group]);
        let class = &group.classes[pick.class];
        let stack = Stack { register: place.register, group, class, head };
        let (min, max) = stack.span()?;
        let stops = |m: f64| stack.setting(m).and_then(|setting| stack.stops(&setting)).unwrap_or(0.0);
        let parts = place.choices(class, head, None);
        let setup = Setup::of(parts, &SetupRequest::default()).ok()?;
        let setting = match wanted {
            Some(wanted) => Some(place.setting(&stack, wanted)?),
            None => None,
        };
        Some(ReachedSetup {
            parts: ids(&setup),
            alternatives: place.alternatives(class, head),
            ways: class.ways * (1 + head.alternatives.len()),
            magnification: Span { min, max },
            stops: Span { min: stops(min), max: stops(max) },
            glass_added: head.glass + usize::from(group.converter.is_some()),
            obstacles: setup.obstacles(),
            setting,
        })
    }
}

fn ids(setup: &Setup<'_>) -> Vec<String> {
    setup.choices().iter().map(|choice| choice.id().to_owned()).collect()
}

/// Heads on a body, those that are the same to the light counted once.
pub(crate) fn solved<'a, 'h>(body: &'a Part, heads: impl Iterator<Item = &'h Head<'a>>) -> Vec<SolvedHead<'a>>
where
    'a: 'h,
{
    let mut solved: Vec<SolvedHead<'a>> = Vec::new();
    let mut places: HashMap<Vec<i64>, usize> = HashMap::new();
    for head in heads.filter_map(|head| SolvedHead::of(body, &head.parts)) {
        match places.entry(head.key()) {
            std::collections::hash_map::Entry::Vacant(entry) => {
                entry.insert(solved.len());
                solved.push(head);
            }
            std::collections::hash_map::Entry::Occupied(entry) => {
                let first = &mut solved[*entry.get()];
                let rank = |head: &SolvedHead<'_>| (head.obstacles, head.coupled, head.parts.len());
                if rank(&head) < rank(first) {
                    let mut other = std::mem::replace(first, head);
                    first.alternatives = std::mem::take(&mut other.alternatives);
                    first.alternatives.push(other.parts);
                } else {
                    first.alternatives.push(head.parts);
                }
            }
        }
    }
    // What is most likely to be wanted comes first, so that the rest is soon known to be worse.
    solved.sort_by_key(|head| (head.obstacles, head.glass));
    solved
}

impl<'a> Place<'a> {
    /// A place of its own, outside any field.
    pub fn bare(body: &'a Part, register: f64, groups: Vec<Group<'a>>, heads: Vec<SolvedHead<'a>>) -> Self {
        Self { index: 0, body, register, groups, heads }
    }

    /// Its place in the list of places.
    pub fn index(&self) -> usize {
        self.index
    }

    /// The parts as chosen; each bellows at its shortest, or drawn out as far as a setting says.
    pub fn choices(&self, class: &Class<'a>, head: &SolvedHead<'a>, set: Option<&solve::Setting>) -> Vec<Choice<'a>> {
        let shortest = solve::Setting { rear: 0.0, front: 0.0, focus: Focus::Infinity };
        let between = drawn(&class.parts, set.unwrap_or(&shortest));
        let between = between.map(|(part, draw_mm)| Choice::Part { part, draw_mm, turned: false });
        let ends = |part: &&'a Part| Choice::of(part);
        std::iter::once(Choice::of(self.body)).chain(between).chain(head.parts.iter().map(ends)).collect()
    }

    fn alternatives(&self, class: &Class<'a>, head: &SolvedHead<'a>) -> Vec<Vec<String>> {
        let line = |arranged: &[&Part], head: &[&Part]| {
            let parts = std::iter::once(&self.body).chain(arranged).chain(head);
            parts.map(|part| part.id().to_owned()).collect::<Vec<_>>()
        };
        let others = class.alternatives.iter().map(|other| line(other, &head.parts));
        others.chain(head.alternatives.iter().map(|other| line(&class.parts, other))).collect()
    }

    fn setting(&self, stack: &Stack<'_, 'a>, wanted: f64) -> Option<Setting> {
        let setting = stack.setting(wanted)?;
        let choices = self.choices(stack.class, stack.head, Some(&setting));
        let parts = choices.iter().map(Choice::word).collect();
        let request = SetupRequest { focus: setting.focus, ..SetupRequest::default() };
        let setup = Setup::of(choices, &request).ok()?;
        let figures = setup.numbers().figures(setup.coc_mm()).ok()?;
        Some(Setting { parts, focus: setting.focus, figures })
    }
}

/// The order to read in: obstacles, lenses added, light lost in tenths of a stop, parts. Lists of ranges use the first
/// alone.
type Rank = [i64; 4];

/// The best so far, the worst of them on top.
struct Best {
    most: usize,
    heap: BinaryHeap<(Rank, usize, Pick)>,
    added: usize,
}

impl Best {
    fn wants(&self, rank: Rank) -> bool {
        self.heap.len() < self.most || self.heap.peek().is_some_and(|(worst, ..)| rank < *worst)
    }

    fn add(&mut self, rank: Rank, pick: Pick) {
        if !self.wants(rank) {
            return;
        }
        self.added += 1;
        self.heap.push((rank, self.added, pick));
        if self.heap.len() > self.most {
            self.heap.pop();
        }
    }
}

fn tenths(stops: f64) -> i64 {
    (stops * 10.0).round() as i64
}

/// All that reaches the wanted magnification at one place.
fn seek(place: &Place<'_>, wanted: f64, best: &mut Best, misses: &mut Misses, reach: &mut Reach) {
    for (g, group) in place.groups.iter().enumerate() {
        let Some(prepared) = Prepared::of(place.register, group) else { continue };
        // Ways up to each class, so that those of a stretch are one difference.
        let mut ways = vec![0u64];
        ways.extend(group.classes.iter().scan(0, |sum, class| {
            *sum += class.ways as u64;
            Some(*sum)
        }));
        for (h, head) in place.heads.iter().enumerate() {
            let pick = |class| Pick { place: place.index, head: h, group: g, class };
            let Some(found) = prepared.reaching(place.register, head, wanted) else {
                one_by_one(place, (&prepared, group, head), wanted, (&pick, best), misses, reach);
                continue;
            };
            let [mut first, second] = found.map(|found| found.map_or(0..0, |found| prepared.indices(&found)));
            // Where both ways to the magnification are open to one stack, it counts once.
            let mut rest = second;
            if rest.start < first.end && first.start < rest.end {
                (first, rest) = (first.start.min(rest.start)..first.end.max(rest.end), 0..0);
            }
            misses.around(place, (&prepared, group, head), found, [&first, &rest]);
            if first.is_empty() && rest.is_empty() {
                continue;
            }
            for range in [&first, &rest] {
                reach.total += range.len() as u64;
                reach.ways += (ways[range.end] - ways[range.start]) * (1 + head.alternatives.len() as u64);
            }
            let glass = (head.glass + usize::from(group.converter.is_some())) as i64;
            if !best.wants([head.obstacles as i64, glass, i64::MIN, 0]) {
                continue;
            }
            let least = found.iter().flatten().map(|found| tenths(prepared.least_stops(found, head))).min();
            if !best.wants([head.obstacles as i64, glass, least.unwrap_or(i64::MIN), 0]) {
                continue;
            }
            for index in first.chain(rest) {
                offer(place, (group, &group.classes[index], head), wanted, pick(index), best);
            }
        }
    }
}

/// Heads whose magnification is no straight line are asked stack by stack.
fn one_by_one(
    place: &Place<'_>,
    (prepared, group, head): (&Prepared<'_, '_>, &Group<'_>, &SolvedHead<'_>),
    wanted: f64,
    (pick, best): (&impl Fn(usize) -> Pick, &mut Best),
    misses: &mut Misses,
    reach: &mut Reach,
) {
    for (index, class) in group.classes.iter().enumerate() {
        let stack = Stack { register: place.register, group, class, head };
        let reaches = || prepared.reaches(class, head, wanted).unwrap_or_else(|| stack.setting(wanted).is_some());
        if prepared.may_reach(class, head, wanted) && reaches() {
            reach.total += 1;
            reach.ways += (class.ways * (1 + head.alternatives.len())) as u64;
            offer(place, (group, class, head), wanted, pick(index), best);
        } else {
            misses.consider(place, &stack);
        }
    }
}

fn offer(
    place: &Place<'_>,
    (group, class, head): (&Group<'_>, &Class<'_>, &SolvedHead<'_>),
    wanted: f64,
    pick: Pick,
    best: &mut Best,
) {
    let obstacles = head.obstacles + usize::from(head.coupled && !class.linked);
    let glass = head.glass + usize::from(group.converter.is_some());
    if !best.wants([obstacles as i64, glass as i64, i64::MIN, 0]) {
        return;
    }
    let stack = Stack { register: place.register, group, class, head };
    let stops = stack.setting(wanted).and_then(|setting| stack.stops(&setting)).unwrap_or(99.0);
    let parts = class.parts.len() + head.parts.len();
    best.add([obstacles as i64, glass as i64, tenths(stops), parts as i64], pick);
}

/// Everything at one place, by largest magnification.
fn list(place: &Place<'_>, best: &mut Best, reach: &mut Reach) {
    for (g, group) in place.groups.iter().enumerate() {
        for (h, head) in place.heads.iter().enumerate() {
            for (c, class) in group.classes.iter().enumerate() {
                let stack = Stack { register: place.register, group, class, head };
                let Some((_, most)) = stack.span() else { continue };
                reach.total += 1;
                reach.ways += (class.ways * (1 + head.alternatives.len())) as u64;
                // Nanounits keep the order of a float among whole numbers.
                let rank = [(most * 1e9).min(9e15) as i64, 0, 0, 0];
                best.add(rank, Pick { place: place.index, head: h, group: g, class: c });
            }
        }
    }
}

pub(crate) fn check(kit: &Kit, demand: &Demand) -> Result<(), SetupError> {
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

fn left_out(kit: &Kit) -> Vec<String> {
    let why =
        |lens: &Part| Some(format!("{} \"{}\": {}", lens.kind().spec().label, lens.id(), marks_contradict(lens)?));
    let none = [Kind::Body, Kind::Lens].into_iter().filter(|kind| kit.of_kind(*kind).next().is_none());
    let none =
        none.map(|kind| format!("the kit has no {}: add one, and there is something to reach", kind.spec().label));
    none.chain(kit.of_kind(Kind::Lens).filter_map(why)).collect()
}

/// What the limits leave out of the list, one sentence a kind of part; empty when they leave out nothing.
fn cut(kit: &Kit, demand: &Demand) -> Vec<String> {
    let mut sentences = Vec::new();
    let bodies: Vec<_> =
        kit.of_kind(Kind::Body).filter(|body| demand.body.as_deref().is_none_or(|id| body.id() == id)).collect();
    for kind in [Kind::Tube, Kind::Bellows, Kind::Teleconverter] {
        let joins = |body: &&&Part, part: &Part| {
            part.words("mount").is_some_and(|mount| reachable_mounts(kit, body).contains(&mount))
        };
        let fit = bodies.iter().map(|body| kit.of_kind(kind).filter(|part| joins(&body, part)).count()).max();
        sentences.extend(cut_sentence(kind, demand.limits, fit.unwrap_or(0)));
    }
    // Close-up lenses of one thread stand before one another; with step rings all of them could.
    let threads: Vec<Option<f64>> = kit.of_kind(Kind::CloseUpLens).map(|part| part.number("thread_mm")).collect();
    let rims: Vec<Option<f64>> = kit.of_kind(Kind::Lens).map(|part| part.number("thread_mm")).collect();
    let steps: Vec<Option<f64>> = kit.of_kind(Kind::StepRing).map(|part| part.number("to_mm")).collect();
    let fits = |thread: &&Option<f64>| rims.contains(thread) || steps.contains(thread);
    sentences.extend(cut_sentence(Kind::CloseUpLens, demand.limits, threads.iter().filter(fits).count()));
    sentences
}

fn cut_sentence(kind: Kind, limits: Limits, fit: usize) -> Option<String> {
    let limit = limits.of(kind)?;
    let spec = kind.spec();
    let name = if limit == 1 { spec.label } else { spec.plural };
    // One at most is no limit of this list: more than one converter in a train serves nobody.
    let counts = kind != Kind::Teleconverter || limit == 0;
    (counts && fit > limit)
        .then(|| format!("set-ups with more than {limit} {name} are not listed, though {fit} would fit together"))
}

/// A ring that nobody has, to see what it would join.
pub(crate) fn invented(kind: Kind, id: &str, words: &[(&'static str, &str)], numbers: &[(&'static str, f64)]) -> Part {
    let mut part = Part { kind, id: id.into(), values: Default::default() };
    for (field, text) in words {
        part.values.insert(field, Value::Words((*text).into()));
    }
    for (field, number) in numbers {
        part.values.insert(field, Value::Number(Quantity::plain(*number)));
    }
    part
}

/// Light lost, for whoever sorts by it.
impl ReachedSetup {
    /// A figure at the wanted magnification.
    pub fn at_wanted(&self, figure: Figure) -> Option<f64> {
        self.setting.as_ref()?.figures.get(figure)
    }
}
