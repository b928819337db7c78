//! A frame: planned with its set-up, logged with one press when it went as planned.

use axum::extract::{Path, RawQuery, State};
use axum::response::{Html, Redirect, Response};
use kit::{Focus, Kit, Setup};
use maud::html;
use notebook::{Frame, FrameDraft, FrameId, FrameState, Job, JobId, Roll, RollDraft, RollId, Said};

use super::found;
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, come_back, saved};
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::setup::Picked;
use crate::web::{App, PageError, log};

/// The page's surroundings.
struct Around {
    kit: Kit,
    job: Job,
    rolls: Vec<Roll>,
    frame: Option<Frame>,
}

async fn around(app: &App, job: JobId, frame: Option<Frame>) -> Result<Around, PageError> {
    let read = move |book: &mut notebook::Notebook| {
        let known = book.job(job)?.ok_or_else(|| PageError::missing(format!("There is no job {job}.")))?;
        Ok::<_, PageError>(Around { kit: read_kit(book)?, rolls: book.rolls(job)?, job: known, frame })
    };
    app.notebook(read).await
}

pub(super) async fn new(State(app): State<App>, Path(id): Path<String>, RawQuery(query): RawQuery) -> PageResult {
    let job = found(&app, &id).await?;
    let around = around(&app, job.id, None).await?;
    let mut query = Filled::from_query(query.as_deref());
    let picked = Picked::read(&mut query, &around.kit);
    let mut filled: Filled =
        [("parts", picked.parts.join(", ")), ("focus", picked.focus.to_string())].into_iter().collect();
    if let Some(f) = picked.f_number {
        filled.set("f_number", f.to_string());
    }
    for name in ["roll", "metered_s", "shutter_s"] {
        filled.set(name, query.text(name));
    }
    let last = around.rolls.last().map(|roll| roll.id);
    let next = app.notebook(move |book| last.map_or(Ok(1), |roll| next_number(book, roll))).await?;
    filled.set("number", next.to_string());
    if let Some(last) = last {
        filled.set("roll", last.to_string());
    }
    Ok(show(&around, &filled))
}

fn next_number(book: &notebook::Notebook, roll: RollId) -> Result<u32, PageError> {
    Ok(book.frames(roll)?.iter().map(|frame| frame.number).max().unwrap_or(0) + 1)
}

async fn frame_of(app: &App, id: &str) -> Result<(Frame, JobId), PageError> {
    let number: FrameId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a frame.")))?;
    let read = move |book: &mut notebook::Notebook| {
        let Some(frame) = book.frame(number)? else { return Ok::<_, PageError>(None) };
        Ok(book.roll(frame.roll)?.map(|roll| (frame, roll.job)))
    };
    app.notebook(read).await?.ok_or_else(|| PageError::missing(format!("There is no frame {id}.")))
}

pub(super) async fn edit(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let (frame, job) = frame_of(&app, &id).await?;
    let text = |number: Option<f64>| number.map(|n| n.to_string()).unwrap_or_default();
    let filled = [
        ("roll", frame.roll.to_string()),
        ("number", frame.number.to_string()),
        ("label", frame.label.clone()),
        ("parts", frame.parts.join(", ")),
        ("focus", frame.focus.clone()),
        ("f_number", text(frame.f_number)),
        ("metered_s", text(frame.metered_s)),
        ("shutter_s", text(frame.shutter_s)),
        ("note", frame.note.clone()),
        ("state", state_word(frame.state).to_owned()),
    ];
    let filled = filled.into_iter().collect();
    Ok(show(&around(&app, job, Some(frame)).await?, &filled))
}

fn state_word(state: FrameState) -> &'static str {
    match state {
        FrameState::Planned => "planned",
        FrameState::Shot => "shot",
        FrameState::LeftOut => "left-out",
    }
}

/// What was typed, checked against the kit: a set-up that the kit cannot make is refused before it is logged.
fn draft_from(filled: &mut Filled, kit: &Kit, before: Option<&Frame>) -> Option<FrameDraft> {
    let number = filled.number_within("number", 1.0, 999.0, "").filter(|n| n.fract() == 0.0);
    if number.is_none() {
        filled.wrong("number", "A whole number is needed here, such as 7.");
    }
    let parts: Vec<String> =
        filled.text("parts").split(',').map(|word| word.trim().to_owned()).filter(|word| !word.is_empty()).collect();
    let focus: Focus = match filled.text("focus").parse() {
        Ok(focus) => focus,
        Err(error) => {
            filled.wrong("focus", sentence(&error));
            Focus::Infinity
        }
    };
    let f_number = filled.number_within("f_number", 0.5, 1000.0, "");
    if !parts.is_empty() {
        let request = kit::SetupRequest { parts: parts.clone(), focus, f_number, coc_mm: None };
        if let Err(error) = Setup::resolve(kit, &request) {
            filled.wrong("parts", sentence(&error.to_string()));
        }
    }
    let (metered_s, shutter_s) = (filled.seconds("metered_s"), filled.seconds("shutter_s"));
    if filled.has_errors() {
        return None;
    }
    Some(FrameDraft {
        number: number? as u32,
        label: filled.text("label").to_owned(),
        parts,
        focus: focus.to_string(),
        f_number,
        shutter_s,
        metered_s,
        note: filled.text("note").to_owned(),
        state: match filled.text("state") {
            "shot" => FrameState::Shot,
            "left-out" => FrameState::LeftOut,
            _ => FrameState::Planned,
        },
        // What the planner wrote is not on this form: it stays.
        ..before.map(|frame| frame.draft.clone()).unwrap_or_default()
    })
}

pub(super) async fn add(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let around = around(&app, job.id, None).await?;
    let Some(draft) = draft_from(&mut filled, &around.kit, around.frame.as_ref()) else {
        return Ok(come_back(show(&around, &filled)));
    };
    let roll: Option<RollId> =
        filled.text("roll").parse().ok().filter(|roll| around.rolls.iter().any(|r| r.id == *roll));
    let add = move |book: &mut notebook::Notebook| {
        book.atomically(|book| {
            let roll = match roll {
                Some(roll) => roll,
                None => book.add_roll(job.id, &RollDraft { title: "First roll".into(), ..RollDraft::default() })?,
            };
            book.add_frame(roll, &draft)
        })
    };
    match app.notebook(add).await {
        Ok(_) => Ok(saved(&format!("/jobs/{id}"), &format!("frame-new-{id}"))),
        Err(error) => taken(error, &around, filled),
    }
}

/// A number that another frame has comes back to its field.
fn taken(error: PageError, around: &Around, mut filled: Filled) -> Result<Response, PageError> {
    if error.status() != axum::http::StatusCode::UNPROCESSABLE_ENTITY {
        return Err(error);
    }
    filled.wrong("number", error.what());
    Ok(come_back(show(around, &filled)))
}

pub(super) async fn update(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let (frame, job) = frame_of(&app, &id).await?;
    let number = frame.id;
    let around = around(&app, job, Some(frame)).await?;
    let Some(draft) = draft_from(&mut filled, &around.kit, around.frame.as_ref()) else {
        return Ok(come_back(show(&around, &filled)));
    };
    match app.notebook(move |book| book.update_frame(number, &draft)).await {
        Ok(()) => Ok(saved(&format!("/jobs/{job}"), &format!("frame-{id}"))),
        Err(error) => taken(error, &around, filled),
    }
}

/// One press for a frame that went as planned.
pub(super) async fn shot(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let (frame, job) = frame_of(&app, &id).await?;
    app.notebook(move |book| log::here::say(book, &frame, Said::Taken)).await?;
    Ok(Redirect::to(&format!("/jobs/{job}")))
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let (frame, job) = frame_of(&app, &id).await?;
    app.notebook(move |book| book.delete_frame(frame.id)).await?;
    Ok(Redirect::to(&format!("/jobs/{job}")))
}

fn show(around: &Around, filled: &Filled) -> Html<String> {
    let job = &around.job;
    let (title, action, keep) = match &around.frame {
        None => {
            (format!("{}: a frame", job.title), format!("/jobs/{}/frames/new", job.id), format!("frame-new-{}", job.id))
        }
        Some(frame) => (
            format!("{}: frame {}", job.title, frame.number),
            format!("/frames/{}", frame.id),
            format!("frame-{}", frame.id),
        ),
    };
    let rolls = around.rolls.iter().map(|roll| (roll.id.to_string(), roll.title.clone()));
    let body = html! {
        (filled.summary())
        form method="post" action=(action) data-keep=(keep) {
            div.fields {
                @if around.frame.is_none() && !around.rolls.is_empty() { (Field::choice("roll", "Roll", rolls).show(filled)) }
                (Field::number("number", "Frame").required().show(filled))
                (Field::text("label", "What is on it").show(filled))
                (Field::text("parts", "Set-up").hint("Parts from the body outwards, separated by commas; a bellows with its draw: bellows=85.").show(filled))
                (Field::text("focus", "Focus").hint("infinity, closest, or travel=MM.").required().show(filled))
                (Field::number("f_number", "f-number").hint("As engraved.").show(filled))
                (Field::text("metered_s", "The meter said").unit("s").hint("Seconds or a fraction: 1/60.").show(filled))
                (Field::text("shutter_s", "Shutter set to").unit("s").show(filled))
                (Field::choice("state", "It is", [("planned", "planned"), ("shot", "shot"), ("left-out", "left out")]).show(filled))
            }
            (Field::area("note", "Note").show(filled))
            div.actions { button.main { "Save the frame" } a href=(format!("/jobs/{}", job.id)) { "Back to the job" } }
        }
        @if let Some(frame) = &around.frame {
            form method="post" action=(format!("/frames/{}/delete", frame.id)) { button.quiet data-sure="Delete it?" { "Delete the frame" } p.hint { "Its scans stay." } }
        }
    };
    Sheet::new(&title, Place::Jobs).show(body)
}
