//! Pocket cards: which set-ups, what they will show, the PDF and the page for a phone.

mod page;

use axum::Router;
use axum::routing::get;

use super::App;
use super::setup::Picked;

/// The query of the page with one set-up chosen. The card goes through its draw or travel, wherever they are set.
pub(super) fn query_of(picked: &Picked) -> String {
    form_urlencoded::Serializer::new(String::new()).append_pair("set-up", &picked.parts.join(",")).finish()
}

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/pocket-cards", get(page::page))
        .route("/pocket-cards/cards.pdf", get(page::pdf))
        .route("/pocket-cards/cards.html", get(page::phone))
}
