//! What joins what: order, mounts and threads.
//!
//! A stack grows from the body outwards. At each step it ends in one [`End`]: a mount, a rim with a thread to screw
//! into, a thread that is screwed into a rim, the back of a reversed lens, or nothing at all. Each kind of part takes
//! some of these and leaves another; whatever a person names is walked through that one table.

use crate::part::Part;
use crate::schema::Kind;

/// The word for a free distance in a list of parts: "free=25".
pub const FREE: &str = "free";

/// A part as chosen for a set-up, or a distance with nothing in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Choice<'a> {
    /// A part, a bellows with its draw in mm.
    Part {
        /// The part.
        part: &'a Part,
        /// A bellows's draw, mm.
        draw_mm: Option<f64>,
        /// Whether a lens that nothing holds is turned round ("lens=reversed").
        turned: bool,
    },
    /// What stands in front is held by hand, or by a stand of its own, at this distance in mm.
    Free(f64),
}

impl<'a> Choice<'a> {
    /// A part with nothing to set.
    pub fn of(part: &'a Part) -> Self {
        Self::Part { part, draw_mm: None, turned: false }
    }

    /// The part, `None` for a free distance.
    pub fn part(&self) -> Option<&'a Part> {
        match self {
            Self::Part { part, .. } => Some(part),
            Self::Free(_) => None,
        }
    }

    /// The part's kind, `None` for a free distance.
    pub fn kind(&self) -> Option<Kind> {
        self.part().map(Part::kind)
    }

    /// The part's id, or the word for a free distance.
    pub fn id(&self) -> &'a str {
        self.part().map_or(FREE, Part::id)
    }

    /// What a person calls it.
    pub fn name(&self) -> String {
        match self {
            Self::Part { part, turned: true, .. } => format!("{} (reversed, held by hand)", part.name()),
            Self::Part { part, .. } => part.name().to_owned(),
            Self::Free(mm) => format!("{mm} mm free"),
        }
    }

    /// As it is written in a list of parts: "id", "id=85", "id=reversed", "free=25".
    pub fn word(&self) -> String {
        match self {
            Self::Part { part, draw_mm: Some(draw), .. } => format!("{}={draw}", part.id()),
            Self::Part { part, turned: true, .. } => format!("{}=reversed", part.id()),
            Self::Part { part, .. } => part.id().to_owned(),
            Self::Free(mm) => format!("{FREE}={mm}"),
        }
    }

    fn label(&self) -> &'static str {
        self.kind().map_or("free distance", |kind| kind.spec().label)
    }
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
    /// A ring or a free distance that nothing follows.
    #[error("nothing follows {kind} \"{id}\"; add what it is for, or leave it out")]
    Dangling {
        /// The last part.
        id: String,
        /// Its kind's label.
        kind: &'static str,
    },
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
        "{kind} \"{id}\" cannot follow {after_kind} \"{after}\"; list the parts from the body outwards: body, tubes, bellows, converter or adapter, (reversing ring), lens, close-up lenses or (coupling ring, second lens)"
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
    /// A lens turned round with nothing to hold it that way.
    #[error(
        "\"{id}\" cannot be reversed behind {after_kind} \"{after}\": put a reversing ring or a coupling ring there, or free=MM for a lens held by hand"
    )]
    TurnedInMount {
        /// The lens.
        id: String,
        /// The part before it.
        after: String,
        /// That part's kind's label.
        after_kind: &'static str,
    },
    /// Adapters that lead back to a mount that was there already.
    #[error(
        "adapter \"{id}\" leads back to mount \"{mount}\", which the set-up has had already; leave out the adapters between, they only add length"
    )]
    Circular {
        /// The adapter.
        id: String,
        /// The mount.
        mount: String,
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
#[error("\"{inner}\" and \"{outer}\" do not join: {} meets {}; choose parts that share a {}{}", ends(.join, .inner_end), ends(.join, .outer_end), .join, between(.join, .inner_end, .outer_end))]
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

/// What could stand between them.
fn between(join: &Join, inner: &Option<String>, outer: &Option<String>) -> &'static str {
    match (join, inner, outer) {
        (Join::Thread, Some(_), Some(_)) => ", or put a step ring between",
        (Join::Mount, Some(_), Some(_)) => ", or put an adapter between",
        _ => "",
    }
}

/// Which way round a lens stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Facing {
    /// Its front towards the subject.
    Normal,
    /// Its mount towards the subject.
    Reversed,
}

/// How a lens is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Hold {
    /// Which way round.
    pub facing: Facing,
    /// By hand, or by a stand of its own.
    pub free: bool,
}

/// What a stack ends in.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum End<'a> {
    /// A mount that takes what has the same.
    Mount(&'a str),
    /// A rim with a thread inside, or a rim of unknown thread.
    Rim(Option<f64>),
    /// A ring's outer thread, to be screwed into a rim.
    Ring(f64),
    /// The back of a reversed lens.
    Back,
    /// Nothing: what follows is held by itself.
    Free,
}

/// Why a part cannot be added to a stack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Refused {
    /// Its kind cannot stand there.
    Place,
    /// A lens asked to stand reversed in a mount.
    Turned,
    /// Mounts or threads differ.
    Misfit(Join, Option<String>, Option<String>),
}

impl<'a> End<'a> {
    /// What the stack ends in once `choice` is added; the hold when it is a lens.
    pub fn add(&self, choice: &Choice<'a>) -> Result<(End<'a>, Option<Hold>), Refused> {
        let Choice::Part { part, turned, .. } = *choice else {
            return if *self == End::Free { Err(Refused::Place) } else { Ok((End::Free, None)) };
        };
        let thread = |field| part.number(field);
        match (part.kind(), self) {
            (Kind::Tube | Kind::Bellows | Kind::Teleconverter, End::Mount(mount)) => {
                same_mount(mount, part.words("mount"))?;
                Ok((self.clone(), None))
            }
            (Kind::Adapter, End::Mount(mount)) => {
                same_mount(mount, part.words("body_mount"))?;
                Ok((End::Mount(part.words("lens_mount").unwrap_or_default()), None))
            }
            (Kind::ReversingRing, End::Mount(mount)) => {
                same_mount(mount, part.words("mount"))?;
                Ok((End::Ring(thread("thread_mm").unwrap_or(f64::NAN)), None))
            }
            (Kind::Lens, End::Mount(mount)) => {
                if turned {
                    return Err(Refused::Turned);
                }
                same_mount(mount, part.words("mount"))?;
                Ok((End::Rim(thread("thread_mm")), Some(Hold { facing: Facing::Normal, free: false })))
            }
            (Kind::Lens, End::Ring(ring)) => {
                same_thread(Some(*ring), thread("thread_mm"))?;
                Ok((End::Back, Some(Hold { facing: Facing::Reversed, free: false })))
            }
            (Kind::Lens, End::Free) if turned => Ok((End::Back, Some(Hold { facing: Facing::Reversed, free: true }))),
            (Kind::Lens, End::Free) => {
                Ok((End::Rim(thread("thread_mm")), Some(Hold { facing: Facing::Normal, free: true })))
            }
            (Kind::CloseUpLens, End::Rim(rim)) => {
                same_thread(*rim, thread("thread_mm"))?;
                Ok((End::Rim(thread("thread_mm")), None))
            }
            (Kind::CloseUpLens, End::Free) => Ok((End::Rim(thread("thread_mm")), None)),
            (Kind::CouplingRing, End::Rim(rim)) => match part.numbers("threads_mm")[..] {
                [a, b] if same_thread(*rim, Some(a)).is_ok() => Ok((End::Ring(b), None)),
                [a, b] => same_thread(*rim, Some(b)).map(|()| (End::Ring(a), None)),
                _ => Err(Refused::Place),
            },
            (Kind::StepRing, End::Rim(rim)) => {
                same_thread(*rim, thread("from_mm"))?;
                Ok((End::Rim(thread("to_mm")), None))
            }
            // Met by a ring's outer thread it is entered from the other side.
            (Kind::StepRing, End::Ring(ring)) => {
                same_thread(Some(*ring), thread("to_mm"))?;
                Ok((End::Ring(thread("from_mm").unwrap_or(f64::NAN)), None))
            }
            _ => Err(Refused::Place),
        }
    }
}

fn same_mount(inner: &str, outer: Option<&str>) -> Result<(), Refused> {
    let join = outer == Some(inner);
    join.then_some(()).ok_or_else(|| Refused::Misfit(Join::Mount, Some(inner.into()), outer.map(Into::into)))
}

fn same_thread(inner: Option<f64>, outer: Option<f64>) -> Result<(), Refused> {
    let text = |thread: Option<f64>| thread.map(|diameter| diameter.to_string());
    let join = inner.is_some() && inner == outer;
    join.then_some(()).ok_or_else(|| Refused::Misfit(Join::Thread, text(inner), text(outer)))
}

/// A stack whose neighbours all join.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Stack<'a> {
    /// The body.
    pub body: &'a Part,
    /// The lenses from the body outwards: place among the choices, the lens, how it is held.
    pub lenses: Vec<(usize, &'a Part, Hold)>,
}

impl<'a> Stack<'a> {
    /// The lens nearest the body.
    pub fn first_lens(&self) -> (usize, &'a Part, Hold) {
        self.lenses[0]
    }
}

/// Walks chosen parts from the body outwards; `end` is what the body ends in.
pub(crate) fn stack<'a>(choices: &[Choice<'a>], mut end: End<'a>) -> Result<Stack<'a>, StackError> {
    let first = choices.first().ok_or(Order::Empty)?;
    let body = match first.part() {
        Some(part) if part.kind() == Kind::Body => part,
        _ => return Err(Order::NoBody { id: first.id().into(), kind: first.label() }.into()),
    };
    let mut mounts = vec![body.words("mount").unwrap_or_default()];
    let mut lenses = Vec::new();
    for (index, pair) in choices.windows(2).enumerate() {
        let (before, choice) = (&pair[0], &pair[1]);
        let (next, hold) = end.add(choice).map_err(|refused| refusal(refused, &end, before, choice, &lenses))?;
        if let (Some(hold), Some(part)) = (hold, choice.part()) {
            lenses.push((index + 1, part, hold));
        }
        if let (Some(Kind::Adapter), End::Mount(mount)) = (choice.kind(), &next) {
            if mounts.contains(mount) {
                return Err(Order::Circular { id: choice.id().into(), mount: (*mount).into() }.into());
            }
            mounts.push(mount);
        }
        end = next;
    }
    if lenses.is_empty() {
        return Err(Order::NoLens.into());
    }
    let last = choices[choices.len() - 1];
    if matches!(end, End::Ring(_) | End::Free) || last.kind() == Some(Kind::StepRing) {
        return Err(Order::Dangling { id: last.id().into(), kind: last.label() }.into());
    }
    Ok(Stack { body, lenses })
}

/// Why parts make no stack.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum StackError {
    Order(Order),
    Misfit(Misfit),
}

impl From<Order> for StackError {
    fn from(order: Order) -> Self {
        Self::Order(order)
    }
}

fn refusal(
    refused: Refused,
    end: &End<'_>,
    before: &Choice<'_>,
    choice: &Choice<'_>,
    lenses: &[(usize, &Part, Hold)],
) -> StackError {
    let (id, after) = (choice.id().to_owned(), before.id().to_owned());
    let (kind, after_kind) = (choice.label(), before.label());
    match refused {
        Refused::Misfit(join, inner_end, outer_end) => {
            StackError::Misfit(Misfit { inner: after, outer: id, join, inner_end, outer_end })
        }
        Refused::Turned => Order::TurnedInMount { id, after, after_kind }.into(),
        Refused::Place => match (end, choice.kind(), lenses.last()) {
            (End::Back, Some(Kind::CloseUpLens), Some((_, lens, _))) => {
                Order::OnReversed { id, lens: lens.id().into() }.into()
            }
            _ => Order::Misplaced { id, kind, after, after_kind }.into(),
        },
    }
}
