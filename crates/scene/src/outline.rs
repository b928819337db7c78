//! Boundaries of shapes, and ways to make handsome ones.

use crate::shape::Point;

/// The boundary of a shape, subject millimetres.
#[derive(Debug, Clone, PartialEq)]
pub enum Outline {
    /// Straight sides between corners; it closes itself.
    Polygon(Vec<Point>),
    /// A circle.
    Disc {
        /// Its middle.
        centre: Point,
        /// Its radius.
        radius: f64,
    },
    /// An ellipse.
    Ellipse {
        /// Its middle.
        centre: Point,
        /// Half its width and half its height before the turn.
        semi: [f64; 2],
        /// Clockwise.
        turn_deg: f64,
    },
    /// A straight line of some width with square ends.
    Strip {
        /// One end.
        from: Point,
        /// The other.
        to: Point,
        /// Across.
        width: f64,
    },
    /// Polygons side by side, all wound the same way and painted as one, without seams where they touch.
    Several(Vec<Vec<Point>>),
    /// Polygons above or below the subject's plane, painted as one.
    Raised {
        /// Corners and their heights, mm towards the camera.
        polygons: Vec<Vec<Raised>>,
        /// A convex opening in the subject's plane through which alone they are seen.
        through: Option<Vec<Point>>,
    },
}

/// A point above (or below) the subject's plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Raised {
    /// Where, on the subject.
    pub at: Point,
    /// How high, mm towards the camera.
    pub height_mm: f64,
}

impl Outline {
    /// An axis-parallel rectangle.
    pub fn rectangle(centre: Point, width: f64, height: f64) -> Self {
        Self::square_corners(centre, [0.5 * width, 0.5 * height], 0.0)
    }

    /// A rectangle turned clockwise, by half its sides.
    pub fn square_corners(centre: Point, half: [f64; 2], turn_deg: f64) -> Self {
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        Self::Polygon(corners.map(|(x, y)| Point::new(x * half[0], y * half[1]).turned(turn_deg) + centre).to_vec())
    }

    /// A closed curve through the points, smooth everywhere (uniform Catmull-Rom).
    pub fn smooth(points: &[Point]) -> Self {
        let at = |i: usize| points[i % points.len()];
        let mut corners = Vec::with_capacity(points.len() * PIECES);
        for i in 0..points.len() {
            let knots = [at(i + points.len() - 1), at(i), at(i + 1), at(i + 2)];
            corners.extend((0..PIECES).map(|k| catmull_rom(&knots, k as f64 / PIECES as f64)));
        }
        Self::Polygon(corners)
    }

    /// A band along a smooth curve through `spine`, each entry a point and the half-width there.
    pub fn ribbon(spine: &[(Point, f64)]) -> Self {
        let points: Vec<Point> = spine.iter().map(|s| s.0).collect();
        let widths: Vec<Point> = spine.iter().map(|s| Point::new(s.1, 0.0)).collect();
        let (line, widths) = (open_curve(&points), open_curve(&widths));
        let sides = |sign: f64| {
            let (line, widths) = (&line, &widths);
            (0..line.len()).map(move |i| line[i] + normal_at(line, i) * (sign * widths[i].x.max(0.0)))
        };
        Self::Polygon(sides(1.0).chain(sides(-1.0).rev()).collect())
    }

    /// Enlarged about the origin, then turned clockwise, then shifted.
    pub fn placed(&self, scale: f64, turn_deg: f64, shift: Point) -> Self {
        let place = |p: &Point| (*p * scale).turned(turn_deg) + shift;
        match self {
            Self::Polygon(points) => Self::Polygon(points.iter().map(place).collect()),
            Self::Disc { centre, radius } => Self::Disc { centre: place(centre), radius: radius * scale },
            Self::Ellipse { centre, semi, turn_deg: own } => {
                Self::Ellipse { centre: place(centre), semi: semi.map(|s| s * scale), turn_deg: own + turn_deg }
            }
            Self::Strip { from, to, width } => Self::Strip { from: place(from), to: place(to), width: width * scale },
            Self::Several(polygons) => {
                Self::Several(polygons.iter().map(|corners| corners.iter().map(place).collect()).collect())
            }
            Self::Raised { polygons, through } => {
                let raise = |r: &Raised| Raised { at: place(&r.at), height_mm: r.height_mm * scale };
                Self::Raised {
                    polygons: polygons.iter().map(|corners| corners.iter().map(raise).collect()).collect(),
                    through: through.as_ref().map(|opening| opening.iter().map(place).collect()),
                }
            }
        }
    }

    /// The corners of polygons that leave the true boundary by no more than `tolerance` (same unit).
    pub(crate) fn flattened(&self, tolerance: f64) -> Vec<Vec<Raised>> {
        let flat = |points: Vec<Point>| vec![points.into_iter().map(|at| Raised { at, height_mm: 0.0 }).collect()];
        match self {
            Self::Polygon(points) => flat(points.clone()),
            Self::Disc { centre, radius } => flat(ellipse(*centre, [*radius; 2], 0.0, tolerance)),
            Self::Ellipse { centre, semi, turn_deg } => flat(ellipse(*centre, *semi, *turn_deg, tolerance)),
            Self::Strip { from, to, width } => {
                let along = *to - *from;
                let turn = along.y.atan2(along.x).to_degrees();
                let middle = (*from + *to) * 0.5;
                Self::square_corners(middle, [0.5 * along.length(), 0.5 * width], turn).flattened(tolerance)
            }
            Self::Several(polygons) => polygons.iter().flat_map(|corners| flat(corners.clone())).collect(),
            Self::Raised { polygons, .. } => polygons.clone(),
        }
    }
}

/// The part of a polygon that lies within a convex one (Sutherland and Hodgman 1974).
pub(crate) fn clipped(polygon: Vec<[f64; 2]>, opening: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let cross = |a: [f64; 2], b: [f64; 2], p: [f64; 2]| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
    let next = |i: usize| opening[(i + 1) % opening.len()];
    let area: f64 = (0..opening.len()).map(|i| cross([0.0; 2], opening[i], next(i))).sum();
    (0..opening.len()).fold(polygon, |polygon, i| {
        let inside = |p: [f64; 2]| cross(opening[i], next(i), p) * area.signum();
        let mut kept = Vec::with_capacity(polygon.len() + 2);
        for (k, &p) in polygon.iter().enumerate() {
            let q = polygon[(k + 1) % polygon.len()];
            let (at_p, at_q) = (inside(p), inside(q));
            if at_p >= 0.0 {
                kept.push(p);
            }
            if (at_p >= 0.0) != (at_q >= 0.0) {
                let share = at_p / (at_p - at_q);
                kept.push([0, 1].map(|axis| p[axis] + share * (q[axis] - p[axis])));
            }
        }
        kept
    })
}

/// Straight pieces per knot of a smooth curve: with knots a millimetre apart they are too short to be seen.
const PIECES: usize = 12;

fn catmull_rom(p: &[Point; 4], t: f64) -> Point {
    let (t2, t3) = (t * t, t * t * t);
    p[0] * (-0.5 * t + t2 - 0.5 * t3)
        + p[1] * (1.0 - 2.5 * t2 + 1.5 * t3)
        + p[2] * (0.5 * t + 2.0 * t2 - 1.5 * t3)
        + p[3] * (-0.5 * t2 + 0.5 * t3)
}

/// A smooth curve through the points, with both ends.
pub(crate) fn open_curve(points: &[Point]) -> Vec<Point> {
    let last = points.len() - 1;
    let mut curve = Vec::with_capacity(last * PIECES + 1);
    for i in 0..last {
        let knots = [points[i.saturating_sub(1)], points[i], points[i + 1], points[(i + 2).min(last)]];
        curve.extend((0..PIECES).map(|k| catmull_rom(&knots, k as f64 / PIECES as f64)));
    }
    curve.push(points[last]);
    curve
}

fn normal_at(line: &[Point], i: usize) -> Point {
    let along = line[(i + 1).min(line.len() - 1)] - line[i.saturating_sub(1)];
    let length = along.length().max(f64::MIN_POSITIVE);
    Point::new(-along.y / length, along.x / length)
}

fn ellipse(centre: Point, semi: [f64; 2], turn_deg: f64, tolerance: f64) -> Vec<Point> {
    // A chord of angle a on radius r leaves the arc by r (1 - cos(a / 2)). The corners are pushed out so that the
    // polygon keeps the ellipse's area.
    let largest = semi[0].abs().max(semi[1].abs()).max(tolerance);
    let count = (std::f64::consts::PI / (1.0 - tolerance / largest).max(0.0).acos().max(1e-4)).ceil().max(8.0);
    let step = std::f64::consts::TAU / count;
    let outward = (step / step.sin()).sqrt();
    let corner = |i: usize| {
        let (sin, cos) = (i as f64 * step).sin_cos();
        Point::new(semi[0] * cos * outward, semi[1] * sin * outward).turned(turn_deg) + centre
    };
    (0..count as usize).map(corner).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn area(polygons: &[Vec<Raised>]) -> f64 {
        let corners: Vec<Point> = polygons[0].iter().map(|corner| corner.at).collect();
        let next = corners.iter().cycle().skip(1);
        0.5 * corners.iter().zip(next).map(|(a, b)| a.x * b.y - b.x * a.y).sum::<f64>()
    }

    #[test]
    fn a_flattened_ellipse_keeps_its_area() {
        let ellipse = Outline::Ellipse { centre: Point::new(3.0, -2.0), semi: [4.0, 1.5], turn_deg: 31.0 };
        assert_close!(area(&ellipse.flattened(0.01)), std::f64::consts::PI * 6.0, relative = 1e-9);
    }

    #[test]
    fn a_strip_is_as_long_and_wide_as_said() {
        let strip = Outline::Strip { from: Point::new(1.0, 1.0), to: Point::new(4.0, 5.0), width: 0.5 };
        assert_close!(area(&strip.flattened(0.01)), 2.5, relative = 1e-12);
    }

    #[test]
    fn what_is_seen_through_an_opening_is_cut_off_whichever_way_either_is_wound() {
        let square = |half: f64| vec![[-half, -half], [half, -half], [half, half], [-half, half]];
        let mut opening = square(1.0);
        for _ in 0..2 {
            opening.reverse();
            // A square of two by two with its lower half left open: 2 by 1.5.
            let polygon = vec![[-3.0, -3.0], [3.0, -3.0], [3.0, 0.5], [-3.0, 0.5]];
            let kept = clipped(polygon, &opening);
            let seen: Vec<Raised> =
                kept.iter().map(|&[x, y]| Raised { at: Point::new(x, y), height_mm: 0.0 }).collect();
            assert_close!(area(&[seen]).abs(), 3.0, absolute = 1e-12);
            assert!(clipped(vec![[5.0, 5.0], [6.0, 5.0], [6.0, 6.0]], &opening).is_empty());
        }
    }

    #[test]
    fn smooth_curves_pass_through_their_points() {
        let points = [(0.0, 0.0), (2.0, -1.0), (3.0, 1.0), (1.0, 2.0)].map(|(x, y)| Point::new(x, y));
        let Outline::Polygon(corners) = Outline::smooth(&points) else { unreachable!() };
        assert!(points.iter().all(|p| corners.iter().any(|c| (*c - *p).length() < 1e-12)));
    }
}
