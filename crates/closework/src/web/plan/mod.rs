//! Set-ups for a job: what its pictures need, and the set-ups that nothing else beats.

mod predicted;

use axum::Router;
use axum::extract::{Path, RawQuery, State};
use axum::routing::get;
use kit::{AskedLimits, Demand, Kind, Kit, Limits};
use maud::{Markup, html};
use notebook::{Job, Notebook};

use super::error::{PageResult, sentence};
use super::form::{Field, Filled};
use super::jobs::found;
use super::kit_book::{body_name, read_kit, set_up_name};
use super::layout::{Place, Sheet};
use super::manners::{Manners, Units};
use super::reach::{link_to, set_to};
use super::{App, PageError, fmt};
use crate::bench::Chain;
use crate::planner::{Likely, Plan, PlanError, Planned, RuledOut, Wishes, plan};
use planning::Feasible;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/jobs/{id}/plan", get(page))
}

#[derive(Clone)]
struct Asked {
    kit: Kit,
    job: Job,
    filled: Filled,
    /// What comes after the lens, by the finest of the job's scans.
    chain: Chain,
    /// Whether the job has scans that say so.
    of_scans: bool,
}

impl Asked {
    fn demand(&self) -> Demand {
        let usual = Limits::default();
        let number = |name: &str| self.filled.text(name).parse().ok();
        let asked = AskedLimits {
            tubes: number("tubes"),
            bellows: number("bellows"),
            close_ups: number("close_ups"),
            converters: number("converters"),
            lenses: number("lenses"),
        };
        let body = Some(self.filled.text("body").to_owned()).filter(|body| !body.is_empty());
        Demand { body, limits: usual.asked(asked), ..Demand::default() }
    }
}

fn read(book: &Notebook, job: Job, query: Option<&str>) -> Result<Asked, PageError> {
    let mut filled = Filled::from_query(query);
    filled.default_to("body", job.body.clone().unwrap_or_default());
    let pitches = book.scans_of_job(job.id)?.into_iter().filter_map(|scan| scan.pitch_um);
    let finest = pitches.reduce(f64::min);
    let chain = finest.map_or(Chain::USUAL, |pitch_um| Chain { pitch_um });
    Ok(Asked { kit: read_kit(book)?, job, filled, chain, of_scans: finest.is_some() })
}

async fn page(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    RawQuery(query): RawQuery,
) -> PageResult {
    let job = found(&app, &id).await?;
    let asked = app.notebook(move |book| read(book, job, query.as_deref())).await?;
    // A large drawer takes a while: away from the threads that answer.
    let (asked, outcome, predicted) = {
        let app = app.clone();
        super::off_thread(move || {
            let outcome = plan(&asked.kit, &asked.demand(), &Wishes::of(&asked.job.draft));
            let predicted = outcome.as_ref().map(|plan| predicted::look(&app, &asked, plan)).unwrap_or_default();
            (asked, outcome, predicted)
        })
        .await?
    };
    let body = html! {
        (question(&asked))
        @match &outcome {
            Ok(plan) => { (need(&asked, plan, manners.units)) (choices(&app, &asked, plan, &predicted, manners.units)) (ruled_out(&asked, plan)) },
            Err(error) => (refusal(&asked.job, error)),
        }
    };
    let title = format!("Set-ups for “{}”", asked.job.title);
    let lead =
        "What the pictures need, and the set-ups that nothing else beats: each gives something up for something else.";
    Ok(Sheet::new(&title, Place::Jobs).lead(lead).wide().script("/assets/reach.js").show(body))
}

fn refusal(job: &Job, error: &PlanError) -> Markup {
    html! {
        div.refusal role="alert" {
            p.what { (sentence(&error.to_string())) }
            @match error {
                PlanError::Brief(_) => p { a href=(format!("/jobs/{}/edit", job.id)) { "Change the job" } },
                PlanError::NoBody | PlanError::Setup(_) => p { a href="/kit" { "To the kit" } },
            }
        }
    }
}

fn question(asked: &Asked) -> Markup {
    let bodies = asked.kit.of_kind(Kind::Body).map(|body| (body.id(), body.name()));
    let bodies = std::iter::once(("", "every body")).chain(bodies);
    let count = |from: usize, most: usize| (from..=most).map(|n| (n.to_string(), n.to_string()));
    let mut filled = asked.filled.clone();
    let usual = Limits::default();
    let defaults = [
        ("tubes", usual.tubes),
        ("bellows", usual.bellows),
        ("close_ups", usual.close_ups),
        ("converters", usual.converters),
        ("lenses", usual.lenses),
    ];
    for (name, value) in defaults {
        filled.default_to(name, value.to_string());
    }
    html! {
        details {
            summary { "On which body, and how large a stack" }
            form method="get" action=(format!("/jobs/{}/plan", asked.job.id)) {
                div.fields {
                    (Field::choice("body", "On", bodies).show(&filled))
                    (Field::choice("tubes", "Tubes at most", count(0, 5)).show(&filled))
                    (Field::choice("bellows", "Bellows at most", count(0, 2)).show(&filled))
                    (Field::choice("close_ups", "Close-up lenses at most", count(0, 3)).show(&filled))
                    (Field::choice("converters", "Converters at most", count(0, 1)).show(&filled))
                    (Field::choice("lenses", "Lenses at most", count(1, 2)).show(&filled))
                }
                div.actions { button { "Plan again" } }
            }
        }
    }
}

fn need(asked: &Asked, plan: &Plan, units: Units) -> Markup {
    let (job, need) = (&asked.job, &plan.need);
    let film = need.on_film();
    html! {
        section aria-labelledby="need" {
            h2 id="need" { "What the pictures need" }
            dl.facts {
                dt { "size on film" }
                dd { strong { (fmt::ratio(need.magnification)) } " (" (fmt::figure(need.magnification, 3)) "×): " (fmt::stated_length(job.subject_mm, units)) " fill " (fmt::percent(job.fill)) " of the frame’s shorter side" }
                dt { "detail on film" }
                dd { strong { (fmt::figure(need.on_film_lp_mm, 3)) " lp/mm" } ", for " (job.criterion_lp_mm) " lp/mm on paper, enlarged " (fmt::figure(need.enlargement, 3)) " times" }
                dt { "counts as sharp" } dd { "discs up to " (fmt::figure(need.circle_mm * 1000.0, 3)) " µm on film" }
                dt { "not closed beyond" } dd { "effective f/" (fmt::figure(film.diffraction_limit(), 2)) ", where diffraction takes the detail" }
                @if let (Some(depth), Some(limit)) = (need.depth_mm, film.depth_limit()) {
                    dt { "not opened beyond" } dd { "effective f/" (fmt::figure(limit, 2)) ", for " (fmt::stated_length(depth, units)) " of depth in one exposure" }
                }
                @if let Some(balance) = film.balance() {
                    dt { "both balance" } dd { "at effective f/" (fmt::figure(balance.effective_f_number, 2)) ", with discs of " (fmt::figure(balance.blur_mm * 1000.0, 2)) " µm on film at the ends of the depth, both together" }
                }
            }
            p { strong { (aperture(film.feasible(None), units)) } }
        }
    }
}

/// Whether one exposure does, and with how many focus steps where it does not.
fn aperture(feasible: Feasible, units: Units) -> String {
    match feasible {
        Feasible::OneExposure { from: Some(from), to, .. } => {
            format!(
                "One exposure holds the detail in the plane of focus and the depth at its ends, each counted by itself, from effective f/{} to f/{}.",
                fmt::figure(from, 2),
                fmt::figure(to, 2)
            )
        }
        Feasible::OneExposure { from: None, to, .. } => {
            format!("One exposure holds the detail up to effective f/{}.", fmt::figure(to, 2))
        }
        Feasible::Steps(steps) => format!(
            "No stop holds depth and detail together: {} exposures at effective f/{} do, each {} nearer than the one before.",
            steps.count,
            fmt::figure(steps.effective_f_number, 2),
            fmt::figure_length(steps.step_mm, units)
        ),
        Feasible::TooDim { widest, limit } => format!(
            "Diffraction takes the detail even wide open: f/{} is the widest, and f/{} is needed.",
            fmt::figure(widest, 2),
            fmt::figure(limit, 2)
        ),
    }
}

fn choices(app: &App, asked: &Asked, plan: &Plan, predicted: &predicted::State, units: Units) -> Markup {
    if plan.front.is_empty() {
        return html! {
            section aria-labelledby="front" {
                h2 id="front" { "No set-up serves" }
                p { "Nothing in the kit meets every wish of this job. What comes nearest is below; a wish can be eased in "
                    a href=(format!("/jobs/{}/edit", asked.job.id)) { "the job" } ", and " a href=(format!("/reach?job={}", asked.job.id)) { "Reach" } " names what one more part would open." }
            }
        };
    }
    html! {
        section aria-labelledby="front" {
            h2 id="front" { "Worth choosing between: " (plan.front.len()) " of " (plan.serving) }
            p.soft { "Every other set-up that serves is beaten by one of these in light, room, glass, depth, enlargement and close range alike. Sort by what matters; none is best in all." @if plan.alike > 0 { " " (plan.alike) " more are much like one of these and are left out." } }
            (predicted.said(app, asked))
            div.scroll tabindex="0" role="region" aria-labelledby="front" {
                table.sortable.stacked {
                    thead { tr {
                        th scope="col" { "Set-up" }
                        th.n scope="col" { "Light lost, stops" }
                        th.n scope="col" { "Room in front, mm" }
                        th.n scope="col" { "Lenses added" }
                        th.n scope="col" { "Depth in one exposure, mm" }
                        th.n scope="col" { "Past the lens’s close range" }
                        th.n scope="col" { "Enlarged" }
                        @if predicted.any() {
                            th.n scope="col" { "Predicted detail, lp/mm" }
                            th.n scope="col" { "Predicted colour, µm" }
                        }
                        th scope="col" { "Aperture" }
                        th scope="col" { "Set to" }
                    } }
                    tbody {
                        @for (at, planned) in plan.front.iter().enumerate() { (row(asked, planned, predicted.of(at).map(|likely| (likely, false)), predicted.any(), units)) }
                        @for (planned, likely) in predicted.added() { (row(asked, planned, Some((likely, true)), true, units)) }
                    }
                }
            }
        }
    }
}

/// `likely`: what is predicted, and whether the set-up is here for that alone.
fn row(asked: &Asked, planned: &Planned, likely: Option<(&Likely, bool)>, columns: bool, units: Units) -> Markup {
    let (choice, setup) = (&planned.choice, &planned.setup);
    let candidate = &choice.candidate;
    let number =
        |label: &str, value: f64, words: String| html! { td.n data-label=(label) data-value=(value) { (words) } };
    let crop = choice.negative.cut_away;
    html! {
        tr {
            th scope="row" {
                a href=(link_to(setup, Some(&asked.job))) { (set_up_name(&asked.kit, &setup.parts)) }
                @if let Some(body) = body_name(&asked.kit, &setup.parts) { span.soft { " on " (body) } }
                @if crop > 0.005 { " " span.tag { "cropped by " (fmt::percent(crop)) } }
                @if likely.is_some_and(|(_, alone)| alone) { " " span.tag { "for what is predicted" } }
                @for obstacle in &setup.obstacles { p.small.soft { (sentence(&obstacle.to_string())) } }
                @if let Some(other) = setup.alternatives.first() { p.small.soft { "The same with " (set_up_name(&asked.kit, other)) @if setup.ways > 2 { ", and " (setup.ways - 2) " more" } "." } }
            }
            (number("light lost, stops", candidate.stops_lost, fmt::figure(candidate.stops_lost, 2)))
            (number("room in front, mm", candidate.working_distance_mm.unwrap_or(f64::MAX), candidate.working_distance_mm.map_or("∞".into(), |mm| fmt::figure(mm, 3))))
            (number("lenses added", candidate.glass_added as f64, candidate.glass_added.to_string()))
            (number("depth in one exposure, mm", choice.depth_mm, fmt::figure(choice.depth_mm, 2)))
            (number("past the lens’s close range", candidate.past_close_range, past(candidate.past_close_range)))
            (number("enlarged", choice.negative.enlargement, format!("{}×", fmt::figure(choice.negative.enlargement, 3))))
            @if columns { (predicted::cells(likely.map(|(likely, _)| likely))) }
            td data-label="aperture" { (engraved(planned, units)) }
            td data-label="set to" { @if let Some(s) = &setup.setting { (set_to(&asked.kit, &s.parts, &s.focus.to_string())) } }
        }
    }
}

fn past(times: f64) -> String {
    if times <= 1.0 { "within".into() } else { format!("{}×", fmt::figure(times, 2)) }
}

/// What to set on the ring.
fn engraved(planned: &Planned, units: Units) -> String {
    let ring = |effective: f64| format!("f/{}", fmt::figure(planned.choice.candidate.engraved(effective), 2));
    match planned.choice.feasible {
        Feasible::OneExposure { from: Some(from), to, best } => {
            let best = best.map_or(String::new(), |best| format!(", best at {}", ring(best)));
            format!("{} to {}{best}", ring(from), ring(to))
        }
        Feasible::OneExposure { from: None, to, .. } => format!("up to {}", ring(to)),
        Feasible::Steps(steps) => format!(
            "{}, {} exposures {} apart",
            ring(steps.effective_f_number),
            steps.count,
            fmt::figure_length(steps.step_mm, units)
        ),
        Feasible::TooDim { .. } => "too dim for the detail".into(),
    }
}

fn ruled_out(asked: &Asked, plan: &Plan) -> Markup {
    html! {
        @if !plan.ruled_out.is_empty() {
            section aria-labelledby="out" {
                h2 id="out" { "Ruled out" }
                ul.misses { @for out in &plan.ruled_out { li { (out_words(asked, out)) } } }
            }
        }
    }
}

fn out_words(asked: &Asked, out: &RuledOut) -> Markup {
    html! {
        (out.count) " " (out.reason.words())
        @match &out.nearest {
            None => ".",
            Some((setup, unmet)) => {
                ". Nearest, " a href=(link_to(setup, Some(&asked.job))) { (set_up_name(&asked.kit, &setup.parts)) } ": " (unmet) "."
            },
        }
    }
}
