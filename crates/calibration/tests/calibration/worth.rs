//! What a frame is worth.

use crate::common::{LENS, SKILL, exact, input, keep_all, plans, take};
use calibration::{Focused, Frame, MOST_FRAMES, Options, calibrate_lens, worth};
use optics::COVERAGE_95;
use testkit::assert_close;

#[test]
fn repeats_average_by_the_root() {
    // One exact extension, f = e/m alone: the half-width falls as 1/√n.
    let frame = Frame::new("A", exact(40.0), input(0.5, 0.001));
    let found = worth(&[frame], &[], 9, &Options::default()).unwrap();
    assert_eq!(found.steps.len(), 9);
    for step in &found.steps {
        let expected = COVERAGE_95 * 80.0 * 0.002 / (step.frames as f64).sqrt();
        assert_close!(step.focal_length.unwrap(), expected, relative = 1e-9);
        assert_eq!(step.to_take, step.frames > 1);
    }
}

#[test]
fn a_tube_does_not_average_out() {
    let frame = Frame::on("A", [("tube", input(40.0, 0.2))], input(0.5, 0.001));
    let found = worth(&[frame], &[], 20, &Options::default()).unwrap();
    let least = COVERAGE_95 * 80.0 * 0.2 / 40.0;
    let last = found.steps[19].focal_length.unwrap();
    assert_close!(last, least.hypot(COVERAGE_95 * 80.0 * 0.002 / 20.0_f64.sqrt()), relative = 1e-9);
}

#[test]
fn the_longest_extension_tells_most() {
    // At one u(m) for all, the information of a frame on 1/f is e²/u(m)².
    let candidates = [20.0, 60.0, 40.0].map(|e| Frame::new(format!("{e}"), exact(e), input(e / 80.0, 0.001)));
    let found = worth(&candidates[..1], &candidates, 2, &Options::default()).unwrap();
    assert_eq!(found.tells_most.as_deref(), Some("60"));
    assert_eq!(found.steps[1].added, "60");
    let expected = COVERAGE_95 * 80.0 * 80.0 * 0.001 / 20.0_f64.hypot(60.0);
    assert_close!(found.steps[1].focal_length.unwrap(), expected, relative = 1e-9);
}

#[test]
fn figures_appear_as_frames_tell_them() {
    let frames = take(LENS, &plans(), SKILL, None);
    // From the closest mark on: one frame there tells nothing, a second at another extension tells all.
    let order: Vec<Frame> = [3, 4, 0, 1, 2, 5, 6].map(|i| frames[i].clone()).to_vec();
    let found = worth(&order, &[], 7, &Options::default()).unwrap();
    assert_eq!(found.steps[0].focal_length, None);
    assert!(found.steps[1].travel.is_some() && found.steps[1].separation.is_some());
    assert_eq!(found.tells_most, None);
    // The last step is what the calibration itself says.
    let lens = calibrate_lens(&order, &keep_all()).unwrap();
    let last = &found.steps[6];
    assert_close!(last.focal_length.unwrap(), lens.focal_length.plus_minus, relative = 1e-6);
    assert_close!(last.travel.unwrap(), lens.travel.unwrap().plus_minus, relative = 1e-6);
    assert_close!(last.separation.unwrap(), lens.separation.unwrap().plus_minus, relative = 1e-6);
}

#[test]
fn a_candidate_may_bring_what_no_frame_has() {
    let taken = Frame::on("A", [("tube", input(40.0, 0.1))], input(0.5, 0.001));
    let next = taken.clone().focused(Focused::AtClosestMark).at_distance(input(300.0, 1.0));
    let found = worth(&[taken], &[next], 2, &Options::default()).unwrap();
    assert_eq!(found.steps[0].travel, None);
    assert!(found.steps[1].travel.is_some() && found.steps[1].separation.is_some());
}

#[test]
fn bad_questions_are_refused() {
    let frame = Frame::on("A", [("tube", input(40.0, 0.1))], input(0.5, 0.001));
    let other = Frame::on("B", [("tube", input(30.0, 0.1))], input(0.5, 0.001));
    assert!(worth(&[], std::slice::from_ref(&frame), 3, &Options::default()).is_err());
    assert!(worth(std::slice::from_ref(&frame), &[], MOST_FRAMES + 1, &Options::default()).is_err());
    assert!(worth(&[frame], &[other], 3, &Options::default()).is_err(), "one tube of two lengths");
}
