//! The set-ups that come into question: those that frames were planned or taken with.

use std::collections::{BTreeMap, BTreeSet};

use kit::{Kind, Kit};
use notebook::{Frame, FrameState, Job, Notebook, NotebookError, Scan};

use super::figures::Placed;
use super::observed::{Observed, observe};
use super::predicted::predicted;
use crate::documents::verdict::Silent;
use crate::web::fmt;
use crate::web::kit_book::set_up_name;

/// A frame with the scans that show it.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// The frame.
    pub frame: Frame,
    /// Its job.
    pub job: i64,
    /// What it is called: "frame 3", with the job where several are weighed.
    pub name: String,
    /// Its scans.
    pub scans: Vec<Scan>,
}

/// A set-up with all that is known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// "set-up-1".
    pub id: String,
    /// In a person's words.
    pub name: String,
    /// From the body outwards, as on the command line.
    pub parts: Vec<String>,
    /// Where the lens was focused.
    pub focus: String,
    /// The engraved f-number.
    pub f_number: Option<f64>,
    /// Its frames.
    pub frames: Vec<Taken>,
    /// What their scans say.
    pub observed: Vec<Observed>,
    /// What the kit's data say.
    pub predicted: Vec<Placed>,
    /// The shorter side of its body's frame, mm.
    pub frame_short_mm: Option<f64>,
    /// Reservations.
    pub remarks: Vec<String>,
}

impl Candidate {
    /// The ids of its parts, without draws and directions.
    pub fn part_ids(&self) -> Vec<String> {
        let ids = self.parts.iter().map(|word| word.split_once('=').map_or(word.as_str(), |(id, _)| id));
        // What is held free is a distance and no part.
        let ids: BTreeSet<&str> = ids.filter(|id| *id != "free").collect();
        ids.into_iter().map(str::to_owned).collect()
    }

    /// The scan with the most pixels on a millimetre of the subject.
    pub fn finest(&self) -> Option<&Observed> {
        self.observed.iter().max_by(|a, b| a.px_per_mm().total_cmp(&b.px_per_mm()))
    }
}

/// All candidates of some jobs, and what says nothing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// In the order in which their frames were entered.
    pub candidates: Vec<Candidate>,
    /// Scans and frames that say nothing.
    pub silent: Vec<Silent>,
}

/// Reads the frames and scans of these jobs. `all` is the kit together with what is wished for.
pub fn gather(book: &Notebook, jobs: &[Job], all: &Kit) -> Result<Found, NotebookError> {
    let mut found = Found::default();
    for job in jobs {
        let frames = book.frames_of_job(job.id)?;
        let scans = book.scans_of_job(job.id)?;
        for frame in frames.into_iter().filter(|frame| frame.state != FrameState::LeftOut) {
            let scans = scans.iter().filter(|scan| scan.frame == Some(frame.id)).cloned().collect();
            let name = match jobs.len() {
                1 => format!("frame {}", frame.number),
                _ => format!("frame {} of “{}”", frame.number, job.title),
            };
            take_in(book, &mut found, Taken { frame, job: job.id.0, name, scans })?;
        }
        let loose = scans.iter().filter(|scan| scan.frame.is_none());
        found.silent.extend(loose.map(|scan| Silent {
            what: scan.file_name.clone(),
            why: "it is not said which frame it shows".into(),
            next: "match it to its frame".into(),
            page: format!("/jobs/{}/matching", job.id),
        }));
    }
    for candidate in &mut found.candidates {
        of_one_focus(candidate);
        candidate.frame_short_mm = frame_short(all, &candidate.parts);
        match predicted(all, &candidate.parts, &candidate.focus, candidate.f_number) {
            Ok(figures) => candidate.predicted = figures,
            Err(why) => candidate.remarks.push(format!("nothing can be worked out of it: {why}")),
        }
        candidate.remarks.extend(candidate.observed.iter().flat_map(|seen| seen.remarks.clone()));
    }
    name_them(&mut found.candidates, all);
    Ok(found)
}

fn take_in(book: &Notebook, found: &mut Found, taken: Taken) -> Result<(), NotebookError> {
    let frame = &taken.frame;
    if frame.parts.is_empty() {
        found.silent.push(Silent {
            what: taken.name.clone(),
            why: "no set-up is logged with it".into(),
            next: "enter its parts".into(),
            page: format!("/frames/{}", frame.id),
        });
        return Ok(());
    }
    let mut observed = Vec::new();
    for scan in &taken.scans {
        match observe(book, scan)? {
            Ok(seen) => observed.push(seen),
            Err(dumb) => found.silent.push(Silent {
                what: format!("{} ({})", scan.file_name, taken.name),
                why: dumb.why,
                next: dumb.next,
                page: dumb.page,
            }),
        }
    }
    let same = |known: &&mut Candidate| {
        known.parts == frame.parts && known.focus == frame.focus && known.f_number == frame.f_number
    };
    match found.candidates.iter_mut().find(same) {
        Some(known) => {
            known.observed.extend(observed);
            known.frames.push(taken);
        }
        None => found.candidates.push(Candidate {
            id: format!("set-up-{}", found.candidates.len() + 1),
            name: String::new(),
            parts: frame.parts.clone(),
            focus: frame.focus.clone(),
            f_number: frame.f_number,
            frames: vec![taken],
            observed,
            predicted: Vec::new(),
            frame_short_mm: None,
            remarks: Vec::new(),
        }),
    }
    Ok(())
}

/// Of frames that were focused off on purpose the sharpest step alone says what the set-up can do; the others say where its focus lies.
fn of_one_focus(candidate: &mut Candidate) {
    let offset_of = |seen: &Observed| {
        let frame = candidate.frames.iter().find(|taken| Some(taken.frame.id) == seen.scan.frame)?;
        Some(frame.frame.focus_offset_mm.unwrap_or(0.0))
    };
    let mut steps: BTreeMap<i64, Vec<Observed>> = BTreeMap::new();
    for seen in &candidate.observed {
        let micrometres = (offset_of(seen).unwrap_or(0.0) * 1000.0).round() as i64;
        steps.entry(micrometres).or_default().push(seen.clone());
    }
    if steps.len() < 2 {
        return;
    }
    let best = steps.iter().max_by(|(_, a), (_, b)| sharpness(a).total_cmp(&sharpness(b))).map(|(step, _)| *step);
    let Some(best) = best else { return };
    candidate.observed = steps.remove(&best).unwrap_or_default();
    let others: usize = steps.values().map(Vec::len).sum();
    candidate.remarks.push(format!(
        "{others} scans of the focus bracket are left out: focused {} mm off is the sharpest step",
        fmt::figure(best as f64 / 1000.0, 2)
    ));
}

/// Mean contrast of all curves over all of their length, to tell the steps of a focus bracket apart.
fn sharpness(step: &[Observed]) -> f64 {
    let curves = || step.iter().flat_map(|seen| &seen.sharpness);
    let points = || curves().flat_map(|seen| &seen.curve);
    points().map(|point| point[1]).sum::<f64>() / points().count().max(1) as f64
}

fn frame_short(kit: &Kit, parts: &[String]) -> Option<f64> {
    let body = kit.part(parts.first()?).filter(|part| part.kind() == Kind::Body)?;
    match body.numbers("frame_mm")[..] {
        [width, height] => Some(width.min(height)),
        _ => None,
    }
}

/// Parts and f-number; the focus where two would share that.
fn name_them(candidates: &mut [Candidate], kit: &Kit) {
    let short: Vec<String> = candidates
        .iter()
        .map(|candidate| {
            let parts = set_up_name(kit, &candidate.parts);
            candidate.f_number.map_or(parts.clone(), |f| format!("{parts}, f/{f}"))
        })
        .collect();
    for (at, candidate) in candidates.iter_mut().enumerate() {
        let alone = short.iter().filter(|name| **name == short[at]).count() == 1;
        candidate.name = if alone { short[at].clone() } else { format!("{}, {}", short[at], candidate.focus) };
    }
}
