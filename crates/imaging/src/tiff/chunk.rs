//! The rows of one strip or tile.

use std::io::Read;
use std::ops::Range;

use super::compression::{Columns, Compression};
use super::directory::SharedFile;
use super::layout::{Layout, Piece};
use super::samples::{Conversion, Kind, Predictor};
use super::unpack;
use crate::Colour;
use crate::error::Fault;
use crate::source::{Scale, from_words, to_words};

/// Bytes of a row that are rather stepped over than read: what a call of the system costs.
const WORTH_A_STEP: usize = 8 << 10;

/// A strip or tile that gives its rows one after the other.
pub(super) struct ChunkRows {
    stream: Box<dyn Read + Send>,
    bytes: Vec<u8>,
    /// The row read last, sample by sample, in words as the layout's scale says.
    pub(super) row: Vec<u16>,
    /// The chunk's column with which rows begin.
    pub(super) first_column: usize,
    /// The same before a conversion that changes the number of words.
    raw: Vec<u16>,
}

impl ChunkRows {
    /// Opens a chunk, one of `abreast`, at one of its rows; the rows before are decoded and dropped unless they can be
    /// stepped over. Of the columns at least `columns` are given, all unless the others can be stepped over.
    pub(super) fn open(
        file: &SharedFile,
        layout: &Layout,
        piece: Piece,
        chunk_row: u32,
        first_row: u32,
        columns: Range<usize>,
        abreast: usize,
    ) -> Result<Self, Fault> {
        let before = u64::from(first_row) * layout.row_bytes() as u64;
        let uncompressed = matches!(layout.compression, Compression::None);
        let stepped = if uncompressed { before } else { 0 };
        let piece = Piece { offset: piece.offset + stepped, bytes: piece.bytes.saturating_sub(stepped), ..piece };
        let colour = if layout.planar { Colour::Grey } else { layout.colour };
        let size = (layout.chunk.0, layout.rows_in(chunk_row));
        let bits = layout.samples * usize::from(layout.kind.bits());
        let unwanted = (layout.chunk.0 as usize - columns.len()) * bits / 8;
        let apart = uncompressed && bits.is_multiple_of(8) && layout.predictor == Predictor::None;
        let (stream, columns): (Box<dyn Read + Send>, _) = if apart && unwanted >= WORTH_A_STEP {
            let before = (columns.start * bits / 8) as u64;
            let piece = Piece { offset: piece.offset + before, bytes: piece.bytes.saturating_sub(before), ..piece };
            let wanted = (columns.len() * bits / 8) as u64;
            (Box::new(Columns::new(file, piece, wanted, layout.row_bytes() as u64)), columns)
        } else {
            (layout.compression.open(file, piece, colour, size, abreast)?, 0..layout.chunk.0 as usize)
        };
        let width = columns.len();
        let raw = match layout.conversion {
            Conversion::None => 0,
            _ => width * layout.samples * if matches!(layout.kind, Kind::Bits(_)) { 1 } else { 2 },
        };
        let row = vec![0; width * layout.pixel_words()];
        let mut rows = Self {
            stream,
            bytes: vec![0; (width * bits).div_ceil(8)],
            row,
            first_column: columns.start,
            raw: vec![0; raw],
        };
        if !uncompressed {
            (0..first_row).try_for_each(|_| rows.stream.read_exact(&mut rows.bytes))?;
        }
        Ok(rows)
    }

    /// Decodes the next row into [`Self::row`].
    pub(super) fn advance(&mut self, layout: &Layout) -> Result<(), Fault> {
        self.stream.read_exact(&mut self.bytes)?;
        let out = if matches!(layout.conversion, Conversion::None) { &mut self.row } else { &mut self.raw };
        match layout.kind {
            Kind::Bits(bits) => unpack::narrow(&self.bytes, bits, layout.packing(), out),
            _ => unpack::wide(&mut self.bytes, layout.packing(), out),
        }
        match &layout.conversion {
            Conversion::None if layout.inverted && layout.scale() == Scale::Float => {
                self.row.chunks_exact_mut(2).for_each(|w| w.copy_from_slice(&to_words(1.0 - from_words(w))));
            }
            Conversion::None => {}
            Conversion::Palette(palette) => {
                for (colour, pixel) in self.row.chunks_exact_mut(3).zip(self.raw.chunks_exact(layout.samples)) {
                    colour.copy_from_slice(&palette[usize::from(pixel[0])]);
                }
            }
            Conversion::Levels(levels) => levels.apply(&self.raw, layout.kind, layout.samples, &mut self.row),
        }
        Ok(())
    }
}
