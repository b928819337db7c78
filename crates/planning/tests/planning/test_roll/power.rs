//! Power of comparisons against published values, quadrature done beforehand, and closed forms.

use planning::test_roll::{Certainty, chance_beyond, normal_below, normal_point, student_limit};
use proptest::prelude::*;
use testkit::assert_close;

#[test]
fn normal_distribution_at_published_points() {
    // Abramowitz & Stegun, table 26.1: P(1), P(1.96), P(3).
    for (x, below) in [(1.0, 0.841_344_746_069), (1.96, 0.975_002_104_852), (3.0, 0.998_650_101_968)] {
        assert_close!(normal_below(x), below, absolute = 1e-11);
        assert_close!(normal_below(-x), 1.0 - below, absolute = 1e-11);
        assert_close!(normal_point(below), x, absolute = 1e-9);
    }
}

#[test]
fn limits_of_students_t() {
    // scipy.stats.t.ppf(0.975, df), scipy 1.17.1; the first digits are those of every printed table (12.71, 4.303, 2.776 …).
    let known = [
        (1, 12.706_204_736_174_694),
        (2, 4.302_652_729_749_462),
        (3, 3.182_446_305_283_708),
        (4, 2.776_445_105_197_793),
        (6, 2.446_911_851_144_979),
        (10, 2.228_138_851_986_274),
        (32, 2.036_933_343_460_102),
        (100, 1.983_971_518_523_552),
    ];
    for (degrees, limit) in known {
        assert_close!(student_limit(degrees, 0.05), limit, relative = 1e-9, "{degrees} degrees of freedom");
    }
}

#[test]
fn cauchys_distribution_is_students_with_one_degree() {
    // Closed form: P(|T| > t) = 1 − 2·atan(t)/π.
    for t in [0.3f64, 1.0, 4.0, 12.7] {
        assert_close!(chance_beyond(t, 1, 0.0), 1.0 - 2.0 * t.atan() / std::f64::consts::PI, absolute = 1e-10);
    }
}

#[test]
fn least_shift_as_integrated_beforehand() {
    // The shift at which both tails of the noncentral t distribution hold 0.8 at the 5 % limit: adaptive quadrature of the
    // normal over the chi distribution, scipy.integrate.quad, scipy 1.17.1.
    let known = [
        (1, 16.334_008_869_95),
        (2, 5.653_489_266_197),
        (3, 4.255_898_686_516),
        (4, 3.761_059_553_825),
        (6, 3.366_894_897_085),
        (10, 3.109_968_101_578),
        (32, 2.889_250_219_044),
        (100, 2.828_847_210_346),
    ];
    for (degrees, shift) in known {
        let found = Certainty::default().least_shift(degrees).unwrap();
        assert_close!(found, shift, relative = 1e-8, "{degrees} degrees of freedom");
    }
    // As takes grow it comes to z(0.975) + z(0.8) = 2.8015852 (scipy.stats.norm.ppf).
    assert_close!(Certainty::default().least_shift(100_000).unwrap(), 2.801_585_218, relative = 1e-4);
    assert_eq!(Certainty::default().least_shift(0), None, "nothing shows the scatter");
}

#[test]
fn takes_needed_as_in_cohens_table() {
    // J. Cohen, Statistical Power Analysis, 2nd ed. 1988, table 2.4.1 (two-tailed 5 %, power 0.80): 64, 26 and 17 for
    // effects of 0.5, 0.8 and 1.0; from memory, and all six worked out with scipy.stats.nct, scipy 1.17.1.
    for (effect, takes) in [(0.5, 64), (0.8, 26), (1.0, 17), (1.5, 9), (2.0, 6), (3.0, 4)] {
        assert_eq!(Certainty::default().takes_needed(effect, 1000), Some(takes), "an effect of {effect}");
    }
    assert_eq!(Certainty::default().takes_needed(0.01, 100), None, "over the most");
    assert_eq!(Certainty::default().takes_needed(50.0, 1), None, "one take shows no scatter");
}

#[test]
fn takes_needed_with_known_scatter() {
    // 2·(1.959964 + 0.841621)²/d² = 15.69776 for d = 1 (closed form, quantiles by scipy 1.17.1).
    assert_close!(Certainty::default().takes_needed_known_scatter(1.0), 15.697_759_468_698, relative = 1e-9);
    assert_close!(Certainty::default().takes_needed_known_scatter(0.5), 4.0 * 15.697_759_468_698, relative = 1e-9);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn more_never_tells_less(p in 1usize..12, q in 1usize..12, degrees in 1usize..30) {
        let least = |takes, degrees| Certainty::default().least_difference(takes, degrees).unwrap();
        let now = least([p, q], degrees);
        prop_assert!(least([p + 1, q], degrees) < now, "one more take");
        prop_assert!(least([p, q], degrees + 1) < now + 1e-9, "one more degree of freedom");
        prop_assert!((least([q, p], degrees) - now).abs() < 1e-12, "both sides count alike");
    }

    #[test]
    fn a_test_needs_more_than_a_known_scatter(effect in 0.3..3.0f64) {
        let by_t = Certainty::default().takes_needed(effect, 1000).unwrap() as f64;
        let known = Certainty::default().takes_needed_known_scatter(effect);
        prop_assert!(by_t >= known, "t is never better than knowing");
        // From z to t costs about z²/4 takes at 5 % (Guenther, The American Statistician 35, 1981; from memory), and one
        // for rounding up.
        prop_assert!(by_t <= known + 3.0, "{by_t} against {known}");
    }
}
