//! The trials of a job, and the form that begins one.

use axum::extract::{Path, State};
use axum::response::Html;
use maud::{Markup, html};
use notebook::{Job, Notebook, Scan, ScanState, Trial};

use super::{MARKED, document};
use crate::pieces::PLACES;
use crate::trial::MOST;
use crate::web::error::{PageError, PageResult};
use crate::web::form::{Field, Filled};
use crate::web::jobs::found;
use crate::web::layout::{Place, Sheet};
use crate::web::scans::{subject_scale, thumbnail};
use crate::web::{App, fmt};

/// A scan that may be chosen, with pixels per mm of the subject where they are known.
pub(super) struct Offered {
    pub scan: Scan,
    pub px_per_mm: Option<(f64, Option<f64>)>,
}

/// The page's contents.
pub(super) struct Whole {
    pub job: Job,
    pub scans: Vec<Offered>,
    /// Each with its picks.
    pub trials: Vec<(Trial, usize)>,
}

pub(super) fn read(book: &Notebook, job: Job) -> Result<Whole, PageError> {
    let ready = book.scans_of_job(job.id)?.into_iter().filter(|scan| scan.state == ScanState::Ready);
    let offered = |scan: Scan| {
        let px_per_mm = subject_scale(&scan, &book.measurements(scan.id)?);
        Ok::<_, PageError>(Offered { scan, px_per_mm })
    };
    let scans = ready.map(offered).collect::<Result<_, _>>()?;
    let trials = book.trials_of_job(job.id)?.into_iter().map(|trial| Ok((book.picks(trial.id)?.len(), trial)));
    let trials: Vec<Result<_, PageError>> = trials.collect();
    let trials = trials.into_iter().map(|both| both.map(|(picks, trial)| (trial, picks))).collect::<Result<_, _>>()?;
    Ok(Whole { job, scans, trials })
}

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let job = found(&app, &id).await?;
    let whole = app.notebook(move |book: &mut Notebook| read(book, job)).await?;
    let mut filled: Filled =
        [("question", "Which shows the subject better?"), ("one_tone", "on")].into_iter().collect();
    // All that can be in it are in it, until the person says otherwise.
    let able = whole.scans.iter().filter(|offered| offered.px_per_mm.is_some()).take(MOST);
    filled = able.fold(filled, |filled, offered| filled.and("scan", offered.scan.id.to_string()));
    Ok(show(&app, &whole, &filled))
}

pub(super) fn show(app: &App, whole: &Whole, filled: &Filled) -> Html<String> {
    let body = html! {
        p { a href=(format!("/jobs/{}", whole.job.id)) { (whole.job.title) } }
        (filled.summary())
        (trials(whole))
        section aria-labelledby="begin" {
            h2 id="begin" { "Begin a trial" }
            @if whole.scans.len() < 2 {
                p { "A trial takes two scans of this job at least; there " @if whole.scans.is_empty() { "are none" } @else { "is one" } " so far. " a href="/scans" { "Load scans" } " and say which frame each shows." }
            } @else { (begin(app, whole, filled)) }
        }
    };
    Sheet::new("Blind trials", Place::Jobs)
        .lead("Two pieces side by side, names hidden: you pick the better one. Enough picks put the scans on a scale.")
        .show(body)
}

fn trials(whole: &Whole) -> Markup {
    html! {
        @if !whole.trials.is_empty() {
            section aria-labelledby="trials" {
                h2 id="trials" { "Trials so far" }
                ul.conclusions { @for (trial, picks) in &whole.trials { li {
                    a href=(format!("/trials/{}", trial.id)) { (trial.draft.title) } " "
                    span.soft { (began(trial)) ", " (fmt::count(*picks, "pick", "picks")) @if trial.ended.is_some() { ", ended" } @else { ", names hidden" } }
                } } }
            }
        }
    }
}

fn began(trial: &Trial) -> String {
    let scans = document(trial).map_or(0, |document| document.scans.len());
    format!("{}, {scans} scans", trial.created.get(..10).unwrap_or_default())
}

fn begin(app: &App, whole: &Whole, filled: &Filled) -> Markup {
    let places = PLACES.iter().map(|place| (place.word, place.name));
    let places = places.chain([(MARKED, "the same detail, which I mark in each")]);
    html! {
        form method="post" action=(format!("/jobs/{}/trials", whole.job.id)) data-keep=(format!("trial-{}", whole.job.id)) {
            fieldset id="field-scan" {
                legend { "Which scans, two to twelve" }
                @if let Some(error) = filled.error("scan") { p.error { (error) } }
                ul.scans { @for offered in &whole.scans { li { (choice(app, offered, filled)) } } }
            }
            div.fields {
                (Field::text("question", "What is asked of each pair").hint("In your own words: the hairs on the wing case, the grain of the ground, the whole.").required().show(filled))
                (Field::choice("place", "Where in the frame", places).hint("A piece is shown, the same in all.").show(filled))
                (Field::number("piece_mm", "Width of the piece on the subject").unit("mm").hint("Left empty: so that the finest scan is shown pixel for pixel.").show(filled))
                (Field::text("title", "Name of the trial").hint("For you to find it again. It is shown while you pick, so let it name no lens.").show(filled))
                (Field::tick("one_tone", "Bring all pieces to the same exposure and colour balance").hint("Otherwise the brighter one is known again. Contrast stays as it is.").show(filled))
            }
            div.actions { button.main { "Begin" } }
        }
    }
}

fn choice(app: &App, offered: &Offered, filled: &Filled) -> Markup {
    let scan = &offered.scan;
    let id = scan.id.to_string();
    html! {
        label.scan.choose {
            (thumbnail(app, scan))
            span {
                span.pick {
                    input type="checkbox" name="scan" value=(id) checked[filled.all("scan").any(|chosen| chosen == id)];
                    strong { (scan.file_name) }
                }
                span.small { @match offered.px_per_mm {
                    Some((px, _)) => { (fmt::figure(px, 3)) " pixels on a mm of the subject" },
                    None => { "its size on the subject is not known: measure a ruler in it, or enter pitch and magnification" },
                } }
            }
        }
    }
}
