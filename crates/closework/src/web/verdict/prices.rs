//! Prices of all parts in one table, kept in the kit.

use axum::extract::State;
use axum::response::{IntoResponse, Response};
use kit::{Kit, Part};
use maud::{Markup, html};
use notebook::Notebook;

use super::page::{Whole, drawer_page, whole};
use crate::web::error::sentence;
use crate::web::form::{Filled, come_back, saved};
use crate::web::kit_book::{read_kit, read_wishes, record};
use crate::web::{App, PageError};

/// Parts that can be bought and sold: no film.
fn priced(kit: &Kit) -> impl Iterator<Item = &Part> {
    kit.parts().iter().filter(|part| part.kind().is_gear())
}

fn shown_price(part: &Part, filled: &Filled) -> String {
    let name = format!("price-{}", part.id());
    if filled.ticked(&name) { filled.untrimmed(&name).to_owned() } else { part.form_text("price") }
}

/// The currency of the parts, where it is one.
fn currency(kit: &Kit, wishes: &Kit) -> String {
    let all = priced(kit).chain(priced(wishes)).filter_map(|part| part.words("currency"));
    let mut found: Vec<&str> = all.map(str::trim).filter(|word| !word.is_empty()).collect();
    found.sort_unstable();
    found.dedup();
    if let [one] = found[..] { one.to_owned() } else { String::new() }
}

pub(super) fn section(whole: &Whole, filled: &Filled) -> Markup {
    let money = &whole.document.money;
    let typed = if filled.ticked("currency") {
        filled.text("currency").to_owned()
    } else {
        currency(&whole.kit, &whole.wishes)
    };
    html! {
        section aria-labelledby="prices" {
            h2 id="prices" { "Prices" }
            @if money.mixed.len() > 1 {
                div.warning { p { "The prices are in " (money.mixed.join(" and ")) ". They are not summed, and the kit is chosen by the fewest parts. Write one currency for all below and put the prices into it." } }
            }
            @if priced(&whole.kit).next().is_none() { p { "The drawer is empty. " a href="/kit" { "Enter the kit first" } "." } }
            @else {
                p { "What each part would bring if it were sold; of a wish, what it costs. Left blank, a price is not known: the part counts as nothing, and it is said what hangs on that." }
                form method="post" action="/verdict/prices" data-keep="prices" {
                    div.field.currency {
                        label for="field-currency" { "Currency of all of them" }
                        div.entry { input type="text" id="field-currency" name="currency" value=(typed) autocomplete="off"; }
                    }
                    table.prices {
                        thead { tr { th scope="col" { "Part" } th.n scope="col" { "Price" } } }
                        tbody {
                            @for part in priced(&whole.kit) { (row(part, filled, false)) }
                            @for part in priced(&whole.wishes) { (row(part, filled, true)) }
                        }
                    }
                    div.actions { button.main { "Save the prices" } }
                }
            }
        }
    }
}

fn row(part: &Part, filled: &Filled, wished: bool) -> Markup {
    let name = format!("price-{}", part.id());
    let id = format!("field-{name}");
    let error = filled.error(&name);
    html! {
        tr {
            th scope="row" { label for=(id) { (part.name()) @if wished { span.soft { " (wished for)" } } } }
            td.n {
                input.number type="text" inputmode="decimal" id=(id) name=(name) value=(shown_price(part, filled)) autocomplete="off" aria-invalid=[error.map(|_| "true")];
                @if let Some(error) = error { p.error { (error) } }
            }
        }
    }
}

/// Keeps all prices, or none where one of them is wrong.
pub(super) async fn save(State(app): State<App>, filled: Filled) -> Result<Response, PageError> {
    let kept = app.notebook(move |book| keep(book, filled)).await?;
    match kept {
        Ok(()) => Ok(saved("/verdict#prices", "prices")),
        Err(filled) => {
            let whole = app.notebook(|book| whole(book)).await?;
            Ok(come_back(drawer_page(&app, &whole, &filled)).into_response())
        }
    }
}

fn keep(book: &mut Notebook, mut filled: Filled) -> Result<Result<(), Filled>, PageError> {
    let (kit, wishes) = (read_kit(book)?, read_wishes(book)?);
    let mut changed = [Vec::new(), Vec::new()];
    for (list, from) in changed.iter_mut().zip([&kit, &wishes]) {
        for part in priced(from) {
            match with_price(part, &filled) {
                Ok(new) => list.extend(new),
                Err(why) => filled.wrong(&format!("price-{}", part.id()), format!("{}: {why}", part.name())),
            }
        }
    }
    if filled.has_errors() {
        return Ok(Err(filled));
    }
    let [kit, wishes] = changed;
    book.atomically(|book| {
        kit.iter().try_for_each(|part| book.update_part(part.id(), &record(part)))?;
        wishes.iter().try_for_each(|part| book.update_wish(part.id(), &record(part)))
    })?;
    Ok(Ok(()))
}

/// The part with the price that was typed; nothing where nothing changes. A part that the form does not name stays as it is.
fn with_price(part: &Part, filled: &Filled) -> Result<Option<Part>, String> {
    let name = format!("price-{}", part.id());
    if !filled.ticked(&name) {
        return Ok(None);
    }
    let (price, currency) = (filled.text(&name).to_owned(), filled.text("currency").to_owned());
    // A currency that is left blank is left as it is: with two of them the field cannot show either.
    let currency = if currency.is_empty() { part.form_text("currency") } else { currency };
    let currency = if price.is_empty() { String::new() } else { currency };
    let typed = |field: &str| match field {
        "price" => Some(price.clone()),
        "currency" => Some(currency.clone()),
        other => Some(part.form_text(other)),
    };
    let new = Part::from_form(part.kind(), part.id(), typed).map_err(|errors| {
        let first = errors.first().map(|error| error.problem.in_form().to_string()).unwrap_or_default();
        sentence(&first)
    })?;
    Ok((new != *part).then_some(new))
}
