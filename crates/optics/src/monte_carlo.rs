//! Propagation of distributions by simulation (JCGM 101:2008), for figures that the law of propagation does not fit.

use crate::{COVERAGE_95, Input};

/// Draws between two looks at whether the figures have settled: JCGM 101:2008, 7.9.4 b, the larger of 10⁴ and
/// 100/(1 − 0.95).
const BATCH: usize = 10_000;

/// Fewer draws leave fewer than 50 beyond either end of a 95 % interval: the 100/(1 − p) of JCGM 101:2008, 7.9.4 b.
pub const LEAST_TRIALS: usize = 2_000;

/// Every draw of every figure is kept for its quantiles, 8 bytes each: this many of a dozen figures take some 200 MB.
pub const MOST_TRIALS: usize = 2_000_000;

/// What the draws of an input look like around its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Distribution {
    /// Normal.
    Normal {
        /// Standard uncertainty.
        standard: f64,
    },
    /// Anywhere between two limits alike: a scale read to its division, a tolerance on a drawing. Its standard uncertainty
    /// is `half_range`/√3 (JCGM 100:2008, 4.3.7).
    Rectangular {
        /// From the value to either limit.
        half_range: f64,
    },
    /// Between two limits, the middle likeliest: the difference of two rectangular ones. Its standard uncertainty is
    /// `half_range`/√6 (JCGM 100:2008, 4.3.9).
    Triangular {
        /// From the value to either limit.
        half_range: f64,
    },
}

/// An input figure and how it is distributed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RandomInput {
    /// The figure: the middle of its distribution.
    pub value: f64,
    /// How its draws lie around it.
    pub distribution: Distribution,
}

impl RandomInput {
    /// The distribution's width as it was stated: standard uncertainty or half-range.
    fn width(&self) -> f64 {
        match self.distribution {
            Distribution::Normal { standard } => standard,
            Distribution::Rectangular { half_range } | Distribution::Triangular { half_range } => half_range,
        }
    }
}

impl From<Input> for RandomInput {
    /// Normal, as everywhere else in this crate.
    fn from(input: Input) -> Self {
        Self { value: input.value, distribution: Distribution::Normal { standard: input.plus_minus / COVERAGE_95 } }
    }
}

/// How many draws to make.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trials {
    /// As many as this.
    Fixed(usize),
    /// Until mean, standard uncertainty and both ends of the interval are settled, each to half a unit in the last of
    /// `digits` significant digits of the standard uncertainty (JCGM 101:2008, 7.9), in batches of ten thousand.
    Settled {
        /// 1 or 2 (3 takes long).
        digits: u32,
        /// At most so many draws; what is not settled then says so.
        most: usize,
    },
}

/// Why a simulation cannot be asked for so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TrialsError {
    /// Too few or too many draws.
    #[error("a simulation of {asked} draws: it takes {least} to {most}")]
    Number {
        /// Asked for.
        asked: usize,
        /// Allowed.
        least: usize,
        /// Allowed.
        most: usize,
    },
    /// Significant digits of the uncertainty.
    #[error("a simulation settled to {asked} significant digits of the uncertainty: 1, 2 or 3 are possible")]
    Digits {
        /// Asked for.
        asked: u32,
    },
}

/// A simulation that can be had again: the same seed and inputs give the same figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Simulation {
    seed: u64,
    trials: Trials,
}

impl Simulation {
    /// Checks the number of draws.
    pub fn new(seed: u64, trials: Trials) -> Result<Self, TrialsError> {
        let (asked, least) = match trials {
            // Batch is compared with batch, so there must be two.
            Trials::Settled { digits, .. } if !(1..=3).contains(&digits) => {
                return Err(TrialsError::Digits { asked: digits });
            }
            Trials::Settled { most, .. } => (most, 2 * BATCH),
            Trials::Fixed(number) => (number, LEAST_TRIALS),
        };
        if !(least..=MOST_TRIALS).contains(&asked) {
            return Err(TrialsError::Number { asked, least, most: MOST_TRIALS });
        }
        Ok(Self { seed, trials })
    }
}

impl Default for Simulation {
    /// Settled to one digit, at most 10⁵ draws. It takes 2·10⁴ at least, which put an end of a normal figure's interval
    /// to about 2 % of the standard uncertainty.
    fn default() -> Self {
        Self { seed: 101, trials: Trials::Settled { digits: 1, most: 100_000 } }
    }
}

/// How the draws of one figure lie, those left out in which it was missing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spread {
    /// Their mean.
    pub mean: f64,
    /// Their standard deviation: the figure's standard uncertainty.
    pub standard: f64,
    /// As many lie above as below.
    pub median: f64,
    /// 2.5 % lie below (probabilistically symmetric interval, JCGM 101:2008, 7.7).
    pub low: f64,
    /// 2.5 % lie above.
    pub high: f64,
}

/// One figure by simulation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// Draws made.
    pub trials: usize,
    /// Draws in which the figure was missing (infinite), not finite, or the whole computation was refused.
    pub missing: usize,
    /// The others; `None` when there are fewer than two.
    pub spread: Option<Spread>,
    /// Whether the figure settled; always so for a fixed number of draws, which asks nothing.
    pub settled: bool,
}

impl Drawn {
    /// Share of draws in which the figure was missing, 0 to 1.
    pub fn missing_share(&self) -> f64 {
        self.missing as f64 / self.trials as f64
    }

    /// Whether more draws are missing than lie beyond one end of the interval: then that end is infinite, and the
    /// interval given is only that of the finite draws.
    pub fn is_open(&self) -> bool {
        self.missing_share() > 0.025
    }
}

/// Why a simulation was not made.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum MonteCarloError<E> {
    /// An input is no number, or its distribution has no width.
    #[error("input {index}, {value} with a width of {width}: both must be finite and the width not negative")]
    Input {
        /// Which, counted from 0.
        index: usize,
        /// Its value.
        value: f64,
        /// Its standard uncertainty or half-range.
        width: f64,
    },
    /// The computation is refused at the inputs' values themselves.
    #[error("{0}")]
    Refused(E),
}

/// Every result of `compute` by simulation with independent inputs (JCGM 101:2008, clause 7).
///
/// `compute` gives one row of results, always as many and in the same order; a result may be missing (infinite). A draw
/// that it refuses is counted as missing for all of them; only a refusal at the inputs' own values is handed on.
pub fn monte_carlo<R: AsRef<[Option<f64>]>, E>(
    inputs: &[RandomInput],
    simulation: &Simulation,
    mut compute: impl FnMut(&[f64]) -> Result<R, E>,
) -> Result<Vec<Drawn>, MonteCarloError<E>> {
    for (index, input) in inputs.iter().enumerate() {
        let (value, width) = (input.value, input.width());
        if !(value.is_finite() && width.is_finite() && width >= 0.0) {
            return Err(MonteCarloError::Input { index, value, width });
        }
    }
    let middle: Vec<f64> = inputs.iter().map(|input| input.value).collect();
    let figures = compute(&middle).map_err(MonteCarloError::Refused)?.as_ref().len();
    Ok(draw(inputs, simulation, &vec![true; figures], compute).into_iter().flatten().collect())
}

/// The simulation itself, of the figures that are `wanted` only.
pub(crate) fn draw<R: AsRef<[Option<f64>]>, E>(
    inputs: &[RandomInput],
    simulation: &Simulation,
    wanted: &[bool],
    mut compute: impl FnMut(&[f64]) -> Result<R, E>,
) -> Vec<Option<Drawn>> {
    let most = match simulation.trials {
        Trials::Fixed(number) => number,
        Trials::Settled { most, .. } => most / BATCH * BATCH,
    };
    let mut columns: Vec<Option<Column>> = wanted.iter().map(|wanted| wanted.then(Column::default)).collect();
    let mut chance = Chance::new(simulation.seed);
    let mut numbers = vec![0.0; inputs.len()];
    let mut trials = 0;
    while trials < most {
        let batch = BATCH.min(most - trials);
        for _ in 0..batch {
            for (number, input) in numbers.iter_mut().zip(inputs) {
                *number = input.value + chance.around(input.distribution);
            }
            let Ok(row) = compute(&numbers) else { continue };
            for (column, result) in columns.iter_mut().zip(row.as_ref()) {
                if let (Some(column), Some(value)) = (column, result)
                    && value.is_finite()
                {
                    column.values.push(*value);
                }
            }
        }
        trials += batch;
        if let Trials::Settled { digits, .. } = simulation.trials {
            columns.iter_mut().flatten().for_each(Column::close_batch);
            let settled = |column: &Column| column.settled(digits);
            if trials >= 2 * BATCH && columns.iter().flatten().all(settled) {
                break;
            }
        }
    }
    let drawn = |mut column: Column| Drawn {
        trials,
        missing: trials - column.values.len(),
        settled: match simulation.trials {
            Trials::Fixed(_) => true,
            Trials::Settled { digits, .. } => column.settled(digits),
        },
        spread: spread(&mut column.values),
    };
    columns.into_iter().map(|column| column.map(drawn)).collect()
}

/// The draws of one figure.
#[derive(Debug, Default)]
struct Column {
    values: Vec<f64>,
    /// Where the current batch begins.
    start: usize,
    /// What each batch gave by itself.
    batches: Vec<Spread>,
}

impl Column {
    fn close_batch(&mut self) {
        self.batches.extend(spread(&mut self.values[self.start..]));
        self.start = self.values.len();
    }

    /// JCGM 101:2008, 7.9.4: twice the standard deviation of the mean over the batches is at most the tolerance, for all
    /// four figures. One that is always missing has nothing to settle; one nearly always missing never settles.
    fn settled(&self, digits: u32) -> bool {
        if self.values.is_empty() {
            return true;
        }
        let count = self.batches.len() as f64;
        if count < 2.0 {
            return false;
        }
        let pooled = (self.batches.iter().map(|batch| batch.standard.powi(2)).sum::<f64>() / count).sqrt();
        let tolerance = tolerance(pooled, digits);
        let parts: [fn(&Spread) -> f64; 4] = [|b| b.mean, |b| b.standard, |b| b.low, |b| b.high];
        parts.iter().all(|part| {
            let mean = self.batches.iter().map(part).sum::<f64>() / count;
            let squares: f64 = self.batches.iter().map(|batch| (part(batch) - mean).powi(2)).sum();
            2.0 * (squares / (count * (count - 1.0))).sqrt() <= tolerance
        })
    }
}

/// Half a unit in the last of `digits` significant digits of a standard uncertainty (JCGM 101:2008, 7.9.2).
fn tolerance(standard: f64, digits: u32) -> f64 {
    if standard <= 0.0 {
        return 0.0;
    }
    0.5 * 10f64.powi(standard.log10().floor() as i32 + 1 - digits as i32)
}

/// Of draws in any order, which it changes.
fn spread(values: &mut [f64]) -> Option<Spread> {
    let count = values.len();
    if count < 2 {
        return None;
    }
    let n = count as f64;
    let mean = values.iter().sum::<f64>() / n;
    // Two passes: the squares of large figures would lose a small spread.
    let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let standard = (squares / (n - 1.0)).sqrt();
    let mut ranked = |rank: usize| *values.select_nth_unstable_by(rank - 1, f64::total_cmp).1;
    // JCGM 101:2008, 7.7.2: of M ordered values the r-th and the (r + q)-th, q = pM and r = (M − q)/2, both rounded.
    let within = (0.95 * n + 0.5) as usize;
    let first = ((count - within).div_ceil(2)).max(1);
    let (low, high) = (ranked(first), ranked((first + within).min(count)));
    let median = (ranked(count.div_ceil(2)) + ranked(count / 2 + 1)) / 2.0;
    Some(Spread { mean, standard, median, low, high })
}

/// Repeatable chance: SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014,
/// with the mixing constants of its reference code), which passes through all 2⁶⁴ numbers once; normal deviates by Box
/// and Muller (1958). For simulation, not for secrets.
#[derive(Debug, Clone)]
pub(crate) struct Chance {
    state: u64,
    spare: Option<f64>,
}

impl Chance {
    pub(crate) fn new(seed: u64) -> Self {
        Self { state: seed, spare: None }
    }

    /// The next 64 random bits.
    pub(crate) fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.state ^ (self.state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly spread over 0 ..< 1.
    fn uniform(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }

    fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        // 1 - u lies in (0, 1], where the logarithm is finite.
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        let (sin, cos) = (std::f64::consts::TAU * self.uniform()).sin_cos();
        self.spare = Some(radius * sin);
        radius * cos
    }

    /// How far a draw lies from the middle. An exact input takes no random number.
    fn around(&mut self, distribution: Distribution) -> f64 {
        match distribution {
            Distribution::Normal { standard } if standard > 0.0 => standard * self.normal(),
            Distribution::Rectangular { half_range } if half_range > 0.0 => half_range * (2.0 * self.uniform() - 1.0),
            // JCGM 101:2008, 6.4.5: the difference of two rectangular draws.
            Distribution::Triangular { half_range } if half_range > 0.0 => {
                half_range * (self.uniform() - self.uniform())
            }
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn splitmix_reference_sequence() {
        // Published first outputs of SplitMix64 for seed 1234567 (Rosetta Code, "Pseudo-random numbers/Splitmix64").
        let mut chance = Chance::new(1_234_567);
        let published = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821,
        ];
        assert_eq!([(); 5].map(|()| chance.bits()), published);
    }

    #[test]
    fn distributions_have_their_moments() {
        // Closed forms for half-range a: variance a²/3 and a²/6, fourth moment a⁴/5 and a⁴/15; normal u² and 3u⁴. Five
        // standard errors of the mean and of the mean square.
        let count = 200_000;
        let cases = [
            (Distribution::Normal { standard: 2.0 }, 4.0, 48.0),
            (Distribution::Rectangular { half_range: 2.0 }, 4.0 / 3.0, 16.0 / 5.0),
            (Distribution::Triangular { half_range: 2.0 }, 4.0 / 6.0, 16.0 / 15.0),
        ];
        for (distribution, square, fourth) in cases {
            let mut chance = Chance::new(7);
            let draws: Vec<f64> = (0..count).map(|_| chance.around(distribution)).collect();
            let moment = |power| draws.iter().map(|x| x.powi(power)).sum::<f64>() / f64::from(count);
            let allowed = |variance: f64| 5.0 * (variance / f64::from(count)).sqrt();
            assert_close!(moment(1), 0.0, absolute = allowed(square), "{distribution:?}");
            assert_close!(moment(2), square, absolute = allowed(fourth - square * square), "{distribution:?}");
        }
    }

    #[test]
    fn tolerance_of_the_standard() {
        // JCGM 101:2008, 7.9.2, examples 1 to 3 (from memory): u = 0.00035 with two digits: 0.5e-5; u = 0.0004 with one:
        // 0.5e-4; u = 2 with one: 0.5.
        assert_close!(tolerance(0.000_35, 2), 0.5e-5, relative = 1e-12);
        assert_close!(tolerance(0.000_4, 1), 0.5e-4, relative = 1e-12);
        assert_close!(tolerance(2.0, 1), 0.5, relative = 1e-12);
    }

    #[test]
    fn a_batch_stands_by_itself() {
        // By hand: batches of means 2, 6 and 4 and u = 1 each: the mean over them has s = 2/√3, 2s = 2.3 > 0.5; of means 2,
        // 2 and 2 it has none.
        for (middles, settled) in [([2.0, 6.0, 4.0], false), ([2.0; 3], true)] {
            let mut column = Column::default();
            for middle in middles {
                column.values.extend([middle - 1.0, middle, middle + 1.0]);
                column.close_batch();
            }
            for (batch, middle) in column.batches.iter().zip(middles) {
                assert_close!(batch.mean, middle, relative = 1e-14);
                assert_close!(batch.standard, 1.0, relative = 1e-14);
            }
            assert_eq!(column.settled(1), settled);
        }
    }

    #[test]
    fn interval_and_median_of_counted_draws() {
        // JCGM 101:2008, 7.7.2: of 100 values q = 95, r = 3 (2.5 rounded up): the 3rd and the 98th.
        let mut values: Vec<f64> = (1..=100).map(|i| f64::from(i * 37 % 101)).collect();
        let of_hundred = spread(&mut values).unwrap();
        assert_close!(of_hundred.low, 3.0, absolute = 0.0);
        assert_close!(of_hundred.high, 98.0, absolute = 0.0);
        assert_close!(of_hundred.median, 50.5, absolute = 0.0);
        assert_close!(of_hundred.mean, 50.5, relative = 1e-14);
        // 1..=n: n(n + 1)/12.
        assert_close!(of_hundred.standard, (100.0f64 * 101.0 / 12.0).sqrt(), relative = 1e-14);
        assert_close!(spread(&mut [3.0, 1.0, 2.0]).unwrap().median, 2.0, absolute = 0.0);
        assert_eq!(spread(&mut [3.0]), None);
    }
}
