//! LZW as TIFF 6.0 section 13 has it: codes from the high bit, one switch of width early.
//!
//! An own decoder, because grain is nearly incompressible: a code stands for little more than one byte, and what each
//! code costs is all that counts. Strings of up to seven bytes lie in the table themselves, so that to put one out is to
//! load a number and to store it; longer ones are pieces of what was put out since the table was last cleared. Codes are
//! taken from the packed bytes by their place, without a chain of shifts from one to the next.

use std::io::{self, Read};

const CLEAR: usize = 256;
const END: usize = 257;
const FIRST: usize = 258;
const FULL: usize = 4096;
/// Bytes that are decoded at least before they are handed on, unless the table is cleared before.
const BATCH: usize = 16 << 10;
/// Packed bytes that are read at a time.
const INPUT: usize = 32 << 10;
/// Bytes behind the packed ones, so that a code can always be taken out of four.
const SPARE: usize = 4;

/// A string of the table. The high byte is its length, and the others are its bytes from the low end; or the high byte
/// is [`LONG`], the next three are its length and the low four are where it begins in the output. 0 is no string.
type Entry = u64;
const LENGTH: u32 = 56;
const LONG: u64 = 8;
/// Bytes that are put out at once: a whole entry.
const WORD: usize = 8;

/// A stream of LZW codes, decoded.
pub(super) struct Lzw<R> {
    inner: R,
    /// Packed bytes, the first `held` of them from the stream.
    input: Box<[u8; INPUT + SPARE]>,
    held: usize,
    /// The next code's first bit in `input`.
    at: usize,
    table: Box<[Entry; FULL]>,
    /// The next code that gets a string.
    next: usize,
    width: usize,
    /// What was put out since the table was cleared: at most some 7 MB, when every string is one byte longer than the
    /// one before; 5 kB for grain. What was put out last begins at `before` and is the string `last`, 0 after clearing.
    out: Vec<u8>,
    end: usize,
    before: usize,
    last: Entry,
    taken: usize,
    /// What the table refers to when it is full and stays as it is: all that comes after need not be kept. Else 0.
    kept: usize,
    to_clear: bool,
    done: bool,
    /// What comes next makes no sense; what was put out is good all the same.
    damaged: bool,
}

impl<R: Read> Lzw<R> {
    pub(super) fn new(inner: R) -> Self {
        let mut table = Box::new([0; FULL]);
        table.iter_mut().take(256).zip(0..).for_each(|(entry, byte)| *entry = 1 << LENGTH | byte);
        Self {
            inner,
            input: Box::new([0; INPUT + SPARE]),
            held: 0,
            at: 0,
            table,
            next: FIRST,
            width: 9,
            out: Vec::new(),
            end: 0,
            before: 0,
            last: 0,
            taken: 0,
            kept: 0,
            to_clear: false,
            done: false,
            damaged: false,
        }
    }

    fn clear(&mut self) {
        self.table[FIRST..self.next].fill(0);
        (self.next, self.width, self.end, self.taken) = (FIRST, 9, 0, 0);
        (self.last, self.before, self.kept, self.to_clear) = (0, 0, 0, false);
    }

    /// How many whole codes lie in `input`, at least one unless the stream is at its end.
    fn codes(&mut self) -> io::Result<usize> {
        while self.at + self.width > 8 * self.held {
            let used = self.at / 8;
            self.input.copy_within(used..self.held, 0);
            (self.held, self.at) = (self.held - used, self.at % 8);
            match self.inner.read(&mut self.input[self.held..INPUT]) {
                Ok(0) => return Ok(0),
                Ok(read) => self.held += read,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok((8 * self.held - self.at) / self.width)
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
            let codes = self.codes()?;
            if codes == 0 {
                self.done = true;
            } else if self.last == 0 {
                self.first();
            } else {
                self.run(codes);
            }
        }
        Ok(())
    }

    /// The first code after the table was cleared, which stands for a byte.
    fn first(&mut self) {
        let code = code(&self.input, self.at, self.width);
        self.at += self.width;
        match code {
            CLEAR => {}
            END => self.done = true,
            0..=255 => {
                self.out.resize(self.out.len().max(WORD), 0);
                self.out[0] = code as u8;
                (self.last, self.before, self.end) = (self.table[code], 0, 1);
            }
            _ => (self.done, self.damaged) = (true, true),
        }
    }

    /// Decodes up to so many codes, as long as they have the same width.
    fn run(&mut self, codes: usize) {
        let widest = 1 << self.width;
        let limit = if self.width == 12 { FULL } else { widest - 1 };
        let full = self.next == FULL;
        let codes = codes.min(if full { FULL } else { limit - self.next });
        let room = (codes + 1) * WORD;
        if self.out.len() < self.end + room {
            self.out.resize(self.end + room, 0);
        }
        // In variables of their own these stay in registers.
        let (mut at, mut next, mut end, mut before, mut last) = (self.at, self.next, self.end, self.before, self.last);
        let (table, input, width) = (&mut *self.table, &*self.input, self.width);
        let mut out = &mut self.out[..];
        for _ in 0..codes {
            let code = code(input, at, width);
            at += width;
            let entry = table[code % FULL];
            let length = (entry >> LENGTH) as usize;
            // Not 0, and not long.
            if length.wrapping_sub(1) < WORD - 1 {
                // The string before and the byte that follows it become an entry.
                if let Some(new) = table.get_mut(next) {
                    *new = longer(last, entry as u8, before, end);
                    next += 1;
                }
                out[end..end + WORD].copy_from_slice(&entry.to_le_bytes());
                (before, last) = (end, entry);
                end += length;
                continue;
            }
            if code == CLEAR || code == END {
                (self.to_clear, self.done) = (code == CLEAR, code == END);
                break;
            }
            let (from, length) = if entry != 0 {
                (entry as u32 as usize, (entry >> 32) as usize & 0xff_ffff)
            } else if code == next {
                // The string that is only just being told: the last one and its own first byte.
                (before, end - before + 1)
            } else {
                (self.done, self.damaged) = (true, true);
                break;
            };
            let byte = out[from];
            if let Some(new) = table.get_mut(next) {
                *new = longer(last, byte, before, end);
                next += 1;
            }
            if out.len() < end + length + room {
                self.out.resize((end + length + room).max(end + BATCH), 0);
                out = &mut self.out[..];
            }
            // The byte that a string lacks that is only just being told.
            out[end] = byte;
            out.copy_within(from..from + length, end);
            (before, last) = (end, table[code]);
            end += length;
        }
        (self.at, self.next, self.end, self.before, self.last) = (at, next, end, before, last);
        if next == limit && !full {
            if self.width == 12 {
                self.kept = end;
            } else {
                self.width += 1;
            }
        }
    }
}

/// The code of `width` bits at a bit of the input.
#[inline(always)]
fn code(input: &[u8; INPUT + SPARE], at: usize, width: usize) -> usize {
    // Never beyond the end.
    let place = (at / 8).min(INPUT);
    let four = u32::from_be_bytes([input[place], input[place + 1], input[place + 2], input[place + 3]]);
    (four << (at % 8) >> (32 - width)) as usize
}

/// The entry of the string that begins at `before` in the output and ends before `end`, and of one more byte.
#[inline(always)]
fn longer(last: Entry, byte: u8, before: usize, end: usize) -> Entry {
    let length = last >> LENGTH;
    if length < LONG - 1 {
        last + (1 << LENGTH) + (u64::from(byte) << (8 * length))
    } else {
        LONG << LENGTH | ((end - before + 1) as u64) << 32 | before as u64
    }
}

impl<R: Read> Read for Lzw<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        while self.taken == self.end && !self.done {
            self.batch()?;
        }
        let given = &self.out[self.taken..self.end];
        if given.is_empty() && self.damaged {
            return Err(io::Error::new(io::ErrorKind::InvalidData, "its LZW codes make no sense"));
        }
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
        Lzw::new(Sips(packed, piece)).read_to_end(&mut out).map(|_| out)
    }

    /// Gives so many bytes at a time.
    struct Sips<'a>(&'a [u8], usize);

    impl Read for Sips<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let count = buffer.len().min(self.1);
            self.0.read(&mut buffer[..count])
        }
    }

    /// Codes of nine bits, as bytes.
    fn packed(codes: &[u32]) -> Vec<u8> {
        let mut bits: Vec<bool> = codes.iter().flat_map(|c| (0..9).rev().map(move |i| c >> i & 1 == 1)).collect();
        bits.resize(bits.len().next_multiple_of(8), false);
        bits.chunks(8).map(|b| b.iter().fold(0, |v, &bit| v << 1 | u8::from(bit))).collect()
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
        let packed = packed(&[256, 7, 258, 8, 8, 258, 6, 6, 257]);
        assert_eq!(unpacked(&packed, 64).unwrap(), [7, 7, 7, 8, 8, 7, 7, 6, 6]);
    }

    #[test]
    fn codes_for_which_there_is_no_string_are_refused() {
        // 300 first; 7 and then 259 where 258 is the next; 258 right after a clear.
        for codes in [&[300_u32][..], &[256, 7, 259], &[256, 7, 7, 256, 258]] {
            assert_eq!(unpacked(&packed(codes), 64).unwrap_err().kind(), io::ErrorKind::InvalidData, "{codes:?}");
        }
    }

    #[test]
    fn what_comes_before_damage_is_good() {
        let mut two = [0; 2];
        let packed = packed(&[256, 7, 9, 300]);
        let mut stream = Lzw::new(&packed[..]);
        stream.read_exact(&mut two).unwrap();
        assert_eq!(two, [7, 9]);
        assert_eq!(stream.read(&mut two).unwrap_err().kind(), io::ErrorKind::InvalidData);
    }

    #[test]
    fn strings_of_every_length_come_out_again() {
        // Each string once longer than the one before: codes for seven bytes, eight and more, and the table filled
        // to its end by strings that are told only just then.
        let mut seed = 1_u32;
        let mut bytes = Vec::new();
        for length in (1..40).chain(1..400) {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            bytes.resize(bytes.len() + length, (seed >> 30) as u8);
            bytes.extend((0..length % 23).map(|i| (i * i) as u8));
        }
        bytes.resize(bytes.len() + 8_000_000, 3);
        let packed = weezl::encode::Encoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8).encode(&bytes).unwrap();
        assert!(unpacked(&packed, 1 << 20).unwrap() == bytes);
    }

    #[test]
    fn a_full_table_stays_as_it_is_until_it_is_cleared() {
        // 9 to 12 bits by hand, never cleared: as TIFF 6.0 has it one switch early, 4096 strings at most. Bytes 0, 1,
        // 2 ... one code each, so that string 258 + i is the bytes i and i + 1; then those strings.
        let codes = (0..6000).map(|i| i % 256).chain((FIRST..FULL).rev()).chain([END]);
        let (mut bits, mut next, mut expected) = (String::new(), FIRST, Vec::new());
        for (i, code) in codes.enumerate() {
            next = (next + usize::from(i > 1)).min(FULL);
            let width = [9, 10, 11].into_iter().find(|w| next < (1 << w) - 1).unwrap_or(12);
            bits.push_str(&format!("{code:0width$b}"));
            match code {
                0..=255 => expected.push(code as u8),
                END => {}
                _ => expected.extend([(code - FIRST) as u8, (code - FIRST + 1) as u8]),
            }
        }
        let bit = |b: &[u8], i: usize| u8::from(b.get(i) == Some(&b'1'));
        let bytes: Vec<u8> = bits.as_bytes().chunks(8).map(|b| (0..8).fold(0, |v, i| v << 1 | bit(b, i))).collect();
        for piece in [1000, 1 << 20] {
            assert!(unpacked(&bytes, piece).unwrap() == expected, "read {piece} at a time");
        }
    }
}
