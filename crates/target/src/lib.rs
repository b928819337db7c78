//! The printed target card: what lies where on it, in millimetres, and what its codes say.
//!
//! A card is made for the field that is to be photographed. [`Card::new`] lays it out; each [`Sheet`] of it carries four
//! codes, and what any one of them says ([`CodeText`]) is enough to lay out the same sheet again ([`Sheet::of_code`]).
//! So whoever finds one code in a picture knows every mark on the sheet. The same layout is printed, drawn as a test scene, and
//! looked for in a scan.
//!
//! Lengths are millimetres on the paper. Each sheet has its origin in its middle, x to the right and y downwards; turns
//! are clockwise. Nothing here knows of files, pictures or paper feeds.

mod code;
mod error;
mod layout;
mod mark;
mod paper;
mod sheet;

pub use code::{CodeDots, CodeText, Corner, Identity, dots};
pub use error::{CardError, CodeError};
pub use mark::{
    Blade, Code, EdgeLine, GreyScale, Mark, Radial, Ramp, Rule, Ruler, Square, Step, TRAP_PRINTED_REFLECTANCE, Trap,
    Zone,
};
pub use paper::Paper;
pub use sheet::{
    Card, LARGEST_FIELD_MM, LARGEST_SINGLE_MM, Note, Part, SMALLEST_FIELD_MM, SMALLEST_PRINTED_GREYS_MM, Sheet,
};

/// Rise from 10 to 90 % of an edge printed by an office laser printer, mm (common practice, no source; ink on plain
/// paper is softer still).
pub const PRINTED_RISE_MM: f64 = 0.05;

/// The spatial frequency on the subject, line pairs per mm, at which a printed edge itself has lost half its contrast.
///
/// The rise is taken as that of a Gaussian: its standard deviation is the rise over 2 × 1.28155, and its transfer
/// falls to one half at √(ln 2 / 2) / (π σ).
pub fn printed_half_contrast_lp_mm() -> f64 {
    let sigma = PRINTED_RISE_MM / (2.0 * 1.281_551_565_544_6);
    (std::f64::consts::LN_2 / 2.0).sqrt() / (std::f64::consts::PI * sigma)
}
