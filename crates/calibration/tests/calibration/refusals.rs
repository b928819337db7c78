//! What is refused, and in which words.

use crate::common::{exact, input};
use calibration::{CalibrationError as E, Focused, Frame, MOST_FRAMES, Options, Unknown, Wanted, calibrate_lens};
use optics::Input;

fn good(id: &str) -> Frame {
    Frame::on(id, [("tube", input(40.0, 0.1))], input(0.5, 0.001))
}

fn refused(frames: &[Frame]) -> E {
    refused_with(frames, &Options::default())
}

fn refused_with(frames: &[Frame], options: &Options) -> E {
    calibrate_lens(frames, options).expect_err("was not refused")
}

#[test]
fn nothing_and_too_much() {
    assert_eq!(refused(&[]), E::NoFrames);
    let many: Vec<Frame> = (0..=MOST_FRAMES).map(|i| good(&i.to_string())).collect();
    assert_eq!(refused(&many), E::TooManyFrames { count: MOST_FRAMES + 1, most: MOST_FRAMES });
    assert!(calibrate_lens(&many[1..], &Options::default()).is_ok());
}

#[test]
fn magnifications_that_are_none() {
    let with = |value, plus_minus| Frame { magnification: Input { value, plus_minus }, ..good("A") };
    assert!(matches!(refused(&[with(0.0, 0.01)]), E::NotPositive { what: "magnification", .. }));
    assert!(matches!(refused(&[with(-0.5, 0.01)]), E::NotPositive { .. }));
    assert!(matches!(refused(&[with(f64::NAN, 0.01)]), E::NotFinite { .. }));
    assert!(matches!(refused(&[with(f64::INFINITY, 0.01)]), E::NotFinite { .. }));
    for absurd in [20.1, 0.000_9] {
        assert!(matches!(refused(&[with(absurd, 0.01)]), E::Magnification { value, .. } if value == absurd));
    }
    for none in [0.0, -0.1, f64::NAN, f64::INFINITY] {
        assert!(matches!(refused(&[with(0.5, none)]), E::Uncertainty { .. }), "{none}");
    }
}

#[test]
fn lengths_and_distances_that_are_none() {
    let on = |value, plus_minus| Frame::on("A", [("tube", Input { value, plus_minus })], input(0.5, 0.001));
    assert!(matches!(refused(&[on(-1.0, 0.1)]), E::Negative { what: "extension", .. }));
    assert!(matches!(refused(&[on(f64::NAN, 0.1)]), E::NotFinite { .. }));
    assert!(matches!(refused(&[on(40.0, -0.1)]), E::Uncertainty { .. }));
    assert!(calibrate_lens(&[on(40.0, 0.0)], &Options::default()).is_ok(), "a length may be exact");
    assert!(matches!(refused(&[good("A").at_distance(input(-300.0, 1.0))]), E::NotPositive { .. }));
    assert!(matches!(refused(&[good("A").at_distance(exact(300.0))]), E::Uncertainty { .. }));
    let travel = |value| good("A").focused(Focused::Travel(input(value, 0.1)));
    assert!(matches!(refused(&[travel(-2.0)]), E::Negative { what: "travel", .. }));
}

#[test]
fn names_used_twice() {
    assert_eq!(refused(&[good("A"), good("A")]), E::NameTwice { id: "A".into() });
    let tube = ("tube", input(40.0, 0.1));
    let twice = Frame::on("A", [tube, tube], input(1.0, 0.001));
    assert!(matches!(refused(&[twice]), E::LengthTwice { .. }));
    let other = Frame::on("B", [("tube", input(41.0, 0.1))], input(0.5, 0.001));
    let error = refused(&[good("A"), other]);
    assert_eq!(error, E::LengthsDiffer { name: "tube".into(), first: 40.0, second: 41.0 });
}

#[test]
fn infinity_without_extension() {
    let bare = Frame::new("A", exact(0.0), input(0.1, 0.001));
    assert_eq!(refused(std::slice::from_ref(&bare)), E::AtInfinity { frame: "A".into() });
    assert!(calibrate_lens(&[bare.focused(Focused::AtClosestMark), good("B")], &Options::default()).is_ok());
}

#[test]
fn what_cannot_be_told_and_what_would_tell_it() {
    let closest = good("A").focused(Focused::AtClosestMark);
    let error = refused(std::slice::from_ref(&closest));
    let unknowns = vec![Unknown::FocalLength, Unknown::Travel];
    assert_eq!(error, E::NotTold { unknowns, readings: 1, wanted: Wanted::AnotherExtension });
    assert_eq!(
        error.to_string(),
        "these frames (readings of the lens: 1) cannot tell the focal length and the travel at the closest mark apart; a \
         frame with a clearly longer or shorter extension would"
    );
    // As many frames as one likes at one extension, distances measured or not.
    let many: Vec<Frame> = (0..5)
        .map(|i| Frame { id: i.to_string(), ..closest.clone() }.at_distance(input(340.0 + f64::from(i), 1.0)))
        .collect();
    assert!(matches!(refused(&many), E::NotTold { readings: 10, wanted: Wanted::AnotherExtension, .. }));
    // An engraving that counts tells the focal length.
    let options = Options { marked: Some(input(80.0, 1.0)), use_marked: true, ..Options::default() };
    assert!(calibrate_lens(&[closest], &options).is_ok());
}

#[test]
fn figures_that_may_be_anything() {
    let closest = |id, e, m| Frame::new(id, input(e, 0.2), input(m, 0.002)).focused(Focused::AtClosestMark);
    let error = refused(&[closest("A", 20.0, 0.35), closest("B", 20.1, 0.351_2)]);
    assert!(matches!(error, E::TooVague { value, plus_minus, .. } if plus_minus >= value), "{error}");
    assert_eq!(refused(&[closest("A", 20.0, 0.4), closest("B", 40.0, 0.2)]), E::NoLens);
}

#[test]
fn options_that_are_none() {
    let options = Options { use_marked: true, ..Options::default() };
    assert_eq!(refused_with(&[good("A")], &options), E::NothingMarked);
    let options = Options { marked: Some(input(-80.0, 1.0)), ..Options::default() };
    assert!(matches!(refused_with(&[good("A")], &options), E::NotPositive { .. }));
    for common_scale in [-0.1, 1.0, f64::NAN] {
        let options = Options { common_scale, ..Options::default() };
        assert!(matches!(refused_with(&[good("A")], &options), E::Uncertainty { what: "common scale", .. }));
    }
}
