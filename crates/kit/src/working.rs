//! What fires and what stops down: whether the shutter and the iris of a set-up can be worked at all.

use crate::fit::{Choice, Facing, Hold};
use crate::part::Part;
use crate::resolve::Setup;
use crate::schema::Kind;

/// What makes the exposure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shutter<'a> {
    /// The body's own shutter.
    Body(&'a Part),
    /// The leaf shutter of the lens nearest the body.
    Lens(&'a Part),
    /// There are shutters, and none of them can be worked.
    None,
    /// The kit does not say of any.
    Unknown,
}

/// Something about the gear that keeps a set-up from being worked as usual, with the way out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Obstacle {
    /// Nothing makes the exposure.
    #[error(
        "nothing fires the shutter of lens \"{lens}\", which {}, and there is no other; make the exposure with another lens's shutter, a cap in front of the glass, or a flash in the dark with the shutter held open", .how.words()
    )]
    NothingFires {
        /// The lens whose shutter it is.
        lens: String,
        /// How it stands.
        how: Standing,
    },
    /// A leaf shutter in the way of the body's.
    #[error(
        "lens \"{lens}\" has a leaf shutter of its own and {}: hold it open by hand (on B or T) while {} makes the exposure", .how.words(), .by.as_ref().map_or("the body's shutter".into(), |lens| format!("the shutter of \"{lens}\""))
    )]
    LeafInTheWay {
        /// The lens.
        lens: String,
        /// How it stands.
        how: Standing,
        /// The lens whose shutter makes the exposure; `None` when the body's does.
        by: Option<String>,
    },
    /// An iris that stays open.
    #[error("lens \"{lens}\" stops down only through the body's linkage, which {}: it stays at its widest; work wide open, use a lens whose iris is set by hand, or an extension that carries the linkage", .why.words())]
    IrisStaysOpen {
        /// The lens.
        lens: String,
        /// What ends the linkage.
        why: LinkageEnds,
    },
}

/// Why a leaf shutter cannot be worked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Reversed on a ring.
    Reversed,
    /// Held by hand.
    Held,
    /// The second lens of a coupled train.
    Second,
}

impl Standing {
    fn words(self) -> &'static str {
        match self {
            Self::Reversed => "is reversed",
            Self::Held => "is held by hand",
            Self::Second => "stands second in the train",
        }
    }
}

/// What ends a linkage.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LinkageEnds {
    /// The lens is reversed.
    Reversed,
    /// The lens is held by hand.
    Held,
    /// This part does not carry it.
    Part(String),
}

impl LinkageEnds {
    fn words(&self) -> String {
        match self {
            Self::Reversed => "a reversed lens does not reach".into(),
            Self::Held => "a lens held by hand does not reach".into(),
            Self::Part(id) => format!("\"{id}\" does not carry"),
        }
    }
}

fn standing(first: bool, hold: Hold) -> Option<Standing> {
    match (first, hold) {
        (false, _) => Some(Standing::Second),
        (_, Hold { free: true, .. }) => Some(Standing::Held),
        (_, Hold { facing: Facing::Reversed, .. }) => Some(Standing::Reversed),
        _ => None,
    }
}

fn has_shutter(part: &Part) -> bool {
    !part.numbers("shutter_s").is_empty() || part.flag("bulb")
}

/// The part between body and lens that ends the iris linkage. Converters hand it on as a rule (common practice, no
/// source); tubes, bellows and adapters only where the kit says so.
fn linkage_ends<'a>(between: &[Choice<'a>]) -> Option<&'a Part> {
    between.iter().filter_map(Choice::part).find(|part| match part.kind() {
        Kind::Teleconverter => part.flag("iris_stays"),
        _ => !part.flag("linkage"),
    })
}

impl<'a> Setup<'a> {
    /// What makes the exposure. A leaf shutter that can be worked replaces the body's.
    pub fn shutter(&self) -> Shutter<'a> {
        let (_, lens, hold) = self.stack.first_lens();
        let any_leaf = self.lenses().iter().any(|(_, lens, _)| has_shutter(lens));
        if has_shutter(lens) && standing(true, hold).is_none() {
            Shutter::Lens(lens)
        } else if has_shutter(self.body()) {
            Shutter::Body(self.body())
        } else if any_leaf {
            Shutter::None
        } else {
            Shutter::Unknown
        }
    }

    /// The shutter speeds, s, of what makes the exposure. Empty when nothing does or the kit does not say.
    pub fn shutter_s(&self) -> Vec<f64> {
        match self.shutter() {
            Shutter::Body(part) | Shutter::Lens(part) => part.numbers("shutter_s"),
            Shutter::None | Shutter::Unknown => Vec::new(),
        }
    }

    /// Whether what makes the exposure has B.
    pub fn has_bulb(&self) -> bool {
        match self.shutter() {
            Shutter::Body(part) | Shutter::Lens(part) => part.flag("bulb"),
            Shutter::None | Shutter::Unknown => false,
        }
    }

    /// What keeps the set-up from being worked as usual; empty when nothing does.
    pub fn obstacles(&self) -> Vec<Obstacle> {
        let mut found = Vec::new();
        let shutter = self.shutter();
        for (index, &(_, lens, hold)) in self.lenses().iter().enumerate().filter(|(_, (_, lens, _))| has_shutter(lens))
        {
            let Some(how) = standing(index == 0, hold) else { continue };
            let lens = lens.id().to_owned();
            found.push(match shutter {
                Shutter::None => Obstacle::NothingFires { lens, how },
                Shutter::Lens(by) => Obstacle::LeafInTheWay { lens, how, by: Some(by.id().into()) },
                _ => Obstacle::LeafInTheWay { lens, how, by: None },
            });
        }
        found.extend(self.iris_stays_open().map(|why| Obstacle::IrisStaysOpen { lens: self.lens().id().into(), why }));
        found
    }

    fn iris_stays_open(&self) -> Option<LinkageEnds> {
        let (at, lens, hold) = self.stack.first_lens();
        if lens.words("iris") != Some("coupled") {
            return None;
        }
        match hold {
            Hold { free: true, .. } => Some(LinkageEnds::Held),
            Hold { facing: Facing::Reversed, .. } => Some(LinkageEnds::Reversed),
            _ => linkage_ends(&self.choices[1..at]).map(|part| LinkageEnds::Part(part.id().into())),
        }
    }
}
