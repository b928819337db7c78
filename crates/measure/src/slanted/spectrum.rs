//! From profile to response: the Fourier integral of the profile's slope, how sure it is, and where it falls to a level.
//!
//! A window is laid over the line spread, as in ISO 12233, but one that follows the edge's own spread: it is level where the edge's slope and its
//! flare lie, and keeps out what the light does towards the region's sides, whose sum would be taken for a step. Noise adds its own power to that of the edge, which lifts a plain modulus where the response is
//! small (about as much as the noise itself); that power is known from the scatter between blocks of rows and is taken off. What all
//! rows share is not in that scatter: rounding to the file's steps of tone is reckoned by itself.

use super::profile::{Crossings, Profile};
use super::report::{EdgeOptions, FREQUENCY_STEP_CY_PX, NOISE_95, SfrPoint};
use crate::numeric::{Chance, student_975};
use crate::spline::Complex;

/// The window is level over so many rises from 10 to 90 % on either side of the middle (a Gaussian has ended after one), and over this share
/// of what every row reaches. Longer, and uneven light counts as the edge's flare: single edges of real photographs then differ by up to
/// 3.4 % from a plain reading; shorter, and a perfect lens's own feet are cut, which lifts its response by more than 0.006.
const LEVEL_RISES: f64 = 2.0;
const LEVEL_SHARE: f64 = 1.0 / 3.0;
/// Points of the curve between which a resample's crossing is sought.
const LOCAL_POINTS: usize = 9;

/// One profile's response, ready to be asked.
pub(crate) struct Spectrum<'a> {
    profile: &'a Profile,
    /// The profile's own, under the window.
    coefficients: Vec<f64>,
    influences: Vec<Vec<f64>>,
    roundings: Vec<Vec<f64>>,
    /// What the windowed slope sums up to.
    step: f64,
    /// Each block's share in the step.
    step_influences: Vec<f64>,
    /// Corrects the blocks' scatter for their number and for what the fit itself has absorbed.
    inflation: f64,
}

/// The response at one frequency.
#[derive(Debug, Clone)]
pub(crate) struct Reading {
    /// Modulus with the noise's power taken off, 1 at frequency 0.
    pub(crate) response: f64,
    /// Standard error of the modulus.
    pub(crate) error: f64,
    /// The part of the standard error that rounding alone makes.
    rounding: f64,
    /// Root mean square of the noise in the complex response.
    pub(crate) noise: f64,
    transform: Complex,
    influences: Vec<Complex>,
}

/// A frequency with the half-width of its 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sure {
    pub(crate) value: f64,
    pub(crate) plus_minus: f64,
}

/// The window over the line spread, 1 near the edge: level over a third of what every row reaches on both sides, and over two rises at
/// least, then down to 0 where the first row ends as half a wave of a cosine.
///
/// The standard lays Hamming's over the whole region, which over few pixels takes so much off an edge's own flanks that a drawn edge of
/// 26 x 24 pixels reads up to 3 % too sharp; this one leaves all that the edge's spread can fill, and tapers what lies beyond.
fn window(profile: &Profile) -> impl Fn(f64) -> f64 {
    let (middle, rise) = profile.crossings().map_or((0.0, f64::INFINITY), |c| (c.middle, c.rise()));
    let (first, last) = profile.common;
    let least = LEVEL_RISES * rise;
    let end = (middle - first).min(last - middle).max(least);
    let level = (LEVEL_SHARE * end).max(least);
    move |x: f64| {
        let out = (x - middle).abs();
        if out <= level {
            return 1.0;
        }
        if out < end { 0.5 + 0.5 * (std::f64::consts::PI * (out - level) / (end - level)).cos() } else { 0.0 }
    }
}

impl<'a> Spectrum<'a> {
    pub(crate) fn new(profile: &'a Profile) -> Self {
        let ends = |c: &Vec<f64>| c[c.len() - 1] - c[0];
        let blocks = profile.influences.len() as f64;
        let per_piece = profile.density * profile.spacing;
        // Residuals of a fit with one coefficient per so many samples are too small by that share.
        let absorbed = (1.0 - 1.0 / per_piece).max(0.5);
        let inflation = blocks / (blocks - 1.0).max(1.0) / absorbed;
        let window = window(profile);
        let apply = |c: &Vec<f64>| profile.basis.windowed(c, &window);
        let coefficients = apply(&profile.coefficients);
        let influences: Vec<Vec<f64>> = profile.influences.iter().map(apply).collect();
        Self {
            profile,
            step: ends(&coefficients),
            step_influences: influences.iter().map(ends).collect(),
            roundings: profile.roundings.iter().map(apply).collect(),
            coefficients,
            influences,
            inflation,
        }
    }

    fn blocks(&self) -> f64 {
        self.profile.influences.len() as f64
    }

    /// Factor from a standard error to the half-width of a 95 % interval.
    fn coverage(&self) -> f64 {
        student_975(self.blocks() - 1.0)
    }

    /// The response at a frequency above 0.
    pub(crate) fn at(&self, frequency: f64) -> Reading {
        let table = self.profile.basis.transform(frequency);
        let apply = |c: &Vec<f64>| {
            // Two sums side by side: one would wait for each addition before the next.
            let (mut even, mut odd) = ((0.0, 0.0), (0.0, 0.0));
            for (t, c) in table.chunks(2).zip(c.chunks(2)) {
                even = (even.0 + t[0].0 * c[0], even.1 + t[0].1 * c[0]);
                if let ([_, t], [_, c]) = (t, c) {
                    odd = (odd.0 + t.0 * c, odd.1 + t.1 * c);
                }
            }
            ((even.0 + odd.0) / self.step, (even.1 + odd.1) / self.step)
        };
        let transform = apply(&self.coefficients);
        let influences: Vec<Complex> = self.influences.iter().map(apply).collect();
        let power = self.inflation * influences.iter().map(|i| i.0 * i.0 + i.1 * i.1).sum::<f64>();
        let modulus = transform.0.hypot(transform.1);
        let along = |(i, d): (&Complex, &f64)| {
            let radial = (i.0 * transform.0 + i.1 * transform.1) / modulus.max(1e-12);
            (radial - modulus * d / self.step).powi(2)
        };
        let radial: f64 = self.inflation * influences.iter().zip(&self.step_influences).map(along).sum::<f64>();
        // Where noise rules, the direction of the response is chance and so is what lies along it.
        let error = if modulus * modulus < 2.0 * power { radial.max(power / 2.0) } else { radial }.sqrt();
        // As far as rows are rounded differently, their scatter holds the rounding too: the larger of the two counts.
        let (by_rounding, along_rounding) = self.rounding(&table, transform);
        let least = if modulus * modulus < 2.0 * by_rounding { by_rounding / 2.0 } else { 0.0 };
        let rounding = along_rounding.max(least).sqrt();
        let power = power.max(by_rounding);
        let response = (modulus * modulus - power).max(0.0).sqrt();
        Reading { response, error: error.max(rounding), rounding, noise: power.sqrt(), transform, influences }
    }

    /// Mean square of what rounding adds to the response, and the part of it along the response.
    fn rounding(&self, table: &[Complex], transform: Complex) -> (f64, f64) {
        let modulus = transform.0.hypot(transform.1).max(1e-12);
        let moved = |c: &Vec<f64>| {
            let sum = table.iter().zip(c).fold((0.0, 0.0), |s, (t, c)| (s.0 + t.0 * c, s.1 + t.1 * c));
            let step = c[c.len() - 1] - c[0];
            let (re, im) = ((sum.0 - transform.0 * step) / self.step, (sum.1 - transform.1 * step) / self.step);
            (re * re + im * im, ((re * transform.0 + im * transform.1) / modulus).powi(2))
        };
        let n = self.roundings.len().max(1) as f64;
        self.roundings.iter().map(moved).fold((0.0, 0.0), |s, m| (s.0 + m.0 / n, s.1 + m.1 / n))
    }

    /// The curve up to `limit` cycles per pixel.
    pub(crate) fn curve(&self, limit: f64) -> Vec<SfrPoint> {
        let points = (limit / FREQUENCY_STEP_CY_PX + 1e-9).floor() as usize;
        let point = |i: usize| {
            let frequency_cy_px = i as f64 * FREQUENCY_STEP_CY_PX;
            if i == 0 {
                return SfrPoint { frequency_cy_px, response: 1.0, plus_minus: 0.0, noise: 0.0 };
            }
            let reading = self.at(frequency_cy_px);
            let plus_minus = self.coverage() * reading.error;
            SfrPoint { frequency_cy_px, response: reading.response, plus_minus, noise: reading.noise }
        };
        (0..=points).map(point).collect()
    }

    /// Half-width of the 95 % interval of the 10-90 % rise: how far the two crossings move apart with each block of rows, and with
    /// each rounding.
    pub(crate) fn rise_half_width(&self, crossings: &Crossings) -> f64 {
        let basis = &self.profile.basis;
        let moved = |c: &Vec<f64>| {
            let (left, step) = (c[0], c[c.len() - 1] - c[0]);
            // A level that the profile passes at `x` moves by the change of its height there over the slope.
            let shift = |x: f64, share: f64| (basis.evaluate(c, x).0 - left - share * step) / self.profile.at(x).1;
            (shift(crossings.low, 0.1) - shift(crossings.high, 0.9)).powi(2)
        };
        let by_blocks = self.inflation * self.profile.influences.iter().map(moved).sum::<f64>();
        let roundings = self.profile.roundings.len().max(1) as f64;
        let by_rounding = self.profile.roundings.iter().map(moved).sum::<f64>() / roundings;
        self.coverage() * by_blocks.max(by_rounding).sqrt()
    }

    /// Lowest frequency at which the curve falls to `level`; `None` when it does not, or when noise alone could.
    pub(crate) fn crossing(&self, curve: &[SfrPoint], level: f64, options: &EdgeOptions) -> Option<Sure> {
        let above = curve.windows(2).find(|w| w[0].response >= level && w[1].response < level)?;
        let value = self.solve((above[0].frequency_cy_px, above[1].frequency_cy_px), level);
        let reading = self.at(value);
        // A level is measured only where noise alone would not pass it.
        if NOISE_95 * reading.noise > level {
            return None;
        }
        let width = self.width(value, reading.error);
        let resampled = self.resampled(value, width, level, options);
        let plus_minus = self.coverage() * resampled.max(self.width(value, reading.rounding));
        Some(Sure { value, plus_minus })
    }

    fn solve(&self, (mut low, mut high): (f64, f64), level: f64) -> f64 {
        // Regula falsi with the Illinois change: a handful of evaluations.
        let (mut f_low, mut f_high) = (self.response(low) - level, self.response(high) - level);
        for _ in 0..40 {
            let middle = (low * f_high - high * f_low) / (f_high - f_low);
            let f = self.response(middle) - level;
            if f.abs() < 1e-10 || high - low < 1e-12 {
                return middle;
            }
            if f > 0.0 {
                (low, f_low, f_high) = (middle, f, f_high / 2.0);
            } else {
                (high, f_high, f_low) = (middle, f, f_low / 2.0);
            }
        }
        f64::midpoint(low, high)
    }

    fn response(&self, frequency: f64) -> f64 {
        if frequency <= 0.0 { 1.0 } else { self.at(frequency).response }
    }

    /// Standard error of a crossing to first order: that of the response over the curve's slope.
    fn width(&self, frequency: f64, error: f64) -> f64 {
        let step = 0.01 * frequency;
        let slope = (self.response(frequency - step) - self.response(frequency + step)) / (2.0 * step);
        error / slope.abs().max(1e-6)
    }

    /// Standard error of a crossing from resampled blocks of rows: each block's influence is multiplied by a chance of
    /// mean 0 and variance 1 (a multiplier bootstrap), and the crossing is sought anew.
    fn resampled(&self, value: f64, width: f64, level: f64, options: &EdgeOptions) -> f64 {
        let span = (4.0 * width).clamp(1e-4 * value, 0.5 * value);
        let places: Vec<f64> =
            (0..LOCAL_POINTS).map(|i| value + span * (2.0 * i as f64 / (LOCAL_POINTS - 1) as f64 - 1.0)).collect();
        let readings: Vec<Reading> = places.iter().map(|&f| self.at(f)).collect();
        let mut chance = Chance::new(options.seed);
        let mut sum = 0.0;
        for _ in 0..options.resamples.max(2) {
            let weights: Vec<f64> =
                self.step_influences.iter().map(|_| self.inflation.sqrt() * chance.multiplier()).collect();
            let moved = self.step_influences.iter().zip(&weights).map(|(d, w)| d * w).sum::<f64>();
            let scale = self.step / (self.step + moved);
            let responses: Vec<f64> = readings.iter().map(|r| r.resample(&weights, scale)).collect();
            sum += (cross(&places, &responses, level) - value).powi(2);
        }
        (sum / options.resamples.max(2) as f64).sqrt()
    }
}

impl Reading {
    /// The modulus with the blocks' influences so weighted.
    fn resample(&self, weights: &[f64], scale: f64) -> f64 {
        let moved = self.influences.iter().zip(weights);
        let (re, im) = moved.fold(self.transform, |s, (i, w)| (s.0 + w * i.0, s.1 + w * i.1));
        // The resample carries the noise twice: its own and that of the picture.
        let power = (re * re + im * im) * scale * scale - 2.0 * self.noise * self.noise;
        power.max(0.0).sqrt()
    }
}

/// Where a line through the points falls to the level; beyond the ends along the whole line's slope.
fn cross(places: &[f64], responses: &[f64], level: f64) -> f64 {
    let n = places.len() - 1;
    let inner = (0..n).find(|&i| responses[i] >= level && responses[i + 1] < level);
    let (i, j) = inner.map_or((0, n), |i| (i, i + 1));
    let fall = responses[i] - responses[j];
    if fall.abs() < 1e-12 {
        return f64::midpoint(places[0], places[n]);
    }
    let place = places[i] + (responses[i] - level) / fall * (places[j] - places[i]);
    let span = places[n] - places[0];
    place.clamp(places[0] - span, places[n] + span)
}
