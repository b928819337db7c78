//! Decisions, written down by the person.

use axum::extract::{Path, State};
use axum::response::{Redirect, Response};
use maud::{Markup, html};
use notebook::{Decision, DecisionId, JobId};

use crate::web::clock::now;
use crate::web::error::sentence;
use crate::web::form::{Field, Filled, saved};
use crate::web::jobs::found;
use crate::web::{App, PageError};

/// What was decided of a job, and the form for more.
pub(super) fn section(job: JobId, decisions: &[Decision]) -> Markup {
    html! {
        section aria-labelledby="decided" {
            h2 id="decided" { "Decided" }
            @for decision in decisions {
                div.note {
                    p { (decision.text) }
                    form method="post" action=(format!("/decisions/{job}/{}/delete", decision.id)) {
                        span.soft { (decision.created.get(..10).unwrap_or_default()) " " }
                        button.quiet data-sure="Take it back?" { "Take it back" }
                    }
                }
            }
            form method="post" action=(format!("/jobs/{job}/decisions")) data-keep=(format!("decision-{job}")) {
                (Field::area("text", "What is decided").hint("Which set-up for this work, which is not good enough for paid work, what is kept and what is sold.").show(&Filled::default()))
                div.actions { button.main { "Write it down" } }
            }
        }
    }
}

pub(super) async fn decide(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let text = filled.required_text("text");
    if text.is_empty() {
        return Err(PageError::refused(
            "The decision is empty, so there was nothing to write down.",
            "Go back and say what is decided.",
        ));
    }
    app.notebook(move |book| book.add_decision(job.id, &sentence(&text), &now())).await?;
    Ok(saved(&format!("/jobs/{id}/verdict#decided"), &format!("decision-{id}")))
}

pub(super) async fn take_back(
    State(app): State<App>,
    Path((job, id)): Path<(String, String)>,
) -> Result<Redirect, PageError> {
    let job = found(&app, &job).await?.id;
    let id: DecisionId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a decision.")))?;
    app.notebook(move |book| book.delete_decision(id)).await?;
    Ok(Redirect::to(&format!("/jobs/{job}/verdict#decided")))
}
