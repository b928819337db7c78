//! The set-ups as a table that can be sorted.

use kit::{Kit, Reach, ReachedSetup};
use maud::{Markup, html};
use notebook::Job;
use optics::Figure;

use super::link_to;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::kit_book::{body_name, part_name, set_up_name};

/// The set-ups that were built; `set` where each carries a setting for a wanted magnification.
pub(super) fn of(kit: &Kit, job: Option<&Job>, reach: &Reach, set: bool) -> Markup {
    let setups = &reach.setups;
    html! {
        section aria-labelledby="all" {
            h2 id="all" { @if reach.total > setups.len() as u64 { "The first " (setups.len()) " of " (reach.total) } @else { "All of them" } }
            div.scroll tabindex="0" role="region" aria-labelledby="all" {
                table.sortable.stacked {
                    thead { tr {
                        th scope="col" { "Set-up" }
                        th.n scope="col" { "Smallest" }
                        th.n scope="col" { "Largest" }
                        @if set {
                            th.n scope="col" { "Light lost there, stops" }
                            th.n scope="col" { "Room in front, mm" }
                            th scope="col" { "Set to" }
                        } @else { th.n scope="col" { "Light lost at most, stops" } }
                        th.n scope="col" { "Parts" }
                    } }
                    tbody { @for setup in setups { (row(kit, setup, job, set)) } }
                }
            }
        }
    }
}

fn row(kit: &Kit, setup: &ReachedSetup, job: Option<&Job>, set: bool) -> Markup {
    let span = setup.magnification;
    html! {
        tr {
            th scope="row" { a href=(link_to(setup, job)) { (set_up_name(kit, &setup.parts)) } @if let Some(body) = body_name(kit, &setup.parts) { span.soft { " on " (body) } }
                @if let Some(other) = setup.alternatives.first() { p.small.soft { "The same with " (set_up_name(kit, other)) @if setup.ways > 2 { ", and in " (setup.ways - 2) " more ways" } "." } }
                @for obstacle in &setup.obstacles { p.small.soft { (sentence(&obstacle.to_string())) } }
            }
            (number("smallest", span.min, &fmt::ratio(span.min)))
            (number("largest", span.max, &fmt::ratio(span.max)))
            @if set { (setting(kit, setup, job)) } @else { (number("light lost at most, stops", setup.stops.max, &fmt::figure(setup.stops.max, 2))) }
            (number("parts", setup.parts.len() as f64, &setup.parts.len().to_string()))
        }
    }
}

fn setting(kit: &Kit, setup: &ReachedSetup, job: Option<&Job>) -> Markup {
    let figure = |figure| setup.setting.as_ref().and_then(|s| s.figures.get(figure));
    let lost = figure(Figure::ExposureStops);
    html! {
        @match lost { Some(stops) => (number("light lost there, stops", stops, &fmt::figure(stops, 2))), None => td.n data-label="light lost there, stops" { "–" } }
        (room(figure(Figure::WorkingDistance), job.and_then(|job| job.least_working_distance_mm)))
        td data-label="set to" { @if let Some(s) = &setup.setting { (set_to(kit, &s.parts, &s.focus.to_string())) } }
    }
}

/// The room in front, marked where it is less than the job needs.
fn room(mm: Option<f64>, needed: Option<f64>) -> Markup {
    let Some(mm) = mm else { return html! { td.n data-label="room in front, mm" { "–" } } };
    let tight = needed.is_some_and(|needed| mm < needed);
    html! { td.n data-label="room in front, mm" data-value=(mm) { (fmt::figure(mm, 3)) @if tight { " " strong { "too little" } } } }
}

/// "bellows at 85 mm, travel 3.2 mm".
pub(in crate::web) fn set_to(kit: &Kit, parts: &[String], focus: &str) -> String {
    let draws = parts.iter().filter_map(|word| word.split_once('='));
    let draws = draws
        .filter_map(|(id, draw)| Some(format!("{} at {} mm", part_name(kit, id), fmt::figure(draw.parse().ok()?, 4))));
    let focus = match focus.strip_prefix("travel=").and_then(|travel| travel.parse().ok()) {
        Some(travel) => format!("travel {} mm", fmt::figure(travel, 3)),
        None => match focus.strip_prefix("distance=").and_then(|mm| mm.parse().ok()) {
            Some(distance) => format!("scale at {} mm", fmt::figure(distance, 3)),
            None => focus.to_owned(),
        },
    };
    draws.chain([focus]).collect::<Vec<_>>().join(", ")
}

fn number(label: &str, value: f64, words: &str) -> Markup {
    html! { td.n data-label=(label) data-value=(value) { (words) } }
}
