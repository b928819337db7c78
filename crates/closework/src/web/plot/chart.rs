//! Lines, bands and markers over two axes.

use maud::{Markup, html};

use super::axis::{Axis, Laid};
use super::{at, path, table};

/// The drawing's own units; the page scales it.
const WIDTH: f64 = 560.0;
const HEIGHT: f64 = 350.0;
const LEFT: f64 = 66.0;
const RIGHT: f64 = WIDTH - 18.0;
const TOP: f64 = 12.0;
const BOTTOM: f64 = HEIGHT - 58.0;

/// Which colour and dash pattern: 0 the heaviest, to 5.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style(pub u8);

impl Style {
    fn class(self) -> String {
        format!("s{}", self.0.min(5))
    }
}

/// A figure with the ends of its interval.
pub type Spread = (f64, f64, f64);

/// A point with its name and both intervals.
#[derive(Debug, Clone, PartialEq)]
pub struct Cross {
    /// Written beside it.
    pub name: String,
    /// Across.
    pub x: Spread,
    /// Upwards.
    pub y: Spread,
}

/// Something drawn in a chart.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A line through points.
    Line {
        /// Its name in the legend.
        label: String,
        /// (x, y); a point without a place (not a number) breaks nothing, it is left out.
        points: Vec<(f64, f64)>,
        /// Colour and dashes.
        style: Style,
    },
    /// A band between two curves: an uncertainty.
    Band {
        /// Its name in the legend.
        label: String,
        /// (x, low, high).
        points: Vec<(f64, f64, f64)>,
        /// Colour.
        style: Style,
    },
    /// Single points.
    Points {
        /// Their name in the legend.
        label: String,
        /// (x, y).
        points: Vec<(f64, f64)>,
        /// Colour and shape.
        style: Style,
    },
    /// Figures that are uncertain both ways: a point with its intervals.
    Crosses {
        /// Their name in the legend.
        label: String,
        /// Name, x with its interval, y with its interval: (value, low, high).
        points: Vec<Cross>,
        /// Colour and shape.
        style: Style,
    },
    /// A line across the chart at one x.
    AtX {
        /// Written beside the line.
        label: String,
        /// Where.
        x: f64,
    },
    /// A line across the chart at one y.
    AtY {
        /// Written above the line.
        label: String,
        /// Where.
        y: f64,
    },
}

/// A chart over two axes.
#[derive(Debug, Clone)]
pub struct Chart {
    id: String,
    title: String,
    description: String,
    x: Axis,
    y: Axis,
    marks: Vec<Mark>,
}

impl Chart {
    /// An empty chart. `id` is unique on its page; `description` says in a sentence what the drawing shows, for those
    /// who cannot see it.
    pub fn new(id: &str, title: &str, description: &str, x: Axis, y: Axis) -> Self {
        Self { id: id.into(), title: title.into(), description: description.into(), x, y, marks: Vec::new() }
    }

    /// Adds something to draw.
    pub fn with(mut self, mark: Mark) -> Self {
        self.marks.push(mark);
        self
    }

    /// Drawing, legend and table.
    pub fn show(&self) -> Markup {
        html! {
            figure.plot {
                figcaption { (self.title) }
                (self.svg())
                (self.legend())
                (table::of_chart(&self.x, &self.y, &self.marks))
            }
        }
    }

    /// The drawing alone.
    pub fn svg(&self) -> Markup {
        let x = self.x.lay_out(self.marks.iter().flat_map(xs), LEFT, RIGHT);
        let y = self.y.lay_out(self.marks.iter().flat_map(ys), BOTTOM, TOP);
        let (title, desc, clip) = (format!("{}-t", self.id), format!("{}-d", self.id), format!("{}-c", self.id));
        html! {
            svg id=(self.id) viewBox=(format!("0 0 {WIDTH} {HEIGHT}")) role="img" aria-labelledby=(format!("{title} {desc}")) {
                title id=(title) { (self.title) }
                desc id=(desc) { (self.description) }
                clipPath id=(clip) {
                    rect x=(at(LEFT)) y=(at(TOP)) width=(at(RIGHT - LEFT)) height=(at(BOTTOM - TOP)) {}
                }
                (frame(&x, &y, &self.x.title(), &self.y.title()))
                g clip-path=(format!("url(#{clip})")) { @for mark in &self.marks { (draw(mark, &x, &y)) } }
                @for mark in &self.marks { (letter(mark, &x, &y)) }
            }
        }
    }

    fn legend(&self) -> Markup {
        let entries: Vec<_> = self.marks.iter().filter_map(legend_entry).collect();
        html! {
            @if entries.len() > 1 {
                ul.legend aria-hidden="true" { @for entry in entries { li { (entry) } } }
            }
        }
    }
}

fn xs(mark: &Mark) -> Vec<f64> {
    match mark {
        Mark::Line { points, .. } | Mark::Points { points, .. } => points.iter().map(|p| p.0).collect(),
        Mark::Band { points, .. } => points.iter().map(|p| p.0).collect(),
        Mark::Crosses { points, .. } => points.iter().flat_map(|p| [p.x.0, p.x.1, p.x.2]).collect(),
        Mark::AtX { x, .. } => vec![*x],
        Mark::AtY { .. } => vec![],
    }
}

fn ys(mark: &Mark) -> Vec<f64> {
    match mark {
        Mark::Line { points, .. } | Mark::Points { points, .. } => points.iter().map(|p| p.1).collect(),
        Mark::Band { points, .. } => points.iter().flat_map(|p| [p.1, p.2]).collect(),
        Mark::Crosses { points, .. } => points.iter().flat_map(|p| [p.y.0, p.y.1, p.y.2]).collect(),
        Mark::AtX { .. } => vec![],
        Mark::AtY { y, .. } => vec![*y],
    }
}

/// Grid, ticks, figures and the axes' names.
fn frame(x: &Laid, y: &Laid, x_title: &str, y_title: &str) -> Markup {
    let middle = (TOP + BOTTOM) / 2.0;
    html! {
        g.grid {
            @for (tick, _) in &x.ticks { @if let Some(p) = x.place(*tick) {
                path d=(path([(p, TOP), (p, BOTTOM + 5.0)])) {}
            } }
            @for (tick, _) in &y.ticks { @if let Some(p) = y.place(*tick) {
                path d=(path([(LEFT - 5.0, p), (RIGHT, p)])) {}
            } }
        }
        path.axis d=(path([(LEFT, TOP), (LEFT, BOTTOM), (RIGHT, BOTTOM)])) {}
        g.ticks text-anchor="middle" {
            @for (tick, label) in &x.ticks { @if let Some(p) = x.place(*tick) {
                text x=(at(p)) y=(at(BOTTOM + 22.0)) { (label) }
            } }
        }
        g.ticks text-anchor="end" {
            @for (tick, label) in &y.ticks { @if let Some(p) = y.place(*tick) {
                text x=(at(LEFT - 9.0)) y=(at(p + 4.5)) { (label) }
            } }
        }
        text.axis-name text-anchor="middle" x=(at((LEFT + RIGHT) / 2.0)) y=(at(HEIGHT - 10.0)) { (x_title) }
        text.axis-name text-anchor="middle" transform=(format!("translate(15 {}) rotate(-90)", at(middle))) { (y_title) }
    }
}

fn placed(points: &[(f64, f64)], x: &Laid, y: &Laid) -> Vec<(f64, f64)> {
    points.iter().filter_map(|p| Some((x.place(p.0)?, y.place(p.1)?))).collect()
}

fn draw(mark: &Mark, x: &Laid, y: &Laid) -> Markup {
    match mark {
        Mark::Line { points, style, .. } => html! {
            path class=(format!("line {}", style.class())) d=(path(placed(points, x, y))) {}
        },
        Mark::Band { points, style, .. } => {
            let low = points.iter().filter_map(|p| Some((x.place(p.0)?, y.place(p.1)?)));
            let high = points.iter().rev().filter_map(|p| Some((x.place(p.0)?, y.place(p.2)?)));
            html! { path class=(format!("band {}", style.class())) d=(format!("{}Z", path(low.chain(high)))) {} }
        }
        Mark::Points { points, style, .. } => html! {
            g class=(format!("points {}", style.class())) {
                @for p in placed(points, x, y) { (marker(*style, p)) }
            }
        },
        Mark::Crosses { points, style, .. } => html! {
            @for point in points { (cross(point, *style, x, y)) }
        },
        Mark::AtX { x: figure, .. } => html! {
            @if let Some(p) = x.place(*figure) { path.rule d=(path([(p, TOP), (p, BOTTOM)])) {} }
        },
        Mark::AtY { y: figure, .. } => html! {
            @if let Some(p) = y.place(*figure) { path.rule d=(path([(LEFT, p), (RIGHT, p)])) {} }
        },
    }
}

fn cross(point: &Cross, style: Style, x: &Laid, y: &Laid) -> Markup {
    let (across, up) = (x.place_within(point.x.0), y.place_within(point.y.0));
    let arms = [
        path([(x.place_within(point.x.1), up), (x.place_within(point.x.2), up)]),
        path([(across, y.place_within(point.y.1)), (across, y.place_within(point.y.2))]),
    ];
    html! {
        @for arm in arms { path.arm d=(arm) {} }
        g class=(format!("points {}", style.class())) { (marker(style, (across, up))) }
    }
}

/// A shape for each style, so that markers differ without their colour.
fn marker(style: Style, (x, y): (f64, f64)) -> Markup {
    html! {
        @match style.0 % 3 {
            0 => circle cx=(at(x)) cy=(at(y)) r="4" {},
            1 => rect x=(at(x - 3.5)) y=(at(y - 3.5)) width="7" height="7" {},
            _ => path d=(format!("{}Z", path([(x, y - 4.5), (x + 4.5, y + 3.5), (x - 4.5, y + 3.5)]))) {},
        }
    }
}

/// The words beside the lines across.
fn letter(mark: &Mark, x: &Laid, y: &Laid) -> Markup {
    match mark {
        Mark::Crosses { points, .. } => html! {
            @for point in points {
                @let p = x.place_within(point.x.0);
                @let (anchor, shift) = if p > (LEFT + RIGHT) / 2.0 { ("end", -8.0) } else { ("start", 8.0) };
                text.rule-name text-anchor=(anchor) x=(at(p + shift)) y=(at(y.place_within(point.y.0) - 7.0)) { (point.name) }
            }
        },
        Mark::AtX { x: figure, label } => {
            let p = x.place_within(*figure);
            let (anchor, shift) = if p > (LEFT + RIGHT) / 2.0 { ("end", -5.0) } else { ("start", 5.0) };
            html! { text.rule-name text-anchor=(anchor) x=(at(p + shift)) y=(at(TOP + 14.0)) { (label) } }
        }
        Mark::AtY { y: figure, label } => html! {
            text.rule-name text-anchor="end" x=(at(RIGHT - 4.0)) y=(at(y.place_within(*figure) - 5.0)) { (label) }
        },
        _ => html! {},
    }
}

fn legend_entry(mark: &Mark) -> Option<Markup> {
    let (label, style, kind) = match mark {
        Mark::Line { label, style, .. } => (label, style, "line"),
        Mark::Band { label, style, .. } => (label, style, "band"),
        Mark::Points { label, style, .. } | Mark::Crosses { label, style, .. } => (label, style, "points"),
        Mark::AtX { .. } | Mark::AtY { .. } => return None,
    };
    let class = format!("{kind} {}", style.class());
    Some(html! {
        svg viewBox="0 0 40 12" width="40" height="12" focusable="false" {
            @match kind {
                "band" => rect class=(class) x="0" y="1" width="40" height="10" {},
                "points" => g class=(class) { (marker(*style, (20.0, 6.0))) },
                _ => path class=(class) d="M0 6L40 6" {},
            }
        }
        span { (label) }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chart() -> Chart {
        let line = Mark::Line {
            label: "a <b>".into(),
            points: vec![(0.0, 1.0), (0.333_333, 0.5), (0.5, f64::NAN)],
            style: Style(0),
        };
        let band =
            Mark::Band { label: "sure to".into(), points: vec![(0.0, 0.9, 1.1), (0.5, 0.1, 0.2)], style: Style(0) };
        Chart::new(
            "c",
            "Response <1>",
            "It falls.",
            Axis::linear("Frequency", "cycles/px"),
            Axis::linear("Response", ""),
        )
        .with(line)
        .with(band)
        .with(Mark::AtY { label: "half".into(), y: 0.5 })
    }

    #[test]
    fn the_drawing_can_be_read_without_eyes() {
        let shown = chart().show().into_string();
        for part in [
            "role=\"img\"",
            "aria-labelledby=\"c-t c-d\"",
            "<desc id=\"c-d\">It falls.</desc>",
            "<table",
            "Frequency, cycles/px",
        ] {
            assert!(shown.contains(part), "{part} is not in {shown}");
        }
        assert!(!shown.contains("NaN") && !shown.contains("<b>") && !shown.contains("style="), "{shown}");
    }

    #[test]
    fn coordinates_keep_two_decimals() {
        // 0.333333 of 0 to 0.5 lies two thirds along 66 to 542: 383.33.
        assert!(chart().svg().into_string().contains("L383.33 "), "{}", chart().svg().into_string());
    }

    #[test]
    fn an_empty_chart_is_still_a_drawing() {
        let empty = Chart::new("e", "Nothing", "Nothing yet.", Axis::log("x", ""), Axis::linear("y", ""));
        assert!(empty.show().into_string().contains("</svg>"));
    }
}
