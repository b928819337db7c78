//! Measured edges, like with like: the same place and the same direction.

use maud::{Markup, html};

use super::compared::{Compared, Edge, Figure};
use super::panes::place;
use crate::web::fmt;

/// What is alike: place in the frame and direction of the edge.
#[derive(Debug, Clone, PartialEq)]
struct Kind {
    place: String,
    direction: String,
}

impl Kind {
    fn of(edge: &Edge) -> Self {
        Self { place: edge.label.to_lowercase(), direction: edge.document.direction.clone() }
    }
}

struct Row<'a> {
    kind: Kind,
    label: String,
    /// For each scan its newest edge of this kind.
    cells: Vec<Option<&'a Edge>>,
}

fn rows<'a>(all: &[&'a Compared]) -> Vec<Row<'a>> {
    let mut rows: Vec<Row<'a>> = Vec::new();
    for (column, compared) in all.iter().enumerate() {
        for edge in &compared.edges {
            let kind = Kind::of(edge);
            let index = rows.iter().position(|row| row.kind == kind).unwrap_or_else(|| {
                rows.push(Row { kind, label: place(&edge.label), cells: vec![None; all.len()] });
                rows.len() - 1
            });
            rows[index].cells[column] = Some(edge);
        }
    }
    rows
}

/// The table under the panes.
pub(super) fn compared_edges(all: &[&Compared]) -> Markup {
    let rows = rows(all);
    html! {
        section aria-labelledby="edges" {
            h2 id="edges" { "Measured edges, like with like" }
            @if rows.is_empty() {
                p { "No edge is measured in these scans yet. Open one of them by its name above and measure an edge; give the same words for the same place in each." }
            } @else {
                p { "Where half of the contrast is left, in line pairs per mm of the subject: the higher, the finer. With 95 % intervals." }
                div.scroll tabindex="0" role="region" aria-label="Measured edges" {
                    table.like {
                        thead { tr {
                            th scope="col" { "Place" }
                            @for c in all { th scope="col" { (c.scan.file_name) } }
                            th scope="col" { "Finest" }
                        } }
                        tbody { @for row in &rows { (line(row, all)) } }
                    }
                }
            }
        }
    }
}

fn line(row: &Row<'_>, all: &[&Compared]) -> Markup {
    html! {
        tr {
            th scope="row" { (row.label) br; span.small.soft { (row.kind.direction.replace('-', " ")) } }
            @for (cell, compared) in row.cells.iter().zip(all) {
                td { @match cell { Some(edge) => (compared.figure(&edge.document)), None => span.soft { "not measured" } } }
            }
            td { (verdict(row, all)) }
        }
    }
}

/// Which is finest, and whether the intervals let that be said.
fn verdict(row: &Row<'_>, all: &[&Compared]) -> String {
    let mut figures: Vec<(&str, Figure)> = Vec::new();
    for (cell, compared) in row.cells.iter().zip(all) {
        let figure = cell.and_then(|edge| compared.on_subject(&edge.document));
        figures.extend(figure.map(|figure| (compared.scan.file_name.as_str(), figure)));
    }
    figures.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
    let [first, second, ..] = figures.as_slice() else { return "nothing to compare it with".into() };
    let (lead, unsure) = lead(first.1, second.1);
    match unsure {
        Some(u) if lead <= u => "no difference that these frames can show".into(),
        Some(u) => format!("{}, by {} lp/mm over the next", first.0, fmt::measured(lead, Some(u))),
        None => format!("{}, by {} lp/mm over the next; how sure is not known", first.0, fmt::measured(lead, None)),
    }
}

/// How far the first lies above the second, with the half-width of the difference of two independent figures.
fn lead(first: Figure, second: Figure) -> (f64, Option<f64>) {
    let unsure = first.plus_minus.zip(second.plus_minus).map(|(a, b)| a.hypot(b));
    (first.value - second.value, unsure)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_lead_is_as_unsure_as_both_figures() {
        let figure = |value, plus_minus| Figure { value, plus_minus };
        let (by, unsure) = lead(figure(40.0, Some(3.0)), figure(35.0, Some(4.0)));
        // The half-widths 3 and 4 of independent figures combine to 5 (JCGM 100:2008, 5.1.2).
        assert_close!(by, 5.0, absolute = 1e-12);
        assert_close!(unsure.unwrap_or(f64::NAN), 5.0, absolute = 1e-12);
        assert_eq!(lead(figure(40.0, None), figure(35.0, Some(4.0))).1, None);
    }
}
