//! Lens tables of one's own: kept in the kit under a name, put in the place of a lens, changed, taken away.

use axum::extract::{Path, State};
use axum::response::{Redirect, Response};
use kit::{Kind, Kit, Part};
use maud::{Markup, html};
use notebook::Notebook;

use super::alone;
use crate::bench::{OwnTable, SURFACES, check_designs, standing_on, table_part};
use crate::web::error::sentence;
use crate::web::form::{Field, Filled, come_back, saved};
use crate::web::kit::id_from;
use crate::web::kit_book::{read_kit, read_wishes, record};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

/// The table of that id; none where none is asked for.
pub(super) fn kept(kit: &Kit, id: &str) -> Result<Option<Part>, PageError> {
    if id.is_empty() {
        return Ok(None);
    }
    let table = kit.part(id).filter(|part| part.kind() == Kind::LensTable).cloned();
    table.map(Some).ok_or_else(|| PageError::missing(format!("There is no lens table “{id}” in the kit.")))
}

/// What can be done with a table that was read: keep it, let it stand for a lens, take it away.
pub(super) fn keeping(kit: &Kit, table: Option<&Part>, query: &Filled) -> Markup {
    let mut filled = query.clone();
    filled.default_to("name", table.map_or("", Part::name));
    html! {
        h2 { @if table.is_some() { "Kept in your kit" } @else { "Keep it" } }
        @if let Some(table) = table { (standing(kit, table)) }
        form method="post" action="/bench/tables" {
            input type="hidden" name="text" value=(query.untrimmed("text").trim());
            @if let Some(table) = table { input type="hidden" name="kept" value=(table.id()); }
            div.fields { (Field::text("name", "Name").hint("What you call it. It is kept with the kit, and goes out with the kit file.").required().show(&filled)) }
            div.actions { button { @if table.is_some() { "Save the table as it stands here" } @else { "Keep it in the kit" } } }
        }
        @if let Some(table) = table {
            form method="post" action=(format!("/bench/tables/{}/delete", table.id())) {
                div.actions { button.quiet data-sure="Take the table out for good?" { "Take it out of the kit" } }
            }
        }
    }
}

/// The lenses that stand on it, and a choice of one more.
fn standing(kit: &Kit, table: &Part) -> Markup {
    let on = standing_on(kit, table.id());
    let lenses: Vec<_> = kit.of_kind(Kind::Lens).map(|lens| (lens.id(), lens.name())).collect();
    html! {
        p {
            @if on.is_empty() { "No lens stands on it yet." } @else {
                "Rays go through it for " strong { (names(&on)) } ": set-ups, plans, predictions and frames of it are traced so."
            }
        }
        @if !lenses.is_empty() {
            form method="post" action="/bench/choose" {
                input type="hidden" name="form" value=(table.id());
                input type="hidden" name="back" value="table";
                div.fields { (Field::choice("lens", "For the lens", lenses).show(&Filled::default())) }
                div.actions { button.main { "Let it stand for this lens" } }
            }
        }
    }
}

fn names(lenses: &[&Part]) -> String {
    lenses.iter().map(|lens| lens.name()).collect::<Vec<_>>().join(", ")
}

/// Keeps what was traced, under its name.
pub(super) async fn keep(State(app): State<App>, manners: Manners, mut filled: Filled) -> Result<Response, PageError> {
    let name = filled.required_text("name");
    let kit = app.notebook(|book| read_kit(book)).await?;
    let old = kept(&kit, filled.text("kept"))?;
    let id = old.as_ref().map_or_else(|| id_from(&name), |part| part.id().to_owned());
    if !name.is_empty()
        && old.is_none()
        && let Some(why) = not_free(&kit, &id)
    {
        filled.wrong("name", why);
    }
    let text = filled.untrimmed("text").trim().to_owned();
    if let Err(why) = OwnTable::read(&id, &name, &text) {
        filled.wrong("text", sentence(&why.to_string()));
    }
    if filled.has_errors() {
        return Ok(come_back(alone::table_page(&app, manners, filled).await?));
    }
    let part = table_part(&id, &name, &text);
    let part = part.map_err(|why| PageError::refused(sentence(&why), "Give the table another name."))?;
    app.notebook(move |book| match old {
        Some(old) => book.update_part(old.id(), &record(&part)),
        None => book.add_part(&record(&part)),
    })
    .await?;
    Ok(saved(&format!("/bench/table?kept={id}"), "bench-table"))
}

fn not_free(kit: &Kit, id: &str) -> Option<String> {
    if id.is_empty() {
        return Some("Name: give it one with some plain letters; its short name is made from it.".into());
    }
    let taken = kit.part(id).is_some();
    let shipped = rays::form(id).is_some();
    (taken || shipped).then(|| {
        let whose = if taken { "something in the kit" } else { "a form of the library" };
        format!("The short name “{id}” is that of {whose} already: give the table another name.")
    })
}

/// Takes it away, unless a lens stands on it.
pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    app.notebook(move |book| {
        kept(&read_kit(book)?, &id)?;
        may_go(book, &id)?;
        Ok::<_, PageError>(book.delete_part(&id)?)
    })
    .await?;
    Ok(Redirect::to("/bench"))
}

/// A table that lenses stand on stays: they would have nothing for rays to go through.
pub(in crate::web) fn may_go(book: &Notebook, id: &str) -> Result<(), PageError> {
    let (kit, wishes) = (read_kit(book)?, read_wishes(book)?);
    let on: Vec<&Part> = standing_on(&kit, id).into_iter().chain(standing_on(&wishes, id)).collect();
    if on.is_empty() || kit.part(id).is_none_or(|part| part.kind() != Kind::LensTable) {
        return Ok(());
    }
    let what = format!("“{id}” stands for {}: rays would have nothing to go through.", names(&on));
    Err(PageError::refused(what, "Choose another form for it on the bench first, or empty the field in the kit."))
}

/// What the bench could not use of a part that is to be put in a kit: its field, and why.
pub(in crate::web) fn unusable(kit: &Kit, part: &Part) -> Option<(&'static str, String)> {
    let field = if part.kind() == Kind::LensTable { SURFACES } else { crate::bench::FIELD };
    check_designs(kit, [part]).err().map(|why| (field, sentence(&why.to_string())))
}
