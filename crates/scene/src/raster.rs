//! Exact area coverage of polygons on a grid of cells.
//!
//! Each side of a polygon adds, to the cells that it crosses, the area that lies between it and the right-hand side of
//! the row; a running sum along the row then gives the share of each cell that the polygon covers. The method is that
//! of signed-area accumulation as used for outline fonts. Where a polygon overlaps itself the sum is cut off at one.

/// Accumulates polygons row by row.
#[derive(Debug)]
pub(crate) struct Coverage {
    width: usize,
    rows: usize,
    cells: Vec<f32>,
    touched: Vec<(usize, usize)>,
}

const UNTOUCHED: (usize, usize) = (usize::MAX, 0);

impl Coverage {
    /// For a grid of that many cells.
    pub fn new(width: usize, rows: usize) -> Self {
        // A side that ends exactly on the right border still writes one cell further on.
        Self { width, rows, cells: vec![0.0; (width + 2) * rows], touched: vec![UNTOUCHED; rows] }
    }

    /// Adds a polygon; corners in cells from the grid's upper left corner, its sides not closed by repetition.
    pub fn add(&mut self, corners: impl Iterator<Item = [f64; 2]> + Clone) {
        let Some(first) = corners.clone().next() else { return };
        let next = corners.clone().skip(1).chain(std::iter::once(first));
        for (from, to) in corners.zip(next) {
            self.add_side(from, to);
        }
    }

    fn add_side(&mut self, from: [f64; 2], to: [f64; 2]) {
        if from[1] == to[1] {
            return;
        }
        let (sign, top, bottom) = if from[1] < to[1] { (1.0, from, to) } else { (-1.0, to, from) };
        let (start, end) = (top[1].max(0.0), bottom[1].min(self.rows as f64));
        if start >= end {
            return;
        }
        let slope = (bottom[0] - top[0]) / (bottom[1] - top[1]);
        let at = |y: f64| top[0] + (y - top[1]) * slope;
        let mut row = start as usize;
        let mut y = start;
        while y < end {
            let below = ((row + 1) as f64).min(end);
            self.add_piece(row, at(y), at(below), sign * (below - y));
            (y, row) = (below, row + 1);
        }
    }

    /// A piece of a side within one row, from x `a` to x `b`, `drop` of a row high (signed). What lies left of the
    /// grid counts on its border; what lies right of it covers nothing.
    fn add_piece(&mut self, row: usize, a: f64, b: f64, drop: f64) {
        let (left, right) = if a < b { (a, b) } else { (b, a) };
        let width = self.width as f64;
        if left >= width {
            self.touch(row, self.width, self.width);
            return;
        }
        if right <= 0.0 {
            self.put(row, 0, drop as f32);
            self.touch(row, 0, 1);
            return;
        }
        if left < 0.0 || right > width {
            self.add_clipped(row, left, right, drop);
            return;
        }
        self.add_inside(row, left, right, drop);
    }

    fn add_clipped(&mut self, row: usize, left: f64, right: f64, drop: f64) {
        let width = self.width as f64;
        let per_cell = drop / (right - left);
        if left < 0.0 {
            self.put(row, 0, (-left * per_cell) as f32);
            self.touch(row, 0, 1);
        }
        if right > width {
            self.touch(row, self.width, self.width);
        }
        let (a, b) = (left.max(0.0), right.min(width));
        if b > a {
            self.add_inside(row, a, b, (b - a) * per_cell);
        }
    }

    /// The piece crosses cells `first` ..= `last`; in each it adds what it covers there beyond the cell before.
    fn add_inside(&mut self, row: usize, left: f64, right: f64, drop: f64) {
        let (first, last) = (left as usize, right as usize);
        self.touch(row, first, last + 2);
        if first == last {
            let covered = 1.0 - (0.5 * (left + right) - first as f64);
            self.put(row, first, (drop * covered) as f32);
            self.put(row, first + 1, (drop * (1.0 - covered)) as f32);
            return;
        }
        let per_cell = drop / (right - left);
        let mut before = 0.0;
        let mut x = left;
        let mut dropped = 0.0;
        for cell in first..=last {
            let end = ((cell + 1) as f64).min(right);
            let share = (end - x) * per_cell;
            // All that dropped before covers the whole cell; this share covers what lies right of its middle.
            let covered = dropped + share * ((cell + 1) as f64 - 0.5 * (x + end));
            self.put(row, cell, (covered - before) as f32);
            (before, dropped, x) = (covered, dropped + share, end);
        }
        self.put(row, last + 1, (drop - before) as f32);
    }

    fn put(&mut self, row: usize, cell: usize, amount: f32) {
        self.cells[row * (self.width + 2) + cell] += amount;
    }

    fn touch(&mut self, row: usize, from: usize, to: usize) {
        let span = &mut self.touched[row];
        *span = (span.0.min(from), span.1.max(to.min(self.width)));
    }

    /// Hands each touched row to `paint` as (row, first cell, coverages) and leaves the grid empty again.
    pub fn sweep(&mut self, mut paint: impl FnMut(usize, usize, &mut [f32])) {
        let stride = self.width + 2;
        for row in 0..self.rows {
            let (from, to) = std::mem::replace(&mut self.touched[row], UNTOUCHED);
            if from == usize::MAX {
                continue;
            }
            let cells = &mut self.cells[row * stride..(row + 1) * stride];
            if from < to {
                running_sum(&mut cells[from..to]);
                paint(row, from, &mut cells[from..to]);
            }
            cells[from.min(self.width)..].iter_mut().take(to.saturating_sub(from) + 2).for_each(|cell| *cell = 0.0);
        }
    }
}

fn running_sum(cells: &mut [f32]) {
    let mut sum = 0.0f32;
    for cell in cells {
        sum += *cell;
        // Turning direction must not matter, nor an overlap; a residue of rounding is no coverage.
        let covered = sum.abs().min(1.0);
        *cell = if covered < 1e-6 { 0.0 } else { covered };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn covered(width: usize, rows: usize, corners: &[[f64; 2]]) -> Vec<f32> {
        let mut grid = Coverage::new(width, rows);
        let mut all = vec![0.0; width * rows];
        grid.add(corners.iter().copied());
        grid.sweep(|row, from, cells| all[row * width + from..][..cells.len()].copy_from_slice(cells));
        all
    }

    #[test]
    fn a_rectangle_between_the_cells() {
        let cells = covered(4, 3, &[[0.5, 0.25], [2.75, 0.25], [2.75, 2.0], [0.5, 2.0]]);
        let expected = [0.375, 0.75, 0.5625, 0.0, 0.5, 1.0, 0.75, 0.0, 0.0, 0.0, 0.0, 0.0];
        for (cell, expected) in cells.iter().zip(expected) {
            assert_close!(f64::from(*cell), expected, absolute = 1e-6);
        }
    }

    #[test]
    fn a_triangle_has_its_area_whichever_way_it_is_wound() {
        let corners = [[1.3, 0.7], [17.1, 4.2], [5.9, 11.6]];
        let mut reversed = corners;
        reversed.reverse();
        // Half the cross product of two sides.
        let area = 0.5 * ((17.1 - 1.3) * (11.6 - 0.7) - (5.9 - 1.3) * (4.2 - 0.7));
        for corners in [corners, reversed] {
            let sum: f64 = covered(20, 12, &corners).iter().map(|&c| f64::from(c)).sum();
            assert_close!(sum, area, absolute = 1e-4);
        }
    }

    #[test]
    fn what_hangs_over_the_borders_is_cut_off() {
        let cells = covered(3, 2, &[[-5.0, -4.0], [9.0, -4.0], [9.0, 1.5], [-5.0, 1.5]]);
        let expected = [1.0, 1.0, 1.0, 0.5, 0.5, 0.5];
        assert!(cells.iter().zip(expected).all(|(c, e)| (c - e).abs() < 1e-6), "{cells:?}");
        let diamond = covered(2, 2, &[[1.0, -2.0], [4.0, 1.0], [1.0, 4.0], [-2.0, 1.0]]);
        assert!(diamond.iter().all(|&c| c == 1.0), "{diamond:?}");
    }

    #[test]
    fn sweeping_leaves_nothing_behind() {
        let mut grid = Coverage::new(8, 8);
        grid.add([[1.0, 1.0], [12.0, 3.0], [-3.0, 7.5]].into_iter());
        grid.sweep(|_, _, _| ());
        grid.sweep(|_, _, _| unreachable!("the grid should be empty"));
        assert!(grid.cells.iter().all(|&c| c == 0.0));
    }
}
