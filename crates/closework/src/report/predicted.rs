//! What tracing predicts, in a section of its own.

use super::material::Material;
use super::model::{Item, Section, Table};
use crate::documents::foreseen::{ForeseenDocument, ForeseenRank, ForeseenUse};
use crate::verdict::judged::{chance, figure_words};

/// The section; none where nothing was traced.
pub fn predicted(m: &Material) -> Option<Section> {
    let foreseen = m.verdict.foreseen.as_ref().filter(|foreseen| !foreseen.set_ups.is_empty())?;
    let section = Section::new("predicted", "Predicted, not measured");
    let section = section.text(format!("Here {}. The verdict does not count it.", foreseen.label));
    let section = foreseen.sentences.iter().fold(section, |section, said| section.text(said.text.clone()));
    let section = foreseen.uses.iter().fold(section, |section, standing| section.with(table(m, foreseen, standing)));
    Some(foreseen.reasons.iter().fold(section, |section, reason| section.note(reason.clone())))
}

fn table(m: &Material, foreseen: &ForeseenDocument, standing: &ForeseenUse) -> Item {
    let lacks = match standing.left_out.is_empty() {
        true => String::new(),
        false => format!(" No tracing tells: {}.", standing.left_out.join("; ")),
    };
    let mut table = Table::of(
        format!("Predicted for “{}”, the likeliest first.{lacks}", standing.title),
        &[("Set-up", 3.0), ("Predicted", 1.3), ("*Chance", 1.0), ("Figures, predicted", 4.0)],
    );
    table.rows = standing.ranked.iter().map(|ranked| row(m, foreseen, standing, ranked)).collect();
    Item::Table(table)
}

fn row(m: &Material, foreseen: &ForeseenDocument, standing: &ForeseenUse, ranked: &ForeseenRank) -> Vec<String> {
    let set_up = foreseen.set_ups.iter().find(|set_up| set_up.id == ranked.set_up);
    let name = set_up.map_or(String::new(), |set_up| match set_up.owned {
        true => set_up.name.clone(),
        false => format!("{} (to be bought)", set_up.name),
    });
    let limits = m.verdict.uses.iter().find(|full| full.id == standing.id).map(|full| full.limits.as_slice());
    let findings =
        ranked.findings.iter().filter_map(|finding| Some(figure_words(limits?.get(finding.limit)?, finding)));
    let words: Vec<String> = findings.chain(ranked.missing.iter().cloned()).collect();
    vec![name, ranked.answer.clone(), chance(ranked.probability), words.join("; ")]
}
