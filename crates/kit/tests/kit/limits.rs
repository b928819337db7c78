//! How many set-ups there are, and that none is left out in silence.

use crate::common::{BENCH, read};
use kit::{AskedLimits, Demand, Kit, Limits, MOST_SETUPS, SetupError, reach};

/// The bench with more tubes, bellows and close-up lenses of its thread.
fn drawer(tubes: usize, bellows: usize, close_ups: usize) -> Kit {
    let mut text = BENCH.to_string();
    for i in 1..tubes {
        text += &format!("[[tube]]\nid = \"tube-{i}\"\nmount = \"m\"\nlength_mm = {}\n", 5 + i);
    }
    for i in 1..bellows {
        text += &format!("[[bellows]]\nid = \"bellows-{i}\"\nmount = \"m\"\ndraw_mm = [20, {}]\n", 60 + i);
    }
    for i in 2..close_ups {
        text += &format!("[[close_up_lens]]\nid = \"more-{i}\"\npower_dpt = 1\nthread_mm = 52\n");
    }
    read(&text)
}

fn listed(kit: &Kit, limits: Limits) -> kit::Reach {
    reach(kit, &Demand { limits, ..Demand::default() }).unwrap()
}

#[test]
fn a_count_worked_out_by_hand() {
    // 5 tubes and 2 bellows in any company: 2⁵·2² = 128 sets. Before them the lens with rows of up to 3 close-up lenses,
    // 1 + 3 + 6 + 6 = 16, or reversed on either ring, 2: 18 ends. 128·18 = 2304.
    let kit = drawer(5, 2, 3);
    let everything = Limits::everything(&kit);
    assert_eq!(everything, Limits { tubes: 5, bellows: 2, close_ups: 3 });
    assert_eq!(everything.combinations(&kit, None), 2304);
    assert_eq!(everything.combinations(&kit, Some("body")), 2304);
    assert_eq!(everything.combinations(&kit, Some("nobody")), 0);
    // Up to 3 of 5 tubes: 1 + 5 + 10 + 10 = 26; at most one of 2 bellows: 3; up to 2 close-up lenses: 10 rows.
    assert_eq!(Limits::default().combinations(&kit, None), 26 * 3 * 12);
}

#[test]
fn every_set_up_is_listed_when_that_can_be() {
    let kit = drawer(5, 2, 3);
    let limits = Limits::feasible(&kit, None, AskedLimits::default()).unwrap();
    let whole = listed(&kit, limits);
    assert_eq!(whole.cut, Vec::<String>::new());
    assert_eq!(whole.limits, Limits::everything(&kit));
    let all = ["tube", "tube-1", "tube-2", "tube-3", "tube-4", "bellows", "bellows-1"];
    let holds = |parts: &[String]| all.iter().all(|id| parts.iter().any(|part| part == id));
    assert!(whole.setups.iter().any(|setup| holds(&setup.parts)), "five tubes on two bellows are a set-up too");
    let usual = listed(&kit, Limits::default());
    assert!(usual.setups.len() < whole.setups.len());
    let cut = usual.cut.join("\n");
    for words in
        ["more than 3 tubes", "5 would fit", "more than 1 bellows", "2 would fit", "more than 2 close-up lenses"]
    {
        assert!(cut.contains(words), "{words}: {cut}");
    }
    assert_eq!(usual.cut.len(), 3);
}

#[test]
fn only_what_would_fit_counts_as_cut() {
    // Four tubes of another mount and four close-up lenses of another thread are not kept off the list by any limit.
    let mut text = BENCH.to_string();
    for i in 0..4 {
        text += &format!("[[tube]]\nid = \"tube-{i}\"\nmount = \"other\"\nlength_mm = 9\n");
        text += &format!("[[close_up_lens]]\nid = \"more-{i}\"\npower_dpt = 1\nthread_mm = 67\n");
    }
    assert_eq!(listed(&read(&text), Limits::default()).cut, Vec::<String>::new());
}

#[test]
fn too_many_to_list_fall_back_and_say_so() {
    // Twelve close-up lenses of one thread stand in more than 10⁹ orders (12!·e).
    let kit = drawer(1, 1, 12);
    assert!(Limits::everything(&kit).combinations(&kit, None) > 1_000_000_000);
    let limits = Limits::feasible(&kit, None, AskedLimits::default()).unwrap();
    assert_eq!(limits, Limits { tubes: 1, bellows: 1, close_ups: 2 });
    assert!(limits.combinations(&kit, None) <= MOST_SETUPS);
    assert!(listed(&kit, limits).cut.join("").contains("12 would fit"));
    // What was asked for stands; what cannot be is refused.
    let three = AskedLimits { close_ups: Some(3), ..AskedLimits::default() };
    assert_eq!(Limits::feasible(&kit, None, three).unwrap().close_ups, 3);
    let all = AskedLimits { close_ups: Some(12), ..AskedLimits::default() };
    let refused = Limits::feasible(&kit, None, all).unwrap_err();
    assert!(matches!(refused, SetupError::TooMany { .. }) && refused.to_string().contains("300000"), "{refused}");
    // A hundred tubes do not overflow anything.
    let many = drawer(100, 1, 2);
    assert_eq!(Limits::everything(&many).combinations(&many, None), u64::MAX);
    assert!(Limits::feasible(&many, None, AskedLimits::default()).unwrap().tubes < 100);
}
