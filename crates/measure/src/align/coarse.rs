//! Where the second frame may lie: every turn, every shift, on a small canvas.
//!
//! The second frame is turned step by step, and at each turn the normalised correlation of the two frames' gradient magnitudes is taken at
//! every shift at once, over what the frames share (D. Padfield, "Masked object registration in the Fourier domain", IEEE Trans. Image
//! Process. 21, 2012, equations 14 to 20). Gradients do not mind another exposure, nor a negative.

use fourier::{Complex32, Room, Square, smooth};

use super::grey::Halved;
use super::similarity::Similarity;

/// Canvas pixels along the longer side of the smaller of the two fields: enough to tell turns of 3° apart, few enough for a search of a second.
const SIDE: f64 = 48.0;
/// Step of the turn: half of it moves the smaller field's corner by less than a canvas pixel.
const TURN_STEP_DEG: f64 = 3.0;
/// Step of the scale, for the same reason.
const SCALE_STEP: f64 = 0.03;
/// The second frame at the smallest scale that is tried, against the one asked for.
const WIDEST: f64 = 1.1;
/// Of the smaller frame at least this share must lie in the other.
pub(super) const LEAST_SHARED: f64 = 0.3;
/// Candidates that are looked at more closely.
const KEPT: usize = 8;

/// A place that the second frame may lie at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Candidate {
    pub similarity: Similarity,
    /// Correlation, less the less the frames share.
    score: f64,
    turn_deg: f64,
    /// Shift on the canvas.
    shift: (f64, f64),
}

/// The search as it goes on.
pub(super) struct Search<'a> {
    second: &'a Halved,
    /// First-frame pixels to a canvas pixel.
    pixel: f64,
    transform: Square,
    room: Room,
    known: Spectra,
    least_shared: f64,
    kept: Vec<Candidate>,
}

impl<'a> Search<'a> {
    /// `scale` is in pixels of the second frame for one of the first; none that is tried is more than a tenth smaller.
    pub(super) fn new(first: &Halved, second: &'a Halved, scale: f64) -> Self {
        let side = |halved: &Halved| halved.level(0).width.max(halved.level(0).height) as f64;
        let diagonal = |halved: &Halved| (halved.level(0).width as f64).hypot(halved.level(0).height as f64);
        let pixel = side(first).min(side(second) / scale) / SIDE;
        let reach = (side(first) + WIDEST * diagonal(second) / scale) / pixel;
        let (transform, mut room) = (Square::new(smooth(reach.ceil() as usize + 2)), Room::default());
        let size = (first.level(0).width as f64 / pixel, first.level(0).height as f64 / pixel);

        let canvas = canvas(first, &Similarity::new(pixel, 0.0, (0.0, 0.0), false), whole(size));
        let least_shared = LEAST_SHARED * SIDE * SIDE * shape(first).min(shape(second));
        let known = Spectra::of(&transform, &canvas, &mut room);
        Self { second, pixel, transform, room, known, least_shared, kept: Vec::new() }
    }

    /// The turns and scales to be tried.
    pub(super) fn tries(scale: f64, relative: f64) -> Vec<(f64, f64)> {
        let steps = (relative / SCALE_STEP - 0.5).ceil().max(0.0) as i32;
        let scales = (-steps..=steps).map(|k| scale * (1.0 + SCALE_STEP * f64::from(k)));
        let turns = (360.0 / TURN_STEP_DEG) as i32;
        scales.flat_map(|scale| (0..turns).map(move |k| (scale, TURN_STEP_DEG * f64::from(k) - 180.0))).collect()
    }

    /// Tries one scale and turn at every shift.
    pub(super) fn try_at(&mut self, scale: f64, turn_deg: f64) {
        let frame = self.second.level(0);
        let (width, height) = (frame.width as f64, frame.height as f64);
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        let (sin, cos) = (sin.abs(), cos.abs());
        let on_canvas = scale * self.pixel;
        let size = ((width * cos + height * sin) / on_canvas, (width * sin + height * cos) / on_canvas);
        // The canvas's middle shows the frame's.
        let turned = Similarity::new(on_canvas, turn_deg, (0.0, 0.0), false);
        let moved = turned.to_second((size.0 / 2.0, size.1 / 2.0));
        let to_second = Similarity::new(on_canvas, turn_deg, (width / 2.0 - moved.0, height / 2.0 - moved.1), false);
        let spectra = Spectra::of(&self.transform, &canvas(self.second, &to_second, whole(size)), &mut self.room);
        let correlation = self.known.correlated(&self.transform, &spectra, self.least_shared, &mut self.room);
        for (score, shift) in peaks(&correlation, self.transform.size()) {
            // A place of the first canvas lies `shift` further than the same of the second.
            let origin = to_second.to_second((-shift.0, -shift.1));
            let similarity = Similarity::new(scale, turn_deg, origin, false);
            self.keep(Candidate { similarity, score, turn_deg, shift });
        }
    }

    /// The best so far, with those that only repeat a better one left out.
    fn keep(&mut self, new: Candidate) {
        let alike = |a: &Candidate, b: &Candidate| {
            let turn = (a.turn_deg - b.turn_deg).rem_euclid(360.0);
            let apart = (a.shift.0 - b.shift.0).hypot(a.shift.1 - b.shift.1);
            turn.min(360.0 - turn) <= 2.0 * TURN_STEP_DEG && apart <= 6.0
        };
        match self.kept.iter().position(|old| alike(old, &new)) {
            Some(at) if self.kept[at].score >= new.score => {}
            Some(at) => self.kept[at] = new,
            None => self.kept.push(new),
        }
        self.kept.sort_by(|a, b| b.score.total_cmp(&a.score));
        self.kept.truncate(KEPT);
    }

    pub(super) fn best(self) -> Vec<Candidate> {
        self.kept
    }
}

/// Height over width, or width over height: at most 1.
fn shape(halved: &Halved) -> f64 {
    let (width, height) = (halved.level(0).width as f64, halved.level(0).height as f64);
    width.min(height) / width.max(height)
}

fn whole(size: (f64, f64)) -> (usize, usize) {
    (size.0.ceil() as usize, size.1.ceil() as usize)
}

/// Gradient magnitudes of a frame on a canvas; nothing where the frame does not reach.
fn canvas(frame: &Halved, to_frame: &Similarity, (width, height): (usize, usize)) -> Canvas {
    // The level whose pixels are the largest that are no larger than the canvas's.
    let level = to_frame.scale().log2().floor().max(0.0) as usize;
    let level = level.min(frame.last());
    let share = 0.5_f64.powi(level as i32);
    let grey = frame.level(level);
    let tone = |column: f64, row: f64| {
        let (x, y) = to_frame.to_second((column + 0.5, row + 0.5));
        grey.between((x * share, y * share))
    };
    let slope = |k: usize| {
        let (column, row) = ((k % width) as f64, (k / width) as f64);
        let across = tone(column + 1.0, row)? - tone(column - 1.0, row)?;
        let down = tone(column, row + 1.0)? - tone(column, row - 1.0)?;
        // The root, so that one strong outline does not outweigh all fine structure.
        Some((across * across + down * down).sqrt().sqrt())
    };
    let mut slopes: Vec<Option<f32>> = (0..width * height).map(slope).collect();
    let known = slopes.iter().flatten().count().max(1) as f32;
    let mean = slopes.iter().flatten().sum::<f32>() / known;
    slopes.iter_mut().flatten().for_each(|slope| *slope -= mean);
    Canvas { width, slopes }
}

struct Canvas {
    width: usize,
    slopes: Vec<Option<f32>>,
}

/// Transforms of a canvas: itself, its square and where it is known.
struct Spectra {
    plain: Vec<Complex32>,
    square: Vec<Complex32>,
    known: Vec<Complex32>,
}

impl Spectra {
    fn of(transform: &Square, canvas: &Canvas, room: &mut Room) -> Self {
        let side = transform.size();
        let mut both = vec![Complex32::default(); side * side];
        let mut square = both.clone();
        for (k, slope) in canvas.slopes.iter().enumerate() {
            if let Some(slope) = slope {
                let at = k / canvas.width * side + k % canvas.width;
                (both[at], square[at]) = (Complex32::new(*slope, 1.0), Complex32::new(slope * slope, 0.0));
            }
        }
        let filled = canvas.slopes.len() / canvas.width;
        transform.there(&mut both, filled, room);
        transform.there(&mut square, filled, room);
        let (plain, known) = apart(&both, side);
        Self { plain, square, known }
    }

    /// The correlation at every shift; negative infinity where too little is shared.
    fn correlated(&self, transform: &Square, other: &Self, least_shared: f64, room: &mut Room) -> Vec<f64> {
        let share = 1.0 / self.plain.len() as f64;
        let mut with = |a: &[Complex32], b: &[Complex32], c: &[Complex32], d: &[Complex32]| {
            let pairs = a.iter().zip(b).zip(c.iter().zip(d));
            let mut grid: Vec<Complex32> =
                pairs.map(|((a, b), (c, d))| a * b.conj() + c * d.conj() * Complex32::i()).collect();
            transform.back(&mut grid, room);
            grid
        };
        let products = with(&self.plain, &other.plain, &self.known, &other.known);
        let sums = with(&self.plain, &other.known, &self.known, &other.plain);
        let squares = with(&self.square, &other.known, &self.known, &other.square);
        let full = transform.size() as f64;
        let parts = |z: &Complex32| (share * f64::from(z.re), share * f64::from(z.im));
        let at = |k: usize| {
            let (product, shared) = parts(&products[k]);
            if shared < least_shared.max(full) {
                return f64::NEG_INFINITY;
            }
            let ((first, second), (firsts, seconds)) = (parts(&sums[k]), parts(&squares[k]));
            let covariance = product - first * second / shared;
            let spread = (firsts - first * first / shared) * (seconds - second * second / shared);
            // Below, nothing is left but what single precision leaves.
            let correlation = if spread > 1e-8 * firsts * seconds { covariance / spread.sqrt() } else { 0.0 };
            // A small share correlates by chance more easily.
            correlation * (shared / least_shared).sqrt()
        };
        (0..products.len()).map(at).collect()
    }
}

/// The transforms of the real and of the imaginary part of what was transformed together.
fn apart(both: &[Complex32], side: usize) -> (Vec<Complex32>, Vec<Complex32>) {
    let opposite = |k: usize| {
        let (column, row) = (k % side, k / side);
        both[(side - row) % side * side + (side - column) % side]
    };
    let split = |k: usize| {
        let (a, b) = (both[k], opposite(k).conj());
        ((a + b) * 0.5, (a - b) * Complex32::new(0.0, -0.5))
    };
    (0..both.len()).map(split).unzip()
}

/// The two highest peaks that lie apart, with their shifts.
fn peaks(correlation: &[f64], side: usize) -> Vec<(f64, (f64, f64))> {
    let shift = |k: usize| {
        let signed = |at: usize| if at > side / 2 { at as f64 - side as f64 } else { at as f64 };
        (signed(k % side), signed(k / side))
    };
    let highest = |far_from: Option<(f64, f64)>| {
        let counts = |k: &usize| far_from.is_none_or(|p| (shift(*k).0 - p.0).hypot(shift(*k).1 - p.1) > 6.0);
        (0..correlation.len())
            .filter(counts)
            .max_by(|a, b| correlation[*a].total_cmp(&correlation[*b]))
            .filter(|k| correlation[*k].is_finite())
    };
    let first = highest(None);
    let second = first.and_then(|k| highest(Some(shift(k))));
    first.into_iter().chain(second).map(|k| (correlation[k], shift(k))).collect()
}
