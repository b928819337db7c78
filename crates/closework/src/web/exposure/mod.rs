//! From the meter's reading to the shutter, each step shown; and flash.

mod asked;
mod chart;
mod flash;
mod steps;

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::routing::get;
use kit::{Kind, Kit};
use maud::{Markup, html};

use super::App;
use super::error::{PageResult, sentence};
use super::form::{Field, Filled};
use super::kit_book::read_kit;
use super::layout::{Place, Sheet};
use super::setup::{Picked, computed, pickers, refusal};
use crate::exposing::exposed;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/exposure", get(page)).route("/exposure/flash", get(flash::page))
}

/// What both pages begin with.
struct Start {
    kit: Kit,
    picked: Picked,
    filled: Filled,
}

impl Start {
    async fn read(app: &App, query: Option<String>) -> Result<Self, super::PageError> {
        let mut filled = Filled::from_query(query.as_deref());
        let kit = app.notebook(|book| read_kit(book)).await?;
        let picked = Picked::read(&mut filled, &kit);
        if let Some(f) = picked.f_number {
            filled.default_to("f", f.to_string());
        }
        filled.default_to("focus", picked.focus.to_string());
        if let Some(draw) = picked.draw(&kit) {
            filled.default_to("draw", draw.to_string());
        }
        Ok(Self { kit, picked, filled })
    }

    fn empty(&self) -> bool {
        self.kit.of_kind(Kind::Body).next().is_none() || self.kit.of_kind(Kind::Lens).next().is_none()
    }

    /// The set-up's fields.
    fn set_up(&self) -> Markup {
        let (kit, picked, filled) = (&self.kit, &self.picked, &self.filled);
        let bellows = picked.of_kind(kit, Kind::Bellows).next().is_some();
        html! {
            details.parts open[picked.parts.is_empty() || filled.error("focus").is_some() || filled.error("draw").is_some()] {
                summary { "The set-up" @if !picked.parts.is_empty() { ": " (super::kit_book::set_up_name(kit, &picked.parts)) } }
                (pickers(kit, picked))
                div.fields {
                    (Field::text("focus", "Focus").hint("infinity, closest, travel=MM (how far the lens is moved forward), or distance=MM as on its scale.").show(filled))
                    @if bellows { (Field::number("draw", "Bellows draw").unit("mm").show(filled)) }
                }
            }
        }
    }

    /// The same set-up by the other light.
    fn other_light(&self, flash: bool) -> Markup {
        let (job, query) = (self.filled.text("job"), self.picked.query());
        let job = if job.is_empty() { String::new() } else { format!("&job={job}") };
        let tab = |address: &str, words: &str, here: bool| {
            html! { a.button.quiet href=(format!("{address}?{query}{job}")) aria-current=[here.then_some("page")] { (words) } }
        };
        html! {
            nav.actions.lights aria-label="Light" {
                (tab("/exposure", "Light that stays on", !flash))
                (tab("/exposure/flash", "Flash", flash))
            }
        }
    }

    fn hidden_job(&self) -> Markup {
        html! { @if !self.filled.text("job").is_empty() { input type="hidden" name="job" value=(self.filled.text("job")); } }
    }
}

fn nothing_there() -> Markup {
    html! { div.note { p { "An exposure needs a set-up, and a set-up a body and a lens. " a href="/kit" { "Put them in the drawer first" } "." } } }
}

fn no_parts() -> Markup {
    html! { p.soft { "Choose the parts of the set-up, or come here from a " a href="/set-up" { "set-up" } "." } }
}

async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let mut start = Start::read(&app, query).await?;
    let lead = "What the hand-held meter cannot know: the light that close focus, filters and long exposures cost.";
    let sheet = Sheet::new("Exposure", Place::Exposure).lead(lead);
    if start.empty() {
        return Ok(sheet.show(nothing_there()));
    }
    let result = answer(&mut start);
    Ok(sheet.show(html! { (start.other_light(false)) (question(&start)) (result) (cautions()) }))
}

fn question(start: &Start) -> Markup {
    let filled = &start.filled;
    html! {
        form method="get" action="/exposure#answer" {
            (start.hidden_job())
            (filled.summary_of("Please look at:"))
            (start.set_up())
            fieldset.plain { legend { "The light" }
                div.fields {
                    (Field::text("metered", "The meter says").unit("s").hint("Seconds or a fraction: 1/60.").required().show(filled))
                    (Field::number("metered_f", "at f-number").hint("Left blank: the one that is used.").show(filled))
                    (Field::number("f", "f-number in use").hint("As engraved. Left blank: the widest.").show(filled))
                }
                (asked::reading_fields(filled))
            }
            fieldset.plain { legend { "The film, and what stands in front of the lens" }
                (asked::film_fields(&start.kit, filled))
            }
            (asked::more_fields(filled))
            div.actions { button.main { "Work it out" } }
        }
    }
}

fn answer(start: &mut Start) -> Markup {
    if start.picked.parts.is_empty() {
        return no_parts();
    }
    let asked = asked::read(&start.kit, &mut start.filled);
    if start.filled.has_errors() {
        return html! {};
    }
    let (setup, report) = match computed(&start.kit, &start.picked) {
        Ok(both) => both,
        Err(error) => return refusal(&error),
    };
    let Some(asked) = asked else { return steps::cost(&report) };
    match exposed(&setup, &report, &asked) {
        Ok(found) => html! {
            (steps::cost(&report))
            (steps::show(&found, &asked, &start.picked, &start.filled))
        },
        Err(error) => html! { div.refusal role="alert" { p.what { (sentence(&error.to_string())) } } },
    }
}

fn cautions() -> Markup {
    html! {
        div.note {
            p { "Hot lamps burn skin and dry out specimens: keep them off while you frame and focus. Never point a lens at the sun while you look through it. Local rules and the makers' instructions come first." }
        }
    }
}
