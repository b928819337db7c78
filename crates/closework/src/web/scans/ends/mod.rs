//! Samples at the ends of the file's range, where there is no detail left to be measured: counted and marked on demand,
//! in the background, from the file's own samples at full resolution.
//!
//! `POST /scans/{id}/ends` starts the work, `GET` says how far it is and what was counted, and
//! `/scans/{id}/ends/{level}/{column}_{row}` is a tile of marks (`marks.rs`), empty (204) where none is.

mod marks;

use std::ops::ControlFlow;
use std::path::{Path as FilePath, PathBuf};

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use axum::{Json, Router};
use imaging::pyramid;
use notebook::{Scan, ScanId};
use serde::Serialize;

use super::{found, store};
use crate::web::tasks::{Standing, Task};
use crate::web::{App, PageError, off_thread};
use marks::Counts;

const COUNTS: &str = "ends.json";

/// What a script learns about the marks of a scan.
#[derive(Debug, Serialize)]
#[serde(rename_all = "snake_case", tag = "state")]
enum Ends {
    /// Nobody has asked for them yet.
    Absent,
    /// Being made.
    Working { share: Option<f64> },
    /// They could not be made, or were stopped.
    Failed { why: String },
    /// There.
    Ready(Counts),
}

pub(super) fn routes() -> Router<App> {
    Router::new().route("/scans/{id}/ends", get(state).post(begin)).route("/scans/{id}/ends/{level}/{tile}", get(tile))
}

/// What the work on a scan's marks is about.
pub(super) fn about(id: ScanId) -> String {
    format!("ends/{id}")
}

fn load(folder: &FilePath) -> Option<Counts> {
    serde_json::from_str(&std::fs::read_to_string(folder.join(COUNTS)).ok()?).ok()
}

async fn look(app: &App, scan: &Scan) -> Result<Ends, PageError> {
    let folder = store::ends_of(app, &scan.stored);
    if let Some(counts) = off_thread(move || load(&folder)).await? {
        return Ok(Ends::Ready(counts));
    }
    let report = app.tasks().about(&about(scan.id));
    Ok(match report.map(|report| (report.standing, report.share)) {
        None | Some((Standing::Done, _)) => Ends::Absent,
        Some((Standing::Running, share)) => Ends::Working { share },
        Some((Standing::Stopped, _)) => Ends::Failed { why: "It was stopped.".into() },
        Some((Standing::Failed(why), _)) => Ends::Failed { why },
    })
}

async fn state(State(app): State<App>, Path(id): Path<String>) -> Result<Json<Ends>, PageError> {
    let scan = found(&app, &id).await?;
    look(&app, &scan).await.map(Json)
}

async fn begin(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    match look(&app, &scan).await? {
        there @ (Ends::Ready(_) | Ends::Working { .. }) => Ok(Json(there).into_response()),
        Ends::Absent | Ends::Failed { .. } => {
            let task = app.tasks().start(format!("Looking for clipped samples in scan {id}"), about(scan.id));
            std::thread::spawn(move || mark(&app, &scan, task));
            Ok((StatusCode::ACCEPTED, Json(Ends::Working { share: None })).into_response())
        }
    }
}

/// Marks a scan on this thread, when no other work takes all cores.
fn mark(app: &App, scan: &Scan, task: Task) {
    let _turn = app.turn();
    let mut heard = |share: f64| {
        task.reached(share);
        if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let standing = match make(app, scan, &mut heard) {
        Ok(()) => Standing::Done,
        Err(_) if task.must_stop() => Standing::Stopped,
        Err(why) => Standing::Failed(why),
    };
    task.end(standing);
}

fn make(app: &App, scan: &Scan, heard: &mut dyn FnMut(f64) -> ControlFlow<()>) -> Result<(), String> {
    let folder = store::ends_of(app, &scan.stored);
    let unfinished = Unfinished::create(folder.with_extension("ends.part")).map_err(|e| e.to_string())?;
    let in_words = |error: imaging::ImagingError| format!("The file {}.", error.fault);
    let pyramid = pyramid::load(&store::tiles_of(app, &scan.stored)).map_err(in_words)?;
    let mut file = imaging::Scan::open(&store::file_of(app, &scan.stored)).map_err(in_words)?;
    let counts = marks::write(&mut file, &pyramid, &unfinished.0, heard).map_err(in_words)?;
    let text = serde_json::to_string(&counts).map_err(|e| e.to_string())?;
    std::fs::write(unfinished.0.join(COUNTS), text).map_err(|e| e.to_string())?;
    std::fs::rename(&unfinished.0, &folder).map_err(|e| e.to_string())
}

/// A folder that goes when it was not given its name.
struct Unfinished(PathBuf);

impl Unfinished {
    fn create(path: PathBuf) -> std::io::Result<Self> {
        // What a killed program left under this name is of no use to anybody.
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(&path)?;
        Ok(Self(path))
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// All that reaches the file system are numbers.
async fn tile(
    State(app): State<App>,
    Path((id, level, tile)): Path<(String, String, String)>,
) -> Result<Response, PageError> {
    let nothing = || PageError::missing(format!("There are no marks {tile} on level {level} of scan {id}."));
    let (column, row) = tile.split_once('_').ok_or_else(nothing)?;
    let number = |text: &str| text.parse::<u32>().map_err(|_| nothing());
    let (level, column, row) = (number(&level)?, number(column)?, number(row)?);
    let scan = found(&app, &id).await?;
    let (tiles, ends) = (store::tiles_of(&app, &scan.stored), store::ends_of(&app, &scan.stored));
    let read = move || {
        load(&ends)?;
        pyramid::load(&tiles).ok()?.tile_name(level, column, row)?;
        Some(std::fs::read(ends.join(level.to_string()).join(format!("{column}_{row}"))).unwrap_or_default())
    };
    let runs = off_thread(read).await?.ok_or_else(nothing)?;
    let head = [(CONTENT_TYPE, "application/octet-stream"), (CACHE_CONTROL, "private, no-cache")];
    let status = if runs.is_empty() { StatusCode::NO_CONTENT } else { StatusCode::OK };
    Ok((status, head, runs).into_response())
}
