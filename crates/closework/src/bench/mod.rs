//! The bench: a set-up of the kit with a published design in the place of each lens, so that rays can be traced through it.
//!
//! A form is not the person's lens. It is scaled to the lens's focal length and stands where the kit's own figures say that the
//! lens stands, principal plane on principal plane, so that size and light are those of the set-up; what it predicts is how
//! attachments change a lens of its kind.
//!
//! [`Asked`] is the same without a kit: a form or a typed table with attachments given by their figures.

mod asked;
mod design;
mod drawn;
mod frame;
mod map;
mod measured;
mod picture;
mod predicted;
mod section;
mod stand_in;
mod trace;
mod words;

pub use asked::{Asked, Coupled, Glass, InFront};
pub use design::{
    Design, Designs, FIELD, OwnTable, OwnTableError, SURFACES, check_designs, design_of, designs_of, standing_on,
    table_part, with_table,
};
pub use drawn::draw;
pub use frame::point_spreads;
pub use map::{Cell, FrameMap};
pub use measured::{
    COMPARED, Compared, Fit, MeasuredError, MeasuredFrame, MeasuredPlace, Share, Way, fit, measured_frames,
    off_by_words, taken_with,
};
pub use picture::{PITCH_UM, Picture, Subject, write, write_scan};
pub use predicted::{
    Chain, Foresee, Foretold, ForetoldPlace, OTHERS, PredictedFigures, Told, Trace, predicted, predicted_already,
};
pub use section::Section;
pub use stand_in::{BenchError, inside_words, stand_in};
pub use trace::{Focus, Found, Heard, PlaceRays, Plane, TraceError, Wanted, film_response, trace, unheard};
pub use words::{NOT_YOURS, kind, label, mismatch, not_yours};
