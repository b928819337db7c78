//! A trial that has ended: the scale, what it cannot tell apart, and the eye against the instrument.

use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};
use notebook::{Job, Notebook};

use super::{Kept, kept};
use crate::documents::to_json;
use crate::trial::{
    Measure, Measured, OutcomeDocument, PairDocument, RangeDocument, agreement_words, enough, headline, measured,
    outcome, span, steady,
};
use crate::web::error::{PageError, PageResult, sentence};
use crate::web::form::{Field, Filled};
use crate::web::layout::{Place, Sheet};
use crate::web::plot::{Axis, BarChart, BarRow, Chart, Cross, Mark, Style};
use crate::web::{App, fmt, off_thread};

pub(super) async fn page(app: &App, kept: Kept, query: Option<&str>) -> PageResult {
    let wish = Filled::from_query(query).text("figure").to_owned();
    let read = move |book: &mut Notebook| {
        let job = book.job(kept.trial.job)?;
        let measured = measured(book, &kept.document, job.as_ref(), &wish)?;
        Ok::<_, PageError>((kept, job, measured))
    };
    let (kept, job, measured) = app.notebook(read).await?;
    off_thread(move || {
        let outcome = outcome(&kept.document, &kept.course(), Some(&measured.figures));
        show(&kept, job.as_ref(), &outcome, &measured)
    })
    .await
}

fn show(kept: &Kept, job: Option<&Job>, outcome: &OutcomeDocument, measured: &Measured) -> Html<String> {
    let base = format!("/trials/{}", kept.trial.id);
    let body = html! {
        p { a href=(format!("/jobs/{}/trials", kept.trial.job)) { "Blind trials" } @if let Some(job) = job { " of " a href=(format!("/jobs/{}", job.id)) { (job.title) } } }
        p { (asked(kept, outcome)) }
        (scale(outcome))
        @if !outcome.pairs.is_empty() { (apart(outcome)) (consistency(outcome)) (eye(kept, outcome, measured)) }
        (again(kept, &base))
    };
    Sheet::new(&kept.trial.draft.title, Place::Jobs).lead(&headline(outcome)).show(body)
}

fn asked(kept: &Kept, outcome: &OutcomeDocument) -> String {
    let document = &kept.document;
    format!(
        "Asked: “{}” Shown: {}, {} mm of the subject at one size{}. {}, of them {} “no difference”.",
        document.question,
        document.place,
        fmt::figure(document.piece_mm, 3),
        if document.one_tone { ", brought to one tone" } else { "" },
        fmt::count(outcome.picks, "pick", "picks"),
        outcome.same
    )
}

/// A strength in words that need no logarithms.
const STEPS: &str = "On this scale a step of 1.1 means: picked three times as often as the other, where a pick is made at all. \
                     The bars are 95 % intervals.";

fn scale(outcome: &OutcomeDocument) -> Markup {
    html! {
        section aria-labelledby="scale" {
            h2 id="scale" { "The scale" }
            @if let Some(chart) = drawing(outcome) { (chart.show()) p.small { (STEPS) } }
            (items(outcome))
            @for remark in &outcome.remarks { p.small { (sentence(remark)) } }
        }
    }
}

fn drawing(outcome: &OutcomeDocument) -> Option<BarChart> {
    let finite = |range: RangeDocument| (range.low.unwrap_or(f64::NEG_INFINITY), range.high.unwrap_or(f64::INFINITY));
    let rows: Option<Vec<BarRow>> = outcome
        .items
        .iter()
        .map(|item| {
            let strength = item.strength?;
            Some(BarRow {
                label: item.name.clone(),
                href: Some(format!("/scans/{}", item.scan)),
                range: finite(strength),
                point: Some(strength.value),
                shade: 0.0,
                note: format!("won {}, lost {}, same {}", item.won, item.lost, item.same),
            })
        })
        .collect();
    Some(BarChart {
        id: "trial-scale".into(),
        title: "How much the scans were liked".into(),
        description: headline(outcome),
        axis: Axis::linear("Liked less – liked more, against the mean of all", "log-odds"),
        rows: rows?,
        wanted: None,
    })
}

fn items(outcome: &OutcomeDocument) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="The scans of the trial" {
            table.stacked {
                thead { tr { th scope="col" { "Scan" } th scope="col" { "Set-up" } th.n scope="col" { "Strength" } th.n scope="col" { "95 % interval" } th.n scope="col" { "Won" } th.n scope="col" { "Lost" } th.n scope="col" { "No difference" } } }
                tbody { @for item in &outcome.items { tr {
                    th scope="row" { a href=(format!("/scans/{}", item.scan)) { (item.name) } }
                    td data-label="set-up" { @if item.set_up.is_empty() { "not known" } @else { (item.set_up) } }
                    td.n data-label="strength" { (item.strength.map_or("–".into(), |s| fmt::figure(s.value, 2))) }
                    td.n data-label="95 % interval" { (item.strength.map_or("–".into(), span)) }
                    td.n data-label="won" { (item.won) } td.n data-label="lost" { (item.lost) } td.n data-label="no difference" { (item.same) }
                } } }
            }
        }
    }
}

fn apart(outcome: &OutcomeDocument) -> Markup {
    let open = outcome.pairs.iter().filter(|pair| pair.settled == "open").count();
    html! {
        section aria-labelledby="apart" {
            h2 id="apart" { "What the picks tell apart" }
            p { (enough(outcome, open)) }
            div.scroll tabindex="0" role="region" aria-labelledby="apart" {
                table.sortable.stacked {
                    thead { tr { th scope="col" { "Pair" } th scope="col" { "What the picks say" } th.n scope="col" { "Shown" } th.n scope="col" { "Chance that it is better" } th.n scope="col" { "More picks of it alone" } } }
                    tbody { @for pair in &outcome.pairs { (pair_row(outcome, pair)) } }
                }
            }
        }
    }
}

fn pair_row(outcome: &OutcomeDocument, pair: &PairDocument) -> Markup {
    let [first, second] = pair.items.map(|item| outcome.items[item].name.as_str());
    let says = match pair.settled {
        "better" => format!("{first} is better"),
        "no difference" => "no difference worth having".into(),
        _ => "cannot be told yet".into(),
    };
    html! {
        tr {
            th scope="row" { (first) " – " (second) }
            td data-label="the picks say" { (says) }
            td.n data-label="shown" { (pair.shown) }
            td.n data-label="chance that the first is better" data-value=(pair.first_stronger) { (chance(pair.first_stronger)) }
            td.n data-label="more picks" data-value=[pair.more] { @match (pair.settled, pair.more) { ("open", Some(more)) => (more), ("open", None) => "over 1000", _ => "none" } }
        }
    }
}

fn chance(share: f64) -> String {
    match share {
        p if p > 0.99 => "over 99 %".into(),
        p if p < 0.01 => "under 1 %".into(),
        p => fmt::percent(p),
    }
}

fn consistency(outcome: &OutcomeDocument) -> Markup {
    html! {
        section aria-labelledby="steady" {
            h2 id="steady" { "How steady the picks are" }
            ul { @for line in steady(outcome) { li { (line) } } }
        }
    }
}

fn eye(kept: &Kept, outcome: &OutcomeDocument, measured: &Measured) -> Markup {
    let filled: Filled =
        [("figure", if measured.measure == Measure::HalfContrast { "half" } else { "contrast" })].into_iter().collect();
    html! {
        section aria-labelledby="eye" {
            h2 id="eye" { "Eye against instrument" }
            @match &outcome.eye {
                Some(eye) => { p { (agreement_words(outcome, eye, &measured.name())) } },
                None => { p { (too_few(measured)) } },
            }
            @if measured.there() > 0 { (crosses(kept, outcome, measured).show()) (eye_table(kept, outcome, measured)) }
            form method="get" action=(format!("/trials/{}#eye", kept.trial.id)) {
                div.fields { (Field::choice("figure", "Set the eye against", [("contrast", "the contrast left at the job's fineness"), ("half", "where half of the contrast is left")]).show(&filled)) }
                div.actions { button { "Show" } }
            }
        }
    }
}

fn too_few(measured: &Measured) -> String {
    format!(
        "{} measured near its piece in these terms, and joined by picks; an order takes three. Measure an edge near the piece in each of the others, and come back.",
        fmt::count(measured.there(), "scan is", "scans are")
    )
}

/// Figure and strength of every scan that has both, by the outcome's order.
fn both(kept: &Kept, outcome: &OutcomeDocument, measured: &Measured) -> Vec<Both> {
    let of = |item: &crate::trial::ItemDocument| {
        let place = kept.document.scans.iter().position(|scan| scan.scan == item.scan)?;
        let (figure, at, off_mm) = measured.figures.each[place].clone()?;
        Some(Both { name: item.name.clone(), strength: item.strength?, figure, at, off_mm })
    };
    outcome.items.iter().filter_map(of).collect()
}

struct Both {
    name: String,
    strength: RangeDocument,
    figure: optics::Estimate,
    at: String,
    off_mm: f64,
}

fn crosses(kept: &Kept, outcome: &OutcomeDocument, measured: &Measured) -> Chart {
    let points = both(kept, outcome, measured).into_iter().map(|b| {
        let (s, f) = (b.strength, b.figure);
        let ends = (s.low.unwrap_or(s.value - 5.0), s.high.unwrap_or(s.value + 5.0));
        Cross {
            name: b.name,
            x: (f.value, f.value - f.plus_minus, f.value + f.plus_minus),
            y: (s.value, ends.0, ends.1),
        }
    });
    let words = outcome.eye.as_ref().map_or(String::new(), |eye| agreement_words(outcome, eye, &measured.name()));
    let x = Axis::linear(&capital(&measured.name()), "");
    let y = Axis::linear("Liked, against the mean", "log-odds");
    let mark = Mark::Crosses { label: "scans with 95 % intervals".into(), points: points.collect(), style: Style(0) };
    Chart::new("eye-chart", "Eye against instrument", &words, x, y).with(mark)
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default() + letters.as_str()
}

fn eye_table(kept: &Kept, outcome: &OutcomeDocument, measured: &Measured) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Eye and instrument, scan by scan" {
            table.stacked {
                thead { tr { th scope="col" { "Scan" } th.n scope="col" { "Strength" } th.n scope="col" { (capital(&measured.name())) } th scope="col" { "Measured at" } } }
                tbody { @for b in both(kept, outcome, measured) { tr {
                    th scope="row" { (b.name) }
                    td.n data-label="strength" { (fmt::figure(b.strength.value, 2)) }
                    td.n data-label="measured" { (fmt::measured(b.figure.value, b.figure.half_width())) }
                    td data-label="measured at" { (b.at) ", " (fmt::figure(b.off_mm, 2)) " mm from the middle of the piece" }
                } } }
            }
        }
    }
}

fn again(kept: &Kept, base: &str) -> Markup {
    html! {
        section aria-labelledby="files" {
            h2 id="files" { "The picks themselves" }
            p { a href=(format!("{base}/picks.csv")) { "Every pick as CSV" } " · " a href=(format!("{base}/outcome.json")) { "the outcome as JSON" } }
            p.small { "The model is Davidson's (1970) for pairs with ties: the odds of left, right and no difference are as e^(d/2), e^(−d/2) and a constant. Intervals are by profile likelihood. A pair counts as settled when an interval that may be looked at after every pick leaves out zero, or holds nothing beyond six picks against four." }
            form method="post" action=(format!("{base}/delete")) {
                button.quiet data-sure="Delete this trial with all its picks?" { "Delete this trial" }
            }
            p { a.button href=(format!("/jobs/{}/trials#begin", kept.trial.job)) { "Begin another trial" } }
        }
    }
}

/// Only what has ended is told: the names would be in it.
async fn ended(app: &App, id: &str) -> Result<Kept, PageError> {
    let kept = kept(app, id).await?;
    if kept.trial.ended.is_none() {
        return Err(PageError::refused(
            "The names of this trial are still hidden.",
            "End the trial first; then everything is told.",
        ));
    }
    Ok(kept)
}

pub(super) async fn json(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let kept = ended(&app, &id).await?;
    let read = move |book: &mut Notebook| {
        let job = book.job(kept.trial.job)?;
        let measured = measured(book, &kept.document, job.as_ref(), "")?;
        Ok::<_, PageError>(outcome(&kept.document, &kept.course(), Some(&measured.figures)))
    };
    let outcome = app.notebook(read).await?;
    let text = to_json(&outcome).map_err(|cause| PageError::broken("The outcome could not be written down.", cause))?;
    Ok(([(CONTENT_TYPE, "application/json")], text).into_response())
}

pub(super) async fn csv(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let kept = ended(&app, &id).await?;
    let text = picks_csv(&kept).map_err(|cause| PageError::broken("The picks could not be written down.", cause))?;
    let name = format!("attachment; filename=\"trial-{}-picks.csv\"", kept.trial.id);
    Ok(([(CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()), (CONTENT_DISPOSITION, name)], text).into_response())
}

fn picks_csv(kept: &Kept) -> Result<Vec<u8>, csv::Error> {
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(["number", "left", "right", "choice", "created"])?;
    let name = |item: u32| kept.document.scans.get(item as usize).map_or("", |scan| scan.name.as_str());
    for pick in &kept.picks {
        let number = pick.number.to_string();
        table.write_record([&number, name(pick.left), name(pick.right), pick.choice.word(), &pick.created])?;
    }
    table.into_inner().map_err(|error| error.into_error().into())
}
