//! Objects worth photographing, drawn with their own length as the unit.

mod beetle;
mod crystal;
mod pod;

use crate::outline::Outline;
use crate::shade::Paint;
use crate::shape::{Point, Reflectance, Shape};

/// What can be laid on the card.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Specimen {
    /// A male stag beetle seen from above, head up.
    StagBeetle,
    /// A pod burst open, with its seeds in a row and some fallen out.
    SeedPod,
    /// A group of violet quartz crystals on their rock.
    Crystal,
}

/// The parts of a specimen in the order of painting. Its middle is the origin and its length, up and down, is 1:
/// [`crate::Scene::lay`] gives it its size in millimetres. It is at most half as wide as it is long.
pub fn specimen(which: Specimen) -> Vec<Shape> {
    match which {
        Specimen::StagBeetle => beetle::parts(),
        Specimen::SeedPod => pod::parts(),
        Specimen::Crystal => crystal::parts(),
    }
}

const BLACK: Reflectance = Reflectance::grey(0.0);

fn points(of: &[(f64, f64)]) -> Vec<Point> {
    of.iter().map(|&(x, y)| Point::new(x, y)).collect()
}

/// A band through points of x, y and half-width.
fn band(of: &[(f64, f64, f64)]) -> Outline {
    let spine: Vec<(Point, f64)> = of.iter().map(|&(x, y, half)| (Point::new(x, y), half)).collect();
    Outline::ribbon(&spine)
}

/// The soft shadow that a body of that ellipse throws on the table, away from the lamp at the upper left.
fn shadow(centre: (f64, f64), semi: [f64; 2], turn_deg: f64, strength: f64) -> Shape {
    let centre = Point::new(centre.0, centre.1);
    let paint = Paint::Glow { centre, semi, turn_deg, reflectance: BLACK, strength };
    Shape { outline: Outline::Ellipse { centre, semi, turn_deg }, paint }
}

/// The hard-edged shadow of something thin that lies close to the table.
fn thin_shadow(outline: &Outline, by: f64) -> Shape {
    let outline = outline.placed(1.0, 0.0, Point::new(0.85 * by, by));
    Shape { outline, paint: Paint::Glaze { reflectance: BLACK, opacity: 0.28 } }
}

/// A gleam or a stain: a soft ellipse of light or dark.
fn glow(centre: (f64, f64), semi: [f64; 2], turn_deg: f64, reflectance: Reflectance, strength: f64) -> Shape {
    let centre = Point::new(centre.0, centre.1);
    let paint = Paint::Glow { centre, semi, turn_deg, reflectance, strength };
    Shape { outline: Outline::Ellipse { centre, semi, turn_deg }, paint }
}
