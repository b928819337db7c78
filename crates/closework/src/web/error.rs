//! The one place where something that went wrong becomes a page in words.

use axum::http::{Method, StatusCode, Uri};
use axum::response::{Html, IntoResponse, Response};
use maud::html;
use notebook::NotebookError;

use super::layout::{Place, page};

/// What a handler returns.
pub type PageResult = Result<Html<String>, PageError>;

/// A refusal or failure, told in words; becomes a page with the right status and is logged once.
#[derive(Debug)]
pub struct PageError {
    status: StatusCode,
    what: String,
    advice: String,
    cause: Option<String>,
}

impl PageError {
    fn new(status: StatusCode, what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self { status, what: what.into(), advice: advice.into(), cause: None }
    }

    /// 404: the thing asked for is not in the notebook. `what` is a sentence: "There is no scan 12."
    pub fn missing(what: impl Into<String>) -> Self {
        let advice = "It may have been deleted, or the address may be mistyped. The pages above lead everywhere.";
        Self::new(StatusCode::NOT_FOUND, what, advice)
    }

    /// 422: the request was understood and cannot be done as it stands; `what` says why, `advice` what to do.
    pub fn refused(what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, what, advice)
    }

    /// 403: the request did not come from Closework's own pages.
    pub fn forbidden(what: impl Into<String>) -> Self {
        Self::new(StatusCode::FORBIDDEN, what, "Open Closework at the address it printed when it started.")
    }

    /// 413: more was sent than there is room or reason for.
    pub fn too_large(what: impl Into<String>, advice: impl Into<String>) -> Self {
        Self::new(StatusCode::PAYLOAD_TOO_LARGE, what, advice)
    }

    /// 500: a fault of the program, its disk or its notebook; `cause` goes to the log and, in small type, to the page.
    pub fn broken(what: impl Into<String>, cause: impl std::fmt::Display) -> Self {
        let advice = "Nothing saved was lost. Try again; if it happens again, the line below says what to report.";
        Self { cause: Some(cause.to_string()), ..Self::new(StatusCode::INTERNAL_SERVER_ERROR, what, advice) }
    }

    /// The status the page will carry.
    pub fn status(&self) -> StatusCode {
        self.status
    }

    /// The sentence that says what is wrong.
    pub fn what(&self) -> &str {
        &self.what
    }

    /// What to do about it.
    pub fn advice(&self) -> &str {
        &self.advice
    }

    /// Tells the log of it, once, when the program is at fault.
    pub fn log(&self) {
        if let Some(cause) = &self.cause {
            eprintln!("closework: {} ({cause})", self.what);
        }
    }
}

impl From<NotebookError> for PageError {
    /// What the notebook says is already in a photographer's words; here it gets its status.
    fn from(error: NotebookError) -> Self {
        use NotebookError as E;
        let what = sentence(&error.to_string());
        match error {
            E::NoSuchPart { .. }
            | E::NoSuchJob { .. }
            | E::NoSuchRoll { .. }
            | E::NoSuchFrame { .. }
            | E::NoSuchScan { .. }
            | E::NoSuchMeasurement { .. }
            | E::NoSuchDecision { .. }
            | E::NoSuchDevice { .. }
            | E::NoSuchPhoto { .. }
            | E::NoSuchTrial { .. }
            | E::NoSuchFilm { .. }
            | E::NoSuchResponse { .. }
            | E::NoSuchUse { .. } => Self::missing(what),
            E::TrialEnded { .. } => {
                Self::refused(what, "Begin another trial: picks count only while the names are hidden.")
            }
            E::PickTaken { .. } | E::PickOfOne { .. } => {
                Self::refused(what, "Go back to the trial; the pair to judge next stands there.")
            }
            E::DuplicatePart { .. }
            | E::FrameNumberTaken { .. }
            | E::UseTitleTaken { .. }
            | E::ResponseNameTaken { .. }
            | E::FrameOfAnotherJob { .. }
            | E::StoredNameTaken { .. }
            | E::Value { .. }
            | E::Blank { .. } => Self::refused(what, "Go back; what you typed is still in the form."),
            _ => Self::broken("The notebook could not do this.", what),
        }
    }
}

/// With a capital and a full stop.
pub fn sentence(text: &str) -> String {
    let mut letters = text.trim().chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    let stop = if text.trim().ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        self.log();
        let title = match self.status {
            StatusCode::NOT_FOUND => "Not here",
            StatusCode::INTERNAL_SERVER_ERROR => "Something broke",
            _ => "That cannot be done",
        };
        let body = html! {
            div.refusal role="alert" {
                p.what { (self.what) }
                p { (self.advice) }
                @if let Some(cause) = &self.cause { p.cause { code { (cause) } } }
                // The script leads back to the page before, with what was typed there; the address before is not sent along.
                p { a href="/jobs" data-back { "To the list of jobs" } }
            }
        };
        (self.status, page(title, Place::Nowhere, body)).into_response()
    }
}

/// The page for an address that nothing answers.
pub(super) async fn no_such_page(uri: Uri) -> PageError {
    PageError::missing(format!("There is no page at {}.", uri.path()))
}

/// The page for a request of the wrong kind, such as an old bookmark of a form's target.
pub(super) async fn wrong_method(method: Method, uri: Uri) -> PageError {
    let what = format!("{} does not answer {method} requests.", uri.path());
    PageError::new(StatusCode::METHOD_NOT_ALLOWED, what, "Go back to the page with the form and send it from there.")
}
