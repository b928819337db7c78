//! Simulation against the examples of its standard and against closed forms.
//!
//! Tolerances are five standard errors unless a line says otherwise: of a mean u/√M, of a standard deviation
//! u·√((k − 1)/4M) with k the kurtosis (3 when normal), of a quantile √(p(1 − p)/M) over the density there.

use optics::{
    COVERAGE_95, Distribution, Drawn, Input, LEAST_TRIALS, MOST_TRIALS, MonteCarloError, RandomInput, Simulation,
    Spread, Trials, TrialsError, monte_carlo,
};
use std::convert::Infallible;
use testkit::assert_close;

fn normal(value: f64, standard: f64) -> RandomInput {
    RandomInput { value, distribution: Distribution::Normal { standard } }
}

fn fixed(number: usize) -> Simulation {
    Simulation::new(20_240_521, Trials::Fixed(number)).unwrap()
}

/// One figure that is always there.
fn drawn(inputs: &[RandomInput], simulation: &Simulation, figure: impl Fn(&[f64]) -> f64) -> (Drawn, Spread) {
    let all = monte_carlo(inputs, simulation, |x| Ok::<_, Infallible>([Some(figure(x))])).unwrap();
    (all[0], all[0].spread.unwrap())
}

/// Standard error of a 2.5 % quantile.
fn quantile_error(trials: f64, density: f64) -> f64 {
    (0.025f64 * 0.975 / trials).sqrt() / density
}

#[test]
fn a_sum_of_four_rectangular_inputs() {
    // JCGM 101:2008, 9.2.3 (from memory): four rectangular inputs of mean 0 and u = 1: u(y) = 2, 95 % within
    // ±2√3(2 − (3/5)^(1/4)) = ±3.88, where a normal figure would lie within ±3.92.
    let trials = 1_000_000;
    let inputs = [RandomInput { value: 0.0, distribution: Distribution::Rectangular { half_range: 3f64.sqrt() } }; 4];
    let (counted, y) = drawn(&inputs, &fixed(trials), |x| x.iter().sum());
    let m = trials as f64;
    let end = 2.0 * 3f64.sqrt() * (2.0 - 0.6f64.powf(0.25));
    assert_close!(end, 3.879_406_741_347_821, relative = 1e-14);
    assert_close!(y.mean, 0.0, absolute = 5.0 * 2.0 / m.sqrt());
    assert_close!(y.median, 0.0, absolute = 5.0 * 2.6 / m.sqrt());
    assert_close!(y.standard, 2.0, absolute = 5.0 * 2.0 * (2.0 / (4.0 * m)).sqrt());
    // Density of the sum of four at its end: (3/5)^(3/4)/6 a unit range of 2√3 (Irwin and Hall).
    let allowed = 5.0 * quantile_error(m, 0.6f64.powf(0.75) / 6.0 / (2.0 * 3f64.sqrt()));
    assert!(allowed < 3.92 - end, "it must tell the two apart: {allowed}");
    assert_close!(y.low, -end, absolute = allowed);
    assert_close!(y.high, end, absolute = allowed);
    assert_eq!((counted.trials, counted.missing, counted.settled), (trials, 0, true));
}

#[test]
fn comparison_loss() {
    // JCGM 101:2008, 9.4 (from memory; millionths): x1² + x2² with u = 5000, x2 = 0: at x1 = 0 mean 50 and u 50, at 10 000
    // 150 and 112, at 50 000 2550 and 503. In closed form x1² + 2u² and √(4x1²u² + 4u⁴).
    let trials = 200_000;
    let u: f64 = 0.005;
    for (x1, mean, standard) in [(0.0f64, 50.0, 50.0), (0.010, 150.0, 112.0), (0.050, 2550.0, 503.0)] {
        let exact = (1e6 * (x1 * x1 + 2.0 * u * u), 2e6 * u * (x1 * x1 + u * u).sqrt());
        assert_close!(exact.0, mean, absolute = 0.5);
        assert_close!(exact.1, standard, absolute = 0.6);
        let (_, y) = drawn(&[normal(x1, u), normal(0.0, u)], &fixed(trials), |x| 1e6 * (x[0] * x[0] + x[1] * x[1]));
        let m = trials as f64;
        assert_close!(y.mean, exact.0, absolute = 5.0 * exact.1 / m.sqrt());
        // Kurtosis at most that of an exponential figure, 9.
        assert_close!(y.standard, exact.1, absolute = 5.0 * exact.1 * (8.0 / (4.0 * m)).sqrt());
    }
}

#[test]
fn an_exponential_figure_in_full() {
    // Closed form: x1² + x2² at 0 is exponential with mean 2u² = 50 millionths: quantiles −50·ln(1 − p), density at one
    // (1 − p)/50. Its median is 50·ln 2, and first order knows none of it.
    let trials = 400_000;
    let (_, y) = drawn(&[normal(0.0, 0.005); 2], &fixed(trials), |x| 1e6 * x.iter().map(|x| x * x).sum::<f64>());
    let m = trials as f64;
    assert_close!(y.low, -50.0 * 0.975f64.ln(), absolute = 5.0 * quantile_error(m, 0.975 / 50.0));
    assert_close!(y.high, -50.0 * 0.025f64.ln(), absolute = 5.0 * quantile_error(m, 0.025 / 50.0));
    assert_close!(y.median, 50.0 * 2f64.ln(), absolute = 5.0 * 0.5 / m.sqrt() / (0.5 / 50.0));
}

#[test]
fn effective_f_number_from_a_measured_magnification() {
    // Own simulation of two million draws (another program's generator): mean 17.4743, sd 0.15396, 95 % 17.1826 to
    // 17.7862; N = 11, P = 0.85 ± 0.02, m = 50.0 ± 0.1 over 100.0 ± 0.25. Both simulations have their errors: five times
    // √(1/M + 1/2 000 000) of each.
    let trials = 400_000;
    let inputs = [normal(11.0, 0.0), normal(0.85, 0.02), normal(50.0, 0.1), normal(100.0, 0.25)];
    let (_, y) = drawn(&inputs, &fixed(trials), |x| x[0] * (1.0 + x[2] / x[3] / x[1]));
    let error = (1.0 / trials as f64 + 0.5e-6).sqrt() * 0.154;
    assert_close!(y.mean, 17.4743, absolute = 5.0 * error + 5e-5);
    assert_close!(y.standard, 0.153_96, absolute = 5.0 * error / 2f64.sqrt() + 5e-6);
    // Normal density at 1.96: 0.0584/u, so that an end is known 2.67 times as badly as the mean.
    assert_close!(y.low, 17.1826, absolute = 5.0 * 2.67 * error + 5e-5);
    assert_close!(y.high, 17.7862, absolute = 5.0 * 2.67 * error + 5e-5);
}

#[test]
fn triangular_is_the_difference_of_two_rectangular_ones() {
    // JCGM 100:2008, 4.3.9: u² = a²/6; closed form of the 2.5 % point: a(1 − √0.05), density √0.05/a.
    let trials = 400_000;
    let one = [RandomInput { value: 3.0, distribution: Distribution::Triangular { half_range: 2.0 } }];
    let (_, y) = drawn(&one, &fixed(trials), |x| x[0]);
    let m = trials as f64;
    let root = 0.05f64.sqrt();
    // Kurtosis 2.4.
    assert_close!(y.standard, 2.0 / 6f64.sqrt(), absolute = 5.0 * 2.0 / 6f64.sqrt() * (1.4 / (4.0 * m)).sqrt());
    assert_close!(y.high, 3.0 + 2.0 * (1.0 - root), absolute = 5.0 * quantile_error(m, root / 2.0));
    assert_close!(y.low, 3.0 - 2.0 * (1.0 - root), absolute = 5.0 * quantile_error(m, root / 2.0));
}

#[test]
fn a_half_width_is_taken_as_that_of_a_normal_input() {
    let random = RandomInput::from(Input { value: 3.0, plus_minus: COVERAGE_95 * 0.5 });
    assert_eq!(random, normal(3.0, 0.5));
}

#[test]
fn it_goes_on_until_the_figures_have_settled() {
    // JCGM 101:2008, 7.9: u = 2 to two digits is 0.05, and twice the standard error of each figure is brought below: of an
    // end of a normal interval, 2.67·u/√10⁴ a batch, so that 2·0.0534/√h ≤ 0.05 takes some five batches. Five standard
    // errors are 2.5 times the tolerance.
    let inputs = [normal(5.0, 2.0)];
    let asked = |digits, most| Simulation::new(4, Trials::Settled { digits, most }).unwrap();
    let (counted, y) = drawn(&inputs, &asked(2, 1_000_000), |x| x[0]);
    assert!(counted.settled);
    assert!((20_000..200_000).contains(&counted.trials), "{}", counted.trials);
    assert_eq!(counted.trials % 10_000, 0);
    assert_close!(y.mean, 5.0, absolute = 2.5 * 0.05);
    assert_close!(y.standard, 2.0, absolute = 2.5 * 0.05);
    assert_close!(y.high, 5.0 + 2.0 * COVERAGE_95, absolute = 2.5 * 0.05);
    // To three digits it takes a hundred times as many: the limit comes first, and is said.
    let (counted, _) = drawn(&inputs, &asked(3, 45_000), |x| x[0]);
    assert_eq!((counted.settled, counted.trials), (false, 40_000));
    // Nothing uncertain is settled at once.
    let (counted, y) = drawn(&[normal(5.0, 0.0)], &asked(2, 1_000_000), |x| x[0]);
    assert_eq!((counted.settled, counted.trials), (true, 20_000));
    assert_eq!((y.low, y.median, y.high, y.standard), (5.0, 5.0, 5.0, 0.0));
}

#[test]
fn missing_figures_and_refused_draws_are_counted() {
    // Closed form: one standard deviation above 0, Φ(−1) = 0.158655 of the draws lie below it.
    let below = 0.158_655_253_931_457_05;
    let trials = 100_000;
    let allowed = 5.0 * (below * (1.0f64 - below) / trials as f64).sqrt();
    let inputs = [normal(1.0, 1.0)];
    let all = monte_carlo(&inputs, &fixed(trials), |x| {
        Ok::<_, Infallible>(vec![(x[0] > 0.0).then_some(x[0]), Some(x[0]), None, Some(1.0 / (x[0] - x[0]))])
    })
    .unwrap();
    assert_close!(all[0].missing_share(), below, absolute = allowed);
    assert!(all[0].is_open());
    assert!(all[0].spread.unwrap().low > 0.0);
    // Mean of a normal figure cut off below −1: 1 + φ(1)/Φ(1), its variance below 1.
    let cut = 1.0 + 0.241_970_724_519_143_37 / (1.0 - below);
    assert_close!(all[0].spread.unwrap().mean, cut, absolute = 5.0 / (0.84 * trials as f64).sqrt());
    assert_eq!((all[1].missing, all[1].is_open()), (0, false));
    for none in &all[2..] {
        assert_eq!((none.missing, none.spread), (trials, None));
    }
    let refusing = monte_carlo(&inputs, &fixed(trials), |x| if x[0] > 0.0 { Ok([Some(x[0])]) } else { Err(()) });
    assert_eq!(refusing.unwrap()[0], all[0], "refused is as good as missing");
    assert_eq!(
        monte_carlo(&[normal(-1.0, 1.0)], &fixed(trials), refuse_below_zero),
        Err(MonteCarloError::Refused("below"))
    );
}

fn refuse_below_zero(x: &[f64]) -> Result<[Option<f64>; 1], &'static str> {
    if x[0] > 0.0 { Ok([Some(x[0])]) } else { Err("below") }
}

#[test]
fn the_same_seed_gives_the_same_figures() {
    let run = |seed| {
        let simulation = Simulation::new(seed, Trials::Fixed(LEAST_TRIALS)).unwrap();
        drawn(&[normal(0.0, 1.0)], &simulation, |x| x[0]).1
    };
    assert_eq!(run(1), run(1));
    assert_ne!(run(1), run(2));
}

#[test]
fn what_cannot_be_simulated_is_refused() {
    let new = |trials| Simulation::new(1, trials).unwrap_err();
    let number = |asked, least| TrialsError::Number { asked, least, most: MOST_TRIALS };
    assert_eq!(new(Trials::Fixed(LEAST_TRIALS - 1)), number(LEAST_TRIALS - 1, LEAST_TRIALS));
    assert_eq!(new(Trials::Fixed(MOST_TRIALS + 1)), number(MOST_TRIALS + 1, LEAST_TRIALS));
    assert_eq!(new(Trials::Settled { digits: 1, most: 19_999 }), number(19_999, 20_000));
    assert_eq!(new(Trials::Settled { digits: 0, most: 20_000 }), TrialsError::Digits { asked: 0 });
    assert_eq!(new(Trials::Settled { digits: 4, most: 20_000 }), TrialsError::Digits { asked: 4 });
    assert!(new(Trials::Fixed(7)).to_string().contains("2000 to 2000000"));
    for bad in [normal(f64::NAN, 1.0), normal(1.0, -1.0), normal(1.0, f64::INFINITY)] {
        let inputs = [normal(0.0, 1.0), bad];
        let error = monte_carlo(&inputs, &fixed(LEAST_TRIALS), |x| Ok::<_, Infallible>([Some(x[0])])).unwrap_err();
        assert!(matches!(error, MonteCarloError::Input { index: 1, .. }), "{error}");
    }
}
