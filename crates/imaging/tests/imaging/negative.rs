//! From a scanned negative to the light that made it.

use crate::common::{Random, channels_of};
use imaging::negative::{Base, Curve, CurveError, NegativeError, invert};
use planes::{Linear, LumaWeights, Picture, Plane};
use testkit::assert_close;

fn grey(width: usize, height: usize, f: impl FnMut(usize, usize) -> f32) -> Picture<Linear> {
    Picture::grey(Plane::from_fn(width, height, f).unwrap())
}

#[test]
fn a_straight_line_is_undone_in_closed_form() {
    // H = 10^((D - base) / gamma): a density of 0.62 above the base at a gamma of 0.62 is ten times the exposure.
    let (gamma, base) = (0.62, 0.25);
    let negative = grey(3, 1, |x, _| 10.0_f32.powf(-(0.25 + 0.62 * x as f32)));
    let curve = Curve::straight(gamma, 2.0 * gamma + 0.01).unwrap();
    let exposure = invert(&negative, &Base::stated(&[base]).unwrap(), &[curve]).unwrap();
    let samples = channels_of(&exposure.picture)[0].samples();
    assert_close!(f64::from(samples[1] / samples[0]), 10.0, relative = 1e-5);
    assert_close!(f64::from(samples[2] / samples[1]), 10.0, relative = 1e-5);
    assert_close!(exposure.log_h_full, (2.0 * gamma + 0.01) / gamma, relative = 1e-12);
    assert_close!(f64::from(samples[2]), 10.0_f64.powf(2.0 - exposure.log_h_full), relative = 1e-5);
    assert_eq!((exposure.above, exposure.base_half_width), (0, None));
}

#[test]
fn a_scene_comes_back_through_any_film() {
    // Property: expose by the curve's inverse, found by halving; develop; invert. 200 films by chance.
    let mut random = Random::new(11);
    let mut share = move || random.below(1 << 20) as f64 / f64::from(1 << 20);
    for _ in 0..200 {
        let mut point = (-3.0, 0.0);
        let points: Vec<(f64, f64)> = (0..3 + (share() * 8.0) as usize)
            .map(|_| {
                point = (point.0 + 0.05 + 0.5 * share(), point.1 + 0.02 + 0.4 * share());
                point
            })
            .collect();
        let curve = Curve::table(&points).unwrap();
        let (low, high) = curve.density_range();
        let density = |log_h: f64| {
            let (mut a, mut b) = (low, high);
            for _ in 0..60 {
                let middle = (a + b) / 2.0;
                if curve.log_h(middle) < log_h { a = middle } else { b = middle }
            }
            a
        };
        let (first, last) = curve.log_h_range();
        let scene: Vec<f64> = (0..20).map(|_| first + (last - first) * (0.05 + 0.9 * share())).collect();
        let base = 0.1 + 0.5 * share();
        let negative = grey(20, 1, |x, _| 10.0_f64.powf(-(density(scene[x]) + base)) as f32);
        let exposure = invert(&negative, &Base::stated(&[base]).unwrap(), std::slice::from_ref(&curve)).unwrap();
        // A sample of single precision knows its density to 3e-8, times a slope of up to 3 * 0.55 / 0.02 (PCHIP's
        // steepest, the chord times three), times ln 10.
        for (found, log_h) in channels_of(&exposure.picture)[0].samples().iter().zip(&scene) {
            assert_close!(f64::from(*found).log10() + exposure.log_h_full, *log_h, absolute = 2e-5, "{points:?}");
        }
        assert_eq!((exposure.below, exposure.above), (0, 0));
        // Law: denser is never less exposed, and the points themselves are met.
        let curve = |d: f64| curve.log_h(d);
        let steps: Vec<f64> = (0..=2000).map(|i| curve(low + (high - low) * f64::from(i) / 2000.0)).collect();
        assert!(steps.windows(2).all(|w| w[1] >= w[0]), "{points:?}");
        points.iter().for_each(|&(h, d)| assert_close!(curve(d), h, absolute = 1e-12));
    }
}

#[test]
fn a_table_is_joined_as_others_join_it() {
    // SciPy 1.17.1, PchipInterpolator([0, 0.3, 1, 1.6, 2], [-2, -1.2, -0.3, 0.6, 2])([0.15, 0.7, 1.2, 1.9]).
    let points = [(-2.0, 0.0), (-1.2, 0.3), (-0.3, 1.0), (0.6, 1.6), (2.0, 2.0)];
    let curve = Curve::table(&points).unwrap();
    for (density, expected) in SCIPY {
        assert_close!(curve.log_h(density), expected, absolute = 1e-12, "{density}");
    }
}

const SCIPY: [(f64, f64); 4] = [
    (0.15, -1.552_703_544_349_500_5),
    (0.7, -0.656_438_011_545_135_6),
    (1.2, -0.039_236_919_522_804_094),
    (1.9, 1.579_828_767_123_287_1),
];

#[test]
fn what_the_curve_does_not_hold_is_put_at_its_ends_and_counted() {
    let negative = grey(4, 1, |x, _| [0.0, 1e-4, 0.5, 1.0][x]);
    let curve = Curve::straight(1.0, 2.0).unwrap();
    let exposure = invert(&negative, &Base::stated(&[0.2]).unwrap(), &[curve]).unwrap();
    let samples = channels_of(&exposure.picture)[0].samples();
    assert_eq!((exposure.below, exposure.above), (1, 2));
    assert_eq!(&samples[..2], [1.0, 1.0]);
    // 0.5 is a density of 0.30103, 0.10103 above the base; the base itself is 1/100 of the end.
    assert_close!(f64::from(samples[2]), 10.0_f64.powf(0.5_f64.recip().log10() - 0.2 - 2.0), relative = 1e-6);
    assert_close!(f64::from(samples[3]), 0.01, relative = 1e-6);
}

#[test]
fn the_base_is_the_median_of_an_even_region_with_its_doubt() {
    let mut random = Random::new(5);
    // Noise of 0.01 of the base's 0.4, and a scratch that a median does not feel.
    let mut noise = || (0..12).map(|_| random.below(10_001) as f32 / 1e4).sum::<f32>() - 6.0;
    let rebate = grey(80, 60, |x, _| if x == 41 { 0.9 } else { 0.4 + 0.004 * noise() });
    let base = Base::measured(&rebate).unwrap();
    let half_width = base.half_width().unwrap()[0];
    assert_close!(base.density()[0], -0.4_f64.log10(), absolute = 4.0 * half_width);
    // Closed form: the median of n normal samples scatters by 1.2533 sigma / sqrt(n); in density sigma is 0.01 / ln 10;
    // 95 % of 16 parts' estimates of it lie within about a third of the truth on both sides (chi-square, 15).
    let expected = 2.131 * 1.2533 * 0.01 / std::f64::consts::LN_10 / f64::from(80 * 60).sqrt();
    assert!((0.5..1.7).contains(&(half_width / expected)), "{half_width} {expected}");
    let curve = Curve::straight(0.5, 2.0).unwrap();
    let exposure = invert(&rebate, &base, &[curve]).unwrap();
    assert_close!(exposure.base_half_width.unwrap(), 10.0_f64.powf(half_width / 0.5) - 1.0, relative = 1e-12);
}

#[test]
fn each_channel_of_colour_has_its_base_and_its_curve() {
    let plane = |t: f32| Plane::from_fn(16, 16, |_, _| t).unwrap();
    let negative = Picture::rgb([plane(0.5), plane(0.2), plane(0.1)], LumaWeights::SRGB).unwrap();
    let base = Base::measured(&negative).unwrap();
    for (found, t) in base.density().iter().zip([0.5, 0.2, 0.1_f64]) {
        assert_close!(*found, -t.log10(), absolute = 1e-7);
    }
    let curves = [0.5, 0.6, 0.7].map(|gamma| Curve::straight(gamma, 2.1).unwrap());
    let exposure = invert(&negative, &base, &curves).unwrap();
    assert_close!(exposure.log_h_full, 2.1 / 0.5, relative = 1e-12);
    // Bare film is log H 0 in every channel.
    for plane in channels_of(&exposure.picture) {
        assert_close!(f64::from(plane.at(3, 3)).log10(), -2.1 / 0.5, absolute = 1e-6);
    }
    let refused = invert(&negative, &base, &curves[..1]).unwrap_err();
    assert_eq!(refused, NegativeError::Channels { picture: 3, base: 3, curves: 1 });
}

#[test]
fn regions_that_are_no_bare_film_are_refused() {
    let sloping = grey(40, 40, |x, _| 0.4 + 0.001 * x as f32);
    assert!(matches!(Base::measured(&sloping), Err(NegativeError::Uneven { channel: 0, limit: 0.02, .. })));
    let clipped = grey(40, 40, |x, _| if x < 2 { 1.0 } else { 0.9 });
    assert!(matches!(Base::measured(&clipped), Err(NegativeError::BaseClipped { channel: 0, .. })));
    let small = grey(15, 40, |_, _| 0.4);
    assert!(matches!(Base::measured(&small), Err(NegativeError::RegionTooSmall { width: 15, .. })));
    for density in [-0.1, 3.1, f64::NAN] {
        assert!(matches!(Base::stated(&[density]), Err(NegativeError::Density { .. })));
    }
}

#[test]
fn what_is_no_characteristic_curve_is_refused() {
    for gamma in [0.0, -0.6, 10.1, f64::NAN] {
        assert!(matches!(Curve::straight(gamma, 2.0), Err(CurveError::Gamma(_))));
    }
    assert!(matches!(Curve::straight(0.6, 0.0), Err(CurveError::Range(_))));
    assert_eq!(Curve::table(&[(0.0, 0.0)]), Err(CurveError::Points(1)));
    assert_eq!(Curve::table(&[(0.0, 0.0), (1.0, 0.5), (2.0, 0.5)]), Err(CurveError::NotRising(3)));
    assert_eq!(Curve::table(&[(0.0, 0.0), (f64::NAN, 0.5)]), Err(CurveError::NotRising(2)));
    let text = "# a film\n-3.0 0.02\n-2.0, 0.5\n\n-1.0;1.1\n";
    assert_eq!(Curve::parse(text).unwrap().density_range(), (0.02, 1.1));
    assert_eq!(Curve::parse("-3.0 0.02\nbeetle"), Err(CurveError::Line(2)));
    assert_eq!(Curve::parse("1 2 3"), Err(CurveError::Line(1)));
    assert_eq!(Curve::parse(""), Err(CurveError::Points(0)));
}
