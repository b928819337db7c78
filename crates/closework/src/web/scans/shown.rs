//! Measurements as a person reads them.

use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Scan};

use super::{ruler_shown, sizes_of};
use crate::documents::{ChannelDocument, EdgeDocument, Sizes};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::{Axis, Chart, Mark, Style};

/// Channels in the order of reading, with their line styles.
const ORDER: [(&str, &str, u8); 4] = [("luminance", "Luminance", 0), ("red", "Red", 1), ("green", "Green", 2), ("blue", "Blue", 3)];

/// A kept edge; nothing when it is a ruler or cannot be read.
pub fn edge_of(m: &Measurement) -> Option<EdgeDocument> {
    (m.kind == MeasurementKind::Edge).then(|| serde_json::from_str(&m.result).ok()).flatten()
}

/// A measurement as the overlay draws it: its number, kind, name, place, and where the edge runs.
pub(super) fn mark(m: &Measurement) -> serde_json::Value {
    let kind = if m.kind == MeasurementKind::Edge { "edge" } else { "scale" };
    let place: serde_json::Value = serde_json::from_str(&m.place).unwrap_or_default();
    let trace = edge_of(m).map(|edge| edge.trace_px).unwrap_or_default();
    serde_json::json!({ "id": m.id.0, "kind": kind, "label": m.label, "place": place, "trace": trace })
}

/// A kept measurement with its figures, and the way to delete it.
pub(super) fn measurement(m: &Measurement, scan: &Scan, open: bool, units: Units) -> Markup {
    let delete = format!("/scans/{}/measurements/{}/delete", scan.id, m.id);
    html! {
        details.measurement id=(format!("m{}", m.id)) open[open] {
            summary { (headline(m, scan)) }
            (figures(m, scan, units))
            form.live method="post" action=(delete) {
                button.quiet data-sure="Delete this measurement?" { "Delete this measurement" }
            }
        }
    }
}

fn figures(m: &Measurement, scan: &Scan, units: Units) -> Markup {
    let figures = match m.kind {
        MeasurementKind::Edge => edge_of(m).map(|edge| edge_figures(&edge, scan, &format!("sfr-{}", m.id))),
        MeasurementKind::Scale => ruler_shown::figures(m, scan, units),
    };
    figures.unwrap_or_else(|| {
        html! { p.warning { "This measurement was kept in a form that this version cannot read. Measure it again." } }
    })
}

/// What was measured, where, and the one figure that counts.
pub(super) fn headline(m: &Measurement, scan: &Scan) -> String {
    let place = if m.label.is_empty() { String::new() } else { format!(", {}", m.label) };
    match m.kind {
        MeasurementKind::Edge => {
            let figure = edge_of(m).and_then(|edge| main_figure(&edge, scan));
            format!("Edge{place}: {}", figure.unwrap_or_else(|| "no figure at one half".into()))
        }
        MeasurementKind::Scale => format!("Ruler{place}: {}", ruler_shown::headline(m, scan)),
    }
}

/// Where half of the contrast is left, in the best terms that are known: on the subject, else on the film, else in pixels.
pub fn main_figure(edge: &EdgeDocument, scan: &Scan) -> Option<String> {
    let channel = edge.main_channel()?;
    let (f, u) = (channel.mtf50_cy_px?, channel.mtf50_plus_minus);
    let sizes = sizes_of(scan);
    Some(match (sizes.on_subject(f), sizes.on_film(f)) {
        (Some(subject), _) => {
            format!("{} lp/mm on the subject at 50 %", fmt::measured(subject, subject_uncertainty(f, u, scan)))
        }
        (None, Some(film)) => {
            format!("{} lp/mm on film at 50 %", fmt::measured(film, u.and_then(|u| sizes.on_film(u))))
        }
        (None, None) => format!("{} cycles/px at 50 %", fmt::measured(f, u)),
    })
}

/// The figures of an edge: facts, table by colour, curve, remarks.
fn edge_figures(result: &EdgeDocument, scan: &Scan, chart_id: &str) -> Markup {
    let scale = sizes_of(scan);
    html! {
        (headline_facts(result, scan))
        (channel_table(result, scale))
        (curve(result, chart_id).show())
        @if !result.warnings.is_empty() {
            div.warning { h3 { "Remarks" } ul { @for warning in &result.warnings { li { (sentence(warning)) } } } }
        }
    }
}

fn headline_facts(result: &EdgeDocument, scan: &Scan) -> Markup {
    let scale = sizes_of(scan);
    html! {
        dl.facts {
            @if let Some((f, u)) = result.main_channel().and_then(|c| Some((c.mtf50_cy_px?, c.mtf50_plus_minus))) {
                @if let Some(film) = scale.on_film(f) {
                    dt { "Half of the contrast left, on the film" }
                    dd { strong { (fmt::measured_with(film, u.and_then(|u| scale.on_film(u)), "lp/mm")) } }
                }
                @if let Some(subject) = scale.on_subject(f) {
                    dt { "the same, on the subject" }
                    dd { strong { (fmt::measured_with(subject, subject_uncertainty(f, u, scan), "lp/mm")) } " (lines of " (fmt::figure(500.0 / subject, 2)) " µm)" }
                } @else if scale.pitch_um.is_some() {
                    dt { "the same, on the subject" }
                    dd { "not known without the magnification: measure a ruler, or enter it" }
                } @else {
                    dt { "on the film and on the subject" }
                    dd { "not known without the scan's pitch: enter it below" }
                }
            }
            @for (name, shift) in &result.displacement_px {
                dt { (capital(name)) " against green" }
                dd { (shifted(*shift, result.displacement_plus_minus_px.get(name).copied(), scale.pitch_um)) }
            }
            dt { "Contrast of the two sides" } dd { (fmt::figure(result.contrast, 3)) }
            dt { "Clipped samples" } dd { (fmt::percent(result.clipped_fraction)) }
            dt { "Edge leans" } dd { (fmt::figure(result.angle_deg, 3)) "°, " (result.direction.replace('-', " ")) }
            dt { "Numbers into light by" } dd { (transfer_words(&result.transfer)) }
        }
    }
}

/// The figure's own uncertainty and the magnification's, taken as independent.
fn subject_uncertainty(f: f64, u: Option<f64>, scan: &Scan) -> Option<f64> {
    let relative_m = scan.magnification.and_then(|m| Some(m.plus_minus? / m.value)).unwrap_or(0.0);
    let relative = (u? / f).hypot(relative_m);
    sizes_of(scan).on_subject(f).map(|s| s * relative)
}

fn capital(name: &str) -> String {
    ORDER.iter().find(|(known, ..)| *known == name).map_or_else(|| name.to_owned(), |(_, label, _)| (*label).to_owned())
}

fn shifted(px: f64, plus_minus: Option<f64>, pitch_um: Option<f64>) -> String {
    let in_pixels = fmt::measured_with(px, plus_minus, "px");
    match pitch_um {
        Some(pitch) => {
            let um = fmt::measured_with(px * pitch, plus_minus.map(|u| u * pitch), "µm on film");
            format!("{in_pixels} ({um})")
        }
        None => in_pixels,
    }
}

fn transfer_words(label: &str) -> String {
    match label {
        "icc" => "the profile in the file".into(),
        "srgb" => "the sRGB curve".into(),
        "linear" => "nothing: they were taken as linear".into(),
        other => other.replace("gamma=", "a power curve of gamma "),
    }
}

fn present(result: &EdgeDocument) -> impl Iterator<Item = (&'static str, u8, &ChannelDocument)> {
    ORDER.iter().filter_map(|(name, label, style)| Some((*label, *style, result.channels.get(*name)?)))
}

fn channel_table(result: &EdgeDocument, scale: Sizes) -> Markup {
    let or_dash = |f: Option<f64>, u: Option<f64>| f.map_or("not measured".into(), |f| fmt::measured(f, u));
    html! {
        div.scroll tabindex="0" role="region" aria-label="Figures by colour" {
            table {
                thead { tr {
                    th scope="col" { "Colour" }
                    th.n scope="col" { "50 % at, cycles/px" }
                    th.n scope="col" { "10 % at, cycles/px" }
                    th.n scope="col" { "Rise 10–90 %, px" }
                    @if scale.pitch_um.is_some() { th.n scope="col" { "50 % on film, lp/mm" } }
                    @if scale.px_per_subject_mm().is_some() { th.n scope="col" { "50 % on subject, lp/mm" } }
                } }
                tbody { @for (label, _, c) in present(result) { tr {
                    th scope="row" { (label) }
                    td.n { (or_dash(c.mtf50_cy_px, c.mtf50_plus_minus)) }
                    td.n { (or_dash(c.mtf10_cy_px, None)) }
                    td.n { (fmt::figure(c.rise_10_90_px, 3)) }
                    @if scale.pitch_um.is_some() { td.n { (or_dash(c.mtf50_cy_px.and_then(|f| scale.on_film(f)), c.mtf50_plus_minus.and_then(|f| scale.on_film(f)))) } }
                    @if scale.px_per_subject_mm().is_some() { td.n { (or_dash(c.mtf50_cy_px.and_then(|f| scale.on_subject(f)), None)) } }
                } } }
            }
        }
    }
}

/// The response curves, with the interval of the main one.
fn curve(result: &EdgeDocument, id: &str) -> Chart {
    let described = match result.main_channel().and_then(|c| c.mtf50_cy_px) {
        Some(f) => format!("Contrast left against fineness. The response falls from 1 to one half at {} cycles per pixel.", fmt::figure(f, 3)),
        None => "Contrast left against fineness. The response does not fall to one half within the curve.".into(),
    };
    let x = Axis::linear("Fineness across the edge", "cycles per pixel").range(0.0, 0.5);
    let y = Axis::linear("Contrast left", "").range(0.0, 1.2);
    let chart = Chart::new(id, "Response of the edge", &described, x, y);
    let band = result.main_channel().and_then(interval);
    let chart = band.into_iter().fold(chart, Chart::with);
    let chart = present(result).fold(chart, |chart, (label, style, c)| {
        let points = c.sfr.iter().map(|p| (p[0], p[1])).filter(|p| p.0 <= 0.5 + 1e-9).collect();
        chart.with(Mark::Line { label: label.into(), points, style: Style(style) })
    });
    chart.with(Mark::AtY { label: "one half".into(), y: 0.5 })
}

fn interval(c: &ChannelDocument) -> Option<Mark> {
    let points: Vec<_> = c.sfr.iter().zip(&c.sfr_plus_minus).filter(|(p, _)| p[0] <= 0.5 + 1e-9).map(|(p, u)| (p[0], p[1] - u, p[1] + u)).collect();
    (!points.is_empty()).then(|| Mark::Band { label: "sure to 95 %".into(), points, style: Style(0) })
}
