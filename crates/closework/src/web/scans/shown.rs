//! Measurements as a person reads them.

use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Scan};

use super::{ruler_shown, sizes_of};
use crate::documents::{ChannelDocument, EdgeDocument};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::{Axis, Chart, Mark, Style};

/// Channels in the order of reading, with their line styles.
const ORDER: [(&str, &str, u8); 4] =
    [("luminance", "Luminance", 0), ("red", "Red", 1), ("green", "Green", 2), ("blue", "Blue", 3)];

/// A kept edge; nothing when it is a ruler or cannot be read.
pub fn edge_of(m: &Measurement) -> Option<EdgeDocument> {
    (m.kind == MeasurementKind::Edge).then(|| serde_json::from_str(&m.result).ok()).flatten()
}

/// A measurement as the overlay draws it: its number, kind, name, place, and where the edge runs.
pub(super) fn mark(m: &Measurement) -> serde_json::Value {
    let kind = match m.kind {
        MeasurementKind::Edge => "edge",
        MeasurementKind::Scale => "scale",
        MeasurementKind::Frame => "frame",
    };
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
            @if m.kind == MeasurementKind::Edge && scan.pitch_um.is_some() { (super::whole::keep_form(scan, m)) }
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
        MeasurementKind::Frame => None,
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
        MeasurementKind::Frame => format!("The whole frame{place}"),
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
    html! {
        (headline_facts(result, scan))
        (channel_table(result, scan))
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
                    dt { "Half of the contrast left" }
                    dd { strong { (fmt::measured_with(f, u, "cycles/px")) } }
                    dt { "on the film and on the subject" }
                    dd { "not known without the scan's pitch: enter it below" }
                }
            }
            @for (name, label, _) in &ORDER {
                @if let Some(shift) = result.displacement_px.get(*name) {
                    dt { (label) " against green" }
                    dd { (shifted(*shift, result.displacement_plus_minus_px.get(*name).copied(), scale.pitch_um)) }
                }
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

fn channel_table(result: &EdgeDocument, scan: &Scan) -> Markup {
    let scale = sizes_of(scan);
    html! {
        div.scroll tabindex="0" role="region" aria-label="Figures by colour" {
            table {
                thead { tr {
                    th scope="col" { "Colour" }
                    @if scale.px_per_subject_mm().is_some() { th.n scope="col" { "50 % on subject, lp/mm" } }
                    @if scale.pitch_um.is_some() { th.n scope="col" { "50 % on film, lp/mm" } }
                    th.n scope="col" { "50 % at, cycles/px" }
                    th.n scope="col" { "10 % at, cycles/px" }
                    th.n scope="col" { "Rise 10–90 %, px" }
                } }
                tbody { @for (label, _, c) in present(result) { (channel_row(label, c, scan)) } }
            }
        }
    }
}

fn channel_row(label: &str, c: &ChannelDocument, scan: &Scan) -> Markup {
    let scale = sizes_of(scan);
    let or_dash = |f: Option<f64>, u: Option<f64>| f.map_or("not measured".into(), |f| fmt::measured(f, u));
    let (half, unsure) = (c.mtf50_cy_px, c.mtf50_plus_minus);
    let subject = half.map(|f| (scale.on_subject(f), subject_uncertainty(f, unsure, scan))).unwrap_or_default();
    html! {
        tr {
            th scope="row" { (label) }
            @if scale.px_per_subject_mm().is_some() { td.n { (or_dash(subject.0, subject.1)) } }
            @if scale.pitch_um.is_some() {
                td.n { (or_dash(half.and_then(|f| scale.on_film(f)), unsure.and_then(|f| scale.on_film(f)))) }
            }
            td.n { (or_dash(half, unsure)) }
            td.n { (or_dash(c.mtf10_cy_px, None)) }
            td.n { (fmt::figure(c.rise_10_90_px, 3)) }
        }
    }
}

/// The response curves, with the interval of the main one.
fn curve(result: &EdgeDocument, id: &str) -> Chart {
    let described = match result.main_channel().and_then(|c| c.mtf50_cy_px) {
        Some(f) => format!(
            "Contrast left against fineness. The response falls from 1 to one half at {} cycles per pixel.",
            fmt::figure(f, 3)
        ),
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
    let points: Vec<_> = c
        .sfr
        .iter()
        .zip(&c.sfr_plus_minus)
        .filter(|(p, _)| p[0] <= 0.5 + 1e-9)
        .map(|(p, u)| (p[0], p[1] - u, p[1] + u))
        .collect();
    (!points.is_empty()).then(|| Mark::Band { label: "sure to 95 %".into(), points, style: Style(0) })
}
