//! How large a stack may get.

use crate::part::Kit;
use crate::schema::Kind;

/// How large a stack may get. Rings and adapters that join the parts are not counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Tubes at most.
    pub tubes: usize,
    /// Bellows at most.
    pub bellows: usize,
    /// Close-up lenses at most.
    pub close_ups: usize,
    /// Teleconverters at most: none or one.
    pub converters: usize,
    /// Lenses at most: one, or two when they may be coupled.
    pub lenses: usize,
}

impl Default for Limits {
    /// Three tubes, one bellows, two close-up lenses, one converter, two lenses: beyond that stacks sag and pictures
    /// suffer (common practice, no source).
    fn default() -> Self {
        Self { tubes: 3, bellows: 1, close_ups: 2, converters: 1, lenses: 2 }
    }
}

impl Limits {
    /// No limit below what the kit holds, but for converters and lenses, of which more in one train is beyond these
    /// classes.
    pub fn everything(kit: &Kit) -> Self {
        let count = |kind| kit.of_kind(kind).count();
        Self {
            tubes: count(Kind::Tube),
            bellows: count(Kind::Bellows),
            close_ups: count(Kind::CloseUpLens),
            ..Self::default()
        }
    }

    /// These limits with others in place of those that a person asked for.
    pub fn asked(self, asked: AskedLimits) -> Self {
        Self {
            tubes: asked.tubes.unwrap_or(self.tubes),
            bellows: asked.bellows.unwrap_or(self.bellows),
            close_ups: asked.close_ups.unwrap_or(self.close_ups),
            converters: asked.converters.unwrap_or(self.converters).min(1),
            lenses: asked.lenses.unwrap_or(self.lenses).clamp(1, 2),
        }
    }

    /// The limit on a kind of part, where there is one.
    pub(crate) fn of(self, kind: Kind) -> Option<usize> {
        match kind {
            Kind::Tube => Some(self.tubes),
            Kind::Bellows => Some(self.bellows),
            Kind::CloseUpLens => Some(self.close_ups),
            Kind::Teleconverter => Some(self.converters),
            _ => None,
        }
    }
}

/// Limits as a person asks for them; `None` keeps the usual one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct AskedLimits {
    /// Tubes at most.
    pub tubes: Option<usize>,
    /// Bellows at most.
    pub bellows: Option<usize>,
    /// Close-up lenses at most.
    pub close_ups: Option<usize>,
    /// Teleconverters at most.
    pub converters: Option<usize>,
    /// Lenses at most.
    pub lenses: Option<usize>,
}

/// Stacks of more ways than this to arrange what stands on one side of the lens mount are not gone through.
pub const MOST_STACKS: usize = 400_000;
