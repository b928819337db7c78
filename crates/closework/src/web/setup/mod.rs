//! One set-up: its parts, the drawing to scale, every figure, recomputed while the sliders move.

mod apertures;
mod drawing;
mod figures;
mod formats;
mod frame_sketch;
mod page;
mod picked;

pub use figures::refusal;
pub use page::computed;
pub use picked::{Picked, pickers};

use axum::Router;
use axum::routing::get;

use super::App;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/set-up", get(page::page)).route("/set-up/figures", get(page::fragment))
}
