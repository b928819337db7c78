//! What the bench says in a photographer's words.

use super::design::Design;
use crate::web::fmt;
use rays::{Form, Kind, Prediction, Prescription, SetUp, Wavelength};

/// Stands beside every figure of the bench.
pub const NOT_YOURS: &str =
    "a form, not your lens: it predicts how attachments change a lens of this kind, not how good yours is";

/// The same of tables that the person gave.
pub const YOUR_TABLE: &str = "a lens table that you gave: it predicts as well as it is the table of your lens, and says nothing of how yours was made";

/// What stands beside figures of those designs.
pub fn not_yours<'d>(designs: impl IntoIterator<Item = &'d Design>) -> String {
    let (mut form, mut own) = (false, false);
    for design in designs {
        form |= design.form().is_some();
        own |= design.own().is_some();
    }
    match (form, own) {
        (true, true) => format!("{NOT_YOURS}; {YOUR_TABLE}"),
        (false, true) => YOUR_TABLE.into(),
        _ => NOT_YOURS.into(),
    }
}

/// What is to be known of a converter that nothing but its power and its place is known of.
pub const BEST_CASE: &str = "the converter counts as without faults of its own, the best case: it makes the lens's picture larger with all that is wrong in it, and a real one adds faults of its own";

/// The same of one design, as it was traced: a table of one's own says how it was scaled.
pub fn what_it_is(design: &Design, lens: &Prescription) -> String {
    let focal = lens.at(Wavelength::D).cardinal().map(|of| of.focal_length_mm);
    match design.own() {
        None => NOT_YOURS.into(),
        Some(table) => {
            let named = if table.id.is_empty() { String::new() } else { format!(" (“{}”)", table.name) };
            let scaling = focal.map_or(String::new(), |mm| format!(", {}", table.scaling(mm)));
            YOUR_TABLE.replacen(':', &format!("{named}{scaling}:"), 1)
        }
    }
}

/// What stands beside every figure of a traced set-up.
pub fn label(design: &Design, set_up: &SetUp) -> String {
    let of_lens = what_it_is(design, &set_up.lens);
    if set_up.ideals.is_empty() { of_lens } else { format!("{of_lens}; {BEST_CASE}") }
}

/// The trade's word for a kind of lens.
pub fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Doublet => "doublet",
        Kind::TripletDerived => "derived from the triplet",
        Kind::DoubleGauss => "double Gauss",
        Kind::Petzval => "two separated positive groups",
        Kind::Telephoto => "telephoto",
        Kind::Retrofocus => "retrofocus",
        Kind::FieldFlattened => "field-flattened",
        Kind::Symmetrical => "symmetrical",
    }
}

/// Printed beside traced, in the table's own unit.
pub fn mismatch(form: &Form) -> String {
    let found = form.mismatch();
    let one = |what: &str, traced: f64, printed: Option<f64>, off: Option<f64>| match (printed, off) {
        (Some(printed), Some(off)) => {
            format!("{what} printed {printed}, traced {} ({:+.2} %)", fmt::figure(traced, 6), 100.0 * off)
        }
        _ => format!("{what} not printed, traced {}", fmt::figure(traced, 6)),
    };
    let focal = one("focal length", found.focal_length, form.published_focal_length, found.focal_length_off);
    let back = one("back focus", found.back_focus, form.published_back_focus, found.back_focus_off);
    format!("{focal}; {back}")
}

/// What to know about a result.
pub fn remarks(design: &Design, set_up: &SetUp, told: &Prediction) -> Vec<String> {
    let lens = &set_up.lens;
    let mut remarks = vec![label(design, set_up)];
    remarks.push(match design {
        Design::Form(form) => form.remark.to_owned(),
        Design::Own(table) => table.mismatch(),
    });
    if !lens.dispersion_known() {
        remarks
            .push("how its glass changes with colour is not printed: the lens itself counts as free of colour".into());
    }
    if lens.rows().iter().any(|row| row.semi_aperture_mm.is_none() && !row.stop) {
        remarks.push("its clear diameters are not printed: nothing but its stop cuts the light, so that corners may count as too bright".into());
    }
    if told.zones.iter().flatten().any(|zone| zone.by_rays) {
        remarks.push("where the aberration is too large for waves, contrast is that of rays alone".into());
    }
    remarks
}
