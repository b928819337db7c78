//! All jobs, and the front page.

use axum::extract::State;
use axum::response::Redirect;
use maud::{Markup, html};
use notebook::Job;

use super::need::{Standing, need_for, standing};
use crate::demo;
use crate::web::error::PageResult;
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::{App, PageError, fmt, off_thread};

/// The front page is the list of jobs.
pub(super) async fn front(state: State<App>, manners: Manners) -> PageResult {
    page(state, manners).await
}

pub(super) async fn page(State(app): State<App>, manners: Manners) -> PageResult {
    let read = |book: &mut notebook::Notebook| {
        let kit = read_kit(book)?;
        let jobs = book.jobs()?.into_iter().map(|job| Ok((standing(book, &job)?, job)));
        Ok::<_, PageError>((jobs.collect::<Result<Vec<_>, PageError>>()?, kit))
    };
    let (jobs, kit) = app.notebook(read).await?;
    let running = app.tasks().running();
    let body = html! {
        @for task in &running { (task.bar()) }
        @if jobs.is_empty() {
            div.note { p { "No job yet. A job says what is photographed, how large it is and how it will be printed; from that follow the magnification and the fineness that the film must hold." } }
        }
        div.cards {
            @for (standing, job) in &jobs { (card(job, *standing, &kit, manners)) }
        }
        div.actions { a.button.main href="/jobs/new" { "Begin a job" } a.button href="/kit" { "Look into the kit" } }
        @if jobs.iter().all(|(_, job)| job.demo) { (way()) }
        @if jobs.iter().any(|(_, job)| job.demo) { (remove_example()) }
    };
    Ok(Sheet::new("Jobs", Place::Jobs).lead("What has to be photographed, how large, for what use.").show(body))
}

fn remove_example() -> Markup {
    html! {
        form method="post" action="/example/remove" {
            button.quiet data-sure="Remove its jobs, scans and kit?" { "Remove the example" }
            p.hint { "Its jobs, frames and scans go, and those parts of its kit that were not changed. What is yours stays." }
        }
    }
}

/// Takes the example out of the notebook.
pub(super) async fn without_example(State(app): State<App>) -> Result<Redirect, PageError> {
    let acting = app.clone();
    off_thread(move || demo::remove(&acting)).await??;
    Ok(Redirect::to("/jobs"))
}

fn way() -> Markup {
    html! {
        section aria-labelledby="way" {
            h2 id="way" { "The way through" }
            p { "Closework says what a drawer of close-up parts can do before the film is exposed, measures what it did, and helps to decide. The example above shows each step done; take it out when it has served." }
            ol {
                li { a href="/kit" { "Kit" } ": put body, lenses and attachments in the drawer." }
                li { a href="/reach" { "Reach" } ": see which of their set-ups reach the size." }
                li { a href="/set-up" { "Set-up" } " and " a href="/exposure" { "Exposure" } ": work distance, light and time out." }
                li { a href="/scans" { "Scans" } ": load the film scans and measure an edge and a ruler in them." }
                li { a href="/side-by-side" { "Side by side" } " and " a href="/verdict" { "Verdict" } ": compare like with like, and decide." }
            }
        }
    }
}

fn card(job: &Job, standing: Standing, kit: &kit::Kit, manners: Manners) -> Markup {
    let name = format!("job-{}", job.id);
    let need = need_for(job, kit);
    html! {
        article.detail.card aria-labelledby=(name) {
            h2 id=(name) { a href=(format!("/jobs/{}", job.id)) { (job.title) } }
            p.standing { (standing.word()) @if job.demo { " · the example" } }
            dl.facts {
                dt { "subject" } dd { (job.subject) @if !job.subject.is_empty() { ", " } (fmt::stated_length(job.subject_mm, manners.units)) " long" }
                dt { "print" } dd { (fmt::stated_length(job.print_mm, manners.units)) " on its long side" }
                @if let Some(need) = need {
                    dt { "wants" } dd { (fmt::ratio(need.magnification())) " and " (fmt::figure(need.on_film_lp_mm(), 3)) " lp/mm on film" }
                }
            }
        }
    }
}
