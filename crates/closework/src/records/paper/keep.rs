//! A table that was read without a slip, put into the notebook in one go.

use kit::Kit;
use notebook::{Exposed, FrameDraft, FrameState, Job, Notebook, NotebookError, RollDraft, RollId};

use super::row::{RollThere, There};
use super::rows::each;
use super::{Change, Entry, Paper, PaperError, Preview, check};

/// What was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// What the table did.
    pub preview: Preview,
}

/// Puts a table into the notebook: all of it or, for any reason, nothing.
pub fn keep(paper: &mut Paper, book: &mut Notebook, job: &Job, kit: &Kit) -> Result<Kept, PaperError> {
    // With slips nothing is even begun.
    let preview = check(paper, book, job, kit)?;
    let mut trouble = None;
    let kept = book.atomically(|book| {
        let mut there = There::read(book, job, kit)?;
        let mut rolls: Vec<Option<RollId>> = Vec::new();
        let written = each(paper, &mut there, |there, entry| write(book, job, &mut rolls, there, &entry));
        match written {
            Ok(_) => about_rolls(book, &rolls, &there.rolls),
            Err(PaperError::Notebook(error)) => Err(error),
            // The file changed between the two readings, or can no longer be read: everything is taken back.
            Err(error) => {
                trouble = Some(error);
                Err(NotebookError::Blank { field: "the table" })
            }
        }
    });
    match (kept, trouble) {
        (Ok(()), _) => Ok(Kept { preview }),
        (Err(_), Some(error)) => Err(error),
        (Err(error), None) => Err(error.into()),
    }
}

fn write(
    book: &mut Notebook,
    job: &Job,
    rolls: &mut Vec<Option<RollId>>,
    there: &There<'_>,
    entry: &Entry,
) -> Result<(), NotebookError> {
    let roll = roll_id(book, job, rolls, there, entry.roll)?;
    let planned = entry.plan.as_ref().filter(|_| entry.draft.state == FrameState::Shot);
    match (&entry.before, planned) {
        (Some(_), _) if entry.change == Change::Same => Ok(()),
        (Some(before), None) => book.update_frame(before.id, &entry.draft),
        (Some(before), Some(plan)) => {
            // Planned once more, then taken: so the notebook keeps the plan beside what was taken.
            book.update_frame(before.id, &as_planned(&entry.draft, plan))?;
            book.update_frame(before.id, &entry.draft)
        }
        (None, None) => book.add_frame(roll, &entry.draft).map(drop),
        (None, Some(plan)) => {
            let frame = book.add_frame(roll, &as_planned(&entry.draft, plan))?;
            book.update_frame(frame, &entry.draft)
        }
    }
}

fn as_planned(draft: &FrameDraft, plan: &Exposed) -> FrameDraft {
    let mut planned = FrameDraft { state: FrameState::Planned, ..draft.clone() };
    planned.set_exposed(plan.clone());
    planned
}

/// The roll's number; a roll that the table begins is added with its first frame.
fn roll_id(
    book: &mut Notebook,
    job: &Job,
    rolls: &mut Vec<Option<RollId>>,
    there: &There<'_>,
    index: usize,
) -> Result<RollId, NotebookError> {
    rolls.resize(rolls.len().max(index + 1), None);
    if let Some(known) = rolls[index] {
        return Ok(known);
    }
    let roll = &there.rolls[index];
    let id = match &roll.known {
        Some(known) => known.id,
        None => book.add_roll(job.id, &RollDraft { title: roll.name.clone(), ..RollDraft::default() })?,
    };
    rolls[index] = Some(id);
    Ok(id)
}

/// Film and speed, once all rows have been seen.
fn about_rolls(book: &mut Notebook, ids: &[Option<RollId>], rolls: &[RollThere]) -> Result<(), NotebookError> {
    for (id, roll) in ids.iter().zip(rolls).filter_map(|(id, roll)| Some(((*id)?, roll))) {
        let Some(known) = book.roll(id)? else { continue };
        let mut draft = known.draft.clone();
        if let Some((film, _)) = &roll.film {
            draft.film.clone_from(film);
        }
        draft.iso = roll.iso.map(|(iso, _)| iso).or(draft.iso);
        if draft != known.draft {
            book.update_roll(id, &draft)?;
        }
    }
    Ok(())
}
