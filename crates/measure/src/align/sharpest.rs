//! Where a picture holds the finest structure, when nothing better is known of its focus.

use planes::{Linear, Plane};

use super::grey::Grey;

/// The zone of a picture with the most fine structure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SharpestZone {
    /// Its middle, pixels.
    pub at_px: (f64, f64),
    /// Its longer side, pixels.
    pub side_px: f64,
    /// How many times the middling zone's fine structure it holds.
    pub times_middling: f64,
}

/// Zones along each side; they overlap by half.
const ZONES: usize = 15;
/// Pixels of the surrounding that fine structure is told from.
const REACH: usize = 2;
/// Below this mean square of tone there is nothing but the scanner's noise.
const LEAST_ENERGY: f64 = 1e-8;

/// The zone where tone varies most from one pixel to its neighbours' mean; `None` where it varies nowhere.
///
/// It answers to what the subject has there as much as to focus: a hairy leg out of focus may beat a smooth shell in focus. Where edges or
/// ramps were measured, they tell better.
pub fn sharpest_zone(plane: &Plane<Linear>) -> Option<SharpestZone> {
    let detail = Grey::of(plane).smoothed().detail(REACH);
    let (width, height) = (detail.width, detail.height);
    let span = |k: usize, size: usize| (k * size / (ZONES + 1), ((k + 2) * size / (ZONES + 1)).min(size));
    let energy = |k: usize| {
        let ((left, right), (top, bottom)) = (span(k % ZONES, width), span(k / ZONES, height));
        let squares = (top..bottom)
            .map(|row| detail.row(row)[left..right].iter().map(|tone| f64::from(*tone).powi(2)).sum::<f64>());
        let middle = ((left + right) as f64 / 2.0, (top + bottom) as f64 / 2.0);
        (squares.sum::<f64>() / ((right - left) * (bottom - top)).max(1) as f64, middle)
    };
    let zones: Vec<(f64, (f64, f64))> = (0..ZONES * ZONES).map(energy).collect();
    let best = zones.iter().max_by(|a, b| a.0.total_cmp(&b.0)).filter(|best| best.0 > LEAST_ENERGY)?;
    let energies: Vec<f64> = zones.iter().map(|zone| zone.0).collect();
    let middling = crate::numeric::median(&energies).max(LEAST_ENERGY);
    let side_px = 2.0 * width.max(height) as f64 / (ZONES + 1) as f64;
    Some(SharpestZone { at_px: best.1, side_px, times_middling: best.0 / middling })
}
