//! Where exactly the edge runs: centroids row by row, then the profile itself as the ruler.

use planes::{Linear, Plane};

use super::error::EdgeError;
use super::find::Sighting;
use super::line::Line;
use super::profile::{Layout, Profile, Strip};
use crate::numeric::{fit_polynomial, median, polynomial, robust_deviation, student_975};

/// Highest degree of the curve that an edge may follow (ISO 12233's practice for distorted edges).
const HIGHEST_DEGREE: usize = 5;
/// A curve that departs from the next simpler one by less than this blurs the profile by less than 0.1 % at half a
/// cycle per pixel (the response of a smear w is sinc(w/2)): not worth a coefficient.
const LEAST_BEND_PX: f64 = 0.04;
/// A higher degree must lower the misfit so that chance would do it less than about once in 1000: F(1, 60) above 12.
const LEAST_F: f64 = 12.0;
/// Rows per coefficient of the curve, at least.
const ROWS_PER_COEFFICIENT: usize = 8;
/// Rounds of fitting the profile and moving the line, at most; two or three suffice unless the edge is curved.
const ROUNDS: usize = 8;
/// A line that moves by less than this, pixels, rests: such a move changes no figure by a millionth.
const REST_PX: f64 = 1e-3;
/// Rows that may pull in their own direction: residuals beyond this many deviations lose all weight (Tukey's biweight
/// at its usual 95 % efficiency, 4.685).
const TUKEY: f64 = 4.685;
/// The biweight makes residuals seem smaller than they are. For normal ones and k = 4.685, to fourth order in 1/k: the weights'
/// mean is 1 - 2/k^2 + 3/k^4 = 0.915, that of weight times square 1 - 6/k^2 + 15/k^4 = 0.758, and the estimate's variance
/// is 1 / 0.95 of the least; so the weighted variance must be multiplied by (1 / 0.95) / (0.758 / 0.915).
const BIWEIGHT_VARIANCE: f64 = 1.271;
/// Rows of a noiseless picture may agree to a millionth of a pixel; none is an outlier for less than this.
const LEAST_SCATTER_PX: f64 = 2e-3;

/// A line with what is known about it.
#[derive(Debug, Clone)]
pub(crate) struct Located {
    pub(crate) line: Line,
    /// First and one past the last row that the edge crosses inside the picture.
    pub(crate) rows: (usize, usize),
    /// Standard error of the mean slope, columns per row.
    pub(crate) slope_error: f64,
    /// Largest departure of the line from straight.
    pub(crate) bend: f64,
    /// Where the profile's fine pieces must lie.
    pub(crate) layout: Layout,
}

/// The sighted line on a picture turned so that it is near-vertical.
pub(crate) fn first_line(sighting: &Sighting, transposed: bool, size: (usize, usize)) -> Line {
    let (sin, cos) = sighting.normal.sin_cos();
    let (nx, ny) = if transposed { (sin, cos) } else { (cos, sin) };
    let (width, height) = (size.0 as f64, size.1 as f64);
    let half = height / 2.0;
    Line { coefficients: vec![width / 2.0 + sighting.offset / nx, -ny / nx * half], centre: half, half }
}

/// Longest run of rows on which the line lies inside the picture, at least `margin` from its sides.
pub(crate) fn rows_inside(line: &Line, (width, height): (usize, usize), margin: f64) -> (usize, usize) {
    let inside = |row: usize| {
        let x = line.x(row as f64 + 0.5);
        x >= margin && x <= width as f64 - margin
    };
    let mut best = (0, 0);
    let mut start = None;
    for row in 0..=height {
        let here = row < height && inside(row);
        match (start, here) {
            (None, true) => start = Some(row),
            (Some(from), false) => {
                if row - from > best.1 - best.0 {
                    best = (from, row);
                }
                start = None;
            }
            _ => {}
        }
    }
    best
}

/// Moves the line to the centroids of the rows' differences, seen through a window about the line itself (ISO 12233).
pub(crate) fn by_centroids(plane: &Plane<Linear>, line: &Line, half_window: f64) -> Option<Line> {
    let points = centroids(plane, line, half_window);
    robust_fit(line, &points, 1).map(|coefficients| Line { coefficients, ..line.clone() })
}

/// (scaled row, column, weight) of each row whose window lies inside the picture.
fn centroids(plane: &Plane<Linear>, line: &Line, half_window: f64) -> Vec<(f64, f64, f64)> {
    let rows = (0..plane.height()).filter_map(|row| {
        let y = row as f64 + 0.5;
        let (mass, moment) = moments(plane.row(row), line.x(y), half_window)?;
        Some((line.scaled(y), mass, moment))
    });
    let rows: Vec<_> = rows.collect();
    let typical = median(&rows.iter().map(|r| r.1).collect::<Vec<_>>());
    // A row with little or reversed contrast has no centroid worth the name.
    let usable = rows.iter().filter(|(_, mass, _)| mass / typical > 0.3);
    usable.map(|&(v, mass, moment)| (v, moment / mass, 1.0)).collect()
}

/// Sum and first moment of one row's differences in a raised-cosine window.
fn moments(samples: &[f32], centre: f64, half: f64) -> Option<(f64, f64)> {
    let (first, last) = (centre - half, centre + half);
    if first < 0.5 || last > samples.len() as f64 - 0.5 {
        return None;
    }
    let (mut mass, mut moment) = (0.0, 0.0);
    let start = first.ceil();
    // cos^2 x = (1 + cos 2x) / 2, and 2x grows by the same angle from column to column: one turn instead of a cosine.
    let (turn_sin, turn_cos) = (std::f64::consts::PI / half).sin_cos();
    let (mut sin, mut cos) = (std::f64::consts::PI * (start - centre) / half).sin_cos();
    let (from, to) = (start as usize, (last.floor() as usize).min(samples.len() - 1));
    // The difference between columns i - 1 and i belongs to the border between them, which is at i.
    for (i, pair) in samples[from - 1..=to].windows(2).enumerate() {
        let difference = (0.5 + 0.5 * cos) * f64::from(pair[1] - pair[0]);
        mass += difference;
        moment += difference * (start + i as f64);
        (sin, cos) = (sin * turn_cos + cos * turn_sin, cos * turn_cos - sin * turn_sin);
    }
    (mass != 0.0).then_some((mass, moment))
}

/// Weighted polynomial with outlying rows taken out step by step.
fn robust_fit(line: &Line, points: &[(f64, f64, f64)], degree: usize) -> Option<Vec<f64>> {
    if points.len() < 2 * (degree + 1) {
        return None;
    }
    let mut coefficients = line.coefficients.clone();
    let offsets: Vec<f64> = points.iter().map(|p| p.1 - polynomial(&coefficients, p.0)).collect();
    coefficients[0] += median(&offsets);
    for _ in 0..10 {
        let next = fit_polynomial(&reweighted(points, &coefficients), degree)?;
        let ends = [-1.0, 0.0, 1.0].map(|v| (polynomial(&next, v) - polynomial(&coefficients, v)).abs());
        coefficients = next;
        if ends.iter().all(|moved| *moved < REST_PX / 10.0) {
            break;
        }
    }
    Some(coefficients)
}

fn reweighted(points: &[(f64, f64, f64)], coefficients: &[f64]) -> Vec<(f64, f64, f64)> {
    let residuals: Vec<f64> = points.iter().map(|p| (p.1 - polynomial(coefficients, p.0)) * p.2.sqrt()).collect();
    let scale = TUKEY * robust_deviation(&residuals).max(LEAST_SCATTER_PX);
    let weight = |r: f64| (1.0 - (r / scale).powi(2)).max(0.0).powi(2);
    points.iter().zip(&residuals).map(|(p, &r)| (p.0, p.1, p.2 * weight(r))).collect()
}

/// Fits profile and line in turn until the line rests: every row is shifted to where it matches the common profile
/// best (least squares), which uses all of the row's information and none of a window's bias.
///
/// `layout` says where the transition lies as far as is known.
pub(crate) fn refine(plane: &Plane<Linear>, start: &Line, layout: Layout) -> Result<Located, EdgeError> {
    let mut located = round(plane, start, layout, 1)?;
    for _ in 1..ROUNDS {
        let next = round(plane, &located.line, located.layout.clone(), HIGHEST_DEGREE)?;
        let moved = largest_difference(&located.line, &next.line, next.rows);
        located = next;
        if moved < REST_PX {
            break;
        }
    }
    Ok(located)
}

/// One round of [`refine`].
fn round(plane: &Plane<Linear>, line: &Line, layout: Layout, degree: usize) -> Result<Located, EdgeError> {
    let rows = rows_inside(line, (plane.width(), plane.height()), 0.0);
    if rows.1 - rows.0 < 4 {
        return Err(EdgeError::Undetermined);
    }
    let strip = Strip { plane, line, rows };
    let near = layout.within(strip.reach(0.5));
    let profile = Profile::fit(&strip, &near, 1).ok_or(EdgeError::Undetermined)?;
    let layout = profile.layout().ok_or(EdgeError::Undetermined)?;
    let points = shifts(&strip, &profile);
    let (line, slope_error) = choose_degree(line, &points, degree).ok_or(EdgeError::Undetermined)?;
    Ok(Located { bend: bend(&line, rows), line, rows, slope_error, layout })
}

/// (scaled row, column of the edge, weight) from matching each row to the profile.
fn shifts(strip: &Strip<'_>, profile: &Profile) -> Vec<(f64, f64, f64)> {
    let row_shift = |row: usize| {
        let distance = strip.line.row(row);
        let samples = strip.plane.row(row);
        let columns = distance.columns(profile.core, samples.len());
        let (product, square) = profile.match_sums(&distance, samples, columns);
        let column = distance.x + product / square / distance.cosine;
        let y = row as f64 + 0.5;
        column.is_finite().then(|| (strip.line.scaled(y), column, square))
    };
    let points: Vec<_> = strip.rows().filter_map(row_shift).collect();
    let typical = median(&points.iter().map(|p| p.2).collect::<Vec<_>>());
    points.into_iter().filter(|p| p.2 > 0.2 * typical).map(|p| (p.0, p.1, p.2 / typical)).collect()
}

/// The simplest polynomial that the rows do not contradict, and the standard error of its mean slope per row.
fn choose_degree(line: &Line, points: &[(f64, f64, f64)], highest: usize) -> Option<(Line, f64)> {
    let highest = highest.min(points.len() / ROWS_PER_COEFFICIENT).max(1);
    let mut best = robust_fit(line, points, 1)?;
    let weights = reweighted(points, &best);
    let slope_error = slope_error(&weights, &best) / line.half;
    for degree in 2..=highest {
        let Some(next) = robust_fit(line, points, degree) else { break };
        if justified(points, &best, &next) {
            best = next;
        }
    }
    Some((Line { coefficients: best, ..line.clone() }, slope_error))
}

/// True when the longer polynomial both matters and is not owed to chance.
fn justified(points: &[(f64, f64, f64)], simple: &[f64], longer: &[f64]) -> bool {
    let misfit = |c: &[f64]| {
        let used = reweighted(points, longer);
        used.iter().map(|p| p.2 * (p.1 - polynomial(c, p.0)).powi(2)).sum::<f64>()
    };
    let bend = points.iter().map(|p| (polynomial(longer, p.0) - polynomial(simple, p.0)).abs()).fold(0.0, f64::max);
    let (before, after) = (misfit(simple), misfit(longer).max(1e-18));
    let free = points.len().saturating_sub(longer.len()).max(1) as f64;
    let extra = (longer.len() - simple.len()).max(1) as f64;
    bend > LEAST_BEND_PX && (before - after) / extra / (after / free) > LEAST_F
}

/// Standard error of the straight term from the residuals, per scaled row.
fn slope_error(points: &[(f64, f64, f64)], coefficients: &[f64]) -> f64 {
    let weight: f64 = points.iter().map(|p| p.2).sum();
    let mean = points.iter().map(|p| p.2 * p.0).sum::<f64>() / weight;
    let spread: f64 = points.iter().map(|p| p.2 * (p.0 - mean).powi(2)).sum();
    let residual: f64 = points.iter().map(|p| p.2 * (p.1 - polynomial(coefficients, p.0)).powi(2)).sum();
    let free = points.len().saturating_sub(2).max(1) as f64;
    (BIWEIGHT_VARIANCE * residual / free / spread).sqrt()
}

fn largest_difference(a: &Line, b: &Line, rows: (usize, usize)) -> f64 {
    let at = |i: usize| rows.0 as f64 + (rows.1 - rows.0) as f64 * i as f64 / 8.0;
    (0..=8).map(|i| (a.x(at(i)) - b.x(at(i))).abs()).fold(0.0, f64::max)
}

/// Half of the range of the line's departures from the chord through its ends.
fn bend(line: &Line, (first, last): (usize, usize)) -> f64 {
    if line.straight() {
        return 0.0;
    }
    let (a, b) = (first as f64, last as f64);
    let chord = |y: f64| line.x(a) + (line.x(b) - line.x(a)) * (y - a) / (b - a);
    let departures = (0..=64).map(|i| a + (b - a) * f64::from(i) / 64.0).map(|y| line.x(y) - chord(y));
    departures.fold(0.0, |m: f64, d| m.max(d.abs()))
}

impl Located {
    /// Mean angle against the columns, degrees.
    pub(crate) fn angle_deg(&self) -> f64 {
        self.mean_slope().abs().atan().to_degrees()
    }

    /// Half-width of its 95 % interval, degrees.
    pub(crate) fn angle_plus_minus_deg(&self) -> f64 {
        let free = (self.rows.1 - self.rows.0).saturating_sub(2) as f64;
        let cosine = 1.0 / self.mean_slope().hypot(1.0);
        (student_975(free) * self.slope_error * cosine * cosine).to_degrees()
    }

    /// Slope of the least-squares straight line through the edge's rows.
    fn mean_slope(&self) -> f64 {
        let rows = self.rows.0..self.rows.1;
        let points: Vec<_> = rows.map(|r| r as f64 + 0.5).map(|y| (self.line.scaled(y), self.line.x(y), 1.0)).collect();
        fit_polynomial(&points, 1).map_or(self.line.slope(self.line.centre), |c| c[1] / self.line.half)
    }
}
