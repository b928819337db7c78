//! Pictures that are not stored tiles: composed from the nearest finer level, averaged over areas in linear light.
//!
//! Memory: the answer (12 bytes a pixel, at most 50 MB) and one tile. Each pixel of the level counts by the share of the
//! answer's pixel that it covers, both measured in the whole picture's pixels, so that along the right and lower edges,
//! where the last pixels of a level stand for fewer, nothing is stretched.

use std::path::Path;
use std::sync::OnceLock;

use imaging::pyramid::{self, Pyramid};
use imaging::{ImagingError, Scan, ToneChoice};
use planes::{Channels, Region, ToneCurve, srgb_encode};

use super::request::{Quality, Request};

/// A composed picture: 16-bit sRGB, three samples a pixel.
pub(super) struct Composed {
    pub width: u32,
    pub samples: Vec<u16>,
}

/// What a pixel of the level gives to the answer's pixels: to the first and to the one after it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Share {
    first: u32,
    here: f32,
    next: f32,
}

/// An axis of the region: the level's first pixel in it, and the share of it and of each that follows.
struct Axis {
    start: u32,
    shares: Vec<Share>,
}

impl Axis {
    /// `start` and `length` in the whole picture, `out` pixels of the answer, `scale` pixels of the whole picture to one
    /// of the level, `side` the whole picture's. `scale * out <= length`.
    fn new(start: u32, length: u32, out: u32, scale: u32, side: u32) -> Self {
        let [begin, size] = [start, length].map(f64::from);
        let step = size / f64::from(out);
        let last = (start + length).div_ceil(scale);
        let share = |pixel: u32| {
            let from = (f64::from(pixel) * f64::from(scale) - begin).max(0.0);
            let to = (f64::from((pixel + 1).saturating_mul(scale).min(side)) - begin).min(size);
            let first = ((from / step) as u32).min(out - 1);
            let border = step * f64::from(first + 1);
            let here = (to.min(border) - from).max(0.0) / step;
            let next = if first + 1 < out { (to - border).max(0.0) / step } else { 0.0 };
            Share { first, here: here as f32, next: next as f32 }
        };
        Self { start: start / scale, shares: (start / scale..last).map(share).collect() }
    }

    fn end(&self) -> u32 {
        self.start + self.shares.len() as u32
    }

    /// The share of a pixel of the level within the region.
    fn of(&self, pixel: u32) -> Share {
        self.shares[(pixel - self.start) as usize]
    }
}

/// The coarsest level that is at least as fine as the answer.
fn level_for(p: &Pyramid, request: &Request) -> u32 {
    let fine = |level: &u32| {
        let enough = |length: u32, out: u32| u64::from(out) << level <= u64::from(length);
        enough(request.region.width, request.size.0) && enough(request.region.height, request.size.1)
    };
    (0..p.levels).rev().find(fine).unwrap_or(0)
}

/// Composes a request from the tiles in a pyramid's folder.
pub(super) fn compose(folder: &Path, p: &Pyramid, request: &Request) -> Result<Composed, ImagingError> {
    let level = level_for(p, request);
    let scale = 1 << level;
    let (region, (width, height)) = (request.region, request.size);
    let across = Axis::new(region.x, region.width, width, scale, p.width);
    let down = Axis::new(region.y, region.height, height, scale, p.height);
    let mut light = vec![[0.0_f32; 3]; width as usize * height as usize];
    for row in down.start / p.tile..down.end().div_ceil(p.tile) {
        for column in across.start / p.tile..across.end().div_ceil(p.tile) {
            let Some(name) = p.tile_name(level, column, row) else { continue };
            let corner = (column * p.tile, row * p.tile);
            add_tile(&folder.join(name), corner, (&across, &down), width as usize, &mut light)?;
        }
    }
    Ok(Composed { width, samples: encoded(&light, request.quality) })
}

/// Adds what a tile gives; `corner` is its first pixel in its level.
fn add_tile(
    path: &Path,
    corner: (u32, u32),
    (across, down): (&Axis, &Axis),
    width: usize,
    light: &mut [[f32; 3]],
) -> Result<(), ImagingError> {
    let mut tile = Scan::open(path)?;
    let (columns, rows) = (tile.info().width, tile.info().height);
    let cut = |axis: &Axis, corner: u32, size: u32| {
        let (first, last) = (axis.start.max(corner), axis.end().min(corner + size));
        (first, last.saturating_sub(first))
    };
    let ((left, wide), (top, high)) = (cut(across, corner.0, columns), cut(down, corner.1, rows));
    let inside = Region { x: left - corner.0, y: top - corner.1, width: wide, height: high };
    let reading = tile.read_linear(inside, ToneChoice::Curve(ToneCurve::Srgb))?;
    let planes = match reading.picture.channels() {
        Channels::Grey(plane) => [plane, plane, plane],
        Channels::Rgb { planes, .. } => [&planes[0], &planes[1], &planes[2]],
    };
    for row in 0..high {
        let share = down.of(top + row);
        for (first, weight) in [(share.first as usize, share.here), (share.first as usize + 1, share.next)] {
            if weight > 0.0 {
                let rows = planes.map(|plane| plane.row(row as usize));
                add_row(
                    rows,
                    &across.shares[(left - across.start) as usize..],
                    weight,
                    &mut light[first * width..][..width],
                );
            }
        }
    }
    Ok(())
}

fn add_row(rows: [&[f32]; 3], shares: &[Share], weight: f32, out: &mut [[f32; 3]]) {
    for (column, share) in shares.iter().enumerate().take(rows[0].len()) {
        let pixel = rows.map(|row| row[column]);
        let first = share.first as usize;
        for (at, part) in [(first, share.here), (first + 1, share.next)] {
            if part > 0.0 {
                out[at].iter_mut().zip(pixel).for_each(|(sum, v)| *sum += weight * part * v);
            }
        }
    }
}

/// Steps of light that the table of sRGB tells apart: far finer than the 8 bits that are written.
const STEPS: usize = 65_536;

fn encoded(light: &[[f32; 3]], quality: Quality) -> Vec<u16> {
    static TABLE: OnceLock<Vec<u16>> = OnceLock::new();
    let step = |i: usize| (srgb_encode(i as f64 / (STEPS - 1) as f64) * 65_535.0).round() as u16;
    let table = TABLE.get_or_init(|| (0..STEPS).map(step).collect());
    let sample = |v: f32| table[(v.clamp(0.0, 1.0) * (STEPS - 1) as f32).round() as usize];
    let [wr, wg, wb] = planes::LumaWeights::SRGB.0;
    light
        .iter()
        .flat_map(|&[r, g, b]| match quality {
            Quality::Default => [r, g, b].map(sample),
            Quality::Gray => [sample(wr * r + wg * g + wb * b); 3],
            Quality::Channel(i) => [sample([r, g, b][i]); 3],
        })
        .collect()
}

/// A JPEG of a composed picture, made as the tiles are: by the pyramid's own maker, as a pyramid of one tile. `scratch`
/// is a path that does not exist yet; what is written beside it is gone afterwards.
pub(super) fn jpeg(picture: &Composed, scratch: &Path) -> Result<Vec<u8>, ImagingError> {
    let file = scratch.with_extension("tif");
    let made = write_jpeg(picture, &file, scratch);
    // What cannot be removed now is swept away at the next start.
    let _ = std::fs::remove_file(&file);
    let _ = std::fs::remove_dir_all(scratch);
    made
}

fn write_jpeg(picture: &Composed, file: &Path, folder: &Path) -> Result<Vec<u8>, ImagingError> {
    let stride = picture.width as usize * 3;
    let height = (picture.samples.len() / stride) as u32;
    let mut writer = imaging::TiffWriter::create(file, picture.width, height, None, None)?;
    picture.samples.chunks_exact(stride).try_for_each(|row| writer.write_row(row))?;
    writer.finish()?;
    let options = pyramid::Options { tile: picture.width.max(height), ..pyramid::Options::default() };
    let made = pyramid::build(&mut Scan::open(file)?, folder, options, &mut |_| std::ops::ControlFlow::Continue(()))?;
    let tile = made.tile_name(0, 0, 0).unwrap_or_default();
    let path = folder.join(tile);
    std::fs::read(&path).map_err(|cause| ImagingError { path, fault: imaging::Fault::Read(cause) })
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn every_pixel_of_the_answer_gets_a_whole_one() {
        // Law: an even picture stays even. Regions at odd places, over the last and shorter pixel of a level.
        let cases = [(0, 1200, 600, 2, 1200), (7, 1001, 500, 2, 1200), (0, 1201, 150, 8, 1201), (1193, 8, 1, 8, 1201)];
        for (start, length, out, scale, side) in cases.into_iter().chain([(3, 10, 10, 1, 100), (0, 5, 3, 1, 5)]) {
            let axis = Axis::new(start, length, out, scale, side);
            let mut sums = vec![0.0_f64; out as usize + 1];
            for share in &axis.shares {
                sums[share.first as usize] += f64::from(share.here);
                sums[share.first as usize + 1] += f64::from(share.next);
            }
            for sum in &sums[..out as usize] {
                assert_close!(*sum, 1.0, absolute = 1e-5);
            }
            assert_close!(sums[out as usize], 0.0, absolute = 0.0);
        }
    }

    #[test]
    fn five_pixels_in_three() {
        // Closed form: each of the three covers 5/3 pixels, so the second pixel is shared 2/3 to 1/3.
        let axis = Axis::new(0, 5, 3, 1, 5);
        let second = axis.of(1);
        assert_eq!(second.first, 0);
        assert_close!(f64::from(second.here), 2.0 / 5.0, absolute = 1e-7);
        assert_close!(f64::from(second.next), 1.0 / 5.0, absolute = 1e-7);
    }
}
