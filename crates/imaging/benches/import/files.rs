//! TIFF files that look like scans of film, written strip by strip with any layout that is to be timed.

use std::fs::File;
use std::io::{BufWriter, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::mpsc::sync_channel;

/// How the samples of a strip are packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Packing {
    Raw,
    Lzw,
    Deflate,
    /// Deflate of the differences between neighbours (TIFF predictor 2).
    DeflateDifferences,
}

impl Packing {
    fn tag(self) -> u32 {
        match self {
            Self::Raw => 1,
            Self::Lzw => 5,
            Self::Deflate | Self::DeflateDifferences => 8,
        }
    }

    fn differences(self) -> bool {
        self == Self::DeflateDifferences
    }
}

/// What a file is to be like.
#[derive(Debug, Clone)]
pub struct Wanted<'a> {
    pub width: u32,
    pub height: u32,
    pub packing: Packing,
    /// Rows of a strip.
    pub strip: u32,
    pub icc: &'a [u8],
}

/// Repeatable noise: xorshift64 (Marsaglia 2003), four 16-bit numbers a step; their sum is near enough to normal.
struct Noise(u64);

impl Noise {
    /// Mean 0, standard deviation 37 837 (the sum of four uniform 16-bit numbers).
    fn next(&mut self) -> i32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        let v = self.0;
        (v & 0xffff) as i32 + (v >> 16 & 0xffff) as i32 + (v >> 32 & 0xffff) as i32 + (v >> 48) as i32 - 131_070
    }
}

/// The region at the corner that is stored last, which an edge goes through: columns and rows.
pub const CORNER: (u32, u32) = (400, 800);

/// A row of the picture: light ground with a slope, dark discs in rows like seeds on a tray, and grain whose neighbours
/// hang together, 3 % of full scale strong, most of it alike in the three channels. In the last corner a blurred edge at 5 degrees
/// takes the discs' place.
pub fn row(wanted: &Wanted<'_>, y: u32, samples: &mut [u16]) {
    let corner = (wanted.width.saturating_sub(CORNER.0), wanted.height.saturating_sub(CORNER.1));
    let slope = 5_f64.to_radians().tan();
    let edge = f64::from(corner.0 + CORNER.0 / 2) + slope * (f64::from(y) - f64::from(corner.1 + CORNER.1 / 2));
    let mut noise = Noise(0x9e37_79b9_7f4a_7c15 ^ (u64::from(y) + 1).wrapping_mul(0xbf58_476d_1ce4_e5b9));
    let mut before = [0_i32; 3];
    for (x, pixel) in (0_u32..).zip(samples.chunks_exact_mut(3)) {
        let (dx, dy) = ((x % 900) as i32 - 450, (y % 900) as i32 - 450);
        let distance = dx * dx + dy * dy;
        let ground = 44_000 - (y * 9_000 / wanted.height.max(1)) as i32 + (x * 3_000 / wanted.width.max(1)) as i32;
        let level = if x >= corner.0 && y >= corner.1 {
            26_000 + (18_000.0 * ((f64::from(x) - edge) / 1.1).tanh()) as i32
        } else if distance < 90_000 {
            9_000 + distance / 12
        } else {
            ground
        };
        let shared = noise.next();
        for (i, (sample, before)) in pixel.iter_mut().zip(&mut before).enumerate() {
            let grain = shared / 20 + noise.next() / 55;
            let tint = level - level / 9 * i as i32 / 2;
            *sample = (tint + grain + *before / 2).clamp(0, 65_535) as u16;
            *before = grain;
        }
    }
}

/// Writes a file. Strips are packed by two threads, and leave in order.
pub fn write(path: &Path, wanted: &Wanted<'_>) {
    let strips = wanted.height.div_ceil(wanted.strip);
    let mut file = BufWriter::with_capacity(1 << 20, File::create(path).unwrap());
    file.write_all(&[b'I', b'I', 42, 0, 0, 0, 0, 0]).unwrap();
    let mut place = 8_u64;
    let mut pieces = Vec::new();
    let mut put = |bytes: &[u8], file: &mut BufWriter<File>| {
        file.write_all(bytes).unwrap();
        pieces.push((place as u32, bytes.len() as u32));
        place += bytes.len() as u64;
    };
    if strips == 1 {
        put_one_strip(wanted, |bytes| put(bytes, &mut file));
        let all: u64 = pieces.iter().map(|p| u64::from(p.1)).sum();
        pieces = vec![(8, all as u32)];
    } else {
        std::thread::scope(|scope| {
            let queues: Vec<_> = (0..2)
                .map(|worker| {
                    let (send, receive) = sync_channel(4);
                    scope.spawn(move || {
                        (worker..strips).step_by(2).for_each(|strip| send.send(packed_strip(wanted, strip)).unwrap());
                    });
                    receive
                })
                .collect();
            (0..strips).for_each(|strip| put(&queues[strip as usize % 2].recv().unwrap(), &mut file));
        });
    }
    let start = (place + 1) & !1;
    file.write_all(&vec![0; (start - place) as usize]).unwrap();
    file.write_all(&directory(wanted, &pieces, start as u32)).unwrap();
    let mut file = file.into_inner().unwrap();
    file.seek(SeekFrom::Start(4)).unwrap();
    file.write_all(&(start as u32).to_le_bytes()).unwrap();
}

/// The bytes of a row before they are packed.
fn row_bytes(wanted: &Wanted<'_>, y: u32, samples: &mut [u16], bytes: &mut Vec<u8>) {
    row(wanted, y, samples);
    if wanted.packing.differences() {
        for i in (3..samples.len()).rev() {
            samples[i] = samples[i].wrapping_sub(samples[i - 3]);
        }
    }
    bytes.extend(samples.iter().flat_map(|v| v.to_le_bytes()));
}

fn packed_strip(wanted: &Wanted<'_>, strip: u32) -> Vec<u8> {
    let mut samples = vec![0; wanted.width as usize * 3];
    let mut bytes = Vec::with_capacity(samples.len() * 2 * wanted.strip as usize);
    let first = strip * wanted.strip;
    for y in first..(first + wanted.strip).min(wanted.height) {
        row_bytes(wanted, y, &mut samples, &mut bytes);
    }
    match wanted.packing {
        Packing::Raw => bytes,
        Packing::Lzw => lzw().encode(&bytes).unwrap(),
        Packing::Deflate | Packing::DeflateDifferences => {
            let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::new(6));
            packer.write_all(&bytes).unwrap();
            packer.finish().unwrap()
        }
    }
}

fn lzw() -> weezl::encode::Encoder {
    weezl::encode::Encoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8)
}

/// A strip that holds the whole picture, packed as a stream.
fn put_one_strip(wanted: &Wanted<'_>, mut put: impl FnMut(&[u8])) {
    let mut samples = vec![0; wanted.width as usize * 3];
    let mut bytes = Vec::new();
    let mut next = |y: u32, bytes: &mut Vec<u8>| {
        bytes.clear();
        row_bytes(wanted, y, &mut samples, bytes);
    };
    match wanted.packing {
        Packing::Raw => (0..wanted.height).for_each(|y| {
            next(y, &mut bytes);
            put(&bytes);
        }),
        Packing::Lzw => {
            let (mut packer, mut packed) = (lzw(), vec![0; 1 << 16]);
            for y in 0..wanted.height {
                next(y, &mut bytes);
                let mut rest = &bytes[..];
                if y + 1 == wanted.height {
                    packer.finish();
                }
                loop {
                    let step = packer.encode_bytes(rest, &mut packed);
                    put(&packed[..step.consumed_out]);
                    rest = &rest[step.consumed_in..];
                    // Nothing more to do until the next row, or at all. The packer may say that all is well for ever without
                    // taking or giving anything, so its status alone ends nothing.
                    let done = matches!(step.status.unwrap(), weezl::LzwStatus::Done);
                    if done || step.consumed_in + step.consumed_out == 0 {
                        break;
                    }
                }
            }
        }
        Packing::Deflate | Packing::DeflateDifferences => {
            let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::new(6));
            for y in 0..wanted.height {
                next(y, &mut bytes);
                packer.write_all(&bytes).unwrap();
                put(packer.get_ref());
                packer.get_mut().clear();
            }
            put(&packer.finish().unwrap());
        }
    }
}

/// The tags, numbers as in TIFF 6.0, and after them the values that do not fit.
fn directory(wanted: &Wanted<'_>, pieces: &[(u32, u32)], start: u32) -> Vec<u8> {
    let long =
        |values: Vec<u32>| (4_u16, values.len(), values.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<_>>());
    let short =
        |values: Vec<u16>| (3_u16, values.len(), values.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<_>>());
    let mut tags = vec![
        (256_u16, long(vec![wanted.width])),
        (257, long(vec![wanted.height])),
        (258, short(vec![16; 3])),
        (259, long(vec![wanted.packing.tag()])),
        (262, long(vec![2])),
        (273, long(pieces.iter().map(|p| p.0).collect())),
        (277, long(vec![3])),
        (278, long(vec![wanted.strip])),
        (279, long(pieces.iter().map(|p| p.1).collect())),
    ];
    if wanted.packing.differences() {
        tags.push((317, long(vec![2])));
    }
    if !wanted.icc.is_empty() {
        tags.push((34675, (7, wanted.icc.len(), wanted.icc.to_vec())));
    }
    let mut directory = (tags.len() as u16).to_le_bytes().to_vec();
    let mut values = Vec::new();
    let values_start = start + 2 + 12 * tags.len() as u32 + 4;
    for (tag, (kind, count, bytes)) in tags {
        directory.extend(tag.to_le_bytes());
        directory.extend(kind.to_le_bytes());
        directory.extend((count as u32).to_le_bytes());
        if bytes.len() <= 4 {
            directory.extend(&bytes);
            directory.resize(directory.len() + 4 - bytes.len(), 0);
        } else {
            directory.extend((values_start + values.len() as u32).to_le_bytes());
            values.extend(bytes);
            values.resize(values.len().next_multiple_of(2), 0);
        }
    }
    [&directory[..], &[0; 4], &values].concat()
}
