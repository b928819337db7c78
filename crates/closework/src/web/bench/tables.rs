//! Figures by place and sums by surface.

use maud::{Markup, html};
use rays::{Row, Sums, Wavelength, Zone};

use super::charts::place_name;
use crate::bench::{Found, Wanted};
use crate::web::fmt;
use crate::web::manners::Units;

/// What the set-up does as a whole.
pub(super) fn whole(found: &Found, units: Units) -> Markup {
    let (told, length) = (&found.prediction, |mm: f64| fmt::figure_length(mm, units));
    let petzval = found.sums.petzval_per_mm;
    html! {
        dl.facts {
            dt { "Magnification" } dd { (told.magnification.map_or("at infinity".into(), fmt::ratio)) }
            @if let Some(mm) = told.subject_mm { dt { "Subject to the foremost glass" } dd { (length(mm)) } }
            dt { "Rearmost glass to film" } dd { (length(told.film_mm)) ", moved by " (fmt::signed(told.focus_mm, 2)) " mm to focus" }
            dt { "Effective f-number" } dd { "f/" (fmt::figure(told.f_number, 3)) }
            dt { "Petzval radius" } dd { @if petzval == 0.0 { "flat" } @else { (length(-1.0 / petzval)) } }
        }
    }
}

/// A figure of a place, with its name.
type OfZone = (&'static str, fn(&Zone) -> String);

/// A column for every place.
pub(super) fn by_place(found: &Found, wanted: &Wanted) -> Markup {
    let figures: [OfZone; 8] = [
        ("Spot, root mean square, µm", |zone| fmt::figure(1e3 * zone.spot.rms_mm(), 3)),
        ("Wave aberration, root mean square, waves", |zone| fmt::figure(zone.waves, 3)),
        ("Sharpest so far from the film, mm", |zone| fmt::signed(zone.own_focus_mm, 2)),
        ("Sagittal focus, mm", |zone| fmt::signed(zone.field_focus.sagittal_mm, 2)),
        ("Tangential focus, mm", |zone| fmt::signed(zone.field_focus.tangential_mm, 2)),
        ("Light, share of the middle's", |zone| format!("{:.2}", zone.illumination)),
        ("Distortion, %", |zone| fmt::signed(100.0 * zone.distortion, 2)),
        ("Rays that arrive, of those sent", |zone| format!("{} of {}", zone.census.arrived(), zone.census.sent)),
    ];
    html! {
        div.scroll tabindex="0" role="region" aria-label="Figures by place" {
            table {
                thead { tr { th scope="col" { "Place" } @for film_mm in &wanted.film_mm { th.n scope="col" { (place_name(*film_mm, wanted.corner_mm())) } } } }
                tbody { @for (label, of) in figures { tr {
                    th scope="row" { (label) }
                    @for zone in &found.prediction.zones { td.n { @match zone { Ok(zone) => (of(zone)), Err(_) => "dark" } } }
                } } }
            }
        }
        @for (film_mm, zone) in wanted.film_mm.iter().zip(&found.prediction.zones) {
            @if let Err(why) = zone { p { "The " (place_name(*film_mm, wanted.corner_mm())) " is dark: " (why.to_string()) "." } }
        }
    }
}

/// Seidel and chromatic sums, surface by surface, in waves of d at the edge of pupil and field.
pub(super) fn sums(found: &Found) -> Markup {
    let heads = ["Spherical", "Coma", "Astigmatism", "Petzval", "Distortion", "Axial colour", "Lateral colour"];
    let rows = found.system.rows().iter().zip(&found.sums.surfaces).enumerate();
    html! {
        details.figures {
            summary { "Third-order and chromatic sums, surface by surface" }
            div.scroll tabindex="0" role="region" aria-label="Sums by surface" {
                table {
                    thead { tr { th scope="col" { "Surface" } @for head in heads { th.n scope="col" { (head) } } } }
                    tbody {
                        @for (at, (row, sums)) in rows { tr { th scope="row" { (surface(at + 1, row)) } (cells(sums)) } }
                        tr { th scope="row" { strong { "All together" } } (cells(&found.sums.total)) }
                    }
                }
            }
            p.small { "SI to SV and CI, CII in wavelengths of 588 nm, for the edge of the stop and the outermost place; counted from the subject. The wave itself is SI/8, SII/2, SIII/2, (SIII + SIV)/4, SV/2." }
        }
    }
}

fn surface(number: usize, row: &Row) -> String {
    let radius = if row.surface.curvature == 0.0 {
        "plane".into()
    } else {
        format!("{} mm", fmt::figure(1.0 / row.surface.curvature, 4))
    };
    format!("{number}: {radius}{}", if row.stop { ", stop" } else { "" })
}

fn cells(sums: &Sums) -> Markup {
    let Sums { spherical, coma, astigmatism, petzval, distortion, axial_colour, lateral_colour } = *sums;
    let all = [spherical, coma, astigmatism, petzval, distortion, axial_colour, lateral_colour];
    html! { @for sum in all { td.n { (fmt::signed(sum / Wavelength::D.mm(), 2)) } } }
}
