//! Exact rays through published lens designs, with attachments: what a set-up would do, before a roll is spent.
//!
//! A [`Prescription`] is a lens as a table of surfaces, checked once; [`Prescription::at`] gives the plain numbers for one
//! wavelength, a [`Sequence`], through which thousands of [`Rays`] are traced at once. [`FORMS`] holds designs from patents
//! and textbooks with what was printed about them.
//!
//! Light runs from left to right; a radius is positive when its centre lies behind the surface; lengths are millimetres.
//! y is the tangential (meridional) direction, in which the field lies; x the sagittal one. No I/O, no clock, no threads,
//! no gear names.

mod aim;
mod beam;
mod chief;
mod close_up;
mod figures;
mod fit;
mod forms;
mod glass;
mod lanes;
mod paraxial;
mod pencil;
mod prescription;
mod seidel;
mod sequence;
mod surface;
mod system;
mod trace;
mod transfer;

pub use aim::AimError;
pub use beam::{Loss, Losses, Lost, Ray, Rays};
pub use chief::{Chief, Fan, FanRay, FieldFocus};
pub use close_up::{CloseUp, CloseUpError, CloseUpKind};
pub use figures::{Point, Spot, Waves, least_spots_focus_mm, most_contrast_focus_mm};
pub use forms::{FORMS, Form, Kind, Mismatch, form};
pub use glass::{CATALOGUE, Glass, Medium, Rule, Sellmeier, Wavelength, WavelengthError, catalogue_glass};
pub use paraxial::{Abcd, Cardinal, Paraxial, Pupils};
pub use pencil::{Pencil, Pupil, Spectrum};
pub use prescription::{Prescription, PrescriptionError, Row};
pub use seidel::{Colours, Seidel, Sums};
pub use sequence::{Sequence, Step};
pub use surface::{ASPHERE_TERMS, Surface};
pub use system::{FirstOrder, Iris, Object, Part, Start, System, SystemError};
pub use trace::{Openings, SETTLED_MM};
pub use transfer::{Response, Transfer};
