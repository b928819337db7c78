//! A piece of a scan at any scale, out of its pyramid: reduced or enlarged in linear light.
//!
//! The kernel is Keys' cubic convolution with a = −1/2 ("Cubic convolution interpolation for digital image processing",
//! *IEEE Transactions on Acoustics, Speech, and Signal Processing* 29 (1981), 1153-1160), which passes through the samples
//! when it enlarges; where it reduces it is as many times wider, so that nothing finer than the answer's pixels is left to
//! alias. The level read is the coarsest one at least as fine as the answer.

use std::path::Path;

use planes::{Channels, Region, ToneCurve, srgb_encode};

use super::{Pyramid, jpeg};
use crate::error::{Fault, ImagingError};
use crate::scan::Scan;
use crate::tone::ToneChoice;

/// Which piece, and how large it becomes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Piece {
    /// Its middle, in pixels of the whole picture as shown, from the outer corner of its top left one.
    pub centre: (f64, f64),
    /// Pixels of the whole picture to one of the answer, the same both ways; below 1 it enlarges.
    pub step: f64,
    /// Columns and rows of the answer.
    pub size: (u32, u32),
}

/// Longest side of an answer.
pub const LONGEST_PIECE: u32 = 4096;
/// Beyond this an enlargement shows nothing but the kernel.
pub const MOST_ENLARGED: f64 = 16.0;

impl Piece {
    /// Columns and rows of the whole picture that it covers.
    pub fn covers(&self) -> (f64, f64) {
        (f64::from(self.size.0) * self.step, f64::from(self.size.1) * self.step)
    }

    /// Whether all of it lies within the picture.
    pub fn lies_within(&self, p: &Pyramid) -> bool {
        let fits = |centre: f64, covered: f64, side: u32| {
            centre - covered / 2.0 >= -1e-6 && centre + covered / 2.0 <= f64::from(side) + 1e-6
        };
        let (wide, high) = self.covers();
        fits(self.centre.0, wide, p.width) && fits(self.centre.1, high, p.height)
    }

    fn check(&self, folder: &Path, p: &Pyramid) -> Result<(), ImagingError> {
        let sized = [self.size.0, self.size.1].iter().all(|side| (1..=LONGEST_PIECE).contains(side));
        let stepped = self.step.is_finite() && self.step * MOST_ENLARGED >= 1.0 - 1e-9;
        if sized && stepped && self.lies_within(p) {
            return Ok(());
        }
        let (wide, high) = self.covers();
        let region = Region {
            x: (self.centre.0 - wide / 2.0).max(0.0) as u32,
            y: (self.centre.1 - high / 2.0).max(0.0) as u32,
            width: wide as u32,
            height: high as u32,
        };
        Err(Fault::RegionOutside { region, width: p.width, height: p.height }.at(folder))
    }
}

/// Linear light of a piece: red, green, blue of sRGB's primaries, 1 for full, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct PieceLight {
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// The pixels.
    pub rgb: Vec<[f32; 3]>,
}

/// Reads a piece from a pyramid's folder.
pub fn piece(folder: &Path, p: &Pyramid, piece: &Piece) -> Result<PieceLight, ImagingError> {
    piece.check(folder, p)?;
    let level = (0..p.levels).rev().find(|level| f64::from(1 << level) <= piece.step * (1.0 + 1e-9)).unwrap_or(0);
    let (columns, rows) = p.level_size(level).unwrap_or((1, 1));
    let scale = f64::from(1_u32 << level);
    let across = Axis::new(piece.centre.0 / scale, piece.step / scale, piece.size.0, columns);
    let down = Axis::new(piece.centre.1 / scale, piece.step / scale, piece.size.1, rows);
    let read = read(folder, p, level, &across, &down)?;
    Ok(resampled(&read, &across, &down))
}

/// What the answer's columns (or rows) take from those of a level.
struct Axis {
    /// The level's first that is needed.
    start: u32,
    /// How many are.
    length: u32,
    /// For each of the answer: the first it takes, counted from `start`, and the weights from there on.
    taken: Vec<(usize, Vec<f32>)>,
}

impl Axis {
    /// `centre` and `step` in pixels of the level, whose side is `side`; beyond its ends the last pixel goes on.
    fn new(centre: f64, step: f64, out: u32, side: u32) -> Self {
        let wide = step.max(1.0);
        let middle = |i: u32| centre + (f64::from(i) + 0.5 - f64::from(out) / 2.0) * step;
        let last = f64::from(side - 1);
        let bounds = |at: f64| {
            let first = (at - 2.0 * wide - 0.5).ceil().clamp(0.0, last);
            (first as u32, (at + 2.0 * wide - 0.5).floor().clamp(first, last) as u32)
        };
        let start = bounds(middle(0)).0;
        let taken = (0..out).map(|i| {
            let (first, end) = bounds(middle(i));
            (first as usize - start as usize, weights(middle(i), wide, first, end, side))
        });
        let length = bounds(middle(out - 1)).1 + 1 - start;
        Self { start, length, taken: taken.collect() }
    }
}

/// The weights of the pixels `first` to `end` for a place, adding up to 1; what lies beyond the picture counts for its last.
fn weights(at: f64, wide: f64, first: u32, end: u32, side: u32) -> Vec<f32> {
    let mut weights = vec![0.0; (end - first + 1) as usize];
    let reach = ((at - 2.0 * wide - 0.5).ceil() as i64, (at + 2.0 * wide - 0.5).floor() as i64);
    for pixel in reach.0..=reach.1 {
        let within = pixel.clamp(i64::from(first), i64::from(end.min(side - 1)));
        weights[(within - i64::from(first)) as usize] += keys((pixel as f64 + 0.5 - at) / wide);
    }
    let sum: f64 = weights.iter().sum();
    weights.iter().map(|weight| (weight / sum) as f32).collect()
}

/// Keys (1981), equation 15: the kernel with a = −1/2.
fn keys(x: f64) -> f64 {
    let x = x.abs();
    match x {
        x if x < 1.0 => (1.5 * x - 2.5) * x * x + 1.0,
        x if x < 2.0 => ((-0.5 * x + 2.5) * x - 4.0) * x + 2.0,
        _ => 0.0,
    }
}

/// The pixels of a level that both axes need.
fn read(folder: &Path, p: &Pyramid, level: u32, across: &Axis, down: &Axis) -> Result<PieceLight, ImagingError> {
    let (width, height) = (across.length, down.length);
    let mut light = PieceLight { width, height, rgb: vec![[0.0; 3]; width as usize * height as usize] };
    for row in down.start / p.tile..=(down.start + height - 1) / p.tile {
        for column in across.start / p.tile..=(across.start + width - 1) / p.tile {
            let Some(name) = p.tile_name(level, column, row) else { continue };
            add_tile(&folder.join(name), (column * p.tile, row * p.tile), (across.start, down.start), &mut light)?;
        }
    }
    Ok(light)
}

/// Copies what a tile holds of the wanted pixels; `corner` is its first pixel, `from` the first wanted one.
fn add_tile(path: &Path, corner: (u32, u32), from: (u32, u32), light: &mut PieceLight) -> Result<(), ImagingError> {
    let mut tile = Scan::open(path)?;
    let cut = |corner: u32, size: u32, from: u32, length: u32| {
        let (first, last) = (from.max(corner), (from + length).min(corner + size));
        (first, last.saturating_sub(first))
    };
    let (left, wide) = cut(corner.0, tile.info().width, from.0, light.width);
    let (top, high) = cut(corner.1, tile.info().height, from.1, light.height);
    if wide == 0 || high == 0 {
        return Ok(());
    }
    let inside = Region { x: left - corner.0, y: top - corner.1, width: wide, height: high };
    let reading = tile.read_linear(inside, ToneChoice::Curve(ToneCurve::Srgb))?;
    let planes = match reading.picture.channels() {
        Channels::Grey(plane) => [plane, plane, plane],
        Channels::Rgb { planes, .. } => [&planes[0], &planes[1], &planes[2]],
    };
    for y in 0..high as usize {
        let start =
            (top - from.1) as usize * light.width as usize + y * light.width as usize + (left - from.0) as usize;
        let rows = planes.map(|plane| plane.row(y));
        light.rgb[start..][..wide as usize].iter_mut().enumerate().for_each(|(x, out)| *out = rows.map(|row| row[x]));
    }
    Ok(())
}

fn resampled(light: &PieceLight, across: &Axis, down: &Axis) -> PieceLight {
    let wide = light.width as usize;
    let (columns, rows) = (across.taken.len(), down.taken.len());
    let mut level = vec![[0.0_f32; 3]; columns * light.height as usize];
    for (row, out) in light.rgb.chunks_exact(wide).zip(level.chunks_exact_mut(columns)) {
        for ((first, weights), out) in across.taken.iter().zip(out) {
            *out = sum(weights.iter().zip(&row[*first..]));
        }
    }
    let mut rgb = vec![[0.0_f32; 3]; columns * rows];
    for ((first, weights), out) in down.taken.iter().zip(rgb.chunks_exact_mut(columns)) {
        for (x, out) in out.iter_mut().enumerate() {
            *out = sum(weights.iter().zip(level[first * columns + x..].iter().step_by(columns)));
        }
    }
    PieceLight { width: columns as u32, height: rows as u32, rgb }
}

fn sum<'a>(taken: impl Iterator<Item = (&'a f32, &'a [f32; 3])>) -> [f32; 3] {
    taken.fold([0.0; 3], |sum, (weight, pixel)| [0, 1, 2].map(|c| sum[c] + weight * pixel[c]))
}

/// Steps of light that the table of sRGB tells apart: far finer than the 8 bits that are written.
const STEPS: usize = 65_536;

impl PieceLight {
    /// The light below which a share of the pixels lies, channel by channel; `share` from 0 to 1.
    pub fn quantile(&self, share: f64) -> [f64; 3] {
        [0, 1, 2].map(|c| {
            let mut values: Vec<f32> = self.rgb.iter().map(|pixel| pixel[c]).collect();
            let at = ((values.len() as f64 - 1.0) * share.clamp(0.0, 1.0)).round() as usize;
            f64::from(*values.select_nth_unstable_by(at, f32::total_cmp).1)
        })
    }

    /// A JPEG of it, each channel's light multiplied by a gain, at a quality from 1 to 100. It says nothing of where it is
    /// from: no name, no date, no profile (sRGB is meant).
    pub fn jpeg(&self, gain: [f64; 3], quality: u8) -> Vec<u8> {
        let table: Vec<u8> =
            (0..STEPS).map(|i| (255.0 * srgb_encode(i as f64 / (STEPS - 1) as f64)).round() as u8).collect();
        let sample = |v: f32, gain: f64| table[(f64::from(v) * gain).clamp(0.0, 1.0).mul_add(65_535.0, 0.5) as usize];
        let planes: Vec<u8> = (0..3)
            .flat_map(|c| self.rgb.iter().map(move |pixel| (pixel[c], c)))
            .map(|(v, c)| sample(v, gain[c]))
            .collect();
        jpeg::Jpeg::new(quality).encode(&planes, self.width as usize, self.height as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn the_kernel_is_the_published_one() {
        // Keys (1981), equation 15: 1 at 0, 0 at 1 and 2; at one half 9/16, at three halves −1/16.
        for (x, value) in [(0.0, 1.0), (1.0, 0.0), (2.0, 0.0), (0.5, 9.0 / 16.0), (-1.5, -1.0 / 16.0), (3.0, 0.0)] {
            assert_close!(keys(x), value, absolute = 1e-15, "{x}");
        }
    }

    #[test]
    fn weights_add_up_and_keep_a_slope_where_it_is() {
        // Law: an even picture stays even; and a straight slope stays where it is, inside the picture.
        for (step, side) in [(0.25, 100), (1.0, 100), (1.7, 300), (3.0, 500)] {
            let axis = Axis::new(f64::from(side) / 2.0 + 0.3, step, 40, side);
            for (i, (first, weights)) in (0..).zip(&axis.taken) {
                let place = f64::from(side) / 2.0 + 0.3 + (f64::from(i) + 0.5 - 20.0) * step;
                let found: f64 = weights
                    .iter()
                    .enumerate()
                    .map(|(k, w)| f64::from(*w) * (f64::from(axis.start) + (first + k) as f64 + 0.5))
                    .sum();
                assert_close!(weights.iter().map(|w| f64::from(*w)).sum::<f64>(), 1.0, absolute = 1e-5);
                // A widened kernel samples a slope with a ripple that falls with its width; below 1 % of a pixel here.
                assert_close!(found, place, absolute = 0.02 * step.max(1.0), "step {step}, {i}");
            }
        }
    }
}
