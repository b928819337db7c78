//! A job's report: made in the background, kept beside the notebook until it is made anew, taken from here as files.

use std::path::{Path as FilePath, PathBuf};

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use notebook::{Job, JobId};

use super::error::{PageError, PageResult, sentence};
use super::jobs::found;
use super::layout::{Place, Sheet};
use super::records::download;
use super::tasks::{Standing, Task};
use super::{App, fmt, off_thread};
use crate::records::archive;
use crate::report::{Files, ReportTrouble, file_stem, files, read};

pub(in crate::web) fn routes() -> Router<App> {
    Router::new()
        .route("/jobs/{id}/report", get(page).post(begin))
        .route("/jobs/{id}/report/read", get(shown))
        .route("/jobs/{id}/report/{ending}", get(file))
}

/// Endings, media types and what each is for.
const KINDS: [(&str, &str, &str); 4] = [
    ("pdf", "application/pdf", "to print and to pass on"),
    ("html", "text/html; charset=utf-8", "one page for any browser, with everything inside"),
    ("csv", "text/csv; charset=utf-8", "every figure as a table, unrounded"),
    ("json", "application/json", "everything that was kept, for programs"),
];

fn about(id: JobId) -> String {
    format!("report/{id}")
}

/// Where a kind of file of a job's report lies.
fn path(app: &App, id: JobId, ending: &str) -> PathBuf {
    app.reports_folder().join(format!("{}.{ending}", file_stem(id)))
}

async fn page(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let job = found(&app, &id).await?;
    let task = app.tasks().about(&about(job.id));
    let example = app.tasks().about("example").filter(|task| job.demo && task.standing == Standing::Running);
    let body = html! {
        p { a href=(format!("/jobs/{}", job.id)) { (job.title) } }
        @if let Some(task) = &example {
            p { "This is the example. Its frames are being drawn just now, through traced lenses; its report is made when they are there." }
            (task.bar())
        }
        (made(&app, &job))
        @match task.as_ref().map(|task| (&task.standing, task)) {
            Some((Standing::Running, task)) => (task.bar()),
            Some((Standing::Failed(why), _)) => { div.refusal role="alert" { p.what { "The report could not be made. " (why) } } (make(&app, &job)) },
            // Made now it would tell of half the frames.
            _ if example.is_some() => {},
            _ => (make(&app, &job)),
        }
    };
    let lead = "The question, the kit, the plan, frames, pictures at one size, curves, figures, the verdict, method and settings: so \
                that another person could do it again.";
    Ok(Sheet::new("Report", Place::Jobs).lead(lead).show(body))
}

fn make(app: &App, job: &Job) -> Markup {
    let words = if path(app, job.id, "html").exists() { "Make it anew" } else { "Make the report" };
    html! {
        form.live method="post" action=(format!("/jobs/{}/report", job.id)) {
            div.actions { button.main { (words) } }
        }
        p.small { "From what the notebook holds now. What is missing is named in it, with what to do." }
    }
}

fn made(app: &App, job: &Job) -> Markup {
    let there: Vec<_> = KINDS
        .iter()
        .filter_map(|kind| Some((kind, std::fs::metadata(path(app, job.id, kind.0)).ok()?.len())))
        .collect();
    html! {
        @if !there.is_empty() {
            section aria-labelledby="made" {
                h2 id="made" { "Made last" }
                div.actions { a.button.main href=(format!("/jobs/{}/report/read", job.id)) { "Read the report" } }
                ul { @for ((ending, _, what), bytes) in &there { li {
                    a href=(format!("/jobs/{}/report/{ending}", job.id)) { (ending.to_uppercase()) } ", " (fmt::bytes(*bytes)) ": " (what)
                } } }
                p { a href=(format!("/jobs/{}/report/zip", job.id)) { "All of them as one ZIP" } }
            }
        }
    }
}

async fn begin(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let job = found(&app, &id).await?;
    let running = app.tasks().about(&about(job.id)).is_some_and(|task| task.standing == Standing::Running);
    if !running {
        let task = app.tasks().start(format!("Making the report on {}", job.title), about(job.id));
        let (app, id) = (app.clone(), job.id);
        std::thread::spawn(move || run(&app, id, task));
    }
    Ok(Redirect::to(&format!("/jobs/{}/report", job.id)))
}

fn run(app: &App, id: JobId, task: Task) {
    let standing = match write(app, id, &task) {
        Ok(()) => Standing::Done,
        Err(ReportTrouble::Stopped) => Standing::Stopped,
        Err(why) => Standing::Failed(sentence(&why.to_string())),
    };
    task.end(standing);
}

/// What the stand-alone page may do here: show what it holds, and nothing else.
const POLICY: &str =
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'";

/// The report to be read in the browser.
async fn shown(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let job = found(&app, &id).await?.id;
    let path = path(&app, job, "html");
    let text = off_thread(move || std::fs::read(path)).await?.map_err(|_| not_made())?;
    Ok(([(CONTENT_SECURITY_POLICY, POLICY), (CONTENT_TYPE, "text/html; charset=utf-8")], text).into_response())
}

fn not_made() -> PageError {
    PageError::missing("The report of this job was not made yet: make it on its page.")
}

/// Makes the report of a job on this thread.
///
/// # Errors
///
/// When the notebook or the folder of reports cannot be used.
pub fn make_now(app: &App, id: JobId) -> Result<(), PageError> {
    let task = app.tasks().start("Making the example's report", about(id));
    run(app, id, task);
    match app.tasks().about(&about(id)).map(|task| task.standing) {
        Some(Standing::Failed(why)) => Err(PageError::broken("The example's report could not be made.", why)),
        _ => Ok(()),
    }
}

fn write(app: &App, id: JobId, task: &Task) -> Result<(), ReportTrouble> {
    let scans = app.scans_folder();
    let mut material = app.with_notebook(|book| read(book, id, &scans))?;
    let _turn = app.turn();
    material.foresee();
    let heard = |share: f64| {
        task.reached(share);
        !task.must_stop()
    };
    let Files { pdf, html, csv, json } = files(&material, crate::card::today(), &heard)?;
    let written = |cause: std::io::Error| ReportTrouble::Written(cause.to_string());
    std::fs::create_dir_all(app.reports_folder()).map_err(written)?;
    for (ending, bytes) in [("pdf", pdf), ("html", html.into_bytes()), ("csv", csv), ("json", json.into_bytes())] {
        replace(&path(app, id, ending), &bytes).map_err(written)?;
    }
    Ok(())
}

/// What has the name is whole, also when the program is killed.
fn replace(path: &FilePath, bytes: &[u8]) -> std::io::Result<()> {
    let part = path.with_extension("part");
    std::fs::write(&part, bytes)?;
    std::fs::rename(&part, path)
}

async fn file(State(app): State<App>, Path((id, ending)): Path<(String, String)>) -> Result<Response, PageError> {
    let job = found(&app, &id).await?.id;
    let stem = file_stem(job);
    if ending == "zip" {
        let all = KINDS.map(|(ending, ..)| (format!("{stem}.{ending}"), path(&app, job, ending)));
        let zipped = off_thread(move || {
            let members = all.into_iter().filter_map(|(name, path)| Some((name, std::fs::read(path).ok()?)));
            archive::zip(&members.collect::<Vec<_>>())
        });
        let bytes = zipped.await?.map_err(|why| PageError::broken("The files could not be put together.", why))?;
        return Ok(download(&format!("{stem}.zip"), "application/zip", bytes));
    }
    let kind = KINDS.iter().find(|(known, ..)| *known == ending);
    let (ending, media, _) = kind.ok_or_else(|| PageError::missing(format!("A report has no file “{ending}”.")))?;
    let path = path(&app, job, ending);
    let bytes = off_thread(move || std::fs::read(path)).await?;
    let bytes = bytes.map_err(|_| not_made())?;
    Ok(download(&format!("{stem}.{ending}"), media, bytes).into_response())
}
