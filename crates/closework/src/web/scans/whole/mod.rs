//! Measuring a whole frame: in the background, with progress; kept in the notebook; shown on a page of its own.

mod form;
mod maps;
mod page;
mod planned;
mod responses;

use std::ops::ControlFlow;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::html;
use notebook::{
    Magnification, MagnificationSource, Measurement, MeasurementDraft, MeasurementKind, Notebook, Scan, ScanId,
};

pub(super) use form::section;
pub(super) use responses::keep_form;

use super::{found, found_in, sheet, store};
use crate::documents::{CSV_HEAD, FrameDocument, MADE_BY};
use crate::web::error::{PageResult, sentence};
use crate::web::form::Filled;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::tasks::{Standing, Task};
use crate::web::{App, PageError, clock};
use crate::whole_frame::{Settings, take};

pub(super) fn routes() -> Router<App> {
    let start = Router::new()
        .route("/scans/{id}/whole", post(start))
        .route("/scans/{id}/measurements/{measurement}/response", post(responses::keep))
        .route("/scans/{id}/responses/{response}/delete", post(responses::delete));
    let one = start
        .route("/scans/{id}/whole/{measurement}", get(show))
        .route("/scans/{id}/whole/{measurement}/again", post(again));
    one.route("/scans/{id}/whole/{measurement}/json", get(json)).route("/scans/{id}/whole/{measurement}/csv", get(csv))
}

/// What the task of a scan's measuring is about.
pub(super) fn about(id: ScanId) -> String {
    format!("scan/{id}/whole")
}

async fn start(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    let shown = scan.clone();
    let read = move |book: &mut Notebook| Ok::<_, PageError>((book.responses()?, planned::of_scan(book, &shown)?));
    let (responses, set_up) = app.notebook(read).await?;
    let Some(settings) = form::read(&mut filled, &scan, &responses) else {
        return sheet::come_back(&app, scan, filled, manners).await;
    };
    Ok(begin(&app, scan, Settings { set_up, ..settings }))
}

/// Measures the frame once more with the settings of a kept measurement, by this version.
async fn again(State(app): State<App>, Path((id, m)): Path<(String, String)>) -> Result<Response, PageError> {
    let (scan, _, document) = kept(&app, &id, &m).await?;
    Ok(begin(&app, scan, document.settings))
}

/// Begins in the background, and leads back to the scan's page, which shows how far it is.
fn begin(app: &App, scan: Scan, settings: Settings) -> Response {
    // A second press while it runs changes nothing.
    let running = app.tasks().about(&about(scan.id)).is_some_and(|task| task.standing == Standing::Running);
    let to = format!("/scans/{}#whole", scan.id);
    if !running {
        let task = app.tasks().start(format!("Measuring everything in {}", scan.file_name), about(scan.id));
        let app = app.clone();
        std::thread::spawn(move || run(&app, &scan, &settings, task));
    }
    Redirect::to(&to).into_response()
}

fn run(app: &App, scan: &Scan, settings: &Settings, task: Task) {
    let _turn = app.turn();
    let mut heard = |share: f64| {
        task.reached(share);
        if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let standing = match take(&store::file_of(app, &scan.stored), &scan.file_name, settings, &mut heard) {
        Ok(document) => match keep(app, scan, &document) {
            Ok(()) => Standing::Done,
            Err(why) => Standing::Failed(why),
        },
        Err(error) if error.is_cancelled() => Standing::Stopped,
        Err(crate::whole_frame::TakeError::Picture(error)) => Standing::Failed(format!("The file {}.", error.fault)),
        Err(error) => Standing::Failed(sentence(&error.to_string())),
    };
    task.end(standing);
}

/// The figures go into the notebook in one step, and the card's magnification becomes the scan's.
fn keep(app: &App, scan: &Scan, document: &FrameDocument) -> Result<(), String> {
    let draft = draft(scan.id, document).map_err(|error| error.to_string())?;
    let magnification = document
        .magnification
        .filter(|_| document.magnification_from == "card")
        .map(|m| Magnification { value: m.value, plus_minus: Some(m.plus_minus), from: MagnificationSource::Ruler });
    let id = scan.id;
    app.with_notebook(|book| {
        book.atomically(|book| {
            book.add_measurement(&draft, &clock::now())?;
            match magnification {
                Some(magnification) => book.set_scan_magnification(id, Some(magnification)),
                None => Ok(()),
            }
        })
    })
    .map_err(|error| error.to_string())
}

/// A measured frame as the notebook keeps it.
pub(crate) fn draft(scan: ScanId, document: &FrameDocument) -> Result<MeasurementDraft, serde_json::Error> {
    Ok(MeasurementDraft {
        scan,
        kind: MeasurementKind::Frame,
        label: String::new(),
        place: "{}".into(),
        result: serde_json::to_string(document)?,
        settings: serde_json::to_string(&document.settings)?,
        made_by: MADE_BY.into(),
    })
}

/// A kept frame; nothing when it is something else or cannot be read.
pub fn frame_of(m: &Measurement) -> Option<FrameDocument> {
    (m.kind == MeasurementKind::Frame).then(|| serde_json::from_str(&m.result).ok()).flatten()
}

async fn kept(app: &App, id: &str, measurement: &str) -> Result<(Scan, Measurement, FrameDocument), PageError> {
    let scan = found(app, id).await?;
    let measurement = found_in(app, &scan, measurement).await?;
    let document = frame_of(&measurement).ok_or_else(|| {
        PageError::missing("This was kept in a form that this version cannot read. Measure the frame again.".to_owned())
    })?;
    Ok((scan, measurement, document))
}

async fn show(State(app): State<App>, Path((id, m)): Path<(String, String)>, manners: Manners) -> PageResult {
    let (scan, measurement, document) = kept(&app, &id, &m).await?;
    Ok(page_of(&scan, &measurement, &document, manners))
}

fn page_of(scan: &Scan, measurement: &Measurement, document: &FrameDocument, manners: Manners) -> Html<String> {
    let base = format!("/scans/{}/whole/{}", scan.id, measurement.id);
    let body = html! {
        p.lead {
            a href=(format!("/scans/{}", scan.id)) { "The scan" } " · "
            a href=(format!("{base}/csv")) { "sharpness as CSV" } " · "
            a href=(format!("{base}/json")) { "all figures as JSON" }
            @if let Some(frame) = scan.frame { " · " a href=(format!("/bench/measured/{frame}")) { "beside what rays predict" } }
        }
        (page::result(document, manners.units))
        form.live method="post" action=(format!("{base}/again")) {
            div.actions { button { "Measure again with these settings" } }
            p.small { "By this version of the program, from the file as it lies here; what is shown above stays." }
        }
    };
    let title = format!("{}: the whole frame", scan.file_name);
    Sheet::new(&title, Place::Scans).wide().show(body)
}

async fn json(State(app): State<App>, Path((id, m)): Path<(String, String)>) -> Result<Response, PageError> {
    let (_, _, document) = kept(&app, &id, &m).await?;
    let text = crate::documents::to_json(&document)
        .map_err(|error| PageError::broken("The figures could not be written down.", error))?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text).into_response())
}

async fn csv(State(app): State<App>, Path((id, m)): Path<(String, String)>) -> Result<Response, PageError> {
    let (scan, measurement, document) = kept(&app, &id, &m).await?;
    let name = format!("attachment; filename=\"scan-{}-frame-{}.csv\"", scan.id, measurement.id);
    let headers = [(header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()), (header::CONTENT_DISPOSITION, name)];
    Ok((headers, format!("{CSV_HEAD}{}", document.csv_lines())).into_response())
}
