//! From the subject to the film and back: turn, shift, tilt, central projection, distortion, mirroring.
//!
//! The camera's axes: x to the right and y downwards as the picture is seen, z towards the camera, all in subject
//! millimetres, with the origin where the optical axis meets the subject. A card's own point is turned, shifted, then
//! tilted about that origin, first about the level axis, then about the upright one. The film shows a camera point at
//! m (x, y) / (1 - z / D), D being the distance from the entrance pupil to the origin: exact central projection, in
//! which m is the magnification of what lies at the origin.

use crate::settings::Settings;
use crate::shape::Point;

/// Distance from the middle over the corner's, before distortion, up to which the cubic law holds. From there on its
/// tangent takes over, so that what lies far outside is not folded back into the frame.
const CUBIC_TO: f64 = 1.5;
/// Distance from the pupil, as a share of the subject's, within which nothing is enlarged any more: what would lie
/// behind the lens must not come back from the other side.
const CLOSEST: f64 = 0.05;
/// Steps of Newton's method; the cubic is so near to a straight line that six reach the last digit.
const NEWTON_STEPS: usize = 12;

/// A plane in the card's own coordinates: heights above the card, towards the camera.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Level {
    /// Height at the card's origin, mm.
    pub at_origin: f64,
    /// Millimetres of height per millimetre to the right and downwards on the card.
    pub slope: Point,
}

impl Level {
    pub fn height(&self, at: Point) -> f64 {
        self.at_origin + self.slope.x * at.x + self.slope.y * at.y
    }
}

/// A linear map of the plane: its image of (1, 0) and of (0, 1).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Linear2 {
    pub x: Point,
    pub y: Point,
}

impl Linear2 {
    pub fn of(self, p: Point) -> Point {
        self.x * p.x + self.y * p.y
    }

    pub fn determinant(self) -> f64 {
        self.x.x * self.y.y - self.y.x * self.x.y
    }

    /// The point whose image is `image`.
    pub fn solve(self, image: Point) -> Point {
        let d = self.determinant();
        Point::new((image.x * self.y.y - self.y.x * image.y) / d, (self.x.x * image.y - image.x * self.x.y) / d)
    }
}

/// The way of a point in green light, before the colours part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Geometry {
    /// Turn alone, by sine and cosine.
    sin: f64,
    cos: f64,
    shift: Point,
    /// Nothing but turn and shift.
    plain: bool,
    magnification: f64,
    /// From a card's point (x, y, height) to camera axes: columns, then the origin's place.
    along_x: [f64; 3],
    along_y: [f64; 3],
    upwards: [f64; 3],
    origin: [f64; 3],
    /// One over the pupil's distance, per mm.
    nearness: f64,
    k1: f64,
    corner_mm: f64,
    mirror: f64,
}

impl Geometry {
    pub fn new(s: &Settings, corner_mm: f64) -> Self {
        let (sin, cos) = s.rotation_deg.to_radians().sin_cos();
        let (sa, ca) = s.perspective.right_deg.to_radians().sin_cos();
        let (sb, cb) = s.perspective.down_deg.to_radians().sin_cos();
        // About the level axis, the lower side going back; then about the upright one, the right side going back.
        let tilted = |[x, y, z]: [f64; 3]| {
            let (y, z) = (y * cb + z * sb, z * cb - y * sb);
            [x * ca + z * sa, y, z * ca - x * sa]
        };
        let nearness = 1.0 / s.perspective.distance_mm;
        let tilt = s.perspective.right_deg != 0.0 || s.perspective.down_deg != 0.0;
        Self {
            sin,
            cos,
            shift: s.shift_mm,
            plain: !(tilt || nearness != 0.0 || s.distortion != 0.0 || s.mirrored),
            magnification: s.magnification,
            along_x: tilted([cos, sin, 0.0]),
            along_y: tilted([-sin, cos, 0.0]),
            upwards: tilted([0.0, 0.0, 1.0]),
            origin: tilted([s.shift_mm.x, s.shift_mm.y, 0.0]),
            nearness,
            k1: s.distortion,
            corner_mm,
            mirror: if s.mirrored { -1.0 } else { 1.0 },
        }
    }

    pub fn is_plain(&self) -> bool {
        self.plain
    }

    /// What a step to the right, a step downwards on the card, and the card's origin are in camera axes.
    pub fn columns(&self) -> [[f64; 3]; 3] {
        [self.along_x, self.along_y, self.origin]
    }

    /// Height along the axis, towards the camera, of what is seen of a surface at a place on film.
    pub fn depth(&self, level: Level, film: Point) -> f64 {
        let upright = self.along_x[2] == 0.0 && self.along_y[2] == 0.0;
        if upright && level.slope == Point::default() {
            return level.at_origin;
        }
        let at = self.on_subject(level, film, 1.0);
        self.in_camera(at, level.height(at))[2]
    }

    /// In camera axes, mm.
    pub fn in_camera(&self, p: Point, height_mm: f64) -> [f64; 3] {
        [0, 1, 2].map(|i| self.along_x[i] * p.x + self.along_y[i] * p.y + self.origin[i] + self.upwards[i] * height_mm)
    }

    /// To film millimetres, in a colour whose image is `colour` times as large as green's.
    pub fn on_film(&self, p: Point, height_mm: f64, colour: f64) -> Point {
        let size = self.magnification * colour;
        if self.plain {
            return (Point::new(p.x * self.cos - p.y * self.sin, p.x * self.sin + p.y * self.cos) + self.shift) * size;
        }
        let [x, y, z] = self.in_camera(p, height_mm);
        let straight = Point::new(x, y) * (1.0 / (1.0 - z * self.nearness).max(CLOSEST));
        let stretched = self.stretch(self.magnification * straight.length() / self.corner_mm).0;
        self.seen(straight * (size * stretched))
    }

    /// The inverse of [`Self::on_film`] for what lies on that plane.
    pub fn on_subject(&self, level: Level, film: Point, colour: f64) -> Point {
        if self.plain && level == Level::default() {
            let p = film * (1.0 / (self.magnification * colour)) - self.shift;
            return Point::new(p.x * self.cos + p.y * self.sin, p.y * self.cos - p.x * self.sin);
        }
        let straight = self.straightened(self.seen(film) * (1.0 / colour)) * (1.0 / self.magnification);
        // x / (1 - z / D) = u and the like for y: linear in the place on the plane.
        let flat = |axis: [f64; 3]| {
            let pull = axis[2] * self.nearness;
            Point::new(axis[0] + straight.x * pull, axis[1] + straight.y * pull)
        };
        let raised = |axis: [f64; 3], slope: f64| [0, 1, 2].map(|i| axis[i] + self.upwards[i] * slope);
        let across =
            Linear2 { x: flat(raised(self.along_x, level.slope.x)), y: flat(raised(self.along_y, level.slope.y)) };
        across.solve(straight - flat(raised(self.origin, level.at_origin)))
    }

    /// The film's place without distortion and as seen from the lens's side, for green.
    pub fn straightened(&self, film: Point) -> Point {
        let radius = film.length() / self.corner_mm;
        if self.k1 == 0.0 || radius == 0.0 {
            return film;
        }
        let mut r = radius;
        for _ in 0..NEWTON_STEPS {
            let (stretch, slope) = self.stretch(r);
            r -= (r * stretch - radius) / slope;
        }
        film * (r / radius)
    }

    /// Mirrored or not; its own inverse.
    pub fn seen(&self, film: Point) -> Point {
        Point::new(film.x * self.mirror, film.y)
    }

    /// Distorted over undistorted radius, and the derivative of the distorted one.
    fn stretch(&self, r: f64) -> (f64, f64) {
        if r <= CUBIC_TO {
            return (1.0 + self.k1 * r * r, 1.0 + 3.0 * self.k1 * r * r);
        }
        let slope = 1.0 + 3.0 * self.k1 * CUBIC_TO * CUBIC_TO;
        let at = CUBIC_TO * (1.0 + self.k1 * CUBIC_TO * CUBIC_TO);
        ((at + slope * (r - CUBIC_TO)) / r, slope)
    }

    /// The derivative of [`Self::on_film`] in green for steps along a plane: film mm per subject mm.
    pub fn derivative(&self, p: Point, level: Level) -> Linear2 {
        let [x, y, z] = self.in_camera(p, level.height(p));
        let closer = 1.0 / (1.0 - z * self.nearness);
        let straight = Point::new(x, y) * closer;
        let radius = straight.length();
        let (stretch, slope) = self.stretch(self.magnification * radius / self.corner_mm);
        let out = if radius > 0.0 { straight * (1.0 / radius) } else { Point::default() };
        let step = |axis: [f64; 3], rise: f64| {
            let [dx, dy, dz] = [0, 1, 2].map(|i| axis[i] + self.upwards[i] * rise);
            let moved = Point::new(dx + straight.x * dz * self.nearness, dy + straight.y * dz * self.nearness) * closer;
            let outwards = moved.x * out.x + moved.y * out.y;
            self.seen((moved * stretch + out * (outwards * (slope - stretch))) * self.magnification)
        };
        Linear2 { x: step(self.along_x, level.slope.x), y: step(self.along_y, level.slope.y) }
    }

    /// How far the image of a straight line bends away from a chord of that length (shares of the corner's distance),
    /// at most, in the same shares; nothing without distortion.
    pub fn bend(&self, chord: f64) -> f64 {
        // The law's second derivatives are at most 6 k1 r, of which a chord takes an eighth times its square.
        0.75 * self.k1.abs() * CUBIC_TO * chord * chord
    }
}
