//! The power of a close-up lens.

use crate::common::{Chance, exact, input};
use calibration::{CalibrationError as E, Carrier, CloseUpPair, CloseUpRemark, close_up_power};
use optics::{COVERAGE_95, Element, Input, Stop, Train};
use testkit::assert_close;

fn pair(id: &str, without: Option<Input>, with: Input) -> CloseUpPair {
    CloseUpPair { id: id.into(), without, with }
}

fn carrier(focal_length: Input, gap: Input, rim_to_plane: Input) -> Carrier {
    Carrier { focal_length, gap, rim_to_plane }
}

/// 80 mm, H 15 mm behind the close-up lens, all exact.
fn plain() -> Carrier {
    carrier(exact(80.0), exact(3.0), exact(12.0))
}

#[test]
fn worked_examples() {
    // f = 80, +4 dpt, s = 15 (own calculation): on a subject 900 mm from H, m₀ = 80/820 and m = m₀·(1 + 0.004·885); at
    // infinity m = 80·0.004 = 0.32.
    let near = pair("near", Some(input(0.097_560_975_609_756_1, 0.0005)), input(0.442_926_829_268_292_7, 0.001));
    let far = pair("far", None, input(0.32, 0.001));
    for pairs in [vec![near.clone()], vec![far.clone()], vec![near, far]] {
        let found = close_up_power(&pairs, &plain(), None).unwrap();
        assert_close!(found.power_dpt.value, 4.0, relative = 1e-9);
        assert_eq!(found.remarks.contains(&CloseUpRemark::OnePair), pairs.len() == 1);
    }
}

#[test]
fn against_ray_matrices() {
    // The magnifications of a train of two parts, without any formula of a close-up lens.
    for (f, power, s, travel, t) in
        [(80.0, 4.0, 15.0, 8.0, 0.0), (120.0, 2.0, 40.0, 20.0, 6.0), (50.0, 10.0, 5.0, 1.0, -3.0)]
    {
        let back = f + travel;
        let lens = Element { power: 1.0 / f, front: back + t, back };
        let place = lens.front + s;
        let close_up = Element { power: power / 1000.0, front: place, back: place };
        let m = |elements: Vec<Element<f64>>| {
            let stop = Stop { element: 0, position: back, diameter: 10.0 };
            Train { elements, stops: vec![stop], front: place }.image().unwrap().magnification
        };
        let pair = pair("A", Some(input(m(vec![lens]), 0.001)), input(m(vec![lens, close_up]), 0.001));
        let carrier = carrier(exact(f), exact(2.0), exact(s - 2.0));
        let found = close_up_power(&[pair], &carrier, None).unwrap();
        assert_close!(found.power_dpt.value, power, relative = 1e-10);
    }
}

#[test]
fn uncertainty_at_infinity_by_hand() {
    // D = m/f: the shares add in squares.
    let carrier = carrier(input(80.0, 0.8), input(3.0, 1.0), input(12.0, 3.0));
    let found = close_up_power(&[pair("A", None, input(0.32, 0.002))], &carrier, None).unwrap();
    let u = 4.0 * (0.8 / 80.0_f64).hypot(0.002 / 0.32);
    assert_close!(found.power_dpt.plus_minus, COVERAGE_95 * u, relative = 1e-9);
}

#[test]
fn pairs_share_their_carrier() {
    // Sixteen pairs at infinity: readings average to a quarter, the focal length does not.
    let carrier = carrier(input(80.0, 0.8), exact(3.0), exact(12.0));
    let pairs: Vec<CloseUpPair> = (0..16).map(|i| pair(&i.to_string(), None, input(0.32, 0.004))).collect();
    let found = close_up_power(&pairs, &carrier, None).unwrap();
    let u = 4.0 * (0.8 / 80.0_f64).hypot(0.004 / 0.32 / 4.0);
    assert_close!(found.power_dpt.plus_minus, COVERAGE_95 * u, relative = 1e-8);
    assert_eq!(found.chi_square.degrees, 15);
}

#[test]
fn the_engraving_is_compared() {
    let pairs = [pair("A", None, input(0.32, 0.001))];
    let remarks = |marked| close_up_power(&pairs, &plain(), Some(marked)).unwrap().remarks;
    assert_eq!(remarks(input(4.1, 0.08)), [CloseUpRemark::OnePair]);
    assert!(matches!(remarks(input(4.5, 0.08))[..], [_, CloseUpRemark::MarkedOutside { .. }]));
}

#[test]
fn pairs_that_disagree_enlarge() {
    let pairs = [pair("A", None, input(0.32, 0.001)), pair("B", None, input(0.36, 0.001))];
    let found = close_up_power(&pairs, &plain(), None).unwrap();
    assert_close!(found.power_dpt.value, 4.25, relative = 1e-9);
    assert_eq!(found.remarks, [CloseUpRemark::PairsDisagree]);
    // χ² = 2·20² with 1 degree: u/√2 times 20√2, by Student 12.706.
    assert_close!(found.power_dpt.plus_minus, 12.706 * 0.001 / 0.08 * 20.0, relative = 1e-4);
    assert_close!(found.pairs[0].1.difference, -0.02, absolute = 1e-9);
}

#[test]
fn the_interval_holds() {
    let mut chance = Chance(67);
    let mut held = 0;
    for _ in 0..2000 {
        let carrier = carrier(
            input(80.0 + 0.5 * chance.normal(), 0.5),
            input(3.0 + 0.5 * chance.normal(), 0.5),
            input(12.0 + 2.0 * chance.normal(), 2.0),
        );
        let mut pairs = vec![pair("far", None, input(0.32 + 0.002 * chance.normal(), 0.002))];
        for (id, u) in [("900", 900.0), ("700", 700.0), ("600", 600.0)] {
            let m0: f64 = 80.0 / (u - 80.0);
            let m = m0 * (1.0 + 0.004 * (u - 15.0));
            let mut read = |m: f64| input(m * (1.0 + 0.004 * chance.normal()), 0.004 * m);
            pairs.push(pair(id, Some(read(m0)), read(m)));
        }
        let power = close_up_power(&pairs, &carrier, None).unwrap().power_dpt;
        held += u32::from((power.value - 4.0).abs() <= power.plus_minus);
    }
    assert_close!(f64::from(held) / 2000.0, 0.95, absolute = 0.02);
}

#[test]
fn nonsense_is_refused() {
    let good = || pair("A", None, input(0.32, 0.001));
    let refused = |pairs: &[CloseUpPair], carrier| close_up_power(pairs, &carrier, None).expect_err("was not refused");
    assert_eq!(refused(&[], plain()), E::NoFrames);
    assert_eq!(refused(&[good(), good()], plain()), E::NameTwice { id: "A".into() });
    assert!(matches!(refused(&[pair("A", None, input(30.0, 1.0))], plain()), E::Magnification { .. }));
    assert!(matches!(refused(&[pair("A", None, exact(0.3))], plain()), E::Uncertainty { .. }));
    assert!(matches!(refused(&[good()], carrier(exact(0.0), exact(3.0), exact(12.0))), E::NotPositive { .. }));
    assert!(matches!(refused(&[good()], carrier(exact(80.0), exact(-3.0), exact(12.0))), E::Negative { .. }));
    // Less with it than without.
    let weaker = pair("A", Some(input(0.1, 0.001)), input(0.09, 0.001));
    assert!(matches!(refused(&[weaker], plain()), E::NoPower { power_dpt } if power_dpt < 0.0));
    // A subject that would lie behind the close-up lens.
    let inside = pair("A", Some(input(10.0, 0.1)), input(12.0, 0.1));
    assert!(matches!(refused(&[inside], carrier(exact(80.0), exact(3.0), exact(100.0))), E::NotPositive { .. }));
    let marked = Some(input(-4.0, 0.1));
    assert!(matches!(close_up_power(&[good()], &plain(), marked), Err(E::NotPositive { .. })));
}
