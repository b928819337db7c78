//! Pocket cards on paper: A6 pages, alone or several on a sheet to be cut apart.
//!
//! Figures are set in 12 points: capitals and digits of the font are 0.729 of that high, 3.1 mm, which at an arm's length of
//! 65 cm is an angle of 16 minutes, the least that ISO 9241-303 asks of letters that are to be read with ease (the standard's
//! figure from memory).

use printing::{Date, Document, Grey, Page, Pen, Role, Style, impose};

use super::{Correction, PocketCard, Row, Scale, thirds};
use crate::web::fmt;

/// An A6 page, mm.
const CARD_MM: [f64; 2] = [105.0, 148.0];

/// Around what is printed, mm: most printers cannot reach the edge, and a card is cut by hand.
const MARGIN_MM: f64 = 6.0;

/// What is read at arm's length.
const FIGURES: Style = Style::plain(12.0);

/// From line to line of the table, mm.
const LINE_MM: f64 = 6.3;

/// What cards are printed on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// One card a page.
    A6,
    /// Two cards side by side.
    A5,
    /// Four cards.
    A4,
}

impl Paper {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::A6, Self::A5, Self::A4];

    /// As it is typed.
    pub fn name(self) -> &'static str {
        match self {
            Self::A6 => "a6",
            Self::A5 => "a5",
            Self::A4 => "a4",
        }
    }

    /// In words.
    pub fn label(self) -> &'static str {
        match self {
            Self::A6 => "A6, one card a page",
            Self::A5 => "A5, two cards",
            Self::A4 => "A4, four cards",
        }
    }

    /// By its name.
    pub fn of(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|paper| paper.name() == text.trim().to_lowercase())
    }

    /// Width and height (ISO 216), and how many cards go across and down.
    fn sheet(self) -> ([f64; 2], [usize; 2]) {
        match self {
            Self::A6 => (CARD_MM, [1, 1]),
            Self::A5 => ([210.0, 148.0], [2, 1]),
            Self::A4 => ([210.0, 297.0], [2, 2]),
        }
    }
}

/// The cards as a document.
pub fn on_paper(cards: &[PocketCard], correction: Option<&Correction>, paper: Paper, date: Option<Date>) -> Document {
    let small: Vec<Page> = cards.iter().map(|card| page(card, correction, date)).collect();
    let pages = match paper.sheet() {
        (_, [1, 1]) => small,
        (sheet, grid) => impose(&small, sheet, grid),
    };
    let title = match cards {
        [card] => format!("Pocket card: {}", plain(&card.name)),
        _ => format!("{} pocket cards", cards.len()),
    };
    Document { title, language: "en".into(), date, pages }
}

/// Without letters that the printing font lacks: a name may hold any.
fn plain(text: &str) -> String {
    text.chars().map(|letter| if printing::has_letter(letter) { letter } else { '?' }).collect()
}

fn page(card: &PocketCard, correction: Option<&Correction>, date: Option<Date>) -> Page {
    let mut page = Page::new(CARD_MM);
    let width = CARD_MM[0] - 2.0 * MARGIN_MM;
    let mut top = MARGIN_MM;
    let set = |page: &mut Page, top: f64, role, style, text: &str| page.set(role, [MARGIN_MM, top], width, style, text);
    top = set(&mut page, top, Role::Heading(1), Style::bold(11.5), &plain(&card.name));
    top = set(&mut page, top, Role::Paragraph, Style::plain(8.0), &under_the_name(card)) + 1.5;
    top = table(&mut page, card, top) + 1.0;
    if let Some(correction) = correction {
        top = long_exposures(&mut page, correction, top) + 1.0;
    }
    let small = Style::plain(7.5);
    top = set(&mut page, top, Role::Paragraph, small, &card.doubts_in_words());
    for warning in &card.warnings {
        top = set(&mut page, top, Role::Paragraph, small, &plain(warning));
    }
    set(&mut page, top, Role::Paragraph, small, CARE);
    foot(&mut page, date);
    page
}

/// The usual cautions, as short as a card allows.
const CARE: &str =
    "Hot lamps burn skin and specimens; no flash near eyes; never the sun through a lens. Local rules come first.";

fn under_the_name(card: &PocketCard) -> String {
    let what = match card.scale {
        Scale::Draw => "Draw of the bellows",
        Scale::Travel => "Travel of the lens from its infinity mark",
        Scale::Distance => "Distance on the lens’s scale",
        Scale::Fixed => "One size",
    };
    let sharp = fmt::figure(card.coc_mm * 1000.0, 2);
    plain(&format!(
        "{}. {what}, width of the field, room in front and depth in mm; light to add, in stops; sharp: discs up to {sharp} µm.",
        card.body
    ))
}

/// A column: its heading, its cells.
struct Column {
    head: [String; 2],
    cells: Vec<String>,
}

impl Column {
    fn new(head: [&str; 2], cells: impl Iterator<Item = String>) -> Self {
        Self { head: head.map(str::to_owned), cells: cells.collect() }
    }

    fn width(&self, figures: Style) -> f64 {
        let cells = self.cells.iter().map(|cell| figures.width_mm(cell));
        cells.chain(self.head.iter().map(|word| HEAD.width_mm(word))).fold(0.0, f64::max)
    }
}

const HEAD: Style = Style::bold(8.0);

fn columns(card: &PocketCard) -> Vec<Column> {
    let rows = || card.rows.iter();
    let mut columns = Vec::new();
    if card.scale != Scale::Fixed {
        columns.push(Column::new([card.scale.label(), "mm"], rows().map(setting)));
    }
    columns.push(Column::new(["size", ""], rows().map(size)));
    columns.push(Column::new(["field", "mm"], rows().map(|row| row.field_mm.map_or("∞".into(), |[w, _]| short(w)))));
    columns
        .push(Column::new(["room", "mm"], rows().map(|row| row.working_mm.map_or("∞".into(), |mm| short(mm.value)))));
    columns.push(Column::new(["light", "stops"], rows().map(|row| thirds(row.stops.value))));
    for (at, stop) in card.f_numbers.iter().enumerate() {
        let depth = |row: &Row| row.depths_mm.get(at).copied().flatten().map_or("∞".into(), depth);
        columns.push(Column::new(["depth", &format!("f/{stop}")], rows().map(depth)));
    }
    columns
}

/// A size to three digits: over a lens's own travel two would show rows that seem to be one.
pub(super) fn size(row: &Row) -> String {
    let m = row.magnification.value.abs();
    let digits = |term: f64| {
        let text = fmt::figure(term, 3);
        match text.contains('.') {
            true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
            false => text,
        }
    };
    match m {
        0.0 => "1:∞".into(),
        m if m < 1.0 => format!("1:{}", digits(1.0 / m)),
        m => format!("{}:1", digits(m)),
    }
}

/// A draw or travel as it is set: to a tenth where it is not whole.
pub(super) fn setting(row: &Row) -> String {
    row.setting_mm.map_or(String::new(), |mm| {
        let tenth = format!("{mm:.1}");
        tenth.strip_suffix(".0").map(str::to_owned).unwrap_or(tenth)
    })
}

/// Whole millimetres from ten on.
pub(super) fn short(mm: f64) -> String {
    if mm.abs() >= 9.95 { format!("{mm:.0}") } else { fmt::figure(mm, 2) }
}

/// A depth to two digits; from a metre on it is no depth of a close-up any more.
pub(super) fn depth(mm: f64) -> String {
    if mm >= 1000.0 { "> 1 m".into() } else { fmt::figure(mm, 2) }
}

fn table(page: &mut Page, card: &PocketCard, top: f64) -> f64 {
    let mut columns = columns(card);
    let width = CARD_MM[0] - 2.0 * MARGIN_MM;
    let needed = |columns: &[Column]| {
        columns.iter().map(|column| column.width(FIGURES) + LEAST_GAP_MM).sum::<f64>() - LEAST_GAP_MM
    };
    // Rather one depth less than letters that cannot be read.
    while needed(&columns) > width && columns.len() > 5 {
        columns.pop();
    }
    let gap = (width - needed(&columns)) / columns.len().max(2).saturating_sub(1) as f64 + LEAST_GAP_MM;
    let mut right = MARGIN_MM;
    let ends: Vec<f64> = columns
        .iter()
        .map(|column| {
            right += column.width(FIGURES);
            let end = right;
            right += gap;
            end
        })
        .collect();
    for (column, end) in columns.iter().zip(&ends) {
        let block = page.block(Role::Cell { table: 1, row: 0, head: true });
        for (line, word) in column.head.iter().enumerate() {
            let y = top + (line + 1) as f64 * HEAD.line_mm();
            block.words([end - HEAD.width_mm(word), y], spaced(word), HEAD);
        }
    }
    let mut y = top + 2.0 * HEAD.line_mm() + 1.0;
    for index in 0..card.rows.len() {
        rule(page, y);
        for (column, end) in columns.iter().zip(&ends) {
            let cell = &column.cells[index];
            let block = page.block(Role::Cell { table: 1, row: index + 1, head: false });
            block.words([end - FIGURES.width_mm(cell), y + LINE_MM - 1.7], spaced(cell), FIGURES);
        }
        y += LINE_MM;
    }
    rule(page, y);
    y + 0.5
}

/// With a blank behind it, so that the text of a row can be taken out as words.
fn spaced(cell: &str) -> String {
    format!("{cell} ")
}

/// Between columns, mm.
const LEAST_GAP_MM: f64 = 2.2;

fn rule(page: &mut Page, y: f64) {
    let ends = [[MARGIN_MM, y], [CARD_MM[0] - MARGIN_MM, y]];
    page.block(Role::Decoration).line(ends, Pen::solid(0.12, Grey::LIGHT));
}

/// The film's correction: metered times over times to expose.
fn long_exposures(page: &mut Page, correction: &Correction, top: f64) -> f64 {
    let left = MARGIN_MM;
    let width = CARD_MM[0] - 2.0 * MARGIN_MM;
    let head = format!("Long exposures, {}", plain(&correction.film));
    let mut y = page.set(Role::Paragraph, [left, top], width, HEAD, &head);
    let style = Style::plain(10.0);
    let label = 15.0;
    let shown: Vec<_> = correction.times_s.iter().take(7).collect();
    let step = (width - label) / shown.len().max(1) as f64;
    for name in ["metered", "expose"] {
        y += style.line_mm();
        let block = page.block(Role::Paragraph);
        block.words([left, y - 1.2], spaced(name), HEAD);
        for (index, (metered, expose, sure)) in shown.iter().enumerate() {
            let text = match name {
                "metered" => time(*metered),
                _ => time(*expose) + if *sure { "" } else { "?" },
            };
            let end = left + label + step * (index + 1) as f64;
            block.words([end - style.width_mm(&text), y - 1.2], spaced(&text), style);
        }
    }
    if shown.iter().any(|(_, _, sure)| !sure) {
        y = page.set(
            Role::Paragraph,
            [left, y],
            width,
            Style::plain(7.5),
            "? lies outside what the source covers: test it.",
        );
    }
    y
}

/// A time without its unit where it is seconds: "1.5", "20", "3m20".
pub(super) fn time(seconds: f64) -> String {
    if seconds < 99.5 {
        let text = fmt::figure(seconds, 2);
        return text.strip_suffix(".0").map(str::to_owned).unwrap_or(text);
    }
    let whole = seconds.round() as u64;
    format!("{}m{:02}", whole / 60, whole % 60)
}

fn foot(page: &mut Page, date: Option<Date>) {
    let style = Style { grey: Grey(90), ..Style::plain(7.0) };
    let made = date.map_or(String::new(), |date| format!(", {date}"));
    let text = format!("Closework{made}");
    let at = [CARD_MM[0] - MARGIN_MM - style.width_mm(&text), CARD_MM[1] - MARGIN_MM + 1.5];
    page.block(Role::Paragraph).words(at, text, style);
}
