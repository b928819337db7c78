//! Calibrated figures into the kit and out of it again.

use super::whole::{Told, Whole};
use kit::{Kit, Part};

/// The part with what calibration told of it, or the words of what its fields refuse.
///
/// A figure that the marking tells better is left out, and an earlier calibrated one of it taken away: set-ups use the
/// calibrated figure wherever there is one. Fields that were not told stay as they are.
pub fn kept(part: &Part, told: &[Told]) -> Result<Part, String> {
    rebuilt(part, |field| {
        let told = told.iter().find(|told| told.kept_as == field)?;
        Some(if told.keeps() { text(told) } else { String::new() })
    })
}

/// The part without any calibrated figure.
pub fn forgotten(part: &Part) -> Result<Part, String> {
    rebuilt(part, |field| field.starts_with("calibrated_").then(String::new))
}

/// Whether the part carries a calibrated figure.
pub fn is_calibrated(part: &Part) -> bool {
    part.kind().fields().any(|field| field.name.starts_with("calibrated_") && part.value(field.name).is_some())
}

/// The whole kit with what was told.
pub(super) fn with_all(kit: &Kit, whole: &Whole) -> Result<Kit, String> {
    let parts = kit.parts().iter().map(|part| match whole.told().find(|(id, _)| *id == part.id()) {
        Some((_, told)) => kept(part, told),
        None => Ok(part.clone()),
    });
    Kit::from_parts(parts.collect::<Result<_, _>>()?)
}

impl Whole {
    /// The kit with everything that was told and that its markings do not tell better.
    pub fn into_kit(&self, kit: &Kit) -> Result<Kit, String> {
        with_all(kit, self)
    }
}

/// The part made again from its fields, `change` putting in others.
pub(crate) fn rebuilt(part: &Part, change: impl Fn(&str) -> Option<String>) -> Result<Part, String> {
    let typed = |field: &str| Some(change(field).unwrap_or_else(|| part.form_text(field)));
    Part::from_form(part.kind(), part.id(), typed).map_err(|errors| match errors.first() {
        Some(error) => error.to_string(),
        None => "the part could not be written".into(),
    })
}

/// "79.71 ± 0.46": the half-width to three digits, so that a person can read the file and nothing is lost that counts.
fn text(told: &Told) -> String {
    let half_width = told.found.plus_minus;
    let places = if half_width > 0.0 { (2.0 - half_width.log10().floor()).clamp(0.0, 12.0) as usize } else { 9 };
    format!("{:.places$} ± {half_width:.places$}", told.found.value)
}
