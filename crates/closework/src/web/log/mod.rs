//! The log: what was exposed, said at the camera with a phone and shown at the computer.
//!
//! Two sets of routes that have nothing in common. The computer's (`routes`) answer on loopback like every other page: there
//! the person opens the door, pairs phones, opens rolls to them, and sees what was logged. The phone's ([`at_camera::router`])
//! answer on a listener of their own ([`door`]), only while that is open, only to paired phones (`pairing`), and hold
//! nothing but the log of the rolls that were opened.

pub mod arriving;
pub mod at_camera;
mod desk;
pub mod door;
pub mod here;
mod pairing;
mod phone;
mod photos;
mod qr;
mod random;
mod roll;
mod sheet;

pub use door::Door;
pub use phone::PhoneError;

use std::sync::{Mutex, MutexGuard, PoisonError};

use axum::Router;
use axum::routing::{get, post};
use notebook::{Roll, RollId};

use super::{App, PageError};

/// The setting that opens the door at each start.
pub const AT_START: &str = "phones-at-start";

/// What the running program holds for phones: the door, and the turn of photos that arrive.
#[derive(Debug, Default)]
pub struct Camera {
    /// The listener and the code.
    pub door: Door,
    photos: Mutex<()>,
}

impl Camera {
    /// Waits for the turn to write photos: pieces of one picture must not be written over each other.
    fn photo_turn(&self) -> MutexGuard<'_, ()> {
        self.photos.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/phones", get(desk::page))
        .route("/phones/open", post(desk::open))
        .route("/phones/close", post(desk::close))
        .route("/phones/code", post(desk::code))
        .route("/phones/at-start", post(desk::at_start))
        .route("/phones/{id}/revoke", post(desk::revoke))
        .route("/rolls/{id}/log", get(roll::page))
        .route("/rolls/{id}/at-camera", post(roll::at_camera))
        .route("/photos/{id}", get(roll::photo))
        .route("/photos/{id}/delete", post(roll::delete_photo))
}

/// The roll of an address; 404 in words when the number is none or names nothing.
async fn found(app: &App, id: &str) -> Result<Roll, PageError> {
    let number: RollId = id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a roll.")))?;
    let roll = app.notebook(move |book| book.roll(number)).await?;
    roll.ok_or_else(|| PageError::missing(format!("There is no roll {id}.")))
}

/// A code for tests, as random as any.
#[cfg(test)]
pub(crate) fn test_code() -> pairing::Code {
    pairing::Code::of(random::number().expect("randomness"))
}
