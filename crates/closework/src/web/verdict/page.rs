//! The two pages: one job, and the whole drawer.

use axum::extract::{Path, RawQuery, State};
use axum::response::{Html, IntoResponse, Redirect, Response};
use kit::Kit;
use maud::{Markup, html};
use notebook::{Decision, Job, JobId, Notebook};

use super::{decisions, foreseen, parts, prices, shown, uses, wishes};
use crate::documents::VerdictDocument;
use crate::documents::verdict::VerdictSettings;
use crate::verdict::{Prepared, VerdictTrouble, prepare};
use crate::web::error::{PageResult, sentence};
use crate::web::form::Filled;
use crate::web::jobs::found;
use crate::web::kit_book::{read_kit, read_wishes};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError, off_thread};

impl From<VerdictTrouble> for PageError {
    fn from(trouble: VerdictTrouble) -> Self {
        match trouble {
            VerdictTrouble::Notebook(error) => error.into(),
            VerdictTrouble::Kit(error) => error,
            VerdictTrouble::NoSuchJob(error) => Self::missing(sentence(&error.to_string())),
            VerdictTrouble::Settings(error) => {
                Self::refused(sentence(&error.to_string()), "Choose another one in the address.")
            }
        }
    }
}

/// What a page is made of.
pub(super) struct Whole {
    pub document: VerdictDocument,
    pub prepared: Prepared,
    pub foreseen: foreseen::State,
    pub kit: Kit,
    pub wishes: Kit,
    pub jobs: Vec<Job>,
    pub decisions: Vec<Decision>,
}

fn read(book: &Notebook, job: Option<JobId>, settings: VerdictSettings) -> Result<Whole, PageError> {
    let prepared = prepare(book, job, settings)?;
    Ok(Whole {
        document: prepared.document(),
        prepared,
        foreseen: foreseen::State::NotAsked,
        kit: read_kit(book)?,
        wishes: read_wishes(book)?,
        jobs: book.jobs()?,
        decisions: job.map(|job| book.decisions(job)).transpose()?.unwrap_or_default(),
    })
}

/// How sure a verdict shall be, from the address: "sure=0.9".
fn settings(query: &Filled) -> VerdictSettings {
    let sure = query.text("sure").parse().ok().filter(|sure: &f64| *sure > 0.5 && *sure < 1.0);
    VerdictSettings { sure: sure.unwrap_or(VerdictSettings::default().sure), ..VerdictSettings::default() }
}

/// All jobs together; an address of earlier versions leads to its job.
pub(super) async fn drawer(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response, PageError> {
    let query = Filled::from_query(query.as_deref());
    if let Ok(job) = query.text("job").parse::<JobId>() {
        return Ok(Redirect::to(&format!("/jobs/{job}/verdict")).into_response());
    }
    let settings = settings(&query);
    let whole = app.notebook(move |book| read(book, None, settings)).await?;
    let whole = looked(&app, whole, "predicted".into(), &query).await?;
    Ok(drawer_page(&app, &whole, &Filled::default()).into_response())
}

/// With what tracing predicts, as far as it is known.
async fn looked(app: &App, mut whole: Whole, about: String, query: &Filled) -> Result<Whole, PageError> {
    let (app, again) = (app.clone(), query.text("trace") == "again");
    off_thread(move || {
        foreseen::look(&app, &mut whole, about, again);
        whole
    })
    .await
}

/// The page of the whole drawer, with what was typed into its table of prices.
pub(super) fn drawer_page(app: &App, whole: &Whole, prices: &Filled) -> Html<String> {
    let body = html! {
        (jobs_nav(whole, None))
        (prices.summary())
        (shown::sentences(&whole.document))
        (shown::uses(&whole.document, true))
        (parts::section(&whole.document))
        (prices::section(whole, prices))
        (wishes::section(whole))
        (foreseen::section(app, whole))
        (shown::set_ups(&whole.document))
        (shown::silent(&whole.document))
    };
    let lead = "All jobs and the whole drawer: what to keep, what could go, and what one purchase would bring.";
    Sheet::new("Verdict", Place::Verdict).lead(lead).show(body)
}

/// One job.
pub(super) async fn job(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery) -> PageResult {
    let job = found(&app, &id).await?;
    let query = Filled::from_query(query.as_deref());
    let settings = settings(&query);
    let (number, title) = (job.id, job.title.clone());
    let whole = app.notebook(move |book| read(book, Some(number), settings)).await?;
    let whole = looked(&app, whole, format!("predicted/{number}"), &query).await?;
    let body = html! {
        (jobs_nav(&whole, Some(number)))
        (shown::sentences(&whole.document))
        (shown::uses(&whole.document, false))
        (uses::more(number))
        (parts::section(&whole.document))
        (foreseen::section(&app, &whole))
        (shown::set_ups(&whole.document))
        (shown::silent(&whole.document))
        (decisions::section(number, &whole.decisions))
    };
    let lead =
        "Which of the set-ups tried is good enough for this job, how sure that is, and which frame would decide.";
    Ok(Sheet::new(&format!("Verdict on “{title}”"), Place::Verdict).lead(lead).show(body))
}

/// From one page to the others.
fn jobs_nav(whole: &Whole, here: Option<JobId>) -> Markup {
    html! {
        p.verdict-nav {
            @match here {
                Some(job) => { a href=(format!("/jobs/{job}")) { "The job" } " · " a href="/verdict" { "the whole drawer" } }
                None => "Job by job: ",
            }
            @for (at, job) in whole.jobs.iter().filter(|job| Some(job.id) != here).enumerate() {
                @if at > 0 || here.is_some() { " · " }
                a href=(format!("/jobs/{}/verdict", job.id)) { (job.title) }
            }
            @if whole.jobs.is_empty() { "there is none yet. " a href="/jobs/new" { "Begin one" } }
        }
    }
}

/// All of it for the drawer, with the usual settings.
pub(super) fn whole(book: &Notebook) -> Result<Whole, PageError> {
    read(book, None, VerdictSettings::default())
}
