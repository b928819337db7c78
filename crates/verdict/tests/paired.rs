//! Paired comparisons: published table, independent fit, laws, simulated coverage, refusals.

use optics::Estimate;
use testkit::assert_close;
use verdict::Chance;
use verdict::paired::{
    AgreementError, FitError, FitOptions, FitRemark, MeetingAnswer, PairedFit, Pick, Prior, Reading, Seen,
    SettleOptions, Settled, agreement, balance, check_fit, fit, next_pair, picks_to_settle, place, settle,
};

fn picks(left: usize, right: usize, seen: Seen, times: usize) -> Vec<Pick> {
    vec![Pick { left, right, seen }; times]
}

/// Seven ball teams of one season, 13 games a pair, no ties: Agresti, *Categorical Data Analysis* (2nd ed. 2002), section 10.6,
/// from memory. Row beat column.
const SEASON: [[usize; 7]; 7] = [
    [0, 7, 9, 7, 7, 9, 11],
    [6, 0, 7, 5, 11, 9, 9],
    [4, 6, 0, 7, 7, 8, 12],
    [6, 8, 6, 0, 6, 7, 10],
    [6, 2, 6, 7, 0, 7, 12],
    [4, 4, 5, 6, 6, 0, 6],
    [2, 4, 1, 3, 1, 7, 0],
];

fn season() -> Vec<Pick> {
    let pairs = (0..7).flat_map(|a| (a + 1..7).map(move |b| (a, b)));
    let games = |(a, b)| [picks(a, b, Seen::Left, SEASON[a][b]), picks(a, b, Seen::Right, SEASON[b][a])].concat();
    pairs.flat_map(games).collect()
}

#[test]
fn the_published_table_gives_the_published_strengths() {
    let fit = fit(7, &season(), &FitOptions::default()).unwrap();
    // Agresti (2002), table 10.11, from memory: 1.58, 1.44, 1.29, 1.25, 1.11, 0.68 against the last; G² = 15.74 on 15 degrees.
    let published = [1.58, 1.44, 1.29, 1.25, 1.11, 0.68];
    // Recorded from an independent minimisation (scipy 1.17.1, minimize, BFGS then Nelder-Mead, of −Σ w ln p).
    let recorded = [1.581_355_89, 1.436_408_44, 1.294_485_14, 1.247_617_84, 1.107_697_69, 0.683_852_76];
    for (team, (published, recorded)) in published.into_iter().zip(recorded).enumerate() {
        assert_close!(fit.difference(team, 6).value, published, absolute = 0.006, "{team}");
        assert_close!(fit.difference(team, 6).value, recorded, absolute = 2e-7, "{team}");
    }
    let check = check_fit(&fit, 200, 7);
    assert_close!(check.statistic, 15.736_500_93, absolute = 1e-6);
    assert_eq!(check.degrees, 15);
    // Chi-square, recorded from scipy 1.17.1 (chi2.sf), is not quite right where a team won once in 13; recorded from 2000 trials
    // drawn and fitted with numpy: 0.4705 ± 0.011. Three standard errors of both, 0.037.
    assert_close!(check.by_chi_square, 0.399_776_86, absolute = 1e-6);
    assert_close!(check.by_simulation, 0.4705, absolute = 0.11);
    assert!(fit.remarks.is_empty() && fit.tie_share.is_none());
}

/// Left better, right better, ties for each pair in each order.
const WITH_TIES: [((usize, usize), [usize; 3]); 10] = [
    ((0, 1), [6, 3, 4]),
    ((1, 0), [4, 5, 3]),
    ((0, 2), [8, 2, 1]),
    ((2, 0), [3, 7, 2]),
    ((1, 2), [5, 4, 6]),
    ((2, 1), [6, 4, 2]),
    ((0, 3), [9, 1, 1]),
    ((3, 0), [2, 8, 1]),
    ((1, 3), [6, 3, 2]),
    ((2, 3), [7, 3, 1]),
];

fn with_ties() -> Vec<Pick> {
    let seen = [Seen::Left, Seen::Right, Seen::NoDifference];
    let of = |((left, right), counts): ((usize, usize), [usize; 3])| {
        (0..3).flat_map(move |k| picks(left, right, seen[k], counts[k]))
    };
    WITH_TIES.into_iter().flat_map(of).collect()
}

#[test]
fn ties_and_a_favoured_side_as_an_independent_fit_has_them() {
    // Recorded: scipy 1.17.1, minimize (BFGS then Nelder-Mead) of the same likelihood written with numpy.logaddexp; the ends by
    // brentq on the profile.
    let fit = fit(4, &with_ties(), &FitOptions { side: true, ..FitOptions::default() }).unwrap();
    let strengths = [0.849_936_22, 0.037_233_8, -0.061_922_78, -0.825_247_24];
    for (found, recorded) in fit.strengths.iter().zip(strengths) {
        assert_close!(found.value, recorded, absolute = 1e-6);
    }
    assert_close!(fit.side.unwrap().value, 0.226_251_32, absolute = 1e-6);
    assert_close!(fit.tie_share.unwrap().value, 0.212_598_67, absolute = 1e-6);
    assert_close!(fit.log_likelihood, -114.422_737_52, absolute = 1e-6);
    let difference = fit.difference(0, 1);
    assert_close!(difference.low, 0.111_060_71, absolute = 2e-5);
    assert_close!(difference.high, 1.556_474_60, absolute = 2e-5);
}

#[test]
fn the_fit_gives_back_the_picks_totals() {
    // Law of this family (Davidson 1970): expected picks won plus half of the ties equal those seen, item by item; and so do
    // all ties.
    let fit = fit(4, &with_ties(), &FitOptions::default()).unwrap();
    let (mut seen, mut expected, mut ties) = ([0.0; 4], [0.0; 4], [0.0; 2]);
    for ((a, b), [won, lost, tied]) in WITH_TIES.map(|(pair, counts)| (pair, counts.map(|n| n as f64))) {
        let n = won + lost + tied;
        let (p, q, t) = fit.expected(a, b);
        seen[a] += won + tied / 2.0;
        seen[b] += lost + tied / 2.0;
        expected[a] += n * (p + t / 2.0);
        expected[b] += n * (q + t / 2.0);
        ties = [ties[0] + tied, ties[1] + n * t];
    }
    (0..4).for_each(|item| assert_close!(expected[item], seen[item], absolute = 1e-7));
    assert_close!(ties[1], ties[0], absolute = 1e-7);
}

#[test]
fn two_items_have_a_closed_form() {
    // 14 against 6: the logit ln(14/6); the ends solve 14 ln(p/.7) + 6 ln((1−p)/.3) = −1.920 73 (own bisection by scipy brentq:
    // p = 0.482 785, 0.867 195 checked below through the equation itself).
    let all = [picks(0, 1, Seen::Left, 14), picks(1, 0, Seen::Left, 6)].concat();
    let difference = fit(2, &all, &FitOptions::default()).unwrap().difference(0, 1);
    assert_close!(difference.value, (14.0_f64 / 6.0).ln(), absolute = 1e-9);
    for end in [difference.low, difference.high] {
        let p = 1.0 / (1.0 + (-end).exp());
        let fallen = 14.0 * (p / 0.7).ln() + 6.0 * ((1.0 - p) / 0.3).ln();
        assert_close!(fallen, -1.920_729_410_347_062, absolute = 1e-5);
    }
    assert!(difference.low < difference.value && difference.value < difference.high);
}

/// A trial drawn from the model with the given strengths and odds of a tie.
fn drawn(strengths: &[f64], nu: f64, each: usize, chance: &mut Chance) -> Vec<Pick> {
    let mut out = Vec::new();
    for a in 0..strengths.len() {
        for b in a + 1..strengths.len() {
            for k in 0..each {
                let (left, right) = if k % 2 == 0 { (a, b) } else { (b, a) };
                out.push(Pick { left, right, seen: said(strengths[left] - strengths[right], nu, chance) });
            }
        }
    }
    out
}

fn said(difference: f64, nu: f64, chance: &mut Chance) -> Seen {
    let (left, right) = ((difference / 2.0).exp(), (-difference / 2.0).exp());
    match chance.uniform() * (left + right + nu) {
        u if u < left => Seen::Left,
        u if u < left + right => Seen::Right,
        _ => Seen::NoDifference,
    }
}

#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    // 400 trials of 4 items with 10 picks a pair: each of 3 differences shall be held in 95 % of them; the standard error is
    // 1.1 %, three of them allowed on either side.
    let (strengths, mut chance) = ([0.9, 0.2, -0.2, -0.9], Chance::new(12));
    let mut held = [0.0; 3];
    for _ in 0..400 {
        let fit = fit(4, &drawn(&strengths, 0.6, 10, &mut chance), &FitOptions::default()).unwrap();
        for (k, (a, b)) in [(0, 1), (1, 2), (0, 3)].into_iter().enumerate() {
            held[k] += f64::from(u8::from(fit.difference(a, b).holds(strengths[a] - strengths[b]))) / 400.0;
        }
    }
    for (k, held) in held.into_iter().enumerate() {
        assert_close!(held, 0.95, absolute = 0.033, "pair {k}");
    }
}

#[test]
fn an_item_that_never_lost_gets_a_bounded_strength_and_a_remark() {
    let all = [
        picks(0, 1, Seen::Left, 5),
        picks(1, 2, Seen::Left, 4),
        picks(2, 1, Seen::Left, 3),
        picks(0, 2, Seen::Left, 3),
    ];
    let fit = fit(3, &all.concat(), &FitOptions::default()).unwrap();
    assert_eq!(fit.remarks, [FitRemark::PriorUsed { sd: 2.0 }, FitRemark::NeverLost { item: 0 }]);
    let strength = fit.strengths[0];
    assert!(strength.value > 1.0 && strength.value < 6.0 && strength.high < 12.0, "{strength:?}");
    // Won and tied but never lost: without bound too, though the others are joined by it both ways.
    let tied = [picks(0, 1, Seen::Left, 4), picks(0, 1, Seen::NoDifference, 2)].concat();
    let tied = verdict::paired::fit(2, &tied, &FitOptions::default()).unwrap();
    assert!(tied.remarks.contains(&FitRemark::PriorUsed { sd: 2.0 }));
}

#[test]
fn a_wide_prior_changes_little_and_a_narrow_one_draws_together() {
    let spread = |prior| {
        let fit = fit(4, &with_ties(), &FitOptions { prior, side: false }).unwrap();
        fit.difference(0, 3).value
    };
    let plain = spread(Prior::WhenNeeded(2.0));
    assert_close!(spread(Prior::Always(10.0)), plain, relative = 0.005);
    assert!(spread(Prior::Always(0.3)) < 0.8 * plain);
}

#[test]
fn the_order_of_names_does_not_matter() {
    let turned: Vec<Pick> =
        with_ties().into_iter().map(|p| Pick { left: 3 - p.left, right: 3 - p.right, seen: p.seen }).collect();
    let (a, b) = (fit(4, &with_ties(), &FitOptions::default()), fit(4, &turned, &FitOptions::default()));
    let (a, b) = (a.unwrap(), b.unwrap());
    for item in 0..4 {
        assert_close!(a.strengths[item].value, b.strengths[3 - item].value, absolute = 1e-8);
        assert_close!(a.strengths[item].high, b.strengths[3 - item].high, absolute = 1e-5);
    }
}

#[test]
fn picks_that_go_round_in_a_circle_do_not_fit() {
    // 0 beats 1, 1 beats 2, 2 beats 0, twelve times to two: no scale has that.
    let circle = [(0, 1), (1, 2), (2, 0)]
        .map(|(a, b)| [picks(a, b, Seen::Left, 12), picks(a, b, Seen::Right, 2)].concat())
        .concat();
    let check = check_fit(&fit(3, &circle, &FitOptions::default()).unwrap(), 200, 1);
    assert!(check.by_chi_square < 0.001, "{check:?}");
    assert!(check.by_simulation < 0.02, "{check:?}");
}

#[test]
fn trials_of_the_model_are_not_called_misfits_too_often() {
    // The simulated chance is right for few picks too: of 200 trials below 0.1 in 10 % ± 3 · 2.1 %.
    let mut chance = Chance::new(5);
    let mut below = 0.0;
    for seed in 0..200 {
        let all = drawn(&[0.5, 0.0, -0.5], 0.4, 6, &mut chance);
        let fit = fit(3, &all, &FitOptions::default()).unwrap();
        below += f64::from(u8::from(check_fit(&fit, 99, seed).by_simulation <= 0.1)) / 200.0;
    }
    assert_close!(below, 0.1, absolute = 0.065);
}

/// Looks after every pick until the pair is settled; what was decided, and after how many.
fn until_settled(difference: f64, most: usize, chance: &mut Chance) -> (Option<Settled>, usize) {
    let mut all: Vec<Pick> = Vec::new();
    for n in 1..=most {
        let (left, right) = place((0, 1), &all, 1);
        let signed = if left == 0 { difference } else { -difference };
        all.push(Pick { left, right, seen: said(signed, 0.3, chance) });
        if let Ok(fit) = fit(2, &all, &FitOptions::default()) {
            let settled = settle(&fit, &SettleOptions::default())[0].settled;
            if !matches!(settled, Settled::Open { .. }) {
                return (Some(settled), n);
            }
        }
    }
    (None, most)
}

#[test]
fn looking_after_every_pick_does_not_invent_a_difference() {
    // Equal items, 50 looks a trial, 150 trials: at most 5 % wrong plus three standard errors of 1.8 %. With a plain 95 %
    // interval looked at as often it would be some 25 %.
    let mut chance = Chance::new(21);
    let better = |end: Option<Settled>| matches!(end, Some(Settled::Better(_)));
    let wrong = (0..150).filter(|_| better(until_settled(0.0, 50, &mut chance).0)).count();
    assert!(wrong as f64 / 150.0 <= 0.05 + 3.0 * 0.0178, "{wrong} of 150");
    // And a plain difference is found, in most trials within as many picks as were foretold at their start.
    let found = (0..60).filter(|_| until_settled(1.8, 100, &mut chance).0 == Some(Settled::Better(0))).count();
    assert!(found >= 55, "{found} of 60");
}

#[test]
fn foretold_picks_are_about_enough() {
    // A trial whose first 10 picks look like the truth: the number foretold shall settle about four of five.
    let start = [picks(0, 1, Seen::Left, 7), picks(1, 0, Seen::Left, 3)].concat();
    let first = fit(2, &start, &FitOptions::default()).unwrap();
    let Settled::Open { more: Some(more) } = settle(&first, &SettleOptions::default())[0].settled else {
        panic!("ten picks settle nothing")
    };
    let (truth, mut chance) = ((7.0_f64 / 3.0).ln(), Chance::new(4));
    let settled = (0..300).filter(|_| {
        let mut all = start.clone();
        all.extend((0..more).map(|_| Pick { left: 0, right: 1, seen: said(truth, 0.0, &mut chance) }));
        let fit = fit(2, &all, &FitOptions::default()).unwrap();
        settle(&fit, &SettleOptions::default())[0].settled == Settled::Better(0)
    });
    let share = settled.count() as f64 / 300.0;
    assert!((0.70..=0.90).contains(&share), "{more} picks settle {share}");
}

#[test]
fn picks_of_all_pairs_together_are_foretold() {
    let options = SettleOptions::default();
    let start = [picks(0, 1, Seen::Left, 7), picks(1, 0, Seen::Left, 3)].concat();
    let two = fit(2, &start, &FitOptions::default()).unwrap();
    let states = settle(&two, &options);
    let Settled::Open { more: Some(alone) } = states[0].settled else { panic!("ten picks settle nothing") };
    // Closed form: of two items the only pair's own number.
    assert_eq!(picks_to_settle(&two, &states, &options), alone);
    // Law: more than the neediest pair takes by itself is not always needed, and never more than all of them one by one, as
    // each pick says something of the neighbours too.
    let four = fit(4, &with_ties(), &FitOptions::default()).unwrap();
    let states = settle(&four, &options);
    let each = states.iter().filter_map(|state| match state.settled {
        Settled::Open { more } => more,
        _ => None,
    });
    let (together, one_by_one) = (picks_to_settle(&four, &states, &options), each.sum::<u32>());
    assert!(together > 0 && together < one_by_one, "{together} against {one_by_one}");
    assert_eq!(picks_to_settle(&four, &[], &options), 0);
}

#[test]
fn many_ties_settle_as_no_difference() {
    let all = [picks(0, 1, Seen::NoDifference, 60), picks(0, 1, Seen::Left, 20), picks(1, 0, Seen::Left, 20)].concat();
    let state = settle(&fit(2, &all, &FitOptions::default()).unwrap(), &SettleOptions::default())[0];
    assert_eq!((state.settled, state.shown), (Settled::NoDifference, 100));
    assert_close!(state.first_stronger, 0.5, absolute = 1e-6);
}

#[test]
fn the_next_pair_is_an_open_one_and_tells_most() {
    // 0 and 1 lie far above 2 and 3 and are settled against them; between 0 and 1 nothing is known yet, 2 and 3 were shown often.
    let mut all = Vec::new();
    for (a, b) in [(0, 2), (0, 3), (1, 2), (1, 3)] {
        all.extend([picks(a, b, Seen::Left, 30), picks(b, a, Seen::Left, 2)].concat());
    }
    all.extend([picks(2, 3, Seen::Left, 60), picks(3, 2, Seen::Left, 60)].concat());
    let scale = fit(4, &all, &FitOptions::default()).unwrap();
    assert_eq!(next_pair(4, &all, Some(&scale), &SettleOptions::default()), Some((0, 1)));
    // Without a scale: what was shown least, and not the last pair again.
    let few = [picks(0, 1, Seen::Left, 1), picks(1, 2, Seen::Left, 1)].concat();
    assert_eq!(next_pair(3, &few, None, &SettleOptions::default()), Some((0, 2)));
    assert_eq!(next_pair(2, &few[..1], None, &SettleOptions::default()), Some((0, 1)));
}

#[test]
fn sides_are_balanced_and_repeatable() {
    let run = |seed| {
        let mut all: Vec<Pick> = Vec::new();
        for _ in 0..60 {
            let pair = next_pair(4, &all, None, &SettleOptions::default()).unwrap();
            let (left, right) = place(pair, &all, seed);
            all.push(Pick { left, right, seen: Seen::Left });
        }
        all
    };
    let shown = balance(4, &run(1));
    assert!(shown.sides.iter().all(|(left, right)| left.abs_diff(*right) <= 1), "{shown:?}");
    assert_eq!((shown.worst_pair, shown.said, shown.repeats), (None, (60, 0, 0), 0));
    assert_eq!(run(1), run(1));
    assert_ne!(run(1), run(2));
}

#[test]
fn a_hand_that_always_goes_left_is_found() {
    let mut chance = Chance::new(8);
    let mut all = drawn(&[0.6, 0.0, -0.6], 0.3, 40, &mut chance);
    // Every third answer turned to the left whatever is shown there.
    all.iter_mut().step_by(3).for_each(|pick| pick.seen = Seen::Left);
    let fit = fit(3, &all, &FitOptions { side: true, ..FitOptions::default() }).unwrap();
    assert!(fit.side.unwrap().low > 0.0, "{:?}", fit.side);
    assert!(fit.difference(0, 2).low > 0.0);
}

fn scale() -> PairedFit {
    let mut chance = Chance::new(2);
    fit(4, &drawn(&[1.5, 0.5, -0.5, -1.5], 0.3, 60, &mut chance), &FitOptions::default()).unwrap()
}

fn reading(values: [f64; 4], plus_minus: f64, more_is_better: bool) -> Reading {
    Reading { figures: values.map(|value| Estimate { value, plus_minus }).to_vec(), more_is_better }
}

#[test]
fn eye_and_instrument_agree_and_disagree() {
    let same = agreement(&scale(), &reading([40.0, 30.0, 20.0, 10.0], 2.0, true), 2000, 1).unwrap();
    assert_close!(same.kendall.value, 1.0, absolute = 0.0);
    assert!(same.kendall.low > 0.99 && same.pairs.iter().all(|pair| pair.answer == MeetingAnswer::Agree));
    // Less is better: the same figures the other way round.
    let turned = agreement(&scale(), &reading([40.0, 30.0, 20.0, 10.0], 2.0, false), 2000, 1).unwrap();
    assert_close!(turned.spearman.value, -1.0, absolute = 0.0);
    assert!(turned.pairs.iter().all(|pair| pair.answer == MeetingAnswer::Disagree));
    // The middle two not told apart by the instrument: that pair is open, the others are not.
    let open = agreement(&scale(), &reading([40.0, 25.0, 25.0, 10.0], 4.0, true), 2000, 1).unwrap();
    let answer = |a, b| open.pairs.iter().find(|pair| pair.items == (a, b)).unwrap().answer;
    assert_eq!((answer(1, 2), answer(0, 3)), (MeetingAnswer::Open, MeetingAnswer::Agree));
    assert!(open.kendall.low < 0.7 && open.kendall.high > 0.99, "{:?}", open.kendall);
}

#[test]
fn the_chance_of_opposite_orders_is_right() {
    // Calibration: truths drawn wide, so that the stated chance is the frequency. 60 trials of 3 pairs: the mean stated
    // chance and the share seen differ by less than three standard errors, √(0.15/180) = 0.029.
    let mut chance = Chance::new(33);
    let (mut stated, mut happened) = (0.0, 0.0);
    for seed in 0..60 {
        let truth: Vec<f64> = (0..3).map(|_| chance.normal()).collect();
        let real: Vec<f64> = truth.iter().map(|t| 30.0 + 6.0 * t + 6.0 * chance.normal()).collect();
        let seen = fit(3, &drawn(&truth, 0.3, 30, &mut chance), &FitOptions::default()).unwrap();
        let measured = real.iter().map(|r| Estimate { value: r + 1.5 * chance.normal(), plus_minus: 1.5 * 1.96 });
        let reading = Reading { figures: measured.collect(), more_is_better: true };
        for pair in agreement(&seen, &reading, 400, seed).unwrap().pairs {
            let (a, b) = pair.items;
            stated += pair.opposite / 180.0;
            happened += f64::from(u8::from((truth[a] > truth[b]) != (real[a] > real[b]))) / 180.0;
        }
    }
    assert_close!(stated, happened, absolute = 0.087);
}

#[test]
fn a_scale_is_refused_by_name() {
    let refused = |items, picks: &[Pick]| fit(items, picks, &FitOptions::default()).unwrap_err();
    assert_eq!(refused(1, &[]), FitError::TooFewItems { items: 1 });
    assert_eq!(refused(2, &[]), FitError::NotConnected { lonely: 1 });
    let lone = picks(0, 1, Seen::Left, 2);
    assert_eq!(refused(3, &lone), FitError::NotConnected { lonely: 2 });
    assert_eq!(refused(2, &picks(0, 1, Seen::NoDifference, 4)), FitError::OnlyTies { picks: 4 });
    assert_eq!(refused(2, &picks(1, 1, Seen::Left, 1)), FitError::BadPick { number: 1, left: 1, right: 1, items: 2 });
    assert_eq!(refused(2, &picks(0, 2, Seen::Left, 1)), FitError::BadPick { number: 1, left: 0, right: 2, items: 2 });
    for sd in [0.0, 11.0, f64::NAN] {
        let options = FitOptions { prior: Prior::Always(sd), side: false };
        assert!(matches!(fit(2, &lone, &options), Err(FitError::BadPrior { .. })), "{sd}");
    }
}

#[test]
fn an_agreement_is_refused_by_name() {
    let refused = |reading: &Reading, draws| agreement(&scale(), reading, draws, 1).unwrap_err();
    let good = reading([4.0, 3.0, 2.0, 1.0], 0.1, true);
    let short = Reading { figures: good.figures[..3].to_vec(), ..good.clone() };
    assert_eq!(refused(&short, 1000), AgreementError::Count { figures: 3, items: 4 });
    assert_eq!(refused(&good, 10), AgreementError::TooFewDraws { draws: 10, least: 400 });
    let missing = refused(&reading([4.0, f64::NAN, 2.0, 1.0], 0.1, true), 1000);
    assert!(matches!(missing, AgreementError::NotMeasured { item: 1, .. }), "{missing:?}");
    let two =
        fit(2, &[picks(0, 1, Seen::Left, 3), picks(1, 0, Seen::Left, 2)].concat(), &FitOptions::default()).unwrap();
    let figures = vec![Estimate::exact(1.0); 2];
    let few = agreement(&two, &Reading { figures, more_is_better: true }, 1000, 1).unwrap_err();
    assert_eq!(few, AgreementError::TooFew { items: 2 });
}
