//! The example: a small natural-history collection photographs beetles, seeds and minerals on 6×6 film.
//!
//! Kit, frames and the faults of the lenses are invented. Everything else is what it is for a person's own work: the
//! frames are drawn by [`scene`] through those faults, saved as 16-bit scans, loaded, and measured like any others.

mod content;
mod draw;
mod measured;

use std::ops::ControlFlow;
use std::sync::mpsc;

use notebook::{FrameId, Notebook, NotebookError};

use crate::web::tasks::{Standing, Task};
use crate::web::{App, PageError};
#[cfg(test)]
pub(crate) use content::KIT;
use content::Shot;

/// The notebook's setting that says how far the example has come.
const SETTING: &str = "example";
const DRAWING: &str = "drawing";
const DONE: &str = "done";

/// Enters the example into an empty notebook and goes on drawing what is missing of it, in the background. Returns the
/// page to begin with: the example's first job while there are no others.
pub fn begin(app: &App) -> Result<String, PageError> {
    let state = app.with_notebook(enter_if_new)?;
    if state == DRAWING {
        draw_in_background(app);
    }
    first_page(app)
}

fn enter_if_new(book: &mut Notebook) -> Result<String, PageError> {
    if let Some(state) = book.setting(SETTING)? {
        return Ok(state);
    }
    let empty = book.jobs()?.is_empty() && book.parts()?.is_empty() && book.scans()?.is_empty();
    let state = if empty { DRAWING } else { DONE };
    book.atomically(|book| {
        if empty {
            content::enter(book)?;
        }
        book.set_setting(SETTING, state)
    })?;
    Ok(state.to_owned())
}

/// The example's entries without its frames, for tests of pages.
#[cfg(test)]
pub(crate) fn enter_for_tests(book: &mut Notebook) -> Result<(), NotebookError> {
    content::enter(book)
}

/// Takes the example out again: its jobs with their frames and scans, and the parts of its kit that nobody changed.
pub fn remove(app: &App) -> Result<(), PageError> {
    app.tasks().stop_about("example");
    let stored = app.with_notebook(|book| book.atomically(take_out))?;
    // A preparation under way ends at its next row; after it nothing writes to these files any more.
    let _turn = app.turn();
    stored.iter().for_each(|name| crate::web::scans::discard(app, name));
    Ok(())
}

fn take_out(book: &mut Notebook) -> Result<Vec<String>, NotebookError> {
    let mut stored = Vec::new();
    for job in book.jobs()?.into_iter().filter(|job| job.demo) {
        for scan in book.scans_of_job(job.id)? {
            stored.push(book.delete_scan(scan.id)?);
        }
        book.delete_job(job.id)?;
    }
    let ours = content::kit_records();
    for part in book.parts()?.iter().filter(|part| ours.contains(part)) {
        book.delete_part(&part.id)?;
    }
    book.set_setting(SETTING, DONE)?;
    Ok(stored)
}

/// The report of the example's first job, while there are no other jobs.
fn first_page(app: &App) -> Result<String, PageError> {
    let jobs = app.with_notebook(|book| book.jobs())?;
    Ok(match jobs.first() {
        Some(first) if jobs.iter().all(|job| job.demo) => format!("/jobs/{}/report", first.id),
        _ => "/jobs".to_owned(),
    })
}

fn first_job(app: &App) -> Result<Option<notebook::JobId>, PageError> {
    let jobs = app.with_notebook(|book| book.jobs())?;
    Ok(jobs.iter().find(|job| job.demo).map(|job| job.id))
}

/// One thread draws, another loads and measures, so that the first frame can be seen while the second is drawn.
fn draw_in_background(app: &App) {
    let task = app.tasks().start("Drawing the example's frames", "example");
    let app = app.clone();
    std::thread::spawn(move || {
        let standing = match draw_missing(&app, &task) {
            Ok(standing) => standing,
            Err(error) => Standing::Failed(error.what().to_owned()),
        };
        task.end(standing);
    });
}

fn draw_missing(app: &App, task: &Task) -> Result<Standing, PageError> {
    let missing = app.with_notebook(missing)?;
    let (sender, receiver) = mpsc::sync_channel::<(FrameId, Shot, draw::Drawn)>(1);
    let loader = {
        let app = app.clone();
        std::thread::spawn(move || {
            receiver.into_iter().try_for_each(|(frame, shot, drawn)| measured::load(&app, frame, &shot, drawn))
        })
    };
    let mut standing = Standing::Done;
    for (index, (frame, shot)) in missing.iter().enumerate() {
        let mut heard = |share: f64| {
            task.reached((index as f64 + share) / missing.len() as f64);
            if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let Some(drawn) = draw::draw(app, shot, &mut heard)? else {
            standing = Standing::Stopped;
            break;
        };
        if sender.send((*frame, shot.clone(), drawn)).is_err() {
            break;
        }
    }
    drop(sender);
    loader.join().map_err(|_| PageError::broken("Loading an example frame failed.", "the thread panicked"))??;
    app.with_notebook(|book| book.set_setting(SETTING, DONE))?;
    if let (Standing::Done, Some(first)) = (&standing, first_job(app)?) {
        crate::web::report::make_now(app, first)?;
    }
    Ok(standing)
}

/// The example's frames that have no scan yet; frames that a person deleted are not made again.
fn missing(book: &mut Notebook) -> Result<Vec<(FrameId, Shot)>, NotebookError> {
    let mut found = Vec::new();
    for job in book.jobs()?.into_iter().filter(|job| job.demo) {
        for frame in book.frames_of_job(job.id)? {
            let shot = content::shot_of(&frame.label, frame.number);
            if let (Some(shot), None) = (shot, book.scan_of_frame(frame.id)?) {
                found.push((frame.id, shot));
            }
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests;
