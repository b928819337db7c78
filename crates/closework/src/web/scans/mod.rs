//! Scans: loaded as files, looked at, measured.

mod arrive;
pub(crate) mod edge;
mod ends;
mod forms;
mod header;
mod iiif;
mod list;
mod offered;
mod overview;
pub(crate) mod prepare;
pub(crate) mod ruler;
mod ruler_shown;
mod scale_facts;
mod sheet;
mod shown;
mod store;
mod tiles;
pub(crate) mod whole;

pub use iiif::PictureReader;
pub(crate) use iiif::address as picture_address;
pub use overview::{Overview, overview};
pub use prepare::{EnterError, enter, prepare, prepare_soon, resume};
pub use ruler_shown::{newest_ruler, subject_scale};
pub use shown::{edge_of, main_figure};
pub use store::{discard, file_of, new_name, tiles_of};
pub use tiles::{Pane, Still, Viewer, thumbnail, zoom_buttons};
pub use whole::frame_of;

use axum::Router;
use axum::routing::{get, post};
use notebook::{Measurement, MeasurementId, Scan, ScanId};

use super::App;
use super::error::PageError;
use crate::documents::Sizes;

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
        .route("/scans/{id}/scale", post(ruler::measure))
        .route("/scans/{id}/measurements/{measurement}/use", post(ruler::use_for_scan))
        .route("/scans/{id}/measurements/{measurement}/delete", post(edge::delete));
    one.merge(ends::routes()).merge(iiif::routes()).merge(whole::routes())
}

/// The scan of an address; 404 in words when the number is none or names nothing.
async fn found(app: &App, id: &str) -> Result<Scan, PageError> {
    let id: ScanId = id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a scan.")))?;
    let scan = app.notebook(move |book| book.scan(id)).await?;
    scan.ok_or_else(|| PageError::missing(format!("There is no scan {id}.")))
}

/// The measurement of an address, which must have been taken in that scan.
async fn found_in(app: &App, scan: &Scan, id: &str) -> Result<Measurement, PageError> {
    let id: MeasurementId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a measurement.")))?;
    let measurement = app.notebook(move |book| book.measurement(id)).await?;
    let of_scan = measurement.filter(|m| m.scan == scan.id);
    of_scan.ok_or_else(|| PageError::missing(format!("There is no measurement {id} in scan {}.", scan.id)))
}

/// What is known of a scan's size on film and subject.
pub fn sizes_of(scan: &Scan) -> Sizes {
    Sizes { pitch_um: scan.pitch_um, magnification: scan.magnification.map(|m| m.value) }
}
