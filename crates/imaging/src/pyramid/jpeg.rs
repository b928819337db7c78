//! Baseline JPEG of one tile, colour at full resolution.
//!
//! An own encoder, because compressing is more than half of an import: four blocks are transformed side by side, which the
//! compiler turns into vector instructions, from planes that are already apart. It takes two thirds of the time of the
//! crate that was used before, and comes as near to the picture. The method is ITU-T T.81 (1992): its example tables of quantisation (K.1,
//! K.2) and of codes (K.3 to K.6); the transform is that of Arai, Agui and Nakajima (1988) in single precision, the
//! colours those of JFIF (ITU-T T.871).

/// Positions of a block in the order in which they are coded (T.81, figure A.6).
const ZIGZAG: [u8; 64] = [
    0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20, 13, 6, 7, 14, 21,
    28, 35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59, 52, 45, 38, 31, 39, 46, 53, 60, 61, 54,
    47, 55, 62, 63,
];

/// Table K.1.
const LUMA_STEPS: [u16; 64] = [
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51,
    87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92, 49, 64, 78, 87, 103, 121, 120, 101,
    72, 92, 95, 98, 112, 100, 103, 99,
];

/// Table K.2, whose lower half is all 99.
const CHROMA_STEPS: [u16; 64] = {
    let mut steps = [99; 64];
    let corner = [[17, 18, 24, 47], [18, 21, 26, 66], [24, 26, 56, 99], [47, 66, 99, 99]];
    let mut i = 0;
    while i < 16 {
        steps[i / 4 * 8 + i % 4] = corner[i / 4][i % 4];
        i += 1;
    }
    steps
};

/// Codes of a class: how many of each length 1 to 16, and their symbols in ascending order.
struct Codes {
    counts: [u8; 16],
    symbols: &'static [u8],
}

/// Tables K.3 and K.4: sizes of differences between mean values.
const MEAN_CODES: [Codes; 2] = [
    Codes {
        counts: [0, 1, 5, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0],
        symbols: &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
    },
    Codes {
        counts: [0, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0],
        symbols: &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
    },
];

/// Tables K.5 and K.6: zeros passed over (high half) and size of what follows (low half).
const WAVE_CODES: [Codes; 2] = [
    Codes {
        counts: [0, 2, 1, 3, 3, 2, 4, 3, 5, 5, 4, 4, 0, 0, 1, 0x7d],
        symbols: &[
            0x01, 0x02, 0x03, 0x00, 0x04, 0x11, 0x05, 0x12, 0x21, 0x31, 0x41, 0x06, 0x13, 0x51, 0x61, 0x07, 0x22, 0x71,
            0x14, 0x32, 0x81, 0x91, 0xa1, 0x08, 0x23, 0x42, 0xb1, 0xc1, 0x15, 0x52, 0xd1, 0xf0, 0x24, 0x33, 0x62, 0x72,
            0x82, 0x09, 0x0a, 0x16, 0x17, 0x18, 0x19, 0x1a, 0x25, 0x26, 0x27, 0x28, 0x29, 0x2a, 0x34, 0x35, 0x36, 0x37,
            0x38, 0x39, 0x3a, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x53, 0x54, 0x55, 0x56, 0x57, 0x58, 0x59,
            0x5a, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x73, 0x74, 0x75, 0x76, 0x77, 0x78, 0x79, 0x7a, 0x83,
            0x84, 0x85, 0x86, 0x87, 0x88, 0x89, 0x8a, 0x92, 0x93, 0x94, 0x95, 0x96, 0x97, 0x98, 0x99, 0x9a, 0xa2, 0xa3,
            0xa4, 0xa5, 0xa6, 0xa7, 0xa8, 0xa9, 0xaa, 0xb2, 0xb3, 0xb4, 0xb5, 0xb6, 0xb7, 0xb8, 0xb9, 0xba, 0xc2, 0xc3,
            0xc4, 0xc5, 0xc6, 0xc7, 0xc8, 0xc9, 0xca, 0xd2, 0xd3, 0xd4, 0xd5, 0xd6, 0xd7, 0xd8, 0xd9, 0xda, 0xe1, 0xe2,
            0xe3, 0xe4, 0xe5, 0xe6, 0xe7, 0xe8, 0xe9, 0xea, 0xf1, 0xf2, 0xf3, 0xf4, 0xf5, 0xf6, 0xf7, 0xf8, 0xf9, 0xfa,
        ],
    },
    Codes {
        counts: [0, 2, 1, 2, 4, 4, 3, 4, 7, 5, 4, 4, 0, 1, 2, 0x77],
        symbols: &[
            0x00, 0x01, 0x02, 0x03, 0x11, 0x04, 0x05, 0x21, 0x31, 0x06, 0x12, 0x41, 0x51, 0x07, 0x61, 0x71, 0x13, 0x22,
            0x32, 0x81, 0x08, 0x14, 0x42, 0x91, 0xa1, 0xb1, 0xc1, 0x09, 0x23, 0x33, 0x52, 0xf0, 0x15, 0x62, 0x72, 0xd1,
            0x0a, 0x16, 0x24, 0x34, 0xe1, 0x25, 0xf1, 0x17, 0x18, 0x19, 0x1a, 0x26, 0x27, 0x28, 0x29, 0x2a, 0x35, 0x36,
            0x37, 0x38, 0x39, 0x3a, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x53, 0x54, 0x55, 0x56, 0x57, 0x58,
            0x59, 0x5a, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x73, 0x74, 0x75, 0x76, 0x77, 0x78, 0x79, 0x7a,
            0x82, 0x83, 0x84, 0x85, 0x86, 0x87, 0x88, 0x89, 0x8a, 0x92, 0x93, 0x94, 0x95, 0x96, 0x97, 0x98, 0x99, 0x9a,
            0xa2, 0xa3, 0xa4, 0xa5, 0xa6, 0xa7, 0xa8, 0xa9, 0xaa, 0xb2, 0xb3, 0xb4, 0xb5, 0xb6, 0xb7, 0xb8, 0xb9, 0xba,
            0xc2, 0xc3, 0xc4, 0xc5, 0xc6, 0xc7, 0xc8, 0xc9, 0xca, 0xd2, 0xd3, 0xd4, 0xd5, 0xd6, 0xd7, 0xd8, 0xd9, 0xda,
            0xe2, 0xe3, 0xe4, 0xe5, 0xe6, 0xe7, 0xe8, 0xe9, 0xea, 0xf2, 0xf3, 0xf4, 0xf5, 0xf6, 0xf7, 0xf8, 0xf9, 0xfa,
        ],
    },
];

/// What the transform leaves in each row and column besides its own scale: cos(k pi / 16) times the root of two.
const LEFT: [f64; 8] =
    [1.0, 1.387_039_845, 1.306_562_965, 1.175_875_602, 1.0, 0.785_694_958, 0.541_196_1, 0.275_899_379];

/// Blocks that are transformed side by side.
const ABREAST: usize = 4;
/// One value of each of them.
type Lanes = [f32; ABREAST];
/// Coded values of a block in the order of coding, as little-endian pairs of bytes.
type Block = [u8; 128];

/// An encoder of one quality.
pub(super) struct Jpeg {
    /// Steps in natural order, for the file.
    steps: [[u8; 64]; 2],
    /// What a transformed value is multiplied by to count steps, by row and column.
    shares: [[f32; 64]; 2],
    /// Code and its length for each symbol.
    mean_codes: [[(u32, u32); 256]; 2],
    wave_codes: [[(u32, u32); 256]; 2],
    /// Where a position goes in a block's bytes.
    places: [usize; 64],
}

/// Steps of a quality, 1 to 100, by the rule that is common practice: the example tables belong to 50.
fn steps(base: &[u16; 64], quality: u8) -> [u8; 64] {
    let quality = u32::from(quality.clamp(1, 100));
    let percent = if quality < 50 { 5000 / quality } else { 200 - 2 * quality };
    base.map(|step| ((u32::from(step) * percent + 50) / 100).clamp(1, 255) as u8)
}

/// Codes in ascending order within ascending lengths (T.81, annex C).
fn code_table(codes: &Codes) -> [(u32, u32); 256] {
    let mut table = [(0, 0); 256];
    let (mut code, mut symbols) = (0, codes.symbols.iter());
    for (length, &count) in (1..).zip(&codes.counts) {
        for &symbol in symbols.by_ref().take(usize::from(count)) {
            table[usize::from(symbol)] = (code, length);
            code += 1;
        }
        code <<= 1;
    }
    table
}

impl Jpeg {
    pub(super) fn new(quality: u8) -> Self {
        let steps = [steps(&LUMA_STEPS, quality), steps(&CHROMA_STEPS, quality)];
        let share = |steps: &[u8; 64], i: usize| 1.0 / (f64::from(steps[i]) * LEFT[i / 8] * LEFT[i % 8] * 8.0);
        let mut shares = [[0.0; 64]; 2];
        for (shares, steps) in shares.iter_mut().zip(&steps) {
            shares.iter_mut().enumerate().for_each(|(i, s)| *s = share(steps, i) as f32);
        }
        let mut places = [0; 64];
        ZIGZAG.iter().enumerate().for_each(|(k, &at)| places[usize::from(at)] = 2 * k);
        let (mean_codes, wave_codes) = (MEAN_CODES.each_ref().map(code_table), WAVE_CODES.each_ref().map(code_table));
        Self { steps, shares, mean_codes, wave_codes, places }
    }

    /// The file for `planes`, one or three of `width` x `height` samples one after the other.
    pub(super) fn encode(&self, planes: &[u8], width: usize, height: usize) -> Vec<u8> {
        let components = planes.len() / (width * height);
        let mut bits = Bits { bytes: self.head(width as u16, height as u16, components), pending: 0, count: 0 };
        bits.bytes.reserve(planes.len() / 6);
        let padded = width.next_multiple_of(8 * ABREAST);
        let mut strip = vec![0.0; components * 8 * padded];
        let (mut means, mut blocks) = ([0; 3], [[[0; 128]; ABREAST]; 3]);
        for top in (0..height).step_by(8) {
            for row in 0..8 {
                let y = (top + row).min(height - 1);
                prepare(planes, (width, height), y, &mut strip[row * padded..], 8 * padded);
            }
            for left in (0..width).step_by(8 * ABREAST) {
                for (c, blocks) in blocks.iter_mut().enumerate().take(components) {
                    self.transform(&strip[c * 8 * padded + left..], padded, usize::from(c > 0), blocks);
                }
                let count = (width - left).div_ceil(8).min(ABREAST);
                for lane in 0..count {
                    for (c, (blocks, mean)) in blocks.iter().zip(&mut means).enumerate().take(components) {
                        self.put_block(&blocks[lane], mean, usize::from(c > 0), &mut bits);
                    }
                }
            }
        }
        bits.finish()
    }

    /// Four blocks side by side, from rows of samples `stride` apart.
    fn transform(&self, rows: &[f32], stride: usize, kind: usize, blocks: &mut [Block; ABREAST]) {
        // Down the columns first, where neighbours lie side by side; what is left goes where the blocks lie side by side.
        let mut turned = [[[0.0; ABREAST]; 8]; 8];
        for first in (0..8 * ABREAST).step_by(ABREAST) {
            let mut lanes = [[0.0; ABREAST]; 8];
            for (row, lanes) in lanes.iter_mut().enumerate() {
                lanes.copy_from_slice(&rows[row * stride + first..][..ABREAST]);
            }
            cosines(&mut lanes);
            for (turned, lanes) in turned.iter_mut().zip(&lanes) {
                for (i, &value) in lanes.iter().enumerate() {
                    turned[(first + i) % 8][first / 8] = value;
                }
            }
        }
        for (v, row) in turned.iter_mut().enumerate() {
            cosines(row);
            for (u, lanes) in row.iter().enumerate() {
                let (share, place) = (self.shares[kind][v * 8 + u], self.places[v * 8 + u]);
                let counted = lanes.map(|value| nearest(value * share));
                for (block, value) in blocks.iter_mut().zip(counted) {
                    block[place..place + 2].copy_from_slice(&value.to_le_bytes());
                }
            }
        }
    }

    fn put_block(&self, block: &Block, mean: &mut i32, kind: usize, bits: &mut Bits) {
        let own = i32::from(i16::from_le_bytes([block[0], block[1]]));
        let (size, value) = sized(own - std::mem::replace(mean, own));
        let (code, length) = self.mean_codes[kind][size as usize];
        bits.put(code << size | value, length + size);
        let codes = &self.wave_codes[kind];
        let mut last = 0;
        for (i, four) in block.chunks_exact(8).enumerate() {
            // Four values at a time: most are zero, and the next that is not is found by counting.
            let mut four = four.try_into().map_or(0, u64::from_le_bytes);
            if i == 0 {
                four &= !0xffff;
            }
            while four != 0 {
                let place = four.trailing_zeros() / 16;
                let (size, value) = sized(i32::from((four >> (16 * place)) as i16));
                four &= !(0xffff << (16 * place));
                let at = 4 * i as u32 + place;
                let mut zeros = at - last - 1;
                last = at;
                while zeros > 15 {
                    bits.put(codes[0xf0].0, codes[0xf0].1);
                    zeros -= 16;
                }
                let (code, length) = codes[((zeros << 4 | size) & 0xff) as usize];
                bits.put(code << size | value, length + size);
            }
        }
        if last != 63 {
            bits.put(codes[0].0, codes[0].1);
        }
    }

    /// Everything before the coded blocks.
    fn head(&self, width: u16, height: u16, components: usize) -> Vec<u8> {
        let mut head = vec![0xff, 0xd8];
        let mut segment = |marker: u8, parts: &[&[u8]]| {
            let length = 2 + parts.iter().map(|p| p.len()).sum::<usize>();
            head.extend([0xff, marker]);
            head.extend((length as u16).to_be_bytes());
            parts.iter().for_each(|p| head.extend_from_slice(p));
        };
        segment(0xe0, &[b"JFIF\0\x01\x02\0\0\x01\0\x01\0\0"]);
        let kinds = components.min(2);
        for (number, steps) in (0_u8..).zip(&self.steps).take(kinds) {
            segment(0xdb, &[&[number], &ZIGZAG.map(|at| steps[usize::from(at)])]);
        }
        let ([h1, h0], [w1, w0]) = (height.to_be_bytes(), width.to_be_bytes());
        let each = |c: usize| (c as u8 + 1, u8::from(c > 0));
        let frame: Vec<u8> = (0..components).map(each).flat_map(|(name, kind)| [name, 0x11, kind]).collect();
        segment(0xc0, &[&[8, h1, h0, w1, w0, components as u8], &frame]);
        for (number, (mean, wave)) in (0_u8..).zip(MEAN_CODES.iter().zip(&WAVE_CODES)).take(kinds) {
            segment(0xc4, &[&[number], &mean.counts, mean.symbols]);
            segment(0xc4, &[&[0x10 | number], &wave.counts, wave.symbols]);
        }
        let order: Vec<u8> = (0..components).map(each).flat_map(|(name, kind)| [name, kind << 4 | kind]).collect();
        segment(0xda, &[&[components as u8], &order, &[0, 63, 0]]);
        head
    }
}

/// One row of luma and colour differences around zero, the components `apart` from each other; beyond its end the
/// row is drawn out to whole blocks.
fn prepare(planes: &[u8], (width, height): (usize, usize), y: usize, out: &mut [f32], apart: usize) {
    let row = |c: usize| &planes[(c * height + y) * width..][..width];
    let padded = width.next_multiple_of(8 * ABREAST);
    if planes.len() == width * height {
        out.iter_mut().zip(row(0)).for_each(|(o, &v)| *o = f32::from(v) - 128.0);
        let last = out[width - 1];
        return out[width..padded].fill(last);
    }
    let (r, g, b) = (row(0), row(1), row(2));
    let (luma, rest) = out.split_at_mut(apart);
    let (blue, red) = rest.split_at_mut(apart);
    let (luma, blue, red) = (&mut luma[..padded], &mut blue[..padded], &mut red[..padded]);
    let out = luma.iter_mut().zip(blue.iter_mut()).zip(red.iter_mut());
    for (((luma, blue), red), ((&r, &g), &b)) in out.zip(r.iter().zip(g).zip(b)) {
        let (r, g, b) = (f32::from(r), f32::from(g), f32::from(b));
        *luma = 0.299 * r + 0.587 * g + 0.114 * b - 128.0;
        *blue = -0.168_735_9 * r - 0.331_264_1 * g + 0.5 * b;
        *red = 0.5 * r - 0.418_687_6 * g - 0.081_312_4 * b;
    }
    for out in [luma, blue, red] {
        let last = out[width - 1];
        out[width..].fill(last);
    }
}

/// The nearest whole number, within what a baseline file can hold. Adding 1.5 x 2^23 leaves it in the low bits.
fn nearest(value: f32) -> i16 {
    (value.clamp(-1023.0, 1023.0) + 12_582_912.0).to_bits() as i16
}

fn add(a: Lanes, b: Lanes) -> Lanes {
    std::array::from_fn(|i| a[i] + b[i])
}

fn less(a: Lanes, b: Lanes) -> Lanes {
    std::array::from_fn(|i| a[i] - b[i])
}

fn times(a: Lanes, b: f32) -> Lanes {
    a.map(|v| v * b)
}

/// Eight values to eight cosines, scaled by [`LEFT`]; Arai, Agui and Nakajima's five multiplications.
#[inline(always)]
fn cosines(d: &mut [Lanes; 8]) {
    let sums: [Lanes; 4] = std::array::from_fn(|i| add(d[i], d[7 - i]));
    let differences: [Lanes; 4] = std::array::from_fn(|i| less(d[i], d[7 - i]));
    let (a, b) = (add(sums[0], sums[3]), less(sums[0], sums[3]));
    let (c, e) = (add(sums[1], sums[2]), less(sums[1], sums[2]));
    d[0] = add(a, c);
    d[4] = less(a, c);
    let z = times(add(e, b), std::f32::consts::FRAC_1_SQRT_2);
    d[2] = add(b, z);
    d[6] = less(b, z);
    let [d0, d1, d2, d3] = differences;
    let (a, b, c) = (add(d3, d2), add(d2, d1), add(d1, d0));
    let z5 = times(less(a, c), 0.382_683_43);
    let z2 = add(times(a, 0.541_196_1), z5);
    let z4 = add(times(c, 1.306_563), z5);
    let z3 = times(b, std::f32::consts::FRAC_1_SQRT_2);
    let (z11, z13) = (add(d0, z3), less(d0, z3));
    d[5] = add(z13, z2);
    d[3] = less(z13, z2);
    d[1] = add(z11, z4);
    d[7] = less(z11, z4);
}

/// The size of a number in bits, and the bits that tell it from others of the size (T.81, F.1.2.1).
fn sized(value: i32) -> (u32, u32) {
    let size = 32 - value.unsigned_abs().leading_zeros();
    (size, (value - i32::from(value < 0)) as u32 & ((1 << size) - 1))
}

/// Bits from the high end, with a zero after every byte of ones.
struct Bits {
    bytes: Vec<u8>,
    pending: u64,
    count: u32,
}

impl Bits {
    /// Appends the low `length` bits, at most 31, of a value that has no others.
    #[inline(always)]
    fn put(&mut self, value: u32, length: u32) {
        self.pending = self.pending << length | u64::from(value);
        self.count += length;
        if self.count >= 32 {
            self.count -= 32;
            let four = (self.pending >> self.count) as u32;
            // A byte of ones has its high bit set and loses it when one is added.
            let ones = four & 0x8080_8080 & !four.wrapping_add(0x0101_0101) != 0;
            let four = four.to_be_bytes();
            if ones { self.stuffed(&four) } else { self.bytes.extend_from_slice(&four) }
        }
    }

    #[cold]
    fn stuffed(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.bytes.push(byte);
            if byte == 0xff {
                self.bytes.push(0);
            }
        }
    }

    /// Fills the last byte with ones and ends the file.
    fn finish(mut self) -> Vec<u8> {
        let (whole, over) = (self.count.div_ceil(8), self.count.next_multiple_of(8) - self.count);
        let rest = self.pending << over | ((1 << over) - 1);
        let bytes = rest.to_be_bytes();
        self.stuffed(&bytes[8 - whole as usize..]);
        self.bytes.extend([0xff, 0xd9]);
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;
    use zune_jpeg::JpegDecoder;
    use zune_jpeg::zune_core::bytestream::ZCursor;

    /// Another encoder's way with the same picture: bytes, and the mean square of what it changed.
    fn compare(planes: &[u8], width: usize, height: usize, quality: u8) -> [(usize, f64); 2] {
        let components = planes.len() / (width * height);
        let pixels: Vec<u8> =
            (0..planes.len()).map(|i| planes[i % components * width * height + i / components]).collect();
        let mut other = Vec::new();
        let mut encoder = jpeg_encoder::Encoder::new(&mut other, quality);
        encoder.set_sampling_factor(jpeg_encoder::SamplingFactor::F_1_1);
        let kind = if components == 3 { jpeg_encoder::ColorType::Rgb } else { jpeg_encoder::ColorType::Luma };
        encoder.encode(&pixels, width as u16, height as u16, kind).unwrap();
        [Jpeg::new(quality).encode(planes, width, height), other].map(|jpeg| {
            let mut decoder = JpegDecoder::new(ZCursor::new(&jpeg[..]));
            let found = decoder.decode().unwrap();
            assert_eq!(decoder.dimensions(), Some((width, height)));
            let square = |(&a, &b): (&u8, &u8)| (f64::from(a) - f64::from(b)).powi(2);
            (jpeg.len(), found.iter().zip(&pixels).map(square).sum::<f64>() / pixels.len() as f64)
        })
    }

    /// Slopes with noise of that strength; 255 is nothing but noise.
    fn picture(width: usize, height: usize, components: usize, noise: u32) -> Vec<u8> {
        let mut seed = 7_u32;
        let mut sample = |i: usize| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let slope = (i % width + i / width % height) as u32 * 200 / (width + height) as u32;
            (slope * (255 - noise) / 255 + (seed >> 24) * noise / 255).min(255) as u8
        };
        (0..width * height * components).map(&mut sample).collect()
    }

    #[test]
    fn as_near_to_the_picture_as_another_encoder() {
        for (quality, noise) in [(100, 255), (100, 20), (85, 30), (85, 255), (50, 60), (1, 255)] {
            for (width, height, components) in [(64, 64, 3), (200, 33, 3), (96, 70, 1)] {
                let [own, other] = compare(&picture(width, height, components, noise), width, height, quality);
                let what = format!("quality {quality}, noise {noise}, {width} x {height} x {components}");
                assert_close!(own.0 as f64, other.0 as f64, relative = 0.1, "{what}: bytes");
                assert_close!(own.1, other.1, absolute = 0.5 + 0.05 * other.1, "{what}: mean square");
            }
        }
    }

    #[test]
    fn sides_that_fill_no_block() {
        for (width, height) in [(1, 1), (7, 9), (8, 8), (33, 31), (31, 1)] {
            let [own, _] = compare(&picture(width, height, 3, 0), width, height, 95);
            assert!(own.1 < 4.0, "{width} x {height}: {}", own.1);
        }
    }
}
