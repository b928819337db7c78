//! The list of scans, with the place to drop more.

use axum::extract::{Path, State};
use axum::response::Redirect;
use maud::{Markup, html};
use notebook::{Frame, FrameId, Job, Notebook, NotebookError, Scan, ScanState};

use super::{ends, found, prepare, store, thumbnail};
use crate::web::error::PageResult;
use crate::web::form::{Field, Filled};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError, fmt};

/// The jobs' frames, to choose from and to name a scan by.
pub(super) struct Frames(Vec<(Job, Vec<Frame>)>);

impl Frames {
    pub(super) fn read(book: &Notebook) -> Result<Self, NotebookError> {
        let jobs = book.jobs()?;
        let with_frames = jobs.into_iter().map(|job| Ok((book.frames_of_job(job.id)?, job)));
        with_frames.map(|both| both.map(|(frames, job)| (job, frames))).collect::<Result<_, _>>().map(Self)
    }

    /// Values and labels for a choice, the empty one first.
    pub(super) fn options(&self) -> Vec<(String, String)> {
        let frames =
            self.0.iter().flat_map(|(job, frames)| frames.iter().map(move |f| (f.id.to_string(), label(job, f))));
        std::iter::once((String::new(), "not said".to_owned())).chain(frames).collect()
    }

    /// Job and frame in words.
    pub(super) fn name(&self, id: FrameId) -> Option<String> {
        let all = self.0.iter().flat_map(|(job, frames)| frames.iter().map(move |f| (job, f)));
        all.into_iter().find(|(_, f)| f.id == id).map(|(job, f)| label(job, f))
    }

    pub(super) fn is_empty(&self) -> bool {
        self.0.iter().all(|(_, frames)| frames.is_empty())
    }
}

fn label(job: &Job, frame: &Frame) -> String {
    format!("{}, frame {}", job.title, frame.number)
}

pub(super) async fn page(State(app): State<App>) -> PageResult {
    let read = |book: &mut Notebook| Ok::<_, NotebookError>((book.scans()?, Frames::read(book)?));
    let (scans, frames) = app.notebook(read).await?;
    let body = html! {
        (drop_form(&frames))
        section aria-labelledby="loaded" {
            h2 id="loaded" { "Loaded scans" }
            @if scans.is_empty() {
                p { "None yet. Load a scan above; once it is here you can look at it at true pixels, measure an edge and a ruler in it, and set it beside another." }
            } @else {
                ul.scans { @for scan in scans.iter().rev() { li { (entry(&app, scan, &frames)) } } }
                form id="together" method="get" action="/side-by-side" {
                    @if scans.len() > 1 {
                        div.actions { button { "Set the ticked ones side by side" } span.soft { "two to four" } }
                    }
                }
                @for scan in &scans { form id=(format!("delete-{}", scan.id)) method="post" action=(format!("/scans/{}/delete", scan.id)) {} }
                @for scan in &scans { form id=(format!("again-{}", scan.id)) method="post" action=(format!("/scans/{}/again", scan.id)) {} }
            }
        }
    };
    let sheet = Sheet::new("Scans", Place::Scans)
        .lead("Film scans, to be looked at and measured. Files stay on this machine and are never changed; the surround is grey so that tones can be judged.");
    Ok(sheet.neutral().script("/assets/arrive.js").show(body))
}

fn drop_form(frames: &Frames) -> Markup {
    html! {
        form.drop.detail method="post" action="/scans" enctype="multipart/form-data" {
            h2 { "Load scans" }
            p { "Drop files here, or choose them. TIFF with 8 or 16 bits is best; PNG and JPEG are read too." }
            div.fields {
                @if !frames.is_empty() {
                    (Field::choice("frame", "They show", frames.options()).hint("Can be said later, scan by scan.").show(&Filled::default()))
                }
                div.field {
                    label for="field-file" { "Files" }
                    input type="file" id="field-file" name="file" multiple accept=".tif,.tiff,.dng,.png,.jpg,.jpeg,image/tiff,image/png,image/jpeg";
                }
            }
            div.actions { button.main { "Load" } }
            ul.arriving aria-live="polite" {}
        }
    }
}

fn entry(app: &App, scan: &Scan, frames: &Frames) -> Markup {
    let title = format!("title-{}", scan.id);
    let ready = scan.state == ScanState::Ready;
    html! {
        article.scan aria-labelledby=(title) {
            (thumbnail(app, scan))
            div {
                h3 id=(title) {
                    @if ready { a href=(format!("/scans/{}", scan.id)) { (scan.file_name) } } @else { (scan.file_name) }
                }
                p { (in_short(scan)) }
                @if let Some(name) = scan.frame.and_then(|f| frames.name(f)) { p { "Shows " (name) "." } }
                (standing(app, scan))
                div.actions {
                    @if ready {
                        a.button.quiet href=(format!("/scans/{}", scan.id)) { "Look and measure" }
                        label.together { input type="checkbox" name="scan" form="together" value=(scan.id); "side by side" }
                    }
                    button.quiet form=(format!("delete-{}", scan.id)) data-sure="Delete it and its measurements?" {
                        "Delete" span.hidden-words { " " (scan.file_name) }
                    }
                }
            }
        }
    }
}

/// Size, depth, pitch and magnification in a line.
pub(super) fn in_short(scan: &Scan) -> String {
    let mut parts = Vec::new();
    if let (Some(width), Some(height)) = (scan.width, scan.height) {
        parts.push(format!("{width} × {height} px"));
    }
    parts.extend(scan.bits.map(|bits| format!("{bits} bit")));
    parts.push(fmt::bytes(scan.bytes));
    parts.extend(
        scan.pitch_um.map(|p| format!("pitch {} µm ({} dpi)", fmt::figure(p, 4), fmt::figure(25_400.0 / p, 4))),
    );
    parts.extend(
        scan.magnification
            .map(|m| format!("magnification {} ({})", fmt::measured(m.value, m.plus_minus), fmt::ratio(m.value))),
    );
    parts.join(", ")
}

/// How far the scan has come, when it is not ready.
pub(super) fn standing(app: &App, scan: &Scan) -> Markup {
    match &scan.state {
        ScanState::Ready => html! {},
        ScanState::Failed { why } => html! {
            div.warning {
                p { (why) }
                button.quiet form=(format!("again-{}", scan.id)) { "Try again" }
            }
        },
        ScanState::Arriving | ScanState::Preparing { .. } => html! {
            @match app.tasks().about(&prepare::about(scan.id)) {
                Some(report) => (report.bar()),
                None => p { "Waiting to be prepared." },
            }
        },
    }
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let id = found(&app, &id).await?.id;
    app.tasks().stop_about(&prepare::about(id));
    app.tasks().stop_about(&ends::about(id));
    let stored = app.notebook(move |book| book.delete_scan(id)).await?;
    let app = app.clone();
    // A preparation under way ends at its next row and leaves nothing; waiting for its turn makes sure of that.
    std::thread::spawn(move || {
        let _turn = app.turn();
        store::discard(&app, &stored);
    });
    Ok(Redirect::to("/scans"))
}

/// Prepares a scan once more whose preparation was stopped or failed.
pub(super) async fn again(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let scan = found(&app, &id).await?;
    if matches!(scan.state, ScanState::Failed { .. }) {
        app.notebook(move |book| book.set_scan_state(scan.id, &ScanState::Preparing { share: 0.0 })).await?;
        prepare::prepare_soon(&app, scan.id);
    }
    Ok(Redirect::to("/scans"))
}
