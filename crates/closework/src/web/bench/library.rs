//! The library of design forms, the nearest to a lens first.

use axum::extract::{RawQuery, State};
use kit::{Kind, Kit, Part};
use maud::{Markup, html};
use rays::{BackFocus, Form, Looks, nearest_forms};

use super::{of_kit, shown};
use crate::bench::{FIELD, OwnTable, kind, mismatch};
use crate::web::App;
use crate::web::error::{PageResult, sentence};
use crate::web::fmt;
use crate::web::form::{Field, Filled};
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;

const LEAD: &str = "Published designs that stand for lenses: exact rays go through them, and tell what tubes, bellows and close-up lenses make of a lens of that kind.";

pub(super) async fn page(State(app): State<App>, manners: Manners, RawQuery(query): RawQuery) -> PageResult {
    let mut query = Filled::from_query(query.as_deref());
    if !query.text("parts").is_empty() {
        return of_kit::show(&app, manners, query).await;
    }
    let kit = app.notebook(|book| read_kit(book)).await?;
    let looks = looks(&mut query);
    let lens = kit.part(query.text("lens")).filter(|part| part.kind() == Kind::Lens);
    let body = html! {
        (shown::not_yours())
        (query.summary_of("This could not be read:"))
        div.actions { a.button href="/set-up" { "A set-up of your kit" } a.button href="/bench/table" { "A lens table of your own" } a.button href="/bench/measured" { "Predicted beside measured" } }
        h2 { "Which form is nearest to a lens?" }
        p { "Three questions, as far as you can answer them. Manuals and advertisements give the number of elements; the back focus is how far the rearmost glass stands from the film at infinity." }
        form method="get" action="/bench" {
            div.fields { (questions(&kit, &query)) }
            div.actions { button.main { "The nearest first" } }
        }
        @if let Some(lens) = lens { (of_lens(lens)) }
        (own_tables(&kit, lens))
        div.cards { @for form in nearest_forms(&looks) { (card(form, &looks, lens)) } }
    };
    Ok(Sheet::new("Design forms", Place::SetUp).lead(LEAD).show(body))
}

fn looks(query: &mut Filled) -> Looks {
    let elements = query.number_within("elements", 1.0, 30.0, "elements").map(|count| count.round() as usize);
    let symmetric = match query.text("symmetric") {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    };
    let back_focus = match query.text("back_focus") {
        "short" => Some(BackFocus::Short),
        "usual" => Some(BackFocus::Usual),
        "long" => Some(BackFocus::Long),
        _ => None,
    };
    Looks { elements, symmetric, back_focus }
}

fn questions(kit: &Kit, query: &Filled) -> Markup {
    let unknown = ("", "I do not know");
    let alike = [unknown, ("yes", "yes, or nearly"), ("no", "no")];
    let back = [
        unknown,
        ("short", "short: less than half of the focal length"),
        ("usual", "usual: between"),
        ("long", "long: more than the focal length"),
    ];
    let lenses = kit.of_kind(Kind::Lens).map(|lens| (lens.id().to_owned(), lens.name().to_owned()));
    let lenses = std::iter::once((String::new(), "none in particular".to_owned())).chain(lenses);
    html! {
        (Field::choice("lens", "For the lens", lenses).show(query))
        (Field::number("elements", "Glass elements").show(query))
        (Field::choice("symmetric", "Front and back half alike", alike).show(query))
        (Field::choice("back_focus", "Back focus", back).show(query))
    }
}

fn of_lens(lens: &Part) -> Markup {
    let chosen = lens.words(FIELD).unwrap_or_default();
    html! {
        p {
            @if chosen.is_empty() { "No form is chosen for " strong { (lens.name()) } "." } @else { "For " strong { (lens.name()) } " stands " code { (chosen) } "." }
            " The choice is kept with the lens in the kit; nothing else of it changes."
        }
    }
}

fn card(form: &Form, looks: &Looks, lens: Option<&Part>) -> Markup {
    let answered = *looks != Looks::default();
    html! {
        article.detail.card aria-labelledby=(form.key) {
            h3 id=(form.key) { a href=(format!("/bench/forms/{}", form.key)) { (form.name) } }
            (facts(form))
            @if answered { p.small { (nearness(form.distance(looks))) } }
            (choice(form.key, lens))
        }
    }
}

/// Whether it stands for the lens, or a button that makes it so.
fn choice(key: &str, lens: Option<&Part>) -> Markup {
    let Some(lens) = lens else { return html! {} };
    html! {
        @if lens.words(FIELD).map(str::trim) == Some(key) { p { strong { "Stands for " (lens.name()) "." } } } @else {
            form method="post" action="/bench/choose" {
                input type="hidden" name="lens" value=(lens.id());
                input type="hidden" name="form" value=(key);
                button { "Let it stand for " (lens.name()) }
            }
        }
    }
}

/// The kit's own tables, before what is published.
fn own_tables(kit: &Kit, lens: Option<&Part>) -> Markup {
    let tables: Vec<&Part> = kit.of_kind(Kind::LensTable).collect();
    html! {
        @if !tables.is_empty() {
            h2 { "Lens tables of your own" }
            div.cards { @for table in tables {
                article.detail.card aria-labelledby=(table.id()) {
                    h3 id=(table.id()) { a href=(format!("/bench/table?kept={}", table.id())) { (table.name()) } }
                    @match OwnTable::of_part(table) {
                        Err(why) => p { "It cannot be used: " (sentence(&why.to_string())) },
                        Ok(read) => {
                            p.soft { code { (table.id()) } " · " (fmt::count(read.lens.rows().len(), "surface", "surfaces")) " · " (fmt::figure(read.focal_length_mm, 4)) " mm" }
                            p.small { (sentence(&read.mismatch())) }
                            (choice(table.id(), lens))
                        }
                    }
                }
            } }
            h2 { "Published forms" }
        }
    }
}

fn nearness(distance: usize) -> String {
    match distance {
        0 => "Fits every answer.".into(),
        off => format!("Off by as much as {}.", fmt::count(off, "element", "elements")),
    }
}

/// A form with its source, printed beside traced.
pub(super) fn facts(form: &Form) -> Markup {
    html! {
        p.soft { code { (form.key) } " · " (kind(form.kind)) " · " (fmt::count(form.elements, "element", "elements")) @if let Some(open) = form.published_f_number { " · f/" (open) } }
        p { (form.source) "." }
        p.small { (sentence(&mismatch(form))) " In the table’s own unit." }
        p.small { (sentence(form.remark)) }
    }
}
