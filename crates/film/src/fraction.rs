//! Fractions as they are printed.

/// A number of stops with the words it is printed in: "1 2/3".
#[derive(Debug, Clone, PartialEq)]
pub struct Printed {
    /// The number.
    pub value: f64,
    /// As printed.
    pub text: String,
}

impl Printed {
    /// "2/3", "1", "1 1/2" or "0.5"; `None` for anything else, for what is below 0 and for what is not finite.
    pub fn read(text: &str) -> Option<Self> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let value = match words[..] {
            [one] => part(one)?,
            [whole, fraction] if fraction.contains('/') => whole.parse::<u8>().map(f64::from).ok()? + part(fraction)?,
            _ => return None,
        };
        (value.is_finite() && value >= 0.0).then(|| Self { value, text: text.to_owned() })
    }

    /// A number that was not printed anywhere, in plain digits.
    pub fn plain(value: f64) -> Self {
        Self { value, text: value.to_string() }
    }
}

impl std::fmt::Display for Printed {
    /// "1/3 stop", "1 1/2 stops".
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.text, if self.value > 1.0 { "stops" } else { "stop" })
    }
}

fn part(text: &str) -> Option<f64> {
    match text.split_once('/') {
        None => text.parse().ok(),
        Some((above, below)) => {
            let below: f64 = below.parse().ok().filter(|below| *below > 0.0)?;
            Some(above.parse::<f64>().ok()? / below)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn fractions_as_they_stand_on_data_sheets() {
        for (text, value) in [("1/3", 1.0 / 3.0), ("1 2/3", 5.0 / 3.0), ("3", 3.0), ("0.5", 0.5)] {
            let read = Printed::read(text).unwrap();
            assert_close!(read.value, value, relative = 1e-15);
            assert_eq!(read.text, text);
            assert_eq!(read.to_string(), format!("{text} stop{}", if value > 1.0 { "s" } else { "" }));
        }
        for wrong in ["", "a third", "1/0", "-1", "1 2", "1 1 1/2", "nan", "inf", "1.5 1/2"] {
            assert_eq!(Printed::read(wrong), None, "{wrong}");
        }
    }
}
