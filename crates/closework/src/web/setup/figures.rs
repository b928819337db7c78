//! The figures of a set-up in words.

use kit::{Kit, Report, Setup, SetupError};
use maud::{Markup, html};
use notebook::Job;
use optics::{Estimate, Figure};

use super::picked::Picked;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::jobs::need_of;
use crate::web::kit_book::{named_field, part_name};
use crate::web::manners::Units;

/// Why a set-up cannot be computed.
pub fn refusal(error: &SetupError) -> Markup {
    html! { div.refusal role="alert" { p.what { (sentence(&error.to_string())) } } }
}

pub(super) fn table(report: &Report, job: Option<&Job>, setup: &Setup<'_>, units: Units) -> Markup {
    let m = report.figures.get(Figure::Magnification).unwrap_or(Estimate::exact(0.0));
    html! {
        section aria-labelledby="figures-head" {
            h2 id="figures-head" { "Figures" }
            p.big { (fmt::ratio(m.value)) span.soft { " size on film " (fmt::measured(m.value, m.half_width())) "×" } }
            @if let Some(job) = job { (against_job(job, m, setup)) (room_and_depth(job, report, units)) }
            dl.facts {
                @for figure in Figure::ALL {
                    @if !matches!(figure, Figure::Magnification | Figure::FieldHeight) {
                        dt { (label(figure)) }
                        dd { (value(report, figure, units)) }
                    }
                }
                @if let Some(held) = squareness(report, setup) {
                    dt { "film and subject parallel within" }
                    dd { (held) }
                }
                dt { "counts as sharp, on film" } dd { "discs up to " (fmt::figure(setup.coc_mm() * 1000.0, 3)) " µm" @if job.is_some() { ", for the job’s print" } }
            }
        }
    }
}

/// How far out of parallel a flat subject may lie until the depth no longer holds it from corner to corner: the depth lies
/// partly before and partly behind the plane of focus, and a tilted plane takes the same on either side of the middle.
fn squareness(report: &Report, setup: &Setup<'_>) -> Option<String> {
    let figure = |figure| report.figures.get(figure).map(|e: Estimate| e.value);
    let depth = 2.0 * figure(Figure::DepthNear)?.min(figure(Figure::DepthFar)?);
    let [width, height] = setup.numbers().frame;
    let held = planning::tilt_held_deg(width.hypot(height), figure(Figure::Magnification)?, depth).ok()?;
    Some(format!("{}°", fmt::figure(held, 2)))
}

fn label(figure: Figure) -> &'static str {
    match figure {
        Figure::FieldWidth => "the frame covers",
        other => other.label(),
    }
}

fn value(report: &Report, figure: Figure, units: Units) -> String {
    let Some(found) = report.figures.get(figure) else { return "infinite".into() };
    if figure == Figure::FieldWidth {
        let height = report.figures.get(Figure::FieldHeight);
        let length = |e: Estimate| fmt::length(e.value, e.half_width(), units);
        return format!("{} wide, {} high", length(found), height.map_or("infinite".into(), length));
    }
    match figure.unit() {
        "mm" => fmt::length(found.value, found.half_width(), units),
        "" => format!("f/{}", fmt::measured(found.value, found.half_width())),
        unit => fmt::measured_with(found.value, found.half_width(), unit),
    }
}

/// How the magnification stands to what the job wants.
fn against_job(job: &Job, m: Estimate, setup: &Setup<'_>) -> Markup {
    let frame = setup.numbers().frame;
    let wanted = need_of(job, frame).magnification();
    let reached = m.value / wanted;
    let words = if (reached - 1.0).abs() <= 0.02 {
        "this is it".to_owned()
    } else if reached < 1.0 {
        format!("here the subject comes out at {} of that", fmt::percent(reached))
    } else {
        format!("here the subject comes out {} times as large", fmt::figure(reached, 3))
    };
    html! { p { "The job wants " strong { (fmt::ratio(wanted)) } " (" (fmt::figure(wanted, 3)) "×): " (words) "." } }
}

/// Nearer than this, mm, lamps and flash stand close to the specimen, the fingers and the eyes (common practice, no
/// source).
const CLOSE_MM: f64 = 150.0;

/// What can hurt at this distance, said where the distance is read.
fn caution(report: &Report) -> Markup {
    let near = report.figures.get(Figure::WorkingDistance).is_some_and(|room| room.value < CLOSE_MM);
    html! {
        @if near {
            p.note { strong { "Care: " } "this near, a hot lamp dries or burns the specimen and the fingers, and a flash beside the viewfinder dazzles. Let lamps cool, keep their maker's distances; local rules come first." }
        }
    }
}

/// Whether the room and the depth that the job needs are there, and the stop that makes the best of the depth.
fn room_and_depth(job: &Job, report: &Report, units: Units) -> Markup {
    let figure = |figure| report.figures.get(figure).map(|e| e.value);
    let length = |mm| fmt::stated_length(mm, units);
    html! {
        @if let (Some(needed), Some(room)) = (job.least_working_distance_mm, figure(Figure::WorkingDistance)) {
            p { (fmt::figure_length(room, units)) " in front; the job needs " (length(needed)) ": " @if room < needed { strong { "too little" } } @else { "enough" } "." }
        }
        @if let (Some(deep), Some(depth), Some(m)) = (job.subject_depth_mm, figure(Figure::DepthOfField), figure(Figure::Magnification)) {
            p { (depth_words(deep, depth, m, report, units)) }
        }
    }
}

fn depth_words(deep: f64, depth: f64, m: f64, report: &Report, units: Units) -> String {
    let (sharp, whole) = (fmt::figure_length(depth, units), fmt::stated_length(deep, units));
    let stops = report.figures.get(Figure::ExposureStops).map_or(0.0, |e| e.value);
    let (effective, disc) = optics::balanced_f_number(m, deep);
    let marked = effective / 2f64.powf(stops / 2.0);
    let balance = format!(
        "In one take the whole of it is best at about f/{}, where depth and diffraction balance, with discs of {} µm on film at its ends",
        fmt::figure(marked, 2),
        fmt::figure(disc * 1000.0, 2)
    );
    if depth >= deep {
        format!("Sharp are {sharp}, and the subject is {whole} deep: one take covers it. {balance}.")
    } else {
        let takes = (deep / depth).ceil();
        format!(
            "Sharp are {sharp} of the subject's {whole}: {takes} takes focused through it would cover it. {balance}."
        )
    }
}

pub(super) fn reservations(kit: &Kit, report: &Report) -> Markup {
    html! {
        (caution(report))
        (square_up())
        @for warning in &report.warnings {
            div.warning { p { (sentence(&warning.to_string())) } }
        }
        @if !report.steep.is_empty() { (steep(report)) }
        @if !report.calibrated.is_empty() {
            p.soft { "Calibrated figures are used: " @for (i, field) in report.calibrated.iter().enumerate() { @if i > 0 { ", " } (of_part(kit, field)) } "." }
        }
        @if !report.assumed.is_empty() {
            details.assumptions {
                summary { (report.assumed.len()) @if report.assumed.len() == 1 { " field was not stated: what is usual was taken" } @else { " fields were not stated: what is usual was taken" } }
                ul { @for field in &report.assumed { li { (of_part(kit, field)) } } }
            }
        }
    }
}

/// How to see, before a frame is spent, that film and subject are parallel.
fn square_up() -> Markup {
    html! {
        details {
            summary { "See that film and subject are parallel" }
            ol {
                li { "Lay a small flat mirror where the subject will lie, and look through the camera: the lens must see itself in the middle of the frame. Tilt the camera until it does." }
                li { "Or set a spirit level on the subject's board and on the camera back (not on the lens), in both directions." }
                li { "On a test, the ramps of the target card say afterwards by how much it was missed." }
            }
        }
    }
}

/// Figures whose ± is only an indication.
fn steep(report: &Report) -> Markup {
    let names: Vec<_> = report.steep.iter().map(|(figure, _)| label(*figure)).collect();
    html! {
        p.soft { "So much is in doubt here that the ± of " (names.join(", ")) " is only an indication: the true interval is lopsided. Calibrating the lens, or stating what is assumed, mends that; the command line gives the interval by simulation." }
    }
}

/// "normal.pupil_ratio" in the words of the kit's forms, with a link to where the figure can be entered.
fn of_part(kit: &Kit, field: &str) -> Markup {
    let (part, label) = named_field(kit, field);
    html! { a href=(format!("/kit/part/{part}")) { (part_name(kit, part)) } ": " (label) }
}

pub(super) fn onwards(picked: &Picked, job: Option<&Job>) -> Markup {
    let query = picked.query();
    html! {
        div.actions {
            @let of_job = job.map(|job| format!("&job={}", job.id)).unwrap_or_default();
            a.button href=(format!("/exposure?{query}{of_job}")) { "Exposure with this" }
            a.button href=(crate::web::bench::address_of(picked)) { "On the bench: rays through it" }
            a.button href=(format!("/target?{query}")) { "Target card for its field" }
            a.button href=(format!("/pocket-cards?{}", crate::web::pocket::query_of(picked))) { "Pocket card" }
            @if let Some(job) = job {
                a.button href=(format!("/jobs/{}/frames/new?{query}", job.id)) { "Plan a frame of “" (job.title) "”" }
            }
        }
        p.soft.small { "On the command line: " code { "closework setup --kit kit.toml --parts " (picked.parts.join(",")) " --focus " (picked.focus) @if let Some(f) = picked.f_number { " --f-number " (f) } } }
    }
}
