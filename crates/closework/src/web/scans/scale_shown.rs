//! A measured ruler as it is kept and as it is read.

use maud::{Markup, html};
use serde::{Deserialize, Serialize};

use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::manners::Units;

/// A measured ruler; the shape that `measure scale --json` prints.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScaleResult {
    /// Pixels from tick to tick.
    pub px_per_tick: f64,
    /// Pixels that one millimetre of the subject covers.
    pub px_per_mm: f64,
    /// Half-width of the 95 % interval of `px_per_mm`.
    pub plus_minus: Option<f64>,
    /// How many ticks were found.
    pub ticks: usize,
    /// Size on the film over size of the subject; absent without a pitch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub magnification: Option<f64>,
    /// Half-width of its 95 % interval.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub magnification_plus_minus: Option<f64>,
    /// Reservations, one sentence each.
    #[serde(default)]
    pub warnings: Vec<String>,
}

/// The one figure that counts.
pub(super) fn headline(json: &str) -> String {
    match serde_json::from_str::<ScaleResult>(json) {
        Ok(ScaleResult { magnification: Some(m), magnification_plus_minus, .. }) => {
            format!("magnification {} ({})", fmt::measured(m, magnification_plus_minus), fmt::ratio(m))
        }
        Ok(result) => format!("{} px per mm of the subject", fmt::measured(result.px_per_mm, result.plus_minus)),
        Err(_) => "no figure".into(),
    }
}

/// The figures of a ruler; nothing when they cannot be read.
pub(super) fn figures(json: &str, units: Units) -> Option<Markup> {
    let result: ScaleResult = serde_json::from_str(json).ok()?;
    Some(html! {
        dl.facts {
            dt { "On the subject" } dd { strong { (scale(&result, units)) } }
            @if let Some(m) = result.magnification {
                dt { "Magnification" } dd { strong { (fmt::measured(m, result.magnification_plus_minus)) } " (" (fmt::ratio(m)) ")" }
            } @else {
                dt { "Magnification" } dd { "not known without the scan's pitch: enter it, then measure once more" }
            }
            dt { "Ticks found" } dd { (result.ticks) }
            dt { "From tick to tick" } dd { (fmt::measured_with(result.px_per_tick, None, "px")) }
        }
        @if !result.warnings.is_empty() {
            div.warning { h3 { "Remarks" } ul { @for warning in &result.warnings { li { (sentence(warning)) } } } }
        }
    })
}

fn scale(result: &ScaleResult, units: Units) -> String {
    match units {
        Units::Millimetres => fmt::measured_with(result.px_per_mm, result.plus_minus, "px per mm"),
        Units::Inches => {
            let per_inch = |x: f64| x * fmt::MM_PER_INCH;
            fmt::measured_with(per_inch(result.px_per_mm), result.plus_minus.map(per_inch), "px per inch")
        }
    }
}
