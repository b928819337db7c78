//! What tracing predicts, in a section of its own: never in one list with what was measured.

use std::collections::BTreeMap;
use std::hash::{Hash, Hasher};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use kit::Part;
use maud::{Markup, html};

use super::page::Whole;
use super::shown;
use crate::bench::{self, Trace};
use crate::documents::foreseen::{ForeseenDocument, ForeseenRank, ForeseenUse, ForeseenWish};
use crate::documents::verdict::{SentenceKind, VerdictDocument};
use crate::verdict::judged::{chance, figure_words, limit_words};
use crate::verdict::money::sum_with;
use crate::verdict::{Prepared, foresee};
use crate::web::App;
use crate::web::tasks::Standing;

/// Where the predictions of a page stand.
pub(super) enum State {
    /// They are in the document.
    There,
    /// They are being traced, by the task of this name.
    Tracing(String),
    /// The person stopped it.
    Stopped,
    /// They were not asked for.
    NotAsked,
}

/// A page waits for so long, in case it is soon done.
const PATIENCE: Duration = Duration::from_millis(400);

/// Puts into a page what was foreseen before of the same notebook; what was not is made in the background, and the page comes again when
/// it is there. To be called where waiting is allowed; the notebook is not held.
pub(super) fn look(app: &App, whole: &mut Whole, about: String, again: bool) {
    let print = fingerprint(&whole.prepared);
    let last = app.tasks().about(&about).map(|task| task.standing);
    let stopped = matches!(last, Some(Standing::Stopped | Standing::Failed(_))) && !again;
    if known(print).is_none() && !stopped && last != Some(Standing::Running) {
        begin(app, whole, &about, print);
    }
    whole.document.foreseen = known(print);
    whole.foreseen = match whole.document.foreseen {
        Some(_) => State::There,
        None if stopped => State::Stopped,
        None => State::Tracing(about),
    };
}

/// Foreseen documents by what they were made of.
static KEPT: Mutex<BTreeMap<u64, ForeseenDocument>> = Mutex::new(BTreeMap::new());
/// More are not kept: one for each job that is looked at, and the drawer's.
const MOST_KEPT: usize = 64;

fn known(print: u64) -> Option<ForeseenDocument> {
    KEPT.lock().unwrap_or_else(PoisonError::into_inner).get(&print).cloned()
}

fn keep(print: u64, found: ForeseenDocument) {
    let mut kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    if kept.len() >= MOST_KEPT {
        kept.clear();
    }
    kept.insert(print, found);
}

/// Tells whether anything that a prediction is made of has changed.
fn fingerprint(prepared: &Prepared) -> u64 {
    let mut hasher = std::hash::DefaultHasher::new();
    format!("{prepared:?}").hash(&mut hasher);
    hasher.finish()
}

/// Works in the background, and is waited for a little.
fn begin(app: &App, whole: &Whole, about: &str, print: u64) {
    let task = app.tasks().start("Tracing what set-ups are likely to do", about);
    let (app, prepared) = (app.clone(), whole.prepared.clone());
    let (sender, done) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let _turn = app.turn();
        let trace: Trace<'_> =
            &|setup, asked| if task.must_stop() { None } else { Some(bench::predicted(setup, asked)) };
        let found = foresee(&prepared, trace);
        let standing = if found.is_some() { Standing::Done } else { Standing::Stopped };
        if let Some(found) = found {
            keep(print, found);
        }
        task.end(standing);
        // Whoever asked has perhaps gone on.
        let _ = sender.send(());
    });
    // In time or not, the caller looks what is there.
    let _ = done.recv_timeout(PATIENCE);
}

/// The section.
pub(super) fn section(app: &App, whole: &Whole) -> Markup {
    html! {
        section aria-labelledby="predicted" {
            h2 id="predicted" { "Predicted, not measured" }
            @match (&whole.foreseen, &whole.document.foreseen) {
                (State::There, Some(foreseen)) => (there(&whole.document, foreseen)),
                (State::Tracing(about), _) => {
                    p { "Rays are being traced through the design forms that stand for the lenses; what follows shows here when they are through. Everything above is measured and does not wait for it." }
                    @if let Some(task) = app.tasks().about(about) { (task.bar()) }
                },
                (State::Stopped, _) => p { "The tracing was stopped. " a href="?trace=again#predicted" { "Trace again" } "." },
                _ => p { a href="/verdict#predicted" { "See what tracing predicts" } "." },
            }
        }
    }
}

fn there(document: &VerdictDocument, foreseen: &ForeseenDocument) -> Markup {
    html! {
        @if foreseen.uses.is_empty() {
            p { "No use asks for anything that tracing tells." }
        } @else {
            p.note { "Here " strong { (foreseen.label) } ". The verdict above does not count it." }
            @if foreseen.set_ups.is_empty() { p { "Nothing was traced." @if foreseen.silent.is_empty() { " No set-up of the kit reaches the size that a job wants." } } }
            @if !foreseen.sentences.is_empty() {
                ul.conclusions { @for sentence in &foreseen.sentences { (shown::said(sentence)) } }
            }
            @for standing in &foreseen.uses { (one_use(document, foreseen, standing)) }
            (kit(document, foreseen))
            @if !foreseen.set_ups.is_empty() { details {
                summary { "Why these intervals are so wide" }
                ul { @for reason in &foreseen.reasons { li { (reason) } } }
            } }
            (evidence(foreseen))
            @if !foreseen.silent.is_empty() {
                h3 { "What cannot be traced" }
                ul { @for silent in &foreseen.silent { li { (silent.what) ": " (silent.why) ". " a href=(silent.page) { (shown::capital(&silent.next)) } "." } } }
            }
        }
    }
}

fn one_use(document: &VerdictDocument, foreseen: &ForeseenDocument, standing: &ForeseenUse) -> Markup {
    let full = document.uses.iter().find(|full| full.id == standing.id).filter(|_| document.whole_drawer);
    let job = full.and_then(|full| document.jobs.iter().find(|job| job.id == full.job));
    html! {
        @if !standing.ranked.is_empty() {
            h3 id=(format!("predicted-{}", standing.id)) { (shown::capital(&standing.title)) @if let Some(job) = job { ", for " (job.title) } ", predicted" }
            @if !standing.left_out.is_empty() { p.soft { "No tracing tells: " (standing.left_out.join("; ")) ". A frame must." } }
            div.scroll tabindex="0" role="region" aria-labelledby=(format!("predicted-{}", standing.id)) {
                table.stacked {
                    thead { tr { th scope="col" { "Set-up" } th scope="col" { "Predicted" } th.n scope="col" { "Chance" } th scope="col" { "Tightest figures, predicted" } } }
                    tbody { @for ranked in &standing.ranked { (row(document, foreseen, standing, ranked)) } }
                }
            }
        }
    }
}

fn row(
    document: &VerdictDocument,
    foreseen: &ForeseenDocument,
    standing: &ForeseenUse,
    ranked: &ForeseenRank,
) -> Markup {
    let set_up = foreseen.set_ups.iter().find(|set_up| set_up.id == ranked.set_up);
    let limits = document.uses.iter().find(|full| full.id == standing.id).map(|full| full.limits.as_slice());
    html! {
        tr {
            th scope="row" {
                @if let Some(set_up) = set_up {
                    a href=(format!("#{}", set_up.id)) { (set_up.name) }
                    @if !set_up.owned { " " span.tag { "to be bought" } }
                    @if set_up.tried { " " span.tag { "frame not measured" } }
                }
            }
            td data-label="predicted" { (ranked.answer) }
            td.n data-label="chance" { (chance(ranked.probability)) }
            td data-label="tightest" {
                ul.found-of {
                    @for finding in ranked.findings.iter().filter(|finding| finding.probability < 0.99).take(3) {
                        @if let Some(limit) = limits.and_then(|limits| limits.get(finding.limit)) {
                            li { (figure_words(limit, finding)) ", " (limit.asked.side.words()) " " (limit_words(limit)) " asked" }
                        }
                    }
                    @for missing in &ranked.missing { li.missing { (missing) } }
                }
            }
        }
    }
}

fn kit(document: &VerdictDocument, foreseen: &ForeseenDocument) -> Markup {
    let name =
        |id: &String| document.parts.iter().find(|part| part.id == *id).map_or(id.clone(), |part| part.name.clone());
    html! {
        @if let Some(kit) = foreseen.kit.as_ref().filter(|kit| !kit.parts.is_empty()) {
            h3 { "The cheapest kit, with predictions" }
            p {
                "If these predictions counted as frames do, the cheapest kit would be: " (kit.parts.iter().map(name).collect::<Vec<_>>().join(", ")) "."
                @if kit.worth > 0.0 { " It would tie up " (sum_with(kit.worth, kit.worth_plus_minus, &document.money.currency)) "." }
                @if document.kit.as_ref().is_some_and(|measured| measured.parts == kit.parts) { " It is the same as the measured one." }
                @else if document.kit.as_ref().is_some_and(|measured| !measured.parts.is_empty()) { " By what was measured alone it is another one, above; sell nothing on a prediction." }
            }
        }
    }
}

fn evidence(foreseen: &ForeseenDocument) -> Markup {
    html! {
        @if !foreseen.set_ups.is_empty() {
            details {
                summary { "What was traced: " (crate::web::fmt::count(foreseen.set_ups.len(), "set-up", "set-ups")) ", each with its figures and forms" }
                @for set_up in &foreseen.set_ups {
                details.detail id=(set_up.id) {
                    summary {
                        strong { (set_up.name) }
                        @if let Some(m) = set_up.magnification { ", " (crate::web::fmt::ratio(m.value)) }
                        span.soft { ", predicted" @if !set_up.owned { "; a part of it is not in the kit" } }
                    }
                    p.small {
                        @for (at, [lens, form]) in set_up.forms.iter().enumerate() { @if at > 0 { "; " } (lens) " by the form “" (form) "”" }
                        ". For the interval: " (set_up.others.join("; ")) ". "
                        a href=(crate::verdict::predicted::address(&set_up.parts, &set_up.focus, set_up.f_number)) { "The set-up" } "."
                    }
                    (shown::figures(&set_up.name, &set_up.figures))
                }
                }
            }
        }
    }
}

/// What is predicted of a wish, where the list of wishes stands.
pub(super) fn of_wish(document: &VerdictDocument, wish: &Part) -> Option<String> {
    let foreseen = document.foreseen.as_ref()?;
    let known: &ForeseenWish = foreseen.wishes.iter().find(|known| known.part == wish.id())?;
    if !known.why_not.is_empty() {
        return Some(format!("Nothing is predicted of it: {}.", known.why_not.trim_end_matches('.')));
    }
    let said = foreseen.sentences.iter().filter(|said| said.kind == SentenceKind::Buy);
    let said = said.filter(|said| said.about.iter().any(|id| id == wish.id())).map(|said| said.text.clone()).next()?;
    Some(format!("Predicted, not measured: {said}"))
}
