//! Uses: begun from a ready-made set or from a print, every limit to be changed, with its reason and where it comes from.

use axum::extract::{Path, RawQuery, State};
use axum::response::{Html, Redirect, Response};
use maud::{Markup, html};
use notebook::{Job, JobId, UseDraft, UseId, UseRecord};
use verdict::Need;
use verdict::enough::{PictureSize, Use, ready_made};

use crate::documents::{
    Asked, COMMON_PRACTICE, OWN_CHOICE, PrintDocument, RequirementDocument, Seen, Side, Terms, USE_VERSION,
    UseDocument, to_json,
};
use crate::verdict::uses::{both_ways, from_job, reckoned};
use crate::web::clock::now;
use crate::web::error::{PageResult, sentence};
use crate::web::fmt;
use crate::web::form::{Field, Filled, come_back, saved};
use crate::web::jobs::{found, need_for};
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError};

/// The ready-made sets by their ids, as a person calls them.
const READY_MADE: [(&str, &str, &str); 5] = [
    ("screen", "On a screen", "2000 pixels along the frame"),
    ("plate", "A plate in a journal", "180 mm wide at 300 pixels to the inch"),
    ("hand-print", "A print in the hand", "300 mm seen at 250 mm"),
    ("wall-print", "A print on the wall", "600 mm seen at 500 mm"),
    ("measuring", "To measure in", "a thousandth of the frame"),
];
/// The prints of those sets that are prints.
const PRINTS: [(&str, PrintDocument); 3] = [
    ("plate", PrintDocument { long_mm: Some(180.0), seen: Seen::LpMm(5.9) }),
    ("hand-print", PrintDocument { long_mm: Some(300.0), seen: Seen::FromMm(250.0) }),
    ("wall-print", PrintDocument { long_mm: Some(600.0), seen: Seen::FromMm(500.0) }),
];
/// A print's long side, mm: a stamp to a hall's wall.
const PRINT_MM: (f64, f64) = (10.0, 20_000.0);
/// From how far it is seen, mm: nearer than this no eye is sharp (common practice, no source).
const SEEN_FROM_MM: (f64, f64) = (50.0, 100_000.0);
/// How fine it is looked at, lp/mm on paper.
const SEEN_LP_MM: (f64, f64) = (0.01, 100.0);
/// Limits on a page at most.
const MOST_LIMITS: usize = 12;
/// Coarser than ten times what is seen nothing need be looked at.
const MOST_SEEN_PERCENT: f64 = 1000.0;
/// Empty rows at the end of the form.
const SPARE: usize = 1;

/// On a job's verdict: what else its pictures are for.
pub(super) fn more(job: JobId) -> Markup {
    html! {
        section aria-labelledby="more-uses" {
            h2 id="more-uses" { "State a use" }
            p { "Begin with a set that is ready; every limit in it has a reason and can be changed. As long as none is stated, the job's own print is judged by." }
            ul.ready {
                @for (id, title, what) in READY_MADE { li { a href=(format!("/jobs/{job}/uses/new?set={id}")) { (title) } span.soft { ": " (what) } } }
                li { a href=(format!("/jobs/{job}/uses/new?set=job")) { "The job's own print" } span.soft { ": its size, its detail, its contrast" } }
            }
        }
    }
}

/// What a form begins with.
fn begun(set: &str, need: &Need) -> Option<(String, UseDocument)> {
    if set == "job" {
        return Some(("The print".into(), rounded(from_job(need))));
    }
    let size = PictureSize { frame_mm: need.frame_mm[0].max(need.frame_mm[1]) };
    let found = ready_made(size).into_iter().find(|use_| use_.id == set)?;
    let title = READY_MADE.iter().find(|(id, ..)| *id == set)?.1;
    let document = UseDocument::of(&found.requirements);
    let print = PRINTS.iter().find(|(id, _)| *id == set).map(|(_, print)| *print);
    Some((title.into(), rounded(print.map_or(document.clone(), |print| of_print(&document, print, need)))))
}

/// Limits of a set that is a print: in the print's own terms, which hold on any film.
fn of_print(document: &UseDocument, print: PrintDocument, job: &Need) -> UseDocument {
    let need = print.need(job);
    let requirements = document.requirements.iter().map(|asked| asked.in_print(&need)).collect();
    UseDocument { version: USE_VERSION, print: Some(print), requirements }
}

/// Three digits of a limit are as many as anybody means.
fn rounded(mut document: UseDocument) -> UseDocument {
    for asked in document.requirements.iter_mut().filter(|asked| asked.limit > 0.0) {
        let step = 10f64.powi(2 - asked.limit.log10().floor() as i32);
        asked.limit = (asked.limit * step).round() / step;
    }
    document
}

const NO_BODY: &str = "The body of this job is not in the kit, so the size of its frame is not known.";

/// What a job asks on its own body, where that is in the kit.
async fn known_need(app: &App, job: &Job) -> Result<Option<Need>, PageError> {
    let kit = app.notebook(|book| read_kit(book)).await?;
    Ok(need_for(job, &kit))
}

/// The same; refused without that body.
async fn need(app: &App, job: &Job) -> Result<Need, PageError> {
    let refused = || PageError::refused(NO_BODY, "Put it there first, or choose another body for the job.");
    known_need(app, job).await?.ok_or_else(refused)
}

pub(super) async fn new(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery) -> PageResult {
    let job = found(&app, &id).await?;
    let need = need(&app, &job).await?;
    let query = Filled::from_query(query.as_deref());
    let set = if query.text("set").is_empty() { "job" } else { query.text("set") };
    let (title, document) =
        begun(set, &need).ok_or_else(|| PageError::missing(format!("There is no ready-made set “{set}”.")))?;
    Ok(show(&job, Some(&need), None, &filled_with(&title, &document)))
}

pub(super) async fn add(State(app): State<App>, Path(id): Path<String>, filled: Filled) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    keep(&app, job, None, filled).await
}

async fn use_of(app: &App, id: &str) -> Result<(UseRecord, Job), PageError> {
    let missing = || PageError::missing(format!("There is no use {id}."));
    let number: UseId = id.parse().map_err(|_| missing())?;
    let found = app.notebook(move |book| {
        let Some(record) = book.use_of(number)? else { return Ok::<_, PageError>(None) };
        let job = book.job(record.job)?;
        Ok(job.map(|job| (record, job)))
    });
    found.await?.ok_or_else(missing)
}

pub(super) async fn edit(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let (record, job) = use_of(&app, &id).await?;
    let need = known_need(&app, &job).await?;
    let mut filled = match UseDocument::read(&record.draft.requirements) {
        Ok(document) => filled_with(&record.draft.title, &document),
        Err(why) => {
            let none = UseDocument { version: USE_VERSION, print: None, requirements: vec![] };
            let mut filled = filled_with(&record.draft.title, &none);
            filled.wrong("", sentence(&format!("{why}; state the limits anew, or delete the use")));
            filled
        }
    };
    filled.default_to("title", record.draft.title.clone());
    Ok(show(&job, need.as_ref(), Some(record.id), &filled))
}

pub(super) async fn update(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Response, PageError> {
    let (record, job) = use_of(&app, &id).await?;
    keep(&app, job, Some(record.id), filled).await
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let (record, job) = use_of(&app, &id).await?;
    app.notebook(move |book| book.delete_use(record.id)).await?;
    Ok(Redirect::to(&format!("/jobs/{}/verdict#uses", job.id)))
}

async fn keep(app: &App, job: Job, id: Option<UseId>, mut filled: Filled) -> Result<Response, PageError> {
    let Some(need) = known_need(app, &job).await? else {
        filled.wrong("", format!("{NO_BODY} What you typed is still here; save it when the body is back."));
        return Ok(come_back(show(&job, None, id, &filled)));
    };
    let Some((title, document)) = read(&mut filled, &need) else {
        return Ok(come_back(show(&job, Some(&need), id, &filled)));
    };
    let requirements = to_json(&document).map_err(|e| PageError::broken("The limits could not be written down.", e))?;
    let (draft, number) = (UseDraft { title, requirements }, job.id);
    let outcome = app.notebook(move |book| match id {
        None => book.add_use(number, &draft, &now()),
        Some(id) => book.update_use(id, &draft).map(|()| id),
    });
    match outcome.await {
        Ok(kept) => Ok(saved(&format!("/jobs/{}/verdict#use-{kept}", job.id), &key(&job, id))),
        Err(error) if error.status() == axum::http::StatusCode::UNPROCESSABLE_ENTITY => {
            filled.wrong("title", error.what());
            Ok(come_back(show(&job, Some(&need), id, &filled)))
        }
        Err(error) => Err(error),
    }
}

fn key(job: &Job, id: Option<UseId>) -> String {
    id.map_or(format!("new-use-{}", job.id), |id| format!("use-{id}"))
}

/// Shares are typed in per cent.
fn percent(asked: Asked) -> bool {
    matches!(asked, Asked::Contrast | Asked::Glare)
}

/// A limit's field: "limit-3".
fn field(name: &str, row: usize) -> String {
    format!("{name}-{row}")
}

/// A number without the rounding of a hundredth's hundredth.
fn typed(number: f64) -> String {
    let rounded = (number * 1e6).round() / 1e6;
    rounded.to_string()
}

fn filled_with(title: &str, document: &UseDocument) -> Filled {
    let mut filled: Filled = [("title", title)].into_iter().collect();
    fill_print(&mut filled, document.print);
    for (row, asked) in document.requirements.iter().enumerate() {
        let hundred = |yes: bool| if yes { 100.0 } else { 1.0 };
        let seen = asked.terms == Terms::Seen;
        let factor = hundred(percent(asked.quantity) || (seen && asked.quantity != Asked::Contrast));
        let of_at = hundred(asked.quantity == Asked::Resolution || seen);
        filled.set(&field("terms", row), asked.terms.word());
        filled.set(&field("quantity", row), asked.quantity.word());
        filled.set(&field("side", row), side_word(asked.side));
        filled.set(&field("limit", row), typed(asked.limit * factor));
        filled.set(
            &field("doubt", row),
            if asked.plus_minus > 0.0 { typed(asked.plus_minus * factor) } else { String::new() },
        );
        let at = asked.at.map(|at| typed(at * of_at));
        filled.set(&field("at", row), at.unwrap_or_default());
        filled.set(&field("out", row), typed(asked.out_to * 100.0));
        filled.set(&field("reason", row), asked.reason.clone());
        filled.set(&field("source", row), asked.source.clone());
    }
    filled
}

fn fill_print(filled: &mut Filled, print: Option<PrintDocument>) {
    let Some(PrintDocument { long_mm, seen }) = print else { return };
    filled.set("print-mm", long_mm.map(typed).unwrap_or_default());
    match seen {
        Seen::AsJob => {}
        Seen::FromMm(mm) => filled.set("seen-from-mm", typed(mm)),
        Seen::LpMm(lp_mm) => filled.set("seen-lp-mm", typed(lp_mm)),
    }
}

/// The print as typed; none where nothing of it is.
fn read_print(filled: &mut Filled) -> Option<PrintDocument> {
    let within = |filled: &mut Filled, name: &str, (low, high): (f64, f64), unit: &str| {
        filled.number_within(name, low, high, unit)
    };
    let long_mm = within(filled, "print-mm", PRINT_MM, "mm");
    let from_mm = within(filled, "seen-from-mm", SEEN_FROM_MM, "mm");
    let lp_mm = within(filled, "seen-lp-mm", SEEN_LP_MM, "lp/mm");
    if from_mm.is_some() && lp_mm.is_some() {
        filled.wrong("seen-lp-mm", "Give the distance or the fineness: each says how fine the eye sees. Clear one.");
    }
    let seen = from_mm.map(Seen::FromMm).or(lp_mm.map(Seen::LpMm));
    (long_mm.is_some() || seen.is_some()).then_some(PrintDocument { long_mm, seen: seen.unwrap_or(Seen::AsJob) })
}

fn side_word(side: Side) -> &'static str {
    match side {
        Side::AtLeast => "at_least",
        Side::AtMost => "at_most",
    }
}

/// The rows that are filled in.
fn rows(filled: &Filled) -> usize {
    (0..MOST_LIMITS).rev().find(|row| !filled.text(&field("quantity", *row)).is_empty()).map_or(0, |row| row + 1)
}

/// The use as typed; what is wrong is noted at its field.
fn read(filled: &mut Filled, job: &Need) -> Option<(String, UseDocument)> {
    let title = filled.required_text("title");
    let print = read_print(filled);
    let mut requirements = Vec::new();
    for row in 0..rows(filled) {
        if let Some(asked) = Asked::of(filled.text(&field("quantity", row))) {
            requirements.extend(read_row(filled, row, asked));
        }
    }
    let document = UseDocument { version: USE_VERSION, print, requirements };
    let need = document.need(job);
    // Limits in different terms exclude each other only on film.
    let on_film = document.requirements.iter().map(|asked| asked.on_film(&need).requirement());
    let asks = Use { id: title.clone(), requirements: on_film.collect() };
    if let (false, Err(why)) = (filled.has_errors(), asks.check()) {
        filled.wrong("", sentence(&why.to_string()));
    }
    (!filled.has_errors()).then_some((title, document))
}

fn read_row(filled: &mut Filled, row: usize, asked: Asked) -> Option<RequirementDocument> {
    let terms = read_terms(filled, row, asked);
    let (limit, plus_minus) = read_limit(filled, row, asked, terms);
    let at = read_at(filled, row, asked, terms);
    let out = filled.number_within(&field("out", row), 0.0, 100.0, "%").unwrap_or(100.0);
    let side = match filled.text(&field("side", row)) {
        "at_least" => Side::AtLeast,
        "at_most" => Side::AtMost,
        _ => asked.usual_side(),
    };
    let source = filled.text(&field("source", row));
    let source = if source.is_empty() { OWN_CHOICE } else { source }.to_owned();
    let reason = filled.text(&field("reason", row)).to_owned();
    Some(RequirementDocument {
        quantity: asked,
        at: if asked.at_what().is_some() { Some(at?) } else { None },
        side,
        terms: terms?,
        limit: limit?,
        plus_minus,
        out_to: if asked.has_places() { out / 100.0 } else { 1.0 },
        reason,
        source,
    })
}

/// In which terms a row is given; on film where nothing is said, and where there are no others.
fn read_terms(filled: &mut Filled, row: usize, asked: Asked) -> Option<Terms> {
    let name = field("terms", row);
    let typed = filled.text(&name).to_owned();
    match Terms::of(&typed) {
        Some(terms) if asked.is_enlarged() => Some(terms),
        _ if typed.is_empty() || !asked.is_enlarged() => Some(Terms::Film),
        _ => {
            filled.wrong(&name, format!("“{typed}” are no terms: choose film, print, or what is seen."));
            None
        }
    }
}

/// The limit with its half-width, shares from per cent.
fn read_limit(filled: &mut Filled, row: usize, asked: Asked, terms: Option<Terms>) -> (Option<f64>, f64) {
    let name = field("limit", row);
    if filled.text(&name).is_empty() {
        filled.wrong(&name, format!("{}: a limit is needed here, or choose “nothing” for the row.", asked.label()));
    }
    let of_seen = terms == Some(Terms::Seen) && asked != Asked::Contrast;
    let (factor, most, unit) = match (percent(asked), of_seen) {
        (true, _) => (0.01, 100.0, "%"),
        (_, true) => (0.01, MOST_SEEN_PERCENT, "%"),
        _ => (1.0, 1e6, unit_in(asked, terms.unwrap_or_default())),
    };
    let limit = filled.number_within(&name, 0.0, most, unit).map(|limit| limit * factor);
    let doubt = filled.number_within(&field("doubt", row), 0.0, most, unit).unwrap_or(0.0) * factor;
    (limit, doubt)
}

/// The share of contrast of a resolution, the fineness of a contrast.
fn read_at(filled: &mut Filled, row: usize, asked: Asked, terms: Option<Terms>) -> Option<f64> {
    let name = field("at", row);
    if asked.at_what().is_some() && filled.text(&name).is_empty() {
        filled.wrong(&name, format!("{}: say at which {}.", asked.label(), at_label(asked)));
    }
    match (asked, terms) {
        (Asked::Resolution, _) => filled.number_within(&name, 1.0, 99.0, "%").map(|percent| percent / 100.0),
        (Asked::Contrast, Some(Terms::Seen)) => {
            filled.number_within(&name, 1.0, MOST_SEEN_PERCENT, "%").map(|percent| percent / 100.0)
        }
        (Asked::Contrast, _) => filled.number_within(&name, 0.01, 1000.0, "lp/mm"),
        _ => None,
    }
}

/// The unit of a limit in these terms; "%" of what is seen.
fn unit_in(asked: Asked, terms: Terms) -> &'static str {
    match (asked, terms) {
        (Asked::Resolution | Asked::Fringing, Terms::Seen) => "%",
        (Asked::Fringing, Terms::Print) => "mm",
        _ => asked.unit(),
    }
}

fn at_label(asked: Asked) -> &'static str {
    if asked == Asked::Contrast { "fineness" } else { "share of the contrast, %" }
}

fn show(job: &Job, need: Option<&Need>, id: Option<UseId>, filled: &Filled) -> Html<String> {
    let action = id.map_or(format!("/jobs/{}/uses", job.id), |id| format!("/uses/{id}"));
    let shown = (rows(filled) + SPARE).min(MOST_LIMITS);
    let own = need.and_then(|need| own_need(filled, need));
    let body = html! {
        (filled.summary())
        @if need.is_none() { (no_body(job)) }
        form method="post" action=(action) data-keep=(key(job, id)) {
            div.fields { (Field::text("title", "What it is for").required().show(filled)) }
            (print(filled, job, own.as_ref()))
            @for row in 0..shown { (limit(filled, own.as_ref(), row)) }
            div.actions {
                button.main { "Save the use" }
                a href=(format!("/jobs/{}/verdict", job.id)) { "Back to the verdict" }
            }
        }
        @if let Some(id) = id {
            form method="post" action=(format!("/uses/{id}/delete")) {
                button.quiet data-sure="Delete this use?" { "Delete this use" }
                p.hint { "What was measured stays." }
            }
        }
    };
    let title = if id.is_some() {
        format!("A use of “{}”", job.title)
    } else {
        format!("A new use of “{}”", job.title)
    };
    let lead = "What its pictures must show. Everything is asked at once; figures on film hold at the size that the job wants.";
    Sheet::new(&title, Place::Verdict).lead(lead).show(body)
}

/// What is said over a use that nothing can be worked out for.
fn no_body(job: &Job) -> Markup {
    html! {
        div.note {
            p { (NO_BODY) " The use stands as it was stated, and is judged by again when the body is back." }
            p { a href="/kit" { "Put the body back into the kit" } " or " a href=(format!("/jobs/{}/edit", job.id)) { "choose another body for the job" } "." }
        }
    }
}

/// The need with the print that is typed; `None` where that cannot be understood.
fn own_need(filled: &Filled, job: &Need) -> Option<Need> {
    let mut copy = filled.clone();
    let print = read_print(&mut copy);
    let fields = ["print-mm", "seen-from-mm", "seen-lp-mm"];
    fields.iter().all(|name| copy.error(name).is_none()).then(|| print.map_or(*job, |print| print.need(job)))
}

/// The print that it is for, and what follows from it.
fn print(filled: &Filled, job: &Job, own: Option<&Need>) -> Markup {
    let long = format!("Of the whole frame. Left blank, as the job's: {} mm.", fmt::figure(job.print_mm, 3));
    let fine = format!(
        "Instead of the distance. Both left blank, as the job's: {} lp/mm.",
        fmt::figure(job.criterion_lp_mm, 2)
    );
    html! {
        fieldset.detail {
            legend { "The print that it is for" }
            div.fields {
                (Field::number("print-mm", "Long side of the print").unit("mm").hint(&long).show(filled))
                (Field::number("seen-from-mm", "Seen from").unit("mm").hint("At 250 mm an eye tells 5 lp/mm apart, farther off in proportion fewer (common practice, no source).").show(filled))
                (Field::number("seen-lp-mm", "Or: the finest that is seen").unit("lp/mm on paper").hint(&fine).show(filled))
            }
            @if let Some(own) = own { p.soft { (reckoned(own)) } }
        }
    }
}

/// One limit: what, how much, where, why, from where.
fn limit(filled: &Filled, need: Option<&Need>, row: usize) -> Markup {
    let asked = Asked::of(filled.text(&field("quantity", row)));
    let quantities =
        std::iter::once(("", "nothing")).chain(Asked::ALL.iter().map(|asked| (asked.word(), what(*asked))));
    let legend = match asked {
        Some(asked) => format!("Limit {}: {}", row + 1, what(asked)),
        None => format!("Limit {}: one more, if there is one", row + 1),
    };
    let show =
        |shown: Field<'_>, hint: &str| if hint.is_empty() { shown.show(filled) } else { shown.hint(hint).show(filled) };
    html! {
        fieldset.detail.limit {
            legend { (legend) }
            @if let Some(said) = need.and_then(|need| stated(filled, need, row)) { p.soft { (said) } }
            div.fields {
                (show(Field::choice(&field("quantity", row), "Of what", quantities), ""))
                (show(Field::choice(&field("side", row), "Which way", [("at_least", "at least"), ("at_most", "at most")]), ""))
                (show(with_unit(Field::number(&field("limit", row), "How much"), asked), if asked.is_none() { "In lp/mm, µm, stops or mm; contrast and glare in %." } else { "" }))
                @if asked.is_none_or(Asked::is_enlarged) {
                    (show(Field::choice(&field("terms", row), "In which terms", terms(asked)), if asked.is_none() { "Of resolution, contrast and colour fringing." } else { "" }))
                }
                @if asked.is_none_or(|asked| asked.at_what().is_some()) { (show(at_field(&field("at", row), asked), at_hint(asked))) }
                @if asked.is_none_or(Asked::has_places) {
                    (show(Field::number(&field("out", row), "Out to where in the frame").unit("%"), "0 is the centre, 100 the corner."))
                }
                (show(with_unit(Field::number(&field("doubt", row), "How unsure is the limit itself, ±"), asked), "Left blank, it is a decision."))
                (show(Field::text(&field("reason", row), "Why"), ""))
                (show(Field::text(&field("source", row), "From where"), &format!("“{COMMON_PRACTICE}”, “{OWN_CHOICE}”, or who printed it.")))
            }
        }
    }
}

/// What it is called where its terms stand beside it.
fn what(asked: Asked) -> &'static str {
    asked.label().trim_end_matches(" on film")
}

/// The unit behind a field, where it does not hang on the terms that are chosen beside it.
fn with_unit<'a>(field: Field<'a>, asked: Option<Asked>) -> Field<'a> {
    match asked {
        None | Some(Asked::Resolution | Asked::Fringing) => field,
        Some(asked) if percent(asked) => field.unit("%"),
        Some(asked) => field.unit(asked.unit()),
    }
}

/// The terms with their units.
fn terms(asked: Option<Asked>) -> [(&'static str, &'static str); 3] {
    match asked {
        Some(Asked::Fringing) => {
            [("film", "µm on film"), ("print", "mm on the print"), ("seen", "% of the finest line pair that is seen")]
        }
        Some(_) => {
            [("film", "lp/mm on film"), ("print", "lp/mm on the print"), ("seen", "% of the fineness that is seen")]
        }
        None => [("film", "on film"), ("print", "on the print"), ("seen", "% of what is seen")],
    }
}

fn at_field(name: &str, asked: Option<Asked>) -> Field<'_> {
    match asked {
        Some(Asked::Contrast) => Field::number(name, "At which fineness"),
        _ => Field::number(name, "At which share of contrast").unit("%"),
    }
}

fn at_hint(asked: Option<Asked>) -> &'static str {
    match asked {
        None => "Of a resolution. Of a contrast: at which fineness.",
        Some(Asked::Contrast) => "In the terms chosen beside it.",
        _ => "",
    }
}

/// The row in words, where it can be understood.
fn stated(filled: &Filled, need: &Need, row: usize) -> Option<String> {
    let mut copy = filled.clone();
    let asked = Asked::of(filled.text(&field("quantity", row)))?;
    let read = read_row(&mut copy, row, asked)?;
    Some(sentence(&both_ways(&read, need)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::documents::need;

    #[test]
    fn what_is_shown_reads_back_as_it_was() {
        for use_ in ready_made(PictureSize { frame_mm: 56.0 }) {
            let film = UseDocument::of(&use_.requirements);
            let print = PrintDocument { long_mm: Some(300.0), seen: Seen::FromMm(250.0) };
            for document in [film.clone(), of_print(&film, print, &need())] {
                let mut filled = filled_with("A plate", &document);
                let (title, read) = read(&mut filled, &need()).expect("no error");
                assert_eq!((title.as_str(), read.requirements.len()), ("A plate", document.requirements.len()));
                assert_eq!(read.print, document.print);
                for (read, asked) in read.requirements.iter().zip(&document.requirements) {
                    assert_eq!((read.quantity, read.side, &read.reason), (asked.quantity, asked.side, &asked.reason));
                    assert_eq!(read.terms, asked.terms);
                    // Typed to six places.
                    testkit::assert_close!(read.limit, asked.limit, absolute = 1e-6);
                    testkit::assert_close!(
                        read.out_to,
                        if asked.quantity.has_places() { asked.out_to } else { 1.0 },
                        absolute = 1e-9
                    );
                }
            }
        }
    }

    #[test]
    fn shares_of_what_is_seen_are_typed_in_per_cent() {
        let asked = |quantity: Asked, at, limit| RequirementDocument {
            quantity,
            at,
            side: quantity.usual_side(),
            terms: Terms::Seen,
            limit,
            plus_minus: 0.05,
            out_to: 0.5,
            reason: String::new(),
            source: OWN_CHOICE.into(),
        };
        let requirements = vec![
            asked(Asked::Fringing, None, 0.5),
            asked(Asked::Resolution, Some(0.3), 0.8),
            asked(Asked::Contrast, Some(0.6), 0.4),
        ];
        let document = UseDocument { version: USE_VERSION, print: None, requirements };
        let mut filled = filled_with("Wall", &document);
        let typed: Vec<&str> = (0..3).map(|row| filled.text(&field("limit", row))).collect();
        assert_eq!((typed, filled.text("at-2"), filled.text("doubt-0")), (vec!["50", "80", "40"], "60", "5"));
        assert_eq!(read(&mut filled, &need()).expect("no error").1, document);
    }

    #[test]
    fn sets_of_a_print_are_stated_in_its_terms() {
        // A plate 180 mm wide from 300 pixels to the inch: 5.9 lp/mm and 0.085 mm on paper, whatever the film.
        for frame_mm in [[36.0, 24.0], [56.0, 56.0]] {
            let need = Need { frame_mm, ..need() };
            let (_, document) = begun("plate", &need).expect("a set");
            let limits: Vec<(Terms, f64)> =
                document.requirements.iter().map(|asked| (asked.terms, asked.limit)).collect();
            assert_eq!(limits[..2], [(Terms::Print, 5.9), (Terms::Print, 0.085)]);
            assert_eq!(document.print.and_then(|print| print.long_mm), Some(180.0));
        }
        let seen =
            |set: &str| begun(set, &need()).expect("a set").1.print.map(|print| print.need(&need()).criterion_lp_mm);
        assert_eq!([seen("hand-print"), seen("wall-print"), seen("screen")], [Some(5.0), Some(2.5), None]);
    }

    fn typed_with(changes: &[(&str, &str)]) -> Result<(), Filled> {
        let mut filled: Filled =
            [("title", "Plate"), ("quantity-0", "resolution"), ("limit-0", "20"), ("at-0", "30"), ("out-0", "90")]
                .into_iter()
                .collect();
        changes.iter().for_each(|(name, value)| filled.set(name, *value));
        read(&mut filled, &need()).map(|_| ()).ok_or(filled)
    }

    #[test]
    fn rows_are_refused_at_their_fields() {
        assert!(typed_with(&[]).is_ok());
        for (name, value) in [
            ("limit-0", ""),
            ("limit-0", "many"),
            ("limit-0", "-1"),
            ("at-0", ""),
            ("at-0", "100"),
            ("out-0", "101"),
            ("title", ""),
            ("terms-0", "miles"),
            ("print-mm", "wide"),
            ("print-mm", "5"),
            ("seen-from-mm", "0"),
            ("seen-lp-mm", "1000"),
        ] {
            let filled = typed_with(&[(name, value)]).expect_err(name);
            assert!(filled.error(name).is_some(), "{name} = {value}");
        }
        // Both ways to say how fine the eye sees; more than ten times what is seen.
        let filled = typed_with(&[("seen-from-mm", "500"), ("seen-lp-mm", "3")]).expect_err("both");
        assert!(filled.error("seen-lp-mm").expect("said").contains("Clear one"));
        let filled = typed_with(&[("terms-0", "seen"), ("limit-0", "1001")]).expect_err("too coarse");
        assert!(filled.error("limit-0").is_some());
        // Nothing asked, and two limits that exclude each other, are said of the form as a whole.
        assert!(
            typed_with(&[("quantity-0", "")])
                .expect_err("nothing")
                .error("")
                .expect("said")
                .contains("asks for nothing")
        );
        let both =
            [("quantity-1", "resolution"), ("side-1", "at_most"), ("limit-1", "10"), ("at-1", "30"), ("out-1", "90")];
        assert!(typed_with(&both).expect_err("both").error("").expect("said").contains("nothing can have both"));
        // In other terms: 4 lp/mm on the print are 18.1 on film, less than the 20 that are asked for.
        let print: Vec<_> = both.iter().map(|(n, v)| if *n == "limit-1" { (*n, "4") } else { (*n, *v) }).collect();
        let print = [print, vec![("terms-1", "print")]].concat();
        assert!(typed_with(&print).expect_err("both").error("").expect("said").contains("nothing can have both"));
        let larger: Vec<_> = print.iter().map(|(n, v)| if *n == "limit-1" { (*n, "5") } else { (*n, *v) }).collect();
        assert!(typed_with(&larger).is_ok());
    }
}
