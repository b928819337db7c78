//! Linear DNG (Digital Negative specification 1.7.1): sensor values with their colours already made, as light.
//!
//! The values between black and white level are taken as light in the sensor's own red, green and blue, without white
//! balance: that is what measuring wants. The matrix from XYZ and the neutral say how much each counts for luminance.

use std::sync::Arc;

use super::directory::{Directory, tag};
use super::samples::Kind;
use crate::error::Fault;
use crate::source::{Primaries, from_words, to_words};
use crate::{Remark, primaries};

/// PhotometricInterpretation of linear DNG.
pub(super) const LINEAR_RAW: u64 = 34892;

/// What lies between stored values and light.
#[derive(Debug, PartialEq)]
pub(super) struct Levels {
    /// Stored values to those that the levels count in; empty when they are the same.
    table: Vec<u64>,
    /// Per channel.
    black: Vec<f64>,
    white: Vec<f64>,
}

impl Levels {
    /// Out of LinearizationTable, BlackLevel and WhiteLevel. BlackLevel may vary over a small pattern: its mean is taken.
    pub(super) fn of(directory: &Directory, kind: Kind, samples: usize) -> Result<Arc<Self>, Fault> {
        let table = directory.numbers(tag::LINEARIZATION_TABLE)?.unwrap_or_default();
        let black = directory.reals(tag::BLACK_LEVEL)?.filter(|b| !b.is_empty()).unwrap_or_else(|| vec![0.0]);
        let mean = |channel: usize| {
            let own: Vec<f64> = black.iter().skip(channel % black.len()).step_by(samples).copied().collect();
            own.iter().sum::<f64>() / own.len() as f64
        };
        let black: Vec<f64> =
            if black.len() < samples { vec![black[0]; samples] } else { (0..samples).map(mean).collect() };
        let white = directory.reals(tag::WHITE_LEVEL)?.filter(|w| !w.is_empty()).unwrap_or_else(|| vec![kind.most()]);
        let white: Vec<f64> = (0..samples).map(|c| white.get(c).copied().unwrap_or(white[0])).collect();
        if black.iter().zip(&white).any(|(b, w)| !(b.is_finite() && w.is_finite() && w > b)) {
            return Err(Fault::Damaged(format!(
                "its black level ({}) does not lie below its white level ({})",
                black[0], white[0]
            )));
        }
        Ok(Arc::new(Self { table, black, white }))
    }

    /// Light for a row of stored samples, in two words each.
    pub(super) fn apply(&self, raw: &[u16], kind: Kind, samples: usize, row: &mut [u16]) {
        let light = |i: usize, value: f64| {
            let (black, white) = (self.black[i % samples], self.white[i % samples]);
            to_words(((value - black) / (white - black)) as f32)
        };
        if matches!(kind, Kind::Bits(_)) {
            for (i, (words, &stored)) in row.chunks_exact_mut(2).zip(raw).enumerate() {
                // Values beyond the table's end mean its last.
                let value = match self.table.last() {
                    None => f64::from(stored),
                    Some(&last) => self.table.get(usize::from(stored)).copied().unwrap_or(last) as f64,
                };
                words.copy_from_slice(&light(i, value));
            }
        } else {
            for (i, (words, stored)) in row.chunks_exact_mut(2).zip(raw.chunks_exact(2)).enumerate() {
                let whole = if matches!(kind, Kind::Float(_)) { 1.0 } else { kind.most() };
                words.copy_from_slice(&light(i, f64::from(from_words(stored)) * whole));
            }
        }
    }
}

/// The sensor's primaries, with the remark on what was assumed; its tags may stand in the picture's own directory or in
/// the file's first.
pub(super) fn sensor(directories: &[&Directory], colours: usize, remarks: &mut Vec<Remark>) -> Primaries {
    let reals =
        |tag, count: usize| directories.iter().find_map(|d| d.reals(tag).ok().flatten().filter(|v| v.len() == count));
    // ColorMatrix2 is, where there are two, the one for daylight.
    let matrix = reals(tag::COLOR_MATRIX_2, 9).or_else(|| reals(tag::COLOR_MATRIX_1, 9));
    let found = matrix.filter(|_| colours == 3).and_then(|m| {
        let m = [0, 1, 2].map(|r| [0, 1, 2].map(|c| m[3 * r + c]));
        let neutral = reals(tag::AS_SHOT_NEUTRAL, 3).unwrap_or_else(|| {
            // Without a neutral: what the matrix makes of the white of D65 (ISO/CIE 11664-2).
            m.iter().map(|row| row[0] * 0.9505 + row[1] + row[2] * 1.0891).collect()
        });
        primaries::from_sensor(m, [neutral[0], neutral[1], neutral[2]])
    });
    remarks.push(Remark::SensorColours { matrix: found.is_some() });
    found.unwrap_or_else(primaries::plain)
}
