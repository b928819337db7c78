//! How a frame came out: clipped shares, and grey steps against their known reflectances.

use planes::{Channels, Linear, Picture, Plane};

use crate::algebra::{COVERAGE_95, Figure, least_squares, student_975};
use crate::slanted::Channel;

/// No step is taken to be surer than this, stops: a printed step's reflectance is not known better.
const SUREST_STOPS: f64 = 0.002;
/// Left over from which on the residuals' own scatter is trusted.
const TRUSTED_DEGREES: usize = 2;
/// Stops between the darkest and the lightest step at least, for a slope.
const LEAST_SPAN_STOPS: f64 = 1.0;

/// Shares of one channel at the ends of the range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clipped {
    /// The channel.
    pub channel: Channel,
    /// Share of the samples at or below black, 0 to 1.
    pub black: f64,
    /// Share of the samples at or above white, 0 to 1.
    pub white: f64,
}

/// Shares of samples clipped at either end, by channel (red, green, blue, or luminance alone for a grey picture), with the limits of
/// these options.
pub fn clipped(picture: &Picture<Linear>, options: &ExposedOptions) -> Vec<Clipped> {
    let of = |channel: Channel, plane: &Plane<Linear>| {
        let n = plane.samples().len() as f64;
        let share = |f: &dyn Fn(f64) -> bool| plane.samples().iter().filter(|s| f(f64::from(**s))).count() as f64 / n;
        Clipped { channel, black: share(&|s| s <= options.black), white: share(&|s| s >= options.white) }
    };
    match picture.channels() {
        Channels::Grey(plane) => vec![of(Channel::Luminance, plane)],
        Channels::Rgb { planes, .. } => {
            let names = [Channel::Red, Channel::Green, Channel::Blue];
            names.into_iter().zip(planes.iter()).map(|(channel, plane)| of(channel, plane)).collect()
        }
    }
}

/// A grey step of known reflectance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GreyStep {
    /// Its reflectance, above 0 and up to 1.
    pub reflectance: f64,
    /// Linear light that the picture shows of it.
    pub light: Figure,
}

/// What is expected of a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExposedOptions {
    /// Reflectance of middle grey, 0 to 1.
    pub mid_reflectance: f64,
    /// Linear light at which middle grey is meant to lie, 0 to 1.
    pub mid_light: f64,
    /// Light at or below this counts as clipped at black.
    pub black: f64,
    /// Light at or above this counts as clipped at white.
    pub white: f64,
}

impl Default for ExposedOptions {
    /// 18 % grey at 18 % of full scale (the grey card's customary 18 %: common practice, no source); half a step of 16 bits
    /// inside either end.
    fn default() -> Self {
        Self { mid_reflectance: 0.18, mid_light: 0.18, black: 0.5 / 65_535.0, white: 1.0 - 0.5 / 65_535.0 }
    }
}

/// What the fit leaves of one step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StepResidual {
    /// The step's reflectance.
    pub reflectance: f64,
    /// Found less fitted, stops.
    pub stops: f64,
}

/// How a frame came out.
#[derive(Debug, Clone, PartialEq)]
pub struct ExposedReport {
    /// Middle grey against where it is meant to lie, stops: positive when too light.
    pub offset_stops: Figure,
    /// Stops of light for each stop of reflectance: 1 when light is in proportion. `None` when the steps do not tell it and 1 was
    /// taken.
    pub slope: Option<Figure>,
    /// What the fit leaves of every step that took part.
    pub residuals: Vec<StepResidual>,
    /// Root mean square of those, by what is left over, stops; `None` when nothing is.
    pub scatter_stops: Option<f64>,
    /// Reservations.
    pub remarks: Vec<ExposedRemark>,
}

/// Why nothing is said of the exposure.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ExposedError {
    /// No step within the range.
    #[error(
        "none of {given} grey steps lies between black and white: the frame is exposed or scanned quite wrongly, or the steps were missed"
    )]
    NoStep {
        /// Steps given.
        given: usize,
    },
    /// A step that is no usable number.
    #[error("grey step number {number}: {what} is {value}, which must be {wanted}")]
    BadStep {
        /// Which, from 1 on.
        number: usize,
        /// What.
        what: &'static str,
        /// What was given.
        value: f64,
        /// What is taken.
        wanted: &'static str,
    },
    /// Middle grey is no share.
    #[error("{what} is {value}: give a share above 0 and up to 1")]
    BadOption {
        /// Which option.
        what: &'static str,
        /// What was given.
        value: f64,
    },
    /// Light that does not grow with reflectance.
    #[error(
        "light falls by {slope:.2} stops for each stop that the steps grow lighter: the picture is a negative that was not turned, or the \
         steps were taken in the wrong order"
    )]
    Reversed {
        /// The slope, below 0.
        slope: f64,
    },
}

/// A reservation about the exposure.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum ExposedRemark {
    /// Clipped steps were left out.
    StepsClipped {
        /// How many.
        count: usize,
        /// Of how many.
        of: usize,
    },
    /// The slope was taken as 1.
    SlopeAssumed,
    /// Light is not in proportion to reflectance.
    NotProportional {
        /// The slope.
        slope: f64,
        /// Half-width of its interval.
        plus_minus: f64,
    },
    /// Steps scatter more than their own intervals promise.
    Scattered {
        /// Residuals over what the intervals ask for.
        ratio: f64,
    },
}

impl std::fmt::Display for ExposedRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::StepsClipped { count, of } => {
                write!(f, "{count} of {of} grey steps are clipped at black or white and were left out")
            }
            Self::SlopeAssumed => f.write_str(
                "the grey steps lie too close together to show the contrast: light was taken as in proportion to reflectance",
            ),
            Self::NotProportional { slope, plus_minus } => write!(
                f,
                "light grows by {slope:.2} ± {plus_minus:.2} stops for each stop of reflectance: the film's or the scan's tone curve \
                 was not taken out, or there is glare"
            ),
            Self::Scattered { ratio } => write!(
                f,
                "the grey steps scatter {ratio:.1} times as much as their own intervals promise (uneven light, a bent curve); the \
                 intervals are widened by that"
            ),
        }
    }
}

/// How a frame came out by its grey steps: a straight line of the binary logarithm of light over that of reflectance, by weighted least
/// squares about middle grey.
pub fn exposed(steps: &[GreyStep], options: &ExposedOptions) -> Result<ExposedReport, ExposedError> {
    let shares = [
        ("the reflectance of middle grey", options.mid_reflectance),
        ("the light meant for middle grey", options.mid_light),
    ];
    if let Some(&(what, value)) = shares.iter().find(|(_, v)| !(*v > 0.0 && *v <= 1.0)) {
        return Err(ExposedError::BadOption { what, value });
    }
    for (i, s) in steps.iter().enumerate() {
        let bad = |what, value, wanted| Err(ExposedError::BadStep { number: i + 1, what, value, wanted });
        if !(s.reflectance > 0.0 && s.reflectance <= 1.0) {
            return bad("its reflectance", s.reflectance, "above 0 and up to 1");
        }
        if !s.light.value.is_finite() {
            return bad("its light", s.light.value, "a finite number");
        }
        if !(s.light.plus_minus >= 0.0 && s.light.plus_minus.is_finite()) {
            return bad("its light's half-width", s.light.plus_minus, "0 or more");
        }
    }
    let inside = |s: &&GreyStep| s.light.value > options.black.max(0.0) && s.light.value < options.white;
    let used: Vec<&GreyStep> = steps.iter().filter(inside).collect();
    if used.is_empty() {
        return Err(ExposedError::NoStep { given: steps.len() });
    }
    let mut remarks = Vec::new();
    if used.len() < steps.len() {
        remarks.push(ExposedRemark::StepsClipped { count: steps.len() - used.len(), of: steps.len() });
    }
    let x: Vec<f64> = used.iter().map(|s| (s.reflectance / options.mid_reflectance).log2()).collect();
    let y: Vec<f64> = used.iter().map(|s| (s.light.value / options.mid_light).log2()).collect();
    let own = |s: &&GreyStep| s.light.plus_minus / COVERAGE_95 / s.light.value / std::f64::consts::LN_2;
    let deviation: Vec<f64> = used.iter().map(|s| own(s).max(SUREST_STOPS)).collect();
    let span = x.iter().copied().fold(f64::NEG_INFINITY, f64::max) - x.iter().copied().fold(f64::INFINITY, f64::min);
    let sloped = span >= LEAST_SPAN_STOPS;
    // Without a slope of its own the line keeps to 1: what is left is the mean.
    let (rows, right): (Vec<Vec<f64>>, Vec<f64>) = (0..used.len())
        .map(|i| {
            let d = deviation[i];
            if sloped { (vec![1.0 / d, x[i] / d], y[i] / d) } else { (vec![1.0 / d], (y[i] - x[i]) / d) }
        })
        .unzip();
    let found = least_squares(&rows, &right).ok_or(ExposedError::NoStep { given: steps.len() })?;
    let degrees = used.len() - found.x.len();
    let ratio = (degrees > 0).then(|| (found.squares / degrees as f64).sqrt());
    let factor = match ratio {
        Some(ratio) if ratio > 1.0 && degrees >= TRUSTED_DEGREES => ratio * student_975(degrees),
        Some(ratio) => COVERAGE_95 * ratio.max(1.0),
        None => COVERAGE_95,
    };
    let figure = |i: usize| Figure::new(found.x[i], factor * found.unit_covariance[i][i].max(0.0).sqrt());
    let slope = sloped.then(|| figure(1));
    let line = |i: usize| found.x[0] + slope.map_or(1.0, |s| s.value) * x[i];
    let residuals: Vec<StepResidual> =
        (0..used.len()).map(|i| StepResidual { reflectance: used[i].reflectance, stops: y[i] - line(i) }).collect();
    match slope {
        None => remarks.push(ExposedRemark::SlopeAssumed),
        Some(slope) if slope.value + slope.plus_minus < 0.0 => {
            return Err(ExposedError::Reversed { slope: slope.value });
        }
        // A tenth is what glare of half a per cent does to a step of 3 %.
        Some(slope) if (slope.value - 1.0).abs() > slope.plus_minus.max(0.1) => {
            remarks.push(ExposedRemark::NotProportional { slope: slope.value, plus_minus: slope.plus_minus });
        }
        Some(_) => {}
    }
    if let Some(ratio) = ratio {
        let share = 2.0 / (9.0 * degrees as f64);
        if ratio > (1.0 - share + 3.09 * share.sqrt()).powf(1.5) {
            remarks.push(ExposedRemark::Scattered { ratio });
        }
    }
    let squares: f64 = residuals.iter().map(|r| r.stops * r.stops).sum();
    Ok(ExposedReport {
        offset_stops: figure(0),
        slope,
        scatter_stops: (degrees > 0).then(|| (squares / degrees as f64).sqrt()),
        residuals,
        remarks,
    })
}
