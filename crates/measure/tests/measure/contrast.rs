//! Contrast and veiling glare of traps and whites whose light is known.

use crate::common::{Noise, grey, rgb};
use measure::{Bounded, Channel, ContrastError, ContrastOptions, ContrastRemark, ContrastReport, contrast};
use planes::{Linear, Picture, Plane};
use testkit::assert_close;

fn even(light: f64, deviation: f64, seed: u64) -> Plane<Linear> {
    Noise::new(seed).added(&Plane::from_fn(64, 48, |_, _| light as f32).unwrap(), deviation)
}

fn measured(black: f64, white: f64, options: &ContrastOptions) -> ContrastReport {
    contrast(&grey(even(black, 0.0, 1)), &grey(even(white, 0.0, 2)), options).unwrap()
}

#[test]
fn glare_is_black_over_white() {
    let report = measured(0.012, 0.75, &ContrastOptions::default());
    let found = report.channel(Channel::Luminance).unwrap();
    // 0.012 / 0.75 = 1.6 %, and its inverse 62.5.
    assert_close!(found.glare.figure().unwrap().value, 0.016, relative = 1e-6);
    assert_close!(found.ratio.figure().unwrap().value, 62.5, relative = 1e-6);
    assert_close!(found.white.value, 0.75, relative = 1e-6);
    assert!(report.remarks.is_empty());
}

#[test]
fn the_traps_own_reflectance_is_taken_off() {
    // E = 0.8, veil 0.01, trap 0.5 %, white 90 %: black 0.014, white 0.73.
    let options = ContrastOptions { trap_reflectance: 0.005, white_reflectance: 0.9, ..ContrastOptions::default() };
    let report = measured(0.8 * 0.005 + 0.01, 0.8 * 0.9 + 0.01, &options);
    assert_close!(report.channels[0].glare.figure().unwrap().value, 0.01 / 0.73, relative = 1e-5);
    // Less light than the trap alone reflects.
    let mut options = options;
    options.trap_reflectance = 0.2;
    let report = measured(0.014, 0.73, &options);
    assert!(
        report.remarks.contains(&ContrastRemark::BelowTrap { channel: Channel::Luminance }),
        "{:?}",
        report.remarks
    );
}

#[test]
fn colours_are_measured_apart() {
    let planes = |r, g, b| rgb([even(r, 0.0, 1), even(g, 0.0, 1), even(b, 0.0, 1)]);
    let report = contrast(&planes(0.01, 0.02, 0.03), &planes(0.5, 0.5, 0.6), &ContrastOptions::default()).unwrap();
    for (channel, glare) in [(Channel::Red, 0.02), (Channel::Green, 0.04), (Channel::Blue, 0.05)] {
        assert_close!(report.channel(channel).unwrap().glare.figure().unwrap().value, glare, relative = 1e-6);
    }
    // Weights of Rec. ITU-R BT.709.
    let (black, white) = (0.2126 * 0.01 + 0.7152 * 0.02 + 0.0722 * 0.03, 0.5 + 0.0722 * 0.1);
    assert_close!(
        report.channel(Channel::Luminance).unwrap().glare.figure().unwrap().value,
        black / white,
        relative = 1e-5
    );
}

#[test]
fn a_clipped_trap_gives_bounds() {
    let clipped = Plane::from_fn(64, 48, |c, r| if (c + r) % 2 == 0 { 0.0 } else { 0.004 }).unwrap();
    let report = contrast(&grey(clipped), &grey(even(0.8, 0.0, 1)), &ContrastOptions::default()).unwrap();
    let found = report.channels[0];
    let Bounded::AtMost(glare) = found.glare else { panic!("{found:?}") };
    // The mean of what is left, 0.002, over 0.8; its parts are even, so nothing is added.
    assert_close!(glare, 0.0025, relative = 1e-4);
    let Bounded::AtLeast(ratio) = found.ratio else { panic!("{found:?}") };
    assert_close!(ratio, 400.0, relative = 1e-4);
    assert!(matches!(report.remarks[..], [ContrastRemark::BlackClipped { .. }]));
    // All of it clipped: the bound is where clipping starts.
    let report = contrast(&grey(even(0.0, 0.0, 1)), &grey(even(0.8, 0.0, 1)), &ContrastOptions::default()).unwrap();
    let Bounded::AtMost(glare) = report.channels[0].glare else { panic!("{report:?}") };
    assert_close!(glare, 0.5 / 65_535.0 / 0.8, relative = 1e-5);
}

#[test]
fn one_clipped_colour_bounds_luminance_too() {
    let trap = rgb([even(0.0, 0.0, 1), even(0.01, 0.0, 1), even(0.01, 0.0, 1)]);
    let white = rgb([even(0.7, 0.0, 1), even(0.7, 0.0, 1), even(0.7, 0.0, 1)]);
    let report = contrast(&trap, &white, &ContrastOptions::default()).unwrap();
    assert!(report.channel(Channel::Green).unwrap().glare.figure().is_some());
    assert!(matches!(report.channel(Channel::Luminance).unwrap().glare, Bounded::AtMost(_)));
}

#[test]
fn a_trap_within_the_noise_bounds_the_ratio() {
    let report = contrast(
        &grey(even(0.000_05, 0.02, 3)),
        &grey(even(0.8, 0.02, 4)),
        &ContrastOptions { black: -1.0, ..ContrastOptions::default() },
    )
    .unwrap();
    let found = report.channels[0];
    assert!(matches!(found.ratio, Bounded::AtLeast(r) if r > 300.0), "{found:?}");
    assert!(found.glare.figure().is_some());
}

#[test]
fn dust_is_left_out_and_named() {
    let dirty = even(0.02, 0.001, 1);
    let dirty = Plane::from_fn(64, 48, |c, r| if c < 6 && r < 6 { 0.5 } else { dirty.at(c, r) }).unwrap();
    let report = contrast(&grey(dirty), &grey(even(0.8, 0.01, 2)), &ContrastOptions::default()).unwrap();
    assert_close!(report.channels[0].glare.figure().unwrap().value, 0.025, absolute = 0.000_2);
    assert!(report.remarks.iter().any(|r| matches!(r, ContrastRemark::LeftOut { patch: "trap", count: 1, .. })));
    let slope = Plane::from_fn(64, 48, |c, _| 0.6 + 0.004 * c as f32).unwrap();
    let report = contrast(&grey(even(0.02, 0.0, 1)), &grey(slope), &ContrastOptions::default()).unwrap();
    assert!(report.remarks.iter().any(|r| matches!(r, ContrastRemark::Uneven { patch: "white", .. })));
}

#[test]
fn what_gives_no_contrast_is_refused() {
    let options = ContrastOptions::default();
    let refused = |trap: Picture<Linear>, white: Picture<Linear>| contrast(&trap, &white, &options).unwrap_err();
    let good = || grey(even(0.7, 0.0, 1));
    let small = grey(Plane::from_fn(11, 40, |_, _| 0.01).unwrap());
    assert!(matches!(refused(small, good()), ContrastError::PatchTooSmall { patch: "trap", width: 11, .. }));
    let white = grey(even(1.0, 0.0, 1));
    assert!(matches!(refused(grey(even(0.01, 0.0, 1)), white), ContrastError::WhiteClipped { percent: 100.0, .. }));
    assert!(matches!(refused(good(), grey(even(0.1, 0.0, 1))), ContrastError::NotDarker { .. }));
    let broken = grey(Plane::from_fn(20, 20, |c, _| if c == 3 { f32::NAN } else { 0.1 }).unwrap());
    assert_eq!(refused(broken, good()), ContrastError::NotFinite { patch: "trap", count: 20 });
    let colour = rgb([even(0.01, 0.0, 1), even(0.01, 0.0, 1), even(0.01, 0.0, 1)]);
    assert_eq!(refused(colour, good()), ContrastError::Unlike);
    let bad = ContrastOptions { trap_reflectance: 0.9, white_reflectance: 0.9, ..options };
    let why = contrast(&good(), &good(), &bad).unwrap_err();
    assert_eq!(why, ContrastError::BadReflectance { trap: 0.9, white: 0.9 });
}

#[test]
fn intervals_hold_the_truth() {
    let n: u64 = testkit::short_or_long(300, 3000);
    let (mut glares, mut ratios) = (0, 0);
    for seed in 0..n {
        let (trap, white) = (even(0.02, 0.01, 2 * seed), even(0.7, 0.03, 2 * seed + 1));
        let options = ContrastOptions { black: -1.0, ..ContrastOptions::default() };
        let report = contrast(&grey(trap), &grey(white), &options).unwrap();
        let found = report.channels[0];
        let holds = |b: Bounded, truth: f64| b.figure().is_some_and(|f| (f.value - truth).abs() <= f.plus_minus);
        glares += u64::from(holds(found.glare, 0.02 / 0.7));
        ratios += u64::from(holds(found.ratio, 35.0));
    }
    for count in [glares, ratios] {
        let share = count as f64 / n as f64;
        println!("{share}");
        assert_close!(share, 0.95, absolute = (3.0 * (0.95 * 0.05 / n as f64).sqrt()).max(0.02));
    }
}
