//! The page of one scan: the picture, what is known of it, what was measured in it.

use axum::extract::{Path, RawQuery, State};
use axum::response::Html;
use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Notebook, NotebookError, Response, Scan, ScanState};

use super::list::{Frames, in_short, standing};
use super::{Pane, Viewer, forms, found, shown, whole, zoom_buttons};
use crate::web::error::PageResult;
use crate::web::form::Filled;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

pub(super) async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    RawQuery(query): RawQuery,
    manners: Manners,
) -> PageResult {
    let scan = found(&app, &id).await?;
    let query = Filled::from_query(query.as_deref());
    let shown = query.text("shown").parse().ok();
    let offered = if query.text("find").is_empty() {
        None
    } else {
        let file = super::store::file_of(&app, &scan.stored);
        Some(crate::web::off_thread(move || super::offered::look(file)).await?)
    };
    // A found region may be asked for in the form.
    show_with(&app, scan, query, shown, offered, manners).await
}

/// The page of a scan with what was typed into one of its forms; `newest` is the measurement to be shown open.
pub(super) async fn show(app: &App, scan: Scan, filled: Filled, newest: Option<i64>, manners: Manners) -> PageResult {
    show_with(app, scan, filled, newest, None, manners).await
}

type Offered = Option<Result<Vec<measure::FoundEdge>, String>>;

async fn show_with(
    app: &App,
    scan: Scan,
    mut filled: Filled,
    newest: Option<i64>,
    offered: Offered,
    manners: Manners,
) -> PageResult {
    let id = scan.id;
    let read = move |book: &mut Notebook| {
        Ok::<_, NotebookError>((book.measurements(id)?, Frames::read(book)?, book.responses()?))
    };
    let (measurements, frames, responses) = app.notebook(read).await?;
    let newest = newest.or(measurements.last().map(|m| m.id.0));
    fill_in(&mut filled, &scan, measurements.iter().find(|m| Some(m.id.0) == newest));
    let file = super::store::file_of(app, &scan.stored);
    let header =
        crate::web::off_thread(move || imaging::Scan::open(&file).ok().map(|file| file.info().clone())).await?;
    let page = ScanPage {
        app,
        scan: &scan,
        filled: &filled,
        measurements: &measurements,
        frames: &frames,
        responses: &responses,
        offered: &offered,
        header: header.as_ref(),
        newest,
        manners,
    };
    Ok(page.show())
}

/// What the forms hold before anybody types: what is known, and the place of the measurement that is shown.
fn fill_in(filled: &mut Filled, scan: &Scan, measured: Option<&Measurement>) {
    if let Some(pitch) = scan.pitch_um {
        // Files write resolutions as fractions; six digits are more than any scanner keeps to.
        let pitch = format!("{pitch:.4}");
        filled.default_to("pitch", pitch.trim_end_matches('0').trim_end_matches('.'));
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
    responses: &'a [Response],
    offered: &'a Offered,
    header: Option<&'a imaging::Info>,
    newest: Option<i64>,
    manners: Manners,
}

impl ScanPage<'_> {
    fn show(&self) -> Html<String> {
        let body = html! {
            p.lead id="about" { (in_short(self.scan)) @if let Some(name) = self.scan.frame.and_then(|f| self.frames.name(f)) { ". Shows " (name) "." @if !self.measurements.is_empty() { " " a href="/bench/measured" { "Beside what rays predict" } } } }
            @match (&self.scan.state, Viewer::of(self.app, self.scan)) {
                (ScanState::Ready, Some(viewer)) => (self.bench(&viewer)),
                _ => {
                    form id=(format!("again-{}", self.scan.id)) method="post" action=(forms::action(self.scan.id, "again")) {}
                    (standing(self.app, self.scan))
                }
            }
        };
        let sheet = Sheet::new(&self.scan.file_name, Place::Scans).neutral();
        sheet.script("/assets/scan.js").show(body)
    }

    fn bench(&self, viewer: &Viewer<'_>) -> Markup {
        let pane = Pane { class: "single", label: PANE_LABEL, ..Pane::default() };
        html! {
            div.bench {
                div.look {
                    (viewer.show(&pane))
                    (tools())
                    p.small { a href=(format!("/side-by-side?scan={}", self.scan.id)) { "Set it beside another scan" } }
                }
                div.work id="work" data-marks=(self.marks()) {
                    (forms::summary(self.filled))
                    (whole::section(self.app, self.scan, self.measurements, self.responses, self.filled))
                    (super::offered::list(self.scan, self.offered.as_ref()))
                    (forms::measuring(self.scan.id, self.filled))
                    (self.kept())
                    (forms::known(self.scan, self.filled, self.frames))
                    @if let Some(header) = self.header { (super::header::shown(header)) }
                }
            }
        }
    }

    /// The measurements' places, for `regions.js` to draw.
    fn marks(&self) -> String {
        let found = self.offered.iter().flatten().flat_map(|edges| super::offered::marks(edges));
        let kept = self.measurements.iter().filter(|m| m.kind != MeasurementKind::Frame).map(shown::mark);
        serde_json::Value::Array(kept.chain(found).collect()).to_string()
    }

    fn kept(&self) -> Markup {
        html! {
            section aria-labelledby="kept" {
                h2 id="kept" { "Measured in this scan" }
                @if self.measurements.is_empty() { p { "Nothing yet." } }
                @for m in self.measurements.iter().rev().filter(|m| m.kind != MeasurementKind::Frame) {
                    (shown::measurement(m, self.scan, Some(m.id.0) == self.newest, self.manners.units))
                }
            }
        }
    }
}

const PANE_LABEL: &str = "The scan. Arrows move, plus and minus zoom, 1 shows true pixels, 0 or Home the whole. With the \
                          region or ruler tool, Enter puts one in the middle, Shift with arrows moves it, Control with \
                          arrows changes its size.";

/// What can be done with the picture; `scan.js` wakes them up.
fn tools() -> Markup {
    html! {
        div.tools hidden {
            div.zoom {
                (zoom_buttons())
                output.where aria-live="off" {}
            }
            (choice("Pointer", "tool", &[("move", "Move"), ("region", "Region"), ("ruler", "Ruler")]))
            (choice("Show", "channel", &CHANNELS))
            label.check { input type="checkbox" name="ends"; "Clipped samples" }
            p.small.counted aria-live="polite" {}
            p.hidden-words role="status" {}
        }
        (filters())
    }
}

/// One of a few, the first chosen.
fn choice(legend: &str, name: &str, choices: &[(&str, &str)]) -> Markup {
    html! {
        fieldset {
            legend { (legend) }
            @for (i, (value, label)) in choices.iter().enumerate() {
                label { input type="radio" name=(name) value=(value) checked[i == 0]; span { (label) } }
            }
        }
    }
}

const CHANNELS: [(&str, &str); 5] =
    [("colour", "Colour"), ("red", "Red"), ("green", "Green"), ("blue", "Blue"), ("luminance", "Luminance")];

/// What shows one channel as grey, for `scan.js` to put over the picture: single channels as the tiles hold them (sRGB),
/// luminance added up in linear light by IEC 61966-2-1's weights.
fn filters() -> Markup {
    let row = |shares: &str| format!("{shares} 0 0 ").repeat(3) + "0 0 0 1 0";
    let filters = [
        ("red", "sRGB", "1 0 0"),
        ("green", "sRGB", "0 1 0"),
        ("blue", "sRGB", "0 0 1"),
        ("luminance", "linearRGB", "0.2126 0.7152 0.0722"),
    ];
    html! {
        svg.hidden-words aria-hidden="true" focusable="false" width="0" height="0" {
            @for (name, space, shares) in filters {
                filter id=(format!("only-{name}")) x="0" y="0" width="1" height="1" color-interpolation-filters=(space) {
                    feColorMatrix type="matrix" values=(row(shares)) {}
                }
            }
        }
    }
}

/// The page of a scan again, because something in a form is wrong.
pub(super) async fn come_back(
    app: &App,
    scan: Scan,
    filled: Filled,
    manners: Manners,
) -> Result<axum::response::Response, PageError> {
    Ok(crate::web::form::come_back(show(app, scan, filled, None, manners).await?))
}
