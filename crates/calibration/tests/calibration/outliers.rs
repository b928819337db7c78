//! A bad frame is named, and never dropped in silence.

use crate::common::{Chance, LENS, SKILL, exact, input, keep_all, plans, take};
use calibration::{Focused, Frame, Options, Remark, Unknown, calibrate_lens};
use optics::COVERAGE_95;
use testkit::assert_close;

/// Frames at exact extensions of an 80 mm lens, read to u = 0.001.
fn ladder(count: usize, chance: Option<&mut Chance>) -> Vec<Frame> {
    let mut chance = chance;
    let frame = |i: usize| {
        let e = 20.0 + 10.0 * i as f64;
        let noise = chance.as_mut().map_or(0.0, |chance| chance.normal());
        Frame::new(format!("F{i}"), exact(e), input(e / 80.0 + 0.001 * noise, 0.001))
    };
    (0..count).map(frame).collect()
}

fn names(frames: &[Frame], options: &Options) -> Vec<String> {
    calibrate_lens(frames, options).unwrap().outliers.into_iter().map(|outlier| outlier.id).collect()
}

#[test]
fn eight_sigma_among_five_or_more_is_named() {
    let mut chance = Chance(7);
    let (mut trials, mut missed) = (0, 0);
    for count in 5..9 {
        for bad in 0..count {
            for sigmas in [8.0, -8.0] {
                let slipped = |chance: Option<&mut Chance>| {
                    let mut frames = ladder(count, chance);
                    frames[bad].magnification.value += sigmas * 0.001;
                    names(&frames, &Options::default())
                };
                assert_eq!(slipped(None), [format!("F{bad}")], "{count} frames, {sigmas}");
                // With chance in all of them, several times each.
                for _ in 0..20 {
                    trials += 1;
                    missed += usize::from(!slipped(Some(&mut chance)).contains(&format!("F{bad}")));
                }
            }
        }
    }
    // Once in a thousand the others scatter so much, and the bad one back so far, that eight are no longer much.
    assert!(missed * 200 <= trials, "{missed} of {trials}");
}

#[test]
fn each_frame_of_a_full_set_is_named_when_it_is_bad() {
    for bad in 0..plans().len() {
        let mut frames = take(LENS, &plans(), SKILL, None);
        // A slip of a fortieth, twelve times what the reading is good for.
        frames[bad].magnification.value *= 1.025;
        assert_eq!(names(&frames, &Options::default()), [plans()[bad].id], "{bad}");
    }
}

#[test]
fn a_bad_distance_is_named_and_seen_in_its_residual() {
    let mut frames = take(LENS, &plans(), SKILL, None);
    if let Some(distance) = &mut frames[1].distance {
        distance.value += 10.0;
    }
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert_eq!(lens.outliers.len(), 1);
    assert_eq!(lens.outliers[0].id, "B");
    let row = &lens.solution.frames[1];
    assert!(row.left_out);
    // The others foretell both: the distance is off by all of the slip, the magnification by nothing.
    assert_close!(row.distance.unwrap().difference, 10.0, absolute = 1e-6);
    assert!(row.distance.unwrap().studentised.unwrap() > 5.0);
    assert_close!(row.magnification.unwrap().difference, 0.0, absolute = 1e-8);
}

#[test]
fn two_bad_frames_do_not_cover_each_other() {
    for (one, other) in [(0, 1), (2, 5), (6, 7), (0, 7)] {
        let mut frames = ladder(8, None);
        frames[one].magnification.value += 0.012;
        frames[other].magnification.value += 0.012;
        let mut names = names(&frames, &Options::default());
        names.sort();
        assert_eq!(names, [format!("F{one}"), format!("F{other}")]);
    }
}

#[test]
fn a_bad_frame_beside_a_worse_one_is_named_too() {
    let mut frames = ladder(8, None);
    frames[5].magnification.value += 0.05;
    frames[2].magnification.value -= 0.02;
    // Worst first.
    assert_eq!(names(&frames, &Options::default()), ["F5", "F2"]);
}

#[test]
fn a_forecast_is_as_sure_as_fit_and_reading_together() {
    // Frames with a magnification alone: leaving one out and foretelling it are two ways to the same distance, as far as
    // the lens is linear over the slip.
    for bad in [0, 4, 6] {
        let mut frames = take(LENS, &plans(), SKILL, None);
        frames[bad].magnification.value *= 1.02;
        let lens = calibrate_lens(&frames, &Options::default()).unwrap();
        assert_eq!(lens.outliers[0].id, plans()[bad].id);
        let forecast = lens.solution.frames[bad].magnification.unwrap();
        assert_close!(forecast.studentised.unwrap(), lens.outliers[0].distance, relative = 0.02, "{bad}");
    }
}

#[test]
fn three_frames_with_one_left_over_accuse_nobody() {
    // Any of the three could be the bad one: each left out makes the other two fit.
    let frames = [(20.0, 0.35), (40.0, 0.62), (60.0, 0.85)]
        .map(|(e, m)| Frame::new(format!("{e}"), exact(e), input(m, 0.001)).focused(Focused::AtClosestMark));
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert!(lens.outliers.is_empty(), "{:?}", lens.outliers);
    assert!(lens.remarks.iter().any(|remark| matches!(remark, Remark::ScatterBeyondStated { .. })));
}

#[test]
fn figures_with_and_without_are_both_given() {
    let mut frames = ladder(6, None);
    frames[3].magnification.value += 0.01;
    let without = calibrate_lens(&frames, &Options::default()).unwrap();
    let with = calibrate_lens(&frames, &keep_all()).unwrap();
    assert!(without.outliers_left_out && !with.outliers_left_out);
    assert_eq!(without.outliers, with.outliers);
    assert_close!(without.focal_length.value, 80.0, relative = 1e-10);
    assert!((with.focal_length.value - 80.0).abs() > 0.1);
    assert_eq!(without.other.as_ref(), Some(&with.solution));
    assert_eq!(with.other.as_ref(), Some(&without.solution));
    assert!(with.remarks.iter().any(|remark| matches!(remark, Remark::ScatterBeyondStated { .. })));
    assert!(without.solution.frames[3].left_out && !with.solution.frames[3].left_out);
    // Ten sigma from what five exact frames foretell: their own part is e²/Σe² of the variance.
    let others = [20.0, 30.0, 40.0, 60.0, 70.0_f64].map(|e| e * e).iter().sum::<f64>();
    let distance = 10.0 / (1.0 + 50.0 * 50.0 / others).sqrt();
    assert_close!(without.outliers[0].distance, distance, relative = 1e-6);
    assert!(without.outliers[0].probability < 1e-5);
}

#[test]
fn two_frames_that_differ_accuse_nobody() {
    let frames = [0.5, 0.52].map(|m| Frame::new(format!("{m}"), exact(40.0), input(m, 0.001)));
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert!(lens.outliers.is_empty());
    assert!(lens.remarks.iter().any(|remark| matches!(remark, Remark::ScatterBeyondStated { .. })));
}

#[test]
fn a_figure_that_goes_with_its_frame_is_missed() {
    let mut frames = ladder(6, None);
    frames[4].magnification.value += 0.02;
    let m = 60.0 / 80.0;
    frames[4].distance = Some(input(80.0 * (2.0 + m + 1.0 / m), 1.0));
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert_eq!(lens.outliers[0].id, "F4");
    assert_eq!(lens.separation, None);
    assert!(lens.remarks.contains(&Remark::LostWithOutliers { unknown: Unknown::Separation }));
    let row = &lens.solution.frames[4];
    assert!(row.left_out && row.magnification.is_some() && row.distance.is_none());
}

#[test]
fn many_readings_a_little_worse_than_stated_are_no_outliers() {
    // Twice the stated scatter all over: chi-square says so, and seldom is one frame blamed for it.
    let mut chance = Chance(11);
    let mut blamed = 0;
    for _ in 0..200 {
        let mut frames = ladder(10, Some(&mut chance));
        for frame in &mut frames {
            frame.magnification.plus_minus = COVERAGE_95 * 0.0005;
        }
        blamed += usize::from(!names(&frames, &Options::default()).is_empty());
    }
    assert!(blamed < 40, "{blamed} of 200");
}
