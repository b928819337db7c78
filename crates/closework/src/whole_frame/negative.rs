//! A scanned negative turned back into exposure while it is read.

use std::ops::ControlFlow;

use imaging::negative::{Base, Curve, CurveError, NegativeError, invert};
use imaging::{Scan, ToneChoice};
use planes::{Channels, Linear, Picture, Region};
use serde::{Deserialize, Serialize};

use super::take::TakeError;

/// How a negative is turned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Negative {
    /// Slope of density over log exposure, or the text of a table of log exposure and density above the base.
    pub curve: NegativeCurve,
    /// Where the bare film is told from.
    pub base: NegativeBase,
}

/// A film's characteristic curve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NegativeCurve {
    /// A straight line: the average gradient of a data sheet.
    Gamma(f64),
    /// Lines of log exposure and density.
    Table(String),
}

/// Density of bare film.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NegativeBase {
    /// Measured in a region of rebate: left, top, width, height in pixels.
    Rebate([u32; 4]),
    /// Stated, one density or one for each colour.
    Densities(Vec<f64>),
}

/// Why a negative was not turned.
#[derive(Debug, thiserror::Error)]
pub enum TurnError {
    /// The curve.
    #[error("the film's curve cannot be used: {0}")]
    Curve(#[from] CurveError),
    /// The base, or the picture.
    #[error("{0}")]
    Negative(#[from] NegativeError),
    /// A region outside.
    #[error("the rebate region does not lie within the picture of {width} × {height} pixels")]
    Outside {
        /// Columns.
        width: u32,
        /// Rows.
        height: u32,
    },
}

/// A straight line is carried on to the densest place of the picture and this much further.
const BEYOND: f64 = 0.1;
/// Densities that a curve may reach.
const REACH: (f64, f64) = (0.3, 4.0);
/// Pixels in which the densest place is looked for.
const LOOKED_AT: f64 = 3e6;

/// A negative's base and curves, ready for every region.
#[derive(Debug, Clone)]
pub struct Turner {
    base: Base,
    curves: Vec<Curve>,
}

impl Turner {
    /// Measures the base and, for a straight curve, how dense the picture becomes.
    pub fn new(negative: &Negative, scan: &mut Scan, tone: ToneChoice) -> Result<Self, TakeError> {
        let channels = scan.info().colour.channels();
        let base = match &negative.base {
            NegativeBase::Densities(given) => {
                let all = if given.len() == 1 { vec![given[0]; channels] } else { given.clone() };
                Base::stated(&all).map_err(TurnError::from)?
            }
            NegativeBase::Rebate([x, y, width, height]) => {
                let region = Region { x: *x, y: *y, width: *width, height: *height };
                let (w, h) = (scan.info().width, scan.info().height);
                if !region.lies_within(w, h) {
                    return Err(TurnError::Outside { width: w, height: h }.into());
                }
                Base::measured(&scan.read_linear(region, tone)?.picture).map_err(TurnError::from)?
            }
        };
        let curve = match &negative.curve {
            NegativeCurve::Table(text) => Curve::parse(text).map_err(TurnError::from)?,
            NegativeCurve::Gamma(gamma) => {
                let pixels = f64::from(scan.info().width) * f64::from(scan.info().height);
                let factor = (pixels / LOOKED_AT).sqrt().ceil().max(1.0) as u32;
                let small = scan.read_reduced(factor, tone, &mut |_| ControlFlow::Continue(()))?.reading.picture;
                let least = base.density().iter().copied().fold(f64::INFINITY, f64::min);
                let most = (densest(&small) - least + BEYOND).clamp(REACH.0, REACH.1);
                Curve::straight(*gamma, most).map_err(TurnError::from)?
            }
        };
        let turner = Self { base, curves: vec![curve; channels] };
        // What does not fit together is said before anything is measured.
        let corner = Region { x: 0, y: 0, width: 1, height: 1 };
        turner.turn(&scan.read_linear(corner, tone)?.picture)?;
        Ok(turner)
    }

    /// The exposure behind a piece of the negative.
    pub fn turn(&self, piece: &Picture<Linear>) -> Result<Picture<Linear>, TurnError> {
        Ok(invert(piece, &self.base, &self.curves)?.picture)
    }
}

fn densest(picture: &Picture<Linear>) -> f64 {
    let planes = match picture.channels() {
        Channels::Grey(plane) => std::slice::from_ref(plane),
        Channels::Rgb { planes, .. } => planes.as_slice(),
    };
    let darkest = planes.iter().flat_map(|plane| plane.samples()).copied().filter(|light| *light > 0.0);
    let darkest = darkest.fold(1.0_f32, f32::min);
    -f64::from(darkest).log10()
}
