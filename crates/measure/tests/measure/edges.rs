//! Slanted edges against their closed form: a Gaussian and the pixel's box, whose transfer along the edge's normal is
//! exp(-2 pi^2 s^2 v^2) sinc(v cos a) sinc(v sin a).

use crate::common::{Edge, Noise, grey, rgb, through_file};
use measure::{Channel, Direction, EdgeOptions, EdgeReport, edge};
use planes::{Linear, Plane, ToneCurve};
use testkit::assert_close;

/// Degrees from the nearer pixel axis, with the slopes 1:5, 1:4, 1:3, 1:2 at which few pixel phases repeat, and nearly 1:1.
fn angles() -> Vec<f64> {
    let slopes = [5.0_f64, 4.0, 3.0, 2.0].map(|n| (1.0 / n).atan().to_degrees());
    [2.0, 3.7, 5.0, 7.1, 9.5, 22.0, 31.0, 38.0, 43.0, 44.0].into_iter().chain(slopes).collect()
}

/// The edge's normal for an angle against the columns, then the rows, with either side bright.
fn normals(angle: f64) -> [f64; 4] {
    [angle, 180.0 - angle, 90.0 - angle, 270.0 + angle]
}

fn measured(plane: Plane<Linear>, what: &str) -> EdgeReport {
    edge(&grey(plane), &EdgeOptions::default()).unwrap_or_else(|why| panic!("{what}: {why}"))
}

struct Limits {
    mtf50: f64,
    curve: f64,
}

fn check(report: &EdgeReport, truth: &Edge, limits: &Limits, what: &str) {
    let luminance = report.channel(Channel::Luminance).unwrap();
    let mtf50 = luminance.mtf50_cy_px.unwrap_or_else(|| panic!("{what}: no MTF50"));
    assert_close!(mtf50, truth.true_mtf50(), relative = limits.mtf50, "{what}");
    let points = luminance.sfr.iter().filter(|p| p.frequency_cy_px < 0.4501);
    assert_eq!(points.clone().count(), 37, "{what}: the curve has a point every 0.0125 cycles per pixel");
    for point in points {
        let v = point.frequency_cy_px;
        assert_close!(point.response, truth.truth(v), absolute = limits.curve, "{what} at {v}");
    }
}

fn sweep(curve: ToneCurve, bits: u32, sigmas: &[f64], limits: &Limits) {
    for &sigma in sigmas {
        for angle in angles() {
            for normal in normals(angle) {
                let what = format!("{angle:.2} degrees, normal {normal:.2}, sigma {sigma}, {bits} bits, {curve:?}");
                let truth = Edge::plain((100, 90), normal, sigma);
                let report = measured(through_file(&truth.plane(), curve, bits), &what);
                check(&report, &truth, limits, &what);
                assert_close!(report.angle_deg, angle, absolute = 0.05, "{what}");
                let upright = normal.to_radians().cos().abs() > normal.to_radians().sin().abs();
                assert_eq!(report.direction == Direction::NearVertical, upright, "{what}");
            }
        }
    }
}

#[test]
fn sixteen_bits_at_every_angle() {
    let limits = Limits { mtf50: 0.01, curve: 0.01 };
    sweep(ToneCurve::Srgb, 16, &[0.6, 1.6], &limits);
    sweep(ToneCurve::Gamma(2.2), 16, &[0.9], &limits);
    sweep(ToneCurve::Linear, 16, &[0.4], &limits);
}

#[test]
fn eight_bits_at_every_angle() {
    let limits = Limits { mtf50: 0.02, curve: 0.025 };
    sweep(ToneCurve::Srgb, 8, &[0.6, 1.6], &limits);
    sweep(ToneCurve::Gamma(1.8), 8, &[0.9], &limits);
}

#[test]
fn soft_edges_in_larger_regions() {
    for (sigma, size) in [(3.0, (120, 120)), (6.0, (200, 160)), (12.0, (300, 200))] {
        let truth = Edge::plain(size, 6.0, sigma);
        let what = format!("sigma {sigma}");
        check(&measured(truth.plane(), &what), &truth, &Limits { mtf50: 0.01, curve: 0.01 }, &what);
    }
}

#[test]
fn a_motion_blurred_edge_shows_its_zero() {
    // A box of 3 pixels along the normal has no response at 1/3 cycle per pixel.
    let truth = Edge { motion: 3.0, ..Edge::plain((120, 120), 5.0, 0.5) };
    check(&measured(truth.plane(), "motion"), &truth, &Limits { mtf50: 0.01, curve: 0.01 }, "motion");
}

/// Beside the diagonal a rough sighting is easily on its other side; in a square region nothing else tells.
#[test]
fn near_the_diagonal_the_nearer_axis_is_told() {
    for angle in [43.8, 44.0, 44.5, 44.9] {
        for normal in normals(angle) {
            let what = format!("{angle} degrees, normal {normal}");
            let report = measured(Edge::plain((140, 140), normal, 0.8).plane(), &what);
            assert_close!(report.angle_deg, angle, absolute = 0.05, "{what}");
            let upright = normal.to_radians().cos().abs() > normal.to_radians().sin().abs();
            assert_eq!(report.direction == measure::Direction::NearVertical, upright, "{what}");
        }
    }
}

#[test]
fn one_per_cent_of_noise() {
    for (seed, angle) in angles().into_iter().enumerate() {
        let truth = Edge::plain((100, 100), angle, 0.9);
        let noisy = Noise::new(seed as u64 + 1).added(&truth.plane(), 0.01);
        let report = measured(noisy, &format!("{angle} degrees"));
        let mtf50 = report.channel(Channel::Luminance).unwrap().mtf50_cy_px.unwrap();
        assert_close!(mtf50, truth.true_mtf50(), relative = 0.04, "{angle} degrees");
        assert_close!(report.angle_deg, angle, absolute = 0.05);
    }
}

#[test]
fn colours_displaced_by_a_known_fraction_of_a_pixel() {
    for (angle, red, blue) in [(5.0, -0.21, 0.37), (12.0, 0.4, -0.13), (26.565, 1.3, -0.9)] {
        for normal in normals(angle) {
            let green = Edge::plain((100, 100), normal, 0.8);
            let shifted = |by: f64, sigma: f64| Edge { offset: green.offset + by, sigma, ..green };
            let planes = [shifted(red, 0.9), green, shifted(blue, 1.1)];
            let picture = rgb(planes.map(|e| through_file(&e.plane(), ToneCurve::Srgb, 16)));
            let report = edge(&picture, &EdgeOptions::default()).unwrap();
            let found = report.displacement_px;
            assert_close!(found.red.unwrap(), red, absolute = 0.02, "red, normal {normal}");
            assert_close!(found.blue.unwrap(), blue, absolute = 0.02, "blue, normal {normal}");
            for (channel, truth) in [Channel::Red, Channel::Green, Channel::Blue].into_iter().zip(planes) {
                let mtf50 = report.channel(channel).unwrap().mtf50_cy_px.unwrap();
                assert_close!(mtf50, truth.true_mtf50(), relative = 0.01, "{channel}, normal {normal}");
            }
        }
    }
}

#[test]
fn levels_contrast_and_rise_are_those_drawn() {
    let truth = Edge::plain((120, 120), 7.0, 2.0);
    let report = measured(truth.plane(), "levels");
    let luminance = report.channel(Channel::Luminance).unwrap();
    assert_close!(luminance.low, truth.low, absolute = 0.001);
    assert_close!(luminance.high, truth.high, absolute = 0.001);
    // Michelson: (0.83 - 0.12) / (0.83 + 0.12).
    assert_close!(report.contrast, 0.747_368, absolute = 0.002);
    // 10-90 % of a Gaussian is 2.563 sigma (from the normal table: twice 1.2816); the pixel adds 1/12 to the variance.
    assert_close!(luminance.rise_10_90_px, 2.563_1 * (4.0_f64 + 1.0 / 12.0).sqrt(), relative = 0.005);
    assert!(report.remarks.is_empty(), "a clean edge needs no reservation: {:?}", report.remarks);
}
