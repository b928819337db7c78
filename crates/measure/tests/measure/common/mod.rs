//! Edges with a known transfer function, made from closed forms.

pub mod drawn_ruler;

use planes::{Encoded, Linear, LumaWeights, Picture, Plane, ToneCurve};

/// Error function: Taylor series below 2.5, continued fraction of erfc above (Abramowitz & Stegun 7.1.5, 7.1.14).
pub fn erf(x: f64) -> f64 {
    let a = x.abs();
    let value = if a < 2.5 { erf_series(a) } else { 1.0 - erfc_fraction(a) };
    value.copysign(x)
}

fn erf_series(x: f64) -> f64 {
    let (mut term, mut sum) = (x, x);
    for n in 1..80 {
        let n = f64::from(n);
        term *= -x * x / n;
        sum += term / (2.0 * n + 1.0);
        if term.abs() < 1e-18 {
            break;
        }
    }
    sum * 2.0 / std::f64::consts::PI.sqrt()
}

fn erfc_fraction(x: f64) -> f64 {
    if x > 27.0 {
        return 0.0;
    }
    let fraction = (1..=60).rev().fold(x, |f, k| x + f64::from(k) / 2.0 / f);
    (-x * x).exp() / fraction / std::f64::consts::PI.sqrt()
}

/// A straight edge: a half-plane blurred by a Gaussian and summed over square pixels.
#[derive(Debug, Clone, Copy)]
pub struct Edge {
    /// Columns and rows.
    pub size: (usize, usize),
    /// Angle of the edge's normal against the x axis, degrees; the bright side lies where the normal points.
    pub normal_deg: f64,
    /// Distance of the edge from the picture's middle along the normal, pixels.
    pub offset: f64,
    /// Standard deviation of the Gaussian, pixels.
    pub sigma: f64,
    /// Linear light of the two sides.
    pub low: f64,
    pub high: f64,
    /// Width of a box along the normal (motion), pixels; 0 for none.
    pub motion: f64,
}

impl Edge {
    /// The middling edge that tests vary.
    pub fn plain(size: (usize, usize), normal_deg: f64, sigma: f64) -> Self {
        Self { size, normal_deg, offset: 0.37, sigma, low: 0.12, high: 0.83, motion: 0.0 }
    }

    pub fn boxes(&self) -> (f64, f64) {
        let (sin, cos) = self.normal_deg.to_radians().sin_cos();
        (cos.abs(), sin.abs())
    }

    pub fn distance(&self, x: f64, y: f64) -> f64 {
        let (sin, cos) = self.normal_deg.to_radians().sin_cos();
        (x - self.size.0 as f64 / 2.0) * cos + (y - self.size.1 as f64 / 2.0) * sin - self.offset
    }

    /// Share of the step at a distance, after Gaussian, pixel and motion.
    pub fn share(&self, d: f64) -> f64 {
        let (a, b) = self.boxes();
        boxed(d, self.sigma, &[a, b, self.motion])
    }

    pub fn level(&self, column: usize, row: usize) -> f64 {
        let d = self.distance(column as f64 + 0.5, row as f64 + 0.5);
        self.low + (self.high - self.low) * self.share(d)
    }

    pub fn plane(&self) -> Plane<Linear> {
        Plane::from_fn(self.size.0, self.size.1, |c, r| self.level(c, r) as f32).unwrap()
    }

    /// The response that was put in: exp(-2 pi^2 s^2 v^2) sinc(v cos) sinc(v sin) sinc(v motion).
    pub fn truth(&self, v: f64) -> f64 {
        let (a, b) = self.boxes();
        let gauss = (-2.0 * (std::f64::consts::PI * self.sigma * v).powi(2)).exp();
        (gauss * sinc(v * a) * sinc(v * b) * sinc(v * self.motion)).abs()
    }

    pub fn true_mtf50(&self) -> f64 {
        falls_to(|v| self.truth(v), 0.5)
    }
}

/// Lowest frequency at which a response that starts at 1 falls to a level.
pub fn falls_to(response: impl Fn(f64) -> f64, level: f64) -> f64 {
    let step = 1e-4;
    let n = (1..100_000).find(|&n| response(f64::from(n) * step) < level).unwrap();
    let (mut low, mut high) = (f64::from(n - 1) * step, f64::from(n) * step);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if response(middle) >= level { low = middle } else { high = middle }
    }
    low
}

pub fn sinc(x: f64) -> f64 {
    let a = std::f64::consts::PI * x;
    if a.abs() < 1e-9 { 1.0 } else { a.sin() / a }
}

/// Gaussian step blurred by boxes of these widths: divided differences of iterated integrals of erf.
///
/// Boxes narrower than 1/500 pixel are left out: their response differs from 1 by less than 2e-6 at half a cycle.
pub fn boxed(d: f64, sigma: f64, widths: &[f64]) -> f64 {
    let widths: Vec<f64> = widths.iter().copied().filter(|w| *w > 2e-3).collect();
    let mut sum = 0.0;
    for mask in 0..1_u32 << widths.len() {
        let mut place = d;
        let mut sign = 1.0;
        for (i, w) in widths.iter().enumerate() {
            let up = mask >> i & 1 == 1;
            place += if up { w / 2.0 } else { -w / 2.0 };
            sign *= if up { 1.0 } else { -1.0 };
        }
        sum += sign * iterated(place, sigma, widths.len());
    }
    sum / widths.iter().product::<f64>()
}

/// The n-fold integral from minus infinity of the Gaussian's cumulative function.
fn iterated(x: f64, s: f64, n: usize) -> f64 {
    let z = x / s;
    let density = s * (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt();
    let cumulative = 0.5 * (1.0 + erf(z / std::f64::consts::SQRT_2));
    // I_n = (x I_(n-1) + s^2 I_(n-2)) / n, with I_0 the cumulative function and s^2 I_(-1) = s^2 times the density.
    let (mut before, mut now) = (density / s / s, cumulative);
    for k in 1..=n {
        let next = (x * now + s * s * before) / k as f64;
        (before, now) = (now, next);
    }
    now
}

/// Normal deviates by Box-Muller from SplitMix64, repeatable.
pub struct Noise(u64);

impl Noise {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x2545_F491_4F6C_DD1D))
    }

    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    pub fn added(&mut self, plane: &Plane<Linear>, deviation: f64) -> Plane<Linear> {
        Plane::from_fn(plane.width(), plane.height(), |c, r| plane.at(c, r) + (deviation * self.normal()) as f32)
            .unwrap()
    }
}

/// A plane as a file of so many bits through a tone curve would give it back.
pub fn through_file(plane: &Plane<Linear>, curve: ToneCurve, bits: u32) -> Plane<Linear> {
    let top = f64::from((1u32 << bits) - 1);
    let encoded = Plane::<Encoded>::from_fn(plane.width(), plane.height(), |c, r| {
        let code = (curve.encode(f64::from(plane.at(c, r))) * top).round().clamp(0.0, top);
        (code / top) as f32
    });
    match curve.to_linear(&Picture::grey(encoded.unwrap())).channels() {
        planes::Channels::Grey(plane) => plane.clone(),
        planes::Channels::Rgb { .. } => unreachable!("a grey picture stays grey"),
    }
}

pub fn grey(plane: Plane<Linear>) -> Picture<Linear> {
    Picture::grey(plane)
}

pub fn rgb(planes: [Plane<Linear>; 3]) -> Picture<Linear> {
    Picture::rgb(planes, LumaWeights::SRGB).unwrap()
}
