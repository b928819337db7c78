//! Scan files to linear-light pictures, region by region, and the viewing pyramid.
//!
//! [`Scan::open`] reads a file's header and nothing else; [`Scan::read_linear`] gives a region of the picture *as
//! shown* (orientation tag applied) as linear light, through the embedded profile or the tone curve the caller names.
//! TIFF (8 and 16 bit, grey and RGB, strips and tiles), PNG and JPEG.
//!
//! What a file leaves open is never guessed in silence: the result carries [`Remark`]s. What a file holds that cannot be
//! measured (ink colours, raw sensor data, a truncated download) is refused with an [`ImagingError`] that says what is
//! wrong and what to do.
//!
//! How much memory it takes: TIFF and PNG are read row by row, so a region costs its own samples and a few rows;
//! a JPEG or interlaced PNG is decoded whole, once, and is refused above [`MAX_WHOLE_BYTES`].

mod error;
mod exif_block;
mod info;
mod jpeg_file;
pub mod negative;
mod notes;
mod orientation;
mod png_file;
mod primaries;
mod profile;
pub mod pyramid;
mod reduced;
mod remark;
mod scan;
mod source;
mod spool;
mod tiff;
mod tone;
mod write;
mod xmp;

pub use error::{Fault, Feature, ImagingError};
pub use info::{Colour, Format, Info, ProfileKind, ProfileSummary};
pub use notes::{Moment, Resolution, ResolutionUnit};
pub use orientation::Orientation;
pub use reduced::Reduced;
pub use remark::Remark;
pub use scan::{EncodedReading, Reading, Scan};
pub use source::{MAX_PIXELS, MAX_REGION_BYTES, MAX_SIDE, MAX_WHOLE_BYTES};
pub use tone::{ToneChoice, ToneUsed};
pub use write::{TiffWriter, srgb_profile, write_tiff_rgb16};
