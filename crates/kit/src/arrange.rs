//! The film's side of a stack: tubes, bellows, adapters and a converter between the body and what stands on the last
//! mount.
//!
//! To the light only lengths and known openings count: how much stands behind the converter and how much before it (all
//! of it before, without one). So every choice of parts falls into a class of equal lengths, and classes that share
//! everything but the length in front form a group that is sorted by it, where what reaches a wanted magnification is
//! one stretch.

use crate::limits::{Limits, MOST_STACKS};
use crate::part::{Kit, Part};
use crate::resolve::converter_numbers;
use crate::schema::Kind;
use crate::spec::ConverterSpec;
use std::collections::HashMap;

/// Lengths that differ by less are equal, mm: no part is measured to a nanometre.
const EQUAL_MM: f64 = 1e-6;
/// Other choices of equal length that are told; more are counted only.
const ALTERNATIVES_TOLD: usize = 5;

/// A length that a bellows may draw out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Length {
    /// Shortest, mm.
    pub min: f64,
    /// Longest less shortest, mm.
    pub slack: f64,
}

impl Length {
    const NONE: Self = Self { min: 0.0, slack: 0.0 };

    fn with(self, part: &Part) -> Self {
        match part.numbers("draw_mm")[..] {
            [from, to] => Self { min: self.min + from, slack: self.slack + (to - from) },
            _ => Self { min: self.min + part.number("length_mm").unwrap_or(0.0), ..self },
        }
    }

    /// Longest, mm.
    pub fn max(self) -> f64 {
        self.min + self.slack
    }
}

/// Everything of equal length between body and head.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Class<'a> {
    /// Before the converter, or all of it without one.
    pub front: Length,
    /// The parts from the body outwards: the choice that works best and is smallest.
    pub parts: Vec<&'a Part>,
    /// Whether that choice hands an iris linkage on.
    pub linked: bool,
    /// Other choices of the same lengths.
    pub alternatives: Vec<Vec<&'a Part>>,
    /// How many choices there are in all.
    pub ways: usize,
    /// Known openings; they may limit the light.
    pub openings: Vec<Opening>,
}

/// A clear diameter with the first and the last place where it stands, counted from the mount face (behind the
/// converter) or from the converter, in whole nanometres. What lies between two openings of one width narrows nothing
/// that both let through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) struct Opening {
    before_converter: bool,
    clear: i64,
    from: i64,
    to: i64,
}

/// The openings of parts in a row.
fn openings(parts: &[&Part], before_converter: bool, found: &mut Vec<Opening>) {
    let mut at = 0.0;
    for part in parts {
        let end = Length::NONE.with(part).min + at;
        if let Some(clear) = part.number("clear_mm").map(grain) {
            let (from, to) = (grain(at), grain(end));
            match found.iter_mut().find(|o| o.before_converter == before_converter && o.clear == clear) {
                Some(opening) => opening.to = to,
                None => found.push(Opening { before_converter, clear, from, to }),
            }
        }
        at = end;
    }
}

/// Classes that differ only in the length in front, shortest first.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group<'a> {
    /// The converter.
    pub converter: Option<&'a Part>,
    /// Its numbers on this body.
    pub numbers: Option<ConverterSpec<f64>>,
    /// Between body and converter.
    pub rear: Length,
    /// Slack of the lengths in front.
    pub front_slack: f64,
    /// Sorted by `front.min`.
    pub classes: Vec<Class<'a>>,
}

/// Too many arrangements to go through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TooManyArrangements;

/// A choice of parts on its way to its class.
struct Chosen<'a> {
    converter: Option<&'a Part>,
    /// Its numbers on the body.
    numbers: Option<ConverterSpec<f64>>,
    rear: Vec<&'a Part>,
    front: Vec<&'a Part>,
}

/// Every arrangement between this body and a head of that mount, in classes and groups.
pub(crate) fn groups<'a>(
    kit: &'a Kit,
    body: &'a Part,
    mount: &str,
    limits: Limits,
) -> Result<Vec<Group<'a>>, TooManyArrangements> {
    let register = body.number("register_mm").unwrap_or(f64::NAN);
    let mut sorter = Sorter { body, register, groups: HashMap::new(), places: HashMap::new(), added: 0 };
    for path in paths(kit, body.words("mount").unwrap_or_default(), mount) {
        along(kit, &path, limits, &mut sorter)?;
    }
    Ok(sorter.groups())
}

/// The mounts that a set-up on this body may end in.
pub(crate) fn reachable_mounts<'a>(kit: &'a Kit, body: &'a Part) -> Vec<&'a str> {
    let mut found = vec![body.words("mount").unwrap_or_default()];
    let mut next = 0;
    while next < found.len() {
        let here = found[next];
        for adapter in kit.of_kind(Kind::Adapter).filter(|a| a.words("body_mount") == Some(here)) {
            let mount = adapter.words("lens_mount").unwrap_or_default();
            if !found.contains(&mount) {
                found.push(mount);
            }
        }
        next += 1;
    }
    found
}

/// Adapters in a row that lead from one mount to another without coming back, with the mounts on the way.
struct Path<'a> {
    mounts: Vec<&'a str>,
    adapters: Vec<&'a Part>,
}

fn paths<'a>(kit: &'a Kit, from: &'a str, to: &str) -> Vec<Path<'a>> {
    let mut found = Vec::new();
    let mut open = vec![Path { mounts: vec![from], adapters: Vec::new() }];
    while let Some(path) = open.pop() {
        let here = path.mounts[path.mounts.len() - 1];
        if here == to {
            found.push(path);
            continue;
        }
        for adapter in kit.of_kind(Kind::Adapter).filter(|a| a.words("body_mount") == Some(here)) {
            let mount = adapter.words("lens_mount").unwrap_or_default();
            if !path.mounts.contains(&mount) {
                let mounts = [&path.mounts[..], &[mount]].concat();
                open.push(Path { mounts, adapters: [&path.adapters[..], &[adapter]].concat() });
            }
        }
    }
    found
}

fn along<'a>(
    kit: &'a Kit,
    path: &Path<'a>,
    limits: Limits,
    sorter: &mut Sorter<'a>,
) -> Result<(), TooManyArrangements> {
    let place = |part: &Part| path.mounts.iter().position(|mount| Some(*mount) == part.words("mount"));
    let placed = |kind| kit.of_kind(kind).filter_map(|part| Some((place(part)?, part))).collect::<Vec<_>>();
    let tubes = subsets(&placed(Kind::Tube), limits.tubes)?;
    let bellows = subsets(&placed(Kind::Bellows), limits.bellows)?;
    let converters = if limits.converters > 0 { placed(Kind::Teleconverter) } else { Vec::new() };
    let of = |(at, part)| (at, part, converter_numbers(part, sorter.body));
    let converters: Vec<(usize, &Part, ConverterSpec<f64>)> = converters.into_iter().map(of).collect();
    if tubes.len().saturating_mul(bellows.len()) > MOST_STACKS {
        return Err(TooManyArrangements);
    }
    for tubes in &tubes {
        for bellows in &bellows {
            let spacers: Vec<(usize, &Part)> = tubes.iter().chain(bellows).copied().collect();
            sorter.add(Chosen {
                converter: None,
                numbers: None,
                rear: Vec::new(),
                front: in_order(path, &spacers, 0, usize::MAX),
            })?;
            for converter in &converters {
                split(path, &spacers, *converter, sorter)?;
            }
        }
    }
    Ok(())
}

/// Each spacer of the converter's own mount stands behind it or before it; those of other mounts have no choice.
fn split<'a>(
    path: &Path<'a>,
    spacers: &[(usize, &'a Part)],
    (at, converter, numbers): (usize, &'a Part, ConverterSpec<f64>),
    sorter: &mut Sorter<'a>,
) -> Result<(), TooManyArrangements> {
    let free: Vec<usize> = (0..spacers.len()).filter(|&i| spacers[i].0 == at).collect();
    for pattern in 0..1usize << free.len() {
        let is_rear = |i: usize| match free.iter().position(|&f| f == i) {
            Some(bit) => pattern >> bit & 1 == 1,
            None => spacers[i].0 < at,
        };
        let (rear, front): (Vec<_>, Vec<_>) = (0..spacers.len()).partition(|&i| is_rear(i));
        let pick = |indices: &[usize]| indices.iter().map(|&i| spacers[i]).collect::<Vec<_>>();
        sorter.add(Chosen {
            converter: Some(converter),
            numbers: Some(numbers),
            rear: in_order(path, &pick(&rear), 0, at),
            front: in_order(path, &pick(&front), at, usize::MAX),
        })?;
    }
    Ok(())
}

/// Spacers and the adapters of a stretch of the path, in the one order in which they can stand: mounts `from` to `to`.
fn in_order<'a>(path: &Path<'a>, spacers: &[(usize, &'a Part)], from: usize, to: usize) -> Vec<&'a Part> {
    let mut parts = Vec::new();
    for mount in from..=to.min(path.mounts.len() - 1) {
        parts.extend(spacers.iter().filter(|(at, _)| *at == mount).map(|(_, part)| *part));
        parts.extend(path.adapters.get(mount).filter(|_| mount < to));
    }
    parts
}

/// Every subset of at most `most` items, the empty one first.
fn subsets<T: Copy>(items: &[T], most: usize) -> Result<Vec<Vec<T>>, TooManyArrangements> {
    let mut all = vec![Vec::new()];
    for item in items {
        let grown: Vec<Vec<T>> =
            all.iter().filter(|set| set.len() < most).map(|set| [&set[..], &[*item]].concat()).collect();
        all.extend(grown);
        if all.len() > MOST_STACKS {
            return Err(TooManyArrangements);
        }
    }
    Ok(all)
}

/// What makes two groups, or two classes, the same, in whole nanometres.
fn grain(mm: f64) -> i64 {
    (mm / EQUAL_MM).round() as i64
}

type GroupKey = (Option<[i64; 3]>, i64, i64, i64);

struct Sorter<'a> {
    body: &'a Part,
    register: f64,
    groups: HashMap<GroupKey, Group<'a>>,
    places: HashMap<(GroupKey, i64, Vec<Opening>), usize>,
    added: usize,
}

impl<'a> Sorter<'a> {
    fn add(&mut self, chosen: Chosen<'a>) -> Result<(), TooManyArrangements> {
        self.added += 1;
        if self.added > 4 * MOST_STACKS {
            return Err(TooManyArrangements);
        }
        let length = |parts: &[&Part]| parts.iter().fold(Length::NONE, |sum, part| sum.with(part));
        let (rear, front) = (length(&chosen.rear), length(&chosen.front));
        let numbers = chosen.numbers;
        let converter = numbers.map(|of| [of.factor, of.length, of.register.unwrap_or(self.register)].map(grain));
        let key = (converter, grain(rear.min), grain(rear.slack), grain(front.slack));
        let parts: Vec<&Part> = chosen.rear.iter().chain(&chosen.converter).chain(&chosen.front).copied().collect();
        let mut found = Vec::new();
        let before = chosen.rear.len() + usize::from(chosen.converter.is_some());
        openings(&parts[..before], false, &mut found);
        openings(&parts[before..], true, &mut found);
        let group = self.groups.entry(key).or_insert(Group {
            converter: chosen.converter,
            numbers,
            rear,
            front_slack: front.slack,
            classes: Vec::new(),
        });
        let place = self.places.entry((key, grain(front.min), found.clone())).or_insert_with(|| {
            let (parts, alternatives) = (Vec::new(), Vec::new());
            group.classes.push(Class { front, parts, linked: false, alternatives, ways: 0, openings: found });
            group.classes.len() - 1
        });
        group.classes[*place].take(parts);
        Ok(())
    }

    fn groups(self) -> Vec<Group<'a>> {
        let mut groups: Vec<Group<'a>> = self.groups.into_values().collect();
        for group in &mut groups {
            group.classes.sort_by(|p, q| p.front.min.total_cmp(&q.front.min));
        }
        // The order of a hash table is chance; the list is to be the same on every run.
        groups.sort_by(|p, q| {
            let id = |group: &Group<'a>| group.converter.map(Part::id);
            let lengths = p.rear.min.total_cmp(&q.rear.min).then(p.rear.slack.total_cmp(&q.rear.slack));
            id(p).cmp(&id(q)).then(lengths).then(p.front_slack.total_cmp(&q.front_slack))
        });
        groups
    }
}

impl<'a> Class<'a> {
    /// One more choice: the one that hands the linkage on, and of those the one of fewest parts, stands for the class.
    fn take(&mut self, parts: Vec<&'a Part>) {
        let linked = parts.iter().all(|part| match part.kind() {
            Kind::Teleconverter => !part.flag("iris_stays"),
            _ => part.flag("linkage"),
        });
        self.ways += 1;
        let better = self.ways == 1 || (!linked, parts.len()) < (!self.linked, self.parts.len());
        let other = if better {
            self.linked = linked;
            std::mem::replace(&mut self.parts, parts)
        } else {
            parts
        };
        if self.ways > 1 && self.alternatives.len() < ALTERNATIVES_TOLD {
            self.alternatives.push(other);
        }
    }
}
