//! The film's loss: last, by one source, with the others beside it; and what the film forgives.

use exposure::{Answer, Forgiven, Question, Reading, Remark, Stage, expose};
use film::{Film, Tone, Where, shipped};
use optics::Estimate;
use testkit::assert_close;

fn film(id: &str) -> &'static Film {
    shipped().film(id).expect("shipped")
}

fn plain(metered_s: f64, film: &Film) -> Question<'_> {
    Question {
        metered_s,
        metered_f_number: 16.0,
        reading: Reading::Incident,
        reading_doubt_stops: 0.0,
        f_number: 16.0,
        extension_stops: Estimate::exact(0.0),
        filter_stops: Estimate::exact(0.0),
        film: Some(film),
        shutter_s: &[],
        bulb: true,
    }
}

fn of(question: &Question<'_>) -> Answer {
    expose(question).expect("an answer")
}

#[test]
fn reciprocity_comes_after_extension_and_filters() {
    // Own calculation after HARMAN's sheet: 0.5 s, half size (×2.25), filter ×8, exponent 1.26: 9 s, then 9^1.26 = 15.93 s.
    // Applied before the filter it would be (0.5·2.25)^1.26·8 = 9.28 s, and first of all 0.5·2.25·8 = 9 s.
    let question = Question {
        extension_stops: Estimate::exact(2.25f64.log2()),
        filter_stops: Estimate::exact(3.0),
        ..plain(0.5, film("fp4-plus"))
    };
    let answer = of(&question);
    assert_close!(answer.needed_s.value, 9.0, relative = 1e-12);
    assert_close!(answer.time_s.value, 15.934_761_288_705_058, relative = 1e-12);
    assert_close!(answer.reciprocity_stops.value, (15.934_761_288_705_058f64 / 9.0).log2(), relative = 1e-12);
    assert_eq!(answer.steps.last().map(|step| step.stage), Some(Stage::Film));
}

#[test]
fn the_sheets_own_example() {
    // HARMAN's sheet: HP5 Plus metered at 10 s is given 20.4 s.
    assert_close!(of(&plain(10.0, film("hp5-plus"))).time_s.value, 20.4, absolute = 0.05);
}

#[test]
fn sources_that_disagree_are_told_and_not_averaged() {
    // HARMAN's sheet 20.4 s against 14.2 s of independent tests (Photo Techniques, 2003): half a stop.
    let answer = of(&plain(10.0, film("hp5-plus")));
    assert_eq!(answer.others.len(), 1);
    assert_close!(answer.others[0].time_s, 14.2, absolute = 0.05);
    assert_close!(answer.others[0].stops, -0.5, absolute = 0.05);
    // By that source 20.4 s are too much: the reading for which they would be right is longer than 10 s.
    assert!(answer.others[0].delivered_stops > 0.3);
    let told: Vec<_> = answer.remarks.iter().filter(|r| matches!(r, Remark::LawsDisagree { .. })).collect();
    let words = told[0].to_string();
    assert_eq!(told.len(), 1);
    assert!(
        words.contains("14.2 s, 0.5 stops less") && words.contains("HARMAN") && words.contains("Photo Techniques"),
        "{words}"
    );
    // At a second both say nearly nothing.
    assert!(!of(&plain(1.0, film("hp5-plus"))).remarks.iter().any(|r| matches!(r, Remark::LawsDisagree { .. })));
}

#[test]
fn outside_the_figures_it_says_test_it_with_the_best_estimate() {
    // Kodak F-4016, October 2007, p. 5 ends at 100 s.
    let answer = of(&plain(200.0, film("t-max-400")));
    let told = answer
        .remarks
        .iter()
        .find(|r| matches!(r, Remark::TestIt { place: Where::Beyond(_), .. }))
        .expect("told")
        .to_string();
    assert!(told.contains("end at 100 s") && told.contains("test it") && told.contains("best estimate"), "{told}");
    assert!(answer.time_s.value > 600.0);
    // Where the maker gives no figure at all, as much may be missing as other films lose.
    let ektar = of(&plain(10.0, film("ektar-100")));
    assert_close!(ektar.time_s.value, 10.0, relative = 1e-12);
    assert_close!(ektar.reciprocity_stops.plus_minus, shipped().spread(10.0).unwrap().1, relative = 1e-12);
    assert!(!of(&plain(1.0, film("ektar-100"))).remarks.iter().any(|r| matches!(r, Remark::TestIt { .. })));
}

#[test]
fn a_film_replaces_the_warning_about_unknown_films() {
    assert!(!of(&plain(10.0, film("delta-400"))).remarks.contains(&Remark::LongExposure));
    let bare = Film { laws: Vec::new(), ..film("delta-400").clone() };
    assert!(of(&plain(10.0, &bare)).remarks.contains(&Remark::NoLaw("Delta 400".into())));
    assert!(of(&Question { film: None, ..plain(10.0, &bare) }).remarks.contains(&Remark::LongExposure));
    // Loss from a stop on: Kodak E-31, July 2002, p. 1, advises a larger stop.
    let opens = |metered| of(&plain(metered, film("hp5-plus"))).remarks.iter().any(|r| matches!(r, Remark::OpenUp(_)));
    assert!(opens(10.0) && !opens(2.0));
    assert!(of(&plain(2.5, film("apx-100"))).remarks.contains(&Remark::TimeFromStops("APX 100".into())));
}

#[test]
fn doubt_goes_through_the_law_by_its_slope() {
    // t^1.31: a doubt of 0.2 stops before is 0.262 after; 1.31 itself is printed to a hundredth, 0.005·log₂ 10 stops more.
    let question =
        Question { extension_stops: Estimate { value: 0.0, plus_minus: 0.2 }, ..plain(10.0, film("hp5-plus")) };
    let answer = of(&question);
    let print = 0.005 * 10f64.log2();
    assert_close!(answer.time_doubt_stops(), (1.31f64 * 0.2).hypot(print), relative = 1e-9);
    assert_close!(answer.delivered_doubt_stops(), (1.31f64 * 0.2).hypot(print) / 1.31, relative = 1e-9);
    assert_close!(answer.reciprocity_stops.plus_minus, (0.31f64 * 0.2).hypot(print), relative = 1e-9);
}

#[test]
fn whether_the_film_forgives_the_nearest_speed() {
    let speeds = [1.0, 0.5, 0.25];
    let negative = film("fp4-plus");
    let reversal = Film { tone: Some(Tone::Reversal), ..negative.clone() };
    let asked = |metered: f64, film: &Film, doubt: f64| {
        let question = Question { shutter_s: &speeds, reading_doubt_stops: doubt, ..plain(metered, film) };
        of(&question).forgiven
    };
    // Nearest speeds: 0.25 s is 0.4 stops short of 0.33 s, and 1 s is 1.5 short of 2.8 s.
    let (short, far) = (0.25 * 0.4f64.exp2(), 1.5f64.exp2());
    assert_eq!(asked(short, negative, 0.0), Some(Forgiven::Yes));
    assert_eq!(asked(short, &reversal, 0.0), Some(Forgiven::No));
    assert_eq!(asked(short, &reversal, 0.2), Some(Forgiven::Perhaps));
    // Lopsided: too little light by 1.5 stops is not forgiven, too much by 1.5 is (common practice, no source).
    assert_eq!(asked(far, negative, 0.0), Some(Forgiven::No));
    assert_eq!(asked(0.25 * (-1.5f64).exp2(), negative, 0.0), Some(Forgiven::Yes));
    assert_eq!(asked(0.25 * (-2.5f64).exp2(), negative, 0.0), Some(Forgiven::No));
    assert_eq!(asked(0.3, &Film { tone: None, ..negative.clone() }, 0.0), None);
    assert_eq!(of(&plain(0.3, negative)).forgiven, None, "no speeds, nothing to forgive");
}

#[test]
fn a_long_exposure_that_is_off_is_less_off_to_the_film() {
    // HP5 Plus needs 20.4 s for 10 s; 40.8 s would be right for 10·2^(1/1.31): 0.76 stops of light, not one.
    let answer = of(&Question { shutter_s: &[2.0 * 20.417_379_446_695_296], ..plain(10.0, film("hp5-plus")) });
    assert_close!(answer.set_error_stops.unwrap().value, 1.0, relative = 1e-9);
    assert_close!(answer.delivered_error_stops.unwrap().value, 1.0 / 1.31, relative = 1e-9);
}
