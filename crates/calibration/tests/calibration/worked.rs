//! Closed forms by hand.

use crate::common::{LENS, SKILL, exact, input, keep_all, plans, take};
use calibration::{Basis, Focused, Frame, Options, Unknown, calibrate_lens};
use optics::{COVERAGE_95, Input};
use testkit::assert_close;

#[test]
fn one_frame_on_a_tube() {
    // f = e/m: 50 mm and 0.625 are 80 mm, the object 338 mm from the film when H and H' coincide: 80·(2 + 0.625 + 1.6)
    // (own calculation). By the law of propagation (u(f)/f)² = (u(e)/e)² + (u(m)/m)².
    let frame = Frame::new("A", input(50.0, 0.1), input(0.625, 0.002)).at_distance(input(338.0, 1.0));
    let lens = calibrate_lens(&[frame], &Options::default()).unwrap();
    assert_close!(lens.focal_length.value, 80.0, relative = 1e-12);
    let share = (0.1_f64 / 50.0).hypot(0.002 / 0.625);
    assert_close!(lens.focal_length.plus_minus, COVERAGE_95 * 80.0 * share, relative = 1e-10);
    let separation = lens.separation.unwrap();
    assert_close!(separation.value, 0.0, absolute = 1e-10);
    // t = d − e(1 + 1/m)²: slopes −(1 + 1/m)² by e and 2e(1 + 1/m)/m² by m.
    let (by_e, by_m): (f64, f64) = (-2.6 * 2.6, 2.0 * 50.0 * 2.6 / (0.625 * 0.625));
    let u = 1.0_f64.hypot(by_e * 0.1).hypot(by_m * 0.002);
    assert_close!(separation.plus_minus, COVERAGE_95 * u, relative = 1e-10);
    assert_close!(lens.solution.chi_square.value, 0.0, absolute = 1e-12);
    assert_eq!(lens.solution.chi_square.degrees, 0);
    assert_eq!(lens.solution.chi_square.probability, None);
}

#[test]
fn both_magnifications_at_one_distance() {
    // 450 mm from subject to film, f = 100, HH' = 4 (own calculation): m + 1/m = 2.46 has two roots, either of which is
    // the lens at its own extension; the separation must come out of both.
    for m in [0.513_829_629_208_244_9, 1.946_170_370_791_755] {
        let frame = Frame::new("A", input(100.0 * m, 0.05), input(m, 0.001)).at_distance(input(450.0, 0.5));
        let lens = calibrate_lens(&[frame], &Options::default()).unwrap();
        assert_close!(lens.focal_length.value, 100.0, relative = 1e-12);
        assert_close!(lens.separation.unwrap().value, 4.0, absolute = 1e-9);
    }
}

#[test]
fn focal_length_and_travel_from_two_frames() {
    // m₁ = e/f and m₂ = (x + e)/f: f = e/m₁ and x = e(m₂/m₁ − 1), the tube being one and the same in both. With
    // relative uncertainties: (u(x))² = (x/e·u(e))² + (e·m₂/m₁)²·(r₁² + r₂²).
    let tube = [("tube", input(40.0, 0.2))];
    let frames = [
        Frame::on("A", tube, input(0.5, 0.001)),
        Frame::on("B", tube, input(0.6, 0.0015)).focused(Focused::AtClosestMark),
    ];
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert_close!(lens.focal_length.value, 80.0, relative = 1e-12);
    let travel = lens.travel.unwrap();
    assert_close!(travel.value, 8.0, relative = 1e-10);
    let readings = 48.0 * (0.001_f64 / 0.5).hypot(0.0015 / 0.6);
    assert_close!(travel.plus_minus, COVERAGE_95 * readings.hypot(8.0 / 40.0 * 0.2), relative = 1e-9);
}

#[test]
fn the_mean_of_independent_frames() {
    // Exact extensions: f is the weighted straight line through the origin, Σw·e·m/Σw·m² for equal errors in e. With
    // equal errors in m, 1/f = Σem/Σe² (own calculation).
    let es = [20.0, 30.0, 45.0, 60.0];
    let ms = [0.2512, 0.3741, 0.5630, 0.7489];
    let frames: Vec<Frame> =
        es.iter().zip(ms).map(|(&e, m)| Frame::new(format!("e{e}"), exact(e), input(m, 0.001))).collect();
    let lens = calibrate_lens(&frames, &keep_all()).unwrap();
    let squares: f64 = es.iter().map(|e| e * e).sum();
    let inverse = es.iter().zip(ms).map(|(e, m)| e * m).sum::<f64>() / squares;
    assert_close!(lens.focal_length.value, 1.0 / inverse, relative = 1e-12);
    let u = 0.001 / squares.sqrt() / (inverse * inverse);
    assert_close!(lens.focal_length.plus_minus, COVERAGE_95 * u, relative = 1e-10);
    let chi_square: f64 = es.iter().zip(ms).map(|(e, m)| ((m - e * inverse) / 0.001).powi(2)).sum();
    assert_close!(lens.solution.chi_square.value, chi_square, relative = 1e-9);
    assert_eq!(lens.solution.chi_square.degrees, 3);
    // Leverage of a frame is e²/Σe².
    for (residual, (e, m)) in lens.solution.frames.iter().zip(es.iter().zip(ms)) {
        let residual = residual.magnification.unwrap();
        assert_close!(residual.difference, m - e * inverse, absolute = 1e-14);
        let own = 0.001 * (1.0 - e * e / squares).sqrt();
        assert_close!(residual.studentised.unwrap(), (m - e * inverse) / own, relative = 1e-8);
    }
}

#[test]
fn scatter_beyond_the_stated_enlarges() {
    // Two frames that differ by 10 u each way: f by the mean of m, χ² = 200 with 1 degree, Birge's ratio 14.14 and
    // Student's 12.706 (JCGM 100:2008, table G.2).
    let frames = [1.0, -1.0].map(|sign| Frame::new(format!("{sign}"), exact(40.0), input(0.5 + 0.01 * sign, 0.001)));
    let lens = calibrate_lens(&frames, &keep_all()).unwrap();
    assert_close!(lens.focal_length.value, 80.0, relative = 1e-12);
    assert_close!(lens.solution.chi_square.value, 200.0, relative = 1e-9);
    assert_close!(lens.solution.inflation, 200.0_f64.sqrt(), relative = 1e-9);
    assert_eq!(lens.solution.basis, Basis::Scatter);
    let u = 80.0 * 0.001 / 0.5 / 2.0_f64.sqrt();
    assert_close!(lens.focal_length.plus_minus, 12.706 * 200.0_f64.sqrt() * u, relative = 1e-4);
}

#[test]
fn an_engraving_is_one_more_observation() {
    // Frame: 82 with u = 1; engraving: 80 with u = 2. Weighted mean (4·82 + 80)/5 = 81.6 with u = √0.8, but for what f
    // = e/m bends over one u.
    let frame = Frame::new("A", exact(41.0), input(0.5, 0.5 / 82.0));
    let options = Options { marked: Some(input(80.0, 2.0)), use_marked: true, ..Options::default() };
    let lens = calibrate_lens(&[frame], &options).unwrap();
    assert_close!(lens.focal_length.value, 81.6, absolute = 0.03);
    assert_close!(lens.focal_length.plus_minus, COVERAGE_95 * 0.8_f64.sqrt(), relative = 0.03);
    assert_eq!(lens.solution.chi_square.degrees, 1);
}

#[test]
fn what_errs_alike_in_all_frames_does_not_average_out() {
    // Nine frames with exact extensions: readings average to u/3, the scanner's half per cent stays.
    let frames: Vec<Frame> = (0..9).map(|i| Frame::new(format!("{i}"), exact(40.0), input(0.5, 0.003))).collect();
    let options = Options { common_scale: 0.005, ..Options::default() };
    let lens = calibrate_lens(&frames, &options).unwrap();
    let readings = COVERAGE_95 * 0.003 / 0.5 / 3.0;
    assert_close!(lens.focal_length.plus_minus, 80.0 * readings.hypot(0.005), relative = 1e-9);
}

#[test]
fn exact_readings_return_the_truth() {
    let frames = take(LENS, &plans(), SKILL, None);
    let lens = calibrate_lens(&frames, &Options::default()).unwrap();
    assert_close!(lens.focal_length.value, LENS.focal_length, relative = 1e-10);
    assert_close!(lens.travel.unwrap().value, LENS.travel, relative = 1e-9);
    assert_close!(lens.separation.unwrap().value, LENS.separation, absolute = 1e-8);
    assert!(lens.outliers.is_empty() && lens.remarks.is_empty(), "{:?}", lens.remarks);
    // Eleven readings of the lens, three figures.
    assert_eq!(lens.solution.chi_square.degrees, 8);
    assert_eq!(lens.solution.unknowns[..3], [Unknown::FocalLength, Unknown::Travel, Unknown::Separation]);
}

#[test]
fn an_offset_of_the_infinity_mark_is_fitted_when_asked() {
    let truth = crate::common::Truth { zero: 0.7, ..LENS };
    let frames = take(truth, &plans(), SKILL, None);
    let lens = calibrate_lens(&frames, &Options { fit_zero: true, ..Options::default() }).unwrap();
    assert_close!(lens.focal_length.value, truth.focal_length, relative = 1e-9);
    assert_close!(lens.zero.unwrap().value, 0.7, absolute = 1e-7);
    // The closest mark lies 9.2 mm from true infinity, the infinity mark 0.7 mm: the travel is between the marks.
    assert_close!(lens.travel.unwrap().value, 9.2, absolute = 1e-7);
}

#[test]
fn covariance_is_symmetric_and_correlations_are() {
    let frames = take(LENS, &plans(), SKILL, None);
    let solution = calibrate_lens(&frames, &Options::default()).unwrap().solution;
    for (i, one) in solution.unknowns.iter().enumerate() {
        for (j, other) in solution.unknowns.iter().enumerate() {
            let scale = (solution.covariance[i][i] * solution.covariance[j][j]).sqrt();
            assert_close!(solution.covariance[i][j], solution.covariance[j][i], absolute = 1e-12 * scale);
            let r = solution.correlation(one, other).unwrap();
            assert!(r.abs() < 1.0 || i == j, "{one} and {other}: {r}");
        }
    }
    // A longer focal length needs a longer travel for the same magnification.
    assert!(solution.correlation(&Unknown::FocalLength, &Unknown::Travel).unwrap() > 0.2);
    assert_eq!(solution.correlation(&Unknown::FocalLength, &Unknown::Zero), None);
    let input: Input = frames[0].extension[0].length;
    let tube = solution.estimate(&Unknown::Length("short tube".into())).unwrap();
    assert!(tube.plus_minus < input.plus_minus, "frames tell something of a tube too");
}
