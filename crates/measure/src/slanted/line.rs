//! Where the edge runs: its column as a polynomial of the row, and true distances from it.

use crate::numeric::{polynomial, polynomial_slope};

/// A near-vertical edge: column = p((row - centre) / half), coordinates in pixels with the first pixel's centre at 0.5.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Line {
    /// Polynomial in the scaled row, lowest power first.
    pub(crate) coefficients: Vec<f64>,
    /// Row that the polynomial counts from.
    pub(crate) centre: f64,
    /// Rows per unit of the polynomial's argument.
    pub(crate) half: f64,
}

impl Line {
    pub(crate) fn scaled(&self, y: f64) -> f64 {
        (y - self.centre) / self.half
    }

    /// Column of the edge on a row.
    pub(crate) fn x(&self, y: f64) -> f64 {
        polynomial(&self.coefficients, self.scaled(y))
    }

    /// Columns per row.
    pub(crate) fn slope(&self, y: f64) -> f64 {
        polynomial_slope(&self.coefficients, self.scaled(y)) / self.half
    }

    /// Cosine of the angle between the edge and the columns at a row.
    pub(crate) fn cosine(&self, y: f64) -> f64 {
        1.0 / (1.0 + self.slope(y).powi(2)).sqrt()
    }

    pub(crate) fn straight(&self) -> bool {
        self.coefficients.len() <= 2
    }

    /// Distances along the normal for the pixels of one row.
    pub(crate) fn row(&self, row: usize) -> RowDistance<'_> {
        let y = row as f64 + 0.5;
        let slope = self.slope(y);
        RowDistance { line: self, y, x: self.x(y), slope, cosine: 1.0 / (1.0 + slope * slope).sqrt() }
    }
}

/// [`Line`] seen from one row.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RowDistance<'a> {
    line: &'a Line,
    y: f64,
    /// Column of the edge.
    pub(crate) x: f64,
    slope: f64,
    pub(crate) cosine: f64,
}

impl RowDistance<'_> {
    /// Signed distance of a pixel's centre along the edge's normal, positive to the right.
    ///
    /// Exact for a straight edge. For a curved one the foot of the perpendicular is taken from the tangent on this row
    /// and the distance from the tangent at the foot; what is left is of third order in distance times curvature.
    #[inline]
    pub(crate) fn of(&self, column: usize) -> f64 {
        let run = column as f64 + 0.5 - self.x;
        let first = run * self.cosine;
        if self.line.straight() {
            return first;
        }
        let y = self.y + first * self.slope * self.cosine;
        let y = y.clamp(self.line.centre - self.line.half, self.line.centre + self.line.half);
        let slope = self.line.slope(y);
        // A slope is never so steep that its square could overflow: no need for the slow way to the root.
        ((column as f64 + 0.5 - self.line.x(y)) - (self.y - y) * slope) / (1.0 + slope * slope).sqrt()
    }

    /// Distance of column 0 and the step from column to column, where a straight edge makes that even.
    #[inline]
    pub(crate) fn even(&self) -> Option<(f64, f64)> {
        self.line.straight().then_some(((0.5 - self.x) * self.cosine, self.cosine))
    }

    /// Columns whose distance lies about within these limits, cut to the picture.
    pub(crate) fn columns(&self, (low, high): (f64, f64), width: usize) -> std::ops::Range<usize> {
        let first = (self.x + low / self.cosine - 0.5).floor().max(0.0) as usize;
        let last = (self.x + high / self.cosine + 0.5).ceil().clamp(0.0, width as f64) as usize;
        first.min(last)..last
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn distance_from_a_straight_edge_is_the_textbook_one() {
        // Line x = 10 + 0.5 (y - 4): distance of a point is (x - 10 - 0.5 (y - 4)) / sqrt(1.25).
        let line = Line { coefficients: vec![10.0, 2.0], centre: 4.0, half: 4.0 };
        let expected = (20.5 - 10.0 - 0.5 * (7.5 - 4.0)) / 1.25_f64.sqrt();
        assert_close!(line.row(7).of(20), expected, absolute = 1e-12);
    }

    #[test]
    fn distance_from_a_curved_edge_is_that_of_its_circle() {
        // A circle of radius 400 about (-390, 100): the column of the edge as a polynomial near row 100 is
        // -390 + 400 sqrt(1 - t^2), t = (y - 100) / 400, to fourth order; distance is radius minus 400.
        let s: f64 = 50.0 / 400.0;
        let coefficients = vec![10.0, 0.0, -200.0 * s.powi(2), 0.0, -50.0 * s.powi(4)];
        let line = Line { coefficients, centre: 100.0, half: 50.0 };
        for (row, column) in [(60, 2), (80, 15), (130, 5), (140, 12)] {
            let (dx, dy) = (column as f64 + 0.5 + 390.0, row as f64 + 0.5 - 100.0);
            assert_close!(line.row(row).of(column), dx.hypot(dy) - 400.0, absolute = 2e-3);
        }
    }
}
