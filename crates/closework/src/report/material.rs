//! Everything that a report is made of, read from the notebook once.

use std::path::{Path, PathBuf};

use kit::{Kit, Setup, SetupRequest};
use notebook::{Decision, Frame, Job, JobId, Measurement, MeasurementKind, Notebook, NotebookError, Roll, Scan, Trial};

use crate::documents::verdict::{VerdictDocument, VerdictSettings};
use crate::documents::{EdgeDocument, FrameDocument};
use crate::trial::{Course, OutcomeDocument, TrialDocument, measured, outcome};
use crate::verdict::{Prepared, VerdictTrouble, foresee_now, prepare};
use crate::web::PageError;
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::scans::subject_scale;

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
pub enum ReportTrouble {
    /// The notebook.
    #[error(transparent)]
    Notebook(#[from] NotebookError),
    /// A part in the notebook.
    #[error("{}", .0.what())]
    Kit(PageError),
    /// The verdict, which also says when there is no such job.
    #[error(transparent)]
    Verdict(#[from] VerdictTrouble),
    /// Setting the pages.
    #[error(transparent)]
    Pages(#[from] printing::PrintError),
    /// Writing figures down.
    #[error("the figures could not be written down ({0})")]
    Written(String),
    /// Whoever asked for it wants it no more.
    #[error("stopped on request")]
    Stopped,
}

/// A scan with what was measured in it.
#[derive(Debug, Clone)]
pub struct Scanned {
    pub scan: Scan,
    pub frame: Option<Frame>,
    pub measurements: Vec<Measurement>,
    /// The edges that were measured one by one.
    pub edges: Vec<(String, EdgeDocument, notebook::MeasurementId)>,
    /// The newest measurement of the whole frame.
    pub whole: Option<FrameDocument>,
    /// Pixels on a millimetre of the subject with half-width.
    pub px_per_mm: Option<(f64, Option<f64>)>,
}

/// Frames that were taken alike.
#[derive(Debug, Clone)]
pub struct SetUp {
    pub name: String,
    pub parts: Vec<String>,
    pub focus: String,
    pub f_number: Option<f64>,
    /// Places in [`Material::frames`].
    pub frames: Vec<usize>,
    /// Places in [`Material::scans`].
    pub scans: Vec<usize>,
    /// What the kit's data say of it; or why they say nothing.
    pub planned: Result<kit::Report, String>,
}

/// A trial that has ended.
#[derive(Debug, Clone)]
pub struct EndedTrial {
    pub trial: Trial,
    pub document: TrialDocument,
    pub outcome: OutcomeDocument,
    pub figure: String,
}

/// All of it.
pub struct Material {
    pub(super) job: Job,
    pub(super) kit: Kit,
    pub(super) rolls: Vec<Roll>,
    pub(super) frames: Vec<Frame>,
    pub(super) scans: Vec<Scanned>,
    pub(super) set_ups: Vec<SetUp>,
    pub(super) decisions: Vec<Decision>,
    pub(super) trials: Vec<EndedTrial>,
    /// Trials whose names are still hidden.
    pub(super) hidden: usize,
    pub(super) verdict: VerdictDocument,
    prepared: Prepared,
    /// Where scans and their tiles lie.
    pub(super) scans_folder: PathBuf,
}

impl Material {
    /// Adds what tracing predicts: some seconds of work that need the notebook no more.
    pub fn foresee(&mut self) {
        self.verdict.foreseen = Some(foresee_now(&self.prepared));
    }
}

/// Reads all that belongs to a job.
pub fn read(book: &Notebook, id: JobId, scans_folder: &Path) -> Result<Material, ReportTrouble> {
    let prepared = prepare(book, Some(id), VerdictSettings::default())?;
    let verdict = prepared.document();
    let job = book.job(id)?.ok_or(NotebookError::NoSuchJob { id })?;
    let kit = read_kit(book).map_err(ReportTrouble::Kit)?;
    let frames = book.frames_of_job(id)?;
    let scans = scans(book, id, &frames)?;
    let set_ups = set_ups(&kit, &frames, &scans);
    let (trials, hidden) = trials(book, &job)?;
    let (rolls, decisions) = (book.rolls(id)?, book.decisions(id)?);
    let scans_folder = scans_folder.to_owned();
    Ok(Material { job, kit, rolls, frames, scans, set_ups, decisions, trials, hidden, verdict, prepared, scans_folder })
}

fn scans(book: &Notebook, id: JobId, frames: &[Frame]) -> Result<Vec<Scanned>, ReportTrouble> {
    let one = |scan: Scan| {
        let measurements = book.measurements(scan.id)?;
        let edges = measurements.iter().filter(|m| m.kind == MeasurementKind::Edge);
        let edges = edges.filter_map(|m| Some((m.label.clone(), serde_json::from_str(&m.result).ok()?, m.id)));
        let newest = measurements.iter().rev().find(|m| m.kind == MeasurementKind::Frame);
        Ok(Scanned {
            edges: edges.collect(),
            whole: newest.and_then(|m| serde_json::from_str(&m.result).ok()),
            px_per_mm: subject_scale(&scan, &measurements),
            frame: frames.iter().find(|frame| scan.frame == Some(frame.id)).cloned(),
            measurements,
            scan,
        })
    };
    book.scans_of_job(id)?.into_iter().map(one).collect()
}

fn set_ups(kit: &Kit, frames: &[Frame], scans: &[Scanned]) -> Vec<SetUp> {
    let mut found: Vec<SetUp> = Vec::new();
    for (place, frame) in frames.iter().enumerate() {
        let of_it = scans.iter().enumerate().filter(|(_, s)| s.scan.frame == Some(frame.id)).map(|(place, _)| place);
        let same = |s: &&mut SetUp| s.parts == frame.parts && s.focus == frame.focus && s.f_number == frame.f_number;
        if let Some(known) = found.iter_mut().find(same) {
            known.frames.push(place);
            known.scans.extend(of_it);
            continue;
        }
        let stop = frame.f_number.map(|f| format!(", f/{f}")).unwrap_or_default();
        found.push(SetUp {
            name: set_up_name(kit, &frame.parts) + &stop,
            parts: frame.parts.clone(),
            focus: frame.focus.clone(),
            f_number: frame.f_number,
            frames: vec![place],
            scans: of_it.collect(),
            planned: planned(kit, frame),
        });
    }
    found
}

fn planned(kit: &Kit, frame: &Frame) -> Result<kit::Report, String> {
    let request = SetupRequest {
        parts: frame.parts.clone(),
        focus: frame.focus.parse().map_err(|_| format!("“{}” says no way of focusing", frame.focus))?,
        f_number: frame.f_number,
        coc_mm: None,
    };
    let report = Setup::resolve(kit, &request).and_then(|setup| setup.report());
    report.map_err(|why| why.to_string())
}

fn trials(book: &Notebook, job: &Job) -> Result<(Vec<EndedTrial>, usize), ReportTrouble> {
    let (mut ended, mut hidden) = (Vec::new(), 0);
    for trial in book.trials_of_job(job.id)? {
        let document = serde_json::from_str::<TrialDocument>(&trial.draft.document).ok();
        let (Some(document), true) = (document, trial.ended.is_some()) else {
            hidden += 1;
            continue;
        };
        let measured = measured(book, &document, Some(job), "").map_err(ReportTrouble::Kit)?;
        let course = Course::of_kept(&document, &book.picks(trial.id)?);
        let outcome = outcome(&document, &course, Some(&measured.figures));
        ended.push(EndedTrial { trial, document, outcome, figure: measured.name() });
    }
    Ok((ended, hidden))
}
