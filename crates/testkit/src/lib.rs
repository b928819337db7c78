//! The one way to compare figures in tests, and to tell their short form from their long one.
//!
//! A hand-written comparison is easily one-sided (a large negative error passes) or silent about NaN; every
//! test in the workspace goes through [`assert_close!`] instead.

/// Whether the long form of the tests was asked for: `CLOSEWORK_LONG=1`, as `./test --long` sets it.
pub fn long() -> bool {
    std::env::var("CLOSEWORK_LONG").is_ok_and(|value| value == "1")
}

/// How many seeds, cases or draws: so many in the short form of the tests, so many in the long one.
pub fn short_or_long<T>(short: T, long: T) -> T {
    if self::long() { long } else { short }
}

/// How far two figures may lie apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tolerance {
    /// At most this much, in the figures' own unit.
    Absolute(f64),
    /// At most this share of the expected figure's magnitude.
    Relative(f64),
}

impl Tolerance {
    /// The largest difference that this tolerance forgives around `expected`.
    pub fn allowed(self, expected: f64) -> f64 {
        match self {
            Self::Absolute(limit) => limit,
            Self::Relative(share) => share * expected.abs(),
        }
    }
}

/// `Ok` when `actual` lies within `tolerance` of `expected`; otherwise a sentence with both and the difference.
///
/// NaN is never close to anything; equal infinities are close.
pub fn close(actual: f64, expected: f64, tolerance: Tolerance) -> Result<(), String> {
    let difference = (actual - expected).abs();
    if actual == expected || difference <= tolerance.allowed(expected) {
        return Ok(());
    }
    Err(format!(
        "expected {expected}, got {actual}: apart by {difference:e}, {tolerance:?} allows {:e}",
        tolerance.allowed(expected)
    ))
}

/// Asserts that two figures agree.
///
/// `assert_close!(actual, expected, absolute = 0.01)` or `assert_close!(actual, expected, relative = 1e-12)`,
/// each with an optional message and arguments as in `assert!`.
#[macro_export]
macro_rules! assert_close {
    ($actual:expr, $expected:expr, absolute = $limit:expr $(, $($message:tt)+)?) => {
        $crate::assert_close!(@ $actual, $expected, $crate::Tolerance::Absolute($limit) $(, $($message)+)?)
    };
    ($actual:expr, $expected:expr, relative = $share:expr $(, $($message:tt)+)?) => {
        $crate::assert_close!(@ $actual, $expected, $crate::Tolerance::Relative($share) $(, $($message)+)?)
    };
    (@ $actual:expr, $expected:expr, $tolerance:expr) => {
        if let Err(why) = $crate::close($actual, $expected, $tolerance) {
            panic!("{}: {why}", stringify!($actual));
        }
    };
    (@ $actual:expr, $expected:expr, $tolerance:expr, $($message:tt)+) => {
        if let Err(why) = $crate::close($actual, $expected, $tolerance) {
            panic!("{}: {} ({why})", format!($($message)+), stringify!($actual));
        }
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_sides_count() {
        assert!(close(1.0, 1.1, Tolerance::Absolute(0.05)).is_err());
        assert!(close(1.1, 1.0, Tolerance::Absolute(0.05)).is_err());
        assert!(close(1.01, 1.0, Tolerance::Absolute(0.05)).is_ok());
        assert!(close(-101.0, -100.0, Tolerance::Relative(0.02)).is_ok());
    }

    #[test]
    fn nan_is_never_close() {
        assert!(close(f64::NAN, 1.0, Tolerance::Absolute(f64::INFINITY)).is_err());
        assert!(close(1.0, f64::NAN, Tolerance::Absolute(1.0)).is_err());
    }
}
