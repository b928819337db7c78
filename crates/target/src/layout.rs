//! What lies where.
//!
//! Places are given in shares of the sheet's shorter side, from its middle. On a sheet that is longer than high, what
//! belongs to the border keeps its distance from the border, and what lies further in moves outwards in proportion.
//!
//! ```text
//!   ◆  code     ■     code  ◆      ◆ ■ squares, their sides along and across the radius, 5° off
//!   ramp   │                ramp
//!          │  ◆  ■  ◆   greys
//!   ■      │  ■  ■  ■       ■
//!          │ ─────────────────     rulers
//!   ramp   │  ◆  ■  ◆  trap ramp
//!   ◆  code     ■     code  ◆
//! ```
//!
//! There is no fifth ramp in the middle, which would tell a curved sharp surface from one that lies higher: the four ramps have one
//! distance from the middle (0.47 of the shorter side), so that they tell a height and two tilts and no more. Between the middle square, whose
//! corners and white reach out to 0.075, and the inner squares, which begin at 0.125, lies 0.05 of the shorter side; a window takes 0.07 × 0.21,
//! and a strip that stands in it is seen up to half its width beside it. A window beside the inner squares would cut the rulers or the
//! greys, and cut out of the middle it would take the mark on which one focuses. The squares take its part: how sharp they are beside
//! the ramps' own focus tells a curved surface, best on a card that leans by a degree or two. A card of five sheets has ramps at five
//! distances and tells the curvature by them.

use crate::code::{CodeText, Corner, Identity};
use crate::mark::{Blade, Code, GreyScale, Mark, Ramp, Rule, Ruler, Square, Step, Trap, Zone};
use crate::sheet::{Part, SMALLEST_PRINTED_GREYS_MM, Sheet};

const SQUARE: f64 = 0.075;
const FREE: f64 = 0.022;
const OUTER: f64 = 0.43;
const INNER: f64 = 0.20;
const INNER_DIAGONAL: f64 = 0.19;
const SLANT_DEG: f64 = 5.0;

const CODE: f64 = 0.13;
/// A module below this is two dots of an office printer and no longer square.
const SMALLEST_MODULE_MM: f64 = 3.0 / 21.0;
const LARGEST_CODE: f64 = 0.20;
const CODE_LOWER_EDGE: f64 = 0.485;

const SIDEWAYS: f64 = 0.425;
const UPWARDS: f64 = 0.205;
const WINDOW: [f64; 2] = [0.07, 0.21];
const SLOPE_DEG: f64 = 45.0;

/// Six steps, each half of the one before, from just below paper white.
const STEPS: [f64; 6] = [0.64, 0.32, 0.16, 0.08, 0.06, 0.045];

struct Plan {
    size: [f64; 2],
    short: f64,
    offset: [f64; 2],
    field: [f64; 2],
}

impl Plan {
    fn at(&self, x: f64, y: f64) -> [f64; 2] {
        [self.along(0, x), self.along(1, y)]
    }

    fn along(&self, axis: usize, share: f64) -> f64 {
        // What lies beyond 0.27 keeps its distance from the border.
        if share.abs() > 0.27 {
            share.signum() * (self.size[axis] / 2.0 - (0.5 - share.abs()) * self.short)
        } else {
            share * self.size[axis]
        }
    }

    fn on_field(&self, place: [f64; 2]) -> [f64; 2] {
        [place[0] + self.offset[0], place[1] + self.offset[1]]
    }
}

pub fn sheet(field_mm: [f64; 2], part: Part, identity: Identity) -> Sheet {
    let field_short = field_mm[0].min(field_mm[1]);
    let size = match part {
        Part::Whole => field_mm,
        _ => [(0.32 * field_short).max(SMALLEST_PRINTED_GREYS_MM.min(0.45 * field_short)); 2],
    };
    let signs = part.signs();
    let offset = [0, 1].map(|axis| signs[axis] * (field_mm[axis] - size[axis]) / 2.0);
    let plan = Plan { size, short: size[0].min(size[1]), offset, field: field_mm };
    let mut marks = Vec::new();
    codes(&plan, part, identity, &mut marks);
    squares(&plan, &mut marks);
    rulers(&plan, &mut marks);
    marks.push(Mark::Trap(Trap { centre: plan.at(0.31, UPWARDS), side_mm: 0.055 * plan.short }));
    if plan.short >= SMALLEST_PRINTED_GREYS_MM {
        steps(&plan, &mut marks);
        ramps(&plan, &mut marks);
    } else {
        stuck_on(&plan, &mut marks);
    }
    Sheet { part, size_mm: size, offset_mm: offset, field_mm, identity, marks }
}

fn codes(plan: &Plan, part: Part, identity: Identity, marks: &mut Vec<Mark>) {
    let side = (CODE * plan.short).max((21.0 * SMALLEST_MODULE_MM).min(LARGEST_CODE * plan.short));
    // The quiet zone of four modules ends where the corner's square, turned by about 45 degrees, begins.
    let square_begins = OUTER - SQUARE * std::f64::consts::FRAC_1_SQRT_2;
    let from_middle = |axis: usize, share: f64, back: f64| plan.size[axis] / 2.0 - (0.5 - share) * plan.short - back;
    let x = from_middle(0, square_begins, side * (4.0 / 21.0 + 0.5));
    let y = from_middle(1, CODE_LOWER_EDGE, side / 2.0);
    for corner in Corner::ALL {
        let signs = corner.signs();
        let field_tenths = plan.field.map(|length| (length * 10.0).round() as u32);
        let text = CodeText { field_tenths, part, corner, identity };
        marks.push(Mark::Code(Code { text, centre: [signs[0] * x, signs[1] * y], side_mm: side }));
    }
}

const PLACES: [(&str, f64, f64); 17] = [
    ("centre", 0.0, 0.0),
    ("inner left", -INNER, 0.0),
    ("inner right", INNER, 0.0),
    ("inner top", 0.0, -INNER),
    ("inner bottom", 0.0, INNER),
    ("inner top left", -INNER_DIAGONAL, -INNER_DIAGONAL),
    ("inner top right", INNER_DIAGONAL, -INNER_DIAGONAL),
    ("inner bottom left", -INNER_DIAGONAL, INNER_DIAGONAL),
    ("inner bottom right", INNER_DIAGONAL, INNER_DIAGONAL),
    ("left", -OUTER, 0.0),
    ("right", OUTER, 0.0),
    ("top", 0.0, -OUTER),
    ("bottom", 0.0, OUTER),
    ("top left", -OUTER, -OUTER),
    ("top right", OUTER, -OUTER),
    ("bottom left", -OUTER, OUTER),
    ("bottom right", OUTER, OUTER),
];

fn squares(plan: &Plan, marks: &mut Vec<Mark>) {
    for (index, (name, x, y)) in PLACES.into_iter().enumerate() {
        let centre = plan.at(x, y);
        let on_field = plan.on_field(centre);
        marks.push(Mark::Square(Square {
            name,
            zone: zone(on_field, plan.field),
            centre,
            side_mm: SQUARE * plan.short,
            turn_deg: turn(on_field, index % 2 == 0),
            free_mm: FREE * plan.short,
            on_field,
        }));
    }
}

fn zone(on_field: [f64; 2], field: [f64; 2]) -> Zone {
    match on_field[0].hypot(on_field[1]) / (field[0].hypot(field[1]) / 2.0) {
        near if near < 0.12 => Zone::Centre,
        inner if inner < 0.55 => Zone::HalfWay,
        side if side < 0.78 => Zone::Side,
        _ => Zone::Corner,
    }
}

/// Sides along and across the radius but for 5 degrees, to that side which keeps them furthest from level, upright and
/// the diagonal: there an edge passes the same places of the pixels again and again.
fn turn(on_field: [f64; 2], first: bool) -> f64 {
    let radius_deg = on_field[1].atan2(on_field[0]).to_degrees().rem_euclid(90.0);
    let away = |turn: f64| {
        let from = turn.rem_euclid(45.0);
        from.min(45.0 - from)
    };
    let (more, less) = ((radius_deg + SLANT_DEG).rem_euclid(90.0), (radius_deg - SLANT_DEG).rem_euclid(90.0));
    match away(more) - away(less) {
        gain if gain > 1e-6 => more,
        gain if gain < -1e-6 => less,
        _ if first => more,
        _ => less,
    }
}

fn rulers(plan: &Plan, marks: &mut Vec<Mark>) {
    let tick_mm = if plan.short < 30.0 { 0.5 } else { 1.0 };
    let line_mm = 0.3 * tick_mm;
    let lengths_mm = [0.014, 0.021, 0.030].map(|share| share * plan.short);
    let mut lay = |name, first: [f64; 2], last: [f64; 2]| {
        let length = (last[0] - first[0]).hypot(last[1] - first[1]);
        let ticks = ((length - line_mm) / tick_mm).floor() as usize + 1;
        let reach = (ticks - 1) as f64 * tick_mm / length;
        let last = [0, 1].map(|axis| first[axis] + reach * (last[axis] - first[axis]));
        marks.push(Mark::Ruler(Ruler { name, first, last, tick_mm, ticks, line_mm, lengths_mm }));
    };
    let y = 0.081 * plan.short;
    lay("level", [plan.along(0, -0.30), y], [plan.along(0, 0.47), y]);
    let x = plan.along(0, -0.345);
    lay("upright", [x, plan.along(1, -0.235)], [x, plan.along(1, 0.235)]);
}

fn steps(plan: &Plan, marks: &mut Vec<Mark>) {
    let side = 0.036 * plan.short;
    for (index, reflectance) in STEPS.into_iter().enumerate() {
        let down = (index as f64 - 2.5) * 0.04 * plan.short;
        let [x, y] = plan.at(0.31, -UPWARDS);
        let size_mm = [0.055 * plan.short, side];
        marks.push(Mark::Step(Step { number: index + 1, centre: [x, y + down], size_mm, reflectance }));
    }
}

const CORNERS: [(&str, f64, f64); 4] = [
    ("top left", -SIDEWAYS, -UPWARDS),
    ("top right", SIDEWAYS, -UPWARDS),
    ("bottom left", -SIDEWAYS, UPWARDS),
    ("bottom right", SIDEWAYS, UPWARDS),
];

fn ramps(plan: &Plan, marks: &mut Vec<Mark>) {
    for (name, x, y) in CORNERS {
        let centre = plan.at(x, y);
        marks.push(Mark::Ramp(Ramp {
            name,
            centre,
            length_mm: WINDOW[1] * plan.short,
            width_mm: WINDOW[0] * plan.short,
            slope_deg: SLOPE_DEG,
            // Fine enough that a film frame of it loses contrast within the ramp, coarse enough to be printed.
            bar_mm: (plan.short / 300.0).max(0.2),
            on_field: plan.on_field(centre),
        }));
    }
}

fn stuck_on(plan: &Plan, marks: &mut Vec<Mark>) {
    marks.push(Mark::GreyScale(GreyScale {
        // Below the quiet zone of a small card's large code.
        centre: plan.at(0.375, -0.155),
        size_mm: [0.18, 0.165].map(|share| share * plan.short),
    }));
    marks.push(Mark::Rule(Rule {
        centre: plan.at(-SIDEWAYS, -UPWARDS),
        length_mm: WINDOW[1] * plan.short,
        width_mm: WINDOW[0] * plan.short,
        slope_deg: SLOPE_DEG,
    }));
    let mut blade = |name, [x, y]: [f64; 2], upright: bool| {
        let (sin, cos) = SLANT_DEG.to_radians().sin_cos();
        let (along, outward) = if upright { ([sin, cos], [cos, -sin]) } else { ([cos, sin], [sin, -cos]) };
        let half = 0.055 * plan.short;
        let ends = [-half, half].map(|t| [x + t * along[0], y + t * along[1]]);
        marks.push(Mark::Blade(Blade { name, ends, outward, cover_mm: 0.04 * plan.short }));
    };
    blade("bottom left", plan.at(-SIDEWAYS, UPWARDS), true);
    blade("bottom right", plan.at(SIDEWAYS, 0.18), false);
}
