//! From frames to a lens's figures: outliers named, reservations said.

use crate::error::{CalibrationError, Wanted};
use crate::fit::Basis;
use crate::frame::{Frame, Options, check};
use crate::lens::{Fitted, Solution, Unknown};
use crate::odds::{DOUBT, f_above};
use optics::Estimate;

/// A frame that the others contradict.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlier {
    /// The frame.
    pub id: String,
    /// How far it lies from what the other frames foretell, in standard uncertainties of that difference; magnification
    /// and distance together where both were measured.
    pub distance: f64,
    /// Probability that the worst of as many good frames lies so far out.
    pub probability: f64,
}

/// A reservation about a result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Remark {
    /// As many unknowns as readings: nothing is left over to show a slip.
    #[error("there are just as many readings as unknown figures, so nothing would show a slip: one more frame would")]
    ExactlyDetermined,
    /// All frames have the same extension: a fault of the infinity mark or the tubes would not show.
    #[error(
        "all frames have the same {extension_mm} mm between body and lens: a fault of the infinity mark or the tubes would not show"
    )]
    OneExtension {
        /// Between body and lens, mm.
        extension_mm: f64,
    },
    /// The focal length is no better known than from an engraving; the extensions lie too close together.
    #[error("the extensions lie within {span_mm} mm, too close together: the focal length is known to {:.1} % only, no better than from an engraving", 100.0 * .share)]
    ExtensionsTooClose {
        /// From the shortest extension to the longest, mm.
        span_mm: f64,
        /// Half-width of the focal length (95 %), as a share of it.
        share: f64,
    },
    /// The focal length is no better known than from an engraving, though the extensions would allow it: the readings
    /// are too rough.
    #[error("the readings are rough: the focal length is known to {:.1} % only, no better than from an engraving", 100.0 * .share)]
    LittleBetterThanEngraved {
        /// Half-width of the focal length (95 %), as a share of it.
        share: f64,
    },
    /// The frames fit better when the infinity mark is off.
    #[error("the infinity mark is likely off: the frames fit better with the lens {} mm forward of true infinity there (then the focal length is {} mm)", shown(.offset), shown(.focal_length))]
    ZeroOffsetLikely {
        /// How far forward of true infinity the lens stands at its mark, mm.
        offset: Estimate,
        /// The focal length that goes with it, mm.
        focal_length: Estimate,
    },
    /// An offset of the infinity mark was asked for; these frames cannot tell it and none was fitted.
    #[error("these frames cannot tell an offset of the infinity mark, so none was fitted; {wanted} would")]
    ZeroNotTold {
        /// What would tell it.
        wanted: Wanted,
    },
    /// The engraved focal length and the measured one differ by more than both allow.
    #[error("the engraved focal length of {} mm and the measured one of {} mm differ by more than both allow", shown(.marked), shown(.measured))]
    MarkedOutside {
        /// Measured, without the engraving, mm.
        measured: Estimate,
        /// Engraved, mm.
        marked: Estimate,
    },
    /// The readings scatter more than their stated uncertainties allow; the intervals were enlarged.
    #[error(
        "the readings scatter {inflation:.1} times as much as their stated uncertainties allow: the intervals were enlarged; look for the cause in the residuals"
    )]
    ScatterBeyondStated {
        /// By how much.
        inflation: f64,
    },
    /// Leaving outliers out lost a figure that no other frame tells.
    #[error("without the outliers no frame tells {unknown}")]
    LostWithOutliers {
        /// The figure.
        unknown: Unknown,
    },
    /// The travel came out negative: closest mark behind infinity mark.
    #[error("the travel comes out as {} mm, the closest mark behind the infinity mark: were frames mixed up?", shown(.travel))]
    TravelNegative {
        /// mm.
        travel: Estimate,
    },
}

/// A figure and its half-width, both to the half-width's first digit or two.
pub(crate) fn shown(estimate: &Estimate) -> String {
    let digits =
        if estimate.plus_minus > 0.0 { (1.3 - estimate.plus_minus.log10()).floor().clamp(0.0, 6.0) } else { 3.0 };
    format!("{:.*} ± {:.*}", digits as usize, estimate.value, digits as usize, estimate.plus_minus)
}

/// A lens's true figures.
#[derive(Debug, Clone, PartialEq)]
pub struct LensCalibration {
    /// Focal length, mm.
    pub focal_length: Estimate,
    /// Travel from infinity mark to closest mark, mm, when a frame was taken at the latter.
    pub travel: Option<Estimate>,
    /// Principal separation H to H', mm, when a distance was measured.
    pub separation: Option<Estimate>,
    /// Offset of the infinity mark, mm, when it was fitted.
    pub zero: Option<Estimate>,
    /// The fit that these figures are from.
    pub solution: Solution,
    /// Frames that the others contradict, worst first.
    pub outliers: Vec<Outlier>,
    /// Whether `solution` was fitted without them.
    pub outliers_left_out: bool,
    /// The fit with the outliers when `solution` is without them, and the other way round; `None` without outliers.
    pub other: Option<Solution>,
    /// Reservations.
    pub remarks: Vec<Remark>,
}

/// What an engraving is good for as a share of the focal length (95 %): ISO 517, from memory, allows 5 %, taken as the
/// limits of a triangle.
const ENGRAVED: f64 = 0.04;

/// A lens's true figures by least squares from its test frames.
///
/// Intervals are of 95 %. As long as chi-square allows it (19 cases of 20) they rest on the stated uncertainties with
/// the normal factor 1.96: those are what was known before, and a handful of residuals could not better them. Beyond,
/// the scatter is the better witness: all is enlarged by Birge's ratio √(χ²/ν) and the factor is Student's t for ν.
///
/// Outliers are sought by leaving frames out in turn, worst first, at most a third of them; those up to the last whose
/// distance from what the others foretell is beyond a family-wise 95 % limit are named (Rosner, "Percentage points for
/// a generalized ESD many-outlier procedure", Technometrics 25 (1983) 165, from memory), so that two bad frames do not
/// cover each other. The distance is externally studentised: in the stated uncertainties, or in the scatter of the
/// others where that is larger. The limit is Student's with the others' degrees of freedom and 8 more for the stated
/// uncertainties, which are taken to be good to a quarter; by the others' scatter alone a gross slip among five frames
/// could not be told from bad luck. Where no degree of freedom would be left nobody is accused.
pub fn calibrate_lens(frames: &[Frame], options: &Options) -> Result<LensCalibration, CalibrationError> {
    check(frames, options)?;
    let all: Vec<usize> = (0..frames.len()).collect();
    let mut remarks = Vec::new();
    let (whole, zero) = first_fit(frames, &all, options, &mut remarks)?;
    let (bad, outliers) = outliers(frames, &whole, options, zero);
    let rest: Vec<usize> = all.iter().copied().filter(|index| !bad.contains(index)).collect();
    let without = if bad.is_empty() { None } else { Some(Fitted::new(frames, &rest, options, zero)?) };
    let outliers_left_out = options.leave_out_outliers && without.is_some();
    let (chosen, other) = match &without {
        Some(without) if options.leave_out_outliers => (without, Some(&whole)),
        Some(without) => (&whole, Some(without)),
        None => (&whole, None),
    };
    refuse_vague(chosen)?;
    let judge = Judge { frames, options, zero };
    judge.remarks(chosen, &whole, &mut remarks);
    Ok(LensCalibration {
        focal_length: chosen.solution(frames, options).focal_length(),
        travel: chosen.estimate(&Unknown::Travel),
        separation: chosen.estimate(&Unknown::Separation),
        zero: chosen.estimate(&Unknown::Zero),
        solution: chosen.solution(frames, options),
        outliers,
        outliers_left_out,
        other: other.map(|fitted| fitted.solution(frames, options)),
        remarks,
    })
}

/// All frames; with the offset of the infinity mark when that is wanted and can be told.
fn first_fit(
    frames: &[Frame],
    all: &[usize],
    options: &Options,
    remarks: &mut Vec<Remark>,
) -> Result<(Fitted, bool), CalibrationError> {
    if options.fit_zero {
        match Fitted::new(frames, all, options, true) {
            Ok(fitted) => return Ok((fitted, true)),
            Err(CalibrationError::NotTold { wanted, .. }) => remarks.push(Remark::ZeroNotTold { wanted }),
            Err(error) => return Err(error),
        }
    }
    Ok((Fitted::new(frames, all, options, false)?, false))
}

fn refuse_vague(fitted: &Fitted) -> Result<(), CalibrationError> {
    let focal = fitted.estimate(&Unknown::FocalLength).unwrap_or(Estimate::exact(fitted.fit.values[0]));
    if focal.plus_minus < focal.value {
        return Ok(());
    }
    let Estimate { value, plus_minus } = focal;
    Err(CalibrationError::TooVague { value, plus_minus, wanted: Wanted::AnotherExtension })
}

/// How far a frame lies from the others, and how likely that is for a good frame.
struct Standing {
    distance: f64,
    probability: f64,
}

/// Degrees of freedom of stated uncertainties that are themselves good to a quarter: ½·0.25⁻² (JCGM 100:2008, G.4.2).
const STATED_DEGREES: usize = 8;

/// `taken_off` of a frame's `foretold` readings, beside what chi-square the others leave.
fn standing(taken_off: f64, foretold: usize, others: f64, degrees: usize) -> Standing {
    let scale = (others / degrees as f64).max(1.0);
    let square = taken_off.max(0.0) / scale;
    let probability = f_above(square / foretold as f64, foretold, degrees + STATED_DEGREES);
    Standing { distance: square.sqrt(), probability }
}

/// Leaves out the worst frame of `fitted`: its index, the fit without it, and how far it lies from that.
fn without_worst(
    frames: &[Frame],
    fitted: &Fitted,
    options: &Options,
    zero: bool,
) -> Option<(usize, Fitted, Standing)> {
    let degrees = fitted.chi_square.degrees;
    let judged = (0..fitted.kept.len()).filter_map(|place| {
        let left = fitted.fit.left_out(fitted.rows(place));
        // Without a degree of freedom among the others every frame would be equally bad.
        if left.foretold == 0 || degrees <= left.foretold {
            return None;
        }
        let others = (fitted.chi_square.value - left.chi_square).max(0.0);
        Some((place, standing(left.chi_square, left.foretold, others, degrees - left.foretold)))
    });
    let (place, _) = judged
        .min_by(|(_, p), (_, q)| p.probability.total_cmp(&q.probability).then(q.distance.total_cmp(&p.distance)))?;
    let index = fitted.kept[place];
    let kept: Vec<usize> = fitted.kept.iter().copied().filter(|&kept| kept != index).collect();
    let rest = Fitted::new(frames, &kept, options, zero).ok()?;
    let foretold = degrees.checked_sub(rest.chi_square.degrees).filter(|&count| count > 0)?;
    let taken_off = fitted.chi_square.value - rest.chi_square.value;
    let found = standing(taken_off, foretold, rest.chi_square.value, rest.chi_square.degrees);
    Some((index, rest, found))
}

fn outliers(frames: &[Frame], whole: &Fitted, options: &Options, zero: bool) -> (Vec<usize>, Vec<Outlier>) {
    let (mut indices, mut found, mut named) = (Vec::new(), Vec::new(), 0);
    let mut fitted = whole.clone();
    for _ in 0..frames.len() / 3 {
        let Some((index, rest, standing)) = without_worst(frames, &fitted, options, zero) else { break };
        // Bonferroni: the worst of n good frames is as far out as that with at most n times one frame's probability.
        let probability = (standing.probability * fitted.kept.len() as f64).min(1.0);
        indices.push(index);
        found.push(Outlier { id: frames[index].id.clone(), distance: standing.distance, probability });
        if probability < DOUBT {
            named = found.len();
        }
        fitted = rest;
    }
    indices.truncate(named);
    found.truncate(named);
    (indices, found)
}

/// What is said about a fit.
struct Judge<'a> {
    frames: &'a [Frame],
    options: &'a Options,
    zero: bool,
}

impl Judge<'_> {
    fn remarks(&self, chosen: &Fitted, whole: &Fitted, remarks: &mut Vec<Remark>) {
        if chosen.chi_square.degrees == 0 {
            remarks.push(Remark::ExactlyDetermined);
        }
        if chosen.spread().basis == Basis::Scatter {
            remarks.push(Remark::ScatterBeyondStated { inflation: chosen.spread().inflation });
        }
        self.extensions(chosen, remarks);
        remarks.extend(self.zero_offset(chosen, whole));
        remarks.extend(self.marked(chosen));
        let lost = [Unknown::Travel, Unknown::Separation].into_iter();
        let lost = lost.filter(|unknown| whole.estimate(unknown).is_some() && chosen.estimate(unknown).is_none());
        remarks.extend(lost.map(|unknown| Remark::LostWithOutliers { unknown }));
        let travel = chosen.estimate(&Unknown::Travel).filter(|travel| travel.value < 0.0);
        remarks.extend(travel.map(|travel| Remark::TravelNegative { travel }));
    }

    fn extensions(&self, chosen: &Fitted, remarks: &mut Vec<Remark>) {
        let lengths = || chosen.kept.iter().map(|&index| self.frames[index].extension_mm());
        let (shortest, longest) = (lengths().fold(f64::INFINITY, f64::min), lengths().fold(0.0, f64::max));
        if chosen.kept.len() > 1 && shortest == longest {
            remarks.push(Remark::OneExtension { extension_mm: longest });
        }
        let Some(focal) = chosen.estimate(&Unknown::FocalLength) else { return };
        let share = focal.plus_minus / focal.value;
        if share <= ENGRAVED {
            return;
        }
        // Without travel or offset every frame tells f by itself and the span has no part in it.
        let by_span = chosen.estimate(&Unknown::Travel).or(chosen.estimate(&Unknown::Zero)).is_some();
        remarks.push(if by_span {
            Remark::ExtensionsTooClose { span_mm: longest - shortest, share }
        } else {
            Remark::LittleBetterThanEngraved { share }
        });
    }

    /// An offset fitted on trial: to the frames that are used, and to all of them, since an offset makes the shortest
    /// extension look like an outlier.
    fn zero_offset(&self, chosen: &Fitted, whole: &Fitted) -> Option<Remark> {
        if self.zero {
            return None;
        }
        let trial = |kept: &[usize]| {
            let fitted = Fitted::new(self.frames, kept, self.options, true).ok()?;
            let offset = fitted.estimate(&Unknown::Zero)?;
            let focal_length = fitted.estimate(&Unknown::FocalLength)?;
            let likely = offset.value.abs() > offset.plus_minus && fitted.chi_square.consistent();
            likely.then_some(Remark::ZeroOffsetLikely { offset, focal_length })
        };
        trial(&chosen.kept).or_else(|| if chosen.kept == whole.kept { None } else { trial(&whole.kept) })
    }

    /// The engraving against what the frames say without it.
    fn marked(&self, chosen: &Fitted) -> Option<Remark> {
        let marked = self.options.marked?;
        let alone = Options { use_marked: false, ..self.options.clone() };
        let measured = if self.options.use_marked {
            Fitted::new(self.frames, &chosen.kept, &alone, self.zero).ok()?.estimate(&Unknown::FocalLength)?
        } else {
            chosen.estimate(&Unknown::FocalLength)?
        };
        let outside = (measured.value - marked.value).abs() > measured.plus_minus.hypot(marked.plus_minus);
        let marked = Estimate { value: marked.value, plus_minus: marked.plus_minus };
        outside.then_some(Remark::MarkedOutside { measured, marked })
    }
}
