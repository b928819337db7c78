//! Scans beside the plan, to be matched by eye: press a scan and a frame, drag one onto the other, or choose from the list.

use maud::{Markup, html};
use notebook::{FrameState, ScanId};

use super::facts::Facts;
use super::proposed::Asked;
use super::trouble::disagrees;
use crate::web::kit_book::short_name;
use crate::web::scans::thumbnail;
use crate::web::{App, fmt};

pub(super) fn shown(app: &App, id: &str, facts: &Facts, asked: &Asked) -> Markup {
    let shown = facts.shown();
    let loose: Vec<usize> = (0..facts.scans.len()).filter(|scan| shown[*scan].is_none()).collect();
    html! {
        section aria-labelledby="by-eye" {
            h2 id="by-eye" { "By eye" }
            p { "Choose a scan's frame from its list. " span.with-script hidden { "Or press a scan and then its frame; or drag it there. Escape lets go of it." } }
            div.matching data-set=(format!("/jobs/{id}/matching/set")) data-query=(asked.query) {
                div.loose role="group" aria-label="Scans without a frame" {
                    h3 { "Without a frame" }
                    @if loose.is_empty() { p.soft { "None." } }
                    ul.matched { @for scan in loose { li { (card(app, id, facts, asked, scan, None)) } } }
                    button.quiet.put type="button" data-frame="" hidden { "Put it here: no frame" }
                }
                @for (roll, title) in facts.film.rolls.iter().enumerate() {
                    div.roll role="group" aria-label=(title) {
                        h3 { (title) }
                        ul.slots { @for frame in 0..facts.film.frames.len() { @if facts.film.frames[frame].roll == roll {
                            li { (slot(app, id, facts, asked, &shown, frame)) }
                        } } }
                    }
                }
            }
            p.unseen role="status" aria-live="polite" id="matching-said" {}
        }
    }
}

fn slot(app: &App, id: &str, facts: &Facts, asked: &Asked, shown: &[Option<usize>], frame: usize) -> Markup {
    let entry = &facts.known.frames[frame];
    let scans: Vec<usize> = (0..shown.len()).filter(|scan| shown[*scan] == Some(frame)).collect();
    let size = facts.film.frames[frame].size;
    html! {
        div.slot.empty[scans.is_empty()] data-frame=(entry.id) {
            p.name { strong { "Frame " (entry.number) } @if !entry.label.is_empty() { ": " (entry.label) } }
            p.soft.small {
                @if !entry.parts.is_empty() { (short_name(&entry.parts)) }
                @if let Some(f) = entry.f_number { ", f/" (f) }
                @if let Some(size) = size { ", " (fmt::ratio(size.value)) }
                @match entry.state { FrameState::Shot => "", FrameState::Planned => ", not logged as taken", FrameState::LeftOut => ", left out" }
            }
            @if !entry.purpose.is_empty() { p.soft.small { (entry.purpose) } }
            @if scans.len() > 1 { p.amiss { "! " (scans.len()) " scans show this frame" } }
            @if scans.is_empty() && entry.state != FrameState::LeftOut { p.soft.small { "no scan yet" } }
            ul.matched { @for scan in scans { li { (card(app, id, facts, asked, scan, Some(frame))) } } }
            button.quiet.put type="button" data-frame=(entry.id) hidden { "Put it here" span.hidden-words { ": frame " (entry.number) } }
        }
    }
}

fn card(app: &App, id: &str, facts: &Facts, asked: &Asked, scan: usize, frame: Option<usize>) -> Markup {
    let entry = &facts.scans[scan];
    let off = frame.is_some_and(|frame| disagrees(facts, scan, frame));
    let moved = facts.steps.moved().any(|moved| moved == entry.id);
    html! {
        div.match.off[off] data-scan=(entry.id) data-name=(entry.file_name) {
            (thumbnail(app, entry))
            div {
                p.name { a href=(format!("/scans/{}", entry.id)) { (entry.file_name) } }
                p.soft.small {
                    @if let Some(m) = facts.facts[scan].size { "measured " (fmt::measured(m.value, Some(m.plus_minus))) } @else { "not measured" }
                    @if let Some(by) = entry.matched { ", matched by " (by.word()) }
                }
                @if off { p.amiss { "! its magnification disagrees with this frame's set-up" } }
                button.quiet.take type="button" aria-pressed="false" hidden { "Move" span.hidden-words { " " (entry.file_name) } }
                (choose(id, facts, asked, entry.id, frame))
                @if moved {
                    form.inline method="post" action=(format!("/jobs/{id}/matching/undo-scan")) {
                        input type="hidden" name="scan" value=(entry.id);
                        input type="hidden" name="query" value=(asked.query);
                        button.quiet { "Take back" span.hidden-words { " the last match of " (entry.file_name) } }
                    }
                }
            }
        }
    }
}

/// The way without scripts, and the quickest by keyboard.
fn choose(id: &str, facts: &Facts, asked: &Asked, scan: ScanId, frame: Option<usize>) -> Markup {
    let field = format!("frame-of-{scan}");
    html! {
        form.inline method="post" action=(format!("/jobs/{id}/matching/set")) {
            input type="hidden" name="scan" value=(scan);
            input type="hidden" name="query" value=(asked.query);
            label.hidden-words for=(field) { "Its frame" }
            select id=(field) name="frame" {
                option value="" selected[frame.is_none()] { "no frame" }
                @for at in 0..facts.film.frames.len() {
                    option value=(facts.known.frames[at].id) selected[frame == Some(at)] { (facts.frame_name(at)) }
                }
            }
            button.quiet { "Match" }
        }
    }
}
