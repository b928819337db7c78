//! Results for a person: rounded, one line a figure.

use crate::web::fmt;
use optics::Estimate;

/// A column wide enough for every label.
const LABEL_WIDTH: usize = 26;

/// A report under construction.
#[derive(Default)]
pub struct Lines(String);

impl Lines {
    /// A line with a label and a text.
    pub fn add(&mut self, label: &str, text: impl std::fmt::Display) -> &mut Self {
        self.0 += &format!("{label:<LABEL_WIDTH$}  {text}\n");
        self
    }

    /// A figure with its uncertainty and unit.
    pub fn figure(&mut self, label: &str, figure: Option<Estimate>, unit: &str) -> &mut Self {
        let text = match figure {
            None => "infinite".into(),
            Some(figure) => with_unit(figure.value, figure.half_width(), unit),
        };
        self.add(label, text)
    }

    /// A sentence of its own.
    pub fn note(&mut self, sentence: impl std::fmt::Display) -> &mut Self {
        self.0 += &format!("* {sentence}\n");
        self
    }

    /// The report.
    pub fn done(&self) -> String {
        self.0.clone()
    }
}

/// "12.3 ± 0.4 mm".
pub fn with_unit(value: f64, plus_minus: Option<f64>, unit: &str) -> String {
    let text = fmt::measured(value, plus_minus);
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}
