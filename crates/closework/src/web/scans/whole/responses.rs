//! Responses of scanners: a measured blade is kept as what the scanner does, to be divided out of later frames.

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response as Answer};
use maud::{Markup, html};
use notebook::{Measurement, NotebookError, Response, ResponseDraft, ResponseId, ResponseKind, Scan};

use crate::web::form::Filled;
use crate::web::scans::{found, found_in, shown};
use crate::web::{App, PageError, clock};
use crate::whole_frame::Known;

/// The form under a measured edge.
pub(in crate::web::scans) fn keep_form(scan: &Scan, m: &Measurement) -> Markup {
    html! {
        details {
            summary { "Keep as the scanner’s response" }
            p.small { "When this is the edge of a blade on the scanner’s holder, it shows what the scanner alone does at this setting; later frames can have it divided out. Take one blade laid upright and one laid level: most scanners differ between the two. Blades cut: hold them by the back, cover the edge when you are done." }
            form.live method="post" action=(format!("/scans/{}/measurements/{}/response", scan.id, m.id)) {
                label { "Scanner and setting " input type="text" name="name" required maxlength="80" autocomplete="off"; }
                div.actions { button { "Keep the response" } }
            }
        }
    }
}

/// All that are kept, each with its way out.
pub(super) fn list(scan: &Scan, responses: &[Response]) -> Markup {
    html! {
        @if !responses.is_empty() {
            details {
                summary { "Responses that are kept: " (responses.len()) }
                ul {
                    @for response in responses {
                        li {
                            (response.draft.name) " (" (response.draft.kind.word()) ", from " (response.draft.source) ") "
                            form.live method="post" action=(format!("/scans/{}/responses/{}/delete", scan.id, response.id)) {
                                button.quiet data-sure="Delete this response?" { "Delete" }
                            }
                        }
                    }
                }
            }
        }
    }
}

pub(super) async fn keep(
    State(app): State<App>,
    Path((id, m)): Path<(String, String)>,
    filled: Filled,
) -> Result<Answer, PageError> {
    let scan = found(&app, &id).await?;
    let measurement = found_in(&app, &scan, &m).await?;
    let name: String = filled.text("name").trim().chars().take(80).collect();
    let edge = shown::edge_of(&measurement).ok_or_else(|| {
        PageError::refused("Only a measured edge can be kept as a response.", "Measure a blade’s edge first.")
    })?;
    let known = Known::of_edge(&name, &edge).and_then(|known| known.at_pitch(10.0).map(|_| known).map_err(Into::into));
    let known = known.map_err(|why| {
        let what = format!("This edge cannot be kept as a response: {why}.");
        PageError::refused(what, "Enter the scan’s pitch, and measure the edge again.")
    })?;
    let document = serde_json::to_string(&known)
        .map_err(|error| PageError::broken("The response could not be written down.", error))?;
    let source = format!("scan {} ({}), edge {}", scan.id, scan.file_name, measurement.id);
    let draft = ResponseDraft { name, kind: ResponseKind::Scanner, source, document };
    app.notebook(move |book| book.add_response(&draft, &clock::now())).await?;
    Ok(Redirect::to(&format!("/scans/{}#whole", scan.id)).into_response())
}

pub(super) async fn delete(
    State(app): State<App>,
    Path((id, response)): Path<(String, String)>,
) -> Result<Answer, PageError> {
    let scan = found(&app, &id).await?;
    let response: ResponseId =
        response.parse().map_err(|_| PageError::missing(format!("“{response}” is not the number of a response.")))?;
    app.notebook(move |book| match book.delete_response(response) {
        // A second press finds it gone already, which is what was wanted.
        Err(NotebookError::NoSuchResponse { .. }) => Ok(()),
        other => other,
    })
    .await?;
    Ok(Redirect::to(&format!("/scans/{}#whole", scan.id)).into_response())
}
