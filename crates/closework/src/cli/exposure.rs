//! `closework exposure`

use super::args;
use super::error::CliError;
use super::setup::{read_kit, request};
use super::text::{Lines, with_unit};
use crate::documents::{ExposureDocument, to_json};
use crate::exposing::{Asked, Exposed, Filters, exposed, words_of_film};
use crate::web::fmt;
use exposure::{Forgiven, Reading, Stage};
use kit::{ChosenFilm, Kit};
use optics::Estimate;

pub fn run(args: &args::Exposure) -> Result<String, CliError> {
    let path = &args.train.kit;
    let kit = read_kit(path)?;
    let request = request(&args.train, Some(args.f_number), None);
    let setup = kit::Setup::resolve(&kit, &request).map_err(CliError::setup(path))?;
    let report = setup.report().map_err(CliError::setup(path))?;
    let asked = Asked {
        metered_s: args.metered_s,
        metered_f_number: args.metered_f_number,
        reading: reading(args),
        reading_doubt_stops: args.reading_doubt,
        filters: filters(&args.before_film),
        film: film(&kit, &args.before_film)?,
        frames: args.frames,
        moving_mm_s: args.moving_mm_s,
        blur_um: args.blur_um,
    };
    let found = exposed(&setup, &report, &asked)?;
    let warnings: Vec<String> = found
        .warnings(asked.film.as_ref())
        .into_iter()
        .chain(report.warnings.iter().map(ToString::to_string))
        .collect();
    if args.json {
        Ok(to_json(&ExposureDocument::of(&found, asked.reading, asked.film.as_ref(), warnings))?)
    } else {
        Ok(words(&found, asked.film.as_ref(), &warnings))
    }
}

fn reading(args: &args::Exposure) -> Reading {
    match (args.spot, args.card) {
        (Some(placed_stops), _) => Reading::Spot { placed_stops },
        (None, Some(percent)) => Reading::Card { reflectance: percent / 100.0 },
        (None, None) => Reading::Incident,
    }
}

/// What stands in front of the lens, as typed.
pub fn filters(args: &args::BeforeFilm) -> Filters {
    let named = args.filter.iter().map(|id| id.trim().to_owned()).collect();
    Filters { named, lamp: args.light, factors: args.filter_factor.clone(), stops: args.filter_stops }
}

/// The film that is named.
pub fn film(kit: &Kit, args: &args::BeforeFilm) -> Result<Option<ChosenFilm>, CliError> {
    let named = args.film.as_deref().map(|id| kit.film(id.trim()));
    Ok(named.transpose()?)
}

fn words(found: &Exposed, film: Option<&ChosenFilm>, warnings: &[String]) -> String {
    let answer = &found.answer;
    let mut lines = Lines::default();
    lines.add("metered", format!("{} at f/{}", fmt::shutter(answer.metered_s), found.metered_f_number));
    for step in &answer.steps {
        let label = match step.stage {
            Stage::Meter => continue,
            Stage::Reading if step.stops == Estimate::exact(0.0) => continue,
            Stage::Aperture if step.stops.value == 0.0 => continue,
            Stage::Reading => "how it was read",
            Stage::Aperture => "another f-number",
            Stage::Extension => "lost in the set-up",
            Stage::Filters => "lost in filters",
            Stage::Film => "film's long-exposure loss",
        };
        let time = fmt::shutter(step.time_s.value);
        lines.add(label, format!("{}, makes {time}", with_unit(step.stops.value, step.stops.half_width(), "stops")));
    }
    match film {
        None => lines.add("film's long-exposure loss", "not counted: no film is named"),
        Some(chosen) => lines.add("film", words_of_film(chosen)),
    };
    lines.figure("exact time", Some(answer.time_s), "s");
    setting(&mut lines, found);
    frames(&mut lines, found);
    if let Some((swept, allowed_um)) = &found.moved {
        lines.figure("smear on film", Some(swept.smear_um), "µm");
        let slowest = swept.slowest_s.map_or("any time".into(), |slowest| format!("{} at most", fmt::shutter(slowest)));
        lines.add("for a smear within", format!("{} µm: {slowest}", fmt::figure(*allowed_um, 3)));
    }
    for warning in warnings {
        lines.note(warning);
    }
    lines.done()
}

fn setting(lines: &mut Lines, found: &Exposed) {
    let answer = &found.answer;
    let (Some(set), Some(error)) = (answer.set_s, answer.set_error_stops) else { return };
    lines.add("set", fmt::shutter(set));
    lines.figure("which is off by", Some(error), "stops");
    if let Some(forgiven) = answer.forgiven {
        lines.add(
            "does the film forgive it",
            match forgiven {
                Forgiven::Yes => "yes",
                Forgiven::Perhaps => "perhaps: part of the doubt lies outside what it forgives",
                Forgiven::No => "no",
            },
        );
    }
}

fn frames(lines: &mut Lines, found: &Exposed) {
    let frame = |frame: &exposure::Frame| match frame.stops {
        0.0 => fmt::shutter(frame.time_s),
        stops => format!("{stops:+}: {} or f/{}", fmt::shutter(frame.time_s), fmt::figure(frame.f_number, 2)),
    };
    let frames: Vec<_> = found.bracket.frames.iter().map(frame).collect();
    lines.add("frames to be safe", format!("{}: {}", frames.len(), frames.join("; ")));
}
