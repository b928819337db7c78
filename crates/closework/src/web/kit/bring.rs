//! The kit file, in and out.

use axum::extract::State;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Response};
use kit::Kit;
use maud::html;
use notebook::{Notebook, NotebookError};

use crate::bench::check_designs;
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, come_back, saved};
use crate::web::kit_book::{read_kit, record, records};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError};

pub(super) async fn export(State(app): State<App>) -> Result<Response, PageError> {
    let kit = app.notebook(|book| read_kit(book)).await?;
    let headers =
        [(CONTENT_TYPE, "application/toml; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"kit.toml\"")];
    Ok((headers, kit.to_toml()).into_response())
}

pub(super) async fn form() -> PageResult {
    Ok(show(&Filled::default()))
}

fn show(filled: &Filled) -> Html<String> {
    let how = [
        ("add", "add its parts to those that are here"),
        ("renew", "add its parts, and put them in the place of those with the same short name"),
        ("replace", "put it in the place of the whole kit"),
    ];
    let body = html! {
        (filled.summary())
        form method="post" action="/kit/bring" data-keep="kit-file" {
            div.field {
                label for="kit-file" { "A kit file on this machine" }
                input type="file" id="kit-file" accept=".toml,text/plain" data-into="field-text";
                p.hint { "Its text appears below and can be looked at before it is brought in." }
            }
            (Field::area("text", "Kit file").hint("Or paste it here. It is read whole or not at all: one mistake, and nothing changes.").required().show(filled))
            (Field::choice("how", "What to do with it", how).show(filled))
            div.actions { button.main { "Bring it in" } a href="/kit" { "Back to the kit" } }
        }
    };
    Sheet::new("Bring in a kit file", Place::Kit).script("/assets/kit.js").show(body)
}

pub(super) async fn import(State(app): State<App>, mut filled: Filled) -> Result<Response, PageError> {
    let kit = match Kit::parse(filled.untrimmed("text")) {
        Ok(kit) if kit.parts().is_empty() => {
            filled.wrong("text", "There is no part in this text; each begins with a line such as [[lens]].");
            return Ok(come_back(show(&filled)));
        }
        Ok(kit) => kit,
        Err(error) => {
            filled.wrong("text", sentence(&error.to_string()));
            return Ok(come_back(show(&filled)));
        }
    };
    let how = filled.text("how").to_owned();
    let (brought, replacing) = (kit.clone(), how == "replace");
    let unusable = app.notebook(move |book| {
        let there = if replacing { Kit::default() } else { read_kit(book)? };
        Ok::<_, PageError>(check_designs(&together(&there, &brought), brought.parts()).err())
    });
    if let Some(why) = unusable.await? {
        filled.wrong("text", format!("{} Nothing was brought in.", sentence(&why.to_string())));
        return Ok(come_back(show(&filled)));
    }
    let taken = app.notebook(move |book| take(book, &kit, &how));
    match taken.await {
        Ok(()) => Ok(saved("/kit", "kit-file")),
        Err(error) if error.status() == axum::http::StatusCode::UNPROCESSABLE_ENTITY => {
            filled.wrong("text", format!("{} Nothing was brought in.", error.what()));
            Ok(come_back(show(&filled)))
        }
        Err(error) => Err(error),
    }
}

/// A kit with another's parts in it, which stand before its own.
fn together(there: &Kit, brought: &Kit) -> Kit {
    let stays = there.parts().iter().filter(|part| brought.part(part.id()).is_none());
    // No id is there twice.
    Kit::from_parts(brought.parts().iter().chain(stays).cloned().collect()).unwrap_or_default()
}

/// All of the parts or none.
fn take(book: &mut Notebook, kit: &Kit, how: &str) -> Result<(), NotebookError> {
    match how {
        "replace" => book.replace_kit(&records(kit)),
        "renew" => book.atomically(|book| {
            kit.parts().iter().try_for_each(|part| match book.part(part.id())? {
                Some(_) => book.update_part(part.id(), &record(part)),
                None => book.add_part(&record(part)),
            })
        }),
        _ => book.atomically(|book| kit.parts().iter().try_for_each(|part| book.add_part(&record(part)))),
    }
}
