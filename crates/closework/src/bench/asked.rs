//! A form or a typed table with attachments, given by their figures.

use super::trace::{Found, Heard, TraceError, Wanted, trace};
use rays::{CloseUp, Draw, Form, Part, Prescription, SetUp, Wavelength, form};

/// A lens on the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Glass {
    /// A form of the library, by its key.
    Form(String),
    /// A table as it was typed or pasted.
    Table(String),
}

/// What is put on the bench.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The lens at the camera.
    pub glass: Glass,
    /// Its focal length, mm; as printed where it is left out.
    pub focal_length_mm: Option<f64>,
    /// The engraved f-number.
    pub f_number: f64,
    /// Whether it is turned round.
    pub reversed: bool,
    /// How far from the film.
    pub draw: Draw,
    /// A close-up lens in front.
    pub close_up: Option<InFront>,
    /// A second lens turned round in front.
    pub coupled: Option<Coupled>,
}

/// A close-up lens.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InFront {
    /// What it is.
    pub lens: CloseUp,
    /// Whether its flatter side faces the subject.
    pub turned: bool,
    /// Its last glass to the lens's first, mm.
    pub gap_mm: f64,
}

/// A lens turned round in front of the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Coupled {
    /// Which.
    pub glass: Glass,
    /// Its focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// What its own iris is opened to; as wide as the form is printed to go where it is left out.
    pub f_number: Option<f64>,
    /// Glass to glass, mm.
    pub gap_mm: f64,
}

impl Glass {
    /// The lens and, where it is one, its form.
    fn lens(&self, focal_length_mm: Option<f64>) -> Result<(Prescription, Option<&'static Form>), TraceError> {
        let (lens, form) = match self {
            Self::Table(text) => (Prescription::read(text)?.lens, None),
            Self::Form(key) => {
                let known = || rays::FORMS.iter().map(|form| form.key).collect();
                let form = form(key).ok_or_else(|| TraceError::NoForm { key: key.clone(), known: known() })?;
                (form.prescription(), Some(form))
            }
        };
        let Some(wanted) = focal_length_mm else { return Ok((lens, form)) };
        let own = lens.at(Wavelength::D).cardinal().ok_or(TraceError::NoPower(wanted))?.focal_length_mm;
        Ok((lens.scaled(wanted / own).map_err(|_| TraceError::Size(wanted))?, form))
    }
}

impl Asked {
    /// What stands in front, from the subject on.
    fn in_front(&self) -> Result<Vec<Part>, TraceError> {
        let mut parts = Vec::new();
        if let Some(coupled) = &self.coupled {
            let (lens, form) = coupled.glass.lens(coupled.focal_length_mm)?;
            let open = coupled.f_number.or(form.and_then(|form| form.published_f_number));
            let lens = open.map_or(Ok(lens.clone()), |open| lens.opened_to(open, Wavelength::D))?;
            parts.push(Part { lens: lens.reversed(), gap_after_mm: coupled.gap_mm });
        }
        if let Some(in_front) = &self.close_up {
            let lens = in_front.lens.prescription()?;
            let lens = if in_front.turned { lens.reversed() } else { lens };
            parts.push(Part { lens, gap_after_mm: in_front.gap_mm });
        }
        Ok(parts)
    }

    /// Glass put together, with its form where it is one of the library.
    pub fn set_up(&self) -> Result<(SetUp, Option<&'static Form>), TraceError> {
        let (lens, form) = self.glass.lens(self.focal_length_mm)?;
        let set_up = SetUp {
            lens,
            f_number: self.f_number,
            reversed: self.reversed,
            in_front: self.in_front()?,
            behind: Vec::new(),
            draw: self.draw,
        };
        Ok((set_up, form))
    }

    /// Traces it.
    pub fn trace(&self, wanted: &Wanted, heard: Heard<'_>) -> Result<Found, TraceError> {
        let (set_up, form) = self.set_up()?;
        trace(&set_up, form, wanted, heard)
    }
}
