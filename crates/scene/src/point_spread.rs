//! Blur of any shape: point-spread functions that change over the field, as something else traced or measured them.
//!
//! They come in as plain numbers at some distances from the middle of the frame, in a frame of their own (across the radius and
//! outwards), and are turned and interpolated to the places in between. The picture is made in blocks; over each, four
//! functions, one for each of its corners, are convolved with what is painted and blended by the distance from the corners, so
//! that nothing jumps from block to block.

use std::cell::RefCell;
use std::rc::Rc;

use fourier::{Complex32, Room, Square, smooth};

use crate::blur::OVERSAMPLING;
use crate::canvas::Canvas;
use crate::capture::Capture;
use crate::settings::Channel;
use crate::shape::Point;

/// The point-spread functions of one distance from the middle of the frame.
#[derive(Debug, Clone, PartialEq)]
pub struct PointSpread {
    /// From the middle of the frame, mm on film.
    pub film_mm: f64,
    /// Light that arrives there as a share of that in the middle.
    pub light: f64,
    /// For red, green and blue: `side` × `side` densities at the middles of square cells, row by row. Columns go across the
    /// radius, rows outwards; the middle cell is where the point's image would be without distortion or colour. They are
    /// scaled to a sum of 1.
    pub colours: [Vec<f32>; 3],
}

/// Point-spread functions over the field.
#[derive(Debug, Clone, PartialEq)]
pub struct PointSpreads {
    cell_mm: f64,
    side: usize,
    zones: Vec<PointSpread>,
}

/// Why point-spread functions cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PointSpreadError {
    /// A number is out of range.
    #[error("{what} of the point-spread functions is {given}; it must be {wanted}")]
    Number {
        /// Which number.
        what: &'static str,
        /// As given.
        given: f64,
        /// What it must be.
        wanted: &'static str,
    },
    /// There is none.
    #[error("no point-spread function was given")]
    None,
    /// The zones are not in order.
    #[error("the zones must begin in the middle (0 mm) and go outwards; zone {number} lies at {film_mm} mm")]
    Order {
        /// Which, from 1.
        number: usize,
        /// Where.
        film_mm: f64,
    },
    /// A function is no density.
    #[error(
        "zone {number} has a point-spread function of {found} cells, or with no light in it; {wanted} cells that add up to more than 0 are needed"
    )]
    Cells {
        /// Which, from 1.
        number: usize,
        /// How many there were.
        found: usize,
        /// How many are needed.
        wanted: usize,
    },
}

/// Broader functions would need more surroundings than can be kept, cells of the drawing.
const BROADEST_CELLS: f64 = 400.0;

impl PointSpreads {
    /// Checks them. `cell_mm` is the side of their cells on film, `side` how many there are along either side (odd).
    pub fn new(cell_mm: f64, side: usize, mut zones: Vec<PointSpread>) -> Result<Self, PointSpreadError> {
        let number = |what, given, wanted| PointSpreadError::Number { what, given, wanted };
        if !(cell_mm.is_finite() && cell_mm > 0.0) {
            return Err(number("the side of a cell", cell_mm, "above 0 mm"));
        }
        if side.is_multiple_of(2) || side > 2001 {
            return Err(number("the number of cells along a side", side as f64, "odd and at most 2001"));
        }
        if zones.is_empty() {
            return Err(PointSpreadError::None);
        }
        let mut before = f64::NEG_INFINITY;
        for (number, zone) in (1..).zip(&mut zones) {
            let starts = number > 1 || zone.film_mm == 0.0;
            if !(zone.film_mm > before && zone.film_mm.is_finite() && starts) {
                return Err(PointSpreadError::Order { number, film_mm: zone.film_mm });
            }
            before = zone.film_mm;
            zone.check(number, side * side)?;
        }
        Ok(Self { cell_mm, side, zones })
    }

    /// The same with fewer cells, where all functions hold at least that share of their light on them: what is narrower is drawn
    /// in less time.
    #[must_use]
    pub fn trimmed(self, share: f64) -> Self {
        let functions = self.zones.iter().flat_map(|zone| &zone.colours);
        let reach = functions.map(|cells| reach_of(cells, self.side, share)).max().unwrap_or(0);
        let (side, cut) = (2 * reach + 1, self.side / 2 - reach);
        let smaller = |cells: &Vec<f32>| -> Vec<f32> {
            let rows = cells.chunks_exact(self.side).skip(cut).take(side);
            let kept: Vec<f32> = rows.flat_map(|row| row[cut..cut + side].iter().copied()).collect();
            let sum: f32 = kept.iter().sum();
            kept.iter().map(|cell| cell / sum).collect()
        };
        let zones =
            self.zones.iter().map(|zone| PointSpread { colours: zone.colours.each_ref().map(smaller), ..zone.clone() });
        Self { cell_mm: self.cell_mm, side, zones: zones.collect() }
    }

    /// Light at a distance from the middle of the frame, as a share.
    pub fn light_at(&self, film_mm: f64) -> f64 {
        let (near, far, share) = self.between(film_mm);
        near.light + share * (far.light - near.light)
    }

    fn between(&self, film_mm: f64) -> (&PointSpread, &PointSpread, f64) {
        let beyond = self.zones.partition_point(|zone| zone.film_mm <= film_mm);
        let (near, far) = (beyond.saturating_sub(1), beyond.min(self.zones.len() - 1));
        let (near, far) = (&self.zones[near], &self.zones[far]);
        let gap = far.film_mm - near.film_mm;
        (near, far, if gap > 0.0 { (film_mm - near.film_mm) / gap } else { 0.0 })
    }

    /// How many cells of the drawing they reach to either side.
    fn reach(&self, cell_mm: f64) -> Result<usize, PointSpreadError> {
        let cells = 0.5 * self.side as f64 * self.cell_mm / cell_mm;
        if cells > BROADEST_CELLS {
            return Err(PointSpreadError::Number {
                what: "the reach in pixels of the scan",
                given: cells / OVERSAMPLING as f64,
                wanted: "at most 133: take a coarser scan, or functions that end earlier",
            });
        }
        Ok(cells.ceil() as usize)
    }

    /// The function at a place on film on cells of the drawing: `2 reach + 1` along either side, adding up to 1.
    fn drawn(&self, channel: Channel, film_mm: Point, cell_mm: f64, reach: usize) -> Vec<f32> {
        let radius = film_mm.length();
        let (near, far, share) = self.between(radius);
        let (near, far, share) = (&near.colours[channel.index()], &far.colours[channel.index()], share as f32);
        let blended: Vec<f32> = near.iter().zip(far).map(|(a, b)| a + share * (b - a)).collect();
        let (outx, outy) = if radius > 0.0 { (film_mm.x / radius, film_mm.y / radius) } else { (0.0, 1.0) };
        let middle = 0.5 * (self.side as f64 - 1.0);
        let (reach, scale) = (reach as i64, cell_mm / self.cell_mm);
        let mut cells = Vec::with_capacity((2 * reach as usize + 1).pow(2));
        for row in -reach..=reach {
            for column in -reach..=reach {
                let (x, y) = (column as f64 * scale, row as f64 * scale);
                let (across, outwards) = (y * outx - x * outy, x * outx + y * outy);
                cells.push(keys(&blended, self.side, across + middle, outwards + middle));
            }
        }
        let sum: f32 = cells.iter().sum();
        cells.iter_mut().for_each(|cell| *cell /= sum);
        cells
    }
}

/// Cells to either side of the middle that hold the share of a function that adds up to 1.
fn reach_of(cells: &[f32], side: usize, share: f64) -> usize {
    let middle = side / 2;
    let mut rings = vec![0.0; middle + 1];
    for (i, cell) in cells.iter().enumerate() {
        rings[(i % side).abs_diff(middle).max((i / side).abs_diff(middle))] += f64::from(*cell);
    }
    let mut held = 0.0;
    rings
        .iter()
        .position(|ring| {
            held += ring;
            held >= share
        })
        .unwrap_or(middle)
}

impl PointSpread {
    fn check(&mut self, number: usize, wanted: usize) -> Result<(), PointSpreadError> {
        if !(self.light >= 0.0 && self.light <= 4.0) {
            return Err(PointSpreadError::Number {
                what: "the light",
                given: self.light,
                wanted: "a share from 0 to 4",
            });
        }
        for cells in &mut self.colours {
            let sum: f64 = cells.iter().map(|cell| f64::from(*cell)).sum();
            if cells.len() != wanted || !(sum.is_finite() && sum > 0.0) {
                return Err(PointSpreadError::Cells { number, found: cells.len(), wanted });
            }
            cells.iter_mut().for_each(|cell| *cell = (f64::from(*cell) / sum) as f32);
        }
        Ok(())
    }
}

/// Cubic convolution by R. G. Keys, IEEE Trans. ASSP 29 (1981) 1153, with a = -1/2; nothing beyond the border.
fn keys(cells: &[f32], side: usize, x: f64, y: f64) -> f32 {
    let (left, top) = (x.floor(), y.floor());
    let end = side as f64;
    if left < -2.0 || top < -2.0 || left > end || top > end {
        return 0.0;
    }
    let (across, down) = (cubic((x - left) as f32), cubic((y - top) as f32));
    let (left, top) = (left as i64 - 1, top as i64 - 1);
    let mut sum = 0.0;
    for (i, down) in (top..).zip(down) {
        if i < 0 || i >= side as i64 {
            continue;
        }
        let row = &cells[i as usize * side..][..side];
        for (j, across) in (left..).zip(across) {
            if let Some(cell) = usize::try_from(j).ok().and_then(|j| row.get(j)) {
                sum += down * across * cell;
            }
        }
    }
    sum
}

fn cubic(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [-0.5 * t3 + t2 - 0.5 * t, 1.5 * t3 - 2.5 * t2 + 1.0, -1.5 * t3 + 2.0 * t2 + 0.5 * t, 0.5 * t3 - 0.5 * t2]
}

/// Functions that do not reach too far for the cells they are to be drawn on.
pub(crate) struct FittedSpreads<'a> {
    spreads: &'a PointSpreads,
    cell_mm: f64,
    reach: usize,
}

impl<'a> FittedSpreads<'a> {
    pub fn new(spreads: &'a PointSpreads, capture: &Capture) -> Result<Self, PointSpreadError> {
        let cell_mm = capture.pitch_mm() / OVERSAMPLING as f64;
        Ok(Self { spreads, cell_mm, reach: spreads.reach(cell_mm)? })
    }
}

/// Rows and columns of pixels from corner to corner of a block: few enough that no lens's blur changes other than evenly
/// in between.
pub(crate) const BLOCK_PX: usize = 128;
const BLOCK: usize = BLOCK_PX * OVERSAMPLING;

/// The convolution, block by block.
pub(crate) struct Convolution<'a> {
    spreads: &'a PointSpreads,
    capture: &'a Capture,
    cell_mm: f64,
    /// Cells to either side from which light comes.
    pub reach: usize,
    /// Cells around a band that the passes after this one need.
    beyond: usize,
    /// Cells along a block's transform.
    size: usize,
    transform: Square,
    work: RefCell<Work>,
}

/// A column of corners and its transformed functions.
type Node = Option<(usize, Rc<Vec<Complex32>>)>;

#[derive(Default)]
struct Work {
    room: Room,
    out: Vec<f32>,
}

impl<'a> Convolution<'a> {
    /// `beyond` is how many cells around a band other passes take.
    pub fn new(fitted: FittedSpreads<'a>, capture: &'a Capture, beyond: usize) -> Self {
        let FittedSpreads { spreads, cell_mm, reach } = fitted;
        let size = smooth(BLOCK + 2 * beyond + 2 * reach);
        let transform = Square::new(size);
        Self { spreads, capture, cell_mm, reach, beyond, size, transform, work: RefCell::default() }
    }

    /// Light at a place on film as a share of that in the middle.
    pub fn light_at(&self, film_mm: Point) -> f64 {
        self.spreads.light_at(film_mm.length())
    }

    /// Convolves what is painted of the band of pixel rows `first` .. `first + rows`, with `beyond` cells around it; what lies
    /// farther out keeps its value. The canvas begins `beyond + reach` cells to the left of the scan and above the band.
    pub fn apply(&self, canvas: &mut Canvas, channel: Channel, first: usize, rows: usize) {
        let columns = self.capture.settings().width_px as usize * OVERSAMPLING;
        let margin = self.beyond + self.reach;
        let out_rows = rows * OVERSAMPLING + 2 * self.beyond;
        let mut out = std::mem::take(&mut self.work.borrow_mut().out);
        out.clear();
        out.resize(canvas.width * out_rows, 0.0);
        let blocks = columns.div_ceil(BLOCK).max(1);
        let mut nodes: [Node; 2] = [None, None];
        for block in 0..blocks {
            let from = if block == 0 { -(self.beyond as i64) } else { (block * BLOCK) as i64 };
            let to = if block + 1 == blocks { columns + self.beyond } else { (block + 1) * BLOCK } as i64;
            let width = (to - from) as usize;
            let at_canvas = (from + margin as i64) as usize;
            if let Some(even) = self.even(canvas, at_canvas, width, out_rows) {
                // Nothing but ground: most of a card. Spreads add up to 1, so that it stays as it is.
                (0..out_rows).for_each(|row| out[row * canvas.width + at_canvas..][..width].fill(even));
                continue;
            }
            let left = Self::known(&mut nodes, block, || self.corners(channel, block, first));
            let right = Self::known(&mut nodes, block + 1, || self.corners(channel, block + 1, first));
            let painted = self.painted(canvas, at_canvas, width, out_rows);
            let sides = [&left, &right].map(|pair| self.convolved(&painted, pair));
            for row in 0..out_rows {
                let v = ((row as f32 + 0.5) - self.beyond as f32) / BLOCK as f32;
                let line = &mut out[row * canvas.width + at_canvas..][..width];
                let at = (row + self.reach) * self.size + self.reach;
                for (column, cell) in line.iter_mut().enumerate() {
                    let u = (from as f32 + column as f32 + 0.5) / BLOCK as f32 - block as f32;
                    let of = |side: &[Complex32]| {
                        let pair = side[at + column];
                        pair.re + v * (pair.im - pair.re)
                    };
                    let (l, r) = (of(&sides[0]), of(&sides[1]));
                    *cell = l + u * (r - l);
                }
            }
        }
        let first_row = self.reach;
        let (inner, width) = (self.reach, canvas.width);
        for row in 0..out_rows {
            let target = &mut canvas.cells[(row + first_row) * width + inner..][..width - 2 * inner];
            target.copy_from_slice(&out[row * width + inner..][..width - 2 * inner]);
        }
        self.work.borrow_mut().out = out;
    }

    /// The transformed functions of a column of corners: neighbouring blocks share them.
    fn known(nodes: &mut [Node; 2], column: usize, make: impl FnOnce() -> Vec<Complex32>) -> Rc<Vec<Complex32>> {
        if let Some((_, pair)) = nodes.iter().flatten().find(|(known, _)| *known == column) {
            return Rc::clone(pair);
        }
        let pair = Rc::new(make());
        nodes.swap(0, 1);
        nodes[1] = Some((column, Rc::clone(&pair)));
        pair
    }

    /// The light of what is painted around those cells, where it is the same in all of them.
    fn even(&self, canvas: &Canvas, from: usize, width: usize, rows: usize) -> Option<f32> {
        let line = |row: usize| &canvas.cells[row * canvas.width + from - self.reach..][..width + 2 * self.reach];
        let first = line(0)[0];
        (0..rows + 2 * self.reach).all(|row| line(row).iter().all(|cell| *cell == first)).then_some(first)
    }

    /// The functions at the upper and the lower end of a block's side, as real and imaginary part of one, transformed.
    fn corners(&self, channel: Channel, column: usize, first: usize) -> Vec<Complex32> {
        let side = 2 * self.reach + 1;
        let function = |row: usize| {
            let pixel = Point::new((column * BLOCK_PX) as f64, row as f64);
            self.spreads.drawn(channel, self.capture.pixel_to_film(pixel), self.cell_mm, self.reach)
        };
        let (upper, lower) = (function(first), function(first + BLOCK_PX));
        let mut pair = vec![Complex32::default(); self.size * self.size];
        // The middle goes to the origin, what lies before it to the end.
        let place = |i: usize| (i + self.size - self.reach) % self.size;
        let scale = 1.0 / (self.size * self.size) as f32;
        for (i, (up, low)) in upper.iter().zip(&lower).enumerate() {
            pair[place(i / side) * self.size + place(i % side)] = Complex32::new(up * scale, low * scale);
        }
        self.transform.there(&mut pair, self.size, &mut self.work.borrow_mut().room);
        pair
    }

    /// What is painted around `width` × `rows` cells from column `from` of the canvas on, transformed.
    fn painted(&self, canvas: &Canvas, from: usize, width: usize, rows: usize) -> Vec<Complex32> {
        let mut cells = vec![Complex32::default(); self.size * self.size];
        let (width, from) = (width + 2 * self.reach, from - self.reach);
        let filled = rows + 2 * self.reach;
        for (row, line) in cells.chunks_exact_mut(self.size).take(filled).enumerate() {
            let painted = &canvas.cells[row * canvas.width + from..][..width];
            line.iter_mut().zip(painted).for_each(|(cell, painted)| cell.re = *painted);
        }
        self.transform.there(&mut cells, filled, &mut self.work.borrow_mut().room);
        cells
    }

    fn convolved(&self, painted: &[Complex32], pair: &[Complex32]) -> Vec<Complex32> {
        let mut product: Vec<Complex32> = painted.iter().zip(pair).map(|(a, b)| a * b).collect();
        self.transform.back(&mut product, &mut self.work.borrow_mut().room);
        product
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    /// Keys' kernel reproduces straight lines and parabolas (third-order convergence).
    #[test]
    fn interpolation_reproduces_a_parabola() {
        let cells: Vec<f32> = (0..9 * 9).map(|i| ((i % 9) as f32).powi(2) + 2.0 * (i / 9) as f32).collect();
        assert_close!(f64::from(keys(&cells, 9, 3.25, 4.5)), 3.25_f64.powi(2) + 9.0, absolute = 1e-5);
    }

    /// Of 25 even cells the middle one holds a 25th, nine of them 0.36.
    #[test]
    fn functions_are_cut_where_they_hold_what_is_asked() {
        let zone = PointSpread { film_mm: 0.0, light: 1.0, colours: [(); 3].map(|()| vec![1.0; 25]) };
        let spreads = PointSpreads::new(0.01, 5, vec![zone]).expect("functions");
        let sides = [0.03, 0.3, 0.9, 1.0].map(|share| spreads.clone().trimmed(share).side);
        assert_eq!(sides, [1, 3, 5, 5]);
        let trimmed = spreads.trimmed(0.3);
        assert_close!(f64::from(trimmed.zones[0].colours[0].iter().sum::<f32>()), 1.0, absolute = 1e-6);
    }

    #[test]
    fn what_is_no_set_of_functions_is_refused() {
        let zone = |film_mm: f64| PointSpread {
            film_mm,
            light: 1.0,
            colours: [const { Vec::new() }; 3].map(|_: Vec<f32>| vec![1.0; 9]),
        };
        let refused = |cell, side, zones| PointSpreads::new(cell, side, zones).expect_err("refused").to_string();
        assert!(refused(0.0, 3, vec![zone(0.0)]).contains("above 0 mm"));
        assert!(refused(0.01, 4, vec![zone(0.0)]).contains("odd"));
        assert!(refused(0.01, 3, vec![]).contains("no point-spread function"));
        assert!(refused(0.01, 3, vec![zone(1.0)]).contains("zone 1 lies at 1 mm"));
        assert!(refused(0.01, 3, vec![zone(0.0), zone(5.0), zone(5.0)]).contains("zone 3 lies at 5 mm"));
        assert!(refused(0.01, 5, vec![zone(0.0)]).contains("9 cells"));
        let dark = PointSpread { colours: [vec![0.0; 9], vec![1.0; 9], vec![1.0; 9]], ..zone(0.0) };
        assert!(refused(0.01, 3, vec![dark]).contains("no light"));
        assert!(refused(0.01, 3, vec![PointSpread { light: f64::NAN, ..zone(0.0) }]).contains("share from 0 to 4"));
        PointSpreads::new(0.01, 3, vec![zone(0.0), zone(5.0)]).expect("that is right");
    }
}
