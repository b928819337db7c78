//! The picture along a line: samples at any place beside it, and profiles averaged across a band.

use std::sync::OnceLock;

use planes::{Linear, Plane};

/// A line on a picture. Places on it are given by `s`, pixels from its first end, and `t`, pixels to its side.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Course<'a> {
    plane: &'a Plane<Linear>,
    from: (f64, f64),
    unit: (f64, f64),
    /// Length, pixels.
    pub(crate) length: f64,
}

/// How to read between pixels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Reading {
    /// Between the four neighbours; enough for marks that are many pixels wide.
    Linear,
    /// Windowed sinc over six pixels (Lanczos, a = 3): straight lines between pixels would shift marks that are three
    /// pixels apart by a tenth of a pixel, this by a hundredth.
    Fine,
}

/// Rows of a band across the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Band {
    /// From and to, pixels to the side.
    pub(crate) side: (f64, f64),
    /// Step between rows, pixels.
    pub(crate) step: f64,
    /// How far marks lean: pixels along the line for each pixel to the side.
    pub(crate) lean: f64,
}

impl<'a> Course<'a> {
    pub(crate) fn new(plane: &'a Plane<Linear>, from: (f64, f64), to: (f64, f64)) -> Self {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        Self { plane, from, unit: (dx / length, dy / length), length }
    }

    /// The place in the picture's pixels.
    pub(crate) fn place(&self, s: f64, t: f64) -> (f64, f64) {
        (self.from.0 + s * self.unit.0 - t * self.unit.1, self.from.1 + s * self.unit.1 + t * self.unit.0)
    }

    /// True when that place lies on the picture.
    pub(crate) fn inside(&self, s: f64, t: f64) -> bool {
        let (x, y) = self.place(s, t);
        (0.0..=self.plane.width() as f64).contains(&x) && (0.0..=self.plane.height() as f64).contains(&y)
    }

    /// Light at a place; the outermost pixels stand for what lies beyond.
    pub(crate) fn light(&self, s: f64, t: f64, reading: Reading) -> f64 {
        let (x, y) = self.place(s, t);
        match reading {
            Reading::Linear => self.weighted(x, y, |d| [1.0 - d, d], 0),
            Reading::Fine => self.weighted(x, y, lanczos, 2),
        }
    }

    /// Sum over the N x N pixels whose first lies `before` pixels before the place.
    fn weighted<const N: usize>(&self, x: f64, y: f64, weights: impl Fn(f64) -> [f64; N], before: i64) -> f64 {
        let (x, y) = (x - 0.5, y - 0.5);
        let (wx, wy) = (weights(x - x.floor()), weights(y - y.floor()));
        let (column, row) = (x.floor() as i64 - before, y.floor() as i64 - before);
        let last = (self.plane.width() as i64 - 1, self.plane.height() as i64 - 1);
        let mut sum = 0.0;
        for (j, wy) in wy.iter().enumerate() {
            let samples = self.plane.row((row + j as i64).clamp(0, last.1) as usize);
            let along = wx
                .iter()
                .enumerate()
                .map(|(i, w)| w * f64::from(samples[(column + i as i64).clamp(0, last.0) as usize]));
            sum += wy * along.sum::<f64>();
        }
        sum
    }

    /// Mean across a band at every `step` along the line, from `margin` before its first end to as much after its last.
    pub(crate) fn profile(&self, band: Band, step: f64, margin: f64, reading: Reading) -> Trace {
        let count = ((self.length + 2.0 * margin) / step).ceil() as usize + 1;
        let rows = ((band.side.1 - band.side.0) / band.step).round() as usize;
        let side = |i: usize| if rows == 0 { 0.0 } else { i as f64 / rows as f64 };
        let sides: Vec<f64> = (0..=rows).map(|i| band.side.0 + side(i) * (band.side.1 - band.side.0)).collect();
        let value = |i: usize| {
            let s = i as f64 * step - margin;
            let inside = sides.iter().filter(|&&t| self.inside(s + band.lean * t, t));
            let (sum, n) =
                inside.fold((0.0, 0.0), |(sum, n), &t| (sum + self.light(s + band.lean * t, t, reading), n + 1.0));
            if n > 0.0 { sum / n } else { self.light(s, 0.0, reading) }
        };
        Trace::new(-margin, step, (0..count).map(value).collect())
    }
}

/// Weights of six neighbours at the share `d` between the third and the fourth, made to add up to 1: from a table, to
/// the nearest thousandth of a pixel.
fn lanczos(d: f64) -> [f64; 6] {
    const STEPS: usize = 1024;
    static TABLE: OnceLock<Vec<[f64; 6]>> = OnceLock::new();
    let table = TABLE.get_or_init(|| (0..=STEPS).map(|i| lanczos_weights(i as f64 / STEPS as f64)).collect());
    table[(d * STEPS as f64).round() as usize]
}

fn lanczos_weights(d: f64) -> [f64; 6] {
    let weight = |i: usize| {
        let x = (i as f64 - 2.0 - d) * std::f64::consts::PI;
        if x.abs() < 1e-9 { 1.0 } else { 3.0 * x.sin() * (x / 3.0).sin() / (x * x) }
    };
    let weights: [f64; 6] = std::array::from_fn(weight);
    let sum: f64 = weights.iter().sum();
    weights.map(|w| w / sum)
}

/// Values at even steps along the line, with their running integral.
#[derive(Debug, Clone)]
pub(crate) struct Trace {
    pub(crate) start: f64,
    pub(crate) step: f64,
    pub(crate) values: Vec<f64>,
    integral: Vec<f64>,
}

impl Trace {
    pub(crate) fn new(start: f64, step: f64, values: Vec<f64>) -> Self {
        let mut sum = 0.0;
        let mut integral = vec![0.0];
        integral.extend(values.iter().map(|v| {
            sum += v * step;
            sum
        }));
        Self { start, step, values, integral }
    }

    /// First and last place.
    pub(crate) fn span(&self) -> (f64, f64) {
        (self.start, self.start + self.step * (self.values.len() - 1) as f64)
    }

    /// Difference between the highest and the lowest value.
    pub(crate) fn range(&self) -> f64 {
        let ends = |(low, high): (f64, f64), v: &f64| (low.min(*v), high.max(*v));
        let (low, high) = self.values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), ends);
        high - low
    }

    /// Value at a place, by straight lines.
    pub(crate) fn at(&self, s: f64) -> f64 {
        lerp(&self.values, (s - self.start) / self.step)
    }

    /// Mean between two places, as far as they lie within the trace.
    pub(crate) fn mean(&self, from: f64, to: f64) -> f64 {
        // Each value stands for the step about it.
        let edge = self.start - self.step / 2.0;
        let end = self.step * self.values.len() as f64;
        let (a, b) = ((from - edge).clamp(0.0, end), (to - edge).clamp(0.0, end));
        if b - a < 1e-9 {
            return self.at(from);
        }
        (lerp(&self.integral, b / self.step) - lerp(&self.integral, a / self.step)) / (b - a)
    }

    /// What is left over a running mean of that width: a mean over one whole spacing of the marks takes uneven light
    /// away and leaves the marks as they are.
    pub(crate) fn above_mean(&self, width: f64, step: f64) -> Self {
        let (first, last) = self.span();
        let count = ((last - first) / step).floor() as usize + 1;
        let value = |i: usize| {
            let s = first + i as f64 * step;
            let here = if step > self.step { self.mean(s - step / 2.0, s + step / 2.0) } else { self.at(s) };
            here - self.mean(s - width / 2.0, s + width / 2.0)
        };
        Self::new(first, step, (0..count).map(value).collect())
    }
}

fn lerp(values: &[f64], place: f64) -> f64 {
    let last = values.len() - 1;
    let place = place.clamp(0.0, last as f64);
    let i = (place.floor() as usize).min(last.saturating_sub(1));
    let next = values[(i + 1).min(last)];
    values[i] + (next - values[i]) * (place - i as f64)
}
