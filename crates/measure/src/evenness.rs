//! How evenly the frame is lit: a smooth surface through samples of blank ground.

use planes::{Channels, Linear, Picture, Plane};

use crate::algebra::{Figure, Solution, least_squares, student_975, variance};
use crate::numeric::robust_deviation;
use crate::slanted::Channel;

/// Samples to each unknown at least.
const SAMPLES_PER_TERM: usize = 2;
const LEAST_SAMPLES: usize = 8;
/// Standardised residual from which on a sample weighs less (Huber).
const HUBER: f64 = 2.5;
/// Places along either side at which the surface's brightest and darkest are looked for.
const GRID: usize = 41;
/// Share of the way to the frame's sides that samples must reach for the corners not to be carried on.
const LEAST_REACH: f64 = 0.8;
/// Scatter about the surface beyond which the ground is no even ground, stops.
const ROUGH_STOPS: f64 = 0.1;

/// Light of blank ground at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundSample {
    /// Place, to the right, in the unit of the frame's size.
    pub x: f64,
    /// Place, downward, in the same unit.
    pub y: f64,
    /// Linear light, above 0.
    pub light: f64,
    /// Weight, above 0: the variance is taken as in proportion to 1/weight (the number of pixels behind the sample).
    pub weight: f64,
}

/// How evenness is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EvennessOptions {
    /// Width and height of the whole frame, in the samples' unit, its upper left corner at (0, 0).
    pub frame: (f64, f64),
    /// Highest degree of the surface, 0 to 4.
    pub most_degree: usize,
}

impl EvennessOptions {
    /// Up to the fourth degree, which natural fall-off (cos⁴) asks for.
    pub fn for_frame(width: f64, height: f64) -> Self {
        Self { frame: (width, height), most_degree: 4 }
    }
}

/// How evenly one channel is lit. Differences are in stops (binary logarithms of light); a negative figure is darker.
#[derive(Debug, Clone, PartialEq)]
pub struct EvennessReport {
    /// Degree of the surface that was taken.
    pub degree: usize,
    /// Corners against the centre, stops: upper left, upper right, lower left, lower right.
    pub corners_stops: [Figure; 4],
    /// Mean of the four corners against the centre, stops.
    pub corner_mean_stops: Figure,
    /// Brightest place of the frame.
    pub brightest: (f64, f64),
    /// Darkest place of the frame against the brightest, stops: never above 0.
    pub range_stops: Figure,
    /// Middle of the right side against that of the left, stops.
    pub left_right_stops: Figure,
    /// Middle of the lower side against that of the upper, stops.
    pub up_down_stops: Figure,
    /// Standard deviation of single samples (of mean weight) about the surface, stops.
    pub scatter_stops: f64,
    /// Samples that took part.
    pub samples: usize,
    /// Reservations.
    pub remarks: Vec<EvennessRemark>,
    frame: (f64, f64),
    parameters: Vec<f64>,
    covariance_95: Vec<Vec<f64>>,
}

/// Colour shading: a colour's fall-off against green's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shading {
    /// The colour.
    pub channel: Channel,
    /// Colour over green in the corners against the centre, stops: upper left, upper right, lower left, lower right.
    pub corners_stops: [Figure; 4],
}

/// Why evenness was not measured.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EvennessError {
    /// Too few samples.
    #[error(
        "{found} samples of blank ground were given, at least {least} are needed: take more, from all over the frame"
    )]
    TooFewSamples {
        /// Samples given.
        found: usize,
        /// Least number.
        least: usize,
    },
    /// A sample that is no usable number.
    #[error("sample number {number}: {what} is {value}, which must be {wanted}")]
    BadSample {
        /// Which, from 1 on.
        number: usize,
        /// What.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What is taken.
        wanted: &'static str,
    },
    /// A frame without size, or too high a degree.
    #[error("{what} is {value}: give {wanted}")]
    BadOption {
        /// Which option.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What is taken.
        wanted: &'static str,
    },
    /// A quarter of the frame without any ground.
    #[error(
        "no blank ground lies in the {quarter} quarter of the frame: nothing is known of its light; leave ground free there"
    )]
    Uncovered {
        /// "upper left" and so on.
        quarter: &'static str,
    },
    /// Samples on so few places that no surface is determined.
    #[error("the samples do not determine even a flat surface: take them from all over the frame")]
    Undetermined,
}

/// A reservation about evenness.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum EvennessRemark {
    /// The corners are carried on.
    Extrapolated {
        /// How far the samples reach toward the sides, as a share of half the frame.
        reach: f64,
    },
    /// The ground itself is not even.
    Rough {
        /// Standard deviation about the surface, stops.
        scatter_stops: f64,
    },
    /// Samples that do not follow the surface weigh less.
    Outlying {
        /// How many.
        count: usize,
    },
}

impl std::fmt::Display for EvennessRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Extrapolated { reach } => write!(
                f,
                "the ground reaches only {:.0} % of the way to the frame's sides; its corners are carried on from within",
                100.0 * reach
            ),
            Self::Rough { scatter_stops } => {
                write!(
                    f,
                    "the ground is not even by itself: it scatters by {scatter_stops:.2} stops about a smooth surface"
                )
            }
            Self::Outlying { count } => {
                write!(f, "{count} samples do not follow a smooth surface (dirt, shadows) and weigh less")
            }
        }
    }
}

/// Products of powers up to a total degree, at a place in -1 to 1.
fn terms((x, y): (f64, f64), degree: usize) -> Vec<f64> {
    let mut out = Vec::new();
    for total in 0..=degree {
        for j in 0..=total {
            out.push(x.powi((total - j) as i32) * y.powi(j as i32));
        }
    }
    out
}

impl EvennessReport {
    fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (2.0 * x / self.frame.0 - 1.0, 2.0 * y / self.frame.1 - 1.0)
    }

    /// Light at a place against that at another, stops.
    pub fn between(&self, place: (f64, f64), against: (f64, f64)) -> Figure {
        let (one, other) = (terms(self.place(place), self.degree), terms(self.place(against), self.degree));
        let gradient: Vec<f64> = one.iter().zip(&other).map(|(a, b)| a - b).collect();
        self.figure(&gradient)
    }

    fn figure(&self, gradient: &[f64]) -> Figure {
        let value = gradient.iter().zip(&self.parameters).map(|(g, p)| g * p).sum();
        Figure::new(value, variance(gradient, &self.covariance_95).max(0.0).sqrt())
    }
}

/// One degree's fit.
struct Fitted {
    degree: usize,
    solution: Solution,
    /// Residuals by the weight of each sample, stops.
    residuals: Vec<f64>,
    scale: f64,
    criterion: f64,
}

fn fit(places: &[(f64, f64)], values: &[f64], weights: &[f64], degree: usize) -> Option<Fitted> {
    let design: Vec<Vec<f64>> = places.iter().map(|p| terms(*p, degree)).collect();
    let unknowns = design[0].len();
    let mut scale = f64::INFINITY;
    let mut residuals = vec![0.0; values.len()];
    let mut found = None;
    for _ in 0..15 {
        let root = |i: usize| {
            let z: f64 = residuals[i] / scale;
            let huber = if z.abs() <= HUBER { 1.0 } else { (HUBER / z.abs()).sqrt() };
            huber * weights[i].sqrt()
        };
        let rows: Vec<Vec<f64>> =
            design.iter().enumerate().map(|(i, row)| row.iter().map(|t| t * root(i)).collect()).collect();
        let right: Vec<f64> = values.iter().enumerate().map(|(i, v)| v * root(i)).collect();
        let solution = least_squares(&rows, &right)?;
        let told = |row: &Vec<f64>| row.iter().zip(&solution.x).map(|(a, x)| a * x).sum::<f64>();
        residuals = design.iter().zip(values).zip(weights).map(|((row, v), w)| (v - told(row)) * w.sqrt()).collect();
        // Never below what single precision leaves of the light.
        let next = robust_deviation(&residuals).max(1e-7);
        let settled = (next - scale).abs() <= 1e-6 * next;
        scale = next;
        found = Some(solution);
        if settled {
            break;
        }
    }
    let solution = found?;
    let n = values.len() as f64;
    let huber = |r: &f64| {
        let bend = HUBER * scale;
        if r.abs() <= bend { r * r } else { bend * (2.0 * r.abs() - bend) }
    };
    let loss: f64 = residuals.iter().map(huber).sum::<f64>().max(1e-14 * n);
    // Schwarz, "Estimating the dimension of a model", 1978.
    let criterion = n * (loss / n).ln() + unknowns as f64 * n.ln();
    Some(Fitted { degree, solution, residuals, scale, criterion })
}

/// How evenly the frame is lit, from samples of blank ground in one channel: the binary logarithm of light is followed by a
/// polynomial in x and y of the degree that Schwarz's criterion takes (ISO 17957 in spirit: shading against the centre).
///
/// Intervals are Student's, from the samples' scatter about the surface; samples that stand out weigh less.
pub fn evenness(samples: &[GroundSample], options: &EvennessOptions) -> Result<EvennessReport, EvennessError> {
    check(samples, options)?;
    let (width, height) = options.frame;
    let places: Vec<(f64, f64)> = samples.iter().map(|s| (2.0 * s.x / width - 1.0, 2.0 * s.y / height - 1.0)).collect();
    for (quarter, right, down) in [
        ("upper left", false, false),
        ("upper right", true, false),
        ("lower left", false, true),
        ("lower right", true, true),
    ] {
        if !places.iter().any(|p| (p.0 > 0.0) == right && (p.1 > 0.0) == down) {
            return Err(EvennessError::Uncovered { quarter });
        }
    }
    let mean_weight = samples.iter().map(|s| s.weight).sum::<f64>() / samples.len() as f64;
    let weights: Vec<f64> = samples.iter().map(|s| s.weight / mean_weight).collect();
    let values: Vec<f64> = samples.iter().map(|s| s.light.log2()).collect();
    let degrees = (0..=options.most_degree)
        .filter(|d| SAMPLES_PER_TERM * (d + 1) * (d + 2) / 2 <= samples.len())
        .filter_map(|degree| fit(&places, &values, &weights, degree));
    let best = degrees.min_by(|a, b| a.criterion.total_cmp(&b.criterion)).ok_or(EvennessError::Undetermined)?;
    let left_over = samples.len() - best.solution.x.len();
    let used: f64 = best.residuals.iter().map(|r| r.powi(2).min((HUBER * best.scale).powi(2))).sum();
    let scatter = (used / left_over as f64).sqrt();
    let factor = (scatter * student_975(left_over)).powi(2);
    let covariance_95: Vec<Vec<f64>> =
        best.solution.unit_covariance.iter().map(|row| row.iter().map(|c| c * factor).collect()).collect();
    let nothing = Figure::default();
    let mut report = EvennessReport {
        degree: best.degree,
        corners_stops: [nothing; 4],
        corner_mean_stops: nothing,
        brightest: (0.0, 0.0),
        range_stops: nothing,
        left_right_stops: nothing,
        up_down_stops: nothing,
        scatter_stops: scatter,
        samples: samples.len(),
        remarks: Vec::new(),
        frame: options.frame,
        parameters: best.solution.x.clone(),
        covariance_95,
    };
    fill(&mut report);
    let reach = |f: fn(&(f64, f64)) -> f64| places.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
    let reach = reach(|p| p.0).min(reach(|p| -p.0)).min(reach(|p| p.1)).min(reach(|p| -p.1));
    if reach < LEAST_REACH {
        report.remarks.push(EvennessRemark::Extrapolated { reach });
    }
    if scatter > ROUGH_STOPS {
        report.remarks.push(EvennessRemark::Rough { scatter_stops: scatter });
    }
    let count = best.residuals.iter().filter(|r| r.abs() > 5.0 * best.scale).count();
    if count > 0 {
        report.remarks.push(EvennessRemark::Outlying { count });
    }
    Ok(report)
}

/// Fills in what is read off the surface.
fn fill(report: &mut EvennessReport) {
    let (w, h) = report.frame;
    let centre = (w / 2.0, h / 2.0);
    let corners = [(0.0, 0.0), (w, 0.0), (0.0, h), (w, h)];
    report.corners_stops = corners.map(|c| report.between(c, centre));
    let middle = terms((0.0, 0.0), report.degree);
    let mut gradient: Vec<f64> = middle.iter().map(|t| -t).collect();
    for corner in corners {
        let at = terms(report.place(corner), report.degree);
        gradient.iter_mut().zip(at).for_each(|(g, t)| *g += t / 4.0);
    }
    report.corner_mean_stops = report.figure(&gradient);
    let level = |p: &(f64, f64)| report.between(*p, centre).value;
    let step = (GRID - 1) as f64;
    let grid: Vec<(f64, f64)> =
        (0..GRID * GRID).map(|i| (w * (i % GRID) as f64 / step, h * (i / GRID) as f64 / step)).collect();
    // The centre itself comes first, so that an even frame has its brightest place there.
    let bright = grid.iter().copied().fold(centre, |best, p| if level(&p) > level(&best) + 1e-9 { p } else { best });
    let dark = grid.iter().copied().fold(centre, |best, p| if level(&p) < level(&best) { p } else { best });
    report.brightest = bright;
    report.range_stops = report.between(dark, bright);
    report.left_right_stops = report.between((w, h / 2.0), (0.0, h / 2.0));
    report.up_down_stops = report.between((w / 2.0, h), (w / 2.0, 0.0));
}

fn check(samples: &[GroundSample], options: &EvennessOptions) -> Result<(), EvennessError> {
    for (what, value) in [("the frame's width", options.frame.0), ("the frame's height", options.frame.1)] {
        if !(value.is_finite() && value > 0.0) {
            return Err(EvennessError::BadOption { what, value, wanted: "a length above 0" });
        }
    }
    if options.most_degree > 4 {
        let value = options.most_degree as f64;
        return Err(EvennessError::BadOption { what: "the highest degree", value, wanted: "0 to 4" });
    }
    if samples.len() < LEAST_SAMPLES {
        return Err(EvennessError::TooFewSamples { found: samples.len(), least: LEAST_SAMPLES });
    }
    for (i, s) in samples.iter().enumerate() {
        let bad = |what, value, wanted| Err(EvennessError::BadSample { number: i + 1, what, value, wanted });
        for (what, value, most) in [("its x", s.x, options.frame.0), ("its y", s.y, options.frame.1)] {
            if !(0.0..=most).contains(&value) {
                return bad(what, value, "within the frame");
            }
        }
        for (what, value) in [("its light", s.light), ("its weight", s.weight)] {
            if !(value.is_finite() && value > 0.0) {
                return bad(what, value, "above 0");
            }
        }
    }
    Ok(())
}

/// The middle of a block's ground, and its pixels.
type Block = (f64, f64, Vec<(usize, usize)>);

/// Samples of blank ground from a picture, block by block, for every channel (luminance last): the mean light of those pixels of a block
/// that `is_ground` takes, weighted by their number. Blocks with less than half of their pixels on the ground are left
/// out, and so is light at or below 0.
pub fn ground_samples(
    picture: &Picture<Linear>,
    block_px: usize,
    is_ground: impl Fn(usize, usize) -> bool,
) -> Vec<(Channel, Vec<GroundSample>)> {
    let block = block_px.max(1);
    let (width, height) = (picture.width(), picture.height());
    let mut blocks: Vec<Block> = Vec::new();
    for top in (0..height).step_by(block) {
        for left in (0..width).step_by(block) {
            let (right, bottom) = ((left + block).min(width), (top + block).min(height));
            let all = (top..bottom).flat_map(|r| (left..right).map(move |c| (c, r)));
            let ground: Vec<(usize, usize)> = all.filter(|&(c, r)| is_ground(c, r)).collect();
            if 2 * ground.len() >= (right - left) * (bottom - top) && !ground.is_empty() {
                let n = ground.len() as f64;
                let x = ground.iter().map(|p| p.0 as f64 + 0.5).sum::<f64>() / n;
                let y = ground.iter().map(|p| p.1 as f64 + 0.5).sum::<f64>() / n;
                blocks.push((x, y, ground));
            }
        }
    }
    let of = |plane: &Plane<Linear>| -> Vec<GroundSample> {
        let sample = |(x, y, ground): &Block| {
            let weight = ground.len() as f64;
            let light = ground.iter().map(|&(c, r)| f64::from(plane.at(c, r))).sum::<f64>() / weight;
            GroundSample { x: *x, y: *y, light, weight }
        };
        blocks.iter().map(sample).filter(|s| s.light > 0.0 && s.light.is_finite()).collect()
    };
    let mut out = Vec::new();
    if let Channels::Rgb { planes, .. } = picture.channels() {
        let names = [Channel::Red, Channel::Green, Channel::Blue];
        out.extend(names.into_iter().zip(planes.iter()).map(|(channel, plane)| (channel, of(plane))));
    }
    out.push((Channel::Luminance, of(&picture.luminance())));
    out
}

/// Colour shading: how red and blue fall off against green. Empty without green.
pub fn shading(channels: &[(Channel, EvennessReport)]) -> Vec<Shading> {
    let Some((_, green)) = channels.iter().find(|(c, _)| *c == Channel::Green) else { return Vec::new() };
    let against = |(channel, report): &(Channel, EvennessReport)| {
        let corner = |i: usize| {
            let (one, other) = (report.corners_stops[i], green.corners_stops[i]);
            Figure::new(one.value - other.value, one.plus_minus.hypot(other.plus_minus))
        };
        Shading { channel: *channel, corners_stops: [0, 1, 2, 3].map(corner) }
    };
    channels.iter().filter(|(c, _)| matches!(c, Channel::Red | Channel::Blue)).map(against).collect()
}
