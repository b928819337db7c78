//! Whole stacks of chance against a ray traced by hand.

use crate::common::trace::{Assembly, Lens};
use crate::common::{Chance, read, report_of, request, value};
use kit::{Focus, SetupError};
use optics::Figure;
use testkit::assert_close;

fn between(chance: &mut Chance, low: f64, high: f64) -> f64 {
    // Three decimals, so that the text of the kit is the number.
    ((low + (high - low) * chance.below(100_000) as f64 / 1e5) * 1e3).round() / 1e3
}

fn clear(chance: &mut Chance) -> Option<f64> {
    (chance.below(4) == 0).then(|| between(chance, 8.0, 60.0))
}

fn lens(chance: &mut Chance) -> Lens {
    Lens {
        f: between(chance, 30.0, 180.0),
        p: between(chance, 0.5, 2.0),
        n: between(chance, 1.4, 8.0),
        length: between(chance, 20.0, 90.0),
        separation: between(chance, -20.0, 20.0),
        register: between(chance, 60.0, 90.0),
    }
}

/// A stack of chance and the travel of its first lens.
fn assembly(chance: &mut Chance) -> (Assembly, f64) {
    let throat = clear(chance).map(|diameter| diameter + 10.0);
    let mut stack = Assembly::on(between(chance, 40.0, 90.0), throat);
    let spacers = |stack: &mut Assembly, chance: &mut Chance| {
        for _ in 0..chance.below(3) {
            let (length, clear) = (between(chance, 5.0, 60.0), clear(chance));
            stack.tube(length, clear);
        }
    };
    spacers(&mut stack, chance);
    if chance.below(2) == 0 {
        let (k, length) = (between(chance, 1.2, 3.0), between(chance, 10.0, 60.0));
        let (register, clear) = (between(chance, 50.0, 90.0), clear(chance));
        stack.converter(k, length, register, clear);
        spacers(&mut stack, chance);
    }
    if chance.below(2) == 0 {
        stack.bellows(between(chance, 20.0, 300.0));
    }
    let travel = if chance.below(2) == 0 { between(chance, 0.0, 10.0) } else { 0.0 };
    let first = lens(chance);
    let kind = chance.below(5);
    match kind {
        0 => {
            let (thickness, clear) = (between(chance, 0.0, 9.0), clear(chance));
            stack.reversing_ring(thickness, clear);
            stack.reversed_lens(&first, false, travel);
            return (stack, travel);
        }
        1 => {
            stack.free(between(chance, 0.0, 60.0));
            stack.reversed_lens(&first, true, travel);
            return (stack, travel);
        }
        2 => {
            stack.free(between(chance, 0.0, 60.0));
            stack.lens(&first, "m", travel);
        }
        3 => {
            let (length, clear) = (between(chance, 0.0, 30.0), clear(chance));
            stack.adapter(length, clear);
            stack.lens(&first, "n", travel);
        }
        _ => stack.lens(&first, "m", travel),
    }
    for _ in 0..chance.below(3) {
        let (dpt, gap) = (between(chance, 0.5, 10.0), between(chance, 0.0, 9.0));
        let gap = (chance.below(3) > 0).then_some(gap);
        let clear = clear(chance);
        if chance.below(4) == 0 {
            stack.free(between(chance, 0.0, 40.0));
            stack.close_up(dpt, gap, 52.0, clear, true);
        } else if chance.below(4) == 0 {
            // There and back, so that the thread in front is the same again.
            let (there, back) = (between(chance, 0.0, 4.0), between(chance, 0.0, 4.0));
            stack.step_ring(52.0, 58.0, there);
            stack.close_up(dpt, gap, 58.0, clear, false);
            stack.step_ring(58.0, 52.0, back);
            stack.close_up(dpt, gap, 52.0, None, false);
        } else {
            stack.close_up(dpt, gap, 52.0, clear, false);
        }
    }
    if chance.below(3) == 0 {
        let thickness = (chance.below(2) == 0).then(|| between(chance, 0.0, 9.0));
        let (clear, second) = (clear(chance), lens(chance));
        stack.coupling_ring(thickness, clear);
        stack.reversed_lens(&second, false, 0.0);
    }
    (stack, travel)
}

#[test]
fn every_figure_of_a_stack_of_chance() {
    let mut chance = Chance(2026);
    let (mut sharp, mut inside, mut virtual_subjects, mut limits) = (0, 0, 0, std::collections::BTreeSet::new());
    for _ in 0..4000 {
        let (stack, travel) = assembly(&mut chance);
        let parts = stack.parts.join(",");
        let by_hand = stack.traced();
        let focus = if travel > 0.0 { Focus::Travel(travel) } else { Focus::Infinity };
        match report_of(&read(&stack.text), &request(&parts, focus)) {
            Ok(report) => {
                sharp += 1;
                let expected = [
                    (Figure::Magnification, by_hand.magnification.abs()),
                    (Figure::SubjectToFilm, by_hand.subject_to_film),
                    (Figure::WorkingDistance, by_hand.working_distance),
                    (Figure::EffectiveFNumber, by_hand.effective),
                ];
                for (figure, by_hand) in expected {
                    let found = value(&report, figure);
                    assert_close!(found, by_hand, relative = 1e-7, "{}: {parts}\n{}", figure.label(), stack.text);
                }
                assert_close!(value(&report, Figure::Extension), stack.extension, absolute = 1e-9, "{parts}");
                assert_eq!(report.limited_by, by_hand.limited_by, "{parts}\n{}", stack.text);
                let kind = read(&stack.text).part(&by_hand.limited_by).unwrap().kind();
                limits.insert(kind);
                if let Some(lit) = report.lit_whole_mm {
                    assert_close!(lit, stack.lit_whole(), absolute = 1e-6, "{parts}\n{}", stack.text);
                }
            }
            Err(SetupError::SubjectInside { inside_mm }) => {
                inside += 1;
                assert_close!(-inside_mm, by_hand.working_distance, relative = 1e-7, "{parts}");
            }
            // Refused: nothing in front of the glass is sharp, or the film lies on the wrong side of infinity.
            Err(SetupError::TooNearFilm { missing_mm, .. }) => {
                assert!(by_hand.magnification < 0.0 && missing_mm > 0.0, "{parts}: {by_hand:?}");
            }
            Err(SetupError::Focus(_)) => {
                assert!(by_hand.before_glass <= 0.0, "{parts}: {by_hand:?}");
                virtual_subjects += 1;
            }
            Err(other) => panic!("{parts}: {other}\n{}", stack.text),
        }
    }
    let counts = format!("{sharp} sharp, {inside} inside, {virtual_subjects} virtual, limited by {limits:?}");
    assert!(sharp > 1500 && inside > 50 && virtual_subjects > 5 && limits.len() > 5, "{counts}");
}
