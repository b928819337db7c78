//! What a job needs, and where it stands.

use kit::{Kind, Kit};
use notebook::{FrameState, Job, Notebook, NotebookError};
use verdict::Need;

/// The need of a job on a frame of this size (width and height, mm).
pub fn need_of(job: &Job, frame_mm: [f64; 2]) -> Need {
    Need {
        subject_mm: job.subject_mm,
        fill: job.fill,
        frame_mm,
        print_mm: job.print_mm,
        criterion_lp_mm: job.criterion_lp_mm,
        contrast: job.contrast_needed,
    }
}

/// The need of a job on its own body, or on the kit's first where it names none; `None` without that body.
pub fn need_for(job: &Job, kit: &Kit) -> Option<Need> {
    let mut bodies = kit.of_kind(Kind::Body);
    let body = match job.body.as_deref() {
        Some(named) => bodies.find(|body| body.id() == named)?,
        None => bodies.next()?,
    };
    match body.numbers("frame_mm")[..] {
        [width, height] => Some(need_of(job, [width, height])),
        _ => None,
    }
}

/// Where a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Nothing exposed yet.
    Planned,
    /// Frames were taken.
    Shot,
    /// Scans are here.
    Scanned,
    /// A decision was written down.
    Decided,
}

impl Standing {
    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Planned => "planned",
            Self::Shot => "shot",
            Self::Scanned => "scanned",
            Self::Decided => "decided",
        }
    }
}

/// Where a job stands, from what the notebook holds of it.
pub fn standing(book: &Notebook, job: &Job) -> Result<Standing, NotebookError> {
    if !book.decisions(job.id)?.is_empty() {
        return Ok(Standing::Decided);
    }
    if !book.scans_of_job(job.id)?.is_empty() {
        return Ok(Standing::Scanned);
    }
    let shot = book.frames_of_job(job.id)?.iter().any(|frame| frame.state == FrameState::Shot);
    Ok(if shot { Standing::Shot } else { Standing::Planned })
}
