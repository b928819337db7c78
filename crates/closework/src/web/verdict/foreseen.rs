//! What tracing predicts, in a section of its own: never in one list with what was measured.

use kit::Part;
use maud::{Markup, html};

use super::page::Whole;
use super::shown;
use crate::bench::{self, Trace};
use crate::documents::foreseen::{ForeseenDocument, ForeseenRank, ForeseenUse, ForeseenWish};
use crate::documents::verdict::{SentenceKind, VerdictDocument};
use crate::verdict::foresee;
use crate::verdict::judged::{chance, figure_words, limit_words};
use crate::verdict::money::sum;
use crate::web::App;
use crate::web::tasks::{Standing, Task};

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

/// Puts into a page what was traced before; what was not is traced in the background, and the page comes again when it is there. To be
/// called where waiting is allowed; the notebook is not held.
pub(super) fn look(app: &App, whole: &mut Whole, about: String, again: bool) {
    whole.document.foreseen = foresee(&whole.prepared, &|setup, asked| bench::predicted_already(setup, asked));
    if whole.document.foreseen.is_some() {
        whole.foreseen = State::There;
        return;
    }
    let last = app.tasks().about(&about).map(|task| task.standing);
    whole.foreseen = match last {
        Some(Standing::Running) => State::Tracing(about),
        Some(Standing::Stopped | Standing::Failed(_)) if !again => State::Stopped,
        _ => {
            begin(app, whole, &about);
            State::Tracing(about)
        }
    };
}

fn begin(app: &App, whole: &Whole, about: &str) {
    let task = app.tasks().start("Tracing what set-ups are likely to do", about);
    let (app, prepared) = (app.clone(), whole.prepared.clone());
    std::thread::spawn(move || {
        let _turn = app.turn();
        let trace: Trace<'_> =
            &|setup, asked| if task.must_stop() { None } else { Some(bench::predicted(setup, asked)) };
        let found = foresee(&prepared, trace).is_some();
        end(task, found);
    });
}

fn end(task: Task, found: bool) {
    task.end(if found { Standing::Done } else { Standing::Stopped });
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
            details {
                summary { "Why these intervals are so wide" }
                ul { @for reason in &foreseen.reasons { li { (reason) } } }
            }
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
                @if kit.worth > 0.0 { " It would tie up " (sum(kit.worth, &document.money.currency)) "." }
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
