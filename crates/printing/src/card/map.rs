//! Where to lay the sheets of a large field.

use target::{Card, Sheet};

use crate::card::{BODY, HAIR, HEAD, SMALL, words};
use crate::page::{Grey, Page, Place, Role, Style};

const SIDE: f64 = 40.0;

fn drawn(card: &Card) -> ([f64; 2], f64) {
    let scale = SIDE / card.field_mm[0].max(card.field_mm[1]);
    (card.field_mm.map(|side| side * scale), scale)
}

pub fn height(card: &Card, width: f64) -> f64 {
    let ([w, h], _) = drawn(card);
    let text: f64 = card
        .sheets
        .iter()
        .map(|sheet| Page::height_of(&words::where_to(card, sheet), width - w - 3.0, BODY))
        .fold(0.0, f64::max);
    HEAD.line_mm() + 1.5 + h.max(text)
}

pub fn draw(page: &mut Page, card: &Card, here: &Sheet, [left, top]: Place, width: f64) {
    let top = page.set(Role::Heading(2), [left, top], width, HEAD, "Where to lay this sheet") + 1.5;
    let ([w, h], scale) = drawn(card);
    let block = page.block(Role::Drawing(format!(
        "The field with its five sheets in the middle and the corners; this one, {}, is tinted.",
        here.part.name()
    )));
    block.frame([left, top], [w, h], HAIR);
    let middle = [left + w / 2.0, top + h / 2.0];
    for sheet in &card.sheets {
        let size = sheet.size_mm.map(|side| side * scale);
        let at = [0, 1].map(|axis| middle[axis] + sheet.offset_mm[axis] * scale - size[axis] / 2.0);
        if sheet.part == here.part {
            block.rectangle(at, size, Grey(200));
        }
        block.frame(at, size, HAIR);
        let style = Style::plain(5.0);
        let mut y = at[1] + size[1] / 2.0 - (sheet.part.name().split(' ').count() as f64 - 1.0);
        for word in sheet.part.name().split(' ') {
            block.words_about([at[0] + size[0] / 2.0, y], word, style);
            y += 2.0;
        }
    }
    let text = words::where_to(card, here);
    page.set(Role::Paragraph, [left + w + 3.0, top], width - w - 3.0, SMALL, &text);
}
