//! The model of a unit-focusing lens, and its fit to test frames.

use crate::error::{CalibrationError, Wanted};
use crate::fit::{Basis, ChiSquare, Fit, Model, Spread, Trouble, fit, standard};
use crate::frame::{Focused, Frame, Options};
use optics::{Dual, Estimate, Input, Real};
use std::fmt;

/// A figure that is fitted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unknown {
    /// Focal length f, mm.
    FocalLength,
    /// Travel from the infinity mark to the closest mark, mm.
    Travel,
    /// Principal separation H to H', mm.
    Separation,
    /// How far the lens stands forward of true infinity when it is at its infinity mark, mm.
    Zero,
    /// Common factor of all measured magnifications.
    Scale,
    /// A named length between body and lens, mm.
    Length(String),
    /// The travel of one frame, mm, as read.
    Reading(String),
}

impl fmt::Display for Unknown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FocalLength => f.write_str("the focal length"),
            Self::Travel => f.write_str("the travel at the closest mark"),
            Self::Separation => f.write_str("the principal separation"),
            Self::Zero => f.write_str("the offset of the infinity mark"),
            Self::Scale => f.write_str("the common scale"),
            Self::Length(name) => write!(f, "the length of \"{name}\""),
            Self::Reading(frame) => write!(f, "the travel in frame \"{frame}\""),
        }
    }
}

impl Unknown {
    /// Whether it is a figure of the lens, which only the frames can tell.
    fn of_the_lens(&self) -> bool {
        matches!(self, Self::FocalLength | Self::Travel | Self::Separation | Self::Zero)
    }
}

/// A part of what lies between the lens's true infinity position and where it stood.
#[derive(Debug, Clone, Copy)]
enum Term {
    Exact(f64),
    Fitted(usize),
}

/// The frames' readings as functions of the unknowns: m = s·(x + e + z)/f, and subject to film f(2 + m + 1/m) + t with
/// the true m (Jacobson, *Photographic Lenses FAQ*, 1995, Q4-Q5, with the principal separation added).
///
/// Errors in the lengths are as large as errors in the magnifications, and one tube errs alike in every frame it is in.
/// So each uncertain length is an unknown of its own with the figure off the part as one more reading: with normal
/// errors that is the maximum of likelihood, correlation included. Effective variances would have to be correlated ones
/// that depend on the unknown f, and would come to the same in first order.
#[derive(Debug, Clone)]
pub(crate) struct LensModel {
    pub(crate) unknowns: Vec<Unknown>,
    /// Per frame: its terms and whether its distance was measured.
    places: Vec<(Vec<Term>, bool)>,
    separation: Option<usize>,
    scale: Option<usize>,
    /// Unknowns that have a reading of their own.
    stated: Vec<usize>,
    pub(crate) readings: Vec<Input>,
    /// Readings of each frame.
    rows: Vec<std::ops::Range<usize>>,
}

impl Model for LensModel {
    fn predict<T: Real>(&self, p: &[T]) -> Vec<T> {
        let mut out = Vec::with_capacity(self.readings.len());
        let focal = p[0];
        for (terms, distance) in &self.places {
            let sum = terms.iter().fold(T::exact(0.0), |sum, term| match term {
                Term::Exact(length) => sum + T::exact(*length),
                Term::Fitted(index) => sum + p[*index],
            });
            let m = sum / focal;
            out.push(self.scale.map_or(m, |scale| p[scale] * m));
            if let (true, Some(t)) = (*distance, self.separation) {
                out.push(focal * (T::exact(2.0) + m + T::exact(1.0) / m) + p[t]);
            }
        }
        out.extend(self.stated.iter().map(|&index| p[index]));
        out
    }
}

impl LensModel {
    /// `zero`: whether the infinity mark's offset is an unknown.
    pub(crate) fn new(frames: &[Frame], options: &Options, zero: bool) -> Self {
        let mut unknowns = vec![Unknown::FocalLength];
        // Figures of the lens first, so that a reader of the covariance finds them at its head.
        if frames.iter().any(|frame| frame.focused == Focused::AtClosestMark) {
            unknowns.push(Unknown::Travel);
        }
        if frames.iter().any(|frame| frame.distance.is_some()) {
            unknowns.push(Unknown::Separation);
        }
        if zero {
            unknowns.push(Unknown::Zero);
        }
        let mut stated = Vec::new();
        if options.common_scale > 0.0 {
            stated.push((unknowns.len(), Input { value: 1.0, plus_minus: options.common_scale }));
            unknowns.push(Unknown::Scale);
        }
        let place = |unknowns: &[Unknown], wanted: &Unknown| unknowns.iter().position(|unknown| unknown == wanted);
        let (mut places, mut readings, mut rows) = (Vec::new(), Vec::new(), Vec::new());
        for frame in frames {
            let mut terms: Vec<Term> = place(&unknowns, &Unknown::Zero).map(Term::Fitted).into_iter().collect();
            let mut add = |unknown: Unknown, length: Input| {
                if length.plus_minus == 0.0 {
                    return Term::Exact(length.value);
                }
                Term::Fitted(place(&unknowns, &unknown).unwrap_or_else(|| {
                    stated.push((unknowns.len(), length));
                    unknowns.push(unknown);
                    unknowns.len() - 1
                }))
            };
            terms.extend(frame.extension.iter().map(|part| add(Unknown::Length(part.name.clone()), part.length)));
            match frame.focused {
                Focused::AtInfinityMark => {}
                Focused::Travel(travel) => terms.push(add(Unknown::Reading(frame.id.clone()), travel)),
                Focused::AtClosestMark => terms.extend(place(&unknowns, &Unknown::Travel).map(Term::Fitted)),
            }
            let first = readings.len();
            readings.push(frame.magnification);
            readings.extend(frame.distance);
            rows.push(first..readings.len());
            places.push((terms, frame.distance.is_some()));
        }
        if let (true, Some(marked)) = (options.use_marked, options.marked) {
            stated.push((0, marked));
        }
        readings.extend(stated.iter().map(|(_, input)| *input));
        let [separation, scale] = [Unknown::Separation, Unknown::Scale].map(|unknown| place(&unknowns, &unknown));
        let stated = stated.into_iter().map(|(index, _)| index).collect();
        Self { unknowns, places, separation, scale, stated, readings, rows }
    }

    fn index(&self, wanted: &Unknown) -> Option<usize> {
        self.unknowns.iter().position(|unknown| unknown == wanted)
    }

    /// Measured readings less figures of the lens, the same as all readings less all unknowns. The engraving is a
    /// reading.
    fn degrees(&self) -> usize {
        self.readings.len().saturating_sub(self.unknowns.len())
    }

    /// What is stated of an unknown beside the frames.
    pub(crate) fn stated_of(&self, index: usize) -> Option<Input> {
        let first = self.readings.len() - self.stated.len();
        self.stated.iter().position(|&stated| stated == index).map(|place| self.readings[first + place])
    }

    /// Everything at its stated figure, figures of the lens from the magnifications alone: f·m − x − z = e is linear.
    fn start(&self, frames: &[Frame], options: &Options) -> Result<Vec<f64>, CalibrationError> {
        let travel = self.index(&Unknown::Travel);
        let zero = self.index(&Unknown::Zero);
        let known = |frame: &Frame| {
            let own = if let Focused::Travel(travel) = frame.focused { travel.value } else { 0.0 };
            frame.extension_mm() + own
        };
        let marked = options.marked.filter(|_| options.use_marked);
        // An error of m is one of f·m in mm: any f of the right order weighs frames against an engraving well enough.
        let order = marked.map_or(100.0, |marked| marked.value);
        let columns = 1 + usize::from(travel.is_some()) + usize::from(zero.is_some());
        let mut line = Line { rows: Vec::new(), columns };
        let mut readings = Vec::new();
        for frame in frames {
            let mut row = vec![frame.magnification.value];
            row.extend(travel.map(|_| if frame.focused == Focused::AtClosestMark { -1.0 } else { 0.0 }));
            row.extend(zero.map(|_| -1.0));
            let lengths: f64 = frame.extension.iter().map(|part| part.length.plus_minus.powi(2)).sum();
            let plus_minus = (frame.magnification.plus_minus * order).hypot(lengths.sqrt());
            line.rows.push(row);
            readings.push(Input { value: known(frame), plus_minus });
        }
        if let Some(marked) = marked {
            let mut row = vec![0.0; columns];
            row[0] = 1.0;
            line.rows.push(row);
            readings.push(marked);
        }
        let found = fit(&line, &readings, &vec![0.0; columns]);
        let found = match found {
            Ok(found) if found.values[0] > 0.0 => found.values,
            Ok(_) => return Err(CalibrationError::NoLens),
            // What cannot be told is named by the fit proper, which knows all readings; any lens will do to ask it.
            Err(_) => {
                let mut any = vec![order; columns];
                any[1..].fill(1.0);
                any
            }
        };
        let mut rest = found[1..].iter();
        let mut values: Vec<f64> =
            (0..self.unknowns.len()).map(|index| self.stated_of(index).map_or(0.0, |input| input.value)).collect();
        values[0] = found[0];
        for index in [travel, zero].into_iter().flatten() {
            values[index] = rest.next().copied().unwrap_or(0.0);
        }
        if let Some(separation) = self.separation {
            let gap = |frame: &Frame| {
                let m = frame.magnification.value;
                frame.distance.map(|distance| optics::separation_from_marks(distance.value, found[0], m))
            };
            let gaps: Vec<f64> = frames.iter().filter_map(gap).collect();
            values[separation] = gaps.iter().sum::<f64>() / gaps.len() as f64;
        }
        Ok(values)
    }

    fn refusal(&self, trouble: Trouble) -> CalibrationError {
        let Trouble::Singular(weights) = trouble else { return CalibrationError::NoRest };
        let own =
            |(unknown, weight): (&Unknown, &f64)| (*weight > 0.01 && unknown.of_the_lens()).then(|| unknown.clone());
        let unknowns: Vec<Unknown> = self.unknowns.iter().zip(&weights).filter_map(own).collect();
        let readings =
            self.rows.iter().map(ExactSizeIterator::len).sum::<usize>() + usize::from(self.stated.contains(&0));
        let wanted = if unknowns.contains(&Unknown::FocalLength) {
            Wanted::AnotherExtension
        } else {
            Wanted::InfinityMarkOnExtension
        };
        CalibrationError::NotTold { unknowns, readings, wanted }
    }
}

/// Rows of figures that are linear in the unknowns.
struct Line {
    rows: Vec<Vec<f64>>,
    columns: usize,
}

impl Model for Line {
    fn predict<T: Real>(&self, p: &[T]) -> Vec<T> {
        let dot = |row: &Vec<f64>| (0..self.columns).fold(T::exact(0.0), |sum, i| sum + T::exact(row[i]) * p[i]);
        self.rows.iter().map(dot).collect()
    }
}

/// A measured figure beside the fitted one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// As measured.
    pub measured: f64,
    /// By the fitted lens, at the fitted lengths.
    pub fitted: f64,
    /// Measured less fitted.
    pub difference: f64,
    /// The difference in its own standard uncertainty; beyond ±2 one asks, beyond ±3 one looks for the slip. `None`
    /// where no other reading foretells this one, so that the difference is 0 whatever was measured.
    pub studentised: Option<f64>,
}

/// How one frame fits.
#[derive(Debug, Clone, PartialEq)]
pub struct FrameResidual {
    /// The frame.
    pub id: String,
    /// Whether it had no part in the fit: the fitted figures are then a forecast. `false` for all frames that had.
    pub left_out: bool,
    /// Its magnification; `None` when a frame that was left out cannot be foretold by the others.
    pub magnification: Option<Residual>,
    /// Its distance from subject to film, mm, when it was measured.
    pub distance: Option<Residual>,
}

/// Figures fitted to frames, with all that judges them.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// What was fitted, in the order of `values` and `covariance`: figures of the lens first, then lengths.
    pub unknowns: Vec<Unknown>,
    /// The fitted figures.
    pub values: Vec<f64>,
    /// Their covariance (standard uncertainties squared; inflation included).
    pub covariance: Vec<Vec<f64>>,
    /// Half-width of the 95 % interval over the standard uncertainty: the normal 1.96 on stated uncertainties,
    /// Student's t on scatter.
    pub coverage: f64,
    /// By how much standard uncertainties were enlarged for a scatter beyond chance (Birge's ratio √(χ²/ν)); 1 when
    /// not.
    pub inflation: f64,
    /// What the intervals rest on.
    pub basis: Basis,
    /// How well the readings agree.
    pub chi_square: ChiSquare,
    /// All frames in the order given, those left out too.
    pub frames: Vec<FrameResidual>,
}

impl Solution {
    /// A fitted figure with the half-width of its 95 % interval; `None` when it was not fitted.
    pub fn estimate(&self, wanted: &Unknown) -> Option<Estimate> {
        let index = self.unknowns.iter().position(|unknown| unknown == wanted)?;
        let plus_minus = self.coverage * self.covariance[index][index].sqrt();
        Some(Estimate { value: self.values[index], plus_minus })
    }

    /// The focal length, mm.
    pub fn focal_length(&self) -> Estimate {
        Estimate { value: self.values[0], plus_minus: self.coverage * self.covariance[0][0].sqrt() }
    }

    /// Correlation of two fitted figures, −1 to 1.
    pub fn correlation(&self, one: &Unknown, other: &Unknown) -> Option<f64> {
        let place = |wanted: &Unknown| self.unknowns.iter().position(|unknown| unknown == wanted);
        let (i, j) = (place(one)?, place(other)?);
        Some(self.covariance[i][j] / (self.covariance[i][i] * self.covariance[j][j]).sqrt())
    }
}

/// A fit to some of the frames.
#[derive(Debug, Clone)]
pub(crate) struct Fitted {
    pub(crate) model: LensModel,
    pub(crate) fit: Fit,
    /// Indices of the frames that took part.
    pub(crate) kept: Vec<usize>,
    pub(crate) chi_square: ChiSquare,
}

impl Fitted {
    /// Fits the frames with these indices.
    pub(crate) fn new(
        frames: &[Frame],
        kept: &[usize],
        options: &Options,
        zero: bool,
    ) -> Result<Self, CalibrationError> {
        let used: Vec<Frame> = kept.iter().map(|&index| frames[index].clone()).collect();
        let model = LensModel::new(&used, options, zero);
        let start = model.start(&used, options)?;
        let fit = fit(&model, &model.readings, &start).map_err(|trouble| model.refusal(trouble))?;
        if fit.values[0] <= 0.0 {
            return Err(CalibrationError::NoLens);
        }
        let chi_square = ChiSquare::new(fit.chi_square, model.degrees());
        Ok(Self { model, fit, kept: kept.to_vec(), chi_square })
    }

    pub(crate) fn spread(&self) -> Spread {
        self.chi_square.spread()
    }

    /// Readings of the frame that took part in that place.
    pub(crate) fn rows(&self, place: usize) -> std::ops::Range<usize> {
        self.model.rows[place].clone()
    }

    pub(crate) fn estimate(&self, wanted: &Unknown) -> Option<Estimate> {
        let index = self.model.index(wanted)?;
        let plus_minus = self.spread().half_width(self.fit.covariance[index][index]);
        Some(Estimate { value: self.fit.values[index], plus_minus })
    }

    /// The same with everything a reader may want.
    pub(crate) fn solution(&self, frames: &[Frame], options: &Options) -> Solution {
        let Spread { inflation, factor, basis } = self.spread();
        let variance = inflation * inflation;
        let covariance: Vec<Vec<f64>> =
            self.fit.covariance.iter().map(|row| row.iter().map(|cell| cell * variance).collect()).collect();
        let residual = |(index, frame): (usize, &Frame)| match self.kept.iter().position(|&kept| kept == index) {
            Some(place) => self.taken(frame, place),
            None => self.foretold(frame, options),
        };
        Solution {
            unknowns: self.model.unknowns.clone(),
            values: self.fit.values.clone(),
            covariance,
            coverage: factor,
            inflation,
            basis,
            chi_square: self.chi_square,
            frames: frames.iter().enumerate().map(residual).collect(),
        }
    }

    fn taken(&self, frame: &Frame, place: usize) -> FrameResidual {
        let fitted = self.model.predict(&self.fit.values);
        let residual = |row: usize| {
            let measured = self.model.readings[row].value;
            let difference = measured - fitted[row];
            Residual { measured, fitted: fitted[row], difference, studentised: self.fit.studentised(row) }
        };
        let rows = self.rows(place);
        FrameResidual {
            id: frame.id.clone(),
            left_out: false,
            magnification: Some(residual(rows.start)),
            distance: frame.distance.map(|_| residual(rows.end - 1)),
        }
    }

    /// What the fit says of a frame that had no part in it: its lengths as fitted where another frame has them, else as
    /// stated.
    fn foretold(&self, frame: &Frame, options: &Options) -> FrameResidual {
        let model = LensModel::new(std::slice::from_ref(frame), options, self.model.index(&Unknown::Zero).is_some());
        let here: Vec<Option<usize>> = model.unknowns.iter().map(|unknown| self.model.index(unknown)).collect();
        let value = |index: usize| {
            here[index].map(|i| self.fit.values[i]).or_else(|| model.stated_of(index).map(|input| input.value))
        };
        let variance = |i: usize, j: usize| match (here[i], here[j]) {
            (Some(i), Some(j)) => self.fit.covariance[i][j],
            (None, None) if i == j => model.stated_of(i).map_or(0.0, |input| standard(&input).powi(2)),
            _ => 0.0,
        };
        let values: Vec<Option<f64>> = (0..model.unknowns.len()).map(value).collect();
        let forecast = |row: usize, needs: &dyn Fn(&Unknown) -> bool| {
            let missing = |(unknown, value): (&Unknown, &Option<f64>)| value.is_none() && needs(unknown);
            if model.unknowns.iter().zip(&values).any(missing) {
                return None;
            }
            let numbers: Vec<f64> = values.iter().map(|value| value.unwrap_or(0.0)).collect();
            let slope = |index: usize| {
                let dual = |(i, &value): (usize, &f64)| Dual { value, slope: f64::from(u8::from(i == index)) };
                model.predict(&numbers.iter().enumerate().map(dual).collect::<Vec<_>>())[row].slope
            };
            let slopes: Vec<f64> = (0..numbers.len()).map(slope).collect();
            let pairs = (0..slopes.len()).flat_map(|i| (0..slopes.len()).map(move |j| (i, j)));
            let by_fit: f64 = pairs.map(|(i, j)| slopes[i] * slopes[j] * variance(i, j)).sum();
            let measured = model.readings[row];
            let fitted = model.predict(&numbers)[row];
            let difference = measured.value - fitted;
            let studentised = Some(difference / (by_fit + standard(&measured).powi(2)).sqrt());
            Some(Residual { measured: measured.value, fitted, difference, studentised })
        };
        FrameResidual {
            id: frame.id.clone(),
            left_out: true,
            magnification: forecast(0, &|unknown| *unknown != Unknown::Separation),
            distance: frame.distance.and_then(|_| forecast(1, &|_| true)),
        }
    }
}
