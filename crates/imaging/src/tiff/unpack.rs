//! From the bytes of a row to its samples.

use super::samples::{Kind, Predictor};
use crate::source::to_words;

/// How the bytes of a row are to be taken.
#[derive(Debug, Clone, Copy)]
pub(super) struct Packing {
    pub kind: Kind,
    pub predictor: Predictor,
    pub big_endian: bool,
    /// Samples of a pixel that lie side by side.
    pub samples: usize,
}

/// Samples of whole numbers of up to 16 bits, as words.
pub(super) fn narrow(bytes: &[u8], bits: u8, packing: Packing, row: &mut [u16]) {
    if packing.predictor == Predictor::Horizontal && (bits, packing.samples) == (16, 3) {
        return if packing.big_endian {
            from_differences(bytes, u16::from_be_bytes, row);
        } else {
            from_differences(bytes, u16::from_le_bytes, row);
        };
    }
    match (bits, packing.big_endian) {
        (8, _) => row.iter_mut().zip(bytes).for_each(|(s, &b)| *s = u16::from(b)),
        // One loop for each order: a function chosen beforehand would be called for every sample.
        (16, true) => {
            let pairs = bytes.chunks_exact(2).map(|b| u16::from_be_bytes([b[0], b[1]]));
            row.iter_mut().zip(pairs).for_each(|(s, v)| *s = v);
        }
        (16, false) => {
            let pairs = bytes.chunks_exact(2).map(|b| u16::from_le_bytes([b[0], b[1]]));
            row.iter_mut().zip(pairs).for_each(|(s, v)| *s = v);
        }
        (bits, _) => packed(bytes, bits, row),
    }
    if packing.predictor == Predictor::Horizontal {
        // TIFF 6.0 section 14.
        let (samples, mask) = (packing.samples, if bits == 8 { 255 } else { u16::MAX });
        if samples == 3 {
            // The usual case, with its sums held apart.
            let [mut red, mut green, mut blue] = [0_u16; 3];
            for pixel in row.chunks_exact_mut(3) {
                red = red.wrapping_add(pixel[0]) & mask;
                green = green.wrapping_add(pixel[1]) & mask;
                blue = blue.wrapping_add(pixel[2]) & mask;
                (pixel[0], pixel[1], pixel[2]) = (red, green, blue);
            }
            return;
        }
        for i in samples..row.len() {
            row[i] = row[i].wrapping_add(row[i - samples]) & mask;
        }
    }
}

/// The usual case of differences in one go, colour in 16 bits: TIFF 6.0 section 14.
#[inline(always)]
fn from_differences(bytes: &[u8], number: impl Fn([u8; 2]) -> u16, row: &mut [u16]) {
    let mut sums = [0_u16; 3];
    for (pixel, stored) in row.chunks_exact_mut(3).zip(bytes.chunks_exact(6)) {
        sums[0] = sums[0].wrapping_add(number([stored[0], stored[1]]));
        sums[1] = sums[1].wrapping_add(number([stored[2], stored[3]]));
        sums[2] = sums[2].wrapping_add(number([stored[4], stored[5]]));
        pixel.copy_from_slice(&sums);
    }
}

/// Samples one after the other from the high bit of every byte; TIFF 6.0, FillOrder 1.
fn packed(bytes: &[u8], bits: u8, row: &mut [u16]) {
    let (mut held, mut count, mut bytes) = (0_u32, 0, bytes.iter());
    for sample in row {
        while count < bits {
            held = (held << 8) | u32::from(bytes.next().copied().unwrap_or(0));
            count += 8;
        }
        count -= bits;
        *sample = ((held >> count) & ((1 << bits) - 1)) as u16;
    }
}

/// Samples of more than 16 bits, or floating point, as single-precision numbers in two words each.
pub(super) fn wide(bytes: &mut [u8], packing: Packing, row: &mut [u16]) {
    let size = usize::from(packing.kind.bits() / 8);
    if packing.predictor == Predictor::Floating {
        undo_bytewise(bytes, packing.samples);
        let count = bytes.len() / size;
        for (i, words) in row.chunks_exact_mut(2).enumerate() {
            let number = (0..size).fold(0, |n, k| (n << 8) | u64::from(bytes[k * count + i]));
            words.copy_from_slice(&to_words(value(number, packing.kind)));
        }
        return;
    }
    let horizontal = packing.predictor == Predictor::Horizontal;
    let mut before = vec![0_u64; packing.samples];
    for (i, (words, stored)) in row.chunks_exact_mut(2).zip(bytes.chunks_exact(size)).enumerate() {
        let mut number = super::directory::number(stored, packing.big_endian);
        if horizontal {
            let before = &mut before[i % packing.samples];
            number = number.wrapping_add(*before) & (u64::MAX >> (64 - 8 * size));
            *before = number;
        }
        words.copy_from_slice(&to_words(value(number, packing.kind)));
    }
}

/// Technical note 3 on TIFF (2005), "floating point predictor": differences of bytes at a pixel's distance.
fn undo_bytewise(bytes: &mut [u8], samples: usize) {
    for i in samples..bytes.len() {
        bytes[i] = bytes[i].wrapping_add(bytes[i - samples]);
    }
}

/// The number that those bits mean; whole numbers over their largest.
fn value(bits: u64, kind: Kind) -> f32 {
    match kind {
        Kind::Float(64) => f64::from_bits(bits) as f32,
        Kind::Float(32) => f32::from_bits(bits as u32),
        Kind::Float(_) => half(bits as u16),
        // Whatever is not full scale must not round up to it.
        kind => match bits as f64 / kind.most() {
            1.0 => 1.0,
            share => (share as f32).min(1.0 - f32::EPSILON / 2.0),
        },
    }
}

/// A number of IEEE 754 binary16.
fn half(bits: u16) -> f32 {
    let (exponent, fraction) = (i32::from((bits >> 10) & 31), f32::from(bits & 1023));
    let magnitude = match exponent {
        0 => fraction * 2.0_f32.powi(-24),
        31 if fraction == 0.0 => f32::INFINITY,
        31 => f32::NAN,
        e => (1024.0 + fraction) * 2.0_f32.powi(e - 25),
    };
    if bits & 0x8000 == 0 { magnitude } else { -magnitude }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::from_words;

    #[test]
    fn bits_are_taken_from_the_high_end() {
        let mut row = [0; 5];
        packed(&[0b1010_0110, 0b1000_0000], 2, &mut row);
        assert_eq!(row, [2, 2, 1, 2, 2]);
        let mut row = [0; 3];
        // 12 bits: ABC DEF 123.
        packed(&[0xab, 0xcd, 0xef, 0x12, 0x30], 12, &mut row);
        assert_eq!(row, [0xabc, 0xdef, 0x123]);
    }

    #[test]
    fn differences_add_up_in_either_order_of_bytes() {
        // By hand: 1 2 3, then +4 +5 -6, then 65533 more of the first, which goes round to 2.
        let stored = [1_u16, 2, 3, 4, 5, 65_530, 65_533, 0, 1];
        let expected = [1, 2, 3, 5, 7, 65_533, 2, 7, 65_534];
        for big_endian in [false, true] {
            let bytes: Vec<u8> =
                stored.iter().flat_map(|v| if big_endian { v.to_be_bytes() } else { v.to_le_bytes() }).collect();
            let kind = Kind::Bits(16);
            let packing = Packing { kind, predictor: Predictor::Horizontal, big_endian, samples: 3 };
            let mut row = [0; 9];
            narrow(&bytes, 16, packing, &mut row);
            assert_eq!(row, expected, "high byte first: {big_endian}");
        }
        // One channel, and eight bits, the other ways.
        let packing = Packing { kind: Kind::Bits(8), predictor: Predictor::Horizontal, big_endian: false, samples: 1 };
        let mut row = [0; 3];
        narrow(&[250, 5, 3], 8, packing, &mut row);
        assert_eq!(row, [250, 255, 2]);
    }

    #[test]
    fn halves_are_those_of_the_standard() {
        // IEEE 754-2019, binary16: one, the largest, the least normal and subnormal number, minus two, infinity.
        for (bits, value) in
            [(0x3c00, 1.0), (0x7bff, 65_504.0), (0x0400, 6.103_515_6e-5), (1, 5.960_464_5e-8), (0xc000, -2.0)]
        {
            assert_eq!(half(bits), value, "{bits:x}");
        }
        assert!(half(0x7c00).is_infinite() && half(0x7e00).is_nan());
    }

    #[test]
    fn differences_of_floating_point_rows_are_undone() {
        // Two samples of one channel, 1.0 and -2.0 (3f800000, c0000000): bytes by weight 3f c0 80 00 00 00 00 00,
        // then differences.
        let mut bytes = [0x3f, 0x81, 0xc0, 0x80, 0, 0, 0, 0];
        let mut row = [0; 4];
        let packing = Packing { kind: Kind::Float(32), predictor: Predictor::Floating, big_endian: false, samples: 1 };
        wide(&mut bytes, packing, &mut row);
        assert_eq!((from_words(&row[..2]), from_words(&row[2..])), (1.0, -2.0));
    }

    #[test]
    fn only_the_largest_whole_number_is_one() {
        assert_eq!(value(u64::from(u32::MAX), Kind::Whole32), 1.0);
        assert!(value(u64::from(u32::MAX) - 1, Kind::Whole32) < 1.0);
        assert_eq!(value(1 << 31, Kind::Whole32), 0.5);
    }
}
