//! Good enough, for what: closed forms, simulation, laws, calibration, refusals.

use optics::COVERAGE_95;
use testkit::assert_close;
use verdict::enough::{
    Basis, Bound, Cause, Dossier, Doubt, Figure, FigureError, Limit, Measured, PictureSize, Predicted, Quantity,
    Requirement, RuleError, Ruling, Source, Use, UseError, WhyMissing, deciders, ready_made, rule,
};
use verdict::{Answer, Chance};

const SHARP: Quantity = Quantity::Resolution { contrast: 0.3 };

fn requirement(quantity: Quantity, value: f64, plus_minus: f64, out_to: f64) -> Requirement {
    let limit = Limit { value, plus_minus };
    let (bound, source) = (quantity.usual_bound(), Source::CommonPractice);
    Requirement { quantity, bound, limit, out_to, reason: "a print in the hand".into(), source }
}

fn plate(requirements: Vec<Requirement>) -> Use {
    Use { id: "plate".into(), requirements }
}

fn figure(quantity: Quantity, at: Option<f64>, value: f64, own_plus_minus: f64) -> Figure {
    Figure { quantity, at, value, own_plus_minus, shared: vec![], only: None, evidence: vec!["frame 7".into()] }
}

fn with_scale(figure: Figure, plus_minus: f64) -> Figure {
    Figure { shared: vec![Cause { name: "scanner's scale".into(), plus_minus }], ..figure }
}

fn measured(figures: Vec<Figure>) -> Dossier {
    Dossier { set_up: "80 on tubes".into(), measured: figures.into_iter().map(Measured).collect(), predicted: vec![] }
}

fn ruled(use_: &Use, dossier: &Dossier) -> Ruling {
    rule(use_, dossier, 0.95).unwrap()
}

#[test]
fn one_figure_against_one_limit() {
    // Closed form: Φ((27 − 25) / √(1² + 0.75²)), standard deviations 1 of the figure and 0.75 of the limit: Φ(1.6) = 0.945 200 7
    // (Abramowitz & Stegun, table 26.1).
    let use_ = plate(vec![requirement(SHARP, 25.0, 0.75 * COVERAGE_95, 0.0)]);
    let ruling = ruled(&use_, &measured(vec![figure(SHARP, Some(0.0), 27.0, COVERAGE_95)]));
    assert_close!(ruling.probability, 0.945_200_7, absolute = 1e-7);
    assert_eq!((ruling.answer, ruling.basis()), (Answer::Undecided, Some(Basis::Measured)));
    assert_close!(ruling.weakest().unwrap().safety(), 1.6, absolute = 1e-12);
    // The same chance is enough for a verdict at 90 %.
    let dossier = measured(vec![figure(SHARP, Some(0.0), 27.0, COVERAGE_95)]);
    assert_eq!(rule(&use_, &dossier, 0.9).unwrap().answer, Answer::Serves);
}

#[test]
fn at_most_is_the_mirror_of_at_least() {
    let use_ = plate(vec![requirement(Quantity::Fringing, 10.0, 0.0, 0.9)]);
    let chance = |value| ruled(&use_, &measured(vec![figure(Quantity::Fringing, Some(0.9), value, 2.0)])).probability;
    assert_close!(chance(9.0) + chance(11.0), 1.0, absolute = 1e-12);
    assert!(chance(9.0) > 0.8);
}

#[test]
fn a_shared_doubt_counts_once() {
    // Two places whose only doubt is the scale: both are met or neither, so the chance is the weaker one's, Φ(1); with doubts of
    // their own it is the product, Φ(1)² (Abramowitz & Stegun, table 26.1).
    let use_ = plate(vec![requirement(SHARP, 25.0, 0.0, 0.9)]);
    let two = |own: f64, shared: f64| {
        let at = |place| with_scale(figure(SHARP, Some(place), 26.0, own * COVERAGE_95), shared * COVERAGE_95);
        ruled(&use_, &measured(vec![at(0.0), at(0.9)])).probability
    };
    assert_close!(two(0.0, 1.0), 0.841_344_7, absolute = 1e-3);
    assert_close!(two(1.0, 0.0), 0.841_344_7_f64.powi(2), absolute = 1e-3);
    // In between, the shared half of the variance holds them together.
    let half = two(0.5_f64.sqrt(), 0.5_f64.sqrt());
    assert!(half > 0.72 && half < 0.82, "{half}");
}

/// A test with everything in it: two placed figures, fringing, an uncertain limit, a shared scale.
fn busy() -> (Use, Dossier) {
    let use_ = plate(vec![
        requirement(SHARP, 25.0, 1.5, 0.9),
        requirement(Quantity::Fringing, 8.0, 0.0, 0.9),
        requirement(Quantity::Unevenness, 0.5, 0.1, 1.0),
    ]);
    let figures = vec![
        with_scale(figure(SHARP, Some(0.0), 29.0, 2.0), 2.5),
        with_scale(figure(SHARP, Some(0.9), 26.5, 3.0), 2.0),
        with_scale(figure(Quantity::Fringing, Some(0.9), 6.5, 1.5), -1.0),
        figure(Quantity::Unevenness, None, 0.42, 0.12),
    ];
    (use_, measured(figures))
}

#[test]
fn several_requirements_as_simulated() {
    // Independent simulation of the same figures, every doubt drawn: 200 000 worlds, standard error 0.0011.
    let (use_, dossier) = busy();
    let ruling = ruled(&use_, &dossier);
    let mut chance = Chance::new(9);
    let mut kept = 0;
    for _ in 0..200_000 {
        let mut draw = |plus_minus: f64| plus_minus / COVERAGE_95 * chance.normal();
        let scale = draw(1.0);
        let limit = 25.0 + draw(1.5);
        let sharp = 29.0 + 2.5 * scale + draw(2.0) >= limit && 26.5 + 2.0 * scale + draw(3.0) >= limit;
        let clean = 6.5 - scale + draw(1.5) <= 8.0;
        let even = 0.42 + draw(0.12) <= 0.5 + draw(0.1);
        kept += usize::from(sharp && clean && even);
    }
    assert_close!(ruling.probability, kept as f64 / 200_000.0, absolute = 0.0045);
    assert_eq!(ruling.answer, Answer::Undecided);
}

#[test]
fn better_figures_and_softer_limits_never_lower_the_chance() {
    let (use_, dossier) = busy();
    let before = ruled(&use_, &dossier).probability;
    for k in 0..4 {
        let mut better = dossier.clone();
        let figure = &mut better.measured[k].0;
        figure.value += if figure.quantity.usual_bound() == Bound::AtLeast { 0.5 } else { -0.05 };
        assert!(ruled(&use_, &better).probability > before, "figure {k}");
    }
    for k in 0..3 {
        let mut fewer = use_.clone();
        fewer.requirements.remove(k);
        assert!(ruled(&fewer, &dossier).probability > before, "requirement {k}");
    }
    // With the figure on the right side, less doubt is better.
    let mut surer = dossier;
    surer.measured[1].0.own_plus_minus = 1.0;
    assert!(ruled(&use_, &surer).probability > before);
}

/// One simulated test: truths drawn wide against the doubts, figures measured from them; the stated chance and the truth.
fn simulated(chance: &mut Chance) -> (f64, bool) {
    let mut draw = |mean: f64, deviation: f64| mean + deviation * chance.normal();
    let (scale, limit) = (draw(0.0, 1.0), draw(25.0, 0.5));
    let truths = [draw(27.0, 8.0), draw(27.0, 8.0)];
    let fringe = draw(7.0, 4.0);
    let held = truths.iter().all(|truth| *truth >= limit) && fringe <= 8.0;
    let sharp = [(0.0, 0), (0.9, 1)].map(|(place, k)| {
        with_scale(figure(SHARP, Some(place), truths[k] - 0.8 * scale - draw(0.0, 1.0), COVERAGE_95), 0.8 * COVERAGE_95)
    });
    let fringing = with_scale(
        figure(Quantity::Fringing, Some(0.9), fringe - 0.3 * scale - draw(0.0, 0.6), 0.6 * COVERAGE_95),
        0.3 * COVERAGE_95,
    );
    let use_ =
        plate(vec![requirement(SHARP, 25.0, 0.5 * COVERAGE_95, 0.9), requirement(Quantity::Fringing, 8.0, 0.0, 0.9)]);
    (ruled(&use_, &measured([sharp.to_vec(), vec![fringing]].concat())).probability, held)
}

#[test]
fn of_500_verdicts_stated_at_90_percent_86_to_94_percent_are_right() {
    let mut chance = Chance::new(2025);
    let (mut tests, mut right, mut stated) = (0, 0, 0.0);
    while tests < 500 {
        let (probability, held) = simulated(&mut chance);
        // A yes at 0.88 to 0.92, or a no as sure.
        let (sure, correct) = if probability >= 0.5 { (probability, held) } else { (1.0 - probability, !held) };
        if (0.87..=0.93).contains(&sure) {
            tests += 1;
            right += usize::from(correct);
            stated += sure / 500.0;
        }
    }
    let share = right as f64 / 500.0;
    assert!((0.86..=0.94).contains(&share), "{share} right, {stated} stated");
    assert_close!(stated, 0.9, absolute = 0.005);
}

#[test]
fn decided_verdicts_are_right_as_often_as_they_say_at_least() {
    // A verdict at 90 % answers only from 0.9 on, so that more than 90 % of its answers are right; and about as many as stated.
    let mut chance = Chance::new(77);
    let (mut answers, mut right, mut stated) = (0.0, 0.0, 0.0);
    for _ in 0..600 {
        let (probability, held) = simulated(&mut chance);
        if !(0.1..0.9).contains(&probability) {
            answers += 1.0;
            right += f64::from(u8::from((probability > 0.5) == held));
            stated += probability.max(1.0 - probability);
        }
    }
    assert!(right / answers >= 0.9 && answers > 200.0, "{right} of {answers}");
    assert_close!(right / answers, stated / answers, absolute = 0.03);
}

#[test]
fn the_decider_is_the_doubt_that_matters() {
    // The corner's own doubt is the largest: knowing it decides most often, and the limit, a decision, is no doubt at all.
    let use_ = plate(vec![requirement(SHARP, 25.0, 0.0, 0.9)]);
    let centre = with_scale(figure(SHARP, Some(0.0), 40.0, 1.0), 1.0);
    let corner = with_scale(figure(SHARP, Some(0.9), 26.0, 5.0), 1.0);
    let all = deciders(&use_, &measured(vec![centre, corner]), 0.95).unwrap();
    let names: Vec<&Doubt> = all.iter().map(|decider| &decider.doubt).collect();
    let own = |figure| Doubt::Measured { set_up: "80 on tubes".into(), figure };
    assert_eq!(names[..2], [&own(1), &Doubt::Cause("scanner's scale".into())]);
    assert!(all[0].decides > 0.6 && all[1].decides < 0.1, "{all:?}");
    assert!(!names.iter().any(|doubt| matches!(doubt, Doubt::Limit { .. })));
    // A decided ruling asks for nothing.
    let sure = measured(vec![figure(SHARP, Some(0.9), 60.0, 2.0)]);
    assert_eq!((ruled(&use_, &sure).answer, deciders(&use_, &sure, 0.95).unwrap().len()), (Answer::Serves, 0));
}

#[test]
fn an_uncertain_limit_can_be_what_decides() {
    let use_ = plate(vec![requirement(SHARP, 25.0, 6.0, 0.0)]);
    let all = deciders(&use_, &measured(vec![figure(SHARP, None, 26.0, 0.5)]), 0.95).unwrap();
    assert_eq!(all[0].doubt, Doubt::Limit { use_id: "plate".into(), requirement: 0 });
}

#[test]
fn what_is_missing_is_named_and_never_a_yes() {
    let use_ = plate(vec![requirement(SHARP, 25.0, 0.0, 0.9), requirement(Quantity::Glare, 0.03, 0.0, 1.0)]);
    let centre = figure(SHARP, Some(0.1), 60.0, 2.0);
    let ruling = ruled(&use_, &measured(vec![centre]));
    let missing: Vec<_> = ruling.missing.iter().map(|missing| (missing.requirement, missing.why)).collect();
    assert_eq!(missing, [(0, WhyMissing::RimNotReached { farthest: 0.1 }), (1, WhyMissing::NothingKnown)]);
    assert_eq!(ruling.answer, Answer::Undecided);
    // What is known already fails: no further frame is needed to say no.
    let fails = ruled(&use_, &measured(vec![figure(SHARP, Some(0.1), 12.0, 2.0)]));
    assert_eq!(fails.answer, Answer::FallsShort);
    // A place outside of the part asked for says nothing about it.
    let inner = plate(vec![requirement(SHARP, 25.0, 0.0, 0.5)]);
    let corner = measured(vec![figure(SHARP, Some(0.5), 30.0, 1.0), figure(SHARP, Some(1.0), 5.0, 1.0)]);
    assert_eq!(ruled(&inner, &corner).answer, Answer::Serves);
}

#[test]
fn measured_and_predicted_are_never_pooled() {
    let use_ = plate(vec![requirement(SHARP, 25.0, 0.0, 0.0), requirement(Quantity::WorkingDistance, 60.0, 0.0, 0.0)]);
    let mut dossier = measured(vec![figure(SHARP, None, 20.0, 2.0)]);
    dossier.predicted =
        vec![Predicted(figure(SHARP, None, 40.0, 2.0)), Predicted(figure(Quantity::WorkingDistance, None, 90.0, 4.0))];
    let ruling = ruled(&use_, &dossier);
    // The measurement alone decides, however good the prediction.
    assert_eq!((ruling.answer, ruling.findings.len(), ruling.basis()), (Answer::FallsShort, 2, None));
    assert_eq!(ruling.findings[1].basis, Basis::Predicted);
    let surprises = dossier.surprises();
    assert_eq!((surprises.len(), surprises[0].measured, surprises[0].predicted), (1, 0, 0));
    assert_close!(surprises[0].difference.value, -20.0, absolute = 0.0);
    assert_close!(surprises[0].difference.plus_minus, 8.0_f64.sqrt(), absolute = 1e-12);
    // A doubt that both share with one sign cancels.
    let shared = Dossier {
        measured: vec![Measured(with_scale(figure(SHARP, None, 20.0, 0.0), 3.0))],
        predicted: vec![Predicted(with_scale(figure(SHARP, None, 20.5, 0.0), 3.0))],
        ..Dossier::default()
    };
    assert_close!(shared.surprises()[0].difference.plus_minus, 0.0, absolute = 0.0);
}

#[test]
fn uses_are_refused_by_name() {
    let refused = |use_: Use| match rule(&use_, &measured(vec![]), 0.95) {
        Err(RuleError::Use(why)) => why,
        other => panic!("{other:?}"),
    };
    assert!(matches!(refused(plate(vec![])), UseError::AsksNothing { .. }));
    let far = Requirement { bound: Bound::AtLeast, ..requirement(Quantity::WorkingDistance, 100.0, 0.0, 0.0) };
    let near = Requirement { bound: Bound::AtMost, ..requirement(Quantity::WorkingDistance, 80.0, 0.0, 0.0) };
    assert!(matches!(
        refused(plate(vec![far, near])),
        UseError::Contradiction { first: 1, second: 2, least, most, .. } if least == 100.0 && most == 80.0
    ));
    for bad in [
        requirement(SHARP, f64::NAN, 0.0, 0.5),
        requirement(SHARP, 25.0, -1.0, 0.5),
        requirement(SHARP, 25.0, 0.0, 1.2),
        requirement(Quantity::Resolution { contrast: 1.0 }, 25.0, 0.0, 0.5),
        requirement(Quantity::Contrast { lp_mm: 0.0 }, 0.3, 0.0, 0.5),
    ] {
        assert!(matches!(refused(plate(vec![bad.clone()])), UseError::BadNumber { number: 1, .. }), "{bad:?}");
    }
}

#[test]
fn figures_and_confidence_are_refused_by_name() {
    let use_ = plate(vec![requirement(SHARP, 25.0, 0.0, 0.0)]);
    let good = figure(SHARP, None, 30.0, 1.0);
    for bad in [
        Figure { value: f64::NAN, ..good.clone() },
        Figure { own_plus_minus: -1.0, ..good.clone() },
        Figure { at: Some(1.5), ..good.clone() },
        with_scale(good.clone(), f64::INFINITY),
    ] {
        let why = rule(&use_, &measured(vec![good.clone(), bad]), 0.95);
        assert!(matches!(why, Err(RuleError::Figure(FigureError { number: 2, .. }))), "{why:?}");
    }
    for sure in [0.5, 1.0, f64::NAN] {
        assert!(matches!(rule(&use_, &measured(vec![]), sure), Err(RuleError::BadConfidence { .. })));
    }
}

#[test]
fn ready_made_uses_make_sense_and_scale_with_the_frame() {
    for frame_mm in [36.0, 56.0, 120.0] {
        for use_ in ready_made(PictureSize { frame_mm }) {
            use_.check().unwrap();
            assert!(use_.requirements.iter().all(|r| !r.reason.is_empty()), "{}", use_.id);
        }
    }
    // Own arithmetic: 5 lp/mm on 300 mm of paper from 56 mm of film, 26.8 lp/mm.
    let hand = &ready_made(PictureSize { frame_mm: 56.0 })[2];
    assert_close!(hand.requirements[0].limit.value, 26.785_714, absolute = 1e-5);
    let [small, large] =
        [36.0, 72.0].map(|frame_mm| ready_made(PictureSize { frame_mm })[1].requirements[0].limit.value);
    assert_close!(small, 2.0 * large, relative = 1e-12);
}

#[test]
fn a_bound_decides_only_what_lies_on_its_own_side() {
    // "At least 40 lp/mm" is enough for 35, says nothing of 50, and is too much for "at most 30"; "at most 1 %" is the mirror.
    let at_least = Figure { only: Some(Bound::AtLeast), ..figure(SHARP, Some(0.0), 40.0, 0.0) };
    let answer = |use_: &Use, figure: &Figure| {
        let ruling = ruled(use_, &measured(vec![figure.clone()]));
        (ruling.answer, ruling.missing.first().map(|missing| missing.why))
    };
    let asked = |lp_mm| plate(vec![requirement(SHARP, lp_mm, 0.0, 0.0)]);
    assert_eq!(answer(&asked(35.0), &at_least), (Answer::Serves, None));
    let open = Some(WhyMissing::OnlyBounded { value: 40.0 });
    assert_eq!(answer(&asked(50.0), &at_least), (Answer::Undecided, open));
    let most = plate(vec![Requirement { bound: Bound::AtMost, ..requirement(SHARP, 30.0, 0.0, 0.0) }]);
    assert_eq!(answer(&most, &at_least), (Answer::FallsShort, None));
    let glare = |limit| plate(vec![requirement(Quantity::Glare, limit, 0.0, 1.0)]);
    let at_most = Figure { only: Some(Bound::AtMost), ..figure(Quantity::Glare, None, 0.01, 0.0) };
    assert_eq!(answer(&glare(0.03), &at_most), (Answer::Serves, None));
    assert_eq!(answer(&glare(0.005), &at_most).0, Answer::Undecided);
}
