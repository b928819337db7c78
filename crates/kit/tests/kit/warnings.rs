//! What a photographer is told before relying on a set-up: each warning where it belongs, and not elsewhere.

use crate::common::{BENCH, is_one_sentence, read, report_of, request, warned};
use kit::{Focus, SetupRequest};

/// The warnings of a set-up of the bench kit after one change of its text.
fn warnings(change: (&str, &str), parts: &str, focus: Focus, f_number: Option<f64>) -> Vec<String> {
    assert!(BENCH.contains(change.0));
    let kit = read(&BENCH.replace(change.0, change.1));
    warned(&report_of(&kit, &SetupRequest { f_number, ..request(parts, focus) }).unwrap())
}

#[test]
fn each_where_it_belongs() {
    let leaf = ("max_aperture = 4", "max_aperture = 4\nshutter_s = [1]");
    let coupled = ("max_aperture = 4", "max_aperture = 4\niris = \"coupled\"");
    let manual = ("max_aperture = 4", "max_aperture = 4\niris = \"manual\"");
    let small = ("max_aperture = 4", "max_aperture = 4\nimage_circle_mm = 70");
    let no_marks = ("max_magnification = 0.2\n", "");
    let none = ("", "");
    let travel = Focus::Travel(5.0);
    // A frame of 56 by 56 has a diagonal of 79.2 mm: a circle of 70 mm covers it from 13.2 mm of extension on
    // (70·1.132).
    let table = [
        ("stops of f/4 at a third", none, "body,tube,lens", Focus::Infinity, None, None),
        (
            "diffraction at f/32 and 1.8x",
            none,
            "body,tube,bellows=150,lens",
            Focus::Infinity,
            Some(32.0),
            Some("diffraction"),
        ),
        ("leaf shutter, reversed", leaf, "body,tube,ring,lens", Focus::Infinity, None, Some("is reversed")),
        ("leaf shutter, normal", leaf, "body,tube,lens", Focus::Infinity, None, None),
        ("coupled iris on a tube", coupled, "body,tube,lens", Focus::Infinity, None, Some("linkage")),
        ("coupled iris reversed", coupled, "body,ring,lens", Focus::Infinity, None, Some("linkage")),
        ("coupled iris on the body", coupled, "body,lens", Focus::Infinity, None, None),
        ("manual iris on a tube", manual, "body,tube,lens", Focus::Infinity, None, None),
        ("small circle", small, "body,lens", Focus::Infinity, None, Some("image circle")),
        ("small circle, grown", small, "body,tube,lens", Focus::Infinity, None, None),
        ("travel unknown", no_marks, "body,lens", travel, None, Some("not checked")),
        ("travel known", none, "body,lens", travel, None, None),
    ];
    for (name, change, parts, focus, f_number, expected) in table {
        let found = warnings(change, parts, focus, f_number);
        match expected {
            None => assert_eq!(found, Vec::<String>::new(), "{name}"),
            Some(words) => assert!(found.iter().any(|warning| warning.contains(words)), "{name}: {found:?}"),
        }
        assert!(found.iter().all(|warning| is_one_sentence(warning)), "{name}: {found:?}");
    }
}

#[test]
fn a_subject_at_the_glass() {
    // Rim to H is 35 + 80 − 35 = 80 mm. On 27.2 mm of tube u = 35(1 + 35/27.2) = 80.04 mm: 0.04 mm are left, give or
    // take some millimetres. On 20 mm u = 96 mm: 16 mm are left.
    let short = BENCH
        .replace("focal_length_mm = 100", "focal_length_mm = { value = 35, plus_minus = 0.1 }")
        .replace("length_mm = 60", "length_mm = 35")
        .replace("principal_separation_mm = 6", "principal_separation_mm = 0");
    for (tube, expected) in [("27.2", true), ("20", false)] {
        let kit = read(&short.replace("length_mm = 30", &format!("length_mm = {tube}")));
        let found = warned(&report_of(&kit, &request("body,tube,lens", Focus::Infinity)).unwrap());
        assert_eq!(found.iter().any(|warning| warning.contains("may touch")), expected, "{found:?}");
    }
}

#[test]
fn a_far_limit_close_to_infinity() {
    // The far limit becomes infinite at m = c·N/f = 0.0528·32/100 = 0.0169; 1.72 mm of travel give 0.0172, 10 mm 0.1.
    for (travel, expected) in [(1.72, true), (10.0, false)] {
        let wanted = SetupRequest { f_number: Some(32.0), ..request("body,lens", Focus::Travel(travel)) };
        let found = warned(&report_of(&read(BENCH), &wanted).unwrap());
        assert_eq!(found.iter().any(|warning| warning.contains("far limit")), expected, "{found:?}");
    }
}

#[test]
fn a_converter_that_cannot_form_an_image() {
    // Factor 2, length L, built for a register of 100 on a body of 80: d = 100 − L, so that the glass lies 80 + L − d = 2L − 20 in
    // front of the film: 30 mm for L = 25, and 4 mm behind it for L = 8.
    for (length, behind) in [(25, None), (8, Some("4.0 mm behind the film"))] {
        let converter = format!(
            "[[teleconverter]]\nid = \"double\"\nmount = \"m\"\nfactor = 2\nlength_mm = {length}\nregister_mm = 100\n"
        );
        let kit = read(&(BENCH.to_string() + &converter));
        let found = warned(&report_of(&kit, &request("body,double,tube,lens", Focus::Infinity)).unwrap());
        let said = found.iter().find(|words| words.contains("cannot form an image"));
        assert_eq!(said.is_some(), behind.is_some(), "{found:?}");
        if let (Some(said), Some(behind)) = (said, behind) {
            assert!(said.contains(behind) && said.contains("\"double\"") && said.contains("register_mm"), "{said}");
        }
    }
}
