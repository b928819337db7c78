//! Spot diagrams: where rays from one point meet the film.

use maud::{Markup, html};

use super::charts::place_name;
use crate::bench::{Found, PlaceRays, Wanted};
use crate::web::fmt;
use crate::web::plot::at;

const SIDE: f64 = 220.0;
/// Rays beyond so many times the widest root mean square are left to the figures.
const REACH: f64 = 3.0;

/// One drawing a place, all to one scale, with the disc of diffraction beside the rays.
pub(super) fn diagrams(found: &Found, wanted: &Wanted) -> Markup {
    let widest = found.prediction.zones.iter().flatten().map(|zone| zone.spot.rms_mm()).fold(0.0, f64::max);
    let airy_mm = optics::airy_diameter_mm(found.prediction.f_number) / 2.0;
    let half_mm = (REACH * widest).max(1.5 * airy_mm);
    html! {
        div.spots {
            @for (index, (film_mm, rays)) in wanted.film_mm.iter().zip(&found.rays).enumerate() {
                @if let (Some(rays), Ok(zone)) = (rays, &found.prediction.zones[index]) {
                    @let name = place_name(*film_mm, wanted.corner_mm());
                    @let words = format!("{name}: {} µm root mean square, the farthest ray {} µm from the middle of the light.", fmt::figure(1e3 * zone.spot.rms_mm(), 3), fmt::figure(1e3 * zone.spot.farthest_mm, 3));
                    figure.plot.spot { (spot(rays, half_mm, airy_mm, &words)) figcaption { (words) } }
                }
            }
        }
        p.soft.small { "Each drawing is " (fmt::figure(2e3 * half_mm, 3)) " µm wide on film; outwards is up. Blue light as crosses, yellow-green as dots, red as rings; the circle is the first dark ring of diffraction, " (fmt::figure(2e3 * airy_mm, 3)) " µm wide." }
    }
}

fn spot(rays: &PlaceRays, half_mm: f64, airy_mm: f64, words: &str) -> Markup {
    let scale = SIDE / 2.0 / half_mm;
    let marks = |colour: usize, points: &[[f64; 2]]| -> String {
        let mark = |[x, y]: &[f64; 2]| {
            let (x, y) = (at(x * scale), at(-y * scale));
            match colour {
                0 => format!("M{x} {y}m-2 -2l4 4m0 -4l-4 4"),
                1 => format!("M{x} {y}m-1 0h2"),
                _ => format!("M{x} {y}m-2 0a2 2 0 1 0 4 0a2 2 0 1 0 -4 0"),
            }
        };
        points.iter().filter(|[x, y]| x.abs() <= half_mm && y.abs() <= half_mm).map(mark).collect()
    };
    let half = SIDE / 2.0;
    html! {
        svg viewBox=(format!("{} {} {SIDE} {SIDE}", -half, -half)) role="img" aria-label=(words) {
            rect.field-edge x=(-half) y=(-half) width=(SIDE) height=(SIDE) {}
            circle.airy r=(at(airy_mm * scale)) {}
            @for (colour, (_, points)) in rays.spots.iter().enumerate() {
                path class=(format!("spot-{colour}")) d=(marks(colour, points)) {}
            }
        }
    }
}
