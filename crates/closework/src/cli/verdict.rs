//! `closework verdict`

use super::args;
use super::error::CliError;
use super::records::existing;
use crate::documents::foreseen::ForeseenDocument;
use crate::documents::to_json;
use crate::documents::verdict::{RankedDocument, UseStanding, VerdictDocument, VerdictSettings};
use crate::verdict::judged::{chance, figure_words};
use crate::verdict::{foresee_now, prepare};

pub fn run(args: &args::Verdict) -> Result<String, CliError> {
    let book = existing(&args.notebook)?;
    let settings = VerdictSettings { sure: args.sure, worlds: args.worlds, seed: args.seed };
    let prepared = prepare(&book, args.job, settings)?;
    let document = VerdictDocument { foreseen: Some(foresee_now(&prepared)), ..prepared.document() };
    if args.json { Ok(to_json(&document)?) } else { Ok(words(&document)) }
}

fn words(document: &VerdictDocument) -> String {
    let mut text = format!("{}\n\n", document.question);
    for sentence in &document.sentences {
        text += &format!("* {}\n", sentence.text);
        for evidence in &sentence.evidence {
            text += &format!("    {}: {}\n", evidence.words, evidence.page);
        }
    }
    for standing in &document.uses {
        text += &of_use(document, standing);
    }
    if let Some(foreseen) = document.foreseen.as_ref().filter(|foreseen| !foreseen.set_ups.is_empty()) {
        text += &predicted(document, foreseen);
    }
    if !document.silent.is_empty() {
        text += "\nWhat says nothing here:\n";
        for silent in &document.silent {
            text += &format!("  {}: {}; {}.\n", silent.what, silent.why, silent.next);
        }
    }
    text
}

fn of_use(document: &VerdictDocument, standing: &UseStanding) -> String {
    let job = document.jobs.iter().find(|job| job.id == standing.job).map_or("", |job| job.title.as_str());
    let mut text = format!("\n{} ({job}) asks for:\n", standing.title);
    for limit in &standing.limits {
        text += &format!("  {}; {} ({})\n", limit.words, limit.asked.reason, limit.asked.source);
    }
    if !standing.reckoned.is_empty() {
        text += &format!("  {}\n", standing.reckoned);
    }
    for ranked in &standing.ranked {
        text += &of_set_up(document, standing, ranked);
    }
    text
}

fn of_set_up(document: &VerdictDocument, standing: &UseStanding, ranked: &RankedDocument) -> String {
    let name = document.set_ups.iter().find(|set_up| set_up.id == ranked.set_up).map_or("", |set_up| &set_up.name);
    let mut text = format!("  {}, {}: {name}\n", ranked.answer, chance(ranked.probability));
    for finding in &ranked.findings {
        let limit = &standing.limits[finding.limit];
        text += &format!("      {}, {}; {}\n", figure_words(limit, finding), finding.basis, limit.words);
    }
    for missing in &ranked.missing {
        text += &format!("      {}\n", missing.why);
    }
    for step in &ranked.decides {
        let share = step.chance.map_or(String::new(), |share| format!(" (decides with {})", chance(share)));
        text += &format!("      -> {}{share}\n", step.words);
    }
    text
}

/// What tracing predicts, apart from all the rest.
fn predicted(document: &VerdictDocument, foreseen: &ForeseenDocument) -> String {
    let mut text = format!("\nHere {}.\n", foreseen.label);
    for sentence in &foreseen.sentences {
        text += &format!("* {}\n", sentence.text);
    }
    for standing in &foreseen.uses {
        text += &format!("\n{}, predicted:\n", standing.title);
        for limit in &standing.left_out {
            text += &format!("  no tracing tells: {limit}\n");
        }
        let limits = document.uses.iter().find(|full| full.id == standing.id).map(|full| full.limits.as_slice());
        for ranked in &standing.ranked {
            let set_up = foreseen.set_ups.iter().find(|set_up| set_up.id == ranked.set_up);
            let name = set_up.map_or("", |set_up| &set_up.name);
            let bought = if set_up.is_some_and(|set_up| !set_up.owned) { " (to be bought)" } else { "" };
            text += &format!("  {}, {}: {name}{bought}\n", ranked.answer, chance(ranked.probability));
            for finding in &ranked.findings {
                let Some(limit) = limits.and_then(|limits| limits.get(finding.limit)) else { continue };
                text += &format!("      {}, predicted; {}\n", figure_words(limit, finding), limit.words);
            }
            for missing in &ranked.missing {
                text += &format!("      {missing}\n");
            }
        }
    }
    if let Some(kit) = foreseen.kit.as_ref().filter(|kit| !kit.parts.is_empty()) {
        text +=
            &format!("\nIf predictions counted as frames do, the cheapest kit would be: {}.\n", kit.parts.join(", "));
    }
    text += "\nWhy these intervals are so wide:\n";
    for reason in &foreseen.reasons {
        text += &format!("  {reason}\n");
    }
    for silent in &foreseen.silent {
        text += &format!("  not traced, {}: {}.\n", silent.what, silent.why);
    }
    text
}
