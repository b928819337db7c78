//! A trial while it runs: one pair at a time.

use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};
use notebook::{Choice, Pick, ScanId};

use super::shown::{self, Side};
use super::{Kept, kept, result};
use crate::trial::Course;
use crate::web::error::{PageError, PageResult};
use crate::web::form::Filled;
use crate::web::layout::{Place, Sheet};
use crate::web::{App, clock, fmt, off_thread};

pub(super) async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: axum::extract::RawQuery,
) -> PageResult {
    let kept = kept(&app, &id).await?;
    if kept.trial.ended.is_some() {
        return result::page(&app, kept, filled.0.as_deref()).await;
    }
    off_thread(move || {
        let course = kept.course();
        show(&kept, &course)
    })
    .await
}

fn show(kept: &Kept, course: &Course) -> Html<String> {
    let base = format!("/trials/{}", kept.trial.id);
    let next = course.next();
    let body = html! {
        @match next {
            Some(_) => (pair(kept, &base)),
            None => div.note role="status" { p { strong { "Every pair is settled." } " More picks would change nothing. End the trial to see which is which." } },
        }
        (progress(course))
        div.actions {
            @if !kept.picks.is_empty() {
                form method="post" action=(format!("{base}/take-back")) { button #take-back { "Take back the last pick" } }
            }
            form method="post" action=(format!("{base}/end")) {
                button.main[next.is_none()] data-sure="End the trial? The names are shown then, and no more picks can be made." { "End now and show the names" }
            }
        }
        p.small.soft { "Every pick is kept at once: leave whenever you like and go on from " a href=(format!("/jobs/{}/trials", kept.trial.job)) { "the job's trials" } "." }
    };
    let (title, question) = (&kept.trial.draft.title, &kept.document.question);
    let sheet = Sheet::new(title, Place::Nowhere).neutral().script("/assets/trial.js");
    // A trial without a name has its question for one.
    if title == question { sheet.show(body) } else { sheet.lead(question).show(body) }
}

/// The pair, left and right, and the three answers. One form, so that it works without a script.
fn pair(kept: &Kept, base: &str) -> Markup {
    let number = kept.due();
    let picture =
        |side: Side| format!("{base}/pictures/{}", shown::name(&kept.document, kept.trial.id.0, number, side));
    let side = kept.document.piece_px;
    html! {
        form.blind method="post" action=(format!("{base}/picks")) {
            input type="hidden" name="number" value=(number);
            figure {
                img src=(picture(Side::Left)) width=(side) height=(side) alt="The left picture";
                figcaption { button.main name="choice" value="left" aria-keyshortcuts="ArrowLeft" { span.beside { "← Left is better" } span.stacked { "The upper is better" } } }
            }
            div.neither { button name="choice" value="no difference" aria-keyshortcuts="ArrowDown" { "No difference" } }
            figure {
                img src=(picture(Side::Right)) width=(side) height=(side) alt="The right picture";
                figcaption { button.main name="choice" value="right" aria-keyshortcuts="ArrowRight" { span.beside { "Right is better →" } span.stacked { "The lower is better" } } }
            }
        }
        p.small.soft { "Pick " (number) ". Both show " (fmt::figure(kept.document.piece_mm, 3)) " mm of the subject at one size"
            @if kept.document.one_tone { ", brought to one tone" }
            ". " span.needs-script { "Keys: ← left, → right, ↓ no difference, Backspace takes back." } }
    }
}

fn progress(course: &Course) -> Markup {
    let (settled, pairs) = (course.settled(), course.pairs());
    html! {
        p role="status" {
            progress max=(pairs) value=(settled) aria-label="Pairs settled" {}
            " " (fmt::count(course.picks.len(), "pick", "picks")) " so far; " (settled) " of " (fmt::count(pairs, "pair", "pairs")) " settled"
            (more(course)) "."
        }
    }
}

/// How many more it takes, in words.
fn more(course: &Course) -> String {
    match course.more() {
        None => String::new(),
        Some((0, 0)) => String::new(),
        Some((0, _)) => "; what is left lies so near the limit of a difference worth having that more picks than anybody makes would be needed".into(),
        Some((more, 0)) => {
            format!("; about {} would settle the rest", fmt::count(more as usize, "more pick", "more picks"))
        }
        Some((more, never)) => format!(
            "; about {} would settle the rest but for {} too near the limit of a difference worth having",
            fmt::count(more as usize, "more pick", "more picks"),
            fmt::count(never, "pair", "pairs")
        ),
    }
}

pub(super) async fn picture(
    State(app): State<App>,
    Path((id, name)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let gone = || PageError::missing("This picture is shown no longer, or not yet: a picture belongs to one pick.");
    let kept = kept(&app, &id).await?;
    if kept.trial.ended.is_some() {
        return Err(gone());
    }
    let (trial, number) = (kept.trial.id.0, kept.due());
    let is = |side| shown::name(&kept.document, trial, number, side) == name;
    let side = [Side::Left, Side::Right].into_iter().find(|side| is(*side)).ok_or_else(gone)?;
    let (kept, next) = off_thread(move || {
        let next = kept.course().next();
        (kept, next)
    })
    .await?;
    let (left, right) = next.ok_or_else(gone)?;
    let item = if side == Side::Left { left } else { right };
    let scan = ScanId(kept.document.scans[item].scan);
    let stored = app.notebook(move |book| book.scan(scan)).await?.map(|scan| scan.stored);
    let stored = stored.ok_or_else(|| {
        PageError::missing("One of the scans of this trial was deleted. End the trial: what was picked stays.")
    })?;
    let made = off_thread(move || shown::picture(&app, &kept.document, item, &stored)).await?;
    let jpeg = made.map_err(|cause| PageError::broken("This picture cannot be shown.", cause))?;
    // Kept nowhere: what was shown once must not be known again by its address.
    Ok(([(CONTENT_TYPE, "image/jpeg"), (CACHE_CONTROL, "no-store")], jpeg).into_response())
}

pub(super) async fn pick(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Redirect, PageError> {
    let choice = match filled.text("choice") {
        "left" => Choice::Left,
        "right" => Choice::Right,
        "no difference" => Choice::NoDifference,
        other => {
            return Err(PageError::refused(
                format!("“{other}” is no pick."),
                "Go back and press one of the three buttons.",
            ));
        }
    };
    let kept = kept(&app, &id).await?;
    let to = Redirect::to(&format!("/trials/{}", kept.trial.id));
    // A form sent twice, or from a page that was open elsewhere, counts once: the pair of that number was answered already.
    let due = filled.text("number").parse() == Ok(kept.due());
    if !due || kept.trial.ended.is_some() {
        return Ok(to);
    }
    let (trial, number) = (kept.trial.id, kept.due());
    let Some((left, right)) = off_thread(move || kept.course().next()).await? else { return Ok(to) };
    let pick = Pick { number, left: left as u32, right: right as u32, choice, created: clock::now() };
    match app.notebook(move |book| Ok::<_, PageError>(book.add_pick(trial, &pick))).await? {
        Err(notebook::NotebookError::PickTaken { .. } | notebook::NotebookError::TrialEnded { .. }) | Ok(()) => Ok(to),
        Err(error) => Err(error.into()),
    }
}

pub(super) async fn take_back(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let trial = kept(&app, &id).await?.trial;
    app.notebook(move |book| book.take_back_pick(trial.id)).await?;
    Ok(Redirect::to(&format!("/trials/{}", trial.id)))
}

pub(super) async fn end(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let trial = kept(&app, &id).await?.trial;
    app.notebook(move |book| book.end_trial(trial.id, &clock::now())).await?;
    Ok(Redirect::to(&format!("/trials/{}", trial.id)))
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let trial = kept(&app, &id).await?.trial;
    app.notebook(move |book| book.delete_trial(trial.id)).await?;
    Ok(Redirect::to(&format!("/jobs/{}/trials", trial.job)))
}
