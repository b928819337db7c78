//! Grey steps whose light is known.

use crate::common::{Noise, grey, rgb};
use measure::{Channel, ExposedError, ExposedOptions, ExposedRemark, Figure, GreyStep, clipped, exposed};
use planes::Plane;
use testkit::assert_close;

const STEPS: [f64; 6] = [0.03, 0.09, 0.18, 0.36, 0.59, 0.9];

/// Steps at so many stops above where they are meant, with a slope, each seen with a relative standard deviation.
fn steps(offset: f64, slope: f64, deviation: f64, seed: u64) -> Vec<GreyStep> {
    let mut noise = Noise::new(seed);
    STEPS
        .iter()
        .map(|&reflectance| {
            let light = 0.18 * (offset + slope * (reflectance / 0.18_f64).log2()).exp2();
            let seen = light * (1.0 + deviation * noise.normal());
            GreyStep { reflectance, light: Figure::new(seen, 1.96 * deviation.max(0.003) * light) }
        })
        .collect()
}

#[test]
fn offset_and_slope_of_known_steps() {
    for (offset, slope) in [(0.0, 1.0), (-1.5, 1.0), (-0.3, 0.8)] {
        let report = exposed(&steps(offset, slope, 0.0, 1), &ExposedOptions::default()).unwrap();
        assert_close!(report.offset_stops.value, offset, absolute = 1e-12);
        assert_close!(report.slope.unwrap().value, slope, absolute = 1e-12);
        assert!(report.residuals.iter().all(|r| r.stops.abs() < 1e-12));
        let named = report.remarks.iter().any(|r| matches!(r, ExposedRemark::NotProportional { .. }));
        assert_eq!(named, slope != 1.0, "{:?}", report.remarks);
    }
    // Meant at 12 % of full scale, found at 18 %.
    let options = ExposedOptions { mid_light: 0.12, ..ExposedOptions::default() };
    let report = exposed(&steps(0.0, 1.0, 0.0, 1), &options).unwrap();
    assert_close!(report.offset_stops.value, 1.5_f64.log2(), absolute = 1e-12);
}

#[test]
fn clipped_steps_are_left_out() {
    // 1.2 stops over: white clips beyond 0.43.
    let mut lit = steps(1.2, 1.0, 0.0, 1);
    lit.iter_mut().for_each(|s| s.light.value = s.light.value.min(1.0));
    let report = exposed(&lit, &ExposedOptions::default()).unwrap();
    assert_close!(report.offset_stops.value, 1.2, absolute = 1e-12);
    assert_eq!(report.residuals.len(), 4);
    assert!(report.remarks.contains(&ExposedRemark::StepsClipped { count: 2, of: 6 }));
}

#[test]
fn one_step_tells_the_offset_alone() {
    let report = exposed(&steps(-0.7, 1.0, 0.0, 1)[3..4], &ExposedOptions::default()).unwrap();
    assert_close!(report.offset_stops.value, -0.7, absolute = 1e-12);
    // 0.003 of the light in stops, by 1.96.
    assert_close!(report.offset_stops.plus_minus, 1.96 * 0.003 / std::f64::consts::LN_2, relative = 1e-3);
    assert_eq!((report.slope, report.scatter_stops), (None, None));
    assert_eq!(report.remarks, [ExposedRemark::SlopeAssumed]);
}

#[test]
fn steps_that_promise_too_much_are_named() {
    let mut seen = steps(0.0, 1.0, 0.05, 3);
    seen.iter_mut().for_each(|s| s.light.plus_minus /= 10.0);
    let report = exposed(&seen, &ExposedOptions::default()).unwrap();
    assert!(report.remarks.iter().any(|r| matches!(r, ExposedRemark::Scattered { .. })), "{:?}", report.remarks);
    assert!(report.offset_stops.plus_minus > 0.03, "{:?}", report.offset_stops);
}

#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(400, 3000);
    let (mut offsets, mut slopes) = (0, 0);
    for seed in 0..n {
        let report = exposed(&steps(-0.4, 0.9, 0.02, seed), &ExposedOptions::default()).unwrap();
        offsets += u64::from((report.offset_stops.value + 0.4).abs() <= report.offset_stops.plus_minus);
        let slope = report.slope.unwrap();
        slopes += u64::from((slope.value - 0.9).abs() <= slope.plus_minus);
    }
    for count in [offsets, slopes] {
        let share = count as f64 / n as f64;
        println!("{share}");
        // Four left over: where their scatter happens to be large it is believed, where it is small it is not.
        assert_close!(share, 0.965, absolute = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02));
    }
}

#[test]
fn shares_at_the_ends() {
    let plane = |low: usize, high: usize| {
        Plane::from_fn(50, 20, |c, r| {
            let i = r * 50 + c;
            if i < low {
                0.0
            } else if i < low + high {
                1.0
            } else {
                0.4
            }
        })
        .unwrap()
    };
    let options = ExposedOptions::default();
    let found = clipped(&rgb([plane(10, 0), plane(0, 250), plane(0, 0)]), &options);
    let names: Vec<_> = found.iter().map(|c| c.channel).collect();
    assert_eq!(names, [Channel::Red, Channel::Green, Channel::Blue]);
    assert_close!(found[0].black, 0.01, absolute = 1e-12);
    assert_close!(found[1].white, 0.25, absolute = 1e-12);
    assert_eq!((found[2].black, found[2].white), (0.0, 0.0));
    assert_eq!(clipped(&grey(plane(0, 0)), &options)[0].channel, Channel::Luminance);
}

#[test]
fn what_tells_no_exposure_is_refused() {
    let options = ExposedOptions::default();
    assert_eq!(exposed(&[], &options), Err(ExposedError::NoStep { given: 0 }));
    let dark: Vec<_> = steps(0.0, 1.0, 0.0, 1).iter().map(|s| GreyStep { light: Figure::exact(0.0), ..*s }).collect();
    assert_eq!(exposed(&dark, &options), Err(ExposedError::NoStep { given: 6 }));
    assert!(matches!(exposed(&steps(0.0, -0.6, 0.0, 1), &options), Err(ExposedError::Reversed { .. })));
    let mut broken = steps(0.0, 1.0, 0.0, 1);
    broken[2].light.plus_minus = -1.0;
    assert!(matches!(exposed(&broken, &options), Err(ExposedError::BadStep { number: 3, .. })));
    broken[1].reflectance = 0.0;
    assert!(matches!(
        exposed(&broken, &options),
        Err(ExposedError::BadStep { number: 2, what: "its reflectance", .. })
    ));
    broken[0].light.value = f64::NAN;
    assert!(matches!(exposed(&broken, &options), Err(ExposedError::BadStep { number: 1, what: "its light", .. })));
    let bad = ExposedOptions { mid_light: 0.0, ..options };
    assert!(matches!(exposed(&steps(0.0, 1.0, 0.0, 1), &bad), Err(ExposedError::BadOption { .. })));
}
