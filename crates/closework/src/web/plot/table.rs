//! The figures of a chart as a table: its equivalent in text.

use maud::{Markup, html};

use super::axis::Axis;
use super::chart::{Cross, Mark};
use crate::web::fmt::figure;

/// How many rows a curve is thinned to.
const ROWS: usize = 24;

/// Column names, then rows of cells.
struct Figures {
    heads: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// All marks of a chart: curves over the same x share one table.
pub(super) fn of_chart(x: &Axis, y: &Axis, marks: &[Mark]) -> Markup {
    let tables = gather(x, y, marks);
    folded(&tables)
}

fn gather(x: &Axis, y: &Axis, marks: &[Mark]) -> Vec<Figures> {
    let mut tables: Vec<(Vec<f64>, Figures)> = Vec::new();
    for (xs, columns) in marks.iter().filter_map(|m| columns(m, &y.title())) {
        let index = tables.iter().position(|(known, _)| *known == xs).unwrap_or(tables.len());
        if index == tables.len() {
            let rows = thinned(&xs).map(|i| vec![figure(xs[i], 4)]).collect();
            tables.push((xs.clone(), Figures { heads: vec![x.title()], rows }));
        }
        for (head, values) in columns {
            tables[index].1.heads.push(head);
            for (row, i) in tables[index].1.rows.iter_mut().zip(thinned(&xs)) {
                row.push(figure(values[i], 4));
            }
        }
    }
    tables.into_iter().map(|t| t.1).collect()
}

type Columns = (Vec<f64>, Vec<(String, Vec<f64>)>);

fn columns(mark: &Mark, y: &str) -> Option<Columns> {
    match mark {
        Mark::Line { label, points, .. } | Mark::Points { label, points, .. } => {
            let head = if label.is_empty() { y.to_owned() } else { label.clone() };
            Some((points.iter().map(|p| p.0).collect(), vec![(head, points.iter().map(|p| p.1).collect())]))
        }
        Mark::Band { label, points, .. } => {
            let low = (format!("{label}, from"), points.iter().map(|p| p.1).collect());
            let high = (format!("{label}, to"), points.iter().map(|p| p.2).collect());
            Some((points.iter().map(|p| p.0).collect(), vec![low, high]))
        }
        Mark::Crosses { points, .. } => {
            let column = |name: String, of: fn(&Cross) -> f64| (name, points.iter().map(of).collect());
            let own = [
                column("from".into(), |p| p.x.1),
                column("to".into(), |p| p.x.2),
                column(y.to_owned(), |p| p.y.0),
                column("from".into(), |p| p.y.1),
                column("to".into(), |p| p.y.2),
            ];
            Some((points.iter().map(|p| p.x.0).collect(), own.into()))
        }
        Mark::AtX { .. } | Mark::AtY { .. } => None,
    }
}

fn thinned(xs: &[f64]) -> impl Iterator<Item = usize> + use<> {
    (0..xs.len()).step_by(xs.len().div_ceil(ROWS).max(1))
}

fn folded(tables: &[Figures]) -> Markup {
    html! {
        @if !tables.is_empty() {
            details.figures {
                summary { "The figures as a table" }
                @for table in tables { (rows(&table.heads, &table.rows)) }
            }
        }
    }
}

fn rows(heads: &[String], rows: &[Vec<String>]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Table of figures" {
            table {
                thead { tr { @for head in heads { th scope="col" { (head) } } } }
                tbody { @for row in rows { tr { @for cell in row { td { (cell) } } } } }
            }
        }
    }
}

/// A table of texts behind the same fold.
pub(super) fn of_rows(heads: &[&str], cells: Vec<Vec<String>>) -> Markup {
    let heads = heads.iter().map(|h| (*h).to_owned()).collect();
    folded(&[Figures { heads, rows: cells }])
}
