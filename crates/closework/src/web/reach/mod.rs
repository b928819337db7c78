//! What the kit reaches: every set-up as a bar over magnification, and as a table.

mod table;

pub(super) use table::set_to;

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::routing::get;
use kit::{AskedLimits, Demand, Kind, Kit, Limits, Reach, ReachedSetup};
use maud::{Markup, html};
use notebook::{Job, JobId, Notebook};
use optics::Figure;

use super::error::{PageResult, sentence};
use super::form::{Field, Filled, parse_magnification};
use super::jobs::need_for;
use super::kit_book::{body_name, read_kit, set_up_name, short_name};
use super::layout::{Place, Sheet};
use super::plot::{Axis, BarChart, BarRow};
use super::{App, PageError, fmt};

/// More bars than this help nobody choose; the table below lists more.
const BARS: usize = 40;
/// The table's length.
const ROWS: usize = 100;
/// The axis, from 1:20 to 5:1, wide enough for what stacks of parts reach.
const AXIS: (f64, f64) = (0.05, 5.0);

pub(super) fn routes() -> Router<App> {
    Router::new().route("/reach", get(page))
}

/// What is asked of the kit.
struct Asked {
    kit: Kit,
    jobs: Vec<Job>,
    job: Option<Job>,
    filled: Filled,
    magnification: Option<f64>,
}

impl Asked {
    fn read(book: &Notebook, query: Option<&str>) -> Result<Self, PageError> {
        let mut filled = Filled::from_query(query);
        let (kit, jobs) = (read_kit(book)?, book.jobs()?);
        let chosen: Option<JobId> = filled.text("job").parse().ok();
        let job = jobs.iter().find(|job| Some(job.id) == chosen).cloned();
        if let Some(job) = &job {
            filled.default_to("body", job.body.clone().unwrap_or_default());
        }
        let typed = wanted(&mut filled);
        let magnification = typed.or_else(|| Some(need_for(job.as_ref()?, &kit)?.magnification()));
        Ok(Self { kit, jobs, job, filled, magnification })
    }

    /// What is asked, in the engine's terms.
    fn demand(&self) -> Demand {
        let body = Some(self.filled.text("body")).filter(|body| !body.is_empty()).map(str::to_owned);
        let usual = Limits::default();
        let number = |name: &str, usual: usize| self.filled.text(name).parse().unwrap_or(usual);
        let asked = AskedLimits {
            tubes: Some(number("tubes", usual.tubes)),
            bellows: Some(number("bellows", usual.bellows)),
            close_ups: Some(number("close_ups", usual.close_ups)),
            converters: Some(number("converters", usual.converters)),
            lenses: Some(number("lenses", usual.lenses)),
        };
        Demand { body, magnification: self.magnification, limits: usual.asked(asked), most: ROWS }
    }
}

fn wanted(filled: &mut Filled) -> Option<f64> {
    let typed = filled.text("magnification").to_owned();
    let found = parse_magnification(&typed);
    if found.is_none() && !typed.is_empty() {
        filled.wrong("magnification", format!("“{typed}” is no magnification. Write it like 0.5 or 1:2."));
    }
    found
}

async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let asked = app.notebook(move |book| Asked::read(book, query.as_deref())).await?;
    // A large drawer takes a while: away from the threads that answer.
    let (asked, outcome) = super::off_thread(move || {
        let outcome = kit::reach(&asked.kit, &asked.demand());
        (asked, outcome)
    })
    .await?;
    let result = match outcome {
        Ok(reach) => answer(&asked, &reach),
        Err(error) => html! { div.refusal role="alert" { p.what { (sentence(&error.to_string())) } } },
    };
    let body = html! { (question(&asked)) (result) };
    let lead = "Every set-up that mounts and threads allow, and how large it shows the subject on film.";
    Ok(Sheet::new("Reach", Place::Reach).lead(lead).wide().script("/assets/reach.js").show(body))
}

fn question(asked: &Asked) -> Markup {
    let bodies = asked.kit.of_kind(Kind::Body).map(|body| (body.id(), body.name()));
    let bodies = std::iter::once(("", "every body")).chain(bodies);
    let jobs = std::iter::once((String::new(), "none in particular".to_owned()))
        .chain(asked.jobs.iter().map(|job| (job.id.to_string(), job.title.clone())));
    let count = |most: usize| (0..=most).map(|n| (n.to_string(), n.to_string()));
    let mut filled = asked.filled.clone();
    let usual = Limits::default();
    filled.default_to("tubes", usual.tubes.to_string());
    filled.default_to("bellows", usual.bellows.to_string());
    filled.default_to("close_ups", usual.close_ups.to_string());
    filled.default_to("converters", usual.converters.to_string());
    filled.default_to("lenses", usual.lenses.to_string());
    html! {
        form method="get" action="/reach" {
            (filled.summary_of("Please look at:"))
            div.fields {
                @if !asked.jobs.is_empty() { (Field::choice("job", "For the job", jobs).show(&filled)) }
                (Field::text("magnification", "Wanted size on film").hint("0.5 or 1:2. Left blank, the job's, or every set-up.").show(&filled))
                (Field::choice("body", "On", bodies).show(&filled))
                (Field::choice("tubes", "Tubes at most", count(5)).show(&filled))
                (Field::choice("bellows", "Bellows at most", count(2)).show(&filled))
                (Field::choice("close_ups", "Close-up lenses at most", count(3)).show(&filled))
                (Field::choice("converters", "Converters at most", count(1)).show(&filled))
                (Field::choice("lenses", "Lenses at most", (1..=2).map(|n| (n.to_string(), n.to_string()))).show(&filled))
            }
            div.actions { button.main { "Show what it reaches" } }
        }
    }
}

fn answer(asked: &Asked, reach: &Reach) -> Markup {
    if asked.filled.has_errors() {
        return html! {};
    }
    html! {
        p aria-live="polite" { (headline(asked, reach)) }
        @if asked.kit.parts().is_empty() {
            div.note { p { "The drawer is empty. " a href="/kit" { "Put a body and a lens in it" } " to see what they reach." } }
        }
        @if !reach.setups.is_empty() {
            (bars(asked, reach).show())
            (table::of(&asked.kit, asked.job.as_ref(), reach, asked.magnification.is_some()))
        }
        @if !reach.misses.is_empty() { (misses(asked, reach)) }
        @if !reach.missing.is_empty() { (missing(asked, reach)) }
        @for cut in &reach.cut { p.soft { (sentence(cut)) } }
        @if !reach.left_out.is_empty() {
            details { summary { (reach.left_out.len()) @if reach.left_out.len() == 1 { " part was" } @else { " parts were" } " left out" } ul { @for note in &reach.left_out { li { (sentence(note)) } } } }
        }
    }
}

fn headline(asked: &Asked, reach: &Reach) -> String {
    let count = reach.total;
    let set_ups = if count == 1 { "set-up" } else { "set-ups" };
    match asked.magnification {
        None => format!("{count} {set_ups}."),
        Some(m) if count == 0 => format!("No set-up of this kit reaches {} ({}×).", fmt::ratio(m), fmt::figure(m, 3)),
        Some(m) => format!(
            "{count} {set_ups} can be set to {} ({}×), those with the least in front of the lens and the least light lost first.",
            fmt::ratio(m),
            fmt::figure(m, 3)
        ),
    }
}

/// The link to a set-up, set for the wanted magnification where one is asked for.
pub(super) fn link_to(setup: &ReachedSetup, job: Option<&Job>) -> String {
    let (parts, focus) = match &setup.setting {
        Some(setting) => {
            (setting.parts.iter().map(|word| to_the_tenth(word)).collect(), to_the_tenth(&setting.focus.to_string()))
        }
        None => (setup.parts.clone(), "infinity".to_owned()),
    };
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.append_pair("parts", &parts.join(",")).append_pair("focus", &focus);
    if let Some(job) = job {
        query.append_pair("job", &job.id.to_string());
    }
    format!("/set-up?{}", query.finish())
}

/// "bellows=140.79999" as "bellows=140.8": nobody sets a scale finer.
fn to_the_tenth(word: &str) -> String {
    let number = word.split_once('=').and_then(|(name, number)| Some((name, number.parse::<f64>().ok()?)));
    number.map_or_else(|| word.to_owned(), |(name, number)| format!("{name}={}", (number * 10.0).round() / 10.0))
}

/// With several bodies in the list each row says which it is on. Short names: a bar has no room for more.
fn row_name(asked: &Asked, parts: &[String]) -> String {
    let one = !asked.filled.text("body").is_empty() || asked.kit.of_kind(Kind::Body).nth(1).is_none();
    let name = short_name(parts);
    if one { name } else { format!("{name} on {}", parts[0]) }
}

fn bars(asked: &Asked, reach: &Reach) -> BarChart {
    let shown = reach.setups.iter().take(BARS);
    // Where a size is wanted the light lost there counts, else the most that the set-up loses. The darkest bar is five
    // stops: beyond that nobody focuses on a ground glass.
    let there = |setup: &ReachedSetup| setup.setting.as_ref().and_then(|s| s.figures.get(Figure::ExposureStops));
    let stops = |setup: &ReachedSetup| there(setup).unwrap_or(setup.stops.max);
    let note = |setup: &ReachedSetup| match there(setup) {
        Some(stops) => format!("{} stops there", fmt::figure(stops, 2)),
        None => format!("up to {} stops", fmt::figure(setup.stops.max, 2)),
    };
    let rows = shown.map(|setup| BarRow {
        label: row_name(asked, &setup.parts),
        href: Some(link_to(setup, asked.job.as_ref())),
        range: (setup.magnification.min, setup.magnification.max),
        point: None,
        shade: (stops(setup) / 5.0).clamp(0.0, 1.0),
        note: note(setup),
    });
    BarChart {
        id: "reach".into(),
        title: if reach.total > BARS as u64 { format!("Size on film of the first {BARS} set-ups, parts by their short names") } else { "Size on film, parts by their short names".into() },
        description: "Each bar spans the magnifications that one set-up can be focused to; the darker it is, the more light it loses.".into(),
        axis: Axis::log("Size on film over size of the subject", "").range(AXIS.0, AXIS.1).labels(fmt::ratio),
        rows: rows.collect(),
        wanted: asked.magnification.map(|m| (m, format!("wanted {}", fmt::ratio(m)))),
    }
}

/// One ring more, and what it would open.
fn missing(asked: &Asked, reach: &Reach) -> Markup {
    html! {
        section aria-labelledby="missing" {
            h2 id="missing" { "One ring more would join" }
            ul.misses { @for missing in &reach.missing { li {
                (set_up_name(&asked.kit, &missing.parts)) ": with " (missing.ring) " it reaches "
                (fmt::ratio(missing.magnification.min)) " to " (fmt::ratio(missing.magnification.max))
                @if let Some(remark) = missing.remark { "; " (remark) } "."
            } } }
        }
    }
}

fn misses(asked: &Asked, reach: &Reach) -> Markup {
    html! {
        section aria-labelledby="misses" {
            h2 id="misses" { "Nearest misses" }
            ul.misses { @for miss in &reach.misses { li { a href=(format!("/set-up?parts={}", miss.parts.join(","))) { (set_up_name(&asked.kit, &miss.parts)) } @if let Some(body) = body_name(&asked.kit, &miss.parts) { " on " (body) } ": " (miss.why) "." } } }
        }
    }
}
