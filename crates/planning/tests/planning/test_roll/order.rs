//! The order of frames against every order tried.

use planning::test_roll::{ChangeCosts, Gear, order};
use proptest::prelude::*;

fn gear() -> impl Strategy<Value = Gear> {
    (0..3u32, 0..3u32, 0..2u32, 0..3u32, 0..3u32).prop_map(|(lens, extension, close_up, aperture, focus)| Gear {
        lens,
        extension,
        close_up,
        aperture,
        focus,
    })
}

/// The least cost over every order, by trying them all.
fn tried(gear: &[Gear], ends: [Option<Gear>; 2], costs: &ChangeCosts) -> u32 {
    fn go(left: &mut Vec<Gear>, at: Option<Gear>, end: Option<Gear>, costs: &ChangeCosts) -> u32 {
        if left.is_empty() {
            return at.zip(end).map_or(0, |(p, q)| costs.between(&p, &q));
        }
        (0..left.len())
            .map(|i| {
                let next = left.swap_remove(i);
                let step = at.map_or(0, |at| costs.between(&at, &next));
                let cost = step + go(left, Some(next), end, costs);
                left.push(next);
                let last = left.len() - 1;
                left.swap(i, last);
                cost
            })
            .min()
            .unwrap_or(0)
    }
    go(&mut gear.to_vec(), ends[0], ends[1], costs)
}

fn walked(gear: &[Gear], ends: [Option<Gear>; 2], order: &[usize], costs: &ChangeCosts) -> u32 {
    let walk = ends[0].into_iter().chain(order.iter().map(|&i| gear[i])).chain(ends[1]);
    costs.along(&walk.collect::<Vec<_>>())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn small_plans_are_the_best(
        gear in proptest::collection::vec(gear(), 0..7),
        first in proptest::option::of(gear()),
        last in proptest::option::of(gear()),
    ) {
        let costs = ChangeCosts::default();
        let found = order(&gear, [first, last], &costs);
        let mut all = found.order.clone();
        all.sort_unstable();
        prop_assert_eq!(all, (0..gear.len()).collect::<Vec<_>>(), "every frame once");
        prop_assert_eq!(found.cost, walked(&gear, [first, last], &found.order, &costs), "the cost is that of the order");
        prop_assert_eq!(found.cost, tried(&gear, [first, last], &costs));
        prop_assert_eq!(found.at_least, found.cost, "and it is known to be the best");
    }

    #[test]
    fn large_plans_stay_within_their_bound(
        gear in proptest::collection::vec(gear(), 30..120),
        first in proptest::option::of(gear()),
        last in proptest::option::of(gear()),
    ) {
        let costs = ChangeCosts::default();
        let found = order(&gear, [first, last], &costs);
        let mut all = found.order.clone();
        all.sort_unstable();
        prop_assert_eq!(all, (0..gear.len()).collect::<Vec<_>>());
        prop_assert_eq!(found.cost, walked(&gear, [first, last], &found.order, &costs));
        prop_assert!(found.at_least <= found.cost && found.cost <= 2 * found.at_least, "{found:?}");
    }

    #[test]
    fn costs_are_a_distance(p in gear(), q in gear(), r in gear()) {
        let costs = ChangeCosts::default();
        prop_assert_eq!(costs.between(&p, &p), 0);
        prop_assert_eq!(costs.between(&p, &q), costs.between(&q, &p));
        prop_assert!(costs.between(&p, &r) <= costs.between(&p, &q) + costs.between(&q, &r), "no detour saves");
    }
}

#[test]
fn the_same_gear_stays_together() {
    let one = |lens, aperture| Gear { lens, extension: 0, close_up: 0, aperture, focus: 0 };
    let gear: Vec<Gear> = (0..12).map(|i| one(i % 2, i % 3)).collect();
    let found = order(&gear, [None, None], &ChangeCosts::default());
    // Two lenses with three apertures each: one change of lens and four of the ring, 12 + 4·1, by hand.
    assert_eq!(found.cost, 16);
}
