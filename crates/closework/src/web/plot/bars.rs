//! Ranges as rows over one axis: the reach of set-ups, the range of apertures.

use maud::{Markup, html};

use super::axis::{Axis, Laid};
use super::{at, path, table};
use crate::web::fmt::figure;

const WIDTH: f64 = 560.0;
const LEFT: f64 = 12.0;
const RIGHT: f64 = WIDTH - 12.0;
/// The first row's top: the axis' figures stand above the rows, where the eye starts.
const TOP: f64 = 52.0;
/// Name above, bar below.
const ROW: f64 = 38.0;
const BAR: f64 = 12.0;

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct BarRow {
    /// Its name, written above the bar.
    pub label: String,
    /// Where a click on the row leads.
    pub href: Option<String>,
    /// The range; equal ends are drawn as a point.
    pub range: (f64, f64),
    /// The figure itself, where the range is its uncertainty.
    pub point: Option<f64>,
    /// How dark the bar is, 0 to 1: light lost, say.
    pub shade: f64,
    /// A few words at the row's right end: "2.0 stops".
    pub note: String,
}

/// Rows of ranges over one axis.
#[derive(Debug, Clone)]
pub struct BarChart {
    /// Unique on its page.
    pub id: String,
    /// Above the drawing, and for screen readers.
    pub title: String,
    /// A sentence that says what is seen.
    pub description: String,
    /// The axis.
    pub axis: Axis,
    /// Rows from top to bottom.
    pub rows: Vec<BarRow>,
    /// A wanted figure, as a line through all rows, with its name.
    pub wanted: Option<(f64, String)>,
}

impl BarChart {
    /// Drawing and table.
    pub fn show(&self) -> Markup {
        html! {
            figure.plot.bars { figcaption { (self.title) } (self.svg()) (self.table()) }
        }
    }

    fn table(&self) -> Markup {
        let cells = self
            .rows
            .iter()
            .map(|row| vec![row.label.clone(), figure(row.range.0, 3), figure(row.range.1, 3), row.note.clone()]);
        let points = self.rows.iter().map(|row| row.point.map(|point| figure(point, 3)));
        if self.rows.iter().all(|row| row.point.is_none()) {
            return table::of_rows(&["Row", "From", "To", "Remark"], cells.collect());
        }
        let with = |(mut cells, point): (Vec<String>, Option<String>)| {
            cells.insert(1, point.unwrap_or_default());
            cells
        };
        table::of_rows(&["Row", "Figure", "From", "To", "Remark"], cells.zip(points).map(with).collect())
    }

    /// The drawing alone.
    pub fn svg(&self) -> Markup {
        let data = self.rows.iter().flat_map(|r| [r.range.0, r.range.1]).chain(self.wanted.iter().map(|w| w.0));
        let axis = self.axis.lay_out(data, LEFT + 14.0, RIGHT - 14.0);
        let height = TOP + ROW * self.rows.len() as f64 + 10.0;
        let (title, desc) = (format!("{}-t", self.id), format!("{}-d", self.id));
        // Links inside need a group, not an image, or screen readers would hide them.
        let role = if self.rows.iter().any(|r| r.href.is_some()) { "group" } else { "img" };
        html! {
            svg id=(self.id) viewBox=(format!("0 0 {WIDTH} {}", at(height))) role=(role) aria-labelledby=(format!("{title} {desc}")) {
                title id=(title) { (self.title) }
                desc id=(desc) { (self.description) }
                (top_axis(&axis, &self.axis.title(), height))
                @for (i, row) in self.rows.iter().enumerate() { (bar(row, &axis, TOP + ROW * i as f64)) }
                @if let Some((wanted, name)) = &self.wanted { (line_through(&axis, *wanted, name, height)) }
                // Over the line, so that it does not cross the words.
                @for (i, row) in self.rows.iter().enumerate() {
                    text.row-note text-anchor="end" x=(at(RIGHT)) y=(at(TOP + ROW * i as f64 + 13.0)) { (row.note) }
                }
            }
        }
    }
}

fn top_axis(axis: &Laid, name: &str, height: f64) -> Markup {
    html! {
        text.axis-name x=(at(LEFT)) y="16" { (name) }
        g.grid { @for (tick, _) in &axis.ticks { @if let Some(p) = axis.place(*tick) {
            path d=(path([(p, TOP - 6.0), (p, height - 4.0)])) {}
        } } }
        g.ticks text-anchor="middle" { @for (tick, label) in &axis.ticks { @if let Some(p) = axis.place(*tick) {
            text x=(at(p)) y=(at(TOP - 12.0)) { (label) }
        } } }
        path.axis d=(path([(LEFT, TOP - 6.0), (RIGHT, TOP - 6.0)])) {}
    }
}

fn bar(row: &BarRow, axis: &Laid, top: f64) -> Markup {
    let (from, to) = (axis.place_within(row.range.0), axis.place_within(row.range.1));
    let (left, width) = if to - from < 3.0 { ((from + to) / 2.0 - 1.5, 3.0) } else { (from, to - from) };
    let drawn = html! {
        rect.row x="0" y=(at(top - 2.0)) width=(WIDTH) height=(ROW) {}
        text.row-name x=(at(LEFT)) y=(at(top + 13.0)) { (row.label) }
        rect.bar-ground x=(at(left)) y=(at(top + 19.0)) width=(at(width)) height=(at(BAR)) {}
        rect.bar x=(at(left)) y=(at(top + 19.0)) width=(at(width)) height=(at(BAR)) fill-opacity=(at(0.12 + 0.88 * row.shade.clamp(0.0, 1.0))) {}
        @if let Some(point) = row.point { circle.bar cx=(at(axis.place_within(point))) cy=(at(top + 19.0 + BAR / 2.0)) r="5" {} }
    };
    html! {
        @if let Some(href) = &row.href { a href=(href) { (drawn) } } @else { g { (drawn) } }
    }
}

fn line_through(axis: &Laid, figure: f64, name: &str, height: f64) -> Markup {
    let p = axis.place_within(figure);
    let anchor = if p > WIDTH / 2.0 { "end" } else { "start" };
    html! {
        path.wanted d=(path([(p, TOP - 32.0), (p, height - 2.0)])) {}
        text.wanted-name text-anchor=(anchor) x=(at(if anchor == "end" { p - 5.0 } else { p + 5.0 })) y=(at(TOP - 27.0)) { (name) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stay_inside_the_drawing() {
        let row = BarRow {
            label: "a".into(),
            href: Some("/x".into()),
            range: (0.0, f64::INFINITY),
            point: None,
            shade: 2.0,
            note: String::new(),
        };
        let chart = BarChart {
            id: "b".into(),
            title: "Reach".into(),
            description: "One bar.".into(),
            axis: Axis::log("Magnification", "").range(0.05, 5.0),
            rows: vec![row],
            wanted: Some((0.5, "wanted 1:2".into())),
        };
        let shown = chart.show().into_string();
        assert!(shown.contains("x=\"26.00\"") && shown.contains("width=\"508.00\""), "{shown}");
        assert!(shown.contains("fill-opacity=\"1.00\"") && shown.contains("role=\"group\""), "{shown}");
        assert!(!shown.contains("<circle"));
        let with_point = BarRow { point: Some(0.5), ..chart.rows[0].clone() };
        let shown = BarChart { rows: vec![with_point], ..chart }.show().into_string();
        assert!(shown.contains("<circle") && shown.contains("Figure"), "{shown}");
    }
}
