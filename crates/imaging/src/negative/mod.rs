//! From a scanned negative to the light that made it.
//!
//! A negative's scan holds transmittance T: the share of light that passes. Its density D = −log₁₀ T, less that of the
//! film's base, follows the exposure H through the film's characteristic curve (ISO 6846 for black and white, ISO 5800
//! for colour). [`invert`] goes back: each channel's density above its [`Base`], through its [`Curve`], gives log₁₀ H,
//! relative to whatever the curve counts from.
//!
//! What this leaves out: the scanner's flare, which lightens dense places; colour negative's masks and the mixing of its
//! layers, because each channel is taken alone; and the difference between the scanner's specular and the data sheet's
//! diffuse density (the Callier effect), which for silver is up to some tenths of the slope.

mod base;
mod curve;

use planes::{Channels, Linear, Picture, Plane};

pub use base::Base;
pub use curve::{Curve, CurveError};

/// Why a negative could not be turned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NegativeError {
    /// The region for the base is too small.
    #[error("the region of bare film has {width} x {height} pixels; at least {least} x {least} are needed")]
    RegionTooSmall {
        /// Its columns.
        width: usize,
        /// Its rows.
        height: usize,
        /// The least side.
        least: usize,
    },
    /// The region for the base is clipped in the scan.
    #[error("{share:.1} % of the region of bare film are clipped in channel {channel}: scan with less exposure")]
    BaseClipped {
        /// The channel, counted from 0.
        channel: usize,
        /// How much of it, in %.
        share: f64,
    },
    /// The region for the base is not even.
    #[error(
        "the region of bare film is not even: its density varies by {spread:.3} in channel {channel}, at most {limit} can be taken for one value; choose a place without picture, letters or light leaks"
    )]
    Uneven {
        /// The channel, counted from 0.
        channel: usize,
        /// Largest less smallest density of its parts.
        spread: f64,
        /// The most that is taken.
        limit: f64,
    },
    /// A density that cannot be.
    #[error("a base density of {value} is none; it lies between 0 and {most}")]
    Density {
        /// What was given.
        value: f64,
        /// The most that is taken.
        most: f64,
    },
    /// The numbers of channels do not agree.
    #[error(
        "the picture has {picture} channel(s), the base {base} and the curves are {curves}; each channel needs its own"
    )]
    Channels {
        /// Of the picture.
        picture: usize,
        /// Of the base.
        base: usize,
        /// Curves given.
        curves: usize,
    },
    /// A picture that cannot be laid out again.
    #[error("the picture could not be laid out: {0}")]
    Shape(String),
}

/// The exposure that made a negative.
#[derive(Debug, Clone, PartialEq)]
pub struct Exposure {
    /// Exposure as a share of that at [`Self::log_h_full`]; 1 is the curves' upper end.
    pub picture: Picture<Linear>,
    /// log₁₀ of the exposure that 1 stands for, in the curves' own counting.
    pub log_h_full: f64,
    /// Samples thinner than the curve's lower end, in all channels; they were put there.
    pub below: u64,
    /// Samples denser than the curve's upper end, in all channels; they were put there.
    pub above: u64,
    /// Relative half-width (95 %) of the exposure that comes from the base's alone, the largest of the channels; `None`
    /// where it varies along the curve (a table) or the base was stated without one.
    pub base_half_width: Option<f64>,
}

/// Turns the scan of a negative into the exposure that made it; one curve for each channel.
pub fn invert(scan: &Picture<Linear>, base: &Base, curves: &[Curve]) -> Result<Exposure, NegativeError> {
    let planes = planes_of(scan);
    let counts = (planes.len(), base.density().len(), curves.len());
    if counts.1 != counts.0 || counts.2 != counts.0 {
        return Err(NegativeError::Channels { picture: counts.0, base: counts.1, curves: counts.2 });
    }
    let log_h_full = curves.iter().map(|c| c.log_h_range().1).fold(f64::NEG_INFINITY, f64::max);
    let (mut below, mut above) = (0, 0);
    let mut turn = |channel: usize| {
        let (curve, density) = (&curves[channel], base.density()[channel]);
        let (least, most) = curve.density_range();
        let exposure = |&transmittance: &f32| {
            let d = -f64::from(transmittance).log10() - density;
            below += u64::from(d < least);
            // No light at all is an endless density.
            above += u64::from(d > most);
            10.0_f64.powf(curve.log_h(d) - log_h_full) as f32
        };
        let samples = planes[channel].samples().iter().map(exposure).collect();
        Plane::new(scan.width(), scan.height(), samples).map_err(|e| NegativeError::Shape(e.to_string()))
    };
    let picture = match scan.channels() {
        Channels::Grey(_) => Picture::grey(turn(0)?),
        Channels::Rgb { luma, .. } => {
            Picture::rgb([turn(0)?, turn(1)?, turn(2)?], *luma).map_err(|e| NegativeError::Shape(e.to_string()))?
        }
    };
    let base_half_width = base_half_width(base, curves);
    Ok(Exposure { picture, log_h_full, below, above, base_half_width })
}

/// On a straight line log H = D / gamma, so a doubt of ±u in the base's density is one of 10^(u / gamma) in exposure.
fn base_half_width(base: &Base, curves: &[Curve]) -> Option<f64> {
    let half_widths = base.half_width()?;
    let relative = |(u, curve): (&f64, &Curve)| Some(10.0_f64.powf(u / curve.gamma()?) - 1.0);
    half_widths.iter().zip(curves).map(relative).try_fold(0.0_f64, |most, w| Some(most.max(w?)))
}

fn planes_of(picture: &Picture<Linear>) -> &[Plane<Linear>] {
    match picture.channels() {
        Channels::Grey(plane) => std::slice::from_ref(plane),
        Channels::Rgb { planes, .. } => planes.as_slice(),
    }
}
