//! How shapes are filled: evenly, or with the shading that makes a flat outline look like a body.

use crate::shape::{Point, Reflectance};

/// The filling of a shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Paint {
    /// One reflectance all over. Everything that is measured is painted so.
    Flat(Reflectance),
    /// From one reflectance to another along a line; beyond its ends it stays.
    Fade {
        /// Where `start` ends.
        from: Point,
        /// Where `end` begins.
        to: Point,
        /// Before `from`.
        start: Reflectance,
        /// After `to`.
        end: Reflectance,
    },
    /// Lit as if it were the upper half of an ellipsoid, by one lamp from the upper left.
    Dome(Dome),
    /// A soft spot, strongest in the middle of an ellipse and nothing at its rim: a shadow or a gleam.
    Glow {
        /// Its middle.
        centre: Point,
        /// Half-axes before the turn, mm.
        semi: [f64; 2],
        /// Clockwise.
        turn_deg: f64,
        /// What it fades to: black for a shadow.
        reflectance: Reflectance,
        /// How much it counts in the middle.
        strength: f64,
    },
    /// A pane through which what lies below shows.
    Glaze {
        /// Its own reflectance.
        reflectance: Reflectance,
        /// How much of it counts: 0 is invisible, 1 hides all below.
        opacity: f64,
    },
}

/// A rounded body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dome {
    /// The point that faces the viewer.
    pub centre: Point,
    /// Half-axes before the turn, mm; the surface is upright at that ellipse and beyond.
    pub semi: [f64; 2],
    /// Clockwise.
    pub turn_deg: f64,
    /// Height over half-width: 0 is flat, 1 round.
    pub bulge: f64,
    /// What it is made of.
    pub body: Body,
}

/// The surface of a body.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Body {
    /// Diffuse reflectance.
    pub colour: Reflectance,
    /// Height of the highlight, linear light.
    pub gloss: f64,
    /// Narrowness of the highlight: 5 is satin, 60 wet.
    pub polish: f64,
}

/// Toward the lamp: upper left, well above the table. Unit length to 1e-3.
const LAMP: [f64; 3] = [-0.45, -0.53, 0.72];
/// Light that reaches every side of a body, of what the lamp gives one that faces it.
const SKY: f64 = 0.30;

impl Body {
    /// The light from a patch whose normal is (x, y, z), not necessarily of unit length.
    fn lit(&self, normal: [f64; 3]) -> [f32; 3] {
        let norm = normal.iter().map(|n| n * n).sum::<f64>().sqrt().max(1e-12);
        let dot = |v: [f64; 3]| (normal[0] * v[0] + normal[1] * v[1] + normal[2] * v[2]) / norm;
        // Halfway between lamp and viewer (Blinn 1977), who looks straight down.
        let halfway = 1.0 / (2.0 * (1.0 + LAMP[2])).sqrt();
        let half = [LAMP[0] * halfway, LAMP[1] * halfway, (1.0 + LAMP[2]) * halfway];
        let light = (SKY + (1.0 - SKY) * dot(LAMP).max(0.0)) as f32;
        let shine = (self.gloss * dot(half).max(0.0).powf(self.polish)) as f32;
        self.colour.0.map(|share| share * light + shine)
    }
}

/// Colour at a place, and how much of it covers what lies below.
pub(crate) type Shade = ([f32; 3], f32);

impl Paint {
    /// Enlarged about the origin, then turned clockwise, then shifted.
    pub fn placed(&self, scale: f64, turn_deg: f64, shift: Point) -> Self {
        let place = |p: Point| (p * scale).turned(turn_deg) + shift;
        match *self {
            Self::Flat(_) | Self::Glaze { .. } => *self,
            Self::Fade { from, to, start, end } => Self::Fade { from: place(from), to: place(to), start, end },
            Self::Dome(dome) => Self::Dome(Dome {
                centre: place(dome.centre),
                semi: dome.semi.map(|s| s * scale),
                turn_deg: dome.turn_deg + turn_deg,
                ..dome
            }),
            Self::Glow { centre, semi, turn_deg: own, reflectance, strength } => Self::Glow {
                centre: place(centre),
                semi: semi.map(|s| s * scale),
                turn_deg: own + turn_deg,
                reflectance,
                strength,
            },
        }
    }

    /// The even filling, where it is one: colour and cover.
    pub(crate) fn even(&self) -> Option<Shade> {
        match *self {
            Self::Flat(reflectance) => Some((reflectance.0, 1.0)),
            Self::Glaze { reflectance, opacity } => Some((reflectance.0, opacity as f32)),
            _ => None,
        }
    }

    /// The filling at a place on the subject, mm.
    pub(crate) fn at(&self, p: Point) -> Shade {
        match *self {
            Self::Flat(reflectance) => (reflectance.0, 1.0),
            Self::Glaze { reflectance, opacity } => (reflectance.0, opacity as f32),
            Self::Fade { from, to, start, end } => (fade(p, from, to, start, end), 1.0),
            Self::Dome(dome) => (dome.at(p), 1.0),
            Self::Glow { centre, semi, turn_deg, reflectance, strength } => {
                let local = (p - centre).turned(-turn_deg);
                let rest = (1.0 - (local.x / semi[0]).powi(2) - (local.y / semi[1]).powi(2)).max(0.0);
                (reflectance.0, (strength * rest * rest * (3.0 - 2.0 * rest)) as f32)
            }
        }
    }
}

fn fade(p: Point, from: Point, to: Point, start: Reflectance, end: Reflectance) -> [f32; 3] {
    let (along, at) = (to - from, p - from);
    let share = ((at.x * along.x + at.y * along.y) / (along.x * along.x + along.y * along.y)).clamp(0.0, 1.0) as f32;
    [0, 1, 2].map(|i| start.0[i] + (end.0[i] - start.0[i]) * share)
}

impl Dome {
    fn at(&self, p: Point) -> [f32; 3] {
        let local = (p - self.centre).turned(-self.turn_deg);
        let (u, v) = (local.x / self.semi[0], local.y / self.semi[1]);
        let beyond = (u * u + v * v).sqrt().max(1.0);
        let (u, v) = (u / beyond, v / beyond);
        let w = (1.0 - u * u - v * v).max(0.0).sqrt();
        // The gradient of (x/a)^2 + (y/b)^2 + (z/c)^2, with the height c from the smaller half-axis.
        let height = (self.bulge * self.semi[0].min(self.semi[1])).max(1e-9);
        let slope = Point::new(u / self.semi[0], v / self.semi[1]).turned(self.turn_deg);
        self.body.lit([slope.x, slope.y, w / height])
    }
}
