//! Which scan shows which frame: proposals with their reasons, a board to match by hand, and the way back from every step.

mod board;
mod facts;
mod page;
mod proposed;
mod steps;
mod trouble;

use axum::Router;
use axum::extract::{Path, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use notebook::{FrameId, Matched, Notebook, ScanId};

use super::form::Filled;
use super::jobs::found;
use super::{App, PageError};
use steps::{Done, Steps};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/jobs/{id}/matching", get(page::page))
        .route("/jobs/{id}/matching/set", post(set))
        .route("/jobs/{id}/matching/keep", post(keep))
        .route("/jobs/{id}/matching/undo", post(undo))
        .route("/jobs/{id}/matching/again", post(again))
        .route("/jobs/{id}/matching/undo-scan", post(undo_scan))
        .route("/jobs/{id}/matching/undo-all", post(undo_all))
}

/// Back to the page as it was asked for, with what happened.
fn back(id: &str, filled: &Filled, done: &Done) -> Redirect {
    let mut query = filled.untrimmed("query").to_owned();
    let mut said = form_urlencoded::Serializer::new(String::new());
    said.append_pair("said", &done.said);
    if !query.is_empty() {
        query.push('&');
    }
    Redirect::to(&format!("/jobs/{id}/matching?{query}{}", said.finish()))
}

async fn act(
    app: &App,
    id: &str,
    filled: Filled,
    change: impl FnOnce(&mut Notebook, &mut Steps) -> Result<Done, PageError> + Send + 'static,
) -> Result<Redirect, PageError> {
    let job = found(app, id).await?.id;
    let done = app.notebook(move |book| steps::act(book, job, change)).await?;
    Ok(back(id, &filled, &done))
}

fn scan_of(text: &str) -> Result<ScanId, PageError> {
    text.parse().map_err(|_| PageError::missing(format!("“{text}” is not the number of a scan.")))
}

/// Nothing for an empty text: the scan shows none of the frames.
fn frame_of(text: &str) -> Result<Option<FrameId>, PageError> {
    if text.is_empty() {
        return Ok(None);
    }
    text.parse().map(Some).map_err(|_| PageError::missing(format!("“{text}” is not the number of a frame.")))
}

/// One scan to one frame, or to none, by hand and eye.
async fn set(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Redirect, PageError> {
    let (scan, frame) = (scan_of(filled.text("scan"))?, frame_of(filled.text("frame"))?);
    let job = found(&app, &id).await?.id;
    let change = move |book: &mut Notebook, steps: &mut Steps| {
        steps.take(book, job, &[(scan, frame.map(|frame| (frame, Matched::Picture)))])
    };
    act(&app, &id, filled, change).await
}

/// The ticked proposals.
async fn keep(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Redirect, PageError> {
    let by = match filled.text("way") {
        "name" => Matched::Name,
        "code" => Matched::Code,
        _ => Matched::Order,
    };
    let mut pairs = Vec::new();
    for pair in filled.all("pair") {
        let (scan, frame) = pair.split_once(':').unwrap_or((pair, ""));
        pairs.push((scan_of(scan)?, frame_of(frame)?.map(|frame| (frame, by))));
    }
    if pairs.is_empty() {
        return Err(PageError::refused("No match was ticked.", "Go back and tick those that are right."));
    }
    let job = found(&app, &id).await?.id;
    act(&app, &id, filled, move |book, steps| steps.take(book, job, &pairs)).await
}

async fn undo(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Redirect, PageError> {
    act(&app, &id, filled, |book, steps| steps.undo(book)).await
}

async fn again(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Redirect, PageError> {
    act(&app, &id, filled, |book, steps| steps.again(book)).await
}

async fn undo_scan(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Redirect, PageError> {
    let scan = scan_of(filled.text("scan"))?;
    act(&app, &id, filled, move |book, steps| steps.undo_scan(book, scan)).await
}

async fn undo_all(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Redirect, PageError> {
    act(&app, &id, filled, |book, steps| steps.undo_all(book)).await
}
