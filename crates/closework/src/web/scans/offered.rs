//! Edges that are found in a scan and offered to be measured.

use std::ops::ControlFlow;
use std::path::PathBuf;

use imaging::ToneChoice;
use maud::{Markup, html};
use measure::{FindOptions, FoundEdge};
use notebook::Scan;

use super::forms::action;
use crate::web::error::sentence;
use crate::web::fmt;

/// Pixels that are looked at.
const LOOKED_AT: f64 = 3e6;

/// Looks for edges, on this thread: a large scan takes some seconds, since the file is gone through once.
pub(super) fn look(file: PathBuf) -> Result<Vec<FoundEdge>, String> {
    let in_words = |error: imaging::ImagingError| format!("The file {}.", error.fault);
    let mut scan = imaging::Scan::open(&file).map_err(in_words)?;
    let pixels = f64::from(scan.info().width) * f64::from(scan.info().height);
    let factor = (pixels / LOOKED_AT).sqrt().ceil().max(1.0) as u32;
    let small = scan.read_reduced(factor, ToneChoice::Icc, &mut |_| ControlFlow::Continue(())).map_err(in_words)?;
    let options = FindOptions { scale: f64::from(factor), ..FindOptions::default() };
    Ok(measure::find_edges(&small.reading.picture, &options))
}

/// What was found, the best first, each with its way to be measured.
pub(super) fn list(scan: &Scan, offered: Option<&Result<Vec<FoundEdge>, String>>) -> Markup {
    html! {
        section.detail id="offered" aria-labelledby="offered-head" {
            h2 id="offered-head" { "Edges in this picture" }
            @match offered {
                None => {
                    p { "Straight, long, slanted and contrasty enough to be measured: they can be looked for." }
                    form.live method="get" action=(format!("/scans/{}#offered", scan.id)) {
                        input type="hidden" name="find" value="edges";
                        div.actions { button { "Find edges" } }
                    }
                }
                Some(Err(why)) => p.warning { (why) },
                Some(Ok(edges)) if edges.is_empty() => p { "No edge was found that is straight, long, slanted and contrasty enough. Draw a region yourself, or photograph the printed target card." },
                Some(Ok(edges)) => {
                    p { "The best first; they are dotted in the picture. “Measure” takes one as it lies; “Change” puts its region into the form below." }
                    ol.offered { @for (number, edge) in edges.iter().enumerate() { li { (one(scan, number + 1, edge)) } } }
                }
            }
        }
    }
}

fn one(scan: &Scan, number: usize, edge: &FoundEdge) -> Markup {
    let label = format!("found {number}");
    let fields = [
        ("edge_x", edge.region.x),
        ("edge_y", edge.region.y),
        ("edge_width", edge.region.width),
        ("edge_height", edge.region.height),
    ];
    html! {
        (fmt::figure(edge.length_px, 3)) " px long, slanted by " (fmt::figure(edge.angle_deg, 2)) "°, contrast " (fmt::figure(edge.contrast, 2))
        @if let Some(note) = edge.notes.first() { ". " (sentence(&note.to_string())) }
        div.actions {
            form.live method="post" action=(action(scan.id, "edge")) {
                @for (name, value) in fields { input type="hidden" name=(name) value=(value); }
                input type="hidden" name="edge_label" value=(label);
                button { "Measure " span.unseen { "edge " (number) } }
            }
            form method="get" action=(format!("/scans/{}#edge-form", scan.id)) {
                input type="hidden" name="find" value="edges";
                @for (name, value) in fields { input type="hidden" name=(name) value=(value); }
                button.quiet { "Change " span.unseen { "the region of edge " (number) } }
            }
        }
    }
}

/// The found edges as the overlay draws them.
pub(super) fn marks(edges: &[FoundEdge]) -> impl Iterator<Item = serde_json::Value> {
    edges.iter().enumerate().map(|(number, edge)| {
        let planes::Region { x, y, width, height } = edge.region;
        let place = serde_json::json!({ "x": x, "y": y, "width": width, "height": height });
        let label = format!("found {}", number + 1);
        // Numbers below zero never are a measurement's.
        serde_json::json!({ "id": -1 - number as i64, "kind": "found", "label": label, "place": place, "trace": [] })
    })
}
