//! The power of a close-up lens from pairs of frames without and with it.

use crate::calibrate::shown;
use crate::error::CalibrationError;
use crate::fit::{ChiSquare, Model, fit};
use crate::frame::{MOST_FRAMES, any_sign, magnification, not_negative, positive_or_exact};
use crate::lens::Residual;
use optics::{Estimate, Input, Real};

/// Two frames at the same focus of the same lens.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseUpPair {
    /// Its name.
    pub id: String,
    /// Measured magnification without the close-up lens; `None` for a lens focused at infinity, where it is exactly 0.
    pub without: Option<Input>,
    /// Measured magnification with it.
    pub with: Input,
}

/// The lens that it was screwed to, and how it sat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carrier {
    /// Focal length, mm.
    pub focal_length: Input,
    /// From the rim forward to the close-up lens, mm.
    pub gap: Input,
    /// From the rim back to the lens's front principal plane H, mm; negative when H lies in front of the rim.
    pub rim_to_plane: Input,
}

/// A reservation about a power.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CloseUpRemark {
    /// One pair: nothing would show a slip.
    #[error("there is one pair of frames, so nothing would show a slip")]
    OnePair,
    /// The pairs differ beyond their uncertainties; the interval was enlarged.
    #[error("the pairs differ by more than their uncertainties allow: the interval was enlarged")]
    PairsDisagree,
    /// The engraved power and the measured one differ by more than both allow.
    #[error("the engraved power of {} dpt and the measured one of {} dpt differ by more than both allow", shown(.marked), shown(.measured))]
    MarkedOutside {
        /// Measured, dioptres.
        measured: Estimate,
        /// Engraved, dioptres.
        marked: Estimate,
    },
}

/// A close-up lens's power.
#[derive(Debug, Clone, PartialEq)]
pub struct CloseUpPower {
    /// Dioptres.
    pub power_dpt: Estimate,
    /// How well the pairs agree.
    pub chi_square: ChiSquare,
    /// The magnification with it, pair by pair.
    pub pairs: Vec<(String, Residual)>,
    /// Reservations.
    pub remarks: Vec<CloseUpRemark>,
}

/// With u = f(1 + 1/m₀) from subject to H without it, m = m₀(1 + D(u − s)), s from the close-up lens to H (thin lens at
/// s before a black box; own derivation, checked by ray matrices in the tests). Multiplied out it is m = m₀ + D(f +
/// m₀(f − s)), which holds at m₀ = 0 too: m = fD.
struct Pairs<'a> {
    pairs: &'a [CloseUpPair],
    /// Which inputs are uncertain, and so unknowns with a reading: focal length, gap, rim to H, then each m₀.
    stated: Vec<(usize, Input)>,
    inputs: Vec<Input>,
}

impl<'a> Pairs<'a> {
    fn new(pairs: &'a [CloseUpPair], carrier: &Carrier) -> Self {
        let exact = Input { value: 0.0, plus_minus: 0.0 };
        let mut inputs = vec![carrier.focal_length, carrier.gap, carrier.rim_to_plane];
        inputs.extend(pairs.iter().map(|pair| pair.without.unwrap_or(exact)));
        let stated = inputs.iter().copied().enumerate().filter(|(_, input)| input.plus_minus > 0.0).collect();
        Self { pairs, stated, inputs }
    }

    fn readings(&self) -> Vec<Input> {
        self.pairs.iter().map(|pair| pair.with).chain(self.stated.iter().map(|(_, input)| *input)).collect()
    }
}

impl Model for Pairs<'_> {
    /// The first unknown is D in dioptres.
    fn predict<T: Real>(&self, p: &[T]) -> Vec<T> {
        let mut inputs: Vec<T> = self.inputs.iter().map(|input| T::exact(input.value)).collect();
        for ((index, _), value) in self.stated.iter().zip(&p[1..]) {
            inputs[*index] = *value;
        }
        let power = p[0] / T::exact(1000.0);
        let (f, s) = (inputs[0], inputs[1] + inputs[2]);
        let mut out: Vec<T> = inputs[3..].iter().map(|&m0| m0 + power * (f + m0 * (f - s))).collect();
        out.extend_from_slice(&p[1..]);
        out
    }
}

fn check(pairs: &[CloseUpPair], carrier: &Carrier, marked: Option<Input>) -> Result<(), CalibrationError> {
    if pairs.is_empty() {
        return Err(CalibrationError::NoFrames);
    }
    if pairs.len() > MOST_FRAMES {
        return Err(CalibrationError::TooManyFrames { count: pairs.len(), most: MOST_FRAMES });
    }
    positive_or_exact("the lens", "focal length", carrier.focal_length)?;
    not_negative("the lens", "gap to the rim", carrier.gap)?;
    any_sign("the lens", "distance from rim to H", carrier.rim_to_plane)?;
    for (index, pair) in pairs.iter().enumerate() {
        if pairs[..index].iter().any(|other| other.id == pair.id) {
            return Err(CalibrationError::NameTwice { id: pair.id.clone() });
        }
        magnification(&pair.id, pair.with)?;
        if let Some(without) = pair.without {
            magnification(&pair.id, without)?;
            let (f, s) = (carrier.focal_length.value, carrier.gap.value + carrier.rim_to_plane.value);
            // The subject must lie in front of where the close-up lens goes: u − s = f + f/m₀ − s.
            let value = f + f / without.value - s;
            if value <= 0.0 {
                let what = "distance from subject to close-up lens";
                return Err(CalibrationError::NotPositive { place: pair.id.clone(), what, value });
            }
        }
    }
    if let Some(marked) = marked {
        positive_or_exact("the engraving", "power", marked)?;
    }
    Ok(())
}

/// The power of a close-up lens from pairs of frames, each without and with it at one focus of one lens.
///
/// Several pairs share the carrier's focal length and the place of the close-up lens, so that these do not average out;
/// all is fitted together as in [`crate::calibrate_lens`], intervals too. An error of scale common to both frames of a
/// pair leaves m/m₀ alone, but is a full error of the power where the lens stood at infinity: put it into `with`.
pub fn close_up_power(
    pairs: &[CloseUpPair],
    carrier: &Carrier,
    marked: Option<Input>,
) -> Result<CloseUpPower, CalibrationError> {
    check(pairs, carrier, marked)?;
    let model = Pairs::new(pairs, carrier);
    let readings = model.readings();
    let mut start = vec![0.0];
    start.extend(model.stated.iter().map(|(_, input)| input.value));
    // By the checks above every pair has a slope by D, so that no fit is left open.
    let fit = fit(&model, &readings, &start).map_err(|_| CalibrationError::NoRest)?;
    let chi_square = ChiSquare::new(fit.chi_square, pairs.len() - 1);
    let power_dpt = Estimate { value: fit.values[0], plus_minus: chi_square.spread().half_width(fit.covariance[0][0]) };
    if power_dpt.value <= 0.0 {
        return Err(CalibrationError::NoPower { power_dpt: power_dpt.value });
    }
    let mut remarks = Vec::new();
    if pairs.len() == 1 {
        remarks.push(CloseUpRemark::OnePair);
    }
    if !chi_square.consistent() {
        remarks.push(CloseUpRemark::PairsDisagree);
    }
    if let Some(marked) = marked.map(|marked| Estimate { value: marked.value, plus_minus: marked.plus_minus })
        && (power_dpt.value - marked.value).abs() > power_dpt.plus_minus.hypot(marked.plus_minus)
    {
        remarks.push(CloseUpRemark::MarkedOutside { measured: power_dpt, marked });
    }
    let fitted = model.predict(&fit.values);
    let residual = |(row, pair): (usize, &CloseUpPair)| {
        let (measured, fitted) = (pair.with.value, fitted[row]);
        let studentised = fit.studentised(row);
        (pair.id.clone(), Residual { measured, fitted, difference: measured - fitted, studentised })
    };
    let pairs = pairs.iter().enumerate().map(residual).collect();
    Ok(CloseUpPower { power_dpt, chi_square, pairs, remarks })
}
