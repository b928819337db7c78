//! What tracing predicts of set-ups that no frame shows: how they would do for the uses, what each wish would bring, and the cheapest kit
//! if predictions counted. It never touches the verdict on what was measured.
//!
//! Set-ups come from three places: frames that were planned or taken and not measured; what the kit reaches at each job's size; and what
//! it would reach with each wish. Each is traced with the design form that stands for its lens ([`crate::bench::predicted`]) and judged
//! like a measured one, by those limits of a use that tracing tells.

mod figures;
mod said;
mod set_ups;

use verdict::decision::{DecideOptions, decide};

use self::set_ups::{Foreseen, Source};
use super::build::{Prepared, drawer};
use super::candidates::Candidate;
use super::judged::Judged;
use super::money::price_doubt;
use super::next::missing;
use super::uses::Stated;
use crate::bench::{self, Trace};
use crate::documents::Asked;
use crate::documents::foreseen::{
    ForeseenDocument, ForeseenGain, ForeseenKit, ForeseenRank, ForeseenSetUp, ForeseenUse, ForeseenWish,
    ForeseenWithout,
};
use crate::documents::verdict::{FindingDocument, VerdictSettings};
use crate::web::kit_book::part_name;

/// All of it, traced now.
pub fn foresee_now(prepared: &Prepared) -> ForeseenDocument {
    foresee(prepared, &|setup, asked| Some(bench::predicted(setup, asked))).unwrap_or_default()
}

/// All of it; `None` where `trace` gave up.
pub fn foresee(prepared: &Prepared, trace: Trace<'_>) -> Option<ForeseenDocument> {
    let uses = by_tracing(&prepared.uses);
    let mut document =
        ForeseenDocument { label: label(&[]), reasons: said::reasons(prepared), ..ForeseenDocument::default() };
    if uses.is_empty() {
        return Some(document);
    }
    let found = set_ups::gather(prepared, &uses, trace)?;
    document.label = label(&found.foreseen);
    document.silent = found.silent;
    document.check = found.check;
    let candidates: Vec<Candidate> = found.foreseen.iter().map(|foreseen| foreseen.candidate.clone()).collect();
    let Ok(judged) = Judged::new(uses, candidates, prepared.material.settings.sure) else { return Some(document) };
    document.uses = (0..judged.uses.len()).map(|at| one_use(prepared, &judged, at)).collect();
    document.set_ups = (0..found.foreseen.len()).map(|at| set_up(prepared, &judged, &found.foreseen[at], at)).collect();
    document.wishes = found.wishes.iter().map(|wish| one_wish(prepared, &judged, &found.foreseen, wish)).collect();
    document.kit = with_measured(prepared, &judged);
    document.sentences = said::sentences(prepared, &judged, &found.foreseen, &document);
    Some(document)
}

/// What stands beside every figure of it.
fn label(foreseen: &[Foreseen]) -> String {
    let designs = foreseen.iter().flat_map(|foreseen| &foreseen.told.forms).map(|(_, design)| design);
    format!("predicted, not measured: {}", bench::not_yours(designs))
}

/// Whether tracing, or the kit's own figures, tell it.
fn told_by_tracing(asked: Asked) -> bool {
    !matches!(asked, Asked::Glare | Asked::Unevenness)
}

/// The uses with those limits alone that can be predicted; those of which nothing needs tracing are left out.
fn by_tracing(uses: &[Stated]) -> Vec<Stated> {
    let reduced = uses.iter().map(|stated| {
        let mut reduced = stated.clone();
        let keep: Vec<bool> = stated.limits.iter().map(|limit| told_by_tracing(limit.asked.quantity)).collect();
        let mut of = keep.iter();
        reduced.limits.retain(|_| of.next().copied().unwrap_or(true));
        let mut of = keep.iter();
        reduced.use_.requirements.retain(|_| of.next().copied().unwrap_or(true));
        reduced
    });
    reduced.filter(|stated| stated.limits.iter().any(|limit| limit.asked.quantity.has_places())).collect()
}

/// The place of a use's limit among those that it has in full.
fn in_full(prepared: &Prepared, use_id: &str, limit: usize) -> usize {
    let Some(stated) = prepared.uses.iter().find(|stated| stated.id == use_id) else { return limit };
    let told = stated.limits.iter().enumerate().filter(|(_, limit)| told_by_tracing(limit.asked.quantity));
    told.map(|(at, _)| at).nth(limit).unwrap_or(limit)
}

/// So many set-ups of a use are named.
const NAMED: usize = 8;

fn one_use(prepared: &Prepared, judged: &Judged, use_: usize) -> ForeseenUse {
    let stated = &judged.uses[use_];
    let full = prepared.uses.iter().find(|full| full.id == stated.id);
    let limits = full.map(|full| full.limits.as_slice()).unwrap_or_default();
    let left_out = limits.iter().filter(|limit| !told_by_tracing(limit.asked.quantity)).map(|l| l.words.clone());
    let order = order(judged, use_);
    ForeseenUse {
        id: stated.id.clone(),
        title: stated.title.clone(),
        left_out: left_out.collect(),
        ranked: order.into_iter().take(NAMED).map(|at| rank(prepared, judged, use_, at)).collect(),
    }
}

/// Set-ups for a use, the likeliest first; of equal ones the one with less missing, then the order in which they came.
fn order(judged: &Judged, use_: usize) -> Vec<usize> {
    let rulings = &judged.rulings[use_];
    let mut order: Vec<usize> = (0..rulings.len()).collect();
    order.sort_by(|a, b| {
        let (p, q) = (&rulings[*a], &rulings[*b]);
        let known = p.missing.is_empty().cmp(&q.missing.is_empty()).reverse();
        known.then(q.probability.total_cmp(&p.probability))
    });
    order
}

fn rank(prepared: &Prepared, judged: &Judged, use_: usize, at: usize) -> ForeseenRank {
    let ruling = &judged.rulings[use_][at];
    let use_id = &judged.uses[use_].id;
    let findings = judged.findings(use_, at).into_iter();
    let findings = findings.map(|found| FindingDocument { limit: in_full(prepared, use_id, found.limit), ..found });
    ForeseenRank {
        set_up: judged.candidates[at].id.clone(),
        answer: answer_words(ruling.answer).into(),
        probability: ruling.probability,
        findings: findings.collect(),
        missing: missing(judged, use_, at).into_iter().map(|missing| missing.why).collect(),
    }
}

/// What a prediction comes to: never as much as a measurement.
pub fn answer_words(answer: verdict::Answer) -> &'static str {
    match answer {
        verdict::Answer::Serves => "likely serves",
        verdict::Answer::FallsShort => "likely falls short",
        verdict::Answer::Undecided => "may serve",
    }
}

fn set_up(prepared: &Prepared, judged: &Judged, foreseen: &Foreseen, at: usize) -> ForeseenSetUp {
    let candidate = &judged.candidates[at];
    let form =
        |(lens, form): &(String, bench::Design)| [part_name(&prepared.material.all, lens), form.name().to_owned()];
    ForeseenSetUp {
        id: candidate.id.clone(),
        name: candidate.name.clone(),
        parts: candidate.parts.clone(),
        focus: candidate.focus.clone(),
        f_number: candidate.f_number,
        owned: candidate.part_ids().iter().all(|id| prepared.material.kit.part(id).is_some()),
        tried: foreseen.source == Source::Tried,
        forms: foreseen.told.forms.iter().map(form).collect(),
        others: foreseen.told.others.clone(),
        magnification: super::build::magnification(judged, at),
        figures: judged.figures(at),
    }
}

/// The best chance among some set-ups, and whose.
fn likeliest(judged: &Judged, use_: usize, counts: impl Fn(usize) -> bool) -> Option<(usize, f64)> {
    let first = order(judged, use_).into_iter().find(|at| counts(*at))?;
    Some((first, judged.rulings[use_][first].probability))
}

fn owned(prepared: &Prepared, candidate: &Candidate) -> bool {
    candidate.part_ids().iter().all(|id| prepared.material.kit.part(id).is_some())
}

fn one_wish(prepared: &Prepared, judged: &Judged, foreseen: &[Foreseen], wish: &set_ups::Wish) -> ForeseenWish {
    let part = prepared.material.wishes.part(&wish.part);
    let of_wish = |at: usize| {
        let ids = judged.candidates[at].part_ids();
        let others = |id: &String| *id == wish.part || prepared.material.kit.part(id).is_some();
        ids.contains(&wish.part) && ids.iter().all(others) && foreseen[at].source != Source::Kit
    };
    let tightest = |use_: usize, at: usize| {
        let found = judged.weakest(use_, at)?;
        Some(FindingDocument { limit: in_full(prepared, &judged.uses[use_].id, found.limit), ..found })
    };
    let gain = |use_: usize| {
        let (at, probability) = likeliest(judged, use_, of_wish)?;
        let without = likeliest(judged, use_, |at| owned(prepared, &judged.candidates[at]));
        Some(ForeseenGain {
            use_id: judged.uses[use_].id.clone(),
            set_up: judged.candidates[at].id.clone(),
            probability,
            finding: tightest(use_, at),
            without: without.map(|(at, probability)| ForeseenWithout {
                set_up: judged.candidates[at].id.clone(),
                probability,
                finding: tightest(use_, at),
            }),
        })
    };
    let uses: Vec<ForeseenGain> = (0..judged.uses.len()).filter_map(gain).collect();
    ForeseenWish {
        name: part_name(&prepared.material.all, &wish.part),
        price: part.and_then(|part| part.number("price")),
        price_plus_minus: part.map_or(0.0, price_doubt),
        why_not: if uses.is_empty() { wish.why_not.clone() } else { String::new() },
        part: wish.part.clone(),
        uses,
    }
}

/// The cheapest kit with measured set-ups as they are and predicted ones beside them.
fn with_measured(prepared: &Prepared, judged: &Judged) -> Option<ForeseenKit> {
    let measured = prepared.candidates.iter().filter(|candidate| set_ups::is_measured(candidate)).cloned();
    let all: Vec<Candidate> = measured.chain(judged.candidates.iter().cloned()).collect();
    let prices = prepared.material.prices(&all);
    let VerdictSettings { sure, worlds, seed } = prepared.material.settings;
    let judged = Judged::new(judged.uses.clone(), all, sure).ok()?;
    let drawer = drawer(&judged, &prepared.material.kit, &prepared.material.all, &prices);
    let kit = decide(&drawer, &DecideOptions { sure, worlds, seed }).ok()?.kit;
    Some(ForeseenKit {
        parts: kit.cheapest.parts,
        worth: kit.cheapest.worth.value,
        worth_plus_minus: kit.cheapest.worth.plus_minus,
        unpriced: kit.cheapest.unpriced,
        could_go: kit.could_go.into_iter().map(|(part, _)| part).collect(),
        unserved: kit.unserved,
    })
}

#[cfg(test)]
mod tests;
