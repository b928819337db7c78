//! Where a flat card lies in the picture: homography, distortion, scale, tilt.

mod error;
mod fit;
mod mapping;
mod tilt;

pub use error::{GeometryError, TiltError};
pub use mapping::Mapping;
pub use tilt::{TiltOptions, TiltRemark, TiltReport, depth_of_tilt_mm, image_tilt_deg, tilt, tilt_allowed_deg};

use crate::algebra::{COVERAGE_95, Figure, gradients, student_975, variance};
use crate::numeric::median;
use fit::{Failure, Frame, HOMOGRAPHY, Pair};

/// Least pairs of a homography, and least for the distortion besides.
const LEAST_POINTS: usize = 4;
const LEAST_FOR_DISTORTION: usize = 6;
/// Least pairs among which a wrong one can be told from the rest.
const LEAST_FOR_OUTLIERS: usize = 7;
/// Least spread of the points across the line they lie along, as a share of the spread along it.
const LEAST_SPREAD: f64 = 0.02;
/// A point is left out beyond so many standard deviations of the others: by chance one in 3000 (exp(-4²/2)).
const OUTLYING: f64 = 4.0;
/// Residuals below this are never outlying, pixels: single-precision coordinates scatter by as much.
const NEVER_OUTLYING_PX: f64 = 1e-3;
/// A point is never taken to agree beyond this share of half the diagonal: no mark is found that badly, and a bent card is no card.
const NEVER_AGREEING: f64 = 0.02;
/// Fours that are tried for a mapping that most points agree with. With half of the points wrong one in 16 is clean.
const TRIALS: usize = 300;
/// Degrees of freedom from which on the residuals' own scatter is trusted.
const TRUSTED_DEGREES: usize = 4;

/// A mark of the card and where it was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PointPair {
    /// Its place on the card, millimetres, in any right-angled axes.
    pub plane_mm: (f64, f64),
    /// Its place in the picture, pixels from the outer corner of the top-left pixel.
    pub picture_px: (f64, f64),
}

/// How a mapping is found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeometryOptions {
    /// Columns and rows of the whole picture: half its diagonal is where distortion is stated.
    pub picture_px: (f64, f64),
    /// Centre of the distortion and foot of the optical axis, pixels; `None` is the picture's middle.
    pub centre_px: Option<(f64, f64)>,
    /// Fit the distortion when there are at least six points; else there is none.
    pub distortion: bool,
    /// Distance between neighbouring pixels on the film (or the sensor), micrometres; gives the magnification.
    pub pitch_um: Option<f64>,
    /// Half-width of the 95 % interval of each found coordinate, pixels. It is used only where too few points are left
    /// over to tell it from their scatter.
    pub point_plus_minus_px: f64,
}

impl GeometryOptions {
    /// The usual options for a picture of that size: distortion is fitted, points are good to a quarter of a pixel.
    pub fn for_picture(width: usize, height: usize) -> Self {
        Self {
            picture_px: (width as f64, height as f64),
            centre_px: None,
            distortion: true,
            pitch_um: None,
            point_plus_minus_px: 0.25,
        }
    }
}

/// Pixels per millimetre at one place of the card.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LocalScale {
    /// Along the card's x axis, pixels per millimetre.
    pub along_x: Figure,
    /// Along the card's y axis, pixels per millimetre.
    pub along_y: Figure,
    /// Root of the area's scale, pixels per millimetre.
    pub mean: Figure,
}

/// Where the card lies.
#[derive(Debug, Clone, PartialEq)]
pub struct GeometryReport {
    /// Card to picture and back.
    pub mapping: Mapping,
    /// Found minus mapped place of every pair that was given, pixels, in the order given.
    pub residuals_px: Vec<(f64, f64)>,
    /// Indices (from 0) of the pairs that do not agree with the others and were left out.
    pub left_out: Vec<usize>,
    /// Standard deviation of one coordinate of the points that took part, pixels; `None` when none are left over to tell.
    pub scatter_px: Option<f64>,
    /// Points left over: coordinates that took part minus unknowns.
    pub degrees: usize,
    /// Mean scale over all the marks' places on the card, pixels per millimetre (the local root of the area's scale).
    pub scale_px_per_mm: Figure,
    /// Scale at the foot of the optical axis, without distortion, pixels per millimetre.
    pub centre_scale_px_per_mm: Figure,
    /// Mean magnification over the marks: [`Self::scale_px_per_mm`] times the pixel pitch, which is taken as exact.
    pub magnification: Option<Figure>,
    /// Local geometric distortion at half the picture's diagonal, per cent; positive is pincushion. `None` when it was not
    /// fitted.
    pub corner_distortion_percent: Option<Figure>,
    /// Reservations.
    pub remarks: Vec<GeometryRemark>,
    pub(crate) numbers: Numbers,
}

/// What the intervals of further figures are computed from.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Numbers {
    pub(crate) parameters: Vec<f64>,
    /// Covariance of the parameters, with the factor to a 95 % interval already in.
    pub(crate) covariance_95: Vec<Vec<f64>>,
    frame: [f64; 6],
}

impl Numbers {
    fn frame(&self) -> Frame {
        let [a, b, plane_size, c, d, radius_px] = self.frame;
        Frame { plane_middle: (a, b), plane_size, centre_px: (c, d), radius_px }
    }

    /// Figures of the mapping with their intervals, by first-order propagation.
    pub(crate) fn figures<const N: usize>(
        &self,
        figures: impl Fn(&Mapping) -> Option<[f64; N]>,
    ) -> Option<[Figure; N]> {
        let frame = self.frame();
        let of = |parameters: &[f64]| figures(&frame.mapping(parameters));
        let values = of(&self.parameters)?;
        let slopes = gradients(&self.parameters, &self.covariance_95, of)?;
        let figure = |i: usize| Figure::new(values[i], variance(&slopes[i], &self.covariance_95).max(0.0).sqrt());
        Some(std::array::from_fn(figure))
    }
}

impl GeometryReport {
    /// Scale at a place of the card, millimetres; `None` beyond the horizon.
    pub fn scale_at(&self, plane_mm: (f64, f64)) -> Option<LocalScale> {
        let scales = |mapping: &Mapping| mapping.jacobian(plane_mm).map(scales_of);
        let [along_x, along_y, mean] = self.numbers.figures(scales)?;
        Some(LocalScale { along_x, along_y, mean })
    }

    /// Place in the picture of a place on the card, pixels, each coordinate with its interval.
    pub fn place_at(&self, plane_mm: (f64, f64)) -> Option<[Figure; 2]> {
        self.numbers.figures(|mapping| mapping.to_picture(plane_mm).map(|(x, y)| [x, y]))
    }
}

fn scales_of(j: [[f64; 2]; 2]) -> [f64; 3] {
    [j[0][0].hypot(j[1][0]), j[0][1].hypot(j[1][1]), (j[0][0] * j[1][1] - j[0][1] * j[1][0]).abs().sqrt()]
}

/// A reservation about a mapping.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum GeometryRemark {
    /// Points that do not agree with the others were left out.
    LeftOut {
        /// How many.
        count: usize,
        /// Of how many.
        of: usize,
        /// Residual of the farthest, pixels.
        farthest_px: f64,
    },
    /// Too few points for the distortion, which was taken as none.
    DistortionNotFitted {
        /// Points that took part.
        points: usize,
        /// Least number.
        least: usize,
    },
    /// The points lie near the middle only; distortion at the corner is carried on from there.
    Extrapolated {
        /// Farthest point from the centre over half the diagonal.
        reach: f64,
    },
    /// So few points are left over that their stated uncertainty was used for the intervals.
    StatedUncertainty {
        /// Half-width that was used, pixels.
        plus_minus_px: f64,
    },
    /// The points scatter by more than good marks do.
    Scattered {
        /// Standard deviation of one coordinate, pixels.
        scatter_px: f64,
    },
}

impl std::fmt::Display for GeometryRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::LeftOut { count, of, farthest_px } => write!(
                f,
                "{count} of {of} points do not agree with the others (by up to {farthest_px:.1} pixels) and were left out"
            ),
            Self::DistortionNotFitted { points, least } => write!(
                f,
                "{points} points are too few to tell distortion from the card's position ({least} are needed): it was taken as none"
            ),
            Self::Extrapolated { reach } => write!(
                f,
                "the farthest mark lies at {:.0} % of the way to the corner; distortion there is carried on from within",
                100.0 * reach
            ),
            Self::StatedUncertainty { plus_minus_px } => write!(
                f,
                "too few points are left over to show how well they were found: ± {plus_minus_px} pixels was taken for each"
            ),
            Self::Scattered { scatter_px } => write!(
                f,
                "the points scatter by {scatter_px:.1} pixels about a flat card: it is bent, or its marks were found badly"
            ),
        }
    }
}

/// Scatter beyond which marks were found badly, pixels.
const SCATTERED_PX: f64 = 1.0;
/// Share of the way to the corner that the points must reach for its distortion not to be carried on.
const LEAST_REACH: f64 = 0.7;

/// Finds where a flat card lies in the picture from at least four pairs of points, in the picture's pixels by least squares.
///
/// A first mapping comes from the direct linear transformation in normalised coordinates; with seven points or more,
/// fours of them are tried first and the one that most points agree with decides which are wrong. Intervals are
/// Student's, from the scatter that is left.
pub fn geometry(pairs: &[PointPair], options: &GeometryOptions) -> Result<GeometryReport, GeometryError> {
    check(pairs, options)?;
    let frame = frame_of(pairs, options);
    let normal: Vec<Pair> = pairs.iter().map(|p| frame.pair(p.plane_mm, p.picture_px)).collect();
    let (kept, parameters, solution) = settle(&normal, options, frame.radius_px)?;
    let unknowns = parameters.len();
    let degrees = 2 * kept.len() - unknowns;
    let stated = options.point_plus_minus_px / frame.radius_px;
    let scatter = (degrees > 0).then(|| (solution.squares / degrees as f64).sqrt());
    let trusted = scatter.filter(|_| degrees >= TRUSTED_DEGREES);
    // With few points left over a lucky agreement must not pass for certainty.
    let factor = match (trusted, scatter) {
        (Some(scatter), _) => scatter * student_975(degrees),
        (None, Some(scatter)) => stated.max(COVERAGE_95 * scatter),
        (None, None) => stated,
    };
    let covariance_95: Vec<Vec<f64>> =
        solution.unit_covariance.iter().map(|row| row.iter().map(|c| c * factor * factor).collect()).collect();
    let numbers = Numbers {
        parameters: parameters.clone(),
        covariance_95,
        frame: [
            frame.plane_middle.0,
            frame.plane_middle.1,
            frame.plane_size,
            frame.centre_px.0,
            frame.centre_px.1,
            frame.radius_px,
        ],
    };
    let mapping = frame.mapping(&parameters);
    let marks: Vec<(f64, f64)> = pairs.iter().map(|p| p.plane_mm).collect();
    let [scale, centre] = numbers.figures(|m| scales(m, &marks)).ok_or(GeometryError::Folded)?;
    let residual = |pair: &Pair| fit::residual(&parameters, pair);
    let residuals_px: Vec<(f64, f64)> = normal
        .iter()
        .map(|pair| {
            residual(pair).map_or((f64::INFINITY, f64::INFINITY), |[a, b]| (a * frame.radius_px, b * frame.radius_px))
        })
        .collect();
    let left_out: Vec<usize> = (0..pairs.len()).filter(|i| !kept.contains(i)).collect();
    let corner =
        (unknowns > HOMOGRAPHY).then(|| numbers.figures(|m| Some([m.distortion_percent(m.radius_px)]))).flatten();
    let mut report = GeometryReport {
        mapping,
        residuals_px,
        left_out,
        scatter_px: scatter.map(|s| s * frame.radius_px),
        degrees,
        scale_px_per_mm: scale,
        centre_scale_px_per_mm: centre,
        magnification: options.pitch_um.map(|pitch| scale.times(pitch / 1000.0)),
        corner_distortion_percent: corner.map(|[c]| c),
        remarks: Vec::new(),
        numbers,
    };
    report.remarks = remarks(&report, (&normal, &kept), options, trusted.is_none());
    Ok(report)
}

/// Mean local scale over the marks, and the scale at the foot of the axis without distortion.
fn scales(mapping: &Mapping, marks: &[(f64, f64)]) -> Option<[f64; 2]> {
    let sum: Option<f64> = marks.iter().map(|p| mapping.jacobian(*p).map(|j| scales_of(j)[2])).sum();
    let straight = Mapping { k1: 0.0, ..*mapping };
    let foot = straight.to_plane(mapping.centre_px)?;
    Some([sum? / marks.len() as f64, scales_of(straight.jacobian(foot)?)[2]])
}

fn remarks(
    report: &GeometryReport,
    (normal, kept): (&[Pair], &[usize]),
    options: &GeometryOptions,
    stated: bool,
) -> Vec<GeometryRemark> {
    let mut out = Vec::new();
    if !report.left_out.is_empty() {
        let far = report.left_out.iter().map(|&i| report.residuals_px[i].0.hypot(report.residuals_px[i].1));
        let farthest_px = far.fold(0.0, f64::max);
        out.push(GeometryRemark::LeftOut { count: report.left_out.len(), of: normal.len(), farthest_px });
    }
    if options.distortion && report.corner_distortion_percent.is_none() {
        out.push(GeometryRemark::DistortionNotFitted { points: kept.len(), least: LEAST_FOR_DISTORTION });
    }
    let reach = kept.iter().map(|&i| normal[i][2].hypot(normal[i][3])).fold(0.0, f64::max);
    if report.corner_distortion_percent.is_some() && reach < LEAST_REACH {
        out.push(GeometryRemark::Extrapolated { reach });
    }
    if stated {
        out.push(GeometryRemark::StatedUncertainty { plus_minus_px: options.point_plus_minus_px });
    }
    out.extend(
        report.scatter_px.filter(|s| *s > SCATTERED_PX).map(|scatter_px| GeometryRemark::Scattered { scatter_px }),
    );
    out
}

fn check(pairs: &[PointPair], options: &GeometryOptions) -> Result<(), GeometryError> {
    let lengths = [
        ("the picture's width", options.picture_px.0),
        ("the picture's height", options.picture_px.1),
        ("the points' half-width", options.point_plus_minus_px),
        ("the pixel pitch", options.pitch_um.unwrap_or(1.0)),
    ];
    if let Some(&(what, value)) = lengths.iter().find(|(_, v)| !(v.is_finite() && *v > 0.0)) {
        return Err(GeometryError::BadOption { what, value });
    }
    if let Some((x, y)) = options.centre_px.filter(|c| !(c.0.is_finite() && c.1.is_finite())) {
        return Err(GeometryError::BadOption { what: "the centre", value: if x.is_finite() { y } else { x } });
    }
    let finite =
        |p: &PointPair| [p.plane_mm.0, p.plane_mm.1, p.picture_px.0, p.picture_px.1].iter().all(|c| c.is_finite());
    if let Some(at) = pairs.iter().position(|p| !finite(p)) {
        return Err(GeometryError::NotFinite { number: at + 1 });
    }
    if pairs.len() < LEAST_POINTS {
        return Err(GeometryError::TooFewPoints { found: pairs.len(), least: LEAST_POINTS });
    }
    let card: Vec<_> = pairs.iter().map(|p| p.plane_mm).collect();
    let picture: Vec<_> = pairs.iter().map(|p| p.picture_px).collect();
    for (place, points) in [("on the card", card), ("in the picture", picture)] {
        let ratio = spread(&points);
        if ratio.is_nan() || ratio < LEAST_SPREAD {
            return Err(GeometryError::Collinear { place, ratio, least: LEAST_SPREAD });
        }
    }
    Ok(())
}

fn middle(points: &[(f64, f64)]) -> (f64, f64) {
    let n = points.len() as f64;
    (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n)
}

/// Spread across the points' main line over the spread along it; 0 when all lie in one place.
fn spread(points: &[(f64, f64)]) -> f64 {
    let (mx, my) = middle(points);
    let sum = |f: fn(f64, f64) -> f64| points.iter().map(|p| f(p.0 - mx, p.1 - my)).sum::<f64>();
    let (xx, xy, yy) = (sum(|x, _| x * x), sum(|x, y| x * y), sum(|_, y| y * y));
    let found = crate::algebra::eigen(vec![vec![xx, xy], vec![xy, yy]]);
    if found[1].0 <= 0.0 { 0.0 } else { (found[0].0.max(0.0) / found[1].0).sqrt() }
}

fn frame_of(pairs: &[PointPair], options: &GeometryOptions) -> Frame {
    let card: Vec<_> = pairs.iter().map(|p| p.plane_mm).collect();
    let plane_middle = middle(&card);
    let squares: f64 = card.iter().map(|p| (p.0 - plane_middle.0).powi(2) + (p.1 - plane_middle.1).powi(2)).sum();
    let (width, height) = options.picture_px;
    Frame {
        plane_middle,
        plane_size: (squares / card.len() as f64).sqrt(),
        centre_px: options.centre_px.unwrap_or((width / 2.0, height / 2.0)),
        radius_px: width.hypot(height) / 2.0,
    }
}

/// Pairs that took part, parameters, and the last step's solution.
type Settled = (Vec<usize>, Vec<f64>, crate::algebra::Solution);

/// Fits, leaves out what does not agree, and fits again until nothing changes.
fn settle(pairs: &[Pair], options: &GeometryOptions, radius_px: f64) -> Result<Settled, GeometryError> {
    let all: Vec<usize> = (0..pairs.len()).collect();
    if pairs.len() < LEAST_FOR_OUTLIERS {
        return fit_some(pairs, &all, options.distortion).map(|(p, s)| (all, p, s));
    }
    let floor = NEVER_OUTLYING_PX / radius_px;
    let mut kept = agreeing(pairs, &first_guess(pairs)?, floor, HOMOGRAPHY);
    let least = pairs.len().div_ceil(2).max(LEAST_POINTS + 1);
    let too_few = |kept: &[usize]| GeometryError::NoAgreement { agreeing: kept.len(), points: pairs.len(), least };
    let mut settled = None;
    for _ in 0..20 {
        if kept.len() < least {
            return Err(too_few(&kept));
        }
        let (parameters, solution) = fit_some(pairs, &kept, options.distortion)?;
        let next = agreeing(pairs, &parameters, floor, parameters.len());
        let same = next == kept;
        settled = Some((kept, parameters, solution));
        if same {
            break;
        }
        kept = next;
    }
    settled.ok_or(GeometryError::Undetermined { points: pairs.len() })
}

fn fit_some(
    pairs: &[Pair],
    kept: &[usize],
    distortion: bool,
) -> Result<(Vec<f64>, crate::algebra::Solution), GeometryError> {
    let some: Vec<Pair> = kept.iter().map(|&i| pairs[i]).collect();
    let undetermined = GeometryError::Undetermined { points: some.len() };
    if some.len() == LEAST_POINTS && three_in_line(&some) {
        return Err(undetermined);
    }
    let named = |failure: Failure| match failure {
        Failure::Folded => GeometryError::Folded,
        Failure::Undetermined => GeometryError::Undetermined { points: some.len() },
    };
    let start = fit::direct(&some).ok_or(undetermined)?;
    let (mut parameters, solution) = fit::refine(start, &some).map_err(named)?;
    if !distortion || some.len() < LEAST_FOR_DISTORTION {
        return Ok((parameters, solution));
    }
    parameters.push(0.0);
    fit::refine(parameters, &some).map_err(named)
}

/// True when three of four points lie on one line, on the card or in the picture: a homography needs no three that do.
fn three_in_line(four: &[Pair]) -> bool {
    let side = |at: usize| {
        let size = spread_size(four, at);
        (0..4).any(|leave| {
            let p: Vec<_> = (0..4).filter(|i| *i != leave).map(|i| (four[i][at], four[i][at + 1])).collect();
            let area = (p[1].0 - p[0].0) * (p[2].1 - p[0].1) - (p[1].1 - p[0].1) * (p[2].0 - p[0].0);
            area.abs() < 1e-3 * size
        })
    };
    side(0) || side(2)
}

/// Sum of the squared distances from the middle, the yardstick of areas.
fn spread_size(points: &[Pair], at: usize) -> f64 {
    let places: Vec<_> = points.iter().map(|p| (p[at], p[at + 1])).collect();
    let (mx, my) = middle(&places);
    places.iter().map(|p| (p.0 - mx).powi(2) + (p.1 - my).powi(2)).sum()
}

/// Indices of the pairs that lie within [`OUTLYING`] standard deviations of a mapping, the deviation taken from the middle one of
/// their residuals (a normal scatter in two directions has its median radius at sqrt(2 ln 2) deviations).
fn agreeing(pairs: &[Pair], parameters: &[f64], floor: f64, unknowns: usize) -> Vec<usize> {
    let far = |pair: &Pair| fit::residual(parameters, pair).map_or(f64::INFINITY, |[a, b]| a.hypot(b));
    let radii: Vec<f64> = pairs.iter().map(far).collect();
    // The second factor makes up for what a middle value of few points misses (Rousseeuw & Leroy, "Robust Regression and
    // Outlier Detection", 1987, chapter 5).
    let left_over = (2 * pairs.len() - unknowns) as f64;
    let scarce = (2.0 * pairs.len() as f64 / left_over).sqrt() * (1.0 + 5.0 / left_over);
    let deviation = median(&radii) / (2.0 * 2_f64.ln()).sqrt() * scarce;
    let limit = (OUTLYING * deviation).clamp(floor, NEVER_AGREEING);
    (0..pairs.len()).filter(|&i| radii[i] <= limit).collect()
}

/// The mapping through four of the points whose middle residual over all points is least.
fn first_guess(pairs: &[Pair]) -> Result<Vec<f64>, GeometryError> {
    let mut chance = Draw(20_240_601);
    let mut best: Option<(f64, Vec<f64>)> = None;
    for _ in 0..TRIALS {
        let four = chance.four(pairs.len()).map(|i| pairs[i]);
        if three_in_line(&four) {
            continue;
        }
        let Some(found) = fit::through(&four) else { continue };
        let far = |pair: &Pair| fit::residual(&found, pair).map_or(f64::INFINITY, |[a, b]| a.hypot(b));
        let score = median(&pairs.iter().map(far).collect::<Vec<_>>());
        if best.as_ref().is_none_or(|(least, _)| score < *least) {
            best = Some((score, found));
        }
    }
    match best {
        Some((score, _)) if score.is_infinite() => Err(GeometryError::Folded),
        Some((_, found)) => Ok(found),
        None => Err(GeometryError::Undetermined { points: pairs.len() }),
    }
}

/// Repeatable draws of four different indices (SplitMix64, as [`crate::numeric::Chance`]).
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) % n as u64) as usize
    }

    fn four(&mut self, n: usize) -> [usize; 4] {
        let mut out = [n; 4];
        for k in 0..4 {
            out[k] = loop {
                let draw = self.below(n);
                if !out[..k].contains(&draw) {
                    break draw;
                }
            };
        }
        out
    }
}
