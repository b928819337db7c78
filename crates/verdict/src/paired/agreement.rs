//! What the eye preferred against what was measured.

use optics::{COVERAGE_95, Estimate};

use super::fit::PairedFit;
use super::interval::Interval;
use crate::numeric::Chance;

/// What was measured of each item.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// One figure an item, in the order of the items. An error common to all of them (the scale's) does not change their
    /// order and belongs left out.
    pub figures: Vec<Estimate>,
    /// Whether more of it is better (resolution) or less (fringing).
    pub more_is_better: bool,
}

/// Why eye and instrument cannot be set against each other.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AgreementError {
    /// One figure an item is needed.
    #[error("{figures} figures were given for {items} items")]
    Count {
        /// Figures given.
        figures: usize,
        /// Items on the scale.
        items: usize,
    },
    /// Two items are always in one of two orders: no agreement to speak of.
    #[error("{items} items are too few for an order to agree or not; three are needed")]
    TooFew {
        /// Items on the scale.
        items: usize,
    },
    /// A figure is none.
    #[error("the figure of item {item} is {value} ± {plus_minus}; measure it, or leave the item out")]
    NotMeasured {
        /// Which item.
        item: usize,
        /// As given.
        value: f64,
        /// As given.
        plus_minus: f64,
    },
    /// Too few draws for an interval's ends.
    #[error("{draws} draws are too few for a 95 % interval; {least} are needed")]
    TooFewDraws {
        /// Asked for.
        draws: usize,
        /// Needed.
        least: usize,
    },
}

/// Whether eye and instrument put a pair in the same order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MeetingAnswer {
    /// Surely (95 %).
    Agree,
    /// Surely not: what was measured is not what was seen.
    Disagree,
    /// One of the two cannot tell.
    Open,
}

/// One pair as eye and instrument put it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// The two items, the smaller number first.
    pub items: (usize, usize),
    /// The chance that the eye prefers the first.
    pub eye: f64,
    /// The chance that the instrument puts the first higher.
    pub instrument: f64,
    /// The chance that they put the two in opposite orders.
    pub opposite: f64,
    /// What that says.
    pub answer: MeetingAnswer,
}

/// How far eye and instrument agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Kendall's rank correlation (τ-b), −1 to 1: pairs in the same order less pairs in opposite orders, over all.
    pub kendall: Interval,
    /// Spearman's rank correlation, −1 to 1.
    pub spearman: Interval,
    /// Every pair.
    pub pairs: Vec<Meeting>,
}

const LEAST_DRAWS: usize = 400;

/// Sets the scale against a measured figure.
///
/// The intervals hold the rank correlation of the *true* strengths with the *true* figures, both drawn from what is known of
/// them: strengths normal with the inverse of the observed information, figures normal with theirs, nothing else known before.
/// They say nothing about items that were not in the trial.
pub fn agreement(fit: &PairedFit, reading: &Reading, draws: usize, seed: u64) -> Result<Agreement, AgreementError> {
    check(fit, reading, draws)?;
    let sign = if reading.more_is_better { 1.0 } else { -1.0 };
    let measured: Vec<f64> = reading.figures.iter().map(|figure| sign * figure.value).collect();
    let seen: Vec<f64> = fit.strengths.iter().map(|strength| strength.value).collect();
    let worlds = worlds(fit, reading, sign, draws, seed);
    let interval = |of: fn(&[f64], &[f64]) -> f64| {
        let mut all: Vec<f64> = worlds.iter().map(|(eye, instrument)| of(eye, instrument)).collect();
        all.sort_by(f64::total_cmp);
        let at = |share: f64| all[((share * all.len() as f64) as usize).min(all.len() - 1)];
        Interval { value: of(&seen, &measured), low: at(0.025), high: at(0.975) }
    };
    let items = seen.len();
    let pairs = (0..items).flat_map(|a| (a + 1..items).map(move |b| (a, b))).map(|pair| meeting(&worlds, pair));
    Ok(Agreement { kendall: interval(kendall), spearman: interval(spearman), pairs: pairs.collect() })
}

fn check(fit: &PairedFit, reading: &Reading, draws: usize) -> Result<(), AgreementError> {
    let (figures, items) = (reading.figures.len(), fit.strengths.len());
    if figures != items {
        return Err(AgreementError::Count { figures, items });
    }
    if items < 3 {
        return Err(AgreementError::TooFew { items });
    }
    if draws < LEAST_DRAWS {
        return Err(AgreementError::TooFewDraws { draws, least: LEAST_DRAWS });
    }
    let bad =
        |figure: &Estimate| !(figure.value.is_finite() && figure.plus_minus.is_finite() && figure.plus_minus >= 0.0);
    match reading.figures.iter().position(bad) {
        Some(item) => {
            let Estimate { value, plus_minus } = reading.figures[item];
            Err(AgreementError::NotMeasured { item, value, plus_minus })
        }
        None => Ok(()),
    }
}

/// Strengths and figures as they may truly be.
fn worlds(fit: &PairedFit, reading: &Reading, sign: f64, draws: usize, seed: u64) -> Vec<(Vec<f64>, Vec<f64>)> {
    let mut chance = Chance::new(seed);
    let factor = fit.covariance.factor().unwrap_or_default();
    let items = reading.figures.len();
    let one = |_| {
        let z: Vec<f64> = (0..factor.len()).map(|_| chance.normal()).collect();
        let eye = (0..items).map(|i| fit.unknowns[i] + (0..=i).map(|k| factor[i][k] * z[k]).sum::<f64>()).collect();
        let draw = |figure: &Estimate| sign * (figure.value + figure.plus_minus / COVERAGE_95 * chance.normal());
        (eye, reading.figures.iter().map(draw).collect())
    };
    (0..draws).map(one).collect()
}

fn meeting(worlds: &[(Vec<f64>, Vec<f64>)], (a, b): (usize, usize)) -> Meeting {
    let share = |of: &dyn Fn(&Vec<f64>, &Vec<f64>) -> f64| {
        worlds.iter().map(|(eye, instrument)| of(eye, instrument)).sum::<f64>() / worlds.len() as f64
    };
    // Equal figures count half either way.
    let first = |of: &Vec<f64>| f64::midpoint(1.0, (of[a] - of[b]).partial_cmp(&0.0).map_or(0.0, |o| o as i8 as f64));
    let opposite = share(&|eye, instrument| {
        let (e, i) = (first(eye), first(instrument));
        e * (1.0 - i) + i * (1.0 - e)
    });
    let answer = match opposite {
        p if p >= 0.95 => MeetingAnswer::Disagree,
        p if p <= 0.05 => MeetingAnswer::Agree,
        _ => MeetingAnswer::Open,
    };
    let (eye, instrument) = (share(&|eye, _| first(eye)), share(&|_, instrument| first(instrument)));
    Meeting { items: (a, b), eye, instrument, opposite, answer }
}

/// Kendall's τ-b: equal ones count in neither sum (Kendall, *Rank Correlation Methods*, 1948); 0 when one list is all equal.
fn kendall(x: &[f64], y: &[f64]) -> f64 {
    let sign = |d: f64| if d == 0.0 { 0.0 } else { d.signum() };
    let pairs = (0..x.len()).flat_map(|a| (a + 1..x.len()).map(move |b| (a, b)));
    let (mut sum, mut of_x, mut of_y) = (0.0, 0.0, 0.0);
    for (a, b) in pairs {
        let (sx, sy) = (sign(x[a] - x[b]), sign(y[a] - y[b]));
        sum += sx * sy;
        of_x += sx * sx;
        of_y += sy * sy;
    }
    if of_x * of_y > 0.0 { sum / f64::sqrt(of_x * of_y) } else { 0.0 }
}

/// Spearman's ρ: the correlation of the ranks, equal ones sharing their mean rank; 0 when one list is all equal.
fn spearman(x: &[f64], y: &[f64]) -> f64 {
    let ranks = |of: &[f64]| -> Vec<f64> {
        let middle = (of.len() as f64 - 1.0) / 2.0;
        let rank = |v: &f64| {
            let (below, equal) = (of.iter().filter(|w| *w < v).count(), of.iter().filter(|w| *w == v).count());
            below as f64 + (equal as f64 - 1.0) / 2.0 - middle
        };
        of.iter().map(rank).collect()
    };
    let (a, b) = (ranks(x), ranks(y));
    let product = |p: &[f64], q: &[f64]| p.iter().zip(q).map(|(p, q)| p * q).sum::<f64>();
    let size = (product(&a, &a) * product(&b, &b)).sqrt();
    if size > 0.0 { product(&a, &b) / size } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn rank_correlations_by_hand() {
        // Own count: of the six pairs of 1 2 3 4 against 1 3 2 4 one is turned, τ = 4/6; Σd² = 2, ρ = 1 − 6·2/(4·15).
        let (x, y) = ([1.0, 2.0, 3.0, 4.0], [1.0, 3.0, 2.0, 4.0]);
        assert_close!(kendall(&x, &y), 4.0 / 6.0, absolute = 1e-15);
        assert_close!(spearman(&x, &y), 0.8, absolute = 1e-15);
    }

    #[test]
    fn equal_ones_as_an_independent_library_has_them() {
        // scipy 1.17.1: kendalltau and spearmanr of these lists (tau-b): recorded.
        let (x, y) = ([1.0, 2.0, 2.0, 4.0, 5.0], [3.0, 1.0, 4.0, 4.0, 5.0]);
        assert_close!(kendall(&x, &y), 0.666_666_666_666_666_6, absolute = 1e-12);
        assert_close!(spearman(&x, &y), 0.763_157_894_736_842_1, absolute = 1e-12);
        assert_close!(kendall(&[1.0; 3], &[1.0, 2.0, 3.0]), 0.0, absolute = 0.0);
    }
}
