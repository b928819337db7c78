//! Who asks: a paired phone, known by the token in its cookie; and how it is answered when something is wrong.

use axum::extract::FromRequestParts;
use axum::http::StatusCode;
use axum::http::request::Parts;
use axum::response::{Html, IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};
use notebook::{Device, Notebook};

use super::random;
use crate::web::manners::cookie;
use crate::web::{App, PageError, clock};

/// The cookie that holds a phone's token.
pub const COOKIE: &str = "phone";

/// A phone that is paired and was not turned away; an extractor.
#[derive(Debug, Clone)]
pub struct Phone(pub Device);

impl FromRequestParts<App> for Phone {
    type Rejection = PhoneError;

    async fn from_request_parts(parts: &mut Parts, app: &App) -> Result<Self, PhoneError> {
        let token = cookie(parts, COOKIE).ok_or_else(PhoneError::not_paired)?;
        let hash = random::hash(token);
        let device = app.notebook(move |book| seen(book, &hash)).await?.ok_or_else(PhoneError::not_paired)?;
        if device.revoked.is_some() {
            return Err(PhoneError::turned_away());
        }
        Ok(Self(device))
    }
}

/// The phone of a token; that it was heard of is noted once a minute.
fn seen(book: &mut Notebook, hash: &str) -> Result<Option<Device>, PageError> {
    let Some(device) = book.device_with_token(hash)? else { return Ok(None) };
    let now = clock::now();
    if device.revoked.is_none() && device.seen.get(..16) != now.get(..16) {
        book.set_device_seen(device.id, &now)?;
    }
    Ok(Some(device))
}

/// A refusal or failure as a phone is told it.
#[derive(Debug)]
pub struct PhoneError {
    status: StatusCode,
    what: String,
    advice: String,
    pair: bool,
}

impl PhoneError {
    /// 401: nobody knows this phone.
    pub fn not_paired() -> Self {
        Self {
            status: StatusCode::UNAUTHORIZED,
            what: "This phone is not paired.".into(),
            advice: "At the computer, open “Phones” and show a code; then pair here. What is kept on the phone stays."
                .into(),
            pair: true,
        }
    }

    /// 401 too: this phone was turned away.
    fn turned_away() -> Self {
        Self {
            status: StatusCode::UNAUTHORIZED,
            what: "This phone was turned away at the computer.".into(),
            advice: "If that was a mistake, pair it again. What is kept on the phone stays and can be sent then."
                .into(),
            pair: true,
        }
    }

    /// 403: the roll is not among those that were opened.
    pub fn not_open(roll: &str) -> Self {
        let what = format!("Roll {roll} is not open for phones.");
        let advice =
            "At the computer, open the roll's log and press “Take it to the camera”. What is kept on the phone stays.";
        Self { status: StatusCode::FORBIDDEN, what, advice: advice.into(), pair: false }
    }

    /// 409: what was sent does not go on where the last piece ended.
    pub fn conflict(what: impl Into<String>) -> Self {
        let advice = "The phone asks again by itself.".into();
        Self { status: StatusCode::CONFLICT, what: what.into(), advice, pair: false }
    }
}

impl From<PageError> for PhoneError {
    fn from(error: PageError) -> Self {
        error.log();
        Self { status: error.status(), what: error.what().into(), advice: error.advice().into(), pair: false }
    }
}

impl IntoResponse for PhoneError {
    fn into_response(self) -> Response {
        let body = html! {
            div.refusal role="alert" { p.what { (self.what) } p { (self.advice) } }
            @if self.pair { div.actions { a.button.main href="/pair" { "Pair this phone" } } }
        };
        (self.status, plain("That cannot be done", body)).into_response()
    }
}

/// A page for a phone beside the log itself: no navigation, for there is nothing else here.
pub fn plain(title: &str, body: Markup) -> Html<String> {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(title, None))
            body.camera-plain { main { h1 { (title) } (body) } }
        }
    };
    Html(markup.into_string())
}

/// What every page for a phone loads.
pub fn head(title: &str, script: Option<&str>) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover";
            meta name="color-scheme" content="light dark";
            meta name="format-detection" content="telephone=no";
            title { (title) " · Closework" }
            link rel="icon" type="image/svg+xml" href="/assets/mark.svg";
            link rel="stylesheet" href="/assets/style.css";
            link rel="stylesheet" href="/assets/log.css";
            script src="/assets/light.js" {}
            @if let Some(script) = script { script type="module" src=(script) {} }
        }
    }
}
