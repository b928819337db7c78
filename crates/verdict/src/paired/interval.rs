//! A figure with two ends that need not lie alike.

/// A figure with its 95 % interval, which need not be symmetric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The figure.
    pub value: f64,
    /// Lower end; minus infinity when nothing bounds it.
    pub low: f64,
    /// Upper end; infinity when nothing bounds it.
    pub high: f64,
}

impl Interval {
    /// The same interval through a rising function.
    pub fn through(self, f: impl Fn(f64) -> f64) -> Self {
        Self { value: f(self.value), low: f(self.low), high: f(self.high) }
    }

    /// Whether the interval holds a value.
    pub fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }
}
