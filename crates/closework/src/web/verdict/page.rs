//! The page of a verdict.

use axum::extract::{Path, RawQuery, State};
use axum::response::{Redirect, Response};
use kit::Kit;
use maud::{Markup, html};
use notebook::{Decision, DecisionId, Job, JobId, Notebook};
use optics::Estimate;
use verdict::{Answer, Judgement, Need};

use super::evidence::{Edge, Evidence, SetUp, gather};
use crate::web::clock::now;
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, saved};
use crate::web::jobs::{found, need_for};
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError, fmt};

struct Whole {
    kit: Kit,
    job: Job,
    need: Option<Need>,
    evidence: Option<Evidence>,
    decisions: Vec<Decision>,
}

fn read(book: &Notebook, wanted: Option<JobId>) -> Result<(Vec<Job>, Option<Whole>), PageError> {
    let jobs = book.jobs()?;
    let job = jobs.iter().find(|job| Some(job.id) == wanted).or(jobs.first()).cloned();
    let Some(job) = job else { return Ok((jobs, None)) };
    let kit = read_kit(book)?;
    let need = need_for(&job, &kit);
    let evidence = need.as_ref().map(|need| gather(book, &job, need)).transpose()?;
    let decisions = book.decisions(job.id)?;
    Ok((jobs, Some(Whole { kit, job, need, evidence, decisions })))
}

pub(super) async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let query = Filled::from_query(query.as_deref());
    let wanted: Option<JobId> = query.text("job").parse().ok();
    let (jobs, whole) = app.notebook(move |book| read(book, wanted)).await?;
    let sheet = Sheet::new("Verdict", Place::Verdict)
        .lead("Which measured set-ups are good enough for a job, and by how much.");
    let Some(whole) = whole else {
        return Ok(sheet.show(html! { div.note { p { "There is no job to judge for. " a href="/jobs/new" { "Begin one" } ": it says how large and how fine the picture must be." } } }));
    };
    let body = html! {
        @if jobs.len() > 1 { (job_choice(&jobs, &whole.job)) }
        h2 { a href=(format!("/jobs/{}", whole.job.id)) { (whole.job.title) } }
        (judged(&whole))
        (decisions(&whole))
    };
    Ok(sheet.script("/assets/reach.js").show(body))
}

fn job_choice(jobs: &[Job], chosen: &Job) -> Markup {
    let filled: Filled = [("job", chosen.id.to_string())].into_iter().collect();
    html! {
        form method="get" action="/verdict" {
            div.fields { (Field::choice("job", "Job", jobs.iter().map(|job| (job.id.to_string(), job.title.clone()))).show(&filled)) }
            div.actions { button { "Show" } }
        }
    }
}

fn judged(whole: &Whole) -> Markup {
    let (Some(need), Some(evidence)) = (&whole.need, &whole.evidence) else {
        return html! { div.note { p { "The body of this job is not in the " a href="/kit" { "kit" } ", so the size of its frame is not known and nothing can be worked out. Put it there, or " a href=(format!("/jobs/{}/edit", whole.job.id)) { "choose another" } "." } } };
    };
    html! {
        p { (asked(need)) }
        @if evidence.set_ups.is_empty() {
            div.note { p { "Nothing was measured for this job yet. " a href="/scans" { "Load its scans" } ", say which frame each shows, measure a ruler and an edge in each." } }
        } @else {
            (conclusions(&whole.kit, evidence, need))
            (table(&whole.kit, evidence, need))
        }
        (silent(evidence))
    }
}

fn asked(need: &Need) -> String {
    format!(
        "It asks for {} ({}×) and, at {} lp/mm on the subject ({} lp/mm on film at that size), for at least {} of the contrast.",
        fmt::ratio(need.magnification()),
        fmt::figure(need.magnification(), 3),
        fmt::figure(need.on_subject_lp_mm(), 3),
        fmt::figure(need.on_film_lp_mm(), 3),
        fmt::percent(need.contrast)
    )
}

/// One sentence for each set-up, the good ones first.
fn conclusions(kit: &Kit, evidence: &Evidence, need: &Need) -> Markup {
    html! {
        ul.conclusions {
            @for set_up in &evidence.set_ups { li { (conclusion(kit, set_up, need)) } }
        }
    }
}

fn conclusion(kit: &Kit, set_up: &SetUp, need: &Need) -> Markup {
    let (word, sure) = match set_up.judgement() {
        None => ("cannot be judged", "the scan is too coarse for this fineness".to_owned()),
        Some(judgement) => (answer_words(judgement.answer), surety(judgement)),
    };
    let size = set_up.magnification.value / need.magnification();
    html! {
        span.mark-of aria-hidden="true" { (mark(set_up)) } " "
        strong { (name(kit, set_up)) } " " (word)
        @if let Some(least) = set_up.least() { ": " (share(least)) " of the contrast is left at its weakest place, " (margin(least, need)) }
        "; " (sure) "."
        @if size < 0.98 { " It was taken at " (fmt::ratio(set_up.magnification.value)) ", smaller than wanted; it is judged at the same fineness on the subject." }
    }
}

/// A sign that is told apart without its colour.
fn mark(set_up: &SetUp) -> &'static str {
    match set_up.judgement().map(|judgement| judgement.answer) {
        Some(Answer::Serves) => "●",
        Some(Answer::Undecided) => "◐",
        Some(Answer::FallsShort) => "○",
        None => "?",
    }
}

fn answer_words(answer: Answer) -> &'static str {
    match answer {
        Answer::Serves => "is good enough",
        Answer::FallsShort => "is not good enough",
        Answer::Undecided => "is too close to call",
    }
}

fn surety(judgement: Judgement) -> String {
    match judgement.probability {
        p if p > 0.99 => "sure to more than 99 %".into(),
        p if p < 0.01 => "a chance of less than 1 %".into(),
        p => format!("a chance of {} that it is enough", fmt::percent(p)),
    }
}

/// A share with its half-width, in percent.
fn share(estimate: Estimate) -> String {
    fmt::measured_with(estimate.value * 100.0, estimate.half_width().map(|h| h * 100.0), "%")
}

fn margin(least: Estimate, need: &Need) -> String {
    let points = (least.value - need.contrast) * 100.0;
    let more = if points >= 0.0 { "more" } else { "less" };
    format!("{} points {more} than asked", fmt::figure(points.abs(), 2))
}

fn name(kit: &Kit, set_up: &SetUp) -> String {
    let parts = set_up_name(kit, &set_up.parts);
    match set_up.f_number {
        Some(f) => format!("{parts}, at f/{f}"),
        None => parts,
    }
}

fn table(kit: &Kit, evidence: &Evidence, need: &Need) -> Markup {
    html! {
        section aria-labelledby="evidence" {
            h2 id="evidence" { "The evidence" }
            p.soft { "Contrast left at the needed fineness, lens, film and scanner together." }
            div.scroll tabindex="0" role="region" aria-labelledby="evidence" {
                table.sortable.stacked {
                    thead { tr {
                        th scope="col" { "Set-up" } th scope="col" { "Place" } th scope="col" { "Enough?" }
                        th.n scope="col" { "Contrast left" } th.n scope="col" { "In the scan, cycles/px" } th scope="col" { "Frame" }
                    } }
                    tbody { @for set_up in &evidence.set_ups { @for edge in &set_up.edges { (row(kit, set_up, edge, need)) } } }
                }
            }
        }
    }
}

fn row(kit: &Kit, set_up: &SetUp, edge: &Edge, need: &Need) -> Markup {
    let frames = set_up.frames.iter().map(u32::to_string).collect::<Vec<_>>().join(", ");
    let word = match edge.judgement.map(|judgement| judgement.answer) {
        None => "the scan is too coarse",
        Some(Answer::Serves) => "yes",
        Some(Answer::FallsShort) => "no",
        Some(Answer::Undecided) => "too close to call",
    };
    html! {
        tr {
            th scope="row" { (name(kit, set_up)) }
            td data-label="place" { a href=(format!("/scans/{}#m{}", edge.scan, edge.id)) { @if edge.label.is_empty() { "edge" } @else { (edge.label) } } }
            td data-label="enough" { strong { (word) } @if let Some(dpi) = edge.needed_dpi() { ": scan it at " (fmt::figure(dpi, 2)) " dpi or finer" } }
            td.n data-label="contrast left" data-value=[edge.left.map(|left| left.value)] { @match edge.left { Some(left) => (share(left)), None => "–" } " / " (fmt::percent(need.contrast)) }
            td.n data-label="in the scan, cycles/px" data-value=(edge.cy_px) { (fmt::figure(edge.cy_px, 3)) }
            td data-label="frame" { (frames) }
        }
    }
}

fn silent(evidence: &Evidence) -> Markup {
    html! {
        @if !evidence.silent.is_empty() {
            details { summary { (evidence.silent.len()) " scans say nothing yet" }
                ul { @for (scan, why) in &evidence.silent { li { a href=(format!("/scans/{}", scan.id)) { (scan.file_name) } ": " (why) "." } } }
            }
        }
    }
}

fn decisions(whole: &Whole) -> Markup {
    let job = whole.job.id;
    html! {
        section aria-labelledby="decided" {
            h2 id="decided" { "Decided" }
            @for decision in &whole.decisions {
                div.note {
                    p { (decision.text) }
                    form method="post" action=(format!("/decisions/{job}/{}/delete", decision.id)) {
                        span.soft { (decision.created.get(..10).unwrap_or_default()) " " }
                        button.quiet data-sure="Take it back?" { "Take it back" }
                    }
                }
            }
            form method="post" action=(format!("/jobs/{job}/decisions")) data-keep=(format!("decision-{job}")) {
                (Field::area("text", "What is decided").hint("Which set-up for this work, which is not good enough for paid work, what is kept and what is sold.").show(&Filled::default()))
                div.actions { button.main { "Write it down" } }
            }
        }
    }
}

pub(super) async fn decide(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let text = filled.required_text("text");
    if text.is_empty() {
        return Err(PageError::refused(
            "The decision is empty, so there was nothing to write down.",
            "Go back and say what is decided.",
        ));
    }
    app.notebook(move |book| book.add_decision(job.id, &sentence(&text), &now())).await?;
    Ok(saved(&format!("/verdict?job={id}"), &format!("decision-{id}")))
}

pub(super) async fn take_back(
    State(app): State<App>,
    Path((job, id)): Path<(String, String)>,
) -> Result<Redirect, PageError> {
    let job = found(&app, &job).await?.id;
    let id: DecisionId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a decision.")))?;
    app.notebook(move |book| book.delete_decision(id)).await?;
    Ok(Redirect::to(&format!("/verdict?job={job}")))
}
