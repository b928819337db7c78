//! The page of one scan: the picture, what is known of it, what was measured in it.

use axum::extract::{Path, RawQuery, State};
use axum::response::Html;
use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Notebook, NotebookError, Scan, ScanState};

use super::list::{Frames, in_short, standing};
use super::{Viewer, found, shown};
use crate::web::error::PageResult;
use crate::web::form::{Field, Filled};
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery, manners: Manners) -> PageResult {
    let scan = found(&app, &id).await?;
    let query = Filled::from_query(query.as_deref());
    let shown = query.text("shown").parse().ok();
    show(&app, scan, Filled::default(), shown, manners).await
}

/// The page of a scan with what was typed into one of its forms; `newest` is the measurement to be shown open.
pub(super) async fn show(app: &App, scan: Scan, mut filled: Filled, newest: Option<i64>, manners: Manners) -> PageResult {
    let id = scan.id;
    let read = move |book: &mut Notebook| Ok::<_, NotebookError>((book.measurements(id)?, Frames::read(book)?));
    let (measurements, frames) = app.notebook(read).await?;
    let newest = newest.or(measurements.last().map(|m| m.id.0));
    fill_in(&mut filled, &scan, measurements.iter().find(|m| Some(m.id.0) == newest));
    let page = ScanPage { app, scan: &scan, filled: &filled, measurements: &measurements, frames: &frames, newest, manners };
    Ok(page.show())
}

/// What the forms hold before anybody types: what is known, and the place of the measurement that is shown.
fn fill_in(filled: &mut Filled, scan: &Scan, measured: Option<&Measurement>) {
    if let Some(pitch) = scan.pitch_um {
        filled.default_to("pitch", pitch.to_string());
    }
    if let Some(m) = scan.magnification {
        filled.default_to("magnification", format!("{:.5}", m.value).trim_end_matches('0').trim_end_matches('.'));
    }
    if let Some(frame) = scan.frame {
        filled.default_to("frame", frame.to_string());
    }
    let place = measured.and_then(|m| serde_json::from_str::<serde_json::Map<_, _>>(&m.place).ok()).unwrap_or_default();
    let form = measured.map_or("edge", |m| if m.kind == MeasurementKind::Edge { "edge" } else { "ruler" });
    for (name, value) in place {
        let text = value.as_str().map_or_else(|| value.to_string(), str::to_owned);
        filled.default_to(&format!("{form}_{name}"), text);
    }
    if let Some(m) = measured.filter(|m| m.kind == MeasurementKind::Edge) {
        filled.default_to("edge_label", m.label.clone());
    }
}

struct ScanPage<'a> {
    app: &'a App,
    scan: &'a Scan,
    filled: &'a Filled,
    measurements: &'a [Measurement],
    frames: &'a Frames,
    newest: Option<i64>,
    manners: Manners,
}

impl ScanPage<'_> {
    fn show(&self) -> Html<String> {
        let body = html! {
            p.lead { (in_short(self.scan)) }
            @match (&self.scan.state, Viewer::of(self.app, self.scan)) {
                (ScanState::Ready, Some(viewer)) => (self.bench(&viewer)),
                _ => {
                    form id=(format!("again-{}", self.scan.id)) method="post" action=(self.action("again")) {}
                    (standing(self.app, self.scan))
                }
            }
        };
        let sheet = Sheet::new(&self.scan.file_name, Place::Scans).neutral();
        sheet.script("/assets/viewer.js").show(body)
    }

    fn action(&self, what: &str) -> String {
        format!("/scans/{}/{what}", self.scan.id)
    }

    fn bench(&self, viewer: &Viewer<'_>) -> Markup {
        let label = "The scan. Arrows move, plus and minus zoom, 1 shows true pixels, 0 the whole.";
        html! {
            div.bench {
                div.look {
                    (viewer.pane("single", label, html! {}))
                    (tools())
                }
                div.work id="work" data-marks=(self.marks()) {
                    (self.filled.summary())
                    (self.measure_forms())
                    (self.known())
                    (self.kept())
                }
            }
        }
    }

    fn marks(&self) -> String {
        let places = self.measurements.iter().map(|m| format!("{{\"id\":{},\"kind\":\"{}\",\"place\":{},\"trace\":{}}}", m.id, kind(m), m.place, shown::trace(m)));
        format!("[{}]", places.collect::<Vec<_>>().join(","))
    }

    fn measure_forms(&self) -> Markup {
        let edge = self.filled;
        html! {
            section.columns aria-label="Measure" {
                form.detail.live id="edge-form" method="post" action=(self.action("edge")) data-keep=(format!("edge-{}", self.scan.id)) {
                    h2 { "Measure an edge" }
                    p { "Draw a region across one straight, slightly tilted edge, with even ground on both sides. Or type where it lies." }
                    div.fields.four {
                        (Field::number("edge_x", "Left").unit("px").show(edge))
                        (Field::number("edge_y", "Top").unit("px").show(edge))
                        (Field::number("edge_width", "Width").unit("px").show(edge))
                        (Field::number("edge_height", "Height").unit("px").show(edge))
                    }
                    div.fields {
                        (Field::text("edge_label", "Place in the frame").hint("In your own words: centre, upper right corner …").show(edge))
                        (Field::choice("edge_transfer", "Numbers into light", TRANSFERS).hint("The profile in the file; without one, sRGB is assumed and said.").show(edge))
                        (Field::number("edge_gamma", "Gamma").hint("Only for a plain power curve.").show(edge))
                    }
                    div.actions { button.main { "Measure the edge" } }
                }
                (self.ruler_form())
            }
        }
    }

    fn ruler_form(&self) -> Markup {
        let ruler = self.filled;
        html! {
            form.detail.live id="ruler-form" method="post" action=(self.action("ruler")) data-keep=(format!("ruler-{}", self.scan.id)) {
                h2 { "Measure a ruler" }
                p { "Set two points along a ruler's ticks, as far apart as it goes. With the pitch this gives the magnification." }
                div.fields.four {
                    (Field::number("ruler_x1", "From, across").unit("px").show(ruler))
                    (Field::number("ruler_y1", "From, down").unit("px").show(ruler))
                    (Field::number("ruler_x2", "To, across").unit("px").show(ruler))
                    (Field::number("ruler_y2", "To, down").unit("px").show(ruler))
                }
                div.fields { (Field::number("ruler_tick_mm", "From tick to tick").unit("mm").show(ruler)) }
                div.actions { button.main { "Measure the ruler" } }
            }
        }
    }

    fn known(&self) -> Markup {
        let remarks: Vec<String> = serde_json::from_str(&self.scan.about).unwrap_or_default();
        let magnification_from = self.scan.magnification.map(|m| format!("Now from: {}.", m.from.word()));
        html! {
            section.columns aria-label="What is known of this scan" {
                form.detail.live method="post" action=(self.action("pitch")) {
                    h2 { "Pitch" }
                    p { "How far apart the scanner's samples lie on the film. " (pitch_from(self.scan)) }
                    div.fields {
                        (Field::number("pitch", "Pitch or resolution").show(self.filled))
                        (Field::choice("pitch_unit", "In", [("um", "µm from pixel to pixel"), ("dpi", "dots per inch")]).show(self.filled))
                    }
                    div.actions { button { "Keep the pitch" } }
                }
                form.detail.live method="post" action=(self.action("magnification")) {
                    h2 { "Magnification" }
                    p { "Size on the film over size of the subject. A ruler in the frame is the surest way. " @if let Some(from) = magnification_from { (from) } }
                    div.fields {
                        (Field::number("magnification", "Magnification").hint("As 0.37 or 1:2.7; empty when it is not known.").show(self.filled))
                    }
                    div.actions { button { "Keep the magnification" } }
                }
                @if !self.frames.is_empty() {
                    form.detail.live method="post" action=(self.action("frame")) {
                        h2 { "Frame" }
                        div.fields { (Field::choice("frame", "This scan shows", self.frames.options()).show(self.filled)) }
                        div.actions { button { "Keep the frame" } }
                    }
                }
                @if !remarks.is_empty() {
                    div.detail {
                        h2 { "Remarks on the file" }
                        ul { @for remark in &remarks { li { (crate::web::error::sentence(remark)) } } }
                    }
                }
            }
        }
    }

    fn kept(&self) -> Markup {
        html! {
            section aria-labelledby="kept" {
                h2 id="kept" { "Measured in this scan" }
                @if self.measurements.is_empty() { p { "Nothing yet." } }
                @for m in self.measurements.iter().rev() {
                    (shown::measurement(m, self.scan, Some(m.id.0) == self.newest, self.manners.units))
                }
            }
        }
    }
}

fn kind(m: &Measurement) -> &'static str {
    match m.kind {
        MeasurementKind::Edge => "edge",
        MeasurementKind::Scale => "scale",
    }
}

fn pitch_from(scan: &Scan) -> &'static str {
    match scan.pitch_from.as_str() {
        "file" => "Now as the file states it.",
        "entered" => "Now as you entered it.",
        _ => "It is not known yet; without it there are no sizes on the film.",
    }
}

/// The ways from numbers to light, as the command line names them.
const TRANSFERS: [(&str, &str); 4] =
    [("icc", "the file's profile"), ("srgb", "sRGB"), ("linear", "they are linear"), ("gamma", "a power curve")];

/// What can be done with the picture; `viewer.js` wakes them up.
fn tools() -> Markup {
    html! {
        div.tools hidden {
            fieldset {
                legend { "Pointer" }
                label { input type="radio" name="tool" value="move" checked; span { "Move" } }
                label { input type="radio" name="tool" value="region"; span { "Region" } }
                label { input type="radio" name="tool" value="ruler"; span { "Ruler" } }
            }
            div.zoom {
                button.quiet type="button" data-wish="out" aria-label="Zoom out" { "−" }
                button.quiet type="button" data-wish="in" aria-label="Zoom in" { "+" }
                button.quiet type="button" data-wish="one" { "True pixels" }
                button.quiet type="button" data-wish="fit" { "Whole" }
                output.where aria-live="off" {}
            }
        }
    }
}

/// The page of a scan again, because something in a form is wrong.
pub(super) async fn come_back(app: &App, scan: Scan, filled: Filled, manners: Manners) -> Result<axum::response::Response, PageError> {
    Ok(crate::web::form::come_back(show(app, scan, filled, None, manners).await?))
}
