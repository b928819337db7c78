//! What cannot be sharp, and which way the remedy lies.

use crate::common::{BENCH, is_one_sentence, look, read, report_of, request, value, warned};
use kit::{Demand, Focus, Limits, reach};
use optics::Figure;
use testkit::assert_close;

fn refused(text: &str, parts: &str, focus: Focus) -> String {
    let words = report_of(&read(text), &request(parts, focus)).expect_err(parts).to_string();
    assert!(is_one_sentence(&words), "{words}");
    words
}

fn built_for(register: &str) -> String {
    BENCH.replace("focal_length_mm = 100", &format!("focal_length_mm = 100\nregister_mm = {register}"))
}

#[test]
fn a_lens_for_a_longer_register_needs_more_extension() {
    // Built for 90 mm on a body of 80 mm: 10 mm are missing, and 30 mm of tube leave 20 mm, m = 20/100.
    let text = built_for("90");
    let words = refused(&text, "body,lens", Focus::Infinity);
    assert!(words.contains("10.0 mm too near the film") && words.contains("add at least that much"), "{words}");
    assert!(words.contains("90 mm") && words.contains("80 mm") && !words.contains("away"), "{words}");
    let words = refused(&text, "body,lens", Focus::Travel(4.0));
    assert!(words.contains("6.0 mm too near"), "travel counts: {words}");
    let report = look(&text, "body,tube,lens", Focus::Infinity);
    assert_close!(value(&report, Figure::Magnification), 0.2, relative = 1e-9);
    // Reversed with H' 18 mm nearer the film than f: the register it was built for has no part in it.
    let long = BENCH.replace("focal_length_mm = 100", "focal_length_mm = 180\nregister_mm = 90");
    let words = refused(&long, "body,flat-ring,lens", Focus::Infinity);
    assert!(words.contains("too near the film") && !words.contains("built for"), "{words}");
}

#[test]
fn too_much_power_in_front_takes_away() {
    // Extended to 1.5x the plane lies 100(1 + 1/1.5) = 167 mm from H, so 133 mm from the rim; a close-up lens 200 mm in
    // front of it lies beyond that plane.
    let text = BENCH.replace("gap_mm = 5", "gap_mm = 200");
    let words = refused(&text, "body,bellows=150,lens,four", Focus::Infinity);
    assert!(words.contains("take extension or a close-up lens away") && !words.contains("add"), "{words}");
}

#[test]
fn registers_that_agree_within_their_uncertainty_meet_at_infinity() {
    // 0.1 mm either way on both: 0.14 together.
    for register in ["80.05", "79.95", "80.14", "79.86"] {
        let report = look(&built_for(register), "body,lens", Focus::Infinity);
        assert_close!(value(&report, Figure::Magnification), 0.0, absolute = 0.0, "{register}");
        assert_eq!(report.figures.get(Figure::SubjectToFilm), None, "{register}");
    }
    assert!(refused(&built_for("80.2"), "body,lens", Focus::Infinity).contains("0.2 mm too near"));
    let exact = refused(&built_for("{ value = 80.15, plus_minus = 0 }"), "body,lens", Focus::Infinity);
    assert!(exact.contains("too near"), "{exact}");
    let short = look(&built_for("79.5"), "body,lens", Focus::Infinity);
    assert_close!(value(&short, Figure::Magnification), 0.005, relative = 1e-9);
}

#[test]
fn the_nearest_distance_there_is_tells_no_magnification() {
    let marked = |distance: &str| {
        BENCH
            .replace("principal_separation_mm = 6", "principal_separation_mm = 0")
            .replace("max_magnification = 0.2", &format!("close_focus_mm = {distance}"))
    };
    for distance in ["400", "400.5"] {
        let words = refused(&marked(distance), "body,lens", Focus::Closest);
        for needle in ["\"lens\"", "close_focus_mm", "400.0 mm", "add max_magnification"] {
            assert!(words.contains(needle), "{needle}: {words}");
        }
        // Nothing else depends on it.
        look(&marked(distance), "body,tube,lens", Focus::Infinity);
    }
    // By hand at 450 mm: k = 2.5, m = 1/2.
    let report = look(&marked("450"), "body,lens", Focus::Closest);
    assert_close!(value(&report, Figure::Magnification), 0.5, relative = 1e-9);
    // The same distance with the magnification beside it is no riddle.
    let both = marked("400\nmax_magnification = 1");
    assert_close!(value(&look(&both, "body,lens", Focus::Closest), Figure::Magnification), 1.0, relative = 1e-9);
}

#[test]
fn a_far_subject_touches_nothing() {
    // Marked for 1 m and moved 0.2 mm: 100²/0.2 = 50 m, uncertain by more than itself.
    let report = look(BENCH, "body,lens", Focus::Travel(0.2));
    let distance = report.figures.get(Figure::WorkingDistance).unwrap();
    assert!(distance.value > 40_000.0 && distance.plus_minus > distance.value, "{distance:?}");
    assert!(!warned(&report).iter().any(|warning| warning.contains("touch")), "{:?}", warned(&report));
}

#[test]
fn a_lens_asked_for_as_a_body() {
    let kit = read(BENCH);
    let asked = |id: &str| {
        let demand = Demand { body: Some(id.into()), ..Demand::default() };
        reach(&kit, &demand).unwrap_err().to_string()
    };
    assert!(asked("lens").contains("\"lens\" is a lens, not a body; give body"), "{}", asked("lens"));
    assert!(asked("boddy").contains("did you mean \"body\""), "{}", asked("boddy"));
}

#[test]
fn misses_name_something_simple_or_say_that_it_is_out_of_reach() {
    let kit = read(BENCH);
    let why = |m: f64, parts: &[&str]| {
        let none = Limits { tubes: 0, bellows: 0, close_ups: 0, ..Limits::default() };
        let demand = Demand { magnification: Some(m), limits: none, ..Demand::default() };
        let misses = reach(&kit, &demand).unwrap().misses;
        misses.into_iter().find(|miss| miss.parts == parts).unwrap_or_else(|| panic!("{parts:?}")).why
    };
    // The lens travels 20 mm: at 0.355x 15.5 mm are missing, at infinity focus 35.5 mm; a tube of whole millimetres
    // between the two leaves the rest to the travel.
    let lens = ["body", "lens"];
    assert!(why(0.355, &lens).contains("; a tube of 16 to 35 mm would do"), "{}", why(0.355, &lens));
    // 1 mm is missing, but no tube is as thin as that: from 5 mm on, up to 21.
    assert!(why(0.21, &lens).contains("; a tube of 5 to 21 mm would do"), "{}", why(0.21, &lens));
    // Reversed nothing moves: the length itself. v = 80 + 34 = 114, m = 0.14 (flat ring); 0.5 needs 36 mm more.
    let reversed = why(0.5055, &["body", "flat-ring", "lens"]);
    assert!(reversed.contains("36.5 mm more extension would do") || reversed.contains("36.6 mm"), "{reversed}");
    // 13x with 100 mm: 1.3 m of extension.
    let far = why(13.0, &["body", "lens"]);
    assert!(far.contains("out of reach with this lens") && !far.contains("mm more"), "{far}");
}
