//! The slanted edge by the textbook, written without a look at the crate: ISO 12233:2014, 6.2.4 and 6.2.5 (four bins per
//! pixel, difference filter [-1/2, 0, 1/2], Hamming window, discrete Fourier transform, correction of the filter),
//! with the linear fit through the rows' centroids of its annex (annex from memory).

use planes::{Linear, Plane};
use std::f64::consts::PI;

/// Bins per pixel.
const BINS: f64 = 4.0;

/// The window laid over the line spread.
#[derive(Clone, Copy, PartialEq)]
pub enum Window {
    /// As in the standard's second edition.
    Hamming,
    /// Level over the inner half, falling as a cosine to the ends. Over the twenty pixels of a small region a
    /// Hamming window takes so much off the line spread's flanks that MTF50 rises by several per cent.
    LevelInside,
    /// None: for regions that are level toward their sides.
    Level,
}

/// What the plain method finds.
pub struct Plain {
    /// Columns per row.
    pub slope: f64,
    record: Vec<f64>,
}

/// Measures a near-vertical edge.
pub fn measure(plane: &Plane<Linear>, window: Window) -> Plain {
    let (width, height) = (plane.width(), plane.height());
    let rows: Vec<Vec<f64>> = (0..height).map(|r| plane.row(r).iter().map(|&s| f64::from(s)).collect()).collect();
    let middle = vec![(width as f64 - 1.0) / 2.0; height];
    let (mut slope, mut start) = fit(&centroids(&rows, &middle));
    for _ in 0..2 {
        let expected: Vec<f64> = (0..height).map(|r| start + slope * r as f64).collect();
        (slope, start) = fit(&centroids(&rows, &expected));
    }
    let line_spread = differences(&binned(&rows, (slope, start), width));
    Plain { slope, record: windowed(&line_spread, window) }
}

impl Plain {
    /// Degrees against the columns.
    pub fn angle_deg(&self) -> f64 {
        self.slope.atan().to_degrees()
    }

    /// Response at a frequency along the rows, cycles per pixel, with the difference filter corrected and, if wished, the
    /// bins' own box too.
    pub fn response(&self, cy_px: f64, correct_bins: bool) -> f64 {
        let box_of_bins = if correct_bins { sinc(cy_px / BINS) } else { 1.0 };
        self.modulus(cy_px) / self.modulus(0.0) * correction(cy_px) / box_of_bins
    }

    /// Response along the edge's normal.
    pub fn normal_response(&self, cy_px: f64) -> f64 {
        self.response(cy_px * self.slope.atan().cos(), true)
    }

    /// Lowest frequency along the normal at which the response falls to one half.
    pub fn mtf50(&self) -> Option<f64> {
        let step = 0.002;
        let n = (1..500).find(|&n| self.normal_response(f64::from(n) * step) < 0.5)?;
        let (a, b) = (f64::from(n - 1) * step, f64::from(n) * step);
        let (ra, rb) = (self.normal_response(a), self.normal_response(b));
        Some(a + (ra - 0.5) / (ra - rb) * step)
    }

    fn modulus(&self, cy_px: f64) -> f64 {
        let turn = 2.0 * PI * cy_px / BINS;
        let terms = self.record.iter().enumerate();
        let sum = terms.fold((0.0, 0.0), |s, (i, v)| {
            let (sin, cos) = (turn * i as f64).sin_cos();
            (s.0 + v * cos, s.1 + v * sin)
        });
        f64::hypot(sum.0, sum.1)
    }
}

/// What the difference of the neighbours on either side, two bins apart, loses against a derivative, turned over; no more
/// than tenfold.
pub fn correction(cy_px: f64) -> f64 {
    (1.0 / sinc(2.0 * cy_px / BINS)).min(10.0)
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-12 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

fn hamming(distance: f64, half: f64) -> f64 {
    if distance.abs() > half { 0.0 } else { 0.54 + 0.46 * (PI * distance / half).cos() }
}

/// Centroid of each row's differences under a window about the expected place.
fn centroids(rows: &[Vec<f64>], expected: &[f64]) -> Vec<(f64, f64)> {
    let of = |(r, row): (usize, &Vec<f64>)| {
        let half = row.len() as f64 / 2.0;
        let terms = (1..row.len() - 1).map(|c| {
            let weight =
                hamming(c as f64 - expected[r], half.min(expected[r].min(row.len() as f64 - expected[r]).max(4.0)));
            (c as f64, weight * (row[c + 1] - row[c - 1]) / 2.0)
        });
        let sums = terms.fold((0.0, 0.0), |s, (c, d)| (s.0 + c * d, s.1 + d));
        (r as f64, sums.0 / sums.1)
    };
    rows.iter().enumerate().map(of).collect()
}

fn fit(points: &[(f64, f64)]) -> (f64, f64) {
    let n = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let slope = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>()
        / points.iter().map(|p| (p.0 - mx).powi(2)).sum::<f64>();
    (slope, my - slope * mx)
}

/// Means in quarter-pixel bins of the distance from the line along the rows; empty bins take their neighbours' mean. Only
/// distances that every row reaches are kept.
fn binned(rows: &[Vec<f64>], (slope, start): (f64, f64), width: usize) -> Vec<f64> {
    let place = |r: usize| start + slope * r as f64;
    let ends = [place(0), place(rows.len() - 1)];
    let left = ends[0].min(ends[1]).floor();
    let right = (width as f64 - 1.0 - ends[0].max(ends[1])).floor();
    let count = ((left + right) * BINS) as usize;
    let mut sums = vec![(0.0, 0.0); count];
    for (r, row) in rows.iter().enumerate() {
        for (c, value) in row.iter().enumerate() {
            let bin = ((c as f64 - place(r) + left) * BINS).round();
            if bin >= 0.0 && (bin as usize) < count {
                let cell = &mut sums[bin as usize];
                *cell = (cell.0 + value, cell.1 + 1.0);
            }
        }
    }
    let value = |i: usize| (sums[i].1 > 0.0).then(|| sums[i].0 / sums[i].1);
    let near = |i: usize| {
        let before = (0..i).rev().find_map(value);
        let after = (i + 1..count).find_map(value);
        before.zip(after).map(|(a, b)| (a + b) / 2.0).or(before).or(after).unwrap_or(0.0)
    };
    (0..count).map(|i| value(i).unwrap_or_else(|| near(i))).collect()
}

fn differences(edge: &[f64]) -> Vec<f64> {
    (1..edge.len().saturating_sub(1)).map(|i| (edge[i + 1] - edge[i - 1]) / 2.0).collect()
}

/// Hamming window about the line spread's peak (its centroid's neighbourhood), as wide as fits on both sides.
fn windowed(spread: &[f64], window: Window) -> Vec<f64> {
    let top = (0..spread.len()).max_by(|&a, &b| spread[a].abs().total_cmp(&spread[b].abs())).unwrap_or(0);
    let half = top.min(spread.len() - 1 - top) as f64;
    let weight = |d: f64| match window {
        Window::Hamming => hamming(d, half),
        Window::Level => 1.0,
        Window::LevelInside if d.abs() <= half / 2.0 => 1.0,
        Window::LevelInside => 0.5 + 0.5 * (PI * (d.abs() / half - 0.5) * 2.0).min(PI).cos(),
    };
    spread.iter().enumerate().map(|(i, v)| v * weight(i as f64 - top as f64)).collect()
}
