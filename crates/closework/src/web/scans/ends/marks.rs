//! Which samples of a scan stand at the ends of the file's range: marks in tiles over a pyramid of levels.
//!
//! A mark is a byte for a pixel: bits 0 to 2 say that red, green, blue is 0 in the file, bits 3 to 5 that it is full
//! scale; of a grey file all three bits go together. Level 0 is the file's own samples, exactly. In each further level a
//! pixel is marked when one of the two by two below it is: seen whole, no clipped sample disappears.
//!
//! A tile is written as runs: the mark, then how many pixels of it follow, seven bits a byte, the least first, the high
//! bit saying that more follows (LEB128). Tiles without any mark are not written.
//!
//! Memory: one band of tiles a level, a byte a pixel, and the samples of the rows that are read at once
//! ([`ROWS_BYTES`]).

use std::ops::ControlFlow;
use std::path::Path;

use imaging::pyramid::Pyramid;
use imaging::{Fault, ImagingError, Scan};
use planes::{Channels, Region};
use serde::{Deserialize, Serialize};

/// How many bytes of samples are read at once: a PNG is unpacked from its top for each such stretch.
const ROWS_BYTES: u64 = 96 << 20;

/// How many samples stand at an end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Counts {
    /// Pixels of the scan.
    pub pixels: u64,
    /// Samples of red, green, blue that are 0.
    pub low: [u64; 3],
    /// Samples of red, green, blue that are full scale.
    pub high: [u64; 3],
    /// Grey: the three counts are of the same samples.
    pub grey: bool,
}

/// Reads a whole scan and writes its marks into `folder`, which must exist and be empty.
pub(super) fn write(
    scan: &mut Scan,
    pyramid: &Pyramid,
    folder: &Path,
    progress: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<Counts, ImagingError> {
    let at = |cause: std::io::Error| ImagingError { path: folder.into(), fault: Fault::Write(cause) };
    let mut levels = Vec::new();
    for level in 0..pyramid.levels {
        std::fs::create_dir_all(folder.join(level.to_string())).map_err(at)?;
        let (width, height) = pyramid.level_size(level).unwrap_or((1, 1));
        levels.push(Band { level, width, height, tile: pyramid.tile, first: 0, marks: Vec::new() });
    }
    let (width, height) = (pyramid.width, pyramid.height);
    let channels = scan.info().colour.channels();
    let mut counts =
        Counts { pixels: u64::from(width) * u64::from(height), low: [0; 3], high: [0; 3], grey: channels == 1 };
    let row_bytes = u64::from(width) * channels as u64 * size_of::<f32>() as u64;
    let stretch = u32::try_from(ROWS_BYTES / row_bytes).unwrap_or(u32::MAX).max(16);
    let mut y = 0;
    while y < height {
        if progress(f64::from(y) / f64::from(height)).is_break() {
            return Err(ImagingError { path: scan.path().into(), fault: Fault::Cancelled });
        }
        let rows = stretch.min(height - y);
        let reading = scan.read_encoded(Region { x: 0, y, width, height: rows })?;
        for row in 0..rows as usize {
            let marks = match reading.picture.channels() {
                Channels::Grey(plane) => marks([plane.row(row); 3], &mut counts),
                Channels::Rgb { planes, .. } => marks([0, 1, 2].map(|i| planes[i].row(row)), &mut counts),
            };
            push(&mut levels, &marks, folder).map_err(at)?;
        }
        y += rows;
    }
    let _ = progress(1.0);
    Ok(counts)
}

/// The marks of a row of samples over full scale.
fn marks(samples: [&[f32]; 3], counts: &mut Counts) -> Vec<u8> {
    let mut marks = vec![0; samples[0].len()];
    for (channel, row) in samples.into_iter().enumerate() {
        for (mark, &sample) in marks.iter_mut().zip(row) {
            if sample <= 0.0 {
                *mark |= 1 << channel;
                counts.low[channel] += 1;
            } else if sample >= 1.0 {
                *mark |= 8 << channel;
                counts.high[channel] += 1;
            }
        }
    }
    marks
}

/// The rows of a level that wait until a band of tiles is full.
struct Band {
    level: u32,
    width: u32,
    height: u32,
    tile: u32,
    /// The band's first row.
    first: u32,
    marks: Vec<u8>,
}

/// Gives a row to the first level; a band that it completes is written, and halved it goes to the next.
fn push(levels: &mut [Band], row: &[u8], folder: &Path) -> std::io::Result<()> {
    let Some((band, coarser)) = levels.split_first_mut() else { return Ok(()) };
    band.marks.extend_from_slice(row);
    let rows = band.marks.len() as u32 / band.width;
    if rows < band.tile && band.first + rows < band.height {
        return Ok(());
    }
    band.write(folder)?;
    let width = band.width as usize;
    for pair in band.marks.chunks(2 * width) {
        let (above, below) = pair.split_at(width);
        let both: Vec<u8> =
            if below.is_empty() { above.to_vec() } else { above.iter().zip(below).map(|(a, b)| a | b).collect() };
        let half: Vec<u8> = both.chunks(2).map(|two| two.iter().fold(0, |all, mark| all | mark)).collect();
        push(coarser, &half, folder)?;
    }
    band.first += rows;
    band.marks.clear();
    Ok(())
}

impl Band {
    fn write(&self, folder: &Path) -> std::io::Result<()> {
        let width = self.width as usize;
        for (column, left) in (0..width).step_by(self.tile as usize).enumerate() {
            let right = (left + self.tile as usize).min(width);
            let tile = self.marks.chunks_exact(width).flat_map(|row| &row[left..right]).copied();
            let runs = runs(tile);
            let nothing = runs[0] == 0 && is_one_run(&runs);
            if !nothing {
                let name = format!("{column}_{}", self.first / self.tile);
                std::fs::write(folder.join(self.level.to_string()).join(name), runs)?;
            }
        }
        Ok(())
    }
}

/// True when the count that follows the first mark is all there is.
fn is_one_run(runs: &[u8]) -> bool {
    runs[1..].iter().position(|byte| byte & 0x80 == 0).is_some_and(|last| last + 2 == runs.len())
}

fn runs(marks: impl Iterator<Item = u8>) -> Vec<u8> {
    let mut runs = Vec::new();
    let mut close = |mark: u8, mut length: u32| {
        runs.push(mark);
        while length >= 0x80 {
            runs.push(length as u8 | 0x80);
            length >>= 7;
        }
        runs.push(length as u8);
    };
    let mut run: Option<(u8, u32)> = None;
    for mark in marks {
        run = match run {
            Some((same, length)) if same == mark => Some((same, length + 1)),
            Some((other, length)) => {
                close(other, length);
                Some((mark, 1))
            }
            None => Some((mark, 1)),
        };
    }
    if let Some((mark, length)) = run {
        close(mark, length);
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads runs again; the script does the same.
    pub(super) fn unpacked(runs: &[u8]) -> Vec<u8> {
        let (mut marks, mut at) = (Vec::new(), 0);
        while at < runs.len() {
            let (mark, mut length, mut shift) = (runs[at], 0_usize, 0);
            loop {
                at += 1;
                length |= usize::from(runs[at] & 0x7f) << shift;
                shift += 7;
                if runs[at] & 0x80 == 0 {
                    break;
                }
            }
            at += 1;
            marks.extend(std::iter::repeat_n(mark, length));
        }
        marks
    }

    #[test]
    fn runs_by_hand() {
        // LEB128 of 300 is AC 02: 300 = 2 * 128 + 44.
        let marks = [vec![0; 300], vec![9], vec![63; 127]].concat();
        let packed = runs(marks.iter().copied());
        assert_eq!(packed, [0, 0xac, 0x02, 9, 1, 63, 127]);
        assert_eq!(unpacked(&packed), marks);
        assert!(is_one_run(&[0, 0xac, 0x02]) && is_one_run(&[0, 1]) && !is_one_run(&packed));
    }

    /// A picture of 70 x 37 with tiles of 32 whose clipped samples are known.
    const SIZE: (u32, u32) = (70, 37);
    const CLIPPED: [(u32, u32, usize, u16); 5] =
        [(0, 0, 0, 0), (69, 36, 2, 65_535), (33, 5, 1, 65_535), (33, 5, 0, 0), (64, 32, 1, 0)];

    fn made(folder: &Path) -> (Pyramid, Counts) {
        let file = folder.join("clipped.tif");
        imaging::write_tiff_rgb16(&file, SIZE.0, SIZE.1, None, None, |y, row| {
            // 1 and 65 534 are as near the ends as a sample can be without standing there.
            row.iter_mut().enumerate().for_each(|(i, v)| *v = if i % 2 == 0 { 1 } else { 65_534 });
            for (x, _, channel, value) in CLIPPED.into_iter().filter(|(_, at, ..)| *at == y) {
                row[x as usize * 3 + channel] = value;
            }
            ControlFlow::Continue(())
        })
        .expect("written");
        let mut scan = Scan::open(&file).expect("opens");
        let options = imaging::pyramid::Options { tile: 32, quality: 85 };
        let pyramid =
            imaging::pyramid::build(&mut scan, &folder.join("tiles"), options, &mut |_| ControlFlow::Continue(()));
        let pyramid = pyramid.expect("built");
        let out = folder.join("ends");
        let counts = write(&mut scan, &pyramid, &out, &mut |_| ControlFlow::Continue(())).expect("marked");
        (pyramid, counts)
    }

    #[test]
    fn every_clipped_sample_is_marked_on_every_level_and_no_other_is() {
        let folder = tempfile::tempdir().expect("folder");
        let (pyramid, counts) = made(folder.path());
        assert_eq!((counts.low, counts.high), ([2, 1, 0], [0, 1, 1]));
        assert_eq!((counts.pixels, counts.grey), (70 * 37, false));
        for level in 0..pyramid.levels {
            let (width, height) = pyramid.level_size(level).expect("size");
            let mut wanted = vec![0_u8; (width * height) as usize];
            for (x, y, channel, value) in CLIPPED {
                let bit = if value == 0 { 1 } else { 8 } << channel;
                wanted[((y >> level) * width + (x >> level)) as usize] |= bit;
            }
            let (columns, rows) = pyramid.grid(level).expect("grid");
            for (column, row) in (0..rows).flat_map(|r| (0..columns).map(move |c| (c, r))) {
                let (left, top) = (column * 32, row * 32);
                let (right, bottom) = ((left + 32).min(width), (top + 32).min(height));
                let part = (top..bottom).flat_map(|y| (left..right).map(move |x| (x, y)));
                let part: Vec<u8> = part.map(|(x, y)| wanted[(y * width + x) as usize]).collect();
                let file = std::fs::read(folder.path().join(format!("ends/{level}/{column}_{row}"))).ok();
                assert_eq!(file.is_some(), part.iter().any(|m| *m != 0), "level {level}, tile {column}_{row}");
                assert!(file.is_none_or(|runs| unpacked(&runs) == part), "level {level}, tile {column}_{row}");
            }
        }
    }

    #[test]
    fn stopping_is_heard() {
        let folder = tempfile::tempdir().expect("folder");
        let (pyramid, _) = made(folder.path());
        let mut scan = Scan::open(&folder.path().join("clipped.tif")).expect("opens");
        let stopped = write(&mut scan, &pyramid, &folder.path().join("again"), &mut |_| ControlFlow::Break(()));
        assert!(matches!(stopped, Err(ImagingError { fault: Fault::Cancelled, .. })));
    }
}
