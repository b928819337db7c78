//! Long work in the background: how far it is, how it ended, and a way to stop it.
//!
//! A page shows a task with [`Report::bar`]; `sheet.js` asks for it twice a second and reloads the page when it ends.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use axum::extract::{Path, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use axum::{Json, Router};
use maud::{Markup, html};
use serde::Serialize;

use super::App;
use super::error::PageError;

/// How many ended tasks are remembered, so that a page that asks late still learns the end.
const REMEMBERED: usize = 200;

/// Where a task stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "state", content = "why")]
pub enum Standing {
    /// Still at work.
    Running,
    /// Done.
    Done,
    /// Stopped by the person.
    Stopped,
    /// It went wrong; in words.
    Failed(String),
}

/// A task as a page sees it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// The task's number.
    pub id: u64,
    /// What is being done: "Drawing the demo's frames".
    pub title: String,
    /// What it belongs to, such as "scan/12"; pages find their tasks by it.
    pub about: String,
    /// Share done, 0 to 1; absent while it is not known.
    pub share: Option<f64>,
    /// Where it stands.
    #[serde(flatten)]
    pub standing: Standing,
}

#[derive(Debug, Default)]
struct Table {
    reports: BTreeMap<u64, (Report, Arc<AtomicBool>)>,
}

/// The table of background work; cheap to clone.
#[derive(Debug, Clone, Default)]
pub struct Tasks {
    table: Arc<Mutex<Table>>,
    last: Arc<AtomicU64>,
}

impl Tasks {
    fn table(&self) -> MutexGuard<'_, Table> {
        self.table.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Enters a task. It counts as failed when its handle is dropped without a word about the end.
    pub fn start(&self, title: impl Into<String>, about: impl Into<String>) -> Task {
        let id = self.last.fetch_add(1, Ordering::Relaxed) + 1;
        let report = Report { id, title: title.into(), about: about.into(), share: None, standing: Standing::Running };
        let stop = Arc::new(AtomicBool::new(false));
        let mut table = self.table();
        table.reports.insert(id, (report, stop.clone()));
        forget_old(&mut table);
        Task { id, tasks: self.clone(), stop, ended: false }
    }

    /// One task.
    pub fn get(&self, id: u64) -> Option<Report> {
        self.table().reports.get(&id).map(|(report, _)| report.clone())
    }

    /// Every task still running, oldest first.
    pub fn running(&self) -> Vec<Report> {
        self.all(|report| report.standing == Standing::Running)
    }

    /// The newest task about something, running or ended.
    pub fn about(&self, about: &str) -> Option<Report> {
        self.all(|report| report.about == about).pop()
    }

    fn all(&self, wanted: impl Fn(&Report) -> bool) -> Vec<Report> {
        self.table().reports.values().map(|(report, _)| report).filter(|r| wanted(r)).cloned().collect()
    }

    /// Asks a task to stop; true when there was one to ask.
    pub fn stop(&self, id: u64) -> bool {
        let table = self.table();
        let found = table.reports.get(&id).filter(|(report, _)| report.standing == Standing::Running);
        found.map(|(_, stop)| stop.store(true, Ordering::Relaxed)).is_some()
    }

    /// Asks whatever runs about something to stop.
    pub fn stop_about(&self, about: &str) {
        let running = self.all(|r| r.about == about && r.standing == Standing::Running);
        running.iter().for_each(|report| {
            self.stop(report.id);
        });
    }

    fn change(&self, id: u64, change: impl FnOnce(&mut Report)) {
        if let Some((report, _)) = self.table().reports.get_mut(&id) {
            change(report);
        }
    }
}

fn forget_old(table: &mut Table) {
    let ended = table.reports.iter().filter(|(_, (r, _))| r.standing != Standing::Running).map(|(id, _)| *id);
    let ended: Vec<u64> = ended.collect();
    for id in ended.iter().take(ended.len().saturating_sub(REMEMBERED)) {
        table.reports.remove(id);
    }
}

/// The worker's end of a task.
#[derive(Debug)]
pub struct Task {
    id: u64,
    tasks: Tasks,
    stop: Arc<AtomicBool>,
    ended: bool,
}

impl Task {
    /// The task's number.
    pub fn id(&self) -> u64 {
        self.id
    }

    /// Says how far it is; 0 to 1.
    pub fn reached(&self, share: f64) {
        self.tasks.change(self.id, |report| report.share = Some(share.clamp(0.0, 1.0)));
    }

    /// True once the person has asked it to stop.
    pub fn must_stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// The flag behind [`Self::must_stop`], for work that takes one.
    pub fn stop_flag(&self) -> &AtomicBool {
        &self.stop
    }

    /// The end.
    pub fn end(mut self, standing: Standing) {
        self.ended = true;
        self.tasks.change(self.id, |report| report.standing = standing);
    }
}

impl Drop for Task {
    fn drop(&mut self) {
        if !self.ended {
            let why = "It stopped unexpectedly; the program's log says more.".to_owned();
            self.tasks.change(self.id, |report| report.standing = Standing::Failed(why));
        }
    }
}

impl Report {
    /// A progress bar that keeps itself up to date, with its stop button. Shown only while the task runs.
    pub fn bar(&self) -> Markup {
        let label = format!("task-{}", self.id);
        html! {
            @if self.standing == Standing::Running {
                div.task data-task=(self.id) {
                    p id=(label) { (self.title) }
                    progress aria-labelledby=(label) max="1" value=[self.share] {}
                    form method="post" action=(format!("/tasks/{}/stop", self.id)) { button.quiet { "Stop" } }
                }
            }
        }
    }
}

pub(super) fn routes() -> Router<App> {
    let one = Router::new().route("/tasks/{id}", get(report)).route("/tasks/{id}/stop", post(stop));
    one.route("/tasks", get(|State(app): State<App>| async move { Json(app.tasks().running()) }))
}

fn found(app: &App, id: &str) -> Result<Report, PageError> {
    let report = id.parse().ok().and_then(|id| app.tasks().get(id));
    report.ok_or_else(|| PageError::missing(format!("There is no task {id}.")))
}

async fn report(State(app): State<App>, Path(id): Path<String>) -> Result<Json<Report>, PageError> {
    found(&app, &id).map(Json)
}

/// Only scripts and the plain form use this; both go back to where the work shows.
async fn stop(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let report = found(&app, &id)?;
    app.tasks().stop(report.id);
    Ok(Redirect::to(match report.about.split('/').next() {
        Some("scan") => "/scans",
        Some("bench") => "/bench",
        Some("predicted") => "/verdict",
        _ => "/jobs",
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_task_that_vanishes_counts_as_failed() {
        let tasks = Tasks::default();
        let task = tasks.start("Reading", "scan/1");
        task.reached(0.5);
        assert_eq!(tasks.running().len(), 1);
        let id = task.id();
        drop(task);
        assert!(matches!(tasks.get(id).map(|r| r.standing), Some(Standing::Failed(_))));
        assert!(!tasks.stop(id));
    }

    #[test]
    fn stopping_reaches_the_worker() {
        let tasks = Tasks::default();
        let task = tasks.start("Reading", "scan/1");
        tasks.stop_about("scan/2");
        assert!(!task.must_stop());
        tasks.stop_about("scan/1");
        assert!(task.must_stop());
        let id = task.id();
        task.end(Standing::Stopped);
        assert_eq!(tasks.get(id).map(|r| r.standing), Some(Standing::Stopped));
    }

    #[test]
    fn old_ends_are_forgotten_and_running_work_never() {
        let tasks = Tasks::default();
        let kept = tasks.start("Long", "job/1");
        (0..REMEMBERED + 20).for_each(|_| tasks.start("Short", "job/2").end(Standing::Done));
        assert!(tasks.get(kept.id()).is_some());
        assert!(tasks.table().reports.len() <= REMEMBERED + 2);
    }
}
