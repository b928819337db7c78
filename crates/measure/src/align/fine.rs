//! From about right to right: least squares on the tones themselves.

use super::grey::{Grey, Halved};
use super::similarity::Similarity;
use crate::numeric::{median, solve_dense};

/// Unknowns: scale times cosine and sine of the turn, place of the middle, gain and offset of the tone.
const UNKNOWNS: usize = 6;
/// Rounds of the iteration; where it is going to converge it does in fewer.
const MOST_ROUNDS: usize = 20;
/// A step that moves no corner by more pixels of its level ends the iteration.
const SETTLED_PX: f64 = 5e-3;
/// Differences beyond so many robust standard deviations count by their sign only (Huber 1964; 1.345 keeps 95 % of the efficiency).
const HUBER: f32 = 1.345;
/// The overlap is cut into so many squares each way to see how far neighbouring differences hang together.
const BLOCKS: usize = 8;

/// What the iteration came to.
#[derive(Debug, Clone)]
pub(super) struct Fit {
    pub similarity: Similarity,
    /// Place of the first frame about which scale and place are independent, pixels.
    pub middle: (f64, f64),
    /// Variance of either coordinate there, pixels² of the second frame.
    pub place_variance: f64,
    /// Variance of the scale; of the turn in radians times the scale.
    pub scale_variance: f64,
    /// Blocks less unknowns.
    pub freedom: usize,
    /// Share of the first frame's pixels that lie in the second.
    pub shared: f64,
}

/// What one pixel says.
struct Row {
    /// By how much its difference grows with each unknown.
    line: [f32; UNKNOWNS],
    /// The tone about it in the second frame, which stands for its own in the equation for the gain: the grain of the pixel itself is
    /// not in it. Against its own grain a tone is fitted too flat, and a subject that is too flat is fitted too small. (An
    /// instrumental variable: Durbin, Review of the International Statistical Institute 22, 1954.)
    around: f32,
}

/// The gain's place among the unknowns.
const TONE: usize = 4;
/// How far off the tones about a pixel are taken, pixels of the level: grain does not hang together as far.
const AROUND_PX: usize = 6;
/// Smaller levels are their own surroundings; halving has taken their grain away.
const LEAST_AROUND_SIDE: usize = 160;

/// One round's sums.
#[derive(Clone)]
struct Sums {
    normal: [[f64; UNKNOWNS]; UNKNOWNS],
    right: [f64; UNKNOWNS],
    pixels: usize,
}

impl Sums {
    fn new() -> Self {
        Self { normal: [[0.0; UNKNOWNS]; UNKNOWNS], right: [0.0; UNKNOWNS], pixels: 0 }
    }

    fn add(&mut self, row: &Row, difference: f32, weight: f32) {
        let mut asked = row.line;
        asked[TONE] = row.around;
        for (i, asked) in asked.into_iter().enumerate() {
            let weighted = f64::from(weight * asked);
            let sums = self.normal[i].iter_mut().zip(&row.line);
            sums.for_each(|(sum, other)| *sum += weighted * f64::from(*other));
            self.right[i] += weighted * f64::from(difference);
        }
        self.pixels += 1;
    }

    fn merge(mut self, other: &Self) -> Self {
        for i in 0..UNKNOWNS {
            (0..UNKNOWNS).for_each(|j| self.normal[i][j] += other.normal[i][j]);
            self.right[i] += other.right[i];
        }
        self.pixels += other.pixels;
        self
    }

    /// normal · x = right for any right side.
    fn solve(&self, right: &[f64; UNKNOWNS]) -> Option<Vec<f64>> {
        let row = |i: usize| self.normal[i].iter().copied().chain([right[i]]).collect();
        solve_dense((0..UNKNOWNS).map(row).collect())
    }
}

/// One level of both frames, and the state of the iteration on it.
struct Level<'a> {
    first: &'a Grey,
    second: &'a Grey,
    /// The second's tones [`AROUND_PX`] off.
    around: Option<Grey>,
    /// From the first's pixels at this level to the second's.
    turn: (f64, f64),
    /// Where the first's `middle` comes to lie.
    place: (f64, f64),
    middle: (f64, f64),
    /// Half-diagonal of the first, so that all unknowns are of one size.
    reach: f64,
    gain: f64,
    offset: f64,
}

impl<'a> Level<'a> {
    fn at(first: &'a Grey, second: &'a Grey, start: &Similarity, pair: Pair) -> Self {
        let (k, l) = pair.pixels();
        let middle = (first.width as f64 / 2.0, first.height as f64 / 2.0);
        let place = start.to_second((middle.0 * k, middle.1 * k));
        let (sin, cos) = start.turn_deg().to_radians().sin_cos();
        let scale = start.scale() * k / l;
        let turn = (scale * cos, scale * sin);
        let (place, reach) = ((place.0 / l, place.1 / l), middle.0.hypot(middle.1));
        let around = (second.width.min(second.height) >= LEAST_AROUND_SIDE).then(|| second.around(AROUND_PX));
        Self { first, second, around, turn, place, middle, reach, gain: 1.0, offset: 0.0 }
    }
}

impl Level<'_> {
    fn to_second(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let (x, y) = (x - self.middle.0, y - self.middle.1);
        let (a, b) = self.turn;
        (self.place.0 + a * x - b * y, self.place.1 + b * x + a * y)
    }

    /// Every `step`-th pixel that both frames have: what to fit, and the difference.
    fn each(&self, step: usize, mut act: impl FnMut((usize, usize), &Row, f32)) {
        let gain = self.gain as f32;
        for row in (1..self.first.height - 1).step_by(step) {
            for column in (1..self.first.width - 1).step_by(step) {
                let at = (column as f64 + 0.5, row as f64 + 0.5);
                let there = self.to_second(at);
                let Some([tone, across, down]) = self.second.slopes(there) else { continue };
                let around = self.around.as_ref().and_then(|around| around.between(there)).unwrap_or(tone);
                let x = ((at.0 - self.middle.0) / self.reach) as f32;
                let y = ((at.1 - self.middle.1) / self.reach) as f32;
                let (across, down) = (gain * across, gain * down);
                let line = [across * x + down * y, down * x - across * y, across, down, tone, 1.0];
                let line = Row { line, around };
                act((column, row), &line, self.first.at(column, row) - gain * tone - self.offset as f32);
            }
        }
    }

    /// Robust standard deviation of the differences.
    fn scatter(&self) -> f32 {
        let step = (self.first.width * self.first.height / 20_000).isqrt().max(1);
        let mut all = Vec::new();
        self.each(step, |_, _, difference| all.push(f64::from(difference.abs())));
        (1.4826 * median(&all)).max(1e-6) as f32
    }

    /// Sums over each block of the first frame.
    fn sums(&self) -> Vec<Sums> {
        let limit = HUBER * self.scatter();
        let mut blocks = vec![Sums::new(); BLOCKS * BLOCKS];
        self.each(1, |(column, row), line, difference| {
            let block = row * BLOCKS / self.first.height * BLOCKS + column * BLOCKS / self.first.width;
            let weight = if difference.abs() > limit { limit / difference.abs() } else { 1.0 };
            blocks[block].add(line, difference, weight);
        });
        blocks
    }

    /// Gain and offset that suit the present place.
    fn set_tone(&mut self) {
        (self.gain, self.offset) = (0.0, 0.0);
        let (mut n, mut f, mut g, mut z, mut gz, mut fz) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
        self.each(1, |_, row, tone| {
            let (first, second, around) = (f64::from(tone), f64::from(row.line[TONE]), f64::from(row.around));
            n += 1.0;
            f += first;
            g += second;
            z += around;
            gz += second * around;
            fz += first * around;
        });
        let spread = gz - g * z / n;
        self.gain = if spread > 1e-12 { (fz - f * z / n) / spread } else { 1.0 };
        self.offset = (f - self.gain * g) / n;
    }

    /// One step; how far it moved the farthest corner, pixels.
    fn step(&mut self) -> Option<f64> {
        let all = self.sums().iter().fold(Sums::new(), |all, block| all.merge(block));
        let x = all.solve(&all.right)?;
        self.turn = (self.turn.0 + x[0] / self.reach, self.turn.1 + x[1] / self.reach);
        self.place = (self.place.0 + x[2], self.place.1 + x[3]);
        (self.gain, self.offset) = (self.gain + x[4], self.offset + x[5]);
        Some(x[0].hypot(x[1]) + x[2].hypot(x[3]))
    }
}

/// Which levels of the two pyramids are looked at together: pixels of about one size on the subject.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    first: usize,
    second: usize,
}

/// From coarse to fine: at the coarsest the smaller field has at least `least` pixels along its longer side, at the finest no frame more
/// than `most` along its longer.
pub(super) fn pairs(first: &Halved, second: &Halved, scale: f64, least: f64, most: f64) -> Vec<Pair> {
    let side = |halved: &Halved| halved.level(0).width.max(halved.level(0).height) as f64;
    let pair = |level: usize| {
        let matching = (scale.log2() + level as f64).round();
        (matching >= 0.0 && matching <= second.last() as f64)
            .then_some(Pair { first: level, second: matching as usize })
    };
    let all: Vec<Pair> = (0..=first.last()).rev().filter_map(pair).collect();
    let sides = |p: &Pair| {
        let (a, b) = (side(first) / 2.0_f64.powi(p.first as i32), side(second) / 2.0_f64.powi(p.second as i32));
        (a.min(b), a.max(b))
    };
    let fitting: Vec<Pair> = all.iter().copied().filter(|p| sides(p).0 >= least && sides(p).1 <= most).collect();
    // Frames that are small as a whole are looked at as they are.
    if fitting.is_empty() { all.last().copied().into_iter().collect() } else { fitting }
}

/// Mean square difference of the two where they have slopes, with gain and offset that suit: how badly their sharpness goes
/// together. Even ground, where there is nothing but grain, does not count.
pub(super) fn unlike(first: &Grey, second: &Grey, at: &Similarity, pair: Pair) -> f64 {
    let mut level = Level::at(first, second, at, pair);
    level.set_tone();
    let (mut sum, mut weights) = (0.0, 0.0);
    level.each(1, |_, row, difference| {
        let weight = f64::from(row.line[2] * row.line[2] + row.line[3] * row.line[3]);
        sum += weight * f64::from(difference * difference);
        weights += weight;
    });
    sum / weights
}

/// Betters a similarity (in whole-size pixels, not mirrored) on one pair of levels; `None` when it leads nowhere.
pub(super) fn refine(first: &Halved, second: &Halved, start: &Similarity, pair: Pair) -> Option<Fit> {
    refine_on(first.level(pair.first), second.level(pair.second), start, pair)
}

/// The same on two pictures of that pair's sizes.
pub(super) fn refine_on(first: &Grey, second: &Grey, start: &Similarity, pair: Pair) -> Option<Fit> {
    let (k, l) = pair.pixels();
    let mut level = Level::at(first, second, start, pair);
    level.set_tone();
    let (begun, reach, scale) = (level.place, level.reach, start.scale() * k / l);
    for _ in 0..MOST_ROUNDS {
        let moved = level.step()?;
        let strayed = (level.place.0 - begun.0).hypot(level.place.1 - begun.1);
        let grown = level.turn.0.hypot(level.turn.1) / scale;
        // A fifth of the frame away it is another place that it is after.
        if !moved.is_finite() || strayed > 0.4 * reach || !(0.8..1.25).contains(&grown) {
            return None;
        }
        if moved < SETTLED_PX {
            break;
        }
    }
    level.ended(k, l)
}

impl Level<'_> {
    /// The fit in whole-size pixels, with variances that count blocks, not pixels: neighbouring differences hang together.
    fn ended(mut self, k: f64, l: f64) -> Option<Fit> {
        let blocks = self.sums();
        let all = blocks.iter().fold(Sums::new(), |all, block| all.merge(block));
        // Where the slopes' weight lies, scale and place do not depend on each other.
        let n = &all.normal;
        let weight = n[2][2] + n[3][3];
        let along = (n[0][2] + n[1][3]) / weight * self.reach;
        let across = (n[0][3] - n[1][2]) / weight * self.reach;
        let middle = (self.middle.0 + along, self.middle.1 + across);
        self.place = self.to_second(middle);
        self.middle = middle;
        let blocks: Vec<Sums> = self.sums().into_iter().filter(|block| block.pixels > 0).collect();
        let all = blocks.iter().fold(Sums::new(), |all, block| all.merge(block));
        let freedom = blocks.len().checked_sub(UNKNOWNS + 1)?;
        let mut spread = [0.0; UNKNOWNS];
        for block in &blocks {
            // What this block alone would change (a sandwich estimate: Huber 1967; White, Econometrica 48, 1980, by clusters).
            let own = all.solve(&block.right)?;
            (0..UNKNOWNS).for_each(|i| spread[i] += own[i] * own[i]);
        }
        let share = blocks.len() as f64 / freedom as f64;
        let scale_variance = spread[0].max(spread[1]) * share / (self.reach * self.reach);
        let (sin_scaled, cos_scaled) = (self.turn.1 * l / k, self.turn.0 * l / k);
        let scale = cos_scaled.hypot(sin_scaled);
        let turn_deg = sin_scaled.atan2(cos_scaled).to_degrees();
        let whole = (middle.0 * k, middle.1 * k);
        let moved = Similarity::new(scale, turn_deg, (0.0, 0.0), false).to_second(whole);
        let origin = (self.place.0 * l - moved.0, self.place.1 * l - moved.1);
        Some(Fit {
            similarity: Similarity::new(scale, turn_deg, origin, false),
            middle: whole,
            place_variance: spread[2].max(spread[3]) * share * l * l,
            scale_variance: scale_variance * (l / k) * (l / k),
            freedom,
            shared: all.pixels as f64 / (self.first.width * self.first.height) as f64,
        })
    }
}

impl Pair {
    pub(super) fn first(self) -> usize {
        self.first
    }

    pub(super) fn second(self) -> usize {
        self.second
    }

    /// Whole-size pixels to one of each level.
    pub(super) fn pixels(self) -> (f64, f64) {
        (2.0_f64.powi(self.first as i32), 2.0_f64.powi(self.second as i32))
    }
}
