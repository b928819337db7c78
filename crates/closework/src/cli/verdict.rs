//! `closework verdict`

use super::args;
use super::error::CliError;
use super::records::existing;
use crate::documents::to_json;
use crate::documents::verdict::{RankedDocument, UseStanding, VerdictDocument, VerdictSettings};
use crate::verdict::judged::{chance, figure_words};
use crate::verdict::verdict;

pub fn run(args: &args::Verdict) -> Result<String, CliError> {
    let book = existing(&args.notebook)?;
    let settings = VerdictSettings { sure: args.sure, worlds: args.worlds, seed: args.seed };
    let document = verdict(&book, args.job, settings)?;
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
        text += &format!("  {}: {} ({})\n", limit.words, limit.asked.reason, limit.asked.source);
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
