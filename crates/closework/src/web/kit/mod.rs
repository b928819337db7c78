//! The kit: bodies, lenses, attachments; entered, changed, read from a file and written to one.

mod bring;
mod list;
mod sheet;

use axum::Router;
use axum::routing::{get, post};

use super::App;

pub(super) use sheet::id_from;

/// One part in a form, for pages that keep it elsewhere than in the kit.
pub(super) mod part_sheet {
    pub use super::sheet::{fields, read};
}

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/kit", get(list::page))
        .route("/kit/file", get(bring::export))
        .route("/kit/bring", get(bring::form).post(bring::import))
        .route("/kit/new/{kind}", get(sheet::new).post(sheet::add))
        .route("/kit/part/{id}", get(sheet::edit).post(sheet::update))
        .route("/kit/part/{id}/delete", post(sheet::delete))
}
