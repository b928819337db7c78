//! From the form to a trial: everything that could spoil it is refused before the first pick.

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use imaging::pyramid::{self, PieceLight};
use kit::Kit;
use notebook::{Notebook, Scan, ScanId, TrialDraft};

use super::form::{self, Offered, Whole};
use super::{MARKED, mark, shown};
use crate::documents::MADE_BY;
use crate::pieces::{FramePlace, one_tone};
use crate::trial::{FEWEST, MOST, TrialDocument, TrialScan};
use crate::web::error::PageError;
use crate::web::form::{Filled, come_back, saved};
use crate::web::jobs::found;
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::scans::tiles_of;
use crate::web::{App, clock, fmt, off_thread};

/// Side of a piece as shown: two fit beside each other on most screens.
pub(super) const PIECE_PX: u32 = 480;
/// A scan that would be enlarged further shows its own pixels and little else.
const MOST_ENLARGED: f64 = 4.0;

pub(super) async fn begin(
    State(app): State<App>,
    Path(id): Path<String>,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let key = format!("trial-{}", job.id);
    let number = job.id;
    let read = move |book: &mut Notebook| Ok::<_, PageError>((form::read(book, job)?, set_ups(book)?));
    let (whole, set_ups) = app.notebook(read).await?;
    let chosen = chosen(&whole, &mut filled);
    let question = filled.required_text("question");
    let piece_mm = filled.number_within("piece_mm", 0.01, 1000.0, "mm");
    if filled.has_errors() {
        return Ok(come_back(form::show(&app, &whole, &filled)));
    }
    if filled.text("place") == MARKED && !marked(&chosen, &filled) {
        return Ok(Redirect::to(&marking(&id, &filled)).into_response());
    }
    let scans: Vec<TrialScan> = chosen.iter().filter_map(|offered| candidate(offered, &set_ups)).collect();
    let finest = scans.iter().map(|scan| scan.px_per_mm).fold(0.0, f64::max);
    let mut document = TrialDocument {
        question,
        seed: getrandom::u64().map_err(|cause| {
            PageError::broken("This machine gave no random number, so no order could be drawn.", cause)
        })?,
        scans,
        place: String::new(),
        piece_mm: piece_mm.unwrap_or(f64::from(PIECE_PX) / finest),
        piece_px: PIECE_PX,
        one_tone: filled.ticked("one_tone"),
        made_by: MADE_BY.into(),
    };
    place(&app, &chosen, &mut document, &mut filled);
    if filled.has_errors() {
        let page = if filled.text("place") == MARKED {
            mark::show(&app, &whole, filled)
        } else {
            form::show(&app, &whole, &filled)
        };
        return Ok(come_back(page));
    }
    mix(&mut document);
    let stored = stored_names(&chosen, &document);
    let app_there = app.clone();
    let document = off_thread(move || toned(&app_there, document, &stored))
        .await?
        .map_err(|why| PageError::broken("A piece of one of the scans could not be read.", why))?;
    let title = Some(filled.text("title")).filter(|title| !title.is_empty()).unwrap_or(&document.question).to_owned();
    let text = serde_json::to_string(&document)
        .map_err(|cause| PageError::broken("The trial could not be written down.", cause))?;
    let draft = TrialDraft { title, document: text };
    let trial = app.notebook(move |book| book.add_trial(number, &draft, &clock::now())).await?;
    Ok(saved(&format!("/trials/{trial}"), &key))
}

/// The kit, and the parts, focus and f-number of each frame, for the set-up in words.
struct SetUps {
    kit: Kit,
    frames: Vec<notebook::Frame>,
}

fn set_ups(book: &Notebook) -> Result<SetUps, PageError> {
    let mut frames = Vec::new();
    for job in book.jobs()? {
        frames.extend(book.frames_of_job(job.id)?);
    }
    Ok(SetUps { kit: read_kit(book)?, frames })
}

/// The chosen scans; what is wrong with the choice is noted in the form.
fn chosen<'a>(whole: &'a Whole, filled: &mut Filled) -> Vec<&'a Offered> {
    let ticked: Vec<ScanId> = filled.all("scan").filter_map(|id| id.parse().ok()).collect();
    let chosen: Vec<&Offered> = whole.scans.iter().filter(|offered| ticked.contains(&offered.scan.id)).collect();
    let without: Vec<&str> =
        chosen.iter().filter(|o| o.px_per_mm.is_none()).map(|o| o.scan.file_name.as_str()).collect();
    if !(FEWEST..=MOST).contains(&chosen.len()) {
        let ticked = match chosen.len() {
            0 => "None is ticked".to_owned(),
            1 => "One is ticked".to_owned(),
            n => format!("{n} are ticked"),
        };
        filled.wrong("scan", format!("{ticked}; a trial takes {FEWEST} to {MOST}."));
    } else if !without.is_empty() {
        let names = without.join(", ");
        let why = format!(
            "Without its size on the subject a scan cannot be shown at the same size as the others: {names}. Measure a ruler \
             in it, or enter its pitch and magnification; or leave it out."
        );
        filled.wrong("scan", why);
    }
    chosen
}

fn marked(chosen: &[&Offered], filled: &Filled) -> bool {
    chosen.iter().all(|offered| filled.ticked(&format!("across-{}", offered.scan.id)))
}

/// The address at which the same detail is marked, with what was filled in so far.
fn marking(job: &str, filled: &Filled) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    filled.all("scan").for_each(|scan| {
        query.append_pair("scan", scan);
    });
    for name in ["question", "title", "piece_mm", "one_tone"].into_iter().filter(|name| filled.ticked(name)) {
        query.append_pair(name, filled.text(name));
    }
    format!("/jobs/{job}/trials/mark?{}", query.finish())
}

fn candidate(offered: &Offered, set_ups: &SetUps) -> Option<TrialScan> {
    let scan = &offered.scan;
    let (px_per_mm, plus_minus) = offered.px_per_mm?;
    let frame = set_ups.frames.iter().find(|frame| scan.frame == Some(frame.id));
    let set_up = frame.map(|frame| {
        let stop = frame.f_number.map(|f| format!(", at f/{f}")).unwrap_or_default();
        set_up_name(&set_ups.kit, &frame.parts) + &stop
    });
    Some(TrialScan {
        scan: scan.id.0,
        name: scan.file_name.clone(),
        set_up: set_up.unwrap_or_default(),
        centre_px: [0.0; 2],
        px_per_mm,
        plus_minus,
        gain: [1.0; 3],
    })
}

/// Puts every piece at its place, and notes in the form where one does not fit.
fn place(app: &App, chosen: &[&Offered], document: &mut TrialDocument, filled: &mut Filled) {
    let frame_place = FramePlace::of(filled.text("place"));
    document.place = frame_place.map_or("the same detail of the subject", |place| place.name).into();
    coarsest(document, filled);
    for (item, offered) in chosen.iter().enumerate() {
        let (Some(width), Some(height)) = (offered.scan.width, offered.scan.height) else { continue };
        let side = document.scans[item].px_per_mm * document.piece_mm;
        let id = offered.scan.id;
        let centre = match frame_place {
            Some(place) => place.centre((width, height), side),
            None => {
                let across = filled.number_within(&format!("across-{id}"), 0.0, 100.0, "%");
                let down = filled.number_within(&format!("down-{id}"), 0.0, 100.0, "%");
                let (Some(across), Some(down)) = (across, down) else { continue };
                [across / 100.0 * f64::from(width), down / 100.0 * f64::from(height)]
            }
        };
        document.scans[item].centre_px = centre;
        fits(app, &offered.scan, item, document, filled);
    }
}

/// The scan with the fewest pixels on the subject decides how narrow a piece may be.
fn coarsest(document: &TrialDocument, filled: &mut Filled) {
    let Some(coarsest) = document.scans.iter().min_by(|a, b| a.px_per_mm.total_cmp(&b.px_per_mm)) else { return };
    let pixels = document.piece_mm * coarsest.px_per_mm;
    if pixels * MOST_ENLARGED < f64::from(document.piece_px) {
        let least = fmt::figure(f64::from(document.piece_px) / MOST_ENLARGED / coarsest.px_per_mm, 3);
        let why = format!(
            "{} has only {} pixels across so narrow a piece, and they would be all that one sees; choose {least} mm or more.",
            coarsest.name,
            fmt::figure(pixels, 2)
        );
        filled.wrong("piece_mm", why);
    }
}

fn fits(app: &App, scan: &Scan, item: usize, document: &TrialDocument, filled: &mut Filled) {
    let px_per_mm = document.scans[item].px_per_mm;
    let Ok(pyramid) = pyramid::load(&tiles_of(app, &scan.stored)) else {
        return filled.wrong("scan", format!("{} is not ready to be looked at yet.", scan.file_name));
    };
    let side = document.piece_mm * px_per_mm;
    let shorter = f64::from(pyramid.width.min(pyramid.height));
    if side > shorter {
        let most = fmt::figure(shorter / px_per_mm, 3);
        let why = format!("{} shows only {most} mm of the subject across; choose a narrower piece.", scan.file_name);
        return filled.wrong("piece_mm", why);
    }
    let [x, y] = document.scans[item].centre_px;
    let within = |at: f64, length: u32| at >= side / 2.0 - 0.5 && at <= f64::from(length) - side / 2.0 + 0.5;
    if !(within(x, pyramid.width) && within(y, pyramid.height)) {
        let why = format!(
            "The piece around the mark in {} goes beyond the edge of the scan; mark a place farther in, or choose a narrower piece.",
            scan.file_name
        );
        filled.wrong(&format!("across-{}", scan.id), why);
    }
}

/// An order by chance, so that not even the notebook's own numbers follow the order of the page.
fn mix(document: &mut TrialDocument) {
    let mut chance = verdict::Chance::new(document.seed ^ 0x5EED);
    for last in (1..document.scans.len()).rev() {
        document.scans.swap(last, chance.below(last + 1));
    }
}

/// The files of the candidates, in the order of the document.
fn stored_names(chosen: &[&Offered], document: &TrialDocument) -> Vec<String> {
    let stored =
        |id: i64| chosen.iter().find(|offered| offered.scan.id.0 == id).map(|offered| offered.scan.stored.clone());
    document.scans.iter().filter_map(|scan| stored(scan.scan)).collect()
}

/// Reads every piece once: a trial that could not be shown is not begun, and the tone is settled before the first pick.
fn toned(app: &App, mut document: TrialDocument, stored: &[String]) -> Result<TrialDocument, String> {
    for (scan, stored) in document.scans.iter_mut().zip(stored) {
        // A rounding of half a pixel must not push a piece over the edge.
        if let Ok(p) = pyramid::load(&tiles_of(app, stored)) {
            let half = document.piece_mm * scan.px_per_mm / 2.0;
            let inside = |at: f64, length: u32| at.clamp(half, (f64::from(length) - half).max(half));
            scan.centre_px = [inside(scan.centre_px[0], p.width), inside(scan.centre_px[1], p.height)];
        }
    }
    let pieces: Result<Vec<PieceLight>, String> =
        stored.iter().enumerate().map(|(item, stored)| shown::light(app, &document, item, stored)).collect();
    let pieces = pieces?;
    if document.one_tone {
        document.scans.iter_mut().zip(one_tone(&pieces)).for_each(|(scan, gain)| scan.gain = gain);
    }
    Ok(document)
}
