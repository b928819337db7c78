//! The style sheet and the scripts, inside the binary.

use std::hash::{DefaultHasher, Hash, Hasher};

use axum::Router;
use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use axum::routing::get;

use super::App;
use super::error::PageError;

/// Name, media type, content of each file.
type Asset = (&'static str, &'static str, &'static str);

const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

const ASSETS: &[Asset] = &[
    ("style.css", CSS, include_str!("../../assets/style.css")),
    ("light.js", JS, include_str!("../../assets/light.js")),
    ("sheet.js", JS, include_str!("../../assets/sheet.js")),
    ("arrive.js", JS, include_str!("../../assets/arrive.js")),
    ("tiles.js", JS, include_str!("../../assets/tiles.js")),
    ("viewer.js", JS, include_str!("../../assets/viewer.js")),
    ("regions.js", JS, include_str!("../../assets/regions.js")),
    ("ends.js", JS, include_str!("../../assets/ends.js")),
    ("scan.js", JS, include_str!("../../assets/scan.js")),
    ("side.js", JS, include_str!("../../assets/side.js")),
    ("side-over.js", JS, include_str!("../../assets/side-over.js")),
    ("side-loupe.js", JS, include_str!("../../assets/side-loupe.js")),
    ("setup.js", JS, include_str!("../../assets/setup.js")),
    ("reach.js", JS, include_str!("../../assets/reach.js")),
    ("matching.js", JS, include_str!("../../assets/matching.js")),
    ("kit.js", JS, include_str!("../../assets/kit.js")),
    ("test-roll.js", JS, include_str!("../../assets/test-roll.js")),
    ("trial.js", JS, include_str!("../../assets/trial.js")),
    ("log.css", CSS, include_str!("../../assets/log.css")),
    ("log.js", JS, include_str!("../../assets/log.js")),
    ("log-kept.js", JS, include_str!("../../assets/log-kept.js")),
    ("phones.js", JS, include_str!("../../assets/phones.js")),
    ("mark.svg", "image/svg+xml", include_str!("../../assets/mark.svg")),
];

pub(super) fn routes() -> Router<App> {
    Router::new().route("/assets/{name}", get(asset))
}

/// Always asked for anew and mostly answered "unchanged": a new version of the program never meets an old script.
async fn asset(Path(name): Path<String>, headers: HeaderMap) -> Result<Response, PageError> {
    let (kind, content) = find(&name).ok_or_else(|| PageError::missing(format!("There is no file {name} here.")))?;
    let tag = tag(content);
    let common = [(ETAG, tag.clone()), (CACHE_CONTROL, "no-cache".into())];
    if headers.get(IF_NONE_MATCH).is_some_and(|known| known.as_bytes() == tag.as_bytes()) {
        return Ok((StatusCode::NOT_MODIFIED, common).into_response());
    }
    Ok((common, [(CONTENT_TYPE, kind)], content).into_response())
}

/// The media type and the content of a file.
pub(super) fn find(name: &str) -> Option<(&'static str, &'static str)> {
    ASSETS.iter().find(|(n, ..)| *n == name).map(|(_, kind, content)| (*kind, *content))
}

fn tag(content: &str) -> String {
    let mut hasher = DefaultHasher::new();
    content.hash(&mut hasher);
    format!("\"{:016x}\"", hasher.finish())
}
