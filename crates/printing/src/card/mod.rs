//! A target card on paper: each sheet at true scale on its page, and round it what the person who prints it needs to know.
//!
//! Pages stand upright: the widest sheet, 180 mm, leaves a border even on A4. Nothing but the sheet's own marks lies within
//! its field; words, key and the strips for the ramps lie outside, on the same page where there is room, else on a second one.

mod field;
mod key;
mod map;
mod strips;
mod words;

use target::{Card, Paper, Part, Sheet};

use crate::page::{Grey, Page, Pen, Place, Role, Style};
use crate::{Date, Document};

/// Reflectance of the paper that grey steps are counted from, as the card's layout counts them.
pub const PAPER_REFLECTANCE: f64 = 0.85;

/// Length of the line that shows whether the printer kept to scale, mm.
pub const CHECK_MM: f64 = 100.0;

const MARGIN: f64 = 12.0;
const TOP: f64 = 10.0;
/// Upper edge of the sheet: below the head and the corner marks.
const FIELD_TOP: f64 = 34.0;
const BODY: Style = Style::plain(7.2);
const SMALL: Style = Style::plain(6.2);
const HEAD: Style = Style::bold(8.5);
const HAIR: Pen = Pen::solid(0.12, Grey::BLACK);

/// The grey of the device that stands for a reflectance.
///
/// The share of the paper's own light is encoded as IEC 61966-2-1 (sRGB) encodes light, since that is how office printers take a
/// grey (common practice, no source). Printers differ: what comes out is not known better than by about a fifth.
pub fn grey_of(reflectance: f64) -> Grey {
    let light = (reflectance / PAPER_REFLECTANCE).clamp(0.0, 1.0);
    let code = if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
    Grey((255.0 * code).round() as u8)
}

/// Where a sheet was put.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Which sheet.
    pub part: Part,
    /// On which page, counted from 1.
    pub page: usize,
    /// The sheet's middle: mm from the page's left and upper edge.
    pub middle_mm: Place,
    /// Left end of the line of [`CHECK_MM`].
    pub check_mm: Place,
    /// On which page its strips are; none without ramps.
    pub strips_page: Option<usize>,
}

/// A card on paper.
#[derive(Debug, Clone, PartialEq)]
pub struct Printed {
    /// The pages.
    pub document: Document,
    /// Where each sheet lies, in the card's order.
    pub placed: Vec<Placed>,
}

/// Puts a card on paper. The date is printed beside the identity.
pub fn print(card: &Card, paper: Paper, date: Option<Date>) -> Printed {
    let mut pages = Vec::new();
    let mut placed = Vec::new();
    for sheet in &card.sheets {
        let (made, mut place) = sheet_pages(card, sheet, paper, date);
        place.page += pages.len();
        place.strips_page = place.strips_page.map(|page| page + pages.len());
        pages.extend(made);
        placed.push(place);
    }
    let title = format!("Target card for a field of {}", words::field(card.field_mm));
    Printed { document: Document { title, language: "en".into(), date, pages }, placed }
}

/// What is laid below the field, piece by piece.
struct Flow<'a> {
    pages: Vec<Page>,
    size: [f64; 2],
    y: f64,
    sheet: &'a Sheet,
}

impl Flow<'_> {
    fn width(&self) -> f64 {
        self.size[0] - 2.0 * MARGIN
    }

    /// Room for a piece: on this page, or on a new one.
    fn room(&mut self, height: f64) -> (&mut Page, f64) {
        let lowest = self.size[1] - Paper::BORDER_MM - 1.0;
        if self.y + height > lowest {
            let mut page = Page::new(self.size);
            let text =
                format!("Target card: more for the sheet “{}”, print {}", self.sheet.part.name(), self.sheet.identity);
            self.y = page.set(Role::Heading(2), [MARGIN, TOP], self.width(), Style::bold(10.0), &text) + 3.0;
            self.pages.push(page);
        }
        let top = self.y;
        self.y += height + 4.0;
        let last = self.pages.len() - 1;
        (&mut self.pages[last], top)
    }
}

fn sheet_pages(card: &Card, sheet: &Sheet, paper: Paper, date: Option<Date>) -> (Vec<Page>, Placed) {
    let size = paper.size_mm();
    let mut page = Page::new(size);
    let check_mm = head(&mut page, card, sheet, paper, date);
    let middle = [size[0] / 2.0, FIELD_TOP + sheet.size_mm[1] / 2.0];
    field::draw(&mut page, sheet, middle);
    let mut flow = Flow { pages: vec![page], size, y: FIELD_TOP + sheet.size_mm[1] + 5.8, sheet };
    instructions(&mut flow, card);
    drawings(&mut flow, card);
    let strips_page = strips::lay(&mut flow);
    let placed = Placed { part: sheet.part, page: 1, middle_mm: middle, check_mm, strips_page };
    (flow.pages, placed)
}

/// Title at the left, the line to measure at the right; gives the line's left end.
fn head(page: &mut Page, card: &Card, sheet: &Sheet, paper: Paper, date: Option<Date>) -> Place {
    let left = page.size_mm[0] - MARGIN - CHECK_MM;
    let room = left - MARGIN - 4.0;
    let mut y = page.set(Role::Heading(1), [MARGIN, TOP], room, Style::bold(13.0), "Target card");
    y = page.set(
        Role::Paragraph,
        [MARGIN, y],
        room,
        Style::bold(9.0),
        &format!("for a field of {}", words::field(card.field_mm)),
    );
    let made = date.map(|date| format!(", made {date}")).unwrap_or_default();
    let text =
        format!("Sheet “{}”, print {}, for {} paper{made}", sheet.part.name(), sheet.identity, words::paper(paper));
    page.set(Role::Paragraph, [MARGIN, y + 0.5], room, BODY, &text);

    let bold = Style::bold(7.2);
    let text = "Print at 100 %, no fitting. This line must measure 100.0 mm:";
    let y = page.set(Role::Paragraph, [left, TOP], CHECK_MM, bold, text) + 2.6;
    let line = page.block(Role::Drawing("A line of 100.0 mm between two marks.".into()));
    line.line([[left, y], [left + CHECK_MM, y]], Pen::solid(0.2, Grey::BLACK));
    for x in [left, left + CHECK_MM] {
        line.line([[x, y - 2.0], [x, y + 2.0]], Pen::solid(0.1, Grey::BLACK));
    }
    let text = "If it measures something else, type what it measures where the scan is measured: every length is then put right.";
    page.set(Role::Paragraph, [left, y + 2.8], CHECK_MM, SMALL, text);
    [left, y]
}

/// Numbered, in two columns of about the same height.
fn instructions(flow: &mut Flow<'_>, card: &Card) {
    let pieces = words::instructions(card, flow.sheet);
    let column = (flow.width() - 6.0) / 2.0;
    let indent = 4.0;
    let height = |(_, text): &(String, String)| Page::height_of(text, column - indent, BODY) + 0.8;
    let whole: f64 = pieces.iter().map(height).sum();
    let mut left_side = 0;
    let mut filled = 0.0;
    while left_side < pieces.len() && filled + height(&pieces[left_side]) / 2.0 <= whole / 2.0 {
        filled += height(&pieces[left_side]);
        left_side += 1;
    }
    let (page, top) = flow.room(filled.max(whole - filled));
    for (index, side) in [&pieces[..left_side], &pieces[left_side..]].into_iter().enumerate() {
        let x = MARGIN + index as f64 * (column + 6.0);
        let mut y = top;
        for (mark, text) in side {
            let style = if mark == "!" { Style::bold(BODY.size_pt) } else { BODY };
            // The number is part of the paragraph that it begins.
            let below = page.set(Role::Paragraph, [x + indent, y], column - indent, style, text);
            let block = page.blocks.last_mut().expect("was just set");
            let base = match block.shapes.first() {
                Some(crate::Shape::Words(words)) => words.at[1],
                _ => y,
            };
            block.words([x, base], format!("{mark} "), Style::bold(BODY.size_pt));
            let last = block.shapes.len() - 1;
            block.shapes.swap(0, last);
            block.shapes[1..].rotate_right(1);
            y = below + 0.8;
        }
    }
}

/// What is what; where to lay the sheets; how a ramp stands.
fn drawings(flow: &mut Flow<'_>, card: &Card) {
    let sheet = flow.sheet;
    let column = (flow.width() - 6.0) / 2.0;
    let several = card.sheets.len() > 1;
    let ramps = sheet.ramps().next().is_some();
    let key_height = key::height(sheet, column);
    let map_height = if several { map::height(card, column) } else { 0.0 };
    if several {
        let (page, top) = flow.room(key_height.max(map_height));
        key::draw(page, sheet, [MARGIN, top], column);
        map::draw(page, card, sheet, [MARGIN + column + 6.0, top], column);
        if ramps {
            let (page, top) = flow.room(strips::how_height(sheet, 2.0 * column));
            strips::how(page, sheet, [MARGIN, top], 2.0 * column);
        }
    } else {
        let beside = if ramps { strips::how_height(sheet, column) } else { 0.0 };
        let (page, top) = flow.room(key_height.max(beside));
        key::draw(page, sheet, [MARGIN, top], column);
        if ramps {
            strips::how(page, sheet, [MARGIN + column + 6.0, top], column);
        }
    }
}
