//! The picture as alignment looks at it: one channel, tones compressed, at halved sizes.

use planes::{Linear, Plane};

/// A grid of tones; coordinates count from the outer corner of the first pixel.
#[derive(Debug, Clone)]
pub(super) struct Grey {
    pub width: usize,
    pub height: usize,
    samples: Vec<f32>,
}

impl Grey {
    /// The square root of light: in the shadows an edge then counts about as much as in the lights, and grain as little.
    pub(super) fn of(plane: &Plane<Linear>) -> Self {
        let samples = plane.samples().iter().map(|light| light.max(0.0).sqrt()).collect();
        Self { width: plane.width(), height: plane.height(), samples }
    }

    pub(super) fn from_fn(width: usize, height: usize, mut tone: impl FnMut(usize, usize) -> f32) -> Self {
        let mut samples = Vec::with_capacity(width * height);
        (0..height).for_each(|row| samples.extend((0..width).map(|column| tone(column, row))));
        Self { width, height, samples }
    }

    pub(super) fn row(&self, row: usize) -> &[f32] {
        &self.samples[row * self.width..(row + 1) * self.width]
    }

    pub(super) fn at(&self, column: usize, row: usize) -> f32 {
        self.samples[row * self.width + column]
    }

    pub(super) fn mirrored(&self) -> Self {
        Self::from_fn(self.width, self.height, |column, row| self.at(self.width - 1 - column, row))
    }

    /// Half as wide and high; each pixel the mean of four. An odd last column or row is left out, so that places halve exactly.
    fn halved(&self) -> Self {
        Self::from_fn(self.width / 2, self.height / 2, |column, row| {
            let (x, y) = (2 * column, 2 * row);
            0.25 * (self.at(x, y) + self.at(x + 1, y) + self.at(x, y + 1) + self.at(x + 1, y + 1))
        })
    }

    /// Convolved with [1 4 6 4 1]/16 both ways, a Gaussian of one pixel: straight lines between pixels then err little.
    pub(super) fn smoothed(&self) -> Self {
        const WEIGHTS: [f32; 5] = [0.0625, 0.25, 0.375, 0.25, 0.0625];
        let clamped = |at: usize, k: usize, size: usize| (at + k).saturating_sub(2).min(size - 1);
        let across = Self::from_fn(self.width, self.height, |column, row| {
            (0..5).map(|k| WEIGHTS[k] * self.at(clamped(column, k, self.width), row)).sum()
        });
        Self::from_fn(self.width, self.height, |column, row| {
            (0..5).map(|k| WEIGHTS[k] * across.at(column, clamped(row, k, self.height))).sum()
        })
    }

    /// For each pixel the mean of the four so far off along the rows and columns.
    pub(super) fn around(&self, off: usize) -> Self {
        let last = (self.width - 1, self.height - 1);
        Self::from_fn(self.width, self.height, |column, row| {
            let (left, right) = (column.saturating_sub(off), (column + off).min(last.0));
            let (above, below) = (row.saturating_sub(off), (row + off).min(last.1));
            0.25 * (self.at(left, row) + self.at(right, row) + self.at(column, above) + self.at(column, below))
        })
    }

    /// Less the mean of the surrounding (2·reach + 1)² pixels: shading and fall-off go, detail stays.
    pub(super) fn detail(&self, reach: usize) -> Self {
        let sums = self.running_sums();
        let stride = self.width + 1;
        Self::from_fn(self.width, self.height, |column, row| {
            let (left, right) = (column.saturating_sub(reach), (column + reach + 1).min(self.width));
            let (top, bottom) = (row.saturating_sub(reach), (row + reach + 1).min(self.height));
            let sum = sums[bottom * stride + right] - sums[top * stride + right] - sums[bottom * stride + left]
                + sums[top * stride + left];
            self.at(column, row) - (sum / ((right - left) * (bottom - top)) as f64) as f32
        })
    }

    /// Sums over all pixels above and to the left.
    fn running_sums(&self) -> Vec<f64> {
        let stride = self.width + 1;
        let mut sums = vec![0.0; stride * (self.height + 1)];
        for row in 0..self.height {
            let mut sum = 0.0;
            for column in 0..self.width {
                sum += f64::from(self.at(column, row));
                sums[(row + 1) * stride + column + 1] = sums[row * stride + column + 1] + sum;
            }
        }
        sums
    }

    /// Tone between pixels, by straight lines; nothing within half a pixel of the rim and beyond.
    pub(super) fn between(&self, (x, y): (f64, f64)) -> Option<f32> {
        let (column, row, across, down) = self.cell((x, y))?;
        let (above, below) = (&self.row(row)[column..column + 2], &self.row(row + 1)[column..column + 2]);
        let on = |pair: &[f32]| pair[0] + (pair[1] - pair[0]) * across;
        Some(on(above) + (on(below) - on(above)) * down)
    }

    /// Tone and its slopes to the right and downward, by central differences.
    pub(super) fn slopes(&self, (x, y): (f64, f64)) -> Option<[f32; 3]> {
        let (column, row, across, down) = self.cell((x, y))?;
        if column == 0 || row == 0 || column + 3 > self.width - 1 || row + 3 > self.height - 1 {
            return None;
        }
        // Written out: a map over an array of rows is not unrolled, and this is where refining spends its time.
        let first = (row - 1) * self.width + column - 1;
        let line = |k: usize| &self.samples[first + k * self.width..][..4];
        let (above, upper, lower, below) = (line(0), line(1), line(2), line(3));
        let on = |line: &[f32], k: usize| line[k] + (line[k + 1] - line[k]) * across;
        let level = |line: &[f32]| 0.5 * (on(line, 2) - on(line, 0));
        let mixed = |a: f32, b: f32| a + (b - a) * down;
        let (tone, next) = (on(upper, 1), on(lower, 1));
        let steep = (0.5 * (next - on(above, 1)), 0.5 * (on(below, 1) - tone));
        Some([mixed(tone, next), mixed(level(upper), level(lower)), mixed(steep.0, steep.1)])
    }

    /// The pixel whose middle lies to the upper left, and how far beyond it.
    fn cell(&self, (x, y): (f64, f64)) -> Option<(usize, usize, f32, f32)> {
        let (x, y) = (x - 0.5, y - 0.5);
        let inside = |at: f64, size: usize| at >= 0.0 && at < size as f64 - 1.0;
        (inside(x, self.width) && inside(y, self.height)).then(|| {
            let (column, row) = (x as usize, y as usize);
            (column, row, (x - column as f64) as f32, (y - row as f64) as f32)
        })
    }
}

/// A picture at its own size, half of it, a quarter ...; each smoothed.
#[derive(Debug)]
pub(super) struct Halved {
    levels: Vec<Grey>,
}

/// No level is narrower or lower than this.
const LEAST_SIDE: usize = 12;

impl Halved {
    pub(super) fn new(grey: Grey) -> Self {
        let mut plain = vec![grey];
        while let Some(last) = plain.last().filter(|last| last.width.min(last.height) >= 2 * LEAST_SIDE) {
            plain.push(last.halved());
        }
        Self { levels: plain.iter().map(Grey::smoothed).collect() }
    }

    /// Level 0 is the whole size; the coarsest there is for what lies beyond.
    pub(super) fn level(&self, level: usize) -> &Grey {
        &self.levels[level.min(self.last())]
    }

    pub(super) fn last(&self) -> usize {
        self.levels.len() - 1
    }
}

/// Light itself at one of the halved sizes, to be blurred as light is.
#[derive(Debug)]
pub(super) struct Light {
    light: Grey,
}

impl Light {
    pub(super) fn new(plane: &Plane<Linear>, level: usize, mirrored: bool) -> Self {
        let whole = Grey { width: plane.width(), height: plane.height(), samples: plane.samples().to_vec() };
        // Mirrored first: what halving leaves out of an odd side is then the same as elsewhere.
        let whole = if mirrored { whole.mirrored() } else { whole };
        Self { light: (0..level).fold(whole, |light, _| light.halved()) }
    }

    /// Convolved with a Gaussian of that standard deviation, pixels (the border's value goes on beyond it); then as alignment looks
    /// at it.
    pub(super) fn blurred(&self, sigma: f64) -> Grey {
        let light = if sigma > 0.0 { convolved(&self.light, sigma) } else { self.light.clone() };
        let samples = light.samples.iter().map(|light| light.max(0.0).sqrt()).collect();
        Grey { samples, ..light }.smoothed()
    }
}

fn convolved(light: &Grey, sigma: f64) -> Grey {
    let reach = (3.5 * sigma).ceil() as usize;
    let weight = |k: usize| (-0.5 * ((k as f64 - reach as f64) / sigma).powi(2)).exp();
    let sum: f64 = (0..=2 * reach).map(weight).sum();
    let weights: Vec<f32> = (0..=2 * reach).map(|k| (weight(k) / sum) as f32).collect();
    let (width, height) = (light.width, light.height);
    let clamped = |at: usize, k: usize, size: usize| (at + k).saturating_sub(reach).min(size - 1);
    let mut padded = vec![0.0_f32; width + 2 * reach];
    let mut across = vec![0.0_f32; width * height];
    // Whole rows at once, so that the processor may work on many columns together.
    for (row, out) in across.chunks_exact_mut(width).enumerate() {
        let line = light.row(row);
        padded.iter_mut().enumerate().for_each(|(k, value)| *value = line[clamped(0, k, width)]);
        for (k, weight) in weights.iter().enumerate() {
            out.iter_mut().zip(&padded[k..]).for_each(|(sum, light)| *sum += weight * light);
        }
    }
    let mut samples = vec![0.0_f32; width * height];
    for (row, out) in samples.chunks_exact_mut(width).enumerate() {
        for (k, weight) in weights.iter().enumerate() {
            let line = &across[clamped(row, k, height) * width..][..width];
            out.iter_mut().zip(line).for_each(|(sum, light)| *sum += weight * light);
        }
    }
    Grey { width, height, samples }
}
