//! Finer marks beside the line: did it cross only the long ones?

use super::fit::Spacing;
use super::report::ScaleRemark;
use super::strip::{Band, Course};
use super::{LEAST_PERIOD_PX, Sighting, WIDEST_SHARE, sightings};

/// How far to either side is looked, in spacings of the marks measured. Long marks stand out by less than two of their
/// own spacings (half millimetres beside whole ones) and far less beside every fifth or tenth (common practice, no source).
const REACHES: [f64; 5] = [0.1, 0.25, 0.5, 1.0, 2.0];
/// Narrowest band that is worth a look, pixels.
const LEAST_REACH_PX: f64 = 4.0;
/// Rows of a band.
const ROWS: f64 = 16.0;
/// Finer marks to each measured one, at most: rulers are divided by two, five and ten.
const MOST_PARTS: u32 = 10;
/// How nearly a whole number of finer spacings must make one that was measured, as a share of it.
const NEARNESS: f64 = 0.01;
/// A first guess of a spacing may be off by so much.
const GUESS: f64 = 0.05;
/// Least amplitude of the finer marks against the measured ones; what compression leaves about a mark is fainter.
const LEAST_AMPLITUDE_SHARE: f64 = 0.1;

/// The finest marks beside the line that divide its spacing evenly.
///
/// Bands from the line to one side are looked at, each wider than the one before: a band over both sides would hide short
/// marks on one of them behind empty ground on the other.
pub(super) fn beside(
    course: &Course<'_>,
    spacing: &Spacing,
    (first, lean): (&Band, f64),
    amplitude: f64,
) -> Option<ScaleRemark> {
    let reaches = REACHES.map(|r| r * spacing.period);
    let widths =
        reaches.into_iter().filter(|&w| w >= LEAST_REACH_PX.max(first.side.1) && w <= WIDEST_SHARE * course.length);
    let bands = widths.flat_map(|w| [(0.0, w), (-w, 0.0)]).map(|side| Band {
        side,
        step: ((side.1 - side.0) / ROWS).max(0.5),
        lean,
    });
    let wanted = |guess: f64| parts(spacing.period, guess, GUESS).is_some();
    let clear = |s: &Sighting| s.good() && s.placed.amplitude >= LEAST_AMPLITUDE_SHARE * amplitude;
    let found = bands.flat_map(|band| sightings(course, band, wanted)).filter(clear);
    let finer = found.filter_map(|s| parts(spacing.period, s.placed.spacing.period, NEARNESS));
    let parts = finer.max()?;
    let px_per_tick = spacing.period * lean.atan().cos() / f64::from(parts);
    Some(ScaleRemark::FinerMarksBeside { px_per_tick, parts })
}

/// Into how many parts a finer spacing divides the measured one.
fn parts(period: f64, finer: f64, nearness: f64) -> Option<u32> {
    let ratio = period / finer;
    let whole = ratio.round();
    let even = (ratio / whole - 1.0).abs() <= nearness;
    let within = (2.0..=f64::from(MOST_PARTS)).contains(&whole) && finer >= LEAST_PERIOD_PX;
    (even && within).then_some(whole as u32)
}
