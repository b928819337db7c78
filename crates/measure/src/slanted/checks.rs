//! What may be wrong with a region, before and after the profile is known.

use planes::{Linear, Plane};

use super::error::EdgeError;
use super::line::Line;
use super::profile::{Profile, Strip, split};
use super::report::{Channel, EdgeOptions, EdgeRemark};
use crate::numeric::median;

/// Least width and height of a region.
pub(crate) const LEAST_SIDE: usize = 16;
/// Least prominence of an edge's direction: pure noise reaches about 2, any measurable edge 10 and more.
pub(crate) const LEAST_PROMINENCE: f64 = 4.0;
/// Below this lean the pixel phases along the edge are too few in any region of ordinary length.
pub(crate) const LEAST_ANGLE_DEG: f64 = 1.5;
/// Rows that the edge must cross.
pub(crate) const LEAST_ROWS: usize = 16;
/// Whole pixels that the edge must move sideways: less leaves phases without a sample.
pub(crate) const LEAST_CYCLES: f64 = 1.0;
/// Least step between the plateaus: about two and a half of the 255 steps of an 8-bit linear file.
pub(crate) const LEAST_STEP: f64 = 0.01;
/// Least ratio of step to the noise of one pixel.
pub(crate) const LEAST_RATIO: f64 = 3.0;
/// Steepness at the ends of the profile, as a share of the steepest: beyond it the plateaus are not reached.
const END_SLOPE_LIMIT: f64 = 0.05;
/// Share of the edge's length that may lack the edge.
const GAP_LIMIT: f64 = 0.12;
/// Level of a small patch, as a share of the step, that counts as a second edge or as a disturbance.
const SECOND_EDGE: f64 = 0.25;
const DISTURBANCE: f64 = 0.08;
/// So many standard errors of the profile are no second edge: it is looked at in a hundred places.
const ERRORS_OF_NOISE: f64 = 3.0;
/// Departure beyond the plateaus, as a share of the step, that no sharpening explains: the strongest that a
/// scanner's program offers overshoots by about half of the step (common practice, no source).
const MOST_OVERSHOOT: f64 = 0.75;
/// Steepness, as a share of the steepest, below which the profile counts as level.
const LEVEL_SHARE: f64 = 0.1;
/// Steepness at which clipping may set in, as a share of the steepest: a Gaussian edge cut there has lost about 1.5 %
/// of its step, and its MTF50 about as much.
const CLIP_SLOPE_LIMIT: f64 = 0.10;
/// Least share of clipped samples anywhere along the profile that is looked into.
const CLIP_SHARE: f64 = 0.05;

/// Refuses regions that are too small or hold broken numbers.
pub(crate) fn size_and_numbers(planes: &[(Channel, &Plane<Linear>)]) -> Result<(), EdgeError> {
    let (width, height) = (planes[0].1.width(), planes[0].1.height());
    if width < LEAST_SIDE || height < LEAST_SIDE {
        return Err(EdgeError::RegionTooSmall { width, height, least: LEAST_SIDE });
    }
    let broken = |p: &Plane<Linear>| p.samples().iter().filter(|s| !s.is_finite()).count();
    match planes.iter().map(|(_, p)| broken(p)).sum() {
        0 => Ok(()),
        count => Err(EdgeError::NotFinite { count }),
    }
}

/// Refuses an upright edge, and one that is too short or meets too few phases.
pub(crate) fn lean_and_length(line: &Line, rows: (usize, usize)) -> Result<(), EdgeError> {
    let angle_deg = line.slope(line.centre).abs().atan().to_degrees();
    if angle_deg < LEAST_ANGLE_DEG {
        return Err(EdgeError::Upright { angle_deg, least_deg: LEAST_ANGLE_DEG });
    }
    let count = rows.1 - rows.0;
    let cycles = (line.x(rows.1 as f64) - line.x(rows.0 as f64)).abs();
    if count < LEAST_ROWS || cycles < LEAST_CYCLES {
        return Err(EdgeError::TooShort { rows: count, cycles, least_rows: LEAST_ROWS, least_cycles: LEAST_CYCLES });
    }
    Ok(())
}

/// Refuses an edge that stops, turns or reverses: the step is looked at block by block along the edge.
pub(crate) fn continuity(strip: &Strip<'_>, half_width: f64) -> Result<(), EdgeError> {
    let length = strip.rows().len();
    let blocks = split(strip.rows(), (length / 4).clamp(1, 12));
    let steps: Vec<f64> = blocks.into_iter().filter_map(|rows| local_step(strip, rows, half_width)).collect();
    let typical = median(&steps);
    let lacking = steps.iter().filter(|s| **s / typical < 0.5).count() as f64 / steps.len().max(1) as f64;
    if lacking > GAP_LIMIT { Err(EdgeError::EdgeEnds { percent: 100.0 * lacking }) } else { Ok(()) }
}

/// Right minus left of the edge, close to it.
fn local_step(strip: &Strip<'_>, rows: std::ops::Range<usize>, half_width: f64) -> Option<f64> {
    let depth = half_width + 4.0;
    let (mut left, mut right) = ((0.0, 0.0), (0.0, 0.0));
    for row in rows {
        let distance = strip.line.row(row);
        let samples = strip.plane.row(row);
        for column in distance.columns((-depth, depth), samples.len()) {
            let d = distance.of(column);
            if d.abs() >= half_width && d.abs() <= depth {
                let side = if d < 0.0 { &mut left } else { &mut right };
                *side = (side.0 + f64::from(samples[column]), side.1 + 1.0);
            }
        }
    }
    (left.1 >= 4.0 && right.1 >= 4.0).then(|| right.0 / right.1 - left.0 / left.1)
}

/// Refuses a profile that rises and falls back by most of that, or by all: a bar or a line has two edges, and what is left
/// between its plateaus is neither a low contrast nor a sharpened edge.
pub(crate) fn no_bar(profile: &Profile) -> Result<(), EdgeError> {
    const PLACES: u32 = 400;
    let (first, last) = profile.basis.span();
    let (left, right) = profile.plateaus();
    let level = |i: u32| profile.at(first + (last - first) * f64::from(i) / f64::from(PLACES)).0;
    let beyond = |level: f64| (level - left.max(right)).max(left.min(right) - level);
    let excursion = (0..=PLACES).map(level).map(beyond).fold(0.0, f64::max);
    let step = profile.step().abs();
    let visible = excursion >= LEAST_STEP && excursion >= LEAST_RATIO * profile.noise;
    if visible && excursion > MOST_OVERSHOOT * step {
        let percent = 100.0 * excursion / (excursion + step);
        return Err(EdgeError::TwoEdges { percent, place: "parallel to the edge, the other way" });
    }
    Ok(())
}

/// Refuses a profile with hardly any step.
pub(crate) fn contrast(profile: &Profile) -> Result<(), EdgeError> {
    let step = profile.step().abs();
    let ratio = step / profile.noise.max(1e-9);
    if step < LEAST_STEP || ratio < LEAST_RATIO {
        return Err(EdgeError::LowContrast { step, ratio, least_step: LEAST_STEP, least_ratio: LEAST_RATIO });
    }
    Ok(())
}

/// Refuses a profile that does not reach its plateaus within the region.
pub(crate) fn plateaus(profile: &Profile) -> Result<Vec<EdgeRemark>, EdgeError> {
    let (first, last) = profile.basis.span();
    let room = (-first).min(last);
    let Some((crossings, (start, end))) = profile.crossings().zip(profile.transition()) else {
        return Err(EdgeError::TooBlurred { needed_px: 2.0 * room, room_px: room });
    };
    let steepest = steepest(profile);
    let (left, right) = end_slopes(profile);
    let needed = 1.3 * crossings.rise();
    if left.max(right) > END_SLOPE_LIMIT * steepest || room < 0.8 * crossings.rise() {
        return Err(EdgeError::TooBlurred { needed_px: needed.max(1.3 * room), room_px: room });
    }
    let mut remarks = Vec::new();
    let beside = (start - first).min(last - end);
    if beside < 0.25 * crossings.rise() + 1.0 {
        remarks.push(EdgeRemark::Narrow { room_px: beside.max(0.0) });
    }
    Ok(remarks)
}

fn steepest(profile: &Profile) -> f64 {
    let (a, b) = profile.core;
    let steps = ((b - a) / (profile.spacing / 2.0)).ceil() as usize;
    (0..=steps).map(|i| profile.at(a + (b - a) * i as f64 / steps as f64).1.abs()).fold(0.0, f64::max)
}

/// Mean slopes over the outer fifth of either side.
fn end_slopes(profile: &Profile) -> (f64, f64) {
    let (first, last) = profile.basis.span();
    let slope = |a: f64, b: f64| ((profile.at(b).0 - profile.at(a).0) / (b - a)).abs();
    (slope(first, first - 0.2 * first), slope(last - 0.2 * last, last))
}

/// Looks for anything else in the region: small patches that depart from the profile.
pub(crate) fn surroundings(strip: &Strip<'_>, profile: &Profile) -> Result<Vec<EdgeRemark>, EdgeError> {
    let step = profile.step().abs();
    let worst = patches(strip, profile).into_iter().fold(0.0, f64::max) / step;
    if worst > SECOND_EDGE {
        return Err(EdgeError::TwoEdges { percent: 100.0 * worst, place: "beside the edge, not along it" });
    }
    let disturbed = worst > DISTURBANCE;
    Ok(disturbed.then_some(EdgeRemark::Disturbed { percent: 100.0 * worst }).into_iter().collect())
}

/// Mean departures of patches of 6 x 6 pixels, lowered by what noise alone would give.
fn patches(strip: &Strip<'_>, profile: &Profile) -> Vec<f64> {
    const SIDE: usize = 6;
    let columns = strip.plane.width() / SIDE + 1;
    let span = profile.basis.span();
    let (mut out, mut residuals) = (Vec::new(), Vec::new());
    for rows in split(strip.rows(), (strip.rows().len() / SIDE).max(1)) {
        let mut sums = vec![(0.0, 0.0); columns];
        for row in rows {
            let distance = strip.line.row(row);
            let samples = strip.plane.row(row);
            let mut column = distance.columns(span, samples.len());
            profile.residuals(&distance, samples, column.clone(), &mut residuals);
            let mut rest = &residuals[..];
            while !rest.is_empty() {
                let patch = column.start / SIDE;
                let (here, further) = rest.split_at(rest.len().min((patch + 1) * SIDE - column.start));
                let cell = &mut sums[patch];
                *cell = (cell.0 + here.iter().sum::<f64>(), cell.1 + here.len() as f64);
                column.start += here.len();
                rest = further;
            }
        }
        let full = sums.into_iter().filter(|s| s.1 >= (SIDE * SIDE) as f64 / 2.0);
        out.extend(full.map(|(sum, n)| (sum / n).abs() - 5.0 * profile.noise / f64::sqrt(n)));
    }
    out
}

/// Refuses a profile that goes back: a bar, or a third level.
pub(crate) fn single(profile: &Profile) -> Result<(), EdgeError> {
    let Some((start, end)) = profile.transition() else { return Ok(()) };
    let (first, last) = profile.basis.span();
    let seen = |errors: f64| {
        let beside = extreme(profile, (first, start), errors).max(extreme(profile, (end, last), errors));
        beside.max(second_rise(profile, (start, end), errors))
    };
    // Errors are asked for where they decide alone: each takes a solution of the whole profile.
    let worst = if seen(0.0) > SECOND_EDGE { seen(ERRORS_OF_NOISE) } else { 0.0 };
    if worst > SECOND_EDGE {
        return Err(EdgeError::TwoEdges { percent: 100.0 * worst, place: "parallel to the edge" });
    }
    Ok(())
}

/// Height, as a share of the step, of a rise within the transition that level ground parts from the steepest one; 0 for
/// an edge that rises once. Flare and halos are long tails that never rise again. Each rise is lowered by so many of its standard
/// errors, or the sum of what noise does at many places would pass for an edge.
fn second_rise(profile: &Profile, (start, end): (f64, f64), errors: f64) -> f64 {
    const STRIDES: usize = 48;
    let stride = (end - start) / STRIDES as f64;
    let places = |i: usize| (start + i as f64 * stride, start + (i + 1) as f64 * stride);
    let rise = |i: usize| profile.share(places(i).1) - profile.share(places(i).0);
    let error = |i: usize| match errors > 0.0 {
        true => errors * profile.error_of(&[(places(i).1, 1.0), (places(i).0, -1.0)]) / profile.step().abs(),
        false => 0.0,
    };
    let rises: Vec<(f64, f64)> = (0..STRIDES).map(|i| (rise(i), error(i))).collect();
    let top = (0..STRIDES).max_by(|&a, &b| rises[a].0.total_cmp(&rises[b].0)).unwrap_or(0);
    let beyond = |places: &mut dyn Iterator<Item = usize>| {
        let parted = places.map(|i| rises[i]).skip_while(|(r, _)| *r >= LEVEL_SHARE * rises[top].0);
        let again = parted.scan(f64::INFINITY, |least, (r, error)| {
            *least = least.min(r.max(0.0));
            Some((r - error - *least).max(0.0))
        });
        again.sum()
    };
    f64::max(beyond(&mut (top..STRIDES)), beyond(&mut (0..top).rev()))
}

/// Range of the profile's height over an interval, as a share of the step; lowered by so many standard errors at either end.
fn extreme(profile: &Profile, (a, b): (f64, f64), errors: f64) -> f64 {
    let step = profile.step().abs();
    let at = |i: i32| {
        let x = a + (b - a) * f64::from(i) / 60.0;
        (profile.share(x), if errors > 0.0 { errors * profile.error_of(&[(x, 1.0)]) / step } else { 0.0 })
    };
    let (low, high) = (0..=60)
        .map(at)
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (s, error)| (l.min(s + error), h.max(s - error)));
    (high - low).max(0.0)
}

/// Uneven plateaus and halos.
pub(crate) fn shape(profile: &Profile) -> Vec<EdgeRemark> {
    let mut remarks = Vec::new();
    let Some((start, end)) = profile.transition() else { return remarks };
    let (first, last) = profile.basis.span();
    let rising = profile.step() > 0.0;
    for (range, left) in [((first, start), true), ((end, last), false)] {
        let percent = 100.0 * extreme(profile, range, 0.0);
        let side = if left == rising { "dark" } else { "bright" };
        if percent > 2.0 {
            remarks.push(EdgeRemark::Uneven { percent, side });
        }
    }
    let steps = 400;
    let shares = (0..=steps).map(|i| profile.share(start + (end - start) * f64::from(i) / f64::from(steps)));
    let overshoot = shares.fold(0.0, |worst: f64, s| worst.max(s - 1.0).max(-s));
    if overshoot > 0.05 {
        remarks.push(EdgeRemark::Sharpened { percent: 100.0 * overshoot });
    }
    remarks
}

/// Share of a plane's samples at either end of the range.
pub(crate) fn clipped_fraction(planes: &[(Channel, &Plane<Linear>)], options: &EdgeOptions) -> f64 {
    let clipped = |s: &f32| f64::from(*s) <= options.black || f64::from(*s) >= options.white;
    let count = |p: &Plane<Linear>| p.samples().iter().filter(|s| clipped(s)).count() as f64;
    let total: f64 = planes.iter().map(|(_, p)| p.samples().len() as f64).sum();
    planes.iter().map(|(_, p)| count(p)).sum::<f64>() / total
}

/// Refuses a channel whose clipping begins within the transition.
pub(crate) fn clipping(
    channel: Channel,
    strip: &Strip<'_>,
    profile: &Profile,
    options: &EdgeOptions,
) -> Result<(), EdgeError> {
    let rising = profile.step() > 0.0;
    let white = |s: f64| s >= options.white;
    let black = |s: f64| s <= options.black;
    let high = clip_onset(strip, profile, &white, rising);
    let low = clip_onset(strip, profile, &black, !rising);
    let steepest = steepest(profile);
    for (end, onset) in [("white", high), ("black", low)] {
        let Some(place) = onset else { continue };
        let share = profile.at(place).1.abs() / steepest;
        if share > CLIP_SLOPE_LIMIT {
            return Err(EdgeError::Clipped { channel, end, percent: 100.0 * share });
        }
    }
    Ok(())
}

/// Distance, going outward from the middle, at which clipping reaches half of its largest share.
fn clip_onset(strip: &Strip<'_>, profile: &Profile, clipped: &impl Fn(f64) -> bool, to_right: bool) -> Option<f64> {
    const BIN_PX: f64 = 0.25;
    let middle = profile.crossings()?.middle;
    let core = (profile.core.0 - 4.0, profile.core.1 + 4.0);
    let mut seen = strip.rows().flat_map(|row| {
        let samples = strip.plane.row(row);
        &samples[strip.line.row(row).columns(core, samples.len())]
    });
    // Most edges are not clipped at all.
    if !seen.any(|&s| clipped(f64::from(s))) {
        return None;
    }
    let depth = if to_right { core.1 - middle } else { middle - core.0 };
    let mut bins = vec![(0.0, 0.0); (depth / BIN_PX) as usize + 1];
    for row in strip.rows() {
        let distance = strip.line.row(row);
        let samples = strip.plane.row(row);
        for column in distance.columns(core, samples.len()) {
            let out = (distance.of(column) - middle) * if to_right { 1.0 } else { -1.0 };
            if let Some(bin) = (out >= 0.0).then(|| bins.get_mut((out / BIN_PX) as usize)).flatten() {
                *bin = (bin.0 + f64::from(u8::from(clipped(f64::from(samples[column])))), bin.1 + 1.0);
            }
        }
    }
    let shares: Vec<f64> = bins.iter().map(|b| if b.1 > 0.0 { b.0 / b.1 } else { 0.0 }).collect();
    let largest = shares.iter().copied().fold(0.0, f64::max);
    if largest < CLIP_SHARE {
        return None;
    }
    let bin = shares.iter().position(|&s| s >= largest / 2.0)?;
    let out = bin as f64 * BIN_PX;
    Some(if to_right { middle + out } else { middle - out })
}
