//! What a frame is in the plan, as a short key that a notebook can keep.

use std::fmt;
use std::str::FromStr;

/// What a frame is there for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Role {
    /// The printed card with the control set-up, before everything else.
    Start,
    /// The control again, after everything else.
    End,
    /// The control on a further roll.
    Roll,
    /// To compare a set-up at an aperture.
    Compare,
    /// A person's own, with a purpose of their own.
    Own,
}

impl Role {
    const ALL: [Self; 5] = [Self::Start, Self::End, Self::Roll, Self::Compare, Self::Own];

    fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::End => "end",
            Self::Roll => "roll",
            Self::Compare => "compare",
            Self::Own => "own",
        }
    }
}

/// A frame's place in the plan.
///
/// As text, `compare.2.1.0.-1`: role, set-up, aperture, take, step, all counted from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Slot {
    /// What it is there for.
    pub role: Role,
    /// The set-up, by its place among the contenders; one past the last is the bare lens of [`super::Control::Bare`].
    pub contender: usize,
    /// The aperture, by its place in the group's list.
    pub aperture: usize,
    /// Which take: each is focused anew.
    pub take: usize,
    /// Which step of a focus bracket: above 0 the camera is moved away from the subject after focusing, below 0 towards it.
    pub step: i32,
}

impl fmt::Display for Slot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { role, contender, aperture, take, step } = self;
        write!(f, "{}.{contender}.{aperture}.{take}.{step}", role.word())
    }
}

impl FromStr for Slot {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let wrong = || format!("\"{text}\" is no place in a test plan");
        let [role, contender, aperture, take, step] = text.split('.').collect::<Vec<_>>()[..] else {
            return Err(wrong());
        };
        let role = Role::ALL.into_iter().find(|known| known.word() == role).ok_or_else(wrong)?;
        let number = |word: &str| word.parse::<u16>().map(usize::from).map_err(|_| wrong());
        let step: i16 = step.parse().map_err(|_| wrong())?;
        Ok(Self {
            role,
            contender: number(contender)?,
            aperture: number(aperture)?,
            take: number(take)?,
            step: i32::from(step),
        })
    }
}
