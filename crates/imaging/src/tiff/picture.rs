//! Rows of a TIFF's picture out of its strips or tiles.

use std::fs::File;
use std::ops::ControlFlow;
use std::path::Path;
use std::sync::{Arc, Mutex};

use planes::Region;

use super::chunk::ChunkRows;
use super::compression::Compression;
use super::directory::SharedFile;
use super::layout::Layout;
use crate::error::Fault;
use crate::source::{RowSink, Source};

/// The picture of a TIFF.
pub(super) struct TiffPicture {
    file: SharedFile,
    layout: Arc<Layout>,
}

/// Up to this many bytes of decoded rows a row of tiles is decoded tile after tile; above it all tiles of the row are
/// decoded in step, which needs a decoder (about 100 kB) for each.
const BAND_BYTES: u64 = 64 << 20;

/// A chunk beside others: which channel it holds, and where its columns go.
struct Slot {
    /// First channel of the pixel that the chunk gives.
    channel: usize,
    /// Channels that are taken from each of the chunk's pixels.
    taken: usize,
    /// First column of the chunk that is wanted, and how many.
    from: usize,
    count: usize,
    /// Where the first wanted column goes within the region.
    to: usize,
    /// Column of the chunk in the grid.
    grid_column: u32,
}

impl TiffPicture {
    pub(super) fn new(file: SharedFile, layout: Layout) -> Self {
        Self { file, layout: Arc::new(layout) }
    }

    /// The chunks that a region's columns need, in every channel.
    fn slots(&self, region: Region) -> Vec<Slot> {
        let (chunk_width, channels) = (self.layout.chunk.0, self.layout.colour.channels());
        let columns = region.x / chunk_width..=(region.x + region.width - 1) / chunk_width;
        let (planes, taken) = if self.layout.planar { (channels, 1) } else { (1, channels) };
        let slot = |grid_column: u32, channel: usize| {
            let start = grid_column * chunk_width;
            let first = region.x.max(start);
            let end = (region.x + region.width).min(start.saturating_add(chunk_width));
            Slot {
                channel,
                taken,
                from: (first - start) as usize,
                count: (end - first) as usize,
                to: (first - region.x) as usize,
                grid_column,
            }
        };
        columns.flat_map(|column| (0..planes).map(move |channel| (column, channel))).map(|(c, k)| slot(c, k)).collect()
    }

    fn open_chunk(&self, slot: &Slot, band: Band, abreast: usize) -> Result<ChunkRows, Fault> {
        let Band { chunk_row, first: first_row, .. } = band;
        let piece = self.layout.piece(slot.channel, slot.grid_column, chunk_row);
        let columns = slot.from..slot.from + slot.count;
        ChunkRows::open(&self.file, &self.layout, piece, chunk_row, first_row, columns, abreast)
    }

    /// Puts a chunk's current row where it belongs in a row of the region.
    fn place(&self, slot: &Slot, chunk: &ChunkRows, row: &mut [u16]) {
        let words = self.layout.scale().words();
        let channels = self.layout.colour.channels() * words;
        let pixels =
            chunk.row.chunks_exact(self.layout.pixel_words()).skip(slot.from - chunk.first_column).take(slot.count);
        let turn = self.layout.turn();
        for (out, pixel) in row.chunks_exact_mut(channels).skip(slot.to).zip(pixels) {
            for (o, &v) in out[slot.channel * words..].iter_mut().zip(&pixel[..slot.taken * words]) {
                *o = v ^ turn;
            }
        }
    }

    /// The rows of one row of chunks, all chunks decoded in step.
    fn in_step(
        &self,
        slots: &[Slot],
        band: Band,
        width: usize,
        sink: &mut RowSink<'_>,
    ) -> Result<ControlFlow<()>, Fault> {
        let open = |slot| self.open_chunk(slot, band, slots.len());
        let mut chunks = slots.iter().map(open).collect::<Result<Vec<_>, _>>()?;
        let mut row = vec![0; width];
        // A strip of nothing but the wanted samples gives its rows as they are.
        let alone = slots.len() == 1 && chunks[0].row.len() == width && self.layout.turn() == 0;
        for i in 0..band.count {
            for (slot, chunk) in slots.iter().zip(&mut chunks) {
                chunk.advance(&self.layout)?;
                if !alone {
                    self.place(slot, chunk, &mut row);
                }
            }
            let row = if alone { &chunks[0].row } else { &row };
            if sink(band.out + i, row).is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        Ok(ControlFlow::Continue(()))
    }

    /// The rows of one row of chunks, one chunk decoded after the other.
    fn one_by_one(
        &self,
        slots: &[Slot],
        band: Band,
        width: usize,
        sink: &mut RowSink<'_>,
    ) -> Result<ControlFlow<()>, Fault> {
        let mut rows = vec![0; width * band.count as usize];
        for slot in slots {
            let mut chunk = self.open_chunk(slot, band, 1)?;
            for row in rows.chunks_exact_mut(width) {
                chunk.advance(&self.layout)?;
                self.place(slot, &chunk, row);
            }
        }
        for (i, row) in (0..).zip(rows.chunks_exact(width)) {
            if sink(band.out + i, row).is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        Ok(ControlFlow::Continue(()))
    }
}

/// The wanted rows of one row of chunks.
#[derive(Clone, Copy)]
struct Band {
    chunk_row: u32,
    /// First wanted row, counted in the chunk.
    first: u32,
    count: u32,
    /// The same row, counted in the region.
    out: u32,
}

/// A region's rows, row of chunks by row of chunks.
fn bands(region: Region, chunk_height: u32) -> impl Iterator<Item = Band> {
    let end = region.y + region.height;
    (region.y / chunk_height..=(end - 1) / chunk_height).map(move |chunk_row| {
        let start = chunk_row * chunk_height;
        let first = region.y.max(start);
        let count = end.min(start.saturating_add(chunk_height)) - first;
        Band { chunk_row, first: first - start, count, out: first - region.y }
    })
}

impl Source for TiffPicture {
    fn wasted_rows(&self) -> u32 {
        if matches!(self.layout.compression, Compression::None) {
            0
        } else {
            self.layout.chunk.1.min(self.layout.size.1)
        }
    }

    fn read(&mut self, region: Region, sink: &mut RowSink<'_>) -> Result<(), Fault> {
        let slots = self.slots(region);
        let width = region.width as usize * self.layout.colour.channels() * self.layout.scale().words();
        for band in bands(region, self.layout.chunk.1) {
            let bytes = width as u64 * u64::from(band.count) * 2;
            let flow = if slots.len() > 3 && bytes <= BAND_BYTES {
                self.one_by_one(&slots, band, width, sink)?
            } else {
                self.in_step(&slots, band, width, sink)?
            };
            if flow.is_break() {
                break;
            }
        }
        Ok(())
    }

    fn independent_rows(&self) -> Option<u32> {
        // What is not compressed can be read from any row on.
        if matches!(self.layout.compression, Compression::None) && !self.layout.tiled {
            return Some(1);
        }
        let rows = self.layout.chunk.1;
        let words = self.layout.colour.channels() * self.layout.scale().words();
        let row_bytes = 2 * u64::from(self.layout.size.0) * words as u64;
        (rows < self.layout.size.1 && row_bytes * u64::from(rows) <= BAND_BYTES).then_some(rows)
    }

    fn twin(&self, path: &Path) -> Result<Option<Box<dyn Source>>, Fault> {
        if self.independent_rows().is_none() {
            return Ok(None);
        }
        let file = Arc::new(Mutex::new(File::open(path).map_err(Fault::Read)?));
        Ok(Some(Box::new(Self { file, layout: self.layout.clone() })))
    }
}
