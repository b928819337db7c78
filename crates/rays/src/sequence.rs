//! A row of surfaces at one wavelength: plain numbers, ready to be traced.

use crate::surface::Shape;
use crate::{Prescription, Row, Surface, Wavelength};

/// One surface with what lies around it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The surface.
    pub surface: Surface,
    /// From the vertex before to this one, mm; 0 for the first.
    pub gap_before_mm: f64,
    /// Index before it.
    pub before: f64,
    /// Index behind it.
    pub after: f64,
    /// Half the clear diameter, mm; infinite where unknown.
    pub semi_aperture_mm: f64,
    pub(crate) shape: Shape,
}

/// Surfaces in the order in which light meets them, at one wavelength.
#[derive(Debug, Clone, PartialEq)]
pub struct Sequence {
    /// The surfaces.
    pub(crate) steps: Vec<Step>,
    /// In millimetres.
    pub(crate) wavelength: Wavelength,
}

impl Sequence {
    pub(crate) fn build<'a>(before: f64, rows: impl Iterator<Item = &'a Row>, wavelength: Wavelength) -> Self {
        let (mut index, mut gap) = (before, 0.0);
        let steps = rows.map(|row| {
            let after = row.after.index(wavelength);
            let step = Step {
                surface: row.surface,
                gap_before_mm: gap,
                before: index,
                after,
                semi_aperture_mm: row.semi_aperture_mm.unwrap_or(f64::INFINITY),
                shape: row.surface.shape(),
            };
            (index, gap) = (after, row.gap_mm.unwrap_or(0.0));
            step
        });
        Self { steps: steps.collect(), wavelength }
    }

    /// The surfaces.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The wavelength that the indices belong to.
    pub fn wavelength(&self) -> Wavelength {
        self.wavelength
    }

    /// Index before the first surface.
    pub fn index_before(&self) -> f64 {
        self.steps[0].before
    }

    /// Index behind the last surface.
    pub fn index_after(&self) -> f64 {
        self.steps[self.steps.len() - 1].after
    }

    /// First vertex to last, mm.
    pub fn length_mm(&self) -> f64 {
        self.steps.iter().map(|step| step.gap_before_mm).sum()
    }
}

impl Prescription {
    /// The lens at one wavelength.
    pub fn at(&self, wavelength: Wavelength) -> Sequence {
        Sequence::build(self.before().index(wavelength), self.rows().iter(), wavelength)
    }
}
