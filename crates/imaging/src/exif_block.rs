//! The few EXIF fields that matter here: orientation, resolution, colour space, device, date.

use exif::{Exif, In, Reader, Tag, Value};

use crate::notes::{Moment, Notes, Resolution, ResolutionUnit, clean};
use crate::source::Declared;

/// Reads a block that begins with its TIFF header; what is missing or unreadable is absent, because a damaged block must
/// not spoil a sound picture.
pub(crate) fn read(block: &[u8]) -> (Notes, Declared) {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    match reader.read_raw(block.to_vec()).or_else(|error| error.distill_partial_result(|_| {})) {
        Ok(exif) => (notes(&exif), declared(&exif)),
        Err(_) => (Notes::default(), Declared::Nothing),
    }
}

fn notes(exif: &Exif) -> Notes {
    let moment = [Tag::DateTimeOriginal, Tag::DateTimeDigitized, Tag::DateTime];
    Notes {
        orientation: uint(exif, Tag::Orientation),
        resolution: resolution(exif),
        maker: text(exif, Tag::Make),
        model: text(exif, Tag::Model),
        software: text(exif, Tag::Software),
        moment: moment.iter().find_map(|&tag| Moment::parse(&text(exif, tag)?)),
    }
}

fn uint(exif: &Exif, tag: Tag) -> Option<u32> {
    exif.get_field(tag, In::PRIMARY)?.value.get_uint(0)
}

fn text(exif: &Exif, tag: Tag) -> Option<String> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Ascii(lines) => clean(lines.first()?),
        _ => None,
    }
}

fn rational(exif: &Exif, tag: Tag) -> Option<f64> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(values) => values.first().map(|r| r.to_f64()),
        _ => None,
    }
}

/// The inch is the unit when none is stated.
fn resolution(exif: &Exif) -> Option<Resolution> {
    let unit = ResolutionUnit::from_tag(uint(exif, Tag::ResolutionUnit).unwrap_or(2))?;
    let across = rational(exif, Tag::XResolution)?;
    Some(Resolution { across, down: rational(exif, Tag::YResolution).unwrap_or(across), unit })
}

/// EXIF ColorSpace 1 is sRGB, 65535 "uncalibrated"; 2 is written by cameras for the Adobe RGB curve, of gamma 563/256.
fn declared(exif: &Exif) -> Declared {
    match uint(exif, Tag::ColorSpace) {
        Some(1) => Declared::Srgb,
        Some(2) => Declared::Gamma(563.0 / 256.0),
        _ => Declared::Nothing,
    }
}
