//! Two frames of one subject brought to the same scale, turn, place and tone.
//!
//! A [`Similarity`] says where a place of the first frame lies in the second. It comes from two picked points
//! ([`align_by_points`]), from where a card lies in both ([`align_by_cards`]), or from what both show ([`align_by_picture`]), always with its uncertainty; [`resample`] draws a
//! frame through it and [`match_tone`] gives the gain that brings it to the other's tone, in linear light.

mod coarse;
mod fine;
mod grey;
mod likeness;
mod picture;
mod resampled;
mod sharpest;
mod similarity;
mod tone;

pub use picture::{ByPicture, PictureOptions, align_by_picture};
pub use resampled::{Resampled, resample};
pub use sharpest::{SharpestZone, sharpest_zone};
pub use similarity::{
    AlignError, AlignRemark, Aligned, Similarity, align_by_cards, align_by_points, scale_by_magnification,
};
pub use tone::{Tone, ToneError, TonePoints, match_tone};
