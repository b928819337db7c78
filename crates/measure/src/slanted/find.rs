//! First look: is there an edge, which way does it run, and about where.
//!
//! The picture is shrunk to a few thousand cells; for every direction the gradient is summed along parallel
//! lines (a Radon transform of the gradient). A straight edge piles up on one line in one direction; noise and texture do not.

use planes::{Linear, Plane};

/// Cells that the shorter side of the region is shrunk to, at most: enough to tell directions a degree apart, few
/// enough that trying every direction costs a few milliseconds.
const CELLS: usize = 56;
/// Step between the directions tried first, degrees.
const COARSE_STEP_DEG: f64 = 3.0;
/// Step of the second pass about the best, degrees.
const FINE_STEP_DEG: f64 = 0.25;

/// What the first look found; coordinates in pixels of the region.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sighting {
    /// Direction of the edge's normal, radians from the x axis, 0 to pi.
    pub(crate) normal: f64,
    /// Distance of the edge from the region's middle along that normal.
    pub(crate) offset: f64,
    /// Half of the width over which the edge changes, as far as the shrunk picture can tell.
    pub(crate) half_width: f64,
    /// Energy in that direction over the median of all directions: near 1 for noise, large for an edge.
    pub(crate) prominence: f64,
}

/// The strongest straight edge; `None` when the picture is perfectly even.
pub(crate) fn sight(plane: &Plane<Linear>) -> Option<Sighting> {
    let factor = (plane.width().min(plane.height()) as f64 / CELLS as f64).ceil().max(1.0) as usize;
    let field = Gradients::of(&shrink(plane, factor));
    let step = COARSE_STEP_DEG.to_radians();
    let directions = (180.0 / COARSE_STEP_DEG) as usize;
    let energies: Vec<f64> = (0..directions).map(|i| energy(&field.profile(i as f64 * step))).collect();
    let typical = crate::numeric::median(&energies);
    let best = (0..directions).max_by(|&a, &b| energies[a].total_cmp(&energies[b]))?;
    if energies[best] <= 0.0 {
        return None;
    }
    let fine = FINE_STEP_DEG.to_radians();
    // By four fine steps, then by one about the best of those.
    let best_about = |middle: f64, stride: f64| {
        let around = (-3..=3).map(|k| middle + f64::from(k) * stride);
        around.map(|normal| (normal, energy(&field.profile(normal)))).max_by(|a, b| a.1.total_cmp(&b.1))
    };
    let (near, _) = best_about(best as f64 * step, 4.0 * fine)?;
    let (normal, energy) = best_about(near, fine)?;
    let (offset, half_width) = peak(&field.profile(normal));
    let scale = factor as f64;
    let (normal, offset) = upright(normal, offset * scale);
    let half_width = (half_width + 1.0) * scale;
    Some(Sighting { normal, offset, half_width, prominence: energy / typical.max(f64::MIN_POSITIVE) })
}

/// Brings the direction into 0 ..= pi.
fn upright(normal: f64, offset: f64) -> (f64, f64) {
    if normal < 0.0 { (normal + std::f64::consts::PI, -offset) } else { (normal, offset) }
}

/// Block means; a remainder narrower than a block is left out evenly on both sides.
fn shrink(plane: &Plane<Linear>, factor: usize) -> Cells {
    let (width, height) = (plane.width() / factor, plane.height() / factor);
    let (left, top) = ((plane.width() % factor) / 2, (plane.height() % factor) / 2);
    let mut values = vec![0.0; width * height];
    for row in 0..height * factor {
        let samples = &plane.row(top + row)[left..left + width * factor];
        for (column, chunk) in samples.chunks_exact(factor).enumerate() {
            values[(row / factor) * width + column] += chunk.iter().map(|&s| f64::from(s)).sum::<f64>();
        }
    }
    let area = (factor * factor) as f64;
    values.iter_mut().for_each(|v| *v /= area);
    Cells { width, height, values }
}

struct Cells {
    width: usize,
    height: usize,
    values: Vec<f64>,
}

impl Cells {
    fn at(&self, x: usize, y: usize) -> f64 {
        self.values[y * self.width + x]
    }
}

/// Gradients at the inner cells, with their places from the middle.
struct Gradients {
    cells: Vec<[f64; 4]>,
    reach: f64,
}

impl Gradients {
    /// By the 3 x 3 differences with weights 1 2 1 across.
    fn of(cells: &Cells) -> Self {
        let mut out = Vec::new();
        let (cx, cy) = (cells.width as f64 / 2.0, cells.height as f64 / 2.0);
        for y in 1..cells.height.saturating_sub(1) {
            for x in 1..cells.width.saturating_sub(1) {
                let across = |dy: usize| cells.at(x + 1, y + dy - 1) - cells.at(x - 1, y + dy - 1);
                let along = |dx: usize| cells.at(x + dx - 1, y + 1) - cells.at(x + dx - 1, y - 1);
                let gx = (across(0) + 2.0 * across(1) + across(2)) / 8.0;
                let gy = (along(0) + 2.0 * along(1) + along(2)) / 8.0;
                out.push([x as f64 + 0.5 - cx, y as f64 + 0.5 - cy, gx, gy]);
            }
        }
        Self { cells: out, reach: cx.hypot(cy) }
    }

    /// Gradient along this normal, summed on lines one cell apart.
    fn profile(&self, normal: f64) -> Vec<f64> {
        let (sin, cos) = normal.sin_cos();
        let mut out = vec![0.0; 2 * self.reach.ceil() as usize + 3];
        let middle = (out.len() / 2) as f64;
        for [x, y, gx, gy] in &self.cells {
            let place = x * cos + y * sin + middle;
            // Never below 0: a cast does what `floor` would, without a call.
            let bin = place as i64 as usize;
            let moved = (gx * cos + gy * sin) * (place - bin as f64);
            out[bin] += gx * cos + gy * sin - moved;
            out[bin + 1] += moved;
        }
        out
    }
}

fn energy(profile: &[f64]) -> f64 {
    profile.iter().map(|p| p * p).sum()
}

/// Place of the strongest peak from the middle, and the distance to where it has fallen to a tenth, in cells.
fn peak(profile: &[f64]) -> (f64, f64) {
    let height = |i: usize| profile[i].abs();
    let top = (0..profile.len()).max_by(|&a, &b| height(a).total_cmp(&height(b))).unwrap_or(0);
    let sign = profile[top].signum();
    let above = |i: &usize| profile[*i] * sign > 0.1 * height(top);
    let right = (top..profile.len()).take_while(above).count();
    let left = (0..=top).rev().take_while(above).count();
    let range = top + 1 - left..top + right;
    let weight: f64 = range.clone().map(|i| profile[i]).sum();
    let centre = range.map(|i| profile[i] * i as f64).sum::<f64>() / weight;
    (centre - (profile.len() / 2) as f64, (left + right) as f64 / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn step(width: usize, height: usize, normal_deg: f64, offset: f64) -> Plane<Linear> {
        let (sin, cos) = f64::to_radians(normal_deg).sin_cos();
        Plane::from_fn(width, height, |c, r| {
            let (x, y) = (c as f64 + 0.5 - width as f64 / 2.0, r as f64 + 0.5 - height as f64 / 2.0);
            0.5 + 0.4 * ((x * cos + y * sin - offset) / 1.5).tanh() as f32
        })
        .unwrap()
    }

    #[test]
    fn direction_and_place_are_found() {
        for (size, normal, offset) in
            [((60, 60), 5.0, 3.0), ((200, 120), 88.0, -10.0), ((400, 800), 133.0, 20.0), ((90, 70), 176.0, 0.0)]
        {
            let seen = sight(&step(size.0, size.1, normal, offset)).unwrap();
            assert_close!(seen.normal.to_degrees(), normal, absolute = 1.0);
            assert_close!(seen.offset, offset, absolute = 3.0, "{size:?} {normal}");
            assert!(seen.prominence > 10.0, "prominence {} of a clean edge", seen.prominence);
        }
    }

    #[test]
    fn an_even_picture_holds_nothing() {
        assert_eq!(sight(&Plane::from_fn(30, 30, |_, _| 0.5).unwrap()), None);
    }
}
