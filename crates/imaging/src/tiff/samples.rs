//! What kinds of samples a TIFF's pixels hold, and what has to be done to them.

use std::sync::Arc;

use super::directory::{Directory, tag};
use super::dng::Levels;
use crate::error::{Fault, Feature};
use crate::source::Scale;
use crate::{Colour, Remark};

/// How a sample is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A whole number of 1 to 16 bits, packed from the high bit unless 8 or 16.
    Bits(u8),
    /// A whole number of 32 bits.
    Whole32,
    /// A number of IEEE 754 with 16, 32 or 64 bits.
    Float(u8),
}

impl Kind {
    /// Out of SampleFormat (339) and BitsPerSample (258).
    pub(super) fn of(directory: &Directory) -> Result<Self, Fault> {
        let all = |tag| Ok::<_, Fault>(directory.numbers(tag)?.filter(|v| !v.is_empty()).unwrap_or_else(|| vec![1]));
        let (bits, formats) = (all(tag::BITS_PER_SAMPLE)?, all(tag::SAMPLE_FORMAT)?);
        if bits.iter().any(|&b| b != bits[0]) || formats.iter().any(|&f| f != formats[0]) {
            return Err(Feature::MixedDepths.into());
        }
        // 4 means "undefined", which writers of whole numbers have used.
        Err(Fault::from(match (formats[0], bits[0]) {
            (1 | 4, n @ 1..=16) => return Ok(Self::Bits(n as u8)),
            (1 | 4, 32) => return Ok(Self::Whole32),
            (3, n @ (16 | 32 | 64)) => return Ok(Self::Float(n as u8)),
            (1 | 3 | 4, n) => Feature::BitDepth(n),
            _ => Feature::SampleFormat,
        }))
    }

    pub(super) fn bits(self) -> u8 {
        match self {
            Self::Bits(bits) | Self::Float(bits) => bits,
            Self::Whole32 => 32,
        }
    }

    /// The largest whole number, or for floating point the 1 that means full scale.
    pub(super) fn most(self) -> f64 {
        match self {
            Self::Bits(bits) => f64::from((1_u32 << bits) - 1),
            Self::Whole32 => f64::from(u32::MAX),
            Self::Float(_) => 1.0,
        }
    }
}

/// How neighbouring samples are stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Predictor {
    None,
    /// Every sample but the first of its channel as the difference from the one before, modulo its range.
    Horizontal,
    /// The same byte by byte, the bytes of a row sorted by their weight.
    Floating,
}

impl Predictor {
    pub(super) fn of(directory: &Directory, kind: Kind) -> Result<Self, Fault> {
        let number = directory.number(tag::PREDICTOR)?.unwrap_or(1);
        match (number, kind) {
            (1, _) => Ok(Self::None),
            (2, Kind::Bits(8 | 16) | Kind::Whole32 | Kind::Float(_)) => Ok(Self::Horizontal),
            (3, Kind::Float(_)) => Ok(Self::Floating),
            (other, _) => Err(Feature::Predictor(other).into()),
        }
    }
}

/// What samples mean beside themselves.
#[derive(Debug, Clone)]
pub(super) enum Conversion {
    /// Themselves.
    None,
    /// Places in a palette of colours of 16 bits.
    Palette(Arc<[[u16; 3]]>),
    /// A sensor's values, to be set between its black and white level.
    Levels(Arc<Levels>),
}

impl Conversion {
    /// How rows give samples of that kind.
    pub(super) fn scale(&self, kind: Kind) -> Scale {
        match (self, kind) {
            (Self::Palette(_), _) => Scale::Whole(u16::MAX),
            (Self::None, Kind::Bits(bits)) => Scale::Whole(((1_u32 << bits) - 1) as u16),
            _ => Scale::Float,
        }
    }
}

/// The colours that PhotometricInterpretation (262) names.
pub(super) fn colour(photometric: u64, jpeg: bool, samples: u64) -> Result<Colour, Fault> {
    Err(Fault::from(match photometric {
        0 | 1 => return Ok(Colour::Grey),
        2 | 3 => return Ok(Colour::Rgb),
        6 if jpeg => return Ok(Colour::Rgb),
        super::dng::LINEAR_RAW if samples < 3 => return Ok(Colour::Grey),
        super::dng::LINEAR_RAW => return Ok(Colour::Rgb),
        5 => Feature::Cmyk,
        6 => Feature::YCbCr,
        8..=10 => Feature::Lab,
        32803 => Feature::RawSensor,
        other => Feature::Photometric(other),
    }))
}

/// The colour map (320): all reds, all greens, all blues, of 16 bits each. Old writers put 8 bits there.
pub(super) fn palette(directory: &Directory, kind: Kind) -> Result<Arc<[[u16; 3]]>, Fault> {
    let Kind::Bits(bits) = kind else { return Err(Feature::Palette.into()) };
    let entries = 1_usize << bits;
    let map = directory.numbers(tag::COLOR_MAP)?.unwrap_or_default();
    if map.len() < 3 * entries {
        return Err(Feature::Palette.into());
    }
    let widen = if map.iter().all(|&v| v < 256) { 257 } else { 1 };
    let entry = |i: usize| [map[i], map[entries + i], map[2 * entries + i]].map(|v| (v * widen).min(65_535) as u16);
    Ok((0..entries).map(entry).collect())
}

/// ExtraSamples: 1 is transparency that the colours have been multiplied by, 2 transparency alone, 0 anything.
pub(super) fn remark_extra_channels(directory: &Directory, count: u32, remarks: &mut Vec<Remark>) -> Result<(), Fault> {
    let kinds = directory.numbers(tag::EXTRA_SAMPLES)?.unwrap_or_default();
    let rest = match (count, kinds.first()) {
        (0, _) => 0,
        (_, Some(1)) => {
            remarks.push(Remark::PremultipliedAlphaDropped);
            count - 1
        }
        (_, Some(2)) => {
            remarks.push(Remark::AlphaDropped);
            count - 1
        }
        _ => count,
    };
    if rest > 0 {
        remarks.push(Remark::ExtraChannelsDropped { count: rest });
    }
    Ok(())
}
