//! The panes, their names and tools.

use axum::response::Html;
use maud::{Markup, html};

use super::compared::Compared;
use super::table;
use crate::web::fmt;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Units;
use crate::web::scans::{Pane, Viewer, zoom_buttons};

pub(super) fn page(shown: &[(&Compared, Viewer<'_>)], units: Units) -> Html<String> {
    let all: Vec<&Compared> = shown.iter().map(|(compared, _)| *compared).collect();
    let scaled = all.iter().all(|c| c.px_per_mm.is_some());
    let unit = if units == Units::Inches { "in" } else { "mm" };
    let body = html! {
        @if !scaled { (not_scaled(&all)) }
        div.side data-unit=(unit) data-scaled[scaled] {
            (tools(scaled))
            div class=(format!("panes panes-{}", shown.len())) {
                @for (index, (compared, viewer)) in shown.iter().enumerate() {
                    (pane(index, compared, viewer, widest_mm(&all)))
                }
            }
            p.small.soft.needs-script { (HELP) }
        }
        (table::compared_edges(&all))
        p { a href=(choose_others(&all)) { "Choose other scans" } }
    };
    Sheet::new("Side by side", Place::SideBySide).neutral().script("/assets/side.js").show(body)
}

const HELP: &str = "Drag, wheel, pinch, arrows, plus and minus move all as one; 0 shows the whole, 1 true pixels. \
                    Shift with a drag or an arrow moves one alone. To set the same detail into the middle of each, choose \
                    “Line up” and click it in one after the other.";

fn choose_others(all: &[&Compared]) -> String {
    let ticked: Vec<_> = all.iter().take(1).map(|c| format!("scan={}", c.scan.id)).collect();
    format!("/side-by-side?{}", ticked.join("&"))
}

/// The widest frame, in mm of the subject; absent unless every scan's scale is known.
fn widest_mm(all: &[&Compared]) -> Option<f64> {
    let widths: Option<Vec<f64>> = all.iter().map(|c| Some(c.width() / c.px_per_mm?.0)).collect();
    widths.map(|widths| widths.into_iter().fold(0.0, f64::max))
}

fn not_scaled(all: &[&Compared]) -> Markup {
    html! {
        div.warning {
            p { strong { "These cannot be brought to one size of the subject yet." } " The size is not known of:" }
            ul { @for c in all.iter().filter(|c| c.px_per_mm.is_none()) {
                li { a href=(format!("/scans/{}", c.scan.id)) { (c.scan.file_name) } ": " (missing(c)) }
            } }
            p { "Until then they are shown pixel for pixel, or with frames of one width." }
        }
    }
}

fn missing(c: &Compared) -> &'static str {
    match (c.scan.pitch_um, c.scan.magnification) {
        (None, Some(_)) => "enter its pitch, or measure a ruler in it",
        (Some(_), None) => "enter its magnification, or measure a ruler in it",
        _ => "measure a ruler in it, or enter pitch and magnification",
    }
}

/// What can be done with the panes; `side.js` wakes them up.
fn tools(scaled: bool) -> Markup {
    html! {
        div.tools hidden {
            fieldset {
                legend { "Show at" }
                label { input type="radio" name="size" value="subject" checked[scaled] disabled[!scaled]; span { "one size of subject" } }
                label { input type="radio" name="size" value="pixels" checked[!scaled]; span { "pixel for pixel" } }
                label { input type="radio" name="size" value="frame"; span { "one width of frame" } }
            }
            fieldset {
                legend { "Pointer" }
                label { input type="radio" name="tool" value="move" checked; span { "Move" } }
                label { input type="radio" name="tool" value="mark"; span { "Mark" } }
                label { input type="radio" name="tool" value="line-up"; span { "Line up" } }
            }
            div.zoom {
                (zoom_buttons())
                button.quiet type="button" data-undo { "Undo lining up" }
            }
            output.where aria-live="polite" {}
        }
    }
}

fn pane(index: usize, compared: &Compared, viewer: &Viewer<'_>, widest_mm: Option<f64>) -> Markup {
    let scan = &compared.scan;
    let label = format!("Scan {} of the comparison: {}. Arrows, plus and minus move all.", index + 1, scan.file_name);
    let px_per_mm = compared.px_per_mm.map(|(px, _)| px);
    // Without scripts the still pictures stand at one size of the subject by their widths.
    let share = px_per_mm.zip(widest_mm).map_or(1.0, |(px, widest)| compared.width() / px / widest);
    let spec = Pane { class: "beside", label: &label, still_percent: Some(100.0 * share), px_per_mm };
    html! {
        figure.one {
            (viewer.show(&spec))
            figcaption {
                strong { a href=(format!("/scans/{}", scan.id)) { (scan.file_name) } }
                span { (size(compared)) }
                @if let Some(set_up) = compared.set_up() { span { (set_up) } }
                @for edge in compared.newest_edges() {
                    span { (place(&edge.label)) ": half the contrast left at " (compared.figure(&edge.document)) }
                }
                @if compared.edges.is_empty() { span.soft { "no edge measured yet" } }
            }
        }
    }
}

fn size(compared: &Compared) -> String {
    match (compared.scan.magnification, compared.px_per_mm) {
        (Some(m), _) => format!("magnification {} ({})", fmt::measured(m.value, m.plus_minus), fmt::ratio(m.value)),
        (None, Some((px, u))) => format!("{} px per mm of the subject, by its ruler", fmt::measured(px, u)),
        (None, None) => "magnification not known".into(),
    }
}

/// A place in the frame, as it was named.
pub(super) fn place(label: &str) -> String {
    if label.is_empty() { "Edge without a place".into() } else { label.to_owned() }
}
