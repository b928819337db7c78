//! What can lie on a sheet.

use crate::code::CodeText;

/// Reflectance of a printed black, as far as it can be known without measuring (common practice, no source). A trap that
/// is cut out over a dark box reflects next to nothing.
pub const TRAP_PRINTED_REFLECTANCE: f64 = 0.04;

/// How far out on the field a place lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Zone {
    /// The middle.
    Centre,
    /// About half-way out.
    HalfWay,
    /// The middle of a side.
    Side,
    /// A corner.
    Corner,
}

/// How an edge runs against the radius from the middle of the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Radial {
    /// Along the radius: it shows what the lens does across it (the sagittal figure).
    Along,
    /// Across the radius: it shows what the lens does along it (the tangential figure).
    Across,
    /// At the middle, where there is no radius.
    Neither,
}

/// One side of a square.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeLine {
    /// Its two ends, mm on the sheet.
    pub ends: [[f64; 2]; 2],
    /// Unit vector at right angles, from dark to bright.
    pub outward: [f64; 2],
    /// Against the radius.
    pub radial: Radial,
}

impl EdgeLine {
    /// Half-way between the ends.
    pub fn middle(&self) -> [f64; 2] {
        let [[ax, ay], [bx, by]] = self.ends;
        [(ax + bx) / 2.0, (ay + by) / 2.0]
    }
}

/// A dark square on white: four slanted edges, and four corners to square the picture up by.
#[derive(Debug, Clone, PartialEq)]
pub struct Square {
    /// "centre", "inner left", "top right" ...
    pub name: &'static str,
    /// How far out on the field it lies.
    pub zone: Zone,
    /// Its middle.
    pub centre: [f64; 2],
    /// Length of a side.
    pub side_mm: f64,
    /// Turned clockwise by this much, 0 to 90 degrees.
    pub turn_deg: f64,
    /// White all round it at least as wide as this.
    pub free_mm: f64,
    /// Its middle, mm from the middle of the whole field.
    pub on_field: [f64; 2],
}

impl Square {
    /// Its corners, clockwise from the one that is top left before the turn.
    pub fn corners(&self) -> [[f64; 2]; 4] {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        let h = self.side_mm / 2.0;
        [[-h, -h], [h, -h], [h, h], [-h, h]]
            .map(|[x, y]| [self.centre[0] + x * cos - y * sin, self.centre[1] + x * sin + y * cos])
    }

    /// Its four sides: upper, right, lower, left before the turn.
    pub fn edges(&self) -> [EdgeLine; 4] {
        let corners = self.corners();
        std::array::from_fn(|side| {
            let ends = [corners[side], corners[(side + 1) % 4]];
            let middle = [(ends[0][0] + ends[1][0]) / 2.0, (ends[0][1] + ends[1][1]) / 2.0];
            let half = self.side_mm / 2.0;
            let outward = [(middle[0] - self.centre[0]) / half, (middle[1] - self.centre[1]) / half];
            EdgeLine { ends, outward, radial: self.radial(outward) }
        })
    }

    fn radial(&self, outward: [f64; 2]) -> Radial {
        let distance = self.on_field[0].hypot(self.on_field[1]);
        if self.zone == Zone::Centre || distance == 0.0 {
            return Radial::Neither;
        }
        let along = (outward[0] * self.on_field[0] + outward[1] * self.on_field[1]).abs() / distance;
        // An edge whose normal points along the radius runs across it.
        if along > std::f64::consts::FRAC_1_SQRT_2 { Radial::Across } else { Radial::Along }
    }
}

/// A code in a corner of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Code {
    /// What it says.
    pub text: CodeText,
    /// Its middle.
    pub centre: [f64; 2],
    /// Length of a side, without the quiet zone of four modules, which the layout keeps white.
    pub side_mm: f64,
}

/// A row of ticks; the line from the first to the last crosses every one of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Ruler {
    /// "level" or "upright".
    pub name: &'static str,
    /// Middle of the first tick on that line.
    pub first: [f64; 2],
    /// Middle of the last tick.
    pub last: [f64; 2],
    /// From tick to tick.
    pub tick_mm: f64,
    /// How many, first and last included.
    pub ticks: usize,
    /// Width of a tick's line.
    pub line_mm: f64,
    /// Lengths of a tick, of every fifth and of every tenth; all are centred on the line.
    pub lengths_mm: [f64; 3],
}

impl Ruler {
    /// Middle and length of a tick.
    pub fn tick(&self, number: usize) -> ([f64; 2], f64) {
        let share = number as f64 / (self.ticks - 1) as f64;
        let at = [0, 1].map(|axis| self.first[axis] + share * (self.last[axis] - self.first[axis]));
        let length = match number {
            n if n % 10 == 0 => self.lengths_mm[2],
            n if n % 5 == 0 => self.lengths_mm[1],
            _ => self.lengths_mm[0],
        };
        (at, length)
    }
}

/// A grey step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// 1 is the lightest.
    pub number: usize,
    /// Its middle.
    pub centre: [f64; 2],
    /// Width and height.
    pub size_mm: [f64; 2],
    /// Share of the light that it is meant to reflect, white paper being 0.85. What a printer makes of it is not known better
    /// than by about a fifth (common practice, no source).
    pub reflectance: f64,
}

/// A black trap: cut out over a dark box it is the darkest thing in the picture; printed black until then.
#[derive(Debug, Clone, PartialEq)]
pub struct Trap {
    /// Its middle.
    pub centre: [f64; 2],
    /// Length of a side.
    pub side_mm: f64,
}

/// A strip that slopes through the sheet's surface: the window in the sheet, and how the strip stands in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Ramp {
    /// "top left" ...
    pub name: &'static str,
    /// Middle of the window; the strip passes through the sheet's surface there, at the mark.
    pub centre: [f64; 2],
    /// Length (along y) and width (along x) of the window, seen from above.
    pub length_mm: f64,
    /// Width of the window.
    pub width_mm: f64,
    /// Slope against the sheet, degrees; the upper end (smaller y) stands nearer to the camera.
    pub slope_deg: f64,
    /// From bar to bar of the pattern, along the strip. Bars lie across the strip, half dark and half white; the bar at
    /// the mark is left out, so that the mark is a white gap of one and a half periods.
    pub bar_mm: f64,
    /// Its middle, mm from the middle of the whole field.
    pub on_field: [f64; 2],
}

impl Ramp {
    /// Length of the strip itself.
    pub fn strip_mm(&self) -> f64 {
        self.length_mm / self.slope_deg.to_radians().cos()
    }

    /// Height above the sheet, towards the camera, at a distance along the strip from its mark (positive towards
    /// smaller y).
    pub fn height_mm(&self, along_mm: f64) -> f64 {
        along_mm * self.slope_deg.to_radians().sin()
    }

    /// Middles of the dark bars, mm along the strip from the mark. Each is half a period wide.
    pub fn bars(&self) -> Vec<f64> {
        let most = ((self.strip_mm() / 2.0 - 0.25 * self.bar_mm) / self.bar_mm).floor() as i64;
        (-most..=most).filter(|number| *number != 0).map(|number| number as f64 * self.bar_mm).collect()
    }
}

/// A place where a blade is laid, its edge along a line: a straighter and sharper edge than any print.
#[derive(Debug, Clone, PartialEq)]
pub struct Blade {
    /// "centre" or a corner's name.
    pub name: &'static str,
    /// Ends of the line, mm on the sheet.
    pub ends: [[f64; 2]; 2],
    /// Unit vector from the blade to the white paper.
    pub outward: [f64; 2],
    /// How wide a strip the blade covers.
    pub cover_mm: f64,
}

/// A place where a steel rule stands tilted, in place of a printed ramp.
#[derive(Debug, Clone, PartialEq)]
pub struct Rule {
    /// Middle of the place.
    pub centre: [f64; 2],
    /// Length along y and width along x, seen from above.
    pub length_mm: f64,
    /// Width.
    pub width_mm: f64,
    /// Slope against the sheet, degrees.
    pub slope_deg: f64,
}

/// A place for a stuck-on grey scale.
#[derive(Debug, Clone, PartialEq)]
pub struct GreyScale {
    /// Middle of the place.
    pub centre: [f64; 2],
    /// Width and height.
    pub size_mm: [f64; 2],
}

/// Anything on a sheet.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A code.
    Code(Code),
    /// A dark square with slanted sides.
    Square(Square),
    /// A ruler.
    Ruler(Ruler),
    /// A printed grey step.
    Step(Step),
    /// The black trap.
    Trap(Trap),
    /// A focus ramp.
    Ramp(Ramp),
    /// A place for a blade.
    Blade(Blade),
    /// A place for a tilted steel rule.
    Rule(Rule),
    /// A place for a stuck-on grey scale.
    GreyScale(GreyScale),
}
