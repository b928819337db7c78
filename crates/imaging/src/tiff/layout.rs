//! How the picture lies in the file, checked once.

use super::compression::Compression;
use super::directory::{Directory, tag};
use super::dng::{LINEAR_RAW, Levels};
use super::samples::{Conversion, Kind, Predictor, colour, palette, remark_extra_channels};
use super::unpack::Packing;
use crate::error::{Fault, Feature};
use crate::source::{Scale, check_size};
use crate::{Colour, Remark};

/// One strip or tile in the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    /// Its first byte.
    pub offset: u64,
    /// Its bytes, compressed.
    pub bytes: u64,
    /// Its bytes hold their bits from the low end.
    pub reversed: bool,
}

/// Where strips or tiles lie in the picture and in the file.
#[derive(Debug)]
pub(super) struct Layout {
    /// Columns and rows of the picture.
    pub size: (u32, u32),
    pub colour: Colour,
    pub kind: Kind,
    pub conversion: Conversion,
    pub big_endian: bool,
    pub compression: Compression,
    pub predictor: Predictor,
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
        let jpeg = matches!(compression, Compression::Jpeg { .. });
        let colour = colour(photometric, jpeg, all_samples)?;
        // A palette's colours stand in one channel.
        let channels = if photometric == 3 { 1 } else { colour.channels() as u64 };
        if !(channels..=MAX_SAMPLES).contains(&all_samples) {
            return Err(Fault::Damaged(format!("it declares {all_samples} channels for a {colour:?} picture")));
        }
        remark_extra_channels(directory, (all_samples - channels) as u32, remarks)?;
        let kind = Kind::of(directory)?;
        let planar = number(tag::PLANAR_CONFIGURATION, 1)? == 2 && all_samples > 1;
        check_together(planar, jpeg, photometric, kind)?;
        let samples = if planar { 1 } else { all_samples as usize };
        let tiled = directory.has(tag::TILE_WIDTH);
        let mut layout = Self {
            size,
            colour,
            kind,
            conversion: match photometric {
                3 => Conversion::Palette(palette(directory, kind)?),
                LINEAR_RAW => Conversion::Levels(Levels::of(directory, kind, samples)?),
                _ => Conversion::None,
            },
            big_endian: directory.big_endian,
            predictor: if jpeg { Predictor::None } else { Predictor::of(directory, kind)? },
            inverted: photometric == 0,
            samples,
            planar,
            chunk: chunk_size(directory, size, tiled)?,
            tiled,
            pieces: Vec::new(),
            compression: compression.with_tables(directory, photometric)?,
        };
        layout.remark(remarks);
        layout.pieces = layout.pieces(directory)?;
        Ok(layout)
    }

    fn remark(&self, remarks: &mut Vec<Remark>) {
        remarks.extend(self.inverted.then_some(Remark::StoredInverted));
        match (&self.conversion, self.kind) {
            (Conversion::Palette(_), _) => remarks.push(Remark::PaletteResolved),
            (_, Kind::Bits(bits @ 1..=7)) => remarks.push(Remark::FewBits { bits }),
            _ => {}
        }
    }

    /// How rows give their samples.
    pub(super) fn scale(&self) -> Scale {
        self.conversion.scale(self.kind)
    }

    /// Words of a pixel in a chunk's row.
    pub(super) fn pixel_words(&self) -> usize {
        match self.conversion {
            Conversion::Palette(_) => 3,
            _ => self.samples * self.scale().words(),
        }
    }

    /// How the bytes of a row are to be taken.
    pub(super) fn packing(&self) -> Packing {
        let Self { kind, predictor, big_endian, samples, .. } = *self;
        Packing { kind, predictor, big_endian, samples }
    }

    /// What turns a sample when zero is white.
    pub(super) fn turn(&self) -> u16 {
        match self.scale() {
            Scale::Whole(full_scale) if self.inverted => full_scale,
            _ => 0,
        }
    }

    /// Bytes of one uncompressed row of a chunk.
    pub(super) fn row_bytes(&self) -> usize {
        (self.chunk.0 as usize * self.samples * usize::from(self.kind.bits())).div_ceil(8)
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
        // A JPEG stream has an order of its own.
        let jpeg = matches!(self.compression, Compression::Jpeg { .. });
        let reversed = !jpeg && directory.number(tag::FILL_ORDER)?.unwrap_or(1) == 2;
        let place = |i: u64| {
            let chunk_row = (i / u64::from(across) % u64::from(down)) as u32;
            let (offset, stated) = (offsets[i as usize], counts.get(i as usize).copied());
            let piece = self.checked_piece(offset, stated, chunk_row, directory.file_bytes)?;
            Ok(Piece { reversed, ..piece })
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
        Ok(Piece { offset, bytes, reversed: false })
    }
}

/// Most tiles side by side, each of which may need a decoder of about 100 kB at the same time. The widest picture
/// (see [`crate::MAX_SIDE`]) has 1563 tiles of 128 pixels.
const MAX_ABREAST: u64 = 2000;

/// Most channels that a pixel may have; colour, transparency and infrared make five.
const MAX_SAMPLES: u64 = 16;

/// Refuses what cannot go together.
fn check_together(planar: bool, jpeg: bool, photometric: u64, kind: Kind) -> Result<(), Fault> {
    Err(Fault::from(match (photometric, kind) {
        (3, _) if planar => Feature::Palette,
        (6, _) if planar => Feature::YCbCr,
        // Levels are kept per channel of a pixel.
        (LINEAR_RAW, _) if planar => Feature::RawSensor,
        (_, Kind::Bits(8)) => return Ok(()),
        (_, kind) if jpeg => Feature::BitDepth(kind.bits().into()),
        _ => return Ok(()),
    }))
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
