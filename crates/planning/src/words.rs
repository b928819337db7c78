//! Figures as a photographer writes them.

/// Figures of ordinary size as they are, others by powers of ten.
pub(crate) fn plain(found: f64) -> String {
    if found == 0.0 || !found.is_finite() || (1e-6..1e9).contains(&found.abs()) {
        found.to_string()
    } else {
        format!("{found:e}")
    }
}

/// At most so many significant digits, and no zeros at the end.
fn rounded(figure: f64, digits: i32) -> String {
    if figure == 0.0 || !figure.is_finite() {
        return figure.to_string();
    }
    let decimals = (digits - 1 - figure.abs().log10().floor() as i32).max(0) as usize;
    let text = format!("{figure:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// Three significant digits: no figure of a plan is surer.
pub(crate) fn figure(figure: f64) -> String {
    rounded(figure, 3)
}

/// Two figures that are compared: as many digits as it takes to see the difference.
pub(crate) fn pair(p: f64, q: f64) -> [String; 2] {
    let both = |digits| [rounded(p, digits), rounded(q, digits)];
    (3..9).map(both).find(|[p, q]| p != q).unwrap_or_else(|| both(9))
}

/// A share in whole percent.
pub(crate) fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_that_matter() {
        assert_eq!([figure(21.5806), figure(0.04096), figure(100.0), figure(1234.5)], ["21.6", "0.041", "100", "1234"]);
        assert_eq!(pair(2.0004, 2.0), ["2.0004", "2"]);
        assert_eq!(plain(1e300), "1e300");
    }
}
