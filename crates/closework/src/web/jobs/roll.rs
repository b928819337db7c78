//! Rolls of a job.

use axum::extract::{Path, State};
use axum::response::{Redirect, Response};
use maud::{Markup, html};
use notebook::{Job, RollDraft, RollId};

use super::found;
use crate::web::form::{Field, Filled, saved};
use crate::web::{App, PageError};

pub(super) fn form(job: &Job, open: bool) -> Markup {
    let filled = Filled::default();
    html! {
        details open[open] {
            summary { "Add a roll" }
            form method="post" action=(format!("/jobs/{}/rolls", job.id)) data-keep=(format!("roll-{}", job.id)) {
                div.fields {
                    (Field::text("title", "What the roll is called").hint("The number on its wrapper, say.").required().show(&filled))
                    (Field::text("film", "Film").show(&filled))
                    (Field::number("iso", "Exposed at").unit("ISO").show(&filled))
                }
                div.actions { button { "Add the roll" } }
            }
        }
    }
}

pub(super) async fn add(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let title = filled.required_text("title");
    let iso = filled.number_within("iso", 0.1, 1e6, "ISO");
    if let Some(what) = ["title", "iso"].iter().find_map(|name| filled.error(name)) {
        return Err(PageError::refused(
            format!("The roll was not added: {what}"),
            "Go back; what you typed is still in the form.",
        ));
    }
    let draft = RollDraft { title, film: filled.text("film").to_owned(), iso, ..RollDraft::default() };
    app.notebook(move |book| book.add_roll(job.id, &draft)).await?;
    Ok(saved(&format!("/jobs/{id}"), &format!("roll-{id}")))
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let number: RollId = id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a roll.")))?;
    let job = app
        .notebook(move |book| {
            let roll = book.roll(number)?;
            book.delete_roll(number)?;
            Ok::<_, PageError>(roll.map(|roll| roll.job))
        })
        .await?;
    Ok(Redirect::to(&job.map_or("/jobs".into(), |job| format!("/jobs/{job}"))))
}
