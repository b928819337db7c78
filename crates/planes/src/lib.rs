//! Pictures in memory.
//!
//! A scan's numbers mean nothing until it is known whether they are *linear light* (twice the number is twice the
//! light) or *encoded* (through a tone curve, made for the eye). Mixing the two up spoils every sharpness figure
//! without any error showing, so here they are different types: [`Picture<Linear>`] and [`Picture<Encoded>`], and
//! the only way from one to the other is a [`ToneCurve`].
//!
//! Samples are `f32` in 0 ..= 1, where 1 is the file's largest value; row by row from the top left. Coordinates count
//! pixels from the outer corner of the top-left pixel, so that the centre of that pixel is (0.5, 0.5).

mod picture;
mod tone;

pub use picture::{Channels, Encoded, Linear, LumaWeights, Meaning, Picture, Plane, Region, ShapeError};
pub use tone::{SRGB_THRESHOLD_ENCODED, SRGB_THRESHOLD_LINEAR, ToneCurve, srgb_decode, srgb_encode};
