//! How much even ground lies beside a piece of edge, and the largest good region on it.

use super::lines::{Cells, Piece};
use crate::numeric::{median, robust_deviation};

/// Places along the edge, at most, where the ground is looked at.
const STATIONS: usize = 28;
/// How far from the edge, pixels of the picture, the ground is looked at.
const FAR: usize = 110;
/// Departure from a side's own level that ends the even ground, as a share of the step.
const EVEN: f64 = 0.12;
/// Ground wanted beside the edge, pixels; more is not better.
const ENOUGH: f64 = 28.0;
/// Least ground beside the transition, pixels.
const LEAST_ROOM: f64 = 5.0;
/// Rows (or columns) along the edge at most: a longer edge is surer, but takes as much longer.
const LONGEST: f64 = 480.0;
/// Steepness, as a share of the steepest, at which the transition is over.
const FOOT: f64 = 0.08;

/// A region on a piece of edge, in pixels of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Site {
    pub(super) x: usize,
    pub(super) y: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    /// Length of the edge inside, pixels.
    pub(super) length: f64,
    /// Even ground on the narrower side, beyond the transition, pixels.
    pub(super) room: f64,
    /// Width of the transition, pixels.
    pub(super) transition: f64,
    pub(super) low: f64,
    pub(super) high: f64,
    /// Standard deviation of single pixels on the even ground.
    pub(super) noise: f64,
}

impl Site {
    pub(super) fn overlaps(&self, other: &Self) -> bool {
        self.x < other.x + other.width
            && other.x < self.x + self.width
            && self.y < other.y + other.height
            && other.y < self.y + self.height
    }
}

/// Samples on a grid along the edge (stations) and across it (offsets from -FAR to FAR).
struct Grid {
    stations: Vec<Station>,
}

struct Station {
    /// On the edge.
    at: (f64, f64),
    /// Levels at whole offsets; NaN outside the picture.
    levels: Vec<f32>,
}

impl Grid {
    fn of(cells: &Cells, piece: &Piece) -> Self {
        let (along, length) = (piece.along(), piece.length());
        let normal = (-along.1, along.0);
        let count = ((length / 3.0) as usize).clamp(6, STATIONS);
        // Half a blur from the ends the corner's own blur may have begun.
        let trim = (0.04 * length).clamp(1.0, 4.0);
        let station = |i: usize| {
            let place = trim + (length - 2.0 * trim) * i as f64 / (count - 1) as f64;
            let at = (piece.from.0 + place * along.0, piece.from.1 + place * along.1);
            let level = |k: usize| {
                let d = k as f64 - FAR as f64;
                level(cells, at.0 + d * normal.0, at.1 + d * normal.1)
            };
            Station { at, levels: (0..=2 * FAR).map(level).collect() }
        };
        Self { stations: (0..count).map(station).collect() }
    }

    /// Median level over the stations at each offset; NaN where most lie outside the picture.
    fn profile(&self) -> Vec<f64> {
        let at = |k: usize| {
            let levels: Vec<f64> =
                self.stations.iter().map(|s| f64::from(s.levels[k])).filter(|v| v.is_finite()).collect();
            if 2 * levels.len() > self.stations.len() { median(&levels) } else { f64::NAN }
        };
        (0..=2 * FAR).map(at).collect()
    }
}

/// The nearest pixel's level: interpolation would hide noise and soften what lies beside.
fn level(cells: &Cells, x: f64, y: f64) -> f32 {
    if x < 0.0 || y < 0.0 || x >= cells.width as f64 || y >= cells.height as f64 {
        return f32::NAN;
    }
    cells.values[y as usize * cells.width + x as usize]
}

/// The feet of the transition (offsets from the edge) and the levels beside them.
struct Sides {
    feet: (f64, f64),
    levels: (f64, f64),
    noise: f64,
}

fn sides(grid: &Grid) -> Option<Sides> {
    let profile = grid.profile();
    let slope = |k: usize| profile[k + 1] - profile[k - 1];
    let top = (FAR - 2..=FAR + 2).max_by(|&a, &b| slope(a).abs().total_cmp(&slope(b).abs()))?;
    let (steepest, sign) = (slope(top).abs(), slope(top).signum());
    if steepest.is_nan() || steepest == 0.0 {
        return None;
    }
    // Outside the picture there is no slope, and no edge either.
    let over = |k: &usize| slope(*k).is_nan() || sign * slope(*k) <= FOOT * steepest;
    let left = (1..=top).rev().find(over)?;
    let right = (top..2 * FAR).find(over)?;
    let beside = |range: std::ops::Range<usize>| -> Vec<f64> {
        profile[range].iter().copied().filter(|v| v.is_finite()).collect()
    };
    let (dark, bright) = (beside(left.saturating_sub(6)..left + 1), beside(right..(right + 7).min(profile.len())));
    if dark.len() < 3 || bright.len() < 3 {
        return None;
    }
    let levels = (median(&dark), median(&bright));
    let spread = |from: usize, level: f64| {
        let all: Vec<f64> =
            grid.stations.iter().flat_map(|s| &s.levels[from..from + 4]).map(|&v| f64::from(v) - level).collect();
        robust_deviation(&all.into_iter().filter(|v| v.is_finite()).collect::<Vec<_>>())
    };
    let noise = spread(left.saturating_sub(4), levels.0).max(spread((right + 1).min(2 * FAR - 4), levels.1));
    Some(Sides { feet: (left as f64 - FAR as f64, right as f64 - FAR as f64), levels, noise })
}

/// Even ground of one station on either side, counted from the edge.
fn rooms(station: &Station, sides: &Sides) -> (f64, f64) {
    let step = (sides.levels.1 - sides.levels.0).abs();
    // Means of three samples: a single noisy pixel ends nothing.
    let limit = EVEN * step + 2.5 * sides.noise;
    let run = |from: f64, way: i64, level: f64| {
        let mut reach = 0;
        for d in 0..FAR as i64 {
            let k = FAR as i64 + from as i64 + way * d;
            let (Ok(a), Ok(b)) = (usize::try_from(k - 1), usize::try_from(k + 1)) else { break };
            let Some(three) = station.levels.get(a..=b) else { break };
            let mean = three.iter().map(|&v| f64::from(v)).sum::<f64>() / 3.0;
            if mean.is_nan() || (mean - level).abs() > limit {
                break;
            }
            reach = d;
        }
        (from + way as f64 * reach as f64).abs()
    };
    (run(sides.feet.0 - 1.0, -1, sides.levels.0), run(sides.feet.1 + 1.0, 1, sides.levels.1))
}

/// The best regions on a piece, the best first; empty when it has no even ground.
pub(super) fn sites(cells: &Cells, piece: &Piece) -> Vec<Site> {
    let grid = Grid::of(cells, piece);
    let Some(sides) = sides(&grid) else { return Vec::new() };
    let rooms: Vec<(f64, f64)> = grid.stations.iter().map(|s| rooms(s, &sides)).collect();
    let transition = sides.feet.1 - sides.feet.0;
    let (ax, ay) = piece.along();
    let upright = ay.abs() >= ax.abs();
    // Across: columns for an upright edge; the normal's offset grows with x by this factor.
    let normal = (-ay, ax);
    let (cosine, way) = if upright { (normal.0.abs(), normal.0) } else { (normal.1.abs(), normal.1) };
    let middle = 0.5 * (sides.feet.0 + sides.feet.1);
    let (half, needed) = (0.5 * transition, LEAST_ROOM.max(0.7 * transition));
    let n = grid.stations.len();
    let place = |i: usize| {
        let (x, y) = grid.stations[i].at;
        // The transition's middle may lie beside the walked line.
        let (x, y) = (x + middle * normal.0, y + middle * normal.1);
        if upright { (x, y) } else { (y, x) }
    };
    let mut found: Vec<(f64, Site)> = Vec::new();
    for i in 0..n {
        for j in i + 3..n {
            let (a, b) = (place(i), place(j));
            let rows = (b.1 - a.1).abs();
            if rows > LONGEST {
                break;
            }
            let (first, last) = (a.0.min(b.0), a.0.max(b.0));
            // Free ground on either side of the whole run: what the worst station has beyond what the slant takes.
            let room = (i..=j).map(|k| {
                let (x, (left, right)) = (place(k).0, rooms[k]);
                let (before, after) =
                    if way > 0.0 { (left + middle, right - middle) } else { (right - middle, left + middle) };
                (before - (x - first) * cosine).min(after - (last - x) * cosine) - half
            });
            let room = room.fold(f64::INFINITY, f64::min);
            if room < needed {
                continue;
            }
            let used = room.min(ENOUGH.max(1.5 * transition));
            let margin = (used + half) / cosine.max(0.5);
            let score = rows.min(LONGEST) * (used / ENOUGH).sqrt().min(1.0);
            let across = (first - margin, last + margin);
            let along = (a.1.min(b.1), a.1.max(b.1));
            if let Some(site) = site(cells, (across, along), upright) {
                let (low, high) = (sides.levels.0.min(sides.levels.1), sides.levels.0.max(sides.levels.1));
                let length = rows / cosine.max(0.5);
                found.push((score, Site { length, room: used, transition, low, high, noise: sides.noise, ..site }));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, site)| site).collect()
}

/// A rectangle of whole pixels inside the limits.
fn site(cells: &Cells, (across, along): ((f64, f64), (f64, f64)), upright: bool) -> Option<Site> {
    let (xs, ys) = if upright { (across, along) } else { (along, across) };
    let whole = |(from, to): (f64, f64), size: usize| {
        let (from, to) = (from.ceil().max(0.0) as usize, (to.floor().max(0.0) as usize).min(size));
        (to > from + 7).then(|| (from, to - from))
    };
    let ((x, width), (y, height)) = (whole(xs, cells.width)?, whole(ys, cells.height)?);
    Some(Site { x, y, width, height, length: 0.0, room: 0.0, transition: 0.0, low: 0.0, high: 0.0, noise: 0.0 })
}
