//! From a hand-held meter's reading to the shutter speed to set.
//!
//! The order is the trade's: first everything that multiplies the light (the f-number, extension, filters), the film's
//! loss in long exposures last, then the nearest speed that the shutter has. This version knows no film: what a film
//! loses is not counted, and [`Remark::LongExposure`] says so where it would matter.
//!
//! Absent on purpose: gear, trains, files. The light lost in the set-up comes in as one estimate in stops.

use optics::{Dual, Estimate, Input, Real, propagate};

/// What is known before the exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Question<'a> {
    /// What the meter says at [`Self::metered_f_number`], s.
    pub metered_s: f64,
    /// The f-number that the meter was set to.
    pub metered_f_number: f64,
    /// The f-number engraved on the lens that is in use.
    pub f_number: f64,
    /// All the light that the set-up loses against the engraved f-number, stops.
    pub extension_stops: Estimate,
    /// Light that filters take, stops.
    pub filter_stops: f64,
    /// The speeds that the shutter has, s; empty when unknown.
    pub shutter_s: &'a [f64],
    /// Whether the shutter can be held open.
    pub bulb: bool,
}

/// The exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The meter's reading, s.
    pub metered_s: f64,
    /// Stops between the metered f-number and the one in use; positive when stopped down.
    pub aperture_stops: f64,
    /// Light lost in the set-up, stops.
    pub extension_stops: Estimate,
    /// Light lost in filters, stops.
    pub filter_stops: Estimate,
    /// What the film loses in long exposures, stops: not counted in this version, so 0.
    pub reciprocity_stops: Estimate,
    /// The exact answer, s.
    pub time_s: Estimate,
    /// The nearest speed, s, when the shutter lists any.
    pub set_s: Option<f64>,
    /// That speed against the exact answer, stops: positive is too much light.
    pub set_error_stops: Option<Estimate>,
    /// What to know before pressing the release.
    pub remarks: Vec<Remark>,
}

/// Something to know before pressing the release.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Remark {
    /// Long exposures lose more than the meter says.
    #[error(
        "most films lose speed in exposures longer than about a second, and no film data is counted here: look at the film's data sheet, or bracket toward more light"
    )]
    LongExposure,
    /// The nearest speed is far off.
    #[error("the nearest speed is {} stops {}: {}", round(.stops.abs()), if *.stops > 0.0 { "too long" } else { "too short" }, if *.bulb { "use B and count, or another f-number" } else { "use another f-number or a filter" })]
    FarOff {
        /// Positive is too much light.
        stops: f64,
        /// Whether the shutter can be held open.
        bulb: bool,
    },
}

fn round(stops: f64) -> String {
    format!("{stops:.1}")
}

/// Why there is no answer.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ExposureError {
    /// A figure that must be above zero is not.
    #[error("{what} must be {rule}, not {}", plain(*.found))]
    OutOfRange {
        /// Which.
        what: &'static str,
        /// What it must be.
        rule: &'static str,
        /// What it was.
        found: f64,
    },
    /// A time that no exposure has.
    #[error("{what} of {} would make an exposure of {} s, which cannot be; check it", plain(*.found), plain(*.time_s))]
    Absurd {
        /// The figure that does most to make it so.
        what: &'static str,
        /// What it is.
        found: f64,
        /// The time that would follow, s; it may be infinite.
        time_s: f64,
    },
}

/// Figures of ordinary size as they are, others by powers of ten: nobody counts three hundred zeros.
fn plain(found: f64) -> String {
    if found == 0.0 || !found.is_finite() || (1e-6..1e9).contains(&found.abs()) {
        found.to_string()
    } else {
        format!("{found:e}")
    }
}

/// What a hand-held meter can say, s (common practice, no source: a microsecond to eleven days).
const METERED_S: std::ops::RangeInclusive<f64> = 1e-6..=1e6;

/// The densest stack of filters, stops: two welder's glasses and more (common practice, no source).
const MOST_FILTER_STOPS: f64 = 40.0;

/// The exposures that there are, s: the shortest flash to thirty years.
const TIMES_S: std::ops::RangeInclusive<f64> = 1e-9..=1e9;

/// A difference that slide film shows (common practice, no source): a third of a stop.
const VISIBLE_STOPS: f64 = 1.0 / 3.0;

/// From here on films differ and lose speed (ILFORD's sheet begins at 1 s; common practice).
const LONG_S: f64 = 1.0;

/// The exposure for a reading.
pub fn expose(question: &Question<'_>) -> Result<Answer, ExposureError> {
    check(question)?;
    let aperture_stops = 2.0 * (question.f_number / question.metered_f_number).log2();
    let fixed = aperture_stops + question.filter_stops;
    let lost = Input { value: question.extension_stops.value, plus_minus: question.extension_stops.plus_minus };
    let time_s = time(question.metered_s, fixed, lost);
    check_time(question, aperture_stops, time_s)?;
    let set_s = nearest(question.shutter_s, time_s.value);
    let set_error_stops = set_s
        .map(|set| Estimate { value: (set / time_s.value).log2(), plus_minus: question.extension_stops.plus_minus });
    let mut remarks = Vec::new();
    if time_s.value > LONG_S {
        remarks.push(Remark::LongExposure);
    }
    if let Some(error) = set_error_stops
        && error.value.abs() > VISIBLE_STOPS
    {
        remarks.push(Remark::FarOff { stops: error.value, bulb: question.bulb });
    }
    Ok(Answer {
        metered_s: question.metered_s,
        aperture_stops,
        extension_stops: question.extension_stops,
        filter_stops: Estimate::exact(question.filter_stops),
        reciprocity_stops: Estimate::exact(0.0),
        time_s,
        set_s,
        set_error_stops,
        remarks,
    })
}

/// metered · 2^(fixed + lost), with its uncertainty.
fn time(metered_s: f64, fixed: f64, lost: Input) -> Estimate {
    let factor = 2f64.powf(fixed + lost.value);
    // 2^x has slope ln 2 · 2^x; a straight line through it carries that slope into the propagation.
    let compute = |x: &[Dual]| -> Result<_, std::convert::Infallible> {
        let slope = Dual::exact(metered_s * factor * std::f64::consts::LN_2);
        Ok(vec![Some(Dual::exact(metered_s * factor) + slope * (x[0] - Dual::exact(lost.value)))])
    };
    let Ok(results) = propagate(&[lost], compute);
    results[0].unwrap_or(Estimate::exact(metered_s * factor))
}

/// The speed nearest in stops.
fn nearest(speeds: &[f64], time_s: f64) -> Option<f64> {
    let off = |speed: &f64| (speed / time_s).log2().abs();
    speeds.iter().copied().min_by(|p, q| off(p).total_cmp(&off(q)))
}

fn check(question: &Question<'_>) -> Result<(), ExposureError> {
    let positive = [
        (METERED_TIME, question.metered_s),
        ("the metered f-number", question.metered_f_number),
        ("the f-number", question.f_number),
    ];
    if let Some((what, found)) = positive.into_iter().find(|(_, x)| !(x.is_finite() && *x > 0.0)) {
        return Err(ExposureError::OutOfRange { what, rule: "above 0", found });
    }
    if !METERED_S.contains(&question.metered_s) {
        let (what, rule) = (METERED_TIME, "from 0.000001 to 1000000");
        return Err(ExposureError::OutOfRange { what, rule, found: question.metered_s });
    }
    let lost = question.extension_stops;
    if !(lost.value.is_finite() && lost.plus_minus.is_finite()) {
        let (what, rule) = ("the light that the set-up loses, in stops,", "a finite number");
        return Err(ExposureError::OutOfRange { what, rule, found: question.extension_stops.value });
    }
    if !(0.0..=MOST_FILTER_STOPS).contains(&question.filter_stops) {
        let (what, rule) = ("the light that filters take, in stops,", "0 or more and at most 40");
        return Err(ExposureError::OutOfRange { what, rule, found: question.filter_stops });
    }
    Ok(())
}

const METERED_TIME: &str = "the metered time in seconds";

/// Figures that are possible each by itself can make an impossible time together: the one that does most is named.
fn check_time(question: &Question<'_>, aperture_stops: f64, time_s: Estimate) -> Result<(), ExposureError> {
    if TIMES_S.contains(&time_s.value) && time_s.plus_minus.is_finite() {
        return Ok(());
    }
    let shares = [
        (METERED_TIME, question.metered_s, question.metered_s.log2()),
        ("an f-number", question.f_number, aperture_stops),
        ("a loss in the set-up, in stops,", question.extension_stops.value, question.extension_stops.value),
        ("a loss in filters, in stops,", question.filter_stops, question.filter_stops),
    ];
    // Toward the side on which the time is wrong.
    let side = if time_s.value < *TIMES_S.start() { -1.0 } else { 1.0 };
    let most = shares.into_iter().max_by(|p, q| (side * p.2).total_cmp(&(side * q.2)));
    let (what, found) = most.map_or((METERED_TIME, question.metered_s), |(what, found, _)| (what, found));
    Err(ExposureError::Absurd { what, found, time_s: time_s.value })
}

/// A flash of known guide number, and what stands between it and the film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flash {
    /// Guide number in metres, as stated for [`Self::guide_iso`].
    pub guide_number_m: f64,
    /// The speed that the guide number is stated for, usually 100.
    pub guide_iso: f64,
    /// The film's speed.
    pub iso: f64,
    /// Flash to subject, m.
    pub distance_m: f64,
    /// Effective f-number over engraved f-number: 1 + m/P for a lens that is extended.
    pub f_number_factor: f64,
    /// The factor of a filter over the lens: 1 without.
    pub filter_factor: f64,
}

impl Flash {
    /// The engraved f-number to set: the guide number over the distance, with the film's speed and the filter's factor under the root
    /// and the extension taken off: N = GN·√(ISO/ISO₀/F)/(d·(1 + m/P)). The inverse-square law; nearer than about ten times the
    /// reflector's width it overstates the light (common practice, no source). `None` when a figure is not above 0.
    pub fn f_number(&self) -> Option<f64> {
        let all =
            [self.guide_number_m, self.guide_iso, self.iso, self.distance_m, self.f_number_factor, self.filter_factor];
        let real = all.iter().all(|figure| figure.is_finite() && *figure > 0.0);
        real.then(|| {
            let speed = (self.iso / self.guide_iso / self.filter_factor).sqrt();
            self.guide_number_m * speed / (self.distance_m * self.f_number_factor)
        })
    }
}

/// The guide number in feet of a flash of so many beam candlepower seconds, with film of that speed: √(0.05·ISO·BCPS).
pub fn guide_number_feet(iso: f64, beam_candlepower_seconds: f64) -> f64 {
    (0.05 * iso * beam_candlepower_seconds).sqrt()
}

#[cfg(test)]
mod tests;
