//! The scans by the IIIF Image API 3.0: one address for each region at each size, which other programs on this
//! machine, and pages years from now, can rely on.
//!
//! * `/iiif/scans/{id}/info.json` describes a scan; `/iiif/scans/{id}` leads to it.
//! * `/iiif/scans/{id}/{region}/{size}/0/{quality}.jpg` is a picture. Regions that are tiles of the pyramid are answered
//!   with the stored bytes, all others are composed from the nearest finer level (`compose.rs`).
//! * The qualities are `default`, `color`, `gray` (luminance of linear light) and, beyond the standard's, `red`, `green`
//!   and `blue`: one channel of the viewing tiles, which are sRGB, as grey.
//!
//! **Which level is claimed.** Level 1 asks for answers that pages of other sites may read
//! (`Access-Control-Allow-Origin`). The scans are private, so that this is for the person to say: `serve --pictures-for
//! SITE` names the sites, and then the answers are level 1 in full. Until then that header is sent to this server's own
//! addresses alone (`127.0.0.1`, `localhost` and `[::1]` with its port), and level 0 is claimed with everything else of
//! level 1 listed as extra features. Programs that are no browsers are not concerned.

mod compose;
mod readers;
mod request;

use std::path::PathBuf;

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::{
    ACCEPT, ACCESS_CONTROL_ALLOW_ORIGIN, CACHE_CONTROL, CONTENT_TYPE, ETAG, HOST, IF_NONE_MATCH, LINK, LOCATION,
    ORIGIN, RETRY_AFTER, VARY,
};
use axum::http::{HeaderMap, HeaderValue, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use imaging::pyramid::{self, Pyramid};
use notebook::{Scan, ScanState};
use serde_json::{Value, json};

use super::{found, store};
use crate::web::{App, PageError, off_thread};
pub use readers::PictureReader;
use request::{MAX_SIDE, Refusal, Request};

const CONTEXT: &str = "http://iiif.io/api/image/3/context.json";
/// What there is of level 1 besides other sites' reading, by the names of the standard's section 5.7.
const OF_LEVEL_1: [&str; 6] =
    ["baseUriRedirect", "jsonldMediaType", "regionByPx", "regionSquare", "sizeByH", "sizeByW"];
const BEYOND_LEVEL_1: [&str; 3] = ["canonicalLinkHeader", "profileLinkHeader", "sizeByWh"];
const JSON_LD: &str = "application/ld+json;profile=\"http://iiif.io/api/image/3/context.json\"";
/// An address that carries the stored name never changes its answer; any other is asked for again and mostly unchanged.
const FOREVER: &str = "private, max-age=31536000, immutable";
const ASK_AGAIN: &str = "private, no-cache";

pub(super) fn routes() -> Router<App> {
    let base = Router::new().route("/iiif/scans/{id}", get(base)).route("/iiif/scans/{id}/", get(base));
    base.route("/iiif/scans/{id}/info.json", get(info))
        .route("/iiif/scans/{id}/{region}/{size}/{rotation}/{file}", get(picture))
}

/// The address of a picture of a scan, for our own pages; it may be kept for ever.
pub(crate) fn address(scan: &Scan, request: &str) -> String {
    format!("/iiif/scans/{}/{request}?v={}", scan.id, scan.stored)
}

/// What is answered instead, in a sentence.
enum Instead {
    Refused(Refusal),
    Page(PageError),
    NotYet,
}

impl From<Refusal> for Instead {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl From<PageError> for Instead {
    fn from(error: PageError) -> Self {
        Self::Page(error)
    }
}

/// Sections 7.1 and 7.2: the status says what is wrong, the body says it in words.
impl IntoResponse for Instead {
    fn into_response(self) -> Response {
        let kind = [(CONTENT_TYPE, "text/plain; charset=utf-8")];
        match self {
            Self::Refused(Refusal::Wrong(why)) => (StatusCode::BAD_REQUEST, kind, why).into_response(),
            Self::Refused(Refusal::NotOffered(why)) => (StatusCode::NOT_IMPLEMENTED, kind, why).into_response(),
            Self::Page(error) if error.status() == StatusCode::NOT_FOUND => {
                (StatusCode::NOT_FOUND, kind, error.what().to_owned()).into_response()
            }
            Self::Page(error) => error.into_response(),
            Self::NotYet => {
                let why = "This scan is still being prepared; ask again in a moment.";
                (StatusCode::SERVICE_UNAVAILABLE, kind, [(RETRY_AFTER, "2")], why).into_response()
            }
        }
    }
}

/// A scan with its pyramid.
struct Shown {
    scan: Scan,
    pyramid: Pyramid,
    folder: PathBuf,
}

async fn shown(app: &App, id: &str) -> Result<Shown, Instead> {
    let scan = found(app, id).await?;
    let folder = store::tiles_of(app, &scan.stored);
    let looked = folder.clone();
    let loaded = off_thread(move || pyramid::load(&looked)).await?;
    match (loaded, &scan.state) {
        (Ok(pyramid), _) => Ok(Shown { scan, pyramid, folder }),
        (Err(_), ScanState::Failed { why }) => {
            Err(PageError::missing(format!("Scan {id} cannot be shown: {why}")).into())
        }
        (Err(_), ScanState::Arriving | ScanState::Preparing { .. }) => Err(Instead::NotYet),
        (Err(error), ScanState::Ready) => {
            Err(PageError::broken("The tiles of this scan cannot be read.", error).into())
        }
    }
}

/// The scan's address as this client wrote it; the guard has let only our own names through.
fn address_of(app: &App, headers: &HeaderMap, id: &str) -> String {
    let host = headers
        .get(HOST)
        .and_then(|h| h.to_str().ok())
        .map_or_else(|| format!("127.0.0.1:{}", app.port()), str::to_owned);
    format!("http://{host}/iiif/scans/{id}")
}

/// The level that is claimed.
fn level(app: &App) -> &'static str {
    if app.picture_readers().is_empty() { "level0" } else { "level1" }
}

fn profile(app: &App) -> String {
    format!("<http://iiif.io/api/image/3/{}.json>;rel=\"profile\"", level(app))
}

/// Whom the answer may be read by: our own addresses, and the sites that the person named.
fn for_readers(app: &App, headers: &HeaderMap, answer: impl IntoResponse) -> Response {
    let mut answer = answer.into_response();
    answer.headers_mut().append(VARY, HeaderValue::from_static("Origin"));
    let ours = ["127.0.0.1", "localhost", "[::1]"].map(|name| format!("http://{name}:{}", app.port()));
    let Some(origin) = headers.get(ORIGIN).and_then(|origin| origin.to_str().ok()) else { return answer };
    let own = ours.iter().any(|own| own == origin).then_some(origin);
    let allowed = own.or_else(|| readers::allowed(app.picture_readers(), origin));
    if let Some(allowed) = allowed.and_then(|allowed| HeaderValue::from_str(allowed).ok()) {
        answer.headers_mut().insert(ACCESS_CONTROL_ALLOW_ORIGIN, allowed);
    }
    answer
}

/// Section 2: the address of the scan alone leads to its description.
async fn base(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    let answer = match found(&app, &id).await {
        Ok(scan) => {
            let next = format!("{}/info.json", address_of(&app, &headers, &scan.id.to_string()));
            (StatusCode::SEE_OTHER, [(LOCATION, next)]).into_response()
        }
        Err(error) => Instead::from(error).into_response(),
    };
    for_readers(&app, &headers, answer)
}

async fn info(State(app): State<App>, Path(id): Path<String>, headers: HeaderMap) -> Response {
    let answer = match shown(&app, &id).await {
        Ok(shown) => {
            let address = address_of(&app, &headers, &shown.scan.id.to_string());
            let kind = if wants_json_ld(&headers) { JSON_LD } else { "application/json" };
            let link = profile(&app);
            let head = [(CONTENT_TYPE, kind), (LINK, link.as_str()), (CACHE_CONTROL, ASK_AGAIN), (VARY, "Accept")];
            (head, describe(&shown.pyramid, &address, level(&app)).to_string()).into_response()
        }
        Err(instead) => instead.into_response(),
    };
    for_readers(&app, &headers, answer)
}

/// Section 5.1: JSON-LD only for those who ask for it.
fn wants_json_ld(headers: &HeaderMap) -> bool {
    let accepted = headers.get_all(ACCEPT).iter().filter_map(|v| v.to_str().ok()).flat_map(|v| v.split(','));
    let name = |kind: &str| kind.split(';').next().unwrap_or_default().trim().to_ascii_lowercase();
    accepted.filter(|kind| !kind.replace(' ', "").ends_with(";q=0")).any(|kind| name(kind) == "application/ld+json")
}

/// Sections 5.2 to 5.6.
fn describe(p: &Pyramid, id: &str, level: &str) -> Value {
    let beside: &[&str] = if level == "level1" { &[] } else { &OF_LEVEL_1 };
    let features = [beside, &BEYOND_LEVEL_1].concat();
    let scales: Vec<u32> = (0..p.levels).map(|level| 1 << level).collect();
    let sizes = (0..p.levels).rev().filter_map(|level| p.level_size(level));
    let sizes =
        sizes.filter(|(w, h)| w.max(h) <= &MAX_SIDE).map(|(width, height)| json!({ "width": width, "height": height }));
    json!({
        "@context": CONTEXT,
        "id": id,
        "type": "ImageService3",
        "protocol": "http://iiif.io/api/image",
        "profile": level,
        "width": p.width,
        "height": p.height,
        "maxWidth": MAX_SIDE,
        "maxHeight": MAX_SIDE,
        "sizes": sizes.collect::<Vec<_>>(),
        "tiles": [{ "width": p.tile, "height": p.tile, "scaleFactors": scales }],
        "extraQualities": ["color", "gray", "red", "green", "blue"],
        "extraFeatures": features,
    })
}

async fn picture(
    State(app): State<App>,
    Path((id, region, size, rotation, file)): Path<(String, String, String, String, String)>,
    uri: Uri,
    headers: HeaderMap,
) -> Response {
    let parts = [region.as_str(), &size, &rotation, &file];
    let answer = match answer(&app, &id, parts, &uri, &headers).await {
        Ok(answer) => answer,
        Err(instead) => instead.into_response(),
    };
    for_readers(&app, &headers, answer)
}

async fn answer(app: &App, id: &str, parts: [&str; 4], uri: &Uri, headers: &HeaderMap) -> Result<Response, Instead> {
    let Shown { scan, pyramid, folder } = shown(app, id).await?;
    let request = Request::read(&pyramid, parts)?;
    let canonical = request.canonical(&pyramid);
    let link =
        format!("<{}/{canonical}>;rel=\"canonical\", {}", address_of(app, headers, &scan.id.to_string()), profile(app));
    let tag = format!("\"{}/{canonical}\"", scan.stored);
    let for_ever = uri.query() == Some(&format!("v={}", scan.stored));
    let keep = if for_ever { FOREVER } else { ASK_AGAIN };
    let head = [(LINK, link), (ETAG, tag.clone()), (CACHE_CONTROL, keep.to_owned())];
    if headers.get(IF_NONE_MATCH).is_some_and(|known| known.as_bytes() == tag.as_bytes()) {
        return Ok((StatusCode::NOT_MODIFIED, head).into_response());
    }
    let scratch = app.scans_folder().join(store::new_name());
    let broken = |cause| PageError::broken("This part of the scan cannot be shown.", cause);
    let jpeg = off_thread(move || make(&folder, &pyramid, &request, &scratch)).await?.map_err(broken)?;
    Ok((head, [(CONTENT_TYPE, "image/jpeg")], jpeg).into_response())
}

fn make(
    folder: &std::path::Path,
    pyramid: &Pyramid,
    request: &Request,
    scratch: &std::path::Path,
) -> Result<Vec<u8>, String> {
    if let Some(name) = request.tile.and_then(|(level, column, row)| pyramid.tile_name(level, column, row)) {
        return std::fs::read(folder.join(name)).map_err(|e| e.to_string());
    }
    let composed = compose::compose(folder, pyramid, request).map_err(|e| e.to_string())?;
    compose::jpeg(&composed, scratch).map_err(|e| e.to_string())
}

/// The request for the whole picture as its smallest tile.
pub(super) fn smallest(p: &Pyramid) -> String {
    let (width, height) = p.level_size(p.levels - 1).unwrap_or((1, 1));
    if p.levels == 1 { "full/max/0/default.jpg".into() } else { format!("full/{width},{height}/0/default.jpg") }
}
