//! How far the marks reach to either side of the line, and how they lean against it.

use super::fit::Tick;
use super::strip::{Band, Course, Reading};
use crate::numeric::{fit_polynomial, polynomial, robust_deviation, student_975};

/// Points over the two spacings about a mark, at least and at most: a pixel apart where that is possible, since marks may
/// be a fortieth of their spacing wide and would fall between points further apart.
const LEAST_POINTS: usize = 24;
const MOST_POINTS: usize = 480;
/// A row belongs to the marks when the wave of their spacing is at least so strong there, against the line itself: more
/// than half, since beyond the tips of every fifth mark those of every tenth are left, a few more than half of them.
const LEAST_STRENGTH: f64 = 0.65;
/// ... and lies within this share of a spacing from where the rows before lead to.
const CATCH: f64 = 0.15;
/// Rows that may fail one after the other: dirt, or a line along the ruler.
const MOST_FAILING: usize = 2;
/// Marks are followed to this many spacings on either side, at most, and this many rows.
const FURTHEST_PERIODS: f64 = 3.0;
const MOST_ROWS: usize = 48;
/// Marks that are enough to follow a row by.
const MOST_TICKS: usize = 120;

/// What the rows beside the line tell.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Extent {
    /// The band in which the marks show as on the line.
    pub(crate) band: Band,
    /// Half-width of the 95 % interval of the lean; `None` when too few rows tell it.
    pub(crate) lean_plus_minus: Option<f64>,
}

/// Follows the marks row by row to both sides.
pub(crate) fn extent(course: &Course<'_>, ticks: &[Tick], period: f64, start: Band, reading: Reading) -> Extent {
    let furthest = FURTHEST_PERIODS * period;
    let step = (period / 16.0).max(furthest / MOST_ROWS as f64).max(0.5);
    let chosen: Vec<Tick> = ticks.iter().step_by(ticks.len().div_ceil(MOST_TICKS)).copied().collect();
    let wave = |t: f64, shift: f64| wave_at(course, &chosen, period, (t, shift), reading);
    let rows = ((start.side.1 - start.side.0) / start.step).round() as usize;
    let inner = (0..=rows).map(|i| wave(start.side.0 + i as f64 * start.step, 0.0));
    let sum = inner.fold((0.0, 0.0), |s, w| (s.0 + w.0, s.1 + w.1));
    let reference = (sum.0 / (rows + 1) as f64, sum.1 / (rows + 1) as f64);
    let mut seen = vec![(0.0, 0.0, 1.0)];
    let mut ends = [0.0, 0.0];
    for (end, way) in [(0, -1.0), (1, 1.0)] {
        let mut failing = 0;
        for i in 1..=(furthest / step) as usize {
            let t = way * i as f64 * step;
            let expected = lean(&seen).map_or(0.0, |l| l * t);
            let (shift, strength) = against(wave(t, expected), reference, period);
            if strength >= LEAST_STRENGTH && shift.abs() <= CATCH * period {
                seen.push((t, expected + shift, 1.0));
                (ends[end], failing) = (t, 0);
            } else {
                failing += 1;
                if failing > MOST_FAILING {
                    break;
                }
            }
        }
    }
    let band = Band { side: (ends[0], ends[1]), step, lean: lean(&seen).unwrap_or(0.0) };
    Extent { band, lean_plus_minus: lean_plus_minus(&seen) }
}

/// Slope of the rows' shifts; a line through a few rows would lead astray.
fn lean(seen: &[(f64, f64, f64)]) -> Option<f64> {
    if seen.len() < 5 { None } else { Some(fit_polynomial(seen, 1)?[1]) }
}

fn lean_plus_minus(seen: &[(f64, f64, f64)]) -> Option<f64> {
    if seen.len() < 6 {
        return None;
    }
    let line = fit_polynomial(seen, 1)?;
    let residuals: Vec<f64> = seen.iter().map(|p| p.1 - polynomial(&line, p.0)).collect();
    let mean = seen.iter().map(|p| p.0).sum::<f64>() / seen.len() as f64;
    let spread: f64 = seen.iter().map(|p| (p.0 - mean).powi(2)).sum();
    // Rows less than a pixel apart share their pixels: counted twice.
    let coverage = student_975(seen.len() as f64 - 2.0);
    Some(coverage * std::f64::consts::SQRT_2 * robust_deviation(&residuals) / spread.sqrt())
}

/// The wave of the marks' spacing in one row, summed over all marks, as a complex number. The Hann window over two
/// spacings is blind to even light and nearly so to a slope of it.
fn wave_at(course: &Course<'_>, ticks: &[Tick], period: f64, (t, shift): (f64, f64), reading: Reading) -> (f64, f64) {
    let mut sum = (0.0, 0.0);
    let points = ((2.0 * period) as usize).clamp(LEAST_POINTS, MOST_POINTS);
    let inside = ticks.iter().filter(|tick| course.inside(tick.place + shift, t));
    for tick in inside {
        for i in 0..points {
            let x = (i as f64 + 0.5) / points as f64 * 2.0 - 1.0;
            let window = 0.5 + 0.5 * (std::f64::consts::PI * x).cos();
            let (sin, cos) = (std::f64::consts::TAU * x).sin_cos();
            let light = window * course.light(tick.place + shift + x * period, t, reading);
            sum = (sum.0 + light * cos, sum.1 - light * sin);
        }
    }
    sum
}

/// Shift in pixels and strength of a wave against another.
fn against(wave: (f64, f64), reference: (f64, f64), period: f64) -> (f64, f64) {
    let product = (wave.0 * reference.0 + wave.1 * reference.1, wave.1 * reference.0 - wave.0 * reference.1);
    let shift = -product.1.atan2(product.0) / std::f64::consts::TAU * period;
    (shift, wave.0.hypot(wave.1) / reference.0.hypot(reference.1).max(1e-300))
}
