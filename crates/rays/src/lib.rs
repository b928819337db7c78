//! Exact rays through published lens designs, with attachments: what a set-up would do, before a roll is spent.
//!
//! A [`Prescription`] is a lens as a table of surfaces, checked once ([`Prescription::read`] takes one as typed); [`FORMS`] holds
//! designs from patents and textbooks with
//! what was printed about them, [`CloseUp`] makes close-up lenses. A [`System`] joins them between a subject and a film, either
//! way round, with one stop. At one wavelength either gives plain numbers, a [`Sequence`], through which thousands of [`Rays`]
//! are traced at once. Everything else is asked of the system ([`System::seidel`], [`System::fan`], [`System::field_focus`],
//! [`System::distortion`]) or of a [`Pencil`], all light from one place in the field ([`Pencil::transfer`],
//! [`Pencil::spot`], [`Pencil::waves`], [`Pencil::light`]). Pencils do not know each other: hand them to as many threads as
//! there are. [`SetUp`] is a set-up in a photographer's words, [`predict`] everything about it over the field.
//!
//! ```
//! use rays::{Iris, Object, Part, Spectrum, System, Wavelength, form};
//!
//! // A double Gauss of 80 mm at f/16 on 80 mm of tubes.
//! let lens = form("double-gauss-1954").unwrap().scaled_to(80.0)?;
//! let back_focus_mm = lens.at(Wavelength::D).cardinal().unwrap().back_focus_mm;
//! let iris = Iris { part: 0, semi_diameter_mm: lens.semi_diameter_for(16.0, Wavelength::D).unwrap() };
//! let parts = [Part { lens, gap_after_mm: back_focus_mm + 80.0 }];
//! let system = System::new(Object::Infinity, &parts, iris)?.with_object_in_focus(Wavelength::D)?;
//! assert!((system.first_order(Wavelength::D).scale + 1.0).abs() < 1e-9, "life size, upside down");
//!
//! let pencil = system.pencil(0.0, &Spectrum::visible(), 64)?;
//! let fine = pencil.transfer(0.0, &[20.0], |_| 1.0)[0];
//! assert!(fine.sagittal > 0.4 && fine.tangential.contrast() > 0.4);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! A form is not anybody's lens: it tells how attachments change a lens of its kind, not how good a certain one is.
//!
//! Light runs from left to right; a radius is positive when its centre lies behind the surface; lengths are millimetres.
//! y is the tangential (meridional) direction, in which the field lies; x the sagittal one. No I/O, no clock, no threads,
//! no gear names.

mod aim;
mod beam;
mod chief;
mod choose;
mod close_up;
mod figures;
mod fit;
mod forms;
mod glass;
mod lanes;
mod paraxial;
mod paths;
mod pencil;
mod predict;
mod prescription;
mod relay;
mod seidel;
mod sequence;
mod set_up;
mod spread;
mod surface;
mod system;
mod table;
mod trace;
mod transfer;

pub use aim::{AimError, Census};
pub use beam::{Loss, Losses, Lost, Ray, Rays};
pub use chief::{Chief, Fan, FanRay, FieldFocus};
pub use choose::{BackFocus, Looks, nearest_forms};
pub use close_up::{CloseUp, CloseUpError, CloseUpKind};
pub use figures::{Point, Spot, Waves, least_spots_focus_mm, most_contrast_focus_mm};
pub use forms::{FORMS, Form, Kind, Mismatch, form};
pub use glass::{CATALOGUE, Glass, Medium, Rule, Sellmeier, Wavelength, WavelengthError, catalogue_glass};
pub use paraxial::{Abcd, Cardinal, Paraxial, Pupils};
pub use paths::Path;
pub use pencil::{Pencil, Pupil, Spectrum, SpectrumError};
pub use predict::{Criterion, Prediction, Question, Zone, predict};
pub use prescription::{Prescription, PrescriptionError, Row};
pub use relay::Ideal;
pub use seidel::{Colours, Seidel, Sums};
pub use sequence::{Sequence, Step};
pub use set_up::{Behind, Draw, SetUp, SetUpError};
pub use spread::{FilmLayers, Spread};
pub use surface::{ASPHERE_TERMS, Surface};
pub use system::{FirstOrder, Iris, Object, Part, Start, System, SystemError};
pub use table::{MOST_ROWS, Table, TableError};
pub use trace::{Openings, SETTLED_MM};
pub use transfer::{Response, Transfer};
