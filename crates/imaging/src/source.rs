//! What every file format offers: rows of the stored picture.

use std::ops::ControlFlow;

use planes::Region;

use crate::error::Fault;
use crate::{Colour, Orientation, Remark};

/// Longest side that is read, in pixels: a 6 x 17 frame at 16 000 dpi has 107 000.
pub const MAX_SIDE: u64 = 200_000;
/// Most pixels that are read: 4 milliards are 24 GB of 16-bit colour.
pub const MAX_PIXELS: u64 = 4_000_000_000;
/// Most bytes that a picture may take which can only be decoded whole (JPEG, interlaced PNG); a 6 x 6 frame at 4000 dpi
/// in colour takes 232 MB at 8 bits.
pub const MAX_WHOLE_BYTES: u64 = 400_000_000;
/// Most bytes that one region may take as linear light; a 6 x 6 frame at 4000 dpi in colour takes 930 MB.
pub const MAX_REGION_BYTES: u64 = 1 << 30;

/// Receives the rows of a region, counted from the region's first: samples pixel by pixel, each 0 ..= full scale.
pub(crate) type RowSink<'a> = dyn FnMut(u32, &[u16]) -> ControlFlow<()> + 'a;

/// The picture as it lies in the file.
pub(crate) trait Source: Send {
    /// Gives the rows of a region of the *stored* picture, from top to bottom, until the sink breaks off.
    fn read(&mut self, region: Region, sink: &mut RowSink<'_>) -> Result<(), Fault>;
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
}

/// What a format's reader finds in the header.
pub(crate) struct Header {
    /// Columns and rows as stored.
    pub size: (u32, u32),
    pub colour: Colour,
    /// Bits per sample as stored.
    pub bits: u8,
    /// The sample that means full scale, as [`Source::read`] gives it.
    pub full_scale: u16,
    pub orientation: Orientation,
    /// Pixels per millimetre across and down as stored.
    pub per_mm: Option<(f64, f64)>,
    pub icc: Option<Vec<u8>>,
    pub declared: Declared,
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

/// The orientation that a tag's value means, or as stored with a remark.
pub(crate) fn orientation_of(tag: Option<u32>, remarks: &mut Vec<Remark>) -> Orientation {
    let Some(value) = tag else { return Orientation::default() };
    Orientation::from_tag(value).unwrap_or_else(|| {
        remarks.push(Remark::OrientationUnknown { value });
        Orientation::default()
    })
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
}
