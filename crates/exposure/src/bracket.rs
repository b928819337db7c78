//! Which frames to take when one may not be enough.

use crate::answer::{Answer, nearest};
use crate::question::Question;
use film::{Film, Latitude, Tone};

/// Frames that together keep one within what the film forgives, whatever the truth within the doubt.
#[derive(Debug, Clone, PartialEq)]
pub struct Bracket {
    /// The best estimate first, then outwards; the side that is more in doubt first.
    pub frames: Vec<Frame>,
    /// What the film forgives.
    pub latitude: Latitude,
    /// Whether the film's kind was not known, so that it is taken to forgive as little as a slide.
    pub strictest: bool,
    /// How much too dark and too bright the best estimate may come out, stops: below 0 and above 0.
    pub doubt_stops: (f64, f64),
    /// How much of it on either side no frame covers, because there are no more frames; 0 when all is covered.
    pub uncovered_stops: (f64, f64),
}

/// A frame of a bracket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Light against the best estimate, as the film sees it, stops.
    pub stops: f64,
    /// The time at the f-number in use, the film's loss counted anew, s.
    pub time_s: f64,
    /// The nearest speed, s, when the shutter lists any.
    pub set_s: Option<f64>,
    /// What that speed brings against the best estimate, as the film sees it, stops.
    pub set_stops: Option<f64>,
    /// The f-number instead, the time left as it is for the best estimate.
    pub f_number: f64,
}

/// Brackets are set in half stops: what apertures are engraved in, and what a shutter of whole stops and B can add.
const STEP_STOPS: f64 = 0.5;

/// More frames are no bracket.
const MOST_FRAMES: usize = 9;

/// The frames for an answer, at most so many; the doubt is the exposure's own (95 %) and what other sources about the film say.
///
/// A frame with `o` stops more light is right for every truth between −under − o and over − o, so that frames no farther apart than
/// under + over leave no gap. The best estimate is always among them.
pub fn bracket(question: &Question<'_>, answer: &Answer, most: usize) -> Bracket {
    let tone = question.film.and_then(|film| film.tone);
    let latitude = tone.unwrap_or(Tone::Reversal).latitude();
    let (low, high) = doubt(answer);
    // A hair's breadth for a doubt of exactly the latitude.
    let up = offsets(-low - latitude.under - 1e-9, latitude);
    let down = offsets(high - latitude.over - 1e-9, latitude);
    let darker_first = -low - latitude.under >= high - latitude.over;
    let mut wanted = vec![0.0];
    for at in 0..up.len().max(down.len()) {
        let pair = [up.get(at).copied(), down.get(at).map(|stops| -stops)];
        wanted.extend(if darker_first { pair } else { [pair[1], pair[0]] }.into_iter().flatten());
    }
    wanted.truncate(most.clamp(1, MOST_FRAMES));
    let most_light = wanted.iter().copied().fold(0.0, f64::max);
    let least_light = wanted.iter().copied().fold(0.0, f64::min);
    Bracket {
        frames: wanted.into_iter().map(|stops| frame(question, answer, stops)).collect(),
        latitude,
        strictest: tone.is_none(),
        doubt_stops: (low, high),
        uncovered_stops: (
            (-low - latitude.under - most_light - 1e-9).max(0.0),
            (high - latitude.over + least_light - 1e-9).max(0.0),
        ),
    }
}

/// How much too dark and too bright the best estimate may come out.
fn doubt(answer: &Answer) -> (f64, f64) {
    let own = answer.delivered_doubt_stops();
    let others = answer.others.iter().map(|other| other.delivered_stops);
    others.fold((-own, own), |(low, high), other| (low.min(other - own), high.max(other + own)))
}

/// Steps away from the best estimate that cover so many stops beyond it, evenly spread.
fn offsets(beyond: f64, latitude: Latitude) -> Vec<f64> {
    if beyond <= 0.0 || !beyond.is_finite() {
        return Vec::new();
    }
    let widest = (((latitude.under + latitude.over) / STEP_STOPS).floor() * STEP_STOPS).max(STEP_STOPS);
    let count = (beyond / widest).ceil().min(MOST_FRAMES as f64);
    let step = |at: usize| ((beyond * at as f64 / count) / STEP_STOPS).ceil() * STEP_STOPS;
    (1..=count as usize).map(step).collect()
}

fn frame(question: &Question<'_>, answer: &Answer, stops: f64) -> Frame {
    let law = question.film.and_then(Film::law);
    let needed = answer.needed_s.value * stops.exp2();
    let time_s = law.map_or(needed, |law| law.given(needed).time_s);
    let set_s = nearest(question.shutter_s, time_s);
    Frame {
        stops,
        time_s,
        set_s,
        set_stops: set_s.map(|set| answer.delivered_stops(question.film, set)),
        f_number: question.f_number * (-0.5 * stops).exp2(),
    }
}
