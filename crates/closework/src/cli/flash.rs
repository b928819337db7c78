//! `closework flash`

use super::args;
use super::error::CliError;
use super::exposure::{film, filters};
use super::setup::{read_kit, request};
use super::text::Lines;
use crate::documents::{FlashDocument, to_json};
use crate::exposing::{Lit, Sync, beyond_the_iris, lost, sync};
use crate::web::fmt;
use exposure::{FlashAnswer, Lamp, Power, Strength};
use optics::Estimate;

pub fn run(args: &args::Flash) -> Result<String, CliError> {
    let path = &args.train.kit;
    let kit = read_kit(path)?;
    let power = power(args)?;
    let request = request(&args.train, Some(args.f_number), None);
    let setup = kit::Setup::resolve(&kit, &request).map_err(CliError::setup(path))?;
    let report = setup.report().map_err(CliError::setup(path))?;
    let lit = Lit {
        power,
        iso: args.iso,
        film: film(&kit, &args.before_film)?,
        filters: filters(&args.before_film),
        burns_s: args.burns_s,
    };
    let (answer, taken) = lit.answer(&setup, &report)?;
    let sync = sync(&setup);
    let limit = beyond_the_iris(&setup, &answer);
    let remarks = limit.into_iter().chain(answer.remarks.iter().map(ToString::to_string));
    let remarks = remarks.chain(taken.remarks.iter().cloned());
    let warnings: Vec<String> = remarks.chain(report.warnings.iter().map(ToString::to_string)).collect();
    if args.json {
        Ok(to_json(&FlashDocument::of(&answer, &taken, lost(&report), &sync, warnings))?)
    } else {
        Ok(words(args, &answer, (lost(&report), taken.stops), &sync, &warnings))
    }
}

fn power(args: &args::Flash) -> Result<Power, CliError> {
    if let Some(f_number) = args.flash_meter {
        // Set to the film's speed, so that it does not matter which.
        return Ok(Power::Metered { f_number, iso: args.iso.unwrap_or(100.0) });
    }
    let guides = args.guide_number.iter().map(|metres| Strength::GuideNumber { metres: *metres, iso: args.guide_iso });
    let strengths: Vec<_> = guides.chain(args.bcps.iter().map(|bcps| Strength::Bcps(*bcps))).collect();
    if strengths.is_empty() {
        return Err(CliError::FlashUntold(
            "give the flash's --guide-number (28m or 92ft) or --bcps with its --distance, or what a --flash-meter says",
        ));
    }
    if strengths.len() != args.distance.len() {
        return Err(CliError::FlashUntold("give as many --distance as flashes, each with its unit: --distance 400mm"));
    }
    if args.power.len() > strengths.len() || args.reflector.len() > strengths.len() {
        return Err(CliError::FlashUntold("--power and --reflector are given once for each flash at most"));
    }
    let lamp = |(at, (strength, distance_m)): (usize, (&Strength, &f64))| Lamp {
        strength: *strength,
        power: args.power.get(at).copied().unwrap_or(1.0),
        distance_m: *distance_m,
        reflector_m: args.reflector.get(at).copied(),
    };
    Ok(Power::Lamps(strengths.iter().zip(&args.distance).enumerate().map(lamp).collect()))
}

fn words(
    args: &args::Flash,
    answer: &FlashAnswer,
    (extension, filters): (Estimate, Estimate),
    sync: &Sync,
    warnings: &[String],
) -> String {
    let mut lines = Lines::default();
    lines.figure("lost in the set-up", Some(extension), "stops");
    lines.figure("lost in filters", Some(filters), "stops");
    if answer.short_loss_stops.value > 0.0 {
        lines.figure("film's short-exposure loss", Some(answer.short_loss_stops), "stops");
    }
    lines.figure("f-number to set", Some(answer.f_number), "");
    let off = answer.error_stops;
    let side = if off.value > 0.0 { "too much light" } else { "too little light" };
    let stops = Estimate { value: off.value.abs(), ..off };
    lines.add(
        &format!("f/{} is off by", args.f_number),
        format!("{}, {side}", super::text::with_unit(stops.value, stops.half_width(), "stops")),
    );
    if let Some(distance) = answer.distance_m {
        let which = if answer.ratio_stops.is_some() { " (the first; the second in proportion)" } else { "" };
        lines
            .add("right for it", format!("flash at {} m{which}", fmt::measured(distance.value, distance.half_width())));
    }
    if answer.power < 1.0 {
        lines.add("or", format!("1/{} of the power", fmt::figure(1.0 / answer.power, 2)));
    }
    if let Some(ratio) = answer.ratio_stops {
        lines.add(
            "first to second flash",
            format!("{}:1, {} stops", fmt::figure(ratio.exp2(), 2), fmt::figure(ratio, 2)),
        );
    }
    lines.add("speed", sync.words());
    for warning in warnings {
        lines.note(warning);
    }
    lines.note("never fire a flash near eyes, a person's or an animal's");
    lines.done()
}
