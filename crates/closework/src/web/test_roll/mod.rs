//! Test rolls: from a job's question to frames on the rolls at hand.

mod asked;
mod edit;
mod question;
mod save;
mod shown;

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::get;
use kit::{Demand, Kit};
use maud::html;
use notebook::{Frame, Job, Notebook, Roll};
use planning::test_roll::{Layout, RollAtHand, Slot, TestPlan};

use super::error::sentence;
use super::form::Filled;
use super::jobs::found;
use super::kit_book::read_kit;
use super::layout::{Place, Sheet};
use super::manners::{Manners, Units};
use super::{App, PageError};
use crate::planner::{Plan, PlanError, Wishes, plan};
use crate::test_roll::{Asked, Kept, Laid, LayError, OnRoll, lay};
use asked::AtHand;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/jobs/{id}/test-roll", get(page).post(save::save))
}

/// The address of a job's page.
fn address(job: &Job) -> String {
    format!("/jobs/{}/test-roll", job.id)
}

/// What the notebook holds.
struct Known {
    kit: Kit,
    job: Job,
    rolls: Vec<(Roll, Vec<Frame>)>,
}

fn known(book: &Notebook, job: Job) -> Result<Known, PageError> {
    let rolls = book.rolls(job.id)?.into_iter().map(|roll| Ok((book.frames(roll.id)?, roll)));
    let rolls = rolls.map(|both: Result<_, PageError>| both.map(|(frames, roll)| (roll, frames)));
    Ok(Known { kit: read_kit(book)?, rolls: rolls.collect::<Result<_, _>>()?, job })
}

/// Everything on the page.
struct Whole {
    known: Known,
    filled: Filled,
    /// The set-ups that nothing beats, to choose from.
    choice: Result<Plan, PlanError>,
    rolls: Vec<AtHand>,
    laid: Option<Result<Planned, LayError>>,
}

/// A test with its frames.
struct Planned {
    laid: Laid,
    seen: Vec<OnRoll>,
    /// As planned.
    plan: TestPlan,
    /// As a person left it.
    layout: Layout,
    /// Whether a person changed it.
    changed: bool,
}

impl Planned {
    fn at_hand(&self) -> Vec<RollAtHand> {
        self.seen.iter().map(|seen| seen.at_hand.clone()).collect()
    }

    fn shot(&self) -> Vec<Slot> {
        self.seen.iter().flat_map(|seen| seen.at_hand.shot.iter().copied()).collect()
    }

    /// All frames of the test, shot and planned.
    fn all(&self) -> Vec<Slot> {
        self.shot().into_iter().chain(self.layout.iter().flatten().copied()).collect()
    }
}

/// Rolls, then frames: what is asked, laid out and planned, with the frames as a person left them.
fn planned(kit: &Kit, asked: &Asked, rolls: &[AtHand], layout: Option<Layout>) -> Result<Planned, LayError> {
    let laid = lay(kit, asked)?;
    let mut seen: Vec<OnRoll> = Vec::new();
    for roll in rolls {
        let before: Vec<Slot> = seen.iter().flat_map(|seen| seen.at_hand.shot.iter().copied()).collect();
        seen.push(roll.seen(&laid, &before));
    }
    let at_hand: Vec<RollAtHand> = seen.iter().map(|seen| seen.at_hand.clone()).collect();
    let plan = laid.test.plan(&at_hand)?;
    let changed = layout.as_ref().is_some_and(|layout| *layout != plan.layout);
    Ok(Planned { seen, layout: layout.unwrap_or_else(|| plan.layout.clone()), plan, changed, laid })
}

fn whole(known: Known, mut filled: Filled) -> Whole {
    let demand = Demand { body: known.job.body.clone(), ..Demand::default() };
    let choice = plan(&known.kit, &demand, &Wishes::of(&known.job.draft));
    if !filled.ticked("asked") {
        first_visit(&mut filled, &known, choice.as_ref().ok());
    }
    let asked = asked::read(&mut filled, &known.kit, &known.job);
    let rolls = asked::rolls(&mut filled, &known.rolls);
    let layout = asked::layout(&filled, rolls.len());
    let laid = (!filled.has_errors() && !asked.set_ups.is_empty()).then(|| planned(&known.kit, &asked, &rolls, layout));
    Whole { known, filled, choice, rolls, laid }
}

/// An earlier plan of this job again, or the first set-ups on a new roll.
fn first_visit(filled: &mut Filled, known: &Known, choice: Option<&Plan>) {
    let kept = |roll: &Roll| serde_json::from_str::<Kept>(&roll.plan).ok();
    if let Some(kept) = known.rolls.iter().rev().find_map(|(roll, _)| kept(roll)) {
        let mut again = Filled::from_query(Some(&kept.query));
        again.clear("roll");
        again.set("new", "0");
        let rolls = known.rolls.iter().filter(|(roll, _)| !roll.plan.is_empty()).map(|(roll, _)| roll.id.to_string());
        let fields: Vec<(String, String)> =
            asked::question_fields(&again).into_iter().chain(rolls.map(|id| ("roll".to_owned(), id))).collect();
        *filled = fields.into_iter().collect();
        return;
    }
    let first = choice.map(|choice| question::suggested(&known.kit, choice)).unwrap_or_default();
    let ticked = first.into_iter().map(|key| ("setup", key));
    let fixed = [("asked", "1"), ("tubes", "on"), ("new", "1"), ("frames", "12")].map(|(n, v)| (n, v.to_owned()));
    *filled = ticked.chain(fixed).collect();
}

async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    RawQuery(query): RawQuery,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let known = app.notebook(move |book| known(book, job)).await?;
    let filled = Filled::from_query(query.as_deref());
    let whole = super::off_thread(move || whole(known, filled)).await?;
    if !whole.filled.text("do").is_empty() {
        return Ok(done(&whole).into_response());
    }
    Ok(show(&whole, manners.units).into_response())
}

/// Does what was asked and goes on to the page as it is then, so that going back undoes it and a reload does nothing.
fn done(whole: &Whole) -> Redirect {
    let Some(Ok(planned)) = &whole.laid else {
        return Redirect::to(&format!("{}?{}", address(&whole.known.job), asked::query(&whole.filled, None)));
    };
    let mut layout = planned.layout.clone();
    let what = whole.filled.text("do");
    let spot = edit::apply(what, &mut layout, &planned.shot(), &planned.laid.test, &whole.filled);
    let query = asked::query(&whole.filled, Some(&layout));
    let verb = what.split('.').next().unwrap_or_default();
    let now = spot.map_or(String::new(), |spot| {
        let (roll, place) = spot;
        format!("&now={verb}.{roll}.{place}#{}-{roll}-{place}", button(verb, spot, &layout))
    });
    Redirect::to(&format!("{}?{query}{now}", address(&whole.known.job)))
}

/// The button that is at hand after a press, to be pressed again: the same one, or its neighbour where that has nothing to do. The
/// address names it, so that the browser goes there with the keyboard, script or not.
fn button<'a>(verb: &'a str, (roll, place): edit::Spot, layout: &Layout) -> &'a str {
    let last = (roll + 1, place + 1) == (layout.len(), layout.last().map_or(0, Vec::len));
    match verb {
        "up" | "add" | "move" if (roll, place) == (0, 0) => "down",
        "down" if last => "up",
        "add" | "move" => "up",
        verb => verb,
    }
}

fn show(whole: &Whole, units: Units) -> Html<String> {
    let job = &whole.known.job;
    let body = html! {
        (whole.filled.summary_of("The test could not be planned. Please look at:"))
        (question::form(whole, units))
        @match &whole.laid {
            None => @if !whole.filled.has_errors() { p { "Choose the set-ups that the question is about: two at least to compare." } },
            Some(Err(error)) => {
                div.refusal role="alert" {
                    p.what { (sentence(&error.to_string())) }
                    p { "Nothing was planned. Change the choice above." }
                }
            },
            Some(Ok(planned)) => (shown::plan(whole, planned, units)),
        }
        div.actions { a href=(format!("/jobs/{}", job.id)) { "Back to the job" } }
    };
    let title = format!("Test rolls for “{}”", job.title);
    let lead = "Which of these set-ups is good enough for this job, and at which aperture? The frames that tell, on the rolls at hand.";
    Sheet::new(&title, Place::Jobs).lead(lead).wide().script("/assets/test-roll.js").show(body)
}
