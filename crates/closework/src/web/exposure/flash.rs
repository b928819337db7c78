//! Flash: by guide number or by a flash meter.

use axum::extract::{RawQuery, State};
use exposure::{FlashAnswer, Lamp, Power, Strength, metres};
use maud::{Markup, html};
use optics::Estimate;

use super::{Start, asked, no_parts, nothing_there, steps};
use crate::exposing::{Lit, Sync, Taken, beyond_the_iris, lost, sync};
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, parse_metres};
use crate::web::layout::{Place, Sheet};
use crate::web::setup::{computed, refusal};
use crate::web::{App, fmt};

pub(super) async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let mut start = Start::read(&app, query).await?;
    let sheet = Sheet::new("Flash", Place::Exposure)
        .lead("The aperture for a flash, or where the flash has to stand for the aperture.");
    if start.empty() {
        return Ok(sheet.show(nothing_there()));
    }
    let result = answer(&mut start);
    Ok(sheet.show(html! { (start.other_light(true)) (question(&start)) (result) (cautions()) }))
}

fn question(start: &Start) -> Markup {
    let filled = &start.filled;
    html! {
        form method="get" action="/exposure/flash#answer" {
            (start.hidden_job())
            (filled.summary_of("Please look at:"))
            (start.set_up())
            fieldset.plain { legend { "The flash" }
                div.fields {
                    (Field::text("guide", "Guide number").hint("With its unit: 28 m or 92 ft, for ISO 100. Metres when none is written.").show(filled))
                    (Field::text("distance", "Flash to subject").hint("With its unit: 40 cm, 400 mm, 16 in.").show(filled))
                    (Field::text("power", "Power").hint("1, 1/2, 1/4 … Left blank: all of it.").show(filled))
                    (Field::number("reflector", "Width of its reflector").unit("mm").show(filled))
                    (Field::number("meter", "Or a flash meter says f/").hint("Held at the subject, set to the film's speed. It wins over guide numbers.").show(filled))
                }
                (second_lamp(filled))
            }
            fieldset.plain { legend { "The film, and what stands in front of the lens" }
                div.fields {
                    (Field::number("f", "f-number in use").hint("As engraved. Left blank: the widest.").show(filled))
                    (Field::number("iso", "Film's speed").unit("ISO").hint("Left blank: the film's own.").show(filled))
                    (Field::text("burns", "The flash burns for").unit("s").hint("Where it is known, as 1/10000: a film may lose in so short a time.").show(filled))
                }
                (asked::film_fields(&start.kit, filled))
            }
            div.actions { button.main { "Work it out" } }
        }
    }
}

fn second_lamp(filled: &Filled) -> Markup {
    let open = ["guide2", "bcps"].iter().any(|name| !filled.text(name).is_empty());
    html! {
        details open[open] {
            summary { "A second flash, or beam candlepower" }
            div.fields {
                (Field::text("guide2", "Second guide number").hint("As the first; it lights the same side of the subject.").show(filled))
                (Field::text("distance2", "Second flash to subject").show(filled))
                (Field::text("power2", "Its power").show(filled))
                (Field::number("reflector2", "Width of its reflector").unit("mm").show(filled))
                (Field::number("bcps", "Beam candlepower seconds").hint("Instead of the first guide number.").show(filled))
            }
        }
    }
}

/// A length that was typed with its unit, m; what is wrong is noted at its field.
fn length(filled: &mut Filled, name: &str, bare: Option<f64>) -> Option<f64> {
    let typed = filled.text(name).to_owned();
    if typed.is_empty() {
        return None;
    }
    let has_unit = typed.ends_with(|c: char| c.is_alphabetic() || matches!(c, '\'' | '"'));
    let found = parse_metres(&typed, bare.unwrap_or(1.0)).filter(|_| has_unit || bare.is_some());
    if found.is_none() {
        filled.wrong(name, format!("“{typed}” is no length with its unit. Write it like 40 cm, 0.4 m or 16 in."));
    }
    found
}

fn share(filled: &mut Filled, name: &str) -> f64 {
    if filled.text(name).is_empty() {
        return 1.0;
    }
    let found = filled.seconds(name).filter(|share| *share <= 1.0);
    if found.is_none() {
        filled.wrong(name, format!("“{}” is no share of the full power. Write it like 1/4.", filled.text(name)));
    }
    found.unwrap_or(1.0)
}

fn power(filled: &mut Filled) -> Option<Power> {
    if let Some(f_number) = filled.number_within("meter", 0.5, 1000.0, "") {
        let iso = filled.number("iso").unwrap_or(100.0);
        return Some(Power::Metered { f_number, iso });
    }
    let candles = filled.number_within("bcps", 1.0, 1e7, "");
    let guide = length(filled, "guide", Some(1.0)).map(|metres| Strength::GuideNumber { metres, iso: 100.0 });
    let strength = candles.map(Strength::Bcps).or(guide)?;
    let first = lamp(filled, strength, ["distance", "power", "reflector"])?;
    let second = length(filled, "guide2", Some(1.0)).map(|metres| Strength::GuideNumber { metres, iso: 100.0 });
    let second = second.and_then(|strength| lamp(filled, strength, ["distance2", "power2", "reflector2"]));
    Some(Power::Lamps(std::iter::once(first).chain(second).collect()))
}

fn lamp(filled: &mut Filled, strength: Strength, [distance, power, reflector]: [&str; 3]) -> Option<Lamp> {
    if filled.text(distance).is_empty() {
        filled.wrong(distance, "How far the flash stands from the subject is needed, as 40 cm.");
    }
    let power = share(filled, power);
    let reflector_m = filled.number_within(reflector, 1.0, 5000.0, "mm").map(|mm| mm / 1000.0);
    let distance_m = length(filled, distance, None)?;
    Some(Lamp { strength, power, distance_m, reflector_m })
}

fn answer(start: &mut Start) -> Markup {
    if start.picked.parts.is_empty() {
        return no_parts();
    }
    let filled = &mut start.filled;
    let power = power(filled);
    let lit = power.map(|power| Lit {
        power,
        iso: filled.number_within("iso", 0.5, 1e6, ""),
        film: asked::film(&start.kit, filled),
        filters: asked::filters(filled),
        burns_s: filled.seconds("burns"),
    });
    if start.filled.has_errors() {
        return html! {};
    }
    let (setup, report) = match computed(&start.kit, &start.picked) {
        Ok(both) => both,
        Err(error) => return refusal(&error),
    };
    let Some(lit) = lit else {
        return html! { (steps::cost(&report)) p.soft { "Give a guide number and a distance, or what a flash meter says." } };
    };
    match lit.answer(&setup, &report) {
        Ok((found, taken)) => show(
            &found,
            &taken,
            lost(&report),
            &sync(&setup),
            &Stops { used: setup.numbers().f_number, limit: beyond_the_iris(&setup, &found) },
        ),
        Err(error) => html! { div.refusal role="alert" { p.what { (sentence(&error.to_string())) } } },
    }
}

/// The f-number in use, and what the lens's own stops have to say.
struct Stops {
    used: f64,
    limit: Option<String>,
}

fn show(found: &FlashAnswer, taken: &Taken, extension: Estimate, sync: &Sync, stops_of_lens: &Stops) -> Markup {
    let used = stops_of_lens.used;
    let stops = |estimate: Estimate| fmt::measured_with(estimate.value, estimate.half_width(), "stops");
    let off = found.error_stops;
    let size = fmt::measured_with(off.value.abs(), off.half_width(), "stops");
    let side = if off.value > 0.0 { "too much light" } else { "too little light" };
    html! {
        section #answer aria-labelledby="to-set" {
            h2 id="to-set" { "What to set" }
            p.big { "f/" strong { (fmt::figure(found.f_number.value, 2)) } " is right" }
            dl.facts {
                dt { "f-number, exactly" } dd { (fmt::measured(found.f_number.value, found.f_number.half_width())) }
                dt { "At f/" (used) } dd { (size) ", " (side) }
                @if let Some(distance) = found.distance_m {
                    dt { "Right at f/" (used) }
                    dd { "flash at " strong { (fmt::measured_with(distance.value, distance.half_width(), "m")) } " (" (fmt::figure(distance.value / metres(1.0), 3)) " ft)" @if found.ratio_stops.is_some() { ", the second in proportion" } }
                }
                @if found.power < 1.0 { dt { "or" } dd { "1/" (fmt::figure(1.0 / found.power, 2)) " of the power" } }
                @if let Some(ratio) = found.ratio_stops {
                    dt { "First to second flash" } dd { (fmt::figure(ratio.exp2(), 2)) " to 1, each by itself (" (fmt::figure(ratio, 2)) " stops)" }
                }
                dt { "Lost in the set-up" } dd { (stops(extension)) }
                @if taken.stops.value > 0.0 { dt { "Taken by filters" } dd { (stops(taken.stops)) } }
                @if found.short_loss_stops.value > 0.0 { dt { "The film's loss in so short a time" } dd { (stops(found.short_loss_stops)) } }
                dt { "Speed" } dd { (sentence(&sync.words())) }
            }
            @if let Some(limit) = &stops_of_lens.limit { div.warning { p { (sentence(limit)) } } }
            @for remark in &found.remarks { div.warning { p { (sentence(&remark.to_string())) } } }
            @for remark in &taken.remarks { div.warning { p { (sentence(remark)) } } }
        }
    }
}

fn cautions() -> Markup {
    html! {
        div.note {
            p { "Never fire a flash near eyes, a person's or an animal's. Local rules and the makers' instructions come first." }
        }
    }
}
