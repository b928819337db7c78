//! One level of the pyramid, in the order in which the file stores rows.

use super::tiles::{Block, Painter};
use crate::Orientation;
use crate::error::Fault;

/// A level that gathers rows until a band of tiles is full.
pub(super) struct Level {
    number: u32,
    /// Columns and rows as stored.
    size: (u32, u32),
    channels: usize,
    columns: Vec<Cut>,
    bands: Vec<Cut>,
    /// Rows given so far.
    rows: u32,
    /// Display-ready rows of the current band.
    band: Vec<u8>,
    /// Light of a row that waits for the one below it.
    waiting: Option<Vec<f32>>,
    orientation: Orientation,
}

/// A stretch of stored columns or rows that falls into one tile.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cut {
    pub start: u32,
    pub length: u32,
    /// Number of the tile along the axis as shown.
    pub tile: u32,
}

/// Cuts an axis into tiles counted from the shown beginning; when the axis is stored in reverse, the short tile comes
/// first.
fn cuts(size: u32, tile: u32, reversed: bool) -> Vec<Cut> {
    let count = size.div_ceil(tile);
    let cut = |i: u32| {
        let (start, end) = (i * tile, ((i + 1) * tile).min(size));
        let start = if reversed { size - end } else { start };
        Cut { start, length: (end - i * tile), tile: i }
    };
    let shown = (0..count).map(cut);
    if reversed { shown.rev().collect() } else { shown.collect() }
}

impl Level {
    pub(super) fn new(number: u32, size: (u32, u32), orientation: Orientation, tile: u32, channels: usize) -> Self {
        Self {
            number,
            size,
            channels,
            columns: cuts(size.0, tile, orientation.flip_x),
            bands: cuts(size.1, tile, orientation.flip_y),
            rows: 0,
            band: Vec::new(),
            waiting: None,
            orientation,
        }
    }

    /// Takes the next stored row of light; writes the tiles of a band that it completes.
    pub(super) fn add(&mut self, light: &[f32], painter: &Painter<'_>) -> Result<(), Fault> {
        painter.paint(light, &mut self.band);
        self.rows += 1;
        match self.bands.iter().find(|b| b.start + b.length == self.rows) {
            Some(&rows) => {
                painter.write_tiles(&self.blocks(rows), &self.band, self.size.0 as usize * self.channels)?;
                self.band.clear();
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn blocks(&self, rows: Cut) -> Vec<Block> {
        self.columns.iter().map(|&columns| Block { level: self.number, columns, rows }).collect()
    }

    /// True when the row just added makes a box of its own: the odd one at the shown end.
    fn stands_alone(&self) -> bool {
        let odd = self.size.1 % 2 == 1;
        odd && if self.orientation.flip_y { self.rows == 1 } else { self.rows == self.size.1 }
    }
}

/// Light of the next level's row, when the row just added to `level` completes one.
pub(super) fn halve(level: &mut Level, light: &[f32]) -> Option<Vec<f32>> {
    if level.stands_alone() {
        return Some(halve_columns(level, light, light));
    }
    match level.waiting.take() {
        Some(above) => Some(halve_columns(level, &above, light)),
        None => {
            level.waiting = Some(light.to_vec());
            None
        }
    }
}

/// Averages two rows in pairs of columns; the odd column at the shown end counts alone.
fn halve_columns(level: &Level, above: &[f32], below: &[f32]) -> Vec<f32> {
    let n = level.channels;
    let mut half = Vec::with_capacity(above.len().div_ceil(2) + n);
    let alone = |half: &mut Vec<f32>, at: usize| half.extend((at..at + n).map(|i| (above[i] + below[i]) / 2.0));
    let odd = level.size.0 % 2 == 1;
    let first = if odd && level.orientation.flip_x { n } else { 0 };
    if first > 0 {
        alone(&mut half, 0);
    }
    let pairs = above[first..].chunks_exact(2 * n).zip(below[first..].chunks_exact(2 * n));
    for (a, b) in pairs {
        half.extend((0..n).map(|i| (a[i] + a[n + i] + b[i] + b[n + i]) / 4.0));
    }
    if odd && !level.orientation.flip_x {
        alone(&mut half, above.len() - n);
    }
    half
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
