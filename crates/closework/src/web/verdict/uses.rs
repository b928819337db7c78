//! Uses: begun from a ready-made set or from a print, every limit to be changed, with its reason and where it comes from.

use axum::extract::{Path, RawQuery, State};
use axum::response::{Html, Redirect, Response};
use kit::Kit;
use maud::{Markup, html};
use notebook::{Job, JobId, UseDraft, UseId, UseRecord};
use verdict::enough::{PictureSize, Use, ready_made};

use crate::documents::{
    Asked, COMMON_PRACTICE, OWN_CHOICE, RequirementDocument, Side, USE_VERSION, UseDocument, to_json,
};
use crate::verdict::uses::{from_job, words};
use crate::web::clock::now;
use crate::web::error::{PageResult, sentence};
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
/// Limits on a page at most.
const MOST_LIMITS: usize = 12;
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

/// The longer side of the frame of a job's body, mm; that of the first body where it names none.
fn frame_mm(job: &Job, kit: &Kit) -> Option<f64> {
    need_for(job, kit).map(|need| need.frame_mm[0].max(need.frame_mm[1]))
}

/// What a form begins with.
fn begun(set: &str, job: &Job, kit: &Kit) -> Option<(String, UseDocument)> {
    let need = need_for(job, kit)?;
    if set == "job" {
        return Some(("The print".into(), rounded(from_job(&need))));
    }
    let size = PictureSize { frame_mm: frame_mm(job, kit)? };
    let found = ready_made(size).into_iter().find(|use_| use_.id == set)?;
    let title = READY_MADE.iter().find(|(id, ..)| *id == set)?.1;
    Some((title.into(), rounded(UseDocument::of(&found.requirements))))
}

/// Three digits of a limit are as many as anybody means.
fn rounded(mut document: UseDocument) -> UseDocument {
    for asked in document.requirements.iter_mut().filter(|asked| asked.limit > 0.0) {
        let step = 10f64.powi(2 - asked.limit.log10().floor() as i32);
        asked.limit = (asked.limit * step).round() / step;
    }
    document
}

pub(super) async fn new(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery) -> PageResult {
    let job = found(&app, &id).await?;
    let kit = app.notebook(|book| read_kit(book)).await?;
    let query = Filled::from_query(query.as_deref());
    if need_for(&job, &kit).is_none() {
        return Err(PageError::refused(
            "The body of this job is not in the kit, so the size of its frame is not known.",
            "Put it there first, or choose another body for the job.",
        ));
    }
    let set = if query.text("set").is_empty() { "job" } else { query.text("set") };
    let (title, document) =
        begun(set, &job, &kit).ok_or_else(|| PageError::missing(format!("There is no ready-made set “{set}”.")))?;
    Ok(show(&job, None, &filled_with(&title, &document)))
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
    let mut filled = match UseDocument::read(&record.draft.requirements) {
        Ok(document) => filled_with(&record.draft.title, &document),
        Err(why) => {
            let mut filled =
                filled_with(&record.draft.title, &UseDocument { version: USE_VERSION, requirements: vec![] });
            filled.wrong("", sentence(&format!("{why}; state the limits anew, or delete the use")));
            filled
        }
    };
    filled.default_to("title", record.draft.title.clone());
    Ok(show(&job, Some(record.id), &filled))
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
    let Some((title, document)) = read(&mut filled) else { return Ok(come_back(show(&job, id, &filled))) };
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
            Ok(come_back(show(&job, id, &filled)))
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
    for (row, asked) in document.requirements.iter().enumerate() {
        let hundred = |yes: bool| if yes { 100.0 } else { 1.0 };
        let factor = hundred(percent(asked.quantity));
        filled.set(&field("quantity", row), asked.quantity.word());
        filled.set(&field("side", row), side_word(asked.side));
        filled.set(&field("limit", row), typed(asked.limit * factor));
        filled.set(
            &field("doubt", row),
            if asked.plus_minus > 0.0 { typed(asked.plus_minus * factor) } else { String::new() },
        );
        let at = asked.at.map(|at| typed(at * hundred(asked.quantity == Asked::Resolution)));
        filled.set(&field("at", row), at.unwrap_or_default());
        filled.set(&field("out", row), typed(asked.out_to * 100.0));
        filled.set(&field("reason", row), asked.reason.clone());
        filled.set(&field("source", row), asked.source.clone());
    }
    filled
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
fn read(filled: &mut Filled) -> Option<(String, UseDocument)> {
    let title = filled.required_text("title");
    let mut requirements = Vec::new();
    for row in 0..rows(filled) {
        if let Some(asked) = Asked::of(filled.text(&field("quantity", row))) {
            requirements.extend(read_row(filled, row, asked));
        }
    }
    let asks =
        Use { id: title.clone(), requirements: requirements.iter().map(RequirementDocument::requirement).collect() };
    if let (false, Err(why)) = (filled.has_errors(), asks.check()) {
        filled.wrong("", sentence(&why.to_string()));
    }
    (!filled.has_errors()).then_some((title, UseDocument { version: USE_VERSION, requirements }))
}

fn read_row(filled: &mut Filled, row: usize, asked: Asked) -> Option<RequirementDocument> {
    let share = percent(asked);
    let factor = if share { 0.01 } else { 1.0 };
    let (limit_name, at_name) = (field("limit", row), field("at", row));
    if filled.text(&limit_name).is_empty() {
        filled
            .wrong(&limit_name, format!("{}: a limit is needed here, or choose “nothing” for the row.", asked.label()));
    }
    let most = if share { 100.0 } else { 1e6 };
    let limit = filled.number_within(&limit_name, 0.0, most, if share { "%" } else { asked.unit() });
    let doubt = filled.number_within(&field("doubt", row), 0.0, most, asked.unit()).unwrap_or(0.0);
    if asked.at_what().is_some() && filled.text(&at_name).is_empty() {
        filled.wrong(&at_name, format!("{}: say at which {}.", asked.label(), at_label(asked)));
    }
    let at = match asked {
        Asked::Resolution => filled.number_within(&at_name, 1.0, 99.0, "%").map(|percent| percent / 100.0),
        Asked::Contrast => filled.number_within(&at_name, 0.01, 1000.0, "lp/mm"),
        _ => None,
    };
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
        limit: limit? * factor,
        plus_minus: doubt * factor,
        out_to: if asked.has_places() { out / 100.0 } else { 1.0 },
        reason,
        source,
    })
}

fn at_label(asked: Asked) -> &'static str {
    if asked == Asked::Contrast { "fineness, lp/mm on film" } else { "share of the contrast, %" }
}

fn show(job: &Job, id: Option<UseId>, filled: &Filled) -> Html<String> {
    let action = id.map_or(format!("/jobs/{}/uses", job.id), |id| format!("/uses/{id}"));
    let shown = (rows(filled) + SPARE).min(MOST_LIMITS);
    let body = html! {
        (filled.summary())
        form method="post" action=(action) data-keep=(key(job, id)) {
            div.fields { (Field::text("title", "What it is for").required().show(filled)) }
            @for row in 0..shown { (limit(filled, row)) }
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

/// One limit: what, how much, where, why, from where.
fn limit(filled: &Filled, row: usize) -> Markup {
    let asked = Asked::of(filled.text(&field("quantity", row)));
    let quantities =
        std::iter::once(("", "nothing")).chain(Asked::ALL.iter().map(|asked| (asked.word(), asked.label())));
    let unit = asked.map_or("", |asked| if percent(asked) { "%" } else { asked.unit() });
    let legend = match asked {
        Some(asked) => format!("Limit {}: {}", row + 1, asked.label()),
        None => format!("Limit {}: one more, if there is one", row + 1),
    };
    let show =
        |shown: Field<'_>, hint: &str| if hint.is_empty() { shown.show(filled) } else { shown.hint(hint).show(filled) };
    html! {
        fieldset.detail.limit {
            legend { (legend) }
            @if let Some(said) = stated(filled, row) { p.soft { (said) } }
            div.fields {
                (show(Field::choice(&field("quantity", row), "Of what", quantities), ""))
                (show(Field::choice(&field("side", row), "Which way", [("at_least", "at least"), ("at_most", "at most")]), ""))
                (show(Field::number(&field("limit", row), "How much").unit(unit), if asked.is_none() { "In lp/mm, µm, stops or mm; contrast and glare in %." } else { "" }))
                @if asked.is_none_or(|asked| asked.at_what().is_some()) {
                    (show(Field::number(&field("at", row), if asked == Some(Asked::Contrast) { "At which fineness" } else { "At which share of contrast" }).unit(if asked == Some(Asked::Contrast) { "lp/mm" } else { "%" }), if asked.is_none() { "Of a resolution. Of a contrast: at which lp/mm." } else { "" }))
                }
                @if asked.is_none_or(Asked::has_places) {
                    (show(Field::number(&field("out", row), "Out to where in the frame").unit("%"), "0 is the centre, 100 the corner."))
                }
                (show(Field::number(&field("doubt", row), "How unsure is the limit itself, ±").unit(unit), "Left blank, it is a decision."))
                (show(Field::text(&field("reason", row), "Why"), ""))
                (show(Field::text(&field("source", row), "From where"), &format!("“{COMMON_PRACTICE}”, “{OWN_CHOICE}”, or who printed it.")))
            }
        }
    }
}

/// The row in words, where it can be understood.
fn stated(filled: &Filled, row: usize) -> Option<String> {
    let mut copy = filled.clone();
    let asked = Asked::of(filled.text(&field("quantity", row)))?;
    let read = read_row(&mut copy, row, asked)?;
    Some(sentence(&words(&read)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shown_reads_back_as_it_was() {
        for use_ in ready_made(PictureSize { frame_mm: 56.0 }) {
            let document = UseDocument::of(&use_.requirements);
            let mut filled = filled_with("A plate", &document);
            let (title, read) = read(&mut filled).expect("no error");
            assert_eq!((title.as_str(), read.requirements.len()), ("A plate", document.requirements.len()));
            for (read, asked) in read.requirements.iter().zip(&document.requirements) {
                assert_eq!((read.quantity, read.side, &read.reason), (asked.quantity, asked.side, &asked.reason));
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

    #[test]
    fn rows_are_refused_at_their_fields() {
        let with = |changes: &[(&str, &str)]| {
            let mut filled: Filled =
                [("title", "Plate"), ("quantity-0", "resolution"), ("limit-0", "20"), ("at-0", "30"), ("out-0", "90")]
                    .into_iter()
                    .collect();
            changes.iter().for_each(|(name, value)| filled.set(name, *value));
            read(&mut filled).map(|_| ()).ok_or(filled)
        };
        assert!(with(&[]).is_ok());
        for (name, value) in [
            ("limit-0", ""),
            ("limit-0", "many"),
            ("limit-0", "-1"),
            ("at-0", ""),
            ("at-0", "100"),
            ("out-0", "101"),
            ("title", ""),
        ] {
            let filled = with(&[(name, value)]).expect_err(name);
            assert!(filled.error(name).is_some(), "{name} = {value}");
        }
        // Nothing asked, and two limits that exclude each other, are said of the form as a whole.
        assert!(
            with(&[("quantity-0", "")]).expect_err("nothing").error("").expect("said").contains("asks for nothing")
        );
        let both =
            [("quantity-1", "resolution"), ("side-1", "at_most"), ("limit-1", "10"), ("at-1", "30"), ("out-1", "90")];
        assert!(with(&both).expect_err("both").error("").expect("said").contains("nothing can have both"));
    }
}
