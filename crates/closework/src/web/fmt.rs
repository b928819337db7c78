//! Numbers as a person reads them. Machine output carries them unrounded; rounding is for pages.

use super::manners::Units;

/// Millimetres in an inch, exactly (international yard and pound agreement, 1959).
pub const MM_PER_INCH: f64 = 25.4;

/// Significant digits of a figure whose uncertainty is not known.
const PLAIN_DIGITS: i32 = 4;

/// A no-break space, between a number and its unit.
const NBSP: &str = "\u{a0}";

/// `0.374 ± 0.012`: the uncertainty to two significant digits and the value to the same place (JCGM 100:2008,
/// 7.2.6). Without an uncertainty, or with 0, the value alone to four digits.
pub fn measured(value: f64, plus_minus: Option<f64>) -> String {
    // Below a billionth an uncertainty is the arithmetic's own rounding and says nothing.
    let floor = 1e-9 * value.abs().max(1e-3);
    match plus_minus.filter(|u| *u > floor && u.is_finite()) {
        Some(u) if value.is_finite() => {
            let place = last_place(u);
            format!("{} ± {}", rounded(value, place), rounded(u, place))
        }
        _ => figure(value, PLAIN_DIGITS),
    }
}

/// [`measured`], for what cannot be less than nothing: where the interval reaches below 0, its upper end says all that is known.
pub fn likely(value: f64, plus_minus: f64, unit: &str) -> String {
    let shown = if value >= 0.0 && plus_minus >= value && plus_minus.is_finite() && value + plus_minus > 0.0 {
        format!("up to {}", figure(value + plus_minus, 2))
    } else {
        measured(value, Some(plus_minus))
    };
    if unit.is_empty() { shown } else { format!("{shown}{NBSP}{unit}") }
}

/// [`measured`] with its unit.
pub fn measured_with(value: f64, plus_minus: Option<f64>, unit: &str) -> String {
    let figure = measured(value, plus_minus);
    if unit.is_empty() { figure } else { format!("{figure}{NBSP}{unit}") }
}

/// The decimal place of the second significant digit: 0.0123 gives 3, 678 gives -1. Rounding up to a new digit
/// (0.0996 to 0.10) moves the place along.
fn last_place(uncertainty: f64) -> i32 {
    let place = 1 - uncertainty.log10().floor() as i32;
    let scaled = uncertainty * 10f64.powi(place);
    if scaled.round() >= 100.0 { place - 1 } else { place }
}

/// A number to a decimal place; places below 0 round to tens, hundreds and so on.
fn rounded(value: f64, place: i32) -> String {
    let text = if place >= 0 {
        format!("{value:.0$}", place.min(12) as usize)
    } else {
        let step = 10f64.powi(-place);
        format!("{:.0}", (value / step).round() * step)
    };
    tidy_minus(text)
}

fn tidy_minus(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// A number to so many significant digits, in plain notation; `∞` and `not known` for what is not a number.
pub fn figure(value: f64, digits: i32) -> String {
    if value.is_nan() {
        return "not known".into();
    }
    if value.is_infinite() {
        return if value > 0.0 { "∞".into() } else { "−∞".into() };
    }
    // Smaller than what the last place written could show: the rounding of arithmetic, not a figure.
    if value.abs() < 5e-13 {
        return "0".into();
    }
    let place = digits - 1 - value.abs().log10().floor() as i32;
    let carried = rounded_up_a_digit(value.abs(), place, digits);
    rounded(value, if carried { place - 1 } else { place })
}

fn rounded_up_a_digit(value: f64, place: i32, digits: i32) -> bool {
    (value * 10f64.powi(place)).round() >= 10f64.powi(digits)
}

/// With its sign, so many decimals: a true minus, as everywhere on the pages.
pub fn signed(value: f64, decimals: usize) -> String {
    format!("{value:+.decimals$}").replace('-', "−")
}

/// A magnification as a reproduction ratio: `1:2.7`, `1:1`, `2.5:1`; at infinity (0) `1:∞`.
pub fn ratio(magnification: f64) -> String {
    let m = magnification.abs();
    if m == 0.0 {
        return "1:∞".into();
    }
    if m < 1.0 { format!("1:{}", ratio_term(1.0 / m)) } else { format!("{}:1", ratio_term(m)) }
}

fn ratio_term(term: f64) -> String {
    let text = figure(term, if term >= 9.95 { 3 } else { 2 });
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

/// A shutter time as it is engraved or set: `1/60 s`, `0.7 s`, `2.5 s`, `2 min 5 s`.
pub fn shutter(seconds: f64) -> String {
    if !seconds.is_finite() || seconds <= 0.0 {
        return "not known".into();
    }
    if seconds >= 59.5 {
        return minutes(seconds);
    }
    let parts = (1.0 / seconds).round();
    // One in so many: where that is within 2 % of the time, and for all times short enough to have no other name.
    let close = (1.0 / parts / seconds - 1.0).abs() < 0.02;
    if parts >= 2.0 && (close || parts >= 10.0) {
        let parts = if parts >= 1000.0 { figure(parts, 2) } else { format!("{parts:.0}") };
        return format!("1/{parts}{NBSP}s");
    }
    let text = figure(seconds, 2);
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text}{NBSP}s")
}

fn minutes(seconds: f64) -> String {
    let whole = seconds.round();
    let (min, sec) = ((whole / 60.0).floor(), whole % 60.0);
    if sec == 0.0 { format!("{min}{NBSP}min") } else { format!("{min}{NBSP}min {sec}{NBSP}s") }
}

/// A length in the person's unit, with its uncertainty where it has one.
pub fn length(mm: f64, plus_minus_mm: Option<f64>, units: Units) -> String {
    match units {
        Units::Millimetres => measured_with(mm, plus_minus_mm, "mm"),
        Units::Inches => measured_with(mm / MM_PER_INCH, plus_minus_mm.map(|u| u / MM_PER_INCH), "in"),
    }
}

/// A length that a person stated, without figures that nobody stated: `40 mm`.
pub fn stated_length(mm: f64, units: Units) -> String {
    let (value, unit) = match units {
        Units::Millimetres => (mm, "mm"),
        Units::Inches => (mm / MM_PER_INCH, "in"),
    };
    let rounded = figure(value, if units == Units::Inches { 3 } else { 4 });
    let plain = if rounded.contains('.') { rounded.trim_end_matches('0').trim_end_matches('.') } else { &rounded };
    format!("{plain}{NBSP}{unit}")
}

/// A computed length without its uncertainty, to three digits: `108 mm`, `3.61 mm`.
pub fn figure_length(mm: f64, units: Units) -> String {
    match units {
        Units::Millimetres => format!("{}{NBSP}mm", figure(mm, 3)),
        Units::Inches => format!("{}{NBSP}in", figure(mm / MM_PER_INCH, 3)),
    }
}

/// Where a lens is set, from its word: "travel=5.3" as "travel 5.3 mm".
pub fn focus(word: &str) -> String {
    match word.split_once('=') {
        Some((what, mm)) => format!("{what} {mm}{NBSP}mm"),
        None => word.to_owned(),
    }
}

/// A share as a percentage: `3.1 %`, `under 0.1 %`.
pub fn percent(share: f64) -> String {
    let hundredths = share * 100.0;
    if share > 0.0 && hundredths < 0.1 {
        format!("under 0.1{NBSP}%")
    } else {
        format!("{}{NBSP}%", figure(hundredths, 2))
    }
}

/// A number of things: `1 pick`, `3 picks`.
pub fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

/// A size of file: `465 MB`.
pub fn bytes(count: u64) -> String {
    let count = count as f64;
    let (size, unit) =
        [(1e9, "GB"), (1e6, "MB"), (1e3, "kB")].into_iter().find(|(s, _)| count >= *s).unwrap_or((1.0, "bytes"));
    format!("{}{NBSP}{unit}", figure(count / size, 3))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(text: String) -> String {
        text.replace('\u{a0}', " ")
    }

    #[test]
    fn what_cannot_be_less_than_nothing_has_an_upper_end_alone() {
        assert_eq!(plain(likely(5.0, 19.0, "lp/mm")), "up to 24 lp/mm");
        assert_eq!(likely(12.3, 6.8, ""), "12.3 ± 6.8");
        assert_eq!(likely(0.0, 0.0, ""), "0");
    }

    #[test]
    fn value_and_uncertainty_end_at_the_same_place() {
        // JCGM 100:2008, 7.2.2 and 7.2.6: 100.02147 g with 0.35 mg; 10.05762 ohm with 27 milliohm gives 10.058.
        assert_eq!(measured(100.021_47, Some(0.000_35)), "100.02147 ± 0.00035");
        assert_eq!(measured(10.057_62, Some(0.027)), "10.058 ± 0.027");
        assert_eq!(measured(0.374_2, Some(0.012_3)), "0.374 ± 0.012");
        assert_eq!(measured(12_345.0, Some(678.0)), "12350 ± 680");
        assert_eq!(measured(1.0, Some(0.0996)), "1.00 ± 0.10");
        assert_eq!(measured(-0.004, Some(0.1)), "0.00 ± 0.10");
        assert_eq!(measured(-3.2, Some(0.1)), "−3.20 ± 0.10");
        assert_eq!(measured(0.5, None), "0.5000");
        assert_eq!(measured(f64::NAN, Some(0.1)), "not known");
    }

    #[test]
    fn figures_that_round_up_do_not_gain_a_digit() {
        assert_eq!(figure(9.996, 3), "10.0");
        assert_eq!(figure(0.000_123_45, 3), "0.000123");
        assert_eq!(figure(123_456.0, 2), "120000");
        // What is left of 1 - 1 in the machine's arithmetic.
        assert_eq!(figure(3.2e-16, 4), "0");
        assert_eq!(measured_with(1.0, Some(0.4), ""), "1.00 ± 0.40");
    }

    #[test]
    fn ratios() {
        assert_eq!(ratio(0.374), "1:2.7");
        assert_eq!(ratio(1.0), "1:1");
        assert_eq!(ratio(2.5), "2.5:1");
        assert_eq!(ratio(0.1), "1:10");
        assert_eq!(ratio(0.0), "1:∞");
        assert_eq!(ratio(0.999), "1:1");
        assert_eq!(ratio(1.0 / 20.0), "1:20");
    }

    #[test]
    fn shutter_times_as_engraved() {
        let cases = [
            (1.0 / 60.0, "1/60 s"),
            (0.5, "1/2 s"),
            (0.7, "0.7 s"),
            (2.5, "2.5 s"),
            (8.0, "8 s"),
            (125.0, "2 min 5 s"),
        ];
        for (seconds, shown) in
            cases.into_iter().chain([(0.002, "1/500 s"), (0.0183, "1/55 s"), (60.0, "1 min"), (0.4, "0.4 s")])
        {
            assert_eq!(plain(shutter(seconds)), shown, "{seconds}");
        }
    }

    #[test]
    fn lengths_in_both_units() {
        assert_eq!(plain(length(25.4, Some(0.254), Units::Inches)), "1.000 ± 0.010 in");
        assert_eq!(plain(length(42.0, None, Units::Millimetres)), "42.00 mm");
    }
}
