//! Frames whose light is known.

use crate::common::{Noise, grey, rgb};
use measure::{
    Channel, EvennessError, EvennessOptions, EvennessRemark, GroundSample, evenness, ground_samples, shading,
};
use planes::Plane;
use testkit::assert_close;

const FRAME: EvennessOptions = EvennessOptions { frame: (560.0, 400.0), most_degree: 4 };

/// Samples on a grid; light in stops as a function of the place in -1 to 1.
fn ground(stops: impl Fn(f64, f64) -> f64, deviation: f64, seed: u64) -> Vec<GroundSample> {
    let mut noise = Noise::new(seed);
    (0..10 * 8)
        .map(|i| (f64::from(i % 10) / 4.5 - 1.0, f64::from(i / 10) / 3.5 - 1.0))
        .map(|(u, v)| GroundSample {
            x: (u + 1.0) * 280.0,
            y: (v + 1.0) * 200.0,
            light: 0.5 * (stops(u, v) + deviation * noise.normal()).exp2(),
            weight: 1.0,
        })
        .collect()
}

#[test]
fn a_known_surface_is_read_off() {
    let report = evenness(&ground(|u, v| 0.2 * u - 0.1 * v - 0.3 * (u * u + v * v), 0.0, 1), &FRAME).unwrap();
    assert_eq!(report.degree, 2);
    // Against the centre: ±0.2 ±0.1 - 0.6.
    for (found, truth) in report.corners_stops.iter().zip([-0.7, -0.3, -0.9, -0.5]) {
        assert_close!(found.value, truth, absolute = 1e-9);
    }
    assert_close!(report.corner_mean_stops.value, -0.6, absolute = 1e-9);
    assert_close!(report.left_right_stops.value, 0.4, absolute = 1e-9);
    assert_close!(report.up_down_stops.value, -0.2, absolute = 1e-9);
    // Brightest at u = 1/3, v = -1/6: 1/20 and 1/120 stops above the centre; the grid lies within 1/40 of it.
    assert_close!(report.brightest.0, 280.0 * (1.0 + 1.0 / 3.0), absolute = 14.0);
    assert_close!(report.range_stops.value, -0.9 - 0.2 / 6.0 - 0.1 / 12.0, absolute = 1e-3);
    assert_close!(report.between((560.0, 200.0), (280.0, 200.0)).value, -0.1, absolute = 1e-9);
    assert!(report.remarks.is_empty(), "{:?}", report.remarks);
}

#[test]
fn natural_fall_off_is_followed() {
    // cos⁴ of 25 degrees in the corner: its closed form in stops.
    let tan = 25_f64.to_radians().tan();
    let stops = |r: f64| 4.0 * (r * tan).atan().cos().log2();
    let report = evenness(&ground(|u, v| stops((u * u + v * v).sqrt() / 2_f64.sqrt()), 0.0, 1), &FRAME).unwrap();
    assert_close!(report.corner_mean_stops.value, stops(1.0), absolute = 2e-3);
    assert_eq!(report.brightest, (280.0, 200.0));
}

#[test]
fn an_even_frame_is_even_and_dirt_weighs_little() {
    let mut samples = ground(|_, _| 0.0, 0.01, 4);
    samples[33].light = 0.1;
    samples[60].light = 0.9;
    let report = evenness(&samples, &FRAME).unwrap();
    assert_eq!(report.degree, 0);
    assert_close!(report.corner_mean_stops.value, 0.0, absolute = 1e-12);
    assert!(report.remarks.contains(&EvennessRemark::Outlying { count: 2 }), "{:?}", report.remarks);
    let report = evenness(&ground(|_, _| 0.0, 0.3, 4), &FRAME).unwrap();
    assert!(report.remarks.iter().any(|r| matches!(r, EvennessRemark::Rough { .. })));
    let near: Vec<_> = ground(|u, _| 0.2 * u, 0.01, 4)
        .into_iter()
        .map(|s| GroundSample { x: 280.0 + (s.x - 280.0) / 2.0, y: 200.0 + (s.y - 200.0) / 2.0, ..s })
        .collect();
    let report = evenness(&near, &FRAME).unwrap();
    assert!(
        report
            .remarks
            .iter()
            .any(|r| matches!(r, EvennessRemark::Extrapolated { reach } if (*reach - 0.5).abs() < 1e-9))
    );
}

#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(300, 3000);
    let mut within = [0_u64; 3];
    for seed in 0..n {
        let report = evenness(&ground(|u, v| 0.2 * u - 0.1 * v - 0.3 * (u * u + v * v), 0.05, seed), &FRAME).unwrap();
        let pairs = [(report.corner_mean_stops, -0.6), (report.left_right_stops, 0.4), (report.corners_stops[2], -0.9)];
        for (count, (figure, truth)) in within.iter_mut().zip(pairs) {
            *count += u64::from((figure.value - truth).abs() <= figure.plus_minus);
        }
    }
    for count in within {
        let share = count as f64 / n as f64;
        println!("{share}");
        assert_close!(share, 0.95, absolute = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02), "{within:?}");
    }
}

#[test]
fn samples_of_a_masked_picture_and_colour_shading() {
    // Green even; red falls off to the right by half a stop from side to side; a dark subject in the middle is masked.
    let subject = |c: usize, r: usize| (100..180).contains(&c) && (60..140).contains(&r);
    let red = |c: usize, _: usize| 0.5 * (-0.5 * (c as f64 + 0.5) / 280.0).exp2();
    let plane = |f: &dyn Fn(usize, usize) -> f64| {
        Plane::from_fn(280, 200, |c, r| if subject(c, r) { 0.02 } else { f(c, r) as f32 }).unwrap()
    };
    let picture = rgb([plane(&red), plane(&|_, _| 0.4), plane(&|_, _| 0.4)]);
    let samples = ground_samples(&picture, 20, |c, r| !subject(c, r));
    assert_eq!(samples.len(), 4);
    // 14 by 10 blocks less those 4 by 4 under the subject.
    assert_eq!(samples[0].1.len(), 140 - 16);
    assert_close!(samples[1].1.iter().map(|s| s.light).sum::<f64>() / 124.0, 0.4, absolute = 1e-6);
    let options = EvennessOptions::for_frame(280.0, 200.0);
    let reports: Vec<_> = samples.iter().map(|(c, s)| (*c, evenness(s, &options).unwrap())).collect();
    let shades = shading(&reports);
    assert_eq!(shades.iter().map(|s| s.channel).collect::<Vec<_>>(), [Channel::Red, Channel::Blue]);
    for (i, truth) in [0.25, -0.25, 0.25, -0.25].into_iter().enumerate() {
        assert_close!(shades[0].corners_stops[i].value, truth, absolute = 1e-3);
        assert_close!(shades[1].corners_stops[i].value, 0.0, absolute = 1e-6);
    }
    let grey = ground_samples(&grey(plane(&|_, _| 0.4)), 20, |c, r| !subject(c, r));
    assert_eq!(grey.len(), 1);
    assert!(shading(&[]).is_empty());
}

#[test]
fn what_tells_no_evenness_is_refused() {
    let all = ground(|_, _| 0.0, 0.01, 1);
    assert_eq!(evenness(&all[..7], &FRAME).unwrap_err(), EvennessError::TooFewSamples { found: 7, least: 8 });
    let half: Vec<_> = all.iter().filter(|s| s.x < 280.0 || s.y < 200.0).copied().collect();
    assert_eq!(evenness(&half, &FRAME).unwrap_err(), EvennessError::Uncovered { quarter: "lower right" });
    let mut broken = all.clone();
    broken[3].light = 0.0;
    assert!(matches!(evenness(&broken, &FRAME), Err(EvennessError::BadSample { number: 4, what: "its light", .. })));
    broken[2].x = 600.0;
    assert!(matches!(evenness(&broken, &FRAME), Err(EvennessError::BadSample { number: 3, what: "its x", .. })));
    broken[1].weight = f64::NAN;
    assert!(matches!(evenness(&broken, &FRAME), Err(EvennessError::BadSample { number: 2, what: "its weight", .. })));
    let bad = EvennessOptions { most_degree: 5, ..FRAME };
    assert!(matches!(evenness(&all, &bad), Err(EvennessError::BadOption { what: "the highest degree", .. })));
    let bad = EvennessOptions { frame: (0.0, 400.0), ..FRAME };
    assert!(matches!(evenness(&all, &bad), Err(EvennessError::BadOption { what: "the frame's width", .. })));
}
