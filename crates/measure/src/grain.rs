//! Grain of a flat patch: deviation, spectrum, granularity.

use planes::{Channels, Linear, Picture, Plane};

use crate::algebra::{COVERAGE_95, Figure, least_squares};
use crate::alignment::bessel_j1;
use crate::slanted::Channel;

/// Sides of the windows that the spectrum is taken in, pixels: the largest that fits twice along the patch's shorter side.
const WINDOWS: [usize; 3] = [128, 64, 32];
/// Apertures that granularity is told for, micrometres: the standard one between a half and twice of it.
const APERTURES_UM: [f64; 3] = [24.0, 48.0, 96.0];
/// An aperture must span so many pixels at least, and at most this share of a window.
const LEAST_APERTURE_PX: f64 = 2.0;
const MOST_APERTURE_SHARE: f64 = 0.5;
/// Share of the samples that may lie at the ends of the range.
const MOST_CLIPPED: f64 = 0.01;

/// How grain is measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GrainOptions {
    /// Distance between neighbouring pixels on the film, micrometres; gives cycles/mm and granularity.
    pub pitch_um: Option<f64>,
    /// Samples at or below this linear value count as clipped at black.
    pub black: f64,
    /// Samples at or above this linear value count as clipped at white.
    pub white: f64,
}

impl Default for GrainOptions {
    /// Half a step of 16 bits inside either end.
    fn default() -> Self {
        Self { pitch_um: None, black: 0.5 / 65_535.0, white: 1.0 - 0.5 / 65_535.0 }
    }
}

/// One point of the radial power spectrum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerPoint {
    /// Cycles per pixel.
    pub cy_px: f64,
    /// Cycles per millimetre on film.
    pub cy_mm: Option<f64>,
    /// Power of density per unit of frequency area, density²·pixel²; its integral over the frequency plane is the variance.
    pub power: Figure,
}

/// What a round aperture would find.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Granularity {
    /// Diameter of the aperture, micrometres.
    pub aperture_um: f64,
    /// A thousand times the standard deviation of density through it (RMS granularity; ISO 10505 in substance at 48 µm). The scanner's own
    /// blur and noise are in it.
    pub rms: Figure,
}

/// Grain of one channel.
#[derive(Debug, Clone, PartialEq)]
pub struct GrainReport {
    /// The channel.
    pub channel: Channel,
    /// Mean light, linear, 0 to 1.
    pub mean: f64,
    /// Standard deviation of single samples about a smooth surface, linear light.
    pub deviation: Figure,
    /// Mean density, -log10 of light.
    pub mean_density: f64,
    /// Standard deviation of single samples' density about a smooth surface.
    pub density_deviation: Figure,
    /// Distance at which the correlation of two places has fallen to 1/e, pixels, the mean of across and down; below 1 for samples
    /// that do not know of each other.
    pub correlation_px: f64,
    /// Radial power spectrum of density, up to half a cycle per pixel.
    pub spectrum: Vec<PowerPoint>,
    /// Granularity through apertures of 24, 48 and 96 µm, where the pitch is known and the pixels and windows allow it.
    pub granularity: Vec<Granularity>,
    /// Deviation times the aperture's diameter at the widest aperture over that at the narrowest: 1 where grain is without
    /// structure (Selwyn, "A theory of graininess", 1935).
    pub selwyn_ratio: Option<f64>,
    /// Reservations.
    pub remarks: Vec<GrainRemark>,
}

impl GrainReport {
    /// RMS granularity at the standard aperture of 48 µm.
    pub fn rms_at_48_um(&self) -> Option<Figure> {
        self.granularity.iter().find(|g| g.aperture_um == 48.0).map(|g| g.rms)
    }
}

/// Why no grain was measured.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum GrainError {
    /// Too small a patch.
    #[error(
        "the patch is {width} x {height} pixels; grain needs at least {least} x {least}: draw a larger region of even ground"
    )]
    PatchTooSmall {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
        /// Least of either.
        least: usize,
    },
    /// Samples that are no numbers.
    #[error("{count} samples of the patch are not finite numbers: the file or its tone curve is broken")]
    NotFinite {
        /// How many.
        count: usize,
    },
    /// Cut off at an end.
    #[error(
        "{percent:.1} % of the patch's {channel} samples are clipped at {end}, at most {most_percent} % are forgiven: its grain is cut \
         off; use a patch of middle density"
    )]
    Clipped {
        /// The channel.
        channel: Channel,
        /// "black" or "white".
        end: &'static str,
        /// Share, per cent.
        percent: f64,
        /// Most that is forgiven, per cent.
        most_percent: f64,
    },
    /// No variation at all.
    #[error(
        "the patch's {channel} samples are all alike: nothing of grain was recorded (a drawn or smoothed picture?)"
    )]
    NoGrain {
        /// The channel.
        channel: Channel,
    },
    /// The pixel pitch is no usable length.
    #[error(
        "a pixel is said to be {pitch_um} µm wide on the film: give a length above 0, as 6.35 for 4000 pixels per inch"
    )]
    BadPitch {
        /// What was given, micrometres.
        pitch_um: f64,
    },
}

/// A reservation about grain.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum GrainRemark {
    /// The patch is not flat; a smooth surface was taken off.
    NotFlat {
        /// Density between the surface's ends.
        density: f64,
    },
    /// Apertures that the pixels or windows do not allow.
    ApertureLeftOut {
        /// Its diameter, micrometres.
        aperture_um: f64,
        /// The same in pixels.
        pixels: f64,
    },
    /// Samples of density vary so much that light's and density's deviations differ.
    Coarse {
        /// Deviation of light over its mean.
        share: f64,
    },
}

impl std::fmt::Display for GrainRemark {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NotFlat { density } => {
                write!(
                    f,
                    "the patch is not flat: its density changes by {density:.2} over it; a smooth surface was taken off"
                )
            }
            Self::ApertureLeftOut { aperture_um, pixels } => write!(
                f,
                "an aperture of {aperture_um} µm spans {pixels:.1} pixels, which these pixels or this patch do not allow: its granularity is \
                 left out"
            ),
            Self::Coarse { share } => write!(
                f,
                "single samples vary by {:.0} % of the light: density's deviation is no longer in proportion to light's",
                100.0 * share
            ),
        }
    }
}

/// Share of its light that a round aperture passes of a sine grating: 2·J1(a)/a, a = π·diameter·frequency (both in one unit of
/// length).
pub fn circular_aperture_response(diameter: f64, frequency: f64) -> f64 {
    let a = std::f64::consts::PI * diameter * frequency.abs();
    if a < 1e-6 { 1.0 } else { 2.0 * bessel_j1(a) / a }
}

/// Deviation of density through another round aperture, when grain is without structure: in proportion to 1/diameter (Selwyn, "A
/// theory of graininess", 1935).
pub fn selwyn_scaled(deviation: f64, diameter: f64, other_diameter: f64) -> f64 {
    deviation * diameter / other_diameter
}

/// Grain of a flat patch, by channel (luminance last).
///
/// A quadratic surface is taken off the density; the spectrum is Welch's ("The use of fast Fourier transform for the estimation of
/// power spectra", 1967), with Hann windows that overlap by half in both directions. The pixel's own blur is not divided out: of
/// grain without structure what it takes comes back as false detail, so that the spectrum stays flat. Intervals are those of
/// normal noise with this spectrum.
pub fn grain(patch: &Picture<Linear>, options: &GrainOptions) -> Result<Vec<GrainReport>, GrainError> {
    if let Some(pitch_um) = options.pitch_um.filter(|p| !(p.is_finite() && *p > 0.0)) {
        return Err(GrainError::BadPitch { pitch_um });
    }
    let (width, height) = (patch.width(), patch.height());
    let least = 2 * WINDOWS[WINDOWS.len() - 1];
    if width.min(height) < least {
        return Err(GrainError::PatchTooSmall { width, height, least });
    }
    let luminance = patch.luminance();
    let mut planes: Vec<(Channel, &Plane<Linear>)> = Vec::new();
    if let Channels::Rgb { planes: colours, .. } = patch.channels() {
        planes.extend([Channel::Red, Channel::Green, Channel::Blue].into_iter().zip(colours.iter()));
    }
    planes.push((Channel::Luminance, &luminance));
    planes.into_iter().map(|(channel, plane)| one(channel, plane, options)).collect()
}

fn one(channel: Channel, plane: &Plane<Linear>, options: &GrainOptions) -> Result<GrainReport, GrainError> {
    let light: Vec<f64> = plane.samples().iter().map(|s| f64::from(*s)).collect();
    let n = light.len() as f64;
    let count = light.iter().filter(|s| !s.is_finite()).count();
    if count > 0 {
        return Err(GrainError::NotFinite { count });
    }
    let most_percent = 100.0 * MOST_CLIPPED;
    let ends: [(&'static str, f64); 2] = [
        ("black", light.iter().filter(|s| **s <= options.black).count() as f64 / n),
        ("white", light.iter().filter(|s| **s >= options.white).count() as f64 / n),
    ];
    if let Some((end, share)) = ends.into_iter().find(|(_, share)| *share > MOST_CLIPPED) {
        return Err(GrainError::Clipped { channel, end, percent: 100.0 * share, most_percent });
    }
    // The few that are clipped, or below nothing, are taken as the darkest that can be told.
    let floor = options.black.max(1e-6);
    let density: Vec<f64> = light.iter().map(|s| -s.max(floor).log10()).collect();
    let size = (plane.width(), plane.height());
    let (flat_light, _) = detrended(&light, size);
    let (flat, fall) = detrended(&density, size);
    // The surface took six unknowns.
    let deviation = |values: &[f64]| (values.iter().map(|v| v * v).sum::<f64>() / (n - 6.0)).sqrt();
    let (in_light, in_density) = (deviation(&flat_light), deviation(&flat));
    let mean = light.iter().sum::<f64>() / n;
    if in_light <= 1e-7 * mean.abs().max(1e-6) {
        return Err(GrainError::NoGrain { channel });
    }
    let side = WINDOWS.into_iter().find(|w| 2 * w <= size.0.min(size.1)).unwrap_or(WINDOWS[WINDOWS.len() - 1]);
    let spectrum = Spectrum::of(&flat, size, side);
    let doubt = spectrum.doubt(n, &vec![1.0; side * side]);
    let mut remarks = Vec::new();
    if fall > 0.05_f64.max(in_density) {
        remarks.push(GrainRemark::NotFlat { density: fall });
    }
    if in_light / mean > 0.2 {
        remarks.push(GrainRemark::Coarse { share: in_light / mean });
    }
    let mut granularity = Vec::new();
    for aperture_um in APERTURES_UM {
        let Some(pitch) = options.pitch_um else { continue };
        let pixels = aperture_um / pitch;
        if !(LEAST_APERTURE_PX..=MOST_APERTURE_SHARE * side as f64).contains(&pixels) {
            remarks.push(GrainRemark::ApertureLeftOut { aperture_um, pixels });
            continue;
        }
        let passed = spectrum.aperture(pixels);
        // Beyond half a cycle per pixel nothing was seen: the outermost power is carried on there, over what the whole plane holds
        // of the aperture (1 over its area) more than the square.
        let seen = passed.iter().sum::<f64>() / passed.len() as f64;
        let beyond = (4.0 / (std::f64::consts::PI * pixels * pixels) - seen).max(0.0);
        let rms = 1000.0 * (spectrum.variance(&passed) + beyond * spectrum.outermost()).sqrt();
        granularity
            .push(Granularity { aperture_um, rms: Figure::new(rms, rms * spectrum.doubt(n * spectrum.used, &passed)) });
    }
    let selwyn_ratio = match (granularity.first(), granularity.last()) {
        (Some(narrow), Some(wide)) if granularity.len() > 1 => {
            Some(wide.rms.value * wide.aperture_um / (narrow.rms.value * narrow.aperture_um))
        }
        _ => None,
    };
    Ok(GrainReport {
        channel,
        mean,
        deviation: Figure::new(in_light, in_light * doubt),
        mean_density: density.iter().sum::<f64>() / n,
        density_deviation: Figure::new(in_density, in_density * doubt),
        correlation_px: spectrum.correlation(),
        spectrum: spectrum.radial(n, options.pitch_um),
        granularity,
        selwyn_ratio,
        remarks,
    })
}

/// Values less their quadratic surface, and how far that surface rises over the patch.
fn detrended(values: &[f64], (width, height): (usize, usize)) -> (Vec<f64>, f64) {
    let place = |i: usize| {
        let (x, y) = ((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
        (2.0 * x / width as f64 - 1.0, 2.0 * y / height as f64 - 1.0)
    };
    let terms = |i: usize| {
        let (x, y) = place(i);
        [1.0, x, y, x * x, x * y, y * y]
    };
    // Normal equations on -1 to 1 are well conditioned; their Cholesky is least squares on six rows.
    let mut normal = vec![vec![0.0; 7]; 6];
    for (i, value) in values.iter().enumerate() {
        let t = terms(i);
        for a in 0..6 {
            for b in 0..6 {
                normal[a][b] += t[a] * t[b];
            }
            normal[a][6] += t[a] * value;
        }
    }
    let right: Vec<f64> = normal.iter().map(|row| row[6]).collect();
    let rows: Vec<Vec<f64>> = normal.iter().map(|row| row[..6].to_vec()).collect();
    let Some(found) = least_squares(&rows, &right) else { return (values.to_vec(), 0.0) };
    let surface: Vec<f64> =
        (0..values.len()).map(|i| terms(i).iter().zip(&found.x).map(|(t, x)| t * x).sum::<f64>()).collect();
    let high = surface.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = surface.iter().copied().fold(f64::INFINITY, f64::min);
    (values.iter().zip(&surface).map(|(v, s)| v - s).collect(), high - low)
}

/// A power spectrum on a square of frequencies.
struct Spectrum {
    side: usize,
    /// Power by row and column of frequencies, 0 first; the mean over all is the variance.
    power: Vec<f64>,
    /// Share of the patch's samples that the windows make use of: they weigh its margin less.
    used: f64,
    /// Independent windows that would scatter as these, which overlap, do together.
    windows: f64,
}

impl Spectrum {
    fn of(values: &[f64], (width, height): (usize, usize), side: usize) -> Self {
        let window: Vec<f64> =
            (0..side).map(|i| (std::f64::consts::PI * (i as f64 + 0.5) / side as f64).sin().powi(2)).collect();
        let energy: f64 = window.iter().map(|w| w * w).sum::<f64>().powi(2);
        // Windows spread evenly from side to side, overlapping by half or a little more.
        let starts = |extent: usize| -> Vec<usize> {
            let count = (2 * (extent - side)).div_ceil(side).max(1);
            (0..=count).map(|i| i * (extent - side) / count).collect()
        };
        let (across, down) = (starts(width), starts(height));
        let mut power = vec![0.0; side * side];
        for top in &down {
            for left in &across {
                let cell = |i: usize| {
                    let (c, r) = (i % side, i / side);
                    (values[(top + r) * width + left + c] * window[c] * window[r], 0.0)
                };
                let mut field: Vec<(f64, f64)> = (0..side * side).map(cell).collect();
                transform_square(&mut field, side);
                power.iter_mut().zip(&field).for_each(|(p, (re, im))| *p += re * re + im * im);
            }
        }
        let by = energy * (across.len() * down.len()) as f64;
        power.iter_mut().for_each(|p| *p /= by);
        let (usage, other) = (usage(&window, &across, width), usage(&window, &down, height));
        Self { side, power, used: usage.0 * other.0, windows: usage.1 * other.1 }
    }

    /// Frequency of a row or column, cycles per pixel, -1/2 to 1/2.
    fn frequency(&self, i: usize) -> f64 {
        let i = if 2 * i > self.side { i as f64 - self.side as f64 } else { i as f64 };
        i / self.side as f64
    }

    /// What a round aperture of this diameter, pixels, passes of the power at every frequency.
    fn aperture(&self, diameter: f64) -> Vec<f64> {
        let half = self.side / 2 + 1;
        let quarter: Vec<f64> = (0..half * half)
            .map(|i| (i % half) as f64)
            .enumerate()
            .map(|(i, x)| x.hypot((i / half) as f64) / self.side as f64)
            .map(|f| circular_aperture_response(diameter, f).powi(2))
            .collect();
        let fold = |i: usize| i.min(self.side - i);
        (0..self.power.len()).map(|i| quarter[fold(i / self.side) * half + fold(i % self.side)]).collect()
    }

    /// Mean power in the outermost eighth of the frequencies.
    fn outermost(&self) -> f64 {
        let far = |i: &usize| {
            let (fx, fy) = (self.frequency(i % self.side), self.frequency(i / self.side));
            fx.abs().max(fy.abs()) >= 7.0 / 16.0
        };
        let powers: Vec<f64> = (0..self.power.len()).filter(far).map(|i| self.power[i]).collect();
        powers.iter().sum::<f64>() / powers.len() as f64
    }

    /// Variance of what passes a filter of power.
    fn variance(&self, weights: &[f64]) -> f64 {
        self.power.iter().zip(weights).map(|(p, w)| p * w).sum::<f64>() / self.power.len() as f64
    }

    /// Half-width of the 95 % interval of a deviation, as a share of it: the variance of normal noise is known from N samples to
    /// 2/N times the mean square of the spectrum over its squared mean (Priestley, "Spectral Analysis and Time Series", 1981,
    /// from memory); half of that for its root.
    ///
    /// A spectrum that is itself measured scatters: with the mean of K windows its square is too large by 1 + 1/K on average.
    fn doubt(&self, samples: f64, weights: &[f64]) -> f64 {
        let mean = self.variance(weights);
        let square =
            self.power.iter().zip(weights).map(|(p, w)| (p * w).powi(2)).sum::<f64>() / self.power.len() as f64;
        let square = square / (1.0 + 1.0 / self.windows);
        COVERAGE_95 * 0.5 * (2.0 / samples * square / (mean * mean)).sqrt()
    }

    fn radial(&self, samples: f64, pitch_um: Option<f64>) -> Vec<PowerPoint> {
        let rings = self.side / 2;
        let mut sums = vec![(0.0, 0.0, 0.0); rings + 1];
        for (i, p) in self.power.iter().enumerate() {
            let f = self.frequency(i % self.side).hypot(self.frequency(i / self.side));
            let ring = (f * self.side as f64).round() as usize;
            if ring <= rings {
                let sum = &mut sums[ring];
                *sum = (sum.0 + 1.0, sum.1 + p, sum.2 + f);
            }
        }
        let point = |&(count, power, f): &(f64, f64, f64)| {
            let cy_px = f / count;
            // A ring holds its share of the degrees of freedom of all samples that are made use of.
            let degrees = count * samples * self.used / self.power.len() as f64;
            let power = power / count;
            let half = COVERAGE_95 * power * (2.0 / degrees).sqrt();
            PowerPoint { cy_px, cy_mm: pitch_um.map(|p| 1000.0 * cy_px / p), power: Figure::new(power, half) }
        };
        // The middle itself was taken off with the surface.
        sums[1..].iter().map(point).collect()
    }

    /// Distance at which the correlation falls to 1/e, the mean of across and down, along straight lines between whole pixels.
    fn correlation(&self) -> f64 {
        let total: f64 = self.power.iter().sum();
        let at = |lag: usize, across: bool| {
            let waves: Vec<f64> =
                (0..self.side).map(|i| (std::f64::consts::TAU * self.frequency(i) * lag as f64).cos()).collect();
            let wave = |i: usize| waves[if across { i % self.side } else { i / self.side }];
            self.power.iter().enumerate().map(|(i, p)| p * wave(i)).sum::<f64>() / total
        };
        let falls = |across: bool| {
            let level = (-1.0_f64).exp();
            let mut before = 1.0;
            for lag in 1..self.side / 2 {
                let now = at(lag, across);
                if now < level {
                    return lag as f64 - 1.0 + (before - level) / (before - now);
                }
                before = now;
            }
            self.side as f64 / 2.0
        };
        f64::midpoint(falls(true), falls(false))
    }
}

/// For windows along one direction: the share of the samples that they make use of, and how many independent ones they stand for.
///
/// A sum of squares of white noise with weights W scatters as that of (sum W)²/(sum W²) samples of equal weight; W is what all
/// windows' squares come to at a place. Two windows' powers are correlated by the square of their overlap (Welch, 1967).
fn usage(window: &[f64], starts: &[usize], extent: usize) -> (f64, f64) {
    let mut weights = vec![0.0; extent];
    for start in starts {
        weights[*start..].iter_mut().zip(window).for_each(|(sum, w)| *sum += w * w);
    }
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |s, w| (s.0 + w, s.1 + w * w));
    let energy: f64 = window.iter().map(|w| w * w).sum();
    let overlap = |a: usize, b: usize| {
        let shared = window.iter().skip(a.abs_diff(b)).zip(window).map(|(a, b)| a * b).sum::<f64>();
        (shared / energy).powi(2)
    };
    let tied: f64 = starts.iter().flat_map(|a| starts.iter().map(|b| overlap(*a, *b))).sum();
    (sum * sum / squares / extent as f64, (starts.len() * starts.len()) as f64 / tied)
}

/// Fourier transform of a square field in place, rows and then columns.
fn transform_square(field: &mut [(f64, f64)], side: usize) {
    for row in field.chunks_exact_mut(side) {
        transform(row);
    }
    let mut column = vec![(0.0, 0.0); side];
    for c in 0..side {
        for r in 0..side {
            column[r] = field[r * side + c];
        }
        transform(&mut column);
        for r in 0..side {
            field[r * side + c] = column[r];
        }
    }
}

/// Fourier transform in place; the length is a power of two (Cooley and Tukey, 1965).
fn transform(x: &mut [(f64, f64)]) {
    let n = x.len();
    let bits = n.trailing_zeros();
    for i in 0..n {
        let j = i.reverse_bits() >> (usize::BITS - bits);
        if i < j {
            x.swap(i, j);
        }
    }
    let mut length = 2;
    while length <= n {
        for k in 0..length / 2 {
            let (sin, cos) = (-std::f64::consts::TAU * k as f64 / length as f64).sin_cos();
            for start in (0..n).step_by(length) {
                let (a, b) = (x[start + k], x[start + k + length / 2]);
                let turned = (b.0 * cos - b.1 * sin, b.0 * sin + b.1 * cos);
                x[start + k] = (a.0 + turned.0, a.1 + turned.1);
                x[start + k + length / 2] = (a.0 - turned.0, a.1 - turned.1);
            }
        }
        length *= 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    #[test]
    fn a_transform_is_the_sum_that_it_stands_for() {
        let values: Vec<(f64, f64)> =
            (0..16).map(|i| ((f64::from(i) * 0.7).sin(), (f64::from(i * i) * 0.1).cos())).collect();
        let mut fast = values.clone();
        transform(&mut fast);
        for (k, found) in fast.iter().enumerate() {
            let mut sum = (0.0, 0.0);
            for (i, v) in values.iter().enumerate() {
                let (sin, cos) = (-std::f64::consts::TAU * (k * i) as f64 / 16.0).sin_cos();
                sum = (sum.0 + v.0 * cos - v.1 * sin, sum.1 + v.0 * sin + v.1 * cos);
            }
            assert_close!(found.0, sum.0, absolute = 1e-12);
            assert_close!(found.1, sum.1, absolute = 1e-12);
        }
    }

    #[test]
    fn windows_use_what_the_sums_of_sines_say() {
        // Means of sin^4 and sin^8 are 3/8 and 35/128; two windows half over each other add up to 1 - sin²(2x)/2, whose mean square
        // is 19/32. Three windows on twice their length: half of the places at the margin, half under two of them.
        let window: Vec<f64> =
            (0..64).map(|i| (std::f64::consts::PI * (f64::from(i) + 0.5) / 64.0).sin().powi(2)).collect();
        let (used, windows) = usage(&window, &[0, 32, 64], 128);
        let (mean, square): (f64, f64) = ((3.0 / 8.0 + 3.0 / 4.0) / 2.0, (35.0 / 128.0 + 19.0 / 32.0) / 2.0);
        assert_close!(used, mean * mean / square, relative = 1e-9);
        // sin² cos² has the mean 1/8 over the half that is shared: an overlap of (1/16) / (3/8) = 1/6.
        assert_close!(windows, 9.0 / (3.0 + 4.0 / 36.0), relative = 1e-9);
        assert_close!(usage(&window, &[0], 64).1, 1.0, absolute = 1e-12);
    }

    #[test]
    fn a_quadratic_surface_is_taken_off_whole() {
        let values: Vec<f64> = (0..40 * 30)
            .map(|i| (f64::from(i % 40), f64::from(i / 40)))
            .map(|(x, y)| 0.3 + 0.01 * x - 0.02 * y + 0.001 * x * y - 0.0005 * x * x)
            .collect();
        let (flat, fall) = detrended(&values, (40, 30));
        assert!(flat.iter().all(|v| v.abs() < 1e-12));
        assert!(fall > 0.1);
    }
}
