//! The numbers behind a mapping: normalised direct linear transformation, then least squares on the picture's side.

use super::mapping::Mapping;
use crate::algebra::{Solution, eigen, least_squares};

/// Unknowns of a homography.
pub(super) const HOMOGRAPHY: usize = 8;
/// Squared length of a step, over the parameters' own, at which the fit has settled.
const SETTLED: f64 = 1e-24;
/// Steps at most. Gauss-Newton from the linear solution settles within six on any sane card.
const MOST_STEPS: usize = 60;

/// Coordinates in which both sides are of size 1 (Hartley, "In defense of the eight-point algorithm", 1997): card
/// about the points' middle, picture about the centre of distortion.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) plane_middle: (f64, f64),
    pub(super) plane_size: f64,
    pub(super) centre_px: (f64, f64),
    pub(super) radius_px: f64,
}

/// One pair in a [`Frame`]'s coordinates: card x and y, picture u and v.
pub(super) type Pair = [f64; 4];

impl Frame {
    pub(super) fn pair(&self, (x, y): (f64, f64), (u, v): (f64, f64)) -> Pair {
        [
            (x - self.plane_middle.0) / self.plane_size,
            (y - self.plane_middle.1) / self.plane_size,
            (u - self.centre_px.0) / self.radius_px,
            (v - self.centre_px.1) / self.radius_px,
        ]
    }

    /// The mapping in millimetres and pixels that these parameters stand for.
    pub(super) fn mapping(&self, parameters: &[f64]) -> Mapping {
        let p = |i: usize| parameters[i];
        let rows = [[p(0), p(1), p(2)], [p(3), p(4), p(5)], [p(6), p(7), 1.0]];
        // Card: x' = (x - middle) / size, folded into the rows.
        let rows = rows.map(|[a, b, c]| {
            let (a, b) = (a / self.plane_size, b / self.plane_size);
            [a, b, c - a * self.plane_middle.0 - b * self.plane_middle.1]
        });
        let picture = |row: [f64; 3], centre: f64| [0, 1, 2].map(|i| self.radius_px * row[i] + centre * rows[2][i]);
        Mapping {
            homography: [picture(rows[0], self.centre_px.0), picture(rows[1], self.centre_px.1), rows[2]],
            k1: parameters.get(HOMOGRAPHY).copied().unwrap_or(0.0),
            centre_px: self.centre_px,
            radius_px: self.radius_px,
        }
    }
}

/// A homography by the direct linear transformation: the vector that the equations come nearest to sending to 0.
pub(super) fn direct(pairs: &[Pair]) -> Option<Vec<f64>> {
    let mut matrix = vec![vec![0.0; 9]; 9];
    for &[x, y, u, v] in pairs {
        for row in [[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, -u], [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, -v]] {
            for i in 0..9 {
                for j in 0..9 {
                    matrix[i][j] += row[i] * row[j];
                }
            }
        }
    }
    let found = eigen(matrix);
    let (vector, last) = (&found[0].1, found[0].1[8]);
    // At the points' middle the last row is its last element: 0 there is a horizon through the middle of the points.
    (last.abs() > 1e-9).then(|| vector[..8].iter().map(|h| h / last).collect())
}

/// The homography through exactly four pairs.
pub(super) fn through(four: &[Pair; 4]) -> Option<Vec<f64>> {
    let rows = four.iter().flat_map(|&[x, y, u, v]| {
        [vec![x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u], vec![0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v]]
    });
    crate::numeric::solve_dense(rows.collect())
}

/// Residuals (found minus mapped) of a pair; `None` behind the lens.
pub(super) fn residual(parameters: &[f64], &[x, y, u, v]: &Pair) -> Option<[f64; 2]> {
    let p = parameters;
    let w = p[6] * x + p[7] * y + 1.0;
    if w <= 1e-6 {
        return None;
    }
    let (a, b) = ((p[0] * x + p[1] * y + p[2]) / w, (p[3] * x + p[4] * y + p[5]) / w);
    let stretch = 1.0 + p.get(HOMOGRAPHY).map_or(0.0, |k| k * (a * a + b * b));
    Some([u - a * stretch, v - b * stretch])
}

/// The two rows of derivatives of a pair's place by the parameters.
fn slopes(parameters: &[f64], &[x, y, ..]: &Pair) -> [Vec<f64>; 2] {
    let p = parameters;
    let w = p[6] * x + p[7] * y + 1.0;
    let (a, b) = ((p[0] * x + p[1] * y + p[2]) / w, (p[3] * x + p[4] * y + p[5]) / w);
    let k = p.get(HOMOGRAPHY).copied();
    let da = [x / w, y / w, 1.0 / w, 0.0, 0.0, 0.0, -a * x / w, -a * y / w];
    let db = [0.0, 0.0, 0.0, x / w, y / w, 1.0 / w, -b * x / w, -b * y / w];
    let kk = k.unwrap_or(0.0);
    let rr = a * a + b * b;
    let bend = [[1.0 + kk * (rr + 2.0 * a * a), 2.0 * kk * a * b], [2.0 * kk * a * b, 1.0 + kk * (rr + 2.0 * b * b)]];
    [(0, a * rr), (1, b * rr)].map(|(i, by_k)| {
        let mut row: Vec<f64> = (0..HOMOGRAPHY).map(|j| bend[i][0] * da[j] + bend[i][1] * db[j]).collect();
        row.extend(k.map(|_| by_k));
        row
    })
}

/// Why least squares gave nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Failure {
    /// A point came to lie behind the lens.
    Folded,
    /// The pairs leave the parameters open.
    Undetermined,
}

fn squares(parameters: &[f64], pairs: &[Pair]) -> Option<f64> {
    pairs.iter().map(|pair| residual(parameters, pair).map(|[a, b]| a * a + b * b)).sum()
}

/// Least squares on the picture's side from a first guess, by Gauss-Newton with halved steps where a whole one leads uphill.
pub(super) fn refine(start: Vec<f64>, pairs: &[Pair]) -> Result<(Vec<f64>, Solution), Failure> {
    let mut p = start;
    let mut now = squares(&p, pairs).ok_or(Failure::Folded)?;
    let mut solved = None;
    for _ in 0..MOST_STEPS {
        let rows: Vec<Vec<f64>> = pairs.iter().flat_map(|pair| slopes(&p, pair)).collect();
        let right: Vec<f64> = pairs.iter().filter_map(|pair| residual(&p, pair)).flatten().collect();
        let step = least_squares(&rows, &right).ok_or(Failure::Undetermined)?;
        let length: f64 = step.x.iter().map(|s| s * s).sum();
        let own: f64 = p.iter().map(|s| s * s).sum();
        let mut share = 1.0;
        let mut moved = false;
        while share > 1e-4 {
            let trial: Vec<f64> = p.iter().zip(&step.x).map(|(a, s)| a + share * s).collect();
            if let Some(next) = squares(&trial, pairs)
                && next <= now
            {
                (p, now, moved) = (trial, next, true);
                break;
            }
            share *= 0.5;
        }
        solved = Some(step);
        if !moved || length <= SETTLED * own {
            break;
        }
    }
    let mut solved = solved.ok_or(Failure::Undetermined)?;
    solved.squares = now;
    Ok((p, solved))
}
