//! Residuals and what frames are worth, drawn.

use calibration::{FrameResidual, Residual};
use maud::Markup;

use crate::calibrating::LensFound;
use crate::web::plot::{Axis, Chart, Mark, Style};

/// Where a good reading lies in 19 cases of 20, in standard uncertainties.
const USUAL: f64 = 1.96;

fn magnification(frame: &FrameResidual) -> Option<(f64, f64)> {
    point(frame.magnification.as_ref()?)
}

fn point(residual: &Residual) -> Option<(f64, f64)> {
    Some((residual.measured, residual.studentised?))
}

fn far(points: &[(f64, f64)]) -> usize {
    points.iter().filter(|point| point.1.abs() > USUAL).count()
}

/// Measured less fitted over the magnification.
pub(super) fn residuals(lens: &LensFound) -> Option<Markup> {
    let frames = &lens.fit.as_ref()?.solution.frames;
    let of = |left_out: bool| -> Vec<(f64, f64)> {
        frames.iter().filter(|frame| frame.left_out == left_out).filter_map(magnification).collect()
    };
    let (used, left_out) = (of(false), of(true));
    let distance =
        |frame: &FrameResidual| Some((frame.magnification.as_ref()?.measured, frame.distance.as_ref()?.studentised?));
    let distances: Vec<(f64, f64)> = frames.iter().filter(|frame| !frame.left_out).filter_map(distance).collect();
    if used.is_empty() && left_out.is_empty() {
        return None;
    }
    let description = format!(
        "{} of {} magnifications that took part lie beyond the lines that 19 of 20 good ones keep within{}.",
        far(&used),
        used.len(),
        if left_out.is_empty() {
            String::new()
        } else {
            format!("; {} left out as outliers are drawn too", left_out.len())
        }
    );
    let all = || used.iter().chain(&left_out).chain(&distances).map(|point| point.0);
    let (low, high) = (all().fold(f64::INFINITY, f64::min), all().fold(0.0, f64::max));
    let x = Axis::linear("Magnification measured", "×");
    // Frames of one extension would spread their last digits over the whole axis.
    let x = if high - low < 0.02 * high { x.range(low * 0.98, high * 1.02) } else { x };
    let y = Axis::linear("Off by", "σ");
    let chart = Chart::new("residuals", "How well each frame fits", &description, x, y);
    let mut chart = chart.with(Mark::Points { label: "magnification".into(), points: used, style: Style(0) });
    for (label, points, style) in [("distance", distances, Style(1)), ("left out", left_out, Style(2))] {
        if !points.is_empty() {
            chart = chart.with(Mark::Points { label: label.into(), points, style });
        }
    }
    let lines = [("19 of 20 lie between", USUAL), ("", 0.0), ("", -USUAL)];
    let chart = lines.into_iter().fold(chart, |chart, (label, y)| chart.with(Mark::AtY { label: label.into(), y }));
    Some(chart.show())
}

/// Half-widths of the focal length over the number of frames.
pub(super) fn worth(lens: &LensFound) -> Option<Markup> {
    let steps = &lens.worth.as_ref()?.steps;
    let of = |to_take: bool| -> Vec<(f64, f64)> {
        let taken = steps.iter().filter(|step| step.to_take == to_take);
        taken.filter_map(|step| Some((step.frames as f64, step.focal_length?))).collect()
    };
    let (taken, to_take) = (of(false), of(true));
    let (first, last) = (taken.first().or(to_take.first())?, to_take.last().or(taken.last())?);
    let description = format!(
        "The half-width of the focal length falls from {:.2} mm with {} to {:.2} mm with {} frames.",
        first.1, first.0, last.1, last.0
    );
    let travel: Vec<(f64, f64)> = steps.iter().filter_map(|step| Some((step.frames as f64, step.travel?))).collect();
    let (x, y) = (Axis::linear("Frames", "number"), Axis::linear("Uncertainty (95 %), ±", "mm"));
    let y = y.range(0.0, ceiling(first.1.max(travel.iter().map(|point| point.1).fold(0.0, f64::max))));
    let joined = taken.last().copied().into_iter().chain(to_take.clone()).collect();
    let chart = Chart::new("worth", "What each frame is worth", &description, x, y);
    let chart = chart.with(Mark::Line { label: "focal length, frames taken".into(), points: taken, style: Style(0) });
    let mut chart =
        chart.with(Mark::Line { label: "focal length, if more were taken".into(), points: joined, style: Style(1) });
    if travel.len() > 1 {
        chart = chart.with(Mark::Line { label: "travel to the closest mark".into(), points: travel, style: Style(2) });
    }
    Some(chart.show())
}

/// The next round figure of 1, 2 or 5.
fn ceiling(figure: f64) -> f64 {
    let ten = 10f64.powf(figure.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|step| step * ten).find(|round| *round >= figure).unwrap_or(figure)
}
