//! A log that was kept on paper: sent as a table, looked at, kept.

use std::fs::File;

use axum::extract::multipart::Multipart;
use axum::extract::{DefaultBodyLimit, FromRequest, Path, Request, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use notebook::{FrameState, Job, Notebook};
use tokio::io::AsyncWriteExt;

use super::{known, show};
use crate::records::Known;
use crate::records::paper::{self as table, Change, Entry, MOST_BYTES, Paper, PaperError, Preview, Slips};
use crate::records::table::state_word;
use crate::web::error::sentence;
use crate::web::form::Filled;
use crate::web::jobs::found;
use crate::web::kit_book::read_kit;
use crate::web::{App, PageError, fmt};

/// Room for the table and what a form puts around it.
pub(super) fn limit() -> DefaultBodyLimit {
    DefaultBodyLimit::max(MOST_BYTES as usize + 1024 * 1024)
}

pub(super) fn form(known: &Known) -> Markup {
    let id = known.job.id;
    html! {
        form.detail method="post" action=(format!("/jobs/{id}/paper")) enctype="multipart/form-data" {
            h2 { "In, from paper" }
            p { "Save the sheet, print it or fill it in, and load it again. It is shown before anything is kept, and it is kept whole or not at all." }
            div.actions { a.button href=(format!("/jobs/{id}/frames-template.csv")) download { "Save a sheet to fill in" } }
            div.field {
                label for="field-file" { "The filled-in table" }
                input type="file" id="field-file" name="file" accept=".csv,.tsv,.txt,text/csv,text/tab-separated-values,text/plain";
            }
            div.field {
                label for="field-text" { "Or paste it here" }
                textarea id="field-text" name="text" rows="5" {}
            }
            div.actions { button.main { "Look at the table" } }
        }
    }
}

/// The table that was sent, in a file without a name.
async fn received(app: &App, request: Request) -> Result<File, PageError> {
    let broken = |cause: std::io::Error| PageError::broken("The table could not be put on the disk.", cause);
    let form = Multipart::from_request(request, app).await;
    let mut form = form.map_err(|e| PageError::refused("This was not sent by the form for tables.", e.body_text()))?;
    let file = tempfile::tempfile().map_err(broken)?;
    let mut out = tokio::fs::File::from_std(file.try_clone().map_err(broken)?);
    let (mut bytes, mut chosen) = (0u64, false);
    let cut_off = |_| PageError::refused("The table did not arrive whole.", "Send it again.");
    while let Some(mut field) = form.next_field().await.map_err(cut_off)? {
        // A chosen file wins over what was pasted, which comes behind it in the form.
        let is_file = field.name() == Some("file") && field.file_name().is_some_and(|name| !name.is_empty());
        if !is_file && (chosen || field.name() != Some("text")) {
            continue;
        }
        chosen |= is_file;
        while let Some(chunk) = field.chunk().await.map_err(cut_off)? {
            bytes += chunk.len() as u64;
            if bytes > MOST_BYTES {
                let error = PaperError::TooLarge { bytes };
                return Err(PageError::too_large(sentence(&error.to_string()), "Nothing of it was kept."));
            }
            out.write_all(&chunk).await.map_err(broken)?;
        }
    }
    out.flush().await.map_err(broken)?;
    Ok(file)
}

pub(super) async fn look(
    State(app): State<App>,
    Path(id): Path<String>,
    request: Request,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let file = received(&app, request).await?;
    let again = file.try_clone().map_err(|cause| PageError::broken("The table could not be read.", cause))?;
    let (looked_at, of) = (job.clone(), job.id);
    let read = move |book: &mut Notebook| {
        let kit = read_kit(book)?;
        Ok::<_, PageError>(Paper::open(file).and_then(|mut paper| {
            let preview = table::check(&mut paper, book, &looked_at, &kit)?;
            Ok((paper.remarks(), preview))
        }))
    };
    let above = match app.notebook(read).await? {
        Ok((remarks, preview)) => preview_of(&job, &remarks, &preview, &app.shelf().put(of, again)),
        Err(error) => return refused(&app, &id, &error).await,
    };
    Ok(show(&known(&app, &id).await?, above).into_response())
}

async fn refused(app: &App, id: &str, error: &PaperError) -> Result<Response, PageError> {
    let page: Html<String> = show(&known(app, id).await?, refusal(error));
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

pub(super) async fn keep(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let word = filled.text("table").to_owned();
    let waiting =
        app.shelf().get(job.id, &word).map_err(|cause| PageError::broken("The table could not be read.", cause))?;
    let Some(file) = waiting else {
        let advice = "Load the table again; it waits until three others were loaded, or the program ends.";
        return Err(PageError::refused("This table is no longer here.", advice));
    };
    let act = move |book: &mut Notebook| {
        let kit = read_kit(book)?;
        Ok::<_, PageError>(Paper::open(file).and_then(|mut paper| table::keep(&mut paper, book, &job, &kit)))
    };
    match app.notebook(act).await? {
        Ok(kept) => {
            app.shelf().take(&word);
            let known = known(&app, &id).await?;
            Ok(show(&known, done(&known.job, &kept.preview)).into_response())
        }
        Err(error) => refused(&app, &id, &error).await,
    }
}

fn refusal(error: &PaperError) -> Markup {
    html! {
        div.refusal role="alert" tabindex="-1" data-focus {
            p.what { "Nothing of the table was kept." }
            @match error {
                PaperError::Slips(slips) => (slips_of(slips)),
                other => p { (sentence(&other.to_string())) },
            }
        }
    }
}

fn slips_of(slips: &Slips) -> Markup {
    html! {
        p { (slips.all) @if slips.all == 1 { " slip:" } @else { " slips:" } @if slips.all > slips.first.len() { " the first " (slips.first.len()) " are these." } }
        div.scroll { table {
            thead { tr { th.n scope="col" { "Row" } th scope="col" { "Column" } th scope="col" { "What is wrong" } } }
            tbody { @for slip in &slips.first { tr { td.n { (slip.row) } td { (slip.column) } td { (sentence(&slip.what)) } } } }
        } }
    }
}

fn counts(preview: &Preview) -> Markup {
    html! {
        dl.facts {
            dt { "rows" } dd { (preview.rows) }
            dt { "new frames" } dd { (preview.new) }
            dt { "changed frames" } dd { (preview.changed) }
            @if preview.same > 0 { dt { "already so" } dd { (preview.same) } }
            @if !preview.new_rolls.is_empty() { dt { "new rolls" } dd { (preview.new_rolls.join(", ")) } }
            @if !preview.changed_rolls.is_empty() { dt { "film or speed changes on" } dd { (preview.changed_rolls.join(", ")) } }
            @if preview.loose_scans > 0 { dt { "passed over" } dd { (preview.loose_scans) " rows about scans that show no frame" } }
        }
    }
}

fn preview_of(job: &Job, remarks: &[String], preview: &Preview, word: &str) -> Markup {
    html! {
        section.detail aria-labelledby="preview" tabindex="-1" data-focus {
            h2 id="preview" { "The table, before it is kept" }
            @if !remarks.is_empty() { div.warning { @for remark in remarks { p { (remark) } } } }
            (counts(preview))
            @if preview.does_nothing() {
                p { "Everything in it stands in the notebook already; there is nothing to keep." }
            } @else {
                (first_rows(preview))
                form method="post" action=(format!("/jobs/{}/paper/keep", job.id)) {
                    input type="hidden" name="table" value=(word);
                    div.actions { button.main { "Keep all of it" } a href=(format!("/jobs/{}/records", job.id)) { "Leave it" } }
                }
            }
        }
    }
}

fn first_rows(preview: &Preview) -> Markup {
    let more = preview.new + preview.changed - preview.first.len();
    html! {
        div.scroll { table {
            thead { tr {
                th.n scope="col" { "Row" } th scope="col" { "Frame" } th scope="col" { "What happens" } th scope="col" { "As it will be" }
            } }
            tbody { @for entry in &preview.first { (row(entry)) } }
        } }
        @if more > 0 { p.soft { "And " (more) " more." } }
    }
}

fn row(entry: &Entry) -> Markup {
    let draft = &entry.draft;
    html! {
        tr {
            td.n { (entry.row) }
            td { (entry.roll_name) ", " (draft.number) @if !draft.label.is_empty() { ": " (draft.label) } }
            td { @match &entry.change {
                Change::New => "new",
                Change::Changed(columns) => { "changes " (columns.join(", ")) },
                Change::Same => "stays",
            } }
            td {
                (state_word(draft.state))
                @if let Some(f) = draft.f_number { ", f/" (f) }
                @if let Some(s) = draft.shutter_s { ", " (fmt::shutter(s)) }
                @if !draft.parts.is_empty() { ", " (draft.parts.join(" + ")) ", " (draft.focus) }
                @if draft.state == FrameState::LeftOut && !draft.note.is_empty() { ", " (draft.note) }
            }
        }
    }
}

fn done(job: &Job, preview: &Preview) -> Markup {
    html! {
        section.note role="status" tabindex="-1" data-focus {
            p { "All of it is kept." }
            (counts(preview))
            p { a href=(format!("/jobs/{}", job.id)) { "See the job" } }
        }
    }
}
