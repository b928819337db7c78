//! A stag beetle.

use crate::outline::Outline;
use crate::shade::{Body, Dome, Paint};
use crate::shape::{Point, Reflectance, Shape};

/// Its parts.
pub(crate) fn parts() -> Vec<Shape> {
    let body = Body { colour: Reflectance([0.16, 0.055, 0.025]), gloss: 0.3, polish: 20.0 };
    let dome = Dome { centre: Point::new(0.0, 0.2), semi: [0.16, 0.32], turn_deg: 0.0, bulge: 0.8, body };
    let outline = Outline::Ellipse { centre: Point::new(0.0, 0.2), semi: [0.14, 0.3], turn_deg: 0.0 };
    vec![Shape { outline, paint: Paint::Dome(dome) }]
}
