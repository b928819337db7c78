//! Calibrating a lens or a close-up lens: which frames tell its true figures, what they tell, and whether set-ups use it.

mod by_hand;
mod charts;
mod forms;
mod kept;
mod page;
mod result;
mod seen;

use axum::Router;
use axum::routing::{get, post};

use super::App;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/kit/part/{id}/calibrate", get(page::page))
        .route("/kit/part/{id}/calibrate/choose", post(page::choose))
        .route("/kit/part/{id}/calibrate/frame", post(by_hand::add_frame))
        .route("/kit/part/{id}/calibrate/pupil", post(by_hand::add_pupil))
        .route("/kit/part/{id}/calibrate/pair", post(by_hand::add_pair))
        .route("/kit/part/{id}/calibrate/drop", post(by_hand::drop_one))
        .route("/kit/part/{id}/calibrate/use", post(page::use_these))
        .route("/kit/part/{id}/calibrate/forget", post(page::forget))
        .route("/kit/part/{id}/calibrate/file", get(page::file))
}
