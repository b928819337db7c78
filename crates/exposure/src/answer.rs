//! The exposure, step by step.

use crate::check::{ExposureError, check, check_time};
use crate::question::{Question, Reading};
use crate::remark::{Forgiven, Remark};
use film::{By, Film, Form, Given, Law, Where, shipped};
use optics::Estimate;

/// One thing that stands between the meter and the film.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// The meter's reading.
    Meter,
    /// How it was held.
    Reading,
    /// From the metered f-number to the one in use.
    Aperture,
    /// What the set-up loses.
    Extension,
    /// What filters take.
    Filters,
    /// What the film loses in long exposures.
    Film,
}

/// A step on the way, and the time after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Which.
    pub stage: Stage,
    /// Light that it costs, stops; below 0 it gives light.
    pub stops: Estimate,
    /// The time after it, s.
    pub time_s: Estimate,
}

/// What another source says of the film at this exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherLaw {
    /// "Kodak F-4016".
    pub document: String,
    /// "Kodak F-4016, October 2007, p. 5".
    pub source: String,
    /// How it was seen.
    pub standing: &'static str,
    /// What it gives, s.
    pub time_s: f64,
    /// Against the one that is used, stops: above 0 it gives more light.
    pub stops: f64,
    /// What it makes of the exposure that is given, stops: below 0 it comes out too dark.
    pub delivered_stops: f64,
    /// Whether its range covers the exposure.
    pub place: Where,
}

/// The exposure.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// The meter's reading, s.
    pub metered_s: f64,
    /// Light to give besides for how the meter was held, stops.
    pub reading_stops: Estimate,
    /// Stops between the metered f-number and the one in use; positive when stopped down.
    pub aperture_stops: f64,
    /// Light lost in the set-up, stops.
    pub extension_stops: Estimate,
    /// Light lost in filters, stops.
    pub filter_stops: Estimate,
    /// What the film loses in long exposures, stops; 0 where no film is named.
    pub reciprocity_stops: Estimate,
    /// The time before the film's loss, s.
    pub needed_s: Estimate,
    /// The exact answer, s.
    pub time_s: Estimate,
    /// What the film's law gave, where there is one.
    pub given: Option<Given>,
    /// The other sources about the film.
    pub others: Vec<OtherLaw>,
    /// Every step with the time after it.
    pub steps: Vec<Step>,
    /// The nearest speed, s, when the shutter lists any.
    pub set_s: Option<f64>,
    /// That speed against the exact answer, stops of time: positive is too much light.
    pub set_error_stops: Option<Estimate>,
    /// The same as the film sees it: a time longer by a stop brings less than a stop where the film loses speed.
    pub delivered_error_stops: Option<Estimate>,
    /// Whether the film forgives it; `None` where its kind is not known or nothing is set.
    pub forgiven: Option<Forgiven>,
    /// What to know before pressing the release.
    pub remarks: Vec<Remark>,
}

/// A difference that slide film shows (common practice, no source): a third of a stop.
const VISIBLE_STOPS: f64 = 1.0 / 3.0;

/// From here on films differ and lose speed (ILFORD's sheet begins at 1 s; common practice).
const LONG_S: f64 = 1.0;

/// Sources apart by less are taken to agree: what a table printed in thirds of a stop leaves open.
const AGREE_STOPS: f64 = 1.0 / 6.0;

/// From this loss on it is said that a larger stop saves it.
const MUCH_LOST_STOPS: f64 = 1.0;

/// The exposure for a reading.
///
/// log₂ t = log₂ metered + reading + 2·log₂(N/N_metered) + extension + filters, and then the film's law of t. Doubts add in quadrature (JCGM
/// 100:2008, 5.1.2); the law passes on its slope's share of what stands before it and adds what its print leaves open.
pub fn expose(question: &Question<'_>) -> Result<Answer, ExposureError> {
    check(question)?;
    let mut way = Way::from(question);
    let aperture_stops = 2.0 * (question.f_number / question.metered_f_number).log2();
    let reading = Estimate { value: question.reading.stops(), plus_minus: question.reading_doubt_stops };
    way.add(Stage::Reading, reading);
    way.add(Stage::Aperture, Estimate::exact(aperture_stops));
    way.add(Stage::Extension, question.extension_stops);
    way.add(Stage::Filters, question.filter_stops);
    let needed_s = way.time();
    check_time(question, needed_s)?;
    let given = question.film.and_then(Film::law).map(|law| law.given(needed_s.value));
    let reciprocity_stops = given.map_or(Estimate::exact(0.0), |given| way.lose(&given));
    let time_s = way.time();
    check_time(question, time_s)?;
    let mut answer = Answer {
        metered_s: question.metered_s,
        reading_stops: reading,
        aperture_stops,
        extension_stops: question.extension_stops,
        filter_stops: question.filter_stops,
        reciprocity_stops,
        needed_s,
        time_s,
        given,
        others: others(question.film, needed_s.value, time_s.value),
        steps: way.steps,
        set_s: nearest(question.shutter_s, time_s.value),
        set_error_stops: None,
        delivered_error_stops: None,
        forgiven: None,
        remarks: Vec::new(),
    };
    answer.judge_setting(question);
    answer.remarks = remarks(question, &answer);
    Ok(answer)
}

/// The way from the meter to the film, in stops: logarithm of the time, and the square of its doubt.
struct Way {
    log2_s: f64,
    square: f64,
    steps: Vec<Step>,
}

impl Way {
    fn from(question: &Question<'_>) -> Self {
        let mut way = Self { log2_s: question.metered_s.log2(), square: 0.0, steps: Vec::new() };
        way.note(Stage::Meter, Estimate::exact(0.0));
        way
    }

    /// 2^x has slope ln 2 · 2^x.
    fn time(&self) -> Estimate {
        let value = self.log2_s.exp2();
        Estimate { value, plus_minus: value * std::f64::consts::LN_2 * self.square.sqrt() }
    }

    fn note(&mut self, stage: Stage, stops: Estimate) {
        let time_s = self.time();
        self.steps.push(Step { stage, stops, time_s });
    }

    fn add(&mut self, stage: Stage, stops: Estimate) {
        self.log2_s += stops.value;
        self.square += stops.plus_minus.powi(2);
        self.note(stage, stops);
    }

    /// The film's loss at the time so far.
    fn lose(&mut self, given: &Given) -> Estimate {
        let loss = given.time_s.log2() - self.log2_s;
        let own = loss_doubt(given, self.log2_s.exp2());
        // The loss itself is as unsure as the time that it is taken at, by how much it grows with it.
        let stops = Estimate { value: loss, plus_minus: own.hypot((given.slope - 1.0) * self.square.sqrt()) };
        self.log2_s = given.time_s.log2();
        self.square = self.square * given.slope.powi(2) + own.powi(2);
        self.note(Stage::Film, stops);
        stops
    }
}

/// What a law leaves open at a metered time, stops. Where the maker gives no figure, as much may be missing as other films lose.
fn loss_doubt(given: &Given, metered_s: f64) -> f64 {
    match given.place {
        Where::Beyond(_) if given.loss_stops(metered_s) <= 0.0 => {
            shipped().spread(metered_s).map_or(0.0, |(_, most)| most)
        }
        _ => given.plus_minus_stops,
    }
}

fn others(film: Option<&Film>, needed_s: f64, time_s: f64) -> Vec<OtherLaw> {
    let other = |(law, given): (&Law, Given)| OtherLaw {
        document: law.source.document.clone(),
        source: law.source.words(),
        standing: law.source.standing(),
        time_s: given.time_s,
        stops: (given.time_s / time_s).log2(),
        delivered_stops: (law.metered_for(time_s) / needed_s).log2(),
        place: given.place,
    };
    film.map_or_else(Vec::new, |film| film.others(needed_s).into_iter().map(other).collect())
}

/// The speed nearest in stops.
pub(crate) fn nearest(speeds: &[f64], time_s: f64) -> Option<f64> {
    let off = |speed: &f64| (speed / time_s).log2().abs();
    speeds.iter().copied().min_by(|p, q| off(p).total_cmp(&off(q)))
}

impl Answer {
    /// Half-width of the time, in stops of time.
    pub fn time_doubt_stops(&self) -> f64 {
        self.time_s.plus_minus / self.time_s.value / std::f64::consts::LN_2
    }

    /// The same as the film sees it.
    pub fn delivered_doubt_stops(&self) -> f64 {
        self.time_doubt_stops() / self.given.map_or(1.0, |given| given.slope)
    }

    /// What a time brings against what is needed, as the film sees it, stops.
    pub fn delivered_stops(&self, film: Option<&Film>, time_s: f64) -> f64 {
        let metered = film.and_then(Film::law).map_or(time_s, |law| law.metered_for(time_s));
        (metered / self.needed_s.value).log2()
    }

    fn judge_setting(&mut self, question: &Question<'_>) {
        let Some(set) = self.set_s else { return };
        let off = Estimate { value: (set / self.time_s.value).log2(), plus_minus: self.time_doubt_stops() };
        let seen =
            Estimate { value: self.delivered_stops(question.film, set), plus_minus: self.delivered_doubt_stops() };
        self.set_error_stops = Some(off);
        self.delivered_error_stops = Some(seen);
        self.forgiven = question.film.and_then(|film| film.tone).map(|tone| forgiven(seen, tone.latitude()));
    }
}

/// Whether a film of that latitude forgives an error.
pub(crate) fn forgiven(error: Estimate, latitude: film::Latitude) -> Forgiven {
    // A hair's breadth, so that an error of exactly the latitude is not decided by rounding.
    let hair = 1e-9;
    let (low, high) = (error.value - error.plus_minus, error.value + error.plus_minus);
    if low >= -latitude.under - hair && high <= latitude.over + hair {
        Forgiven::Yes
    } else if high < -latitude.under - hair || low > latitude.over + hair {
        Forgiven::No
    } else {
        Forgiven::Perhaps
    }
}

fn remarks(question: &Question<'_>, answer: &Answer) -> Vec<Remark> {
    let mut remarks = Vec::new();
    if matches!(question.reading, Reading::Card { .. }) {
        remarks.push(Remark::HoldTheCard);
    }
    match (question.film, question.film.and_then(Film::law)) {
        (None, _) if answer.time_s.value > LONG_S => remarks.push(Remark::LongExposure),
        (Some(film), None) if answer.time_s.value > LONG_S => remarks.push(Remark::NoLaw(film.name.clone())),
        (Some(film), Some(law)) => remarks.extend(film_remarks(film, law, answer)),
        _ => {}
    }
    if let Some(error) = answer.set_error_stops
        && error.value.abs() > VISIBLE_STOPS
    {
        remarks.push(Remark::FarOff { stops: error.value, bulb: question.bulb });
    }
    remarks
}

fn film_remarks(film: &Film, law: &Law, answer: &Answer) -> Vec<Remark> {
    let mut remarks = Vec::new();
    let Some(given) = answer.given else { return remarks };
    let (place, metered_s) = (given.place, answer.needed_s.value);
    if place != Where::Inside {
        let others = shipped().spread(metered_s);
        remarks.push(Remark::TestIt { film: film.name.clone(), metered_s, place, others });
    }
    if let Form::Table(table) = &law.form
        && law.source.by != By::Own
        && answer.reciprocity_stops.value > 0.0
        && table.rows().iter().all(|row| row.time_s.is_none())
    {
        remarks.push(Remark::TimeFromStops(film.name.clone()));
    }
    let apart = answer.others.iter().filter(|other| other.stops.abs() > AGREE_STOPS);
    remarks.extend(apart.map(|other| Remark::LawsDisagree {
        used: law.source.document.clone(),
        other: other.document.clone(),
        other_s: other.time_s,
        stops: other.stops,
    }));
    if answer.reciprocity_stops.value >= MUCH_LOST_STOPS {
        remarks.push(Remark::OpenUp(answer.reciprocity_stops.value));
    }
    remarks
}
