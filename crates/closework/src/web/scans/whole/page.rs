//! What was measured in a whole frame, as a person reads it.

use maud::{Markup, html};

use super::maps;
use crate::documents::{AlignmentDocument, Bounded, FrameDocument, Measured, SharpnessDocument};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::{Axis, Chart, Mark, Style};

const WAYS: [(&str, &str); 4] = [
    ("central", "at the middle"),
    ("sagittal", "across the radius (sagittal)"),
    ("tangential", "along the radius (tangential)"),
    ("oblique", "between the two"),
];

/// The whole result.
pub(super) fn result(document: &FrameDocument, units: Units) -> Markup {
    html! {
        (summary(document, units))
        section aria-labelledby="sharp" {
            h2 id="sharp" { "Sharpness" }
            div.columns { (maps::sharpness(document)) div { (zones(document)) (blades(document)) } }
            (curves(document))
            (places(document))
        }
        (fringing(document))
        (light(document))
        (focus(document, units))
        (grain(document))
        (scale(document, units))
        (left_out(document))
        (made(document))
    }
}

fn m(figure: Measured, unit: &str) -> String {
    fmt::measured_with(figure.value, Some(figure.plus_minus), unit)
}

fn or_dash(figure: Option<Measured>, unit: &str) -> String {
    figure.map_or_else(|| "–".into(), |figure| m(figure, unit))
}

fn bounded(figure: &Bounded, factor: f64, unit: &str) -> String {
    let shown = fmt::measured_with(figure.value * factor, figure.plus_minus.map(|u| u * factor), unit);
    if figure.bound.is_empty() { shown } else { format!("{} {shown}", figure.bound) }
}

fn summary(document: &FrameDocument, units: Units) -> Markup {
    html! {
        dl.facts {
            @if let Some(size) = document.magnification {
                dt { "Magnification" }
                dd { strong { (fmt::ratio(size.value)) } ", " (m(size, "×")) @if document.magnification_from == "card" { ", from the card" } }
            }
            @if let Some(card) = &document.card {
                dt { "Card" }
                dd { (card.identity) ", for a field of " (fmt::stated_length(card.field_mm[0], units)) " × " (fmt::stated_length(card.field_mm[1], units)) }
                @for sheet in &card.sheets {
                    dt { "Sheet " (sheet.part) }
                    dd {
                        "turned " (fmt::figure(sheet.rotation_deg, 3)) "°"
                        @if sheet.mirrored { ", mirrored: the film was scanned from its other side" }
                        "; codes read: " (if sheet.codes.is_empty() { "none".into() } else { sheet.codes.join(", ") })
                        @if let Some(lean) = sheet.lean_about_upright_deg { "; leans " (m(lean, "°")) " sideways" }
                        @if let Some(lean) = sheet.lean_about_level_deg { ", " (m(lean, "°")) " up and down" }
                        @if let Some(distortion) = sheet.corner_distortion_percent { "; distortion in the corner " (m(distortion, "%")) }
                    }
                }
            } @else {
                dt { "Card" }
                dd { "none was looked for or found: what follows comes from the edges in the picture" }
            }
        }
    }
}

fn best(s: &SharpnessDocument) -> (Option<Measured>, &'static str) {
    if s.mtf50_subject_lp_mm.is_some() {
        (s.mtf50_subject_lp_mm, "lp/mm on the subject")
    } else if s.mtf50_lp_mm.is_some() {
        (s.mtf50_lp_mm, "lp/mm on film")
    } else {
        (s.mtf50_cy_px, "cycles/px")
    }
}

fn zones(document: &FrameDocument) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Sharpness by zone" {
            table {
                caption { "Half of the contrast is left at" }
                thead { tr { th scope="col" { "Zone" } th scope="col" { "Detail" } th.n scope="col" { "On film, lp/mm" } th.n scope="col" { "On the subject, lp/mm" } th.n scope="col" { "Edges" } } }
                tbody {
                    @for zone in &document.zones {
                        @for (way, words) in WAYS {
                            @if let Some(s) = zone.sharpness.get(way) {
                                tr {
                                    th scope="row" { (zone.zone) }
                                    td { (words) }
                                    td.n { (or_dash(s.mtf50_lp_mm, "")) }
                                    td.n { (or_dash(s.mtf50_subject_lp_mm, "")) }
                                    td.n { (s.edges) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Blades on a small card, apart from the printed edges.
fn blades(document: &FrameDocument) -> Markup {
    let blades: Vec<_> = document.places.iter().filter(|place| place.blade).collect();
    html! {
        @if !blades.is_empty() {
            div.scroll tabindex="0" role="region" aria-label="Sharpness by blades" {
                table {
                    caption { "By blades, which no print softens" }
                    thead { tr { th scope="col" { "Place" } th.n scope="col" { "On film, lp/mm" } th.n scope="col" { "On the subject, lp/mm" } } }
                    tbody {
                        @for place in blades {
                            @for s in place.sharpness.values() {
                                tr { th scope="row" { (place.name) } td.n { (or_dash(s.mtf50_lp_mm, "")) } td.n { (or_dash(s.mtf50_subject_lp_mm, "")) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// Curves by zone, in lp/mm on film where the pitch is known.
fn curves(document: &FrameDocument) -> Markup {
    let factor = document.pitch_um.map(|pitch| 1000.0 / pitch);
    let unit = if factor.is_some() { "lp/mm on film" } else { "cycles per pixel" };
    let to = |cy_px: f64| cy_px * factor.unwrap_or(1.0);
    let x = Axis::linear("Fineness", unit).range(0.0, to(0.5));
    let y = Axis::linear("Contrast left", "").range(0.0, 1.2);
    let chart =
        Chart::new("zones", "Contrast by zone", "Contrast left against fineness, a line for each zone and way.", x, y);
    let lines = document.zones.iter().flat_map(|zone| zone.sharpness.iter().map(move |(way, s)| (zone, way, s)));
    let chart = lines.take(6).enumerate().fold(chart, |chart, (i, (zone, way, s))| {
        let points = s.curve.iter().take_while(|p| p[0] <= 0.5).map(|p| (to(p[0]), p[1])).collect();
        let label = if way == "central" { zone.zone.clone() } else { format!("{}, {way}", zone.zone) };
        chart.with(Mark::Line { label, points, style: Style(i as u8) })
    });
    chart.with(Mark::AtY { label: "one half".into(), y: 0.5 }).show()
}

fn places(document: &FrameDocument) -> Markup {
    html! {
        details {
            summary { "Every place" }
            div.scroll tabindex="0" role="region" aria-label="Sharpness by place" {
                table {
                    thead { tr { th scope="col" { "Place" } th scope="col" { "Detail" } th.n scope="col" { "Half of the contrast at" } th.n scope="col" { "Scanner and film divided out, lp/mm" } th.n scope="col" { "Mean contrast to the print's limit" } th scope="col" { "Remarks" } } }
                    tbody {
                        @for place in &document.places {
                            @for (way, words) in WAYS {
                                @if let Some(s) = place.sharpness.get(way) {
                                    @let (figure, unit) = best(s);
                                    tr {
                                        th scope="row" { (place.name) }
                                        td { (words) }
                                        td.n { (or_dash(figure, unit)) }
                                        td.n { (or_dash(s.corrected_mtf50_lp_mm, "")) }
                                        td.n { (or_dash(s.mean_contrast_to_limit, "")) }
                                        td {
                                            @for warning in &s.warnings { p.small { (sentence(warning)) } }
                                            @if let Some(share) = place.explained_by_misalignment { p.small { "Tilt and curvature of the sharp surface " @if place.explained_otherwise.is_some() { "may explain " } @else { "explain " } (fmt::percent(share.value)) " of its softness." } }
                                        }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn fringing(document: &FrameDocument) -> Markup {
    let Some(found) = &document.fringing else { return html! {} };
    html! {
        section aria-labelledby="fringing" {
            h2 id="fringing" { "Colour fringing" }
            div.columns {
                (maps::fringing(document))
                div.scroll tabindex="0" role="region" aria-label="Colour fringing" {
                    table {
                        caption { "Against green, on film" }
                        thead { tr { th scope="col" { "Colour" } th.n scope="col" { "mm from the middle" } th.n scope="col" { "Outwards, µm" } th.n scope="col" { "Along the circle, µm" } } }
                        tbody {
                            @for (name, channel) in &found.channels {
                                @for at in &channel.field {
                                    tr { th scope="row" { (name) } td.n { (fmt::figure(at.radius_mm, 3)) } td.n { (m(at.radial_um, "")) } td.n { (m(at.tangential_um, "")) } }
                                }
                            }
                        }
                    }
                }
            }
            @if let Some([middle, most]) = found.zone_um {
                p { "The coloured zone at an edge is " (fmt::figure(middle, 2)) " µm wide on film in the middle of all edges, at most " (fmt::figure(most, 2)) " µm. Where it is wide though the colours lie over each other, a colour is out of focus." }
            }
            (warnings(&found.warnings))
        }
    }
}

fn light(document: &FrameDocument) -> Markup {
    html! {
        section aria-labelledby="light" {
            h2 id="light" { "Light" }
            div.columns {
                (maps::evenness(document))
                dl.facts {
                    @if let Some(even) = &document.evenness {
                        dt { "Darkest corner against the middle" } dd { (m(even.falloff_stops, "stops")) }
                        @if let Some([across, down]) = even.slope_stops { dt { "Left to right, top to bottom" } dd { (m(across, "")) ", " (m(down, "stops")) } }
                        @for (colour, corners) in &even.colours_stops {
                            dt { "Colour shading, " (colour) " against green in the corners" }
                            dd { "upper left " (m(corners[0], "")) ", upper right " (m(corners[1], "")) ", lower left " (m(corners[2], "")) ", lower right " (m(corners[3], "stops")) }
                        }
                    }
                    @if let Some(c) = document.contrast.get("luminance").or(document.contrast.get("green")) {
                        dt { "White over black" } dd { (bounded(&c.ratio, 1.0, ": 1")) }
                        dt { "Veiling glare" } dd { (bounded(&c.glare, 100.0, "% of white")) }
                    }
                    @if let Some(exposed) = &document.exposure {
                        @if let Some(offset) = exposed.offset_stops { dt { "Greys against where they should lie" } dd { (m(offset, "stops")) } }
                        @if let Some(slope) = exposed.slope { dt { "Slope of the greys" } dd { (m(slope, "")) " (1 is true tone)" } }
                        @for (name, [black, white]) in &exposed.clipped {
                            @if *black > 0.0 || *white > 0.0 { dt { "Clipped, " (name) } dd { (fmt::percent(*black)) " black, " (fmt::percent(*white)) " white" } }
                        }
                    }
                }
            }
            (greys(document))
            @if let Some(even) = &document.evenness { (warnings(&even.warnings)) }
            @if let Some(exposed) = &document.exposure { (warnings(&exposed.warnings)) }
        }
    }
}

/// Printed steps, or the fields of a grey scale that was stuck on.
fn greys(document: &FrameDocument) -> Markup {
    let greys = document.exposure.as_ref().map_or(&[][..], |exposed| &exposed.greys);
    html! {
        @if !greys.is_empty() {
            details {
                summary { "Greys: " (greys.len()) }
                div.scroll tabindex="0" role="region" aria-label="Greys" {
                    table {
                        thead { tr { th scope="col" { "Grey" } th.n scope="col" { "Should send back" } th.n scope="col" { "Light in the picture" } } }
                        tbody {
                            @for grey in greys {
                                tr {
                                    th scope="row" { (grey.name) }
                                    td.n { (grey.reflectance.map_or_else(|| "not stated".into(), fmt::percent)) }
                                    td.n { (m(grey.light.times(100.0), "%")) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn focus(document: &FrameDocument, units: Units) -> Markup {
    if document.ramps.is_empty() && document.alignment.is_none() {
        return html! {};
    }
    let height = |f: Measured| fmt::length(f.value, Some(f.plus_minus), units);
    html! {
        section aria-labelledby="focus" {
            h2 id="focus" { "Focus and alignment" }
            @if !document.ramps.is_empty() {
                div.scroll tabindex="0" role="region" aria-label="Ramps" {
                    table {
                        thead { tr { th scope="col" { "Ramp" } th.n scope="col" { "Sharpest above the card" } th.n scope="col" { "Depth to half of the best contrast" } th.n scope="col" { "of detail, lp/mm" } th.n scope="col" { "Depth by a perfect lens" } th scope="col" { "Remarks" } } }
                        tbody {
                            @for ramp in &document.ramps {
                                tr {
                                    th scope="row" { (ramp.name) }
                                    td.n { (height(ramp.focus_mm)) }
                                    td.n { (height(ramp.depth_mm)) }
                                    td.n { (ramp.at_lp_mm.map_or_else(|| "–".into(), |lp| fmt::figure(lp, 3))) }
                                    td.n { (ramp.predicted_mm.map_or_else(|| "–".into(), |mm| fmt::length(mm, None, units))) }
                                    td { @for w in &ramp.warnings { p.small { (sentence(w)) } } }
                                }
                            }
                        }
                    }
                }
                (ramp_chart(document))
            }
            (by_set_up(document, units))
            (corners(document))
            @if let Some(found) = &document.alignment {
                dl.facts {
                    dt { "Sharp surface at the middle, above the card" } dd { (height(found.centre_mm)) }
                    dt { "Tilt sideways" } dd { (m(found.about_upright_deg, "°")) }
                    dt { "Tilt up and down" } dd { (m(found.about_level_deg, "°")) }
                    @if let Some(curvature) = found.curvature_mm { dt { "Curvature: the corner against the middle, tilt apart" } dd { (height(curvature)) @if let Some(other) = curvature_otherwise(found) { " or " (height(other)) } } }
                }
                p { (bowl(found, units)) }
                (warnings(&found.warnings))
            }
        }
    }
}

fn curvature_otherwise(found: &AlignmentDocument) -> Option<Measured> {
    found.otherwise.as_ref()?.curvature_mm
}

/// Whether the sharp surface is flat or a bowl, in words.
fn bowl(found: &AlignmentDocument, units: Units) -> String {
    let Some(curvature) = found.curvature_mm else {
        return "Whether the sharp surface is flat or a bowl is not told: four ramps at one distance from the middle see a bowl as a flat surface that \
                lies higher, and the squares did not decide it. Lean the card by one or two degrees and photograph it again: then it is told well."
            .into();
    };
    let size = |f: Measured| fmt::length(f.value.abs(), Some(f.plus_minus), units);
    let way = |f: Measured| if f.value > 0.0 { "nearer to the lens" } else { "farther from the lens" };
    if let Some(other) = curvature_otherwise(found) {
        return format!(
            "The sharp surface is a bowl: its corners are sharp {} {} than the middle, or {} {}, tilt apart; which of the two is not told.",
            size(curvature),
            way(curvature),
            size(other),
            way(other)
        );
    }
    if curvature.value.abs() <= curvature.plus_minus {
        let most = fmt::length(curvature.value.abs() + curvature.plus_minus, None, units);
        return format!(
            "No bowl is shown: if the sharp surface is curved, its corners are sharp at most {most} nearer to the lens or farther than the middle."
        );
    }
    format!(
        "The sharp surface is a bowl: its corners are sharp {} {} than the middle, tilt apart.",
        size(curvature),
        way(curvature)
    )
}

/// What the set-up of the frame says of the depth, beside what the ramps show.
fn by_set_up(document: &FrameDocument, units: Units) -> Markup {
    let settings = &document.settings;
    let Some(set_up) = &settings.set_up else {
        return html! { p.small { "Say which logged frame this scan shows (under “What is known”), and what its set-up predicts stands here." } };
    };
    html! {
        dl.facts {
            dt { "Set-up" } dd { (set_up.name) ", f/" (fmt::figure(set_up.effective_f_number.value, 3)) " at the film, " (fmt::ratio(set_up.magnification.value)) }
            @if let Some(depth) = set_up.depth_mm {
                dt { "Depth of field by the set-up" } dd { (fmt::length(depth.value, Some(depth.plus_minus), units)) ", where discs up to " (fmt::figure(set_up.circle_um, 3)) " µm on film count as sharp" }
            }
        }
        @if document.ramps.iter().any(|ramp| ramp.predicted_mm.is_some()) {
            p.small { "Two depths that ask different things: the set-up’s is where a blur disc stays below its limit; the ramp’s is where its bars keep half of their best contrast. The last column of the table asks the same as the ramp does, of a lens without faults." }
        }
    }
}

/// How much of each corner's softness misalignment explains.
fn corners(document: &FrameDocument) -> Markup {
    let told: Vec<_> = document
        .places
        .iter()
        .filter_map(|p| Some((p.name.as_str(), p.explained_by_misalignment?, p.explained_otherwise)))
        .collect();
    let both = told.iter().any(|(_, _, other)| other.is_some());
    html! {
        @if !told.is_empty() {
            table {
                caption { "Of the corner’s softness against the middle, tilt and curvature of the sharp surface explain" }
                @if both { thead { tr { th scope="col" { "Corner" } th.n scope="col" { "at most" } th.n scope="col" { "if it is curved the other way" } } } }
                tbody { @for (name, share, other) in told { tr { th scope="row" { (name) } td.n { (m(share.times(100.0), "%")) } @if both { td.n { (other.map_or_else(|| "–".into(), |other| m(other.times(100.0), "%"))) } } } } }
            }
            p.small { "What tilt and curvature could explain says more of how card, camera and lens stood than of the lens; places of which they explain more than half are left out of the verdict." }
        }
    }
}

fn ramp_chart(document: &FrameDocument) -> Markup {
    let x = Axis::linear("Height above the card", "mm, towards the camera");
    let y = Axis::linear("Contrast of the bars", "");
    let chart = Chart::new(
        "ramps",
        "Contrast along the ramps",
        "Contrast of the ramps' bars against their height above the card; each peaks where it is in focus.",
        x,
        y,
    );
    let chart = document.ramps.iter().enumerate().fold(chart, |chart, (i, ramp)| {
        let points = ramp.curve.iter().map(|p| (p[0], p[1])).collect();
        chart.with(Mark::Line { label: ramp.name.clone(), points, style: Style(i as u8) })
    });
    chart.show()
}

fn grain(document: &FrameDocument) -> Markup {
    let Some(found) = &document.grain else { return html! {} };
    html! {
        section aria-labelledby="grain" {
            h2 id="grain" { "Grain" }
            dl.facts {
                dt { "Scatter of the light, over its mean" } dd { (m(found.relative.times(100.0), "%")) }
                dt { "Scatter of density" } dd { (m(found.density, "")) }
                @if let Some(rms) = found.granularity { dt { "Within circles of 48 µm, times 1000" } dd { (m(rms, "")) " (film and scanner together)" } }
            }
            (warnings(&found.warnings))
        }
    }
}

fn scale(document: &FrameDocument, _units: Units) -> Markup {
    if document.rulers.is_empty() {
        return html! {};
    }
    html! {
        section aria-labelledby="rulers" {
            h2 id="rulers" { "Scale, checked" }
            dl.facts {
                @for ruler in &document.rulers {
                    dt { "Ruler, " (ruler.name) }
                    dd { (m(ruler.px_per_mm, "px/mm")) @if let Some(squares) = ruler.by_squares_px_per_mm { "; by the squares " (fmt::figure(squares, 5)) } }
                }
            }
        }
    }
}

fn left_out(document: &FrameDocument) -> Markup {
    html! {
        @if !document.left_out.is_empty() {
            details open[document.left_out.len() <= 6] {
                summary { "Could not be measured: " (document.left_out.len()) }
                ul { @for out in document.left_out_together() { li { strong { (out.what) } ": " (out.why) } } }
            }
        }
        (warnings(&document.warnings))
    }
}

fn warnings(sentences: &[String]) -> Markup {
    html! { @if !sentences.is_empty() { div.warning { ul { @for warning in sentences { li { (sentence(warning)) } } } } } }
}

fn made(document: &FrameDocument) -> Markup {
    html! {
        details {
            summary { "With what this was measured" }
            p.small { "By " (document.made_by) ". Numbers into light: " (document.transfer) "." }
            pre.small { (serde_json::to_string_pretty(&document.settings).unwrap_or_default()) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn surface(value: f64, otherwise: Option<f64>) -> AlignmentDocument {
        let figure = |value| Measured { value, plus_minus: 0.2 };
        let other = otherwise.map(|value| Box::new(surface(value, None)));
        AlignmentDocument {
            centre_mm: figure(0.0),
            about_upright_deg: figure(0.0),
            about_level_deg: figure(0.0),
            curvature_mm: Some(figure(value)),
            corners_mm: [figure(value); 4],
            otherwise: other,
            warnings: Vec::new(),
        }
    }

    #[test]
    fn a_bowl_is_told_in_words() {
        let words = |found: &AlignmentDocument| bowl(found, Units::Millimetres).replace(['\u{a0}', '\u{202f}'], " ");
        assert!(words(&surface(0.1, None)).contains("at most 0.3"), "{}", words(&surface(0.1, None)));
        let near = words(&surface(1.2, None));
        assert!(near.contains("1.2") && near.contains("nearer to the lens"), "{near}");
        let far = words(&surface(-1.2, None));
        assert!(far.contains("1.2") && far.contains("farther from the lens") && !far.contains("-1.2"), "{far}");
        let either = words(&surface(-1.2, Some(1.0)));
        assert!(either.contains("farther from the lens") && either.contains("or 1.0"), "{either}");
        let untold = words(&AlignmentDocument { curvature_mm: None, ..surface(0.0, None) });
        assert!(untold.contains("not told") && untold.contains("Lean the card"), "{untold}");
    }
}
