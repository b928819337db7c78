//! The frame seen from in front, with what was measured at each place: drawn in ink, to scale, readable in grey.

use maud::{Markup, html};

use crate::documents::{FrameDocument, PlaceDocument};
use crate::web::fmt;
use crate::web::plot::at;

/// Width of a map in its own units; the page scales it.
const WIDTH: f64 = 520.0;

struct Map {
    scale: f64,
    height: f64,
}

impl Map {
    fn of(document: &FrameDocument) -> Self {
        let scale = WIDTH / f64::from(document.width_px.max(1));
        Self { scale, height: f64::from(document.height_px) * scale }
    }

    fn frame(&self, id: &str, title: &str, description: &str, inside: Markup) -> Markup {
        let (title_id, desc_id) = (format!("{id}-t"), format!("{id}-d"));
        html! {
            figure.plot.frame-map {
                figcaption { (title) }
                svg viewBox=(format!("-8 -8 {} {}", at(WIDTH + 16.0), at(self.height + 16.0))) role="img" aria-labelledby=(format!("{title_id} {desc_id}")) {
                    title id=(title_id) { (title) }
                    desc id=(desc_id) { (description) }
                    rect.field-edge x="0" y="0" width=(at(WIDTH)) height=(at(self.height)) {}
                    (inside)
                }
            }
        }
    }
}

/// Sharpness at every place as a cross: its arms lie along and across the radius, as long as detail is fine that way.
pub(super) fn sharpness(document: &FrameDocument) -> Markup {
    let map = Map::of(document);
    let all = document.places.iter().flat_map(|place| place.sharpness.values());
    let finest = all.filter_map(|s| s.mtf50_cy_px).map(|m| m.value).fold(0.0, f64::max);
    if finest <= 0.0 {
        return html! {};
    }
    let centre = [WIDTH / 2.0, map.height / 2.0];
    let longest = 0.085 * WIDTH;
    let inside = html! {
        @for place in &document.places {
            (cross(place, [place.at_px[0] * map.scale, place.at_px[1] * map.scale], centre, longest / finest))
        }
    };
    map.frame(
        "map-sharpness",
        "Sharpness over the frame",
        "A cross at every place that was measured. Its arms lie along and across the radius and are as long as half of \
         the contrast is left to fine detail that way; equal arms mean equal sharpness both ways. The table below gives \
         the figures.",
        inside,
    )
}

fn cross(place: &PlaceDocument, [x, y]: [f64; 2], centre: [f64; 2], per_unit: f64) -> Markup {
    let (dx, dy) = (x - centre[0], y - centre[1]);
    let distance = dx.hypot(dy);
    let (cos, sin) = if distance > 1.0 { (dx / distance, dy / distance) } else { (1.0, 0.0) };
    let arm = |way: &str| place.sharpness.get(way).and_then(|s| s.mtf50_cy_px).map(|m| m.value * per_unit / 2.0);
    // Tangential lines test what happens along the radius.
    let both = arm("central").or(arm("oblique"));
    let (along, across) = (arm("tangential").or(both), arm("sagittal").or(both));
    html! {
        @if let Some(a) = along {
            line.s0 x1=(at(x - cos * a)) y1=(at(y - sin * a)) x2=(at(x + cos * a)) y2=(at(y + sin * a)) {}
        }
        @if let Some(a) = across {
            line.s1 x1=(at(x + sin * a)) y1=(at(y - cos * a)) x2=(at(x - sin * a)) y2=(at(y + cos * a)) {}
        }
        circle.s0 cx=(at(x)) cy=(at(y)) r="2.2" {}
    }
}

/// Red and blue against green as arrows, much enlarged.
pub(super) fn fringing(document: &FrameDocument) -> Markup {
    let (Some(found), Some(pitch)) = (&document.fringing, document.pitch_um) else { return html! {} };
    let map = Map::of(document);
    let arrows =
        || found.channels.iter().flat_map(|(name, c)| c.arrows.iter().map(move |arrow| (name.as_str(), arrow)));
    let longest = arrows().map(|(_, a)| a[2].hypot(a[3])).fold(0.0, f64::max);
    if longest <= 0.0 {
        return html! {};
    }
    // Seven to a side: half of what lies between two, so that arrows never meet.
    let unit = 0.06 * WIDTH / longest;
    let per_mm = 1000.0 / pitch * map.scale;
    let inside = html! {
        @for (name, arrow) in arrows() {
            @let (x, y) = (WIDTH / 2.0 + arrow[0] * per_mm, map.height / 2.0 + arrow[1] * per_mm);
            line class=(if name == "red" { "arrow-red" } else { "arrow-blue" }) x1=(at(x)) y1=(at(y)) x2=(at(x + arrow[2] * unit)) y2=(at(y + arrow[3] * unit)) {}
            circle.s0 cx=(at(x)) cy=(at(y)) r="1.6" {}
        }
    };
    let description = format!(
        "A line from each dot to where red (dashed) and blue (drawn out) lie against green there; the longest stands for {} µm on film.",
        fmt::figure(longest, 2)
    );
    html! { (map.frame("map-fringing", "Colour fringing over the frame", &description, inside)) p.small { (description) } }
}

/// Fall-off as a grid of greys with its figures.
pub(super) fn evenness(document: &FrameDocument) -> Markup {
    let Some(found) = document.evenness.as_ref().filter(|e| !e.map_stops.is_empty()) else { return html! {} };
    let map = Map::of(document);
    let (rows, columns) = (found.map_stops.len() as f64, found.map_stops[0].len().max(1) as f64);
    let (w, h) = (WIDTH / columns, map.height / rows);
    let inside = html! {
        @for (row, values) in found.map_stops.iter().enumerate() {
            @for (column, stops) in values.iter().enumerate() {
                @let (x, y) = (column as f64 * w, row as f64 * h);
                rect.shade x=(at(x)) y=(at(y)) width=(at(w)) height=(at(h)) fill-opacity=(at((-stops / 2.0).clamp(0.0, 0.75))) {}
                text.tick x=(at(x + w / 2.0)) y=(at(y + h / 2.0 + 4.0)) text-anchor="middle" { (format!("{:.1}", stops + 0.0).replace("-0.0", "0.0").replace('-', "−")) }
            }
        }
    };
    map.frame(
        "map-evenness",
        "Light over the frame, in stops against the brightest place",
        "A grid of the fitted surface: the darker a cell, the less light arrives there. Each cell holds its figure.",
        inside,
    )
}
