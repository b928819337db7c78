//! The panes with their names and figures.

use axum::response::Html;
use maud::{Markup, html};
use measure::Similarity;

use super::compared::{Compared, Edge};
use super::figures::{self, Row};
use super::laid::{self, Laid, Way};
use super::tone::{self, Toned};
use super::{automatic, table, tools};
use crate::web::App;
use crate::web::fmt;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Units;
use crate::web::scans::{Pane, Viewer};
use crate::web::tasks::Standing;

pub(super) fn page(app: &App, shown: &[(&Compared, Viewer<'_>)], way: Option<Way>, units: Units) -> Html<String> {
    let all: Vec<&Compared> = shown.iter().map(|(compared, _)| *compared).collect();
    let laid = laid::laid(&all, way);
    let toned = tone::toned(app, &all, &laid.on_each);
    let rows = figures::rows(&all);
    let unit = if units == Units::Inches { "in" } else { "mm" };
    let body = html! {
        (search(app, &all))
        (troubles(&all, &laid))
        (tone::filters(&toned))
        div.side data-unit=(unit) data-scaled[laid.scaled] data-key=(super::address(&ids(&all), Some(laid.way))) {
            (tools::above(&all, &toned))
            div class=(format!("panes panes-{}", shown.len())) data-view="beside" {
                @for (index, (compared, viewer)) in shown.iter().enumerate() {
                    (pane(&all, &laid, &rows, index, compared, viewer))
                }
            }
            (tools::below(&all, &laid))
        }
        (tools::laying(&all, &laid))
        (figures::table(&all, &rows))
        (table::compared_edges(&all))
        p { a href=(choose_others(&all)) { "Choose other scans" } }
    };
    let toned: Vec<Markup> =
        toned.iter().enumerate().filter_map(|(k, t)| Some(tone_words(k + 2, t.as_ref()?))).collect();
    let body = html! {
        (body)
        @if !toned.is_empty() {
            section aria-labelledby="tones" {
                h2 id="tones" { "What “one tone” does" }
                p { "It is worked out in linear light where the pictures show the same, and looked up while drawing; the scans stay as they are. Compare sharpness of tone and contrast with it off: black and white points hide differences in contrast." }
                ul { @for words in toned { li { (words) } } }
            }
        }
    };
    Sheet::new("Side by side", Place::SideBySide).neutral().script("/assets/side.js").show(body)
}

fn tone_words(number: usize, toned: &Toned) -> Markup {
    let [grey, ends] = tone::words(toned);
    html! { (number) " to the tone of 1: " (grey) "; " (ends) }
}

pub(super) fn ids(all: &[&Compared]) -> Vec<notebook::ScanId> {
    all.iter().map(|c| c.scan.id).collect()
}

fn choose_others(all: &[&Compared]) -> String {
    let ticked: Vec<_> = all.iter().map(|c| format!("scan={}", c.scan.id)).take(1).collect();
    format!("/side-by-side?{}", ticked.join("&"))
}

/// How far the search on the pictures is, or how it ended.
fn search(app: &App, all: &[&Compared]) -> Markup {
    match app.tasks().about(&automatic::about(&ids(all))) {
        Some(report) => html! {
            (report.bar())
            @if let Standing::Failed(why) = &report.standing { p.warning role="status" { strong { "They could not be laid over each other by what they show. " } (why) } }
        },
        None => html! {},
    }
}

/// Everything that stands in the way of comparing these, with what to do next.
fn troubles(all: &[&Compared], laid: &Laid) -> Markup {
    html! {
        @if !laid.scaled { (not_scaled(all)) }
        @if let Some(jobs) = different_jobs(all) { p.warning { strong { "These belong to different jobs. " } "They are " (jobs) ". What is compared below may be different subjects; " a href="/scans" { "say which job a scan belongs to" } " where this is wrong." } }
        @if all.iter().any(|c| c.edges.is_empty() && c.whole.is_none()) { (not_measured(all)) }
        @if let Some(why) = laid::card_trouble(all) { p.note { "The card does not lay them over each other: " (why) } }
    }
}

fn not_scaled(all: &[&Compared]) -> Markup {
    html! {
        div.warning {
            p { strong { "These cannot be brought to one size of the subject yet." } " The size is not known of:" }
            ul { @for c in all.iter().filter(|c| c.px_per_mm.is_none()) {
                li { a href=(format!("/scans/{}", c.scan.id)) { (c.scan.file_name) } ": " (missing(c)) }
            } }
            p { "Or " a href="#laying" { "pick two details in each" } ": they give size, turn and place at once. Until then they are shown pixel for pixel, or with frames of one width." }
        }
    }
}

fn missing(c: &Compared) -> &'static str {
    match (c.scan.pitch_um, c.scan.magnification) {
        (None, Some(_)) => "enter its pitch, or measure a ruler in it",
        (Some(_), None) => "enter its magnification, or measure a ruler in it",
        _ => "measure a ruler in it, or enter pitch and magnification",
    }
}

/// The jobs' titles, when the scans belong to several.
fn different_jobs(all: &[&Compared]) -> Option<String> {
    let mut titles: Vec<&str> = Vec::new();
    for job in all.iter().filter_map(|c| c.job.as_ref()) {
        if !titles.contains(&job.title.as_str()) {
            titles.push(&job.title);
        }
    }
    (titles.len() > 1).then(|| titles.iter().map(|title| format!("“{title}”")).collect::<Vec<_>>().join(", "))
}

fn not_measured(all: &[&Compared]) -> Markup {
    html! {
        p.note {
            "Nothing is measured yet in "
            @for (k, c) in all.iter().filter(|c| c.edges.is_empty() && c.whole.is_none()).enumerate() {
                @if k > 0 { ", " }
                a href=(format!("/scans/{}#whole", c.scan.id)) { (c.scan.file_name) }
            }
            ": the pictures can be looked at, but which differences are real only figures say. Measure the whole frame there, or an edge."
        }
    }
}

fn pane(
    all: &[&Compared],
    laid: &Laid,
    rows: &[Row],
    index: usize,
    compared: &Compared,
    viewer: &Viewer<'_>,
) -> Markup {
    let scan = &compared.scan;
    let number = index + 1;
    let label = format!("Scan {number} of the comparison: {}. Arrows, plus and minus move all.", scan.file_name);
    let class = format!("beside n{number}");
    let spec = Pane {
        class: &class,
        label: &label,
        still: Some(laid.still(&all.iter().map(|c| c.size()).collect::<Vec<_>>(), index)),
        px_per_mm: compared.px_per_mm.map(|(px, _)| px),
        laid: Some(placed(&laid.on_each[index])),
        pitch_um: scan.pitch_um,
    };
    html! {
        figure.one {
            (viewer.show(&spec))
            figcaption {
                strong { (number) ": " a href=(format!("/scans/{}", scan.id)) { (scan.file_name) } }
                span { (size(compared)) }
                @if let Some(set_up) = compared.set_up() { span { (set_up) } }
                @if let Some(missed) = compared.whole.as_ref().and_then(missed) { span { (missed) } }
                (beside(rows, index))
                @for edge in compared.newest_edges() {
                    span {
                        (place(&edge.label)) ": half the contrast left at " (compared.figure(&edge.document))
                        @if index > 0 { (edge_beside(all[0], compared, edge)) }
                    }
                }
                @if compared.edges.is_empty() && compared.whole.is_none() { span.soft { "nothing measured yet" } }
            }
        }
    }
}

/// For the script: scale times cosine and sine of the turn, where the first one's corner comes to lie, mirrored or not.
fn placed(on: &Similarity) -> String {
    let (sin, cos) = on.turn_deg().to_radians().sin_cos();
    let (x, y) = on.to_second((0.0, 0.0));
    let scale = on.scale();
    format!("{} {} {x} {y} {}", scale * cos, scale * sin, u8::from(on.is_mirrored()))
}

/// The main figures of the whole frame, each with how it stands to the first one's.
fn beside(rows: &[Row], index: usize) -> Markup {
    html! {
        @for row in rows.iter().filter(|row| row.main) {
            @if let Some(own) = row.cells[index] {
                span {
                    (row.name) ": " strong { (fmt::measured_with(own.value, own.plus_minus, row.unit)) }
                    @if let Some(first) = row.cells[0].filter(|_| index > 0) { " " span.stands { (figures::beside_first(own, first)) } }
                }
            }
        }
    }
}

/// How an edge stands to the first scan's of the same place and direction.
fn edge_beside(first: &Compared, compared: &Compared, edge: &Edge) -> Markup {
    let alike = |other: &&&Edge| {
        other.label.eq_ignore_ascii_case(&edge.label) && other.document.direction == edge.document.direction
    };
    let newest = first.newest_edges();
    let other = newest.iter().find(alike).and_then(|other| first.on_subject(&other.document));
    let words = compared.on_subject(&edge.document).zip(other).map(|(own, first)| figures::beside_first(own, first));
    html! { @if let Some(words) = words { " " span.stands { (words) } } }
}

/// Whether the sharp surface surely lies off the card.
fn missed(frame: &crate::documents::FrameDocument) -> Option<String> {
    let focus = figures::focus(frame)?;
    let plus_minus = focus.plus_minus?;
    (focus.value.abs() > plus_minus).then(|| {
        let side = if focus.value > 0.0 { "toward the lens" } else { "away from the lens" };
        format!("focus missed the card by {} {side}", fmt::measured_with(focus.value.abs(), Some(plus_minus), "mm"))
    })
}

fn size(compared: &Compared) -> String {
    match (compared.scan.magnification, compared.px_per_mm) {
        (Some(m), _) => format!("magnification {} ({})", fmt::measured(m.value, m.plus_minus), fmt::ratio(m.value)),
        (None, Some((px, u))) => format!("{} px per mm of the subject, by its ruler", fmt::measured(px, u)),
        (None, None) => "magnification not known".into(),
    }
}

/// A place in the frame, as it was named.
pub(super) fn place(label: &str) -> String {
    if label.is_empty() { "Edge without a place".into() } else { label.to_owned() }
}
