//! A frame drawn through a similarity.

use planes::{Linear, Plane, ShapeError};

use super::similarity::Similarity;

/// A resampled frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Resampled {
    /// Its light; 0 where the frame does not reach.
    pub plane: Plane<Linear>,
    /// For every pixel, row by row, whether its middle lies in the frame.
    pub covered: Vec<bool>,
}

/// Draws a frame on a canvas of `size` (columns, rows). `to_frame` says where a place on the canvas lies in the frame.
///
/// The kernel is Keys' cubic with a = −1/2 ("Cubic convolution interpolation for digital image processing", 1981), one in each
/// direction of the canvas. Where the frame is reduced it is stretched to the canvas's pixels, so that every pixel of the frame
/// counts (area-correct) and nothing finer than the canvas can hold turns into false structure. Weights are divided by their sum; at the frame's rim only
/// what is there counts.
pub fn resample(frame: &Plane<Linear>, to_frame: &Similarity, size: (usize, usize)) -> Result<Resampled, ShapeError> {
    let drawing = Drawing::new(frame, to_frame);
    let mut covered = Vec::with_capacity(size.0.saturating_mul(size.1));
    let plane = Plane::from_fn(size.0, size.1, |column, row| {
        let light = drawing.at((column as f64 + 0.5, row as f64 + 0.5));
        covered.push(light.is_some());
        light.unwrap_or(0.0)
    })?;
    Ok(Resampled { plane, covered })
}

struct Drawing<'a> {
    frame: &'a Plane<Linear>,
    to_frame: &'a Similarity,
    /// Frame pixels to a unit of the kernel: the reduction, at least 1.
    stretch: f64,
    /// Unit vector of the canvas's rows in the frame.
    along: (f64, f64),
}

impl<'a> Drawing<'a> {
    fn new(frame: &'a Plane<Linear>, to_frame: &'a Similarity) -> Self {
        let (sin, cos) = to_frame.turn_deg().to_radians().sin_cos();
        Self { frame, to_frame, stretch: to_frame.scale().max(1.0), along: (cos, sin) }
    }

    fn at(&self, canvas: (f64, f64)) -> Option<f32> {
        let (x, y) = self.to_frame.to_second(canvas);
        let (width, height) = (self.frame.width(), self.frame.height());
        let inside = |at: f64, size: usize| (0.0..=size as f64).contains(&at);
        if !(inside(x, width) && inside(y, height)) {
            return None;
        }
        // The kernel reaches two units along each direction of the canvas; a turn spreads it over both of the frame's.
        let reach = 2.0 * self.stretch * (self.along.0.abs() + self.along.1.abs());
        let (mut sum, mut weights) = (0.0, 0.0);
        for row in span(y, reach, height) {
            let dy = row as f64 + 0.5 - y;
            let samples = self.frame.row(row);
            for column in span(x, reach, width) {
                let weight = self.weight(column as f64 + 0.5 - x, dy);
                sum += weight * f64::from(samples[column]);
                weights += weight;
            }
        }
        (weights > 0.0).then_some((sum / weights) as f32)
    }

    fn weight(&self, dx: f64, dy: f64) -> f64 {
        let (cos, sin) = self.along;
        keys((dx * cos + dy * sin) / self.stretch) * keys((dy * cos - dx * sin) / self.stretch)
    }
}

/// The pixels whose middles lie within `reach`.
fn span(at: f64, reach: f64, size: usize) -> std::ops::Range<usize> {
    let first = (at - reach - 0.5).ceil().max(0.0) as usize;
    let last = (at + reach - 0.5).floor().min(size as f64 - 1.0);
    first..(last + 1.0).max(0.0) as usize
}

/// Keys' cubic, a = −1/2.
fn keys(distance: f64) -> f64 {
    let d = distance.abs();
    match d {
        d if d < 1.0 => (1.5 * d - 2.5) * d * d + 1.0,
        d if d < 2.0 => ((-0.5 * d + 2.5) * d - 4.0) * d + 2.0,
        _ => 0.0,
    }
}
