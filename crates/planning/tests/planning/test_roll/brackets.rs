//! Focus brackets against closed forms.

use planning::test_roll::{Focusing, steps};
use proptest::prelude::*;
use testkit::assert_close;

fn focusing(plus_minus_mm: f64) -> Focusing {
    Focusing { plus_minus_mm, step_share: 0.8, confidence: 0.95, most: 9 }
}

#[test]
fn one_frame_as_deep_as_the_doubt() {
    // Depth as wide as the 95 % interval holds 95 % by definition: one frame does.
    let bracket = focusing(0.5).bracket(1.0);
    assert_eq!(bracket.count, 1);
    assert_close!(bracket.chance, 0.95, absolute = 1e-9);
}

#[test]
fn covered_half_width_in_closed_form() {
    // 3 frames at 0.8 of the depth cover (2·0.8 + 1)/2 = 1.3 depths to either side: P = 2Φ(1.3·d/σ) − 1, and with
    // d = σ that is 2·0.9031995 − 1 (Abramowitz & Stegun, table 26.1: P(1.3)).
    let focusing = Focusing { plus_minus_mm: 1.959_963_984_540_054, ..focusing(0.0) };
    assert_close!(focusing.spread_mm(), 1.0, relative = 1e-9);
    assert_close!(focusing.chance(&[0, -1, 1], 0.8, 1.0), 2.0 * 0.903_199_515_414 - 1.0, absolute = 1e-9);
    // 5 cover 2.1: 2Φ(2.1) − 1 = 0.964271.
    let bracket = focusing.bracket(1.0);
    assert_eq!(bracket.count, 5);
    assert_close!(bracket.chance, 2.0 * 0.982_135_579_437 - 1.0, absolute = 1e-9);
}

#[test]
fn a_gap_in_a_bracket_is_not_covered() {
    let focusing = Focusing { plus_minus_mm: 1.959_963_984_540_054, ..focusing(0.0) };
    // Steps −1 and 1 without 0, two depths apart: what lies between is missed.
    let both = focusing.chance(&[-1, 1], 2.0, 1.0);
    // Φ(2.5) − Φ(1.5), twice (table 26.1).
    assert_close!(both, 2.0 * (0.993_790_334_674 - 0.933_192_798_731), absolute = 1e-9);
}

#[test]
fn the_most_is_the_most() {
    let bracket = Focusing { most: 3, ..focusing(10.0) }.bracket(0.5);
    assert_eq!(bracket.count, 3);
    assert!(bracket.chance < 0.3, "and says what it is worth: {}", bracket.chance);
    assert_eq!(focusing(0.0).bracket(1.0).count, 1, "a sure focus needs none");
    assert_eq!(steps(5), [0, -1, 1, -2, 2]);
}

proptest! {
    #[test]
    fn more_frames_never_cover_less(depth in 0.01..5.0f64, doubt in 0.01..5.0f64, share in 0.1..1.0f64, gap in 0usize..7) {
        let focusing = Focusing { step_share: share, ..focusing(doubt) };
        let all = steps(7);
        let fewer: Vec<i32> = all.iter().copied().enumerate().filter(|(i, _)| *i != gap).map(|(_, s)| s).collect();
        let chance = |steps: &[i32]| focusing.chance(steps, share * depth, depth);
        prop_assert!(chance(&fewer) <= chance(&all) + 1e-12);
        prop_assert!((0.0..=1.0 + 1e-12).contains(&chance(&all)));
        let half = 0.5 * depth * (6.0 * share + 1.0);
        let closed = 2.0 * planning::test_roll::normal_below(half / focusing.spread_mm()) - 1.0;
        prop_assert!((chance(&all) - closed).abs() < 1e-12, "closed form of a whole bracket");
    }
}
