//! The bench: what exact rays say of a set-up of the kit, of a design form, of a table of one's own.

mod alone;
mod charts;
mod choose;
mod desk;
mod fits;
mod library;
mod map;
mod measured;
mod of_kit;
mod own;
mod picture;
mod section;
mod shown;
mod spots;
mod tables;

pub use desk::Desk;
pub(super) use own::{may_go, unusable};
pub(super) use section::{drawn, glass_of};

use axum::Router;
use axum::routing::{get, post};

use super::App;
use super::setup::Picked;

/// The bench for a set-up of the kit.
pub(super) fn address_of(picked: &Picked) -> String {
    format!("/bench?{}", picked.query())
}

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/bench", get(library::page))
        .route("/bench/forms/{key}", get(alone::form))
        .route("/bench/table", get(alone::table))
        .route("/bench/tables", post(own::keep))
        .route("/bench/tables/{id}/delete", post(own::delete))
        .route("/bench/choose", post(choose::keep))
        .route("/bench/measured", get(measured::list))
        .route("/bench/measured/{frame}", get(measured::one))
        .route("/bench/fit", get(fits::page).post(fits::begin))
        .route("/bench/picture", get(picture::page).post(picture::begin))
        .route("/bench/pictures/{name}/{what}", get(picture::file))
}
