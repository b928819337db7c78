//! Scans: loaded as files, looked at, measured.

mod arrive;
mod edge;
mod kept;
mod list;
mod prepare;
mod scale_facts;
mod scale_shown;
mod sheet;
mod shown;
mod store;
mod tiles;

pub use scale_shown::ScaleResult;
pub use kept::{ChannelResult, DisplacementResult, EdgeResult, PictureScale};
pub use prepare::{EnterError, enter, prepare, prepare_soon, resume};
pub use store::{file_of, new_name, tiles_of};
pub use tiles::{Viewer, thumbnail};

use axum::Router;
use axum::routing::{get, post};
use notebook::{Scan, ScanId};

use super::App;
use super::error::PageError;

pub(super) fn routes() -> Router<App> {
    let list = Router::new().route("/scans", get(list::page).merge(arrive::route()));
    let one = list
        .route("/scans/{id}", get(sheet::page))
        .route("/scans/{id}/delete", post(list::delete))
        .route("/scans/{id}/again", post(list::again))
        .route("/scans/{id}/frame", post(scale_facts::frame))
        .route("/scans/{id}/pitch", post(scale_facts::pitch))
        .route("/scans/{id}/magnification", post(scale_facts::magnification))
        .route("/scans/{id}/edge", post(edge::measure))
        .route("/scans/{id}/measurements/{measurement}/delete", post(edge::delete));
    one.route("/scans/{id}/tiles/{level}/{tile}", get(tiles::tile))
}

/// The scan of an address; 404 in words when the number is none or names nothing.
async fn found(app: &App, id: &str) -> Result<Scan, PageError> {
    let id: ScanId = id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a scan.")))?;
    let scan = app.notebook(move |book| book.scan(id)).await?;
    scan.ok_or_else(|| PageError::missing(format!("There is no scan {id}.")))
}

/// What is known of a scan's scale.
pub fn scale_of(scan: &Scan) -> PictureScale {
    PictureScale { pitch_um: scan.pitch_um, magnification: scan.magnification.map(|m| m.value) }
}
