//! The page of one set-up, and the part of it that sliders renew.

use axum::extract::{RawQuery, State};
use axum::response::Html;
use kit::{Kit, Report, Setup, SetupError};
use maud::{Markup, html};
use notebook::{Job, JobId, Notebook};

use super::figures::{self, refusal};
use super::picked::{Picked, pickers, sliders, written};
use super::{apertures, drawing, formats, frame_sketch};
use crate::planner::Wishes;
use crate::web::error::PageResult;
use crate::web::form::{Filled, parse_number};
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

/// What both the page and its renewed part need.
struct Asked {
    kit: Kit,
    picked: Picked,
    job: Option<Job>,
    jobs: Vec<Job>,
    query: Filled,
}

impl Asked {
    fn read(book: &Notebook, query: Option<&str>) -> Result<Self, PageError> {
        let mut query = Filled::from_query(query);
        let (kit, jobs) = (read_kit(book)?, book.jobs()?);
        let wanted: Option<JobId> = query.text("job").parse().ok();
        let job = jobs.iter().find(|job| Some(job.id) == wanted).cloned();
        let mut picked = Picked::read(&mut query, &kit);
        query.number_within("deep", LEAST_DEPTH_MM, MOST_DEPTH_MM, "mm of depth");
        if picked.parts.is_empty() {
            picked.parts = first_set_up(&kit, job.as_ref());
        }
        Ok(Self { kit, picked, job, jobs, query })
    }
}

/// Something to begin with: the job's body, or the first, with the first lens that fits it.
fn first_set_up(kit: &Kit, job: Option<&Job>) -> Vec<String> {
    let bodies = || kit.of_kind(kit::Kind::Body);
    let named = job.and_then(|job| job.body.as_deref());
    let Some(body) = bodies().find(|body| Some(body.id()) == named).or_else(|| bodies().next()) else {
        return Vec::new();
    };
    let fits = |lens: &&kit::Part| lens.words("mount") == body.words("mount");
    let lens = kit.of_kind(kit::Kind::Lens).find(fits).map(kit::Part::id);
    std::iter::once(body.id()).chain(lens).map(str::to_owned).collect()
}

/// The set-up with its figures, or why there are none.
pub fn computed<'a>(kit: &'a Kit, picked: &Picked) -> Result<(Setup<'a>, Report), SetupError> {
    let setup = Setup::resolve(kit, &picked.request())?;
    let report = setup.report()?;
    Ok((setup, report))
}

pub(super) async fn page(State(app): State<App>, manners: Manners, RawQuery(query): RawQuery) -> PageResult {
    let asked = app.notebook(move |book| Asked::read(book, query.as_deref())).await?;
    let sheet = Sheet::new("Set-up", Place::SetUp)
        .lead("The parts drawn to scale from the side, and what they do to size, distance, light and depth.");
    let sheet = sheet.wide().script("/assets/setup.js");
    if asked.kit.of_kind(kit::Kind::Body).next().is_none() || asked.kit.of_kind(kit::Kind::Lens).next().is_none() {
        return Ok(sheet.show(nothing_to_set_up()));
    }
    let travel =
        Setup::resolve(&asked.kit, &kit::SetupRequest { focus: kit::Focus::Infinity, ..asked.picked.request() });
    let largest = travel.ok().and_then(|setup| setup.largest_travel());
    let body = html! {
        div.set-up {
            form.picking method="get" action="/set-up" data-live="/set-up/figures" {
                details.parts open { summary { "Parts" } (pickers(&asked.kit, &asked.picked)) }
                (sliders(&asked.kit, &asked.picked, largest))
                @if !asked.jobs.is_empty() { (job_choice(&asked)) }
                (deep_field(&asked))
                (planes_choice(&asked))
                div.actions { button { "Show" } }
            }
            div #figures aria-live="off" { (result(&asked, manners)) }
        }
        (written(&asked.picked))
    };
    Ok(sheet.show(body))
}

fn nothing_to_set_up() -> Markup {
    html! {
        div.note { p { "A set-up needs a body and a lens. " a href="/kit" { "Put them in the drawer first" } "." } }
    }
}

fn job_choice(asked: &Asked) -> Markup {
    let chosen = asked.job.as_ref().map(|job| job.id);
    html! {
        div.field {
            label for="pick-job" { "For the job" }
            select id="pick-job" name="job" {
                option value="" { "none in particular" }
                @for job in &asked.jobs { option value=(job.id) selected[Some(job.id) == chosen] { (job.title) } }
            }
        }
    }
}

/// How deep the subject is that the chart over the apertures is drawn for.
fn deep_field(asked: &Asked) -> Markup {
    html! {
        div.field {
            label for="field-deep" { "Depth to hold, mm" }
            input.number id="field-deep" type="number" name="deep" min=(LEAST_DEPTH_MM) max=(MOST_DEPTH_MM) step="any" value=(deep(asked));
        }
    }
}

/// What nobody said: a small beetle.
const USUAL_DEPTH_MM: f64 = 5.0;
/// Between these a depth is drawn: thinner than film is flat, and deeper than a metre is no close-up.
const LEAST_DEPTH_MM: f64 = 0.01;
const MOST_DEPTH_MM: f64 = 1000.0;

fn deep(asked: &Asked) -> f64 {
    let typed = parse_number(asked.query.text("deep")).filter(|deep| *deep > 0.0);
    let of_job = asked.job.as_ref().and_then(|job| job.depth_wanted_mm.or(job.subject_depth_mm)).filter(|mm| *mm > 0.0);
    typed.or(of_job).unwrap_or(USUAL_DEPTH_MM)
}

fn planes_choice(asked: &Asked) -> Markup {
    html! {
        label.check { input type="checkbox" name="planes" value="1" checked[!asked.query.text("planes").is_empty()]; " Principal planes and pupils" }
    }
}

/// The part that is renewed while sliders move.
pub(super) async fn fragment(State(app): State<App>, manners: Manners, RawQuery(query): RawQuery) -> PageResult {
    let asked = app.notebook(move |book| Asked::read(book, query.as_deref())).await?;
    Ok(Html(result(&asked, manners).into_string()))
}

/// The set-up, where a job is chosen with the disc that counts as sharp in its print: the same measure that its plan goes by.
fn with_job(asked: &Asked) -> Result<(Setup<'_>, Report), SetupError> {
    let setup = Setup::resolve(&asked.kit, &asked.picked.request())?;
    let job = asked.job.as_ref().and_then(|job| Wishes::of(&job.draft).brief(setup.numbers().frame).need().ok());
    let Some(need) = job else {
        let report = setup.report()?;
        return Ok((setup, report));
    };
    let request = kit::SetupRequest { coc_mm: Some(need.circle_mm), ..asked.picked.request() };
    // A print so small that any disc would do is judged by the usual one.
    let setup = Setup::resolve(&asked.kit, &request).unwrap_or(setup);
    let report = setup.report()?;
    Ok((setup, report))
}

fn result(asked: &Asked, manners: Manners) -> Markup {
    if asked.query.has_errors() {
        return asked.query.summary_of("This could not be read:");
    }
    match with_job(asked) {
        Err(error) => refusal(&error),
        Ok((setup, report)) => html! {
            (drawing::side_view(&setup, &report, manners.units, !asked.query.text("planes").is_empty()))
            div.columns {
                (figures::table(&report, asked.job.as_ref(), &setup, manners.units))
                (frame_sketch::sketch(&report, asked.job.as_ref(), manners.units))
            }
            (apertures::chart(&setup, &report, deep(asked), manners.units))
            (formats::compared(&report, &setup, asked.job.as_ref(), manners.units))
            (figures::reservations(&asked.kit, &report))
            (figures::onwards(&asked.picked, asked.job.as_ref()))
        },
    }
}
