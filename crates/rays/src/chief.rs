//! Chief rays: what place in the field arrives where on the film.

use crate::aim::AimError;
use crate::pencil::{OnFilm, on_film};
use crate::{Object, Openings, Ray, Rays, Step, System, Wavelength};

/// The chief ray of a place in the field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chief {
    /// Where it meets the film, mm from the axis.
    pub film_mm: f64,
    /// Its slope there.
    pub slope: f64,
}

impl System {
    /// The exact ray from a place in the field through the middle of the real stop.
    pub fn chief_ray(&self, field: f64, wavelength: Wavelength) -> Result<Chief, AimError> {
        let aim = self.aim(field, wavelength)?;
        let ray = on_film(&aim.through([[0.0, aim.chief]]), 0, &self.film()).ok_or(AimError::NoChief { field })?;
        Ok(Chief { film_mm: ray.at[1], slope: ray.toward[1] / ray.toward[2] })
    }

    /// The place in the field whose chief ray meets the film `film_mm` from the axis (with its sign: a place in the field and
    /// its picture usually lie on opposite sides).
    pub fn field_at_film(&self, film_mm: f64, wavelength: Wavelength) -> Result<f64, AimError> {
        let scale = self.first_order(wavelength).scale;
        let mut field = film_mm / scale;
        for _ in 0..FIELD_STEPS {
            let miss = self.chief_ray(field, wavelength)?.film_mm - film_mm;
            if miss.abs() < FIELD_MISS_MM {
                return Ok(field);
            }
            let nudge = 1e-4 * film_mm.abs() / scale.abs();
            let beside = self.chief_ray(field + nudge, wavelength)?.film_mm - film_mm;
            field -= miss * nudge / (beside - miss);
        }
        Err(AimError::NotReached { film_mm })
    }
}

/// Newton's steps to a place in the field.
const FIELD_STEPS: usize = 30;

/// A place on film is met this nearly, mm.
const FIELD_MISS_MM: f64 = 1e-9;

/// Where the pencil around a chief ray is sharp.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldFocus {
    /// Place on film, mm.
    pub film_mm: f64,
    /// Film plane to the sagittal focus, mm, positive behind the film.
    pub sagittal_mm: f64,
    /// The same for the tangential one.
    pub tangential_mm: f64,
}

/// Curvature of the wave in both directions, with n/distance to the focus on each.
#[derive(Clone, Copy)]
struct Bundle {
    sagittal: f64,
    tangential: f64,
}

impl System {
    /// Field curvature and astigmatism: the two foci of a narrow pencil around the chief ray, by Coddington's equations
    /// (Welford, *Aberrations of Optical Systems*, 1986, 9.5, from memory), along the exact ray.
    pub fn field_focus(&self, field: f64, wavelength: Wavelength) -> Result<FieldFocus, AimError> {
        let aim = self.aim(field, wavelength)?;
        let start = aim.launch.ray([0.0, aim.chief]);
        let mut bundle = match self.object() {
            Object::Infinity => Bundle { sagittal: 0.0, tangential: 0.0 },
            // The subject lies behind the ray: a negative distance along it.
            Object::At { distance_mm } => {
                let vergence = -aim.lens.index_before() * start.toward[2] / distance_mm;
                Bundle { sagittal: vergence, tangential: vergence }
            }
        };
        let (mut rays, mut last) = (Rays::new([start]), at_first_vertex(start, self.object()));
        for (row, step) in aim.lens.steps().iter().enumerate() {
            aim.lens.trace_rows(&mut rays, row..row + 1, Openings::Measure);
            let ray = rays.get(0).map_err(|_| AimError::NoChief { field })?;
            let travelled = (ray.at[1] - last.at[1]).hypot(ray.at[2] + step.gap_before_mm - last.at[2]);
            bundle = bundle.travelled(travelled, step.before).refracted(step, &last, &ray);
            last = ray;
        }
        let index = aim.lens.index_after();
        let behind = |vergence: f64| last.at[2] + index / vergence * last.toward[2] - self.plane_mm();
        let focus = |vergence: f64| self.screen().focus_mm(behind(vergence));
        Ok(FieldFocus {
            film_mm: on_film(&rays, 0, &self.film()).ok_or(AimError::NoChief { field })?.at[1],
            sagittal_mm: focus(bundle.sagittal),
            tangential_mm: focus(bundle.tangential),
        })
    }

    /// How far a place in the field is imaged from where an undistorted picture would have it, as a share: real over
    /// paraxial chief ray on the film as it is, less 1.
    pub fn distortion(&self, field: f64, wavelength: Wavelength) -> Result<f64, AimError> {
        Ok(self.chief_ray(field, wavelength)?.film_mm / (self.first_order(wavelength).scale * field) - 1.0)
    }

    /// How far apart on film two colours of one place in the field are by their chief rays, mm.
    pub fn lateral_colour_mm(&self, field: f64, one: Wavelength, other: Wavelength) -> Result<f64, AimError> {
        Ok(self.chief_ray(field, one)?.film_mm - self.chief_ray(field, other)?.film_mm)
    }

    /// How far apart along the axis two colours are sharp to first order, mm.
    pub fn axial_colour_mm(&self, one: Wavelength, other: Wavelength) -> f64 {
        self.first_order(one).image_mm - self.first_order(other).image_mm
    }
}

/// The ray where its vergence is known: at the plane of the first vertex.
fn at_first_vertex(ray: Ray, object: Object) -> Ray {
    let Object::At { distance_mm } = object else { return ray };
    let along = distance_mm / ray.toward[2];
    Ray { at: [0.0, ray.at[1] + along * ray.toward[1], 0.0], ..ray }
}

impl Bundle {
    /// After a way `by` along the ray in index `index`, forward or back.
    fn travelled(self, by: f64, index: f64) -> Self {
        let one = |vergence: f64| vergence / (1.0 - by * vergence / index);
        Self { sagittal: one(self.sagittal), tangential: one(self.tangential) }
    }

    /// Behind a surface: n'/s' = n/s + c(n'cos I' − n cos I), with n·cos² for n on both sides tangentially.
    fn refracted(self, step: &Step, before: &Ray, after: &Ray) -> Self {
        let height = after.at[1];
        let (slope, second) = step.surface.slopes(height.abs()).unwrap_or((0.0, 0.0));
        let length = (1.0 + slope * slope).sqrt();
        let sagittal = if height == 0.0 { second } else { slope / (height.abs() * length) };
        let tangential = second / length.powi(3);
        let cosine = |ray: &Ray| (ray.toward[2] - slope * height.signum() * ray.toward[1]) / length;
        let (old, new) = (cosine(before), cosine(after));
        let bend = step.after * new - step.before * old;
        Self {
            sagittal: self.sagittal + sagittal * bend,
            tangential: (self.tangential * old * old + tangential * bend) / (new * new),
        }
    }
}

/// One ray of a fan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FanRay {
    /// Where it passes the stop, in radii of it from its middle.
    pub stop: f64,
    /// Where it meets the film, from the chief ray: sagittal and tangential, mm.
    pub miss_mm: [f64; 2],
    /// How much longer its path is than the chief ray's, in waves, up to the sphere through the exit pupil's middle about
    /// where the chief ray meets the film.
    pub waves: f64,
}

/// Rays along both diameters of the stop.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fan {
    /// Along y, from below: `None` where a ray is lost or cut.
    pub tangential: Vec<Option<FanRay>>,
    /// Along x, from the middle outwards: the other half mirrors it.
    pub sagittal: Vec<Option<FanRay>>,
}

impl System {
    /// Rays through evenly spaced points of both diameters of the stop: 2·`count` + 1 tangential ones and `count` + 1
    /// sagittal ones.
    pub fn fan(&self, field: f64, wavelength: Wavelength, count: usize) -> Result<Fan, AimError> {
        let aim = self.aim(field, wavelength)?;
        let rays = aim.through([[0.0, aim.chief]]);
        let chief = on_film(&rays, 0, &self.film()).ok_or(AimError::NoChief { field })?;
        let share = |i: usize| i as f64 / count.max(1) as f64;
        let along_y: Vec<[f64; 2]> = (0..=2 * count).map(|i| [0.0, share(i) - 1.0]).collect();
        let along_x: Vec<[f64; 2]> = (0..=count).map(|i| [share(i), 0.0]).collect();
        let radius = self.sphere_radius_mm(&chief, wavelength);
        let fan = |targets: &[[f64; 2]]| {
            let numbers = aim.at_stop(targets, FAN_MISS);
            let rays = aim.through(numbers.iter().map(|numbers| numbers.unwrap_or([0.0, aim.chief])));
            let one = |i: usize| {
                numbers[i]?;
                let ray = on_film(&rays, i, &self.film()).filter(|_| rays.fullness(i) <= 1.0 + RIM)?;
                let longer = to_sphere(&ray, &chief, radius, aim.lens.index_after());
                let miss_mm = [ray.at[0], ray.at[1] - chief.at[1]];
                Some(FanRay { stop: targets[i][0] + targets[i][1], miss_mm, waves: longer / wavelength.mm() })
            };
            (0..targets.len()).map(one).collect()
        };
        Ok(Fan { tangential: fan(&along_y), sagittal: fan(&along_x) })
    }

    /// From the film back to where the chief ray crosses the axis, along it, mm; infinite when it does not.
    fn sphere_radius_mm(&self, chief: &OnFilm, wavelength: Wavelength) -> f64 {
        let pupil = self.at(wavelength).pupils(self.stop()).exit_mm;
        let to_plane = |exit: f64| self.screen().focus_mm(exit - self.plane_mm());
        // Seen through what lies behind the glass, as far in front of the film as it is imaged.
        pupil.map_or(f64::INFINITY, |exit| -to_plane(exit) / chief.toward[2])
    }
}

/// Fan rays pass the stop this near to where they are meant to, in radii.
const FAN_MISS: f64 = 1e-10;

/// A ray at the very rim of an opening is inside, whatever its last digits say.
const RIM: f64 = 1e-8;

/// By how much a ray's path to a sphere of `radius` about the chief ray's place on film is longer than the chief ray's.
///
/// With e from the place to where the ray meets the film, it meets the sphere −e·d − √(R² − e² + (e·d)²) along itself; R is
/// taken off on both sides, so that an infinite one is no trouble.
fn to_sphere(ray: &OnFilm, chief: &OnFilm, radius: f64, index: f64) -> f64 {
    let (x, y) = (ray.at[0], ray.at[1] - chief.at[1]);
    let along = x * ray.toward[0] + y * ray.toward[1];
    let across = x * x + y * y - along * along;
    // R − √(R² − a) = a/(R + √(R² − a)), for either sign of R.
    let size = radius.abs();
    let short = across / (size + (size * size - across).max(0.0).sqrt());
    ray.path_mm - chief.path_mm + index * (short.copysign(radius) - along)
}
