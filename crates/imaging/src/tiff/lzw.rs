//! LZW as TIFF 6.0 section 13 has it: codes from the high bit, one switch of width early.
//!
//! An own decoder, because grain is nearly incompressible: a code stands for little more than one byte, and what each
//! code costs is all that counts. Every string of the table is a piece of what was put out since the table was last
//! cleared: what a code stood for, and the byte that followed. So an entry is a place alone, it ends a byte after the
//! next one's begins, and to put a string out is to copy it.

use std::io::{self, BufRead, Read};

const CLEAR: usize = 256;
const END: usize = 257;
const FIRST: usize = 258;
const FULL: usize = 4096;
/// Bytes that are decoded before they are handed on, unless the table is cleared before.
const BATCH: usize = 16 << 10;
/// Bytes that are copied at once.
const WORD: usize = 8;

/// A stream of LZW codes, decoded.
pub(super) struct Lzw<R> {
    inner: R,
    /// Where each string begins in `out`; at `next` the place of the string before, which is the next entry.
    table: Box<[u32; FULL + 2]>,
    next: usize,
    width: u32,
    /// The 256 single bytes, and after them all that was put out since the table was cleared: at most some 7 MB, when
    /// every string is one byte longer than the one before; 10 kB for grain.
    out: Vec<u8>,
    end: usize,
    taken: usize,
    /// What the table refers to when it is full and stays as it is: all that comes after need not be kept. Else 0.
    kept: usize,
    /// Something was put out since the table was cleared.
    begun: bool,
    bits: u64,
    count: u32,
    to_clear: bool,
    done: bool,
}

impl<R: BufRead> Lzw<R> {
    pub(super) fn new(inner: R) -> Self {
        let mut table = Box::new([0; FULL + 2]);
        table.iter_mut().take(257).zip(0..).for_each(|(place, at)| *place = at);
        let out = (0..=255).collect();
        Self {
            inner,
            table,
            next: FIRST,
            width: 9,
            out,
            end: 256,
            taken: 256,
            kept: 0,
            begun: false,
            bits: 0,
            count: 0,
            to_clear: false,
            done: false,
        }
    }

    fn clear(&mut self) {
        (self.next, self.width, self.end, self.taken) = (FIRST, 9, 256, 256);
        (self.begun, self.to_clear, self.kept) = (false, false, 0);
    }

    /// Decodes more; called when all that is there has been taken.
    fn batch(&mut self) -> io::Result<()> {
        if self.to_clear {
            self.clear();
        } else if self.kept > 0 {
            (self.end, self.taken) = (self.kept, self.kept);
        }
        let stop = self.end + BATCH;
        while self.end < stop && !self.done && !self.to_clear {
            let input = self.inner.fill_buf()?;
            if input.is_empty() && self.count < self.width {
                self.done = true;
                return Ok(());
            }
            // In variables of their own these stay in registers.
            let (mut bits, mut count, mut next, mut width, mut end) =
                (self.bits, self.count, self.next, self.width, self.end);
            let (table, out, mut used) = (&mut *self.table, &mut self.out, 0);
            while end < stop {
                if count < width {
                    // As many whole bytes as there is room for.
                    if let Some(four) = input.get(used..used + 4) {
                        let four = u32::from_be_bytes([four[0], four[1], four[2], four[3]]);
                        (bits, count, used) = (bits << 32 | u64::from(four), count + 32, used + 4);
                    } else if let Some(&byte) = input.get(used) {
                        (bits, count, used) = (bits << 8 | u64::from(byte), count + 8, used + 1);
                        continue;
                    } else {
                        break;
                    }
                }
                count -= width;
                let code = (bits >> count) as usize & ((1 << width) - 1);
                if code == CLEAR || code == END {
                    (self.to_clear, self.done) = (code == CLEAR, code == END);
                    break;
                }
                // The string before and the byte that follows it now become an entry; where this one begins ends it.
                let added = next;
                if added < FULL {
                    next += usize::from(self.begun);
                    width += u32::from(next == (1 << width) - 1 && width < 12);
                    table[next] = end as u32;
                }
                if code >= 256 && (!self.begun || code >= next) {
                    return Err(io::Error::new(io::ErrorKind::InvalidData, "its LZW codes make no sense"));
                }
                self.begun = true;
                let code = code & (FULL - 1);
                let at = table[code] as usize;
                let length = (table[code + 1] as usize - at) + usize::from(code >= 256);
                if out.len() < end + length + WORD {
                    out.resize((end + length + WORD).max(out.len() + BATCH), 0);
                }
                if code == added {
                    // The string that is only just being told: the last byte is its own first.
                    out.copy_within(at..at + length - 1, end);
                    out[end + length - 1] = out[end];
                } else if length <= WORD {
                    let word: [u8; WORD] = out[at..at + WORD].try_into().unwrap_or_default();
                    out[end..end + WORD].copy_from_slice(&word);
                } else {
                    out.copy_within(at..at + length, end);
                }
                end += length;
                if next == FULL && self.kept == 0 {
                    self.kept = end;
                }
            }
            (self.bits, self.count, self.next, self.width, self.end) = (bits, count, next, width, end);
            self.inner.consume(used);
        }
        Ok(())
    }
}

impl<R: BufRead> Read for Lzw<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.taken == self.end && !self.done {
            self.batch()?;
        }
        let given = &self.out[self.taken..self.end];
        let count = given.len().min(buffer.len());
        buffer[..count].copy_from_slice(&given[..count]);
        self.taken += count;
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What another encoder packs, with or without a full table.
    fn unpacked(packed: &[u8], piece: usize) -> io::Result<Vec<u8>> {
        let mut out = Vec::new();
        let reader = io::BufReader::with_capacity(piece, packed);
        Lzw::new(reader).read_to_end(&mut out).map(|_| out)
    }

    #[test]
    fn what_another_encoder_packs_comes_out_again() {
        let mut seed = 1_u32;
        let mut noise = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 24) as u8
        };
        let grain: Vec<u8> = (0..200_000).map(|_| noise()).collect();
        let coarse: Vec<u8> = grain.iter().map(|v| v >> 6).collect();
        let still = vec![7; 300_000];
        let text = b"-WED-WE-WEE-WEB-WET".repeat(999);
        for (name, bytes) in [("grain", grain), ("coarse", coarse), ("still", still), ("text", text), ("none", vec![])]
        {
            let mut packer = weezl::encode::Encoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8);
            let packed = packer.encode(&bytes).unwrap();
            for piece in [1, 3, 32 << 10] {
                assert!(unpacked(&packed, piece).unwrap() == bytes, "{name}, read {piece} at a time");
            }
        }
    }

    #[test]
    fn the_example_of_the_specification() {
        // TIFF 6.0, page 60: 7 7 7 8 8 7 7 6 6 becomes clear, 7, 258, 8, 8, 258, 6, 6, end, in codes of nine bits.
        let codes = [256_u32, 7, 258, 8, 8, 258, 6, 6, 257];
        let mut bits: Vec<bool> = codes.iter().flat_map(|c| (0..9).rev().map(move |i| c >> i & 1 == 1)).collect();
        bits.resize(bits.len().next_multiple_of(8), false);
        let packed: Vec<u8> = bits.chunks(8).map(|b| b.iter().fold(0, |v, &bit| v << 1 | u8::from(bit))).collect();
        assert_eq!(unpacked(&packed, 64).unwrap(), [7, 7, 7, 8, 8, 7, 7, 6, 6]);
    }

    #[test]
    fn codes_for_which_there_is_no_string_are_refused() {
        // 300 first; 7 and then 259 where 258 is the next; 258 right after a clear.
        for codes in [&[300_u32][..], &[256, 7, 259], &[256, 7, 7, 256, 258]] {
            let mut bits: Vec<bool> = codes.iter().flat_map(|c| (0..9).rev().map(move |i| c >> i & 1 == 1)).collect();
            bits.resize(bits.len().next_multiple_of(8), false);
            let packed: Vec<u8> = bits.chunks(8).map(|b| b.iter().fold(0, |v, &bit| v << 1 | u8::from(bit))).collect();
            assert_eq!(unpacked(&packed, 64).unwrap_err().kind(), io::ErrorKind::InvalidData, "{codes:?}");
        }
    }
}
