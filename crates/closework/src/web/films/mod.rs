//! Films and filters with their sources.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use film::{Film, FilterTable, Form, Lamp, Law, Table, shipped};
use kit::ChosenFilm;
use maud::{Markup, html};

use super::App;
use super::error::{PageResult, sentence};
use super::fmt;
use super::kit_book::read_kit;
use super::layout::{Place, Sheet};
use crate::exposing::{law_words, row_words};

pub(super) fn routes() -> Router<App> {
    Router::new().route("/films", get(page))
}

async fn page(State(app): State<App>) -> PageResult {
    let kit = app.notebook(|book| read_kit(book)).await?;
    let films = kit.films();
    let body = html! {
        p { "Sources that disagree stand side by side; nothing is averaged. The maker's figures are counted, unless you have tested the film yourself: then yours are." }
        div.actions { a.button href="/kit/new/film" { "Add a film of your own, with your test" } a href="/exposure" { "To the exposure" } }
        p.note { strong { "Care: " } "a change of development asks for chemicals: work by their makers’ safety sheets, with gloves and air, and away from children. Local rules come first." }
        div.cards.films { @for chosen in &films { (film(chosen)) } }
        @for table in &shipped().filters { (filters(table)) }
    };
    let lead = "What long exposures cost on each film, who says so, and how it was seen.";
    Ok(Sheet::new("Films", Place::Exposure).lead(lead).show(body))
}

fn film(chosen: &ChosenFilm) -> Markup {
    let film = &chosen.film;
    html! {
        article.detail.card aria-labelledby=(film.id) {
            h2 id=(film.id) { (film.full_name()) }
            p.soft {
                code { (film.id) }
                @if chosen.of_kit { " · " a href=(format!("/kit/part/{}", film.id)) { "of your kit" } }
                @if chosen.shadows { " · stands in the place of the published film of that short name" }
                @if let Some(tone) = film.tone { " · " (tone.words()) }
                @if let Some(speed) = film.speed { " · ISO " (speed) } @else { " · speed as on its box" }
            }
            @if let Some(grain) = &film.structure {
                p { "RMS granularity " (grain.rms_granularity) " (" (grain.source.words()) ", " (grain.source.standing()) ")." }
            }
            @for law in laws(film) { (account(law, film.law() == Some(law))) }
            @if film.laws.is_empty() { p { "Nothing is known of what it loses: test it." } }
            @if !film.note.is_empty() { p { (sentence(&film.note)) } }
        }
    }
}

/// The law that is counted first.
fn laws(film: &Film) -> Vec<&Law> {
    let mut laws: Vec<_> = film.laws.iter().collect();
    laws.sort_by_key(|law| film.law() != Some(*law));
    laws
}

fn account(law: &Law, used: bool) -> Markup {
    html! {
        p {
            @if used { strong { "Counted: " } } @else { "Beside it: " }
            (law.source.words()) ", " em { (law.source.standing()) } ". "
            (sentence(&law_words(law)))
            @if !law.source.note.is_empty() { " " (sentence(&law.source.note)) }
        }
        @if let Form::Table(table) = &law.form { (rows(table)) }
    }
}

fn rows(table: &Table) -> Markup {
    html! {
        table.figures {
            thead { tr { th.n scope="col" { "Metered" } th scope="col" { "As printed" } } }
            tbody { @for row in table.rows() { tr { th.n scope="row" { (fmt::shutter(row.metered_s)) } td { (row_words(row)) } } } }
        }
    }
}

fn filters(table: &FilterTable) -> Markup {
    let names: Vec<_> = table.films.iter().filter_map(|id| Some(shipped().film(id)?.name.as_str())).collect();
    html! {
        section aria-labelledby="filters" {
            h2 id="filters" { "Filters" }
            p { (table.source.words()) ", " em { (table.source.standing()) } ", for " (names.join(" and ")) ". Stops and factors stand as they are printed; neither is made from the other." }
            table.stacked {
                thead { tr { th scope="col" { "Filter" } th scope="col" { "Daylight" } th scope="col" { "Tungsten" } } }
                tbody {
                    @for filter in &table.filters {
                        tr {
                            th scope="row" { (filter.name) }
                            @for (label, lamp) in [("Daylight", Lamp::Daylight), ("Tungsten", Lamp::Tungsten)] {
                                @let taken = filter.taken(lamp);
                                td data-label=(label) { (taken.stops) ", ×" (taken.factor) }
                            }
                        }
                    }
                }
            }
        }
    }
}
