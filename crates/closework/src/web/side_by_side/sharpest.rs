//! Where a scan is sharpest: by its measured places, else by the picture's own structure. Asked for when it is wanted.

use axum::Json;
use axum::extract::{RawQuery, State};
use notebook::{Notebook, ScanState};
use serde::Serialize;

use super::compared::Compared;
use super::numbers;
use crate::documents::FrameDocument;
use crate::web::fmt;
use crate::web::form::Filled;
use crate::web::scans::overview;
use crate::web::{App, PageError, off_thread};

/// Longer side, pixels, of what structure is looked for in.
const LOOKED_AT: u32 = 2300;

/// A place and how it was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(super) struct Sharpest {
    /// Pixels of the scan.
    at_px: [f64; 2],
    /// "places" (edges measured over the frame) or "structure".
    by: &'static str,
    /// In words.
    words: String,
}

/// The place in `?scan=`.
pub(super) async fn answer(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Json<Sharpest>, PageError> {
    let ids = numbers(&Filled::from_query(query.as_deref()));
    let found = app.notebook(move |book: &mut Notebook| Compared::read(book, &ids[..ids.len().min(1)])).await?;
    let ready = |c: &Compared| c.scan.state == ScanState::Ready;
    let scan = found.into_iter().find(ready).ok_or_else(|| PageError::missing("There is no such prepared scan."))?;
    if let Some(sharpest) = scan.whole.as_ref().and_then(by_places) {
        return Ok(Json(sharpest));
    }
    off_thread(move || by_structure(&app, &scan)).await?.map(Json)
}

/// The place whose measured edges keep half of the contrast at the finest detail.
fn by_places(frame: &FrameDocument) -> Option<Sharpest> {
    let figure = |place: &crate::documents::PlaceDocument| {
        place.sharpness.values().filter_map(|s| s.mtf50_cy_px).map(|m| m.value).reduce(f64::max)
    };
    let all = frame.places.iter().filter(|place| !place.blade).filter_map(|place| Some((figure(place)?, place)));
    let (figure, place) = all.max_by(|a, b| a.0.total_cmp(&b.0))?;
    let words =
        format!("by measured edges, {}: half of the contrast at {} cycles/px", place.name, fmt::figure(figure, 3));
    Some(Sharpest { at_px: place.at_px, by: "places", words })
}

fn by_structure(app: &App, c: &Compared) -> Result<Sharpest, PageError> {
    let broken = |why: String| PageError::broken("This scan cannot be looked at.", why);
    let view = overview(app, &c.scan, LOOKED_AT).map_err(broken)?;
    let none = || PageError::missing("This scan has no structure to find focus by.");
    let zone = measure::sharpest_zone(&view.plane).ok_or_else(none)?;
    let words = format!(
        "by the picture's own structure, {} times the middling zone's; no edge is measured over the frame",
        fmt::figure(zone.times_middling, 2)
    );
    Ok(Sharpest { at_px: [zone.at_px.0 * view.pixel, zone.at_px.1 * view.pixel], by: "structure", words })
}
