//! Regions of a photograph taken by rule, so that nobody picks those that agree.

use super::photographs::cut;
use crate::common::grey;
use measure::{Channel, Direction, EdgeOptions, EdgeReport, edge};
use planes::{Linear, Plane};

/// Widths and heights that are tried, px.
const SIZES: [(u32, u32); 4] = [(40, 30), (30, 40), (34, 24), (24, 34)];
/// Regions are tried at every so many pixels.
const STEP_PX: u32 = 8;
const MOST_LEAN_DEG: f64 = 15.0;
const LEAST_CONTRAST: f64 = 0.5;
/// Scatter of the samples on either side, as a share of the step, and the distance from the edge beyond which they count, px.
const MOST_UNEVEN: f64 = 0.04;
const BESIDE_PX: f64 = 5.0;
/// Room beside the edge in every row, px: without level flanks the textbook's method has nothing to read.
const LEAST_ROOM_PX: f64 = 9.0;
/// Uncertainty of MTF50 as a share of it.
const MOST_UNSURE: f64 = 0.05;
/// Redrawings of the rows where no uncertainty is asked for.
const FEW: usize = 10;
const MOST_OF_ONE: usize = 4;

/// The surest regions that do not overlap, at most four: x, y, width, height.
pub fn surest(photograph: &Plane<Linear>) -> Vec<[u32; 4]> {
    let mut found: Vec<(f64, [u32; 4])> =
        places(photograph).filter_map(|region| Some((unsure(photograph, region)?, region))).collect();
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut taken: Vec<[u32; 4]> = Vec::new();
    for (_, region) in found {
        if taken.len() < MOST_OF_ONE && !taken.iter().any(|other| overlap(*other, region)) {
            taken.push(region);
        }
    }
    taken
}

/// Whether a region passes what the rule asks of each by itself.
pub fn is_wanted(photograph: &Plane<Linear>, region: [u32; 4]) -> bool {
    unsure(photograph, region).is_some()
}

fn places(photograph: &Plane<Linear>) -> impl Iterator<Item = [u32; 4]> + use<> {
    let (width, height) = (photograph.width() as u32, photograph.height() as u32);
    SIZES.into_iter().flat_map(move |(w, h)| {
        let rows = (0..height - h).step_by(STEP_PX as usize);
        rows.flat_map(move |y| (0..width - w).step_by(STEP_PX as usize).map(move |x| [x, y, w, h]))
    })
}

/// How unsure its MTF50 is, as a share of it; nothing where the region is not wanted.
fn unsure(photograph: &Plane<Linear>, region: [u32; 4]) -> Option<f64> {
    let plane = cut(photograph, region);
    let (low, high) = plane.samples().iter().fold((f32::MAX, f32::MIN), |(low, high), &s| (low.min(s), high.max(s)));
    if f64::from(high - low) < LEAST_CONTRAST * f64::from(high + low) {
        return None;
    }
    // The uncertainty costs most of the time: what fails by the rest need not have one.
    let quick = EdgeOptions { resamples: FEW, ..EdgeOptions::default() };
    let report = edge(&grey(plane.clone()), &quick).ok()?;
    let lean_and_light = report.angle_deg.abs() <= MOST_LEAN_DEG && report.contrast > LEAST_CONTRAST;
    if !lean_and_light || room(&plane, &report) < LEAST_ROOM_PX || uneven(&plane, &report) > MOST_UNEVEN {
        return None;
    }
    let report = edge(&grey(plane), &EdgeOptions::default()).ok()?;
    let luminance = report.channel(Channel::Luminance)?;
    let share = luminance.mtf50_plus_minus? / luminance.mtf50_cy_px?;
    (share <= MOST_UNSURE).then_some(share)
}

/// From the edge to the nearer border, across it, px.
fn room(plane: &Plane<Linear>, report: &EdgeReport) -> f64 {
    let upright = report.direction == Direction::NearVertical;
    let (width, height) = (plane.width() as f64, plane.height() as f64);
    let ends = [report.trace.first(), report.trace.last()];
    let across = ends.into_iter().flatten().map(|&(x, y)| if upright { x.min(width - x) } else { y.min(height - y) });
    across.fold(f64::INFINITY, f64::min)
}

/// The larger scatter on either side of the edge, as a share of the step.
fn uneven(plane: &Plane<Linear>, report: &EdgeReport) -> f64 {
    let (Some(&(x, y)), Some(&(last_x, last_y))) = (report.trace.first(), report.trace.last()) else {
        return f64::INFINITY;
    };
    let (along, across) = (last_x - x, last_y - y);
    let length = along.hypot(across);
    let mut sides = [Vec::new(), Vec::new()];
    for row in 0..plane.height() {
        for column in 0..plane.width() {
            let away = ((column as f64 + 0.5 - x) * across - (row as f64 + 0.5 - y) * along) / length;
            if away.abs() > BESIDE_PX {
                sides[usize::from(away > 0.0)].push(f64::from(plane.at(column, row)));
            }
        }
    }
    let [left, right] = sides.map(|side| {
        let mean = side.iter().sum::<f64>() / side.len() as f64;
        let scatter = (side.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / side.len() as f64).sqrt();
        (mean, scatter)
    });
    left.1.max(right.1) / (left.0 - right.0).abs()
}

fn overlap(a: [u32; 4], b: [u32; 4]) -> bool {
    a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3]
}
