//! The page as a whole.

use axum::extract::{Path, RawQuery, State};
use maud::{Markup, html};
use notebook::Notebook;

use super::facts::Facts;
use super::proposed::{self, Asked};
use super::{board, trouble};
use crate::web::App;
use crate::web::error::PageResult;
use crate::web::form::Filled;
use crate::web::jobs::found;
use crate::web::layout::{Place, Sheet};

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery) -> PageResult {
    let job = found(&app, &id).await?;
    let query = Filled::from_query(query.as_deref());
    let (reading, with_times) = (app.clone(), query.text("by") == "time");
    let facts = app.notebook(move |book: &mut Notebook| Facts::read(&reading, book, job.id, with_times)).await?;
    let asked = Asked::read(&query, &facts);
    let title = format!("{}: scans to frames", facts.known.job.title);
    let body = html! {
        p { a href=(format!("/jobs/{id}")) { "Back to the job" } " · " a href=(format!("/jobs/{id}/records")) { "Records" } }
        @if !query.text("said").is_empty() { div.note role="status" { p { (query.text("said")) } } }
        @if facts.scans.is_empty() || facts.known.frames.is_empty() { (nothing_yet(&id, &facts)) }
        @else {
            (standing(&facts))
            (trouble::shown(&facts))
            (ways_back(&id, &facts, &asked))
            (proposed::shown(&id, &facts, &asked))
            (board::shown(&app, &id, &facts, &asked))
        }
    };
    let sheet = Sheet::new(&title, Place::Jobs)
        .lead("Which scan shows which frame: proposed by order, by name or by what was measured, or matched by eye.");
    Ok(sheet.wide().script("/assets/matching.js").show(body))
}

fn nothing_yet(id: &str, facts: &Facts) -> Markup {
    html! {
        div.note {
            @if facts.known.frames.is_empty() {
                p { "This job has no frame yet. " a href=(format!("/jobs/{id}/frames/new")) { "Enter one" } ", or load a log that was kept on paper under " a href=(format!("/jobs/{id}/records")) { "Records" } "." }
            }
            @if facts.scans.is_empty() {
                p { "No scan is here yet. " a href="/scans" { "Load them" } " without saying which frame they show; here they find theirs." }
            }
        }
    }
}

fn standing(facts: &Facts) -> Markup {
    let matched = facts.shown().iter().flatten().count();
    html! { p.standing { (matched) " of " (facts.scans.len()) " scans show a frame" } }
}

/// What takes steps back. Nothing is lost: the step itself is kept and can be done again.
fn ways_back(id: &str, facts: &Facts, asked: &Asked) -> Markup {
    let (undo, again) = facts.steps.can();
    let form = |what: &str, label: &str, sure: Option<&str>| {
        html! {
            form method="post" action=(format!("/jobs/{id}/matching/{what}")) {
                input type="hidden" name="query" value=(asked.query);
                button.quiet data-sure=[sure] { (label) }
            }
        }
    };
    html! {
        @if undo || again {
            div.actions role="group" aria-label="Steps" {
                @if undo { (form("undo", "Take the last step back", None)) (form("undo-all", "Take all matches of this page back", Some("Take all of them back?"))) }
                @if again { (form("again", "Do it again", None)) }
            }
        }
    }
}
