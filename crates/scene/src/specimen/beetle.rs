//! A stag beetle.

use super::{BLACK, band, glow, points, shadow, thin_shadow};
use crate::outline::Outline;
use crate::shade::{Body, Dome, Paint};
use crate::shape::{Point, Reflectance, Shape};

const WING_CASE: Body = Body { colour: Reflectance([0.150, 0.048, 0.021]), gloss: 0.34, polish: 26.0 };
const ARMOUR: Body = Body { colour: Reflectance([0.040, 0.021, 0.014]), gloss: 0.085, polish: 16.0 };
const JAW: Body = Body { colour: Reflectance([0.165, 0.046, 0.018]), gloss: 0.30, polish: 22.0 };
const LEG: Reflectance = Reflectance([0.026, 0.017, 0.014]);
const LEG_GLEAM: Reflectance = Reflectance([0.16, 0.13, 0.11]);
const SEAM: Reflectance = Reflectance([0.014, 0.008, 0.006]);
const GLEAM: Reflectance = Reflectance([0.62, 0.56, 0.52]);

/// The beetle's left is -1, its right +1.
const SIDES: [f64; 2] = [-1.0, 1.0];

/// Its parts.
pub(super) fn parts() -> Vec<Shape> {
    let mut parts =
        vec![shadow((0.040, 0.20), [0.218, 0.40], 0.0, 0.75), shadow((0.03, -0.12), [0.21, 0.20], 0.0, 0.6)];
    let limbs: Vec<Outline> = SIDES.iter().flat_map(|&side| legs(side)).chain(SIDES.map(jaw)).collect();
    parts.extend(limbs.iter().map(|limb| thin_shadow(limb, 0.012)));
    for side in SIDES {
        parts.extend(legs(side).into_iter().map(|leg| Shape::flat(leg, LEG)));
        parts.extend(leg_gleams(side).into_iter().map(|gleam| Shape::flat(gleam, LEG_GLEAM)));
        parts.extend(feeler(side));
    }
    SIDES.iter().for_each(|&side| parts.extend(jaw_parts(side)));
    parts.extend(wing_cases());
    parts.extend(neck_shield());
    parts.extend(head());
    parts
}

fn dome(centre: (f64, f64), semi: [f64; 2], bulge: f64, body: Body) -> Paint {
    Paint::Dome(Dome { centre: Point::new(centre.0, centre.1), semi, turn_deg: 0.0, bulge, body })
}

/// Thigh, shin with its spur, and foot of the three legs of a side.
fn legs(side: f64) -> Vec<Outline> {
    let limb = |of: &[(f64, f64, f64)]| {
        let mirrored: Vec<_> = of.iter().map(|&(x, y, half)| (side * x, y, half)).collect();
        band(&mirrored)
    };
    let spur = |at: (f64, f64), to: (f64, f64)| limb(&[(at.0, at.1, 0.006), (to.0, to.1, 0.001)]);
    vec![
        limb(&[(0.09, -0.05, 0.015), (0.14, -0.088, 0.021), (0.192, -0.115, 0.013)]),
        limb(&[(0.188, -0.108, 0.010), (0.213, -0.165, 0.012), (0.226, -0.225, 0.015)]),
        limb(&[(0.222, -0.222, 0.006), (0.226, -0.262, 0.005), (0.214, -0.305, 0.005), (0.196, -0.328, 0.003)]),
        spur((0.205, -0.15), (0.232, -0.158)),
        spur((0.215, -0.185), (0.246, -0.197)),
        limb(&[(0.11, 0.055, 0.014), (0.165, 0.075, 0.019), (0.208, 0.105, 0.012)]),
        limb(&[(0.206, 0.098, 0.009), (0.224, 0.155, 0.010), (0.229, 0.225, 0.013)]),
        limb(&[(0.228, 0.22, 0.006), (0.234, 0.262, 0.005), (0.226, 0.305, 0.005), (0.210, 0.330, 0.003)]),
        spur((0.224, 0.165), (0.246, 0.178)),
        limb(&[(0.11, 0.15, 0.013), (0.160, 0.215, 0.018), (0.196, 0.27, 0.011)]),
        limb(&[(0.195, 0.264, 0.009), (0.213, 0.325, 0.010), (0.214, 0.40, 0.012)]),
        limb(&[(0.213, 0.395, 0.006), (0.216, 0.43, 0.005), (0.204, 0.468, 0.005), (0.188, 0.488, 0.003)]),
        spur((0.213, 0.345), (0.234, 0.362)),
    ]
}

fn leg_gleams(side: f64) -> Vec<Outline> {
    let line = |of: [(f64, f64); 3]| {
        let [a, b, c] = of;
        let lift = -0.006;
        band(&[
            (side * a.0 + lift, a.1 + lift, 0.0004),
            (side * b.0 + lift, b.1 + lift, 0.0030),
            (side * c.0 + lift, c.1 + lift, 0.0004),
        ])
    };
    vec![
        line([(0.115, -0.068), (0.148, -0.091), (0.183, -0.110)]),
        line([(0.191, -0.116), (0.212, -0.165), (0.223, -0.215)]),
        line([(0.13, 0.063), (0.168, 0.078), (0.2, 0.098)]),
        line([(0.208, 0.108), (0.224, 0.155), (0.229, 0.215)]),
        line([(0.135, 0.18), (0.162, 0.218), (0.19, 0.258)]),
        line([(0.197, 0.274), (0.213, 0.325), (0.214, 0.39)]),
    ]
}

/// An elbowed feeler with a comb of four plates at its end.
fn feeler(side: f64) -> Vec<Shape> {
    let x = |x: f64| side * x;
    let stem = band(&[(x(0.095), -0.215, 0.005), (x(0.132), -0.238, 0.0045), (x(0.164), -0.252, 0.005)]);
    let whip = band(&[(x(0.163), -0.25, 0.0045), (x(0.178), -0.285, 0.004), (x(0.184), -0.317, 0.004)]);
    let plate = |i: usize| {
        let y = -0.312 - 0.014 * i as f64;
        let out = x(0.184 - 0.034 + 0.003 * i as f64);
        band(&[(x(0.186), y, 0.005), (out, y - 0.012, 0.0055), (out - x(0.004), y - 0.014, 0.002)])
    };
    let outlines = [stem, whip].into_iter().chain((0..4).map(plate));
    outlines.map(|outline| Shape::flat(outline, LEG)).collect()
}

/// One antler-like jaw: out, up and inwards, forked at the tip, with a tooth halfway.
fn jaw(side: f64) -> Outline {
    let right = [
        (0.040, -0.225),
        (0.096, -0.220),
        (0.134, -0.275),
        (0.149, -0.335),
        (0.144, -0.395),
        (0.122, -0.448),
        (0.083, -0.492),
        (0.064, -0.497),
        (0.078, -0.470),
        (0.094, -0.440),
        (0.088, -0.430),
        (0.060, -0.440),
        (0.046, -0.436),
        (0.062, -0.420),
        (0.094, -0.405),
        (0.106, -0.375),
        (0.104, -0.352),
        (0.072, -0.352),
        (0.058, -0.344),
        (0.070, -0.332),
        (0.098, -0.322),
        (0.092, -0.290),
        (0.066, -0.262),
    ];
    Outline::smooth(&points(&right.map(|(x, y)| (side * x, y))))
}

fn jaw_parts(side: f64) -> [Shape; 3] {
    let paint = dome((side * 0.085, -0.35), [0.085, 0.19], 0.55, JAW);
    let ridge = band(&[
        (side * 0.098, -0.25, 0.0005),
        (side * 0.126, -0.30, 0.0032),
        (side * 0.130, -0.36, 0.0036),
        (side * 0.118, -0.42, 0.0030),
        (side * 0.088, -0.472, 0.0005),
    ]);
    let ridge = Shape { outline: ridge, paint: Paint::Glaze { reflectance: GLEAM, opacity: 0.34 } };
    let root = glow((side * 0.07, -0.235), [0.07, 0.045], 0.0, BLACK, 0.7);
    [Shape { outline: jaw(side), paint }, ridge, root]
}

/// Both wing cases, the seam between them, the little shield at its upper end, fine furrows and gleams.
fn wing_cases() -> Vec<Shape> {
    let mut parts = Vec::new();
    for side in SIDES {
        let half = [
            (0.0, 0.005),
            (0.07, 0.0),
            (0.135, 0.012),
            (0.158, 0.06),
            (0.165, 0.15),
            (0.160, 0.26),
            (0.140, 0.36),
            (0.104, 0.44),
            (0.052, 0.492),
            (0.0, 0.5),
        ];
        let outline = half_outline(&half, side);
        parts.push(Shape { outline, paint: dome((side * 0.058, 0.21), [0.125, 0.325], 0.85, WING_CASE) });
        for (i, bow) in [0.035, 0.068, 0.100, 0.129].into_iter().enumerate() {
            let end = 0.46 - 0.024 * i as f64;
            let furrow = band(&[
                (side * bow * 0.95, 0.035, 0.0003),
                (side * bow * 1.08, 0.18, 0.0012),
                (side * bow * 1.00, 0.31, 0.0011),
                (side * bow * 0.70, end, 0.0003),
            ]);
            parts.push(Shape { outline: furrow, paint: Paint::Glaze { reflectance: SEAM, opacity: 0.45 } });
        }
    }
    parts.push(Shape::flat(band(&[(0.0, 0.01, 0.0035), (0.0, 0.25, 0.0028), (0.0, 0.498, 0.002)]), SEAM));
    parts.push(glow((-0.085, 0.11), [0.022, 0.085], 6.0, GLEAM, 0.5));
    parts.push(glow((0.045, 0.10), [0.014, 0.07], 4.0, GLEAM, 0.28));
    let shield = Outline::smooth(&points(&[(-0.024, 0.004), (0.024, 0.004), (0.0, 0.046)]));
    parts.push(Shape { outline: shield, paint: dome((0.0, 0.018), [0.032, 0.034], 0.5, ARMOUR) });
    parts
}

/// Half an outline, closed along the middle line, as a smooth curve that is straight there.
fn half_outline(half: &[(f64, f64)], side: f64) -> Outline {
    let line = crate::outline::open_curve(&points(half));
    Outline::Polygon(line.into_iter().map(|p| Point::new(side * p.x.max(0.0), p.y)).collect())
}

/// The wide plate behind the head.
fn neck_shield() -> Vec<Shape> {
    let half = [
        (0.0, -0.152),
        (0.085, -0.150),
        (0.128, -0.128),
        (0.148, -0.075),
        (0.138, -0.025),
        (0.10, 0.004),
        (0.0, 0.010),
    ];
    vec![
        glow((0.0, 0.012), [0.16, 0.03], 0.0, BLACK, 0.75),
        Shape { outline: both(&half), paint: dome((0.0, -0.072), [0.172, 0.105], 0.5, ARMOUR) },
        glow((-0.055, -0.10), [0.055, 0.024], -10.0, GLEAM, 0.32),
        Shape {
            outline: band(&[(0.0, -0.13, 0.0006), (0.0, -0.07, 0.0016), (0.0, -0.015, 0.0006)]),
            paint: seam_glaze(),
        },
    ]
}

fn seam_glaze() -> Paint {
    Paint::Glaze { reflectance: SEAM, opacity: 0.6 }
}

/// The broad head with its ridge, its eyes and the lip between the jaws.
fn head() -> Vec<Shape> {
    let half = [
        (0.0, -0.243),
        (0.045, -0.240),
        (0.092, -0.250),
        (0.118, -0.232),
        (0.128, -0.190),
        (0.112, -0.152),
        (0.0, -0.142),
    ];
    let lip = Outline::smooth(&points(&[(-0.034, -0.236), (0.034, -0.236), (0.018, -0.266), (-0.018, -0.266)]));
    let mut parts = vec![
        glow((0.0, -0.142), [0.13, 0.022], 0.0, BLACK, 0.75),
        Shape { outline: lip, paint: dome((0.0, -0.245), [0.045, 0.03], 0.4, ARMOUR) },
        Shape { outline: both(&half), paint: dome((0.0, -0.19), [0.152, 0.082], 0.45, ARMOUR) },
        glow((-0.05, -0.215), [0.045, 0.016], -6.0, GLEAM, 0.30),
        glow((0.0, -0.178), [0.075, 0.012], 0.0, BLACK, 0.6),
    ];
    for side in SIDES {
        let (centre, semi) = (Point::new(side * 0.119, -0.213), [0.012, 0.020]);
        let outline = Outline::Ellipse { centre, semi, turn_deg: side * -12.0 };
        parts.push(Shape::flat(outline, Reflectance([0.008, 0.007, 0.008])));
        parts.push(glow((side * 0.119 - 0.003, -0.219), [0.006, 0.008], 0.0, GLEAM, 0.8));
    }
    parts
}

/// Half an outline and its mirror image.
fn both(half: &[(f64, f64)]) -> Outline {
    let right = crate::outline::open_curve(&points(half));
    let left = right.iter().rev().map(|p| Point::new(-p.x, p.y)).collect::<Vec<_>>();
    Outline::Polygon(right.into_iter().chain(left).collect())
}
