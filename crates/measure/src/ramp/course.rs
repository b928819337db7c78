//! Where the bars of a strip lie when their spacing changes slowly along it.

use planes::{Linear, Picture};

use super::strip::StripError;
use crate::numeric::{fit_polynomial, polynomial, polynomial_slope};

/// Bars in a window: fewer tell the spacing badly, more blur its change.
const WINDOW: f64 = 4.0;
/// How far the spacing is looked for about what was given, and in how many steps to either side.
const SEARCH: f64 = 0.16;
const SEARCH_STEPS: i32 = 32;
/// Least pixels from bar to bar.
const LEAST_PERIOD_PX: f64 = 3.0;
/// Windows that show less than this share of the strongest window's bars do not take part: there the strip is out of focus.
const LEAST_SHARE: f64 = 0.15;
/// Least windows that take part.
const LEAST_WINDOWS: usize = 4;
/// Least amplitude of the bars over the mean light, and over what chance gives at spacings that the strip does not have.
const LEAST_AMPLITUDE: f64 = 0.01;
const LEAST_PROMINENCE: f64 = 2.0;

/// The bars' numbers along a strip: whole numbers at the middles of dark bars, counted from an arbitrary one.
#[derive(Debug, Clone, PartialEq)]
pub struct BarCourse {
    /// Coefficients of the number by the column's distance from the middle of the strip, in strips' half-lengths.
    coefficients: Vec<f64>,
    middle_px: f64,
    /// Root mean square of the bars' amplitude over the mean light.
    amplitude: f64,
}

impl BarCourse {
    /// The number of the bar at a column; between bars it lies between whole numbers.
    pub fn number_at(&self, column_px: f64) -> f64 {
        polynomial(&self.coefficients, self.share(column_px))
    }

    /// From bar to bar at a column, pixels.
    pub fn period_at(&self, column_px: f64) -> f64 {
        self.middle_px / polynomial_slope(&self.coefficients, self.share(column_px))
    }

    /// The column at which a number lies; the number may be any within the strip.
    pub fn column_at(&self, number: f64) -> f64 {
        let mut column = self.middle_px;
        for _ in 0..20 {
            column += (number - self.number_at(column)) * self.period_at(column);
        }
        column
    }

    /// Amplitude of the bars' first harmonic over the mean light, root mean square along the strip.
    pub fn amplitude(&self) -> f64 {
        self.amplitude
    }

    fn share(&self, column_px: f64) -> f64 {
        (column_px - self.middle_px) / self.middle_px
    }
}

/// Amplitude and phase (in turns) of the bars in a window.
struct Sighting {
    column_px: f64,
    turns: f64,
    amplitude: f64,
}

/// Follows bars that lie across a strip whose columns run along it, from window to window by their phase: their numbers
/// grow along the strip as a polynomial of second order. `period_px` is the spacing as far as it is known beforehand, to 16 %.
pub fn bar_course(strip: &Picture<Linear>, period_px: f64) -> Result<BarCourse, StripError> {
    if period_px.is_nan() || period_px * (1.0 - SEARCH) < LEAST_PERIOD_PX || period_px.is_infinite() {
        return Err(StripError::TooFine { period_px, least_px: LEAST_PERIOD_PX });
    }
    let light = strip.luminance();
    let count = light.samples().iter().filter(|s| !s.is_finite()).count();
    if count > 0 {
        return Err(StripError::NotFinite { count });
    }
    let rows = light.height() as f64;
    let profile: Vec<f64> = (0..light.width())
        .map(|c| (0..light.height()).map(|r| f64::from(light.at(c, r))).sum::<f64>() / rows)
        .collect();
    let periods = profile.len() as f64 / period_px;
    if periods < WINDOW + 0.5 * (LEAST_WINDOWS - 1) as f64 {
        return Err(StripError::TooFewBars { periods, least: WINDOW + 0.5 * (LEAST_WINDOWS - 1) as f64 });
    }
    let power = |seen: &[Sighting]| seen.iter().map(|s| s.amplitude.powi(2)).sum::<f64>() / seen.len() as f64;
    let tried = (-SEARCH_STEPS..=SEARCH_STEPS)
        .map(|i| period_px * (1.0 + SEARCH * f64::from(i) / f64::from(SEARCH_STEPS)))
        .map(|period| (period, power(&sightings(&profile, period))));
    let (period, most) = tried.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((period_px, 0.0));
    // Half as many and half as many again are where the window of four bars takes nothing over from them: what is seen there is chance.
    let beside = power(&sightings(&profile, 2.0 * period)).min(power(&sightings(&profile, period / 1.5)));
    let amplitude = most.sqrt();
    if amplitude < LEAST_AMPLITUDE || amplitude < LEAST_PROMINENCE * beside.sqrt() {
        return Err(StripError::NoPattern { period_px });
    }
    let numbers = unwrapped(sightings(&profile, period), period);
    let middle_px = profile.len() as f64 / 2.0;
    let points: Vec<(f64, f64, f64)> = numbers
        .iter()
        .map(|&(column, number, amplitude)| ((column - middle_px) / middle_px, number, amplitude))
        .collect();
    if points.len() < LEAST_WINDOWS {
        return Err(StripError::NoPattern { period_px });
    }
    // Of a few windows only the spacing and where the bars lie is told.
    let degree = if points.len() < LEAST_WINDOWS + 2 { 1 } else { 2 };
    let coefficients = fit_polynomial(&points, degree).ok_or(StripError::NoPattern { period_px })?;
    let course = BarCourse { coefficients, middle_px, amplitude };
    // Numbers that do not grow all along are no bars' numbers.
    let ends = [0.0, 2.0 * middle_px].map(|column| course.period_at(column) / period);
    if ends.iter().all(|ratio| (0.5..2.0).contains(ratio)) {
        Ok(course)
    } else {
        Err(StripError::NoPattern { period_px })
    }
}

/// The first harmonic in overlapping windows of von Hann's shape.
fn sightings(profile: &[f64], period: f64) -> Vec<Sighting> {
    let half = WINDOW * period / 2.0;
    let half = half.min(profile.len() as f64 / 2.0);
    let hops = ((profile.len() as f64 - 2.0 * half) / (period / 2.0)).floor().max(0.0) as usize;
    let window = |hop: usize| {
        let middle = half + hop as f64 * period / 2.0;
        let from = (middle - half).ceil().max(0.0) as usize;
        let to = ((middle + half).floor() as usize).min(profile.len());
        let weighted = |i: usize| {
            let at = i as f64 + 0.5 - middle;
            (at, 0.5 + 0.5 * (std::f64::consts::PI * at / half).cos())
        };
        let sums = (from..to).map(|i| (weighted(i).1, weighted(i).1 * profile[i]));
        let (weight, sum) = sums.fold((0.0, 0.0), |s, v| (s.0 + v.0, s.1 + v.1));
        let mean = sum / weight;
        // Dark bars speak: the light is turned over.
        let (re, im) = (from..to).fold((0.0, 0.0), |s, i| {
            let (at, w) = weighted(i);
            let (sin, cos) = (std::f64::consts::TAU * at / period).sin_cos();
            let depth = w * (mean - profile[i]);
            (s.0 + depth * cos, s.1 - depth * sin)
        });
        let amplitude = 2.0 * re.hypot(im) / weight / mean.abs().max(1e-9);
        Sighting { column_px: middle, turns: im.atan2(re) / std::f64::consts::TAU, amplitude }
    };
    (0..=hops).map(window).collect()
}

/// Column, bar number and amplitude of the windows that show the bars, from the strongest window outwards.
fn unwrapped(seen: Vec<Sighting>, period: f64) -> Vec<(f64, f64, f64)> {
    let Some(strongest) = (0..seen.len()).max_by(|a, b| seen[*a].amplitude.total_cmp(&seen[*b].amplitude)) else {
        return Vec::new();
    };
    let least = LEAST_SHARE * seen[strongest].amplitude;
    let mut out = vec![(seen[strongest].column_px, seen[strongest].turns, seen[strongest].amplitude)];
    let mut walk = |places: &mut dyn Iterator<Item = usize>| {
        let mut last = (seen[strongest].column_px, seen[strongest].turns);
        for place in places.map(|i| &seen[i]).take_while(|s| s.amplitude >= least) {
            // The nearest number with this phase to what an even spacing would give.
            let even = last.1 + (place.column_px - last.0) / period;
            let number = place.turns + (even - place.turns).round();
            last = (place.column_px, number);
            out.push((place.column_px, number, place.amplitude));
        }
    };
    walk(&mut (strongest + 1..seen.len()));
    walk(&mut (0..strongest).rev());
    out
}
