//! Jobs: what has to be photographed, how large, and for what use.

use std::ops::Deref;

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::JobId;
use crate::store::Notebook;
use crate::values::{Checked, above_zero, above_zero_if_any, allowed, filled, not_negative_if_any};

/// The fineness in the print that a job asks for unless it says otherwise, in line pairs per millimetre: about what a
/// good eye tells apart at reading distance (common practice, no source).
pub const DEFAULT_CRITERION_LP_MM: f64 = 5.0;

/// The share of contrast to be left at that fineness unless the job says otherwise (common practice, no source).
pub const DEFAULT_CONTRAST_NEEDED: f64 = 0.2;

/// A job as a person fills it in.
#[derive(Debug, Clone, PartialEq)]
pub struct JobDraft {
    /// What the job is called; not empty.
    pub title: String,
    /// What is photographed, in words.
    pub subject: String,
    /// The subject's longest side, in millimetres.
    pub subject_mm: f64,
    /// Its shorter side, in millimetres; with none it takes no more room than the longest.
    pub subject_short_mm: Option<f64>,
    /// How deep the subject is along the line of sight, in millimetres.
    pub subject_depth_mm: Option<f64>,
    /// How much of that depth is to be sharp, in millimetres; all of it when not said.
    pub depth_wanted_mm: Option<f64>,
    /// How much of the frame's shorter side the subject shall fill: above 0, up to 1.
    pub fill: f64,
    /// The body to be used, by its id in the kit.
    pub body: Option<String>,
    /// The long side of the print of the whole frame, in millimetres.
    pub print_mm: f64,
    /// The fineness that must still be seen in the print, in line pairs per millimetre of the print.
    pub criterion_lp_mm: f64,
    /// The share of contrast that must be left at that fineness: above 0, up to 1.
    pub contrast_needed: f64,
    /// The least distance between subject and set-up that leaves room to work, in millimetres.
    pub least_working_distance_mm: Option<f64>,
    /// The most light that the set-up may lose against the meter's reading, in stops.
    pub most_stops_lost: Option<f64>,
    /// The share of the frame's sides that may be cropped away: from 0 to below 1.
    pub largest_crop: f64,
    /// Anything else.
    pub notes: String,
}

/// An empty form: a subject of 20 mm that fills four fifths of the frame, printed 240 mm wide. The title has to be
/// filled in before it can be kept.
impl Default for JobDraft {
    fn default() -> Self {
        Self {
            title: String::new(),
            subject: String::new(),
            subject_mm: 20.0,
            subject_short_mm: None,
            subject_depth_mm: None,
            depth_wanted_mm: None,
            fill: 0.8,
            body: None,
            print_mm: 240.0,
            criterion_lp_mm: DEFAULT_CRITERION_LP_MM,
            contrast_needed: DEFAULT_CONTRAST_NEEDED,
            least_working_distance_mm: None,
            most_stops_lost: None,
            largest_crop: 0.0,
            notes: String::new(),
        }
    }
}

const LENGTH: &str = "a number above 0, in mm";
const LENGTH_OR_NONE: &str = "0 or a number above it, in mm";
const SHARE: &str = "above 0 and at most 1";

impl JobDraft {
    fn check(&self) -> Checked {
        filled("the title of the job", &self.title)?;
        above_zero("the longest side of the subject", self.subject_mm, LENGTH)?;
        not_negative_if_any("the depth of the subject", self.subject_depth_mm, LENGTH_OR_NONE)?;
        share("the share of the frame that the subject fills", self.fill)?;
        above_zero("the long side of the print", self.print_mm, LENGTH)?;
        above_zero("the fineness needed in the print", self.criterion_lp_mm, "a number above 0, in line pairs per mm")?;
        share("the contrast needed at that fineness", self.contrast_needed)?;
        not_negative_if_any("the least working distance", self.least_working_distance_mm, LENGTH_OR_NONE)?;
        above_zero_if_any("the shorter side of the subject", self.subject_short_mm, LENGTH)?;
        not_negative_if_any("the depth wanted sharp", self.depth_wanted_mm, LENGTH_OR_NONE)?;
        not_negative_if_any("the most light lost", self.most_stops_lost, "0 or a number above it, in stops")?;
        let crop = self.largest_crop;
        allowed((0.0..1.0).contains(&crop), "the share that may be cropped away", crop, "from 0 to below 1")
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            title: row.get("title")?,
            subject: row.get("subject")?,
            subject_mm: row.get("subject_mm")?,
            subject_depth_mm: row.get("subject_depth_mm")?,
            fill: row.get("fill")?,
            body: row.get("body")?,
            print_mm: row.get("print_mm")?,
            criterion_lp_mm: row.get("criterion_lp_mm")?,
            contrast_needed: row.get("contrast_needed")?,
            least_working_distance_mm: row.get("least_working_distance_mm")?,
            subject_short_mm: row.get("subject_short_mm")?,
            depth_wanted_mm: row.get("depth_wanted_mm")?,
            most_stops_lost: row.get("most_stops_lost")?,
            largest_crop: row.get("largest_crop")?,
            notes: row.get("notes")?,
        })
    }
}

fn share(field: &'static str, given: f64) -> Checked {
    allowed(given > 0.0 && given <= 1.0, field, given, SHARE)
}

/// A job in the notebook. What the person filled in is reached directly: `job.title`.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Its number.
    pub id: JobId,
    /// As filled in.
    pub draft: JobDraft,
    /// Whether it is the example that the program made itself.
    pub demo: bool,
    /// When it was entered, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Deref for Job {
    type Target = JobDraft;

    fn deref(&self) -> &JobDraft {
        &self.draft
    }
}

impl Job {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get("id")?,
            draft: JobDraft::read(row)?,
            demo: row.get("demo")?,
            created: row.get("created")?,
        })
    }
}

impl Notebook {
    /// Adds a job; `now` is the time of entry, RFC 3339.
    pub fn add_job(&mut self, draft: &JobDraft, demo: bool, now: &str) -> Result<JobId, NotebookError> {
        draft.check()?;
        let sql = "INSERT INTO jobs (title, subject, subject_mm, subject_depth_mm, fill, body, print_mm, \
                   criterion_lp_mm, contrast_needed, least_working_distance_mm, notes, demo, created, \
                   subject_short_mm, depth_wanted_mm, most_stops_lost, largest_crop) \
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)";
        let values = params![
            draft.title,
            draft.subject,
            draft.subject_mm,
            draft.subject_depth_mm,
            draft.fill,
            draft.body,
            draft.print_mm,
            draft.criterion_lp_mm,
            draft.contrast_needed,
            draft.least_working_distance_mm,
            draft.notes,
            demo,
            now,
            draft.subject_short_mm,
            draft.depth_wanted_mm,
            draft.most_stops_lost,
            draft.largest_crop,
        ];
        Ok(JobId(self.insert(sql, values)?))
    }

    /// Puts `draft` in the place of what the job said.
    pub fn update_job(&mut self, id: JobId, draft: &JobDraft) -> Result<(), NotebookError> {
        draft.check()?;
        let sql = "UPDATE jobs SET title = ?2, subject = ?3, subject_mm = ?4, subject_depth_mm = ?5, fill = ?6, \
                   body = ?7, print_mm = ?8, criterion_lp_mm = ?9, contrast_needed = ?10, \
                   least_working_distance_mm = ?11, notes = ?12, subject_short_mm = ?13, depth_wanted_mm = ?14, \
                   most_stops_lost = ?15, largest_crop = ?16 WHERE id = ?1";
        let values = params![
            id,
            draft.title,
            draft.subject,
            draft.subject_mm,
            draft.subject_depth_mm,
            draft.fill,
            draft.body,
            draft.print_mm,
            draft.criterion_lp_mm,
            draft.contrast_needed,
            draft.least_working_distance_mm,
            draft.notes,
            draft.subject_short_mm,
            draft.depth_wanted_mm,
            draft.most_stops_lost,
            draft.largest_crop,
        ];
        Ok(self.write_one(sql, values, NotebookError::NoSuchJob { id })?)
    }

    /// The job of this number.
    pub fn job(&self, id: JobId) -> Result<Option<Job>, NotebookError> {
        self.one("SELECT * FROM jobs WHERE id = ?1", [id], Job::read)
    }

    /// All jobs, in the order in which they were entered.
    pub fn jobs(&self) -> Result<Vec<Job>, NotebookError> {
        self.many("SELECT * FROM jobs ORDER BY id", [], Job::read)
    }

    /// Deletes a job with its rolls, frames and decisions. Its scans stay, with no job and no frame.
    pub fn delete_job(&mut self, id: JobId) -> Result<(), NotebookError> {
        Ok(self.write_one("DELETE FROM jobs WHERE id = ?1", [id], NotebookError::NoSuchJob { id })?)
    }
}
