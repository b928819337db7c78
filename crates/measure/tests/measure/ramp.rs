//! Ramps whose sharpest plane is known.

use crate::common::{Noise, grey};
use measure::{
    Bars, Beyond, Figure, RampError, RampOptions, RampRemark, RampSample, RampScale, RampShape, StripError,
    StripOptions, bar_course, defocus_mtf, focus_ramp, strip_modulation,
};
use planes::{Linear, Plane};
use testkit::assert_close;

/// Places from -3 to 3 mm every 0.2 mm that follow a curve, each seen with this standard deviation.
fn places(curve: impl Fn(f64) -> f64, deviation: f64, seed: u64) -> Vec<RampSample> {
    let mut noise = Noise::new(seed);
    (-15..=15)
        .map(|i| {
            let height_mm = 0.2 * f64::from(i);
            let value = curve(height_mm) + deviation * noise.normal();
            RampSample { along_mm: height_mm, height_mm, sharpness: Figure::new(value, 1.96 * deviation.max(1e-4)) }
        })
        .collect()
}

#[test]
fn curves_of_the_fitted_shapes_come_back() {
    // A normal curve of width w falls to a half at w sqrt(ln 2), Lorentz's at w.
    let gauss = |h: f64| 0.7 * (-((h - 0.4) / 1.1_f64).powi(2)).exp();
    let lorentz = |h: f64| 0.7 / (1.0 + ((h - 0.4) / 0.8_f64).powi(2));
    // (1 - x²/3w²)³ is a half where x² = 3w² (1 - 2^(-1/3)).
    let disc = |h: f64| 0.7 * (1.0 - ((h - 0.4) / 0.9_f64).powi(2) / 3.0).max(0.0).powi(3);
    let disc_depth = 1.8 * (3.0 * (1.0 - 0.5_f64.cbrt())).sqrt();
    type Case<'a> = (&'a dyn Fn(f64) -> f64, RampShape, f64);
    let cases: [Case<'_>; 3] = [
        (&gauss, RampShape::Gauss, 2.2 * 2_f64.ln().sqrt()),
        (&lorentz, RampShape::Lorentz, 1.6),
        (&disc, RampShape::Disc, disc_depth),
    ];
    for (curve, shape, depth) in cases {
        let report = focus_ramp(&places(curve, 0.0, 1), &RampOptions { mark_height_mm: 0.1 }).unwrap();
        assert_eq!(report.shape, shape);
        assert_close!(report.peak_height_mm.value, 0.4, absolute = 1e-6);
        assert_close!(report.from_mark_mm.value, 0.3, absolute = 1e-6);
        assert_close!(report.peak_sharpness.value, 0.7, absolute = 1e-6);
        assert_close!(report.depth_mm.value, depth, absolute = 1e-5);
        assert!(!report.remarks.contains(&RampRemark::DepthExtrapolated));
    }
}

/// Contrast at 20 cycles/mm of a perfect lens at f/16 and magnification 1, sharp at this height.
fn lens(peak: f64) -> impl Fn(f64) -> f64 {
    move |h| defocus_mtf(20.0, h - peak, 16.0, 0.55e-3).abs()
}

#[test]
fn a_real_lens_is_followed_though_false_detail_comes_back() {
    let curve = lens(-0.35);
    // Where Hopkins's curve is half of its peak, by bisection.
    let half = curve(-0.35) / 2.0;
    let (mut near, mut far) = (0.0, 2.0);
    for _ in 0..60 {
        let middle = f64::midpoint(near, far);
        if curve(-0.35 + middle) > half { near = middle } else { far = middle }
    }
    let report = focus_ramp(&places(&curve, 0.01, 5), &RampOptions::default()).unwrap();
    assert_close!(report.peak_height_mm.value, -0.35, absolute = 0.03);
    assert_close!(report.depth_mm.value, 2.0 * near, relative = 0.05);
    assert!(report.remarks.iter().any(|r| matches!(r, RampRemark::FeetLeftOut { .. })), "{:?}", report.remarks);
}

#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(300, 3000);
    let gauss = |h: f64| 0.7 * (-((h - 0.4) / 1.1_f64).powi(2)).exp();
    let (mut peaks, mut depths, mut real) = (0, 0, 0);
    for seed in 0..n {
        let report = focus_ramp(&places(gauss, 0.02, 10 + seed), &RampOptions::default()).unwrap();
        peaks += u64::from((report.peak_height_mm.value - 0.4).abs() <= report.peak_height_mm.plus_minus);
        let depth = 2.2 * 2_f64.ln().sqrt();
        depths += u64::from((report.depth_mm.value - depth).abs() <= report.depth_mm.plus_minus);
        let report = focus_ramp(&places(lens(-0.35), 0.02, 9000 + seed), &RampOptions::default()).unwrap();
        real += u64::from((report.peak_height_mm.value + 0.35).abs() <= report.peak_height_mm.plus_minus);
    }
    let slack = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02);
    for (what, count) in [("peak", peaks), ("a real lens's peak", real)] {
        let share = count as f64 / n as f64;
        println!("{what}: {share}");
        assert_close!(share, 0.95, absolute = slack, "{what}");
    }
    // The depth rests on the shape, which noise may choose wrongly.
    println!("depth: {}", depths as f64 / n as f64);
    assert!(depths as f64 / n as f64 > 0.8, "depth: {depths} of {n}");
}

#[test]
fn wild_places_weigh_less_and_are_counted() {
    let gauss = |h: f64| 0.7 * (-((h - 0.4) / 1.1_f64).powi(2)).exp();
    let mut samples = places(gauss, 0.005, 3);
    samples[12].sharpness.value = 0.1;
    samples[20].sharpness.value = 0.95;
    let report = focus_ramp(&samples, &RampOptions::default()).unwrap();
    assert_close!(report.peak_height_mm.value, 0.4, absolute = 0.05);
    assert!(report.remarks.contains(&RampRemark::Outlying { count: 2 }), "{:?}", report.remarks);
    // Intervals that promise too much.
    let mut samples = places(gauss, 0.02, 3);
    samples.iter_mut().for_each(|s| s.sharpness.plus_minus /= 5.0);
    let report = focus_ramp(&samples, &RampOptions::default()).unwrap();
    assert!(
        report.remarks.iter().any(|r| matches!(r, RampRemark::Scattered { ratio } if *ratio > 3.0)),
        "{:?}",
        report.remarks
    );
}

#[test]
fn a_focus_beyond_the_ramp_is_refused_with_its_direction() {
    for (peak, beyond) in
        [(4.0, Beyond::Nearer), (3.1, Beyond::Nearer), (-3.2, Beyond::Farther), (-6.0, Beyond::Farther)]
    {
        let curve = move |h: f64| 0.7 * (-((h - peak) / 2.5_f64).powi(2)).exp();
        let found = focus_ramp(&places(curve, 0.005, 1), &RampOptions::default());
        assert!(matches!(found, Err(RampError::OneSided { beyond: b, .. }) if b == beyond), "{peak}: {found:?}");
    }
    let why = focus_ramp(&places(|h: f64| 0.7 * (-(h / 3.0 - 2.0).powi(2)).exp(), 0.005, 1), &RampOptions::default());
    assert!(why.unwrap_err().to_string().contains("nearer to the lens"));
}

#[test]
fn what_shows_no_focus_is_refused() {
    let options = RampOptions::default();
    let flat = focus_ramp(&places(|_| 0.5, 0.001, 1), &options);
    assert!(matches!(flat, Err(RampError::Flat { .. })), "{flat:?}");
    let some = places(|h| (-h * h).exp(), 0.001, 1);
    assert_eq!(focus_ramp(&some[..5], &options), Err(RampError::TooFewPlaces { found: 5, least: 6 }));
    let level: Vec<_> = some.iter().map(|s| RampSample { height_mm: 1.0, ..*s }).collect();
    assert_eq!(focus_ramp(&level, &options), Err(RampError::NoRise { height_mm: 1.0 }));
    let mut broken = some.clone();
    broken[2].height_mm = f64::NAN;
    assert!(matches!(focus_ramp(&broken, &options), Err(RampError::BadSample { number: 3, what: "its height", .. })));
    broken[1].sharpness.plus_minus = 0.0;
    assert!(matches!(focus_ramp(&broken, &options), Err(RampError::BadSample { number: 2, .. })));
}

/// A strip of bars whose modulation follows a curve of the column.
fn strip(across: bool, period: f64, modulation: impl Fn(f64) -> f64, noise: f64) -> Plane<Linear> {
    let plane = Plane::from_fn(600, 90, |c, r| {
        let at = if across { r as f64 } else { c as f64 } + 0.5;
        let wave = (std::f64::consts::TAU * at / period).sin();
        (0.4 * (1.0 + modulation(c as f64 + 0.5) * wave)) as f32
    });
    Noise::new(8).added(&plane.unwrap(), noise)
}

fn options(bars: Bars) -> StripOptions {
    StripOptions { bars, period_px: 9.0, window_px: 60, step_px: 30, harmonic: 1 }
}

#[test]
fn modulation_of_drawn_bars() {
    for bars in [Bars::RepeatAcross, Bars::RepeatAlong] {
        // 9.3 where 9 was given: the period is looked for.
        let plane = strip(bars == Bars::RepeatAcross, 9.3, |_| 0.6, 0.005);
        let points = strip_modulation(&grey(plane), &options(bars)).unwrap();
        assert_eq!(points.len(), 19);
        assert_close!(points[3].column_px, 120.0, absolute = 1e-12);
        for point in &points {
            assert_close!(point.modulation.value, 0.6, absolute = 0.01, "{bars:?}");
            assert_close!(point.mean, 0.4, absolute = 0.003);
        }
        let within = points.iter().filter(|p| (p.modulation.value - 0.6).abs() <= p.modulation.plus_minus + 0.003);
        assert!(within.count() >= 16, "{points:?}");
    }
    // Sharp bars of equal width: the first harmonic of a square wave between 0 and 1 is 2/π about the mean 1/2.
    let square = Plane::from_fn(600, 90, |_, r| if r % 10 < 5 { 1.0 } else { 0.0 }).unwrap();
    let points =
        strip_modulation(&grey(square), &StripOptions { period_px: 10.0, ..options(Bars::RepeatAcross) }).unwrap();
    // Ten samples a period stand in for the wave: 2/(5 sin 18°)/2 = 1.2944 in place of 4/π = 1.2732.
    assert_close!(points[0].modulation.value, 0.4 / (std::f64::consts::PI / 10.0).sin(), relative = 1e-3);
}

#[test]
fn from_a_strip_to_the_sharpest_plane() {
    // 20 pixels per millimetre, rising by 0.2: the strip spans 6 mm of height; sharp at column 340, 4 mm right of the mark.
    let curve = |c: f64| 0.7 * (-((c - 340.0) / 120.0_f64).powi(2)).exp();
    let plane = strip(true, 9.0, curve, 0.01);
    let points =
        strip_modulation(&grey(plane), &StripOptions { window_px: 24, step_px: 24, ..options(Bars::RepeatAcross) })
            .unwrap();
    let scale = RampScale { mark_column_px: 260.0, px_per_mm: 20.0, mark_height_mm: 0.5, rise: 0.2 };
    let report = focus_ramp(&scale.samples(&points), &RampOptions { mark_height_mm: 0.5 }).unwrap();
    assert_close!(report.from_mark_mm.value, 0.8, absolute = 0.02);
    // 120 columns are 6 mm along and 1.2 mm of height; twice sqrt(ln 2) of them.
    assert_close!(report.depth_mm.value, 2.4 * 2_f64.ln().sqrt(), relative = 0.05);
}

#[test]
fn strips_that_show_no_bars_are_refused() {
    let even = || grey(strip(true, 9.0, |_| 0.0, 0.0));
    let good = options(Bars::RepeatAcross);
    assert_eq!(strip_modulation(&even(), &good), Err(StripError::NoPattern { period_px: 9.0 }));
    let with = |o: StripOptions| strip_modulation(&even(), &o).unwrap_err();
    assert!(matches!(with(StripOptions { period_px: 2.5, ..good }), StripError::TooFine { .. }));
    assert!(matches!(with(StripOptions { period_px: f64::NAN, ..good }), StripError::TooFine { .. }));
    assert!(matches!(with(StripOptions { period_px: 60.0, ..good }), StripError::TooFewBars { .. }));
    assert!(matches!(with(StripOptions { window_px: 700, ..good }), StripError::BadWindow { window_px: 700, .. }));
    assert!(matches!(with(StripOptions { step_px: 0, ..good }), StripError::BadWindow { .. }));
    assert!(matches!(with(StripOptions { harmonic: 0, ..good }), StripError::TooFine { .. }));
    assert!(matches!(with(StripOptions { harmonic: 4, ..good }), StripError::TooFine { .. }));
    assert_eq!(
        with(StripOptions { period_px: 5.0, harmonic: 2, ..good }),
        StripError::TooFine { period_px: 5.0, least_px: 6.0 }
    );
    let broken = Plane::from_fn(600, 90, |c, _| if c == 5 { f32::INFINITY } else { 0.4 }).unwrap();
    assert_eq!(strip_modulation(&grey(broken), &good), Err(StripError::NotFinite { count: 90 }));
}

/// Light of a row of thin dark lines, blurred by a Gaussian of a tenth of their spacing: harmonic k of lines that take a share d of it
/// has the amplitude 2 sin(π k d)/(π k) × depth, times exp(-2π²k²/100).
fn lines(number: f64) -> f64 {
    let share = |k: f64| {
        let tone = (-2.0 * (std::f64::consts::PI * k * 0.1).powi(2)).exp();
        2.0 * (std::f64::consts::PI * k * 0.2).sin() / (std::f64::consts::PI * k) * tone
    };
    let waves: f64 = (1..=6).map(|k| share(f64::from(k)) * (std::f64::consts::TAU * f64::from(k) * number).cos()).sum();
    0.6 - 0.4 * (0.2 + waves)
}

#[test]
fn each_harmonic_of_thin_lines_is_measured_by_itself() {
    let plane = Plane::from_fn(240, 30, |c, _| lines((c as f64 + 0.5) / 20.0 + 0.2) as f32).unwrap();
    let mean = 0.6 - 0.4 * 0.2;
    for harmonic in 1..=3 {
        let with = StripOptions { bars: Bars::RepeatAlong, period_px: 20.0, window_px: 60, step_px: 20, harmonic };
        let points = strip_modulation(&grey(plane.clone()), &with).unwrap();
        let k = harmonic as f64;
        let tone = (-2.0 * (std::f64::consts::PI * k * 0.1).powi(2)).exp();
        let expected = 0.4 * 2.0 * (std::f64::consts::PI * k * 0.2).sin() / (std::f64::consts::PI * k) * tone / mean;
        for point in points {
            assert_close!(point.modulation.value, expected, relative = 0.02, "harmonic {harmonic}");
        }
    }
}

#[test]
fn lines_that_come_closer_together_are_numbered() {
    // Number n at column c: spacing from 24 pixels at the left to 18 at the right, fading towards both ends.
    let number = |c: f64| c / 24.0 + c * c / (2.0 * 400.0) * (1.0 / 18.0 - 1.0 / 24.0) + 0.37;
    let mut noise = Noise::new(4);
    let plane = Plane::from_fn(400, 24, |c, _| {
        let at = c as f64 + 0.5;
        let fading = (-((at - 220.0) / 110.0).powi(2)).exp();
        (0.5 + (lines(number(at)) - 0.5) * fading + 0.004 * noise.normal()) as f32
    })
    .unwrap();
    let course = bar_course(&grey(plane.clone()), 21.0).unwrap();
    let off = course.number_at(220.0) - number(220.0);
    assert_close!(off, off.round(), absolute = 0.02);
    for column in [60.0, 120.0, 220.0, 300.0, 350.0] {
        assert_close!(course.number_at(column) - off.round(), number(column), absolute = 0.06, "column {column}");
        assert_close!(course.column_at(course.number_at(column)), column, absolute = 1e-6);
    }
    assert_close!(
        course.period_at(200.0),
        1.0 / (1.0 / 24.0 + 200.0 / 400.0 * (1.0 / 18.0 - 1.0 / 24.0)),
        relative = 0.01
    );
    assert!(course.amplitude() > 0.1);

    let even = Plane::from_fn(400, 24, |_, _| 0.5 + 0.004 * noise.normal() as f32).unwrap();
    assert_eq!(bar_course(&grey(even), 21.0), Err(StripError::NoPattern { period_px: 21.0 }));
    assert!(matches!(bar_course(&grey(plane.clone()), 3.0), Err(StripError::TooFine { .. })));
    assert!(matches!(bar_course(&grey(plane.clone()), 90.0), Err(StripError::TooFewBars { .. })));
    let broken = Plane::from_fn(400, 24, |c, r| if c == 7 { f32::NAN } else { plane.at(c, r) }).unwrap();
    assert_eq!(bar_course(&grey(broken), 21.0), Err(StripError::NotFinite { count: 24 }));
}
