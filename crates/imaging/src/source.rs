//! What every file format offers: rows of the stored picture.

use std::ops::ControlFlow;
use std::path::Path;

use planes::Region;

use crate::error::Fault;
use crate::notes::Notes;
use crate::{Colour, Remark};

/// Longest side that is read, in pixels: a 6 x 17 frame at 16 000 dpi has 107 000.
pub const MAX_SIDE: u64 = 200_000;
/// Most pixels that are read: 4 milliards are 24 GB of 16-bit colour.
pub const MAX_PIXELS: u64 = 4_000_000_000;
/// Most bytes that a picture may take which can only be decoded whole (JPEG, interlaced PNG); a 6 x 6 frame at 4000 dpi
/// in colour takes 232 MB at 8 bits.
pub const MAX_WHOLE_BYTES: u64 = 400_000_000;
/// Most bytes that one region may take as linear light; a 6 x 6 frame at 4000 dpi in colour takes 930 MB.
pub const MAX_REGION_BYTES: u64 = 1 << 30;

/// How the words of a row hold samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scale {
    /// A word is a sample, 0 ..= this full scale.
    Whole(u16),
    /// Two words are a sample: the bits of a single-precision number, high half first; full scale is 1. What lies
    /// outside 0 ..= 1, or is no number, is there as the file has it.
    Float,
}

impl Scale {
    /// Words for one sample.
    pub(crate) fn words(self) -> usize {
        match self {
            Self::Whole(_) => 1,
            Self::Float => 2,
        }
    }
}

/// The two words of a floating-point sample.
pub(crate) fn to_words(value: f32) -> [u16; 2] {
    let bits = value.to_bits();
    [(bits >> 16) as u16, bits as u16]
}

/// The floating-point sample of two words.
pub(crate) fn from_words(words: &[u16]) -> f32 {
    f32::from_bits((u32::from(words[0]) << 16) | u32::from(words[1]))
}

/// Receives the rows of a region, counted from the region's first: samples pixel by pixel, in words as [`Scale`] says.
pub(crate) type RowSink<'a> = dyn FnMut(u32, &[u16]) -> ControlFlow<()> + 'a;

/// The picture as it lies in the file.
pub(crate) trait Source: Send {
    /// Gives the rows of a region of the *stored* picture, from top to bottom, until the sink breaks off.
    fn read(&mut self, region: Region, sink: &mut RowSink<'_>) -> Result<(), Fault>;

    /// How many rows are unpacked in vain, at worst, before the first wanted one.
    fn wasted_rows(&self) -> u32 {
        0
    }

    /// Rows after which decoding begins anew, so that several readers can share the work at little cost in memory;
    /// `None` when rows can only be had one after the other from the top.
    fn independent_rows(&self) -> Option<u32> {
        None
    }

    /// Another reader of the same picture with a place in the file of its own; `None` where [`Self::independent_rows`]
    /// is.
    fn twin(&self, _path: &Path) -> Result<Option<Box<dyn Source>>, Fault> {
        Ok(None)
    }
}

/// A tone that a file without a profile states by other means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Declared {
    /// Nothing.
    Nothing,
    /// sRGB, by a tag made for it.
    Srgb,
    /// A pure power.
    Gamma(f64),
    /// Light itself, by a tag made for it.
    Linear,
    /// The camera curve of Rec. ITU-R BT.709.
    Bt709,
    /// Light, by the custom of floating-point files.
    LinearByCustom,
}

/// What a file without a profile says of its own primaries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Primaries {
    /// Shares of luminance; they add up to 1.
    pub luma: [f32; 3],
    /// From light in the channels to linear sRGB.
    pub to_srgb: [[f32; 3]; 3],
}

/// What a format's reader finds in the header.
pub(crate) struct Header {
    /// Columns and rows as stored.
    pub size: (u32, u32),
    pub colour: Colour,
    /// Bits per sample as stored.
    pub bits: u8,
    /// Samples are floating-point numbers.
    pub floating: bool,
    /// How [`Source::read`] gives samples.
    pub scale: Scale,
    pub icc: Option<Vec<u8>>,
    pub declared: Declared,
    pub primaries: Option<Primaries>,
    /// Orientation, resolution and origin, by the format's own means first.
    pub notes: Notes,
    pub remarks: Vec<Remark>,
}

/// Refuses sizes that no scan has.
pub(crate) fn check_size(width: u64, height: u64) -> Result<(u32, u32), Fault> {
    if width == 0 || height == 0 {
        return Err(Fault::Empty { width, height });
    }
    let fits = width <= MAX_SIDE && height <= MAX_SIDE && width * height <= MAX_PIXELS;
    match (u32::try_from(width), u32::try_from(height)) {
        (Ok(w), Ok(h)) if fits => Ok((w, h)),
        _ => Err(Fault::TooManyPixels { width, height }),
    }
}

/// The whole of a stored picture as a region.
pub(crate) fn whole((width, height): (u32, u32)) -> Region {
    Region { x: 0, y: 0, width, height }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_checked_without_wrapping() {
        assert_eq!(check_size(3, 4).unwrap(), (3, 4));
        assert!(matches!(check_size(0, 4), Err(Fault::Empty { .. })));
        assert!(matches!(check_size(u64::MAX, u64::MAX), Err(Fault::TooManyPixels { .. })));
        assert!(matches!(check_size(100_000, 100_000), Err(Fault::TooManyPixels { .. })));
        assert!(check_size(MAX_SIDE, 20_000).is_ok());
    }

    #[test]
    fn words_hold_every_bit_of_a_floating_point_sample() {
        for value in [0.0, -0.0, 1.0, 0.1, f32::MIN_POSITIVE, f32::MAX, f32::NAN, f32::NEG_INFINITY] {
            assert_eq!(from_words(&to_words(value)).to_bits(), value.to_bits());
        }
    }
}
