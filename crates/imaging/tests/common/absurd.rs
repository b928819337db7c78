//! Files made by hand that promise what they do not hold.
#![allow(dead_code, reason = "each test takes what it needs")]

use std::io::Write;

/// A tag of a little-endian classic TIFF: number, type, values.
pub type Tag = (u16, u16, Vec<u32>);

pub const ASCII: u16 = 2;
pub const SHORT: u16 = 3;
pub const LONG: u16 = 4;

/// A TIFF with those tags in front of `data`. The data begin at [`DATA_AT`].
pub fn tiff(tags: &[Tag], data: &[u8]) -> Vec<u8> {
    let mut directory = (tags.len() as u16).to_le_bytes().to_vec();
    let mut values = Vec::new();
    let values_at = 8 + 2 + 12 * tags.len() + 4;
    for (number, kind, entries) in tags {
        let bytes: Vec<u8> = match *kind {
            ASCII => entries.iter().map(|&v| v as u8).collect(),
            SHORT => entries.iter().flat_map(|&v| (v as u16).to_le_bytes()).collect(),
            _ => entries.iter().flat_map(|v| v.to_le_bytes()).collect(),
        };
        directory.extend(number.to_le_bytes());
        directory.extend(kind.to_le_bytes());
        directory.extend((entries.len() as u32).to_le_bytes());
        if bytes.len() <= 4 {
            directory.extend(&bytes);
            directory.resize(directory.len() + 4 - bytes.len(), 0);
        } else {
            directory.extend(((values_at + values.len()) as u32).to_le_bytes());
            values.extend(bytes);
        }
    }
    let mut file = [&b"II\x2a\0\x08\0\0\0"[..], &directory, &[0; 4], &values].concat();
    assert!(file.len() <= DATA_AT as usize, "the tags take {} bytes", file.len());
    file.resize(DATA_AT as usize, 0);
    file.extend(data);
    file
}

/// A tag of text, its NUL included.
pub fn text(number: u16, text: &str) -> Tag {
    (number, ASCII, text.bytes().chain([0]).map(u32::from).collect())
}

/// Where the data of [`tiff`] begin.
pub const DATA_AT: u32 = 400;

/// Tags of a grey picture of 8 bits in one strip of `bytes` bytes.
pub fn grey(width: u32, height: u32, compression: u32, bytes: u32) -> Vec<Tag> {
    vec![
        (256, LONG, vec![width]),
        (257, LONG, vec![height]),
        (258, SHORT, vec![8]),
        (259, SHORT, vec![compression]),
        (262, SHORT, vec![1]),
        (273, LONG, vec![DATA_AT]),
        (277, SHORT, vec![1]),
        (278, LONG, vec![height]),
        (279, LONG, vec![bytes]),
    ]
}

/// The same with one tag replaced or added.
pub fn with(mut tags: Vec<Tag>, tag: Tag) -> Vec<Tag> {
    tags.retain(|t| t.0 != tag.0);
    tags.push(tag);
    tags.sort_by_key(|t| t.0);
    tags
}

/// `count` zeros, deflated.
pub fn deflated_zeros(count: u64) -> Vec<u8> {
    let mut encoder = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::fast());
    let block = [0_u8; 1 << 16];
    let mut left = count;
    while left > 0 {
        let step = left.min(block.len() as u64);
        encoder.write_all(&block[..step as usize]).unwrap();
        left -= step;
    }
    encoder.finish().unwrap()
}

/// A PNG out of a header and further chunks, check sums included.
pub fn png(width: u32, height: u32, depth: u8, colour: u8, interlaced: bool, chunks: &[(&[u8; 4], &[u8])]) -> Vec<u8> {
    let mut header = [width.to_be_bytes(), height.to_be_bytes()].concat();
    header.extend([depth, colour, 0, 0, u8::from(interlaced)]);
    let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
    for (name, data) in [(b"IHDR", &header[..])].iter().chain(chunks).chain(&[(b"IEND", &[][..])]) {
        file.extend((data.len() as u32).to_be_bytes());
        let start = file.len();
        file.extend(*name);
        file.extend(*data);
        let mut sum = flate2::Crc::new();
        sum.update(&file[start..]);
        file.extend(sum.sum().to_be_bytes());
    }
    file
}

/// A JPEG that begins a frame of that size and ends.
pub fn jpeg(width: u16, height: u16, frame: u8, components: u8) -> Vec<u8> {
    let mut file = vec![0xff, 0xd8, 0xff, 0xdb, 0, 67, 0];
    file.extend([1; 64]);
    file.extend([0xff, frame, 0, 8 + 3 * components, 8]);
    file.extend([height.to_be_bytes(), width.to_be_bytes()].concat());
    file.push(components);
    (1..=components).for_each(|id| file.extend([id, 0x11, 0]));
    file.extend([0xff, 0xda, 0, 6 + 2 * components, components]);
    (1..=components).for_each(|id| file.extend([id, 0]));
    file.extend([0, 63, 0, 0, 0, 0xff, 0xd9]);
    file
}

/// Every absurd file, with its name, and words that its refusal must contain; no words where it may be opened.
pub fn all() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    const HUGE: u32 = 1 << 31;
    let few = [0_u8; 40];
    let mut files = vec![
        ("huge.tif", tiff(&grey(HUGE, HUGE, 1, 40), &few), "at most 200000 a side"),
        ("largest.tif", tiff(&grey(u32::MAX, u32::MAX, 8, 40), &few), "at most 200000 a side"),
        ("many-pixels.tif", tiff(&grey(199_999, 199_999, 5, 40), &few), "at most"),
        ("large-plain.tif", tiff(&grey(60_000, 60_000, 1, 40), &few), "cut short"),
        ("lying-count.tif", tiff(&grey(60_000, 60_000, 1, 3_600_000_000), &few), "cut short"),
        ("large-lzw.tif", tiff(&grey(60_000, 60_000, 5, 40), &few), "made to mislead"),
        ("large-deflate.tif", tiff(&grey(60_000, 60_000, 8, 40), &few), "made to mislead"),
        ("large-packbits.tif", tiff(&grey(60_000, 60_000, 32_773, 40), &few), "made to mislead"),
        ("large-jpeg.tif", tiff(&grey(60_000, 60_000, 7, 40), &few), "made to mislead"),
        ("no-width.tif", tiff(&grey(0, 10, 1, 40), &few), "empty"),
        ("no-height.tif", tiff(&grey(10, 0, 1, 40), &few), "empty"),
        ("no-tags.tif", tiff(&[], &few), "empty"),
        ("no-rows.tif", tiff(&with(grey(4, 10, 1, 40), (278, LONG, vec![0])), &few), "strips of no rows"),
        ("no-offsets.tif", tiff(&grey(4, 10, 1, 40)[..5], &few), "where its picture lies"),
        ("far-strip.tif", tiff(&with(grey(4, 10, 1, 40), (273, LONG, vec![u32::MAX])), &few), "cut short"),
        ("no-tile.tif", tiff(&with(grey(4, 10, 1, 40), (322, LONG, vec![0])), &few), "tiles of 0"),
        ("tiny-tiles.tif", tiny_tiles(), "side by side"),
        ("many-channels.tif", tiff(&with(grey(4, 10, 1, 40), (277, SHORT, vec![60_000])), &few), "60000 channels"),
        ("no-channels.tif", tiff(&with(grey(4, 10, 1, 40), (277, SHORT, vec![0])), &few), "0 channels"),
        ("deep.tif", tiff(&with(grey(4, 10, 1, 40), (258, SHORT, vec![17])), &few), "17 bits"),
        ("mixed.tif", tiff(&with(grey(4, 10, 1, 40), (258, SHORT, vec![8, 16, 8])), &few), "different depths"),
        ("reversed.tif", tiff(&with(grey(4, 10, 1, 40), (266, SHORT, vec![2])), &few), ""),
        ("signed.tif", tiff(&with(grey(4, 10, 1, 40), (339, SHORT, vec![2])), &few), "signed"),
        ("palette.tif", tiff(&with(grey(4, 10, 1, 40), (262, SHORT, vec![3])), &few), "palette"),
        ("large-zstd.tif", tiff(&grey(60_000, 60_000, 50_000, 40), &few), "made to mislead"),
        ("bad-zstd.tif", tiff(&grey(4, 10, 50_000, 40), &[0x11; 40]), "damaged"),
        ("unknown.tif", tiff(&grey(4, 10, 4711, 40), &few), "4711"),
        ("fax.tif", tiff(&grey(4, 10, 4, 40), &few), "fax"),
        ("raw.tif", tiff(&with(grey(4, 10, 1, 40), (262, SHORT, vec![32_803])), &few), "raw sensor"),
        (
            "sensor.tif",
            tiff(&with(with(grey(4, 10, 1, 40), (254, LONG, vec![1])), (330, LONG, vec![8])), &few),
            "raw sensor",
        ),
        ("predictor.tif", tiff(&with(grey(4, 10, 1, 40), (317, SHORT, vec![3])), &few), "predictor 3"),
        ("bad-lzw.tif", tiff(&grey(4, 10, 5, 40), &[0xff; 40]), "damaged"),
        ("bad-deflate.tif", tiff(&grey(4, 10, 8, 40), &[0x5a; 40]), "damaged"),
        ("short-packbits.tif", tiff(&grey(4, 10, 32_773, 4), &[3, 1, 2, 3]), "cut short"),
        ("bad-jpeg.tif", tiff(&grey(4, 10, 7, 40), &[0x11; 40]), "damaged"),
        ("long-tag.tif", long_tag(), "cut short"),
        ("directory-beyond.tif", b"II\x2a\0\xf0\xff\xff\xff".to_vec(), "cut short"),
        ("directory-on-header.tif", b"II\x2a\0\0\0\0\0\0\0\0\0".to_vec(), "cut short"),
        ("circle.tif", circle(), "empty"),
        ("big-count.tif", big(u64::MAX), "cut short"),
        ("big-offsets.tif", b"MM\0\x2b\0\x04\0\0\0\0\0\0\0\0\0\x10".to_vec(), "offsets that are not 8 bytes"),
        ("half-header.tif", b"II\x2a\0".to_vec(), "cut short"),
        ("nothing.tif", Vec::new(), "no bytes"),
        ("text.tif", b"Beetle no. 12, lifted from the drawer".to_vec(), "is not a TIFF, PNG or JPEG"),
        ("text-like.tif", b"II*\0 is how this letter begins".to_vec(), "cut short"),
    ];
    files.extend(pngs());
    files.extend(jpegs());
    files
}

/// A picture 200 000 wide of tiles one pixel wide: as many decoders at once as columns.
fn tiny_tiles() -> Vec<u8> {
    let tags = grey(200_000, 100, 8, 40);
    tiff(&with(with(tags, (322, LONG, vec![1])), (323, LONG, vec![100])), &[0; 40])
}

/// A tag that claims four milliards of values.
fn long_tag() -> Vec<u8> {
    let mut file = tiff(&grey(4, 10, 1, 40), &[0; 40]);
    // The sixth entry, the strip's place: its count.
    file[8 + 2 + 5 * 12 + 4..][..4].copy_from_slice(&u32::MAX.to_le_bytes());
    file
}

/// A directory that says it is a thumbnail and that the next one is itself.
fn circle() -> Vec<u8> {
    let tags = [(254, LONG, vec![1])];
    let mut file = tiff(&tags, &[0; 8]);
    file[8 + 2 + 12..][..4].copy_from_slice(&8_u32.to_le_bytes());
    file
}

/// A BigTIFF whose directory claims that many tags.
fn big(count: u64) -> Vec<u8> {
    [&b"II\x2b\0\x08\0\0\0"[..], &16_u64.to_le_bytes(), &count.to_le_bytes(), &[0; 64]].concat()
}

/// Four hundred million pixels out of few kilobytes: a sound file, read row by row.
pub fn bomb() -> Vec<u8> {
    bomb_file(&deflated_zeros(20_001 * 20_000))
}

fn bomb_file(deflated: &[u8]) -> Vec<u8> {
    png(20_000, 20_000, 8, 0, false, &[(b"IDAT", deflated)])
}

fn pngs() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    const LARGEST: u32 = (1 << 31) - 1;
    let small = deflated_zeros(50);
    let bomb = deflated_zeros(20_001 * 20_000);
    let profile = [&b"x\0\0"[..], &deflated_zeros(1 << 28)].concat();
    let mut cut = png(20, 20, 8, 0, false, &[(b"IDAT", &small)]);
    cut.truncate(cut.len() - 12);
    vec![
        ("huge.png", png(LARGEST, LARGEST, 16, 6, false, &[(b"IDAT", &small)]), "absurd amount"),
        ("large.png", png(60_000, 60_000, 8, 0, false, &[(b"IDAT", &small)]), "made to mislead"),
        ("interlaced.png", png(20_000, 20_000, 16, 0, true, &[(b"IDAT", &bomb), (b"IDAT", &bomb)]), "decoded whole"),
        ("empty.png", png(0, 20, 8, 0, false, &[(b"IDAT", &small)]), "damaged"),
        ("no-data.png", png(20, 20, 8, 0, false, &[]), "damaged"),
        ("few-data.png", png(20, 20, 8, 0, false, &[(b"IDAT", &small)]), "damaged"),
        ("no-palette.png", png(20, 20, 8, 3, false, &[(b"IDAT", &small)]), "damaged"),
        ("odd-depth.png", png(20, 20, 5, 0, false, &[(b"IDAT", &small)]), "damaged"),
        ("cut.png", cut, "cut short"),
        ("bomb.png", bomb_file(&bomb), ""),
        ("profile-bomb.png", png(20, 2, 8, 0, false, &[(b"iCCP", &profile), (b"IDAT", &small)]), ""),
        ("start.png", b"\x89PNG\r\n\x1a\n".to_vec(), "cut short"),
    ]
}

fn jpegs() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let mut cut = jpeg(20, 20, 0xc0, 3);
    cut.truncate(cut.len() - 2);
    vec![
        ("huge.jpg", jpeg(65_535, 65_535, 0xc0, 3), "4000000000 in all"),
        ("whole.jpg", jpeg(40_000, 40_000, 0xc0, 3), "decoded whole"),
        ("in-steps.jpg", jpeg(8_000, 8_000, 0xc2, 3), "decoded whole"),
        ("large.jpg", jpeg(10_000, 10_000, 0xc0, 1), "made to mislead"),
        ("empty.jpg", jpeg(0, 20, 0xc0, 3), "empty"),
        ("four.jpg", jpeg(20, 20, 0xc0, 4), "CMYK"),
        ("two.jpg", jpeg(20, 20, 0xc0, 2), "2 channels"),
        ("lossless.jpg", jpeg(20, 20, 0xc3, 3), "lossless"),
        ("arithmetic.jpg", jpeg(20, 20, 0xc9, 3), "arithmetic"),
        ("no-tables.jpg", jpeg(20, 20, 0xc0, 3), "damaged"),
        ("cut.jpg", cut, "cut short"),
        ("start.jpg", vec![0xff, 0xd8, 0xff], "cut short"),
    ]
}
