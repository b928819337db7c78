//! How parts are placed, by hand: own calculation from the written rules, with thin lenses imaged one after another
//! (1/s + 1/s' = 1/f; Jacobson, *Photographic Lenses FAQ*, 1995, Q4).

use crate::common::{BENCH, look, read, report_of, request, value};
use kit::{Focus, SetupRequest};
use optics::Figure;
use testkit::assert_close;

/// Figures that must be as worked out by hand.
fn check(text: &str, parts: &str, focus: Focus, expected: &[(Figure, f64)]) {
    let report = look(text, parts, focus);
    for &(figure, by_hand) in expected {
        assert_close!(value(&report, figure), by_hand, relative = 1e-11, "{parts}: {}", figure.label());
    }
}

/// A close-up lens of `dpt` that lets what lies `a` in front of it see the subject: distance and growth.
fn through_close_up(dpt: f64, a: f64) -> (f64, f64) {
    let power = dpt / 1000.0;
    (1.0 / (power + 1.0 / a), 1.0 + power * a)
}

#[test]
fn tube_and_travel() {
    // Extension 40: m = 0.4, u = 350 from H; H' at 140, H at 146, rim at 80 + 30 + 60 + 10 = 180.
    let expected = [
        (Figure::Extension, 40.0),
        (Figure::Magnification, 0.4),
        (Figure::SubjectToFilm, 350.0 + 146.0),
        (Figure::WorkingDistance, 350.0 + 146.0 - 180.0),
        (Figure::EffectiveFNumber, 4.0 * (1.0 + 0.4 / 0.8)),
        (Figure::ExposureStops, 2.0 * 1.5f64.log2()),
        (Figure::FieldWidth, 140.0),
        (Figure::AiryDiameter, 2.44 * 0.55 * 6.0),
    ];
    check(BENCH, "body,tube,lens", Focus::Travel(10.0), &expected);
    // The draw of a bellows is the distance between its mount faces: 70 mm are 30 of tube and 40 of draw.
    let expected = [(Figure::Extension, 70.0), (Figure::Magnification, 0.7)];
    check(BENCH, "body,tube,bellows=40,lens", Focus::Infinity, &expected);
    check(BENCH, "body,bellows=40,tube,lens", Focus::Infinity, &expected);
}

#[test]
fn a_close_up_lens_lies_its_gap_in_front_of_the_rim() {
    // Tube 30 and travel 10 as above; the glass, 3 mm in front of the rim, is 37 mm in front of H.
    let (distance, growth) = through_close_up(2.0, 350.0 - 37.0);
    let expected = [
        (Figure::WorkingDistance, distance),
        (Figure::Magnification, 0.4 * growth),
        (Figure::SubjectToFilm, 183.0 + distance),
        (Figure::EffectiveFNumber, 6.0),
        (Figure::Extension, 40.0),
    ];
    check(BENCH, "body,tube,lens,two", Focus::Travel(10.0), &expected);
}

#[test]
fn each_further_close_up_lens_lies_its_own_gap_before_the_one_behind() {
    // "two" 3 mm before the rim, then "four" 5 mm before that; the other way round "four" 5 mm before the rim and "two"
    // 3 mm before it.
    for (parts, inner, inner_gap, outer, outer_gap) in
        [("two,four", 2.0, 3.0, 4.0, 5.0), ("four,two", 4.0, 5.0, 2.0, 3.0)]
    {
        let (to_inner, first) = through_close_up(inner, 350.0 - 34.0 - inner_gap);
        let (distance, second) = through_close_up(outer, to_inner - outer_gap);
        let expected = [
            (Figure::WorkingDistance, distance),
            (Figure::Magnification, 0.4 * first * second),
            (Figure::SubjectToFilm, 180.0 + inner_gap + outer_gap + distance),
        ];
        check(BENCH, &format!("body,tube,lens,{parts}"), Focus::Travel(10.0), &expected);
    }
}

#[test]
fn a_reversing_ring_puts_the_rim_its_thickness_before_the_mount_face() {
    // Rim at 80 + 30 + 4 = 114, 34 mm behind H, which now faces the film: v = 148, m = 0.48. The seat that faces the
    // subject lies 60 in front of the rim, at 174; the other principal plane at 154.
    let u = 100.0 * (1.0 + 1.0 / 0.48);
    let expected = [
        (Figure::Magnification, 0.48),
        (Figure::SubjectToFilm, 154.0 + u),
        (Figure::WorkingDistance, u - 20.0),
        (Figure::EffectiveFNumber, 4.0 * (1.0 / 0.8 + 0.48)),
        (Figure::Extension, 30.0),
    ];
    check(BENCH, "body,tube,ring,lens", Focus::Infinity, &expected);
    // Without a stated thickness the ring is 0 mm thick: m = 0.44.
    check(BENCH, "body,tube,flat-ring,lens", Focus::Infinity, &[(Figure::Magnification, 0.44)]);
}

#[test]
fn travel_of_a_reversed_lens_moves_its_seat_and_not_its_glass() {
    let still = look(BENCH, "body,bellows=60,ring,lens", Focus::Infinity);
    let moved = look(BENCH, "body,bellows=60,ring,lens", Focus::Travel(15.0));
    for figure in Figure::ALL {
        let change = value(&moved, figure) - value(&still, figure);
        let expected = match figure {
            Figure::WorkingDistance => -15.0,
            // What is summed as extension is tubes, draw and travel, whatever the travel does.
            Figure::Extension => 15.0,
            _ => 0.0,
        };
        assert_close!(change, expected, absolute = 1e-9, "{}", figure.label());
    }
}

#[test]
fn a_lens_built_for_another_register() {
    // Built for 74 on a body of 80: 6 mm of extension that cannot be taken away. m = 0.06, H' at 106.
    let text = BENCH.replace("length_mm = 60", "length_mm = 60\nregister_mm = 74");
    let u = 100.0 * (1.0 + 1.0 / 0.06);
    let expected = [
        (Figure::Magnification, 0.06),
        (Figure::SubjectToFilm, u + 112.0),
        (Figure::WorkingDistance, u + 112.0 - 140.0),
        (Figure::Extension, 0.0),
    ];
    check(&text, "body,lens", Focus::Infinity, &expected);
    // Reversed: rim to H is 60 + 74 − 100 − 6 = 28, v = 80 + 4 + 28 = 112.
    check(&text, "body,ring,lens", Focus::Infinity, &[(Figure::Magnification, 0.12)]);
    // Absent, it is the body's: stating 80 changes nothing but the spread.
    let same = BENCH.replace("length_mm = 60", "length_mm = 60\nregister_mm = 80");
    check(&same, "body,tube,lens", Focus::Infinity, &[(Figure::Magnification, 0.3)]);
}

#[test]
fn depth_counts_from_the_frame_unless_told() {
    // Pupils by hand: m = 0.3, Up = f(1/m + 1/P), E = f/N, C = c/m.
    let kit = read(BENCH);
    for coc_mm in [None, Some(0.03)] {
        let wanted = SetupRequest { coc_mm, f_number: Some(16.0), ..request("body,tube,lens", Focus::Infinity) };
        let report = report_of(&kit, &wanted).unwrap();
        let c: f64 = coc_mm.unwrap_or(56.0 * 2f64.sqrt() / 1500.0) / 0.3;
        let (pupil, opening) = (100.0 * (1.0 / 0.3 + 1.0 / 0.8), 100.0 / 16.0);
        let (near, far) = (pupil * c / (opening + c), pupil * c / (opening - c));
        assert_close!(value(&report, Figure::DepthNear), near, relative = 1e-9);
        assert_close!(value(&report, Figure::DepthFar), far, relative = 1e-9);
        assert_close!(value(&report, Figure::DepthOfField), near + far, relative = 1e-9);
    }
}

#[test]
fn the_f_number_is_the_engraved_one_and_defaults_to_the_widest() {
    let kit = read(BENCH);
    for (asked, engraved) in [(None, 4.0), (Some(4.0), 4.0), (Some(11.0), 11.0), (Some(32.0), 32.0)] {
        let wanted = SetupRequest { f_number: asked, ..request("body,tube,lens", Focus::Infinity) };
        let report = report_of(&kit, &wanted).unwrap();
        let factor = 1.0 + 0.3 / 0.8;
        assert_close!(value(&report, Figure::EffectiveFNumber), engraved * factor, relative = 1e-12);
        assert_close!(value(&report, Figure::ExposureStops), 2.0 * factor.log2(), relative = 1e-12);
    }
}

#[test]
fn the_speeds_of_a_leaf_shutter_replace_those_of_the_body() {
    let body = BENCH.replace("register_mm = 80", "register_mm = 80\nshutter_s = [1, 0.5]\nbulb = true");
    let both = body.replace("max_aperture = 4", "max_aperture = 4\nshutter_s = [0.25, 0.125]");
    for (text, speeds, bulb) in
        [(BENCH, vec![], false), (&body, vec![1.0, 0.5], true), (&both, vec![0.25, 0.125], false)]
    {
        let kit = read(text);
        let setup = kit::Setup::resolve(&kit, &request("body,lens", Focus::Infinity)).unwrap();
        assert_eq!(setup.shutter_s(), speeds);
        assert_eq!(setup.has_bulb(), bulb);
    }
}
