//! The laws of a front, and a second opinion on it.

use crate::common::{beetle, tubes};
use planning::{Axis, Brief, Candidate, Choice, Dominated, Hair, dominates, front, reprieved};
use proptest::prelude::*;
use std::collections::BTreeSet;

/// Figures so coarse that a hair never decides, and few enough for many ties: stops, room (3 is infinite), glass, the
/// largest f-number (so depth), past close range, and how much is cropped (so enlargement).
type Coarse = [usize; 6];

fn choice(coarse: Coarse, key: usize) -> Choice {
    let [stops, room, glass, closed, past, crop] = coarse;
    let need = Brief { largest_crop: 0.9, ..beetle() }.need().unwrap();
    let candidate = Candidate {
        key,
        magnification: 0.98 / (1.0 + 0.2 * crop as f64),
        stops_lost: stops as f64,
        working_distance_mm: (room < 3).then_some(50.0 * room as f64),
        glass_added: glass,
        // Depth at one f-number goes as 1/m for the same print; the factor takes that out again.
        f_number_factor: 1.0 / (1.0 + 0.2 * crop as f64),
        f_numbers: [2.0, 8.0 + 4.0 * closed as f64],
        past_close_range: 1.0 + past as f64,
        ..tubes()
    };
    need.choice(&candidate).unwrap()
}

/// The same order, told from the coarse figures alone.
fn beats(p: Coarse, q: Coarse) -> bool {
    let signed = |[stops, room, glass, closed, past, crop]: Coarse| {
        [stops as i32, -(room as i32), glass as i32, -(closed as i32), past as i32, crop as i32]
    };
    let (p, q) = (signed(p), signed(q));
    p != q && p.iter().zip(&q).all(|(p, q)| p <= q)
}

fn many() -> impl Strategy<Value = Vec<Coarse>> {
    proptest::collection::vec(proptest::array::uniform6(0..4usize), 0..40)
}

fn choices(coarse: &[Coarse]) -> Vec<Choice> {
    coarse.iter().enumerate().map(|(key, &coarse)| choice(coarse, key)).collect()
}

fn keys(choices: &[Choice], axes: &[Axis]) -> BTreeSet<usize> {
    front(choices, axes).members.into_iter().map(|index| choices[index].candidate.key).collect()
}

/// Set-ups a hair apart, over one hair and over many.
fn fine() -> impl Strategy<Value = Vec<Choice>> {
    let one = (0.0..0.4f64, 100.0..104.0f64, 0..2usize, 8.0..9.0f64, 0.9..1.04f64, 0.96..1.0f64);
    let make = |(stops_lost, room, glass_added, closed, past_close_range, ratio)| Candidate {
        magnification: 0.98 * ratio,
        stops_lost,
        working_distance_mm: Some(room),
        glass_added,
        f_numbers: [2.0, closed],
        past_close_range,
        ..tubes()
    };
    let need = beetle().need().unwrap();
    proptest::collection::vec(one, 3..25)
        .prop_map(move |all| all.into_iter().map(|one| need.choice(&make(one)).unwrap()).collect())
}

proptest! {
    #[test]
    fn agrees_with_every_pair_compared(coarse in many()) {
        let found = front(&choices(&coarse), &Axis::ALL);
        let expected: Vec<usize> =
            (0..coarse.len()).filter(|&q| !coarse.iter().any(|&p| beats(p, coarse[q]))).collect();
        prop_assert_eq!(found.members, expected);
    }

    #[test]
    fn members_and_dominated_make_all(choices in fine()) {
        let found = front(&choices, &Axis::ALL);
        let mut all: Vec<usize> = found.members.clone();
        all.extend(found.dominated.iter().map(|dominated| dominated.index));
        all.sort_unstable();
        prop_assert_eq!(all, (0..choices.len()).collect::<Vec<_>>());
        for &p in &found.members {
            for q in &choices {
                prop_assert!(!dominates(q, &choices[p], &Axis::ALL), "no member is beaten");
            }
        }
        for Dominated { index, by } in found.dominated {
            prop_assert!(found.members.contains(&by));
            prop_assert!(dominates(&choices[by], &choices[index], &Axis::ALL), "who is out is beaten by a member");
        }
    }

    #[test]
    fn order_does_not_matter(
        (coarse, shuffled) in many().prop_flat_map(|coarse| {
            let keyed: Vec<(usize, Coarse)> = coarse.iter().copied().enumerate().collect();
            (Just(coarse), Just(keyed).prop_shuffle())
        }),
        axes in proptest::sample::subsequence(Axis::ALL.to_vec(), 0..=6),
    ) {
        let other: Vec<Choice> = shuffled.into_iter().map(|(key, coarse)| choice(coarse, key)).collect();
        prop_assert_eq!(keys(&choices(&coarse), &axes), keys(&other, &axes));
    }

    #[test]
    fn a_beaten_one_more_changes_nothing(coarse in many(), pick in any::<prop::sample::Index>(), worse in 0..6usize) {
        prop_assume!(!coarse.is_empty());
        let mut beaten = coarse[pick.index(coarse.len())];
        match worse {
            1 | 3 if beaten[worse] == 0 => return Ok(()),
            1 | 3 => beaten[worse] -= 1,
            _ => beaten[worse] += 1,
        }
        let mut more = coarse.clone();
        more.push(beaten);
        prop_assert_eq!(keys(&choices(&more), &Axis::ALL), keys(&choices(&coarse), &Axis::ALL));
    }

    /// Strict and partial, with differences around a hair: no set-up beats itself, no two beat each other, and who beats a
    /// winner beats the beaten.
    #[test]
    fn a_strict_partial_order(choices in fine()) {
        let beats = |p: usize, q: usize| dominates(&choices[p], &choices[q], &Axis::ALL);
        for p in 0..choices.len() {
            prop_assert!(!beats(p, p));
            for q in (0..choices.len()).filter(|&q| beats(p, q)) {
                prop_assert!(!beats(q, p));
                for r in (0..choices.len()).filter(|&r| beats(q, r)) {
                    prop_assert!(beats(p, r));
                }
            }
        }
    }
}

#[test]
fn small_cases() {
    assert_eq!(front(&[], &Axis::ALL).members, [0; 0]);
    let same = choices(&[[1; 6], [1; 6]]);
    assert_eq!(front(&same, &Axis::ALL).members, [0, 1]);
    // Nothing asked for: nothing beats anything.
    let worse = choices(&[[0, 3, 0, 3, 0, 0], [1, 2, 1, 2, 1, 1]]);
    assert_eq!(front(&worse, &[]).members, [0, 1]);
    let found = front(&worse, &Axis::ALL);
    assert_eq!((found.members, found.dominated), (vec![0], vec![Dominated { index: 1, by: 0 }]));
    // Each axis alone tells them apart, in the sense that it says.
    for axis in Axis::ALL {
        assert!(dominates(&worse[0], &worse[1], &[axis]), "{}", axis.label());
        let [better, poorer] = [0, 1].map(|index| axis.figure(&worse[index]).unwrap_or(f64::INFINITY));
        assert_eq!(better > poorer, axis.more_is_better(), "{}", axis.label());
    }
}

#[test]
fn a_hair_does_not_count_and_two_do() {
    let need = beetle().need().unwrap();
    let lost = |stops_lost| need.choice(&Candidate { stops_lost, ..tubes() }).unwrap();
    let Hair::Absolute(hair) = Axis::LightLost.hair() else { panic!() };
    // 2 is the middle of a cell.
    assert!(!dominates(&lost(2.0), &lost(2.0 + 0.4 * hair), &Axis::ALL));
    assert!(!dominates(&lost(2.0 - 0.4 * hair), &lost(2.0 + 0.4 * hair), &Axis::ALL));
    assert!(dominates(&lost(2.0), &lost(2.0 + 2.0 * hair), &Axis::ALL));
    // Within the close range it is all the same.
    let past = |past_close_range| need.choice(&Candidate { past_close_range, ..tubes() }).unwrap();
    assert!(!dominates(&past(0.2), &past(1.0), &Axis::ALL));
    assert!(dominates(&past(1.0), &past(1.5), &Axis::ALL));
}

proptest! {
    /// By the definition itself: whoever is at least as good on the axes and worth choosing is surely less good in what more is known.
    #[test]
    fn the_reprieved_are_those_that_nothing_worth_choosing_beats_for_sure(coarse in many(), sharp in proptest::collection::vec(0..4i32, 40)) {
        let choices = choices(&coarse);
        let members = front(&choices, &Axis::ALL).members;
        // Two steps apart is beyond doubt; of a quarter nothing more is known.
        let surely = |p: usize, q: usize| !p.is_multiple_of(4) && !q.is_multiple_of(4) && sharp[p] >= sharp[q] + 2;
        let added = reprieved(&choices, &Axis::ALL, &members, &surely);
        let worth: Vec<usize> = members.iter().chain(&added).copied().collect();
        let at_least = |p: usize, q: usize| coarse[p] == coarse[q] || beats(coarse[p], coarse[q]);
        for q in 0..choices.len() {
            if members.contains(&q) { continue; }
            let beaten = worth.iter().any(|&p| p != q && at_least(p, q) && !surely(q, p));
            // One that is equal and comes later does not count against the one before it.
            let equal_later = worth.iter().any(|&p| p > q && coarse[p] == coarse[q] && !members.contains(&p) && !surely(q, p));
            prop_assert!(added.contains(&q) != beaten || equal_later, "{q}");
        }
    }

    #[test]
    fn with_nothing_more_known_nothing_is_reprieved(coarse in many()) {
        let choices = choices(&coarse);
        let members = front(&choices, &Axis::ALL).members;
        prop_assert!(reprieved(&choices, &Axis::ALL, &members, &|_, _| false).is_empty());
    }
}
