//! What joins what: order, mounts and threads.

use crate::part::Part;
use crate::schema::Kind;

/// A part as chosen for a set-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Choice<'a> {
    /// The part.
    pub part: &'a Part,
    /// A bellows's draw, mm.
    pub draw_mm: Option<f64>,
}

/// Parts that are not listed from the body outwards.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Order {
    /// No parts at all.
    #[error("no parts are named; list them from the body outwards, for example body,tube,lens")]
    Empty,
    /// The first part is no body.
    #[error("a set-up begins with a body, not with {kind} \"{id}\"; list the parts from the body outwards")]
    NoBody {
        /// The part that came first.
        id: String,
        /// Its kind's label.
        kind: &'static str,
    },
    /// No lens.
    #[error("the set-up has no lens; add one behind the last tube or ring")]
    NoLens,
    /// A close-up lens on a reversed lens, which shows its mount to the subject.
    #[error(
        "close-up lens \"{id}\" cannot be screwed onto \"{lens}\", which is reversed: its thread faces the body; leave one of the two out"
    )]
    OnReversed {
        /// The close-up lens.
        id: String,
        /// The lens.
        lens: String,
    },
    /// A part in a place where its kind cannot be.
    #[error(
        "{kind} \"{id}\" cannot follow {after_kind} \"{after}\"; list the parts from the body outwards: body, tubes or bellows, reversing ring, lens, close-up lenses"
    )]
    Misplaced {
        /// The part.
        id: String,
        /// Its kind's label.
        kind: &'static str,
        /// The part before it.
        after: String,
        /// That part's kind's label.
        after_kind: &'static str,
    },
}

/// How two parts join.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Join {
    /// By a mount.
    Mount,
    /// By a filter thread.
    Thread,
}

impl std::fmt::Display for Join {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Mount => "mount",
            Self::Thread => "thread",
        })
    }
}

/// Two neighbours that do not join.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{inner}\" and \"{outer}\" do not join: {} meets {}; choose parts that share a {}", ends(.join, .inner_end), ends(.join, .outer_end), .join)]
pub struct Misfit {
    /// The part nearer the film.
    pub inner: String,
    /// The part nearer the subject.
    pub outer: String,
    /// How they would join.
    pub join: Join,
    /// The inner part's mount or thread; `None` when it has none.
    pub inner_end: Option<String>,
    /// The outer part's mount or thread; `None` when it has none.
    pub outer_end: Option<String>,
}

fn ends(join: &Join, end: &Option<String>) -> String {
    match (join, end) {
        (Join::Mount, Some(mount)) => format!("mount \"{mount}\""),
        (Join::Thread, Some(thread)) => format!("a {thread} mm thread"),
        (Join::Mount, None) => "a part without a mount".into(),
        (Join::Thread, None) => "a rim without a stated thread (add thread_mm)".into(),
    }
}

/// The parts of a set-up in their roles; every neighbour joins.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Roles<'a> {
    pub body: &'a Part,
    /// Tubes and bellows, from the body outwards.
    pub spacers: Vec<Choice<'a>>,
    pub reversing_ring: Option<&'a Part>,
    pub lens: &'a Part,
    /// From the lens outwards.
    pub close_ups: Vec<&'a Part>,
}

/// Sorts chosen parts into their roles.
pub(crate) fn roles<'a>(choices: &[Choice<'a>]) -> Result<Roles<'a>, Order> {
    let first = choices.first().ok_or(Order::Empty)?.part;
    if first.kind() != Kind::Body {
        return Err(Order::NoBody { id: first.id().into(), kind: first.kind().spec().label });
    }
    let (mut spacers, mut ring, mut lens) = (Vec::new(), None, None);
    let mut close_ups: Vec<&Part> = Vec::new();
    for pair in choices.windows(2) {
        let (before, choice) = (pair[0].part, pair[1]);
        match choice.part.kind() {
            Kind::Tube | Kind::Bellows if ring.is_none() && lens.is_none() => spacers.push(choice),
            Kind::ReversingRing if ring.is_none() && lens.is_none() => ring = Some(choice.part),
            Kind::Lens if lens.is_none() => lens = Some(choice.part),
            Kind::CloseUpLens if lens.is_some() => close_ups.push(choice.part),
            kind => {
                return Err(Order::Misplaced {
                    id: choice.part.id().into(),
                    kind: kind.spec().label,
                    after: before.id().into(),
                    after_kind: before.kind().spec().label,
                });
            }
        }
    }
    let lens = lens.ok_or(Order::NoLens)?;
    if let (Some(_), Some(close_up)) = (ring, close_ups.first()) {
        return Err(Order::OnReversed { id: close_up.id().into(), lens: lens.id().into() });
    }
    Ok(Roles { body: first, spacers, reversing_ring: ring, lens, close_ups })
}

impl Roles<'_> {
    /// Checks that every neighbour joins.
    pub fn check_joins(&self) -> Result<(), Misfit> {
        let mut inner = self.body;
        for choice in &self.spacers {
            mounts_join(inner, choice.part)?;
            inner = choice.part;
        }
        match self.reversing_ring {
            None => mounts_join(inner, self.lens)?,
            Some(ring) => {
                mounts_join(inner, ring)?;
                threads_join(ring, self.lens)?;
            }
        }
        let mut rim = self.lens;
        for close_up in &self.close_ups {
            threads_join(rim, close_up)?;
            rim = close_up;
        }
        Ok(())
    }
}

pub(crate) fn mounts_join(inner: &Part, outer: &Part) -> Result<(), Misfit> {
    let ends = [inner, outer].map(|part| part.words("mount").map(str::to_string));
    join(inner, outer, Join::Mount, ends)
}

pub(crate) fn threads_join(inner: &Part, outer: &Part) -> Result<(), Misfit> {
    join(inner, outer, Join::Thread, [thread(inner), thread(outer)])
}

fn thread(part: &Part) -> Option<String> {
    part.number("thread_mm").map(|diameter| diameter.to_string())
}

fn join(inner: &Part, outer: &Part, join: Join, [inner_end, outer_end]: [Option<String>; 2]) -> Result<(), Misfit> {
    if inner_end.is_some() && inner_end == outer_end {
        return Ok(());
    }
    Err(Misfit { inner: inner.id().into(), outer: outer.id().into(), join, inner_end, outer_end })
}
