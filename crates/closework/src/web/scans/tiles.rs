//! Tiles, and what a page needs to show them.

use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use imaging::pyramid::{self, Pyramid};
use maud::{Markup, html};
use notebook::Scan;

use super::{found, store};
use crate::web::error::PageError;
use crate::web::{App, off_thread};

/// A tile never changes: its address carries the scan's stored name.
const FOREVER: &str = "private, max-age=31536000, immutable";

/// GET `/scans/{id}/tiles/{level}/{column}_{row}.jpg`. All that reaches the file system are numbers.
pub(super) async fn tile(
    State(app): State<App>,
    Path((id, level, tile)): Path<(String, String, String)>,
) -> Result<Response, PageError> {
    let nothing = || PageError::missing(format!("There is no tile {tile} on level {level} of scan {id}."));
    let (column, row) = place(&tile).ok_or_else(nothing)?;
    let level = level.parse().map_err(|_| nothing())?;
    let scan = found(&app, &id).await?;
    let folder = store::tiles_of(&app, &scan.stored);
    let read = move || pyramid::tile_path(&folder, level, column, row).and_then(|path| std::fs::read(path).ok());
    let jpeg = off_thread(read).await?.ok_or_else(nothing)?;
    Ok(([(CONTENT_TYPE, "image/jpeg"), (CACHE_CONTROL, FOREVER)], jpeg).into_response())
}

fn place(tile: &str) -> Option<(u32, u32)> {
    let (column, row) = tile.strip_suffix(".jpg")?.split_once('_')?;
    Some((column.parse().ok()?, row.parse().ok()?))
}

/// The address of a tile.
fn address(scan: &Scan, level: u32, column: u32, row: u32) -> String {
    format!("/scans/{}/tiles/{level}/{column}_{row}.jpg?v={}", scan.id, scan.stored)
}

/// A scan whose tiles are there, for a page to show.
#[derive(Debug, Clone)]
pub struct Viewer<'a> {
    scan: &'a Scan,
    pyramid: Pyramid,
}

impl<'a> Viewer<'a> {
    /// Nothing while the tiles are not made.
    pub fn of(app: &App, scan: &'a Scan) -> Option<Self> {
        let pyramid = pyramid::load(&store::tiles_of(app, &scan.stored)).ok()?;
        Some(Self { scan, pyramid })
    }

    /// What `tiles.js` needs to know, as the element's `data-` attributes; without scripts the whole picture is
    /// shown small.
    pub fn show(&self, pane: &Pane<'_>) -> Markup {
        let p = self.pyramid;
        let still_width = pane.still_percent.map(|percent| format!("{percent:.2}%"));
        html! {
            div class=(format!("pane {}", pane.class)) tabindex="0" role="group" aria-label=(pane.label)
                data-tiles=(format!("/scans/{}/tiles", self.scan.id)) data-version=(self.scan.stored)
                data-width=(p.width) data-height=(p.height) data-tile=(p.tile) data-levels=(p.levels)
                data-scan=(self.scan.id) data-px-per-mm=[pane.px_per_mm] {
                noscript { img src=(address(self.scan, p.levels - 1, 0, 0)) width=[still_width] alt=(pane.label); }
                canvas aria-hidden="true" {}
            }
        }
    }
}

/// How a scan is shown.
#[derive(Debug, Clone, Copy, Default)]
pub struct Pane<'a> {
    /// The pane's style class.
    pub class: &'a str,
    /// What it shows, for those who cannot see it.
    pub label: &'a str,
    /// Width of the still picture that stands in without scripts, per cent of the pane; the style sheet decides when absent.
    pub still_percent: Option<f64>,
    /// Pixels that one millimetre of the subject takes, when known.
    pub px_per_mm: Option<f64>,
}

/// The buttons by which a picture is brought nearer, to true pixels, and whole; `tiles.js` knows their wishes.
pub fn zoom_buttons() -> Markup {
    html! {
        button.quiet type="button" data-wish="out" aria-label="Zoom out" { "−" }
        button.quiet type="button" data-wish="in" aria-label="Zoom in" { "+" }
        button.quiet type="button" data-wish="one" { "True pixels" }
        button.quiet type="button" data-wish="fit" { "Whole" }
    }
}

/// The whole picture on its smallest tile, or an empty frame while there is none.
pub fn thumbnail(app: &App, scan: &Scan) -> Markup {
    let known = pyramid::load(&store::tiles_of(app, &scan.stored)).ok();
    html! {
        div.thumbnail {
            @if let Some(p) = known {
                @let (width, height) = p.level_size(p.levels - 1).unwrap_or((1, 1));
                img src=(address(scan, p.levels - 1, 0, 0)) width=(width) height=(height) alt="" loading="lazy";
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_numbers_name_tiles() {
        assert_eq!(place("3_14.jpg"), Some((3, 14)));
        for wrong in ["3_14", "_1.jpg", "../x_1.jpg", "1_2_3.jpg", "1_99999999999.jpg", "-1_0.jpg"] {
            assert_eq!(place(wrong), None, "{wrong}");
        }
    }
}
