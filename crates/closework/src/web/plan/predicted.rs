//! What tracing predicts of a plan's set-ups: looked up where it was traced before, traced in the background where not, so that the plan
//! itself is there at once.

use maud::{Markup, html};

use super::Asked;
use crate::bench::{self, Trace};
use crate::planner::{Likelies, Likely, OUT_TO, Plan, Planned, likely};
use crate::web::App;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::tasks::Standing;

/// Where the predictions of a page stand.
#[derive(Default)]
pub(super) enum State {
    /// There is nothing to predict.
    #[default]
    Nothing,
    /// Here they are, with the detail that the job wants, lp/mm on the subject at a share of contrast.
    There(Likelies, [f64; 2]),
    /// They are being traced by the task of this name.
    Tracing(String),
    /// The person stopped it.
    Stopped,
}

/// Looks them up; what is missing is traced in the background, and the page comes again when it is there.
pub(super) fn look(app: &App, asked: &Asked, plan: &Plan) -> State {
    if plan.front.is_empty() {
        return State::Nothing;
    }
    let known = likely(&asked.kit, plan, asked.chain, &|setup, asked| bench::predicted_already(setup, asked));
    if let Some(found) = known {
        return State::There(found, [plan.need.on_subject_lp_mm, plan.need.brief().contrast]);
    }
    let about = format!("plan-predicted/{}", asked.job.id);
    match app.tasks().about(&about).map(|task| task.standing) {
        Some(Standing::Running) => {}
        Some(Standing::Stopped | Standing::Failed(_)) if asked.filled.text("trace") != "again" => {
            return State::Stopped;
        }
        _ => begin(app, asked, plan, &about),
    }
    State::Tracing(about)
}

fn begin(app: &App, asked: &Asked, plan: &Plan, about: &str) {
    let task = app.tasks().start("Tracing what these set-ups are likely to do", about);
    let (app, asked, plan) = (app.clone(), asked.clone(), plan.clone());
    std::thread::spawn(move || {
        let _turn = app.turn();
        let all = (plan.front.len() + plan.near.len()) as f64;
        let done = std::cell::Cell::new(0.0);
        let trace: Trace<'_> = &|setup, asked| {
            done.set(done.get() + 1.0);
            task.reached(done.get() / all);
            if task.must_stop() { None } else { Some(bench::predicted(setup, asked)) }
        };
        let found = likely(&asked.kit, &plan, asked.chain, trace).is_some();
        task.end(if found { Standing::Done } else { Standing::Stopped });
    });
}

impl State {
    /// Whether there are columns for them.
    pub fn any(&self) -> bool {
        matches!(self, Self::There(likelies, _) if likelies.any())
    }

    /// Of the plan's front by its place.
    pub fn of(&self, at: usize) -> Option<&Likely> {
        match self {
            Self::There(likelies, _) => likelies.front.get(at)?.as_ref().ok(),
            _ => None,
        }
    }

    /// Set-ups that are here for what is predicted of them alone.
    pub fn added(&self) -> &[(Planned, Likely)] {
        match self {
            Self::There(likelies, _) => &likelies.added,
            _ => &[],
        }
    }

    /// What the two columns are, or where they stand.
    pub fn said(&self, app: &App, asked: &Asked) -> Markup {
        match self {
            Self::Nothing => html! {},
            Self::Tracing(about) => html! {
                p.soft { "Rays are being traced through the design forms that stand for these lenses: what detail and colour they predict comes into the table when they are through." }
                @if let Some(task) = app.tasks().about(about) { (task.bar()) }
            },
            Self::Stopped => {
                html! { p.soft { "The tracing of predictions was stopped. " a href="?trace=again" { "Trace again" } "." } }
            }
            Self::There(likelies, _) if !likelies.any() => html! {
                @if let Some(why) = likelies.why_not() { p.soft.small { "Detail and colour are not predicted. " (sentence(why)) } }
            },
            Self::There(likelies, [wanted, contrast]) => html! {
                p.note {
                    "Detail and colour are " strong { "predicted, not measured" } ": " (likelies.label()) ". On the subject, at the stop given, at the weakest place out to " (fmt::percent(OUT_TO)) " of the way to the corner, film and scanner counted; the job wants " (fmt::figure(*wanted, 3)) " lp/mm with " (fmt::percent(*contrast)) " of the contrast left. Intervals are those of 95 %: how far forms like it scatter, focusing, film and scanner. " (asked.chain.words(asked.of_scans.then_some("the finest of this job’s scans"))) " A dash stands where nothing can be traced, a converter say, or a form’s colours are not printed."
                    @if !likelies.added.is_empty() { " Where a set-up is beaten in all else and surely better in this, it is listed last." }
                }
            },
        }
    }
}

/// The two cells of a row.
pub(super) fn cells(likely: Option<&Likely>) -> Markup {
    let cell = |label: &str, found: Option<&bench::Foretold>, f_number: f64, worst: f64| {
        html! {
            td.n data-label=(label) data-value=(found.map_or(worst, |found| found.value)) {
                @match found {
                    Some(found) => { (fmt::likely(found.value, found.plus_minus(), "")) span.soft.small { " at f/" (fmt::figure(f_number, 2)) } },
                    None => span.soft { "–" },
                }
            }
        }
    };
    let f_number = likely.map_or(f64::NAN, |likely| likely.f_number);
    html! {
        (cell("predicted detail, lp/mm", likely.and_then(|likely| likely.detail.as_ref()), f_number, 0.0))
        (cell("predicted colour, µm", likely.and_then(|likely| likely.fringing_um.as_ref()), f_number, 1e9))
    }
}
