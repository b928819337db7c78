//! What can be wrong with a scan file, in a photographer's words.

use std::io;
use std::path::{Path, PathBuf};

use planes::Region;

use crate::source::{MAX_PIXELS, MAX_REGION_BYTES, MAX_SIDE, MAX_WHOLE_BYTES};

/// A file that could not be read or written, and why.
#[derive(Debug, thiserror::Error)]
#[error("{}: {fault}", path.display())]
pub struct ImagingError {
    /// The file, or the pyramid's folder.
    pub path: PathBuf,
    /// What is wrong and what to do.
    #[source]
    pub fault: Fault,
}

/// What is wrong with a file, and what to do about it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Fault {
    /// The file could not be opened or read from the disk.
    #[error("cannot be read ({0})")]
    Read(#[source] io::Error),
    /// The file or folder could not be written.
    #[error("cannot be written ({0})")]
    Write(#[source] io::Error),
    /// A folder or a device.
    #[error("is a folder or a device and not a file; choose the scan in it")]
    NotAFile,
    /// Neither TIFF, PNG nor JPEG.
    #[error("is not a TIFF, PNG or JPEG picture; save the scan as 16-bit TIFF")]
    NotAPicture,
    /// A picture of a kind that cannot be measured.
    #[error("{0}")]
    Unsupported(Feature),
    /// The file ends before its picture does.
    #[error("is cut short: {0}; copy or scan it again")]
    Truncated(String),
    /// The file contradicts itself.
    #[error("is damaged: {0}; copy or scan it again")]
    Damaged(String),
    /// Width or height is zero.
    #[error("declares a picture of {width} x {height} pixels, which is empty")]
    Empty {
        /// Columns declared.
        width: u64,
        /// Rows declared.
        height: u64,
    },
    /// The size is beyond what any scanner delivers.
    #[error(
        "declares a picture of {width} x {height} pixels; at most {MAX_SIDE} a side and {MAX_PIXELS} in all can be read"
    )]
    TooManyPixels {
        /// Columns declared.
        width: u64,
        /// Rows declared.
        height: u64,
    },
    /// The file is far too small for the size that it declares.
    #[error(
        "declares {width} x {height} pixels but holds only {bytes} bytes of picture; it is damaged or made to mislead"
    )]
    ImplausibleSize {
        /// Columns declared.
        width: u64,
        /// Rows declared.
        height: u64,
        /// Bytes of compressed picture in the file.
        bytes: u64,
    },
    /// A JPEG or an interlaced PNG, which can only be decoded whole, is too large for that.
    #[error(
        "would take {needed} bytes when decoded whole, the limit is {MAX_WHOLE_BYTES}; save it as TIFF, which is read in parts"
    )]
    TooLargeWhole {
        /// Bytes that decoding takes.
        needed: u64,
    },
    /// The region is not in the picture.
    #[error(
        "the region {},{} {} x {} does not lie in the picture of {width} x {height} pixels",
        region.x, region.y, region.width, region.height
    )]
    RegionOutside {
        /// The region asked for.
        region: Region,
        /// Columns of the picture as shown.
        width: u32,
        /// Rows of the picture as shown.
        height: u32,
    },
    /// The region is too large to be held in memory at once.
    #[error(
        "the region of {} x {} pixels would take {needed} bytes, the limit is {MAX_REGION_BYTES}; choose a smaller one",
        region.width, region.height
    )]
    RegionTooLarge {
        /// The region asked for.
        region: Region,
        /// Bytes of its samples as linear light.
        needed: u64,
    },
    /// A written row has the wrong number of samples, or rows are missing or too many.
    #[error("was given {given} {what} to write, {expected} were announced")]
    WrongCount {
        /// Rows or samples.
        what: &'static str,
        /// How many came.
        given: u64,
        /// How many should have come.
        expected: u64,
    },
    /// The description beside a pyramid's tiles is missing parts or makes no sense.
    #[error("holds no usable pyramid of tiles ({0}); import the scan again")]
    Pyramid(String),
    /// The caller stopped the work; nothing was left behind.
    #[error("stopped on request")]
    Cancelled,
}

/// A kind of picture that is refused by name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Feature {
    /// Printing inks.
    #[error("holds ink colours (CMYK); save it as RGB from the scan, not from a print file")]
    Cmyk,
    /// L*a*b*.
    #[error("holds Lab colours; save it as 16-bit RGB")]
    Lab,
    /// A colour table that cannot be used.
    #[error("holds colours from a palette that is missing or too short; save it as 8- or 16-bit RGB")]
    Palette,
    /// Luma and colour difference without JPEG.
    #[error("holds luma and colour difference (YCbCr) without JPEG; save it as RGB")]
    YCbCr,
    /// Sensor data before its colours are made.
    #[error("holds raw sensor data; develop it to 16-bit TIFF first")]
    RawSensor,
    /// Another photometric interpretation.
    #[error("holds colours of an unknown kind (TIFF photometric interpretation {0}); save it as grey or RGB")]
    Photometric(u64),
    /// A number of bits that is not read.
    #[error("holds {0} bits per sample; save it with 8 or 16")]
    BitDepth(u64),
    /// Channels of different depth.
    #[error("holds channels of different depths; save it as 16-bit RGB")]
    MixedDepths,
    /// Signed or complex numbers.
    #[error("holds signed or complex samples; save it as 16-bit TIFF")]
    SampleFormat,
    /// A compression that is not read.
    #[error("is compressed by {0}; save it uncompressed, or with LZW or Deflate")]
    Compression(String),
    /// A predictor that is not read.
    #[error("uses TIFF predictor {0}, which does not go with its samples; save it without a predictor")]
    Predictor(u64),
    /// Another JPEG process.
    #[error("is a JPEG of a kind that is not read ({0}); save it as baseline JPEG or as TIFF")]
    Jpeg(String),
}

impl From<Feature> for Fault {
    fn from(feature: Feature) -> Self {
        Self::Unsupported(feature)
    }
}

impl From<io::Error> for Fault {
    /// Decoders report through `io::Error`: an early end is a cut-off file, invalid data a damaged one.
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::UnexpectedEof => Self::Truncated("the data ends in the middle of the picture".into()),
            io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput => Self::Damaged(error.to_string()),
            _ => Self::Read(error),
        }
    }
}

impl Fault {
    /// The fault with the file it concerns.
    pub(crate) fn at(self, path: &Path) -> ImagingError {
        ImagingError { path: path.to_owned(), fault: self }
    }
}
