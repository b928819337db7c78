//! What a job needs and whether a figure meets it: arithmetic of the trade and the normal distribution.

use optics::{COVERAGE_95, Estimate};
use testkit::assert_close;
use verdict::{Answer, Judgement, Need, judge, weakest};

/// A seed 12 mm long on a square of 56 mm, printed 254 mm wide.
fn seed() -> Need {
    Need { subject_mm: 12.0, fill: 0.75, frame_mm: [56.0, 56.0], print_mm: 254.0, criterion_lp_mm: 5.0, contrast: 0.1 }
}

#[test]
fn detail_needed_on_film() {
    // Own calculation, criterion times enlargement: 5 lp/mm on paper from 56 mm to 254 mm (×4.536) is 22.7 lp/mm on
    // film, to 406 mm 36.3 (the criterion itself: 0.2 mm at 250 mm; common practice, no source).
    for (print_mm, enlargement, on_film) in [(254.0, 4.536, 22.7), (406.0, 7.25, 36.3)] {
        let need = Need { print_mm, ..seed() };
        assert_close!(need.enlargement(), enlargement, absolute = 5.1e-4);
        assert_close!(need.on_film_lp_mm(), on_film, absolute = 0.051);
    }
}

#[test]
fn the_subject_fills_the_shorter_side_and_the_print_the_longer() {
    // Own calculation: 0.75 of 41.5 mm over 12 mm; 254 mm over 56 mm.
    for frame_mm in [[56.0, 41.5], [41.5, 56.0]] {
        let need = Need { frame_mm, ..seed() };
        assert_close!(need.magnification(), 2.593_75, relative = 1e-12);
        assert_close!(need.enlargement(), 254.0 / 56.0, relative = 1e-12);
        // What is 22.7 lp/mm on film is 2.59 times as fine on the subject.
        assert_close!(need.on_subject_lp_mm(), 5.0 * 254.0 / 56.0 * 2.593_75, relative = 1e-12);
    }
}

/// A figure so many standard uncertainties above what is needed.
fn above(sigmas: f64) -> Judgement {
    judge(Estimate { value: 0.2 + 0.03 * sigmas, plus_minus: 0.03 * COVERAGE_95 }, 0.2)
}

#[test]
fn probability_by_the_normal_table() {
    // Abramowitz & Stegun, *Handbook of Mathematical Functions* (1964), table 26.1 (from memory).
    let table = [
        (0.0, 0.5),
        (0.5, 0.691_462_461),
        (1.0, 0.841_344_746),
        (1.5, 0.933_192_799),
        (2.0, 0.977_249_868),
        (3.0, 0.998_650_102),
        (4.0, 0.999_968_329),
    ];
    for (sigmas, probability) in table {
        assert_close!(above(sigmas).probability, probability, absolute = 1e-7, "{sigmas}");
        assert_close!(above(-sigmas).probability, 1.0 - probability, absolute = 1e-7, "−{sigmas}");
    }
}

#[test]
fn yes_from_95_percent_and_no_up_to_5() {
    // The normal distribution's 95 % point, one-sided: 1.6449 (JCGM 100:2008, table G.1, by its 90 % interval 1.645).
    let table = [
        (1.66, Answer::Serves),
        (1.63, Answer::Undecided),
        (0.0, Answer::Undecided),
        (-1.63, Answer::Undecided),
        (-1.66, Answer::FallsShort),
    ];
    for (sigmas, answer) in table {
        assert_eq!(above(sigmas).answer, answer, "{sigmas}");
    }
}

#[test]
fn an_exact_figure_leaves_no_doubt() {
    for (value, answer, probability) in
        [(0.21, Answer::Serves, 1.0), (0.2, Answer::Serves, 1.0), (0.19, Answer::FallsShort, 0.0)]
    {
        let judgement = judge(Estimate::exact(value), 0.2);
        assert_eq!(judgement.answer, answer);
        assert_close!(judgement.probability, probability, absolute = 0.0);
    }
}

#[test]
fn what_was_not_measured_decides_nothing() {
    let unknown = judge(Estimate { value: f64::NAN, plus_minus: 0.1 }, 0.2);
    assert_eq!(unknown.answer, Answer::Undecided);
    // One corner unknown: the whole is not said to serve.
    let whole = weakest([above(5.0), unknown, above(4.0)]).unwrap();
    assert_eq!(whole.answer, Answer::Undecided);
}

#[test]
fn more_is_never_worse() {
    let mut before = 0.0;
    for step in -60..=60 {
        let now = above(f64::from(step) / 10.0).probability;
        assert!(now >= before - 2e-7, "at {step}");
        assert!((0.0..=1.0).contains(&now), "at {step}: {now}");
        before = now;
    }
}

#[test]
fn the_weakest_of_several() {
    let all = [above(3.0), above(-1.0), above(0.5)];
    assert_eq!(weakest(all), Some(all[1]));
    assert_eq!(weakest([all[0]]), Some(all[0]));
    assert_eq!(weakest([]), None);
}
