//! The computer's page for phones: opening the door, the code, the list of phones.

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use notebook::{Device, DeviceId, Job, Notebook, Roll};

use super::door::reachable;
use super::pairing::Code;
use super::{AT_START, qr, random};
use crate::web::error::{PageResult, sentence};
use crate::web::form::Filled;
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError, clock};

struct Desk {
    devices: Vec<Device>,
    rolls: Vec<(Roll, Job)>,
    at_start: bool,
}

fn read(book: &Notebook) -> Result<Desk, PageError> {
    let mut rolls = Vec::new();
    for roll in book.rolls_at_camera()? {
        rolls.extend(book.job(roll.job)?.map(|job| (roll, job)));
    }
    let at_start = book.setting(AT_START)?.as_deref() == Some("yes");
    Ok(Desk { devices: book.devices()?, rolls, at_start })
}

pub(super) async fn page(State(app): State<App>) -> PageResult {
    let desk = app.notebook(|book| read(book)).await?;
    let body = html! {
        (door(&app, &desk))
        (rolls(&desk))
        (phones(&desk))
    };
    let lead =
        "The log at the camera: a phone shows the frames to take, one tap for each, and keeps what it cannot send yet.";
    Ok(Sheet::new("Phones", Place::Jobs).lead(lead).script("/assets/phones.js").show(body))
}

fn door(app: &App, desk: &Desk) -> Markup {
    let address = app.camera().door.address();
    html! {
        section aria-labelledby="door" {
            h2 id="door" { "The way in" }
            @match address {
                None => {
                    p { "No phone can reach Closework now: it answers this machine alone." }
                    form method="post" action="/phones/open" { div.actions { button.main { "Let phones in" } } }
                },
                Some(bound) => {
                    (ways(app, &reachable(bound)))
                    form method="post" action="/phones/close" { div.actions { button { "Shut phones out" } span.hint { "At once. What a phone has not sent stays on it." } } }
                },
            }
            form method="post" action="/phones/at-start" {
                div.actions {
                    button.quiet name="on" value=(if desk.at_start { "no" } else { "yes" }) {
                        @if desk.at_start { "Do not let phones in at every start" } @else { "Let phones in at every start" }
                    }
                    span.hint { @if desk.at_start { "As it is, paired phones can come in whenever Closework runs." } @else { "As it is, the way in is shut again when Closework ends." } }
                }
            }
            div.note {
                p { "Phone and computer must be in the same network. What they say to each other is not encrypted: use this only in a network that you trust. The code and a phone's own token keep others out of the log; nothing but the log of the rolls opened below can be reached this way." }
            }
        }
    }
}

/// The addresses, and the code while one is waiting.
fn ways(app: &App, addresses: &[std::net::SocketAddr]) -> Markup {
    let door = &app.camera().door;
    html! {
        @if addresses.is_empty() {
            div.warning { p { "This machine is in no network just now. Join the one that the phone is in, then load this page again." } }
        }
        @if let Some((code, left)) = door.code() {
            @let first = addresses.first().map(|address| format!("http://{address}/pair?code={}", code.digits()));
            div.pairing data-left=(left.as_secs()) {
                @if let Some(link) = &first { (qr::drawing(link, &format!("QR code for {link}")).unwrap_or_default()) }
                div {
                    p { "Point the phone's camera at this, or type the address and the code:" }
                    (list(addresses))
                    p.code-shown { (code.spaced()) }
                    p.hint { "Good for one phone, for " span.left { (left.as_secs().div_ceil(60)) } " more minutes." }
                }
            }
        } @else {
            p { "Paired phones find the log at:" }
            (list(addresses))
            @if let Err(wait) = door.paused() { div.warning { p { (sentence(&wait.to_string())) } } }
        }
        form method="post" action="/phones/code" { div.actions { button.main { @if door.code().is_some() { "Show another code" } @else { "Pair a phone" } } } }
    }
}

fn list(addresses: &[std::net::SocketAddr]) -> Markup {
    html! { ul.addresses { @for address in addresses { li { code { "http://" (address) "/" } } } } }
}

fn rolls(desk: &Desk) -> Markup {
    html! {
        section aria-labelledby="rolls" {
            h2 id="rolls" { "Rolls open to phones" }
            @if desk.rolls.is_empty() { p { "None. Open a " a href="/jobs" { "job" } ", then the log of its roll, and take that to the camera." } }
            ul.frames {
                @for (roll, job) in &desk.rolls {
                    li {
                        a href=(format!("/rolls/{}/log", roll.id)) { (roll.title) ", " (job.title) }
                        form method="post" action=(format!("/rolls/{}/at-camera", roll.id)) { button.quiet name="open" value="no" { "Close it to phones" } }
                    }
                }
            }
        }
    }
}

fn phones(desk: &Desk) -> Markup {
    html! {
        section aria-labelledby="phones" {
            h2 id="phones" { "Paired phones" }
            @if desk.devices.is_empty() { p { "None yet." } }
            ul.frames {
                @for device in &desk.devices {
                    li {
                        div {
                            (device.name)
                            p.soft.small { "paired " (shown_time(&device.paired)) ", last heard of " (shown_time(&device.seen)) }
                        }
                        @match &device.revoked {
                            Some(when) => span.soft { "turned away " (shown_time(when)) },
                            None => form method="post" action=(format!("/phones/{}/revoke", device.id)) { button.quiet data-sure="It must be paired anew. Turn it away?" { "Turn it away" } },
                        }
                    }
                }
            }
        }
    }
}

/// A time as the notebook keeps it, to the minute: "2026-03-01 09:00 UTC".
pub(super) fn shown_time(rfc3339: &str) -> String {
    match (rfc3339.get(..10), rfc3339.get(11..16)) {
        (Some(day), Some(time)) => format!("{day} {time} UTC"),
        _ => rfc3339.to_owned(),
    }
}

pub(super) async fn open(State(app): State<App>) -> Result<Response, PageError> {
    let advice = "See whether another program, or a second Closework, listens there.";
    app.camera().door.open(&app).map_err(|error| PageError::refused(sentence(&error.to_string()), advice))?;
    show_code(&app)
}

/// A fresh code, and back to the page; during a pause the page says why there is none.
fn show_code(app: &App) -> Result<Response, PageError> {
    let _paused = app.camera().door.show_code(Code::of(random::number()?));
    Ok(Redirect::to("/phones").into_response())
}

pub(super) async fn close(State(app): State<App>) -> Result<Redirect, PageError> {
    let closing = tokio::task::spawn_blocking(move || app.camera().door.close());
    closing.await.map_err(|why| PageError::broken("The way in for phones could not be shut.", why))?;
    Ok(Redirect::to("/phones"))
}

pub(super) async fn code(State(app): State<App>) -> Result<Response, PageError> {
    if app.camera().door.address().is_none() {
        return Err(PageError::refused("No phone can come in while the way in is shut.", "Let phones in first."));
    }
    show_code(&app)
}

pub(super) async fn at_start(State(app): State<App>, filled: Filled) -> Result<Redirect, PageError> {
    let on = if filled.text("on") == "yes" { "yes" } else { "no" };
    app.notebook(move |book| book.set_setting(AT_START, on)).await?;
    Ok(Redirect::to("/phones"))
}

pub(super) async fn revoke(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let number: DeviceId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a phone.")))?;
    app.notebook(move |book| book.revoke_device(number, &clock::now())).await?;
    Ok(Redirect::to("/phones"))
}
