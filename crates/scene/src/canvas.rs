//! Shapes painted onto a grid of cells, as one colour sees them through the capture's geometry.

use crate::capture::Capture;
use crate::outline::{Outline, Raised, clipped};
use crate::raster::Coverage;
use crate::settings::Channel;
use crate::shade::Paint;
use crate::shape::{Point, Scene};

/// Cells between which a body's shading is interpolated.
const SHADE_STEP: usize = 4;
/// Share of a cell by which a flattened curve may leave the true one.
const FLATNESS: f64 = 0.02;
/// Pieces of one bent side, at most.
const MOST_PIECES: f64 = 400.0;

/// A grid of cells laid over the scan, as one colour sees the scene.
pub(crate) struct Grid<'a> {
    pub capture: &'a Capture,
    pub channel: Channel,
    pub cells_per_pixel: [f64; 2],
    /// Cells that the grid extends beyond the scan on the left.
    pub margin: usize,
}

/// A shape ready to be painted: its corners in cells, its rows, its filling.
pub(crate) struct Flattened<'a> {
    polygons: Vec<Vec<[f64; 2]>>,
    top: f64,
    bottom: f64,
    paint: &'a Paint,
}

impl Grid<'_> {
    fn to_cell(&self, corner: Raised) -> [f64; 2] {
        let pixel = self.capture.to_pixel_at(self.channel, corner.at, corner.height_mm);
        [pixel.x * self.cells_per_pixel[0] + self.margin as f64, pixel.y * self.cells_per_pixel[1]]
    }

    /// A polygon in cells, with as many corners more as distortion bends its sides.
    fn polygon(&self, corners: &[Raised], cells_per_mm: f64) -> Vec<[f64; 2]> {
        let capture = self.capture;
        let shares_per_mm = capture.settings().magnification / capture.corner_mm();
        let tolerance = FLATNESS / cells_per_mm * shares_per_mm;
        let mut cells = Vec::with_capacity(corners.len());
        for (i, &from) in corners.iter().enumerate() {
            cells.push(self.to_cell(from));
            let to = corners[(i + 1) % corners.len()];
            let bend = capture.geometry().bend((to.at - from.at).length() * shares_per_mm);
            let pieces = (bend / tolerance).sqrt().ceil().min(MOST_PIECES) as usize;
            cells.extend((1..pieces).map(|piece| {
                let share = piece as f64 / pieces as f64;
                let height_mm = from.height_mm + (to.height_mm - from.height_mm) * share;
                self.to_cell(Raised { at: from.at + (to.at - from.at) * share, height_mm })
            }));
        }
        cells
    }

    /// The subject's place under a point given in cells.
    fn to_subject(&self, cell: [f64; 2]) -> Point {
        let x = (cell[0] - self.margin as f64) / self.cells_per_pixel[0];
        let film = self.capture.pixel_to_film(Point::new(x, cell[1] / self.cells_per_pixel[1]));
        self.capture.to_subject(self.channel, film)
    }

    pub fn flatten<'s>(&self, scene: &'s Scene) -> Vec<Flattened<'s>> {
        let settings = self.capture.settings();
        let cells_per_mm =
            self.cells_per_pixel[0].max(self.cells_per_pixel[1]) * settings.magnification / self.capture.pitch_mm();
        let flat = |shape: &'s crate::shape::Shape| {
            let polygons = shape.outline.flattened(FLATNESS / cells_per_mm);
            let polygons = polygons.iter().map(|corners| self.polygon(corners, cells_per_mm));
            let polygons: Vec<Vec<[f64; 2]>> = match &shape.outline {
                Outline::Raised { through: Some(opening), .. } => {
                    let opening: Vec<[f64; 2]> =
                        opening.iter().map(|&at| self.to_cell(Raised { at, height_mm: 0.0 })).collect();
                    polygons.map(|polygon| clipped(polygon, &opening)).collect()
                }
                _ => polygons.collect(),
            };
            let rows = polygons.iter().flatten().map(|c| c[1]);
            let (top, bottom) = (rows.clone().fold(f64::MAX, f64::min), rows.fold(f64::MIN, f64::max));
            Flattened { polygons, top, bottom, paint: &shape.paint }
        };
        scene.shapes.iter().map(flat).collect()
    }
}

/// A band of cells of one colour.
pub(crate) struct Canvas {
    pub width: usize,
    pub cells: Vec<f32>,
    coverage: Coverage,
    shades: Vec<(f32, f32)>,
}

impl Canvas {
    pub fn new(width: usize, rows: usize) -> Self {
        Self { width, cells: vec![0.0; width * rows], coverage: Coverage::new(width, rows), shades: Vec::new() }
    }

    /// Paints all that falls on `rows` rows from row `first` of the grid (which may be negative).
    pub fn paint(&mut self, grid: &Grid, shapes: &[Flattened], background: f32, first: i64, rows: usize) {
        self.cells[..self.width * rows].fill(background);
        let (top, bottom) = (first as f64, (first + rows as i64) as f64);
        for shape in shapes.iter().filter(|s| s.bottom > top && s.top < bottom) {
            for polygon in &shape.polygons {
                self.coverage.add(polygon.iter().map(|c| [c[0], c[1] - top]));
            }
            let Self { width, cells, coverage, shades } = self;
            coverage.sweep(|row, from, covered| {
                if row >= rows {
                    return;
                }
                let cells = &mut cells[row * *width + from..][..covered.len()];
                match shape.paint.even() {
                    Some((colour, cover)) => fill(cells, covered, colour[grid.channel.index()], cover),
                    None => {
                        shade_row(grid, shape.paint, from, first + row as i64, covered.len(), shades);
                        fill_shaded(cells, covered, from, shades);
                    }
                }
            });
        }
    }
}

fn fill(cells: &mut [f32], covered: &[f32], light: f32, cover: f32) {
    for (cell, covered) in cells.iter_mut().zip(covered) {
        *cell += (light - *cell) * (covered * cover);
    }
}

/// The filling at every `SHADE_STEP`-th cell of a row, from the last such cell before `from` on.
fn shade_row(grid: &Grid, paint: &Paint, from: usize, row: i64, count: usize, shades: &mut Vec<(f32, f32)>) {
    let first = from / SHADE_STEP;
    let last = (from + count) / SHADE_STEP + 1;
    shades.clear();
    shades.extend((first..=last).map(|knot| {
        let cell = [(knot * SHADE_STEP) as f64 + 0.5, row as f64 + 0.5];
        let (colour, cover) = paint.at(grid.to_subject(cell));
        (colour[grid.channel.index()], cover)
    }));
}

fn fill_shaded(cells: &mut [f32], covered: &[f32], from: usize, shades: &[(f32, f32)]) {
    let skipped = from % SHADE_STEP;
    for (i, (cell, covered)) in cells.iter_mut().zip(covered).enumerate() {
        let (knot, between) = ((i + skipped) / SHADE_STEP, (i + skipped) % SHADE_STEP);
        let share = between as f32 / SHADE_STEP as f32;
        let (a, b) = (shades[knot], shades[knot + 1]);
        let (light, cover) = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
        *cell += (light - *cell) * (covered * cover);
    }
}
