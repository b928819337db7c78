//! A measured ruler as it is read.

use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Scan};

use super::sizes_of;
use crate::documents::ScaleDocument;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::manners::Units;

/// A kept ruler.
fn ruler_of(m: &Measurement) -> Option<ScaleDocument> {
    (m.kind == MeasurementKind::Scale).then(|| serde_json::from_str(&m.result).ok()).flatten()
}

/// The ruler that was measured last.
pub fn newest_ruler(measurements: &[Measurement]) -> Option<ScaleDocument> {
    measurements.iter().rev().find_map(ruler_of)
}

/// Pixels that one millimetre of the subject takes, with half-width where that is known: from pitch and magnification,
/// else from the newest ruler, which needs neither.
pub fn subject_scale(scan: &Scan, measurements: &[Measurement]) -> Option<(f64, Option<f64>)> {
    match (sizes_of(scan).px_per_subject_mm(), scan.magnification) {
        (Some(px), Some(m)) => Some((px, m.plus_minus.map(|u| px * u / m.value))),
        _ => newest_ruler(measurements).map(|ruler| (ruler.px_per_mm, Some(ruler.plus_minus))),
    }
}

/// The one figure that counts.
pub(super) fn headline(m: &Measurement, scan: &Scan) -> String {
    match (ruler_of(m), scan.pitch_um) {
        (None, _) => "no figure".into(),
        (Some(ruler), Some(pitch)) => format!("magnification {}", magnification(&ruler, pitch)),
        (Some(ruler), None) => {
            format!("{} px per mm of the subject", fmt::measured(ruler.px_per_mm, Some(ruler.plus_minus)))
        }
    }
}

fn magnification(ruler: &ScaleDocument, pitch_um: f64) -> String {
    let (m, plus_minus) = ruler.magnification_at(pitch_um);
    format!("{} ({})", fmt::measured(m, Some(plus_minus)), fmt::ratio(m))
}

/// The figures of a ruler; nothing when they cannot be read.
pub(super) fn figures(m: &Measurement, scan: &Scan, units: Units) -> Option<Markup> {
    let ruler = ruler_of(m)?;
    Some(html! {
        dl.facts {
            dt { "On the subject" } dd { strong { (per_length(&ruler, units)) } }
            dt { "Magnification" }
            dd {
                @match scan.pitch_um {
                    Some(pitch) => { strong { (magnification(&ruler, pitch)) } ", the pitch taken as exact" }
                    None => "not known without the scan's pitch: enter the pitch, and it appears here",
                }
            }
            dt { "Marks found" } dd { (ruler.ticks) }
            dt { "From mark to mark" } dd { (fmt::measured_with(ruler.px_per_tick, None, "px")) }
        }
        @if let Some(pitch) = scan.pitch_um { (take_over(m, scan, &ruler, pitch)) }
        @if !ruler.warnings.is_empty() {
            div.warning { h3 { "Remarks" } ul { @for warning in &ruler.warnings { li { (sentence(warning)) } } } }
        }
    })
}

/// The way to make this the scan's magnification, unless it is that already.
fn take_over(m: &Measurement, scan: &Scan, ruler: &ScaleDocument, pitch_um: f64) -> Markup {
    let (value, _) = ruler.magnification_at(pitch_um);
    let same = scan.magnification.is_some_and(|known| (known.value / value - 1.0).abs() < 1e-9);
    html! {
        @if same {
            p { "This is the magnification that the scan's figures use." }
        } @else {
            form.live method="post" action=(format!("/scans/{}/measurements/{}/use", scan.id, m.id)) {
                div.actions { button { "Use this magnification for the scan" } }
            }
        }
    }
}

fn per_length(ruler: &ScaleDocument, units: Units) -> String {
    match units {
        Units::Millimetres => fmt::measured_with(ruler.px_per_mm, Some(ruler.plus_minus), "px per mm"),
        Units::Inches => {
            let per_inch = |x: f64| x * fmt::MM_PER_INCH;
            fmt::measured_with(per_inch(ruler.px_per_mm), Some(per_inch(ruler.plus_minus)), "px per inch")
        }
    }
}
