//! Blind trials: two pieces side by side, names hidden, until the person has picked enough or ends it.
//!
//! While a trial runs nothing that is sent says which scan is which: the pictures have addresses made from the trial's secret
//! number and the pick's, new for every pick; they carry no names or dates; and the names are not on the page.

mod begin;
mod form;
mod mark;
mod result;
mod run;
mod shown;

use axum::Router;
use axum::routing::{get, post};
use notebook::{Notebook, Pick, Trial, TrialId};

use super::{App, PageError};
use crate::trial::{Course, TrialDocument};

/// The word for a place that is marked in each scan.
const MARKED: &str = "marked";

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/jobs/{id}/trials", get(form::page).post(begin::begin))
        .route("/jobs/{id}/trials/mark", get(mark::page))
        .route("/trials/{id}", get(run::page))
        .route("/trials/{id}/pictures/{name}", get(run::picture))
        .route("/trials/{id}/picks", post(run::pick))
        .route("/trials/{id}/take-back", post(run::take_back))
        .route("/trials/{id}/end", post(run::end))
        .route("/trials/{id}/delete", post(run::delete))
        .route("/trials/{id}/outcome.json", get(result::json))
        .route("/trials/{id}/picks.csv", get(result::csv))
}

/// A kept trial, read.
pub(super) struct Kept {
    pub trial: Trial,
    pub document: TrialDocument,
    pub picks: Vec<Pick>,
}

impl Kept {
    /// How far it has come.
    pub fn course(&self) -> Course {
        Course::of_kept(&self.document, &self.picks)
    }

    /// The number of the pick that is due.
    pub fn due(&self) -> u32 {
        self.picks.last().map_or(1, |pick| pick.number + 1)
    }
}

/// The trial of an address; 404 in words when the number is none or names nothing.
async fn kept(app: &App, id: &str) -> Result<Kept, PageError> {
    let number: TrialId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a trial.")))?;
    let gone = format!("There is no trial {id}.");
    let read = move |book: &mut Notebook| {
        let trial = book.trial(number)?.ok_or_else(|| PageError::missing(gone))?;
        let picks = book.picks(number)?;
        let document = document(&trial)?;
        Ok::<_, PageError>(Kept { trial, document, picks })
    };
    app.notebook(read).await
}

/// What a trial shows.
fn document(trial: &Trial) -> Result<TrialDocument, PageError> {
    serde_json::from_str(&trial.draft.document)
        .map_err(|cause| PageError::broken("This trial was kept in a form that this version cannot read.", cause))
}
