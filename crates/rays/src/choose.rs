//! Which form is nearest to a lens that somebody has, by what can be seen of it without taking it apart.

use crate::{FORMS, Form, Kind, Wavelength};

/// How far behind its last glass a lens is sharp at infinity, against its focal length.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BackFocus {
    /// Less than half: a telephoto, or glass close to the film.
    Short,
    /// Between.
    Usual,
    /// More than the whole: a retrofocus lens.
    Long,
}

/// Answers, as far as they are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Looks {
    /// Glass elements, as advertisements and manuals give them.
    pub elements: Option<usize>,
    /// Whether front and back halves are alike, or nearly.
    pub symmetric: Option<bool>,
    /// Glass to film against focal length.
    pub back_focus: Option<BackFocus>,
}

/// A wrong half or a wrong back focus counts as much as so many elements too many: it changes more of what attachments do.
const COUNTS_AS_ELEMENTS: usize = 3;

impl Form {
    /// Whether its halves about the stop are alike, or nearly.
    pub fn symmetric(&self) -> bool {
        matches!(self.kind, Kind::DoubleGauss | Kind::Symmetrical)
    }

    /// Its back focus against its focal length.
    pub fn back_focus(&self) -> BackFocus {
        let share =
            self.prescription().at(Wavelength::D).cardinal().map_or(1.0, |of| of.back_focus_mm / of.focal_length_mm);
        match share {
            share if share < 0.5 => BackFocus::Short,
            share if share > 1.0 => BackFocus::Long,
            _ => BackFocus::Usual,
        }
    }

    /// How far it is from those answers, in elements; questions that were not answered count nothing.
    pub fn distance(&self, looks: &Looks) -> usize {
        let elements = looks.elements.map_or(0, |elements| elements.abs_diff(self.elements));
        let symmetric = looks.symmetric.is_some_and(|symmetric| symmetric != self.symmetric());
        let back = looks.back_focus.is_some_and(|back| back != self.back_focus());
        elements + COUNTS_AS_ELEMENTS * (usize::from(symmetric) + usize::from(back))
    }
}

/// Every form, the nearest to those answers first; equals in the library's order.
pub fn nearest_forms(looks: &Looks) -> Vec<&'static Form> {
    let mut forms: Vec<&'static Form> = FORMS.iter().collect();
    forms.sort_by_key(|form| form.distance(looks));
    forms
}
