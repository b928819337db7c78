//! The verdict: per job, which measured set-ups are good enough, and by how much.

mod evidence;
mod page;

use axum::Router;
use axum::routing::{get, post};

use super::App;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/verdict", get(page::page))
        .route("/jobs/{id}/decisions", post(page::decide))
        .route("/decisions/{job}/{id}/delete", post(page::take_back))
}
