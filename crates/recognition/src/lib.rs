//! The printed target card found in a picture, squared up and measured all at once.
//!
//! [`recognise`] takes a [`Frame`], which hands out an overview and regions at full resolution, so that a large scan is
//! never held whole. It reads the card's codes, follows its squares outwards from them, squares the picture up by
//! their corners, and measures every edge, ruler, tone and ramp that is in sight. What cannot be taken is named with
//! place and reason; a cut-off corner, a glare or a covered code leaves the rest as it is.
//!
//! The layout comes from `target`, the measuring from `measure`; here are only the finding and the bookkeeping. There are no
//! files here, no clock and no threads of its own.

mod codes;
mod edges;
mod error;
mod frame;
mod laid;
mod patches;
mod pose;
mod ramps;
mod recognised;
mod regions;
mod run;
mod squares;

pub use error::{Item, LeftOut, RecogniseError, Why};
pub use frame::{Frame, Held};
pub use recognised::{
    CornerSoftness, Evenness, Fineness, Grain, GroundSample, MeasuredEdge, Options, PRINTER_SCALE_PLUS_MINUS, Patch,
    PatchKind, Pose, PrintLimit, RampFound, Recognised, Remark, RulerFound, SheetFound, SquareFound, Together,
};
pub use run::recognise;
