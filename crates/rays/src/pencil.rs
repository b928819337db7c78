//! All light from one place in the field, in every colour, as it arrives at the film.
//!
//! The film sees a pencil as plane waves, one for every direction (L, M): light of direction cosine L makes a fringe of
//! L/λ cycles per millimetre on the film. So a pupil is kept on a grid that is even in L/λ and M/λ, the same grid for every
//! colour. Its phase is the *angle characteristic*: the optical path from the subject to where the film's own reference
//! point would lie on the plane wave, path − L·x − M·y with (x, y) from the reference point to where the ray meets the film
//! (Born & Wolf, *Principles of Optics*, 4.1). Two rays of nearly the same direction differ in it by −x·dL − y·dM: a grid
//! ray that arrives a little beside its direction is thereby put right to first order, with nothing traced again.
//!
//! Amplitude is even in direction cosines: a subject that shines evenly in all directions through a lens that keeps
//! étendue. Film illumination is then the area of the pupil in direction cosines, with nothing left out (fall-off with the
//! angle, vignetting and the pupil's own aberration are all in that area).
//!
//! How rays are aimed: a coarse fan fills the stop by Newton's rule (its wide-angle cases start from places nearer the
//! axis); polynomials through it tell which ray to send for which direction; the grid's rays are then traced once.

use crate::aim::{Aim, AimError};
use crate::fit::Polynomial;
use crate::relay::Screen;
use crate::{Rays, System, Wavelength};

/// Colours and how much each counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    lines: Vec<(Wavelength, f64)>,
    pub(crate) main: usize,
}

/// Why colours make no spectrum.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SpectrumError {
    /// No colours.
    #[error("a spectrum needs at least one colour")]
    Empty,
    /// A weight that is not above 0.
    #[error("colour {line} has the weight {weight}, which must be above 0")]
    Weight {
        /// Which colour, counted from 1.
        line: usize,
        /// Its weight.
        weight: f64,
    },
    /// A main colour that is not among them.
    #[error("there are {lines} colours, so colour {main} cannot be the main one")]
    Main {
        /// Asked for, counted from 1.
        main: usize,
        /// How many there are.
        lines: usize,
    },
}

impl Spectrum {
    /// Wavelengths with weights that need not add up to 1; `main` is the place (from 0) of the one that the chief ray and the
    /// focus belong to.
    pub fn new(lines: Vec<(Wavelength, f64)>, main: usize) -> Result<Self, SpectrumError> {
        if lines.is_empty() {
            return Err(SpectrumError::Empty);
        }
        if let Some(line) = lines.iter().position(|(_, weight)| !(weight.is_finite() && *weight > 0.0)) {
            return Err(SpectrumError::Weight { line: line + 1, weight: lines[line].1 });
        }
        if main >= lines.len() {
            return Err(SpectrumError::Main { main: main + 1, lines: lines.len() });
        }
        Ok(Self { lines, main })
    }

    /// One colour.
    pub fn one(wavelength: Wavelength) -> Self {
        Self { lines: vec![(wavelength, 1.0)], main: 0 }
    }

    /// F, d and C in equal parts: a panchromatic film by daylight, roughly (common practice, no source).
    pub fn visible() -> Self {
        Self { lines: vec![(Wavelength::F, 1.0), (Wavelength::D, 1.0), (Wavelength::C, 1.0)], main: 1 }
    }

    /// The colour that the chief ray and the focus belong to.
    pub fn main_line(&self) -> Wavelength {
        self.lines[self.main].0
    }

    /// Its colours.
    pub fn wavelengths(&self) -> impl Iterator<Item = Wavelength> + '_ {
        self.lines.iter().map(|(wavelength, _)| *wavelength)
    }
}

/// A pupil in one colour: for grid place (i, j), column i at x = (i + ½)·step and row j at y = middle + (j + ½ − n/2)·step
/// in cycles per millimetre; the half with x < 0 mirrors it.
#[derive(Debug, Clone, PartialEq)]
pub struct Pupil {
    pub(crate) wavelength: Wavelength,
    pub(crate) weight: f64,
    pub(crate) samples: usize,
    /// Grid steps by x and y, cycles/mm.
    pub(crate) step: [f64; 2],
    /// Index at the film.
    pub(crate) index: f64,
    /// Direction cosine M of the grid's middle.
    pub(crate) middle: f64,
    /// How much of each cell is open, 0 to 1, rows of n/2 columns.
    pub(crate) open: Vec<f64>,
    /// Optical path, mm, less the mean over the open cells.
    pub(crate) path_mm: Vec<f64>,
    /// Where the ray meets the film, from the reference point, mm.
    pub(crate) x_mm: Vec<f64>,
    pub(crate) y_mm: Vec<f64>,
}

/// All light from one place in the field.
#[derive(Debug, Clone, PartialEq)]
pub struct Pencil {
    /// One for every colour.
    pub(crate) pupils: Vec<Pupil>,
    /// The place in the field.
    pub field: f64,
    /// Where the chief ray of the main colour meets the film, mm from the axis: the reference point.
    pub film_mm: f64,
    /// Its slope there.
    pub(crate) slope: f64,
}

/// Rings and half-turn spokes of the coarse fan: 133 rays, against the 21 coefficients of two polynomials.
const RINGS: usize = 12;
const SPOKES: usize = 11;

/// The outermost ring in stop radii: a little beyond the rim, so that the rim lies inside what is fitted.
const OUTERMOST: f64 = 1.04;

/// Coarse rays need not meet the stop exactly where they were meant to: this share of its radius will do.
const COARSE: f64 = 1e-3;

/// Coarse rays so far outside an opening take no part in the fit: (height/half diameter)².
const FAR_OUTSIDE: f64 = 2.0;

/// Cells left free around the pupil, so that its rim's cells have neighbours.
const MARGIN: usize = 3;

impl System {
    /// Traces all light from a place in the field, `samples` grid cells across the pupil (rounded up to a multiple of 16).
    pub fn pencil(&self, field: f64, spectrum: &Spectrum, samples: usize) -> Result<Pencil, AimError> {
        let samples = samples.max(16).next_multiple_of(16);
        let aims = spectrum.lines.iter().map(|(wavelength, _)| self.aim(field, *wavelength));
        let film = self.film();
        let coarse = aims.map(|aim| Coarse::of(aim?, &film)).collect::<Result<Vec<_>, _>>()?;
        let main = self.aim(field, spectrum.main_line())?;
        let chief = on_film(&main.through([[0.0, main.chief]]), 0, &film).ok_or(AimError::NoChief { field })?;
        let cells = (samples - MARGIN) as f64;
        // One step in cycles per millimetre for all colours: that of the colour whose pupil is widest in it.
        let widest = |width: fn(&Coarse) -> f64| {
            coarse.iter().map(|coarse| width(coarse) * coarse.per_mm()).fold(0.0f64, f64::max) / cells
        };
        let step = [widest(|coarse| 2.0 * coarse.half_width), widest(|coarse| coarse.top - coarse.bottom)];
        let pupils = coarse.iter().zip(&spectrum.lines).map(|(coarse, (_, weight))| {
            let grid = Grid { samples, step, film: &film, reference: chief.at[1], weight: *weight };
            coarse.pupil(&grid)
        });
        Ok(Pencil { pupils: pupils.collect(), field, film_mm: chief.at[1], slope: chief.toward[1] / chief.toward[2] })
    }
}

/// A ray where it meets the film.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OnFilm {
    /// x and y, mm.
    pub(crate) at: [f64; 2],
    pub(crate) toward: [f64; 3],
    pub(crate) path_mm: f64,
}

/// The film: a plane that rays are traced to, and what lies between it and the film.
pub(crate) struct Film<'a> {
    pub(crate) plane_mm: f64,
    pub(crate) screen: &'a Screen,
}

/// Ray `i` on the film, in air.
pub(crate) fn on_film(rays: &Rays, i: usize, film: &Film<'_>) -> Option<OnFilm> {
    on_film_in(rays, i, film, 1.0)
}

/// The same in any index.
fn on_film_in(rays: &Rays, i: usize, film: &Film<'_>, index: f64) -> Option<OnFilm> {
    let ray = rays.get(i).ok()?;
    let along = (film.plane_mm - ray.at[2]) / ray.toward[2];
    film.screen.onto_film(OnFilm {
        at: [ray.at[0] + along * ray.toward[0], ray.at[1] + along * ray.toward[1]],
        toward: ray.toward,
        path_mm: ray.path_mm + index * along,
    })
}

/// Which ray to send for which direction at the film, and how wide the pupil is in it.
struct Coarse {
    aim: Aim,
    /// From (L/half_width, (M − middle)/half_height) to a ray's two numbers.
    first: Polynomial,
    second: Polynomial,
    half_width: f64,
    bottom: f64,
    top: f64,
}

struct Grid<'a> {
    samples: usize,
    step: [f64; 2],
    film: &'a Film<'a>,
    reference: f64,
    weight: f64,
}

/// One coarse ray that came through.
#[derive(Clone, Copy)]
struct Known {
    numbers: [f64; 2],
    /// L and M at the film.
    toward: [f64; 2],
    /// Root of the fullness: above 1 outside.
    reach: f64,
}

impl Coarse {
    fn of(aim: Aim, film: &Film<'_>) -> Result<Self, AimError> {
        let field = aim.launch.field();
        let known = coarse_rays(&aim, film);
        let [half_width, bottom, top] = extent(&known).ok_or(AimError::Dark { field })?;
        let (middle, half_height) = (0.5 * (bottom + top), 0.5 * (top - bottom));
        let near: Vec<Known> =
            known.iter().flatten().filter(|known| known.reach * known.reach < FAR_OUTSIDE).copied().collect();
        let too_few = AimError::TooFew { field, rays: near.len() };
        let places: Vec<[f64; 2]> =
            near.iter().map(|known| [known.toward[0] / half_width, (known.toward[1] - middle) / half_height]).collect();
        let numbers = |k: usize| near.iter().map(|known| known.numbers[k]).collect::<Vec<_>>();
        let first = Polynomial::fitted(true, &places, &numbers(0)).ok_or(too_few)?;
        let second = Polynomial::fitted(false, &places, &numbers(1)).ok_or(too_few)?;
        Ok(Self { aim, first, second, half_width, bottom, top })
    }

    /// Cycles per millimetre on film for a direction cosine of 1.
    fn per_mm(&self) -> f64 {
        self.aim.lens.index_after() / self.aim.lens.wavelength().mm()
    }

    /// Traces the grid.
    fn pupil(&self, grid: &Grid<'_>) -> Pupil {
        let (n, half) = (grid.samples, grid.samples / 2);
        let wavelength = self.aim.lens.wavelength();
        let index = self.aim.lens.index_after();
        let middle = 0.5 * (self.bottom + self.top);
        let cosines = grid.step.map(|step| step * wavelength.mm() / index);
        let meant = |cell: usize| {
            let (i, j) = (cell % half, cell / half);
            [(i as f64 + 0.5) * cosines[0], middle + (j as f64 + 0.5 - half as f64) * cosines[1]]
        };
        let half_height = 0.5 * (self.top - self.bottom);
        let numbers = |cell: usize| {
            let [l, m] = meant(cell);
            let place = [l / self.half_width, (m - middle) / half_height];
            [self.first.at(place), self.second.at(place)]
        };
        let rays = self.aim.through((0..n * half).map(numbers));
        let reach: Vec<f64> = (0..n * half).map(|cell| rays.fullness(cell).sqrt()).collect();
        let mut pupil = Pupil {
            wavelength,
            weight: grid.weight,
            samples: n,
            step: grid.step,
            index,
            middle,
            open: openness(&reach, half),
            path_mm: vec![0.0; n * half],
            x_mm: vec![0.0; n * half],
            y_mm: vec![0.0; n * half],
        };
        for cell in 0..n * half {
            pupil.take(cell, on_film_in(&rays, cell, grid.film, index), meant(cell), grid.reference);
        }
        pupil.centre_path();
        pupil
    }
}

impl Pupil {
    /// Writes one traced ray into its cell.
    fn take(&mut self, cell: usize, ray: Option<OnFilm>, meant: [f64; 2], reference: f64) {
        let Some(ray) = ray else {
            // Its reach is infinite, so it is dark already.
            return;
        };
        let (x, y) = (ray.at[0], ray.at[1] - reference);
        // The characteristic's own differential puts the direction right to first order: see the module's head.
        self.path_mm[cell] = ray.path_mm - self.index * (meant[0] * x + meant[1] * y);
        (self.x_mm[cell], self.y_mm[cell]) = (x, y);
    }

    /// Takes the mean path away: phases of hundreds of millimetres would lose digits.
    fn centre_path(&mut self) {
        let (open, path) = self
            .open
            .iter()
            .zip(&self.path_mm)
            .fold((0.0, 0.0), |(area, sum), (open, path)| (area + open, sum + open * path));
        self.path_mm.iter_mut().for_each(|value| *value -= path / open);
    }

    /// Grid columns in the half that is kept.
    pub(crate) fn half(&self) -> usize {
        self.samples / 2
    }

    /// Direction cosines L, M of a cell.
    pub(crate) fn direction(&self, cell: usize) -> [f64; 2] {
        let cosines = self.step.map(|step| step * self.wavelength.mm() / self.index);
        let (i, j) = (cell % self.half(), cell / self.half());
        [(i as f64 + 0.5) * cosines[0], self.middle + (j as f64 + 0.5 - self.half() as f64) * cosines[1]]
    }

    /// Cells that let light through, with how much.
    pub(crate) fn lit(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.open.iter().copied().enumerate().filter(|(_, open)| *open > 0.0)
    }

    /// Its area in direction cosines.
    pub fn area(&self) -> f64 {
        let cell = self.step[0] * self.step[1] * (self.wavelength.mm() / self.index).powi(2);
        2.0 * cell * self.open.iter().sum::<f64>()
    }

    /// Its colour.
    pub fn wavelength(&self) -> Wavelength {
        self.wavelength
    }
}

/// Coarse rays by spoke, outwards from the chief ray; `None` where none came through.
fn coarse_rays(aim: &Aim, film: &Film<'_>) -> Vec<Option<Known>> {
    let targets: Vec<[f64; 2]> = (0..SPOKES)
        .flat_map(|spoke| {
            let (sine, cosine) = (std::f64::consts::PI * (spoke as f64 / (SPOKES - 1) as f64 - 0.5)).sin_cos();
            (0..=RINGS).map(move |ring| {
                let radius = OUTERMOST * ring as f64 / RINGS as f64;
                [radius * cosine, radius * sine]
            })
        })
        .collect();
    let numbers = aim.at_stop(&targets, COARSE);
    // Rays that could not be aimed are sent as the chief ray and left out below.
    let rays = aim.through(numbers.iter().map(|numbers| numbers.unwrap_or([0.0, aim.chief])));
    let known = |(i, numbers): (usize, &Option<[f64; 2]>)| {
        let met = on_film(&rays, i, film)?;
        Some(Known { numbers: (*numbers)?, toward: [met.toward[0], met.toward[1]], reach: rays.fullness(i).sqrt() })
    };
    numbers.iter().enumerate().map(known).collect()
}

/// Half width, bottom and top of what is open, in direction cosines: every open ray, and where spokes cross the rim.
fn extent(known: &[Option<Known>]) -> Option<[f64; 3]> {
    let mut extent: Option<[f64; 3]> = None;
    let mut include = |[l, m]: [f64; 2]| {
        let [width, bottom, top] = extent.unwrap_or([0.0, m, m]);
        extent = Some([width.max(l.abs()), bottom.min(m), top.max(m)]);
    };
    for spoke in known.chunks(RINGS + 1) {
        spoke.iter().flatten().filter(|known| known.reach <= 1.0).for_each(|known| include(known.toward));
        for pair in spoke.windows(2) {
            let (Some(inner), Some(outer)) = (pair[0], pair[1]) else { continue };
            if (inner.reach <= 1.0) != (outer.reach <= 1.0) {
                let share = (1.0 - inner.reach) / (outer.reach - inner.reach);
                include([0, 1].map(|k| inner.toward[k] + share * (outer.toward[k] - inner.toward[k])));
            }
        }
    }
    extent.filter(|[width, bottom, top]| *width > 0.0 && top > bottom)
}

/// How much of every cell lies inside the rim, from how far its middle and its neighbours are inside: the rim is straight
/// across one cell.
fn openness(reach: &[f64], half: usize) -> Vec<f64> {
    let rows = reach.len() / half;
    let at = |i: isize, j: isize| {
        // The half with x < 0 mirrors this one; beyond the grid there is nothing.
        let i = if i < 0 { 0 } else { i as usize };
        let inside = i < half && (0..rows as isize).contains(&j);
        if inside { reach[j as usize * half + i] } else { f64::INFINITY }
    };
    let cell = |index: usize| {
        let (i, j, here) = ((index % half) as isize, (index / half) as isize, reach[index]);
        if !here.is_finite() {
            return 0.0;
        }
        let slope = [difference(at(i - 1, j), here, at(i + 1, j)), difference(at(i, j - 1), here, at(i, j + 1))];
        covered(1.0 - here, slope)
    };
    (0..reach.len()).map(cell).collect()
}

/// The slope at the middle of three, from those that are finite.
fn difference(before: f64, here: f64, after: f64) -> f64 {
    match (before.is_finite(), after.is_finite()) {
        (true, true) => 0.5 * (after - before),
        (true, false) => here - before,
        (false, true) => after - here,
        (false, false) => 0.0,
    }
}

/// The share of a unit square on the inner side of a straight rim that lies `inside` (in units of the slope) from its
/// middle.
fn covered(inside: f64, slope: [f64; 2]) -> f64 {
    let length = slope[0].hypot(slope[1]);
    if length == 0.0 {
        return if inside >= 0.0 { 1.0 } else { 0.0 };
    }
    let distance = inside / length;
    let (one, other) = (slope[0].abs() / length, slope[1].abs() / length);
    let (long, short) = (one.max(other), one.min(other));
    let beyond = 0.5 * (long + short) - distance.abs();
    let outer = if beyond <= 0.0 {
        0.0
    } else if distance.abs() <= 0.5 * (long - short) {
        0.5 - distance.abs() / long
    } else {
        beyond * beyond / (2.0 * long * short)
    };
    if distance >= 0.0 { 1.0 - outer } else { outer }
}
