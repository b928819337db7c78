//! What a page needs to show a scan's tiles.

use imaging::pyramid::{self, Pyramid};
use maud::{Markup, html};
use notebook::Scan;

use super::{iiif, store};
use crate::web::App;

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

    /// What `viewer.js` needs to know, as the element's `data-` attributes; without scripts the whole picture is
    /// shown small.
    pub fn show(&self, pane: &Pane<'_>) -> Markup {
        let p = self.pyramid;
        let still_width = pane.still_percent.map(|percent| format!("{percent:.2}%"));
        html! {
            div class=(format!("pane {}", pane.class)) tabindex="0" role="group" aria-label=(pane.label)
                data-pictures=(format!("/iiif/scans/{}", self.scan.id)) data-version=(self.scan.stored)
                data-width=(p.width) data-height=(p.height) data-tile=(p.tile) data-levels=(p.levels)
                data-scan=(self.scan.id) data-px-per-mm=[pane.px_per_mm]
                data-laid=[pane.laid.as_ref()] data-pitch-um=[pane.pitch_um] {
                @if pane.at_once {
                    img.still src=(iiif::address(self.scan, &iiif::smallest(&p))) width=[still_width.as_ref()] height=[still_width.as_ref()] alt="" fetchpriority="high";
                } @else { noscript { img src=(iiif::address(self.scan, &iiif::smallest(&p))) width=[still_width.as_ref()] alt=(pane.label); } }
                canvas aria-hidden="true" {}
            }
        }
    }
}

/// How a scan is shown.
#[derive(Debug, Clone, Default)]
pub struct Pane<'a> {
    /// The pane's style class.
    pub class: &'a str,
    /// What it shows, for those who cannot see it.
    pub label: &'a str,
    /// Width of the still picture that stands in without scripts, per cent of the pane; the style sheet decides when absent.
    pub still_percent: Option<f64>,
    /// Pixels that one millimetre of the subject takes, when known.
    pub px_per_mm: Option<f64>,
    /// How it lies on the first of several, for their script.
    pub laid: Option<String>,
    /// Size of a pixel on film, when known.
    pub pitch_um: Option<f64>,
    /// The still picture stands before any script runs, too.
    pub at_once: bool,
}

/// The buttons by which a picture is brought nearer, to true pixels, and whole; `viewer.js` knows their wishes.
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
                img src=(iiif::address(scan, &iiif::smallest(&p))) width=(width) height=(height) alt="" loading="lazy";
            }
        }
    }
}
