//! What a scene is made of.

use crate::geometry::Level;
use crate::outline::{Outline, Raised};
use crate::shade::Paint;

/// A place or a displacement, in the unit that its use states (millimetres on subject or film, or pixels).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Downwards.
    pub y: f64,
}

impl Point {
    /// From its two coordinates.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Turned clockwise, as seen, about the origin.
    pub fn turned(self, degrees: f64) -> Self {
        if degrees == 0.0 {
            return self;
        }
        let (sin, cos) = degrees.to_radians().sin_cos();
        Self::new(self.x * cos - self.y * sin, self.x * sin + self.y * cos)
    }

    /// Distance from the origin.
    pub fn length(self) -> f64 {
        self.x.hypot(self.y)
    }
}

impl std::ops::Add for Point {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl std::ops::Sub for Point {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl std::ops::Mul<f64> for Point {
    type Output = Self;
    fn mul(self, by: f64) -> Self {
        Self::new(self.x * by, self.y * by)
    }
}

/// Diffuse reflectance in red, green and blue: the share of the light that comes back, 0 ..= 1, linear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reflectance(pub [f32; 3]);

impl Reflectance {
    /// The same in all colours.
    pub const fn grey(share: f32) -> Self {
        Self([share; 3])
    }

    /// Brighter or darker by a factor.
    pub fn times(self, factor: f32) -> Self {
        Self(self.0.map(|share| share * factor))
    }
}

/// An outline and what fills it.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Its boundary, subject millimetres.
    pub outline: Outline,
    /// How it is filled.
    pub paint: Paint,
}

impl Shape {
    /// A shape of one even reflectance.
    pub fn flat(outline: Outline, reflectance: Reflectance) -> Self {
        Self { outline, paint: Paint::Flat(reflectance) }
    }

    /// The shape enlarged about the origin, then turned clockwise, then shifted.
    pub fn placed(&self, scale: f64, turn_deg: f64, shift: Point) -> Self {
        Self { outline: self.outline.placed(scale, turn_deg, shift), paint: self.paint.placed(scale, turn_deg, shift) }
    }
}

/// One of the four sides of a slanted square.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The left side: an upright edge, bright on its left.
    Left,
    /// The right side: an upright edge, bright on its right.
    Right,
    /// The upper side: a level edge, bright above.
    Top,
    /// The lower side: a level edge, bright below.
    Bottom,
}

impl Side {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Left, Self::Right, Self::Top, Self::Bottom];

    /// The direction in which the side faces before any turn.
    pub fn outward(self) -> Point {
        match self {
            Self::Left => Point::new(-1.0, 0.0),
            Self::Right => Point::new(1.0, 0.0),
            Self::Top => Point::new(0.0, -1.0),
            Self::Bottom => Point::new(0.0, 1.0),
        }
    }
}

/// Something in a scene that can be measured, with its truth. Lengths in subject millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum Feature {
    /// A dark square on brighter ground, with ground of that width free all round it.
    Square {
        /// What the place is called: "centre", "right", "top left" ...
        name: String,
        /// Its middle.
        centre: Point,
        /// Length of a side.
        side_mm: f64,
        /// Turn against the axes, clockwise.
        turn_deg: f64,
        /// Width of the even ground around it.
        free_mm: f64,
        /// Reflectance of the square (green).
        dark: f64,
        /// Reflectance of the ground (green).
        bright: f64,
    },
    /// A straight row of ticks, all crossed by the line from the first to the last.
    Ruler {
        /// "bottom" or "left".
        name: String,
        /// Middle of the first tick, on a line that crosses every tick.
        first: Point,
        /// Middle of the last tick on that line.
        last: Point,
        /// From tick to tick.
        tick_mm: f64,
        /// Number of ticks, first and last included.
        ticks: usize,
    },
    /// An even patch.
    Patch {
        /// "step 1" (the brightest) ..., "trap".
        name: String,
        /// Its middle.
        centre: Point,
        /// Width and height.
        size_mm: [f64; 2],
        /// Turn against the axes, clockwise.
        turn_deg: f64,
        /// Its reflectance (green).
        reflectance: f64,
    },
    /// A code of dark modules.
    Code {
        /// What it says.
        text: String,
        /// Its corners without the quiet zone, clockwise from the one that is its own top left.
        corners: [Point; 4],
        /// Modules along a side.
        modules: usize,
    },
    /// A strip that slopes through the subject's plane.
    Ramp(SlopingStrip),
    /// The straight edge of a dark blade on brighter ground, sharper than any print.
    Blade {
        /// Where it lies.
        name: String,
        /// The edge's ends.
        ends: [Point; 2],
        /// Unit vector from the blade to the ground.
        outward: Point,
        /// How wide the blade is.
        cover_mm: f64,
        /// Reflectance of the blade (green).
        dark: f64,
        /// Reflectance of the ground (green).
        bright: f64,
    },
}

/// A strip with bars across it that slopes through the subject's plane. Distances along it count from its mark,
/// positive towards the end that stands nearer to the camera.
#[derive(Debug, Clone, PartialEq)]
pub struct SlopingStrip {
    /// What the place is called.
    pub name: String,
    /// Its mark, where it passes through the plane.
    pub middle: Point,
    /// Unit vector on the subject towards the near end.
    pub upwards: Point,
    /// Slope against the plane, degrees.
    pub slope_deg: f64,
    /// Length of the strip itself, mm.
    pub strip_mm: f64,
    /// Its width, mm.
    pub width_mm: f64,
    /// From bar to bar along the strip, mm.
    pub bar_mm: f64,
}

impl SlopingStrip {
    /// Its length seen from above, mm.
    pub fn length_mm(&self) -> f64 {
        self.strip_mm * self.slope_deg.to_radians().cos()
    }

    /// A point of it: `along_mm` along the strip, `across_mm` to its right when its near end is up.
    pub fn point(&self, along_mm: f64, across_mm: f64) -> Raised {
        let (sin, cos) = self.slope_deg.to_radians().sin_cos();
        let right = Point::new(-self.upwards.y, self.upwards.x);
        Raised { at: self.middle + self.upwards * (along_mm * cos) + right * across_mm, height_mm: along_mm * sin }
    }

    pub(crate) fn level(&self) -> Level {
        let slope = self.upwards * self.slope_deg.to_radians().tan();
        Level { at_origin: -(slope.x * self.middle.x + slope.y * self.middle.y), slope }
    }
}

/// Shapes in the order in which they are painted, on an even background that goes on for ever.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// What lies behind everything.
    pub background: Reflectance,
    /// The first is painted first.
    pub shapes: Vec<Shape>,
    /// What can be measured in it.
    pub features: Vec<Feature>,
    /// Softness of printed edges: the standard deviation of a Gaussian on the subject, mm. It blurs everything but
    /// blades, over and above the capture's blur.
    pub softness_mm: f64,
}

impl Scene {
    /// An empty scene.
    pub fn new(background: Reflectance) -> Self {
        Self { background, shapes: Vec::new(), features: Vec::new(), softness_mm: 0.0 }
    }

    /// Lays shapes on top, enlarged about their origin, turned clockwise and shifted.
    pub fn lay(&mut self, parts: &[Shape], scale: f64, turn_deg: f64, shift: Point) {
        self.shapes.extend(parts.iter().map(|part| part.placed(scale, turn_deg, shift)));
    }
}
