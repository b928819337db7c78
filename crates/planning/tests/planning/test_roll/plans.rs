//! Whole plans: what fits, what is told, what a person may do to them.

use super::stand::{gear, matched, meeting, need, roll, sure_of_focus, test};
use planning::test_roll::{
    AperturesAsked, Cannot, Certainty, Control, Decision, MOST_FRAMES, Question, Role, RollAtHand, Rounds, Scatter,
    Slot, Test, TestRollError, Trouble,
};
use proptest::prelude::*;
use testkit::assert_close;

fn compare(contender: usize, aperture: usize, take: usize) -> Slot {
    Slot { role: Role::Compare, contender, aperture, take, step: 0 }
}

#[test]
fn a_roll_of_twelve_for_two_lenses() {
    let test = test(2, sure_of_focus(2));
    let plan = test.plan(&[roll(12)]).unwrap();
    let frames = &plan.layout[0];
    assert_eq!(frames[0].role, Role::Start, "the card comes first");
    assert_eq!(frames.last().unwrap().role, Role::End, "the control closes the roll");
    assert_eq!(plan.decision.told(), plan.decision.pairs.len(), "{:?}", plan.decision);
    assert!(frames.len() <= 12 && plan.free == 12 - frames.len() && plan.wanting == 0);
    // One lens, the other, and back to the control: two changes of lens are the fewest.
    assert_eq!(test.changes(&plan.layout).lens, 2);
}

#[test]
fn least_difference_in_closed_form() {
    // Two set-ups with three takes each and nothing else: 4 degrees of freedom, so 3.76106 standard errors (scipy 1.17.1,
    // see power.rs) of √(2/3) times the scatter.
    let question = Question { control: Control::Off, scatter: Scatter { lp_mm: 2.0, degrees: 0 }, ..sure_of_focus(1) };
    let test = test(2, question);
    let slots: Vec<Slot> = (0..6).map(|i| compare(i % 2, 0, i / 2)).collect();
    let decision = test.decide(&slots);
    assert_eq!(decision.degrees, 4);
    let expected = 3.761_059_553_825 * (2.0f64 / 3.0).sqrt() * 2.0;
    assert_close!(decision.pairs[0].least_lp_mm.unwrap(), expected, relative = 1e-8);
    // Known before with 96 degrees of freedom: 100 in all, 2.828847.
    let known = Question { scatter: Scatter { lp_mm: 2.0, degrees: 96 }, ..test.question.clone() };
    let decision = super::stand::test(2, known).decide(&slots);
    assert_close!(
        decision.pairs[0].least_lp_mm.unwrap(),
        2.828_847_210_346 * (2.0f64 / 3.0).sqrt() * 2.0,
        relative = 1e-8
    );
}

#[test]
fn as_many_takes_as_the_power_asks_for() {
    // Without pooling over set-ups or apertures two set-ups need four takes each for three standard deviations (Cohen's
    // method, power.rs); the plan's list stops there, and not before.
    let question = Question {
        control: Control::Off,
        difference_lp_mm: 3.0,
        scatter: Scatter { lp_mm: 1.0, degrees: 0 },
        ..sure_of_focus(1)
    };
    let test = test(2, question);
    let wishes = test.wishes(usize::MAX);
    assert_eq!(Certainty::default().takes_needed(3.0, 100), Some(4));
    assert_eq!(wishes.len(), 8);
    assert!(test.decide(&wishes).pairs[0].told);
    assert!(!test.decide(&wishes[..6]).pairs[0].told);
}

#[test]
fn without_a_repeat_nothing_is_told_from_scatter() {
    let test = test(2, Question { control: Control::Off, ..sure_of_focus(1) });
    let slots = [compare(0, 0, 0), compare(1, 0, 0)];
    let decision = test.decide(&slots);
    assert_eq!(decision.pairs[0].least_lp_mm, None);
    let cannot = test.cannot(&decision);
    assert!(cannot.contains(&Cannot::Scatter) && cannot.contains(&Cannot::Drift), "{cannot:?}");
    let helps = test.best_repeat(&slots).unwrap();
    assert_eq!(helps.least_lp_mm, None);
    // One degree of freedom: 16.334 standard errors of √(1 + 1/2) of the scatter.
    let scatter = test.question.scatter.lp_mm;
    assert_close!(helps.with_repeat_lp_mm, 16.334_008_869_95 * 1.5f64.sqrt() * scatter, relative = 1e-8);
}

#[test]
fn a_repeat_of_a_repeat_is_yet_another_take() {
    let test = test(2, sure_of_focus(1));
    let plan = test.plan(&[roll(12)]).unwrap();
    let mut frames = plan.layout[0].clone();
    let more = test.repeated(&frames[0], &frames);
    assert!(!frames.contains(&more) && more.role == Role::Compare, "the card once more is one more take of its set-up");
    frames.push(more);
    let again = test.repeated(&frames[0], &frames);
    assert!(!frames.contains(&again));
}

#[test]
fn what_the_frames_cannot_tell_is_said() {
    let question = Question { difference_lp_mm: 0.5, ..sure_of_focus(3) };
    let test = test(3, question);
    let plan = test.plan(&[roll(8)]).unwrap();
    let cannot = test.cannot(&plan.decision);
    assert!(cannot.iter().any(|c| matches!(c, Cannot::Difference { .. })), "{cannot:?}");
    assert!(cannot.iter().any(|c| matches!(c, Cannot::NotTaken { .. })), "{cannot:?}");
    let more = plan.one_more.unwrap();
    assert!(more.frames > 0);
    let worst = |decision: &Decision| decision.worst(0, &[0, 1, 2]).unwrap();
    assert!(worst(&more.decision) < worst(&plan.decision), "one more roll tells more");
}

#[test]
fn doubtful_focus_is_bracketed_or_said() {
    // The balance at 0.98× and 4 mm is near effective f/40; the depth 2·c·N/m² there is some 3.5 mm with c = 1/26.8 mm.
    // Focus to ±4 mm needs a bracket.
    let question = Question { focus_plus_minus_mm: Some(4.0), ..sure_of_focus(1) };
    let test = test(2, question);
    let bracket = test.groups[0].brackets[0][0].unwrap();
    assert!(bracket.count > 1, "{bracket:?}");
    let short = test.plan(&[roll(3)]).unwrap();
    assert!(test.cannot(&short.decision).iter().any(|c| matches!(c, Cannot::Focus { .. })));
    let long = test.plan(&[roll(36)]).unwrap();
    assert!(
        long.decision.cells.iter().all(|held| held.in_focus >= test.question.focus_confidence),
        "{:?}",
        long.decision
    );
    let side = long.layout[0].iter().find(|slot| slot.step == -1).unwrap();
    assert!(
        test.purpose(side).contains("nearer to the subject: in case the focus fell in front of it"),
        "{}",
        test.purpose(side)
    );
}

#[test]
fn there_and_back_again_turns_round() {
    let question =
        Question { rounds: Rounds::ThereAndBack, control: Control::Off, difference_lp_mm: 0.8, ..sure_of_focus(1) };
    let test = test(3, question);
    let plan = test.plan(&[roll(12)]).unwrap();
    let seen: Vec<usize> = plan.layout[0].iter().map(|slot| slot.contender).collect();
    let (there, back) = (&seen[..3], &seen[3..6]);
    assert_eq!(there.iter().rev().copied().collect::<Vec<_>>(), back, "an even drift cancels: {seen:?}");
}

#[test]
fn the_bare_lens_as_control() {
    let control = Control::Bare { name: "the bare lens".into(), gear: gear(9) };
    let test = test(2, Question { control, ..sure_of_focus(1) });
    let plan = test.plan(&[roll(12)]).unwrap();
    let frames = &plan.layout[0];
    assert_eq!([frames[0].contender, frames.last().unwrap().contender], [2, 2]);
    assert!(test.purpose(&frames[0]).contains("the bare lens"));
    assert!(frames.iter().filter(|slot| slot.role == Role::Compare).all(|slot| slot.contender < 2));
    assert!(plan.decision.drift_lp_mm.is_some());
}

#[test]
fn every_roll_has_its_control() {
    let test = test(3, Question { difference_lp_mm: 0.6, ..sure_of_focus(3) });
    let plan = test.plan(&[roll(12), roll(12), roll(12)]).unwrap();
    assert_eq!(plan.layout[0][0].role, Role::Start);
    assert_eq!(plan.layout[1][0].role, Role::Roll);
    assert_eq!(plan.layout[2][0].role, Role::Roll);
    assert!(plan.layout.iter().all(|frames| frames.len() <= 12));
}

#[test]
fn what_was_shot_is_planned_around() {
    let test = test(2, sure_of_focus(2));
    let whole = test.plan(&[roll(12)]).unwrap();
    let shot: Vec<Slot> = whole.layout[0][..4].to_vec();
    let rest = RollAtHand { free: (5..=12).collect(), shot: shot.clone() };
    let again = test.plan(std::slice::from_ref(&rest)).unwrap();
    assert!(again.layout[0].iter().all(|slot| !shot.contains(slot)), "nothing is shot twice");
    assert!(again.layout[0].iter().all(|slot| slot.role != Role::Start));
    assert_eq!(again.decision, whole.decision, "together they tell the same");
    let mut both = again.layout.clone();
    both[0].push(shot[1]);
    assert!(test.troubles(&both, &[rest]).contains(&Trouble::Shot { place: both[0].len() - 1 }));
}

#[test]
fn one_set_up_is_compared_with_itself_at_other_apertures() {
    let test = test(1, sure_of_focus(3));
    let plan = test.plan(&[roll(12)]).unwrap();
    assert!(plan.decision.pairs.iter().all(|pair| !pair.is_between_set_ups()));
    assert!(!plan.decision.pairs.is_empty());
    assert!(test.cannot(&plan.decision).contains(&Cannot::OneSetUp));
}

#[test]
fn troubles_say_why_not() {
    let test = test(2, sure_of_focus(1));
    let rolls = [roll(3)];
    let plan = test.plan(&rolls).unwrap();
    assert_eq!(test.troubles(&plan.layout, &rolls), []);
    let mut over = plan.layout.clone();
    over[0].push(compare(1, 0, 5));
    let [trouble] = &test.troubles(&over, &rolls)[..] else { panic!() };
    assert_eq!(
        trouble.to_string(),
        "roll 1 has 3 frames left, and 4 are planned on it: move 1 to another roll or take them off"
    );
    let twice = vec![vec![compare(0, 0, 0), compare(0, 0, 0)]];
    assert_eq!(test.troubles(&twice, &rolls), [Trouble::Twice { places: [0, 1] }]);
    assert_eq!(test.troubles(&[vec![compare(7, 0, 0)]], &rolls), [Trouble::Unknown { place: 0 }]);
    assert_eq!(test.troubles(&[vec![]], &rolls), [Trouble::Nothing]);
}

#[test]
fn refusals() {
    let all_alike = test(2, sure_of_focus(1));
    assert_eq!(all_alike.plan(&[]).unwrap_err(), TestRollError::NoFrames);
    assert_eq!(all_alike.plan(&[roll(0)]).unwrap_err(), TestRollError::NoFrames);
    let error = all_alike.plan(&[roll(10_000)]).unwrap_err();
    assert_eq!(error, TestRollError::TooManyFrames { found: 10_000, most: MOST_FRAMES });
    let (all, met) = meeting(2);
    let members = || vec![vec![matched(0, 0.98), matched(1, 0.98)]];
    let far = Question { apertures: AperturesAsked::These(vec![500.0]), ..sure_of_focus(1) };
    let error = Test::of(far, &all, &met, members()).unwrap_err();
    assert_eq!(
        error.to_string(),
        "no two set-ups can be set to the same effective f-number 500: lens 0 gives f/7.9 to f/63, lens 1 gives f/7.9 to f/63"
    );
    let wrong = |question: Question| Test::of(question, &all, &met, members()).unwrap_err().to_string();
    let scatter = Question { scatter: Scatter { lp_mm: 0.0, degrees: 0 }, ..sure_of_focus(1) };
    assert!(wrong(scatter).starts_with("the scatter of takes must lie between 0.001"));
    assert!(wrong(Question { difference_lp_mm: f64::NAN, ..sure_of_focus(1) }).contains("NaN"));
    assert!(wrong(sure_of_focus(0)).starts_with("the number of apertures"));
    assert!(wrong(Question { focus_step_share: 1.5, ..sure_of_focus(1) }).contains("focus bracket"));
}

#[test]
fn two_thousand_frames_are_planned_and_most_stay_free() {
    let test = test(8, Question { difference_lp_mm: 0.05, ..Question::of(need()) });
    let plan = test.plan(&[roll(1000), roll(1000)]).unwrap();
    let planned: usize = plan.layout.iter().map(Vec::len).sum();
    assert!(planned + plan.free == 2000 && planned > 200, "{planned}");
    assert!(test.troubles(&plan.layout, &[roll(1000), roll(1000)]).is_empty());
}

#[test]
fn slots_come_back_from_their_text() {
    for slot in [compare(2, 1, 3), Slot { role: Role::End, contender: 0, aperture: 0, take: 1, step: -2 }] {
        assert_eq!(slot.to_string().parse::<Slot>(), Ok(slot));
    }
    for wrong in
        ["", "compare", "compare.1.2.3", "compare.1.2.3.x", "compare.-1.0.0.0", "end.99999999.0.0.0", "shot.1.1.1.1"]
    {
        assert!(wrong.parse::<Slot>().is_err(), "{wrong}");
    }
}

fn question() -> impl Strategy<Value = Question> {
    (1usize..4, 0.0..3.0f64, 0.5..8.0f64, 0..3usize, any::<bool>()).prop_map(
        |(apertures, focus, difference, control, back)| Question {
            focus_plus_minus_mm: Some(focus),
            difference_lp_mm: difference,
            apertures: AperturesAsked::Around(apertures),
            control: match control {
                0 => Control::Off,
                1 => Control::Reference(0),
                _ => Control::Bare { name: "the bare lens".into(), gear: gear(40) },
            },
            rounds: if back { Rounds::ThereAndBack } else { Rounds::Together },
            ..Question::of(need())
        },
    )
}

fn tells_no_more(fewer: &Decision, more: &Decision) -> Result<(), TestCaseError> {
    prop_assert!(fewer.told() <= more.told());
    for (p, q) in fewer.pairs.iter().zip(&more.pairs) {
        prop_assert_eq!(p.cells, q.cells);
        prop_assert!(!p.told || q.told);
        let least = |pair: Option<f64>| pair.unwrap_or(f64::INFINITY);
        prop_assert!(least(p.least_lp_mm) >= least(q.least_lp_mm) - 1e-9);
        prop_assert!(p.in_focus <= q.in_focus + 1e-9);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn plans_are_valid(question in question(), count in 1usize..5, rolls in proptest::collection::vec(0u32..14, 1..4)) {
        let test = test(count, question);
        let rolls: Vec<RollAtHand> = rolls.into_iter().map(roll).collect();
        let Ok(plan) = test.plan(&rolls) else {
            prop_assert!(rolls.iter().all(|roll| roll.free.is_empty()));
            return Ok(());
        };
        prop_assert_eq!(test.troubles(&plan.layout, &rolls), [], "never more frames than the rolls hold, none twice");
        let all: Vec<Slot> = plan.layout.iter().flatten().copied().collect();
        for slot in &all {
            let purpose = test.purpose(slot);
            prop_assert!(purpose.ends_with('.') && purpose.len() > 20, "{purpose}");
        }
        let enough = test.frames_for_control().is_some_and(|least| least <= rolls[0].free.len());
        prop_assert_eq!(enough && !all.iter().any(|slot| slot.role == Role::End), false, "control present");
        prop_assert_eq!(all.first().map(|slot| slot.role), Some(Role::Start));
        prop_assert_eq!(test.decide(&all), plan.decision);
    }

    #[test]
    fn fewer_frames_never_tell_more(question in question(), count in 1usize..4, frames in 1u32..30) {
        let test = test(count, question);
        let fewer = test.plan(&[roll(frames)]).unwrap();
        let more = test.plan(&[roll(frames + 1)]).unwrap();
        tells_no_more(&fewer.decision, &more.decision)?;
    }

    #[test]
    fn taking_a_frame_off_never_tells_more(question in question(), count in 1usize..4, out in any::<prop::sample::Index>()) {
        let test = test(count, question);
        let all: Vec<Slot> = test.plan(&[roll(20)]).unwrap().layout.concat();
        let mut fewer = all.clone();
        fewer.remove(out.index(all.len()));
        tells_no_more(&test.decide(&fewer), &test.decide(&all))?;
    }
}
