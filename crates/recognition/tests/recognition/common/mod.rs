//! Cards photographed by a pinhole camera with known tilt, distortion, blur, fringing, glare and fall-off.
//!
//! Each pixel asks what the ray through it meets: nothing here is shared with what is tested but the layout of the card.

use planes::{Linear, LumaWeights, Picture, Plane};
use target::{Card, CodeDots, Identity, Mark, Ramp, Sheet};

pub const PAPER: f64 = 0.85;
pub const INK: f64 = 0.05;
pub const BARS: f64 = 0.10;

/// A camera and what is wrong with it.
#[derive(Debug, Clone)]
pub struct Shot {
    pub size: (usize, usize),
    /// Pixels per millimetre where the axis meets the card.
    pub scale: f64,
    /// Clockwise turn of the card, degrees.
    pub turn_deg: f64,
    /// Shift of the card's middle, mm along the picture's axes.
    pub shift_mm: (f64, f64),
    /// Right side farther, lower side farther, degrees.
    pub tilt_deg: (f64, f64),
    pub distance_mm: f64,
    pub k1: f64,
    pub mirrored: bool,
    pub negative: bool,
    /// Gaussian blur of each colour, pixels.
    pub sigma: [f64; 3],
    /// Red and blue outwards in the corner, pixels.
    pub fringing: (f64, f64),
    /// Share of the mean light that is added everywhere.
    pub glare: f64,
    /// Fall-off in the corner, stops.
    pub falloff: f64,
    pub exposure: f64,
    pub grain: f64,
    /// Height of best focus above the card, mm, and blur of the ramp's bars per mm away from it, mm.
    pub focus: (f64, f64),
    /// Rise of the best focus over the field, per mm to the right and downwards on the card.
    pub focus_slope: (f64, f64),
    pub colour: bool,
    /// Light that hides everything: place (mm on the field), radius.
    pub blobs: Vec<((f64, f64), f64)>,
    /// Something laid on the card, of middling reflectance: lower left and upper right corner, mm on the field.
    pub covers: Vec<[f64; 4]>,
}

impl Shot {
    /// Square on, a little unsharp, the field filling 98 % of the frame.
    pub fn of(field_mm: [f64; 2], longer_px: usize) -> Self {
        let scale = longer_px as f64 * 0.98 / field_mm[0].max(field_mm[1]);
        let size = ((field_mm[0] * scale / 0.98).round() as usize, (field_mm[1] * scale / 0.98).round() as usize);
        Self {
            size,
            scale,
            turn_deg: 0.0,
            shift_mm: (0.0, 0.0),
            tilt_deg: (0.0, 0.0),
            distance_mm: 3.0 * field_mm[0].max(field_mm[1]),
            k1: 0.0,
            mirrored: false,
            negative: false,
            sigma: [0.8; 3],
            fringing: (0.0, 0.0),
            glare: 0.0,
            falloff: 0.0,
            exposure: 0.9,
            grain: 0.0,
            focus: (0.0, 0.02),
            focus_slope: (0.0, 0.0),
            colour: false,
            blobs: Vec::new(),
            covers: Vec::new(),
        }
    }

    fn middle(&self) -> (f64, f64) {
        (self.size.0 as f64 / 2.0, self.size.1 as f64 / 2.0)
    }

    pub fn radius_px(&self) -> f64 {
        self.middle().0.hypot(self.middle().1)
    }

    /// Camera's axes of a point of the field at a height towards the camera, mm.
    fn camera(&self, [x, y]: [f64; 2], height: f64) -> [f64; 3] {
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        let (px, py) = (x * cos - y * sin + self.shift_mm.0, x * sin + y * cos + self.shift_mm.1);
        let (sa, ca) = self.tilt_deg.0.to_radians().sin_cos();
        let (sb, cb) = self.tilt_deg.1.to_radians().sin_cos();
        // About the upright axis first, then about the level one.
        let (qx, qz) = (px * ca + height * sa, px * sa - height * ca);
        let (ry, rz) = (py * cb - qz * sb, py * sb + qz * cb);
        [qx, ry, rz + self.distance_mm]
    }

    fn finish(&self, (u, v): (f64, f64), channel: usize) -> (f64, f64) {
        let r2 = (u * u + v * v) / self.radius_px().powi(2);
        let outwards = [self.fringing.0, 0.0, self.fringing.1][channel] / self.radius_px();
        let stretch = (1.0 + self.k1 * r2) * (1.0 + outwards);
        let (u, v) = (u * stretch, v * stretch);
        (self.middle().0 + if self.mirrored { -u } else { u }, self.middle().1 + v)
    }

    /// Where a point of the field lies in the picture.
    pub fn to_picture(&self, at: [f64; 2], height: f64) -> (f64, f64) {
        let [x, y, z] = self.camera(at, height);
        let k = self.scale * self.distance_mm / z;
        self.finish((k * x, k * y), 1)
    }

    /// Undistorted picture coordinates about the middle, of a pixel place in one colour.
    fn straight(&self, (px, py): (f64, f64), channel: usize) -> (f64, f64) {
        let (mx, my) = self.middle();
        let (dx, dy) = (if self.mirrored { mx - px } else { px - mx }, py - my);
        let outwards = [self.fringing.0, 0.0, self.fringing.1][channel] / self.radius_px();
        let (dx, dy) = (dx / (1.0 + outwards), dy / (1.0 + outwards));
        let target = dx.hypot(dy) / self.radius_px();
        let mut r = target;
        for _ in 0..6 {
            r -= (r * (1.0 + self.k1 * r * r) - target) / (1.0 + 3.0 * self.k1 * r * r);
        }
        let shrink = if target > 0.0 { r / target } else { 1.0 };
        (dx * shrink, dy * shrink)
    }

    /// Where the camera's pinhole stands over the field: x, y, height.
    fn pinhole(&self) -> [f64; 3] {
        let (sa, ca) = self.tilt_deg.0.to_radians().sin_cos();
        let (sb, cb) = self.tilt_deg.1.to_radians().sin_cos();
        // camera() = B A (p, -h) + (0, 0, P) is the origin: (p, -h) = Aᵗ Bᵗ (0, 0, -P).
        let d = -self.distance_mm;
        let (y, z) = (d * sb, d * cb);
        let (px, pz) = (z * sa, z * ca);
        let (qx, qy) = (px - self.shift_mm.0, y - self.shift_mm.1);
        let (sin, cos) = self.turn_deg.to_radians().sin_cos();
        [qx * cos + qy * sin, qy * cos - qx * sin, -pz]
    }

    /// From undistorted picture coordinates to the field, by the inverse of the camera's matrix.
    fn inverse(&self) -> [[f64; 3]; 3] {
        let o = self.camera([0.0, 0.0], 0.0);
        let (ex, ey) = (self.camera([1.0, 0.0], 0.0), self.camera([0.0, 1.0], 0.0));
        let k = self.scale * self.distance_mm;
        let m: [[f64; 3]; 3] = std::array::from_fn(|i| {
            let f = if i < 2 { k } else { 1.0 };
            [f * (ex[i] - o[i]), f * (ey[i] - o[i]), f * o[i]]
        });
        invert(m)
    }

    /// Photographs the sheets, each lying where its card means it to.
    pub fn take(&self, sheets: &[Sheet]) -> Picture<Linear> {
        let world = World::new(sheets);
        let (channels, weights) = if self.colour { (3, LumaWeights::SRGB) } else { (1, LumaWeights::SRGB) };
        let mut planes: Vec<Plane<Linear>> = Vec::new();
        for channel in 0..channels {
            planes.push(self.channel(&world, if self.colour { channel } else { 1 }));
        }
        if self.colour {
            let [r, g, b] = <[_; 3]>::try_from(planes).unwrap();
            Picture::rgb([r, g, b], weights).unwrap()
        } else {
            Picture::grey(planes.pop().unwrap())
        }
    }

    fn channel(&self, world: &World, channel: usize) -> Plane<Linear> {
        const SUB: usize = 4;
        let (width, height) = self.size;
        let (inverse, eye) = (self.inverse(), self.pinhole());
        let field = |place: (f64, f64)| {
            let (u, v) = self.straight(place, channel);
            let [x, y, w] = inverse.map(|r| r[0] * u + r[1] * v + r[2]);
            [x / w, y / w]
        };
        // Where a pixel's four corners and middle meet the same ink, so does all of it; else 16 rays decide, which the
        // mapping is straight enough for to be laid between the corners.
        let mut upper: Vec<[f64; 2]> = (0..=width).map(|c| field((c as f64, 0.0))).collect();
        let mut light = vec![0.0f64; width * height];
        for row in 0..height {
            let lower: Vec<[f64; 2]> = (0..=width).map(|c| field((c as f64, (row + 1) as f64))).collect();
            for column in 0..width {
                let corners = [upper[column], upper[column + 1], lower[column], lower[column + 1]];
                let at = |s: f64, t: f64| {
                    [0, 1].map(|i| {
                        (corners[0][i] * (1.0 - s) + corners[1][i] * s) * (1.0 - t)
                            + (corners[2][i] * (1.0 - s) + corners[3][i] * s) * t
                    })
                };
                let looks = |s: f64, t: f64| self.reflectance(world, at(s, t), eye);
                let first = looks(0.5, 0.5);
                let even = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)].iter().all(|(s, t)| looks(*s, *t) == first);
                light[row * width + column] = if even {
                    first
                } else {
                    let sub = |n: usize| (n as f64 + 0.5) / SUB as f64;
                    let sum: f64 = (0..SUB * SUB).map(|i| looks(sub(i % SUB), sub(i / SUB))).sum();
                    sum / (SUB * SUB) as f64
                };
            }
            upper = lower;
        }
        let mut light = blurred(&light, width, height, self.sigma[channel]);
        let (mx, my) = self.middle();
        let mean = light.iter().sum::<f64>() / light.len() as f64;
        let mut noise = Noise(0x9E37_79B9 + channel as u64);
        for (i, level) in light.iter_mut().enumerate() {
            let (x, y) = ((i % width) as f64 + 0.5 - mx, (i / width) as f64 + 0.5 - my);
            let r2 = (x * x + y * y) / self.radius_px().powi(2);
            let mut lit = (*level * (-self.falloff * r2).exp2() + self.glare * mean) * self.exposure;
            if self.grain > 0.0 {
                lit *= 10f64.powf(self.grain * noise.normal());
            }
            *level = if self.negative { 0.9 - 0.85 * lit } else { lit }.clamp(0.0, 1.0);
        }
        Plane::new(width, height, light.into_iter().map(|l| l as f32).collect()).unwrap()
    }

    fn reflectance(&self, world: &World, at: [f64; 2], eye: [f64; 3]) -> f64 {
        if self.blobs.iter().any(|((x, y), r)| (at[0] - x).hypot(at[1] - y) < *r) {
            return 2.0;
        }
        if self.covers.iter().any(|[x0, y0, x1, y1]| (*x0..*x1).contains(&at[0]) && (*y0..*y1).contains(&at[1])) {
            return 0.3;
        }
        for (ramp, offset) in &world.ramps {
            let local = [at[0] - offset[0], at[1] - offset[1]];
            if (local[0] - ramp.centre[0]).abs() > ramp.width_mm
                || (local[1] - ramp.centre[1]).abs() > 0.6 * ramp.length_mm
            {
                continue;
            }
            let (cx, cy, ch) = (eye[0] - offset[0], eye[1] - offset[1], eye[2]);
            let slope = ramp.slope_deg.to_radians().tan();
            let t = ((ramp.centre[1] - cy) * slope - ch) / ((local[1] - cy) * slope - ch);
            let (x, y) = (cx + t * (local[0] - cx), cy + t * (local[1] - cy));
            let along = (ramp.centre[1] - y) / ramp.slope_deg.to_radians().cos();
            if along.abs() <= ramp.strip_mm() / 2.0 && (x - ramp.centre[0]).abs() <= ramp.width_mm / 2.0 {
                return self.bars(ramp, along);
            }
        }
        world.at(at)
    }

    /// Blur of the bars, mm along the strip, at a height.
    pub fn bar_sigma(&self, off_focus: f64) -> f64 {
        (0.02f64.powi(2) + (self.focus.1 * off_focus).powi(2)).sqrt()
    }

    fn bars(&self, ramp: &Ramp, along: f64) -> f64 {
        let place = [ramp.on_field[0], ramp.on_field[1] - along * ramp.slope_deg.to_radians().cos()];
        let best = self.focus.0 + self.focus_slope.0 * place[0] + self.focus_slope.1 * place[1];
        let sigma = self.bar_sigma(ramp.height_mm(along) - best) * std::f64::consts::SQRT_2;
        let q = ramp.bar_mm / 4.0;
        let most = ((ramp.strip_mm() / 2.0 - q) / ramp.bar_mm).floor() as i64;
        let nearest = (along / ramp.bar_mm).round() as i64;
        let dark: f64 = (nearest - 4..=nearest + 4)
            .filter(|n| *n != 0 && n.abs() <= most)
            .map(|n| {
                let d = along - n as f64 * ramp.bar_mm;
                0.5 * (erf((d + q) / sigma) - erf((d - q) / sigma))
            })
            .sum();
        PAPER - (PAPER - BARS) * dark
    }
}

fn invert(m: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let c = |i: usize, j: usize| {
        let (a, b, c, d) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let det = m[0][0] * c(0, 0) + m[0][1] * c(0, 1) + m[0][2] * c(0, 2);
    std::array::from_fn(|i| std::array::from_fn(|j| c(j, i) / det))
}

/// Error function to 1.2e-7 (the rational Chebyshev fit of Numerical Recipes, from memory).
pub fn erf(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.5 * x.abs());
    let poly = [
        -1.265_512_23,
        1.000_023_68,
        0.374_091_96,
        0.096_784_18,
        -0.186_288_06,
        0.278_868_07,
        -1.135_203_98,
        1.488_515_87,
        -0.822_152_23,
        0.170_872_77,
    ];
    let sum = poly.iter().rev().fold(0.0, |s, c| s * t + c);
    let erfc = t * (-x * x + sum).exp();
    if x >= 0.0 { 1.0 - erfc } else { erfc - 1.0 }
}

fn blurred(light: &[f64], width: usize, height: usize, sigma: f64) -> Vec<f64> {
    if sigma <= 0.0 {
        return light.to_vec();
    }
    let reach = (4.0 * sigma).ceil() as i64;
    let kernel: Vec<f64> = (-reach..=reach).map(|i| (-(i * i) as f64 / (2.0 * sigma * sigma)).exp()).collect();
    let sum: f64 = kernel.iter().sum();
    let clamp = |i: i64, n: usize| i.clamp(0, n as i64 - 1) as usize;
    let mut rows = vec![0.0; light.len()];
    for y in 0..height {
        for x in 0..width {
            let mut s = 0.0;
            for (i, k) in (-reach..=reach).zip(&kernel) {
                s += k * light[y * width + clamp(x as i64 + i, width)];
            }
            rows[y * width + x] = s / sum;
        }
    }
    let mut out = vec![0.0; light.len()];
    for y in 0..height {
        for (i, k) in (-reach..=reach).zip(&kernel) {
            let from = &rows[clamp(y as i64 + i, height) * width..][..width];
            for (o, f) in out[y * width..][..width].iter_mut().zip(from) {
                *o += k / sum * f;
            }
        }
    }
    out
}

/// Repeatable chance: splitmix64 and Box-Muller.
pub struct Noise(pub u64);

impl Noise {
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let (a, b) = (self.uniform().max(1e-300), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

enum Ink {
    Box { centre: [f64; 2], half: [f64; 2], turn: (f64, f64), level: f64 },
    Code { corner: [f64; 2], side: f64, dots: CodeDots },
}

impl Ink {
    fn reach(&self) -> ([f64; 2], f64) {
        match self {
            Self::Box { centre, half, .. } => (*centre, half[0].hypot(half[1])),
            Self::Code { corner, side, .. } => ([corner[0] + side / 2.0, corner[1] + side / 2.0], side * 0.75),
        }
    }

    fn at(&self, [x, y]: [f64; 2]) -> Option<f64> {
        match self {
            Self::Box { centre, half, turn: (sin, cos), level } => {
                let (dx, dy) = (x - centre[0], y - centre[1]);
                let (u, v) = (dx * cos + dy * sin, dy * cos - dx * sin);
                (u.abs() < half[0] && v.abs() < half[1]).then_some(*level)
            }
            Self::Code { corner, side, dots } => {
                let module = side / dots.side as f64;
                let (c, r) = ((x - corner[0]) / module, (y - corner[1]) / module);
                let inside = c >= 0.0 && r >= 0.0 && c < dots.side as f64 && r < dots.side as f64;
                (inside && dots.dark[r as usize * dots.side + c as usize]).then_some(INK)
            }
        }
    }
}

/// Everything on the field, in cells, so that a place is looked up quickly.
struct World {
    inks: Vec<Ink>,
    cells: Vec<Vec<usize>>,
    origin: [f64; 2],
    cell: f64,
    ramps: Vec<(Ramp, [f64; 2])>,
}

const CELLS: usize = 128;

impl World {
    fn new(sheets: &[Sheet]) -> Self {
        let field = sheets[0].field_mm;
        let longest = field[0].max(field[1]) * 1.1;
        let mut world = Self {
            inks: Vec::new(),
            cells: vec![Vec::new(); CELLS * CELLS],
            origin: [-longest / 2.0; 2],
            cell: longest / CELLS as f64,
            ramps: Vec::new(),
        };
        for sheet in sheets {
            for mark in &sheet.marks {
                world.add(sheet, mark);
            }
        }
        world
    }

    fn add(&mut self, sheet: &Sheet, mark: &Mark) {
        let flat = |centre, size: [f64; 2], level| Ink::Box {
            centre: sheet.on_field(centre),
            half: [size[0] / 2.0, size[1] / 2.0],
            turn: (0.0, 1.0),
            level,
        };
        match mark {
            Mark::Square(s) => self.put(Ink::Box {
                centre: sheet.on_field(s.centre),
                half: [s.side_mm / 2.0; 2],
                turn: s.turn_deg.to_radians().sin_cos(),
                level: INK,
            }),
            Mark::Step(s) => self.put(flat(s.centre, s.size_mm, s.reflectance)),
            Mark::Trap(t) => self.put(flat(t.centre, [t.side_mm; 2], 0.001)),
            Mark::Code(c) => {
                let [x, y] = sheet.on_field(c.centre);
                let corner = [x - c.side_mm / 2.0, y - c.side_mm / 2.0];
                self.put(Ink::Code { corner, side: c.side_mm, dots: target::dots(&c.text) });
            }
            Mark::Ruler(r) => {
                let level = (r.last[0] - r.first[0]).abs() > (r.last[1] - r.first[1]).abs();
                for n in 0..r.ticks {
                    let (at, length) = r.tick(n);
                    let size = if level { [r.line_mm, length] } else { [length, r.line_mm] };
                    self.put(flat(at, size, INK));
                }
            }
            Mark::Ramp(r) => self.ramps.push((r.clone(), sheet.offset_mm)),
            Mark::Blade(_) | Mark::Rule(_) | Mark::GreyScale(_) => {}
        }
    }

    fn put(&mut self, ink: Ink) {
        let (centre, reach) = ink.reach();
        let index = self.inks.len();
        let cell =
            |v: f64, axis: usize| (((v - self.origin[axis]) / self.cell) as i64).clamp(0, CELLS as i64 - 1) as usize;
        for row in cell(centre[1] - reach, 1)..=cell(centre[1] + reach, 1) {
            for column in cell(centre[0] - reach, 0)..=cell(centre[0] + reach, 0) {
                self.cells[row * CELLS + column].push(index);
            }
        }
        self.inks.push(ink);
    }

    fn at(&self, at: [f64; 2]) -> f64 {
        let (c, r) = ((at[0] - self.origin[0]) / self.cell, (at[1] - self.origin[1]) / self.cell);
        if c < 0.0 || r < 0.0 || c >= CELLS as f64 || r >= CELLS as f64 {
            return PAPER;
        }
        let near = &self.cells[r as usize * CELLS + c as usize];
        near.iter().find_map(|i| self.inks[*i].at(at)).unwrap_or(PAPER)
    }
}

pub fn card(field_mm: [f64; 2]) -> Card {
    Card::new(field_mm, Identity::from_number(7_654_321)).unwrap()
}
