//! The coloured zone along one edge.

use planes::{Linear, Picture};

use crate::algebra::Figure;
use crate::slanted::{Channel, ChannelReport, EdgeReport};

/// Steps along the profiles, pixels.
const STEP_PX: f64 = 0.02;
/// Share of the zone that is left when the colours are laid over each other, above which the focus is to blame.
const OUT_OF_FOCUS: f64 = 0.5;

/// How the coloured zone is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeFringeOptions {
    /// Difference between any two of the colours' profiles, as a share of their step, from which on an edge counts as
    /// coloured there.
    pub threshold: f64,
    /// Distance between neighbouring pixels on the film (or the sensor), micrometres.
    pub pitch_um: Option<f64>,
}

impl Default for EdgeFringeOptions {
    /// A tenth of the step (common practice, no source).
    fn default() -> Self {
        Self { threshold: 0.1, pitch_um: None }
    }
}

/// Colour along one edge.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeFringe {
    /// Red's place minus green's along the edge's normal, pixels, positive toward the brighter side (chromatic
    /// displacement, ISO 19084:2015 in substance).
    pub red_px: Figure,
    /// Blue's place minus green's, as `red_px`.
    pub blue_px: Figure,
    /// Length along the normal over which any two of the three profiles, each brought to 0 on the dark and 1 on the bright side,
    /// differ by more than the threshold, pixels. Separate stretches are added up.
    pub zone_px: Figure,
    /// What would be left of that zone were the colours laid over each other at their half-way points, pixels: colours out of focus.
    pub aligned_zone_px: f64,
    /// Largest difference between two profiles, as a share of the step.
    pub largest_difference: f64,
    /// Width of the rise from 10 % to 90 % in red, green and blue, pixels.
    pub rise_px: [f64; 3],
    /// Red's displacement, micrometres on the film.
    pub red_um: Option<Figure>,
    /// Blue's displacement, micrometres on the film.
    pub blue_um: Option<Figure>,
    /// The zone, micrometres on the film.
    pub zone_um: Option<Figure>,
    /// Reservations.
    pub remarks: Vec<EdgeFringeRemark>,
}

/// Why an edge shows no fringing figure.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EdgeFringeError {
    /// A grey picture.
    #[error("the picture is grey: fringing needs red, green and blue; scan in colour")]
    NoColour,
    /// A colour that shows too little of the edge.
    #[error("{channel} shows too little of the edge to be placed: use a neutral edge with more contrast in {channel}")]
    ChannelMissing {
        /// The colour.
        channel: Channel,
    },
    /// A threshold that is no share.
    #[error("the threshold is {value} of the step: give a share above 0 and below 1, as 0.1")]
    BadThreshold {
        /// What was given.
        value: f64,
    },
    /// The pixel pitch is no usable length.
    #[error(
        "a pixel is said to be {pitch_um} µm wide on the film: give a length above 0, as 6.35 for 4000 pixels per inch"
    )]
    BadPitch {
        /// What was given, micrometres.
        pitch_um: f64,
    },
}

/// A reservation about one edge's fringing.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum EdgeFringeRemark {
    /// Noise alone makes a good part of the threshold.
    Noisy {
        /// Half-width of the difference of two profiles, as a share of the step.
        plus_minus: f64,
        /// The threshold.
        threshold: f64,
    },
    /// The zone stays when the displacements are taken out: the colours are not in focus together.
    OutOfFocus {
        /// The softest colour.
        softest: Channel,
        /// Its rise over the sharpest colour's.
        ratio: f64,
    },
}

impl std::fmt::Display for EdgeFringeRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Noisy { plus_minus, threshold } => write!(
                f,
                "noise makes the colours' profiles unsure by ± {:.0} % of the step where {:.0} % count as coloured; use a longer edge",
                100.0 * plus_minus,
                100.0 * threshold
            ),
            Self::OutOfFocus { softest, ratio } => write!(
                f,
                "most of the coloured zone is not displacement: {softest} is {ratio:.1} times as soft as the sharpest colour, so \
                 the colours are not in focus together"
            ),
        }
    }
}

/// A channel's profile from 0 to 1, placed in green's distances.
struct Placed<'a> {
    report: &'a ChannelReport,
    shift: f64,
}

impl Placed<'_> {
    fn at(&self, distance: f64) -> f64 {
        let points = &self.report.profile;
        let d = distance - self.shift;
        let step = self.report.high - self.report.low;
        let level = match points.partition_point(|p| p.distance_px <= d) {
            0 => points[0].level,
            n if n == points.len() => points[n - 1].level,
            n => {
                let (a, b) = (points[n - 1], points[n]);
                a.level + (b.level - a.level) * (d - a.distance_px) / (b.distance_px - a.distance_px)
            }
        };
        (level - self.report.low) / step
    }

    fn span(&self) -> (f64, f64) {
        let points = &self.report.profile;
        (points[0].distance_px + self.shift, points[points.len() - 1].distance_px + self.shift)
    }

    fn steepest(&self) -> f64 {
        let step = self.report.high - self.report.low;
        let slope = |w: &[crate::slanted::ProfilePoint]| {
            (w[1].level - w[0].level).abs() / (w[1].distance_px - w[0].distance_px).max(1e-9) / step
        };
        self.report.profile.windows(2).map(slope).fold(0.0, f64::max)
    }
}

/// Differences of the profiles all along: the largest between any two, at every step.
fn differences(colours: &[Placed<'_>; 3]) -> Vec<f64> {
    let spans = colours.each_ref().map(Placed::span);
    let from = spans.iter().map(|s| s.0).fold(f64::INFINITY, f64::min);
    let to = spans.iter().map(|s| s.1).fold(f64::NEG_INFINITY, f64::max);
    let steps = ((to - from) / STEP_PX).ceil().clamp(1.0, 1e6) as usize;
    let apart = |i: usize| {
        let levels = colours.each_ref().map(|c| c.at(from + STEP_PX * (i as f64 + 0.5)));
        levels.iter().copied().fold(f64::NEG_INFINITY, f64::max) - levels.iter().copied().fold(f64::INFINITY, f64::min)
    };
    (0..steps).map(apart).collect()
}

fn length_above(differences: &[f64], threshold: f64) -> f64 {
    STEP_PX * differences.iter().filter(|d| **d > threshold).count() as f64
}

/// How far red and blue lie from green along one measured edge, and how wide its coloured zone is.
///
/// The zone's interval comes from the profiles' own doubt: that of a displacement times the profiles' steepest slope is the doubt
/// of their difference, and the zone is measured at the threshold less and plus that.
pub fn edge_fringe(report: &EdgeReport, options: &EdgeFringeOptions) -> Result<EdgeFringe, EdgeFringeError> {
    if !(options.threshold > 0.0 && options.threshold < 1.0) {
        return Err(EdgeFringeError::BadThreshold { value: options.threshold });
    }
    if let Some(pitch_um) = options.pitch_um.filter(|p| !(p.is_finite() && *p > 0.0)) {
        return Err(EdgeFringeError::BadPitch { pitch_um });
    }
    if [Channel::Red, Channel::Green, Channel::Blue].iter().all(|c| report.channel(*c).is_none()) {
        // A colour picture whose three colours all failed still names them in the edge's own remarks.
        return Err(EdgeFringeError::NoColour);
    }
    let of = |channel: Channel| {
        report.channel(channel).filter(|r| r.profile.len() > 1).ok_or(EdgeFringeError::ChannelMissing { channel })
    };
    let (red, green, blue) = (of(Channel::Red)?, of(Channel::Green)?, of(Channel::Blue)?);
    let placed = |value: Option<f64>, half: Option<f64>, channel: Channel| match (value, half) {
        (Some(value), Some(half)) => Ok(Figure::new(value, half)),
        _ => Err(EdgeFringeError::ChannelMissing { channel }),
    };
    let d = report.displacement_px;
    let red_px = placed(d.red, d.red_plus_minus, Channel::Red)?;
    let blue_px = placed(d.blue, d.blue_plus_minus, Channel::Blue)?;
    let laid = |shifts: [f64; 3]| {
        let [r, g, b] = shifts;
        [Placed { report: red, shift: r }, Placed { report: green, shift: g }, Placed { report: blue, shift: b }]
    };
    let colours = laid([red_px.value, 0.0, blue_px.value]);
    let apart = differences(&colours);
    let steepest = colours.iter().map(Placed::steepest).fold(0.0, f64::max);
    let doubt = red_px.plus_minus.max(blue_px.plus_minus) * steepest;
    let width = |threshold: f64| length_above(&apart, threshold);
    let threshold = options.threshold;
    let half = f64::midpoint(width((threshold - doubt).max(0.0)), -width(threshold + doubt)).max(STEP_PX / 2.0);
    let zone_px = Figure::new(width(threshold), half);
    let aligned_zone_px = length_above(&differences(&laid([0.0; 3])), threshold);
    let rise_px = [red, green, blue].map(|c| c.rise_10_90_px);
    let mut remarks = Vec::new();
    if doubt > threshold / 2.0 {
        remarks.push(EdgeFringeRemark::Noisy { plus_minus: doubt, threshold });
    }
    if zone_px.stands_out() && aligned_zone_px > OUT_OF_FOCUS * zone_px.value {
        let names = [Channel::Red, Channel::Green, Channel::Blue];
        let softest = (0..3).fold(0, |best, i| if rise_px[i] > rise_px[best] { i } else { best });
        let sharpest = rise_px.iter().copied().fold(f64::INFINITY, f64::min);
        remarks.push(EdgeFringeRemark::OutOfFocus { softest: names[softest], ratio: rise_px[softest] / sharpest });
    }
    let um = |figure: Figure| options.pitch_um.map(|pitch| figure.times(pitch));
    Ok(EdgeFringe {
        red_px,
        blue_px,
        zone_px,
        aligned_zone_px,
        largest_difference: apart.iter().copied().fold(0.0, f64::max),
        rise_px,
        red_um: um(red_px),
        blue_um: um(blue_px),
        zone_um: um(zone_px),
        remarks,
    })
}

/// Direction of the edge's normal toward its brighter side, degrees from the picture's x axis toward its lower side: what
/// a displacement counts along. `None` when the report's line does not lie on this picture.
pub fn bright_normal_deg(picture: &Picture<Linear>, report: &EdgeReport) -> Option<f64> {
    let (first, last) = (*report.trace.first()?, *report.trace.last()?);
    let (dx, dy) = (last.0 - first.0, last.1 - first.1);
    let length = dx.hypot(dy);
    let normal = (dy / length, -dx / length);
    let light = picture.luminance();
    let rise = report.channel(Channel::Luminance)?.rise_10_90_px.max(1.0);
    let sample = |t: f64, side: f64| {
        let x = first.0 + t * dx + side * rise * normal.0;
        let y = first.1 + t * dy + side * rise * normal.1;
        let inside = x >= 0.0 && y >= 0.0 && x < light.width() as f64 && y < light.height() as f64;
        inside.then(|| f64::from(light.at(x as usize, y as usize)))
    };
    let pairs: Vec<f64> = (0..100)
        .filter_map(|i| {
            let t = (f64::from(i) + 0.5) / 100.0;
            Some(sample(t, 1.0)? - sample(t, -1.0)?)
        })
        .collect();
    let difference: f64 = pairs.iter().sum();
    let sign = if difference > 0.0 { 1.0 } else { -1.0 };
    (!pairs.is_empty() && difference != 0.0).then(|| (sign * normal.1).atan2(sign * normal.0).to_degrees())
}
