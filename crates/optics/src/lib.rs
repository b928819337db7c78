//! Close-up optics: a set-up is a train of parts, and every part is a ray-transfer matrix.
//!
//! Tubes and bellows are distances; a close-up lens is a thin power; a photographic lens is a Gaussian black box
//! ([`BlackBox`]); reversing it mirrors its planes. Magnification, conjugates, pupils, light loss and depth follow from
//! the [`Train`] by the same few lines, so that no accessory needs a formula of its own.
//!
//! ```text
//!   subject         front                H  H'            film
//!      |              |                  |  |              |
//!      o--------------[)----------------(----)-------------|      light runs from left to right
//!      |                                 |  |              |
//!   positions are millimetres IN FRONT OF THE FILM: the film is 0, the subject lies at a large positive figure
//! ```
//!
//! Method first, limits second: everything here is paraxial (Gaussian) optics in air. It knows where things lie, how
//! large they are and how much light arrives; it does not know how good the picture is.
//!
//! All computing is generic over [`Real`], so that the same code gives plain figures (`f64`) and derivatives
//! ([`Dual`]) for the law of propagation of uncertainty ([`propagate`]). Where a figure is too bent for that law,
//! [`propagate_checked`] finds it out and simulates it ([`monte_carlo`]). No I/O, no clock, no gear names.

mod blackbox;
mod diffraction;
mod figures;
mod linearity;
mod matrix;
mod monte_carlo;
mod real;
mod train;
mod uncertainty;

pub use blackbox::{
    BlackBox, CloseRangeError, Converter, ConverterError, Placed, focal_length_from_marks, magnification_at_distance,
    separation_from_marks,
};
pub use diffraction::{
    AIRY_WAVELENGTH_MM, airy_diameter_mm, balanced_f_number, circle_of_confusion_mm, cut_off_cy_per_mm, diffraction_mtf,
};
pub use figures::{Figure, Figures};
pub use linearity::{Checked, LINEAR_SHARE, propagate_checked};
pub use matrix::RayMatrix;
pub use monte_carlo::{
    Distribution, Drawn, LEAST_TRIALS, MOST_TRIALS, MonteCarloError, RandomInput, Simulation, Spread, Trials,
    TrialsError, monte_carlo,
};
pub use real::{Dual, Real};
pub use train::{Element, FocusError, Image, LitCircle, Stop, Train};
pub use uncertainty::{COVERAGE_95, Estimate, Input, propagate, propagate_row};
