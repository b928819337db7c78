//! Exact rays through published lens designs, with attachments: what a set-up would do, before a roll is spent.
//!
//! A [`Prescription`] is a lens as a table of surfaces, checked once; [`Prescription::at`] gives the plain numbers for one
//! wavelength, a [`Sequence`], through which thousands of [`Rays`] are traced at once. [`FORMS`] holds designs from patents
//! and textbooks with what was printed about them.
//!
//! Light runs from left to right; a radius is positive when its centre lies behind the surface; lengths are millimetres.
//! y is the tangential (meridional) direction, in which the field lies; x the sagittal one. No I/O, no clock, no threads,
//! no gear names.

mod beam;
mod forms;
mod glass;
mod lanes;
mod paraxial;
mod prescription;
mod sequence;
mod surface;
mod trace;

pub use beam::{Loss, Losses, Lost, Ray, Rays};
pub use forms::{FORMS, Form, Kind, Mismatch, form};
pub use glass::{CATALOGUE, Glass, Medium, Rule, Sellmeier, Wavelength, WavelengthError, catalogue_glass};
pub use paraxial::{Abcd, Cardinal, Paraxial, Pupils};
pub use prescription::{Prescription, PrescriptionError, Row};
pub use sequence::{Sequence, Step};
pub use surface::{ASPHERE_TERMS, Surface};
pub use trace::{Openings, SETTLED_MM};
