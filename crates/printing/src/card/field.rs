//! The sheet itself, every mark where the layout says.

use target::{Blade, Code, Mark, Ruler, Sheet, Square, dots};

use crate::card::grey_of;
use crate::page::{Block, Grey, Page, Pen, Place, Role, Style, rectangle};

/// Left, top, right, bottom; mm on the sheet.
type Span = [f64; 4];

/// To be cut along; finer on a small sheet.
fn cut(sheet: &Sheet) -> Pen {
    let share = (sheet.size_mm[0].min(sheet.size_mm[1]) / 60.0).clamp(0.4, 1.0);
    Pen::broken(0.1 * share, Grey(110), 0.8 * share, 0.5 * share)
}

const HINT: Pen = Pen::solid(0.1, Grey(110));

pub fn draw(page: &mut Page, sheet: &Sheet, middle: Place) {
    corners(page.block(Role::Decoration), sheet, middle);
    let block = page.block(Role::Drawing(in_words(sheet)));
    let on = |[x, y]: Place| [middle[0] + x, middle[1] + y];
    let pen = cut(sheet);
    for mark in &sheet.marks {
        match mark {
            Mark::Code(code) => draw_code(block, code, middle),
            Mark::Square(square) => block.area(square.corners().map(on), Grey::BLACK),
            Mark::Ruler(ruler) => draw_ruler(block, sheet, ruler, middle),
            Mark::Step(step) => boxed(block, on(step.centre), step.size_mm, grey_of(step.reflectance)),
            Mark::Trap(trap) => {
                boxed(block, on(trap.centre), [trap.side_mm; 2], Grey::BLACK);
                cut_hint(block, on(trap.centre), trap.side_mm);
            }
            Mark::Ramp(ramp) => dashed(block, on(ramp.centre), [ramp.width_mm, ramp.length_mm], pen),
            Mark::Blade(blade) => draw_blade(block, blade, middle, pen),
            Mark::Rule(rule) => dashed(block, on(rule.centre), [rule.width_mm, rule.length_mm], pen),
            Mark::GreyScale(scale) => dashed(block, on(scale.centre), scale.size_mm, pen),
        }
    }
}

fn in_words(sheet: &Sheet) -> String {
    format!(
        "The sheet at true scale: {} slanted squares, four codes in the corners, two rulers, a black trap{}.",
        sheet.squares().count(),
        if sheet.ramps().next().is_some() {
            ", six grey steps and four windows for ramps"
        } else {
            ", places for a grey scale, a steel rule and two blades"
        }
    )
}

/// Where to cut: two short lines at each corner, outside the sheet, so that no border lies in the picture.
fn corners(block: &mut Block, sheet: &Sheet, middle: Place) {
    let half = sheet.size_mm.map(|side| side / 2.0);
    for [sx, sy] in [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]] {
        let [x, y] = [middle[0] + sx * half[0], middle[1] + sy * half[1]];
        block.line([[x + sx * 1.5, y], [x + sx * 5.0, y]], HINT);
        block.line([[x, y + sy * 1.5], [x, y + sy * 5.0]], HINT);
    }
}

fn boxed(block: &mut Block, [x, y]: Place, [w, h]: [f64; 2], grey: Grey) {
    block.rectangle([x - w / 2.0, y - h / 2.0], [w, h], grey);
}

/// The outline lies within the box, so that nothing of it lies outside.
fn dashed(block: &mut Block, [x, y]: Place, [w, h]: [f64; 2], pen: Pen) {
    let inset = pen.width_mm;
    block.frame([x - w / 2.0 + inset / 2.0, y - h / 2.0 + inset / 2.0], [w - inset, h - inset], pen);
}

/// Short lines that go on from the trap's sides: where to cut.
fn cut_hint(block: &mut Block, [x, y]: Place, side: f64) {
    let (from, to) = (side * 0.58, side * 0.70);
    let half = side / 2.0;
    for s in [-1.0, 1.0] {
        for t in [-1.0, 1.0] {
            block.line([[x + s * from, y + t * half], [x + s * to, y + t * half]], HINT);
            block.line([[x + t * half, y + s * from], [x + t * half, y + s * to]], HINT);
        }
    }
}

/// Every row's runs of dark modules in one area: no seam shows between neighbours.
fn draw_code(block: &mut Block, code: &Code, middle: Place) {
    let dots = dots(&code.text);
    let module = code.side_mm / dots.side as f64;
    let [left, top] = [0, 1].map(|axis| middle[axis] + code.centre[axis] - code.side_mm / 2.0);
    let mut runs = Vec::new();
    for (row, line) in dots.dark.chunks(dots.side).enumerate() {
        let mut column = 0;
        while column < line.len() {
            let dark = line[column..].iter().take_while(|dark| **dark).count();
            if dark > 0 {
                let at = [left + column as f64 * module, top + row as f64 * module];
                runs.push(rectangle(at, [dark as f64 * module, module]));
            }
            column += dark.max(1);
        }
    }
    block.areas(runs, Grey::BLACK);
}

fn draw_ruler(block: &mut Block, sheet: &Sheet, ruler: &Ruler, middle: Place) {
    let level = ruler.name == "level";
    let ticks = (0..ruler.ticks).map(|number| {
        let ([x, y], length) = ruler.tick(number);
        let [w, h] = if level { [ruler.line_mm, length] } else { [length, ruler.line_mm] };
        rectangle([middle[0] + x - w / 2.0, middle[1] + y - h / 2.0], [w, h])
    });
    block.areas(ticks.collect(), Grey::BLACK);
    numbers(block, sheet, ruler, middle);
}

/// Millimetres from the first tick, beside every tenth one where nothing is disturbed by it; none on a card so small that
/// they could not be printed.
fn numbers(block: &mut Block, sheet: &Sheet, ruler: &Ruler, middle: Place) {
    let short = sheet.size_mm[0].min(sheet.size_mm[1]);
    let high = 0.011 * short.min(130.0);
    if high < 0.5 {
        return;
    }
    let style = Style { grey: Grey(110), ..Style::plain(high / 0.729 * crate::PT_PER_MM) };
    let level = ruler.name == "level";
    let gap = ruler.lengths_mm[2] / 2.0 + 0.004 * short;
    for number in (0..ruler.ticks).step_by(10) {
        let ([x, y], _) = ruler.tick(number);
        let text = format!("{}", (number as f64 * ruler.tick_mm).round());
        let wide = style.width_mm(&text);
        let at = if level { [x, y + gap + high / 2.0] } else { [x + gap + wide / 2.0, y] };
        let span = [at[0] - wide / 2.0, at[1] - high / 2.0, at[0] + wide / 2.0, at[1] + high / 2.0];
        if clear(sheet, span) {
            block.words_about([middle[0] + at[0], middle[1] + at[1]], &text, style);
        }
    }
}

/// Three sides of the part that the blade covers; the fourth, where its edge comes to lie, stays free of ink.
fn draw_blade(block: &mut Block, blade: &Blade, middle: Place, pen: Pen) {
    let on = |[x, y]: Place| [middle[0] + x, middle[1] + y];
    let back = |[x, y]: Place| [x - blade.outward[0] * blade.cover_mm, y - blade.outward[1] * blade.cover_mm];
    let [a, b] = blade.ends;
    block.line([a, back(a), back(b), b].map(on), pen);
}

/// Whether that part of the sheet lies within it and touches no mark and no white that a mark needs.
pub fn clear(sheet: &Sheet, span: Span) -> bool {
    let [w, h] = sheet.size_mm.map(|side| side / 2.0);
    let within = span[0] > -w && span[2] < w && span[1] > -h && span[3] < h;
    within && sheet.marks.iter().all(|mark| apart(span, needed(mark)))
}

fn apart(a: Span, b: Span) -> bool {
    a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1]
}

/// A box that holds a mark and the white round it.
fn needed(mark: &Mark) -> Span {
    let about = |[x, y]: Place, w: f64, h: f64| [x - w / 2.0, y - h / 2.0, x + w / 2.0, y + h / 2.0];
    match mark {
        // ISO/IEC 18004 asks for a quiet zone of four modules.
        Mark::Code(code) => about(code.centre, code.side_mm * 29.0 / 21.0, code.side_mm * 29.0 / 21.0),
        Mark::Square(square) => around_square(square),
        Mark::Ruler(ruler) => {
            let longest = ruler.lengths_mm[2];
            let [dx, dy] = if ruler.name == "level" { [ruler.line_mm, longest] } else { [longest, ruler.line_mm] };
            let [[ax, ay], [bx, by]] = [ruler.first, ruler.last];
            [ax.min(bx) - dx / 2.0, ay.min(by) - dy / 2.0, ax.max(bx) + dx / 2.0, ay.max(by) + dy / 2.0]
        }
        Mark::Step(step) => about(step.centre, step.size_mm[0], step.size_mm[1]),
        Mark::Trap(trap) => about(trap.centre, 1.4 * trap.side_mm, 1.4 * trap.side_mm),
        Mark::Ramp(ramp) => about(ramp.centre, ramp.width_mm, ramp.length_mm),
        Mark::Rule(rule) => about(rule.centre, rule.width_mm, rule.length_mm),
        Mark::GreyScale(scale) => about(scale.centre, scale.size_mm[0], scale.size_mm[1]),
        Mark::Blade(blade) => {
            let [[ax, ay], [bx, by]] = blade.ends;
            let cover = blade.cover_mm;
            [ax.min(bx) - cover, ay.min(by) - cover, ax.max(bx) + cover, ay.max(by) + cover]
        }
    }
}

fn around_square(square: &Square) -> Span {
    let corners = square.corners();
    let reach = |axis: usize| {
        let along = corners.map(|corner| corner[axis]);
        (along.into_iter().fold(f64::MAX, f64::min), along.into_iter().fold(f64::MIN, f64::max))
    };
    let ((left, right), (top, bottom)) = (reach(0), reach(1));
    let free = square.free_mm;
    [left - free, top - free, right + free, bottom + free]
}
