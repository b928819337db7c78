//! What `closework target` made.

use super::MADE_BY;
use crate::card::notes;
use printing::{Placed, Printed};
use serde::Serialize;
use target::{Card, Mark, Paper, Sheet};

/// A card that was printed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TargetDocument {
    field_mm: [f64; 2],
    identity: String,
    paper: &'static str,
    file: String,
    pages: usize,
    sheets: Vec<SheetDocument>,
    notes: Vec<String>,
    made_by: &'static str,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct SheetDocument {
    name: &'static str,
    page: usize,
    strips_page: Option<usize>,
    size_mm: [f64; 2],
    /// From the middle of the field to the middle of the sheet.
    offset_mm: [f64; 2],
    /// From the page's left and upper edge to the middle of the sheet.
    middle_on_page_mm: [f64; 2],
    /// Of the line of 100 mm.
    check_line_on_page_mm: [[f64; 2]; 2],
    marks: Vec<MarkDocument>,
}

/// A mark; its place is counted from the middle of the sheet, to the right and down.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct MarkDocument {
    kind: &'static str,
    name: String,
    at_mm: [f64; 2],
    size_mm: [f64; 2],
    turn_deg: f64,
    /// The code's own text.
    text: Option<String>,
    reflectance: Option<f64>,
}

impl TargetDocument {
    /// Of a card on paper, in the file of that name.
    pub fn of(card: &Card, printed: &Printed, paper: Paper, file: String) -> Self {
        Self {
            field_mm: card.field_mm,
            identity: card.sheets.first().map(|sheet| sheet.identity.to_string()).unwrap_or_default(),
            paper: paper.name(),
            file,
            pages: printed.document.pages.len(),
            sheets: card.sheets.iter().zip(&printed.placed).map(|(sheet, placed)| sheet_of(sheet, placed)).collect(),
            notes: notes(card),
            made_by: MADE_BY,
        }
    }
}

fn sheet_of(sheet: &Sheet, placed: &Placed) -> SheetDocument {
    let [x, y] = placed.check_mm;
    SheetDocument {
        name: sheet.part.name(),
        page: placed.page,
        strips_page: placed.strips_page,
        size_mm: sheet.size_mm,
        offset_mm: sheet.offset_mm,
        middle_on_page_mm: placed.middle_mm,
        check_line_on_page_mm: [[x, y], [x + printing::card::CHECK_MM, y]],
        marks: sheet.marks.iter().map(mark_of).collect(),
    }
}

fn mark_of(mark: &Mark) -> MarkDocument {
    let plain = |kind, name: &str, at_mm, size_mm| MarkDocument {
        kind,
        name: name.to_owned(),
        at_mm,
        size_mm,
        turn_deg: 0.0,
        text: None,
        reflectance: None,
    };
    let between = |[a, b]: [[f64; 2]; 2]| [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
    let spread = |[a, b]: [[f64; 2]; 2]| [(b[0] - a[0]).abs(), (b[1] - a[1]).abs()];
    match mark {
        Mark::Code(it) => {
            let text = Some(it.text.text());
            MarkDocument { text, ..plain("code", it.text.corner.name(), it.centre, [it.side_mm; 2]) }
        }
        Mark::Square(it) => {
            MarkDocument { turn_deg: it.turn_deg, ..plain("square", it.name, it.centre, [it.side_mm; 2]) }
        }
        Mark::Ruler(it) => plain("ruler", it.name, between([it.first, it.last]), spread([it.first, it.last])),
        Mark::Step(it) => {
            let reflectance = Some(it.reflectance);
            MarkDocument { reflectance, ..plain("grey step", &it.number.to_string(), it.centre, it.size_mm) }
        }
        Mark::Trap(it) => plain("trap", "trap", it.centre, [it.side_mm; 2]),
        Mark::Ramp(it) => plain("ramp", it.name, it.centre, [it.width_mm, it.length_mm]),
        Mark::Blade(it) => plain("blade", it.name, between(it.ends), spread(it.ends)),
        Mark::Rule(it) => plain("steel rule", "steel rule", it.centre, [it.width_mm, it.length_mm]),
        Mark::GreyScale(it) => plain("grey scale", "grey scale", it.centre, it.size_mm),
    }
}
