//! The answer: what to set, each step of the way, the frames that are safe, and what to know.

use exposure::{Answer, Bracket, Forgiven, Frame, Stage, Step};
use kit::Report;
use maud::{Markup, html};

use super::chart;
use crate::exposing::{Asked, Exposed, far_off, lost, words_of_film};
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::form::Filled;
use crate::web::setup::Picked;

/// What the set-up costs whatever the meter says.
pub fn cost(report: &Report) -> Markup {
    let lost = lost(report);
    html! { p { "This set-up costs " strong { (fmt::measured_with(lost.value, lost.half_width(), "stops")) } " of light at any aperture." } }
}

/// Everything that is said of an exposure.
pub fn show(found: &Exposed, asked: &Asked, picked: &Picked, filled: &Filled) -> Markup {
    let answer = &found.answer;
    html! {
        section #answer aria-labelledby="steps" {
            h2 id="steps" { "Step by step" }
            p.big { (headline(found)) " at f/" (found.f_number) }
            (table(found, asked))
            @for words in found.warnings(asked.film.as_ref()) { div.warning { p { (sentence(&words)) } } }
            @if answer.set_s.is_none() { p.soft { "The kit lists no shutter speeds for this body or lens; " a href="/kit" { "enter them there" } " and the nearest one is named." } }
            (log_it(picked, filled, answer))
        }
        @if let Some(chosen) = &asked.film {
            section aria-labelledby="film" {
                h2 id="film" { "What the film loses" }
                p { (words_of_film(chosen)) "." }
                (by_aperture(answer))
                (chart::laws(&chosen.film, answer))
                p.small { a href=(format!("/films#{}", chosen.film.id)) { "All figures of this film" } }
            }
        }
        (frames(&found.bracket, asked, found))
        (moved(found))
    }
}

/// The speed to set; where none comes near, the time to count on B.
fn headline(found: &Exposed) -> Markup {
    let exact = fmt::shutter(found.answer.time_s.value);
    html! {
        @match found.answer.set_s {
            Some(set) if !far_off(&found.answer) => { "Set " strong { (fmt::shutter(set)) } },
            Some(_) if found.bulb => { "Hold B for " strong { (exact) } },
            Some(_) => { "No speed comes near " strong { (exact) } },
            None => { "Set " strong { (exact) } },
        }
    }
}

fn table(found: &Exposed, asked: &Asked) -> Markup {
    let answer = &found.answer;
    html! {
        table.step-by-step {
            thead { tr { th scope="col" { "Step" } th.n scope="col" { "Stops" } th.n scope="col" { "Time" } } }
            tbody {
                @for step in &answer.steps { (row(step, found)) }
                @if asked.film.is_none() {
                    tr { th scope="row" { "The film's loss in long exposures" } td.n { "not counted" } td.n { (fmt::shutter(answer.time_s.value)) } }
                }
                tr { th scope="row" { "Exact time" } td.n {} td.n { strong { (fmt::measured_with(answer.time_s.value, answer.time_s.half_width(), "s")) } } }
                @if let (Some(set), Some(error)) = (answer.set_s, answer.set_error_stops) {
                    tr {
                        th scope="row" { "Nearest speed that there is" (forgiveness(answer)) }
                        td.n { (fmt::measured(error.value, error.half_width())) }
                        td.n { strong { (fmt::shutter(set)) } }
                    }
                }
            }
        }
    }
}

fn forgiveness(answer: &Answer) -> Markup {
    let words = answer.forgiven.map(|forgiven| match forgiven {
        Forgiven::Yes => "the film forgives it",
        Forgiven::Perhaps => "the film forgives part of the doubt",
        Forgiven::No => "the film does not forgive it",
    });
    html! { @if let Some(words) = words { p.hint { (sentence(words)) } } }
}

fn row(step: &Step, found: &Exposed) -> Markup {
    let stops = step.stops;
    let idle = stops.value == 0.0 && stops.plus_minus == 0.0;
    if idle && matches!(step.stage, Stage::Reading | Stage::Aperture) {
        return html! {};
    }
    let (words, hints): (String, Vec<String>) = match step.stage {
        Stage::Meter => (format!("The meter, at f/{}", found.metered_f_number), Vec::new()),
        Stage::Reading => ("How it was read".into(), Vec::new()),
        Stage::Aperture => (format!("From there to f/{}", found.f_number), Vec::new()),
        Stage::Extension => ("Lost to extension and lenses".into(), found.losses.clone()),
        Stage::Filters => ("Taken by filters".into(), found.filters.lines.iter().map(filter_words).collect()),
        Stage::Film => ("The film's loss in long exposures".into(), Vec::new()),
    };
    html! {
        tr {
            th scope="row" { (words) @for hint in hints { p.hint { (sentence(&hint)) } } }
            td.n { @if step.stage != Stage::Meter { (fmt::measured(stops.value, stops.half_width())) } }
            td.n { (fmt::shutter(step.time_s.value)) }
        }
    }
}

fn filter_words(line: &crate::exposing::FilterLine) -> String {
    let factor = line.factor.map_or(String::new(), |factor| format!(", ×{factor}"));
    let printed = line.printed.as_ref().map_or(String::new(), |stops| format!(" (printed beside it: {stops})"));
    let source = line.source.as_ref().map_or(String::new(), |source| format!(", {source}"));
    format!("{}{factor}{printed}{source}", line.name)
}

/// The other way to make up for the film's loss, where its sheet has a column for it.
fn by_aperture(answer: &Answer) -> Markup {
    let open = answer.given.and_then(|given| given.open_stops).filter(|stops| *stops > 0.05);
    html! {
        @if let Some(stops) = open {
            p { "Or leave the time at " strong { (fmt::shutter(answer.needed_s.value)) } " and open up by " strong { (fmt::figure(stops, 2)) " stops" } ": its own column says so, and less is lost so." }
        }
    }
}

fn frames(bracket: &Bracket, asked: &Asked, found: &Exposed) -> Markup {
    let (dark, bright) = bracket.doubt_stops;
    let side = |stops: f64| fmt::figure(stops.abs(), 2);
    let latitude = bracket.latitude;
    let kind = match asked.film.as_ref().and_then(|chosen| chosen.film.tone) {
        Some(tone) => format!("{} forgives", tone.words()),
        None => "what the film is developed to is not known; a slide would forgive".into(),
    };
    html! {
        section aria-labelledby="frames" {
            h2 id="frames" { "Frames to be safe" }
            p {
                "As far as is known, the best estimate may come out " (side(dark)) " stops too dark or " (side(bright)) " too bright; "
                (kind) " " (fmt::figure(latitude.under, 2)) " under and " (fmt::figure(latitude.over, 2)) " over (common practice, no source)."
            }
            @if bracket.frames.len() == 1 {
                p { strong { "One frame is enough" } @if asked.frames == Some(1) && bracket.uncovered_stops != (0.0, 0.0) { " is all there is" } "." }
            } @else {
                table.stacked {
                    thead { tr { th.n scope="col" { "Frame" } th.n scope="col" { "Light" } th.n scope="col" { "Time at f/" (found.f_number) } th.n scope="col" { "Nearest speed" } th.n scope="col" { "Or f-number at " (fmt::shutter(found.answer.time_s.value)) } } }
                    tbody { @for (at, frame) in bracket.frames.iter().enumerate() { (frame_row(at + 1, frame)) } }
                }
            }
        }
    }
}

fn frame_row(number: usize, frame: &Frame) -> Markup {
    let stops = match frame.stops {
        0.0 => "as worked out".to_owned(),
        more if more > 0.0 => format!("{} more", fmt::figure(more, 2)),
        less => format!("{} less", fmt::figure(-less, 2)),
    };
    html! {
        tr {
            th.n scope="row" { (number) }
            td.n data-label="Light" { (stops) }
            td.n data-label="Time" { (fmt::shutter(frame.time_s)) }
            td.n data-label="Nearest speed" { @if let Some(set) = frame.set_s { (fmt::shutter(set)) } }
            td.n data-label="Or f-number" { "f/" (fmt::figure(frame.f_number, 2)) }
        }
    }
}

fn moved(found: &Exposed) -> Markup {
    let Some((swept, allowed_um)) = &found.moved else { return html! {} };
    let um = |estimate: optics::Estimate| fmt::measured_with(estimate.value, estimate.half_width(), "µm");
    html! {
        section aria-labelledby="movement" {
            h2 id="movement" { "Movement" }
            dl.facts {
                dt { "For each mm/s" } dd { (um(swept.um_per_mm_s)) " on film" }
                dt { "At this speed" } dd { strong { (um(swept.smear_um)) } " on film" }
                dt { "To stay within " (fmt::figure(*allowed_um, 2)) " µm" }
                dd {
                    @match swept.slowest_s {
                        Some(slowest) => { (fmt::shutter(slowest)) " at most" @if let Some(set) = found.slowest_set_s { ": set " strong { (fmt::shutter(set)) } } },
                        None => "any time does: nothing moves on film",
                    }
                }
            }
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
