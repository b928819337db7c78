//! Rulers drawn from closed forms: bars of known spacing, blurred by a Gaussian and summed over square pixels.

use crate::common::drawn_ruler::Ruler;
use crate::common::{Edge, Noise, grey};
use measure::{ScaleError, ScaleOptions, ScaleRemark, ScaleReport, scale};
use planes::{Linear, Plane};
use testkit::assert_close;

/// Along the marks of a ruler, a little before the first to a little after the last, `rise` pixels up the marks.
fn along(ruler: &Ruler, rise: (f64, f64)) -> ScaleOptions {
    let (first, last) = (ruler.numbers.0 as f64, ruler.numbers.1 as f64);
    ScaleOptions {
        from: ruler.place(first - 0.4, rise.0),
        to: ruler.place(last + 0.4, rise.1),
        tick_mm: 1.0,
        pitch_um: None,
    }
}

fn measured(plane: Plane<Linear>, options: &ScaleOptions, what: &str) -> ScaleReport {
    scale(&grey(plane), options).unwrap_or_else(|why| panic!("{what}: {why}"))
}

fn refusal(plane: Plane<Linear>, options: &ScaleOptions) -> ScaleError {
    match scale(&grey(plane), options) {
        Err(why) => why,
        Ok(report) => panic!("measured {} px/mm from {} marks", report.px_per_mm, report.ticks),
    }
}

fn check(report: &ScaleReport, truth: f64, what: &str) {
    println!("{what}: {:+.4} % ± {:.4} %", 100.0 * (report.px_per_mm / truth - 1.0), 100.0 * report.plus_minus / truth);
    assert_close!(report.px_per_mm, truth, relative = 0.001, "{what}");
    assert_close!(report.px_per_mm, truth, absolute = report.plus_minus, "{what}: outside its interval");
    assert!(report.plus_minus < 0.01 * truth, "{what}: ± {} says nothing", report.plus_minus);
}

fn plain(angle: f64) -> Ruler {
    Ruler { sigma: 1.0, ..Ruler::fitted(angle, 20.0, 31) }
}

fn changed(plane: &Plane<Linear>, change: impl Fn(usize, usize, f32) -> f32) -> Plane<Linear> {
    Plane::from_fn(plane.width(), plane.height(), |c, r| change(c, r, plane.at(c, r))).unwrap()
}

#[test]
fn spacings_from_three_pixels_on_in_any_direction() {
    for (period, marks) in [(3.1, 31), (4.0, 26), (5.37, 21), (9.9, 16), (33.3, 11)] {
        for angle in [0.0, 90.0, 7.0, 38.0, 45.0, 100.0, 180.0, -20.0] {
            let ruler = Ruler { sigma: 0.7, ..Ruler::fitted(angle, period, marks) };
            let what = format!("{period} pixels at {angle} degrees");
            let report = measured(ruler.plane(), &along(&ruler, (0.4 * period, 0.4 * period)), &what);
            check(&report, period, &what);
            assert_eq!(report.ticks, marks as usize, "{what}");
        }
    }
}

#[test]
fn wide_spacings_on_a_large_scan() {
    for (period, marks) in [(120.0, 21), (240.0, 13), (240.0, 6)] {
        let base = Ruler::plain((3100, 220), (120.4, 60.3), 0.7, period, marks);
        let ruler = Ruler { sigma: 1.5, lengths: [120.0, 120.0, 120.0], ..base };
        let what = format!("{period} pixels");
        check(&measured(ruler.plane(), &along(&ruler, (40.0, 40.0)), &what), period, &what);
    }
}

#[test]
fn noise() {
    for (seed, (period, marks)) in [(5.37, 41), (9.9, 31), (33.3, 21)].into_iter().enumerate() {
        let ruler = Ruler { sigma: 0.9, ..Ruler::fitted(12.0, period, marks) };
        let noisy = Noise::new(seed as u64 + 7).added(&ruler.plane(), 0.04);
        let what = format!("{period} pixels under noise");
        check(&measured(noisy, &along(&ruler, (0.4 * period, 0.4 * period)), &what), period, &what);
    }
}

/// Ten times as many pictures with `CLOSEWORK_LONG=1`.
#[test]
fn the_interval_holds_in_about_95_of_100() {
    let seeds: u64 = testkit::short_or_long(40, 400);
    let ruler = Ruler { sigma: 0.9, ..Ruler::fitted(12.0, 9.9, 16) };
    let clean = ruler.plane();
    let within = |seed: u64| {
        let noisy = Noise::new(seed + 90).added(&clean, 0.08);
        let report = measured(noisy, &along(&ruler, (4.0, 4.0)), "noise");
        u64::from((report.px_per_mm - 9.9).abs() <= report.plus_minus)
    };
    let within: u64 = (0..seeds).map(within).sum();
    println!("{within} of {seeds} within the interval");
    let deviation = (0.95 * 0.05 * seeds as f64).sqrt();
    assert!(within as f64 > 0.95 * seeds as f64 - 3.0 * deviation, "only {within} of {seeds}");
}

#[test]
fn a_missing_mark_dirt_shading_and_light_marks() {
    let ruler = plain(5.0);
    let options = along(&ruler, (8.0, 8.0));
    let missing = Ruler { missing: vec![4, 5, 17], ..ruler.clone() };
    let report = measured(missing.plane(), &options, "missing");
    check(&report, 20.0, "missing marks");
    assert_eq!(report.ticks, 28);
    assert!(report.remarks.contains(&ScaleRemark::LeftOut { count: 3 }), "{:?}", report.remarks);

    let (x, y) = ruler.place(10.3, 8.0);
    let near = |c: usize, r: usize| (c as f64 + 0.5 - x).hypot(r as f64 + 0.5 - y) < 18.0;
    let dirty = changed(&ruler.plane(), |c, r, v| if near(c, r) { 0.0 } else { v });
    check(&measured(dirty, &options, "dirt"), 20.0, "dirt");

    let width = ruler.size.0 as f32;
    let shaded = changed(&ruler.plane(), |c, _, v| v * (1.0 - 0.7 * c as f32 / width));
    check(&measured(shaded, &options, "shading"), 20.0, "shading");

    let light = Ruler { ground: 0.1, ink: 0.8, ..ruler.clone() };
    check(&measured(light.plane(), &options, "light"), 20.0, "light marks on dark");
    for width in [1.0, 10.0, 15.0] {
        let bars = Ruler { width, ..ruler.clone() };
        check(&measured(bars.plane(), &options, "bars"), 20.0, &format!("marks {width} pixels wide"));
    }
}

#[test]
fn a_line_drawn_askew_is_corrected_by_the_marks_own_direction() {
    for (degrees, marks) in [(1.0_f64, 31), (4.0, 31), (8.0, 20)] {
        let ruler = Ruler { sigma: 1.0, ..Ruler::fitted(-6.0, 20.0, marks) };
        let rise = degrees.to_radians().tan() * 20.0 * (marks - 1) as f64;
        let up = rise.min(50.0);
        // A line that climbs further than the marks are long covers fewer of them.
        let to = ruler.place(up / rise * (marks - 1) as f64, 2.0 + up);
        let options = ScaleOptions { from: ruler.place(0.0, 2.0), to, tick_mm: 1.0, pitch_um: None };
        let report = measured(ruler.plane(), &options, "askew");
        check(&report, 20.0, &format!("{degrees} degrees askew"));
        assert_close!(report.obliquity_deg.unwrap(), degrees, absolute = 0.15);
    }
}

#[test]
fn the_marks_that_the_line_crosses_count() {
    // Half-millimetre marks half as long as the others: a line near the tips of the long ones sees whole millimetres.
    let full = plain(5.0);
    let halves = Ruler { period: 10.0, numbers: (0, 61), lengths: [20.0; 3], width: 3.0, ..full.clone() }.plane();
    let both = changed(&full.plane(), |c, r, v| v.min(halves.at(c, r)));
    check(&measured(both.clone(), &along(&full, (45.0, 45.0)), "tips"), 20.0, "whole millimetres");
    check(&measured(both, &along(&full, (8.0, 8.0)), "foot"), 10.0, "half millimetres");
    // Beyond the short marks only every fifth is left.
    let report = measured(full.plane(), &along(&full, (75.0, 75.0)), "fifths");
    check(&report, 100.0, "every fifth");
}

#[test]
fn a_ruler_seen_at_a_slant_is_told_and_its_interval_covers_it() {
    let ruler = Ruler { stretch: 0.001, ..plain(5.0) };
    let report = measured(ruler.plane(), &along(&ruler, (8.0, 8.0)), "slant");
    // The spacing grows by 0.1 % per mark: 3 % over 30 of them, 20.3 in the middle.
    let percent = report.remarks.iter().find_map(|r| match r {
        ScaleRemark::SpacingChanges { percent } => Some(*percent),
        _ => None,
    });
    assert_close!(percent.unwrap(), 100.0 * 0.03 / 1.015, absolute = 0.15);
    assert_close!(report.px_per_mm, 20.3, relative = 0.001);
    assert!(report.plus_minus > 0.25, "the ends differ from the middle by 0.3: ± {}", report.plus_minus);
}

#[test]
fn scale_and_magnification_from_tick_and_pitch() {
    let ruler = plain(0.0);
    let options = ScaleOptions { tick_mm: 0.5, pitch_um: Some(6.35), ..along(&ruler, (8.0, 8.0)) };
    let report = measured(ruler.plane(), &options, "magnification");
    assert_close!(report.px_per_tick, 20.0, relative = 0.001);
    assert_close!(report.px_per_mm, 40.0, relative = 0.001);
    // 40 pixels of 6.35 micrometres are 0.254 mm on the film for each millimetre of the subject.
    assert_close!(report.magnification.unwrap(), 0.254, relative = 0.001);
    let share = report.plus_minus / report.px_per_mm;
    assert_close!(report.magnification_plus_minus.unwrap(), share * report.magnification.unwrap(), relative = 1e-9);
    let (x, y) = report.places[3];
    let (tx, ty) = ruler.place(3.0, 8.0);
    assert_close!((x - tx).hypot(y - ty), 0.0, absolute = 0.1, "the fourth mark's place");
}

#[test]
fn what_was_asked_for_cannot_be_measured() {
    let ruler = plain(0.0);
    let options = along(&ruler, (8.0, 8.0));
    let bad = |tick_mm| ScaleOptions { tick_mm, ..options };
    for tick in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(matches!(refusal(ruler.plane(), &bad(tick)), ScaleError::BadTick { .. }));
    }
    let pitch = ScaleOptions { pitch_um: Some(0.0), ..options };
    assert!(matches!(refusal(ruler.plane(), &pitch), ScaleError::BadPitch { pitch_um: 0.0 }));
    for to in [(-1.0, 50.0), (1e9, 50.0), (f64::NAN, 50.0)] {
        let outside = ScaleOptions { to, ..options };
        assert!(matches!(refusal(ruler.plane(), &outside), ScaleError::OutsidePicture { .. }));
    }
    let short = ScaleOptions { from: (50.0, 50.0), to: (55.0, 51.0), ..options };
    assert!(matches!(refusal(ruler.plane(), &short), ScaleError::LineTooShort { .. }));
    let broken = changed(&ruler.plane(), |c, r, v| if (c, r) == (0, 0) { f32::INFINITY } else { v });
    assert!(matches!(refusal(broken, &options), ScaleError::NotFinite { count: 1 }));
}

#[test]
fn no_marks_along_the_line() {
    let across = ScaleOptions { from: (10.0, 100.0), to: (290.0, 103.0), tick_mm: 1.0, pitch_um: None };
    let even = Plane::from_fn(300, 200, |_, _| 0.5).unwrap();
    for plane in [even.clone(), Noise::new(4).added(&even, 0.1), Edge::plain((300, 200), 5.0, 1.0).plane()] {
        let why = refusal(plane, &across);
        assert!(matches!(why, ScaleError::NoTicks { .. }), "{why}");
    }
}

#[test]
fn too_few_marks() {
    let ruler = Ruler { numbers: (0, 2), ..plain(0.0) };
    let why = refusal(ruler.plane(), &along(&ruler, (8.0, 8.0)));
    assert!(matches!(why, ScaleError::TooFewTicks { found: 2..=3, least: 4 } | ScaleError::NoTicks { .. }), "{why}");
}

#[test]
fn marks_at_uneven_distances_or_of_two_rulers() {
    let ruler = plain(5.0);
    let options = along(&ruler, (8.0, 8.0));
    let one = Ruler { numbers: (0, 14), ..ruler.clone() }.plane();
    let other = Ruler { period: 26.0, origin: ruler.place(15.5, 0.0), numbers: (0, 11), ..ruler.clone() }.plane();
    let halves = changed(&one, |c, r, v| v.min(other.at(c, r)));
    let why = refusal(halves, &options);
    assert!(matches!(why, ScaleError::TooIrregular { .. } | ScaleError::NoTicks { .. }), "one after the other: {why}");
    let overlaid = Ruler { period: 26.0, numbers: (0, 23), ..ruler.clone() }.plane();
    let overlaid = changed(&ruler.plane(), |c, r, v| v.min(overlaid.at(c, r)));
    let why = refusal(overlaid, &options);
    assert!(matches!(why, ScaleError::TooIrregular { .. } | ScaleError::NoTicks { .. }), "one over the other: {why}");
    let jumping = Ruler { jitter: 5.0, ..ruler.clone() };
    let why = refusal(jumping.plane(), &options);
    assert!(matches!(why, ScaleError::TooIrregular { .. } | ScaleError::NoTicks { .. }), "jumping: {why}");
}

/// What lies on a ruler between two marks, from one height up the marks to another, pixels.
fn covered(
    ruler: &Ruler,
    plane: &Plane<Linear>,
    (first, last): (f64, f64),
    (low, high): (f64, f64),
    light: f32,
) -> Plane<Linear> {
    let (u, v) = ruler.axis();
    changed(plane, |c, r, seen| {
        let (x, y) = (c as f64 + 0.5 - ruler.origin.0, r as f64 + 0.5 - ruler.origin.1);
        let (along, across) = (x * u.0 + y * u.1, x * v.0 + y * v.1);
        let under = (first * ruler.period..last * ruler.period).contains(&along) && (low..high).contains(&across);
        if under { light } else { seen }
    })
}

#[test]
fn marks_of_any_length_are_one_ruler() {
    // Every mark has a length of its own between one and six spacings: of none is there another like it.
    for (angle, sigma) in [(0.0, 0.8), (7.0, 0.8), (38.0, 2.5), (95.0, 4.0)] {
        let ruler = Ruler { sigma, ..Ruler::fitted(angle, 20.0, 31) };
        let mut chance = Noise::new(71);
        let ground = Ruler { numbers: (1, 0), ..ruler.clone() }.plane();
        let plane = (0..31).fold(ground, |plane, n| {
            let length = 20.0 * (1.0 + 5.0 * chance.uniform());
            let one = Ruler { numbers: (n, n), lengths: [length; 3], ..ruler.clone() }.plane();
            changed(&plane, |c, r, v| v.min(one.at(c, r)))
        });
        let what = format!("lengths by chance at {angle} degrees, blur {sigma}");
        let report = measured(plane, &along(&ruler, (8.0, 8.0)), &what);
        check(&report, 20.0, &what);
        // Much blur leaves the shortest marks too faint to count.
        let least = if sigma > 2.0 { 24 } else { 31 };
        assert!((least..=31).contains(&report.ticks), "{what}: {} marks", report.ticks);
    }
}

#[test]
fn marks_partly_hidden_are_read_by_what_is_left_of_them() {
    for (angle, light) in [(5.0, 0.02), (40.0, 0.75), (93.0, 0.95)] {
        let ruler = plain(angle);
        let plane = ruler.plane();
        // A specimen over the upper part of a third of the marks: the line runs below it.
        let upper = covered(&ruler, &plane, (9.6, 19.6), (25.0, 200.0), light);
        let report = measured(upper, &along(&ruler, (8.0, 8.0)), "upper parts hidden");
        check(&report, 20.0, &format!("upper parts hidden by {light} at {angle} degrees"));
        // Over the lower part of some of them, up to and over the line itself: those marks are gone from the line.
        let lower = covered(&ruler, &plane, (12.6, 17.6), (-10.0, 14.0), light);
        let report = measured(lower, &along(&ruler, (8.0, 8.0)), "lower parts hidden");
        check(&report, 20.0, &format!("lower parts hidden by {light} at {angle} degrees"));
        // Over the whole of the first six: a shorter ruler.
        let first = covered(&ruler, &plane, (-3.0, 5.6), (-10.0, 200.0), light);
        let report = measured(first, &along(&ruler, (8.0, 8.0)), "first marks hidden");
        check(&report, 20.0, &format!("first marks hidden by {light} at {angle} degrees"));
        assert!((24..=25).contains(&report.ticks), "{} marks", report.ticks);
        // Over half of all: what is left is too little to say that it is one ruler, or it is that ruler.
        let half = covered(&ruler, &plane, (5.6, 25.6), (-10.0, 200.0), light);
        match scale(&grey(half), &along(&ruler, (8.0, 8.0))) {
            Ok(report) => assert_close!(report.px_per_mm, 20.0, absolute = report.plus_minus, "half hidden by {light}"),
            Err(why) => assert!(matches!(why, ScaleError::TooIrregular { .. } | ScaleError::NoTicks { .. }), "{why}"),
        }
    }
}
