//! A picture that can only be unpacked from its beginning, laid down unpacked.

use std::fs::File;
use std::io::{BufWriter, Read, Seek, SeekFrom, Write};
use std::ops::ControlFlow;

use planes::Region;

use crate::Format;
use crate::error::{Fault, ImagingError};
use crate::scan::Scan;
use crate::source::{RowSink, Source, whole};

/// Where more rows than this are unpacked in vain before the first wanted one, many regions cost more than laying the
/// whole picture down once.
const WASTED_ROWS: u32 = 2048;

/// Rows between two reports of progress.
const REPORT_ROWS: u32 = 256;

/// The picture row by row, samples in the machine's order of bytes.
struct Spooled {
    file: File,
    size: (u32, u32),
    channels: usize,
}

impl Source for Spooled {
    fn read(&mut self, region: Region, sink: &mut RowSink<'_>) -> Result<(), Fault> {
        let pixel = 2 * self.channels as u64;
        let mut bytes = vec![0_u8; (u64::from(region.width) * pixel) as usize];
        let mut row = vec![0_u16; bytes.len() / 2];
        for y in 0..region.height {
            let start = (u64::from(region.y + y) * u64::from(self.size.0) + u64::from(region.x)) * pixel;
            self.file.seek(SeekFrom::Start(start)).map_err(Fault::Read)?;
            self.file.read_exact(&mut bytes).map_err(Fault::Read)?;
            for (sample, pair) in row.iter_mut().zip(bytes.chunks_exact(2)) {
                *sample = u16::from_ne_bytes([pair[0], pair[1]]);
            }
            if sink(y, &row).is_break() {
                break;
            }
        }
        Ok(())
    }
}

impl Scan {
    /// Whether many regions far down in the picture would each unpack it from its beginning: a PNG, or a TIFF that is one
    /// packed strip. Then [`Scan::spool`] pays.
    pub fn unpacks_from_the_beginning(&mut self) -> bool {
        let rows = match self.info().format {
            Format::Png => self.stored().1,
            _ => self.source().wasted_rows(),
        };
        rows > WASTED_ROWS
    }

    /// Lays the picture down unpacked in a file (open for reading and writing, and the caller's to remove), and reads
    /// regions from there from now on: two bytes a sample. `progress` hears the share done, 0 to 1, and may break off: then
    /// the error is [`Fault::Cancelled`] and the scan reads as before.
    pub fn spool(&mut self, file: File, progress: &mut dyn FnMut(f64) -> ControlFlow<()>) -> Result<(), ImagingError> {
        let path = self.path().to_owned();
        let (size, channels) = (self.stored(), self.info().colour.channels());
        let mut out = BufWriter::with_capacity(1 << 20, file);
        let (mut bytes, mut failed) = (Vec::new(), None);
        let mut take = |row: u32, samples: &[u16]| {
            if row.is_multiple_of(REPORT_ROWS) && progress(f64::from(row) / f64::from(size.1)).is_break() {
                failed = Some(Fault::Cancelled);
                return ControlFlow::Break(());
            }
            bytes.clear();
            bytes.extend(samples.iter().flat_map(|sample| sample.to_ne_bytes()));
            if let Err(error) = out.write_all(&bytes) {
                failed = Some(Fault::Write(error));
                return ControlFlow::Break(());
            }
            ControlFlow::Continue(())
        };
        let read = self.source().read(whole(size), &mut take);
        if let Some(fault) = failed {
            return Err(fault.at(&path));
        }
        read.map_err(|fault| fault.at(&path))?;
        let file = out.into_inner().map_err(|error| Fault::Write(error.into_error()).at(&path))?;
        self.replace_source(Box::new(Spooled { file, size, channels }));
        Ok(())
    }
}
