//! What is what: the sheet drawn small (or, for a small field, large), its parts named by letters.

use target::{Mark, Sheet};

use crate::card::{BODY, HAIR, HEAD, SMALL, words};
use crate::page::{Block, Grey, Page, Pen, Place, Role, Style};

const SIDE: f64 = 40.0;
const TINT: Grey = Grey(200);

pub fn height(sheet: &Sheet, width: f64) -> f64 {
    let [w, h] = drawn(sheet);
    let text: f64 =
        words::parts(sheet).iter().map(|(_, text)| Page::height_of(text, width - w - 7.0, SMALL) + 0.5).sum();
    HEAD.line_mm() + 1.5 + h.max(text)
}

fn scale(sheet: &Sheet) -> f64 {
    SIDE / sheet.size_mm[0].max(sheet.size_mm[1])
}

fn drawn(sheet: &Sheet) -> [f64; 2] {
    sheet.size_mm.map(|side| side * scale(sheet))
}

pub fn draw(page: &mut Page, sheet: &Sheet, [left, top]: Place, width: f64) {
    let top = page.set(Role::Heading(2), [left, top], width, HEAD, "What is what") + 1.5;
    let [w, h] = drawn(sheet);
    let scale = scale(sheet);
    let block = page.block(Role::Drawing("The sheet in outline, its parts named by letters.".into()));
    block.frame([left, top], [w, h], HAIR);
    let middle = [left + w / 2.0, top + h / 2.0];
    let on = |[x, y]: Place| [middle[0] + x * scale, middle[1] + y * scale];
    for mark in &sheet.marks {
        sketch(block, mark, on, scale);
    }
    letters(block, sheet, on, scale);
    let mut y = top;
    for (letter, text) in words::parts(sheet) {
        let x = left + w + 3.0;
        let below = page.set(Role::Paragraph, [x + 4.0, y], width - w - 7.0, SMALL, text);
        let block = page.blocks.last_mut().expect("was just set");
        let base = y + 0.98 * SMALL.size_pt / crate::PT_PER_MM;
        block.words([x, base], format!("{letter} "), Style::bold(SMALL.size_pt));
        block.shapes.rotate_right(1);
        y = below + 0.5;
    }
}

fn sketch(block: &mut Block, mark: &Mark, on: impl Fn(Place) -> Place, scale: f64) {
    let framed = |block: &mut Block, centre: Place, size: [f64; 2], pen: Pen| {
        let [x, y] = on(centre);
        let [w, h] = size.map(|side| side * scale);
        block.frame([x - w / 2.0, y - h / 2.0], [w, h], pen);
    };
    let filled = |block: &mut Block, centre: Place, size: [f64; 2], grey: Grey| {
        let [x, y] = on(centre);
        let [w, h] = size.map(|side| side * scale);
        block.rectangle([x - w / 2.0, y - h / 2.0], [w, h], grey);
    };
    let dashed = Pen::broken(0.12, Grey::BLACK, 0.7, 0.5);
    match mark {
        Mark::Code(code) => framed(block, code.centre, [code.side_mm; 2], HAIR),
        Mark::Square(square) => block.area(square.corners().map(&on), TINT),
        Mark::Ruler(ruler) => block.line([on(ruler.first), on(ruler.last)], Pen::broken(0.9, Grey::BLACK, 0.15, 0.6)),
        Mark::Step(step) => filled(block, step.centre, step.size_mm, Grey(225 - 28 * step.number.min(6) as u8)),
        Mark::Trap(trap) => filled(block, trap.centre, [trap.side_mm; 2], Grey::BLACK),
        Mark::Ramp(ramp) => framed(block, ramp.centre, [ramp.width_mm, ramp.length_mm], dashed),
        Mark::Rule(rule) => framed(block, rule.centre, [rule.width_mm, rule.length_mm], dashed),
        Mark::GreyScale(place) => framed(block, place.centre, place.size_mm, dashed),
        Mark::Blade(blade) => {
            let back = |[x, y]: Place| [x - blade.outward[0] * blade.cover_mm, y - blade.outward[1] * blade.cover_mm];
            let [a, b] = blade.ends;
            block.line([a, back(a), back(b), b].map(&on), dashed);
        }
    }
}

/// Each part's letter in it or beside it.
fn letters(block: &mut Block, sheet: &Sheet, on: impl Fn(Place) -> Place, scale: f64) {
    let style = Style::bold(BODY.size_pt);
    let mut put = |centre: Place, by: [f64; 2], letter: &str, grey: Grey| {
        let [x, y] = on(centre);
        block.words_about([x + by[0], y + by[1]], letter, Style { grey, ..style });
    };
    for mark in &sheet.marks {
        let letter = words::letter(mark);
        // Six steps in a row need one letter.
        if matches!(mark, Mark::Step(step) if step.number > 1) {
            continue;
        }
        match mark {
            Mark::Code(code) => put(code.centre, [0.0, 0.0], letter, Grey::BLACK),
            Mark::Square(square) => put(square.centre, [0.0, 0.0], letter, Grey::BLACK),
            Mark::Ruler(ruler) if ruler.name == "level" => put(ruler.first, [1.3, -2.0], letter, Grey::BLACK),
            Mark::Ruler(ruler) => put(ruler.first, [0.0, -1.8], letter, Grey::BLACK),
            Mark::Step(step) => put(step.centre, [-2.3, 0.0], letter, Grey::BLACK),
            Mark::Trap(trap) => put(trap.centre, [-trap.side_mm * scale / 2.0 - 1.3, 0.0], letter, Grey::BLACK),
            Mark::Ramp(ramp) => put(ramp.centre, [0.0, 0.0], letter, Grey::BLACK),
            Mark::Rule(rule) => put(rule.centre, [0.0, 0.0], letter, Grey::BLACK),
            Mark::GreyScale(place) => put(place.centre, [0.0, 0.0], letter, Grey::BLACK),
            Mark::Blade(blade) => {
                let [a, b] = blade.ends;
                let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
                let back = [-0.5, -0.5].map(|share| share * blade.cover_mm * scale);
                put(middle, [blade.outward[0] * back[0], blade.outward[1] * back[1]], letter, Grey::BLACK);
            }
        }
    }
}
