//! Straight pieces of edge in a whole picture.
//!
//! From the strongest gradient on, each ridge of the gradient is walked both ways for as long as it keeps to one straight line. Every
//! place is walked once, so the time grows with the picture and no faster.

use planes::{Linear, Plane};

/// Weakest gradient that is walked, in units of the picture's median: noise and texture are at 1.
const OVER_MEDIAN: f64 = 3.0;
/// The ridge ends where the gradient falls below this share of its own middle so far...
const FADES_TO: f64 = 0.4;
/// ... or turns away by more than this (cosine of 20 degrees) ...
const LEAST_COSINE: f64 = 0.94;
/// ... or leaves the line so far by more, in cells ...
const STRAYS_BY: f64 = 0.8;
/// ... for so many cells running: a speck of dust is stepped over.
const GAP: usize = 3;
/// Mean departure from the line, in cells, beyond which the piece is not straight.
const STRAIGHT: f64 = 0.35;
/// Gradients are looked into from the strongest on, so many at most.
const MOST_SEEDS: usize = 400_000;

/// A straight piece of edge; coordinates in pixels of the picture, the first pixel's centre at 0.5.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Piece {
    pub(super) from: (f64, f64),
    pub(super) to: (f64, f64),
    /// Gradient along the normal, per pixel of the picture.
    pub(super) steepness: f64,
}

impl Piece {
    pub(super) fn length(&self) -> f64 {
        (self.to.0 - self.from.0).hypot(self.to.1 - self.from.1)
    }

    /// Unit vector along the piece.
    pub(super) fn along(&self) -> (f64, f64) {
        let length = self.length().max(1e-9);
        ((self.to.0 - self.from.0) / length, (self.to.1 - self.from.1) / length)
    }

    /// Degrees against the nearer pixel axis, 0 to 45.
    pub(super) fn lean_deg(&self) -> f64 {
        let (x, y) = self.along();
        let against = y.abs().atan2(x.abs()).to_degrees();
        against.min(90.0 - against)
    }
}

/// A picture of one value per cell.
pub(super) struct Cells {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) values: Vec<f32>,
}

impl Cells {
    pub(super) fn of(plane: &Plane<Linear>) -> Self {
        Self { width: plane.width(), height: plane.height(), values: plane.samples().to_vec() }
    }

    /// Means of 2 x 2 cells.
    pub(super) fn halved(&self) -> Self {
        let (width, height) = (self.width / 2, self.height / 2);
        let mut values = Vec::with_capacity(width * height);
        for y in 0..height {
            let rows = [0, 1].map(|k| &self.values[(2 * y + k) * self.width..][..2 * width]);
            let pairs = rows[0].chunks_exact(2).zip(rows[1].chunks_exact(2));
            values.extend(pairs.map(|(a, b)| (a[0] + a[1] + b[0] + b[1]) / 4.0));
        }
        Self { width, height, values }
    }
}

/// Straight pieces at least so long (pixels of the picture) in a picture of cells each `factor` pixels wide.
pub(super) fn pieces(cells: &Cells, factor: f64, least_length: f64, least_gradient: f64) -> Vec<Piece> {
    if cells.width < 8 || cells.height < 8 {
        return Vec::new();
    }
    let field = Field::of(cells);
    let least = (least_gradient * factor).max(OVER_MEDIAN * field.median());
    let mut visited = vec![false; cells.width * cells.height];
    let mut out = Vec::new();
    for seed in field.seeds(least) {
        if visited[seed] {
            continue;
        }
        let walk = Walk::from(&field, seed, least);
        walk.mark(&mut visited, cells.width);
        if let Some(piece) = walk.piece(factor).filter(|p| p.length() >= least_length) {
            out.push(piece);
        }
    }
    out
}

/// Gradients at every cell.
struct Field {
    width: usize,
    height: usize,
    vectors: Vec<[f32; 2]>,
}

impl Field {
    /// By the 3 x 3 differences with weights 1 2 1 across; 0 on the picture's border.
    fn of(cells: &Cells) -> Self {
        let (width, height) = (cells.width, cells.height);
        let mut vectors = vec![[0.0; 2]; width * height];
        for y in 1..height - 1 {
            let row = |k: usize| &cells.values[(y + k - 1) * width..][..width];
            let (above, here, below) = (row(0), row(1), row(2));
            let out = &mut vectors[y * width..][..width];
            for x in 1..width - 1 {
                let across = |r: &[f32]| r[x + 1] - r[x - 1];
                let down = |x: usize| below[x] - above[x];
                out[x] = [
                    (across(above) + 2.0 * across(here) + across(below)) / 8.0,
                    (down(x - 1) + 2.0 * down(x) + down(x + 1)) / 8.0,
                ];
            }
        }
        Self { width, height, vectors }
    }

    fn strength(&self, index: usize) -> f32 {
        let [x, y] = self.vectors[index];
        (x * x + y * y).sqrt()
    }

    /// Median strength over every seventh cell that has any: clipped and blank ground must not set the measure.
    fn median(&self) -> f64 {
        let some: Vec<f64> = (0..self.vectors.len()).step_by(7).map(|i| f64::from(self.strength(i))).collect();
        crate::numeric::median(&some)
    }

    /// Cells on a ridge of the gradient, the strongest first.
    fn seeds(&self, least: f64) -> Vec<usize> {
        let mut found: Vec<(f32, usize)> = Vec::new();
        for y in 1..self.height - 1 {
            for x in 1..self.width - 1 {
                let i = y * self.width + x;
                let strength = self.strength(i);
                if f64::from(strength) < least || !strength.is_finite() {
                    continue;
                }
                let [gx, gy] = self.vectors[i];
                // The neighbour in the gradient's direction, to the nearer of the eight.
                let step = |g: f32| if g.abs() > 0.382_7 * strength { g.signum() as isize } else { 0 };
                let offset = step(gy) * self.width as isize + step(gx);
                let beside = |o: isize| self.strength(i.saturating_add_signed(o));
                if strength >= beside(offset) && strength > beside(-offset) {
                    found.push((strength, i));
                }
            }
        }
        if found.len() > MOST_SEEDS {
            found.select_nth_unstable_by(MOST_SEEDS, |a, b| b.0.total_cmp(&a.0));
            found.truncate(MOST_SEEDS);
        }
        found.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        found.into_iter().map(|(_, i)| i).collect()
    }

    /// Between cells; `None` within a cell of the border. Places count cells from the first one's centre.
    fn at(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        if !(x >= 1.0 && y >= 1.0 && x < self.width as f64 - 2.0 && y < self.height as f64 - 2.0) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (u, v) = (x - i as f64, y - j as f64);
        let cell = |dx: usize, dy: usize| self.vectors[(j + dy) * self.width + i + dx];
        let blend = |k: usize| {
            let upper = f64::from(cell(0, 0)[k]) * (1.0 - u) + f64::from(cell(1, 0)[k]) * u;
            let lower = f64::from(cell(0, 1)[k]) * (1.0 - u) + f64::from(cell(1, 1)[k]) * u;
            upper * (1.0 - v) + lower * v
        };
        Some((blend(0), blend(1)))
    }
}

/// Points of one ridge, and the straight line through them.
struct Walk {
    points: Vec<(f64, f64)>,
    line: Line,
    steepness: f64,
}

/// A line by a point, a direction and that direction's normal, which points the gradient's way.
#[derive(Debug, Clone, Copy)]
struct Line {
    middle: (f64, f64),
    along: (f64, f64),
    normal: (f64, f64),
}

/// Sums of points, from which the line through them follows.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Sums {
    fn add(&mut self, (x, y): (f64, f64)) {
        self.n += 1.0;
        self.x += x;
        self.y += y;
        self.xx += x * x;
        self.xy += x * y;
        self.yy += y * y;
    }

    /// The direction of largest spread, turned to the old one's way, and the mean square about it.
    fn line(&self, old: &Line) -> (Line, f64) {
        let (mx, my) = (self.x / self.n, self.y / self.n);
        let (xx, xy, yy) = (self.xx / self.n - mx * mx, self.xy / self.n - mx * my, self.yy / self.n - my * my);
        let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
        let (mut sin, mut cos) = angle.sin_cos();
        if cos * old.along.0 + sin * old.along.1 < 0.0 {
            (sin, cos) = (-sin, -cos);
        }
        let mut normal = (-sin, cos);
        if normal.0 * old.normal.0 + normal.1 * old.normal.1 < 0.0 {
            normal = (sin, -cos);
        }
        let across = xx * sin * sin - 2.0 * xy * sin * cos + yy * cos * cos;
        (Line { middle: (mx, my), along: (cos, sin), normal }, across.max(0.0))
    }
}

impl Walk {
    fn from(field: &Field, seed: usize, least: f64) -> Self {
        let start = ((seed % field.width) as f64, (seed / field.width) as f64);
        let [gx, gy] = field.vectors[seed].map(f64::from);
        let strength = gx.hypot(gy).max(1e-12);
        let normal = (gx / strength, gy / strength);
        let mut line = Line { middle: start, along: (-normal.1, normal.0), normal };
        let mut sums = Sums::default();
        sums.add(start);
        let (mut points, mut total) = (vec![start], strength);
        for way in [1.0, -1.0] {
            let (mut misses, mut from) = (0, start);
            while misses < GAP {
                let ahead = (from.0 + way * line.along.0, from.1 + way * line.along.1);
                let typical = total / points.len() as f64;
                // Back onto the line so far, which a few points do not tell yet.
                let foot = if points.len() >= 6 { line.foot(ahead) } else { ahead };
                let Some((point, steepness)) = ridge(field, foot, &line) else { break };
                let strays = points.len() >= 12 && line.distance(point).abs() > STRAYS_BY;
                if steepness < FADES_TO * typical || steepness < 0.7 * least || strays {
                    misses += 1;
                    from = foot;
                    continue;
                }
                misses = 0;
                total += steepness;
                sums.add(point);
                points.push(point);
                from = point;
                if points.len() >= 6 && (points.len() < 32 || points.len().is_multiple_of(8)) {
                    line = sums.line(&line).0;
                }
            }
        }
        if points.len() >= 6 {
            line = sums.line(&line).0;
        }
        let steepness = total / points.len() as f64;
        Self { points, line, steepness }
    }

    /// Cells near the points, so that no second walk goes along the same ridge.
    fn mark(&self, visited: &mut [bool], width: usize) {
        for (x, y) in &self.points {
            for k in -2..=2 {
                let (px, py) = (x + f64::from(k) * self.line.normal.0, y + f64::from(k) * self.line.normal.1);
                if px >= 0.0 && py >= 0.0 && (px.round() as usize) < width {
                    let index = py.round() as usize * width + px.round() as usize;
                    if let Some(cell) = visited.get_mut(index) {
                        *cell = true;
                    }
                }
            }
        }
    }

    /// The piece in pixels, when the points keep to the line.
    fn piece(&self, factor: f64) -> Option<Piece> {
        let distances = self.points.iter().map(|p| self.line.distance(*p).abs());
        let mean = distances.sum::<f64>() / self.points.len() as f64;
        if self.points.len() < 8 || mean > STRAIGHT {
            return None;
        }
        let places = self.points.iter().map(|p| self.line.place(*p));
        let (first, last) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |e, p| (e.0.min(p), e.1.max(p)));
        // A ridge with holes is none.
        if (self.points.len() as f64) < 0.8 * (last - first) {
            return None;
        }
        let pixel = |place: f64| {
            let (x, y) = self.line.point(place);
            ((x + 0.5) * factor, (y + 0.5) * factor)
        };
        Some(Piece { from: pixel(first), to: pixel(last), steepness: self.steepness / factor })
    }
}

impl Line {
    fn place(&self, (x, y): (f64, f64)) -> f64 {
        (x - self.middle.0) * self.along.0 + (y - self.middle.1) * self.along.1
    }

    fn distance(&self, (x, y): (f64, f64)) -> f64 {
        (x - self.middle.0) * self.normal.0 + (y - self.middle.1) * self.normal.1
    }

    fn point(&self, place: f64) -> (f64, f64) {
        (self.middle.0 + place * self.along.0, self.middle.1 + place * self.along.1)
    }

    fn foot(&self, point: (f64, f64)) -> (f64, f64) {
        self.point(self.place(point))
    }
}

/// The ridge's place on the normal through a point, within a cell of it, and the steepness there; `None` at the picture's border or where
/// the gradient turns away.
fn ridge(field: &Field, (x, y): (f64, f64), line: &Line) -> Option<((f64, f64), f64)> {
    let (nx, ny) = line.normal;
    let mut steep = [0.0; 3];
    for (value, k) in steep.iter_mut().zip([-1.0, 0.0, 1.0]) {
        let (gx, gy) = field.at(x + k * nx, y + k * ny)?;
        *value = gx * nx + gy * ny;
        if k == 0.0 && *value < LEAST_COSINE * gx.hypot(gy) {
            // Turned away: no steepness at all, which counts as a miss.
            return Some(((x, y), 0.0));
        }
    }
    let [a, b, c] = steep;
    // The top of the parabola through three points.
    let bend = a - 2.0 * b + c;
    let shift = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-1.0, 1.0) } else { (c - a).signum() * 0.5 };
    let top = b - 0.25 * (a - c) * shift;
    Some(((x + shift * nx, y + shift * ny), top.max(b)))
}
