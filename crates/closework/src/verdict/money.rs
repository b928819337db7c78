//! Prices as entered, and whether they can be summed.

use std::collections::{BTreeMap, BTreeSet};

use kit::{Part, Quantity, Value};
use verdict::decision::Sum;

use crate::documents::verdict::Money;

/// Prices of parts, by id; none where they cannot be summed.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Prices {
    /// By id.
    pub known: BTreeMap<String, f64>,
    /// Half-widths of those that were given with one, by id.
    pub doubts: BTreeMap<String, f64>,
    /// What is and is not known.
    pub money: Money,
}

impl Prices {
    /// Of these parts. A price without a currency is taken to be in that of the others.
    pub fn of<'a>(parts: impl Iterator<Item = &'a Part>) -> Self {
        let (mut known, mut missing, mut currencies) = (BTreeMap::new(), Vec::new(), BTreeSet::new());
        let mut doubts = BTreeMap::new();
        for part in parts {
            if price_doubt(part) > 0.0 {
                doubts.insert(part.id().to_owned(), price_doubt(part));
            }
            match part.number("price") {
                None => missing.push(part.id().to_owned()),
                Some(price) => {
                    known.insert(part.id().to_owned(), price);
                    currencies.extend(part.words("currency").map(str::trim).filter(|word| !word.is_empty()));
                }
            }
        }
        let mut all = currencies.into_iter().map(str::to_owned);
        match (all.next(), all.next()) {
            (Some(first), Some(second)) => {
                let mixed = [first, second].into_iter().chain(all).collect();
                Self {
                    known: BTreeMap::new(),
                    doubts: BTreeMap::new(),
                    money: Money { currency: String::new(), mixed, missing },
                }
            }
            (one, _) => {
                Self { known, doubts, money: Money { currency: one.unwrap_or_default(), mixed: Vec::new(), missing } }
            }
        }
    }
}

/// Half-width of a part's price; 0 where it is given without one.
pub fn price_doubt(part: &Part) -> f64 {
    match part.value("price") {
        Some(Value::Number(Quantity { plus_minus: Some(plus_minus), .. })) => *plus_minus,
        _ => 0.0,
    }
}

/// A sum with its currency.
pub fn sum(amount: f64, currency: &str) -> String {
    let amount = amount + 0.0;
    let cents = if (amount - amount.round()).abs() < 0.005 { 0 } else { 2 };
    let figure = format!("{amount:.cents$}").replace('-', "−");
    if currency.is_empty() { figure } else { format!("{figure}\u{a0}{currency}") }
}

/// A sum with what is unsure of it: "740 ± 36 EUR"; to the cent or whole where nothing is.
pub fn sum_of(amount: Sum, currency: &str) -> String {
    if amount.plus_minus > 0.0 {
        crate::web::fmt::measured_with(amount.value, Some(amount.plus_minus), currency)
    } else {
        sum(amount.value, currency)
    }
}

/// The same from a document, which keeps the two apart.
pub fn sum_with(value: f64, plus_minus: f64, currency: &str) -> String {
    sum_of(Sum { value, plus_minus }, currency)
}

#[cfg(test)]
mod tests {
    use super::*;
    use kit::Kit;
    use testkit::assert_close;

    fn kit(prices: &[(&str, &str)]) -> Kit {
        let part = |(at, (price, currency)): (usize, &(&str, &str))| {
            let price = if price.is_empty() { String::new() } else { format!("price = {price}\n") };
            let currency = if currency.is_empty() { String::new() } else { format!("currency = \"{currency}\"\n") };
            format!("[[tube]]\nid = \"t{at}\"\nmount = \"m\"\nlength_mm = 10\n{price}{currency}")
        };
        Kit::parse(&prices.iter().enumerate().map(part).collect::<String>()).expect("kit")
    }

    #[test]
    fn currencies_that_differ_are_not_summed() {
        let mixed = Prices::of(kit(&[("40", "EUR"), ("50", "CHF"), ("", "")]).parts().iter());
        assert!(mixed.known.is_empty());
        assert_eq!(
            (mixed.money.mixed, mixed.money.missing),
            (vec!["CHF".to_owned(), "EUR".into()], vec!["t2".to_owned()])
        );
        let one = Prices::of(kit(&[("40", "EUR"), ("50", ""), ("", "CHF")]).parts().iter());
        assert_close!(one.known.values().sum::<f64>(), 90.0, absolute = 0.0);
        assert_eq!((one.money.currency.as_str(), one.money.mixed.len()), ("EUR", 0));
        assert_eq!(Prices::of(kit(&[("40", "")]).parts().iter()).money.currency, "");
    }

    #[test]
    fn a_price_may_be_in_doubt() {
        let found = Prices::of(kit(&[("{ value = 120, plus_minus = 20 }", "EUR"), ("50", "")]).parts().iter());
        assert_close!(found.known["t0"], 120.0, absolute = 0.0);
        assert_close!(found.doubts["t0"], 20.0, absolute = 0.0);
        assert!(!found.doubts.contains_key("t1"));
    }

    #[test]
    fn sums_have_cents_only_where_there_are_some() {
        assert_eq!(sum(240.0, "EUR"), "240\u{a0}EUR");
        assert_eq!(sum(12.5, ""), "12.50");
        assert_eq!(sum(-0.0, ""), "0");
        assert_eq!(sum(-3.0, "CHF"), "−3\u{a0}CHF");
        // √(30² + 20²) is 36.06: two digits, and the sum to the same place.
        assert_eq!(sum_with(740.5, 36.06, "EUR"), "740 ± 36\u{a0}EUR");
        assert_eq!(sum_with(740.5, 0.0, "EUR"), "740.50\u{a0}EUR");
    }
}
