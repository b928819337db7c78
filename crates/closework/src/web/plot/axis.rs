//! Axes: from figures to places in the drawing, and the round numbers to mark on the way.

/// How an axis spaces its figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// Equal steps.
    Linear,
    /// Equal ratios; figures must be above 0.
    Log,
}

/// How a tick's figure is written.
type Label = fn(f64) -> String;

/// One axis of a chart.
#[derive(Debug, Clone)]
pub struct Axis {
    name: String,
    unit: String,
    scale: Scale,
    range: Option<(f64, f64)>,
    label: Option<Label>,
}

impl Axis {
    fn new(scale: Scale, name: &str, unit: &str) -> Self {
        Self { name: name.into(), unit: unit.into(), scale, range: None, label: None }
    }

    /// An axis of equal steps. An empty unit means a pure number.
    pub fn linear(name: &str, unit: &str) -> Self {
        Self::new(Scale::Linear, name, unit)
    }

    /// An axis of equal ratios.
    pub fn log(name: &str, unit: &str) -> Self {
        Self::new(Scale::Log, name, unit)
    }

    /// Fixes the ends; without it the data decides.
    pub fn range(mut self, low: f64, high: f64) -> Self {
        self.range = Some((low, high));
        self
    }

    /// How ticks are written: [`crate::web::fmt::ratio`] for magnifications, say.
    pub fn labels(mut self, label: Label) -> Self {
        self.label = Some(label);
        self
    }

    /// `Frequency, cycles/px`.
    pub fn title(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}, {}", self.name, self.unit) }
    }

    /// The axis laid out over data, between two places of the drawing.
    pub(super) fn lay_out(&self, data: impl Iterator<Item = f64>, start: f64, end: f64) -> Laid {
        let usable = |v: &f64| v.is_finite() && (self.scale == Scale::Linear || *v > 0.0);
        let span = data.filter(usable).fold(None, |span: Option<(f64, f64)>, v| {
            Some(span.map_or((v, v), |(low, high)| (low.min(v), high.max(v))))
        });
        let (low, high) = self.range.unwrap_or_else(|| self.rounded_out(span.unwrap_or((1.0, 10.0))));
        let ticks = match self.scale {
            Scale::Linear => linear_ticks(low, high),
            Scale::Log => log_ticks(low, high),
        };
        let ticks = ticks.into_iter().map(|t| (t, self.write(t, low, high))).collect();
        Laid { scale: self.scale, low, high, start, end, ticks }
    }

    fn rounded_out(&self, (low, high): (f64, f64)) -> (f64, f64) {
        match self.scale {
            Scale::Log if low == high => (low / 2.0, high * 2.0),
            Scale::Log => (low, high),
            Scale::Linear if low == high => (low - 1.0, high + 1.0),
            Scale::Linear => {
                let step = step(high - low);
                ((low / step).floor() * step, (high / step).ceil() * step)
            }
        }
    }

    fn write(&self, tick: f64, low: f64, high: f64) -> String {
        match (self.label, self.scale) {
            (Some(label), _) => label(tick),
            (None, Scale::Linear) => {
                let places = (-step(high - low).log10().floor()).max(0.0) as usize;
                format!("{tick:.places$}").replacen('-', "−", 1)
            }
            (None, Scale::Log) => format!("{tick}"),
        }
    }
}

/// The step of 1, 2 or 5 times a power of ten that gives four to nine ticks.
fn step(span: f64) -> f64 {
    if span <= 0.0 || !span.is_finite() {
        return 1.0;
    }
    let rough = span / 5.0;
    let ten = 10f64.powf(rough.log10().floor());
    let factor = [1.0, 2.0, 5.0, 10.0].into_iter().find(|f| f * ten >= rough * 0.999).unwrap_or(10.0);
    factor * ten
}

fn linear_ticks(low: f64, high: f64) -> Vec<f64> {
    let step = step(high - low);
    let (first, last) = ((low / step - 1e-9).ceil() as i64, (high / step + 1e-9).floor() as i64);
    (first..=last).map(|i| i as f64 * step).collect()
}

/// 1, 2, 5 of each decade; over more than four decades the decades alone.
fn log_ticks(low: f64, high: f64) -> Vec<f64> {
    let decades = high.log10().floor() as i32 - low.log10().floor() as i32;
    let steps: &[f64] = if decades > 4 { &[1.0] } else { &[1.0, 2.0, 5.0] };
    let all = (low.log10().floor() as i32..=high.log10().floor() as i32)
        .flat_map(|decade| steps.iter().map(move |s| decimal(*s, decade)));
    all.filter(|t| (low * (1.0 - 1e-9)..=high * (1.0 + 1e-9)).contains(t)).collect()
}

/// s times ten to the decade without the rounding error of a power: 0.2 rather than 0.20000000000000001.
fn decimal(s: f64, decade: i32) -> f64 {
    if decade < 0 { s / 10f64.powi(-decade) } else { s * 10f64.powi(decade) }
}

/// An axis with its ends known.
#[derive(Debug, Clone)]
pub(super) struct Laid {
    scale: Scale,
    pub(super) low: f64,
    pub(super) high: f64,
    start: f64,
    end: f64,
    pub(super) ticks: Vec<(f64, String)>,
}

impl Laid {
    /// The place of a figure in the drawing; figures that have none (0 on a logarithmic axis, infinity) give nothing.
    /// What lies far outside is brought near, so that coordinates stay small.
    pub(super) fn place(&self, figure: f64) -> Option<f64> {
        let share = match self.scale {
            Scale::Linear => (figure - self.low) / (self.high - self.low),
            Scale::Log if figure > 0.0 => (figure / self.low).ln() / (self.high / self.low).ln(),
            Scale::Log => return None,
        };
        share.is_finite().then(|| self.start + share.clamp(-4.0, 5.0) * (self.end - self.start))
    }

    /// [`Self::place`], kept between the ends.
    pub(super) fn place_within(&self, figure: f64) -> f64 {
        let bounded = if figure.is_nan() { self.low } else { figure.clamp(self.low, self.high) };
        self.place(bounded).unwrap_or(self.start)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn labels(axis: &Axis, low: f64, high: f64) -> Vec<String> {
        axis.clone().range(low, high).lay_out(std::iter::empty(), 0.0, 1.0).ticks.into_iter().map(|t| t.1).collect()
    }

    #[test]
    fn ticks_are_ones_twos_and_fives() {
        let linear = Axis::linear("Frequency", "cycles/px");
        assert_eq!(labels(&linear, 0.0, 0.5), ["0.0", "0.1", "0.2", "0.3", "0.4", "0.5"]);
        assert_eq!(labels(&linear, -1.0, 1.0), ["−1.0", "−0.5", "0.0", "0.5", "1.0"]);
        let log = Axis::log("Magnification", "");
        assert_eq!(labels(&log, 0.05, 5.0), ["0.05", "0.1", "0.2", "0.5", "1", "2", "5"]);
        assert_eq!(labels(&log, 1e-4, 1e4), ["0.0001", "0.001", "0.01", "0.1", "1", "10", "100", "1000", "10000"]);
    }

    #[test]
    fn figures_find_their_places() {
        let log = Axis::log("x", "").range(0.1, 10.0).lay_out(std::iter::empty(), 100.0, 300.0);
        assert_close!(log.place(1.0).unwrap_or(f64::NAN), 200.0, absolute = 1e-9);
        assert_eq!(log.place(0.0), None);
        assert_eq!(log.place(f64::NAN), None);
        assert_close!(log.place_within(0.0), 100.0, absolute = 1e-9);
        let one = Axis::linear("x", "").lay_out([3.0].into_iter(), 0.0, 10.0);
        assert_close!(one.place(3.0).unwrap_or(f64::NAN), 5.0, absolute = 1e-9);
    }
}
