//! The bench for a set-up of the kit.

use kit::{Kind, Kit, Part};
use maud::{Markup, html};

use super::desk::traced;
use super::{measured, picture, shown};
use crate::bench::{BenchError, MeasuredFrame, design_of, inside_words, measured_frames, stand_in};
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled};
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::setup::{Picked, computed, refusal};
use crate::web::{App, PageError};

pub(super) async fn show(app: &App, manners: Manners, mut query: Filled) -> PageResult {
    let kit = app.notebook(|book| read_kit(book)).await?;
    let picked = Picked::read(&mut query, &kit);
    let parts = picked.parts.clone();
    let frames = app.notebook(move |book| measured_frames(book, |frame| frame.parts == parts)).await?;
    let result = result(app, manners, &kit, &picked, &mut query).await?;
    let body = html! {
        p { strong { (set_up_name(&kit, &picked.parts)) } ", " a href=(format!("/set-up?{}", picked.query())) { "its drawing and its figures" } "." }
        (query.summary_of("This could not be read:"))
        (forms(&kit, &picked))
        (asking(&picked, &query))
        (result)
        (measured_with(&kit, &frames))
        (command(&picked))
    };
    Ok(Sheet::new("On the bench", Place::SetUp).lead(LEAD).wide().show(body))
}

const LEAD: &str =
    "Exact rays through this set-up, with a design in the place of each lens: what it would do, before film is spent.";

async fn result(
    app: &App,
    manners: Manners,
    kit: &Kit,
    picked: &Picked,
    query: &mut Filled,
) -> Result<Markup, PageError> {
    // Nothing of the kit is held while rays are traced.
    let glass = match computed(kit, picked) {
        Err(error) => return Ok(refusal(&error)),
        Ok((setup, _)) => match stand_in(&setup) {
            Err(why) => {
                return Ok(html! { (shown::refused(&why.to_string())) (without_glass(&why)) });
            }
            Ok((set_up, design)) => (set_up, design, setup.numbers().frame, inside_words(&setup)),
        },
    };
    let (set_up, design, frame_mm, inside) = glass;
    let wanted = shown::wanted(query, frame_mm);
    if query.has_errors() {
        return Ok(picture::door(picked));
    }
    let traced = traced(app, set_up, design, &wanted).await?;
    Ok(html! {
        @if let Some(words) = inside { p.note { (sentence(&words)) } }
        (shown::result(&traced, &wanted, manners.units))
        (picture::door(picked))
    })
}

/// The way on where a form is what is missing.
fn without_glass(why: &BenchError) -> Markup {
    let (BenchError::NoForm { lens, .. } | BenchError::UnknownForm { lens, .. }) = why else { return html! {} };
    html! { div.actions { a.button.main href=(format!("/bench?lens={lens}")) { "Choose a form" } } }
}

/// Logged frames of the same parts, to be held against what is predicted.
fn measured_with(kit: &Kit, frames: &[MeasuredFrame]) -> Markup {
    html! {
        @if !frames.is_empty() {
            h2 { "Predicted beside measured" }
            (measured::listed(kit, frames))
        }
    }
}

/// Which form stands for which lens.
fn forms(kit: &Kit, picked: &Picked) -> Markup {
    let lenses: Vec<&Part> = picked.of_kind(kit, Kind::Lens).collect();
    html! {
        ul { @for lens in lenses { li {
            (lens.name()) ": "
            @match design_of(kit, lens) {
                Ok(design) => { a href=(shown::page_of(&design)) { (design.name()) } " (" (design.source()) ")" },
                Err(_) => "no form is chosen",
            }
            ". " a href=(format!("/bench?lens={}", lens.id())) { @if design_of(kit, lens).is_ok() { "Another form" } @else { "Choose one" } }
        } } }
    }
}

fn asking(picked: &Picked, query: &Filled) -> Markup {
    let mut filled = query.clone();
    filled.set("f", picked.f_number.map(|f| f.to_string()).unwrap_or_default());
    html! {
        form method="get" action="/bench" {
            input type="hidden" name="parts" value=(picked.parts.join(","));
            input type="hidden" name="focus" value=(picked.focus);
            div.fields {
                (Field::number("f", "Engraved f-number").hint("Empty: as wide as it opens.").show(&filled))
                (shown::how(&filled))
            }
            div.actions { button { "Trace it so" } }
        }
    }
}

fn command(picked: &Picked) -> Markup {
    html! {
        p.soft.small { "On the command line: " code { "closework bench kit --kit kit.toml --parts " (picked.parts.join(",")) " --focus " (picked.focus) @if let Some(f) = picked.f_number { " --f-number " (f) } } }
    }
}
