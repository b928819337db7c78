//! How this person likes their pages: millimetres or inches, and the light.

use std::convert::Infallible;

use axum::Router;
use axum::extract::FromRequestParts;
use axum::http::header::{COOKIE, SET_COOKIE};
use axum::http::request::Parts;
use axum::response::{AppendHeaders, IntoResponse, Redirect};
use axum::routing::post;

use super::App;
use super::form::Filled;

/// The unit that lengths are shown in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// Millimetres, as everything is kept.
    #[default]
    Millimetres,
    /// Inches of 25.4 mm exactly.
    Inches,
}

/// The person's choices, from their browser's cookie; an extractor that never fails.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Manners {
    /// The unit that lengths are shown in.
    pub units: Units,
}

impl<S: Sync> FromRequestParts<S> for Manners {
    type Rejection = Infallible;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        let units = if cookie(parts, "units") == Some("in") { Units::Inches } else { Units::Millimetres };
        Ok(Self { units })
    }
}

pub(super) fn cookie<'a>(parts: &'a Parts, name: &str) -> Option<&'a str> {
    let all = parts.headers.get_all(COOKIE).iter().filter_map(|v| v.to_str().ok());
    all.flat_map(|v| v.split(';')).filter_map(|pair| pair.trim().split_once('=')).find(|(n, _)| *n == name).map(|p| p.1)
}

pub(super) fn routes() -> Router<App> {
    Router::new().route("/manners", post(choose))
}

/// Without scripts the footer's buttons land here; with them the page sets the same cookies itself and stays.
async fn choose(filled: Filled) -> impl IntoResponse {
    let known = [("units", &["mm", "in"][..]), ("light", &["auto", "paper", "dim", "red"][..])];
    let chosen = known.iter().filter(|(name, values)| values.contains(&filled.text(name)));
    let cookies: Vec<_> = chosen
        .map(|(name, _)| {
            (SET_COOKIE, format!("{name}={}; Path=/; Max-Age=31536000; SameSite=Strict", filled.text(name)))
        })
        .collect();
    (AppendHeaders(cookies), Redirect::to("/"))
}
