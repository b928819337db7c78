//! The density of bare film.

use planes::{Linear, Picture, Plane};

use super::{NegativeError, planes_of};

/// Side of the grid of parts by which evenness is judged.
const PARTS: usize = 4;
/// Least side of the region, so that each part has 16 pixels.
const LEAST_SIDE: usize = 16;
/// Most that the parts' densities may differ: a hundredth of a stop of exposure at a gamma of 0.6 is 0.002; dust and
/// vignetting of a scanner make about 0.01. Common practice, no source.
const EVEN: f64 = 0.02;
/// Most samples, in %, that may be clipped: a median does not feel them.
const MOST_CLIPPED: f64 = 1.0;
/// Densest base that is taken: masked colour film has about 0.2, 0.6, 0.9 (from memory); scanners end near 4.
const MOST: f64 = 3.0;
/// Student's t for 95 %, two-sided, 15 degrees of freedom (any table of t): the parts are 16.
const T_95_15: f64 = 2.131;

/// The density of a film's base and fog, for each channel, in the scan's own counting (0 is the scan's full scale).
#[derive(Debug, Clone, PartialEq)]
pub struct Base {
    density: Vec<f64>,
    half_width: Option<Vec<f64>>,
}

impl Base {
    /// Densities that are known, one for each channel.
    pub fn stated(density: &[f64]) -> Result<Self, NegativeError> {
        match density.iter().find(|d| !(0.0..=MOST).contains(*d)) {
            Some(&value) => Err(NegativeError::Density { value, most: MOST }),
            None => Ok(Self { density: density.to_vec(), half_width: None }),
        }
    }

    /// Measured in a region without picture (the rebate): the median of each channel. Its half-width comes from how
    /// the medians of 4 x 4 parts scatter, because neighbouring pixels of a scan do not vary independently.
    pub fn measured(rebate: &Picture<Linear>) -> Result<Self, NegativeError> {
        let (width, height) = (rebate.width(), rebate.height());
        if width < LEAST_SIDE || height < LEAST_SIDE {
            return Err(NegativeError::RegionTooSmall { width, height, least: LEAST_SIDE });
        }
        let measured: Vec<(f64, f64)> =
            planes_of(rebate).iter().enumerate().map(|(c, plane)| channel(c, plane)).collect::<Result<_, _>>()?;
        let (density, half_width) = measured.into_iter().unzip();
        Ok(Self { density, half_width: Some(half_width) })
    }

    /// Density of each channel.
    pub fn density(&self) -> &[f64] {
        &self.density
    }

    /// Half-width (95 %) of each density; `None` when they were stated.
    pub fn half_width(&self) -> Option<&[f64]> {
        self.half_width.as_deref()
    }
}

/// Density and half-width of one channel.
fn channel(number: usize, plane: &Plane<Linear>) -> Result<(f64, f64), NegativeError> {
    let clipped = plane.samples().iter().filter(|v| **v <= 0.0 || **v >= 1.0).count();
    let share = 100.0 * clipped as f64 / plane.samples().len() as f64;
    if share > MOST_CLIPPED {
        return Err(NegativeError::BaseClipped { channel: number, share });
    }
    let parts: Vec<f64> = (0..PARTS * PARTS).map(|i| -part(plane, i % PARTS, i / PARTS).log10()).collect();
    let (least, most) = parts.iter().fold((f64::MAX, f64::MIN), |(a, b), &d| (a.min(d), b.max(d)));
    if most - least > EVEN {
        return Err(NegativeError::Uneven { channel: number, spread: most - least, limit: EVEN });
    }
    let n = parts.len() as f64;
    let mean = parts.iter().sum::<f64>() / n;
    let deviation = (parts.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let density = -median(plane.samples().to_vec()).log10();
    Ok((density, T_95_15 * deviation / n.sqrt()))
}

/// The median of one part of the grid.
fn part(plane: &Plane<Linear>, column: usize, row: usize) -> f64 {
    let range = |i: usize, side: usize| i * side / PARTS..(i + 1) * side / PARTS;
    let columns = range(column, plane.width());
    median(range(row, plane.height()).flat_map(|y| plane.row(y)[columns.clone()].iter().copied()).collect())
}

fn median(mut samples: Vec<f32>) -> f64 {
    let middle = samples.len() / 2;
    let (_, &mut value, _) = samples.select_nth_unstable_by(middle, f32::total_cmp);
    value.into()
}
