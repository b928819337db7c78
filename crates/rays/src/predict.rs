//! What a set-up does over its field: sharpness in both directions, colour, light, distortion, focus.
//!
//! Steps are apart so that a caller may do places of the field side by side: [`Question::focus`] from traced pencils, then
//! [`Question::zone`] for every place. [`predict`] does them one after the other.

use crate::aim::{AimError, Census};
use crate::figures::most_contrast_about_mm;
use crate::{FieldFocus, Object, Pencil, Spectrum, Spot, System, Transfer, Wavelength, least_spots_focus_mm};

/// By what the film is put in its place along the axis.
#[derive(Debug, Clone, PartialEq)]
pub enum Criterion {
    /// As the set-up has it: sharp to first order.
    AsItIs,
    /// The least root-mean-square spot of those places on film, mm from the axis.
    LeastSpot {
        /// Places.
        film_mm: Vec<f64>,
    },
    /// The highest mean contrast of patterns of that frequency at those places, sagittal and tangential alike: what a person
    /// does who focuses on a screen with a loupe, at the centre alone or with the corners in mind.
    MostContrast {
        /// Places.
        film_mm: Vec<f64>,
        /// Cycles/mm on film.
        cycles_per_mm: f64,
    },
}

/// What is asked of a set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Places on film, mm from the axis, 0 or more.
    pub film_mm: Vec<f64>,
    /// Frequencies on film, cycles/mm.
    pub cycles_per_mm: Vec<f64>,
    /// Colours.
    pub spectrum: Spectrum,
    /// How it is focused.
    pub focus: Criterion,
}

/// One place on film.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// Where, mm from the axis.
    pub film_mm: f64,
    /// The place in the field that is imaged there (see [`Object`]), in the positive direction.
    pub field: f64,
    /// Response at every frequency asked for.
    pub transfer: Vec<Transfer>,
    /// For every colour of the spectrum, how much farther from the axis than the main colour the middle of its light lies, mm.
    pub colours_mm: Vec<(Wavelength, f64)>,
    /// Light on the film, as a share of that on the axis.
    pub illumination: f64,
    /// How much farther out than in an undistorted picture, as a share.
    pub distortion: f64,
    /// All colours' spot.
    pub spot: Spot,
    /// Root mean square of the main colour's wave, in waves.
    pub waves: f64,
    /// From the film, as it is focused, to where narrow pencils are sharp, mm, positive away from the lens.
    pub field_focus: FieldFocus,
    /// The film shift from there that would be best for this place alone by the least spot, mm.
    pub own_focus_mm: f64,
    /// Whether the aberration was too large for waves on the finest grid, so that contrast is that of rays alone. Diffraction
    /// is then a small part of the blur.
    pub by_rays: bool,
    /// What became of rays spread evenly over the stop.
    pub census: Census,
}

/// A whole set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Prediction {
    /// Size on film over size of the subject; `None` at infinity.
    pub magnification: Option<f64>,
    /// Subject to first vertex, mm; `None` at infinity.
    pub subject_mm: Option<f64>,
    /// Effective f-number at the film.
    pub f_number: f64,
    /// Last vertex to film before it was focused, mm.
    pub film_mm: f64,
    /// How far the film was moved away from the lens to focus it, mm.
    pub focus_mm: f64,
    /// Axial colour: for every colour how much farther from the lens it is sharp than the main colour, to first order, mm.
    pub axial_mm: Vec<(Wavelength, f64)>,
    /// One for every place asked for; places that no light reaches say why.
    pub zones: Vec<Result<Zone, AimError>>,
}

/// Grid cells across a pupil to begin with, and at most: the most takes some tens of milliseconds a pencil.
const SAMPLES: usize = 64;
const MOST_SAMPLES: usize = 512;

/// How many times 1/(frequency × slope of the cone) the film is moved either way in looking for the most contrast: the first
/// zero of a defocused disc lies at 1.22 of them, so that 2 look beyond it.
const SEARCH: f64 = 2.0;

/// Wave figures hold while the phase runs less than this from cell to cell (see [`Pencil::phase_step`]).
const MOST_PHASE_STEP: f64 = 0.5;

/// Rings of rays over the stop for the census: 1 + 6 + 12 + … = 331 rays.
const CENSUS_RINGS: usize = 10;

impl Question {
    /// The light that arrives `film_mm` from the axis, on a grid fine enough for the film where it is and `focus_mm` away from
    /// it.
    pub fn pencil(&self, system: &System, film_mm: f64, focus_mm: f64) -> Result<Pencil, AimError> {
        let field = field_for(system, film_mm, self.spectrum.main_line())?;
        let mut samples = SAMPLES;
        loop {
            let pencil = system.pencil(field, &self.spectrum, samples)?;
            let step = pencil.phase_step(focus_mm);
            if step < MOST_PHASE_STEP || samples >= MOST_SAMPLES {
                return Ok(pencil);
            }
            // Steps shrink with the cells.
            let wanted = samples as f64 * step / MOST_PHASE_STEP * 1.1;
            samples = (wanted as usize).next_multiple_of(16).clamp(samples + 16, MOST_SAMPLES);
        }
    }

    /// How far the film is to be moved by the criterion, mm away from the lens.
    pub fn focus(&self, system: &System) -> Result<f64, AimError> {
        let pencils = |places: &[f64]| {
            places.iter().map(|film_mm| self.pencil(system, *film_mm, 0.0)).collect::<Result<Vec<_>, _>>()
        };
        match &self.focus {
            Criterion::AsItIs => Ok(0.0),
            Criterion::LeastSpot { film_mm } => Ok(least_spots_focus_mm(&pencils(film_mm)?)),
            Criterion::MostContrast { film_mm, cycles_per_mm } => {
                let pencils = pencils(film_mm)?;
                let middle = least_spots_focus_mm(&pencils);
                let within = SEARCH * system.first_order(self.spectrum.main_line()).f_number / cycles_per_mm;
                Ok(most_contrast_about_mm(&pencils, *cycles_per_mm, middle, within))
            }
        }
    }

    /// Everything about one place on film with the film moved by `focus_mm`; `axis` is the light of the middle, for
    /// comparison.
    pub fn zone(&self, system: &System, film_mm: f64, focus_mm: f64, axis: &Pencil) -> Result<Zone, AimError> {
        let main = self.spectrum.main_line();
        let pencil = self.pencil(system, film_mm, focus_mm)?;
        let by_rays = pencil.phase_step(focus_mm) >= MOST_PHASE_STEP;
        let transfer = match by_rays {
            false => pencil.transfer(focus_mm, &self.cycles_per_mm, |_| 1.0),
            true => pencil.geometric(focus_mm, &self.cycles_per_mm),
        };
        let census = system.census(pencil.field, main, CENSUS_RINGS)?;
        let distortion = if film_mm == 0.0 { 0.0 } else { system.distortion(pencil.field, main)? };
        let here = system.field_focus(pencil.field, main)?;
        let waves = pencil.waves(focus_mm)[self.spectrum.main].rms;
        Ok(Zone {
            film_mm,
            field: pencil.field,
            transfer,
            colours_mm: pencil.colours_outward_mm(focus_mm, self.spectrum.main),
            illumination: pencil.light() / axis.light(),
            distortion,
            spot: pencil.spot(focus_mm),
            waves,
            field_focus: FieldFocus {
                film_mm,
                sagittal_mm: here.sagittal_mm - focus_mm,
                tangential_mm: here.tangential_mm - focus_mm,
            },
            own_focus_mm: pencil.least_spot_focus_mm() - focus_mm,
            by_rays,
            census,
        })
    }
}

/// The place in the field, in the positive direction, whose picture lies `film_mm` from the axis.
fn field_for(system: &System, film_mm: f64, main: Wavelength) -> Result<f64, AimError> {
    if film_mm == 0.0 {
        return Ok(0.0);
    }
    system.field_at_film(film_mm.abs().copysign(system.first_order(main).scale), main)
}

impl Pencil {
    /// For every colour, how much farther from the axis the middle of its light lies than the main colour's, mm.
    fn colours_outward_mm(&self, focus_mm: f64, main: usize) -> Vec<(Wavelength, f64)> {
        let middles: Vec<f64> = self.pupils.iter().map(|pupil| pupil.centre(self.slope, focus_mm)).collect();
        let outward = if self.film_mm < 0.0 { -1.0 } else { 1.0 };
        self.wavelengths().zip(&middles).map(|(colour, middle)| (colour, outward * (middle - middles[main]))).collect()
    }
}

/// A whole set-up, place after place.
///
/// # Errors
///
/// When the axis itself is dark, or a place that the film is focused for; other dark places are told in
/// [`Prediction::zones`].
pub fn predict(system: &System, question: &Question) -> Result<Prediction, AimError> {
    let focus_mm = question.focus(system)?;
    let axis = question.pencil(system, 0.0, focus_mm)?;
    let zone = |film_mm: &f64| question.zone(system, *film_mm, focus_mm, &axis);
    Ok(Prediction {
        zones: question.film_mm.iter().map(zone).collect(),
        ..Prediction::without_zones(system, question, focus_mm)
    })
}

impl Prediction {
    /// All but the zones, for a caller that traces them side by side.
    pub fn without_zones(system: &System, question: &Question, focus_mm: f64) -> Self {
        let main = question.spectrum.main_line();
        let subject_mm = match system.object() {
            Object::Infinity => None,
            Object::At { distance_mm } => Some(distance_mm),
        };
        let first = system.first_order(main);
        let axial_mm =
            question.spectrum.wavelengths().map(|colour| (colour, system.axial_colour_mm(colour, main))).collect();
        Self {
            magnification: system.magnification(main),
            subject_mm,
            f_number: first.f_number,
            film_mm: system.film_mm(),
            focus_mm,
            axial_mm,
            zones: Vec::new(),
        }
    }
}
