//! The fields of an exposure, and what was typed into them.

use exposure::Reading;
use film::{Lamp, shipped};
use kit::{ChosenFilm, Kit};
use maud::{Markup, html};

use crate::exposing::{Asked, Filters};
use crate::web::error::sentence;
use crate::web::form::{Field, Filled};

/// How the meter was held.
pub fn reading_fields(filled: &Filled) -> Markup {
    let kinds = [
        ("incident", "at the subject, toward the camera"),
        ("spot", "at one spot of the subject"),
        ("card", "at a grey or white card"),
    ];
    html! {
        div.fields {
            (Field::choice("read", "It was read", kinds).show(filled))
            (Field::number("placed", "That spot is to be").unit("stops from middle grey").hint("For a spot: 2 for two stops brighter, −1 for one darker.").show(filled))
            (Field::number("card", "The card reflects").unit("%").hint("For a card: 18 when left blank; white paper about 90.").show(filled))
            (Field::number("doubt", "The reading is good to ±").unit("stops").hint("Left blank, it is taken as it stands.").show(filled))
        }
    }
}

/// Film and filters.
pub fn film_fields(kit: &Kit, filled: &Filled) -> Markup {
    let film = |chosen: ChosenFilm| {
        let from = if chosen.of_kit { " (your kit)" } else { "" };
        (chosen.film.id.clone(), format!("{}{from}", chosen.film.full_name()))
    };
    let films = std::iter::once((String::new(), "not named".to_owned())).chain(kit.films().into_iter().map(film));
    html! {
        div.fields {
            div {
                (Field::choice("film", "Film", films).show(filled))
                p.hint { a href="/films" { "Films and their sources" } }
            }
            (filter_choice("filter1", "Filter", filled))
            (filter_choice("filter2", "Another filter", filled))
            (Field::choice("lamp", "in", [("daylight", "daylight or flash"), ("tungsten", "tungsten light")]).hint("For the filters of the table.").show(filled))
            (Field::number("factor", "Filter of your own, factor").unit("×").show(filled))
            (Field::number("filter", "or filters take").unit("stops").show(filled))
        }
    }
}

fn filter_choice(name: &str, label: &str, filled: &Filled) -> Markup {
    let filters = shipped().filters.iter().flat_map(|table| &table.filters);
    let filters = filters.map(|filter| (filter.id.as_str(), filter.name.as_str()));
    Field::choice(name, label, std::iter::once(("", "none")).chain(filters)).show(filled)
}

/// Movement and how many frames are left.
pub fn more_fields(filled: &Filled) -> Markup {
    let open = ["moving", "blur", "frames"].iter().any(|name| !filled.text(name).is_empty());
    html! {
        details open[open] {
            summary { "Movement, and frames for a bracket" }
            div.fields {
                (Field::number("moving", "Subject or camera moves").unit("mm/s").hint("Across the view.").show(filled))
                (Field::number("blur", "Smear allowed on film").unit("µm").hint("Left blank: the disc that counts as sharp.").show(filled))
                (Field::number("frames", "Frames to spend").hint("Left blank: as many as it takes.").show(filled))
            }
        }
    }
}

/// What was typed; `None` where the meter's reading is missing or something is wrong, which is noted at its field.
pub fn read(kit: &Kit, filled: &mut Filled) -> Option<Asked> {
    let metered_s = filled.seconds("metered");
    let asked = Asked {
        metered_s: metered_s.unwrap_or(1.0),
        metered_f_number: above_zero(filled, "metered_f"),
        reading: reading(filled),
        reading_doubt_stops: filled.number_within("doubt", 0.0, 5.0, "stops").unwrap_or(0.0),
        filters: filters(filled),
        film: film(kit, filled),
        frames: filled.number_within("frames", 1.0, 99.0, "").map(|frames| frames as usize),
        moving_mm_s: filled.number_within("moving", 0.0, 1e6, "mm/s"),
        blur_um: above_zero(filled, "blur"),
    };
    (metered_s.is_some() && !filled.has_errors()).then_some(asked)
}

fn above_zero(filled: &mut Filled, name: &str) -> Option<f64> {
    let number = filled.number(name)?;
    if number > 0.0 {
        return Some(number);
    }
    filled.wrong(name, format!("{number} cannot be: it must be above 0."));
    None
}

fn reading(filled: &mut Filled) -> Reading {
    match filled.text("read") {
        "spot" => Reading::Spot { placed_stops: filled.number_within("placed", -8.0, 8.0, "stops").unwrap_or(0.0) },
        "card" => Reading::Card { reflectance: filled.number_within("card", 1.0, 100.0, "%").unwrap_or(18.0) / 100.0 },
        _ => Reading::Incident,
    }
}

/// The film that was chosen.
pub fn film(kit: &Kit, filled: &mut Filled) -> Option<ChosenFilm> {
    let id = filled.text("film").to_owned();
    if id.is_empty() {
        return None;
    }
    kit.film(&id).map_err(|error| filled.wrong("film", sentence(&error.to_string()))).ok()
}

/// The filters that were chosen and typed.
pub fn filters(filled: &mut Filled) -> Filters {
    let named: Vec<String> =
        ["filter1", "filter2"].iter().map(|name| filled.text(name).to_owned()).filter(|id| !id.is_empty()).collect();
    for (name, id) in [("filter1", named.first()), ("filter2", named.last())] {
        if let Some(id) = id.filter(|id| shipped().filter(id).is_none()) {
            filled
                .wrong(name, format!("There is no filter “{id}” in the table; give its factor or its stops instead."));
        }
    }
    let factor = filled.number_within("factor", 1.0, 1e12, "");
    Filters {
        named,
        lamp: if filled.text("lamp") == "tungsten" { Lamp::Tungsten } else { Lamp::Daylight },
        factors: factor.into_iter().collect(),
        stops: filled.number_within("filter", 0.0, 40.0, "stops").unwrap_or(0.0),
    }
}
