//! The frame as a map: contrast wherever one looks.

use maud::{Markup, html};

use crate::bench::{Cell, Found, FrameMap, Wanted};
use crate::web::fmt;
use crate::web::plot::at;

const LONGER: f64 = 560.0;

/// Shaded cells over the whole frame, mirrored from the traced quarter, and the quarter as a table.
pub(super) fn map(found: &Found, wanted: &Wanted) -> Markup {
    let map = &found.map;
    let title = format!("Map of the frame: contrast at {} lp/mm", wanted.main_cycles_per_mm);
    let words = words(map);
    html! {
        figure.plot.frame-map {
            figcaption { (title) }
            (drawing(map, wanted.frame_mm, &words))
            p.soft.small { (words) " The fuller a cell is shaded, the less is left; figures are per cent, the mean of both directions." }
            (table(map))
        }
    }
}

fn words(map: &FrameMap) -> String {
    let of = |cell: Option<&Option<Cell>>| {
        cell.copied().flatten().map_or("dark".into(), |cell: Cell| fmt::percent(cell.mean()))
    };
    let row = |row: Option<&Vec<Option<Cell>>>| of(row.and_then(|row| row.last()));
    format!(
        "In the middle {}, at the side {}, in the corner {}.",
        of(map.rows.first().and_then(|row| row.first())),
        row(map.rows.first()),
        row(map.rows.last())
    )
}

fn drawing(map: &FrameMap, frame_mm: [f64; 2], words: &str) -> Markup {
    let scale = LONGER / frame_mm[0].max(frame_mm[1]);
    let [width, height] = frame_mm.map(|side| side * scale);
    let cells = [map.x_mm.len() - 1, map.y_mm.len() - 1];
    let size = [width / (2 * cells[0] + 1) as f64, height / (2 * cells[1] + 1) as f64];
    let signed = |count: usize| -(count as i32)..=count as i32;
    let left = |step: i32, axis: usize| (f64::from(step) + cells[axis] as f64) * size[axis];
    html! {
        svg viewBox=(format!("-2 -2 {} {}", at(width + 4.0), at(height + 4.0))) role="img" aria-label=(words) {
            rect.field-edge x="0" y="0" width=(at(width)) height=(at(height)) {}
            @for row in signed(cells[1]) { @for column in signed(cells[0]) {
                @let cell = map.rows[row.unsigned_abs() as usize][column.unsigned_abs() as usize];
                @let shade = cell.map_or(1.0, |cell| 1.0 - cell.mean());
                rect.shade x=(at(left(column, 0))) y=(at(left(row, 1))) width=(at(size[0])) height=(at(size[1])) fill-opacity=(at(0.75 * shade.clamp(0.0, 1.0))) {}
            } }
            @for row in signed(cells[1]).step_by(2) { @for column in signed(cells[0]).step_by(2) {
                @if let Some(cell) = map.rows[row.unsigned_abs() as usize][column.unsigned_abs() as usize] {
                    text.tick text-anchor="middle" x=(at(left(column, 0) + size[0] / 2.0)) y=(at(left(row, 1) + size[1] / 2.0 + 4.5)) { (format!("{:.0}", 100.0 * cell.mean())) }
                }
            } }
        }
    }
}

fn table(map: &FrameMap) -> Markup {
    let every = |count: usize| (0..count).step_by(2);
    html! {
        details.figures {
            summary { "The figures as a table" }
            div.scroll tabindex="0" role="region" aria-label="The map as a table" {
                table {
                    thead { tr {
                        th scope="col" { "Down from the middle, mm" }
                        @for column in every(map.x_mm.len()) { th.n scope="col" { (fmt::figure(map.x_mm[column], 3)) " mm across" } }
                    } }
                    tbody { @for row in every(map.y_mm.len()) { tr {
                        th scope="row" { (fmt::figure(map.y_mm[row], 3)) }
                        @for column in every(map.x_mm.len()) {
                            td.n { @match map.rows[row][column] {
                                Some(cell) => (format!("{:.2} / {:.2}", cell.sagittal, cell.tangential)),
                                None => "dark",
                            } }
                        }
                    } } }
                }
            }
            p.small { "Sagittal / tangential, of one quarter; the others mirror it." }
        }
    }
}
