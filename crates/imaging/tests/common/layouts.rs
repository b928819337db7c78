//! One picture laid out in every way that TIFF knows: strips and tiles, planes, packings.
#![allow(dead_code, reason = "each test takes what it needs")]

use std::io::Write;

/// How the picture lies in the file.
#[derive(Debug, Clone, Copy)]
pub struct Layout {
    pub width: u32,
    pub height: u32,
    /// 1 or 3.
    pub channels: u32,
    /// 8 or 16.
    pub bits: u32,
    /// Every channel has chunks of its own.
    pub planar: bool,
    /// Columns and rows of a tile; or rows of a strip.
    pub tile: Option<(u32, u32)>,
    pub strip: u32,
    /// TIFF's number: 1 none, 5 LZW, 8 Deflate.
    pub compression: u32,
    /// Samples are differences of neighbours.
    pub differences: bool,
    pub orientation: u32,
}

/// One strip of 16-bit colour.
pub fn one_strip(width: u32, height: u32, compression: u32) -> Layout {
    Layout {
        width,
        height,
        channels: 3,
        bits: 16,
        planar: false,
        tile: None,
        strip: height,
        compression,
        differences: false,
        orientation: 1,
    }
}

/// The file; `sample` gives column, row and channel a value of 16 bits, of which 8-bit files take the high half.
pub fn file(layout: &Layout, sample: impl Fn(u32, u32, u32) -> u16) -> Vec<u8> {
    let (chunk_width, chunk_height) = layout.tile.unwrap_or((layout.width, layout.strip));
    let (across, down) = (layout.width.div_ceil(chunk_width), layout.height.div_ceil(chunk_height));
    let planes = if layout.planar { layout.channels } else { 1 };
    let mut out = b"II\x2a\0\0\0\0\0".to_vec();
    let (mut offsets, mut counts) = (Vec::new(), Vec::new());
    for plane in 0..planes {
        let channels = if layout.planar { plane..plane + 1 } else { 0..layout.channels };
        for (row, column) in (0..down).flat_map(|row| (0..across).map(move |column| (row, column))) {
            let rows = match layout.tile {
                Some(_) => chunk_height,
                None => chunk_height.min(layout.height - row * chunk_height),
            };
            let mut bytes = Vec::new();
            for y in row * chunk_height..row * chunk_height + rows {
                let mut before = [0_u16; 3];
                for x in column * chunk_width..(column + 1) * chunk_width {
                    for c in channels.clone() {
                        // Tiles go on beyond the picture.
                        let value = sample(x.min(layout.width - 1), y.min(layout.height - 1), c);
                        let value = if layout.bits == 8 { value >> 8 } else { value };
                        let last = std::mem::replace(&mut before[c as usize], value);
                        let stored = if layout.differences { value.wrapping_sub(last) } else { value };
                        bytes.extend(&stored.to_le_bytes()[..layout.bits as usize / 8]);
                    }
                }
            }
            let packed = match layout.compression {
                5 => weezl::encode::Encoder::with_tiff_size_switch(weezl::BitOrder::Msb, 8).encode(&bytes).unwrap(),
                8 => {
                    let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
                    packer.write_all(&bytes).unwrap();
                    packer.finish().unwrap()
                }
                _ => bytes,
            };
            offsets.push(out.len() as u32);
            counts.push(packed.len() as u32);
            out.extend(packed);
        }
    }
    out.resize(out.len().next_multiple_of(2), 0);
    let directory = directory(layout, offsets, counts, out.len() as u32);
    let start = (out.len() as u32).to_le_bytes();
    out[4..8].copy_from_slice(&start);
    out.extend(directory);
    out
}

fn directory(layout: &Layout, offsets: Vec<u32>, counts: Vec<u32>, start: u32) -> Vec<u8> {
    let mut tags = vec![
        (256_u16, vec![layout.width]),
        (257, vec![layout.height]),
        (258, vec![layout.bits; layout.channels as usize]),
        (259, vec![layout.compression]),
        (262, vec![if layout.channels == 3 { 2 } else { 1 }]),
        (274, vec![layout.orientation]),
        (277, vec![layout.channels]),
        (284, vec![if layout.planar { 2 } else { 1 }]),
        (317, vec![if layout.differences { 2 } else { 1 }]),
    ];
    match layout.tile {
        Some((width, height)) => {
            tags.extend([(322, vec![width]), (323, vec![height]), (324, offsets), (325, counts)]);
        }
        None => tags.extend([(273, offsets), (278, vec![layout.strip]), (279, counts)]),
    }
    tags.sort_by_key(|t| t.0);
    let mut directory = (tags.len() as u16).to_le_bytes().to_vec();
    let mut values = Vec::new();
    let values_at = start as usize + 2 + 12 * tags.len() + 4;
    for (number, entries) in tags {
        directory.extend(number.to_le_bytes());
        directory.extend(4_u16.to_le_bytes());
        directory.extend((entries.len() as u32).to_le_bytes());
        if let [one] = entries[..] {
            directory.extend(one.to_le_bytes());
        } else {
            directory.extend(((values_at + values.len()) as u32).to_le_bytes());
            values.extend(entries.iter().flat_map(|v| v.to_le_bytes()));
        }
    }
    [&directory[..], &[0; 4], &values].concat()
}
