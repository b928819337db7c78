//! The ramps: strips to cut out, and how one stands in its window.
//!
//! A strip is folded to a wedge: the ramp itself slopes at the layout's angle from the base to its full height, a leg goes
//! straight down from its upper end, and a foot at either end is folded inwards and glued. With the sheet lifted by half the wedge's
//! height the middle of the ramp, its mark, is level with the sheet.

use target::{Part, Ramp, Sheet};

use crate::card::{BODY, Flow, HAIR, HEAD, MARGIN, words};
use crate::page::{Block, Grey, Page, Pen, Place, Role, Style, rectangle};

/// The strip is that much narrower than its window, mm, so that it does not touch.
const PLAY_MM: f64 = 0.4;
const CUT: Pen = Pen::solid(0.1, Grey(110));

/// The parts of a strip along its length.
struct Strip {
    foot: f64,
    ramp: f64,
    leg: f64,
    wide: f64,
}

impl Strip {
    fn of(ramp: &Ramp) -> Self {
        let sloping = ramp.strip_mm();
        let leg = ramp.height_mm(sloping);
        Self { foot: (0.45 * ramp.length_mm).min(8.0), ramp: sloping, leg, wide: ramp.width_mm - PLAY_MM }
    }

    fn length(&self) -> f64 {
        2.0 * self.foot + self.ramp + self.leg
    }
}

/// Between strips, mm: for words and marks.
const BETWEEN: f64 = 6.0;

/// Lays the strips and says on which page.
pub fn lay(flow: &mut Flow<'_>) -> Option<usize> {
    let sheet = flow.sheet;
    let strip = Strip::of(sheet.ramps().next()?);
    let across = (((flow.width() + 6.0) / (strip.length() + 6.0)).floor() as usize).clamp(1, 2);
    let rows = sheet.ramps().count().div_ceil(across);
    let width = flow.width();
    let (page, top) = flow.room(HEAD.line_mm() + rows as f64 * (strip.wide + BETWEEN));
    let title = "The strips: cut along the outline, fold at the ticks; triangles point at the mark";
    let top = page.set(Role::Heading(2), [MARGIN, top], width, HEAD, title);
    let alt =
        format!("Four strips of {} mm, each with bars and a white gap as its mark.", words::tenths(strip.length()));
    let block = page.block(Role::Drawing(alt));
    for (index, ramp) in sheet.ramps().enumerate() {
        let x = MARGIN + (index % across) as f64 * (strip.length() + 6.0);
        let y = top + (index / across) as f64 * (strip.wide + BETWEEN) + 4.0;
        draw(block, sheet, ramp, &Strip::of(ramp), [x, y]);
    }
    Some(flow.pages.len())
}

/// One strip lying along the page, its upper end at the right.
fn draw(block: &mut Block, sheet: &Sheet, ramp: &Ramp, strip: &Strip, [x, y]: Place) {
    let mark = x + strip.foot + strip.ramp / 2.0;
    let bars = ramp.bars().into_iter().map(|along| {
        let wide = ramp.bar_mm / 2.0;
        rectangle([mark + along - wide / 2.0, y], [wide, strip.wide])
    });
    block.areas(bars.collect(), Grey::BLACK);
    block.frame([x, y], [strip.length(), strip.wide], CUT);
    let folds = [strip.foot, strip.foot + strip.ramp, strip.foot + strip.ramp + strip.leg];
    for fold in folds {
        for (from, to) in [(-1.2, 0.0), (strip.wide, strip.wide + 1.2)] {
            block.line([[x + fold, y + from], [x + fold, y + to]], HAIR);
        }
    }
    for (tip, back) in [(y - 0.2, -1.4), (y + strip.wide + 0.2, 1.4)] {
        block.area([[mark, tip], [mark - 0.7, tip + back], [mark + 0.7, tip + back]], Grey::BLACK);
    }
    let style = Style::plain(5.0);
    let level = y + strip.wide / 2.0;
    for (from, to, text) in [(0.0, folds[0], "foot"), (folds[1], folds[2], "leg"), (folds[2], strip.length(), "foot")] {
        block.words_about([x + (from + to) / 2.0, level], text, style);
    }
    let name = match sheet.part {
        Part::Whole => String::new(),
        part => format!("sheet “{}”, ", part.name()),
    };
    block.words([x, y - 2.0], format!("{name}window “{}”", ramp.name), style);
}

const DRAWN: [f64; 2] = [58.0, 33.0];

/// Height of the explanation.
pub fn how_height(sheet: &Sheet, width: f64) -> f64 {
    let Some(ramp) = sheet.ramps().next() else { return 0.0 };
    let text = words::ramp_steps(ramp);
    let beside = width > 120.0;
    let room = if beside { width - DRAWN[0] - 4.0 } else { width };
    let words: f64 = text.iter().map(|text| Page::height_of(text, room - 4.0, BODY) + 0.4).sum();
    HEAD.line_mm() + 1.0 + if beside { words.max(DRAWN[1]) } else { words + DRAWN[1] }
}

/// How a ramp stands: seen from the side, and step by step.
pub fn how(page: &mut Page, sheet: &Sheet, [left, top]: Place, width: f64) {
    let Some(ramp) = sheet.ramps().next() else { return };
    let top = page.set(Role::Heading(2), [left, top], width, HEAD, "How a ramp stands in its window (e)") + 1.0;
    side_view(page, ramp, [left, top]);
    let beside = width > 120.0;
    let (x, mut y) = if beside { (left + DRAWN[0] + 4.0, top) } else { (left, top + DRAWN[1]) };
    let room = left + width - x;
    for (index, text) in words::ramp_steps(ramp).iter().enumerate() {
        let below = page.set(Role::Paragraph, [x + 4.0, y], room - 4.0, BODY, text);
        let block = page.blocks.last_mut().expect("was just set");
        let base = y + 0.98 * BODY.size_pt / crate::PT_PER_MM;
        block.words([x, base], format!("{} ", index + 1), Style::bold(BODY.size_pt));
        block.shapes.rotate_right(1);
        y = below + 0.4;
    }
}

fn side_view(page: &mut Page, ramp: &Ramp, [left, top]: Place) {
    let lift = words::lift(ramp);
    let block = page.block(Role::Drawing(format!(
        "From the side: the sheet on blocks of {lift}, the ramp rising through its window at 45 degrees, its mark level with the sheet."
    )));
    let at = |x: f64, y: f64| [left + x, top + y];
    let (base, sheet, high) = (30.0, 19.0, 8.0);
    let (foot, leg) = (22.0, 44.0);
    let thick = Pen::solid(0.45, Grey::BLACK);
    // Table, blocks, sheet with its window.
    block.line([at(2.0, base), at(56.0, base)], HAIR);
    for (x, w) in [(4.0, 13.0), (48.0, 8.0)] {
        block.rectangle(at(x, sheet + 0.5), [w, base - sheet - 0.5], Grey(225));
        block.frame(at(x, sheet + 0.5), [w, base - sheet - 0.5], HAIR);
    }
    block.line([at(2.0, sheet), at(foot, sheet)], thick);
    block.line([at(leg, sheet), at(57.0, sheet)], thick);
    // The wedge with its feet turned inwards.
    let wedge = [
        at(foot + 8.0, base - 0.4),
        at(foot, base - 0.4),
        at(leg, high),
        at(leg, base - 0.4),
        at(leg - 8.0, base - 0.4),
    ];
    block.line(wedge, Pen::solid(0.3, Grey::BLACK));
    let middle = (foot + leg) / 2.0;
    block.area([at(middle, sheet), at(middle - 2.2, sheet - 0.9), at(middle - 2.2, sheet + 0.9)], Grey::BLACK);
    let style = Style::plain(5.6);
    block.words(at(8.0, sheet - 1.2), "sheet", style);
    block.words(at(15.0, sheet - 5.0), "mark, level with it", style);
    block.line([at(middle - 4.0, sheet - 4.4), at(middle - 1.6, sheet - 1.0)], HAIR);
    block.words(at(foot + 6.2, base - 1.3), "45°", style);
    block.words(at(leg + 1.0, high + 4.0), "leg", style);
    // How thick the blocks are.
    block.line([at(5.5, sheet + 0.7), at(5.5, base - 0.2)], HAIR);
    for (y, back) in [(sheet + 0.7, 1.2), (base - 0.2, -1.2)] {
        block.area([at(5.5, y), at(5.1, y + back), at(5.9, y + back)], Grey::BLACK);
    }
    block.words(at(6.8, sheet + 6.2), lift, style);
    // To the camera.
    let x = 33.0;
    block.line([at(x, 6.0), at(x, 2.0)], HAIR);
    block.area([at(x, 0.6), at(x - 0.7, 2.4), at(x + 0.7, 2.4)], Grey::BLACK);
    block.words(at(x + 1.6, 3.6), "to the camera", style);
}
