//! Uncertainty by the law of propagation, against simulation.

use crate::common::Chance;
use optics::{
    BlackBox, COVERAGE_95, Dual, Element, Estimate, Figure, FocusError, Input, LINEAR_SHARE, Real, Simulation, Train,
    propagate, propagate_checked, propagate_row,
};
use std::convert::Infallible;
use testkit::assert_close;

fn first_order(inputs: &[Input], compute: impl Fn(&[Dual]) -> Vec<Option<Dual>>) -> Vec<Option<Estimate>> {
    let Ok(results) = propagate(inputs, |x| Ok::<_, Infallible>(compute(x)));
    results
}

/// Standard uncertainties as half-widths of 95 %.
fn input(value: f64, u: f64) -> Input {
    Input { value, plus_minus: COVERAGE_95 * u }
}

fn standard(estimate: Option<Estimate>) -> f64 {
    estimate.unwrap().plus_minus / COVERAGE_95
}

/// Mean and standard deviation of every figure over `trials` draws from normal inputs.
fn simulated(inputs: &[Input], trials: u32, compute: impl Fn(&[f64]) -> Vec<f64>) -> Vec<(f64, f64)> {
    let mut chance = Chance(20_240_521);
    let centre: Vec<f64> = inputs.iter().map(|i| i.value).collect();
    let middle = compute(&centre);
    // Sums of differences from the middle: squares of large figures would lose the small spread.
    let mut sums = vec![(0.0, 0.0); middle.len()];
    for _ in 0..trials {
        let draw: Vec<f64> = inputs.iter().map(|i| i.value + i.plus_minus / COVERAGE_95 * chance.normal()).collect();
        for ((sum, squares), (y, y0)) in sums.iter_mut().zip(compute(&draw).into_iter().zip(&middle)) {
            *sum += y - y0;
            *squares += (y - y0) * (y - y0);
        }
    }
    let n = f64::from(trials);
    let spread =
        |(y0, (sum, squares)): (&f64, (f64, f64))| (y0 + sum / n, ((squares - sum * sum / n) / (n - 1.0)).sqrt());
    middle.iter().zip(sums).map(spread).collect()
}

#[test]
fn sum_of_four_inputs() {
    // JCGM 101:2008, 9.2 (from memory): y = x1 + x2 + x3 + x4, each with mean 0 and u = 1, has u = 2, ±3.92.
    let results = first_order(&[input(0.0, 1.0); 4], |x| vec![Some(x[0] + x[1] + x[2] + x[3])]);
    assert_close!(standard(results[0]), 2.0, relative = 1e-12);
    assert_close!(results[0].unwrap().plus_minus, 3.92, absolute = 0.005);
}

#[test]
fn a_product_of_squares_at_its_foot_has_no_slope() {
    // JCGM 101:2008, 9.4 (comparison loss; from memory): x1² + x2² with u = 0.005: first order gives 0, 100 and 500
    // millionths at x1 = 0, 0.010 and 0.050 with x2 = 0.
    for (x1, u) in [(0.0, 0.0), (0.010, 100e-6), (0.050, 500e-6)] {
        let inputs = [input(x1, 0.005), input(0.0, 0.005)];
        let results = first_order(&inputs, |x| vec![Some(x[0] * x[0] + x[1] * x[1])]);
        assert_close!(standard(results[0]), u, absolute = 1e-15);
    }
}

#[test]
fn effective_f_number_from_a_measured_magnification() {
    // Own calculation from the law of propagation (JCGM 100:2008, 5.1): N = 11 exact, P = 0.85 ± 0.02, image 50.0 ± 0.1
    // over object 100.0 ± 0.25 (standard uncertainties); own simulation of two million draws: mean 17.4743, sd 0.15396.
    let inputs = [Input { value: 11.0, plus_minus: 0.0 }, input(0.85, 0.02), input(50.0, 0.1), input(100.0, 0.25)];
    let results = first_order(&inputs, |x| {
        let m = x[2] / x[3];
        let effective = x[0] * (Dual::exact(1.0) + m / x[1]);
        vec![Some(m), Some(effective), Some(Dual::exact(2.0) * effective.log2())]
    });
    assert_close!(results[1].unwrap().value, 17.470_588_235_294_12, relative = 1e-13);
    assert_close!(standard(results[0]), 0.001_600_781_059_358_212_3, relative = 1e-12);
    assert_close!(standard(results[1]), 0.153_652_046_330_593_23, relative = 1e-12);
    assert_close!(standard(results[2]), 0.025_376_71, relative = 1e-6);
    let drawn = simulated(&inputs, 200_000, |x| vec![x[0] * (1.0 + x[2] / x[3] / x[1])]);
    assert_close!(drawn[0].0, 17.4743, absolute = 0.0015);
    assert_close!(standard(results[1]), drawn[0].1, relative = 0.02);
}

/// A 90 mm lens on a tube with a close-up lens before it: f, P, t, register, length, tube, travel, dioptres, gap, N.
fn set_up<T: Real>(x: &[T]) -> Train<T> {
    let lens = BlackBox {
        focal_length: x[0],
        pupil_ratio: x[1],
        separation: x[2],
        register: x[3],
        length: x[4],
        f_number: x[9],
    };
    let placed = lens.seated(x[3] + x[5], x[6], 0);
    let front = placed.front + x[8];
    let close_up = Element { power: x[7] / T::exact(1000.0), front, back: front };
    Train { elements: vec![placed.element, close_up], stops: vec![placed.stop], front }
}

#[test]
fn a_whole_set_up_against_simulation() {
    let inputs = [
        input(90.0, 1.0),
        input(0.92, 0.02),
        input(4.0, 1.0),
        input(80.0, 0.05),
        input(68.0, 0.5),
        input(21.0, 0.1),
        input(8.0, 0.2),
        input(2.0, 0.05),
        input(3.0, 0.5),
        input(11.0, 0.2),
    ];
    let frame = [56.0, 56.0];
    let results = first_order(&inputs, |x| {
        let figures = set_up(x).figures(frame.map(Dual::exact), x[9], Dual::exact(0.05), x[5] + x[6]).unwrap();
        Figure::ALL.iter().map(|figure| figures.get(*figure)).collect()
    });
    let drawn = simulated(&inputs, 40_000, |x| {
        let figures = set_up(x).figures(frame, x[9], 0.05, x[5] + x[6]).unwrap();
        Figure::ALL.iter().map(|figure| figures.get(*figure).unwrap()).collect()
    });
    for ((figure, result), (mean, sd)) in Figure::ALL.into_iter().zip(results).zip(drawn) {
        // JCGM 101:2008, clause 8, asks whether first order agrees with simulation; the law is linear, the train is not.
        assert_close!(standard(result), sd, relative = 0.04, "{}", figure.label());
        assert_close!(result.unwrap().value, mean, absolute = 0.1 * sd, "{}", figure.label());
    }
}

/// Every figure of [`set_up`] in one row.
fn row<T: Real>(x: &[T]) -> Result<[Option<T>; Figure::ALL.len()], FocusError> {
    let figures = set_up(x).figures([T::exact(56.0); 2], x[9], T::exact(0.05), x[5] + x[6])?;
    Ok(Figure::ALL.map(|figure| figures.get(figure)))
}

#[test]
fn a_set_up_of_well_known_parts_is_linear_and_one_of_guessed_parts_is_not() {
    // JCGM 101:2008, clause 8. The same set-up with measured parts, and with a focal length and a pupil ratio that were
    // only guessed: there every interval, whichever way it was found, must be that of an own simulation.
    let exact = |value| Input { value, plus_minus: 0.0 };
    let known = [
        input(90.0, 1.0),
        input(0.92, 0.02),
        input(4.0, 1.0),
        exact(80.0),
        input(68.0, 0.5),
        input(21.0, 0.1),
        input(8.0, 0.2),
        input(2.0, 0.05),
        input(3.0, 0.5),
        input(11.0, 0.2),
    ];
    let results = propagate_checked(&known, &Simulation::default(), row, row).unwrap();
    let first_order = propagate_row(&known, row).unwrap();
    for ((figure, result), plain) in Figure::ALL.into_iter().zip(results).zip(first_order) {
        assert!(result.first_order_holds(), "{}: {}", figure.label(), result.curvature);
        assert_eq!(result.estimate, plain);
    }
    let mut guessed = known;
    guessed[0] = input(90.0, 6.0);
    guessed[1] = input(0.92, 0.12);
    let results = propagate_checked(&guessed, &Simulation::default(), row, row).unwrap();
    let bent = results.iter().filter(|result| !result.first_order_holds()).count();
    assert!((3..12).contains(&bent), "{bent}");
    let mut chance = Chance(77);
    let trials = 40_000;
    let mut columns = vec![Vec::with_capacity(trials); Figure::ALL.len()];
    for _ in 0..trials {
        let draw: Vec<f64> = guessed.iter().map(|i| i.value + i.plus_minus / COVERAGE_95 * chance.normal()).collect();
        for (column, figure) in columns.iter_mut().zip(row(&draw).unwrap()) {
            column.push(figure.unwrap());
        }
    }
    for ((figure, result), mut column) in Figure::ALL.into_iter().zip(results).zip(columns) {
        column.sort_by(f64::total_cmp);
        let (low, high) = result.interval().unwrap();
        // Of the half-width: what first order may be off by; by simulation five standard errors of the flatter end, where
        // the density is half a normal one's, on 20 000 draws against 40 000.
        let share = if result.first_order_holds() { LINEAR_SHARE + 0.05 } else { 0.12 };
        let allowed = share * result.estimate.unwrap().plus_minus;
        assert_close!(low, column[trials / 40], absolute = allowed, "{}", figure.label());
        assert_close!(high, column[trials - trials / 40], absolute = allowed, "{}", figure.label());
    }
}

#[test]
fn exact_inputs_give_exact_results_and_missing_ones_stay_missing() {
    let inputs = [Input { value: 3.0, plus_minus: 0.0 }, input(2.0, 0.1)];
    let results = first_order(&inputs, |x| vec![Some(x[0]), None, Some(x[1])]);
    assert_eq!(results[0], Some(Estimate::exact(3.0)));
    assert_eq!(results[0].unwrap().half_width(), None);
    assert_eq!(results[1], None);
    assert!(results[2].unwrap().half_width().is_some());
}
