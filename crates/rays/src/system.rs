//! A set-up of lenses between an object and a film.

use crate::pencil::Film;
use crate::prescription::check_crossing;
use crate::relay::{Ideal, Screen};
use crate::{Medium, Prescription, PrescriptionError, Row, Sequence, Wavelength};

/// Where the subject lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Object {
    /// Infinitely far; a place in the field is the tangent of its angle from the axis.
    Infinity,
    /// In a plane before the first vertex; a place in the field is its height in mm.
    At {
        /// Subject to first vertex, mm.
        distance_mm: f64,
    },
}

/// A lens in its place, the way round as light meets it.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The lens ([`Prescription::reversed`] to turn it round).
    pub lens: Prescription,
    /// Its last vertex to the next part's first; of the last part, to the film; mm.
    pub gap_after_mm: f64,
}

/// Which stop is used, and how wide it is open. Any other lens's stop is as open as its own rim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Iris {
    /// The part that it belongs to, counted from 0 at the subject.
    pub part: usize,
    /// Half its diameter, mm.
    pub semi_diameter_mm: f64,
}

/// Why parts make no set-up. Parts count from 1 at the subject.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum SystemError {
    /// No parts.
    #[error("a set-up needs at least one lens")]
    Empty,
    /// A gap below 0 or no number.
    #[error("the gap behind part {part} is {gap_mm} mm; it must be 0 or more")]
    Gap {
        /// Which part.
        part: usize,
        /// The gap, mm.
        gap_mm: f64,
    },
    /// A film plane that is none.
    #[error("the film lies {film_mm} mm behind the last surface; it must lie behind it")]
    Film {
        /// Last vertex to film, mm.
        film_mm: f64,
    },
    /// Two parts that want different things between them.
    #[error("parts {part} and {} do not have the same between them", .part + 1)]
    MediaDiffer {
        /// The first of the two.
        part: usize,
    },
    /// Two parts that run through each other.
    #[error("parts {part} and {} touch: {why}", .part + 1)]
    Crossing {
        /// The first of the two.
        part: usize,
        /// Where.
        why: PrescriptionError,
    },
    /// A stop in a part that is not there.
    #[error("there is no part {part} whose stop could be used; there are {parts}")]
    NoSuchPart {
        /// Asked for.
        part: usize,
        /// How many there are.
        parts: usize,
    },
    /// A stop in a part without one.
    #[error("part {part} has no stop")]
    NoStop {
        /// Which part.
        part: usize,
    },
    /// A stop that is no opening.
    #[error("half a stop's diameter of {semi_diameter_mm} mm is not above 0")]
    Iris {
        /// Half its diameter, mm.
        semi_diameter_mm: f64,
    },
    /// A subject in no place before the first vertex.
    #[error("a subject {distance_mm} mm before the first surface does not lie before it")]
    Object {
        /// Subject to first vertex, mm.
        distance_mm: f64,
    },
    /// A thin lens in front of the film that no film can stand behind.
    #[error("a thin lens {before_film_mm} mm in front of the film makes no picture on it")]
    Ideal {
        /// Where it was to stand, mm in front of the film.
        before_film_mm: f64,
    },
    /// The lens makes no real picture where it was asked to.
    #[error("nothing real can be sharp there")]
    NoFocus,
}

/// Surfaces from object to film: every part joined to the next, one stop.
#[derive(Debug, Clone, PartialEq)]
pub struct System {
    object: Object,
    before: Medium,
    rows: Vec<Row>,
    stop: usize,
    /// Last vertex to where rays are traced to: the film, or what is imaged onto it.
    plane_mm: f64,
    screen: Screen,
}

/// A ray at the first vertex, to first order, before refraction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    /// mm.
    pub height_mm: f64,
    /// Its slope.
    pub slope: f64,
}

/// What a set-up does to first order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstOrder {
    /// Height on film of a paraxial chief ray over its place in the field: the (signed) magnification, or the focal length
    /// in mm for a subject at infinity. At the film as it is, in focus or not.
    pub scale: f64,
    /// One over twice the paraxial slope of the cone at the film: the effective f-number.
    pub f_number: f64,
    /// Last vertex to the paraxial picture, mm.
    pub image_mm: f64,
}

impl Prescription {
    /// Half the stop's diameter that makes the lens f/`f_number` with its subject at infinity, mm: the entrance pupil is
    /// then f/N wide. `None` without a stop, without power, or with its entrance pupil at infinity.
    pub fn semi_diameter_for(&self, f_number: f64, wavelength: Wavelength) -> Option<f64> {
        let lens = self.at(wavelength);
        let width = lens.pupils(self.stop()?).entrance_width?;
        Some(0.5 * lens.cardinal()?.focal_length_mm.abs() / f_number / width)
    }
}

impl System {
    /// Joins parts, from the subject to the film.
    pub fn new(object: Object, parts: &[Part], iris: Iris) -> Result<Self, SystemError> {
        let (last, first) = (parts.last().ok_or(SystemError::Empty)?, &parts[0]);
        let count = parts.len();
        let part = parts.get(iris.part).ok_or(SystemError::NoSuchPart { part: iris.part + 1, parts: count })?;
        let own_stop = part.lens.stop().ok_or(SystemError::NoStop { part: iris.part + 1 })?;
        for (i, pair) in parts.windows(2).enumerate() {
            check_joint(i + 1, &pair[0], &pair[1])?;
        }
        let stop = own_stop + parts[..iris.part].iter().map(|part| part.lens.rows().len()).sum::<usize>();
        let mut rows = Vec::new();
        for (i, part) in parts.iter().enumerate() {
            rows.extend(part.lens.rows().iter().map(|row| Row { stop: false, ..*row }));
            if let Some(row) = rows.last_mut().filter(|_| i + 1 < count) {
                row.gap_mm = Some(part.gap_after_mm);
            }
        }
        rows[stop].stop = true;
        Self { object, before: first.lens.before(), rows, stop, plane_mm: last.gap_after_mm, screen: Screen::default() }
            .with_object(object)?
            .with_film(last.gap_after_mm)?
            .with_iris(iris.semi_diameter_mm)
    }

    /// The same with its stop otherwise open; a clear diameter of the stop's own row still cuts.
    pub fn with_iris(mut self, semi_diameter_mm: f64) -> Result<Self, SystemError> {
        if !(semi_diameter_mm.is_finite() && semi_diameter_mm > 0.0) {
            return Err(SystemError::Iris { semi_diameter_mm });
        }
        self.rows[self.stop].semi_aperture_mm = Some(semi_diameter_mm);
        Ok(self)
    }

    /// The same with its film elsewhere, mm behind the last vertex.
    pub fn with_film(self, film_mm: f64) -> Result<Self, SystemError> {
        if !(film_mm.is_finite() && film_mm > 0.0) {
            return Err(SystemError::Film { film_mm });
        }
        let plane_mm = film_mm - self.screen.beyond_mm();
        if plane_mm > 0.0 { Ok(Self { plane_mm, ..self }) } else { Err(SystemError::Film { film_mm }) }
    }

    /// The same with its subject elsewhere.
    pub fn with_object(self, object: Object) -> Result<Self, SystemError> {
        match object {
            Object::At { distance_mm } if !(distance_mm.is_finite() && distance_mm > 0.0) => {
                Err(SystemError::Object { distance_mm })
            }
            object => Ok(Self { object, ..self }),
        }
    }

    /// The same with its film where the paraxial picture is at that wavelength.
    pub fn with_film_in_focus(self, wavelength: Wavelength) -> Result<Self, SystemError> {
        let image = self.first_order(wavelength).image_mm;
        if !(image.is_finite() && image > 0.0) {
            return Err(SystemError::NoFocus);
        }
        let by_mm = image - self.film_mm();
        self.with_film_moved(by_mm)
    }

    /// The same with its subject where the film is sharp to first order at that wavelength.
    pub fn with_object_in_focus(self, wavelength: Wavelength) -> Result<Self, SystemError> {
        let lens = self.at(wavelength);
        let whole = lens.abcd();
        // Through object distance t/n, the lens, and film distance t'/n': b of the whole is 0.
        let film = self.plane_mm / lens.index_after();
        let (a, b) = (whole.a + film * whole.c, whole.b + film * whole.d);
        let distance_mm = -b / a * lens.index_before();
        if distance_mm.is_finite() && distance_mm > 0.0 {
            self.with_object(Object::At { distance_mm })
        } else {
            Err(SystemError::NoFocus)
        }
    }

    /// The surfaces at one wavelength.
    pub fn at(&self, wavelength: Wavelength) -> Sequence {
        Sequence::build(self.before.index(wavelength), self.rows.iter(), wavelength)
    }

    /// Every surface, joined; gaps between parts included.
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// Where the subject lies.
    pub fn object(&self) -> Object {
        self.object
    }

    /// The stop's row, counted from 0.
    pub fn stop(&self) -> usize {
        self.stop
    }

    /// Half the stop's diameter, mm.
    pub fn semi_diameter_mm(&self) -> f64 {
        self.rows[self.stop].semi_aperture_mm.unwrap_or(f64::INFINITY)
    }

    /// Last vertex to film, mm.
    pub fn film_mm(&self) -> f64 {
        self.plane_mm + self.screen.beyond_mm()
    }

    /// With thin lenses without faults between the last glass and the film, from the glass on; the film stays where it is.
    pub fn with_ideals(self, ideals: &[Ideal]) -> Result<Self, SystemError> {
        let (film_mm, screen) = (self.film_mm(), Screen::new(ideals)?);
        Self { screen, ..self }.with_film(film_mm)
    }

    /// With the film `by_mm` farther from everything.
    pub fn with_film_moved(self, by_mm: f64) -> Result<Self, SystemError> {
        let (film_mm, screen) = (self.film_mm() + by_mm, self.screen.moved(by_mm)?);
        Self { screen, ..self }.with_film(film_mm)
    }

    /// Thin lenses without faults behind the glass.
    pub fn ideals(&self) -> &[Ideal] {
        self.screen.ideals()
    }

    pub(crate) fn screen(&self) -> &Screen {
        &self.screen
    }

    pub(crate) fn plane_mm(&self) -> f64 {
        self.plane_mm
    }

    pub(crate) fn film(&self) -> Film<'_> {
        Film { plane_mm: self.plane_mm, screen: &self.screen }
    }

    /// How the height on the stop grows with the height and slope at the first vertex, and the path to that vertex.
    fn to_stop(&self, lens: &Sequence) -> (f64, f64) {
        let matrix = lens.before_row(self.stop);
        (matrix.a, matrix.b * lens.index_before())
    }

    /// The paraxial ray from the subject's centre to the rim of the stop.
    pub fn marginal(&self, wavelength: Wavelength) -> Start {
        let lens = self.at(wavelength);
        let (by_height, by_slope) = self.to_stop(&lens);
        match self.object {
            Object::Infinity => Start { height_mm: self.semi_diameter_mm() / by_height, slope: 0.0 },
            Object::At { distance_mm } => {
                let slope = self.semi_diameter_mm() / (by_height * distance_mm + by_slope);
                Start { height_mm: slope * distance_mm, slope }
            }
        }
    }

    /// The paraxial ray from a place in the field (see [`Object`]) through the stop's centre.
    pub fn chief(&self, wavelength: Wavelength, field: f64) -> Start {
        let lens = self.at(wavelength);
        let (by_height, by_slope) = self.to_stop(&lens);
        match self.object {
            Object::Infinity => Start { height_mm: -by_slope * field / by_height, slope: field },
            Object::At { distance_mm } => {
                let slope = -by_height * field / (by_height * distance_mm + by_slope);
                Start { height_mm: field + slope * distance_mm, slope }
            }
        }
    }

    /// Scale, effective f-number and place of the picture.
    pub fn first_order(&self, wavelength: Wavelength) -> FirstOrder {
        let lens = self.at(wavelength);
        let on_film = |start: Start| {
            let rays = lens.paraxial(start.height_mm, start.slope);
            let last = rays[rays.len() - 1];
            self.screen.paraxial(last.height_mm + self.plane_mm * last.slope, last.slope)
        };
        let (marginal, chief) = (on_film(self.marginal(wavelength)), on_film(self.chief(wavelength, 1.0)));
        FirstOrder {
            scale: chief.0,
            f_number: 0.5 / (marginal.1 * lens.index_after()).abs(),
            image_mm: self.film_mm() - marginal.0 / marginal.1,
        }
    }
}

/// Whether two parts fit behind each other.
fn check_joint(part: usize, one: &Part, next: &Part) -> Result<(), SystemError> {
    let gap_mm = one.gap_after_mm;
    if !(gap_mm.is_finite() && gap_mm >= 0.0) {
        return Err(SystemError::Gap { part, gap_mm });
    }
    if one.lens.after() != next.lens.before() {
        return Err(SystemError::MediaDiffer { part });
    }
    let rows = one.lens.rows();
    check_crossing(rows.len(), &rows[rows.len() - 1], gap_mm, &next.lens.rows()[0])
        .map_err(|why| SystemError::Crossing { part, why })
}
