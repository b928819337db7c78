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
        html! {
            div class=(format!("pane {}", pane.class)) tabindex="0" role="group" aria-label=(pane.label)
                data-pictures=(format!("/iiif/scans/{}", self.scan.id)) data-version=(self.scan.stored)
                data-width=(p.width) data-height=(p.height) data-tile=(p.tile) data-levels=(p.levels)
                data-scan=(self.scan.id) data-px-per-mm=[pane.px_per_mm]
                data-laid=[pane.laid.as_ref()] data-pitch-um=[pane.pitch_um] {
                @match &pane.still {
                    Some(still) => (self.laid(still)),
                    None => noscript { img src=(iiif::address(self.scan, &iiif::smallest(&p))) alt=(pane.label); },
                }
                canvas aria-hidden="true" {}
            }
        }
    }
}

impl Viewer<'_> {
    /// The still picture, turned and laid as its script would draw it.
    fn laid(&self, still: &Still) -> Markup {
        let numbers = |all: &[f64]| all.iter().map(f64::to_string).collect::<Vec<_>>().join(" ");
        html! {
            svg.still viewBox=(numbers(&still.sight)) aria-hidden="true" {
                image href=(iiif::address(self.scan, &iiif::smallest(&self.pyramid))) width=(self.pyramid.width) height=(self.pyramid.height)
                    preserveAspectRatio="none" transform=(format!("matrix({})", numbers(&still.matrix))) {}
            }
        }
    }
}

/// How a still picture lies among others that it is compared with.
#[derive(Debug, Clone, PartialEq)]
pub struct Still {
    /// What is in sight of their common plane: left, top, width, height.
    pub sight: [f64; 4],
    /// From the picture's pixels to that plane, as SVG writes a matrix.
    pub matrix: [f64; 6],
}

/// How a scan is shown.
#[derive(Debug, Clone, Default)]
pub struct Pane<'a> {
    /// The pane's style class.
    pub class: &'a str,
    /// What it shows, for those who cannot see it.
    pub label: &'a str,
    /// How the still picture lies that stands before any script runs; absent, a still one stands without scripts alone.
    pub still: Option<Still>,
    /// Pixels that one millimetre of the subject takes, when known.
    pub px_per_mm: Option<f64>,
    /// How it lies on the first of several, for their script.
    pub laid: Option<String>,
    /// Size of a pixel on film, when known.
    pub pitch_um: Option<f64>,
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
