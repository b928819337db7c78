//! Whether first order is good enough, figure by figure, and simulation where it is not.

use crate::monte_carlo::{Chance, draw};
use crate::uncertainty::each_slope;
use crate::{COVERAGE_95, Drawn, Dual, Estimate, Input, RandomInput, Simulation};

/// First order holds while curvature moves neither end of the 95 % interval, and changes its half-width, by more than this
/// share of the half-width, both together. JCGM 101:2008, clause 8, asks for agreement within half a unit of the last
/// significant digit of the uncertainty, which lies between 1/20 and 1/2 of it for one digit.
pub const LINEAR_SHARE: f64 = 0.1;

/// Directions in which all inputs move at once, to find what only two inputs together do.
const DIRECTIONS: usize = 8;

/// Differences of results below this, absolute and as a share of the result, are rounding: in the units of this crate it
/// is less than an atom.
const ROUNDING: f64 = 1e-12;

/// z² of [`COVERAGE_95`]: a second-order part at the end of the interval is so many times that at one standard uncertainty.
const Z2: f64 = COVERAGE_95 * COVERAGE_95;

/// A figure, and whether the law of propagation may be trusted with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Checked {
    /// The figure at the inputs' own values; `None` where it is missing there. Its half-width is that of first order where
    /// that holds, otherwise half the length of the simulated 95 % interval.
    pub estimate: Option<Estimate>,
    /// What curvature does to the 95 % interval, as a share of first order's half-width; infinite when that is nothing, or
    /// when the figure is missing for some of the inputs tried.
    pub curvature: f64,
    /// The simulation; `None` where first order holds, or where none was asked for.
    pub drawn: Option<Drawn>,
}

impl Checked {
    /// Whether the half-width is first order's.
    pub fn first_order_holds(&self) -> bool {
        self.curvature <= LINEAR_SHARE
    }

    /// The 95 % interval: around the value where first order holds, otherwise as it was drawn. `None` without a figure.
    pub fn interval(&self) -> Option<(f64, f64)> {
        if let Some(drawn) = self.drawn {
            return drawn.spread.map(|spread| (spread.low, spread.high));
        }
        self.estimate.map(|Estimate { value, plus_minus }| (value - plus_minus, value + plus_minus))
    }

    /// How far the middle of the interval lies from the value, as a share of the half-width; positive when the figure is
    /// likelier to be larger than smaller. Beyond ±1 the interval does not hold the value.
    pub fn skew(&self) -> f64 {
        match (self.interval(), self.estimate) {
            (Some((low, high)), Some(estimate)) if high > low && self.drawn.is_some() => {
                (low + high - 2.0 * estimate.value) / (high - low)
            }
            _ => 0.0,
        }
    }

    /// Whether "value ± half-width" hides where the interval lies: say both ends then.
    pub fn is_skewed(&self) -> bool {
        self.skew().abs() > LINEAR_SHARE
    }

    /// Share of draws in which the figure was missing, 0 to 1; 0 where nothing was drawn.
    pub fn missing_share(&self) -> f64 {
        self.drawn.map_or(0.0, |drawn| drawn.missing_share())
    }
}

/// As [`crate::propagate`], with a test of every figure's linearity, and [`crate::monte_carlo`] for those that fail it, where a
/// simulation is given. Without one the half-widths are those of first order throughout, and [`Checked::first_order_holds`] says
/// which of them are only an indication: quick enough for a page that follows the hand.
///
/// `slopes` and `plain` are the same computation, with derivatives and without. Beyond the passes of first order it takes
/// two plain ones for every uncertain input, sixteen more, and two for every figure about which they leave a doubt; the simulation only where a figure
/// fails.
///
/// Each input is moved to both ends of its interval. With E the even part of what a figure then does (half the sum of
/// its two changes), e = E/1.96² is its second-order part at one standard uncertainty. All inputs together are moved
/// along the figure's own gradient to the ends of its interval, where e′ is found likewise, and by one standard
/// uncertainty up or down by turns of chance, where what the e do not explain has the standard deviation M. Then the ends
/// of a quadratic form of normal inputs move by Σe + (1.96² − 1)·e′ (Cornish and Fisher 1937, to the third moment), and
/// its variance grows by 2Σe² + M²; chords in place of tangents show what third powers do to the width.
///
/// A result that is missing at some of these points, or points that are refused, fail the test: simulation then tells how
/// often. Only a refusal at the inputs' own values is an error.
pub fn propagate_checked<'s, R: AsRef<[Option<Dual>]>, S: AsRef<[Option<f64>]>, E>(
    inputs: &[Input],
    simulation: impl Into<Option<&'s Simulation>>,
    slopes: impl FnMut(&[Dual]) -> Result<R, E>,
    mut plain: impl FnMut(&[f64]) -> Result<S, E>,
) -> Result<Vec<Checked>, E> {
    let mut steps = Vec::new();
    let middle = each_slope(inputs, slopes, |half_width, row| {
        steps.extend(row.iter().map(|result| result.map_or(0.0, |dual| dual.slope * half_width)));
    })?;
    let middle = middle.as_ref();
    let mut bends: Vec<Bend> = middle.iter().map(|result| Bend::of(result.map(|dual| dual.value))).collect();
    let mut probe = Probe { inputs, numbers: inputs.iter().map(|input| input.value).collect(), plain: &mut plain };
    probe.singly(&steps, &mut bends);
    probe.together(&mut bends);
    probe.along_gradients(&steps, &mut bends);

    let curvatures: Vec<f64> = bends.iter().map(Bend::curvature).collect();
    let failed: Vec<bool> = curvatures.iter().map(|curvature| *curvature > LINEAR_SHARE).collect();
    let drawn = if let Some(simulation) = simulation.into().filter(|_| failed.contains(&true)) {
        let random: Vec<RandomInput> = inputs.iter().copied().map(RandomInput::from).collect();
        draw(&random, simulation, &failed, plain)
    } else {
        vec![None; bends.len()]
    };
    let checked = |((bend, curvature), drawn): ((&Bend, f64), Option<Drawn>)| {
        let half_width = match drawn.and_then(|drawn| drawn.spread) {
            Some(spread) => (spread.high - spread.low) / 2.0,
            None => bend.first_order(),
        };
        let estimate = bend.middle.map(|value| Estimate { value, plus_minus: half_width });
        Checked { estimate, curvature, drawn }
    };
    Ok(bends.iter().zip(curvatures).zip(drawn).map(checked).collect())
}

/// The plain computation, tried around the inputs' values.
struct Probe<'a, F> {
    inputs: &'a [Input],
    numbers: Vec<f64>,
    plain: &'a mut F,
}

fn uncertain(inputs: &[Input]) -> impl Iterator<Item = (usize, &Input)> {
    inputs.iter().enumerate().filter(|(_, input)| input.plus_minus > 0.0)
}

impl<S: AsRef<[Option<f64>]>, E, F: FnMut(&[f64]) -> Result<S, E>> Probe<'_, F> {
    /// Every uncertain input alone at both ends of its interval; `steps` are first order's, a row for each of them.
    fn singly(&mut self, steps: &[f64], bends: &mut [Bend]) {
        for ((index, input), steps) in uncertain(self.inputs).zip(steps.chunks(bends.len().max(1))) {
            let mut at_end = |value: f64| {
                self.numbers[index] = value;
                (self.plain)(&self.numbers).ok()
            };
            let (above, below) = (at_end(input.value + input.plus_minus), at_end(input.value - input.plus_minus));
            self.numbers[index] = input.value;
            for ((figure, bend), step) in bends.iter_mut().enumerate().zip(steps) {
                bend.single(*step, at(&above, figure), at(&below, figure));
            }
        }
    }

    /// The results with every uncertain input moved by a share of its half-width: the n-th of them by `share(n, index)`.
    fn moved(&mut self, share: impl Fn(usize, usize) -> f64) -> Option<S> {
        for (n, (index, input)) in uncertain(self.inputs).enumerate() {
            self.numbers[index] = input.value + share(n, index) * input.plus_minus;
        }
        (self.plain)(&self.numbers).ok()
    }

    /// All uncertain inputs moved by one standard uncertainty, up or down by turns of chance that are always the same.
    fn together(&mut self, bends: &mut [Bend]) {
        let mut chance = Chance::new(0);
        for _ in 0..DIRECTIONS {
            let signs = chance.bits();
            let turn = |index: usize| if signs.rotate_right(index as u32) & 1 == 0 { 1.0 } else { -1.0 };
            let there = self.moved(|_, index| turn(index) / COVERAGE_95);
            let back = self.moved(|_, index| -turn(index) / COVERAGE_95);
            for (figure, bend) in bends.iter_mut().enumerate() {
                bend.together(at(&there, figure), at(&back, figure));
            }
        }
    }

    /// All uncertain inputs moved along a figure's own gradient, where it is in doubt.
    fn along_gradients(&mut self, steps: &[f64], bends: &mut [Bend]) {
        let figures = bends.len();
        for (figure, bend) in bends.iter_mut().enumerate().filter(|(_, bend)| bend.in_doubt()) {
            let share = |n: usize| steps[n * figures + figure] / bend.first_order();
            let above = at(&self.moved(|n, _| share(n)), figure);
            let below = at(&self.moved(|n, _| -share(n)), figure);
            bend.along(above, below);
        }
    }
}

/// A result where it is there and a number.
fn at<S: AsRef<[Option<f64>]>>(row: &Option<S>, figure: usize) -> Option<f64> {
    let result = *row.as_ref()?.as_ref().get(figure)?;
    result.filter(|value| value.is_finite())
}

/// How one figure bends.
#[derive(Debug, Clone, Copy)]
struct Bend {
    middle: Option<f64>,
    /// Sum of squares of first order's half-widths.
    steps: f64,
    /// The same by the chords from end to end.
    chords: f64,
    /// Sum of the second-order parts at one standard uncertainty, Σe.
    bias: f64,
    /// Σe².
    squares: f64,
    /// e′ as far as it follows from single inputs, Σs²e, with s as half-widths.
    weighted: f64,
    /// e′ itself, the second-order part along the gradient at one standard uncertainty, where it was tried.
    slanted: Option<f64>,
    /// Half the chord along the gradient less first order's half-width.
    stretched: f64,
    /// M².
    mixed: f64,
    /// There for some of the inputs, missing for others.
    gap: bool,
}

impl Bend {
    fn of(middle: Option<f64>) -> Self {
        let gap = middle.is_some_and(|value| !value.is_finite());
        Self {
            middle,
            steps: 0.0,
            chords: 0.0,
            bias: 0.0,
            squares: 0.0,
            weighted: 0.0,
            slanted: None,
            stretched: 0.0,
            mixed: 0.0,
            gap,
        }
    }

    /// Half the difference and half the sum of two results on either side, the latter less the middle one.
    fn odd_and_even(&mut self, above: Option<f64>, below: Option<f64>) -> Option<(f64, f64)> {
        match (self.middle, above, below) {
            (Some(middle), Some(above), Some(below)) => {
                Some(((above - below) / 2.0, ((above - middle) + (below - middle)) / 2.0))
            }
            (None, None, None) => None,
            _ => {
                self.gap = true;
                None
            }
        }
    }

    /// One input moved to either end; `step` is what first order makes of it.
    fn single(&mut self, step: f64, above: Option<f64>, below: Option<f64>) {
        self.steps += step * step;
        if let Some((odd, even)) = self.odd_and_even(above, below) {
            let second = even / Z2;
            self.chords += odd * odd;
            self.bias += second;
            self.squares += second * second;
            self.weighted += step * step * second;
        }
    }

    /// All inputs moved by one standard uncertainty.
    fn together(&mut self, there: Option<f64>, back: Option<f64>) {
        if let Some((_, even)) = self.odd_and_even(there, back) {
            self.mixed += (even - self.bias).powi(2) / DIRECTIONS as f64;
        }
    }

    /// All inputs moved along the gradient to the ends of first order's interval.
    fn along(&mut self, above: Option<f64>, below: Option<f64>) {
        if let Some((odd, even)) = self.odd_and_even(above, below) {
            self.slanted = Some(even / Z2);
            self.stretched = odd - self.first_order();
        }
    }

    fn first_order(&self) -> f64 {
        self.steps.sqrt()
    }

    /// Whether the gradient must be tried: what is known without it neither fails the test nor passes by far. M, found by
    /// chance, may be too small; e′ is at most M/√2 from what single inputs give (Cauchy and Schwarz).
    fn in_doubt(&self) -> bool {
        let unknown = 3.0 * (self.mixed / 2.0).sqrt();
        let most = self.share((Z2 - 1.0) * unknown);
        self.steps > 0.0 && self.curvature() <= LINEAR_SHARE && most > LINEAR_SHARE / 4.0
    }

    /// See [`Checked::curvature`].
    fn curvature(&self) -> f64 {
        self.share(0.0)
    }

    /// The same with something added to the shift.
    fn share(&self, extra: f64) -> f64 {
        if self.gap {
            return f64::INFINITY;
        }
        let Some(middle) = self.middle else { return 0.0 };
        let half_width = self.first_order();
        let from_singles = if self.steps > 0.0 { self.weighted / self.steps } else { 0.0 };
        let shift = self.bias + (Z2 - 1.0) * self.slanted.unwrap_or(from_singles);
        let wider = (self.chords + Z2 * (2.0 * self.squares + self.mixed)).sqrt() - half_width;
        let change = shift.abs() + extra + wider.abs().max(self.stretched.abs());
        if change <= ROUNDING * (1.0 + middle.abs()) {
            return 0.0;
        }
        // Not a number counts as bent.
        let share = change / half_width;
        if share.is_nan() { f64::INFINITY } else { share }
    }
}
