//! Grain whose deviation and spectrum are known.

use crate::common::{Noise, grey, rgb};
use measure::{Channel, GrainError, GrainOptions, GrainRemark, circular_aperture_response, grain, selwyn_scaled};
use planes::{Linear, Plane};
use testkit::assert_close;

const AT_10_UM: GrainOptions = GrainOptions { pitch_um: Some(10.0), black: 0.0, white: 1.0 };

/// A patch of this density whose samples scatter by a deviation of density, unaware of each other.
fn white(side: usize, density: f64, deviation: f64, seed: u64) -> Plane<Linear> {
    let mut noise = Noise::new(seed);
    Plane::from_fn(side, side, |_, _| 10_f64.powf(-(density + deviation * noise.normal())) as f32).unwrap()
}

#[test]
fn granularity_of_grain_without_structure() {
    // RMS 8 at 48 µm is a deviation of 0.008; through 10 µm across, by Selwyn, 0.0384 for a round aperture; a square of 10 µm
    // has 4/π of the round one's area: 0.0384 · sqrt(π/4).
    assert_close!(selwyn_scaled(0.008, 48.0, 10.0), 0.0384, relative = 1e-12);
    let square = 0.0384 * (std::f64::consts::PI / 4.0).sqrt();
    let report = &grain(&grey(white(512, 1.0, square, 3)), &AT_10_UM).unwrap()[0];
    assert_close!(report.density_deviation.value, square, relative = 0.01);
    assert_close!(report.rms_at_48_um().unwrap().value, 8.0, relative = 0.02);
    assert_close!(report.selwyn_ratio.unwrap(), 1.0, absolute = 0.05);
    assert_close!(report.mean_density, 1.0, absolute = 0.001);
    // A small deviation of density is that of light over the mean and ln 10.
    assert_close!(report.deviation.value / report.mean, square * std::f64::consts::LN_10, relative = 0.02);
    // Flat spectrum: the variance itself, all the way.
    for point in &report.spectrum {
        assert_close!(point.power.value, square * square, relative = 0.25, "{}", point.cy_px);
        assert_close!(point.cy_mm.unwrap(), 100.0 * point.cy_px, relative = 1e-12);
    }
    let within =
        report.spectrum.iter().filter(|p| (p.power.value - square * square).abs() <= p.power.plus_minus).count();
    assert!(within * 10 >= report.spectrum.len() * 8, "{within} of {}", report.spectrum.len());
    assert!(report.correlation_px < 1.0);
    let left_out: Vec<_> = report.remarks.iter().filter(|r| matches!(r, GrainRemark::ApertureLeftOut { .. })).collect();
    assert!(left_out.is_empty(), "{left_out:?}");
}

#[test]
fn grain_that_is_tied_together_shows_its_length() {
    // White noise through a normal curve of s pixels: correlation exp(-x²/4s²), 1/e at 2 s; spectrum exp(-4π²s²f²).
    let s: f64 = 2.0;
    let rough = white(400, 0.0, 1.0, 11);
    let tap = |k: i64| (-(k as f64).powi(2) / (2.0 * s * s)).exp();
    let sum: f64 = (-8..=8).map(tap).sum();
    let along = |plane: &Plane<Linear>| {
        Plane::<Linear>::from_fn(400, 400, |c, r| {
            let at = |k: i64| f64::from(plane.at((c as i64 + k).rem_euclid(400) as usize, r));
            ((-8..=8).map(|k| tap(k) / sum * at(k)).sum::<f64>()) as f32
        })
        .unwrap()
    };
    // The noise itself, in the numbers' own scale.
    let noise = Plane::from_fn(400, 400, |c, r| -rough.at(c, r).log10()).unwrap();
    let soft = along(&along(&noise).transposed());
    let patch = Plane::from_fn(400, 400, |c, r| 10_f32.powf(-0.8 - 0.2 * soft.at(c, r))).unwrap();
    let report = &grain(&grey(patch), &GrainOptions { pitch_um: Some(8.0), ..AT_10_UM }).unwrap()[0];
    assert_close!(report.correlation_px, 2.0 * s, relative = 0.06);
    // Variance 0.2² · 1/(4 π s²).
    let deviation = 0.2 / (2.0 * s * std::f64::consts::PI.sqrt());
    assert_close!(report.density_deviation.value, deviation, relative = 0.05);
    let point = &report.spectrum[5];
    let truth = 0.04 * (-4.0 * (std::f64::consts::PI * s * point.cy_px).powi(2)).exp();
    assert_close!(point.power.value, truth, relative = 0.3);
    // A narrow aperture finds less of it than Selwyn's rule says: the ratio grows.
    assert!(report.selwyn_ratio.unwrap() > 1.5, "{:?}", report.granularity);
}

#[test]
fn a_slope_is_taken_off_and_named() {
    let even = white(128, 0.8, 0.02, 5);
    let sloped = Plane::from_fn(128, 128, |c, r| even.at(c, r) * 10_f32.powf(-0.002 * c as f32)).unwrap();
    let report = &grain(&grey(sloped), &AT_10_UM).unwrap()[0];
    assert_close!(report.density_deviation.value, 0.02, relative = 0.03);
    let named = |r: &GrainRemark| matches!(r, GrainRemark::NotFlat { density } if (*density - 0.254).abs() < 0.02);
    assert!(report.remarks.iter().any(named), "{:?}", report.remarks);
    let coarse = &grain(&grey(white(128, 0.8, 0.12, 5)), &GrainOptions { pitch_um: Some(1.0), ..AT_10_UM }).unwrap()[0];
    assert!(coarse.remarks.iter().any(|r| matches!(r, GrainRemark::Coarse { .. })));
    // 48 µm are 48 pixels here: too many for windows of 64.
    assert!(coarse.remarks.contains(&GrainRemark::ApertureLeftOut { aperture_um: 48.0, pixels: 48.0 }));
    assert!(coarse.rms_at_48_um().is_none());
}

#[test]
fn colours_and_apertures() {
    let planes = [white(64, 0.8, 0.02, 1), white(64, 0.8, 0.03, 2), white(64, 0.8, 0.04, 3)];
    let reports = grain(&rgb(planes), &GrainOptions { pitch_um: None, ..AT_10_UM }).unwrap();
    let names: Vec<_> = reports.iter().map(|r| r.channel).collect();
    assert_eq!(names, [Channel::Red, Channel::Green, Channel::Blue, Channel::Luminance]);
    assert_close!(reports[2].density_deviation.value / reports[0].density_deviation.value, 2.0, relative = 0.1);
    assert!(reports.iter().all(|r| r.granularity.is_empty() && r.selwyn_ratio.is_none()));
    // First zero of a round aperture: 1.219 67 / diameter (Abramowitz & Stegun, table 9.5: 3.831 71/π).
    assert_close!(
        circular_aperture_response(48.0, 3.831_705_970_2 / std::f64::consts::PI / 48.0),
        0.0,
        absolute = 1e-10
    );
    assert_close!(circular_aperture_response(48.0, 0.0), 1.0, absolute = 1e-12);
}

#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(150, 1000);
    let square = 0.0384 * (std::f64::consts::PI / 4.0).sqrt();
    let (mut deviations, mut rms) = (0, 0);
    for seed in 0..n {
        let report = &grain(&grey(white(128, 1.0, square, 50 + seed)), &AT_10_UM).unwrap()[0];
        let found = report.density_deviation;
        deviations += u64::from((found.value - square).abs() <= found.plus_minus);
        let found = report.rms_at_48_um().unwrap();
        rms += u64::from((found.value - 8.0).abs() <= found.plus_minus);
    }
    for (what, count) in [("deviation", deviations), ("granularity", rms)] {
        let share = count as f64 / n as f64;
        println!("{what}: {share}");
        assert_close!(share, 0.95, absolute = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02), "{what}");
    }
}

#[test]
fn what_tells_no_grain_is_refused() {
    let why = |plane: Plane<Linear>| grain(&grey(plane), &GrainOptions::default()).unwrap_err();
    assert!(matches!(why(white(63, 1.0, 0.02, 1)), GrainError::PatchTooSmall { width: 63, least: 64, .. }));
    let even = Plane::from_fn(64, 64, |_, _| 0.3).unwrap();
    assert_eq!(why(even), GrainError::NoGrain { channel: Channel::Luminance });
    let cut = Plane::from_fn(64, 64, |c, r| if (c + r) % 10 == 0 { 0.0 } else { 0.1 }).unwrap();
    assert!(matches!(why(cut), GrainError::Clipped { end: "black", .. }));
    let cut = Plane::from_fn(64, 64, |c, r| if (c + r) % 10 == 0 { 1.0 } else { 0.9 }).unwrap();
    assert!(matches!(why(cut), GrainError::Clipped { end: "white", .. }));
    let broken = Plane::from_fn(64, 64, |c, r| if c == r { f32::NAN } else { 0.3 }).unwrap();
    assert_eq!(why(broken), GrainError::NotFinite { count: 64 });
    let bad = GrainOptions { pitch_um: Some(0.0), ..GrainOptions::default() };
    assert_eq!(grain(&grey(white(64, 1.0, 0.02, 1)), &bad).unwrap_err(), GrainError::BadPitch { pitch_um: 0.0 });
}
