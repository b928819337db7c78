//! The verdict's pages: one for each job, one for the whole drawer; uses with their limits; prices; what is wished for.
//!
//! They show a [`crate::documents::VerdictDocument`] and decide nothing themselves.

mod decisions;
mod foreseen;
mod page;
mod parts;
mod prices;
mod shown;
mod uses;
mod wishes;

use axum::Router;
use axum::routing::{get, post};

use super::App;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/verdict", get(page::drawer))
        .route("/jobs/{id}/verdict", get(page::job))
        .route("/jobs/{id}/decisions", post(decisions::decide))
        .route("/decisions/{job}/{id}/delete", post(decisions::take_back))
        .route("/jobs/{id}/uses/new", get(uses::new))
        .route("/jobs/{id}/uses", post(uses::add))
        .route("/uses/{id}", get(uses::edit).post(uses::update))
        .route("/uses/{id}/delete", post(uses::delete))
        .route("/verdict/prices", post(prices::save))
        .route("/wishes/new", get(wishes::new).post(wishes::add))
        .route("/wishes/{id}/delete", post(wishes::delete))
        .route("/wishes/{id}/came", post(wishes::came))
}
