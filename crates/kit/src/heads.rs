//! The subject's side of a stack: a lens by its mount with what is screwed into its front, or reversed on a ring.

use crate::fit::{Choice, End};
use crate::limits::{Limits, MOST_STACKS};
use crate::part::{Kit, Part};
use crate::resolve::marks_contradict;
use crate::schema::Kind;

/// Step rings in a row at one joint at most: a third would only come back.
const STEPS_IN_A_ROW: usize = 2;

/// Parts that stand on a mount, from there outwards.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Head<'a> {
    /// The mount that it needs.
    pub mount: &'a str,
    /// Its parts.
    pub parts: Vec<&'a Part>,
}

/// Too many heads to go through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct TooManyHeads;

/// Every head that the kit can make within the limits, each sequence once. Lenses whose marks contradict each other
/// make none.
pub(crate) fn heads<'a>(kit: &'a Kit, limits: Limits) -> Result<Vec<Head<'a>>, TooManyHeads> {
    let mut grower = Grower { kit, limits, heads: Vec::new() };
    for lens in kit.of_kind(Kind::Lens).filter(|lens| marks_contradict(lens).is_none()) {
        let mount = lens.words("mount").unwrap_or_default();
        let stack =
            Stack { mount, parts: vec![lens], end: End::Rim(lens.number("thread_mm")), close_ups: 0, lenses: 1 };
        grower.grow(stack)?;
    }
    for ring in kit.of_kind(Kind::ReversingRing) {
        let mount = ring.words("mount").unwrap_or_default();
        let Some(thread) = ring.number("thread_mm") else { continue };
        let stack = Stack { mount, parts: vec![ring], end: End::Ring(thread), close_ups: 0, lenses: 0 };
        grower.hold_reversed(&stack)?;
    }
    Ok(grower.heads)
}

#[derive(Clone)]
struct Stack<'a> {
    mount: &'a str,
    parts: Vec<&'a Part>,
    end: End<'a>,
    close_ups: usize,
    lenses: usize,
}

impl<'a> Stack<'a> {
    fn holds(&self, part: &Part) -> bool {
        self.parts.iter().any(|held| held.id() == part.id())
    }

    fn with(&self, part: &'a Part) -> Option<Self> {
        if self.holds(part) {
            return None;
        }
        let (end, _) = self.end.add(&Choice::of(part)).ok()?;
        let mut grown = self.clone();
        grown.parts.push(part);
        grown.end = end;
        Some(grown)
    }
}

struct Grower<'a> {
    kit: &'a Kit,
    limits: Limits,
    heads: Vec<Head<'a>>,
}

impl<'a> Grower<'a> {
    fn keep(&mut self, stack: &Stack<'a>) -> Result<(), TooManyHeads> {
        if self.heads.len() >= MOST_STACKS {
            return Err(TooManyHeads);
        }
        self.heads.push(Head { mount: stack.mount, parts: stack.parts.clone() });
        Ok(())
    }

    /// Keeps the stack, and everything that can be screwed into its rim.
    fn grow(&mut self, stack: Stack<'a>) -> Result<(), TooManyHeads> {
        self.keep(&stack)?;
        let kit = self.kit;
        if stack.close_ups < self.limits.close_ups {
            for close_up in kit.of_kind(Kind::CloseUpLens) {
                for mut grown in joined(kit, &stack, close_up) {
                    grown.close_ups += 1;
                    self.grow(grown)?;
                }
            }
        }
        if stack.lenses < self.limits.lenses {
            for ring in kit.of_kind(Kind::CouplingRing) {
                for grown in joined(kit, &stack, ring) {
                    self.hold_reversed(&grown)?;
                }
            }
        }
        Ok(())
    }

    /// Keeps the stack with each lens that its ring can hold.
    fn hold_reversed(&mut self, stack: &Stack<'a>) -> Result<(), TooManyHeads> {
        let kit = self.kit;
        for lens in kit.of_kind(Kind::Lens).filter(|lens| marks_contradict(lens).is_none()) {
            for grown in joined(kit, stack, lens) {
                self.keep(&grown)?;
            }
        }
        Ok(())
    }
}

/// The stack with that part added, directly or by step rings that lead from thread to thread without coming back.
fn joined<'a>(kit: &'a Kit, stack: &Stack<'a>, part: &'a Part) -> Vec<Stack<'a>> {
    let mut found = Vec::new();
    join_from(kit, stack, part, STEPS_IN_A_ROW, &mut vec![thread_of(&stack.end)], &mut found);
    found
}

fn join_from<'a>(
    kit: &'a Kit,
    stack: &Stack<'a>,
    part: &'a Part,
    steps: usize,
    threads: &mut Vec<Option<f64>>,
    found: &mut Vec<Stack<'a>>,
) {
    found.extend(stack.with(part));
    if steps == 0 {
        return;
    }
    for ring in kit.of_kind(Kind::StepRing) {
        let Some(grown) = stack.with(ring) else { continue };
        let thread = thread_of(&grown.end);
        if !threads.contains(&thread) {
            threads.push(thread);
            join_from(kit, &grown, part, steps - 1, threads, found);
            threads.pop();
        }
    }
}

fn thread_of(end: &End<'_>) -> Option<f64> {
    match end {
        End::Rim(thread) => *thread,
        End::Ring(thread) => Some(*thread),
        _ => None,
    }
}
