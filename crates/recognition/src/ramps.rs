//! Focus ramps: strips that slope through the sheet, followed by their bars.

use measure::{
    Bars, Figure, Mapping, RampOptions, RampReport, RampSample, StripError, StripOptions, focus_ramp, strip_modulation,
};
use planes::{Linear, Picture, Plane};
use target::Ramp;

use crate::error::Why;
use crate::pose::Model;
use crate::squares::{Place, View};

/// Share of the strip's width across which it is read: its sides are cut by hand.
const ACROSS: f64 = 0.5;
const ROWS: usize = 24;
/// Bars finer than this come back as false ones, or as less than they are.
const LEAST_PERIOD_PX: f64 = 3.0;
/// Bars in a window.
const WINDOW: usize = 3;
/// Nearest and farthest that the lens is looked for, in shorter sides of the field, and steps of its inverse between them.
const NEAREST: f64 = 0.6;
const FARTHEST: f64 = 25.0;
const STEPS: usize = 240;

/// How the camera looks at a strip that stands out of the sheet.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Eye {
    /// Place on the sheet below the entrance pupil.
    foot: [f64; 2],
    /// One over the entrance pupil's height above the sheet, 1/mm.
    nearness: f64,
}

impl Eye {
    /// The eye whose distance from the sheet along the optical axis is `distance_mm`.
    ///
    /// The mapping's last row is the depth over that distance but for a factor: with g its slope over its value where the
    /// axis meets the sheet, the sheet's depth rises by P·g per millimetre, so the axis leans by that against the sheet, and the
    /// pupil stands at the height P·√(1 - P²g²) above the place P²·g before the axis's (as in `measure::tilt`).
    pub fn at(mapping: &Mapping, distance_mm: f64) -> Option<Self> {
        let straight = Mapping { k1: 0.0, ..*mapping };
        let (x, y) = straight.to_plane(mapping.centre_px)?;
        let [g, h, i] = mapping.homography[2];
        let w = g * x + h * y + i;
        let slope = [g / w, h / w];
        let sine = distance_mm * slope[0].hypot(slope[1]);
        if sine >= 0.7 {
            return None;
        }
        let back = distance_mm * distance_mm;
        let height = distance_mm * (1.0 - sine * sine).sqrt();
        Some(Self { foot: [x - back * slope[0], y - back * slope[1]], nearness: 1.0 / height })
    }

    /// The place on the sheet that a point at a height above a place hides: p + h (p - foot) / (P - h).
    fn seen(&self, place: [f64; 2], height: f64) -> [f64; 2] {
        let share = height * self.nearness / (1.0 - height * self.nearness);
        [0, 1].map(|i| place[i] + share * (place[i] - self.foot[i]))
    }
}

fn place_of(ramp: &Ramp, along: f64, across: f64) -> ([f64; 2], f64) {
    let level = along * ramp.slope_deg.to_radians().cos();
    ([ramp.centre[0] + across, ramp.centre[1] - level], ramp.height_mm(along))
}

/// How strongly the bars come out when the strip is read as seen by this eye: the first harmonic along the whole strip.
fn strength(view: &View, ramp: &Ramp, model: &Model, eye: Eye) -> f64 {
    let samples = (ramp.strip_mm() / ramp.bar_mm * 6.0) as usize;
    let (mut re, mut sum) = (0.0, 0.0);
    for i in 0..samples {
        let along = ramp.strip_mm() * (0.96 * ((i as f64 + 0.5) / samples as f64 - 0.5));
        for k in -1..=1 {
            let (place, height) = place_of(ramp, along, f64::from(k) * 0.3 * ACROSS * ramp.width_mm);
            let Some(level) = model.to_picture(eye.seen(place, height)).and_then(|p| view.at(p)) else { continue };
            re += level * (std::f64::consts::TAU * along / ramp.bar_mm).cos();
            sum += level;
        }
    }
    // The bars lie at whole periods: only what is dark there speaks for this eye.
    if sum > 0.0 { (-re / sum).max(0.0) } else { 0.0 }
}

/// Finds where the lens stands by the bars of all ramps that are in sight: the strips stand out of the sheet, and what is
/// higher is seen further from the foot of the axis.
pub(crate) fn eye(strips: &[(View, &Ramp)], model: &Model, mapping: &Mapping, short_mm: f64) -> Option<Eye> {
    let all = |nearness: f64| {
        let Some(eye) = Eye::at(mapping, 1.0 / nearness) else { return f64::MIN };
        strips.iter().map(|(view, ramp)| strength(view, ramp, model, eye)).sum::<f64>()
    };
    let (least, most) = (1.0 / (FARTHEST * short_mm), 1.0 / (NEAREST * short_mm));
    let step = (most - least) / STEPS as f64;
    let tried = (0..=STEPS).map(|i| least + i as f64 * step).map(|n| (n, all(n)));
    let (mut best, mut value) = tried.max_by(|a, b| a.1.total_cmp(&b.1))?;
    // Between the steps, by halving them.
    let mut reach = step / 2.0;
    for _ in 0..6 {
        for trial in [best - reach, best + reach] {
            let found = all(trial.max(least));
            if found > value {
                (best, value) = (trial.max(least), found);
            }
        }
        reach /= 2.0;
    }
    Eye::at(mapping, 1.0 / best)
}

/// Modulation over height, and where it is greatest; `printed` is true lengths over printed ones.
pub(crate) fn follow(
    view: &View,
    ramp: &Ramp,
    model: &Model,
    eye: Eye,
    printed: f64,
) -> Result<(Vec<(f64, Figure)>, RampReport), Why> {
    let mark = model.to_picture(ramp.centre).ok_or(Why::OutsideFrame)?;
    let [upper, lower] = [0.5, -0.5].map(|share| {
        let (place, height) = place_of(ramp, share * 0.96 * ramp.strip_mm(), 0.0);
        model.to_picture(eye.seen(place, height))
    });
    let (Some(upper), Some(lower)) = (upper, lower) else { return Err(Why::OutsideFrame) };
    if view.at(mark).is_none() || (view.at(upper).is_none() && view.at(lower).is_none()) {
        return Err(Why::OutsideFrame);
    }
    let px_per_mm = (upper.0 - lower.0).hypot(upper.1 - lower.1) / (0.96 * ramp.strip_mm());
    let period_px = ramp.bar_mm * px_per_mm;
    if period_px < LEAST_PERIOD_PX {
        return Err(Why::Strip(StripError::TooFine { period_px, least_px: LEAST_PERIOD_PX }));
    }
    // A whole number of samples to a bar, so that the bar that is left out at the mark can be closed up without a jump.
    let per_bar = (period_px.ceil() as usize).max(4);
    let step = ramp.bar_mm / per_bar as f64;
    let count = (0.48 * ramp.strip_mm() / step) as i64;
    let mut columns: Vec<(f64, Vec<f32>)> = Vec::new();
    for i in -count..count {
        let along = (i as f64 + 0.5) * step;
        // The mark: one period is cut out, and the bars on its two sides are neighbours.
        if along.abs() < ramp.bar_mm / 2.0 {
            continue;
        }
        let column: Option<Vec<f32>> = (0..ROWS)
            .map(|r| {
                let across = ACROSS * ramp.width_mm * ((r as f64 + 0.5) / ROWS as f64 - 0.5);
                let (place, height) = place_of(ramp, along, across);
                model.to_picture(eye.seen(place, height)).and_then(|p| view.fine(p)).map(|l| l as f32)
            })
            .collect();
        // What leaves the frame ends the strip on that side.
        match column {
            Some(column) => columns.push((along, column)),
            None if along < 0.0 => columns.clear(),
            None => break,
        }
    }
    if columns.len() < WINDOW * per_bar {
        return Err(Why::OutsideFrame);
    }
    let plane = Plane::<Linear>::from_fn(columns.len(), ROWS, |c, r| columns[c].1[r]).expect("not empty");
    let options = StripOptions {
        bars: Bars::RepeatAlong,
        period_px: per_bar as f64,
        window_px: WINDOW * per_bar,
        step_px: per_bar,
    };
    let points = strip_modulation(&Picture::grey(plane), &options).map_err(Why::Strip)?;
    // Windows overlap: each bar counts in several of them, which must not make the figure surer.
    let shared = (WINDOW as f64).sqrt();
    let sample = |p: &measure::StripPoint| {
        let along = columns[(p.column_px as usize).min(columns.len() - 1)].0;
        let height_mm = printed * ramp.height_mm(along);
        let along_mm = printed * along * ramp.slope_deg.to_radians().cos();
        RampSample { along_mm, height_mm, sharpness: Figure::new(p.modulation.value, p.modulation.plus_minus * shared) }
    };
    let samples: Vec<RampSample> = points.iter().map(sample).collect();
    let report = focus_ramp(&samples, &RampOptions { mark_height_mm: 0.0 }).map_err(Why::Ramp)?;
    Ok((samples.iter().map(|s| (s.height_mm, s.sharpness)).collect(), report))
}

/// Where a height of the strip is seen in the picture.
pub(crate) fn seen_at(ramp: &Ramp, height_mm: f64, model: &Model, eye: Eye) -> Option<Place> {
    let along = height_mm / ramp.slope_deg.to_radians().sin();
    let (place, height) = place_of(ramp, along, 0.0);
    model.to_picture(eye.seen(place, height))
}

/// The places in the picture that a ramp may cover, whatever the eye.
pub(crate) fn outline(ramp: &Ramp, model: &Model) -> Option<Vec<Place>> {
    let (w, h) = (0.9 * ramp.width_mm, 0.62 * ramp.length_mm);
    let corners = [[-w, -h], [w, -h], [w, h], [-w, h]];
    corners.iter().map(|[x, y]| model.to_picture([ramp.centre[0] + x, ramp.centre[1] + y])).collect()
}
