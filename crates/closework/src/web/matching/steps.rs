//! Every match that was made on the page, so that each can be taken back: the last one, those of one scan, all of them. The
//! steps are kept in the notebook with the matches themselves, in one go.

use std::collections::BTreeMap;

use notebook::{FrameId, JobId, Matched, Notebook, NotebookError, Scan, ScanId};
use serde::{Deserialize, Serialize};

use crate::web::PageError;

/// So many steps are kept; the oldest are forgotten first.
const MOST_STEPS: usize = 200;

/// Where a scan stands: its job, its frame, how it came there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Stand {
    job: Option<i64>,
    frame: Option<i64>,
    by: Option<String>,
}

/// What happened to one scan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Move {
    scan: i64,
    before: Stand,
    after: Stand,
}

/// One press.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub(super) struct Step {
    moves: Vec<Move>,
}

/// All of them, and those that were taken back.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(default)]
pub(super) struct Steps {
    done: Vec<Step>,
    undone: Vec<Step>,
}

/// What happened, in a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Done {
    pub said: String,
}

impl Done {
    fn say(said: impl Into<String>) -> Self {
        Self { said: said.into() }
    }
}

fn key(job: JobId) -> String {
    format!("matching-{job}")
}

/// Reads the steps, does something with them, and keeps both together or neither.
pub(super) fn act<T>(
    book: &mut Notebook,
    job: JobId,
    change: impl FnOnce(&mut Notebook, &mut Steps) -> Result<T, PageError>,
) -> Result<T, PageError> {
    let mut refused = None;
    let kept = book.atomically(|book| {
        let mut steps = Steps::read(book, job)?;
        match change(book, &mut steps) {
            Ok(value) => {
                steps.write(book, job)?;
                Ok(value)
            }
            // The error of the page is told; this one only takes everything back.
            Err(error) => {
                refused = Some(error);
                Err(NotebookError::Blank { field: "the match" })
            }
        }
    });
    match (kept, refused) {
        (Ok(value), _) => Ok(value),
        (Err(_), Some(error)) => Err(error),
        (Err(error), None) => Err(error.into()),
    }
}

impl Steps {
    /// What was kept; steps that this version cannot read are forgotten, the matches stay.
    pub fn read(book: &Notebook, job: JobId) -> Result<Self, NotebookError> {
        let kept = book.setting(&key(job))?.unwrap_or_default();
        Ok(serde_json::from_str(&kept).unwrap_or_default())
    }

    fn write(&self, book: &mut Notebook, job: JobId) -> Result<(), NotebookError> {
        book.set_setting(&key(job), &serde_json::to_string(self).unwrap_or_default())
    }

    /// Whether there is a step to take back, and one to do again.
    pub fn can(&self) -> (bool, bool) {
        (!self.done.is_empty(), !self.undone.is_empty())
    }

    /// The scans that some step moved.
    pub fn moved(&self) -> impl Iterator<Item = ScanId> {
        self.done.iter().flat_map(|step| &step.moves).map(|moved| ScanId(moved.scan))
    }

    /// Matches scans to frames of the job, or lets them go. A frame of another job is refused, and so is a scan of another.
    pub fn take(
        &mut self,
        book: &mut Notebook,
        job: JobId,
        pairs: &[(ScanId, Option<(FrameId, Matched)>)],
    ) -> Result<Done, PageError> {
        let frames: Vec<FrameId> = book.frames_of_job(job)?.iter().map(|frame| frame.id).collect();
        let mut step = Step::default();
        for (id, to) in pairs {
            let scan = book.scan(*id)?.ok_or(NotebookError::NoSuchScan { id: *id })?;
            if scan.job.is_some_and(|of| of != job) {
                return Err(PageError::refused(
                    format!("“{}” belongs to another job.", scan.file_name),
                    "Match it on that job's page, or take it out of that job first.",
                ));
            }
            if let Some((frame, _)) = to.filter(|(frame, _)| !frames.contains(frame)) {
                return Err(PageError::missing(format!("There is no frame {frame} in this job.")));
            }
            if scan.frame == to.map(|(frame, _)| frame) {
                continue;
            }
            book.match_scan(*id, *to)?;
            let after = book.scan(*id)?.map_or_else(|| stand(&scan), |scan| stand(&scan));
            step.moves.push(Move { scan: id.0, before: stand(&scan), after });
        }
        let count = step.moves.len();
        if count == 0 {
            return Ok(Done::say("Everything stood so already."));
        }
        self.push(step);
        Ok(Done::say(match count {
            1 => "One scan was matched anew.".to_owned(),
            count => format!("{count} scans were matched anew."),
        }))
    }

    fn push(&mut self, step: Step) {
        self.undone.clear();
        self.done.push(step);
        let too_many = self.done.len().saturating_sub(MOST_STEPS);
        self.done.drain(..too_many);
    }

    /// Takes the last step back.
    pub fn undo(&mut self, book: &mut Notebook) -> Result<Done, PageError> {
        let Some(step) = self.done.pop() else { return Ok(Done::say("There is no step to take back.")) };
        let backwards = step.moves.iter().map(|m| (m.scan, m.after.clone(), m.before.clone())).collect();
        let done = go(book, backwards)?;
        self.undone.push(step);
        Ok(Done::say(done.words("taken back")))
    }

    /// Does the last step that was taken back again.
    pub fn again(&mut self, book: &mut Notebook) -> Result<Done, PageError> {
        let Some(step) = self.undone.pop() else { return Ok(Done::say("There is no step to do again.")) };
        let forwards = step.moves.iter().map(|m| (m.scan, m.before.clone(), m.after.clone())).collect();
        let done = go(book, forwards)?;
        self.done.push(step);
        Ok(Done::say(done.words("done again")))
    }

    /// Puts one scan where it stood before the last step that moved it. That is a step of its own.
    pub fn undo_scan(&mut self, book: &mut Notebook, scan: ScanId) -> Result<Done, PageError> {
        let last = self.done.iter().rev().flat_map(|step| &step.moves).find(|moved| moved.scan == scan.0).cloned();
        let Some(moved) = last else { return Ok(Done::say("No step here moved this scan.")) };
        self.go_as_step(book, vec![(moved.scan, moved.after, moved.before)])
    }

    /// Puts every scan where it stood before the first step that moved it. That is a step of its own.
    pub fn undo_all(&mut self, book: &mut Notebook) -> Result<Done, PageError> {
        let mut ends: BTreeMap<i64, (Stand, Stand)> = BTreeMap::new();
        for moved in self.done.iter().flat_map(|step| &step.moves) {
            let (_, now) = ends.entry(moved.scan).or_insert((moved.before.clone(), moved.after.clone()));
            *now = moved.after.clone();
        }
        let moves = ends.into_iter().map(|(scan, (first, last))| (scan, last, first)).collect();
        self.go_as_step(book, moves)
    }

    fn go_as_step(&mut self, book: &mut Notebook, moves: Vec<(i64, Stand, Stand)>) -> Result<Done, PageError> {
        let done = go(book, moves)?;
        let said = done.words("taken back");
        if !done.moves.is_empty() {
            self.push(Step { moves: done.moves });
        }
        Ok(Done::say(said))
    }
}

/// What was moved, and what stood elsewhere by then.
struct Gone {
    moves: Vec<Move>,
    left: usize,
}

impl Gone {
    fn words(&self, what: &str) -> String {
        let moved = match self.moves.len() {
            0 => format!("Nothing was {what}."),
            1 => format!("One match was {what}."),
            count => format!("{count} matches were {what}."),
        };
        match self.left {
            0 => moved,
            1 => moved + " One scan was matched elsewhere in the meantime, and was left as it is.",
            left => {
                moved + &format!(" {left} scans were matched elsewhere in the meantime, and were left as they are.")
            }
        }
    }
}

/// Moves scans from where they are expected to stand to where they shall. One that stands elsewhere (it was matched on its own
/// page, or deleted) is left alone.
fn go(book: &mut Notebook, moves: Vec<(i64, Stand, Stand)>) -> Result<Gone, PageError> {
    let mut gone = Gone { moves: Vec::new(), left: 0 };
    for (id, from, to) in moves {
        let id = ScanId(id);
        match book.scan(id)? {
            Some(scan) if stand(&scan).frame == to.frame => {}
            Some(scan) if stand(&scan).frame == from.frame => {
                put(book, id, &to)?;
                gone.moves.push(Move { scan: id.0, before: from, after: to });
            }
            _ => gone.left += 1,
        }
    }
    Ok(gone)
}

fn put(book: &mut Notebook, scan: ScanId, to: &Stand) -> Result<(), NotebookError> {
    let frame = match to.frame.map(FrameId) {
        // A frame that was deleted since cannot be shown any more.
        Some(frame) => book.frame(frame)?.map(|frame| frame.id),
        None => None,
    };
    let by = to.by.as_deref().and_then(matched).unwrap_or(Matched::Hand);
    book.match_scan(scan, frame.map(|frame| (frame, by)))?;
    if frame.is_none() && to.job.is_none() {
        book.set_scan_job(scan, None)?;
    }
    Ok(())
}

fn matched(word: &str) -> Option<Matched> {
    let all = [Matched::Hand, Matched::Order, Matched::Name, Matched::Picture, Matched::Code];
    all.into_iter().find(|by| by.word() == word)
}

fn stand(scan: &Scan) -> Stand {
    Stand {
        job: scan.job.map(|id| id.0),
        frame: scan.frame.map(|id| id.0),
        by: scan.matched.map(|by| by.word().to_owned()),
    }
}
