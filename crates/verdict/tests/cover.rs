//! The cheapest cover against brute force, laws, and drawers of a real size.

use verdict::Chance;
use verdict::cover::{CoverError, MOST_PARTS, PartSet, cheapest, members};

/// Every subset of the parts tried.
fn brute(costs: &[i64], uses: &[Vec<PartSet>]) -> Option<i64> {
    let cost = |kept: PartSet| members(kept).map(|part| costs[part]).sum::<i64>();
    let serves = |kept: &PartSet| uses.iter().all(|sets| sets.iter().any(|set| set & kept == *set));
    (0..1 << costs.len()).filter(serves).map(cost).min()
}

fn set_of(size: usize, parts: usize, chance: &mut Chance) -> PartSet {
    (0..size).fold(0, |set, _| set | 1 << chance.below(parts))
}

fn random(parts: usize, uses: usize, set_ups: usize, chance: &mut Chance) -> (Vec<i64>, Vec<Vec<PartSet>>) {
    let costs = (0..parts).map(|_| chance.below(200) as i64).collect();
    let mut sets = |_| (0..1 + chance.below(set_ups)).map(|_| set_of(1 + chance.below(4), parts, chance)).collect();
    let uses = (0..uses).map(&mut sets).collect();
    (costs, uses)
}

#[test]
fn as_cheap_as_the_cheapest_of_all_subsets() {
    let mut chance = Chance::new(1);
    for kit in 0..400 {
        let (parts, count) = (4 + chance.below(9), 1 + chance.below(6));
        let (costs, uses) = random(parts, count, 8, &mut chance);
        let found = cheapest(&costs, &uses).unwrap();
        assert_eq!(Some(found.cost), brute(&costs, &uses), "kit {kit}: {costs:?} {uses:?}");
        assert_eq!(members(found.parts).map(|part| costs[part]).sum::<i64>(), found.cost);
        assert!(uses.iter().all(|sets| sets.iter().any(|set| set & found.parts == *set)), "kit {kit}");
        assert!(found.first_bound <= found.cost, "kit {kit}: {found:?}");
    }
}

/// A drawer as there is one: a body, six lenses, the rest tubes, bellows, rings and close-up lenses. A set-up is the body, a
/// lens, sometimes a second, and up to three of the rest.
fn drawer(chance: &mut Chance) -> (Vec<i64>, Vec<Vec<PartSet>>) {
    let costs = (0..30).map(|part| (if part < 7 { 20_000 } else { 1500 }) + 100 * chance.below(200) as i64).collect();
    let set_ups: Vec<PartSet> = (0..4000)
        .map(|_| {
            let second = if chance.below(5) == 0 { 1 << (1 + chance.below(6)) } else { 0 };
            let rest = (0..1 + chance.below(3)).fold(0, |set, _| set | 1 << (7 + chance.below(23)));
            1 | 1 << (1 + chance.below(6)) | second | rest
        })
        .collect();
    // From hard uses, which a dozen set-ups serve, to easy ones that hundreds do.
    let uses = (0..12).map(|use_| {
        let share = [333, 200, 100, 40, 20, 10][use_ % 6];
        set_ups.iter().filter(|_| chance.below(share) == 0).copied().chain([set_ups[use_]]).collect()
    });
    (costs, uses.collect())
}

#[test]
fn a_real_drawer_is_proven_in_few_branches() {
    // The proof of the right size is the number of branches, not the time.
    let mut chance = Chance::new(2);
    for kit in 0..12 {
        let (costs, uses) = drawer(&mut chance);
        let found = cheapest(&costs, &uses).unwrap();
        assert!(found.branches < 20_000, "kit {kit}: {found:?}");
        assert!(found.first_bound <= found.cost && found.first_bound * 2 > found.cost, "kit {kit}: {found:?}");
        // No single part can be left out, and none exchanged for a cheaper one.
        let serves = |kept: PartSet| uses.iter().all(|sets| sets.iter().any(|set| set & kept == *set));
        for part in members(found.parts) {
            let less = found.parts & !(1 << part);
            assert!(!serves(less), "kit {kit}: part {part} is not needed");
            let cheaper = (0..30).filter(|other| costs[*other] < costs[part] && found.parts >> other & 1 == 0);
            assert!(cheaper.clone().all(|other| !serves(less | 1 << other)), "kit {kit}: part {part}");
        }
    }
}

#[test]
fn more_choice_is_never_dearer_and_more_uses_never_cheaper() {
    let mut chance = Chance::new(3);
    for _ in 0..200 {
        let (costs, mut uses) = random(14, 4, 10, &mut chance);
        let before = cheapest(&costs, &uses).unwrap().cost;
        let (_, more) = random(14, 1, 10, &mut chance);
        uses.extend(more);
        let with_use = cheapest(&costs, &uses).unwrap().cost;
        assert!(with_use >= before);
        let extra = set_of(2, 14, &mut chance);
        uses[0].push(extra);
        assert!(cheapest(&costs, &uses).unwrap().cost <= with_use);
    }
}

#[test]
fn a_dear_part_that_serves_all_against_cheap_ones_that_serve_one_each() {
    // By hand: 4 uses, part 0 (70) serves all; parts 1 to 4 (20 each) one each: 70 against 80. At 90 it is the other way.
    let uses: Vec<Vec<PartSet>> = (1..5).map(|part| vec![1, 1 << part]).collect();
    let kept = |dear| cheapest(&[dear, 20, 20, 20, 20], &uses).unwrap();
    assert_eq!((kept(70).parts, kept(70).cost), (0b1, 70));
    assert_eq!((kept(90).parts, kept(90).cost), (0b11110, 80));
}

#[test]
fn nothing_wanted_costs_nothing_and_what_needs_no_part_is_served() {
    assert_eq!(cheapest(&[5, 6], &[]).unwrap().cost, 0);
    assert_eq!(cheapest(&[5, 6], &[vec![0]]).unwrap().parts, 0);
}

#[test]
fn a_cover_is_refused_by_name() {
    assert_eq!(cheapest(&[1], &[vec![1], vec![]]), Err(CoverError::Unserved { number: 1 }));
    assert_eq!(cheapest(&[1], &[vec![0b110]]), Err(CoverError::NoSuchPart { number: 0, part: 1, parts: 1 }));
    let many = vec![1; MOST_PARTS + 1];
    assert_eq!(cheapest(&many, &[]), Err(CoverError::TooManyParts { parts: 129, most: 128 }));
    assert!(matches!(cheapest(&[-1], &[]), Err(CoverError::BadCost { part: 0, cost: -1, .. })));
    assert!(matches!(cheapest(&[i64::MAX], &[]), Err(CoverError::BadCost { .. })));
}
