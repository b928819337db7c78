//! A plan into the notebook: rolls and frames, all or nothing.

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use notebook::{FrameDraft, FrameId, FrameState, JobId, Notebook, NotebookError, RollDraft, RollId};
use planning::test_roll::Slot;

use super::{Planned, Whole, address, asked, known, show, whole};
use crate::test_roll::{Kept, OnRoll};
use crate::web::error::sentence;
use crate::web::form::{Filled, come_back, saved};
use crate::web::jobs::found;
use crate::web::manners::Manners;
use crate::web::{App, PageError};

pub(super) async fn save(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    filled: Filled,
) -> Result<Response, PageError> {
    let job = found(&app, &id).await?;
    let number = job.id;
    let known = app.notebook(move |book| known(book, job)).await?;
    let mut whole = super::super::off_thread(move || whole(known, filled)).await?;
    let rolls = drafts(&mut whole);
    let troubles = match &whole.laid {
        Some(Ok(planned)) => planned.laid.test.troubles(&planned.layout, &planned.at_hand()),
        _ => Vec::new(),
    };
    for trouble in troubles {
        whole.filled.wrong("", sentence(&trouble.to_string()));
    }
    let plan = match &whole.laid {
        Some(Ok(planned)) if !whole.filled.has_errors() => writes(&whole, planned, rolls),
        _ => return Ok(come_back(show(&whole, manners.units))),
    };
    // A frame that was logged since the page was shown is not planned over.
    let kept = app.notebook(move |book| keep(book, number, &plan)).await?;
    if !kept {
        return Err(PageError::refused(
            "The rolls have changed since this plan was shown: a frame was logged or entered.",
            format!(
                "Nothing was saved. Open {} again; the plan goes around what was taken.",
                address(&whole.known.job)
            ),
        ));
    }
    Ok(saved(&format!("/jobs/{number}"), &format!("test-roll-{number}")).into_response())
}

/// The new rolls as filled in.
fn drafts(whole: &mut Whole) -> Vec<RollDraft> {
    let new = whole.rolls.iter().filter(|roll| roll.known.is_none()).count();
    if new == 0 {
        return Vec::new();
    }
    let title = whole.filled.required_text("title");
    let iso = whole.filled.number_within("iso", 0.1, 1e6, "ISO");
    let film = whole.filled.text("film").to_owned();
    let named = |number: usize| if new == 1 { title.clone() } else { format!("{title} {number}") };
    (1..=new)
        .map(|number| RollDraft { title: named(number), film: film.clone(), iso, ..RollDraft::default() })
        .collect()
}

/// What one roll gets.
struct RollWrite {
    known: Option<(RollId, OnRoll)>,
    /// What the roll's frames were when the plan was made.
    seen: Vec<(u32, FrameState)>,
    draft: RollDraft,
    frames: Vec<FrameDraft>,
}

fn writes(whole: &Whole, planned: &Planned, new: Vec<RollDraft>) -> Vec<RollWrite> {
    let document = Kept::of(&planned.laid, &asked::query(&whole.filled, None));
    let plan = serde_json::to_string(&document).unwrap_or_default();
    let mut new = new.into_iter();
    let write = |roll: usize| {
        let (hand, seen) = (&whole.rolls[roll], &planned.seen[roll]);
        let numbered = planned.layout[roll].iter().zip(&seen.at_hand.free);
        let frame = |(slot, number): (&Slot, &u32)| planned.laid.frame(slot, *number);
        let before = hand.known.as_ref().map(|(roll, _)| roll.draft.clone());
        let draft = before.unwrap_or_else(|| new.next().unwrap_or_default());
        let frames = hand.known.as_ref().map(|(_, frames)| frames.as_slice()).unwrap_or_default();
        RollWrite {
            known: hand.known.as_ref().map(|(roll, _)| (roll.id, seen.clone())),
            seen: frames.iter().map(|frame| (frame.number, frame.state)).collect(),
            draft: RollDraft { frames: Some(hand.holds), plan: plan.clone(), ..draft },
            frames: numbered.map(frame).collect(),
        }
    };
    // A new roll that nothing is planned on is not made.
    let of = |roll: &usize| !planned.layout[*roll].is_empty() || whole.rolls[*roll].known.is_some();
    (0..whole.rolls.len()).filter(of).map(write).collect()
}

/// Writes it all, or nothing; says whether the rolls were still as they were seen.
fn keep(book: &mut Notebook, job: JobId, rolls: &[RollWrite]) -> Result<bool, NotebookError> {
    for (id, seen) in rolls.iter().filter_map(|roll| Some((roll.known.as_ref()?.0, &roll.seen))) {
        let now: Vec<(u32, FrameState)> = book.frames(id)?.iter().map(|frame| (frame.number, frame.state)).collect();
        if now != *seen {
            return Ok(false);
        }
    }
    book.atomically(|book| {
        for roll in rolls {
            let id = match &roll.known {
                Some((id, seen)) => {
                    seen.replaced.iter().try_for_each(|frame| book.delete_frame(*frame))?;
                    rename(book, &seen.renamed)?;
                    book.update_roll(*id, &roll.draft)?;
                    *id
                }
                None => book.add_roll(job, &roll.draft)?,
            };
            roll.frames.iter().try_for_each(|frame| book.add_frame(id, frame).map(drop))?;
        }
        Ok(true)
    })
}

/// Slots count by the plan that is kept with the roll: those of frames that stay are put in its terms.
fn rename(book: &mut Notebook, renamed: &[(FrameId, String)]) -> Result<(), NotebookError> {
    for (id, slot) in renamed {
        if let Some(frame) = book.frame(*id)? {
            book.update_frame(*id, &FrameDraft { slot: slot.clone(), ..frame.draft })?;
        }
    }
    Ok(())
}
