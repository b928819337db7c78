//! What is known of a set-up.

use optics::{COVERAGE_95, Estimate};

use super::requirement::{Bound, Quantity};

/// A doubt that several figures share.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// Its name: the same name is the same doubt, wherever it occurs.
    pub name: String,
    /// By how much the figure rises when the cause lies at the upper end of its 95 % interval; negative when it falls.
    pub plus_minus: f64,
}

/// One figure of a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Of what.
    pub quantity: Quantity,
    /// Where in the frame, from 0 in the centre to 1 in the corner; `None` for the frame as a whole.
    pub at: Option<f64>,
    /// The figure, in the quantity's unit.
    pub value: f64,
    /// Half-width of the 95 % interval that comes of this figure's own doubt.
    pub own_plus_minus: f64,
    /// Doubts shared with other figures, besides its own.
    pub shared: Vec<Cause>,
    /// Set where the value is only a bound: "at least 40 lp/mm", because the scan shows no finer structure. The truth lies at the
    /// value or beyond it on this side, and nothing more is known.
    pub only: Option<Bound>,
    /// Ids of the frames and measurements that it rests on.
    pub evidence: Vec<String>,
}

impl Figure {
    /// The figure with all of its doubt.
    pub fn estimate(&self) -> Estimate {
        let shared = self.shared.iter().map(|cause| cause.plus_minus.powi(2)).sum::<f64>();
        Estimate { value: self.value, plus_minus: (self.own_plus_minus.powi(2) + shared).sqrt() }
    }
}

/// A figure read off a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured(pub Figure);

/// A figure worked out from the kit's data.
#[derive(Debug, Clone, PartialEq)]
pub struct Predicted(pub Figure);

/// All that is known of one set-up.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Dossier {
    /// Which set-up.
    pub set_up: String,
    /// Read off frames.
    pub measured: Vec<Measured>,
    /// Worked out.
    pub predicted: Vec<Predicted>,
}

/// Why a figure says nothing.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("“{set_up}”: {what} of figure {number} is {value}; it must be a number{wanted}")]
pub struct FigureError {
    /// The set-up.
    pub set_up: String,
    /// Which figure, from 1; the predicted ones follow the measured ones.
    pub number: usize,
    /// Which of its numbers.
    pub what: &'static str,
    /// As given.
    pub value: f64,
    /// What else it must be.
    pub wanted: &'static str,
}

/// A prediction that a measurement contradicts: more than their doubts together explain in 95 % of cases.
#[derive(Debug, Clone, PartialEq)]
pub struct Surprise {
    /// Index of the measured figure.
    pub measured: usize,
    /// Index of the predicted one.
    pub predicted: usize,
    /// Measured less predicted, with the half-width that doubts shared by both leave in.
    pub difference: Estimate,
}

impl Dossier {
    /// Where prediction and measurement of the same thing do not go together: a part misnamed, a focus missed, a model at its
    /// end. They are compared, never averaged.
    pub fn surprises(&self) -> Vec<Surprise> {
        let pairs = (0..self.measured.len()).flat_map(|m| (0..self.predicted.len()).map(move |p| (m, p)));
        let of = |(measured, predicted): (usize, usize)| {
            let (m, p) = (&self.measured[measured].0, &self.predicted[predicted].0);
            let same = m.quantity.is_same(p.quantity) && m.at == p.at && m.only.is_none() && p.only.is_none();
            let difference = difference(m, p);
            (same && difference.value.abs() > difference.plus_minus).then_some(Surprise {
                measured,
                predicted,
                difference,
            })
        };
        pairs.filter_map(of).collect()
    }

    pub(super) fn check(&self) -> Result<(), FigureError> {
        let all = self.measured.iter().map(|m| &m.0).chain(self.predicted.iter().map(|p| &p.0));
        for (at, figure) in all.enumerate() {
            let bad = |what, value, wanted| {
                Err(FigureError { set_up: self.set_up.clone(), number: at + 1, what, value, wanted })
            };
            if !figure.value.is_finite() {
                return bad("the value", figure.value, "");
            }
            if !(figure.own_plus_minus >= 0.0 && figure.own_plus_minus.is_finite()) {
                return bad("the half-width", figure.own_plus_minus, ", 0 or above");
            }
            if let Some(cause) = figure.shared.iter().find(|cause| !cause.plus_minus.is_finite()) {
                return bad("a shared doubt", cause.plus_minus, "");
            }
            if let Some(place) = figure.at.filter(|place| !(0.0..=1.0).contains(place)) {
                return bad("the place", place, " from 0 (centre) to 1 (corner)");
            }
        }
        Ok(())
    }
}

/// One figure less the other; a doubt that both share counts by the difference of its effects.
fn difference(a: &Figure, b: &Figure) -> Estimate {
    let mut causes: Vec<(&str, f64)> = a.shared.iter().map(|cause| (cause.name.as_str(), cause.plus_minus)).collect();
    for cause in &b.shared {
        match causes.iter_mut().find(|(name, _)| *name == cause.name) {
            Some((_, effect)) => *effect -= cause.plus_minus,
            None => causes.push((&cause.name, cause.plus_minus)),
        }
    }
    let shared: f64 = causes.iter().map(|(_, effect)| effect * effect).sum();
    let plus_minus = (a.own_plus_minus.powi(2) + b.own_plus_minus.powi(2) + shared).sqrt();
    Estimate { value: a.value - b.value, plus_minus }
}

/// A half-width as a standard deviation.
pub(super) fn standard(plus_minus: f64) -> f64 {
    plus_minus / COVERAGE_95
}
