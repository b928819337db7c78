//! Shared magnifications against what the optics say, and the cases where there is none.

use super::stand::{contender, spans};
use optics::balanced_f_number;
use planning::test_roll::{Contender, LeftOut, MeetingRule, Span, TestRollError, meet};
use proptest::prelude::*;
use testkit::assert_close;

#[test]
fn the_wanted_size_where_all_reach_it() {
    let meeting = meet(&[contender("a", 0.3, 1.2), contender("b", 0.5, 2.0)], 0.98, &MeetingRule::default()).unwrap();
    assert_eq!(meeting.groups.len(), 1);
    assert_close!(meeting.groups[0].magnification, 0.98, relative = 1e-12);
    assert!(meeting.groups[0].members.iter().all(|member| member.magnification == 0.98));
    assert_eq!(meeting.left_out, []);
}

#[test]
fn the_nearest_common_size_where_one_falls_short() {
    let meeting = meet(&[contender("a", 0.3, 0.9), contender("b", 0.5, 2.0)], 0.98, &MeetingRule::default()).unwrap();
    assert_close!(meeting.groups[0].magnification, 0.9, relative = 1e-12);
    // 8 % short of the wanted size, and no mismatch.
    assert!(meeting.groups[0].members.iter().all(|member| member.magnification == 0.9));
}

#[test]
fn a_hair_is_forgiven_within_the_tolerance() {
    // Two fixed set-ups 1 % apart, and a tolerance of 2 %: they meet between.
    let meeting = meet(&[contender("a", 1.0, 1.0), contender("b", 1.01, 1.01)], 1.0, &MeetingRule::default()).unwrap();
    assert_eq!(meeting.groups[0].members.len(), 2);
    // 3 % apart they do not.
    let error =
        meet(&[contender("a", 1.0, 1.0), contender("b", 1.03, 1.03)], 1.0, &MeetingRule::default()).unwrap_err();
    assert!(matches!(error, TestRollError::NothingShared { .. }), "{error}");
}

#[test]
fn who_does_not_come_along_forms_a_group_or_is_left_out() {
    let rule = MeetingRule { farthest: 1.0, ..MeetingRule::default() };
    let four =
        [contender("a", 0.9, 1.1), contender("b", 0.9, 1.3), contender("c", 0.5, 0.6), contender("d", 0.55, 0.7)];
    let meeting = meet(&four, 1.0, &rule).unwrap();
    assert_eq!(meeting.groups.len(), 2);
    assert_close!(meeting.groups[0].magnification, 1.0, relative = 1e-12);
    // Nearest to the wanted size that both reach: the end of c.
    assert_close!(meeting.groups[1].magnification, 0.6, relative = 1e-12);
    let three = meet(&four[..3], 1.0, &rule).unwrap();
    let [(2, why @ LeftOut::Alone { .. })] = &three.left_out[..] else { panic!("{three:?}") };
    assert_eq!(why.to_string(), "c comes to 0.6× at best, and the others meet at 1×: it needs more extension");
}

#[test]
fn other_tubes_count_as_ways_of_the_same_set_up() {
    let with_tubes = Contender { ways: spans(&[(0.2, 0.3), (0.9, 1.0)]), ..contender("a", 1.0, 1.0) };
    let meeting = meet(&[with_tubes, contender("b", 0.8, 1.2)], 0.95, &MeetingRule::default()).unwrap();
    assert_eq!(meeting.groups[0].members[0].way, 1);
    assert_close!(meeting.groups[0].magnification, 0.95, relative = 1e-12);
}

#[test]
fn refusals_name_what_is_wrong() {
    let rule = MeetingRule::default();
    assert_eq!(meet(&[], 1.0, &rule).unwrap_err(), TestRollError::NoSetUps);
    let twice = meet(&[contender("a", 0.5, 1.0), contender("a", 0.5, 1.0)], 1.0, &rule).unwrap_err();
    assert!(twice.to_string().starts_with("a is chosen twice"), "{twice}");
    let apart = meet(&[contender("a", 0.1, 0.2), contender("b", 2.0, 3.0)], 1.0, &rule).unwrap_err();
    assert_eq!(
        apart.to_string(),
        "the set-ups share no magnification within 25 % of the 1× that the job asks for: a comes to 0.2×, b comes to 2×; \
         change their tubes, or test those that meet"
    );
    let many: Vec<Contender> = (0..25).map(|i| contender(&i.to_string(), 0.5, 1.0)).collect();
    assert!(matches!(meet(&many, 1.0, &rule).unwrap_err(), TestRollError::TooManySetUps { found: 25, most: 24 }));
    for bad in [(0.0, 1.0), (2.0, 1.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)] {
        let error = meet(&[contender("a", bad.0, bad.1)], 1.0, &rule).unwrap_err();
        assert!(matches!(error, TestRollError::Span { .. }), "{bad:?}: {error}");
    }
    let none = Contender { ways: Vec::new(), ..contender("n", 1.0, 1.0) };
    let meeting = meet(&[none, contender("a", 0.5, 1.0), contender("b", 0.5, 1.0)], 1.0, &rule).unwrap();
    assert_eq!(meeting.left_out, [(0, LeftOut::NoPicture { name: "n".into() })]);
}

#[test]
fn one_set_up_meets_itself() {
    let meeting = meet(&[contender("a", 0.3, 1.2)], 0.98, &MeetingRule::default()).unwrap();
    assert_eq!(meeting.groups[0].members.len(), 1);
}

#[test]
fn travel_for_a_shared_size_by_the_thin_lens() {
    // F4/W1: extension e = f·m. Two lenses of 80 and 120 mm that extend from 10 to 60 mm span m = e/f; the size that both
    // reach nearest to 0.7 is 60/120 = 0.5, which the 80 reaches with 40 mm.
    let span = |f: f64| (10.0 / f, 60.0 / f);
    let (short, long) = (span(80.0), span(120.0));
    let rule = MeetingRule { farthest: 0.5, ..MeetingRule::default() };
    let meeting = meet(&[contender("80", short.0, short.1), contender("120", long.0, long.1)], 0.7, &rule).unwrap();
    let members = &meeting.groups[0].members;
    assert_close!(members[0].magnification * 80.0, 40.0, relative = 1e-9);
    assert_close!(members[1].magnification * 120.0, 60.0, relative = 1e-9);
    // And there both balance depth and diffraction at the same effective f-number.
    let at = |m: f64| balanced_f_number(m, 4.0).0;
    assert_close!(at(members[0].magnification), at(members[1].magnification), relative = 1e-12);
}

proptest! {
    #[test]
    fn members_match_and_lie_in_their_spans(
        ends in proptest::collection::vec((0.1..2.0f64, 1.0..3.0f64), 2..8),
        wanted in 0.2..2.0f64,
        tolerance in 0.001..0.1f64,
    ) {
        let all: Vec<Contender> =
            ends.iter().enumerate().map(|(i, (low, times))| contender(&i.to_string(), *low, low * times)).collect();
        let rule = MeetingRule { tolerance, farthest: 0.5, groups: 2 };
        let Ok(meeting) = meet(&all, wanted, &rule) else { return Ok(()) };
        let mut seen: Vec<usize> = meeting.left_out.iter().map(|(c, _)| *c).collect();
        for group in &meeting.groups {
            prop_assert!(group.members.len() >= 2);
            prop_assert!((group.magnification / wanted).ln().abs() <= 1.5f64.ln() + 1e-6);
            for member in &group.members {
                seen.push(member.contender);
                let Span { least, largest } = all[member.contender].ways[member.way];
                prop_assert!((least..=largest).contains(&member.magnification));
                for other in &group.members {
                    let ratio = member.magnification / other.magnification;
                    prop_assert!(ratio <= (1.0 + tolerance) * (1.0 + 1e-6), "each pair is matched: {ratio}");
                }
            }
        }
        seen.sort_unstable();
        prop_assert_eq!(seen, (0..all.len()).collect::<Vec<_>>(), "everybody is somewhere once");
    }

    #[test]
    fn whoever_all_share_is_found(
        low in proptest::collection::vec(0.2..0.9f64, 2..6),
        high in proptest::collection::vec(1.1..3.0f64, 2..6),
    ) {
        // All reach 1 exactly, so the group is everybody at 1.
        let all: Vec<Contender> =
            low.iter().zip(&high).enumerate().map(|(i, (l, h))| contender(&i.to_string(), *l, *h)).collect();
        let meeting = meet(&all, 1.0, &MeetingRule::default()).unwrap();
        prop_assert_eq!(meeting.groups[0].members.len(), all.len());
        prop_assert_eq!(meeting.groups[0].magnification, 1.0);
    }
}
