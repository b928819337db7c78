//! Parts that are wished for: they lie beside the kit, so that nothing counts on them that only counts what is owned.

use axum::extract::{Path, RawQuery, State};
use axum::response::{Html, Redirect, Response};
use kit::{Kind, Part};
use maud::{Markup, html};

use super::page::Whole;
use super::shown::capital;
use crate::documents::verdict::Purchase;
use crate::verdict::money::{price_doubt, sum_with};
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, come_back, saved};
use crate::web::kit::part_sheet;
use crate::web::kit_book::{read_kit, record};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError};

/// What each wish would bring.
pub(super) fn section(whole: &Whole) -> Markup {
    html! {
        section aria-labelledby="wishes" {
            h2 id="wishes" { "Wished for, or borrowed" }
            p { "Parts that are not yours, beside the kit: Reach and the plans do not count on them. Frames that were taken with one, on a borrowed lens say, tell here what buying it would bring; without any, what tracing predicts is said as such." }
            @if !whole.wishes.parts().is_empty() {
                ul.frames { @for wish in whole.wishes.parts() { li { (one(whole, wish)) } } }
            }
            form.inline method="get" action="/wishes/new" {
                div.fields {
                    (Field::choice("kind", "Wish for a", kinds()).show(&Filled::default()))
                }
                div.actions { button { "Enter it" } }
            }
        }
    }
}

fn kinds() -> impl Iterator<Item = (&'static str, &'static str)> {
    Kind::ALL.into_iter().filter(|kind| kind.is_gear()).map(|kind| (kind.spec().table, kind.spec().label))
}

fn one(whole: &Whole, wish: &Part) -> Markup {
    let found = whole.document.purchases.iter().find(|purchase| purchase.part == wish.id());
    html! {
        div {
            strong { (wish.name()) }
            @if let Some(price) = wish.number("price") { span.soft { ", for " (sum_with(price, price_doubt(wish), &whole.document.money.currency)) } }
            p.soft.small { @match found { Some(purchase) => (brings(whole, purchase)), None => "Nothing measured is known of it yet: no frame was planned or taken with it." } }
            @if let Some(predicted) = super::foreseen::of_wish(&whole.document, wish) { p.soft.small { (predicted) } }
        }
        div.actions {
            form method="post" action=(format!("/wishes/{}/came", wish.id())) { button.quiet { "It is mine now" } }
            form method="post" action=(format!("/wishes/{}/delete", wish.id())) { button.quiet data-sure="Take it off the list?" { "Take it off" } }
        }
    }
}

fn brings(whole: &Whole, purchase: &Purchase) -> String {
    let title = |id: &String| {
        let uses = &whole.document.uses;
        uses.iter().find(|standing| standing.id == *id).map_or(id.clone(), |standing| format!("“{}”", standing.title))
    };
    let titles = |ids: &[String]| ids.iter().map(title).collect::<Vec<_>>().join(", ");
    let money = |amount: f64| sum_with(amount, purchase.frees_plus_minus, &whole.document.money.currency);
    let served = (!purchase.newly_served.is_empty()).then(|| format!("would serve {}", titles(&purchase.newly_served)));
    let perhaps =
        (!purchase.perhaps.is_empty()).then(|| format!("may serve {}, to be tried first", titles(&purchase.perhaps)));
    let frees = purchase.frees.filter(|frees| *frees > 0.0).map(|frees| format!("would let {} go", money(frees)));
    let all: Vec<String> = [served, perhaps, frees].into_iter().flatten().collect();
    if all.is_empty() {
        "It would bring nothing that is not there already.".into()
    } else {
        sentence(&format!("it {}", all.join("; ")))
    }
}

fn kind_of(word: &str) -> Result<Kind, PageError> {
    let found = Kind::from_table(word).filter(|kind| kind.is_gear());
    found.ok_or_else(|| PageError::missing(format!("“{word}” is nothing that can be wished for.")))
}

pub(super) async fn new(RawQuery(query): RawQuery) -> PageResult {
    let query = Filled::from_query(query.as_deref());
    Ok(show(kind_of(query.text("kind"))?, &Filled::default()))
}

fn show(kind: Kind, filled: &Filled) -> Html<String> {
    let body = html! {
        (filled.summary())
        form method="post" action="/wishes/new" data-keep=(format!("wish-{}", kind.spec().table)) {
            input type="hidden" name="kind" value=(kind.spec().table);
            (part_sheet::fields(kind, true, filled))
            div.actions { button.main { "Put it on the list" } a href="/verdict#wishes" { "Back to the verdict" } }
        }
    };
    let lead = "It lies beside the kit until it is yours. Its price is what it would cost.";
    Sheet::new(&format!("Wished for: {}", capital(kind.spec().label)), Place::Verdict).lead(lead).show(body)
}

pub(super) async fn add(State(app): State<App>, mut filled: Filled) -> Result<Response, PageError> {
    let kind = kind_of(filled.text("kind"))?;
    let Some(part) = part_sheet::read(kind, &mut filled) else { return Ok(come_back(show(kind, &filled))) };
    let wish = record(&part);
    let outcome = app.notebook(move |book| {
        if read_kit(book)?.part(&wish.id).is_some() {
            return Err(PageError::refused(
                format!("The kit has a part “{}” already.", wish.id),
                "Give the wish another name.",
            ));
        }
        book.add_wish(&wish).map_err(PageError::from)
    });
    match outcome.await {
        Ok(()) => Ok(saved("/verdict#wishes", &format!("wish-{}", kind.spec().table))),
        Err(error) if error.status() == axum::http::StatusCode::UNPROCESSABLE_ENTITY => {
            filled.wrong("id", error.what());
            Ok(come_back(show(kind, &filled)))
        }
        Err(error) => Err(error),
    }
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    app.notebook(move |book| book.delete_wish(&id)).await?;
    Ok(Redirect::to("/verdict#wishes"))
}

/// A wish that came true goes into the kit.
pub(super) async fn came(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    app.notebook(move |book| book.fulfil_wish(&id)).await?;
    Ok(Redirect::to("/verdict#wishes"))
}
