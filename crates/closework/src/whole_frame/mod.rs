//! Everything that one frame holds, measured at once: by the printed card where it is in the picture, else by the edges that
//! are found.

mod card;
mod fringes;
mod gather;
mod known;
mod negative;
mod settings;
mod source;
mod take;

pub use known::{Known, KnownError};
pub use negative::{Negative, NegativeBase, NegativeCurve, TurnError};
pub use settings::{SetUp, Settings, tone, tone_text};
pub use take::{TakeError, take};
