//! What the notebook and the kit know of a job's frames and scans, read once for everything that tells it.

use std::collections::{BTreeMap, HashMap};

use kit::{Kind, Kit, Setup, SetupRequest};
use notebook::{
    Exposed, Frame, FrameId, FrameState, Job, JobId, MagnificationSource, Notebook, NotebookError, Roll, Said, Scan,
    ScanId,
};
use optics::{Estimate, Figure};

use super::sidecar::Sidecar;
use super::table::Measured;
use crate::web::fmt;
use crate::web::kit_book::{part_name, set_up_name};

/// A job that is not in the notebook.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("there is no job {wanted} in this notebook; {}", there(.jobs))]
pub struct NotFound {
    /// The number that was asked for.
    pub wanted: JobId,
    /// The jobs that there are, by number and title.
    pub jobs: Vec<(JobId, String)>,
}

/// So many jobs are named.
const MOST_NAMED: usize = 8;

fn there(jobs: &[(JobId, String)]) -> String {
    let named: Vec<String> = jobs.iter().take(MOST_NAMED).map(|(id, title)| format!("{id} (“{title}”)")).collect();
    match jobs.len() {
        0 => "it holds no job yet".into(),
        more if more > MOST_NAMED => format!("it has {} and {} more", named.join(", "), more - MOST_NAMED),
        _ => format!("it has {}", named.join(", ")),
    }
}

/// Everything that is known of a job.
#[derive(Debug, Clone)]
pub struct Known {
    /// The job.
    pub job: Job,
    /// The kit.
    pub kit: Kit,
    /// Its rolls, in the order in which they were entered.
    pub rolls: Vec<Roll>,
    /// Their frames, roll by roll, by number.
    pub frames: Vec<Frame>,
    /// The job's scans, in the order in which they arrived.
    pub scans: Vec<Scan>,
    /// When frames were taken, by the log.
    taken_at: HashMap<FrameId, String>,
    /// What was measured in scans.
    measured: HashMap<ScanId, Measured>,
    /// What set-ups give, each worked out once.
    figures: HashMap<SetUpKey, SetUpFigures>,
}

/// What makes a set-up what it is: parts, focus, f-number.
type SetUpKey = (Vec<String>, String, Option<u64>);

fn key(set: &Exposed) -> SetUpKey {
    (set.parts.clone(), set.focus.clone(), set.f_number.map(f64::to_bits))
}

/// What a set-up gives; nothing where it cannot be built with today's kit.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SetUpFigures {
    /// Size on film over size of the subject.
    pub magnification: Option<Estimate>,
    /// F-number of the cone at the film.
    pub effective_f_number: Option<Estimate>,
    /// Subject to film, mm.
    pub subject_to_film_mm: Option<Estimate>,
    /// Tubes, draw and travel together, mm.
    pub extension_mm: Option<Estimate>,
}

impl SetUpFigures {
    fn of(kit: &Kit, set: &Exposed) -> Self {
        let Ok(focus) = set.focus.parse() else { return Self::default() };
        let request = SetupRequest { parts: set.parts.clone(), focus, f_number: set.f_number, coc_mm: None };
        let report = Setup::resolve(kit, &request).and_then(|setup| setup.report());
        let Ok(report) = report else { return Self::default() };
        let figure = |which| report.figures.get(which).filter(|found: &Estimate| found.value.is_finite());
        Self {
            magnification: figure(Figure::Magnification).filter(|m| m.value > 0.0),
            effective_f_number: figure(Figure::EffectiveFNumber).filter(|_| set.f_number.is_some()),
            subject_to_film_mm: figure(Figure::SubjectToFilm),
            extension_mm: figure(Figure::Extension),
        }
    }
}

impl Known {
    /// Reads all of it; `None` when there is no such job.
    pub fn read(book: &Notebook, job: JobId, kit: Kit) -> Result<Option<Self>, NotebookError> {
        let Some(job) = book.job(job)? else { return Ok(None) };
        let rolls = book.rolls(job.id)?;
        let (frames, scans) = (book.frames_of_job(job.id)?, book.scans_of_job(job.id)?);
        let mut measured: HashMap<ScanId, Measured> = HashMap::new();
        for measurement in book.measurements_of_job(job.id)? {
            measured.entry(measurement.scan).or_default().take(&measurement);
        }
        let taken_at = taken_at(book, &rolls)?;
        let mut figures = HashMap::new();
        for set in frames.iter().flat_map(|frame| [frame.draft.exposed(), frame.plan()]) {
            figures.entry(key(&set)).or_insert_with(|| SetUpFigures::of(&kit, &set));
        }
        Ok(Some(Self { job, kit, rolls, frames, scans, taken_at, measured, figures }))
    }

    /// The jobs of a notebook, for a refusal that names them.
    pub fn not_found(book: &Notebook, wanted: JobId) -> Result<NotFound, NotebookError> {
        let jobs = book.jobs()?.into_iter().map(|job| (job.id, job.title.clone())).collect();
        Ok(NotFound { wanted, jobs })
    }

    /// The roll of a frame.
    pub fn roll_of(&self, frame: &Frame) -> Option<&Roll> {
        self.rolls.iter().find(|roll| roll.id == frame.roll)
    }

    /// The frame that a scan shows, when it is one of the job's.
    pub fn frame_of(&self, scan: &Scan) -> Option<&Frame> {
        let id = scan.frame?;
        self.frames.iter().find(|frame| frame.id == id)
    }

    /// What the set-up gives that a frame was taken with.
    pub fn figures(&self, frame: &Frame) -> SetUpFigures {
        self.figures.get(&key(&frame.draft.exposed())).copied().unwrap_or_default()
    }

    /// What the set-up gives that a frame was planned with.
    pub fn planned_figures(&self, frame: &Frame) -> SetUpFigures {
        self.figures.get(&key(&frame.plan())).copied().unwrap_or_default()
    }

    /// When a frame was taken, where that was logged.
    pub fn taken_at(&self, frame: FrameId) -> Option<&str> {
        self.taken_at.get(&frame).map(String::as_str)
    }

    /// What was measured in a scan.
    pub fn measured(&self, scan: ScanId) -> Measured {
        self.measured.get(&scan).cloned().unwrap_or_default()
    }

    /// What a scan's sidecar says; nothing for a scan that shows no frame, of which nothing is known.
    pub fn sidecar(&self, scan: &Scan) -> Option<Sidecar> {
        let frame = self.frame_of(scan)?;
        let roll = self.roll_of(frame);
        let part = |kind| part_of(&self.kit, &frame.parts, kind);
        let lens = part(Kind::Lens);
        let named = |id: &str| part_name(&self.kit, id);
        Some(Sidecar {
            title: self.title(frame, roll),
            description: self.description(frame, roll, scan),
            subject: self.job.subject.clone(),
            film: roll.map(film).unwrap_or_default(),
            body: part(Kind::Body).map(|body| named(body.id())).unwrap_or_default(),
            lens: lens.map(|lens| named(lens.id())).unwrap_or_default(),
            focal_length_mm: lens.and_then(|lens| lens.number("focal_length_mm")),
            f_number: frame.f_number,
            shutter_s: frame.shutter_s,
            subject_to_film_mm: self.figures(frame).subject_to_film_mm.map(|found| found.value),
            iso: roll.and_then(|roll| roll.iso),
            taken_at: self.taken_at(frame.id).map(str::to_owned),
        })
    }

    fn title(&self, frame: &Frame, roll: Option<&Roll>) -> String {
        let what = if frame.label.trim().is_empty() { &self.job.title } else { &frame.label };
        match roll.map(|roll| roll.title.trim()).filter(|title| !title.is_empty()) {
            Some(roll) => format!("{what} ({roll}, frame {})", frame.number),
            None => format!("{what} (frame {})", frame.number),
        }
    }

    fn description(&self, frame: &Frame, roll: Option<&Roll>, scan: &Scan) -> String {
        let mut said = vec![format!("Job: {}", self.job.title)];
        said.extend(self.set_up(frame));
        said.extend(self.sizes(frame, scan));
        if let Some(effective) = self.figures(frame).effective_f_number {
            said.push(format!("Effective f-number {}", estimate(effective)));
        }
        if let Some(metered) = frame.metered_s {
            said.push(format!("The meter gave {}", fmt::shutter(metered)));
        }
        said.extend(roll.map(film).filter(|film| !film.is_empty()));
        let words = [&frame.purpose, &frame.exposure_note, &frame.note];
        said.extend(words.into_iter().filter(|text| !text.trim().is_empty()).cloned());
        if frame.state != FrameState::Shot {
            said.push("Not logged as taken: these are the settings that were planned".into());
        }
        let sentences = said.iter().map(|text| crate::web::error::sentence(&text.replace('\u{a0}', " ")));
        sentences.collect::<Vec<_>>().join(" ")
    }

    fn set_up(&self, frame: &Frame) -> Option<String> {
        let body = part_of(&self.kit, &frame.parts, Kind::Body)?;
        let parts = set_up_name(&self.kit, &frame.parts);
        let extension = self.figures(frame).extension_mm.filter(|found| found.value > 0.0);
        let extension = extension.map(|found| format!(", extension {} mm", estimate(found))).unwrap_or_default();
        Some(format!("Set-up: {parts} on {}, {}{extension}", part_name(&self.kit, body.id()), focused(&frame.focus)))
    }

    /// The magnification as measured, and as the set-up gives it.
    fn sizes(&self, frame: &Frame, scan: &Scan) -> Option<String> {
        let planned = self.figures(frame).magnification;
        let measured = scan.magnification.filter(|m| m.from != MagnificationSource::SetUp);
        let by_set_up = planned.map(|m| format!("{} by the set-up", sized(m.value, m.half_width())));
        match (measured, by_set_up) {
            (Some(m), by_set_up) => {
                let how = if m.from == MagnificationSource::Ruler { "measured" } else { "entered" };
                let other = by_set_up.map(|words| format!("; {words}")).unwrap_or_default();
                Some(format!("Magnification {} {how}{other}", sized(m.value, m.plus_minus)))
            }
            (None, Some(by_set_up)) => Some(format!("Magnification {by_set_up}")),
            (None, None) => None,
        }
    }
}

fn sized(value: f64, plus_minus: Option<f64>) -> String {
    format!("{} ({})", fmt::measured(value, plus_minus), fmt::ratio(value))
}

fn estimate(figure: Estimate) -> String {
    fmt::measured(figure.value, figure.half_width())
}

/// "Film: fine-grained slide film, exposed at ISO 64".
fn film(roll: &Roll) -> String {
    let speed = roll.iso.map(|iso| format!("exposed at ISO {iso}"));
    let name = Some(roll.film.trim()).filter(|film| !film.is_empty());
    match (name, speed) {
        (Some(name), Some(speed)) => format!("Film: {name}, {speed}"),
        (Some(name), None) => format!("Film: {name}"),
        (None, Some(speed)) => format!("Film {speed}"),
        (None, None) => String::new(),
    }
}

/// The focus in words.
fn focused(focus: &str) -> String {
    match (focus, focus.split_once('=')) {
        ("infinity", _) => "focused at the infinity mark".into(),
        ("closest", _) => "focused at the closest mark".into(),
        (_, Some(("travel", mm))) => format!("focused {mm} mm forward of the infinity mark"),
        (_, Some(("distance", mm))) => format!("set to {mm} mm on the lens's scale"),
        (other, _) => format!("focus {other}"),
    }
}

/// The first part of a kind, from the body outwards.
fn part_of<'a>(kit: &'a Kit, parts: &[String], kind: Kind) -> Option<&'a kit::Part> {
    let ids = parts.iter().map(|word| word.split_once('=').map_or(word.as_str(), |(id, _)| id));
    ids.filter_map(|id| kit.part(id)).find(|part| part.kind() == kind)
}

/// When frames were taken: the last entry that is not a note stands, and says it when it says "taken".
fn taken_at(book: &Notebook, rolls: &[Roll]) -> Result<HashMap<FrameId, String>, NotebookError> {
    let mut found = HashMap::new();
    for roll in rolls {
        for entry in book.entries_of_roll(roll.id)? {
            let Some(frame) = entry.frame else { continue };
            match entry.said {
                Said::Taken | Said::Changed(_) | Said::Extra(_) => {
                    found.insert(frame, entry.said_at);
                }
                Said::LeftOut | Said::PutBack => {
                    found.remove(&frame);
                }
                Said::Note => {}
            }
        }
    }
    Ok(found)
}

/// What the rolls are called in a table, where a title must be there and name one roll: a second "A" is "A (2)", and one
/// without a title goes by its place.
pub fn unique_titles(rolls: &[Roll]) -> Vec<String> {
    let mut taken: BTreeMap<String, usize> = BTreeMap::new();
    let titles: Vec<String> = rolls.iter().map(|roll| roll.title.clone()).collect();
    let mut unique = Vec::with_capacity(rolls.len());
    for (index, title) in titles.iter().enumerate() {
        let base = if title.trim().is_empty() { format!("Roll {}", index + 1) } else { title.clone() };
        let mut name = base.clone();
        while taken.contains_key(&name) || (name != *title && titles.contains(&name)) {
            let count = taken.entry(base.clone()).or_insert(1);
            *count += 1;
            name = format!("{base} ({count})");
        }
        taken.entry(name.clone()).or_insert(1);
        unique.push(name);
    }
    unique
}
