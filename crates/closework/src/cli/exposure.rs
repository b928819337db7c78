//! `closework exposure`

use super::args;
use super::error::CliError;
use super::setup::{read_kit, request};
use super::text::Lines;
use crate::documents::{ExposureDocument, to_json};
use crate::web::fmt;
use exposure::{Answer, Question, expose};
use optics::{Estimate, Figure};

pub fn run(args: &args::Exposure) -> Result<String, CliError> {
    if let Some(film) = &args.film {
        return Err(CliError::NoFilms(film.clone()));
    }
    let path = &args.train.kit;
    let kit = read_kit(path)?;
    let request = request(&args.train, Some(args.f_number), None);
    let setup = kit::Setup::resolve(&kit, &request).map_err(CliError::setup(path))?;
    let report = setup.report().map_err(CliError::setup(path))?;
    let speeds = setup.shutter_s();
    let answer = expose(&Question {
        metered_s: args.metered_s,
        metered_f_number: args.metered_f_number.unwrap_or(args.f_number),
        f_number: args.f_number,
        extension_stops: report.figures.get(Figure::ExposureStops).unwrap_or(Estimate::exact(0.0)),
        filter_stops: args.filter_stops,
        shutter_s: &speeds,
        bulb: setup.has_bulb(),
    })?;
    let warnings: Vec<String> =
        answer.remarks.iter().map(ToString::to_string).chain(report.warnings.iter().map(ToString::to_string)).collect();
    if args.json { Ok(to_json(&ExposureDocument::of(&answer, warnings))?) } else { Ok(words(&answer, &warnings)) }
}

fn words(answer: &Answer, warnings: &[String]) -> String {
    let mut lines = Lines::default();
    lines.add("metered", fmt::shutter(answer.metered_s));
    if answer.aperture_stops != 0.0 {
        lines.figure("another f-number", Some(Estimate::exact(answer.aperture_stops)), "stops");
    }
    lines.figure("lost to extension", Some(answer.extension_stops), "stops");
    lines.figure("lost in filters", Some(answer.filter_stops), "stops");
    lines.add("film's long-exposure loss", "not counted: no film data in this version");
    lines.figure("exact time", Some(answer.time_s), "s");
    if let (Some(set), Some(error)) = (answer.set_s, answer.set_error_stops) {
        lines.add("set", fmt::shutter(set));
        lines.figure("which is off by", Some(error), "stops");
    }
    for warning in warnings {
        lines.note(warning);
    }
    lines.done()
}
