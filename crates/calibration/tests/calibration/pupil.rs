//! The pupil ratio.

use crate::common::{Chance, exact, input};
use calibration::{CalibrationError as E, End, Perspective, PupilPhoto, PupilRemark, pupil_ratio};
use optics::{COVERAGE_95, Input};
use testkit::assert_close;

fn photo(id: &str, diameter_px: Input, scale: Option<Input>) -> PupilPhoto {
    PupilPhoto { id: id.into(), diameter_px, scale_px_per_mm: scale, perspective: None }
}

#[test]
fn by_hand() {
    // 200 px at 20 px/mm are 10 mm in front, 190 px at 25 px/mm are 7.6 mm behind: P = 0.76.
    let front = photo("front", input(200.0, 2.0), Some(input(20.0, 0.1)));
    let back = photo("back", input(190.0, 1.0), Some(input(25.0, 0.2)));
    let found = pupil_ratio(&[front], &[back]).unwrap();
    assert_close!(found.ratio.value, 0.76, relative = 1e-12);
    assert_close!(found.entrance.value, 10.0, relative = 1e-12);
    assert_close!(found.exit.value, 7.6, relative = 1e-12);
    let shares = [2.0 / 200.0, 0.1 / 20.0, 1.0 / 190.0, 0.2 / 25.0_f64].map(|share| share * share);
    let u = 0.76 * shares.iter().sum::<f64>().sqrt();
    assert_close!(found.ratio.plus_minus, COVERAGE_95 * u, relative = 1e-10);
    let ends = [End::Front, End::Back].map(PupilRemark::OnePhotograph);
    assert_eq!(found.remarks, [PupilRemark::NoPerspective, ends[0].clone(), ends[1].clone()]);
}

#[test]
fn a_ruler_at_the_rim_makes_the_pupil_look_small() {
    // A pinhole 1000 mm from the rim with the pupil 30 mm behind it: 10 mm subtend what 10·1000/1030 mm at the rim do.
    let mut front = photo("front", input(10.0 * 20.0 / 1.03, 1.0), Some(exact(20.0)));
    front.perspective = Some(Perspective { distance: exact(1000.0), depth: input(30.0, 5.0) });
    let mut back = photo("back", input(160.0, 1.0), Some(exact(20.0)));
    back.perspective = Some(Perspective { distance: exact(1000.0), depth: exact(0.0) });
    let found = pupil_ratio(&[front], &[back]).unwrap();
    assert_close!(found.entrance.value, 10.0, relative = 1e-12);
    assert_close!(found.ratio.value, 0.8, relative = 1e-12);
    // 5 mm of 1030 are as much of the diameter.
    let share = (1.03 / 200.0_f64).hypot(5.0 / 1030.0);
    assert_close!(found.entrance.plus_minus, COVERAGE_95 * 10.0 * share, relative = 1e-9);
    assert!(!found.remarks.contains(&PupilRemark::NoPerspective));
}

#[test]
fn one_camera_at_one_distance_needs_no_ruler() {
    let found = pupil_ratio(&[photo("f", input(400.0, 4.0), None)], &[photo("b", input(500.0, 5.0), None)]).unwrap();
    assert_close!(found.ratio.value, 1.25, relative = 1e-12);
    assert!(found.remarks.contains(&PupilRemark::SameDistanceAssumed));
    // Turning the lens round turns the ratio over.
    let turned = pupil_ratio(&[photo("b", input(500.0, 5.0), None)], &[photo("f", input(400.0, 4.0), None)]).unwrap();
    assert_close!(found.ratio.value * turned.ratio.value, 1.0, relative = 1e-12);
}

#[test]
fn several_photographs_are_weighed_and_checked() {
    let back = || vec![photo("b", input(500.0, 5.0), None)];
    let front =
        |values: [f64; 2]| vec![photo("1", input(values[0], 2.0), None), photo("2", input(values[1], 4.0), None)];
    let found = pupil_ratio(&front([400.0, 405.0]), &back()).unwrap();
    // Weights 4 to 1.
    assert_close!(found.entrance.value, 401.0, relative = 1e-12);
    assert_close!(found.entrance.plus_minus, COVERAGE_95 / (0.25_f64 + 0.0625).sqrt(), relative = 1e-12);
    assert!(!found.remarks.iter().any(|remark| matches!(remark, PupilRemark::PhotographsDisagree { .. })));
    let found = pupil_ratio(&front([400.0, 425.0]), &back()).unwrap();
    let disagree = found.remarks.iter().find_map(|remark| match remark {
        PupilRemark::PhotographsDisagree { end: End::Front, chi_square } => Some(*chi_square),
        _ => None,
    });
    // (25)²/(2² + 4²).
    assert_close!(disagree.unwrap().value, 31.25, relative = 1e-12);
}

#[test]
fn the_interval_holds() {
    let mut chance = Chance(61);
    let mut held = 0;
    for _ in 0..2000 {
        let mut shot = |id: &str, mm: f64| {
            let scale = input(20.0 + 0.1 * chance.normal(), 0.1);
            photo(id, input(20.0 * mm + 1.5 * chance.normal(), 1.5), Some(scale))
        };
        let front = [shot("1", 10.0), shot("2", 10.0), shot("3", 10.0)];
        let back = [shot("4", 8.5), shot("5", 8.5)];
        let ratio = pupil_ratio(&front, &back).unwrap().ratio;
        held += u32::from((ratio.value - 0.85).abs() <= ratio.plus_minus);
    }
    assert_close!(f64::from(held) / 2000.0, 0.95, absolute = 0.02);
}

#[test]
fn nonsense_is_refused() {
    let with = |value, plus_minus| vec![photo("p", Input { value, plus_minus }, None)];
    let good = || with(400.0, 4.0);
    assert_eq!(pupil_ratio(&[], &good()), Err(E::NoFrames));
    assert!(matches!(pupil_ratio(&with(0.0, 1.0), &good()), Err(E::NotPositive { .. })));
    assert!(matches!(pupil_ratio(&with(f64::NAN, 1.0), &good()), Err(E::NotFinite { .. })));
    assert!(matches!(pupil_ratio(&with(400.0, 0.0), &good()), Err(E::Uncertainty { .. })));
    assert!(matches!(pupil_ratio(&with(39.0, 1.0), &good()), Err(E::PupilRatio { .. })));
    assert!(matches!(pupil_ratio(&good(), &with(39.0, 1.0)), Err(E::PupilRatio { .. })));
    let scaled = vec![photo("p", input(400.0, 4.0), Some(exact(20.0)))];
    assert_eq!(pupil_ratio(&scaled, &good()), Err(E::ScalesMixed));
    let mut behind = good();
    behind[0].perspective = Some(Perspective { distance: exact(500.0), depth: exact(-500.0) });
    assert!(matches!(pupil_ratio(&behind, &good()), Err(E::NotPositive { .. })));
}
