//! Jobs: what has to be photographed, how large, for what use; their rolls and frames.

mod frame;
mod list;
mod need;
mod one;
mod roll;
mod sheet;

pub use need::{Standing, need_for, need_of, standing};

use axum::Router;
use axum::routing::{get, post};
use notebook::{Job, JobId};

use super::{App, PageError};

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/", get(list::front))
        .route("/jobs", get(list::page))
        .route("/example/remove", post(list::without_example))
        .route("/jobs/new", get(sheet::new).post(sheet::add))
        .route("/jobs/{id}", get(one::page))
        .route("/jobs/{id}/edit", get(sheet::edit).post(sheet::update))
        .route("/jobs/{id}/delete", post(sheet::delete))
        .route("/jobs/{id}/rolls", post(roll::add))
        .route("/jobs/{id}/frames/new", get(frame::new).post(frame::add))
        .route("/rolls/{id}/delete", post(roll::delete))
        .route("/frames/{id}", get(frame::edit).post(frame::update))
        .route("/frames/{id}/shot", post(frame::shot))
        .route("/frames/{id}/delete", post(frame::delete))
}

/// The job of an address; 404 in words when the number is none or names nothing.
pub async fn found(app: &App, id: &str) -> Result<Job, PageError> {
    let number: JobId = id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a job.")))?;
    let job = app.notebook(move |book| book.job(number)).await?;
    job.ok_or_else(|| PageError::missing(format!("There is no job {id}.")))
}
