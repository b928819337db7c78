//! A seed pod that has burst open.

use super::{BLACK, band, glow, shadow, thin_shadow};
use crate::outline::Outline;
use crate::shade::{Body, Dome, Paint};
use crate::shape::{Point, Reflectance, Shape};

const HUSK: Reflectance = Reflectance([0.40, 0.255, 0.110]);
const HUSK_SHADE: Reflectance = Reflectance([0.215, 0.118, 0.045]);
const LINING: Reflectance = Reflectance([0.62, 0.50, 0.29]);
const LINING_SHADE: Reflectance = Reflectance([0.30, 0.205, 0.095]);
const RIM: Reflectance = Reflectance([0.145, 0.078, 0.030]);
const VEIN: Reflectance = Reflectance([0.15, 0.08, 0.03]);
const SEED: Body = Body { colour: Reflectance([0.105, 0.024, 0.014]), gloss: 0.75, polish: 45.0 };
const SCAR: Reflectance = Reflectance([0.55, 0.47, 0.33]);

/// The bent middle line of the pod: across, down, half-width of the husk.
const SPINE: [(f64, f64, f64); 9] = [
    (0.052, -0.405, 0.006),
    (0.036, -0.355, 0.048),
    (0.002, -0.25, 0.094),
    (-0.028, -0.10, 0.112),
    (-0.035, 0.05, 0.114),
    (-0.024, 0.20, 0.106),
    (0.006, 0.33, 0.080),
    (0.044, 0.43, 0.034),
    (0.074, 0.497, 0.002),
];

/// Its parts.
pub(super) fn parts() -> Vec<Shape> {
    let mut parts = vec![shadow((0.03, 0.03), [0.19, 0.48], 2.0, 0.8)];
    parts.extend(stalk());
    parts.extend(back_valve());
    parts.extend(front_valve());
    parts.extend(seeds());
    for (at, radius, turn) in
        [((0.175, 0.235), 0.043, 35.0), ((0.205, 0.345), 0.046, -20.0), ((-0.185, 0.405), 0.045, 70.0)]
    {
        parts.push(shadow((at.0 + 0.017, at.1 + 0.022), [1.35 * radius; 2], 0.0, 0.7));
        parts.extend(seed(at, radius, turn));
    }
    parts
}

/// The spine shifted and with its widths changed.
fn along(shift: f64, width: impl Fn(f64) -> f64) -> Vec<(f64, f64, f64)> {
    SPINE.iter().map(|&(x, y, half)| (x + shift * (half / 0.114), y, width(half))).collect()
}

fn across(start: Reflectance, end: Reflectance, from: f64, to: f64) -> Paint {
    Paint::Fade { from: Point::new(from, 0.0), to: Point::new(to, 0.04), start, end }
}

fn stalk() -> [Shape; 2] {
    let line = band(&[(0.10, -0.498, 0.013), (0.078, -0.455, 0.0085), (0.058, -0.41, 0.010), (0.045, -0.375, 0.018)]);
    [thin_shadow(&line, 0.014), Shape { outline: line, paint: across(HUSK, HUSK_SHADE, 0.05, 0.10) }]
}

/// The half that lies flat, seen from its outside on the left of the opening.
fn back_valve() -> Vec<Shape> {
    let outline = band(&along(0.0, |half| half));
    let mut parts = vec![thin_shadow(&outline, 0.02), Shape { outline, paint: across(HUSK, HUSK_SHADE, -0.15, 0.09) }];
    // The dents and swellings over the seeds, and the veins that run slantwise over the husk.
    for &(x, y, half) in &SPINE[2..6] {
        parts.push(glow((x - 0.72 * half, y), [0.34 * half, 0.06], 0.0, Reflectance([0.74, 0.56, 0.31]), 0.55));
        for step in 0..3 {
            let y = y - 0.05 + 0.045 * f64::from(step);
            let vein = band(&[
                (x - 0.98 * half, y + 0.022, 0.0003),
                (x - 0.86 * half, y + 0.008, 0.0016),
                (x - 0.70 * half, y - 0.004, 0.0005),
            ]);
            parts.push(Shape { outline: vein, paint: Paint::Glaze { reflectance: VEIN, opacity: 0.5 } });
        }
    }
    parts
}

/// The opening: rim, pale lining, and the shade under the rim toward the lamp.
fn front_valve() -> Vec<Shape> {
    let rim = band(&along(0.022, |half| 0.80 * half));
    let lining = band(&along(0.024, |half| 0.735 * half));
    let shade = band(&along(-0.040, |half| 0.19 * half));
    let lit_rim = band(&along(0.106, |half| 0.045 * half));
    vec![
        Shape::flat(rim, RIM),
        Shape { outline: lining, paint: across(LINING_SHADE, LINING, -0.10, 0.06) },
        Shape { outline: shade, paint: Paint::Glaze { reflectance: BLACK, opacity: 0.35 } },
        Shape::flat(lit_rim, Reflectance([0.70, 0.55, 0.33])),
    ]
}

/// Seven seeds in a row, largest in the middle, each on its little stalk.
fn seeds() -> Vec<Shape> {
    let row = [
        (0.040, -0.315, 0.030, 10.0),
        (0.010, -0.225, 0.044, -25.0),
        (-0.010, -0.115, 0.052, 15.0),
        (-0.016, 0.003, 0.055, -10.0),
        (-0.012, 0.122, 0.053, 30.0),
        (0.006, 0.235, 0.047, -5.0),
        (0.032, 0.335, 0.035, 20.0),
    ];
    let mut parts = Vec::new();
    for (x, y, radius, turn) in row {
        let hold = band(&[(x + 0.4 * radius, y - 0.6 * radius, 0.006), (x + 1.35 * radius, y - 1.05 * radius, 0.004)]);
        parts.push(glow((x + 0.26 * radius, y + 0.34 * radius), [1.3 * radius; 2], 0.0, BLACK, 0.85));
        parts.push(Shape::flat(hold, LINING));
        parts.extend(seed((x, y), radius, turn));
    }
    parts
}

/// A glossy seed with the pale scar where it was held.
fn seed(at: (f64, f64), radius: f64, turn_deg: f64) -> [Shape; 4] {
    let centre = Point::new(at.0, at.1);
    let semi = [radius, 0.84 * radius];
    let dome = Dome { centre, semi: [1.06 * radius, 0.90 * radius], turn_deg, bulge: 0.9, body: SEED };
    let scar = centre + Point::new(0.70 * radius, -0.10 * radius).turned(turn_deg);
    let small = |by: f64| Outline::Ellipse { centre: scar, semi: [0.14 * radius * by, 0.30 * radius * by], turn_deg };
    let scar_rim = Shape::flat(small(1.3), Reflectance([0.03, 0.012, 0.009]));
    let gleam = glow(
        (at.0 - 0.34 * radius, at.1 - 0.36 * radius),
        [0.30 * radius, 0.20 * radius],
        -40.0,
        Reflectance::grey(0.95),
        0.9,
    );
    let body = Shape { outline: Outline::Ellipse { centre, semi, turn_deg }, paint: Paint::Dome(dome) };
    [body, scar_rim, Shape::flat(small(1.0), SCAR), gleam]
}
