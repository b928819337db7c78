//! From scene and capture to a 16-bit scan.
//!
//! The frame is made in bands of rows, so that memory does not grow with its height. In each band and colour the
//! shapes are painted by exact coverage on cells a third of a pixel wide; the blur then runs over the cells, along the
//! columns and along the rows, and gathers them into pixels on the way. A blur that differs along and across the
//! radius needs a third pass along one diagonal: every covariance that is not too narrow is the sum of one along x,
//! one along y and one along (1, 1) or (1, -1).

use crate::blur::{Kernels, OVERSAMPLING};
use crate::capture::{Capture, Channel};
use crate::grain::GrainField;
use crate::raster::Coverage;
use crate::shade::Paint;
use crate::shape::{Point, Scene};
use planes::{Encoded, Linear, LumaWeights, Picture, Plane, Region, ShapeError, ToneCurve, srgb_encode};
use std::ops::ControlFlow;

/// Rows of pixels made at once: few enough that a band stays near the processor, enough that the rows which
/// neighbouring bands both need cost little.
const BAND_ROWS: usize = 48;
/// Cells that share one kernel in the passes over the fine grid; five pixels, over which no blur changes visibly.
const BLOCK: usize = 16;
/// Pixels that share one kernel in the last pass, for the same reason.
const SHARED_PX: usize = 5;
/// Cells between which a body's shading is interpolated.
const SHADE_STEP: usize = 4;
/// Share of a cell by which a flattened curve may leave the true one.
const FLATNESS: f64 = 0.02;

/// A finished scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Rendered {
    /// Columns.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Red, green and blue of each pixel, row by row, encoded by the sRGB curve to 0 ..= 65 535.
    pub samples: Vec<u16>,
}

impl Rendered {
    /// A region as encoded planes, the way a reader of the file would see it. `None` outside the scan.
    pub fn encoded(&self, region: Region) -> Option<Result<Picture<Encoded>, ShapeError>> {
        region.lies_within(self.width, self.height).then(|| {
            let plane = |channel: usize| {
                Plane::from_fn(region.width as usize, region.height as usize, |c, r| {
                    let pixel = (region.y as usize + r) * self.width as usize + region.x as usize + c;
                    f32::from(self.samples[3 * pixel + channel]) / 65_535.0
                })
            };
            Picture::rgb([plane(0)?, plane(1)?, plane(2)?], LumaWeights::SRGB)
        })
    }

    /// A region in linear light. `None` outside the scan.
    pub fn linear(&self, region: Region) -> Option<Result<Picture<Linear>, ShapeError>> {
        self.encoded(region).map(|picture| picture.map(|p| ToneCurve::Srgb.to_linear(&p)))
    }

    /// The whole scan as a region.
    pub fn whole(&self) -> Region {
        Region { x: 0, y: 0, width: self.width, height: self.height }
    }
}

/// Draws the whole scan in memory. `progress` is told the share that is done and may stop the work: then `None`.
pub fn render(scene: &Scene, capture: &Capture, progress: &mut dyn FnMut(f64) -> ControlFlow<()>) -> Option<Rendered> {
    let settings = capture.settings();
    let (width, height) = (settings.width_px, settings.height_px);
    let mut samples = Vec::with_capacity(3 * width as usize * height as usize);
    let mut done = 0.0;
    let outcome = render_rows(scene, capture, &mut |rows| {
        samples.extend_from_slice(rows);
        done += rows.len() as f64;
        progress(done / (3.0 * f64::from(width) * f64::from(height)))
    });
    outcome.is_continue().then_some(Rendered { width, height, samples })
}

/// Draws the scan band by band from the top and hands over whole rows (red, green, blue of each pixel, sRGB-encoded).
/// `sink` may stop the work.
pub fn render_rows(
    scene: &Scene,
    capture: &Capture,
    sink: &mut dyn FnMut(&[u16]) -> ControlFlow<()>,
) -> ControlFlow<()> {
    let mut bands = Bands::new(scene, capture);
    let finish = Finish::new(scene, capture);
    let height = capture.settings().height_px as usize;
    for first in (0..height).step_by(BAND_ROWS) {
        let rows = BAND_ROWS.min(height - first);
        let light = Channel::ALL.map(|channel| bands.light(channel, first, rows));
        sink(&finish.encode(&light, first, rows))?;
    }
    ControlFlow::Continue(())
}

/// The light that glare adds everywhere, for red, green and blue, before the exposure: the stated share of the mean
/// over the frame, fall-off included.
pub(crate) fn glare_light(scene: &Scene, capture: &Capture) -> [f64; 3] {
    let share = capture.settings().veiling_glare;
    if share == 0.0 {
        return [0.0; 3];
    }
    Channel::ALL.map(|channel| share * mean_light(scene, capture, channel))
}

/// Cells along the longer side of the coarse grid on which the mean is taken. Coverage is exact on any grid; only the
/// shading within a cell is lost.
const COARSE_CELLS: f64 = 256.0;

fn mean_light(scene: &Scene, capture: &Capture, channel: Channel) -> f64 {
    let settings = capture.settings();
    let (width, height) = (f64::from(settings.width_px), f64::from(settings.height_px));
    let per_pixel = COARSE_CELLS / width.max(height);
    let (columns, rows) = ((width * per_pixel).ceil(), (height * per_pixel).ceil());
    let grid = Grid { capture, channel, cells_per_pixel: [columns / width, rows / height], margin: 0 };
    let mut canvas = Canvas::new(columns as usize, rows as usize);
    canvas.paint(&grid, &grid.flatten(scene), scene.background.0[channel.index()], 0, rows as usize);
    let falloff = |i: usize| {
        let cell = Point::new((i % columns as usize) as f64 + 0.5, (i / columns as usize) as f64 + 0.5);
        let pixel = Point::new(cell.x * width / columns, cell.y * height / rows);
        capture.falloff_at(capture.pixel_to_film(pixel))
    };
    let sum: f64 = canvas.cells.iter().enumerate().map(|(i, &light)| f64::from(light) * falloff(i)).sum();
    sum / canvas.cells.len() as f64
}

/// A grid of cells laid over the scan, as one colour sees the scene.
struct Grid<'a> {
    capture: &'a Capture,
    channel: Channel,
    cells_per_pixel: [f64; 2],
    /// Cells that the grid extends beyond the scan on the left.
    margin: usize,
}

/// A shape ready to be painted: its corners in cells, its rows, its filling.
struct Flattened<'a> {
    corners: Vec<[f64; 2]>,
    top: f64,
    bottom: f64,
    paint: &'a Paint,
}

impl Grid<'_> {
    fn to_cell(&self, subject: Point) -> [f64; 2] {
        let pixel = self.capture.to_pixel(self.channel, subject);
        [pixel.x * self.cells_per_pixel[0] + self.margin as f64, pixel.y * self.cells_per_pixel[1]]
    }

    /// The subject's place under a point given in cells.
    fn to_subject(&self, cell: [f64; 2]) -> Point {
        let x = (cell[0] - self.margin as f64) / self.cells_per_pixel[0];
        let film = self.capture.pixel_to_film(Point::new(x, cell[1] / self.cells_per_pixel[1]));
        self.capture.to_subject(self.channel, film)
    }

    fn flatten<'s>(&self, scene: &'s Scene) -> Vec<Flattened<'s>> {
        let settings = self.capture.settings();
        let cells_per_mm =
            self.cells_per_pixel[0].max(self.cells_per_pixel[1]) * settings.magnification / self.capture.pitch_mm();
        let flat = |shape: &'s crate::shape::Shape| {
            let corners = shape.outline.flattened(FLATNESS / cells_per_mm);
            let corners: Vec<[f64; 2]> = corners.into_iter().map(|p| self.to_cell(p)).collect();
            let rows = corners.iter().map(|c| c[1]);
            let (top, bottom) = (rows.clone().fold(f64::MAX, f64::min), rows.fold(f64::MIN, f64::max));
            Flattened { corners, top, bottom, paint: &shape.paint }
        };
        scene.shapes.iter().map(flat).collect()
    }
}

/// A band of cells of one colour.
struct Canvas {
    width: usize,
    cells: Vec<f32>,
    coverage: Coverage,
    shades: Vec<(f32, f32)>,
}

impl Canvas {
    fn new(width: usize, rows: usize) -> Self {
        Self { width, cells: vec![0.0; width * rows], coverage: Coverage::new(width, rows), shades: Vec::new() }
    }

    /// Paints all that falls on `rows` rows from row `first` of the grid (which may be negative).
    fn paint(&mut self, grid: &Grid, shapes: &[Flattened], background: f32, first: i64, rows: usize) {
        self.cells[..self.width * rows].fill(background);
        let (top, bottom) = (first as f64, (first + rows as i64) as f64);
        for shape in shapes.iter().filter(|s| s.bottom > top && s.top < bottom) {
            self.coverage.add(shape.corners.iter().map(|c| [c[0], c[1] - top]));
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

/// Makes bands of blurred light.
struct Bands<'a> {
    scene: &'a Scene,
    capture: &'a Capture,
    gathering: Kernels,
    diagonal: Option<Kernels>,
    shapes: [Vec<Flattened<'a>>; 3],
    margin: usize,
    canvas: Canvas,
    slanted: Vec<f32>,
    gathered: Vec<f32>,
}

impl<'a> Bands<'a> {
    fn new(scene: &'a Scene, capture: &'a Capture) -> Self {
        let cells = OVERSAMPLING as f64;
        let (broadest, slant) = capture.broadest_sigmas_px();
        let gathering = Kernels::gathering(broadest * cells);
        let diagonal = (slant > 0.0).then(|| Kernels::plain(slant * cells));
        let margin = gathering.reach() + diagonal.as_ref().map_or(0, Kernels::reach);
        let settings = capture.settings();
        let width = settings.width_px as usize * OVERSAMPLING + 2 * margin;
        let rows = BAND_ROWS.min(settings.height_px as usize) * OVERSAMPLING + 2 * margin;
        let grid = |channel| Grid { capture, channel, cells_per_pixel: [cells; 2], margin };
        Self {
            shapes: Channel::ALL.map(|channel| grid(channel).flatten(scene)),
            scene,
            capture,
            gathering,
            margin,
            canvas: Canvas::new(width, rows),
            slanted: if diagonal.is_some() { vec![0.0; width * rows] } else { Vec::new() },
            gathered: vec![0.0; width * BAND_ROWS],
            diagonal,
        }
    }

    /// Blurred light of one colour, fall-off included, in `rows` rows from `first` on.
    fn light(&mut self, channel: Channel, first: usize, rows: usize) -> Vec<f32> {
        let grid =
            Grid { capture: self.capture, channel, cells_per_pixel: [OVERSAMPLING as f64; 2], margin: self.margin };
        let top = (first * OVERSAMPLING) as i64 - self.margin as i64;
        let cell_rows = rows * OVERSAMPLING + 2 * self.margin;
        let background = self.scene.background.0[channel.index()];
        self.canvas.paint(&grid, &self.shapes[channel.index()], background, top, cell_rows);
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
                let slant = self.capture.spread(channel, middle).xy;
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
                let spread = self.capture.spread(channel, middle);
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
                let spread = self.capture.spread(channel, place(0.5 * (from + to) as f64));
                let kernel = self.gathering.of_variance((spread.xx - spread.xy.abs()) * per_cell);
                light.extend((from..to).map(|column| {
                    let start = column * OVERSAMPLING + self.margin - kernel.before;
                    let falloff = self.capture.falloff_at(place(column as f64 + 0.5));
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

/// From light to samples: glare, exposure, grain, clipping, encoding.
struct Finish {
    glare: [f64; 3],
    exposure: f64,
    density_sd: f64,
    grain: GrainField,
    width: usize,
    curve: EncodingTable,
}

impl Finish {
    fn new(scene: &Scene, capture: &Capture) -> Self {
        let s = capture.settings();
        Self {
            glare: glare_light(scene, capture),
            exposure: capture.exposure(),
            density_sd: s.grain.density_sd,
            grain: GrainField::new(s.seed, s.grain.correlation_um / s.pitch_um),
            width: s.width_px as usize,
            curve: EncodingTable::new(),
        }
    }

    fn encode(&self, light: &[Vec<f32>; 3], first: usize, rows: usize) -> Vec<u16> {
        let mut samples = vec![0u16; 3 * rows * self.width];
        for (channel, light) in light.iter().enumerate() {
            let grain = (self.density_sd > 0.0).then(|| self.grain.rows(channel, first, rows, self.width));
            for (i, &light) in light.iter().enumerate() {
                let exposed = (f64::from(light) + self.glare[channel]) * self.exposure;
                let exposed = grain.as_ref().map_or(exposed, |g| exposed * self.grain_factor(g[i]));
                samples[3 * i + channel] = self.curve.encode(exposed);
            }
        }
        samples
    }

    /// Ten to the density, divided by its mean so that grain neither brightens nor darkens.
    fn grain_factor(&self, normal: f32) -> f64 {
        let sd = std::f64::consts::LN_10 * self.density_sd;
        (sd * f64::from(normal) - 0.5 * sd * sd).exp()
    }
}

/// The sRGB curve by straight pieces over the square root of light, whose errors stay below a hundredth of a step.
struct EncodingTable {
    values: Vec<f32>,
}

const ENCODING_PIECES: usize = 8192;

impl EncodingTable {
    fn new() -> Self {
        let value = |i: usize| {
            let root = i as f64 / ENCODING_PIECES as f64;
            (srgb_encode(root * root) * 65_535.0) as f32
        };
        Self { values: (0..=ENCODING_PIECES + 1).map(value).collect() }
    }

    fn encode(&self, light: f64) -> u16 {
        let at = light.clamp(0.0, 1.0).sqrt() * ENCODING_PIECES as f64;
        let piece = at as usize;
        let (a, b) = (self.values[piece], self.values[piece + 1]);
        // Adding one half and cutting off rounds; the conversion saturates.
        (a + (b - a) * (at - piece as f64) as f32 + 0.5) as u16
    }
}
