//! How many set-ups there are, and that none is left out in silence.

use crate::common::{BENCH, read};
use kit::{AskedLimits, Demand, Kit, Limits, SetupError, reach};

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
    // 5 tubes and 2 bellows in any company: 2⁵·2² = 128 sets. Before them the lens with rows of up to 3 close-up
    // lenses, 1 + 3 + 6 + 6 = 16, or reversed on either ring, 2: 18 ends. 128·18 = 2304 ways, of which the reversed
    // lens on the bare rings is at 0.18 and 0.14 already and the others at infinity: nothing is blocked.
    let kit = drawer(5, 2, 3);
    let everything = Limits::everything(&kit);
    assert_eq!(everything, Limits { tubes: 5, bellows: 2, close_ups: 3, ..Limits::default() });
    let whole = listed(&kit, everything);
    assert_eq!(whole.ways, 2304);
    assert_eq!(whole.total as usize, whole.setups.len());
    assert!(whole.total <= whole.ways);
    // Up to 3 of 5 tubes: 1 + 5 + 10 + 10 = 26; at most one of 2 bellows: 3; up to 2 close-up lenses: 10 rows.
    assert_eq!(listed(&kit, Limits::default()).ways, 26 * 3 * 12);
}

#[test]
fn what_the_limits_leave_out_is_said() {
    let kit = drawer(5, 2, 3);
    let whole = listed(&kit, Limits::everything(&kit));
    assert_eq!(whole.cut, Vec::<String>::new());
    let all = ["tube", "tube-1", "tube-2", "tube-3", "tube-4", "bellows", "bellows-1"];
    let holds = |parts: &[String]| all.iter().all(|id| parts.iter().any(|part| part == id));
    assert!(whole.setups.iter().any(|setup| holds(&setup.parts)), "five tubes on two bellows are a set-up too");
    let usual = listed(&kit, Limits::default());
    assert!(usual.total < whole.total);
    let cut = usual.cut.join("\n");
    for words in [
        "more than 3 tubes",
        "5 would fit",
        "more than 1 bellows",
        "2 would fit",
        "more than 2 close-up lenses",
        "3 would",
    ] {
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
fn more_than_can_be_gone_through_is_refused() {
    // Twelve close-up lenses of one thread stand in more than 10⁹ orders (12!·e).
    let kit = drawer(1, 1, 12);
    let usual = listed(&kit, Limits::default());
    assert!(usual.cut.join("").contains("12 would fit"));
    let ask = |close_ups| {
        let limits = Limits::default().asked(AskedLimits { close_ups: Some(close_ups), ..AskedLimits::default() });
        reach(&kit, &Demand { limits, most: 10, magnification: Some(0.5), ..Demand::default() })
    };
    assert_eq!(ask(3).unwrap().limits.close_ups, 3);
    let refused = ask(12).unwrap_err();
    assert!(matches!(refused, SetupError::TooMany { .. }) && refused.to_string().contains("400000"), "{refused}");
    // A hundred tubes are no trouble in threes, and are refused all together.
    let many = drawer(100, 1, 2);
    let ask = |tubes| {
        let limits = Limits { tubes, ..Limits::default() };
        reach(&many, &Demand { limits, most: 10, magnification: Some(0.5), ..Demand::default() })
    };
    assert!(ask(3).is_ok());
    assert!(matches!(ask(100), Err(SetupError::TooMany { .. })));
}
