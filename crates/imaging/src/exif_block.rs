//! The few EXIF fields that matter for measuring: orientation, resolution, colour space.

use exif::{Exif, In, Reader, Tag, Value};

use crate::source::Declared;

/// Fields of an EXIF block, each absent when missing or unreadable: a damaged block must not spoil a sound picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct ExifFields {
    pub orientation: Option<u32>,
    /// Pixels per millimetre across and down as stored.
    pub per_mm: Option<(f64, f64)>,
    pub declared: Declared,
}

const NOTHING: ExifFields = ExifFields { orientation: None, per_mm: None, declared: Declared::Nothing };

/// Reads a block that begins with its TIFF header.
pub(crate) fn read(block: &[u8]) -> ExifFields {
    match Reader::new().read_raw(block.to_vec()) {
        Ok(exif) => {
            ExifFields { orientation: uint(&exif, Tag::Orientation), per_mm: per_mm(&exif), declared: declared(&exif) }
        }
        Err(_) => NOTHING,
    }
}

fn uint(exif: &Exif, tag: Tag) -> Option<u32> {
    exif.get_field(tag, In::PRIMARY)?.value.get_uint(0)
}

fn rational(exif: &Exif, tag: Tag) -> Option<f64> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(values) => values.first().map(|r| r.to_f64()),
        _ => None,
    }
}

/// Resolution in pixels per millimetre; unit 2 is the inch (also the default), 3 the centimetre.
fn per_mm(exif: &Exif) -> Option<(f64, f64)> {
    let unit_mm = resolution_unit_mm(uint(exif, Tag::ResolutionUnit).unwrap_or(2))?;
    let across = rational(exif, Tag::XResolution)?;
    Some((across / unit_mm, rational(exif, Tag::YResolution).unwrap_or(across) / unit_mm))
}

/// Millimetres in TIFF's and EXIF's resolution unit; `None` for 1, "no unit".
pub(crate) fn resolution_unit_mm(unit: u32) -> Option<f64> {
    match unit {
        2 => Some(25.4),
        3 => Some(10.0),
        _ => None,
    }
}

/// EXIF ColorSpace 1 is sRGB, 65535 "uncalibrated"; 2 is written by cameras for the Adobe RGB curve, of gamma 563/256.
fn declared(exif: &Exif) -> Declared {
    match uint(exif, Tag::ColorSpace) {
        Some(1) => Declared::Srgb,
        Some(2) => Declared::Gamma(563.0 / 256.0),
        _ => Declared::Nothing,
    }
}
