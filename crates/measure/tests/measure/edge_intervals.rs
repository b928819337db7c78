//! Are the intervals honest? Over many pictures that differ by chance alone, the true figure must lie within
//! value ± plus_minus in about 95 of 100. `CLOSEWORK_LONG=1` uses ten times as many pictures.

use crate::common::{Edge, Noise, grey, rgb, through_file};
use measure::{Channel, EdgeOptions, edge};
use planes::{Linear, Plane, ToneCurve};

/// Pictures per case.
fn seeds() -> u64 {
    testkit::short_or_long(40, 400)
}

/// Shares of 0.95 by chance: three standard deviations of the binomial distribution, and no more than all.
fn check_share(within: u64, n: u64, what: &str) {
    let share = within as f64 / n as f64;
    let deviation = (0.95 * 0.05 / n as f64).sqrt();
    println!("{what}: {within} of {n} within the interval");
    assert!(share > 0.95 - 3.0 * deviation, "{what}: only {within} of {n} within the stated interval");
}

/// The interval may not be honest by being useless: on average at most 1.6 times what the figures' own scatter asks for.
fn check_width(errors: &[f64], mean_half_width: f64, what: &str) {
    let rms = (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt();
    let needed = 1.96 * rms;
    println!("{what}: mean half-width {mean_half_width:.5}, 1.96 times the errors' root mean square {needed:.5}");
    assert!(mean_half_width < 1.6 * needed, "{what}: half-width {mean_half_width} where {needed} would do");
}

fn noisy(truth: &Plane<Linear>, sd: f64, seed: u64) -> Plane<Linear> {
    Noise::new(seed + 1000).added(truth, sd)
}

fn mtf50_case(truth: &Edge, sd: f64) {
    let what = format!("MTF50, normal {}, sigma {}, noise {sd}", truth.normal_deg, truth.sigma);
    let clean = truth.plane();
    let mtf50 = truth.true_mtf50();
    let (mut within, mut errors, mut widths) = (0, Vec::new(), 0.0);
    for seed in 0..seeds() {
        let report = edge(&grey(noisy(&clean, sd, seed)), &EdgeOptions::default()).unwrap();
        let luminance = report.channel(Channel::Luminance).unwrap();
        let (value, half) = (luminance.mtf50_cy_px.unwrap(), luminance.mtf50_plus_minus.unwrap());
        within += u64::from((value - mtf50).abs() <= half);
        errors.push(value - mtf50);
        widths += half;
    }
    check_share(within, seeds(), &what);
    check_width(&errors, widths / seeds() as f64, &what);
}

#[test]
fn mtf50_lies_within_its_interval() {
    mtf50_case(&Edge::plain((100, 100), 5.0, 0.8), 0.01);
    mtf50_case(&Edge::plain((80, 120), 172.0, 1.5), 0.03);
    mtf50_case(&Edge::plain((100, 80), 76.0, 0.6), 0.02);
}

#[test]
fn the_curve_lies_within_its_intervals() {
    let truth = Edge::plain((100, 100), 5.0, 0.8);
    let clean = truth.plane();
    let (mut within, mut n) = (0, 0);
    for seed in 0..seeds() {
        let report = edge(&grey(noisy(&clean, 0.02, seed)), &EdgeOptions::default()).unwrap();
        let luminance = report.channel(Channel::Luminance).unwrap();
        for v in [0.1, 0.2, 0.3] {
            let (response, half) = measure::response_at(luminance, v).unwrap();
            within += u64::from((response - truth.truth(v)).abs() <= half);
            n += 1;
        }
    }
    // Three points of one curve err together: no more is known than from one.
    check_share(within * seeds() / n, seeds(), "curve");
}

/// Eight bits and no noise: chance is only where the file's steps lie. At 1:3 and 1:2 rows repeat each other, and with them
/// their rounding, at 5 degrees they do not; the plateaus' rounding is shared by all rows at any slope.
#[test]
fn rounding_lies_within_the_intervals() {
    for slope in [1.0 / 3.0, 0.5, 5.0_f64.to_radians().tan()] {
        for sigma in [0.8, 1.6] {
            rounding_case(slope, sigma);
        }
    }
}

fn rounding_case(slope: f64, sigma: f64) {
    let what = format!("rounding, slope {slope:.3}, sigma {sigma}");
    let (mut mtf50s, mut points, mut n, mut errors, mut widths) = (0, 0, 0, Vec::new(), 0.0);
    for seed in 0..seeds() {
        let mut chance = Noise::new(seed + 300);
        let (low, high, offset) = (0.1 + 0.1 * chance.uniform(), 0.6 + 0.3 * chance.uniform(), chance.uniform());
        let truth = Edge { low, high, offset, ..Edge::plain((100, 90), slope.atan().to_degrees(), sigma) };
        let curve = [ToneCurve::Srgb, ToneCurve::Gamma(1.8), ToneCurve::Linear][seed as usize % 3];
        let report = edge(&grey(through_file(&truth.plane(), curve, 8)), &EdgeOptions::default()).unwrap();
        let luminance = report.channel(Channel::Luminance).unwrap();
        let (value, half) = (luminance.mtf50_cy_px.unwrap(), luminance.mtf50_plus_minus.unwrap());
        mtf50s += u64::from((value - truth.true_mtf50()).abs() <= half);
        errors.push(value - truth.true_mtf50());
        widths += half;
        for v in [0.1, 0.2, 0.3, 0.4] {
            let (response, half) = measure::response_at(luminance, v).unwrap();
            points += u64::from((response - truth.truth(v)).abs() <= half);
            n += 1;
        }
    }
    // Two plateaus are wrong by a constant each, and where along the edge's foot that ends is known from the rounded
    // profile only: measured, MTF50's interval holds in 88 to 93 of 100 (0 to 22 when rounding was taken for noise).
    println!("{what}, MTF50: {mtf50s} of {} within the interval", seeds());
    assert!(mtf50s * 100 >= seeds() * 80, "{what}: only {mtf50s} of {} within the stated interval", seeds());
    check_width(&errors, widths / seeds() as f64, &what);
    check_share(points * seeds() / n, seeds(), &format!("{what}, curve"));
}

#[test]
fn angle_and_displacement_lie_within_their_intervals() {
    let green = Edge::plain((100, 100), 6.0, 0.8);
    let blue = Edge { offset: green.offset + 0.3, ..green };
    let clean = [green.plane(), green.plane(), blue.plane()];
    let (mut angles, mut blues) = (0, 0);
    for seed in 0..seeds() {
        let mut chance = Noise::new(seed + 500);
        let report = edge(&rgb(clean.clone().map(|p| chance.added(&p, 0.02))), &EdgeOptions::default()).unwrap();
        angles += u64::from((report.angle_deg - 6.0).abs() <= report.angle_plus_minus_deg);
        let found = report.displacement_px;
        blues += u64::from((found.blue.unwrap() - 0.3).abs() <= found.blue_plus_minus.unwrap());
    }
    check_share(angles, seeds(), "angle");
    check_share(blues, seeds(), "displacement of blue");
}
