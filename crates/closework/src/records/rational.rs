//! Numbers as EXIF writes them: a numerator over a denominator, both of 32 bits.

use std::fmt;

/// A numerator over a denominator above 0, as in "1/125".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rational {
    /// Above the line.
    pub numerator: u32,
    /// Below it.
    pub denominator: u32,
}

impl fmt::Display for Rational {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.numerator, self.denominator)
    }
}

impl Rational {
    /// A figure as its own decimals say it: 5.6 is 56/10, 85 is 85/1. `None` below 0, for what is no number, and where the
    /// decimals do not go into 32 bits.
    pub fn of_decimals(figure: f64) -> Option<Self> {
        if !(figure >= 0.0 && figure.is_finite()) {
            return None;
        }
        // The shortest decimals that read back as this very number.
        let text = figure.to_string();
        let (whole, decimals) = text.split_once('.').unwrap_or((&text, ""));
        let numerator = format!("{whole}{decimals}").parse().ok()?;
        let denominator = 10u32.checked_pow(u32::try_from(decimals.len()).ok()?)?;
        Some(Self { numerator, denominator })
    }

    /// A time as it is engraved: 0.008 is 1/125, 0.5 is 1/2, 2 is 2/1. Other times as their decimals say, and where those
    /// have no end (2/3) as the fraction with the smallest denominator that is the very same number. Where there is none, the
    /// nearest fraction.
    pub fn of_time(seconds: f64) -> Option<Self> {
        if !(seconds > 0.0 && seconds.is_finite()) {
            return None;
        }
        let parts = (1.0 / seconds).round();
        if (1.0..=f64::from(u32::MAX)).contains(&parts) && 1.0 / parts == seconds {
            return Some(Self { numerator: 1, denominator: parts as u32 });
        }
        Self::of_decimals(seconds).or_else(|| Self::nearest(seconds))
    }

    /// A figure to so many decimals: 0.35212345 to 6 is 352123/1000000.
    pub fn rounded(figure: f64, decimals: u32) -> Option<Self> {
        let denominator = 10u32.checked_pow(decimals)?;
        let numerator = (figure * f64::from(denominator)).round();
        (0.0..=f64::from(u32::MAX)).contains(&numerator).then_some(Self { numerator: numerator as u32, denominator })
    }

    /// The first convergent of the continued fraction that is the number itself; else the last that fits into 32 bits.
    fn nearest(figure: f64) -> Option<Self> {
        let (mut before, mut now) = ((0u64, 1u64), (1u64, 0u64));
        let mut rest = figure;
        let mut best = None;
        for _ in 0..40 {
            let whole = rest.floor();
            if whole > f64::from(u32::MAX) {
                break;
            }
            let next = |a: u64, b: u64| (whole as u64).checked_mul(b)?.checked_add(a);
            let (Some(numerator), Some(denominator)) = (next(before.0, now.0), next(before.1, now.1)) else { break };
            let (Ok(n), Ok(d)) = (u32::try_from(numerator), u32::try_from(denominator)) else { break };
            (before, now) = (now, (numerator, denominator));
            best = Some(Self { numerator: n, denominator: d });
            if f64::from(n) / f64::from(d) == figure || rest == whole {
                break;
            }
            rest = 1.0 / (rest - whole);
        }
        best.filter(|found| found.numerator > 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(found: Option<Rational>) -> String {
        found.map_or("none".into(), |found| found.to_string())
    }

    #[test]
    fn figures_stay_what_they_are() {
        // Closed forms: each fraction is the number by definition.
        for (figure, shown) in
            [(5.6, "56/10"), (8.0, "8/1"), (85.0, "85/1"), (2.8, "28/10"), (0.95, "95/100"), (0.0, "0/1")]
        {
            assert_eq!(text(Rational::of_decimals(figure)), shown, "{figure}");
        }
        for wrong in [-1.0, f64::NAN, f64::INFINITY, 1.0 / 3.0, 1e10] {
            assert_eq!(Rational::of_decimals(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn times_stay_as_engraved() {
        let times = [
            (1.0 / 125.0, "1/125"),
            (0.5, "1/2"),
            (1.0, "1/1"),
            (2.0, "2/1"),
            (1.0 / 3.0, "1/3"),
            (1.0 / 60.0, "1/60"),
            (1.0 / 8000.0, "1/8000"),
            (0.7, "7/10"),
            (2.5, "25/10"),
            (2.0 / 3.0, "2/3"),
            (125.0, "125/1"),
            // As a kit file writes 1/15 and 1/30: its own digits, not quite the fraction; the nearest of 32 bits.
            (0.0666666666666667, "1/15"),
        ];
        for (seconds, shown) in times {
            assert_eq!(text(Rational::of_time(seconds)), shown, "{seconds}");
        }
        for wrong in [0.0, -0.5, f64::NAN, f64::INFINITY, 1e300, 1e-300] {
            assert_eq!(Rational::of_time(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn every_engraved_fraction_survives() {
        for parts in 1..=10_000u32 {
            let found = Rational::of_time(1.0 / f64::from(parts));
            assert_eq!(found, Some(Rational { numerator: 1, denominator: parts }));
        }
    }

    proptest::proptest! {
        #[test]
        fn what_can_be_a_fraction_is_that_number(numerator in 1u32..100_000, denominator in 1u32..1_000) {
            let figure = f64::from(numerator) / f64::from(denominator);
            let found = Rational::of_time(figure).unwrap();
            assert_eq!(f64::from(found.numerator) / f64::from(found.denominator), figure);
        }
    }

    #[test]
    fn distances_are_rounded() {
        assert_eq!(text(Rational::rounded(0.352_123_456, 6)), "352123/1000000");
        assert_eq!(text(Rational::rounded(-1.0, 6)), "none");
        assert_eq!(text(Rational::rounded(1e6, 6)), "none");
    }
}
