//! What is known of a job's scans and frames, as matching takes it.

use matching::{Film, Frame, Scan, Size};
use notebook::{FrameId, FrameState, JobId, MagnificationSource, Notebook, ScanId, ScanState};
use optics::Estimate;

use super::steps::Steps;
use crate::records::Known;
use crate::web::kit_book::read_kit;
use crate::web::scans::file_of;
use crate::web::{App, PageError};

/// A magnification that was typed without an uncertainty is trusted to a tenth (common practice, no source): enough to tell
/// life size from half of it.
const TYPED_SHARE: f64 = 0.1;

/// Everything that the page shows.
pub(super) struct Facts {
    pub known: Known,
    /// The job's scans and those of no job, as the notebook has them.
    pub scans: Vec<notebook::Scan>,
    pub steps: Steps,
    /// The film, its frames in the order of `known.frames`.
    pub film: Film,
    /// The scans in the order of `scans`.
    pub facts: Vec<Scan>,
}

impl Facts {
    /// Reads all of it. `with_times` looks into every scan's file for the time that it says.
    pub fn read(app: &App, book: &Notebook, job: JobId, with_times: bool) -> Result<Self, PageError> {
        let kit = read_kit(book)?;
        let known = Known::read(book, job, kit)?;
        let known = known.ok_or_else(|| PageError::missing(format!("There is no job {job}.")))?;
        let usable = |scan: &notebook::Scan| !matches!(scan.state, ScanState::Failed { .. });
        let scans = book.scans()?.into_iter().filter(|scan| scan.job.is_none_or(|of| of == job) && usable(scan));
        let scans: Vec<notebook::Scan> = scans.collect();
        let film = film(&known);
        let facts = scans.iter().map(|scan| scan_facts(app, &known, scan, with_times)).collect();
        Ok(Self { steps: Steps::read(book, job)?, known, scans, film, facts })
    }

    /// Where a frame stands among the film's.
    pub fn frame(&self, id: FrameId) -> Option<usize> {
        self.known.frames.iter().position(|frame| frame.id == id)
    }

    /// Where a scan stands.
    pub fn scan(&self, id: ScanId) -> Option<usize> {
        self.scans.iter().position(|scan| scan.id == id)
    }

    /// The frame that each scan shows.
    pub fn shown(&self) -> Vec<Option<usize>> {
        self.scans.iter().map(|scan| self.frame(scan.frame?)).collect()
    }

    /// "A, frame 3", or "frame 3" where there is one roll.
    pub fn frame_name(&self, frame: usize) -> String {
        let facts = &self.film.frames[frame];
        if self.film.rolls.len() > 1 {
            format!("{}, frame {}", self.film.rolls[facts.roll], facts.number)
        } else {
            format!("frame {}", facts.number)
        }
    }
}

fn film(known: &Known) -> Film {
    let frame = |frame: &notebook::Frame| {
        let roll = known.rolls.iter().position(|roll| roll.id == frame.roll).unwrap_or_default();
        Frame {
            roll,
            number: frame.number,
            size: known.figures(frame).magnification.and_then(size),
            taken: frame.state == FrameState::Shot,
            missing: frame.state == FrameState::LeftOut,
            words: [&frame.label, &frame.purpose, &frame.note].map(String::as_str).join(" "),
        }
    };
    let rolls = crate::records::unique_titles(&known.rolls);
    Film { rolls, frames: known.frames.iter().map(frame).collect() }
}

fn size(found: Estimate) -> Option<Size> {
    (found.value > 0.0 && found.value.is_finite()).then_some(Size { value: found.value, plus_minus: found.plus_minus })
}

fn scan_facts(app: &App, known: &Known, scan: &notebook::Scan, with_time: bool) -> Scan {
    // What was worked out from the frame says nothing about which frame it is.
    let measured = scan.magnification.filter(|m| m.from != MagnificationSource::SetUp);
    let size = measured.map(|m| Size { value: m.value, plus_minus: m.plus_minus.unwrap_or(TYPED_SHARE * m.value) });
    Scan {
        name: scan.file_name.clone(),
        time: if with_time { time_of(app, scan) } else { None },
        size,
        print: known.measured(scan.id).card().map(str::to_owned),
    }
}

/// When the file says that it was made; nothing where it does not.
fn time_of(app: &App, scan: &notebook::Scan) -> Option<String> {
    let opened = imaging::Scan::open(&file_of(app, &scan.stored)).ok()?;
    opened.info().moment.map(|moment| moment.to_string())
}
