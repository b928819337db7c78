//! From the meter's reading to the shutter, each step shown.

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::routing::get;
use exposure::{Answer, Question, Remark, expose};
use kit::{Kind, Kit};
use maud::{Markup, html};
use optics::{Estimate, Figure};

use super::error::{PageResult, sentence};
use super::form::{Field, Filled};
use super::kit_book::read_kit;
use super::layout::{Place, Sheet};
use super::setup::{Picked, computed, pickers, refusal};
use super::{App, fmt};

pub(super) fn routes() -> Router<App> {
    Router::new().route("/exposure", get(page))
}

async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let mut filled = Filled::from_query(query.as_deref());
    let kit = app.notebook(|book| read_kit(book)).await?;
    let picked = Picked::read(&mut filled, &kit);
    let lead = "What the hand-held meter cannot know: the light that close focus costs.";
    let sheet = Sheet::new("Exposure", Place::Exposure).lead(lead);
    if kit.of_kind(Kind::Body).next().is_none() || kit.of_kind(Kind::Lens).next().is_none() {
        return Ok(sheet.show(html! { div.note { p { "An exposure needs a set-up, and a set-up a body and a lens. " a href="/kit" { "Put them in the drawer first" } "." } } }));
    }
    if let Some(f) = picked.f_number {
        filled.default_to("f", f.to_string());
    }
    let result = answer(&kit, &picked, &mut filled);
    let body = html! { (question(&kit, &picked, &filled)) (result) };
    Ok(sheet.show(body))
}

fn question(kit: &Kit, picked: &Picked, filled: &Filled) -> Markup {
    let mut filled = filled.clone();
    filled.default_to("focus", picked.focus.to_string());
    if let Some(draw) = picked.draw(kit) {
        filled.default_to("draw", draw.to_string());
    }
    let bellows = picked.of_kind(kit, Kind::Bellows).next().is_some();
    html! {
        form method="get" action="/exposure" {
            @if !filled.text("job").is_empty() { input type="hidden" name="job" value=(filled.text("job")); }
            (filled.summary_of("Please look at:"))
            fieldset.plain { legend { "The set-up" }
                (pickers(kit, picked))
                div.fields {
                    (Field::text("focus", "Focus").hint("infinity, closest, travel=MM (how far the lens is moved forward), or distance=MM as on its scale.").show(&filled))
                    @if bellows { (Field::number("draw", "Bellows draw").unit("mm").show(&filled)) }
                }
            }
            fieldset.plain { legend { "The light" }
                div.fields {
                    (Field::text("metered", "The meter says").unit("s").hint("Seconds or a fraction: 1/60.").required().show(&filled))
                    (Field::number("metered_f", "at f-number").hint("Left blank: the one that is used.").show(&filled))
                    (Field::number("f", "f-number in use").hint("As engraved. Left blank: the widest.").show(&filled))
                    (Field::number("filter", "Filters take").unit("stops").show(&filled))
                }
            }
            div.actions { button.main { "Work it out" } }
        }
    }
}

fn answer(kit: &Kit, picked: &Picked, filled: &mut Filled) -> Markup {
    if picked.parts.is_empty() {
        return html! { p.soft { "Choose the parts of the set-up, or come here from a " a href="/set-up" { "set-up" } "." } };
    }
    if filled.has_errors() {
        return html! {};
    }
    let (setup, report) = match computed(kit, picked) {
        Ok(both) => both,
        Err(error) => return refusal(&error),
    };
    let lost = report.figures.get(Figure::ExposureStops).unwrap_or(Estimate::exact(0.0));
    let (metered, metered_f, filter) = (filled.seconds("metered"), filled.number("metered_f"), filled.number("filter"));
    let used = setup.numbers().f_number;
    html! {
        p { "This set-up costs " strong { (fmt::measured_with(lost.value, lost.half_width(), "stops")) } " of light at any aperture." }
        @if let (Some(metered_s), false) = (metered, filled.has_errors()) {
            @let speeds = setup.shutter_s();
            @let asked = Question { metered_s, metered_f_number: metered_f.unwrap_or(used), f_number: used, extension_stops: lost, filter_stops: filter.unwrap_or(0.0), shutter_s: &speeds, bulb: setup.has_bulb() };
            @match expose(&asked) {
                Ok(found) => { (steps(&found, &asked)) (log_it(picked, filled, &found)) },
                Err(error) => div.refusal role="alert" { p.what { (sentence(&error.to_string())) } },
            }
        }
    }
}

fn steps(found: &Answer, asked: &Question<'_>) -> Markup {
    let after = |stops: f64| fmt::shutter(found.metered_s * 2f64.powf(stops));
    let aperture = found.aperture_stops;
    let extension = aperture + found.extension_stops.value;
    let filtered = extension + found.filter_stops.value;
    html! {
        section aria-labelledby="steps" {
            h2 id="steps" { "Step by step" }
            p.big { (headline(found, asked.bulb)) " at f/" (asked.f_number) }
            div.scroll { table {
                thead { tr { th scope="col" { "Step" } th.n scope="col" { "Stops" } th.n scope="col" { "Time" } } }
                tbody {
                    (step("The meter, at f/", Some(asked.metered_f_number), None, &after(0.0)))
                    @if aperture != 0.0 { (step("From there to f/", Some(asked.f_number), Some(aperture), &after(aperture))) }
                    (step("Lost to extension and lenses", None, Some(found.extension_stops.value), &after(extension)))
                    (step("Taken by filters", None, Some(found.filter_stops.value), &after(filtered)))
                    tr { th scope="row" { "The film's loss in long exposures" } td.n { "not counted" } td.n { (after(filtered)) } }
                    tr { th scope="row" { "Exact time" } td.n {} td.n { strong { (fmt::measured_with(found.time_s.value, found.time_s.half_width(), "s")) } } }
                    @if let (Some(set), Some(error)) = (found.set_s, found.set_error_stops) {
                        tr { th scope="row" { "Nearest speed that there is" } td.n { (fmt::measured(error.value, error.half_width())) } td.n { strong { (fmt::shutter(set)) } } }
                    }
                }
            } }
            @for remark in &found.remarks { div.warning { p { (sentence(&remark.to_string())) } } }
            @if found.set_s.is_none() { p.soft { "The kit lists no shutter speeds for this body or lens; " a href="/kit" { "enter them there" } " and the nearest one is named." } }
        }
    }
}

/// On to the frame that is taken with this exposure.
fn log_it(picked: &Picked, filled: &Filled, found: &Answer) -> Markup {
    let job = filled.text("job");
    let set = found.set_s.unwrap_or(found.time_s.value);
    let query = format!("{}&metered_s={}&shutter_s={set}", picked.query(), found.metered_s);
    html! {
        @if !job.is_empty() {
            div.actions { a.button.main href=(format!("/jobs/{job}/frames/new?{query}")) { "Log a frame with this" } }
        }
    }
}

/// The speed to set; where none comes near, the time to count on B.
fn headline(found: &Answer, bulb: bool) -> Markup {
    let far = found.remarks.iter().any(|remark| matches!(remark, Remark::FarOff { .. }));
    let exact = fmt::shutter(found.time_s.value);
    html! {
        @match found.set_s {
            Some(set) if !far => { "Set " strong { (fmt::shutter(set)) } },
            Some(_) if bulb => { "Hold B for " strong { (exact) } },
            Some(_) => { "No speed comes near " strong { (exact) } },
            None => { "Set " strong { (exact) } },
        }
    }
}

fn step(words: &str, f_number: Option<f64>, stops: Option<f64>, time: &str) -> Markup {
    html! {
        tr {
            th scope="row" { (words) @if let Some(f) = f_number { (f) } }
            td.n { @if let Some(stops) = stops { (fmt::figure(stops, 3)) } }
            td.n { (time) }
        }
    }
}
