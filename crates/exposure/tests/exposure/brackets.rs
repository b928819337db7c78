//! Brackets cover the doubt, whatever the truth is; no more frames than that takes.

use exposure::{Bracket, Question, Reading, bracket, expose};
use film::{Film, Tone, shipped};
use optics::Estimate;
use testkit::assert_close;

fn base(tone: Option<Tone>) -> Film {
    Film { tone, laws: Vec::new(), ..shipped().film("fp4-plus").unwrap().clone() }
}

fn question(doubt: f64, film: &Film) -> Question<'_> {
    Question {
        metered_s: 0.125,
        metered_f_number: 16.0,
        reading: Reading::Incident,
        reading_doubt_stops: doubt,
        f_number: 16.0,
        extension_stops: Estimate::exact(0.0),
        filter_stops: Estimate::exact(0.0),
        film: Some(film),
        shutter_s: &[1.0, 0.5, 0.25, 0.125, 0.0625],
        bulb: true,
    }
}

fn of(question: &Question<'_>, most: usize) -> Bracket {
    bracket(question, &expose(question).unwrap(), most)
}

fn offsets(found: &Bracket) -> Vec<f64> {
    found.frames.iter().map(|frame| frame.stops).collect()
}

#[test]
fn frames_for_a_doubt() {
    let (negative, reversal) = (base(Some(Tone::Negative)), base(Some(Tone::Reversal)));
    // Common practice, no source: −1 to +2, ±1/3. By hand: a doubt of 1 stop lies within the negative's latitude; 1.4 leaves 0.4 on the
    // dark side, which one frame with half a stop more covers. A slide's 2/3 are covered in half stops.
    let table = [
        (&negative, 0.3, vec![0.0]),
        (&negative, 1.0, vec![0.0]),
        (&negative, 1.4, vec![0.0, 0.5]),
        (&negative, 2.5, vec![0.0, 1.5, -0.5]),
        (&reversal, 0.3, vec![0.0]),
        (&reversal, 0.5, vec![0.0, 0.5, -0.5]),
        (&reversal, 1.0, vec![0.0, 0.5, -0.5, 1.0, -1.0]),
    ];
    for (film, doubt, expected) in table {
        let found = of(&question(doubt, film), 9);
        assert_eq!(offsets(&found), expected, "{:?} ± {doubt}", film.tone);
        assert_eq!(found.uncovered_stops, (0.0, 0.0));
    }
    let unknown = of(&question(0.5, &base(None)), 9);
    assert!(unknown.strictest && unknown.frames.len() == 3, "unknown films are treated as slides");
}

#[test]
fn whatever_the_truth_one_frame_is_right() {
    for tone in [Tone::Negative, Tone::Reversal] {
        let film = base(Some(tone));
        let latitude = tone.latitude();
        for step in 0..60 {
            let doubt = f64::from(step) * 0.03;
            let found = of(&question(doubt, &film), 9);
            for at in -50..=50 {
                let truth = doubt * f64::from(at) / 50.0;
                let right =
                    |stops: &f64| stops + truth >= -latitude.under - 1e-6 && stops + truth <= latitude.over + 1e-6;
                assert!(offsets(&found).iter().any(right), "{tone:?} ± {doubt}, truth {truth}: {:?}", offsets(&found));
            }
        }
    }
}

#[test]
fn too_few_frames_say_what_they_leave_open() {
    let reversal = base(Some(Tone::Reversal));
    let found = of(&question(1.0, &reversal), 3);
    assert_eq!(offsets(&found), [0.0, 0.5, -0.5]);
    // From ±1 the middle three cover 0.5 + 1/3 either way.
    assert_close!(found.uncovered_stops.0, 1.0 - 0.5 - 1.0 / 3.0, absolute = 1e-6);
    assert_close!(found.uncovered_stops.1, 1.0 - 0.5 - 1.0 / 3.0, absolute = 1e-6);
    assert_eq!(of(&question(1.0, &reversal), 0).frames.len(), 1, "the best estimate is always there");
}

#[test]
fn frames_are_given_as_times_speeds_and_apertures() {
    let reversal = base(Some(Tone::Reversal));
    let found = of(&question(0.5, &reversal), 9);
    for (frame, stops) in found.frames.iter().zip([0.0, 0.5, -0.5f64]) {
        assert_close!(frame.time_s, 0.125 * stops.exp2(), relative = 1e-12);
        // Half a stop more is f/16/√√2.
        assert_close!(frame.f_number, 16.0 * (-stops / 2.0).exp2(), relative = 1e-12);
    }
    assert_eq!(found.frames[0].set_s, Some(0.125));
    assert_close!(found.frames[0].set_stops.unwrap(), 0.0, absolute = 1e-9);
}

#[test]
fn each_frame_gets_its_own_loss_and_sources_that_disagree_widen_it() {
    // HP5 Plus, 10 s: HARMAN's 20.4 s; half a stop more is (10·√2)^1.31. The independent test finds 20.4 s 0.4 stops too much.
    let reversal = Film { tone: Some(Tone::Reversal), ..shipped().film("hp5-plus").unwrap().clone() };
    let found = of(&Question { metered_s: 10.0, ..question(0.2, &reversal) }, 9);
    assert!(found.doubt_stops.1 > 0.5 && found.doubt_stops.0 > -0.25, "{:?}", found.doubt_stops);
    assert_eq!(offsets(&found), [0.0, -0.5]);
    assert_close!(found.frames[1].time_s, (10.0 * (-0.5f64).exp2()).powf(1.31), relative = 1e-9);
    // A maker who gives no figure: as much may be missing as other films lose, so toward more light.
    let ektar = Film { tone: Some(Tone::Negative), ..shipped().film("ektar-100").unwrap().clone() };
    let found = of(&Question { metered_s: 10.0, ..question(0.0, &ektar) }, 9);
    assert!(offsets(&found).iter().any(|stops| *stops >= 1.0), "{:?}", offsets(&found));
}
