//! Focus ramps: strips that slope through the sheet, followed by their bars; a tilted steel rule, followed by its ticks.

use measure::{
    BarCourse, Bars, Figure, Mapping, RampOptions, RampReport, RampSample, StripError, StripOptions, bar_course,
    focus_ramp, strip_modulation,
};
use planes::{Linear, Picture, Plane};
use target::{Part, Ramp, Rule};

use crate::error::Why;
use crate::pose::Model;
use crate::recognised::RampFound;
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

/// What a steel rule's ticks may be apart, mm: half and whole millimetres, 64ths and 32nds of an inch (common practice, no
/// source). The picture tells which.
const RULE_TICKS_MM: [f64; 4] = [0.5, 1.0, 25.4 / 64.0, 25.4 / 32.0];
/// How well a rule is set by hand, 95 %: where it passes through the sheet, mm along it, and its slope, degrees (common
/// practice, no source).
const RULE_LAID_MM: f64 = 0.3;
const RULE_SLOPE_DEG: f64 = 2.0;
/// How far a ramp's sharpest place may lie beside the focus, 95 %, as a share of its depth, whatever the bars say: higher bars
/// are seen larger and at another slant, and larger ones keep more contrast. Drawn ramps stray by 1.5 % with a pinhole at three
/// fields' distance, all four to one side, so that the four together must not claim half of it.
const STRAY: f64 = 0.04;
/// Samples from tick to tick, at least: the third harmonic must be told.
const LEAST_PER_TICK: usize = 10;

/// A ramp that was followed.
#[derive(Debug, Clone)]
pub(crate) struct Followed {
    /// Height in true mm, and the bars' modulation there.
    pub modulation: Vec<(f64, Figure)>,
    pub report: RampReport,
    /// Which harmonic of the bars.
    pub harmonic: usize,
}

/// The figures of a ramp; `places` are those of its mark and of its sharpest plane, `scale` true lengths over the ramp's own.
pub(crate) fn found(part: Part, ramp: &Ramp, places: (Place, Place), followed: Followed, scale: f64) -> RampFound {
    let bar_mm = scale * ramp.bar_mm;
    RampFound {
        part,
        name: ramp.name,
        bar_mm,
        window_mm: WINDOW as f64 * bar_mm * ramp.slope_deg.to_radians().sin(),
        harmonic: followed.harmonic,
        subject_lp_mm: followed.harmonic as f64 / (bar_mm * ramp.slope_deg.to_radians().cos()),
        place_px: places.0,
        sharpest_px: places.1,
        modulation: followed.modulation,
        report: followed.report,
    }
}

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

/// The places along a strip at which it is asked how strongly its bars come out: with their wave's two parts.
struct Probe {
    places: Vec<([f64; 2], f64)>,
    cos: f64,
    sin: f64,
}

fn probes(ramp: &Ramp) -> Vec<Probe> {
    let samples = (ramp.strip_mm() / ramp.bar_mm * 6.0) as usize;
    let probe = |i: usize| {
        let along = ramp.strip_mm() * (0.96 * ((i as f64 + 0.5) / samples as f64 - 0.5));
        let (sin, cos) = (std::f64::consts::TAU * along / ramp.bar_mm).sin_cos();
        let places = (-1..=1).map(|k| place_of(ramp, along, f64::from(k) * 0.3 * ACROSS * ramp.width_mm)).collect();
        Probe { places, cos, sin }
    };
    (0..samples).map(probe).collect()
}

/// How strongly the bars come out when the strip is read as seen by this eye: the first harmonic along the whole strip, whose
/// phase is known of a printed strip and not of a rule.
fn strength(view: &View, probes: &[Probe], model: &Model, eye: Eye, phase_known: bool) -> f64 {
    let (mut re, mut im, mut sum) = (0.0, 0.0, 0.0);
    for probe in probes {
        for (place, height) in &probe.places {
            let Some(level) = model.to_picture(eye.seen(*place, *height)).and_then(|p| view.at(p)) else { continue };
            re += level * probe.cos;
            im += level * probe.sin;
            sum += level;
        }
    }
    // Printed bars lie at whole periods: only what is dark there speaks for this eye.
    let strength = if phase_known { -re } else { re.hypot(im) };
    if sum > 0.0 { (strength / sum).max(0.0) } else { 0.0 }
}

/// Finds where the lens stands by the bars of all ramps that are in sight: the strips stand out of the sheet, and what is
/// higher is seen further from the foot of the axis.
pub(crate) fn eye(strips: &[(View, &Ramp)], model: &Model, mapping: &Mapping, short_mm: f64) -> Option<Eye> {
    find_eye(strips, model, mapping, (short_mm, true))
}

fn find_eye(
    strips: &[(View, &Ramp)],
    model: &Model,
    mapping: &Mapping,
    (short_mm, phase_known): (f64, bool),
) -> Option<Eye> {
    let probes: Vec<Vec<Probe>> = strips.iter().map(|(_, ramp)| probes(ramp)).collect();
    let all = |nearness: f64| {
        let Some(eye) = Eye::at(mapping, 1.0 / nearness) else { return f64::MIN };
        let pairs = strips.iter().zip(&probes);
        pairs.map(|((view, _), probes)| strength(view, probes, model, eye, phase_known)).sum::<f64>()
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

/// The part of a strip that is read, and how finely.
struct Reading<'a> {
    view: &'a View<'a>,
    ramp: &'a Ramp,
    model: &'a Model,
    eye: Eye,
    /// Samples from bar to bar.
    per_bar: usize,
    /// Those of the strip's whole length that are tried, to either side of the mark.
    count: i64,
}

impl<'a> Reading<'a> {
    fn new(view: &'a View<'a>, ramp: &'a Ramp, model: &'a Model, eye: Eye, least: usize) -> Result<Self, Why> {
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
        let per_bar = (period_px.ceil() as usize).max(least);
        let count = (0.48 * ramp.strip_mm() * per_bar as f64 / ramp.bar_mm) as i64;
        Ok(Self { view, ramp, model, eye, per_bar, count })
    }

    /// Levels across the strip at a distance from its mark; `None` where they leave the frame.
    fn column(&self, along: f64) -> Option<Vec<f32>> {
        let level = |r: usize| {
            let across = ACROSS * self.ramp.width_mm * ((r as f64 + 0.5) / ROWS as f64 - 0.5);
            let (place, height) = place_of(self.ramp, along, across);
            self.model.to_picture(self.eye.seen(place, height)).and_then(|p| self.view.fine(p)).map(|l| l as f32)
        };
        (0..ROWS).map(level).collect()
    }

    /// Columns at those distances; what leaves the frame ends the strip on that side.
    fn columns(&self, along: impl Iterator<Item = f64>) -> Vec<(f64, Vec<f32>)> {
        let mut columns: Vec<(f64, Vec<f32>)> = Vec::new();
        for along in along {
            match self.column(along) {
                Some(column) => columns.push((along, column)),
                None if along < 0.0 => columns.clear(),
                None => break,
            }
        }
        columns
    }

    fn step_mm(&self) -> f64 {
        self.ramp.bar_mm / self.per_bar as f64
    }

    fn even(&self) -> impl Iterator<Item = f64> {
        let step = self.step_mm();
        (-self.count..self.count).map(move |i| (i as f64 + 0.5) * step)
    }
}

fn picture(columns: &[(f64, Vec<f32>)]) -> Picture<Linear> {
    let plane = Plane::<Linear>::from_fn(columns.len(), ROWS, |c, r| columns[c].1[r]).expect("not empty");
    Picture::grey(plane)
}

/// Modulation over height, and where it is greatest; `printed` is true lengths over printed ones.
pub(crate) fn follow(view: &View, ramp: &Ramp, model: &Model, eye: Eye, printed: f64) -> Result<Followed, Why> {
    let reading = Reading::new(view, ramp, model, eye, 4)?;
    // The mark: one period is cut out, and the bars on its two sides are neighbours.
    let columns = reading.columns(reading.even().filter(|along| along.abs() >= ramp.bar_mm / 2.0));
    let alongs: Vec<f64> = columns.iter().map(|c| printed * c.0).collect();
    let mut found = followed(&columns, &alongs, (reading.per_bar, reading.per_bar, 1), ramp)?;
    let stray = STRAY * found.report.depth_mm.value;
    for height in [&mut found.report.peak_height_mm, &mut found.report.from_mark_mm] {
        height.plus_minus = height.plus_minus.hypot(stray);
    }
    Ok(found)
}

/// From columns with a whole number of samples to a bar to the ramp's figures. `alongs` holds the columns' true distances from
/// the mark; then come samples to a bar, from window to window, and the harmonic.
fn followed(
    columns: &[(f64, Vec<f32>)],
    alongs: &[f64],
    (per_bar, step_px, harmonic): (usize, usize, usize),
    ramp: &Ramp,
) -> Result<Followed, Why> {
    let window_px = WINDOW * per_bar;
    if columns.len() < window_px {
        return Err(Why::OutsideFrame);
    }
    let options = StripOptions { bars: Bars::RepeatAlong, period_px: per_bar as f64, window_px, step_px, harmonic };
    let points = strip_modulation(&picture(columns), &options).map_err(Why::Strip)?;
    // Windows overlap: each bar counts in several of them, which must not make the figure surer.
    let shared = (window_px as f64 / step_px as f64).sqrt();
    let sample = |p: &measure::StripPoint| {
        let along = alongs[(p.column_px as usize).min(alongs.len() - 1)];
        let along_mm = along * ramp.slope_deg.to_radians().cos();
        let sharpness = Figure::new(p.modulation.value, p.modulation.plus_minus * shared);
        RampSample { along_mm, height_mm: ramp.height_mm(along), sharpness }
    };
    let samples: Vec<RampSample> = points.iter().map(sample).collect();
    let report = focus_ramp(&samples, &RampOptions { mark_height_mm: 0.0 }).map_err(Why::Ramp)?;
    Ok(Followed { modulation: samples.iter().map(|s| (s.height_mm, s.sharpness)).collect(), report, harmonic })
}

/// A rule's place as a ramp whose bars are ticks that far apart.
pub(crate) fn of_rule(rule: &Rule, tick_mm: f64) -> Ramp {
    Ramp {
        name: "rule",
        centre: rule.centre,
        length_mm: rule.length_mm,
        width_mm: rule.width_mm,
        slope_deg: rule.slope_deg,
        bar_mm: tick_mm,
        on_field: rule.centre,
    }
}

/// A tilted rule followed by its ticks. They are numbered where they are seen, so that their heights rest on the rule's own
/// divisions; only where it passes through the sheet, and its slope, rest on the hand that stood it there.
///
/// `distance` is that of the entrance pupil in printed mm, where it is known, `printed` true lengths over printed ones.
pub(crate) fn follow_rule(
    view: &View,
    rule: &Rule,
    model: &Model,
    mapping: &Mapping,
    (distance, printed): (Option<f64>, f64),
) -> Result<(Ramp, Eye, Followed), Why> {
    let mut refusal = Why::NotLaid;
    let mut best: Option<(f64, Ramp, Eye, BarCourse)> = None;
    for tick_mm in RULE_TICKS_MM {
        // The layout is in printed millimetres, the rule's ticks are true ones.
        let ramp = of_rule(rule, tick_mm / printed);
        let eye = match distance {
            Some(distance) => Eye::at(mapping, distance),
            None => find_eye(&[(*view, &ramp)], model, mapping, (rule.length_mm / RULE_SHARE, false)),
        };
        let Some(eye) = eye else { continue };
        let read = |reading: Reading<'_>| {
            let columns = reading.columns(reading.even());
            if columns.len() < WINDOW * reading.per_bar {
                return Err(Why::OutsideFrame);
            }
            let course = bar_course(&picture(&columns), reading.per_bar as f64).map_err(Why::Strip)?;
            Ok((course, reading.per_bar))
        };
        match Reading::new(view, &ramp, model, eye, LEAST_PER_TICK).and_then(read) {
            Ok((course, per_bar)) => {
                // Of spacings that are alike in strength the one that lies nearer to a rule's own.
                let odd = (course.period_at(0.0) / per_bar as f64).ln().abs();
                let worth = course.amplitude() * (1.0 - 2.0 * odd).max(0.0);
                if best.as_ref().is_none_or(|b| worth > b.0) {
                    best = Some((worth, ramp, eye, course));
                }
            }
            Err(Why::Strip(StripError::NoPattern { .. })) => {}
            Err(why) => refusal = why,
        }
    }
    let Some((_, ramp, eye, course)) = best else { return Err(refusal) };
    let followed = by_ticks(view, &ramp, model, eye, &course, printed)?;
    Ok((ramp, eye, followed))
}

/// A rule's place is that share of the shorter side long.
const RULE_SHARE: f64 = 0.21;

/// The strip read anew, evenly by the ticks' numbers, and followed by whichever harmonic tells the focus best.
fn by_ticks(
    view: &View,
    ramp: &Ramp,
    model: &Model,
    eye: Eye,
    course: &BarCourse,
    printed: f64,
) -> Result<Followed, Why> {
    let reading = Reading::new(view, ramp, model, eye, LEAST_PER_TICK)?;
    let first = reading.columns(reading.even());
    let Some(start) = first.first().map(|c| c.0) else { return Err(Why::OutsideFrame) };
    let (step, per_bar) = (reading.step_mm(), reading.per_bar);
    // Columns of the first reading by distance from the mark, and back.
    let column_of = |along: f64| (along - start) / step + 0.5;
    let (from, to, mark) =
        (course.number_at(0.0), course.number_at(first.len() as f64), course.number_at(column_of(0.0)));
    let samples = ((to - from) * per_bar as f64) as usize;
    let numbers: Vec<f64> = (0..samples).map(|i| from + (i as f64 + 0.5) / per_bar as f64).collect();
    let seen_along = |number: &f64| start + (course.column_at(*number) - 0.5) * step;
    let columns: Vec<(f64, Vec<f32>)> = numbers
        .iter()
        .map(|number| (number, seen_along(number)))
        .map_while(|(number, along)| Some((*number, reading.column(along)?)))
        .collect();
    let tick_mm = printed * ramp.bar_mm;
    let alongs: Vec<f64> = columns.iter().map(|(number, _)| (number - mark) * tick_mm).collect();
    let mut refusal = Why::OutsideFrame;
    let mut best: Option<Followed> = None;
    for harmonic in 1..=3 {
        match followed(&columns, &alongs, (per_bar, per_bar / 2, harmonic), ramp) {
            Ok(found) => {
                let doubt = |f: &Followed| f.report.peak_height_mm.plus_minus;
                if best.as_ref().is_none_or(|b| doubt(&found) < doubt(b)) {
                    best = Some(found);
                }
            }
            Err(why) if harmonic == 1 => refusal = why,
            Err(_) => {}
        }
    }
    best.map(|found| by_hand(found, ramp.slope_deg)).ok_or(refusal)
}

/// What the hand that stood the rule adds to the doubt.
fn by_hand(mut found: Followed, slope_deg: f64) -> Followed {
    let slope = slope_deg.to_radians();
    let share = RULE_SLOPE_DEG.to_radians() / slope.tan();
    let laid = RULE_LAID_MM * slope.sin();
    let wider = |f: Figure, laid: f64| Figure::new(f.value, f.plus_minus.hypot(laid).hypot(share * f.value));
    let report = &mut found.report;
    report.peak_height_mm = wider(report.peak_height_mm, laid);
    report.from_mark_mm = wider(report.from_mark_mm, laid);
    report.depth_mm = wider(report.depth_mm, 0.0);
    found
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
