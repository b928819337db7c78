//! What the bench says in a photographer's words.

use crate::web::fmt;
use rays::{Form, Kind, Prediction, Prescription};

/// Stands beside every figure of the bench.
pub const NOT_YOURS: &str =
    "a form, not your lens: it predicts how attachments change a lens of this kind, not how good yours is";

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
pub fn remarks(form: Option<&Form>, lens: &Prescription, told: &Prediction) -> Vec<String> {
    let mut remarks = vec![NOT_YOURS.to_owned()];
    remarks.extend(form.map(|form| form.remark.to_owned()));
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
