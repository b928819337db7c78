//! A form or a typed table with attachments, given by their figures.

use super::design::Design;
use super::trace::{Found, Heard, TraceError, Wanted, trace};
use rays::{CloseUp, Draw, Part, Prescription, SetUp, Wavelength, form};

/// A lens on the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Glass {
    /// A form of the library, by its key.
    Form(String),
    /// A table as it was typed or pasted.
    Table(String),
    /// A design that is known already.
    Kept(Design),
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
    fn design(&self) -> Result<Design, TraceError> {
        match self {
            Self::Table(text) => Ok(Design::typed(text)?),
            Self::Form(key) => {
                let known = || rays::FORMS.iter().map(|form| form.key).collect();
                form(key).map(Design::Form).ok_or_else(|| TraceError::NoForm { key: key.clone(), known: known() })
            }
            Self::Kept(design) => Ok(design.clone()),
        }
    }

    /// The lens and what it is.
    fn lens(&self, focal_length_mm: Option<f64>) -> Result<(Prescription, Design), TraceError> {
        let design = self.design()?;
        let lens = match focal_length_mm {
            None => design.prescription(),
            Some(wanted) => design.scaled_to(wanted).map_err(|_| TraceError::Size(wanted))?,
        };
        Ok((lens, design))
    }
}

impl Asked {
    /// What stands in front, from the subject on.
    fn in_front(&self) -> Result<Vec<Part>, TraceError> {
        let mut parts = Vec::new();
        if let Some(coupled) = &self.coupled {
            let (lens, design) = coupled.glass.lens(coupled.focal_length_mm)?;
            let open = coupled.f_number.or(design.widest());
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

    /// Glass put together, and what stands for the lens at the camera.
    pub fn set_up(&self) -> Result<(SetUp, Design), TraceError> {
        let (lens, design) = self.glass.lens(self.focal_length_mm)?;
        let set_up = SetUp {
            lens,
            f_number: self.f_number,
            reversed: self.reversed,
            in_front: self.in_front()?,
            behind: Vec::new(),
            ideals: Vec::new(),
            draw: self.draw,
        };
        Ok((set_up, design))
    }

    /// Traces it.
    pub fn trace(&self, wanted: &Wanted, heard: Heard<'_>) -> Result<Found, TraceError> {
        let (set_up, design) = self.set_up()?;
        trace(&set_up, design, wanted, heard)
    }
}
