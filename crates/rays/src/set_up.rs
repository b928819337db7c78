//! A lens at a camera with what is put in front of it, behind it and between: from a photographer's words to a [`System`].
//!
//! It says of a traced lens what `optics` says of a black box, so that both must agree to first order: extension counts from
//! the place where the lens alone is sharp at infinity, a reversed lens is the same lens turned round with the same iris, and
//! what is put in front changes where the subject is and nothing behind.

use crate::relay::Screen;
use crate::{Ideal, Iris, Object, Part, Prescription, PrescriptionError, System, SystemError, Wavelength};

/// How far the lens is from the film.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Draw {
    /// Tubes, bellows and the lens's own travel together, mm beyond where it is sharp at infinity without anything in front.
    Extension {
        /// mm.
        mm: f64,
    },
    /// The glass nearest to the film to the film, mm.
    ToFilm {
        /// mm.
        mm: f64,
    },
    /// As far as this size on film over size of the subject asks for, with everything in front in its place.
    Magnification {
        /// Above 0.
        ratio: f64,
    },
}

/// A lens behind the main one, such as a converter.
#[derive(Debug, Clone, PartialEq)]
pub struct Behind {
    /// From the last vertex before it to its first, mm.
    pub gap_before_mm: f64,
    /// The way round as light meets it.
    pub lens: Prescription,
}

/// A lens at the camera.
#[derive(Debug, Clone, PartialEq)]
pub struct SetUp {
    /// The lens whose iris is used, its normal way round.
    pub lens: Prescription,
    /// The engraved f-number in use: it sets the iris, whatever happens to the light afterwards.
    pub f_number: f64,
    /// Whether the lens is turned round.
    pub reversed: bool,
    /// Close-up lenses or a coupled lens, from the subject on, each the way round as light meets it.
    pub in_front: Vec<Part>,
    /// Converters, toward the film.
    pub behind: Vec<Behind>,
    /// Converters of which no glass is known, toward the film: thin and without faults of their own.
    pub ideals: Vec<Ideal>,
    /// How far all that is from the film.
    pub draw: Draw,
}

/// Why there is no such set-up.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SetUpError {
    /// An f-number that opens nothing.
    #[error("f/{0} is no opening: the f-number must be above 0")]
    FNumber(f64),
    /// A lens of no power, without a stop, or with its entrance pupil at infinity.
    #[error("the lens has no focal length or no stop, so that an f-number says nothing about it")]
    NoFNumber,
    /// An iris that would open into the glass beside it.
    #[error("the lens cannot be opened to f/{f_number}: {why}")]
    Opening {
        /// The f-number asked for.
        f_number: f64,
        /// What its stop would run into.
        why: PrescriptionError,
    },
    /// A size that is none.
    #[error("a magnification of {0} is not above 0")]
    Magnification(f64),
    /// The parts together bring nothing far to a focus, so that no distance counts from there.
    #[error("the lens with what is behind it is sharp nowhere at infinity")]
    Afocal,
    /// Parts that make no system.
    #[error(transparent)]
    System(#[from] SystemError),
}

impl Prescription {
    /// The lens with its own stop opened to f/`f_number` as a rim that cuts: for a lens whose iris is not the one in use.
    pub fn opened_to(&self, f_number: f64, wavelength: Wavelength) -> Result<Self, SetUpError> {
        let semi_diameter = self.semi_diameter(f_number, wavelength)?;
        let opened = self.rows().iter().map(|row| match row.stop {
            true => row.clear(semi_diameter),
            false => *row,
        });
        Self::behind(self.before(), opened.collect()).map_err(|why| SetUpError::Opening { f_number, why })
    }

    fn semi_diameter(&self, f_number: f64, wavelength: Wavelength) -> Result<f64, SetUpError> {
        if !(f_number.is_finite() && f_number > 0.0) {
            return Err(SetUpError::FNumber(f_number));
        }
        self.semi_diameter_for(f_number, wavelength).ok_or(SetUpError::NoFNumber)
    }
}

impl SetUp {
    /// A lens alone, sharp at infinity.
    pub fn alone(lens: Prescription, f_number: f64) -> Self {
        Self {
            lens,
            f_number,
            reversed: false,
            in_front: Vec::new(),
            behind: Vec::new(),
            ideals: Vec::new(),
            draw: Draw::Extension { mm: 0.0 },
        }
    }

    /// The system, its subject in the plane that is sharp to first order at `wavelength` (at infinity where that is where it
    /// is).
    pub fn system(&self, wavelength: Wavelength) -> Result<System, SetUpError> {
        let semi_diameter_mm = self.lens.semi_diameter(self.f_number, wavelength)?;
        let main = if self.reversed { self.lens.reversed() } else { self.lens.clone() };
        let at_camera = self.at_camera(main);
        // Any film will do until the draw is known.
        let alone = System::new(Object::Infinity, &at_camera, Iris { part: 0, semi_diameter_mm })?;
        let parts: Vec<Part> = self.in_front.iter().cloned().chain(at_camera).collect();
        let whole = System::new(Object::Infinity, &parts, Iris { part: self.in_front.len(), semi_diameter_mm })?;
        let screen = Screen::new(&self.ideals)?;
        let film_mm = self.film_mm(&alone, &whole, &screen, wavelength)?;
        let whole = whole.with_film(film_mm)?.with_ideals(&self.ideals)?;
        if whole.is_sharp_at_infinity(wavelength) {
            return Ok(whole);
        }
        Ok(whole.with_object_in_focus(wavelength)?)
    }

    /// The main lens and what is behind it, 1 mm before the film.
    fn at_camera(&self, main: Prescription) -> Vec<Part> {
        let gaps = self.behind.iter().map(|behind| behind.gap_before_mm).chain([1.0]);
        let lenses = [main].into_iter().chain(self.behind.iter().map(|behind| behind.lens.clone()));
        lenses.zip(gaps).map(|(lens, gap_after_mm)| Part { lens, gap_after_mm }).collect()
    }

    /// Last vertex to film.
    fn film_mm(
        &self,
        alone: &System,
        whole: &System,
        screen: &Screen,
        wavelength: Wavelength,
    ) -> Result<f64, SetUpError> {
        match self.draw {
            Draw::ToFilm { mm } => Ok(mm),
            Draw::Extension { mm } => {
                let cardinal = alone.at(wavelength).cardinal().ok_or(SetUpError::Afocal)?;
                Ok(cardinal.back_focus_mm + mm + screen.beyond_mm())
            }
            Draw::Magnification { ratio } if !(ratio.is_finite() && ratio > 0.0) => {
                Err(SetUpError::Magnification(ratio))
            }
            Draw::Magnification { ratio } => {
                // From the first vertex to a film t behind, a + c·t is the signed magnification of the plane sharp there.
                let (lens, index) = (whole.at(wavelength), whole.at(wavelength).index_after());
                let matrix = lens.abcd();
                if lens.cardinal().is_none() {
                    return Err(SetUpError::Afocal);
                }
                let ratio = ratio / screen.enlarges();
                Ok(index * (-ratio - matrix.a) / matrix.c + screen.beyond_mm())
            }
        }
    }
}

/// Signed magnifications smaller than this belong to a subject kilometres away: infinity, less rounding.
const INFINITELY_SMALL: f64 = 1e-9;

impl System {
    fn is_sharp_at_infinity(&self, wavelength: Wavelength) -> bool {
        let lens = self.at(wavelength);
        let matrix = lens.abcd();
        (matrix.a + matrix.c * self.plane_mm() / lens.index_after()).abs() < INFINITELY_SMALL
    }

    /// Size on film over size of the subject, positive for the usual upside-down picture, to first order; `None` at infinity.
    pub fn magnification(&self, wavelength: Wavelength) -> Option<f64> {
        matches!(self.object(), Object::At { .. }).then(|| -self.first_order(wavelength).scale)
    }
}
