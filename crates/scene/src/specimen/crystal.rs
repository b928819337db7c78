//! A group of quartz crystals.

use super::{BLACK, glow, points, shadow};
use crate::outline::Outline;
use crate::shade::Paint;
use crate::shape::{Point, Reflectance, Shape};

const MILKY: Reflectance = Reflectance([0.62, 0.57, 0.63]);
const VIOLET: Reflectance = Reflectance([0.27, 0.115, 0.42]);
const ROCK: Reflectance = Reflectance([0.185, 0.165, 0.140]);
const RIDGE: Reflectance = Reflectance([0.90, 0.86, 0.94]);

/// A six-sided prism with a pointed end, of which three sides are seen.
struct Prism {
    /// Middle of its foot.
    foot: (f64, f64),
    /// Lean to the right of upright.
    lean_deg: f64,
    half_width: f64,
    length: f64,
    /// Where the front side's two ridges stand, in half-widths: this is how the prism is turned about its own axis.
    ridges: [f64; 2],
    /// Where the point stands, in half-widths.
    tip: f64,
}

const fn prism(foot: (f64, f64), lean_deg: f64, half_width: f64, length: f64, ridges: [f64; 2], tip: f64) -> Prism {
    Prism { foot, lean_deg, half_width, length, ridges, tip }
}

/// From the back to the front.
const GROUP: [Prism; 11] = [
    prism((-0.05, 0.20), -17.0, 0.052, 0.50, [-0.30, 0.55], 0.15),
    prism((0.07, 0.20), 15.0, 0.058, 0.54, [-0.60, 0.25], -0.10),
    prism((0.00, 0.24), -2.0, 0.098, 0.74, [-0.38, 0.52], 0.10),
    prism((-0.11, 0.27), -28.0, 0.044, 0.30, [-0.55, 0.30], 0.0),
    prism((0.120, 0.26), 22.0, 0.040, 0.27, [-0.25, 0.60], 0.1),
    prism((-0.075, 0.30), -11.0, 0.062, 0.40, [-0.50, 0.42], -0.05),
    prism((0.095, 0.31), 11.0, 0.066, 0.36, [-0.35, 0.50], 0.12),
    prism((0.015, 0.34), 3.0, 0.048, 0.29, [-0.55, 0.35], -0.10),
    prism((-0.155, 0.35), -36.0, 0.030, 0.15, [-0.40, 0.45], 0.0),
    prism((0.175, 0.36), 34.0, 0.030, 0.14, [-0.45, 0.45], 0.0),
    prism((-0.045, 0.38), -9.0, 0.032, 0.16, [-0.40, 0.50], 0.1),
];

/// Its parts.
pub(super) fn parts() -> Vec<Shape> {
    let mut parts =
        vec![shadow((0.045, 0.37), [0.27, 0.16], 0.0, 0.85), shadow((0.060, 0.04), [0.170, 0.42], 4.0, 0.6)];
    parts.extend(rock());
    GROUP.iter().for_each(|one| parts.extend(one.parts()));
    parts.extend(rubble());
    parts
}

/// The block that the crystals grow from: facets around a middle, each in its own shade.
fn rock() -> Vec<Shape> {
    let rim = points(&[
        (-0.235, 0.36),
        (-0.200, 0.27),
        (-0.10, 0.225),
        (0.02, 0.20),
        (0.13, 0.225),
        (0.215, 0.285),
        (0.245, 0.385),
        (0.19, 0.455),
        (0.08, 0.492),
        (-0.06, 0.5),
        (-0.17, 0.46),
    ]);
    let ridge = points(&[(-0.12, 0.37), (0.0, 0.395), (0.13, 0.375)]);
    let mut parts = vec![Shape::flat(Outline::Polygon(rim.clone()), ROCK)];
    let facet = |corners: Vec<Point>, factor: f32| Shape::flat(Outline::Polygon(corners), ROCK.times(factor));
    parts.push(facet(vec![rim[0], rim[1], rim[2], ridge[0]], 1.75));
    parts.push(facet(vec![rim[2], rim[3], rim[4], ridge[2], ridge[1], ridge[0]], 1.35));
    parts.push(facet(vec![rim[4], rim[5], ridge[2]], 1.05));
    parts.push(facet(vec![rim[5], rim[6], ridge[2]], 0.72));
    parts.push(facet(vec![rim[6], rim[7], ridge[2]], 0.48));
    parts.push(facet(vec![rim[7], rim[8], ridge[1], ridge[2]], 0.62));
    parts.push(facet(vec![rim[8], rim[9], ridge[1]], 0.85));
    parts.push(facet(vec![rim[9], rim[10], ridge[0], ridge[1]], 1.0));
    parts.push(facet(vec![rim[10], rim[0], ridge[0]], 1.3));
    parts
}

/// Grains and tiny crystals around the feet.
fn rubble() -> Vec<Shape> {
    let mut parts = Vec::new();
    let mut noise = crate::noise::Noise::new(20);
    for _ in 0..46 {
        let (x, y) = (noise.between(-0.19, 0.19), noise.between(0.37, 0.46));
        let y = y - 0.5 * x * x;
        let size = noise.between(0.006, 0.017);
        let corners = (0..5).map(|i| {
            let turn = 72.0 * f64::from(i) + noise.between(-22.0, 22.0);
            Point::new(size, 0.0).turned(turn) + Point::new(x, y)
        });
        let outline = Outline::Polygon(corners.collect());
        let bright = noise.between(0.5, 2.6) as f32;
        let base = if noise.uniform() < 0.4 { Reflectance([0.34, 0.28, 0.37]) } else { ROCK };
        parts.push(glow((x + 0.3 * size, y + 0.4 * size), [1.5 * size; 2], 0.0, BLACK, 0.6));
        parts.push(Shape::flat(outline, base.times(bright.min(2.0))));
    }
    parts
}

impl Prism {
    fn place(&self, across: f64, up: f64) -> Point {
        Point::new(across * self.half_width, -up * self.length).turned(self.lean_deg)
            + Point::new(self.foot.0, self.foot.1)
    }

    /// Milky at the foot, violet toward the point; brighter or darker by how the side faces the lamp.
    fn side(&self, corners: &[(f64, f64)], brightness: f32) -> Shape {
        let outline = Outline::Polygon(corners.iter().map(|&(x, up)| self.place(x, up)).collect());
        let (from, to) = (self.place(0.0, 0.12), self.place(0.0, 0.95));
        let paint = Paint::Fade { from, to, start: MILKY.times(brightness), end: VIOLET.times(brightness) };
        Shape { outline, paint }
    }

    fn line(&self, from: (f64, f64), to: (f64, f64), width: f64, reflectance: Reflectance, opacity: f64) -> Shape {
        let (from, to) = (self.place(from.0, from.1), self.place(to.0, to.1));
        let outline = Outline::Strip { from, to, width: width * self.half_width };
        Shape { outline, paint: Paint::Glaze { reflectance, opacity } }
    }

    fn parts(&self) -> Vec<Shape> {
        let [a, b] = self.ridges;
        // Shoulders fall away from the point; the slope of the end faces is the same on every crystal.
        let drop = 1.25 * self.half_width / self.length;
        let shoulder = |x: f64| 1.0 - drop * (0.75 + 0.5 * (x - self.tip).abs());
        let (left, right) = ((-1.0, shoulder(-1.0)), (1.0, shoulder(1.0)));
        let (near_a, near_b, tip) = ((a, shoulder(a) - 0.3 * drop), (b, shoulder(b) - 0.3 * drop), (self.tip, 1.0));
        let mut parts = vec![
            self.side(&[(-1.0, 0.0), (a, -0.04), near_a, left], 1.22),
            self.side(&[(a, -0.04), (b, -0.04), near_b, near_a], 0.88),
            self.side(&[(b, -0.04), (1.0, 0.0), right, near_b], 0.42),
            self.side(&[left, near_a, tip], 1.9),
            self.side(&[near_a, near_b, tip], 1.25),
            self.side(&[near_b, right, tip], 0.60),
        ];
        parts.extend(self.striations(a, b, near_a.1.min(near_b.1)));
        parts.push(self.gleam(a, near_a.1));
        for (from, to) in [(near_a, tip), (near_b, tip), (near_a, near_b), (left, near_a), (near_b, right)] {
            parts.push(self.line(from, to, 0.05, RIDGE, 0.6));
        }
        parts.push(self.line((a, 0.0), near_a, 0.05, RIDGE, 0.55));
        parts.push(self.line((b, 0.0), near_b, 0.04, RIDGE, 0.35));
        parts
    }

    /// Growth lines across the front side, as on every quartz prism.
    fn striations(&self, a: f64, b: f64, top: f64) -> Vec<Shape> {
        let count = (self.length / 0.035) as usize;
        let line = |i: usize| {
            let up = top * (i as f64 + 0.5 + 0.3 * (2.4 * i as f64).sin()) / count as f64;
            let end = b - (b - a) * (0.15 + 0.3 * (1.7 * i as f64).cos().abs());
            self.line((a, up), (end, up), 0.022, RIDGE, 0.22)
        };
        (0..count).map(line).collect()
    }

    /// A window reflected in the left side.
    fn gleam(&self, a: f64, top: f64) -> Shape {
        let (outer, inner) = (-1.0 + 0.25 * (a + 1.0), -1.0 + 0.62 * (a + 1.0));
        let corners = [(outer, 0.42 * top), (inner, 0.38 * top), (inner, 0.84 * top), (outer, 0.80 * top)];
        let outline = Outline::Polygon(corners.iter().map(|&(x, up)| self.place(x, up)).collect());
        Shape { outline, paint: Paint::Glaze { reflectance: RIDGE, opacity: 0.42 } }
    }
}
