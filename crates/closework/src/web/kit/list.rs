//! What is in the drawer.

use axum::extract::State;
use kit::{FieldSpec, Kind, Part, Shape};
use maud::{Markup, html};

use crate::bench::SURFACES;
use crate::web::error::PageResult;
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::{App, fmt};

pub(super) async fn page(State(app): State<App>) -> PageResult {
    let kit = app.notebook(|book| read_kit(book)).await?;
    let body = html! {
        @if kit.parts().is_empty() {
            div.note {
                p { "The drawer is empty. Begin with the body and one lens: then Reach shows what they can do together. A kit file from elsewhere can be brought in whole." }
            }
        }
        (add_buttons())
        @for kind in Kind::ALL {
            @let parts: Vec<&Part> = kit.of_kind(kind).collect();
            @if !parts.is_empty() { (section(kind, &parts)) }
        }
        (trust())
        section aria-labelledby="target" {
            h2 id="target" { "Target card" }
            p { "To measure what the parts do on film: a card for the field that the frame covers, printed at true scale." }
            div.actions { a.button href="/target" { "Lay out a target card" } }
        }
        section aria-labelledby="file" {
            h2 id="file" { "Kit file" }
            p { "The whole kit as a plain text file, for a copy elsewhere, for the command line, or to be edited by hand." }
            div.actions {
                a.button href="/kit/file" download="kit.toml" { "Take out the kit file" }
                a.button href="/kit/bring" { "Bring one in" }
            }
        }
    };
    let sheet = Sheet::new("Kit", Place::Kit)
        .lead("What is in the drawer. Every figure that is not known is assumed, marked, and counted as uncertain.");
    Ok(sheet.show(body))
}

/// How far a plain figure is trusted, field by field, and why.
fn trust() -> Markup {
    html! {
        details {
            summary { "How far plain figures are trusted, and why" }
            p { "A figure may carry its own uncertainty, typed as 90 ± 1.5. One that does not counts as uncertain by so much (95 %):" }
            div.scroll tabindex="0" role="region" aria-label="Uncertainty of plain figures" {
                table {
                    thead { tr { th scope="col" { "Part" } th scope="col" { "Figure" } th scope="col" { "Trusted to, and why" } } }
                    tbody { @for kind in Kind::ALL { @for field in kind.fields() { @if let Some(usual) = field.usual() {
                        tr { th scope="row" { (kind.spec().label) } td { (field.label) } td { (usual) } }
                    } } } }
                }
            }
        }
    }
}

fn add_buttons() -> Markup {
    html! {
        nav.actions aria-label="Add a part" {
            @for kind in Kind::ALL {
                a.button.quiet href=(new_page(kind)) { "Add a " (kind.spec().label) }
            }
        }
    }
}

/// A lens table is traced before it is kept.
fn new_page(kind: Kind) -> String {
    match kind {
        Kind::LensTable => "/bench/table".into(),
        kind => format!("/kit/new/{}", kind.spec().table),
    }
}

fn page_of(part: &Part) -> String {
    match part.kind() {
        Kind::LensTable => format!("/bench/table?kept={}", part.id()),
        _ => format!("/kit/part/{}", part.id()),
    }
}

fn section(kind: Kind, parts: &[&Part]) -> Markup {
    let spec = kind.spec();
    html! {
        section aria-labelledby=(spec.table) {
            h2 id=(spec.table) { (capital(spec.plural)) }
            div.cards {
                @for part in parts { (card(part)) }
            }
        }
    }
}

fn card(part: &Part) -> Markup {
    let assumed: Vec<&FieldSpec> =
        part.kind().fields().filter(|field| field.absent.is_some() && part.value(field.name).is_none()).collect();
    let name = format!("part-{}", part.id());
    html! {
        article.detail.card aria-labelledby=(name) {
            h3 id=(name) { a href=(page_of(part)) { (part.name()) } }
            p.soft { code { (part.id()) } }
            dl.facts {
                @for field in part.kind().fields().filter(|field| shown(field)) {
                    @let text = value_text(part, field);
                    @if !text.is_empty() { dt { (field.label) } dd { (text) } }
                }
                @for field in &assumed { (assumption(part, field)) }
            }
            @if let Some(notes) = part.words("notes") { p { (notes) } }
            @if matches!(part.kind(), Kind::Lens | Kind::CloseUpLens) { p { a href=(format!("/kit/part/{}/calibrate", part.id())) { "Calibrate" } } }
        }
    }
}

fn assumption(part: &Part, field: &FieldSpec) -> Markup {
    let Some(absent) = &field.absent else { return html! {} };
    // The separation is worked out where both marks are known.
    let implied = field.name == "principal_separation_mm"
        && part.value("close_focus_mm").is_some()
        && part.value("max_magnification").is_some();
    html! {
        dt { (field.label) }
        dd {
            @if implied {
                span.assumed { "worked out from the two marks at the closest focus" }
            } @else {
                span.assumed { "assumed " (fmt::measured_with(absent.value, Some(absent.plus_minus), field.unit)) }
                details { summary { "How to find it" } p { (capital(absent.find)) "." } }
            }
        }
    }
}

fn shown(field: &FieldSpec) -> bool {
    !matches!(field.name, "name" | "notes" | "price" | "currency")
}

/// A field's value with its unit, as a person reads it.
fn value_text(part: &Part, field: &FieldSpec) -> String {
    if field.name == "shutter_s" {
        return part.numbers(field.name).into_iter().map(fmt::shutter).collect::<Vec<_>>().join(", ");
    }
    if field.name == SURFACES {
        return fmt::count(part.words(SURFACES).unwrap_or_default().trim().lines().count(), "line", "lines");
    }
    if field.shape == Shape::Flag {
        return if part.flag(field.name) { "yes".into() } else { String::new() };
    }
    let text = with_minus(field, part.form_text(field.name));
    let between = if field.name == "draw_mm" { " to " } else { " × " };
    let text = if matches!(field.shape, Shape::Pair(_)) { text.replace(", ", between) } else { text };
    if text.is_empty() || field.unit.is_empty() { text } else { format!("{text} {}", field.unit) }
}

/// Figures below 0 with a minus in the place of the hyphen that is typed.
fn with_minus(field: &FieldSpec, text: String) -> String {
    let figures = matches!(field.shape, Shape::Number(_) | Shape::Pair(_) | Shape::Numbers(_));
    if figures { text.replace('-', "\u{2212}") } else { text }
}

/// The same words with a capital.
pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map(|first| first.to_uppercase().collect::<String>() + letters.as_str()).unwrap_or_default()
}
