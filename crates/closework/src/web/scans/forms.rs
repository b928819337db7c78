//! The forms on the page of one scan: measuring, and what is known of the scan.

use maud::{Markup, html};
use notebook::{Scan, ScanId};

use super::list::Frames;
use crate::web::error::sentence;
use crate::web::form::{Field, Filled};

/// The ways from numbers to light, as the command line names them.
const TRANSFERS: [(&str, &str); 4] =
    [("icc", "the file's profile"), ("srgb", "sRGB"), ("linear", "they are linear"), ("gamma", "a power curve")];

pub(super) fn action(scan: ScanId, what: &str) -> String {
    format!("/scans/{scan}/{what}")
}

/// Why a measurement was refused, at the form that asked for it.
fn refusal(filled: &Filled, form: &str) -> Markup {
    html! {
        @if let Some(why) = filled.error(form) {
            div.refusal role="alert" tabindex="-1" data-focus {
                p.what { (why) }
                p { "Nothing was kept; what you drew is still there." }
            }
        }
    }
}

/// What is wrong with single fields. A refused measurement is said at its own form instead.
pub(super) fn summary(filled: &Filled) -> Markup {
    let refused = ["edge", "ruler"].iter().any(|form| filled.error(form).is_some());
    html! { @if !refused { (filled.summary()) } }
}

pub(super) fn measuring(scan: ScanId, filled: &Filled) -> Markup {
    html! {
        section.columns aria-label="Measure" {
            (edge(scan, filled))
            (ruler(scan, filled))
        }
    }
}

fn edge(scan: ScanId, filled: &Filled) -> Markup {
    html! {
        form.detail.live id="edge-form" method="post" action=(action(scan, "edge")) data-keep=(format!("edge-{scan}")) {
            h2 { "Measure an edge" }
            (refusal(filled, "edge"))
            p { "Draw a region across one straight, slightly tilted edge, with even ground on both sides. Or type where it lies." }
            div.fields.four {
                (Field::number("edge_x", "Left").unit("px").show(filled))
                (Field::number("edge_y", "Top").unit("px").show(filled))
                (Field::number("edge_width", "Width").unit("px").show(filled))
                (Field::number("edge_height", "Height").unit("px").show(filled))
            }
            div.fields {
                (Field::text("edge_label", "Place in the frame").hint("In your own words: centre, corner … The same words in two scans are compared.").show(filled))
            }
            details open[filled.error("edge_gamma").is_some()] {
                summary { "Numbers into light" }
                div.fields {
                    (Field::choice("edge_transfer", "By", TRANSFERS).hint("The profile in the file; without one, sRGB is assumed and said.").show(filled))
                    (Field::number("edge_gamma", "Gamma").hint("Only for a plain power curve.").show(filled))
                }
            }
            div.actions { button.main { "Measure the edge" } }
        }
    }
}

fn ruler(scan: ScanId, filled: &Filled) -> Markup {
    html! {
        form.detail.live id="ruler-form" method="post" action=(action(scan, "scale")) data-keep=(format!("ruler-{scan}")) {
            h2 { "Measure a ruler" }
            (refusal(filled, "ruler"))
            p { "Draw a line across a ruler's marks, as far as it goes. With the pitch this gives the magnification." }
            div.fields.four {
                (Field::number("ruler_x1", "From, across").unit("px").show(filled))
                (Field::number("ruler_y1", "From, down").unit("px").show(filled))
                (Field::number("ruler_x2", "To, across").unit("px").show(filled))
                (Field::number("ruler_y2", "To, down").unit("px").show(filled))
            }
            div.fields { (Field::text("ruler_tick_mm", "From mark to mark").unit("mm").hint("Between the finest marks that the line crosses; inches as 1/16 in.").show(filled)) }
            div.actions { button.main { "Measure the ruler" } }
        }
    }
}

pub(super) fn known(scan: &Scan, filled: &Filled, frames: &Frames) -> Markup {
    let remarks: Vec<String> = serde_json::from_str(&scan.about).unwrap_or_default();
    html! {
        section.columns aria-label="What is known of this scan" {
            (pitch(scan, filled))
            (magnification(scan, filled))
            @if !frames.is_empty() {
                form.detail.live method="post" action=(action(scan.id, "frame")) {
                    h2 { "Frame" }
                    div.fields { (Field::choice("frame", "This scan shows", frames.options()).show(filled)) }
                    div.actions { button { "Keep the frame" } }
                }
            }
            @if !remarks.is_empty() {
                div.detail {
                    h2 { "Remarks on the file" }
                    ul { @for remark in &remarks { li { (sentence(remark)) } } }
                }
            }
        }
    }
}

fn pitch(scan: &Scan, filled: &Filled) -> Markup {
    html! {
        form.detail.live method="post" action=(action(scan.id, "pitch")) {
            h2 { "Pitch" }
            p { "How far apart the scanner's samples lie on the film. A known length on the film or its holder (the film gate, a scale that was scanned along) tells it best: its pixels by its millimetres. " (pitch_from(scan)) }
            div.fields {
                (Field::number("pitch", "Pitch or resolution").show(filled))
                (Field::choice("pitch_unit", "In", [("um", "µm from pixel to pixel"), ("dpi", "dots per inch"), ("px_mm", "pixels per mm of film")]).show(filled))
            }
            div.actions { button { "Keep the pitch" } }
        }
    }
}

fn magnification(scan: &Scan, filled: &Filled) -> Markup {
    let from = scan.magnification.map(|m| format!("Now from: {}.", m.from.word()));
    html! {
        form.detail.live method="post" action=(action(scan.id, "magnification")) {
            h2 { "Magnification" }
            p { "Size on the film over size of the subject. A ruler in the frame is the surest way. " @if let Some(from) = from { (from) } }
            div.fields {
                (Field::number("magnification", "Magnification").hint("As 0.37 or 1:2.7; empty when it is not known.").show(filled))
            }
            div.actions { button { "Keep the magnification" } }
        }
    }
}

fn pitch_from(scan: &Scan) -> &'static str {
    match scan.pitch_from.as_str() {
        "file" => "Now as the file states it.",
        "entered" => "Now as you entered it.",
        _ => "It is not known yet; without it there are no sizes on the film.",
    }
}
