//! Transfers and rises known from elsewhere, measured on drawn edges.

use crate::common::{Edge, grey, sinc};
use measure::{Channel, ChannelReport, EdgeOptions, edge, response_at};
use planes::{Linear, Plane};
use std::f64::consts::PI;
use testkit::assert_close;

fn measured(plane: Plane<Linear>) -> ChannelReport {
    edge(&grey(plane), &EdgeOptions::default()).unwrap().channel(Channel::Luminance).unwrap().clone()
}

#[test]
fn a_gaussian_of_four_micrometres() {
    // exp(-2 pi^2 s^2 v^2) and MTF50 = sqrt(ln 2 / 2) / (pi s) = 46.85 lp/mm for 4 micrometres (closed form, computed
    // independently); pixels of 1 micrometre, whose own share is divided off.
    let (sin, cos) = 5.0_f64.to_radians().sin_cos();
    let found = measured(Edge::plain((160, 160), 5.0, 4.0).plane());
    for (lp_mm, value) in
        [(10.0, 0.96891079), (20.0, 0.88132314), (30.0, 0.75258254), (40.0, 0.60331022), (50.0, 0.45404074)]
    {
        let v = lp_mm / 1000.0;
        let lens = response_at(&found, v).unwrap().0 / (sinc(v * cos) * sinc(v * sin));
        assert_close!(lens, value, absolute = 0.002, "{lp_mm} lp/mm");
    }
    // The pixel takes 1/12 / 16 of the variance with it: 0.26 % of MTF50.
    assert_close!(1000.0 * found.mtf50_cy_px.unwrap(), 46.8476562823, relative = 0.004);
    // 10-90 % is 2.563 standard deviations (table of the normal distribution).
    assert_close!(found.rise_10_90_px, 2.563 * (16.0_f64 + 1.0 / 12.0).sqrt(), relative = 0.003);
}

#[test]
fn a_bare_pixel_of_4000_per_inch() {
    // sinc(v p) with p = 6.35 micrometres (closed form, computed independently). At 2 degrees the pixel's other side
    // adds a box of sin 2 degrees, which takes off less than 0.0003 here.
    let found = measured(Edge::plain((120, 120), 2.0, 0.02).plane());
    for (lp_mm, value) in
        [(10.0, 0.99338040), (20.0, 0.97367923), (30.0, 0.94136491), (40.0, 0.89720339), (50.0, 0.84223648)]
    {
        assert_close!(response_at(&found, lp_mm * 0.00635).unwrap().0, value, absolute = 0.002, "{lp_mm} lp/mm");
    }
}

/// (2/pi)(acos s - s sqrt(1 - s^2)): a perfect lens with a round pupil (Goodman, Introduction to Fourier Optics, 6.3).
fn diffraction(s: f64) -> f64 {
    if s >= 1.0 { 0.0 } else { 2.0 / PI * (s.acos() - s * (1.0 - s * s).sqrt()) }
}

/// An edge seen through any transfer: 1/2 + (1/pi) times the integral of MTF(v) sin(2 pi v d) / v, by the midpoint rule.
fn edge_through(size: usize, degrees: f64, cutoff: f64, transfer: impl Fn(f64) -> f64) -> Plane<Linear> {
    const STEPS: usize = 4000;
    let (sin, cos) = degrees.to_radians().sin_cos();
    let reach = size as f64;
    let weights: Vec<(f64, f64)> = (0..STEPS)
        .map(|i| (i as f64 + 0.5) / STEPS as f64 * cutoff)
        .map(|v| (2.0 * PI * v, transfer(v) / v * cutoff / STEPS as f64 / PI))
        .collect();
    let share = |d: f64| 0.5 + weights.iter().map(|(w, m)| m * (w * d).sin()).sum::<f64>();
    // A table at a fortieth of a pixel: the cubic between its points is right to 1e-6.
    let table: Vec<f64> = (0..=(80.0 * reach) as usize).map(|i| share(i as f64 / 40.0 - reach)).collect();
    let at = |d: f64| {
        let place = (d + reach) * 40.0;
        let (i, u) = (place.floor() as usize, place.fract());
        let [a, b, c, e] = [table[i - 1], table[i], table[i + 1], table[i + 2]];
        b + 0.5 * u * (c - a + u * (2.0 * a - 5.0 * b + 4.0 * c - e + u * (3.0 * (b - c) + e - a)))
    };
    let middle = size as f64 / 2.0;
    Plane::from_fn(size, size, |c, r| {
        let d = (c as f64 + 0.5 - middle) * cos + (r as f64 + 0.5 - middle) * sin - 0.2;
        (0.1 + 0.7 * at(d)) as f32
    })
    .unwrap()
}

#[test]
fn a_perfect_lens_at_f_22() {
    // 550 nm at f/22: cut-off 82.6446 lp/mm and MTF50 33.386 lp/mm; the curve at tenths of the cut-off (closed form,
    // computed independently, and equal to Hopkins' quadrature without defocus). Pixels of 4 micrometres.
    let pitch_mm = 0.004;
    let cutoff = 82.6446 * pitch_mm;
    let (sin, cos) = 5.0_f64.to_radians().sin_cos();
    let pixel = |v: f64| sinc(v * cos) * sinc(v * sin);
    let found = measured(edge_through(200, 5.0, cutoff, |v| diffraction(v / cutoff) * pixel(v)));
    let lens = |v: f64| response_at(&found, v).unwrap().0 / pixel(v);
    for (s, value) in [
        (0.1, 0.8728885716),
        (0.2, 0.7470600781),
        (0.25, 0.6850376425),
        (0.3, 0.6238376648),
        (0.4, 0.5046315755),
        (0.5, 0.3910022190),
        (0.6, 0.2847569799),
        (0.7, 0.1881204044),
        (0.8, 0.1040880387),
        (0.9, 0.0373860735),
    ] {
        assert_close!(lens(s * cutoff), value, absolute = 0.006, "at {s} of the cut-off");
    }
    assert_close!(lens(33.386 * pitch_mm), 0.5, absolute = 0.005, "MTF50");
}
