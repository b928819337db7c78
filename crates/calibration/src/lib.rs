//! A lens's true figures from its own test frames.
//!
//! Engraved figures are nominal. A few frames of a ruler, at extensions that are known, tell a lens's true focal
//! length, its travel at the closest mark and the separation of its principal planes ([`calibrate_lens`]); photographs
//! of the lens itself tell its pupil ratio ([`pupil_ratio`]); frames without and with a close-up lens tell the latter's
//! power ([`close_up_power`]); and [`worth`] says beforehand what one more frame would better.
//!
//! ```
//! use calibration::{Focused, Frame, Options, calibrate_lens};
//! use optics::Input;
//!
//! let pm = |value, plus_minus| Input { value, plus_minus };
//! // An 80 mm lens on two tubes, singly and together: a tube is one quantity in all frames that it is in.
//! let (short, long) = (("tube-13", pm(13.0, 0.2)), ("tube-36", pm(36.0, 0.2)));
//! let frames = [
//!     Frame::on("A1", [short], pm(0.1634, 0.002)),
//!     Frame::on("A2", [long], pm(0.4519, 0.002)),
//!     Frame::on("A3", [short, long], pm(0.6150, 0.002)).at_distance(pm(341.9, 1.5)),
//!     Frame::on("A4", [long], pm(0.5396, 0.002)).focused(Focused::AtClosestMark),
//! ];
//! let options = Options { marked: Some(pm(80.0, 3.2)), ..Options::default() };
//! let lens = calibrate_lens(&frames, &options)?;
//! assert_eq!(format!("{:.1} ± {:.1}", lens.focal_length.value, lens.focal_length.plus_minus), "79.7 ± 0.5");
//! assert!(lens.outliers.is_empty() && lens.remarks.is_empty());
//! # Ok::<(), calibration::CalibrationError>(())
//! ```
//!
//! What a reader should show of a [`LensCalibration`]: the figures, each with its half-width; chi-square's probability;
//! a row per frame from `solution.frames`; `outliers` by name and whether they were left out, with the figures of
//! `other` beside; and every remark in words.
//!
//! All half-widths are of 95 %. No refusal is a panic: [`CalibrationError`] names the frame, the figure and the limit.
//!
//! Absent on purpose: how a magnification is measured, files, names of gear. Only lenses that focus by moving as a
//! whole; what an internal focusing lens does to its focal length has no place in m = (x + e)/f.

mod calibrate;
mod close_up;
mod error;
mod fit;
mod frame;
mod lens;
mod odds;
mod pupil;
mod worth;

pub use calibrate::{LensCalibration, Outlier, Remark, calibrate_lens};
pub use close_up::{Carrier, CloseUpPair, CloseUpPower, CloseUpRemark, close_up_power};
pub use error::{CalibrationError, Wanted};
pub use fit::{Basis, ChiSquare};
pub use frame::{Focused, Frame, Length, MAGNIFICATIONS, MOST_FRAMES, Options};
pub use lens::{FrameResidual, Residual, Solution, Unknown};
pub use pupil::{End, PUPIL_RATIOS, Perspective, PupilPhoto, PupilRatio, PupilRemark, pupil_ratio};
pub use worth::{Step, Worth, worth};
