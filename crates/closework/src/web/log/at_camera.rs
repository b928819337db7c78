//! What a phone may ask for: to be paired, the rolls that were opened, their sheets, and to say what was exposed.

use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_TYPE, SET_COOKIE};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum::{Json, Router};
use maud::{DOCTYPE, html};
use notebook::{FrameId, Notebook, PhotoDraft, Roll, RollId};
use serde::{Deserialize, Serialize};

use super::arriving::{self, Answer};
use super::pairing::NotPaired;
use super::phone::{COOKIE, Phone, PhoneError, head, plain};
use super::sheet::Sheet;
use super::{photos, random};
use crate::web::error::sentence;
use crate::web::form::{Field, Filled};
use crate::web::{App, PageError, assets, clock, off_thread, security};

pub use security::Here;

/// The files that a phone's pages load; no others are given to it.
const ASSETS: [&str; 6] = ["style.css", "log.css", "light.js", "log.js", "log-kept.js", "mark.svg"];
/// The longest name of a phone, letters.
const NAME: usize = 40;

/// Everything that the listener for phones answers. Needs no socket, so tests can call it; they hand in [`Here`].
pub fn router(app: App) -> Router {
    let routes = Router::new()
        .route("/", get(front))
        .route("/pair", get(pair_page).post(pair))
        .route("/rolls/{id}", get(page))
        .route("/rolls/{id}/sheet", get(sheet))
        .route("/rolls/{id}/entries", post(entries).layer(DefaultBodyLimit::max(arriving::BATCH_LIMIT)))
        .route("/rolls/{id}/photos/{uid}", post(photo).layer(DefaultBodyLimit::max(photos::PIECE_LIMIT)))
        .route("/assets/{name}", get(asset))
        .fallback(nothing)
        .method_not_allowed_fallback(nothing);
    security::guard_camera(routes).with_state(app)
}

async fn nothing() -> PhoneError {
    PageError::missing("There is nothing here.").into()
}

async fn asset(Path(name): Path<String>) -> Result<Response, PhoneError> {
    let found = ASSETS.contains(&name.as_str()).then(|| assets::find(&name)).flatten();
    let (kind, content) = found.ok_or_else(|| PageError::missing(format!("There is no file {name} here.")))?;
    Ok(([(CONTENT_TYPE, kind)], content).into_response())
}

/// The rolls that are open; the only one at once.
async fn front(State(app): State<App>, phone: Result<Phone, PhoneError>) -> Result<Response, PhoneError> {
    if phone.is_err() {
        return Ok(Redirect::to("/pair").into_response());
    }
    let rolls = app.notebook(|book| book.rolls_at_camera()).await?;
    if let [roll] = rolls.as_slice() {
        return Ok(Redirect::to(&format!("/rolls/{}", roll.id)).into_response());
    }
    let body = html! {
        @if rolls.is_empty() {
            p { "No roll is open for phones. At the computer, open a roll's log and press “Take it to the camera”, then load this page again." }
        }
        nav.camera-rolls aria-label="Rolls" {
            @for roll in &rolls { a.button href=(format!("/rolls/{}", roll.id)) { (roll.title) @if !roll.film.is_empty() { " · " (roll.film) } } }
        }
    };
    Ok(plain("Which roll is in the camera?", body).into_response())
}

#[derive(Debug, Default, Deserialize)]
struct CodeQuery {
    #[serde(default)]
    code: String,
}

async fn pair_page(Query(query): Query<CodeQuery>) -> Html<String> {
    let digits: String = query.code.chars().filter(char::is_ascii_digit).take(6).collect();
    pair_form(&[("code", digits.as_str())].into_iter().collect())
}

fn pair_form(filled: &Filled) -> Html<String> {
    let body = html! {
        p { "The computer shows a code on its page “Phones”. The phone may then see and log the rolls that are opened there, and nothing else." }
        (filled.summary_of("The phone was not paired:"))
        form.camera-pair method="post" action="/pair" {
            (Field::number("code", "The code").hint("Six digits.").required().show(filled))
            (Field::text("name", "What this phone is called").hint("So that you know it again in the list at the computer.").show(filled))
            div.actions { button.main { "Pair this phone" } }
        }
        p.note.small { "The connection is not encrypted: use it only in a network that you trust." }
    };
    plain("Pair this phone", body)
}

async fn pair(State(app): State<App>, mut filled: Filled) -> Result<Response, PhoneError> {
    if let Err(refusal) = app.camera().door.try_code(filled.text("code")) {
        let status = match refusal {
            NotPaired::Pause { .. } => StatusCode::TOO_MANY_REQUESTS,
            NotPaired::NoCode | NotPaired::Wrong { .. } => StatusCode::UNPROCESSABLE_ENTITY,
        };
        filled.wrong("code", sentence(&refusal.to_string()));
        return Ok((status, pair_form(&filled)).into_response());
    }
    let name: String = filled.text("name").chars().filter(|c| !c.is_control()).take(NAME).collect();
    let name = if name.trim().is_empty() { "Phone".to_owned() } else { name };
    let token = random::token()?;
    let hash = random::hash(&token);
    app.notebook(move |book| book.add_device(&name, &hash, &clock::now())).await?;
    let cookie = format!("{COOKIE}={token}; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict");
    Ok(([(SET_COOKIE, cookie)], Redirect::to("/")).into_response())
}

/// The roll of an address, if it is open for phones.
fn open_roll(book: &Notebook, id: &str) -> Result<Roll, PhoneError> {
    let number: RollId = id.parse().map_err(|_| PhoneError::not_open(id))?;
    let roll = book.roll(number).map_err(PageError::from)?.filter(|roll| roll.at_camera);
    roll.ok_or_else(|| PhoneError::not_open(id))
}

/// Works with an open roll off the server's own threads.
async fn with_roll<T: Send + 'static>(
    app: App,
    id: String,
    act: impl FnOnce(&mut Notebook, Roll) -> Result<T, PhoneError> + Send + 'static,
) -> Result<T, PhoneError> {
    let work = move || app.with_notebook(|book| open_roll(book, &id).and_then(|roll| act(book, roll)));
    off_thread(work).await?
}

async fn sheet(State(app): State<App>, phone: Phone, Path(id): Path<String>) -> Result<Json<Sheet>, PhoneError> {
    with_roll(app, id, move |book, roll| Ok(Json(Sheet::of(book, &roll, &phone.0)?))).await
}

#[derive(Debug, Serialize)]
struct Answered {
    #[serde(flatten)]
    answer: Answer,
    sheet: Sheet,
}

async fn entries(
    State(app): State<App>,
    phone: Phone,
    Path(id): Path<String>,
    body: Result<Bytes, axum::extract::rejection::BytesRejection>,
) -> Result<Json<Answered>, PhoneError> {
    let body =
        body.map_err(|_| PageError::too_large("More entries came than are taken at once.", "The phone keeps them."))?;
    let batch = arriving::read(&body)?;
    let keep = move |book: &mut Notebook, roll: Roll| {
        let answer = arriving::keep(book, roll.id, phone.0.id, &batch)?;
        Ok(Json(Answered { answer, sheet: Sheet::of(book, &roll, &phone.0)? }))
    };
    with_roll(app, id, keep).await
}

#[derive(Debug, Deserialize)]
struct Piece {
    frame: Option<i64>,
    number: Option<u32>,
    bytes: u64,
    offset: u64,
    at: String,
}

async fn photo(
    State(app): State<App>,
    phone: Phone,
    Path((id, uid)): Path<(String, String)>,
    piece: Result<Query<Piece>, axum::extract::rejection::QueryRejection>,
    body: Result<Bytes, axum::extract::rejection::BytesRejection>,
) -> Result<Json<photos::Standing>, PhoneError> {
    let unread = |what: String| PageError::refused(what, "Take the photo again.");
    let Query(piece) = piece.map_err(|error| unread(error.body_text()))?;
    let uid = uid.parse().map_err(|error: notebook::UidError| unread(sentence(&error.to_string())))?;
    let body =
        body.map_err(|_| PageError::too_large("The piece of the photo is too large.", "Load the page again."))?;
    let roll = with_roll(app.clone(), id, |_, roll| Ok(roll.id)).await?;
    let draft = PhotoDraft {
        uid,
        roll,
        frame: piece.frame.map(FrameId),
        number: piece.number,
        device: Some(phone.0.id),
        bytes: piece.bytes,
        said_at: piece.at.chars().take(40).collect(),
    };
    off_thread(move || photos::take(&app, &draft, piece.offset, &body)).await?.map(Json)
}

/// The log itself. All that moves is drawn by its script, which goes on without a connection.
async fn page(State(app): State<App>, phone: Phone, Path(id): Path<String>) -> Result<Html<String>, PhoneError> {
    let sheet = with_roll(app, id, move |book, roll| Ok((Sheet::of(book, &roll, &phone.0)?, roll))).await;
    let (sheet, roll) = sheet?;
    let sheet = serde_json::to_string(&sheet).map_err(|error| PageError::broken("The roll cannot be sent.", error))?;
    Ok(shell(&roll, &sheet))
}

fn shell(roll: &Roll, sheet: &str) -> Html<String> {
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            (head(&roll.title, Some("/assets/log.js")))
            body.at-camera data-sheet=(sheet) {
                header.log-head {
                    div.log-title { h1 { (roll.title) } button.quiet type="button" id="light" aria-label="Light: paper, dim or red" { "Light" } }
                    p.log-standing id="standing" role="status" aria-live="polite" { "…" }
                    div.log-trouble id="trouble" hidden {}
                }
                main.log-frames id="main" tabindex="-1" aria-label="Frames" { ol id="frames" {} }
                section.log-panel id="panel" aria-label="The frame at hand" {
                    noscript { p.warning { "This page needs its scripts: they keep what you log when the connection is lost." } }
                }
            }
        }
    };
    Html(markup.into_string())
}
