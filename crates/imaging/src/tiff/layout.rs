//! How the picture lies in the file, checked once.

use super::compression::Compression;
use super::directory::{Directory, tag};
use crate::error::{Fault, Feature};
use crate::source::check_size;
use crate::{Colour, Remark};

/// One strip or tile in the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    /// Its first byte.
    pub offset: u64,
    /// Its bytes, compressed.
    pub bytes: u64,
}

/// Where strips or tiles lie in the picture and in the file.
#[derive(Debug)]
pub(super) struct Layout {
    /// Columns and rows of the picture.
    pub size: (u32, u32),
    pub colour: Colour,
    pub bits: u8,
    pub big_endian: bool,
    pub compression: Compression,
    /// Neighbouring samples are stored as differences.
    pub differenced: bool,
    /// Zero is white.
    pub inverted: bool,
    /// Samples of a pixel that lie side by side in one chunk: all, or 1 when every channel has chunks of its own.
    pub samples: usize,
    /// Every channel has chunks of its own.
    pub planar: bool,
    /// Columns and rows of a strip or tile.
    pub chunk: (u32, u32),
    /// True for tiles, which are full even at the edges.
    pub tiled: bool,
    /// Channel after channel when planar, each row by row of chunks.
    pub pieces: Vec<Piece>,
}

impl Layout {
    pub(super) fn new(directory: &Directory, remarks: &mut Vec<Remark>) -> Result<Self, Fault> {
        let number = |tag, default| Ok::<_, Fault>(directory.number(tag)?.unwrap_or(default));
        let size = check_size(number(tag::IMAGE_WIDTH, 0)?, number(tag::IMAGE_LENGTH, 0)?)?;
        let all_samples = number(tag::SAMPLES_PER_PIXEL, 1)?;
        let compression = Compression::from_tag(number(tag::COMPRESSION, 1)?)?;
        let photometric = number(tag::PHOTOMETRIC, 1)?;
        let colour = colour(photometric, matches!(compression, Compression::Jpeg { .. }))?;
        check_samples(directory, all_samples, colour)?;
        remark_extra_channels(directory, all_samples, colour, remarks)?;
        let inverted = photometric == 0;
        if inverted {
            remarks.push(Remark::StoredInverted);
        }
        let planar = number(tag::PLANAR_CONFIGURATION, 1)? == 2 && all_samples > 1;
        let tiled = directory.has(tag::TILE_WIDTH);
        let mut layout = Self {
            size,
            colour,
            bits: bits(directory)?,
            big_endian: directory.big_endian,
            differenced: differenced(directory)?,
            inverted,
            samples: if planar { 1 } else { all_samples as usize },
            planar,
            chunk: chunk_size(directory, size, tiled)?,
            tiled,
            pieces: Vec::new(),
            compression: compression.with_tables(directory, photometric)?,
        };
        layout.pieces = layout.pieces(directory)?;
        Ok(layout)
    }

    /// The sample that means full scale.
    pub(super) fn full_scale(&self) -> u16 {
        if self.bits == 8 { 255 } else { 65535 }
    }

    /// Bytes of one uncompressed row of a chunk.
    pub(super) fn row_bytes(&self) -> usize {
        self.chunk.0 as usize * self.samples * usize::from(self.bits / 8)
    }

    /// Chunks side by side, and rows of them.
    pub(super) fn grid(&self) -> (u32, u32) {
        (self.size.0.div_ceil(self.chunk.0), self.size.1.div_ceil(self.chunk.1))
    }

    /// Rows that the chunk in that row of chunks really holds.
    pub(super) fn rows_in(&self, chunk_row: u32) -> u32 {
        if self.tiled { self.chunk.1 } else { self.chunk.1.min(self.size.1 - chunk_row * self.chunk.1) }
    }

    /// The chunk of a channel (0 when not planar) at that place of the grid.
    pub(super) fn piece(&self, channel: usize, column: u32, row: u32) -> Piece {
        let (across, down) = self.grid();
        let index = channel as u64 * u64::from(across) * u64::from(down) + u64::from(row) * u64::from(across);
        self.pieces[(index + u64::from(column)) as usize]
    }

    /// Reads where the chunks lie and checks that each can hold what it should.
    fn pieces(&self, directory: &Directory) -> Result<Vec<Piece>, Fault> {
        let (offsets_tag, counts_tag) = if self.tiled && directory.has(tag::TILE_OFFSETS) {
            (tag::TILE_OFFSETS, tag::TILE_BYTE_COUNTS)
        } else {
            (tag::STRIP_OFFSETS, tag::STRIP_BYTE_COUNTS)
        };
        let offsets = directory.numbers(offsets_tag)?;
        let offsets = offsets.ok_or_else(|| Fault::Damaged("it does not say where its picture lies".into()))?;
        let counts = directory.numbers(counts_tag)?.unwrap_or_default();
        let (across, down) = self.grid();
        let channels = if self.planar { self.colour.channels() as u64 } else { 1 };
        if u64::from(across) * channels > MAX_ABREAST {
            let (width, height) = self.chunk;
            return Err(Fault::Damaged(format!(
                "it declares {across} tiles of {width} x {height} pixels side by side"
            )));
        }
        let needed = u64::from(across) * u64::from(down) * channels;
        if (offsets.len() as u64) < needed {
            let found = offsets.len();
            return Err(Fault::Truncated(format!("it lists {found} of the {needed} pieces of its picture")));
        }
        let place = |i: u64| {
            let chunk_row = (i / u64::from(across) % u64::from(down)) as u32;
            let (offset, stated) = (offsets[i as usize], counts.get(i as usize).copied());
            self.checked_piece(offset, stated, chunk_row, directory.file_bytes)
        };
        (0..needed).map(place).collect()
    }

    fn checked_piece(&self, offset: u64, stated: Option<u64>, chunk_row: u32, file_bytes: u64) -> Result<Piece, Fault> {
        let decoded = self.row_bytes() as u64 * u64::from(self.rows_in(chunk_row));
        // Byte counts may be absent, or zero, in old files: uncompressed they are known, else the file's end must do.
        let to_end = file_bytes.saturating_sub(offset);
        let bytes = match (stated.filter(|&n| n > 0), &self.compression) {
            (Some(n), _) => n,
            (None, Compression::None) => decoded,
            (None, _) => to_end,
        };
        if bytes > to_end {
            return Err(Fault::Truncated(format!(
                "a piece of its picture should end at byte {}, the file has {file_bytes}",
                offset.saturating_add(bytes)
            )));
        }
        if matches!(self.compression, Compression::None) && bytes < decoded {
            let what = format!("a piece of its picture holds {bytes} bytes where {decoded} are needed");
            return Err(Fault::Truncated(what));
        }
        if decoded / self.compression.greatest_ratio() > bytes {
            let (width, height) = (u64::from(self.size.0), u64::from(self.size.1));
            return Err(Fault::ImplausibleSize { width, height, bytes });
        }
        Ok(Piece { offset, bytes })
    }
}

/// Most tiles side by side, each of which may need a decoder of about 100 kB at the same time. The widest picture
/// (see [`crate::MAX_SIDE`]) has 1563 tiles of 128 pixels.
const MAX_ABREAST: u64 = 2000;

fn colour(photometric: u64, jpeg: bool) -> Result<Colour, Fault> {
    Err(Fault::from(match photometric {
        0 | 1 => return Ok(Colour::Grey),
        2 => return Ok(Colour::Rgb),
        6 if jpeg => return Ok(Colour::Rgb),
        3 => Feature::Palette,
        5 => Feature::Cmyk,
        6 => Feature::YCbCr,
        8..=10 => Feature::Lab,
        32803 | 34892 => Feature::RawSensor,
        other => Feature::Photometric(other),
    }))
}

fn bits(directory: &Directory) -> Result<u8, Fault> {
    let all = directory.numbers(tag::BITS_PER_SAMPLE)?.filter(|b| !b.is_empty()).unwrap_or_else(|| vec![1]);
    if all.iter().any(|&b| b != all[0]) {
        return Err(Feature::MixedDepths.into());
    }
    match all[0] {
        8 => Ok(8),
        16 => Ok(16),
        other => Err(Feature::BitDepth(other).into()),
    }
}

/// Most channels that a pixel may have; colour, transparency and infrared make five.
const MAX_SAMPLES: u64 = 16;

fn check_samples(directory: &Directory, all_samples: u64, colour: Colour) -> Result<(), Fault> {
    if !(colour.channels() as u64..=MAX_SAMPLES).contains(&all_samples) {
        return Err(Fault::Damaged(format!("it declares {all_samples} channels for a {colour:?} picture")));
    }
    if directory.numbers(tag::SAMPLE_FORMAT)?.is_some_and(|f| f.iter().any(|&f| f != 1 && f != 4)) {
        return Err(Feature::SampleFormat.into());
    }
    if directory.number(tag::FILL_ORDER)?.unwrap_or(1) != 1 {
        return Err(Feature::FillOrder.into());
    }
    Ok(())
}

/// ExtraSamples: 1 is transparency that the colours have been multiplied by, 2 transparency alone, 0 anything.
fn remark_extra_channels(
    directory: &Directory,
    all_samples: u64,
    colour: Colour,
    remarks: &mut Vec<Remark>,
) -> Result<(), Fault> {
    let count = (all_samples - colour.channels() as u64) as u32;
    let kinds = directory.numbers(tag::EXTRA_SAMPLES)?.unwrap_or_default();
    let rest = match (count, kinds.first()) {
        (0, _) => 0,
        (_, Some(1)) => {
            remarks.push(Remark::PremultipliedAlphaDropped);
            count - 1
        }
        (_, Some(2)) => {
            remarks.push(Remark::AlphaDropped);
            count - 1
        }
        _ => count,
    };
    if rest > 0 {
        remarks.push(Remark::ExtraChannelsDropped { count: rest });
    }
    Ok(())
}

fn differenced(directory: &Directory) -> Result<bool, Fault> {
    match directory.number(tag::PREDICTOR)?.unwrap_or(1) {
        1 => Ok(false),
        2 => Ok(true),
        other => Err(Feature::Predictor(other).into()),
    }
}

/// Most bytes that a tile's row may take, which is 16 channels of 16 bits across the longest side.
fn chunk_size(directory: &Directory, size: (u32, u32), tiled: bool) -> Result<(u32, u32), Fault> {
    if !tiled {
        // 4294967295, the default, means "one strip"; so does anything beyond the height.
        let rows = directory.number(tag::ROWS_PER_STRIP)?.unwrap_or(u64::MAX).min(u64::from(size.1));
        return match rows {
            0 => Err(Fault::Damaged("it declares strips of no rows".into())),
            rows => Ok((size.0, rows as u32)),
        };
    }
    let side = |tag| Ok::<_, Fault>(directory.number(tag)?.unwrap_or(0));
    let (width, height) = (side(tag::TILE_WIDTH)?, side(tag::TILE_LENGTH)?);
    check_size(width, height).map_err(|_| Fault::Damaged(format!("it declares tiles of {width} x {height} pixels")))
}
