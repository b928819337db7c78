//! The target card: a form, what will be printed, the PDF.

mod page;

use axum::Router;
use axum::routing::get;

use super::App;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/target", get(page::page)).route("/target/card.pdf", get(page::pdf))
}
