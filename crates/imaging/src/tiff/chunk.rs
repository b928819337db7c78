//! The rows of one strip or tile.

use std::io::Read;

use super::compression::Compression;
use super::directory::SharedFile;
use super::layout::{Layout, Piece};
use crate::error::Fault;

/// A strip or tile that gives its rows one after the other.
pub(super) struct ChunkRows {
    stream: Box<dyn Read + Send>,
    bytes: Vec<u8>,
    /// The row read last, sample by sample.
    pub(super) row: Vec<u16>,
}

impl ChunkRows {
    /// Opens a chunk at one of its rows; the rows before are decoded and dropped unless they can be stepped over.
    pub(super) fn open(
        file: &SharedFile,
        layout: &Layout,
        piece: Piece,
        chunk_row: u32,
        first_row: u32,
    ) -> Result<Self, Fault> {
        let before = u64::from(first_row) * layout.row_bytes() as u64;
        let uncompressed = matches!(layout.compression, Compression::None);
        let stepped = if uncompressed { before } else { 0 };
        let piece = Piece { offset: piece.offset + stepped, bytes: piece.bytes.saturating_sub(stepped) };
        let stream =
            layout.compression.open(file, piece, layout.colour, (layout.chunk.0, layout.rows_in(chunk_row)))?;
        let samples = layout.chunk.0 as usize * layout.samples;
        let mut rows = Self { stream, bytes: vec![0; layout.row_bytes()], row: vec![0; samples] };
        if !uncompressed {
            (0..first_row).try_for_each(|_| rows.stream.read_exact(&mut rows.bytes))?;
        }
        Ok(rows)
    }

    /// Decodes the next row into [`Self::row`].
    pub(super) fn advance(&mut self, layout: &Layout) -> Result<(), Fault> {
        self.stream.read_exact(&mut self.bytes)?;
        match (layout.bits, layout.big_endian) {
            (8, _) => self.row.iter_mut().zip(&self.bytes).for_each(|(s, &b)| *s = u16::from(b)),
            (_, big) => {
                let order = if big { u16::from_be_bytes } else { u16::from_le_bytes };
                let pairs = self.bytes.chunks_exact(2).map(|b| order([b[0], b[1]]));
                self.row.iter_mut().zip(pairs).for_each(|(s, v)| *s = v);
            }
        }
        if layout.differenced {
            undo_differences(&mut self.row, layout.samples, layout.full_scale());
        }
        Ok(())
    }
}

/// Predictor 2, TIFF 6.0 section 14: every sample but the first of its channel is stored as the difference from the
/// one before, modulo the sample's range.
fn undo_differences(row: &mut [u16], samples: usize, full_scale: u16) {
    for i in samples..row.len() {
        row[i] = row[i].wrapping_add(row[i - samples]) & full_scale;
    }
}
