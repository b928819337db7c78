//! The computer's page of a roll's log: every frame as it was taken beside its plan, every entry, every photo.

use std::collections::HashMap;

use axum::extract::{Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Redirect, Response};
use kit::Kit;
use maud::{Markup, html};
use notebook::{Device, DeviceId, Entry, Exposed, Frame, FrameState, Job, Notebook, Photo, PhotoId, Roll, Said};

use super::desk::shown_time;
use super::sheet::state_word;
use super::{found, photos};
use crate::web::error::PageResult;
use crate::web::form::Filled;
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError, fmt, off_thread};

struct Whole {
    kit: Kit,
    job: Job,
    frames: Vec<Frame>,
    entries: Vec<Entry>,
    photos: Vec<Photo>,
    devices: HashMap<DeviceId, Device>,
}

fn read(book: &Notebook, roll: &Roll) -> Result<Whole, PageError> {
    let job = book.job(roll.job)?.ok_or_else(|| PageError::missing(format!("There is no job {}.", roll.job)))?;
    Ok(Whole {
        kit: read_kit(book)?,
        job,
        frames: book.frames(roll.id)?,
        entries: book.entries_of_roll(roll.id)?,
        photos: book.photos_of_roll(roll.id)?,
        devices: book.devices()?.into_iter().map(|device| (device.id, device)).collect(),
    })
}

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let roll = found(&app, &id).await?;
    let wanted = roll.clone();
    let whole = app.notebook(move |book| read(book, &wanted)).await?;
    let title = format!("{}: the log", roll.title);
    let body = html! {
        p { a href=(format!("/jobs/{}", roll.job)) { (whole.job.title) } @if !roll.film.is_empty() { " · " (roll.film) } @if let Some(iso) = roll.iso { ", ISO " (iso) } }
        (camera(&roll))
        (frames(&whole))
        (unplaced(&whole))
        (words(&whole))
    };
    Ok(Sheet::new(&title, Place::Jobs)
        .lead("What was exposed, as it was said at the camera, beside what was planned.")
        .show(body))
}

fn camera(roll: &Roll) -> Markup {
    html! {
        form method="post" action=(format!("/rolls/{}/at-camera", roll.id)) {
            div.actions {
                @if roll.at_camera {
                    a.button.main href="/phones" { "Phones" }
                    button name="open" value="no" { "Close it to phones" }
                    span.hint { "Paired phones can see this roll and log on it." }
                } @else {
                    button.main name="open" value="yes" { "Take it to the camera" }
                    span.hint { "Opens this roll to paired phones." }
                }
            }
        }
    }
}

fn frames(whole: &Whole) -> Markup {
    html! {
        section aria-labelledby="frames" {
            h2 id="frames" { "Frames" }
            @if whole.frames.is_empty() { p { "Nothing on it yet." } }
            ul.logged { @for frame in &whole.frames { li { (frame_block(frame, whole)) } } }
        }
    }
}

fn frame_block(frame: &Frame, whole: &Whole) -> Markup {
    let taken = frame.draft.exposed();
    let said: Vec<_> = whole.entries.iter().filter(|entry| entry.frame == Some(frame.id)).collect();
    let shown = whole.photos.iter().filter(|photo| photo.frame == Some(frame.id));
    html! {
        h3 id=(format!("frame-{}", frame.number)) {
            a href=(format!("/frames/{}", frame.id)) { "Frame " (frame.number) @if !frame.label.is_empty() { ": " (frame.label) } }
            span.soft { " " (state_line(frame)) }
        }
        @if !frame.purpose.is_empty() { p.small { (frame.purpose) } }
        @match &frame.planned {
            Some(plan) => (side_by_side(plan, &taken, &whole.kit)),
            None => p.small { (in_words(&taken, &whole.kit)) },
        }
        @if !frame.note.is_empty() { p.small { (frame.note) } }
        @if !said.is_empty() { ol.said { @for entry in said { li { (entry_line(entry, whole)) } } } }
        (pictures(shown))
    }
}

fn state_line(frame: &Frame) -> &'static str {
    match (frame.state, &frame.planned) {
        (FrameState::Shot, Some(_)) => "taken otherwise than planned",
        (FrameState::Shot, None) => "taken",
        (state, _) => state_word(state),
    }
}

fn in_words(set: &Exposed, kit: &Kit) -> String {
    let set_up = if set.parts.is_empty() { "no set-up noted".into() } else { set_up_name(kit, &set.parts) };
    let numbers = [set.f_number.map(|f| format!("f/{f}")), set.shutter_s.map(fmt::shutter)];
    let metered = set.metered_s.map(|s| format!("the meter said {}", fmt::shutter(s)));
    let all = [set_up, fmt::focus(&set.focus)].into_iter().chain(numbers.into_iter().flatten()).chain(metered);
    all.collect::<Vec<_>>().join(", ")
}

/// What differs, planned against taken; what does not is not repeated.
fn side_by_side(plan: &Exposed, taken: &Exposed, kit: &Kit) -> Markup {
    let name = |set: &Exposed| set_up_name(kit, &set.parts);
    let number = |f: Option<f64>| f.map_or("not said".into(), |f| format!("f/{f}"));
    let time = |s: Option<f64>| s.map_or("not said".into(), fmt::shutter);
    let rows = [
        ("set-up", plan.parts == taken.parts, name(plan), name(taken)),
        ("focus", plan.focus == taken.focus, fmt::focus(&plan.focus), fmt::focus(&taken.focus)),
        ("aperture", plan.f_number == taken.f_number, number(plan.f_number), number(taken.f_number)),
        ("shutter", plan.shutter_s == taken.shutter_s, time(plan.shutter_s), time(taken.shutter_s)),
        ("meter", plan.metered_s == taken.metered_s, time(plan.metered_s), time(taken.metered_s)),
    ];
    html! {
        table.stacked.against {
            thead { tr { th scope="col" { "" } th scope="col" { "planned" } th scope="col" { "taken" } } }
            tbody {
                @for (what, same, planned, taken) in rows {
                    tr {
                        th scope="row" { (what) }
                        @if same { td data-label="planned and taken" colspan="2" { (taken) } }
                        @else { td data-label="planned" { s { (planned) } } td data-label="taken" { strong { (taken) } } }
                    }
                }
            }
        }
    }
}

/// What an entry says, by whom and when: by the phone's clock, and by the computer's where that tells more.
fn entry_line(entry: &Entry, whole: &Whole) -> Markup {
    let who = entry.device.and_then(|id| whole.devices.get(&id)).map_or("at the computer", |device| &device.name);
    let late = entry.device.is_some() && entry.said_at.get(..16) != entry.arrived.get(..16);
    html! {
        (said_words(&entry.said, &whole.kit))
        @if !entry.meter.is_empty() { ", the meter: “" (entry.meter) "”" }
        @if !entry.note.is_empty() { ": " q { (entry.note) } }
        span.soft.small { " " (who) ", " (shown_time(&entry.said_at)) @if late { " by its clock; arrived " (shown_time(&entry.arrived)) } }
        @if !entry.remark.is_empty() { p.small { strong { (entry.remark) } } }
    }
}

fn said_words(said: &Said, kit: &Kit) -> String {
    let plain = match said {
        Said::Taken => "taken as planned",
        Said::Changed(_) => "taken with",
        Said::Extra(_) => "taken besides the plan, with",
        Said::LeftOut => "left out",
        Said::Note => "note",
        Said::PutBack => "put back to be taken",
    };
    let Some(set) = said.deviations() else { return plain.to_owned() };
    let set_up = set.parts.as_ref().map(|parts| set_up_name(kit, parts));
    let focus = set.focus.as_deref().map(fmt::focus);
    let numbers = [set.f_number.map(|f| format!("f/{f}")), set.shutter_s.map(fmt::shutter)];
    let all: Vec<_> = [set_up, focus].into_iter().chain(numbers).flatten().collect();
    if all.is_empty() { format!("{plain} its plan unchanged") } else { format!("{plain} {}", all.join(", ")) }
}

fn pictures<'a>(photos: impl Iterator<Item = &'a Photo>) -> Markup {
    html! {
        div.photos {
            @for photo in photos {
                @if photo.stored.is_some() {
                    figure {
                        a href=(format!("/photos/{}", photo.id)) { img src=(format!("/photos/{}", photo.id)) alt=(caption(photo)) loading="lazy"; }
                        figcaption.small {
                            (shown_time(&photo.said_at))
                            form method="post" action=(format!("/photos/{}/delete", photo.id)) { button.quiet data-sure="Delete the photo?" { "Delete" } }
                        }
                    }
                } @else { p.soft.small { "A photo of " (shown_time(&photo.said_at)) " is still on its way from the phone." } }
            }
        }
    }
}

fn caption(photo: &Photo) -> String {
    match photo.number {
        Some(number) => format!("The set-up of frame {number}"),
        None => "The set-up".to_owned(),
    }
}

/// Entries and photos of frames that are gone or never were: kept, with the reason.
fn unplaced(whole: &Whole) -> Markup {
    let entries: Vec<_> = whole.entries.iter().filter(|e| e.frame.is_none() && e.number.is_some()).collect();
    let photos: Vec<_> = whole.photos.iter().filter(|p| p.frame.is_none() && p.number.is_some()).collect();
    html! {
        @if !entries.is_empty() || !photos.is_empty() {
            section aria-labelledby="unplaced" {
                h2 id="unplaced" { "Said of frames that are not here" }
                ol.said { @for entry in entries { li { "Frame " (entry.number.unwrap_or_default()) ": " (entry_line(entry, whole)) } } }
                (pictures(photos.into_iter()))
            }
        }
    }
}

/// Notes and photos of the roll as a whole.
fn words(whole: &Whole) -> Markup {
    let entries: Vec<_> = whole.entries.iter().filter(|entry| entry.number.is_none()).collect();
    let photos: Vec<_> = whole.photos.iter().filter(|photo| photo.number.is_none()).collect();
    html! {
        @if !entries.is_empty() || !photos.is_empty() {
            section aria-labelledby="words" {
                h2 id="words" { "Of the roll as a whole" }
                ol.said { @for entry in entries { li { (entry_line(entry, whole)) } } }
                (pictures(photos.into_iter()))
            }
        }
    }
}

pub(super) async fn at_camera(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Redirect, PageError> {
    let roll = found(&app, &id).await?;
    let open = filled.text("open") == "yes";
    app.notebook(move |book| book.set_roll_at_camera(roll.id, open)).await?;
    Ok(Redirect::to(&if open { "/phones".into() } else { format!("/rolls/{id}/log") }))
}

async fn photo_of(app: &App, id: &str) -> Result<Photo, PageError> {
    let number: PhotoId =
        id.parse().map_err(|_| PageError::missing(format!("“{id}” is not the number of a photo.")))?;
    let photo = app.notebook(move |book| book.photo(number)).await?;
    photo.ok_or_else(|| PageError::missing(format!("There is no photo {id}.")))
}

pub(super) async fn photo(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let photo = photo_of(&app, &id).await?;
    let missing = || PageError::missing(format!("Photo {id} is still on its way from the phone."));
    let stored = photo.stored.ok_or_else(missing)?;
    let kind = if stored.ends_with(".png") { "image/png" } else { "image/jpeg" };
    let path = photos::file_of(&app, &stored);
    let bytes = off_thread(move || std::fs::read(path)).await?;
    let bytes = bytes.map_err(|cause| PageError::broken("The photo's file cannot be read.", cause))?;
    Ok(([(CONTENT_TYPE, kind)], bytes).into_response())
}

pub(super) async fn delete_photo(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let photo = photo_of(&app, &id).await?;
    let deleting = app.clone();
    let stored = app.notebook(move |book| book.delete_photo(photo.id)).await?;
    if let Some(stored) = stored {
        // A file that is gone already is no fault.
        let _ = off_thread(move || std::fs::remove_file(photos::file_of(&deleting, &stored))).await?;
    }
    Ok(Redirect::to(&photo.roll.map_or("/jobs".into(), |roll| format!("/rolls/{roll}/log"))))
}
