//! From a job to what its pictures need of a set-up, and the trade-off between the set-ups that there are.
//!
//! A [`Brief`] is the job in a photographer's words: how large and deep the subject is, how much of the frame it fills, how
//! large the print is and how it is looked at. [`Brief::need`] checks it and turns it into a [`Need`]: magnification,
//! fineness on film and on the subject, circle of confusion, and the f-numbers that hold detail and depth together, or the
//! focus steps where none does ([`Feasible`]). A [`Candidate`] is a set-up in plain figures; [`Need::choice`] says how it
//! would serve and every hard reason why it would not ([`Unmet`]), and [`front`] keeps those that nothing else beats.
//!
//! What stays fixed while set-ups compete is the print: the subject's size on paper and the detail there. So a set-up with
//! less magnification competes too, cropped ([`Negative`]): the film must hold finer detail, and gets more light.
//!
//! ```
//! use planning::{Brief, Candidate, Feasible};
//!
//! // A beetle of 40 mm, 8 mm deep, filling 70 % of a 6x6 frame, printed 30 cm wide, with 10 cm of room for light.
//! let brief = Brief {
//!     subject_depth_mm: Some(8.0),
//!     least_working_distance_mm: Some(100.0),
//!     ..Brief::new(40.0, 0.7, [56.0, 56.0], 300.0)
//! };
//! let need = brief.need()?;
//! assert_eq!(format!("{:.2}", need.magnification), "0.98");
//! assert_eq!(format!("{:.1} lp/mm", need.on_film_lp_mm), "26.8 lp/mm");
//!
//! // No f-number holds 8 mm at this size: three exposures do.
//! let Feasible::Steps(steps) = need.on_film().feasible(None) else { panic!() };
//! assert_eq!(steps.count, 3);
//!
//! let tubes = Candidate {
//!     key: 0,
//!     magnification: 0.98,
//!     stops_lost: 2.0,
//!     working_distance_mm: Some(90.0),
//!     glass_added: 0,
//!     f_number_factor: 2.0,
//!     f_numbers: [4.0, 32.0],
//!     past_close_range: 5.2,
//!     contrast: None,
//! };
//! let unmet = need.choice(&tubes)?.unmet;
//! assert_eq!(
//!     unmet[0].to_string(),
//!     "the subject comes within 90 mm of the front, and 100 mm are wanted for light: take a longer lens"
//! );
//! # Ok::<(), planning::OutOfRange>(())
//! ```
//!
//! Method first, limits second: depth and diffraction are those of a perfect lens focused on the middle of the depth, close
//! enough that depth is the same on both sides, each with its own limit. A real lens is worse, and what it does is known
//! only when measured ([`Candidate::contrast`]).
//!
//! Absent on purpose: gear and its names, trains, files, how anything was measured.

mod aperture;
mod brief;
mod choice;
mod frames;
mod front;
mod negative;
pub mod test_roll;
mod tilt;
mod words;

pub use aperture::{Balance, Feasible, FocusSteps, depth_mm, effective_f_number_for_depth, largest_effective_f_number};
pub use brief::{Brief, Need, OutOfRange, print_width_mm};
pub use choice::{Candidate, Choice, Unmet};
pub use frames::{FrameFill, compare_frames};
pub use front::{Axis, Dominated, Front, Hair, dominates, front, reprieved};
pub use negative::Negative;
pub use tilt::{TiltedSubject, hinge_distance_mm, hinge_tilt_deg, tilt_held_deg, tilted_subject};
