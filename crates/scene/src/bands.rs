//! Bands of blurred light, in three passes over the cells: one diagonal, the columns, the rows.

use crate::blur::{Kernels, OVERSAMPLING};
use crate::canvas::{Canvas, Flattened, Grid};
use crate::capture::Capture;
use crate::point_spread::{BLOCK_PX, Convolution, FittedSpreads};
use crate::relief::Relief;
use crate::settings::Channel;
use crate::shape::{Point, Scene};

/// Rows of pixels made at once: few enough that a band stays near the processor, enough that the rows which
/// neighbouring bands both need cost little.
const BAND_ROWS: usize = 48;
/// Cells that share one kernel in the passes over the fine grid; five pixels, over which no blur changes visibly.
const BLOCK: usize = 16;
/// Pixels that share one kernel in the last pass, for the same reason.
const SHARED_PX: usize = 5;

/// Makes bands of blurred light.
pub(crate) struct Bands<'a> {
    scene: &'a Scene,
    capture: &'a Capture,
    relief: Relief,
    gathering: Kernels,
    diagonal: Option<Kernels>,
    shapes: [Vec<Flattened<'a>>; 3],
    margin: usize,
    through: Option<Convolution<'a>>,
    canvas: Canvas,
    slanted: Vec<f32>,
    gathered: Vec<f32>,
}

impl<'a> Bands<'a> {
    /// With blur of any shape in front of the capture's own, where that is given.
    pub fn new(scene: &'a Scene, capture: &'a Capture, through: Option<FittedSpreads<'a>>) -> Self {
        let cells = OVERSAMPLING as f64;
        let relief = Relief::new(scene, capture);
        let (broadest, slant) = relief.broadest_sigmas_px();
        let gathering = Kernels::gathering(broadest * cells);
        let diagonal = (slant > 0.0).then(|| Kernels::plain(slant * cells));
        let beyond = gathering.reach() + diagonal.as_ref().map_or(0, Kernels::reach);
        let through = through.map(|spreads| Convolution::new(spreads, capture, beyond));
        let margin = beyond + through.as_ref().map_or(0, |through| through.reach);
        let band_rows = if through.is_some() { BLOCK_PX } else { BAND_ROWS };
        let settings = capture.settings();
        let width = settings.width_px as usize * OVERSAMPLING + 2 * margin;
        let rows = band_rows.min(settings.height_px as usize) * OVERSAMPLING + 2 * margin;
        let grid = |channel| Grid { capture, channel, cells_per_pixel: [cells; 2], margin };
        Self {
            shapes: Channel::ALL.map(|channel| grid(channel).flatten(scene)),
            scene,
            capture,
            relief,
            gathering,
            margin,
            canvas: Canvas::new(width, rows),
            slanted: if diagonal.is_some() { vec![0.0; width * rows] } else { Vec::new() },
            gathered: vec![0.0; width * band_rows],
            diagonal,
            through,
        }
    }

    /// Rows of pixels that are made at once.
    pub fn band_rows(&self) -> usize {
        if self.through.is_some() { BLOCK_PX } else { BAND_ROWS }
    }

    /// Blurred light of one colour, fall-off included, in `rows` rows from `first` on.
    pub fn light(&mut self, channel: Channel, first: usize, rows: usize) -> Vec<f32> {
        let grid =
            Grid { capture: self.capture, channel, cells_per_pixel: [OVERSAMPLING as f64; 2], margin: self.margin };
        let top = (first * OVERSAMPLING) as i64 - self.margin as i64;
        let cell_rows = rows * OVERSAMPLING + 2 * self.margin;
        let background = self.scene.background.0[channel.index()];
        self.canvas.paint(&grid, &self.shapes[channel.index()], background, top, cell_rows);
        if let Some(through) = &self.through {
            through.apply(&mut self.canvas, channel, first, rows);
        }
        if self.diagonal.is_some() {
            self.blur_diagonally(channel, top, cell_rows);
        }
        self.gather_columns(channel, first, rows);
        self.gather_rows(channel, first, rows)
    }

    fn film_at_cell(&self, x: f64, y: f64) -> Point {
        let cells = OVERSAMPLING as f64;
        self.capture.pixel_to_film(Point::new((x - self.margin as f64) / cells, y / cells))
    }

    /// The pass along (1, 1) or (1, -1), cells to cells. Rows and columns closer to the border than the kernel reaches
    /// keep their value: they serve only as surroundings.
    fn blur_diagonally(&mut self, channel: Channel, top: i64, cell_rows: usize) {
        let Some(kernels) = &self.diagonal else { return };
        let (width, reach) = (self.canvas.width, kernels.reach());
        let per_cell = (OVERSAMPLING * OVERSAMPLING) as f64;
        let source = &self.canvas.cells;
        let mut result = std::mem::take(&mut self.slanted);
        result[..width * cell_rows].copy_from_slice(&source[..width * cell_rows]);
        for row in reach..cell_rows - reach {
            for from in (reach..width - reach).step_by(BLOCK) {
                let to = (from + BLOCK).min(width - reach);
                let middle = self.film_at_cell(0.5 * (from + to) as f64, (top + row as i64) as f64 + 0.5);
                let slant = self.relief.drawn(channel, middle).xy;
                let kernel = kernels.of_variance(slant.abs() * per_cell);
                // From cell to cell of the diagonal: a row on, and a column to the right or to the left.
                let (start, stride) =
                    if slant > 0.0 { (from - kernel.before, width + 1) } else { (from + kernel.before, width - 1) };
                let out = &mut result[row * width + from..row * width + to];
                gather_block(out, &source[(row - kernel.before) * width + start..], stride, &kernel.weights);
            }
        }
        self.slanted = std::mem::replace(&mut self.canvas.cells, result);
    }

    /// The pass along the columns: rows of cells to rows of pixels, still cells wide.
    fn gather_columns(&mut self, channel: Channel, first: usize, rows: usize) {
        let width = self.canvas.width;
        let per_cell = (OVERSAMPLING * OVERSAMPLING) as f64;
        let mut gathered = std::mem::take(&mut self.gathered);
        for row in 0..rows {
            let middle_row = ((first + row) * OVERSAMPLING) as f64 + 0.5 * OVERSAMPLING as f64;
            let first_cell_row = row * OVERSAMPLING + self.margin;
            for from in (0..width).step_by(BLOCK) {
                let to = (from + BLOCK).min(width);
                let middle = self.film_at_cell(0.5 * (from + to) as f64, middle_row);
                let spread = self.relief.drawn(channel, middle);
                let kernel = self.gathering.of_variance((spread.yy - spread.xy.abs()) * per_cell);
                let out = &mut gathered[row * width + from..row * width + to];
                let start = (first_cell_row - kernel.before) * width + from;
                gather_block(out, &self.canvas.cells[start..], width, &kernel.weights);
            }
        }
        self.gathered = gathered;
    }

    /// The pass along the rows: to pixels, with the fall-off.
    fn gather_rows(&self, channel: Channel, first: usize, rows: usize) -> Vec<f32> {
        let width = self.canvas.width;
        let columns = self.capture.settings().width_px as usize;
        let per_cell = (OVERSAMPLING * OVERSAMPLING) as f64;
        let mut light = Vec::with_capacity(rows * columns);
        for row in 0..rows {
            let cells = &self.gathered[row * width..(row + 1) * width];
            for from in (0..columns).step_by(SHARED_PX) {
                let to = (from + SHARED_PX).min(columns);
                let place = |column: f64| self.capture.pixel_to_film(Point::new(column, (first + row) as f64 + 0.5));
                let spread = self.relief.drawn(channel, place(0.5 * (from + to) as f64));
                let kernel = self.gathering.of_variance((spread.xx - spread.xy.abs()) * per_cell);
                light.extend((from..to).map(|column| {
                    let start = column * OVERSAMPLING + self.margin - kernel.before;
                    let place = place(column as f64 + 0.5);
                    let arrives = self.through.as_ref().map_or(1.0, |through| through.light_at(place));
                    let falloff = self.capture.falloff_at(place) * arrives;
                    weighted_sum(&kernel.weights, &cells[start..]) * falloff as f32
                }));
            }
        }
        light
    }
}

/// In eight sums side by side, which the processor works on at once.
fn weighted_sum(weights: &[f32], cells: &[f32]) -> f32 {
    const LANES: usize = 8;
    let mut sums = [0.0f32; LANES];
    let (full, rest) = weights.as_chunks::<LANES>();
    let (cells, beyond) = cells[..weights.len()].as_chunks::<LANES>();
    for (weights, cells) in full.iter().zip(cells) {
        (0..LANES).for_each(|i| sums[i] += weights[i] * cells[i]);
    }
    let tail: f32 = rest.iter().zip(beyond).map(|(w, c)| w * c).sum();
    sums.iter().sum::<f32>() + tail
}

fn add_scaled(out: &mut [f32], source: &[f32], weight: f32) {
    for (out, source) in out.iter_mut().zip(source) {
        *out += weight * source;
    }
}

/// A full block in registers, or what is left of one at the end of a row.
fn gather_block(out: &mut [f32], source: &[f32], stride: usize, weights: &[f32]) {
    let Ok(block) = <&mut [f32; BLOCK]>::try_from(&mut *out) else {
        out.fill(0.0);
        weights.iter().enumerate().for_each(|(k, &weight)| add_scaled(out, &source[k * stride..], weight));
        return;
    };
    let mut sums = [0.0f32; BLOCK];
    for (k, &weight) in weights.iter().enumerate() {
        let line = &source[k * stride..k * stride + BLOCK];
        sums.iter_mut().zip(line).for_each(|(sum, cell)| *sum += weight * cell);
    }
    *block = sums;
}
