//! From what a person writes or types about test frames to a part's true figures: what the command line and the page
//! share. The fit itself is the crate [`calibration`]; here are names of gear, the calibrating file, and words.

mod close_up;
mod entries;
mod keep;
mod lens;
mod marked;
mod read;
mod trust;
mod whole;
mod write;

pub use close_up::{PowerFound, power_of};
pub use entries::{At, CloseUpEntry, FrameEntry, Given, Number, PupilEntry, Reading, Side};
pub(crate) use keep::rebuilt;
pub use keep::{forgotten, is_calibrated, kept};
pub use lens::{LensFound, Placed, lens_of, placed};
pub use marked::{Marked, Origin};
pub use marked::{best, marked, marked_travel, stated};
pub use read::FileError;
pub use trust::{COMMON_SCALE_SHARE, PX_PER_MM_SHARE, usual_words};
pub use whole::{Told, Trouble, Whole, whole};
