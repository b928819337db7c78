//! One job: what it needs, what was taken, what was scanned.

use axum::extract::{Path, State};
use kit::Kit;
use maud::{Markup, html};
use notebook::{Frame, FrameState, Job, Notebook, Roll, Scan};

use super::need::{Standing, need_for, standing};
use super::{found, roll};
use crate::web::error::PageResult;
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::manners::{Manners, Units};
use crate::web::{App, PageError, fmt};

struct Whole {
    kit: Kit,
    standing: Standing,
    rolls: Vec<(Roll, Vec<Frame>)>,
    scans: Vec<Scan>,
}

fn read(book: &Notebook, job: &Job) -> Result<Whole, PageError> {
    let rolls = book.rolls(job.id)?.into_iter().map(|roll| Ok((book.frames(roll.id)?, roll)));
    let rolls = rolls.map(|both: Result<_, PageError>| both.map(|(frames, roll)| (roll, frames)));
    Ok(Whole {
        kit: read_kit(book)?,
        standing: standing(book, job)?,
        rolls: rolls.collect::<Result<_, _>>()?,
        scans: book.scans_of_job(job.id)?,
    })
}

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>, manners: Manners) -> PageResult {
    let job = found(&app, &id).await?;
    let wanted = job.clone();
    let whole = app.notebook(move |book| read(book, &wanted)).await?;
    let running = app.tasks().running();
    let body = html! {
        @for task in &running { (task.bar()) }
        (need(&job, &whole, manners.units))
        (frames(&job, &whole))
        (scans(&job, &whole))
    };
    let lead = format!(
        "{}{}",
        whole.standing.word(),
        if job.demo {
            ". This is the example: everything in it can be changed, measured anew or deleted."
        } else {
            "."
        }
    );
    let lead = super::super::error::sentence(&lead);
    Ok(Sheet::new(&job.title, Place::Jobs).lead(&lead).show(body))
}

fn need(job: &Job, whole: &Whole, units: Units) -> Markup {
    html! {
        section aria-labelledby="need" {
            h2 id="need" { "What it needs" }
            dl.facts {
                dt { "the subject" } dd { (job.subject) @if !job.subject.is_empty() { ", " } (fmt::stated_length(job.subject_mm, units)) " long" @if let Some(short) = job.subject_short_mm { ", " (fmt::stated_length(short, units)) " across" } @if let Some(depth) = job.subject_depth_mm { ", " (fmt::stated_length(depth, units)) " deep" } }
                dt { "in the frame" } dd { (fmt::percent(job.fill)) " of the shorter side" }
                dt { "the print" } dd { (fmt::stated_length(job.print_mm, units)) " on its long side, " (job.criterion_lp_mm) " lp/mm still seen with " (fmt::percent(job.contrast_needed)) " of the contrast" }
                @match need_for(job, &whole.kit) {
                    Some(need) => {
                        dt { "so it needs" }
                        dd { strong { (fmt::ratio(need.magnification())) } " (" (fmt::figure(need.magnification(), 3)) "×), and " strong { (fmt::figure(need.on_film_lp_mm(), 3)) " lp/mm" } " on film, which is " (fmt::figure(need.on_subject_lp_mm(), 3)) " lp/mm on the subject" }
                    },
                    None => { dt { "so it needs" } dd { "its body in the " a href="/kit" { "kit" } " before anything can be worked out" } },
                }
                @if let Some(sharp) = job.depth_wanted_mm { dt { "of its depth, sharp" } dd { (fmt::stated_length(sharp, units)) } }
                @if let Some(stops) = job.most_stops_lost { dt { "light" } dd { "at most " (stops) " stops lost" } }
                @if job.largest_crop > 0.0 { dt { "cropped" } dd { "by at most " (fmt::percent(job.largest_crop)) " of the sides" } }
                @if let Some(room) = job.least_working_distance_mm { dt { "room in front" } dd { "at least " (fmt::stated_length(room, units)) } }
            }
            @if !job.notes.is_empty() { p { (job.notes) } }
            div.actions {
                a.button.main href=(format!("/jobs/{}/plan", job.id)) { "Set-ups for it" }
                a.button href=(format!("/reach?job={}", job.id)) { "What reaches it" }
                a.button href=(format!("/jobs/{}/verdict", job.id)) { "Verdict" }
                a.button href=(format!("/jobs/{}/report", job.id)) { "Report" }
                a.button.quiet href=(format!("/jobs/{}/edit", job.id)) { "Change the job" }
            }
        }
    }
}

fn frames(job: &Job, whole: &Whole) -> Markup {
    html! {
        section aria-labelledby="frames" {
            h2 id="frames" { "Rolls and frames" }
            @if whole.rolls.is_empty() { p { "No frame yet. Look at the " a href=(format!("/jobs/{}/plan", job.id)) { "set-ups for it" } ", plan a " a href=(format!("/jobs/{}/test-roll", job.id)) { "test roll" } " with them, or enter a frame here." } }
            @for (roll, frames) in &whole.rolls {
                h3 { (roll.title) @if !roll.film.is_empty() { span.soft { " " (roll.film) } } @if let Some(iso) = roll.iso { span.soft { ", ISO " (iso) } } }
                p.small { a href=(format!("/rolls/{}/log", roll.id)) { "The log" } @if roll.at_camera { ", open to " a href="/phones" { "phones" } } }
                @if frames.is_empty() { p.soft { "Nothing on it yet." } }
                ul.frames { @for frame in frames { li { (frame_line(frame, whole)) } } }
            }
            div.actions {
                a.button href=(format!("/jobs/{}/test-roll", job.id)) { "Plan a test roll" }
                a.button href=(format!("/jobs/{}/frames/new", job.id)) { "Enter a frame" }
                a.button href=(format!("/jobs/{}/records", job.id)) { "Records: tables, sidecars" }
            }
            (roll::form(job, false))
        }
    }
}

fn frame_line(frame: &Frame, whole: &Whole) -> Markup {
    let scans = whole.scans.iter().filter(|scan| scan.frame == Some(frame.id));
    html! {
        div {
            a href=(format!("/frames/{}", frame.id)) { "Frame " (frame.number) @if !frame.label.is_empty() { ": " (frame.label) } }
            p.soft.small {
                (set_up_name(&whole.kit, &frame.parts)) ", " (fmt::focus(&frame.focus))
                @if let Some(f) = frame.f_number { ", f/" (f) }
                @if let Some(s) = frame.shutter_s { ", " (fmt::shutter(s)) }
                @if frame.planned.is_some() { "; " a href=(format!("/rolls/{}/log#frame-{}", frame.roll, frame.number)) { "not as planned" } }
            }
        }
        div.actions {
            @for scan in scans { a.button.quiet href=(format!("/scans/{}", scan.id)) { "Scan" } }
            @if frame.state == FrameState::Planned {
                form method="post" action=(format!("/frames/{}/shot", frame.id)) { button.quiet { "Taken as planned" } }
            } @else { span.soft { @if frame.state == FrameState::Shot { "shot" } @else { "left out" } } }
        }
    }
}

fn scans(job: &Job, whole: &Whole) -> Markup {
    html! {
        section aria-labelledby="scans" {
            h2 id="scans" { "Scans" }
            @if whole.scans.is_empty() { p { "None yet. " a href="/scans" { "Load them" } " and " a href=(format!("/jobs/{}/matching", job.id)) { "match them to frames" } "." } }
            @else {
                div.actions { a.button href=(format!("/jobs/{}/trials", job.id)) { "Blind trials" } }
                p { (whole.scans.len()) @if whole.scans.len() == 1 { " scan belongs" } @else { " scans belong" } " to this job. " a href="/scans" { "Look at them" } ", set them " a href=(format!("/side-by-side?job={}", job.id)) { "side by side" } ", or see " a href=(format!("/jobs/{}/matching", job.id)) { "which shows which frame" } "." }
            }
        }
    }
}
