//! Where a sheet lies in the frame: from its codes to its squares.

use measure::{GeometryError, GeometryOptions, GeometryReport, Mapping, PointPair, geometry};
use target::{Corner, Sheet, Square};

use crate::codes::Sighted;
use crate::squares::{Missing, Place, Search, View, corners};

/// Sides are looked for within this share of their length: a little less than the white that the layout keeps about a square.
const REACH: f64 = 0.27;
/// Least spread of the known places across, as a share of the sheet's shorter side, for their perspective to be believed.
const LEAST_SPREAD: f64 = 0.12;
/// The same for the distortion, as a share of half the frame's diagonal.
const LEAST_SPREAD_FOR_DISTORTION: f64 = 0.1;
/// Points on a square.
const CORNERS: usize = 4;

/// What is known of a sheet's place so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Model {
    /// x = a + b x + c y for both picture axes.
    Affine([[f64; 3]; 2]),
    Full(Mapping),
}

impl Model {
    pub fn to_picture(self, [x, y]: [f64; 2]) -> Option<Place> {
        match self {
            Self::Affine(rows) => {
                Some((rows[0][0] + rows[0][1] * x + rows[0][2] * y, rows[1][0] + rows[1][1] * x + rows[1][2] * y))
            }
            Self::Full(mapping) => mapping.to_picture((x, y)),
        }
    }

    pub fn square(self, square: &Square) -> Option<[Place; 4]> {
        let [a, b, c, d] = square.corners().map(|corner| self.to_picture(corner));
        Some([a?, b?, c?, d?])
    }
}

/// Middles of a code's finders on the sheet, mm, in the order of [`Sighted::finders`].
fn finders_mm(code: &target::Code) -> [[f64; 2]; 3] {
    let arm = code.side_mm * (0.5 - 3.5 / 21.0);
    [[-arm, arm], [-arm, -arm], [arm, -arm]].map(|[x, y]| [code.centre[0] + x, code.centre[1] + y])
}

fn pair([x, y]: [f64; 2], picture_px: Place) -> PointPair {
    PointPair { plane_mm: (x, y), picture_px }
}

/// Points of the codes that were read.
fn seeds(sheet: &Sheet, codes: &[Sighted]) -> Vec<PointPair> {
    let of = |sighted: &Sighted| {
        let code = sheet.codes().find(|code| code.text.corner == sighted.text.corner);
        code.map(|code| {
            finders_mm(code).into_iter().zip(sighted.finders).map(|(mm, px)| pair(mm, px)).collect::<Vec<_>>()
        })
    };
    codes.iter().filter_map(of).flatten().collect()
}

/// The best model for the points so far.
fn model(points: &[PointPair], sheet: &Sheet, frame: (u32, u32)) -> Option<Model> {
    let short = sheet.size_mm[0].min(sheet.size_mm[1]);
    if points.len() >= 2 * CORNERS && spread_mm(points) > LEAST_SPREAD * short {
        let options = GeometryOptions { distortion: may_be_bent(points, frame), ..options(frame) };
        if let Ok(report) = geometry(points, &options) {
            return Some(Model::Full(report.mapping));
        }
    }
    affine(points).map(Model::Affine)
}

fn options((width, height): (u32, u32)) -> GeometryOptions {
    GeometryOptions::for_picture(width as usize, height as usize)
}

/// Standard deviation of the points across the line along which they lie, mm.
fn spread_mm(points: &[PointPair]) -> f64 {
    spread(points.iter().map(|p| p.plane_mm))
}

fn spread(places: impl Iterator<Item = Place> + Clone) -> f64 {
    let n = places.clone().count() as f64;
    let (mx, my) = places.clone().fold((0.0, 0.0), |s, p| (s.0 + p.0 / n, s.1 + p.1 / n));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in places {
        xx += (x - mx).powi(2) / n;
        yy += (y - my).powi(2) / n;
        xy += (x - mx) * (y - my) / n;
    }
    // The smaller eigenvalue of the covariance.
    ((xx + yy) / 2.0 - ((xx - yy) / 2.0).hypot(xy)).max(0.0).sqrt()
}

fn may_be_bent(points: &[PointPair], (width, height): (u32, u32)) -> bool {
    let radius = f64::from(width).hypot(f64::from(height)) / 2.0;
    points.len() >= 6 * CORNERS && spread(points.iter().map(|p| p.picture_px)) > LEAST_SPREAD_FOR_DISTORTION * radius
}

/// Least squares of an affine map.
fn affine(points: &[PointPair]) -> Option<[[f64; 3]; 2]> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let (mx, my) = points.iter().fold((0.0, 0.0), |s, p| (s.0 + p.plane_mm.0 / n, s.1 + p.plane_mm.1 / n));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    let mut sums = [[0.0; 3]; 2];
    for p in points {
        let (x, y) = (p.plane_mm.0 - mx, p.plane_mm.1 - my);
        xx += x * x;
        yy += y * y;
        xy += x * y;
        for (sum, v) in sums.iter_mut().zip([p.picture_px.0, p.picture_px.1]) {
            sum[0] += v / n;
            sum[1] += x * v;
            sum[2] += y * v;
        }
    }
    let determinant = xx * yy - xy * xy;
    if determinant <= 1e-9 * xx * yy {
        return None;
    }
    Some(sums.map(|[mean, xv, yv]| {
        let (b, c) = ((yy * xv - xy * yv) / determinant, (xx * yv - xy * xv) / determinant);
        [mean - b * mx - c * my, b, c]
    }))
}

/// Follows a sheet's squares outwards from its codes on the overview: each is looked for where those nearest to it say.
pub(crate) fn grow(view: &View, sheet: &Sheet, codes: &[Sighted], frame: (u32, u32)) -> Option<Model> {
    let negative = codes.first()?.negative;
    let seeds = seeds(sheet, codes);
    let mut found: Vec<(usize, Vec<PointPair>)> = Vec::new();
    let squares: Vec<&Square> = sheet.squares().collect();
    let all = |found: &[(usize, Vec<PointPair>)]| -> Vec<PointPair> {
        let squares: Vec<PointPair> = found.iter().flat_map(|(_, pairs)| pairs.clone()).collect();
        // Finders are known to a pixel only: they help until some squares are.
        if found.len() >= 3 { squares } else { seeds.iter().copied().chain(squares).collect() }
    };
    let search = Search { reach: REACH, negative, bent: false, coarse: false };
    // What fails while little is known is tried once more when all others are.
    for _ in 0..2 {
        let mut left: Vec<usize> = (0..squares.len()).filter(|i| found.iter().all(|(j, _)| i != j)).collect();
        while !left.is_empty() {
            let known = all(&found);
            let nearest = |i: usize| {
                let to =
                    |p: &PointPair| (p.plane_mm.0 - squares[i].centre[0]).hypot(p.plane_mm.1 - squares[i].centre[1]);
                known.iter().map(to).fold(f64::MAX, f64::min)
            };
            let next = (0..left.len()).min_by(|a, b| nearest(left[*a]).total_cmp(&nearest(left[*b])))?;
            let square = left.swap_remove(next);
            let now = model(&known, sheet, frame)?;
            let Some(predicted) = now.square(squares[square]) else { continue };
            if let Ok(places) = corners(view, predicted, search) {
                found.push((
                    square,
                    squares[square].corners().into_iter().zip(places).map(|(m, p)| pair(m, p)).collect(),
                ));
            }
        }
    }
    model(&all(&found), sheet, frame)
}

/// A square found at full resolution.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Cornered {
    /// Index among the sheet's squares.
    pub square: usize,
    pub corners: [Place; 4],
}

/// The four corners of a square at full resolution.
pub(crate) fn settle(view: &View, predicted: [Place; 4], negative: bool) -> Result<[Place; 4], Missing> {
    corners(view, predicted, Search { reach: REACH, negative, bent: true, coarse: false })
}

/// Squares up a sheet from its squares' corners. Squares of which half do not agree with the others are named.
pub(crate) fn square_up(
    sheet: &Sheet,
    found: &[Cornered],
    frame: (u32, u32),
    pitch_um: Option<f64>,
) -> Result<(GeometryReport, Vec<usize>), GeometryError> {
    let squares: Vec<&Square> = sheet.squares().collect();
    let pairs: Vec<PointPair> = found
        .iter()
        .flat_map(|f| squares[f.square].corners().into_iter().zip(f.corners).map(|(m, p)| pair(m, p)))
        .collect();
    let options = GeometryOptions { pitch_um, distortion: may_be_bent(&pairs, frame), ..options(frame) };
    let report = geometry(&pairs, &options)?;
    let odd = |i: &usize| report.left_out.iter().filter(|p| *p / CORNERS == *i).count() > CORNERS / 2;
    let odd: Vec<usize> = (0..found.len()).filter(odd).map(|i| found[i].square).collect();
    Ok((report, odd))
}

/// Which corners of a sheet had no code read.
pub(crate) fn unread(codes: &[Sighted]) -> Vec<Corner> {
    Corner::ALL.into_iter().filter(|corner| codes.iter().all(|code| code.text.corner != *corner)).collect()
}
