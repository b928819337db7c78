//! Levels that gather painted rows until bands of tiles are full.

use std::collections::VecDeque;
use std::sync::Arc;

use super::paint::{Painter, Scratch, halve, halve_columns};
use crate::Orientation;

/// A stretch of stored columns or rows that falls into one tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cut {
    pub start: u32,
    pub length: u32,
    /// Number of the tile along the axis as shown.
    pub tile: u32,
}

impl Cut {
    pub(super) fn end(self) -> u32 {
        self.start + self.length
    }
}

/// Cuts an axis into tiles counted from the shown beginning; when the axis is stored in reverse, the short tile comes
/// first.
pub(super) fn cuts(size: u32, tile: u32, reversed: bool) -> Vec<Cut> {
    let count = size.div_ceil(tile);
    let cut = |i: u32| {
        let (start, end) = (i * tile, ((i + 1) * tile).min(size));
        let start = if reversed { size - end } else { start };
        Cut { start, length: (end - i * tile), tile: i }
    };
    let shown = (0..count).map(cut);
    if reversed { shown.rev().collect() } else { shown.collect() }
}

/// What all levels have in common.
pub(super) struct Shape {
    /// Columns and rows of each level, as stored.
    pub sizes: Vec<(u32, u32)>,
    pub channels: usize,
    pub orientation: Orientation,
    pub tile: u32,
}

/// Rows of a level as they are shown, in stored order; in each row the channels lie one after the other.
pub(super) struct Rows {
    first: u32,
    count: u32,
    samples: Vec<u8>,
}

/// Rows of a part on the lower levels: 2 to this power rows of the scan make one.
const DEEP: usize = 5;
/// Rows of the scan that are painted together. Parts are counted from the shown beginning, so that no pair of rows is
/// torn apart on the levels down to [`DEEP`].
pub(super) const PART: u32 = 1 << DEEP;

/// A part of the scan on all levels that it reaches by itself.
pub(super) struct Painted {
    levels: Vec<Rows>,
    /// Light of the one row that it is on level [`DEEP`], when there are levels below.
    rest: Option<Vec<u16>>,
}

impl Painted {
    /// Paints the part of the scan at `cut`, whose stored rows are given in order.
    pub(super) fn new<'a>(
        painter: &Painter,
        shape: &Shape,
        cut: Cut,
        rows: impl Iterator<Item = &'a [u16]>,
        scratch: &mut Scratch,
    ) -> Self {
        let stride = shape.sizes[0].0 as usize * shape.channels;
        let total = stride * cut.length as usize;
        let (mut whole, mut shown) = (std::mem::take(&mut scratch.light), vec![0; total]);
        whole.resize(total, 0);
        for (row, (light, shown)) in rows.zip(whole.chunks_exact_mut(stride).zip(shown.chunks_exact_mut(stride))) {
            painter.paint(row, scratch, light, shown);
        }
        let mut light = Vec::new();
        let mut levels = vec![Rows { first: cut.start, count: cut.length, samples: shown }];
        for level in 1..shape.sizes.len().min(DEEP + 1) {
            let (above, size) = (shape.sizes[level - 1], shape.sizes[level]);
            let rows = levels[level - 1].count as usize;
            light = halve(
                if level == 1 { &whole } else { &light },
                (above.0 as usize, rows),
                shape.channels,
                shape.orientation,
            );
            let count = rows.div_ceil(2) as u32;
            let before = (cut.tile * PART) >> level;
            let first = if shape.orientation.flip_y { size.1 - before - count } else { before };
            let mut samples = vec![0; light.len()];
            painter.show(&light, &mut samples);
            levels.push(Rows { first, count, samples });
        }
        scratch.light = whole;
        Self { levels, rest: (shape.sizes.len() > DEEP + 1).then_some(light) }
    }

    /// Rows of the scan.
    pub(super) fn rows(&self) -> u32 {
        self.levels[0].count
    }
}

/// A complete band of tiles.
pub(super) struct Band {
    pub level: usize,
    pub rows: Cut,
    parts: Vec<Arc<Rows>>,
}

impl Band {
    /// The tile of those columns as shown, channel after channel, and its sides.
    pub(super) fn tile(&self, shape: &Shape, columns: Cut) -> (Vec<u8>, (usize, usize)) {
        let (width, height) = (columns.length as usize, self.rows.length as usize);
        let whole = shape.sizes[self.level].0 as usize;
        let turned = shape.orientation;
        let mut tile = vec![0; width * height * shape.channels];
        for part in &self.parts {
            for row in part.first.max(self.rows.start)..(part.first + part.count).min(self.rows.end()) {
                let stored = &part.samples[(row - part.first) as usize * whole * shape.channels..];
                let row = (row - self.rows.start) as usize;
                for c in 0..shape.channels {
                    let stored = &stored[c * whole + columns.start as usize..][..width];
                    let plane = &mut tile[c * width * height..][..width * height];
                    if turned == Orientation::default() {
                        plane[row * width..][..width].copy_from_slice(stored);
                    } else {
                        let put = |(column, &v)| plane[turned.shown_index(column, row, (width, height))] = v;
                        stored.iter().enumerate().for_each(put);
                    }
                }
            }
        }
        (tile, turned.sides(width, height))
    }
}

/// A level that waits for its bands to be complete.
struct Gathering {
    bands: VecDeque<Cut>,
    parts: Vec<Arc<Rows>>,
}

impl Gathering {
    /// Takes the next rows; gives the bands that they complete.
    fn add(&mut self, level: usize, rows: Rows, full: &mut Vec<Band>) {
        let end = rows.first + rows.count;
        self.parts.push(Arc::new(rows));
        while let Some(&band) = self.bands.front()
            && band.end() <= end
        {
            self.bands.pop_front();
            full.push(Band { level, rows: band, parts: self.parts.clone() });
            self.parts.retain(|part| part.first + part.count > band.end());
        }
    }
}

/// A level below those that parts reach by themselves: one row of light that waits for the one below it.
#[derive(Default)]
struct Step {
    /// Rows given so far, of the level above.
    given: u32,
    /// Rows made so far.
    made: u32,
    waiting: Option<Vec<u16>>,
}

impl Step {
    /// Takes the next row of the level above, which has `size`; gives a row when one is complete.
    fn add(&mut self, light: Vec<u16>, size: (u32, u32), shape: &Shape) -> Option<Vec<u16>> {
        self.given += 1;
        // The odd row at the shown end makes one of its own.
        let last = if shape.orientation.flip_y { self.given == 1 } else { self.given == size.1 };
        let above = match self.waiting.take() {
            Some(above) => above,
            None if size.1 % 2 == 1 && last => light.clone(),
            None => {
                self.waiting = Some(light);
                return None;
            }
        };
        self.made += 1;
        let mut half = Vec::with_capacity(light.len().div_ceil(2) + shape.channels);
        halve_columns(&above, &light, size.0 as usize, shape.orientation.flip_x, &mut half);
        Some(half)
    }
}

/// All levels, which take parts in stored order.
pub(super) struct Levels {
    gathering: Vec<Gathering>,
    steps: Vec<Step>,
}

impl Levels {
    pub(super) fn new(shape: &Shape) -> Self {
        let bands = |&(_, height): &(u32, u32)| cuts(height, shape.tile, shape.orientation.flip_y).into();
        let gathering = shape.sizes.iter().map(|size| Gathering { bands: bands(size), parts: Vec::new() }).collect();
        let steps = shape.sizes.iter().skip(DEEP + 1).map(|_| Step::default()).collect();
        Self { gathering, steps }
    }

    /// Takes the next part; gives the bands that it completes.
    pub(super) fn add(&mut self, painted: Painted, painter: &Painter, shape: &Shape) -> Vec<Band> {
        let mut full = Vec::new();
        for (level, (rows, gathering)) in painted.levels.into_iter().zip(&mut self.gathering).enumerate() {
            gathering.add(level, rows, &mut full);
        }
        let mut light = painted.rest;
        for (i, step) in self.steps.iter_mut().enumerate() {
            let Some(given) = light.take() else { break };
            let level = DEEP + 1 + i;
            let Some(half) = step.add(given, shape.sizes[level - 1], shape) else { break };
            let mut samples = vec![0; half.len()];
            painter.show(&half, &mut samples);
            let rows = Rows { first: step.made - 1, count: 1, samples };
            self.gathering[level].add(level, rows, &mut full);
            light = Some(half);
        }
        full
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tiles_are_counted_from_the_shown_beginning() {
        let cut = |start, length, tile| Cut { start, length, tile };
        assert_eq!(cuts(10, 4, false), [cut(0, 4, 0), cut(4, 4, 1), cut(8, 2, 2)]);
        assert_eq!(cuts(10, 4, true), [cut(0, 2, 2), cut(2, 4, 1), cut(6, 4, 0)]);
        assert_eq!(cuts(3, 4, true), [cut(0, 3, 0)]);
    }
}
