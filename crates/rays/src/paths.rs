//! Rays as lines to draw: where each meets every surface.

use crate::pencil::on_film;
use crate::{AimError, Object, Openings, Rays, System, Wavelength};

/// One ray in the plane of axis and field.
#[derive(Debug, Clone, PartialEq)]
pub struct Path {
    /// Where it passes the stop, in radii of it from its middle.
    pub stop: f64,
    /// Place along the axis from the first vertex and height, mm: the subject (or a plane before the first vertex), every
    /// surface, the film.
    pub corners: Vec<[f64; 2]>,
    /// Whether every clear diameter lets it through.
    pub passes: bool,
}

/// A drawn ray passes the stop this near to where it is meant to, in radii.
const MISS: f64 = 1e-6;

impl System {
    /// Exact rays from a place in the field through places of the stop (in radii, along the field); `None` where a ray does not
    /// get through the glass. With the subject at infinity rays begin `before_mm` before the first vertex.
    ///
    /// # Errors
    ///
    /// When no ray from there passes the middle of the stop.
    pub fn paths(
        &self,
        field: f64,
        wavelength: Wavelength,
        stop: &[f64],
        before_mm: f64,
    ) -> Result<Vec<Option<Path>>, AimError> {
        let aim = self.aim(field, wavelength)?;
        let targets: Vec<[f64; 2]> = stop.iter().map(|share| [0.0, *share]).collect();
        let numbers = aim.at_stop(&targets, MISS);
        let path = |(stop, numbers): (&f64, Option<[f64; 2]>)| {
            let start = aim.launch.ray(numbers?);
            let back = match self.object() {
                Object::Infinity => before_mm,
                Object::At { .. } => 0.0,
            };
            let slope = start.toward[1] / start.toward[2];
            let mut corners = vec![[start.at[2] - back, start.at[1] - back * slope]];
            let (mut rays, mut vertex) = (Rays::new([start]), 0.0);
            for (row, step) in aim.lens.steps().iter().enumerate() {
                aim.lens.trace_rows(&mut rays, row..row + 1, Openings::Measure);
                let ray = rays.get(0).ok()?;
                vertex += step.gap_before_mm;
                corners.push([vertex + ray.at[2], ray.at[1]]);
            }
            let last = rays.get(0).ok()?;
            let slope = last.toward[1] / last.toward[2];
            // Only where the thin lens stands behind the glass can it be seen to bend a ray.
            if let Some(ideal) = self.screen().ideals().first() {
                let at = self.film_mm() - ideal.before_film_mm;
                if at > last.at[2] {
                    corners.push([vertex + at, last.at[1] + (at - last.at[2]) * slope]);
                }
            }
            corners.push([vertex + self.film_mm(), on_film(&rays, 0, &self.film())?.at[1]]);
            Some(Path { stop: *stop, corners, passes: rays.fullness(0) <= 1.0 })
        };
        Ok(stop.iter().zip(numbers).map(path).collect())
    }
}
