//! Frames, photographs and pairs entered by hand.

use axum::extract::{Path, State};
use axum::response::{Redirect, Response};
use calibration::MOST_FRAMES;
use kit::{Kind, Kit};
use notebook::Notebook;

use super::kept::{self, hand_name};
use super::page::{Around, show};
use super::seen::usable;
use crate::calibrating::{At, CloseUpEntry, FrameEntry, Number, PupilEntry, Reading, Side, power_of};
use crate::web::error::sentence;
use crate::web::form::{Filled, come_back, parse_magnification, parse_number, saved};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

/// "0.6138", "0.6138 ± 0.002", "1:2".
fn number(filled: &mut Filled, name: &str, ratio: bool) -> Option<Number> {
    let typed = filled.text(name).to_owned();
    if typed.is_empty() {
        return None;
    }
    let (value, plus_minus) = match typed.split_once('±').or_else(|| typed.split_once("+-")) {
        Some((value, plus_minus)) => (value.trim(), Some(plus_minus.trim())),
        None => (typed.as_str(), None),
    };
    let value = if ratio { parse_magnification(value) } else { parse_number(value) };
    let half_width = plus_minus.map(parse_number);
    match (value, half_width) {
        (Some(value), None) => Some(Number::plain(value)),
        (Some(value), Some(Some(half_width))) if half_width > 0.0 => {
            Some(Number { value, plus_minus: Some(half_width) })
        }
        _ => {
            let example = if ratio { "0.614, 0.614 ± 0.002 or 1:2" } else { "12.5 or 12.5 ± 0.2" };
            filled.wrong(name, format!("“{typed}” is no figure that can be used here. Write it like {example}."));
            None
        }
    }
}

fn positive(filled: &mut Filled, name: &str) -> Option<Number> {
    let found = number(filled, name, false)?;
    if found.value <= 0.0 {
        filled.wrong(name, format!("{} is not above 0.", found.value));
        return None;
    }
    Some(found)
}

/// A magnification, or pixels per mm with the pitch; `wrong` when neither is there.
fn reading(filled: &mut Filled, m: &str, scale: &str, pitch: &str, needed: bool) -> Option<Reading> {
    let (m_found, scale_found) = (number(filled, m, true), positive(filled, scale));
    match (m_found, scale_found) {
        (Some(_), Some(_)) => {
            filled.wrong(scale, "Give the magnification or the pixels per mm, not both.");
            None
        }
        (Some(m), None) => Some(Reading::Magnification(m)),
        (None, Some(px_per_mm)) => {
            let pitch_um = filled.number_within(pitch, 0.5, 500.0, "µm");
            if pitch_um.is_none() {
                filled.wrong(pitch, "Pixels per mm need the pitch of the scan: 25400 divided by its dots per inch.");
            }
            Some(Reading::Scan { px_per_mm, pitch_um: pitch_um? })
        }
        (None, None) => {
            if needed && filled.error(m).is_none() && filled.error(scale).is_none() {
                filled.wrong(
                    m,
                    "How large did the ruler come out? Give the magnification, or pixels per mm and the pitch.",
                );
            }
            None
        }
    }
}

fn at(filled: &mut Filled) -> Option<At> {
    match filled.text("focus") {
        "closest" => Some(At::Closest),
        "travel" => {
            let travel = number(filled, "travel", false);
            match travel {
                Some(travel) if travel.value >= 0.0 => Some(At::Travel(travel)),
                _ => {
                    filled.wrong("travel", "How far forward of its infinity mark did the lens stand, in mm?");
                    None
                }
            }
        }
        _ => Some(At::Infinity),
    }
}

/// The label typed, or one made; entries of a kind differ in it.
fn label(filled: &mut Filled, made: &str, taken: &[&str]) -> String {
    let typed: String = filled.text("label").chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    if typed.is_empty() {
        let free = (1..).map(|n| format!("{made} {n}")).find(|label| !taken.contains(&label.as_str()));
        return free.unwrap_or_default();
    }
    if taken.contains(&typed.as_str()) {
        filled.wrong("label", format!("“{typed}” is taken already; give each its own name."));
    }
    typed
}

/// Body, adapters, tubes, bellows, lens, as they join: with the adapters at the body or at the lens.
fn parts(filled: &mut Filled, kit: &Kit, lens: &str) -> Vec<String> {
    let ids = |name: &str, filled: &Filled| -> Vec<String> {
        filled.all(name).map(str::trim).filter(|id| !id.is_empty()).map(str::to_owned).collect()
    };
    let body = ids("body", filled);
    let (tubes, adapters) = (ids("tube", filled), ids("adapter", filled));
    let mut bellows = ids("bellows", filled);
    if let Some(first) = bellows.first_mut() {
        let range = kit.part(first).map(|part| part.numbers("draw_mm")).unwrap_or_default();
        if let Some(draw) = filled.number("draw") {
            *first = format!("{first}={draw}");
        } else if let [shortest, longest] = range[..] {
            filled.wrong("draw", format!("How far is the bellows drawn out? It goes from {shortest} to {longest} mm."));
        }
    }
    let joined = |pieces: [&[String]; 4]| -> Vec<String> {
        pieces.into_iter().flatten().cloned().chain([lens.to_owned()]).collect()
    };
    let at_body = joined([&body, &adapters, &tubes, &bellows]);
    let at_lens = joined([&body, &tubes, &bellows, &adapters]);
    let joins = |parts: &[String]| {
        kit::Setup::resolve(kit, &kit::SetupRequest { parts: parts.to_vec(), ..Default::default() }).is_ok()
    };
    if joins(&at_body) || !joins(&at_lens) { at_body } else { at_lens }
}

/// The page again, with what is wrong.
fn back(around: &Around, filled: &Filled, manners: Manners) -> Response {
    come_back(show(around, filled, manners.units))
}

fn full(filled: &mut Filled, count: usize) {
    if count >= MOST_FRAMES {
        filled.wrong(
            "",
            format!("{count} of these are there already, and no more are fitted together; take one away first."),
        );
    }
}

fn done(around: &Around, what: &str) -> Response {
    saved(&around.address("#entries"), &format!("calibrate-{what}-{}", around.part.id()))
}

/// Keeps the entry that was added.
async fn keep(app: &App, around: &Around) -> Result<(), PageError> {
    let (id, kept) = (around.part.id().to_owned(), around.kept.clone());
    app.notebook(move |book| kept::write(book, &id, &kept)).await
}

pub(super) async fn add_frame(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let mut around = Around::of(&app, id).await?;
    full(&mut filled, around.given().frames.len());
    let taken: Vec<&str> = around.kept.given.frames.iter().map(|frame| frame.label.as_str()).collect();
    let seen = around.frames.iter().map(|seen| seen.label.as_str());
    let label = label(&mut filled, "Frame by hand", &taken.into_iter().chain(seen).collect::<Vec<_>>());
    let parts = parts(&mut filled, &around.kit, around.part.id());
    let reading = reading(&mut filled, "magnification", "px_per_mm", "pitch_um", true);
    let (at, distance) = (at(&mut filled), positive(&mut filled, "subject_to_film"));
    let (Some(reading), Some(at), false) = (reading, at, filled.has_errors()) else {
        return Ok(back(&around, &filled, manners));
    };
    let entry = FrameEntry { label, parts, at, reading, subject_to_film_mm: distance };
    if let Err(why) = usable(&around.kit, &around.part, &entry) {
        filled.wrong("tube", sentence(&why));
        return Ok(back(&around, &filled, manners));
    }
    around.kept.given.frames.push(entry);
    keep(&app, &around).await?;
    Ok(done(&around, "frame"))
}

pub(super) async fn add_pupil(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let mut around = Around::of(&app, id).await?;
    full(&mut filled, around.kept.given.pupils.len());
    let side = if filled.text("side") == "back" { Side::Back } else { Side::Front };
    let diameter = positive(&mut filled, "diameter_px");
    if diameter.is_none() {
        filled.wrong("diameter_px", "How many pixels across is the bright disc?");
    }
    let scale = positive(&mut filled, "disc_px_per_mm");
    let (camera, depth) = (positive(&mut filled, "camera_mm"), number(&mut filled, "depth_mm", false));
    if camera.is_some() != depth.is_some() {
        let missing = if camera.is_some() { "depth_mm" } else { "camera_mm" };
        filled.wrong(missing, "Give both the camera's distance and how deep the disc lies, or neither.");
    }
    let pupils = &around.kept.given.pupils;
    if pupils.iter().any(|pupil| pupil.px_per_mm.is_some() != scale.is_some()) {
        filled.wrong(
            "disc_px_per_mm",
            "Either all photographs have a scale, or none has one and all were taken by one camera from one distance.",
        );
    }
    let (Some(diameter_px), false) = (diameter, filled.has_errors()) else {
        return Ok(back(&around, &filled, manners));
    };
    let taken: Vec<&str> = pupils.iter().map(|pupil| pupil.label.as_str()).collect();
    let label = label(&mut Filled::default(), &format!("From the {}", side.word()), &taken);
    let entry =
        PupilEntry { label, lens: None, side, diameter_px, px_per_mm: scale, camera_mm: camera, depth_mm: depth };
    around.kept.given.pupils.push(entry);
    keep(&app, &around).await?;
    Ok(done(&around, "pupil"))
}

pub(super) async fn add_pair(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let mut around = Around::of(&app, id).await?;
    full(&mut filled, around.given().close_ups.len());
    let lens = filled.text("lens").to_owned();
    if around.kit.part(&lens).is_none_or(|part| part.kind() != Kind::Lens) {
        filled.wrong("lens", "Which lens was it screwed to?");
    }
    let at = at(&mut filled);
    let needed = at.is_some_and(|at| at != At::Infinity);
    let without = reading(&mut filled, "magnification_without", "px_per_mm_without", "pitch_um", needed);
    if at == Some(At::Infinity) && without.is_some() {
        filled.wrong(
            "magnification_without",
            "At its infinity mark a lens shows nothing near sharp; leave this blank, or say where it was focused.",
        );
    }
    let with = reading(&mut filled, "magnification_with", "px_per_mm_with", "pitch_um", true);
    let taken: Vec<&str> = around.kept.given.close_ups.iter().map(|pair| pair.label.as_str()).collect();
    let seen = around.pairs.iter().map(|seen| seen.label.as_str());
    let label = label(&mut filled, "Pair by hand", &taken.into_iter().chain(seen).collect::<Vec<_>>());
    let (Some(at), Some(with), false) = (at, with, filled.has_errors()) else {
        return Ok(back(&around, &filled, manners));
    };
    let rings = filled.all("ring").map(str::trim).filter(|ring| !ring.is_empty()).map(str::to_owned).collect();
    let part = around.part.id().to_owned();
    let entry = CloseUpEntry { label, part, lens, body: None, rings, at, without, with };
    // The pair alone: whether its parts join and its figures make a lens at all.
    if let Err(trouble) = power_of(&around.kit, &around.part, &around.kept.given, &[&entry]) {
        let words = match trouble {
            crate::calibrating::Trouble::Entry { why, .. } => why,
            crate::calibrating::Trouble::Refused { source, .. } => source.to_string(),
            other => other.to_string(),
        };
        filled.wrong("lens", sentence(&words));
        return Ok(back(&around, &filled, manners));
    }
    around.kept.given.close_ups.push(entry);
    keep(&app, &around).await?;
    Ok(done(&around, "pair"))
}

/// Takes an entry made by hand away: "frame A1", "pupil From the front 1", "pair …".
pub(super) async fn drop_one(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Redirect, PageError> {
    let next = format!("/kit/part/{id}/calibrate#entries");
    let what = filled.text("what").to_owned();
    let act = move |book: &mut Notebook| {
        let mut kept = kept::read(book, &id)?;
        let (kind, label) = what.split_once(' ').unwrap_or((&what, ""));
        match kind {
            "frame" => kept.given.frames.retain(|frame| frame.label != label),
            "pupil" => kept.given.pupils.retain(|pupil| pupil.label != label),
            "pair" => kept.given.close_ups.retain(|pair| pair.label != label),
            _ => {}
        }
        let name = hand_name(label);
        kept.left_out.retain(|left| *left != name);
        kept::write(book, &id, &kept).map_err(PageError::from)
    };
    app.notebook(act).await?;
    Ok(Redirect::to(&next))
}
