//! One straight edge from its closed form.
//!
//! A step seen through a Gaussian and a square pixel, with a stretch of even motion if wished, is a sum of iterated
//! integrals of the error function: the box of a pixel, looked at along the edge's normal (nx, ny), is a box of width
//! |nx| convolved with one of width |ny|, and each box turns the profile into a divided difference of its integral.
//! So the light in every pixel is exact to double precision, and so is the transfer function.

use crate::gauss::{first_crossing, gaussian_mtf, iterated_integral, sinc};
use crate::noise::Noise;
use planes::{Encoded, Linear, LumaWeights, Picture, Plane, ShapeError, ToneCurve};

/// The pixel axis that an edge runs near.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// Near the columns: rows cross it.
    Upright,
    /// Near the rows: columns cross it.
    Level,
}

/// Where the light is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BrightSide {
    /// At the smaller columns of an upright edge, the smaller rows of a level one.
    Before,
    /// At the larger ones.
    After,
}

/// Levels that a sample can be rounded to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// 255 steps.
    Eight,
    /// 65 535 steps.
    Sixteen,
}

impl Depth {
    /// The largest whole number that a sample can hold.
    pub fn largest(self) -> f64 {
        match self {
            Self::Eight => 255.0,
            Self::Sixteen => 65_535.0,
        }
    }
}

/// A straight edge and everything that is true of it. Start from [`EdgeTruth::default`] and change what matters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeTruth {
    /// The axis the edge runs near.
    pub axis: Axis,
    /// Slant against that axis in degrees, within -45 ..= 45. Positive: an upright edge moves to larger columns as the
    /// rows go down, a level edge to larger rows as the columns go right.
    pub angle_deg: f64,
    /// Where it crosses the middle row (upright) or column (level), in pixels from the middle of the picture.
    pub offset_px: f64,
    /// Standard deviation of the Gaussian blur, pixels; 0 leaves the pixel's box alone.
    pub sigma_px: f64,
    /// Even motion of the image during the exposure: columns, rows.
    pub motion_px: [f64; 2],
    /// Cut-off of a diffraction-limited lens with a round pupil, cycles per pixel; `None` for no such lens.
    pub cutoff_cy_px: Option<f64>,
    /// Linear light of the dark side.
    pub low: f64,
    /// Linear light of the bright side.
    pub high: f64,
    /// Which side is bright.
    pub bright_side: BrightSide,
    /// How far red, green and blue are displaced along the normal, pixels, positive toward the bright side.
    pub displacement_px: [f64; 3],
}

impl Default for EdgeTruth {
    /// An upright edge at 5 degrees, blurred by a Gaussian of 0.8 pixels, bright on the right, without fringes.
    fn default() -> Self {
        Self {
            axis: Axis::Upright,
            angle_deg: 5.0,
            offset_px: 0.0,
            sigma_px: 0.8,
            motion_px: [0.0, 0.0],
            cutoff_cy_px: None,
            low: 0.1,
            high: 0.8,
            bright_side: BrightSide::After,
            displacement_px: [0.0; 3],
        }
    }
}

/// Boxes narrower than this change the profile by less than 1e-9 and would only cost digits in the differences.
const NARROWEST_BOX_PX: f64 = 1e-4;

impl EdgeTruth {
    /// The unit normal (columns, rows), pointing toward the bright side.
    pub fn normal(&self) -> [f64; 2] {
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let sign = if self.bright_side == BrightSide::After { 1.0 } else { -1.0 };
        match self.axis {
            Axis::Upright => [sign * cos, -sign * sin],
            Axis::Level => [-sign * sin, sign * cos],
        }
    }

    fn boxes(&self) -> Vec<f64> {
        let [nx, ny] = self.normal();
        let motion = nx * self.motion_px[0] + ny * self.motion_px[1];
        [nx, ny, motion].map(f64::abs).into_iter().filter(|&w| w > NARROWEST_BOX_PX).collect()
    }

    /// The share of the step, 0 ..= 1, that a pixel receives whose centre lies `d` pixels from the edge, toward the
    /// bright side.
    ///
    /// Exact for Gaussian, pixel and motion; with a diffraction-limited lens it is a quadrature good to about 1e-9.
    pub fn esf(&self, d: f64) -> f64 {
        match self.cutoff_cy_px {
            None => self.closed_form(d),
            Some(cutoff) => self.by_quadrature(d, cutoff),
        }
    }

    fn closed_form(&self, d: f64) -> f64 {
        let boxes = self.boxes();
        let reach = 9.0 * self.sigma_px + 0.5 * boxes.iter().sum::<f64>();
        if d.abs() > reach {
            // Beyond nine standard deviations the step is complete to the last digit; the differences are not.
            return if d > 0.0 { 1.0 } else { 0.0 };
        }
        let signed = |corner: usize| {
            let (mut at, mut sign) = (d, 1.0);
            for (i, width) in boxes.iter().enumerate() {
                let side = if corner >> i & 1 == 0 { 1.0 } else { -1.0 };
                at += side * 0.5 * width;
                sign *= side;
            }
            sign * iterated_integral(boxes.len(), at, self.sigma_px)
        };
        (0..1 << boxes.len()).map(signed).sum::<f64>() / boxes.iter().product::<f64>()
    }

    /// The profile as the transform of the transfer function: 1/2 + (1/pi) times the integral from 0 to the cut-off of
    /// MTF(nu) sin(2 pi nu d) / nu. Composite Gauss-Legendre panels, each no longer than half a swing of the sine; the
    /// substitution nu = cutoff sin(t) removes the infinite slope that the pupil leaves at the cut-off.
    fn by_quadrature(&self, d: f64, cutoff: f64) -> f64 {
        use std::f64::consts::FRAC_PI_2;
        const NODES: [(f64, f64); 3] = [
            (0.238_619_186_083_196_9, 0.467_913_934_572_691_04),
            (0.661_209_386_466_264_5, 0.360_761_573_048_138_6),
            (0.932_469_514_203_152, 0.171_324_492_379_170_36),
        ];
        let panels = (12.0 + 4.0 * cutoff * (d.abs() + 2.0)).ceil();
        let half = FRAC_PI_2 / (2.0 * panels);
        let integrand = |t: f64| {
            let nu = cutoff * t.sin();
            2.0 * d * sinc(2.0 * nu * d) * self.otf(nu) * cutoff * t.cos()
        };
        let panel = |i: f64| {
            let middle = (2.0 * i + 1.0) * half;
            let pair = |&(x, w): &(f64, f64)| w * (integrand(middle - x * half) + integrand(middle + x * half));
            NODES.iter().map(pair).sum::<f64>() * half
        };
        0.5 + (0..panels as usize).map(|i| panel(i as f64)).sum::<f64>()
    }

    /// The modulation transfer along the edge's normal at `nu` cycles per pixel, the pixel's aperture included.
    pub fn mtf(&self, nu: f64) -> f64 {
        self.otf(nu).abs()
    }

    /// The same with its sign: negative where a box turns the contrast over.
    fn otf(&self, nu: f64) -> f64 {
        let boxes: f64 = self.boxes().iter().map(|w| sinc(nu * w)).product();
        let lens = self.cutoff_cy_px.map_or(1.0, |cutoff| diffraction_mtf(nu.abs() / cutoff));
        gaussian_mtf(self.sigma_px, nu) * boxes * lens
    }

    /// The frequency, cycles per pixel, at which the transfer first falls to `level`; `None` when that is beyond 5.
    pub fn frequency_at(&self, level: f64) -> Option<f64> {
        first_crossing(level, 5.0, |nu| self.mtf(nu))
    }

    /// Distance of a point of the picture from the edge as green sees it, pixels, positive on the bright side.
    pub fn distance(&self, width: usize, height: usize, column: f64, row: f64) -> f64 {
        let [nx, ny] = self.normal();
        let (mut x, mut y) = (column - 0.5 * width as f64, row - 0.5 * height as f64);
        match self.axis {
            Axis::Upright => x -= self.offset_px,
            Axis::Level => y -= self.offset_px,
        }
        nx * x + ny * y
    }

    fn channel(&self, width: usize, height: usize, displacement: f64) -> Result<Plane<Linear>, ShapeError> {
        Plane::from_fn(width, height, |c, r| {
            let d = self.distance(width, height, c as f64 + 0.5, r as f64 + 0.5) - displacement;
            (self.low + (self.high - self.low) * self.esf(d)) as f32
        })
    }

    /// The green plane: without displacement unless green has one.
    pub fn render(&self, width: usize, height: usize) -> Result<Plane<Linear>, ShapeError> {
        self.channel(width, height, self.displacement_px[1])
    }

    /// All three colours, each displaced as stated.
    pub fn render_rgb(&self, width: usize, height: usize) -> Result<Picture<Linear>, ShapeError> {
        let [red, green, blue] = self.displacement_px.map(|d| self.channel(width, height, d));
        Picture::rgb([red?, green?, blue?], LumaWeights::SRGB)
    }
}

/// Transfer of a perfect lens with a round pupil in incoherent light, at `s` of its cut-off frequency:
/// (2/pi) (acos s - s sqrt(1 - s^2)) (Hopkins 1955; Goodman, Introduction to Fourier Optics, 6.3).
pub fn diffraction_mtf(s: f64) -> f64 {
    if s >= 1.0 {
        return 0.0;
    }
    std::f64::consts::FRAC_2_PI * (s.acos() - s * (1.0 - s * s).sqrt())
}

/// The plane with normally distributed noise of that standard deviation (linear light) added; nothing is clipped.
pub fn with_noise(plane: &Plane<Linear>, sd: f64, noise: &mut Noise) -> Plane<Linear> {
    let shape = (plane.width(), plane.height());
    let noisy = Plane::from_fn(shape.0, shape.1, |c, r| plane.at(c, r) + (sd * noise.normal()) as f32);
    noisy.unwrap_or_else(|_| plane.clone())
}

/// The plane as a file would hold it: through the tone curve, clipped to 0 ..= 1 and rounded to whole steps.
pub fn quantised(plane: &Plane<Linear>, curve: ToneCurve, depth: Depth) -> Plane<Encoded> {
    let largest = depth.largest();
    let step = |light: f32| (curve.encode(f64::from(light).clamp(0.0, 1.0)) * largest).round() / largest;
    let file = Plane::from_fn(plane.width(), plane.height(), |c, r| step(plane.at(c, r)) as f32);
    file.unwrap_or_else(|_| unreachable!("a plane has at least one pixel"))
}
