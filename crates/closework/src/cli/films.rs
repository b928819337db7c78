//! `closework films`

use super::args;
use super::error::CliError;
use super::setup::read_kit;
use super::text::Lines;
use crate::documents::{FilmsDocument, to_json};
use crate::exposing::{law_words, row_words};
use crate::web::fmt;
use film::{Form, Lamp, shipped};
use kit::{ChosenFilm, Kit};

pub fn run(args: &args::Films) -> Result<String, CliError> {
    let kit = args.kit.as_deref().map(read_kit).transpose()?.unwrap_or_default();
    let films = chosen(&kit, args.film.as_deref())?;
    if args.json {
        return Ok(to_json(&FilmsDocument::of(&films, &shipped().filters))?);
    }
    match (&args.film, &films[..]) {
        (Some(_), [one]) => Ok(whole(one)),
        _ => Ok(list(&films)),
    }
}

fn chosen(kit: &Kit, id: Option<&str>) -> Result<Vec<ChosenFilm>, CliError> {
    match id {
        None => Ok(kit.films()),
        Some(id) => Ok(vec![kit.film(id)?]),
    }
}

fn list(films: &[ChosenFilm]) -> String {
    let mut lines = Lines::default();
    for chosen in films {
        let film = &chosen.film;
        let law =
            film.law().map_or("no figures".into(), |law| format!("{} ({})", law.source.words(), law.source.standing()));
        let of_kit = if chosen.of_kit { "of the kit; " } else { "" };
        lines.add(&film.id, format!("{}: {of_kit}{law}", film.full_name()));
    }
    for table in &shipped().filters {
        for filter in &table.filters {
            let taken = |lamp: Lamp| {
                let taken = filter.taken(lamp);
                format!("{} {}, ×{}", lamp.words(), taken.stops, taken.factor)
            };
            lines.add(&filter.id, format!("{}: {}; {}", filter.name, taken(Lamp::Daylight), taken(Lamp::Tungsten)));
        }
        lines.note(format!("filters: {}", table.source.words()));
    }
    lines.done()
}

fn whole(chosen: &ChosenFilm) -> String {
    let film = &chosen.film;
    let mut lines = Lines::default();
    lines.add("film", film.full_name());
    if let Some(speed) = film.speed {
        lines.add("speed", format!("ISO {speed}"));
    }
    if let Some(tone) = film.tone {
        lines.add("kind", tone.words());
    }
    if let Some(grain) = &film.structure {
        lines.add(
            "RMS granularity",
            format!("{} ({}, {})", grain.rms_granularity, grain.source.words(), grain.source.standing()),
        );
    }
    for law in &film.laws {
        let used = if film.law() == Some(law) { "counted" } else { "beside it" };
        lines.add(used, format!("{}, {}", law.source.words(), law.source.standing()));
        lines.add("", law_words(law));
        if let Form::Table(table) = &law.form {
            for row in table.rows() {
                lines.add(&format!("  {}", fmt::shutter(row.metered_s)), row_words(row));
            }
        }
        if !law.source.note.is_empty() {
            lines.note(&law.source.note);
        }
    }
    if !film.note.is_empty() {
        lines.note(&film.note);
    }
    lines.done()
}
