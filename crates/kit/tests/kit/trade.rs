//! What everyone who works close up knows. Common practice, no source.

use crate::common::{BENCH, look, report_of, request, value};
use kit::{Focus, Kit};
use optics::Figure;
use testkit::assert_close;

/// A body, the lens given, 98 mm of tube, a +2 close-up lens and a reversing ring.
fn drawer(lens: &str) -> String {
    format!(
        r#"
[[body]]
id = "body"
frame_mm = [56, 56]
register_mm = 80
mount = "m"
[[lens]]
id = "lens"
mount = "m"
max_aperture = 4
thread_mm = 58
{lens}
[[tube]]
id = "tube-98"
mount = "m"
length_mm = 98
[[close_up_lens]]
id = "plus-two"
power_dpt = 2
thread_mm = 58
[[reversing_ring]]
id = "ring"
mount = "m"
thread_mm = 58
[[bellows]]
id = "bellows"
mount = "m"
draw_mm = [30, 250]
"#
    )
}

#[test]
fn a_135_that_reaches_a_third_by_itself_comes_to_life_size_with_98_mm() {
    let text = drawer("focal_length_mm = 135\nlength_mm = 95\nmax_magnification = 0.3125");
    let alone = look(&text, "body,lens", Focus::Closest);
    assert_close!(value(&alone, Figure::Magnification), 1.0 / 3.2, relative = 1e-12);
    let long = look(&text, "body,tube-98,lens", Focus::Closest);
    assert_close!(value(&long, Figure::Magnification), 1.0, absolute = 0.05);
}

#[test]
fn a_105_that_focuses_to_a_metre() {
    let text = drawer("focal_length_mm = 105\nlength_mm = 75\nclose_focus_mm = 1000");
    let with_glass = look(&text, "body,lens,plus-two", Focus::Closest);
    assert_close!(value(&with_glass, Figure::Magnification), 0.36, absolute = 0.015);
    let with_tube = look(&text, "body,tube-98,lens", Focus::Closest);
    assert_close!(value(&with_tube, Figure::Magnification), 1.0, absolute = 0.1);
    let alone = look(&text, "body,lens", Focus::Closest);
    assert_close!(value(&alone, Figure::SubjectToFilm), 1000.0, relative = 1e-9);
}

#[test]
fn a_reversed_lens_never_stands_nearer_than_about_its_register() {
    for (f, length) in [(50.0, 40.0), (80.0, 60.0), (100.0, 70.0), (60.0, 90.0)] {
        let text = drawer(&format!("focal_length_mm = {f}\nlength_mm = {length}\npupil_ratio = 1.2"));
        let mut nearest = f64::INFINITY;
        for draw in [30.0, 60.0, 120.0, 250.0] {
            let parts = format!("body,bellows={draw},ring,lens");
            let Ok(report) = report_of(&Kit::parse(&text).unwrap(), &request(&parts, Focus::Infinity)) else {
                continue;
            };
            let distance = value(&report, Figure::WorkingDistance);
            assert!(distance > 80.0, "{f} mm at {draw}: {distance}");
            assert!(distance < nearest, "more draw comes nearer");
            nearest = distance;
        }
        // At life size and beyond it is near to that: register + f/m.
        assert!(nearest < 80.0 + f, "{f} mm: {nearest}");
    }
}

#[test]
fn a_close_up_lens_at_infinity_costs_no_light() {
    for pupil_ratio in [0.6, 1.0, 1.7] {
        let text = drawer(&format!("focal_length_mm = 80\nlength_mm = 60\npupil_ratio = {pupil_ratio}"));
        let report = look(&text, "body,lens,plus-two", Focus::Infinity);
        assert_close!(value(&report, Figure::ExposureStops), 0.0, absolute = 1e-9);
        assert_close!(value(&report, Figure::Magnification), 0.16, relative = 1e-9);
        assert_close!(value(&report, Figure::WorkingDistance), 500.0, relative = 1e-9);
    }
}

#[test]
fn life_size_costs_two_stops_with_a_symmetrical_lens() {
    let text = drawer("focal_length_mm = 98\nlength_mm = 60\npupil_ratio = 1");
    let report = look(&text, "body,tube-98,lens", Focus::Infinity);
    assert_close!(value(&report, Figure::Magnification), 1.0, relative = 1e-12);
    assert_close!(value(&report, Figure::ExposureStops), 2.0, relative = 1e-12);
    assert_close!(value(&report, Figure::FieldHeight), 56.0, relative = 1e-12);
}

#[test]
fn at_infinity_a_lens_has_the_frame_of_a_landscape() {
    let report = look(BENCH, "body,lens", Focus::Infinity);
    let magnification = report.figures.get(Figure::Magnification).unwrap();
    assert_close!(magnification.value, 0.0, absolute = 0.0);
    assert_eq!(magnification.half_width(), None, "infinitely far is a statement, not a reading");
    assert_close!(value(&report, Figure::EffectiveFNumber), 4.0, relative = 1e-12);
    for figure in [Figure::SubjectToFilm, Figure::WorkingDistance, Figure::FieldWidth, Figure::DepthFar] {
        assert_eq!(report.figures.get(figure), None, "{}", figure.label());
    }
}
