//! Charts as SVG that a screen reader can read, a style sheet can colour and a grey printer can print.
//!
//! Every chart carries a title and a description inside the drawing, a legend with the same dash patterns, and the
//! numbers as a table behind a fold. Colours come from CSS classes `s0` to `s5`, never from the drawing itself.
//!
//! [`Chart`] draws lines, bands and markers over two axes; [`BarChart`] draws ranges as rows over one.

mod axis;
mod bars;
mod chart;
mod table;

pub use axis::Axis;
pub use bars::{BarChart, BarRow};
pub use chart::{Chart, Cross, Mark, Style};

/// A coordinate of a drawing: two decimals, no negative zero.
pub(super) fn at(coordinate: f64) -> String {
    let text = format!("{coordinate:.2}");
    if text == "-0.00" { "0.00".to_owned() } else { text }
}

/// A path through points of the drawing.
fn path(points: impl IntoIterator<Item = (f64, f64)>) -> String {
    let mut text = String::new();
    for (x, y) in points {
        text.push(if text.is_empty() { 'M' } else { 'L' });
        text.push_str(&format!("{} {}", at(x), at(y)));
    }
    text
}
