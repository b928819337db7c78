//! Laying scans over the first by what they show: in the background, kept with the scans.

use std::ops::ControlFlow;

use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use measure::{AlignError, ByPicture, Figure, PictureOptions, align_by_picture, scale_by_magnification};
use notebook::{Notebook, NotebookError, ScanId, ScanState};

use super::compared::{Compared, placing};
use super::laid::{Way, remark_words};
use super::points::put;
use super::{MOST, address, numbers};
use crate::documents::{LaidDocument, PlacingDocument};
use crate::web::error::sentence;
use crate::web::form::Filled;
use crate::web::scans::{Overview, overview};
use crate::web::tasks::{Standing, Task};
use crate::web::{App, PageError, clock};

/// Longer side, pixels, of what is looked at: places to a tenth of its pixel are places to less than half of a scan's.
const LOOKED_AT: u32 = 2300;
/// A magnification that was entered without an uncertainty is searched over this share.
const TYPED_SHARE: f64 = 0.05;

/// What the task of these scans is about; also where its page is.
pub(super) fn about(ids: &[ScanId]) -> String {
    address(ids, Some(Way::Picture)).trim_start_matches('/').to_owned()
}

/// Begins, and leads back to the page, which shows how far it is.
pub(super) async fn begin(State(app): State<App>, filled: Filled) -> Result<Response, PageError> {
    let ids = numbers(&filled);
    if !(2..=MOST).contains(&ids.len()) {
        return Err(PageError::refused("Two to four scans are needed.", "Go back and choose them."));
    }
    let wanted = ids.clone();
    let all = app.notebook(move |book: &mut Notebook| Compared::read(book, &wanted)).await?;
    if all.len() != ids.len() || all.iter().any(|c| c.scan.state != ScanState::Ready) {
        return Err(PageError::missing("One of these scans is not there, or not prepared yet."));
    }
    let running = app.tasks().about(&about(&ids)).is_some_and(|task| task.standing == Standing::Running);
    if !running {
        let task = app.tasks().start("Looking for the same subject in these scans", about(&ids));
        let app = app.clone();
        std::thread::spawn(move || run(&app, &all, task));
    }
    Ok(Redirect::to(&address(&ids, Some(Way::Picture))).into_response())
}

fn run(app: &App, all: &[Compared], task: Task) {
    let _turn = app.turn();
    let standing = match lay_all(app, all, &task) {
        Ok(()) => Standing::Done,
        Err(None) => Standing::Stopped,
        Err(Some(why)) => Standing::Failed(why),
    };
    task.end(standing);
}

/// Each on the first; `None` when it was stopped, else why it could not be.
fn lay_all(app: &App, all: &[Compared], task: &Task) -> Result<(), Option<String>> {
    let (first, others) = all.split_first().ok_or(None)?;
    let base = view(app, first)?;
    for (k, other) in others.iter().enumerate() {
        let share = |of: f64| (k as f64 + of) / others.len() as f64;
        let mut heard = |of: f64| {
            task.reached(share(of));
            if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let found = lay(first, &base, other, &view(app, other)?, &mut heard)?;
        keep(app, first, other, found).map_err(|error| Some(error.to_string()))?;
    }
    Ok(())
}

fn view(app: &App, c: &Compared) -> Result<Overview, Option<String>> {
    overview(app, &c.scan, LOOKED_AT).map_err(|why| Some(format!("{} cannot be looked at: {why}.", c.scan.file_name)))
}

/// One on the first, as it is and then mirrored.
fn lay(
    first: &Compared,
    base: &Overview,
    other: &Compared,
    view: &Overview,
    heard: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<LaidDocument, Option<String>> {
    let scale = scale(first, other)?;
    // The two are looked at on levels of their own.
    let on_levels = scale.times(base.pixel / view.pixel);
    let mut attempt = |mirrored: bool, from: f64| {
        let options = PictureOptions { scale: on_levels, mirrored };
        align_by_picture(&base.plane, &view.plane, &options, |share| heard(from + 0.5 * share))
    };
    let found = match attempt(false, 0.0) {
        Err(AlignError::NotTheSame { .. }) => attempt(true, 0.5),
        found => found,
    };
    let words = |error: AlignError| match error {
        AlignError::Stopped => None,
        AlignError::NotTheSame { likeness, .. } => Some(format!(
            "{} and {} do not show the same subject, as far as the pictures tell: where they fit best their detail correlates by {likeness:.2}. If \
             they do, pick two details in each.",
            first.scan.file_name, other.scan.file_name
        )),
        error => Some(format!("{}: {}", other.scan.file_name, sentence(&error.to_string()))),
    };
    Ok(document(first, &found.map_err(words)?, base, view))
}

/// Pixels of the other scan for one of the first, by what is known of both.
fn scale(first: &Compared, other: &Compared) -> Result<Figure, Option<String>> {
    let per_mm = |c: &Compared| {
        let (px, plus_minus) = c.px_per_mm.ok_or_else(|| {
            Some(format!(
                "The size of the subject in {} is not known: measure a ruler in it or enter its magnification and pitch, or pick two details in \
                 each instead.",
                c.scan.file_name
            ))
        })?;
        Ok::<_, Option<String>>(Figure::new(px, plus_minus.unwrap_or(TYPED_SHARE * px)))
    };
    Ok(scale_by_magnification((per_mm(first)?, 1.0), (per_mm(other)?, 1.0)))
}

/// In whole-scan pixels.
fn document(first: &Compared, found: &ByPicture, base: &Overview, view: &Overview) -> LaidDocument {
    let aligned = &found.aligned;
    let to_scan = view.pixel / base.pixel;
    let origin = aligned.similarity.to_second((0.0, 0.0));
    let middle = (first.middle().0 / base.pixel, first.middle().1 / base.pixel);
    LaidDocument {
        on: first.scan.id.0,
        scale: aligned.scale.times(to_scan).into(),
        turn_deg: aligned.turn_deg.into(),
        origin_px: [origin.0 * view.pixel, origin.1 * view.pixel],
        place_plus_minus_px: aligned.place(middle)[0].plus_minus * view.pixel,
        mirrored: aligned.similarity.is_mirrored(),
        likeness: found.likeness,
        shared: found.shared,
        warnings: aligned.remarks.iter().map(|remark| remark_words(*remark)).collect(),
    }
}

fn keep(app: &App, first: &Compared, other: &Compared, laid: LaidDocument) -> Result<(), NotebookError> {
    let (on, id) = (first.scan.id.0, other.scan.id);
    app.with_notebook(|book| {
        let mut known: PlacingDocument = placing(book, id)?;
        known.pictures.retain(|old| old.on != on);
        known.pictures.push(laid);
        put(book, id, &known, &clock::now())
    })
}
