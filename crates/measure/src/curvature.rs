//! Whether the sharp surface is curved: what four ramps leave open, told by how sharp the flat card is over the field.
//!
//! Ramps at one distance from the middle give three heights' worth of knowledge: a height and two tilts. Their own curves say
//! besides how this very picture's contrast falls with the distance from the focus. Squares on the flat card were measured at the
//! same detail; where the surface is tilted or curved they lie out of focus by what the surface says, and lose by that curve.
//! One surface z = z0 + a·x + b·y + c·r² is fitted to both by least squares.
//!
//! What a lens loses by itself towards the corner looks much like a curved surface. It is an unknown of the fit, the
//! same in all directions from the middle (a lens whose mount leans breaks that, and its focus leans with it): ln of contrast falls by
//! n1·(r/corner)² + n2·(r/corner)⁴, with n1 and n2 about 0 as far as a usable lens goes ([`LENS_LOSS`]). Where the card leans,
//! one side is before and one behind the surface, which no such loss imitates: there the curvature is told well. Where it does not
//! lean, what is seen is how far the middle is off the focus, not on which side, and both answers are given.
//!
//! Astigmatism is not looked for: squares give the mean of their sides' contrasts, ramps that of detail along their length.

use crate::algebra::{COVERAGE_95, Figure, Solution, least_squares, student_975};
use crate::alignment::{AlignmentError, AlignmentOptions, AlignmentRemark, AlignmentReport, SharpPlace, alignment};
use crate::ramp::RampShape;

/// Standard deviations of n1 and n2: of detail as coarse as the bars a lens keeps in its corner, in its own best focus, two
/// thirds of the middle's contrast or more, in 95 of 100 (common practice, no source). Where the squares ask for more than twice
/// this, it is widened.
const LENS_LOSS: [f64; 2] = [0.2, 0.1];
const WIDENED: f64 = 3.0;
/// How far the ramps' curve may be off in width, one standard deviation, whatever the ramps say: bars are not squares.
const LEAST_WIDTH_DOUBT: f64 = 0.03;
/// Scatter of squares that is not in their own intervals, as a share of the contrast: print, dust, the sides' directions.
const LEAST_SCATTER: f64 = 0.01;
/// Least squares, and how near the middle one of them must lie, in distances to the corner.
const LEAST_SQUARES: usize = 8;
const MIDDLE: f64 = 0.3;
/// Curvatures are tried as far as this many half-depths at the corner, in so many steps to either side, which are halved so often where the
/// least and the interval's ends lie.
const REACH: f64 = 6.0;
const STEPS: i32 = 24;
const HALVINGS: usize = 5;
/// Standard deviations by which squares may pull the ramps' heights, all together, off the surface that these show alone.
const MOST_PULL: f64 = 3.0;
/// Unknowns at one curvature: height, two tilts, logarithm of the contrast in focus, n1, n2, logarithm of the width's factor.
const UNKNOWNS: usize = 7;

/// How sharp the flat card is at a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatPlace {
    /// Place on the subject from the frame's centre, millimetres: (to the right, downward) in the picture.
    pub position_mm: (f64, f64),
    /// Response there at the detail that the ramps were followed at.
    pub response: Figure,
}

/// How contrast falls with the distance from the focus, as one ramp shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThroughFocus {
    /// The curve that followed the ramp.
    pub shape: RampShape,
    /// Depth over which contrast stays above half of its best, both sides together, millimetres.
    pub depth_mm: Figure,
}

/// The sharp surface with its curvature.
#[derive(Debug, Clone, PartialEq)]
pub struct CurvedReport {
    /// The surface that fits best and, where a surface curved the other way fits as well, that one: each with its curvature's interval.
    pub surfaces: Vec<AlignmentReport>,
    /// Share of this detail's contrast that the lens by itself is found to lose from the middle to the corner; below 0 when it gains.
    pub lens_loss: f64,
}

/// Why no curvature is told.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CurvatureError {
    /// The ramps alone tell no surface.
    #[error(transparent)]
    Surface(#[from] AlignmentError),
    /// No ramp's curve.
    #[error("no ramp shows how contrast falls with the distance from the focus")]
    NoCurve,
    /// A response or a depth that is no usable number.
    #[error("{what} number {number} is {value} ± {plus_minus}: both must be finite and above 0")]
    BadFigure {
        /// What.
        what: &'static str,
        /// Which, from 1 on.
        number: usize,
        /// What was given.
        value: f64,
        /// Its half-width.
        plus_minus: f64,
    },
    /// Too few squares.
    #[error(
        "{found} squares were measured at the ramps' detail, at least {least} are needed to tell a curved sharp surface"
    )]
    TooFewPlaces {
        /// Squares given.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// No square near the middle.
    #[error(
        "no square near the middle was measured at the ramps' detail: there a curved sharp surface differs most from a flat one"
    )]
    NoMiddle,
    /// The squares' sharpness contradicts the ramps' heights.
    #[error(
        "the squares do not get sharper and softer where the ramps' focus says that they should (the ramps' heights would have to be {ratio:.1} times \
         their doubt off): are the ramps folded to their slope, and is the card flat?"
    )]
    Contradiction {
        /// How far the ramps' heights lie off the surface that fits best, in standard deviations, all together, beyond a plane of their own.
        ratio: f64,
    },
    /// Any curvature fits.
    #[error(
        "the squares do not tell a curved sharp surface from a flat one: any up to {reach_mm:.1} mm at the corner fits; lean the card by one or \
         two degrees and photograph it again"
    )]
    NotTold {
        /// Largest curvature that was tried, millimetres.
        reach_mm: f64,
    },
}

/// The sharp surface with its curvature, from ramps and from squares on the flat card.
///
/// The curvature's interval is where the sum of squares, all other unknowns free, lies within what 95 % allow of its least; where the squares
/// scatter more than they say, by that more. It may be two intervals, one for either sign.
pub fn curved_surface(
    places: &[SharpPlace],
    curves: &[ThroughFocus],
    flat: &[FlatPlace],
    field_mm: (f64, f64),
) -> Result<CurvedReport, CurvatureError> {
    // The same checks as without a curvature, and where to begin.
    let plane = alignment(places, &AlignmentOptions { field_mm, curvature: false })?;
    check(curves, flat)?;
    let corner_mm = field_mm.0.hypot(field_mm.1) / 2.0;
    let near = |p: &FlatPlace| p.position_mm.0.hypot(p.position_mm.1) <= MIDDLE * corner_mm;
    if !flat.iter().any(near) {
        return Err(CurvatureError::NoMiddle);
    }
    let mut problem = Problem::new(places, curves, flat, corner_mm);
    let mut profile = problem.profile(&plane);
    let best = least(&profile);
    if (0..2).any(|i| best.unknowns[4 + i].abs() > 2.0 * problem.lens_loss[i]) {
        problem.lens_loss = LENS_LOSS.map(|loss| WIDENED * loss);
        profile = problem.profile(&plane);
    }
    let ratio = problem.pull(least(&profile), &plane);
    if ratio > MOST_PULL {
        return Err(CurvatureError::Contradiction { ratio });
    }
    problem.report(&profile, field_mm)
}

fn check(curves: &[ThroughFocus], flat: &[FlatPlace]) -> Result<(), CurvatureError> {
    if curves.is_empty() {
        return Err(CurvatureError::NoCurve);
    }
    let depths = curves.iter().map(|c| c.depth_mm).enumerate().map(|(i, f)| ("the depth of ramp", i, f));
    let responses = flat.iter().map(|p| p.response).enumerate().map(|(i, f)| ("the response of square", i, f));
    for (what, i, figure) in depths.chain(responses) {
        let good = |v: f64| v.is_finite() && v > 0.0;
        if !(good(figure.value) && good(figure.plus_minus)) {
            let Figure { value, plus_minus } = figure;
            return Err(CurvatureError::BadFigure { what, number: i + 1, value, plus_minus });
        }
    }
    if flat.len() < LEAST_SQUARES {
        return Err(CurvatureError::TooFewPlaces { found: flat.len(), least: LEAST_SQUARES });
    }
    Ok(())
}

/// Where a descent begins: from the ramps' own plane, or from a fit nearby.
struct Start {
    plane: [f64; 3],
    /// Square of the ramps' distance from the middle, in those of the corner.
    share: f64,
    top: f64,
}

impl Start {
    fn new(problem: &Problem, plane: &AlignmentReport) -> Self {
        let slope = |degrees: Figure| degrees.value.to_radians().tan() * plane.corner_mm();
        let shares = problem.ramps.iter().map(|(at, ..)| at[0] * at[0] + at[1] * at[1]);
        Self {
            plane: [plane.centre_mm.value, slope(plane.about_upright_deg), slope(plane.about_level_deg)],
            share: shares.sum::<f64>() / problem.ramps.len() as f64,
            top: problem.flat.iter().map(|f| f.1).fold(0.0, f64::max),
        }
    }

    fn fresh(&self, c: f64) -> [f64; UNKNOWNS] {
        let [centre, right, down] = self.plane;
        [centre - c * self.share, right, down, self.top.ln(), 0.0, 0.0, 0.0]
    }

    fn carried(&self, c: f64, near: &Tried) -> [f64; UNKNOWNS] {
        let mut unknowns = near.unknowns;
        unknowns[0] -= (c - near.curvature_mm) * self.share;
        unknowns
    }
}

/// The best fit at one curvature.
#[derive(Debug, Clone)]
struct Tried {
    curvature_mm: f64,
    unknowns: [f64; UNKNOWNS],
    squares: f64,
    unit_covariance: Vec<Vec<f64>>,
}

fn least(profile: &[Tried]) -> &Tried {
    let first = &profile[0];
    profile.iter().fold(first, |best, tried| if tried.squares < best.squares { tried } else { best })
}

/// Places in distances to the corner, figures with standard deviations.
struct Problem {
    ramps: Vec<([f64; 2], f64, f64)>,
    flat: Vec<([f64; 2], f64, f64)>,
    curves: Vec<(RampShape, f64)>,
    /// Standard deviation of the logarithm of the curves' width.
    width_doubt: f64,
    half_depth_mm: f64,
    lens_loss: [f64; 2],
}

impl Problem {
    fn new(places: &[SharpPlace], curves: &[ThroughFocus], flat: &[FlatPlace], corner_mm: f64) -> Self {
        let share = |(x, y): (f64, f64)| [x / corner_mm, y / corner_mm];
        let ramp = |p: &SharpPlace| (share(p.position_mm), p.height_mm.value, p.height_mm.plus_minus / COVERAGE_95);
        let square = |p: &FlatPlace| {
            let Figure { value, plus_minus } = p.response;
            (share(p.position_mm), value, (plus_minus / COVERAGE_95).hypot(LEAST_SCATTER * value))
        };
        let n = curves.len() as f64;
        let mean = curves.iter().map(|c| c.depth_mm.value).sum::<f64>() / n;
        let own = curves.iter().map(|c| (c.depth_mm.plus_minus / COVERAGE_95).powi(2)).sum::<f64>() / (n * n);
        let between = curves.iter().map(|c| (c.depth_mm.value - mean).powi(2)).sum::<f64>() / (n * (n - 1.0).max(1.0));
        Self {
            ramps: places.iter().map(ramp).collect(),
            flat: flat.iter().map(square).collect(),
            curves: curves.iter().map(|c| (c.shape, c.depth_mm.value / (2.0 * c.shape.half()))).collect(),
            width_doubt: (own.max(between).sqrt() / mean).hypot(LEAST_WIDTH_DOUBT),
            half_depth_mm: mean / 2.0,
            lens_loss: LENS_LOSS,
        }
    }

    /// Contrast left at a distance from the focus, over that in focus: the mean of the ramps' curves.
    fn left(&self, off_mm: f64, width: f64) -> f64 {
        let one = |(shape, w): &(RampShape, f64)| shape.level((off_mm / (w * width)).powi(2)).0;
        self.curves.iter().map(one).sum::<f64>() / self.curves.len() as f64
    }

    /// Standardised residuals: ramps, squares, and what is known beforehand.
    fn residuals(&self, curvature_mm: f64, u: &[f64; UNKNOWNS]) -> Vec<f64> {
        let square = |[x, y]: &[f64; 2]| x * x + y * y;
        let height = |at: &[f64; 2]| u[0] + u[1] * at[0] + u[2] * at[1] + curvature_mm * square(at);
        let ramps = self.ramps.iter().map(|(at, z, deviation)| (z - height(at)) / deviation);
        let flat = self.flat.iter().map(|(at, response, deviation)| {
            let s = square(at);
            let in_focus = (u[3] - u[4] * s - u[5] * s * s).exp();
            (response - in_focus * self.left(height(at), u[6].exp())) / deviation
        });
        let known = [u[4] / self.lens_loss[0], u[5] / self.lens_loss[1], u[6] / self.width_doubt];
        ramps.chain(flat).chain(known).collect()
    }

    /// Levenberg and Marquardt's descent at one curvature.
    fn descend(&self, curvature_mm: f64, start: [f64; UNKNOWNS]) -> Option<Tried> {
        let sum = |r: &[f64]| r.iter().map(|v| v * v).sum::<f64>();
        let (mut u, mut r) = (start, self.residuals(curvature_mm, &start));
        let (mut squares, mut damping) = (sum(&r), 1e-3);
        for _ in 0..40 {
            let rows = self.derivatives(curvature_mm, &u, &r);
            let mut better = None;
            while better.is_none() && damping < 1e8 {
                let step = damped(&rows, &r, damping)?;
                let next: [f64; UNKNOWNS] = std::array::from_fn(|i| u[i] + step.x[i]);
                let there = self.residuals(curvature_mm, &next);
                better = (sum(&there) <= squares).then_some((next, there));
                damping *= if better.is_some() { 0.1 } else { 10.0 };
            }
            let Some((next, there)) = better else { break };
            let gain = squares - sum(&there);
            (u, r, squares) = (next, there, squares - gain);
            damping = damping.max(1e-9);
            if gain < 1e-4 {
                break;
            }
        }
        let covariance = least_squares(&self.derivatives(curvature_mm, &u, &r), &r)?.unit_covariance;
        Some(Tried { curvature_mm, unknowns: u, squares, unit_covariance: covariance })
    }

    /// Minus the residuals' derivatives by the unknowns, by differences.
    fn derivatives(&self, curvature_mm: f64, u: &[f64; UNKNOWNS], r: &[f64]) -> Vec<Vec<f64>> {
        let mut rows = vec![vec![0.0; UNKNOWNS]; r.len()];
        for k in 0..UNKNOWNS {
            let step = 1e-6 * if k < 3 { self.half_depth_mm } else { 1.0 };
            let moved = |by: f64| {
                let mut u = *u;
                u[k] += by;
                self.residuals(curvature_mm, &u)
            };
            let (up, down) = (moved(step), moved(-step));
            rows.iter_mut().zip(up.iter().zip(&down)).for_each(|(row, (a, b))| row[k] = (b - a) / (2.0 * step));
        }
        rows
    }

    /// The best fit at curvatures over the whole reach, closer together where the least lies and where the interval ends.
    fn profile(&self, plane: &AlignmentReport) -> Vec<Tried> {
        let start = Start::new(self, plane);
        let step = REACH * self.half_depth_mm / f64::from(STEPS);
        let walk = |sign: f64| {
            let mut last: Option<Tried> = None;
            let tried = (0..=STEPS).filter_map(|i| {
                let c = sign * step * f64::from(i);
                last = self.best_at(c, &start, last.as_ref());
                last.clone()
            });
            tried.collect::<Vec<_>>()
        };
        let mut profile = walk(-1.0);
        profile.reverse();
        profile.extend(walk(1.0).into_iter().skip(1));
        for _ in 0..HALVINGS {
            profile = self.finer(profile, &start);
        }
        profile
    }

    fn best_at(&self, c: f64, start: &Start, near: Option<&Tried>) -> Option<Tried> {
        let starts = [Some(start.fresh(c)), near.map(|near| start.carried(c, near))];
        let found = starts.into_iter().flatten().filter_map(|unknowns| self.descend(c, unknowns));
        found.min_by(|a, b| a.squares.total_cmp(&b.squares))
    }

    /// Curvatures half-way between those that hold a least or an end of the interval.
    fn finer(&self, profile: Vec<Tried>, start: &Start) -> Vec<Tried> {
        let limit = least(&profile).squares + self.allowed(least(&profile)).powi(2);
        let inside = |i: usize| profile[i].squares <= limit;
        let lowest = |i: usize| {
            let beside = [i.checked_sub(1), Some(i + 1).filter(|k| *k < profile.len())];
            beside.into_iter().flatten().all(|k| profile[i].squares <= profile[k].squares)
        };
        let mut out: Vec<Tried> = Vec::with_capacity(2 * profile.len());
        for (i, tried) in profile.iter().enumerate() {
            if i > 0 && (inside(i - 1) != inside(i) || lowest(i - 1) || lowest(i)) {
                let c = f64::midpoint(profile[i - 1].curvature_mm, tried.curvature_mm);
                out.extend(self.best_at(c, start, Some(&profile[i - 1])));
            }
            out.push(tried.clone());
        }
        out
    }

    /// How far the ramps' heights lie off a fit, standard deviations, beyond what they lie off their own plane.
    fn pull(&self, best: &Tried, plane: &AlignmentReport) -> f64 {
        let count = self.ramps.len();
        let of = |c: f64, u: &[f64; UNKNOWNS]| self.residuals(c, u)[..count].iter().map(|r| r * r).sum::<f64>();
        let own = of(0.0, &Start::new(self, plane).fresh(0.0));
        (of(best.curvature_mm, &best.unknowns) - own).max(0.0).sqrt()
    }

    /// By how many standard deviations a sum of squares may lie above the least in 95 of 100.
    fn allowed(&self, best: &Tried) -> f64 {
        // What is known beforehand pays for three of the unknowns.
        let degrees = (self.ramps.len() + self.flat.len() + 3).saturating_sub(UNKNOWNS + 1).max(1);
        let scatter = (best.squares / degrees as f64).sqrt();
        if scatter > 1.0 { scatter * student_975(degrees) } else { COVERAGE_95 }
    }

    fn report(&self, profile: &[Tried], field_mm: (f64, f64)) -> Result<CurvedReport, CurvatureError> {
        let best = least(profile);
        let factor = self.allowed(best);
        let runs = runs(profile, best.squares + factor * factor);
        let reach_mm = REACH * self.half_depth_mm;
        let ends = [runs.first().map(|r| r.0), runs.last().map(|r| r.1)];
        if ends.iter().flatten().any(|c| c.abs() >= 0.999 * reach_mm) {
            return Err(CurvatureError::NotTold { reach_mm });
        }
        let holds = |run: &(f64, f64)| (run.0..=run.1).contains(&best.curvature_mm);
        let (own, others): (Vec<_>, Vec<_>) = runs.into_iter().partition(holds);
        // Should there be several others, they are one interval.
        let other = others.iter().copied().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)));
        let mut surfaces: Vec<AlignmentReport> =
            own.into_iter().chain(other).map(|run| self.surface(profile, run, factor, field_mm)).collect();
        let lens_loss = 1.0 - (-best.unknowns[4] - best.unknowns[5]).exp();
        let widened = self.lens_loss[0] > LENS_LOSS[0];
        let either = surfaces.len() > 1;
        for surface in &mut surfaces {
            surface.remarks.push(AlignmentRemark::BySquares);
            if widened {
                surface.remarks.push(AlignmentRemark::LensLoses { share: lens_loss });
            }
            if either {
                surface.remarks.push(AlignmentRemark::EitherWay);
            }
        }
        Ok(CurvedReport { surfaces, lens_loss })
    }

    /// The surface of an interval of curvatures: what lies in it, and how the other unknowns follow the curvature.
    fn surface(
        &self,
        profile: &[Tried],
        (low, high): (f64, f64),
        factor: f64,
        field_mm: (f64, f64),
    ) -> AlignmentReport {
        let (middle, half) = (f64::midpoint(low, high), (high - low) / 2.0);
        let at = |c: f64| {
            let i = profile.partition_point(|t| t.curvature_mm <= c).clamp(1, profile.len() - 1);
            let (a, b) = (&profile[i - 1], &profile[i]);
            let share = (c - a.curvature_mm) / (b.curvature_mm - a.curvature_mm);
            [0, 1, 2].map(|k| a.unknowns[k] + share * (b.unknowns[k] - a.unknowns[k]))
        };
        let (centre, ends) = (at(middle), [at(low), at(high)]);
        let follows: [f64; 4] = [0, 1, 2, 3].map(|k| if k < 3 { (ends[1][k] - ends[0][k]) / 2.0 } else { half });
        let inside = |t: &&Tried| (low..=high).contains(&t.curvature_mm);
        let own =
            profile.iter().filter(inside).min_by(|a, b| a.squares.total_cmp(&b.squares)).unwrap_or(least(profile));
        let cell = |i: usize, j: usize| {
            let free = if i < 3 && j < 3 { own.unit_covariance[i][j] } else { 0.0 };
            follows[i] * follows[j] + factor * factor * free
        };
        let covariance: Vec<Vec<f64>> = (0..4).map(|i| (0..4).map(|j| cell(i, j)).collect()).collect();
        AlignmentReport::new(vec![centre[0], centre[1], centre[2], middle], covariance, field_mm)
    }
}

fn damped(rows: &[Vec<f64>], right: &[f64], damping: f64) -> Option<Solution> {
    let length = |k: usize| rows.iter().map(|row| row[k] * row[k]).sum::<f64>().sqrt();
    let extra = (0..UNKNOWNS).map(|k| {
        let mut row = vec![0.0; UNKNOWNS];
        row[k] = (damping.sqrt() * length(k)).max(1e-9);
        row
    });
    let all: Vec<Vec<f64>> = rows.iter().cloned().chain(extra).collect();
    let right: Vec<f64> = right.iter().copied().chain([0.0; UNKNOWNS]).collect();
    least_squares(&all, &right)
}

/// The intervals of curvature in which the sum of squares lies below a limit, their ends between the tried ones by straight lines.
fn runs(profile: &[Tried], limit: f64) -> Vec<(f64, f64)> {
    let crossing = |a: &Tried, b: &Tried| {
        a.curvature_mm + (limit - a.squares) / (b.squares - a.squares) * (b.curvature_mm - a.curvature_mm)
    };
    let mut out: Vec<(f64, f64)> = Vec::new();
    let mut open: Option<f64> = None;
    for (i, tried) in profile.iter().enumerate() {
        let inside = tried.squares <= limit;
        match (open, inside) {
            (None, true) => open = Some(if i == 0 { tried.curvature_mm } else { crossing(&profile[i - 1], tried) }),
            (Some(low), false) => {
                out.push((low, crossing(&profile[i - 1], tried)));
                open = None;
            }
            _ => {}
        }
    }
    out.extend(open.zip(profile.last()).map(|(low, last)| (low, last.curvature_mm)));
    out
}
