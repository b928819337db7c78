//! Rulers with known spacing, drawn from closed forms.

use super::{Noise, boxed};
use planes::{Linear, Plane};

/// A ruler: bars of even spacing, blurred by a Gaussian and summed over square pixels.
#[derive(Debug, Clone)]
pub struct Ruler {
    /// Columns and rows of the picture.
    pub size: (usize, usize),
    /// Middle of mark 0 at its lower end, pixels.
    pub origin: (f64, f64),
    /// Direction of growing numbers against the x axis, degrees.
    pub angle_deg: f64,
    /// Pixels between marks, along the ruler.
    pub period: f64,
    /// Numbers of the first and the last mark.
    pub numbers: (i64, i64),
    /// Width of a mark.
    pub width: f64,
    /// Length of the marks, of every fifth, of every tenth.
    pub lengths: [f64; 3],
    /// Standard deviation of the blur, pixels.
    pub sigma: f64,
    /// Light of the ground and of the marks.
    pub ground: f64,
    pub ink: f64,
    /// Marks that are missing.
    pub missing: Vec<i64>,
    /// Lengthening of the spacing per mark, as a share of it: mark n lies at period (n + stretch n^2 / 2).
    pub stretch: f64,
    /// Standard deviation of each mark's place, pixels.
    pub jitter: f64,
}

impl Ruler {
    /// Dark marks on light, every fifth and tenth longer, from one end of a line of `marks` marks to the other.
    pub fn plain(size: (usize, usize), origin: (f64, f64), angle_deg: f64, period: f64, marks: i64) -> Self {
        Self {
            size,
            origin,
            angle_deg,
            period,
            numbers: (0, marks - 1),
            width: 0.25 * period,
            lengths: [3.0 * period, 4.5 * period, 6.0 * period],
            sigma: 0.7,
            ground: 0.75,
            ink: 0.15,
            missing: Vec::new(),
            stretch: 0.0,
            jitter: 0.0,
        }
    }

    /// A picture just large enough for a ruler of that many marks at that angle.
    pub fn fitted(angle_deg: f64, period: f64, marks: i64) -> Self {
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        let length = (marks as f64 + 1.0) * period;
        let margin = 8.0 * period + 6.0;
        let corner = |v: f64| margin + (-v * length).max(0.0);
        let side = |v: f64| (v.abs() * length + 2.0 * margin).ceil() as usize;
        let origin = (corner(cos) + 0.31, corner(sin) + 0.17);
        Self::plain((side(cos), side(sin)), origin, angle_deg, period, marks)
    }

    pub fn axis(&self) -> ((f64, f64), (f64, f64)) {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        ((cos, sin), (-sin, cos))
    }

    /// The place of mark number `n` (it may lie between marks), `across` pixels up the marks.
    pub fn place(&self, n: f64, across: f64) -> (f64, f64) {
        let (u, v) = self.axis();
        let along = self.along(n);
        (self.origin.0 + along * u.0 + across * v.0, self.origin.1 + along * u.1 + across * v.1)
    }

    fn along(&self, n: f64) -> f64 {
        self.period * (n + self.stretch * n * n / 2.0)
    }

    fn along_jittered(&self, n: i64) -> f64 {
        self.along(n as f64) + self.jitter * Noise::new(977 + n as u64).normal()
    }

    pub fn plane(&self) -> Plane<Linear> {
        let (u, v) = self.axis();
        let boxes = [u.0.abs(), u.1.abs()];
        let far = 6.0 * self.sigma + 1.0;
        // Beyond six standard deviations a step is complete to a billionth.
        let step = |d: f64| if d.abs() > far { f64::from(u8::from(d > 0.0)) } else { boxed(d, self.sigma, &boxes) };
        let bar = |d: f64, half: f64| step(d + half) - step(d - half);
        let reach = self.width / 2.0 + 6.0 * self.sigma + 1.0;
        let marks: Vec<(f64, f64)> = (self.numbers.0..=self.numbers.1)
            .filter(|n| !self.missing.contains(n))
            .map(|n| (self.along_jittered(n), self.lengths[usize::from(n % 5 == 0) + usize::from(n % 10 == 0)]))
            .collect();
        Plane::from_fn(self.size.0, self.size.1, |c, r| {
            let (x, y) = (c as f64 + 0.5 - self.origin.0, r as f64 + 0.5 - self.origin.1);
            let (p, q) = (x * u.0 + y * u.1, x * v.0 + y * v.1);
            let first = marks.partition_point(|m| m.0 < p - reach - 4.0 * self.jitter);
            let near = marks[first..].iter().take_while(|m| m.0 < p + reach + 4.0 * self.jitter);
            let ink: f64 = near.map(|m| bar(p - m.0, self.width / 2.0) * bar(q - m.1 / 2.0, m.1 / 2.0)).sum();
            (self.ground + (self.ink - self.ground) * ink) as f32
        })
        .unwrap()
    }
}
