//! Straight lines through numbered marks.

use crate::numeric::{fit_polynomial, polynomial, robust_deviation, student_975};

/// A mark: its number along the ruler and its place on the line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Tick {
    pub(crate) number: i64,
    pub(crate) place: f64,
}

/// Marks further from the line than so many standard deviations are left out.
const OUTLIER: f64 = 4.0;
/// No mark is left out for less than this, pixels: pixels themselves move a mark by so much.
const LEAST_SCATTER_PX: f64 = 0.05;
/// How well pixels can place a mark at all, pixels: added to the marks' own scatter, which may be smaller by chance or because
/// all of them err alike. Marks only a few pixels apart fare worse by the square of [`NEAR_PX`] over the spacing.
const PLACING_PX: f64 = 0.01;
const NEAR_PX: f64 = 4.0;
/// A change of spacing must stand out by so many standard errors.
const LEAST_CHANGE_ERRORS: f64 = 4.0;

/// Even spacing, and how even it is.
#[derive(Debug, Clone)]
pub(crate) struct Spacing {
    /// Pixels per mark in the middle of the marks.
    pub(crate) period: f64,
    /// Half-width of its 95 % interval.
    pub(crate) plus_minus: f64,
    /// Change of the spacing from the first mark to the last, as a share of it; 0 when chance would explain it.
    pub(crate) change: f64,
    /// Standard deviation of the marks about even (or evenly changing) spacing, pixels.
    pub(crate) scatter: f64,
    /// The marks that took part.
    pub(crate) ticks: Vec<Tick>,
    curve: Vec<f64>,
    centre: f64,
    half: f64,
}

impl Spacing {
    /// Where even (or evenly changing) spacing puts every mark from the first to the last.
    pub(crate) fn regular(&self) -> Vec<Tick> {
        let numbers = self.ticks[0].number..=self.ticks[self.ticks.len() - 1].number;
        let place = |number: i64| polynomial(&self.curve, (number as f64 - self.centre) / self.half);
        numbers.map(|number| Tick { number, place: place(number) }).collect()
    }
}

/// Fits even spacing to marks, leaving out those out of place; `None` for fewer than three marks.
pub(crate) fn spacing(ticks: &[Tick]) -> Option<Spacing> {
    let (first, last) = (ticks.first()?, ticks.last()?);
    let centre = (first.number + last.number) as f64 / 2.0;
    let half = ((last.number - first.number) as f64 / 2.0).max(0.5);
    let points: Vec<(f64, f64, f64)> =
        ticks.iter().map(|t| ((t.number as f64 - centre) / half, t.place, 1.0)).collect();
    // With few marks a curve would follow a single one that is out of place.
    let degree = if ticks.len() >= 7 { 2 } else { 1 };
    let (kept, curve) = without_outliers(&points, degree)?;
    let straight = fit_polynomial(&kept, 1)?;
    let (scatter, slope_error) = errors(&kept, &curve, placing(straight[1] / half));
    let bend = curve.get(2).copied().unwrap_or(0.0);
    let bend_error = slope_error * f64::sqrt(15.0 / 4.0);
    let change = if bend.abs() > LEAST_CHANGE_ERRORS * bend_error { 4.0 * bend / straight[1] } else { 0.0 };
    let degrees = kept.len() as f64 - curve.len() as f64;
    let taken = ticks.iter().zip(&points).filter(|(_, p)| kept.contains(p)).map(|(t, _)| *t);
    Some(Spacing {
        period: straight[1] / half,
        plus_minus: student_975(degrees) * slope_error / half,
        change,
        scatter,
        ticks: taken.collect(),
        curve,
        centre,
        half,
    })
}

fn placing(period: f64) -> f64 {
    PLACING_PX * (1.0 + (NEAR_PX / period).powi(2))
}

type Points = Vec<(f64, f64, f64)>;

/// The points near their own curve, and that curve.
fn without_outliers(points: &Points, degree: usize) -> Option<(Points, Vec<f64>)> {
    let mut curve = robust_curve(points, degree)?;
    let mut kept = points.clone();
    for _ in 0..5 {
        let residuals: Vec<f64> = points.iter().map(|p| p.1 - polynomial(&curve, p.0)).collect();
        let limit = OUTLIER * robust_deviation(&residuals).max(LEAST_SCATTER_PX);
        let near: Points = points.iter().zip(&residuals).filter(|(_, r)| r.abs() <= limit).map(|(p, _)| *p).collect();
        if near.len() <= degree + 1 {
            break;
        }
        curve = fit_polynomial(&near, degree)?;
        if near == kept {
            break;
        }
        kept = near;
    }
    (kept.len() > degree + 1).then_some((kept, curve))
}

/// Least absolute residuals, by weights that shrink with the residual: a start that a few wild marks cannot spoil.
fn robust_curve(points: &Points, degree: usize) -> Option<Vec<f64>> {
    let mut curve = fit_polynomial(points, degree)?;
    for _ in 0..20 {
        let weight = |p: &(f64, f64, f64)| 1.0 / (p.1 - polynomial(&curve, p.0)).abs().max(LEAST_SCATTER_PX / 4.0);
        let weighted: Points = points.iter().map(|p| (p.0, p.1, weight(p))).collect();
        curve = fit_polynomial(&weighted, degree)?;
    }
    Some(curve)
}

/// Standard deviation about the curve and standard error of the slope.
///
/// Neighbouring marks that err alike (marks that slowly drift against the pixels) tell less than their number says:
/// with a correlation r between neighbours the error grows by the root of (1 + r) / (1 - r).
fn errors(points: &Points, curve: &[f64], placing: f64) -> (f64, f64) {
    let residuals: Vec<f64> = points.iter().map(|p| p.1 - polynomial(curve, p.0)).collect();
    let squares: f64 = residuals.iter().map(|r| r * r).sum();
    let degrees = (points.len() - curve.len()).max(1) as f64;
    let scatter = (squares / degrees).sqrt();
    let pairs: f64 = residuals.windows(2).map(|w| w[0] * w[1]).sum();
    let alike = (pairs / squares.max(1e-300)).clamp(0.0, 0.9);
    let mean = points.iter().map(|p| p.0).sum::<f64>() / points.len() as f64;
    let spread: f64 = points.iter().map(|p| (p.0 - mean).powi(2)).sum();
    (scatter, scatter.hypot(placing) * ((1.0 + alike) / (1.0 - alike) / spread).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn marks(place: impl Fn(f64) -> f64) -> Vec<Tick> {
        (0..30).map(|n| Tick { number: n, place: place(n as f64) }).collect()
    }

    #[test]
    fn a_mark_out_of_place_and_a_missing_one_change_nothing() {
        let mut ticks = marks(|n| 4.0 + 7.3 * n);
        ticks[11].place += 1.5;
        ticks.remove(20);
        let found = spacing(&ticks).unwrap();
        assert_close!(found.period, 7.3, absolute = 1e-9);
        assert_eq!(found.ticks.len(), 28);
    }

    #[test]
    fn a_changing_spacing_is_told() {
        // From 10 at the first to 10.5 at the last of 30 marks.
        let found = spacing(&marks(|n| 10.0 * n + 0.25 * n * n / 29.0)).unwrap();
        assert_close!(found.change, 0.5 / 10.25, absolute = 1e-6);
        assert_close!(found.period, 10.25, absolute = 1e-6);
    }
}
