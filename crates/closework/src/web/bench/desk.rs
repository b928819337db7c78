//! What was traced last, and tracing that takes longer than a page may wait.

use std::collections::VecDeque;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::ops::ControlFlow;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use rays::SetUp;

use crate::bench::{Design, Fit, Found, TraceError, Wanted, trace};
use crate::web::tasks::{Report, Standing};
use crate::web::{App, PageError};

/// So many results are kept: a person goes to and fro between a few.
const KEPT: usize = 16;
/// A page waits so long; what takes longer shows its progress instead. Tests wait for what they look at, however busy the machine.
const PATIENCE: Duration = Duration::from_secs(if cfg!(test) { 600 } else { 4 });

type Outcome = Arc<Result<Found, TraceError>>;

/// Results by what they are of.
#[derive(Debug, Default)]
pub struct Desk {
    traced: Shelf<Outcome>,
    fits: Shelf<Arc<Vec<Fit>>>,
}

/// The last few of one kind.
#[derive(Debug)]
struct Shelf<T>(Mutex<VecDeque<(u64, T)>>);

impl<T> Default for Shelf<T> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

/// Where tracing stands.
pub(super) enum Traced {
    /// It is done, or was refused.
    Told(Outcome),
    /// It still goes on.
    Working(Report),
}

impl Desk {
    /// How well forms fit, where that was asked lately.
    pub(super) fn fits(&self, key: u64) -> Option<Arc<Vec<Fit>>> {
        self.fits.get(key)
    }

    pub(super) fn keep_fits(&self, key: u64, fits: Arc<Vec<Fit>>) {
        self.fits.put(key, fits);
    }
}

impl<T: Clone> Shelf<T> {
    fn get(&self, key: u64) -> Option<T> {
        let kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(known, _)| *known == key).map(|(_, outcome)| outcome.clone())
    }

    fn put(&self, key: u64, outcome: T) {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        kept.retain(|(known, _)| *known != key);
        kept.push_back((key, outcome));
        while kept.len() > KEPT {
            kept.pop_front();
        }
    }
}

/// Traces, unless it was traced lately: the same glass asked the same has the same answer.
pub(super) async fn traced(app: &App, set_up: SetUp, design: Design, wanted: &Wanted) -> Result<Traced, PageError> {
    let mut hasher = DefaultHasher::new();
    format!("{set_up:?} {design:?} {wanted:?}").hash(&mut hasher);
    let (key, wanted) = (hasher.finish(), wanted.clone());
    if let Some(outcome) = app.desk().traced.get(key) {
        return Ok(Traced::Told(outcome));
    }
    let about = format!("bench/{key:x}");
    if let Some(report) = app.tasks().about(&about).filter(|report| report.standing == Standing::Running) {
        return Ok(Traced::Working(report));
    }
    let task = app.tasks().start("Tracing rays through the set-up", about);
    let (id, own) = (task.id(), app.clone());
    let work = tokio::task::spawn_blocking(move || {
        let heard = |share: f64| {
            task.reached(share);
            if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let outcome = Arc::new(trace(&set_up, design, &wanted, &heard));
        let stopped = *outcome == Err(TraceError::Stopped);
        if !stopped {
            own.desk().traced.put(key, outcome.clone());
        }
        task.end(if stopped { Standing::Stopped } else { Standing::Done });
        outcome
    });
    match tokio::time::timeout(PATIENCE, work).await {
        Ok(Ok(outcome)) => Ok(Traced::Told(outcome)),
        Ok(Err(cause)) => Err(PageError::broken("The rays could not be traced.", cause)),
        Err(_) => match app.tasks().get(id) {
            Some(report) => Ok(Traced::Working(report)),
            None => Err(PageError::broken("The rays could not be traced.", "its task is gone")),
        },
    }
}
