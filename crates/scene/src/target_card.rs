//! Sheets of the printed target card as a scene.

use crate::outline::{Outline, Raised};
use crate::shape::{Feature, Point, Reflectance, Scene, Shape, SlopingStrip};
use target::{Blade, Code, GreyScale, Mark, Part, Ramp, Rule, Ruler, Sheet, Square};

/// Where a sheet lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placement {
    /// Its middle, subject mm from the middle of the field.
    pub centre: Point,
    /// Turned clockwise about its middle, degrees.
    pub turn_deg: f64,
}

impl Placement {
    /// Where the card's maker meant it to lie.
    pub fn meant(sheet: &Sheet) -> Self {
        Self { centre: point(sheet.offset_mm), turn_deg: 0.0 }
    }

    /// Laid a little beside that.
    pub fn beside(sheet: &Sheet, by: Point, turn_deg: f64) -> Self {
        Self { centre: point(sheet.offset_mm) + by, turn_deg }
    }

    fn of(&self, place: [f64; 2]) -> Point {
        point(place).turned(self.turn_deg) + self.centre
    }

    fn direction(&self, unit: [f64; 2]) -> Point {
        point(unit).turned(self.turn_deg)
    }
}

fn point([x, y]: [f64; 2]) -> Point {
    Point::new(x, y)
}

/// What the card is printed on and with, and what has been done to it since. Start from [`TargetPaint::default`].
#[derive(Debug, Clone, PartialEq)]
pub struct TargetPaint {
    /// Reflectance of the paper.
    pub paper: f64,
    /// Reflectance of the print.
    pub ink: f64,
    /// Reflectance of the trap: that of the print, or next to nothing when it is cut out over a dark box.
    pub trap: f64,
    /// Reflectance of what the sheets lie on.
    pub table: f64,
    /// White paper round each sheet's print, mm.
    pub border_mm: f64,
    /// Rise of printed edges from 10 to 90 %, that of a Gaussian, mm.
    pub rise_mm: f64,
    /// Strips stand in their windows, on a large sheet; without them the windows are white paper.
    pub ramps: bool,
    /// Blades are laid on their places and a steel rule stands tilted in its own, on a small sheet.
    pub blades: bool,
    /// Reflectances of the fields of a grey scale stuck on its place on a small sheet; none without one.
    pub grey_scale: Vec<f64>,
}

impl Default for TargetPaint {
    /// An office print, folded and laid: paper 0.85, print 0.04 (common practice, no source).
    fn default() -> Self {
        Self {
            paper: 0.85,
            ink: 0.04,
            trap: target::TRAP_PRINTED_REFLECTANCE,
            table: 0.22,
            border_mm: 8.0,
            rise_mm: target::PRINTED_RISE_MM,
            ramps: true,
            blades: false,
            grey_scale: Vec::new(),
        }
    }
}

/// Why a card cannot be painted so.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PaintError {
    /// A figure lies outside what can be painted.
    #[error("{what} is {given}; it must lie between {lowest} and {highest}")]
    OutOfRange {
        /// The figure, with its unit.
        what: &'static str,
        /// As given.
        given: f64,
        /// Smallest allowed.
        lowest: f64,
        /// Largest allowed.
        highest: f64,
    },
    /// Dark on light is what the card is.
    #[error("the print's reflectance, {ink}, must be below the paper's, {paper}")]
    InkNotDarker {
        /// Of the print.
        ink: f64,
        /// Of the paper.
        paper: f64,
    },
}

/// From 10 to 90 % of a normal distribution, in standard deviations: 2 * 1.28155.
const RISE_IN_DEVIATIONS: f64 = 2.563_103_131_089_2;
/// A blade's steel, blackened so that it does not mirror the lamp.
const BLADE: f64 = 0.02;
/// The steel of a tilted rule.
const STEEL: f64 = 0.45;
/// From tick to tick of a steel rule, mm (common practice, no source).
const RULE_TICK_MM: f64 = 0.5;
/// Share of a rule's pitch that a tick takes.
const RULE_LINE: f64 = 0.3;
/// What shows beside a strip in its window: shade.
const GAP: f64 = 0.1;
/// Share of its window's width that a strip leaves free on either side.
const GAP_SHARE: f64 = 0.03;

/// A scene of sheets on a table, each where its placement says. Later sheets lie on earlier ones.
///
/// Every square, ruler, patch, code, ramp and blade is a [`Feature`] of the scene. With more than one sheet the names
/// begin with the sheet's: "top left: centre". Tilted rules are features of the same kind as ramps.
pub fn target_scene(sheets: &[(Sheet, Placement)], paint: &TargetPaint) -> Result<Scene, PaintError> {
    check(sheets, paint)?;
    let mut scene = Scene::new(grey(paint.table));
    scene.softness_mm = paint.rise_mm / RISE_IN_DEVIATIONS;
    for (sheet, placement) in sheets {
        let prefix = if sheets.len() > 1 { format!("{}: ", sheet.part.name()) } else { String::new() };
        Painter { scene: &mut scene, placement, paint, prefix }.sheet(sheet);
    }
    Ok(scene)
}

fn check(sheets: &[(Sheet, Placement)], paint: &TargetPaint) -> Result<(), PaintError> {
    let shares = [
        ("the paper's reflectance", paint.paper),
        ("the print's reflectance", paint.ink),
        ("the trap's reflectance", paint.trap),
        ("the table's reflectance", paint.table),
    ];
    let scale = paint.grey_scale.iter().map(|&share| ("a reflectance of the grey scale", share));
    let shares = shares.into_iter().chain(scale).map(|(what, given)| (what, given, 0.0, 1.0));
    let lengths = [
        ("the paper's border in millimetres", paint.border_mm, 0.0, 500.0),
        ("the rise of printed edges in millimetres", paint.rise_mm, 0.0, 5.0),
    ];
    let places = sheets.iter().flat_map(|(_, placement)| {
        [
            ("a sheet's place to the right in millimetres", placement.centre.x, -1e4, 1e4),
            ("a sheet's place downwards in millimetres", placement.centre.y, -1e4, 1e4),
            ("a sheet's turn in degrees", placement.turn_deg, -360.0, 360.0),
        ]
    });
    for (what, given, lowest, highest) in shares.chain(lengths).chain(places) {
        // The negated form catches what is no number at all.
        if !(given >= lowest && given <= highest) {
            return Err(PaintError::OutOfRange { what, given, lowest, highest });
        }
    }
    let (ink, paper) = (paint.ink, paint.paper);
    if ink >= paper { Err(PaintError::InkNotDarker { ink, paper }) } else { Ok(()) }
}

fn grey(share: f64) -> Reflectance {
    Reflectance::grey(share as f32)
}

struct Painter<'a> {
    scene: &'a mut Scene,
    placement: &'a Placement,
    paint: &'a TargetPaint,
    prefix: String,
}

impl Painter<'_> {
    fn sheet(&mut self, sheet: &Sheet) {
        let border = 2.0 * self.paint.border_mm;
        self.rectangle([0.0, 0.0], sheet.size_mm.map(|side| side + border), self.paint.paper);
        debug_assert!(sheet.part != Part::Whole || sheet.offset_mm == [0.0; 2]);
        for mark in &sheet.marks {
            match mark {
                Mark::Code(code) => self.code(code),
                Mark::Square(square) => self.square(square),
                Mark::Ruler(ruler) => self.ruler(ruler),
                Mark::Step(step) => {
                    self.patch(format!("step {}", step.number), step.centre, step.size_mm, step.reflectance);
                }
                Mark::Trap(trap) => self.patch("trap".into(), trap.centre, [trap.side_mm; 2], self.paint.trap),
                Mark::Ramp(ramp) if self.paint.ramps => self.ramp(ramp),
                Mark::Blade(blade) if self.paint.blades => self.blade(blade),
                Mark::Rule(rule) if self.paint.blades => self.rule(rule),
                Mark::GreyScale(scale) => self.grey_scale(scale),
                Mark::Ramp(_) | Mark::Blade(_) | Mark::Rule(_) => {}
            }
        }
    }

    fn name(&self, name: &str) -> String {
        format!("{}{name}", self.prefix)
    }

    fn push(&mut self, outline: Outline, share: f64) {
        self.scene.shapes.push(Shape::flat(outline, grey(share)));
    }

    fn corners(&self, [x, y]: [f64; 2], [w, h]: [f64; 2]) -> [Point; 4] {
        [[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]].map(|[i, k]| self.placement.of([x + i * w, y + k * h]))
    }

    fn rectangle(&mut self, centre: [f64; 2], size: [f64; 2], share: f64) {
        let corners = self.corners(centre, size);
        self.push(Outline::Polygon(corners.to_vec()), share);
    }

    fn patch(&mut self, name: String, centre: [f64; 2], size_mm: [f64; 2], reflectance: f64) {
        self.rectangle(centre, size_mm, reflectance);
        let (name, centre) = (self.name(&name), self.placement.of(centre));
        let turn_deg = self.placement.turn_deg;
        self.scene.features.push(Feature::Patch { name, centre, size_mm, turn_deg, reflectance });
    }

    fn code(&mut self, code: &Code) {
        let dots = target::dots(&code.text);
        let module = code.side_mm / dots.side as f64;
        let from = code.centre.map(|middle| middle - 0.5 * code.side_mm);
        let dark = (0..dots.dark.len()).filter(|&i| dots.dark[i]).map(|i| {
            let (column, row) = ((i % dots.side) as f64, (i / dots.side) as f64);
            self.corners([from[0] + (column + 0.5) * module, from[1] + (row + 0.5) * module], [module; 2]).to_vec()
        });
        let modules = dark.collect();
        self.push(Outline::Several(modules), self.paint.ink);
        let corners = self.corners(code.centre, [code.side_mm; 2]);
        self.scene.features.push(Feature::Code { text: code.text.text(), corners, modules: dots.side });
    }

    fn square(&mut self, square: &Square) {
        let corners = square.corners().map(|corner| self.placement.of(corner));
        self.push(Outline::Polygon(corners.to_vec()), self.paint.ink);
        self.scene.features.push(Feature::Square {
            name: self.name(square.name),
            centre: self.placement.of(square.centre),
            side_mm: square.side_mm,
            turn_deg: square.turn_deg + self.placement.turn_deg,
            free_mm: square.free_mm,
            dark: self.paint.ink,
            bright: self.paint.paper,
        });
    }

    fn ruler(&mut self, ruler: &Ruler) {
        let level = (ruler.last[0] - ruler.first[0]).abs() > (ruler.last[1] - ruler.first[1]).abs();
        let ticks = (0..ruler.ticks).map(|number| {
            let (at, length) = ruler.tick(number);
            let size = if level { [ruler.line_mm, length] } else { [length, ruler.line_mm] };
            self.corners(at, size).to_vec()
        });
        let ticks = ticks.collect();
        self.push(Outline::Several(ticks), self.paint.ink);
        self.scene.features.push(Feature::Ruler {
            name: self.name(ruler.name),
            first: self.placement.of(ruler.first),
            last: self.placement.of(ruler.last),
            tick_mm: ruler.tick_mm,
            ticks: ruler.ticks,
        });
    }

    fn grey_scale(&mut self, scale: &GreyScale) {
        let shares = self.paint.grey_scale.clone();
        let width = scale.size_mm[0] / shares.len() as f64;
        for (i, share) in shares.into_iter().enumerate() {
            let x = scale.centre[0] + (i as f64 + 0.5) * width - 0.5 * scale.size_mm[0];
            self.patch(format!("grey {}", i + 1), [x, scale.centre[1]], [width, scale.size_mm[1]], share);
        }
    }

    fn blade(&mut self, blade: &Blade) {
        let ends = blade.ends.map(|end| self.placement.of(end));
        let outward = self.placement.direction(blade.outward);
        let back = outward * -blade.cover_mm;
        let corners = vec![ends[0], ends[1], ends[1] + back, ends[0] + back];
        self.push(Outline::Polygon(corners), BLADE);
        let name = self.name(&format!("blade {}", blade.name));
        let (dark, bright) = (BLADE, self.paint.paper);
        self.scene.features.push(Feature::Blade { name, ends, outward, cover_mm: blade.cover_mm, dark, bright });
    }

    fn ramp(&mut self, ramp: &Ramp) {
        let strip = SlopingStrip {
            name: self.name(&format!("ramp {}", ramp.name)),
            middle: self.placement.of(ramp.centre),
            upwards: self.placement.direction([0.0, -1.0]),
            slope_deg: ramp.slope_deg,
            strip_mm: ramp.strip_mm(),
            width_mm: ramp.width_mm * (1.0 - 2.0 * GAP_SHARE),
            bar_mm: ramp.bar_mm,
        };
        self.strip(strip, [ramp.width_mm, ramp.length_mm], ramp.bars(), 0.5 * ramp.bar_mm, self.paint.paper);
    }

    fn rule(&mut self, rule: &Rule) {
        let strip_mm = rule.length_mm / rule.slope_deg.to_radians().cos();
        let strip = SlopingStrip {
            name: self.name("rule"),
            middle: self.placement.of(rule.centre),
            upwards: self.placement.direction([0.0, -1.0]),
            slope_deg: rule.slope_deg,
            strip_mm,
            width_mm: rule.width_mm * (1.0 - 2.0 * GAP_SHARE),
            bar_mm: RULE_TICK_MM,
        };
        let most = (0.5 * strip_mm / RULE_TICK_MM - RULE_LINE).floor() as i64;
        let ticks = (-most..=most).map(|number| number as f64 * RULE_TICK_MM).collect();
        self.strip(strip, [rule.width_mm, rule.length_mm], ticks, RULE_LINE * RULE_TICK_MM, STEEL);
    }

    /// The window, the strip in it and its bars: what lies above the sheet as a whole, what lies below it through the
    /// window.
    fn strip(&mut self, strip: SlopingStrip, window: [f64; 2], bars: Vec<f64>, bar_mm: f64, ground: f64) {
        let right = Point::new(-strip.upwards.y, strip.upwards.x) * (0.5 * window[0]);
        let up = strip.upwards * (0.5 * window[1]);
        let opening =
            [up - right, up + right, right - up, (up + right) * -1.0].map(|corner| strip.middle + corner).to_vec();
        self.push(Outline::Polygon(opening.clone()), GAP);
        let half = 0.5 * strip.width_mm;
        let piece = |from: f64, to: f64| -> Vec<Raised> {
            [(to, -half), (to, half), (from, half), (from, -half)].map(|(a, b)| strip.point(a, b)).to_vec()
        };
        let end = 0.5 * strip.strip_mm;
        // A bar at the mark itself is half above the sheet and half below it.
        let drawn = |low: f64, high: f64| {
            let ends = bars.iter().map(|bar| ((bar - 0.5 * bar_mm).max(low), (bar + 0.5 * bar_mm).min(high)));
            ends.filter(|(from, to)| from < to).map(|(from, to)| piece(from, to)).collect()
        };
        let ink = self.paint.ink;
        let layers = [
            (vec![piece(-end, 0.0)], Some(opening.clone()), ground),
            (drawn(-end, 0.0), Some(opening), ink),
            (vec![piece(0.0, end)], None, ground),
            (drawn(0.0, end), None, ink),
        ];
        for (polygons, through, share) in layers {
            self.push(Outline::Raised { polygons, through }, share);
        }
        self.scene.features.push(Feature::Ramp(strip));
    }
}
