//! Scans: the files that were loaded, where they lie, and what is known of them.

use rusqlite::{Row, params};

use crate::error::NotebookError;
use crate::ids::{FrameId, JobId, ScanId};
use crate::store::Notebook;
use crate::values::{Checked, allowed, filled, odd_word};

/// A scan as it arrives.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ScanDraft {
    /// The job that it belongs to, when that is known.
    pub job: Option<JobId>,
    /// The frame that it shows, when that is known.
    pub frame: Option<FrameId>,
    /// What the visitor's file was called. Only ever shown, never used as a name on the disk.
    pub file_name: String,
    /// The program's own name for it in the folder of scans: once per notebook.
    pub stored: String,
    /// The size of the file, in bytes.
    pub bytes: u64,
}

/// How far a scan has come.
#[derive(Debug, Clone, PartialEq)]
pub enum ScanState {
    /// The file is still being received.
    Arriving,
    /// The file is there and is being made ready to be looked at.
    Preparing {
        /// How much of that is done, 0 ..= 1.
        share: f64,
    },
    /// It can be looked at and measured.
    Ready,
    /// It cannot be used.
    Failed {
        /// Why, in a sentence to be shown.
        why: String,
    },
}

impl ScanState {
    pub(crate) fn check(&self) -> Checked {
        let Self::Preparing { share } = self else { return Ok(()) };
        allowed((0.0..=1.0).contains(share), "the share of the scan that is prepared", *share, "between 0 and 1")
    }

    /// The word, the share and the reason that stand for it in the file.
    pub(crate) fn columns(&self) -> (&'static str, Option<f64>, Option<&str>) {
        match self {
            Self::Arriving => ("arriving", None, None),
            Self::Preparing { share } => ("preparing", Some(*share), None),
            Self::Ready => ("ready", None, None),
            Self::Failed { why } => ("failed", None, Some(why)),
        }
    }

    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let word: String = row.get("state")?;
        match word.as_str() {
            "arriving" => Ok(Self::Arriving),
            "preparing" => Ok(Self::Preparing { share: row.get("share")? }),
            "ready" => Ok(Self::Ready),
            "failed" => Ok(Self::Failed { why: row.get("why")? }),
            _ => Err(odd_word("the state of a scan", word)),
        }
    }
}

/// How a scan came to its frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Matched {
    /// The person said so.
    Hand,
    /// By its place among the scans of the roll.
    Order,
    /// By the name of its file.
    Name,
    /// By comparing pictures.
    Picture,
    /// By the code on the target in it.
    Code,
}

impl Matched {
    /// The word for it: "hand", "order", "name", "picture", "code".
    pub fn word(self) -> &'static str {
        match self {
            Self::Hand => "hand",
            Self::Order => "order",
            Self::Name => "name",
            Self::Picture => "picture",
            Self::Code => "code",
        }
    }

    /// Nothing without a frame: who deletes a frame leaves the word behind.
    fn read(row: &Row<'_>) -> rusqlite::Result<Option<Self>> {
        let word: String = row.get("matched_by")?;
        if word.is_empty() || row.get::<_, Option<i64>>("frame")?.is_none() {
            return Ok(None);
        }
        let all = [Self::Hand, Self::Order, Self::Name, Self::Picture, Self::Code];
        all.into_iter().find(|by| by.word() == word).map(Some).ok_or_else(|| odd_word("how a scan was matched", word))
    }
}

/// How a magnification came to be known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MagnificationSource {
    /// Measured on a ruler in the scan.
    Ruler,
    /// Computed from the set-up of the frame.
    SetUp,
    /// Typed in.
    Entered,
}

impl MagnificationSource {
    /// The word for it: "ruler", "set-up", "entered".
    pub fn word(self) -> &'static str {
        match self {
            Self::Ruler => "ruler",
            Self::SetUp => "set-up",
            Self::Entered => "entered",
        }
    }

    fn of(word: &str) -> rusqlite::Result<Self> {
        match word {
            "ruler" => Ok(Self::Ruler),
            "set-up" => Ok(Self::SetUp),
            "entered" => Ok(Self::Entered),
            other => Err(odd_word("the source of a magnification", other)),
        }
    }
}

/// How large the subject stands on the film: size on the film over size of the subject.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Magnification {
    /// Size on the film over size of the subject; 1 is life size.
    pub value: f64,
    /// Its uncertainty to either side, in the same measure, when known.
    pub plus_minus: Option<f64>,
    /// How it came to be known.
    pub from: MagnificationSource,
}

impl Magnification {
    fn read(row: &Row<'_>) -> rusqlite::Result<Option<Self>> {
        let Some(value) = row.get("magnification")? else { return Ok(None) };
        let from = MagnificationSource::of(&row.get::<_, String>("magnification_from")?)?;
        Ok(Some(Self { value, plus_minus: row.get("magnification_plus_minus")?, from }))
    }
}

/// A scan in the notebook.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// Its number.
    pub id: ScanId,
    /// The job that it belongs to.
    pub job: Option<JobId>,
    /// The frame that it shows; always one of `job`'s.
    pub frame: Option<FrameId>,
    /// What the visitor's file was called.
    pub file_name: String,
    /// Its name in the folder of scans.
    pub stored: String,
    /// The size of the file, in bytes.
    pub bytes: u64,
    /// Its width in pixels, once it has been read.
    pub width: Option<u32>,
    /// Its height in pixels, once it has been read.
    pub height: Option<u32>,
    /// Bits per sample.
    pub bits: Option<u8>,
    /// The distance on the film from pixel to pixel, in micrometres.
    pub pitch_um: Option<f64>,
    /// How the pitch came to be known: "file", "entered", or empty.
    pub pitch_from: String,
    /// How its numbers were turned into light: "icc", "srgb" and the like.
    pub transfer: String,
    /// Remarks made when it was read, as JSON, kept verbatim.
    pub about: String,
    /// How large the subject stands on the film, when known.
    pub magnification: Option<Magnification>,
    /// How it came to its frame; not known of scans matched before this was kept.
    pub matched: Option<Matched>,
    /// How far it has come.
    pub state: ScanState,
    /// When it was entered, as the caller wrote it (RFC 3339).
    pub created: String,
}

impl Scan {
    fn read(row: &Row<'_>) -> rusqlite::Result<Self> {
        let bytes: i64 = row.get("bytes")?;
        Ok(Self {
            id: row.get("id")?,
            job: row.get("job")?,
            frame: row.get("frame")?,
            file_name: row.get("file_name")?,
            stored: row.get("stored")?,
            bytes: u64::try_from(bytes).map_err(|_| odd_word("the size of a scan", bytes.to_string()))?,
            width: row.get("width")?,
            height: row.get("height")?,
            bits: row.get("bits")?,
            pitch_um: row.get("pitch_um")?,
            pitch_from: row.get("pitch_from")?,
            transfer: row.get("transfer")?,
            about: row.get("about")?,
            magnification: Magnification::read(row)?,
            matched: Matched::read(row)?,
            state: ScanState::read(row)?,
            created: row.get("created")?,
        })
    }
}

impl Notebook {
    /// Adds a scan that is arriving; `now` is the time of entry, RFC 3339.
    ///
    /// A frame named here counts as named by hand. A scan of a frame belongs to that frame's job: with a frame and no job the job is filled in; with a frame of
    /// another job it is refused.
    pub fn add_scan(&mut self, draft: &ScanDraft, now: &str) -> Result<ScanId, NotebookError> {
        filled("the name under which the scan is kept", &draft.stored)?;
        let bytes = i64::try_from(draft.bytes).map_err(|_| too_large(draft.bytes))?;
        self.atomically(|book| {
            let job = book.job_for_scan(draft.job, draft.frame)?;
            let sql = "INSERT INTO scans (job, frame, file_name, stored, bytes, state, created, matched_by) \
                       VALUES (?1, ?2, ?3, ?4, ?5, 'arriving', ?6, ?7)";
            let by = draft.frame.map_or("", |_| Matched::Hand.word());
            let id = book
                .insert(sql, params![job, draft.frame, draft.file_name, draft.stored, bytes, now, by])
                .map_err(|failure| failure.taken(NotebookError::StoredNameTaken { stored: draft.stored.clone() }))?;
            Ok(ScanId(id))
        })
    }

    /// The job of a scan for which this job and this frame were named. Both must be there and go together.
    fn job_for_scan(&self, job: Option<JobId>, frame: Option<FrameId>) -> Result<Option<JobId>, NotebookError> {
        if let Some(id) = job {
            self.job(id)?.ok_or(NotebookError::NoSuchJob { id })?;
        }
        let Some(frame) = frame else { return Ok(job) };
        let belongs_to = self.job_of_frame(frame)?;
        match job {
            Some(job) if job != belongs_to => Err(NotebookError::FrameOfAnotherJob { frame, belongs_to, job }),
            _ => Ok(Some(belongs_to)),
        }
    }

    /// The job that a frame's roll belongs to.
    pub(crate) fn job_of_frame(&self, frame: FrameId) -> Result<JobId, NotebookError> {
        let sql = "SELECT rolls.job FROM frames JOIN rolls ON rolls.id = frames.roll WHERE frames.id = ?1";
        self.one(sql, [frame], |row| row.get(0))?.ok_or(NotebookError::NoSuchFrame { id: frame })
    }

    /// The scan of this number.
    pub fn scan(&self, id: ScanId) -> Result<Option<Scan>, NotebookError> {
        self.one("SELECT * FROM scans WHERE id = ?1", [id], Scan::read)
    }

    /// All scans, in the order in which they arrived.
    pub fn scans(&self) -> Result<Vec<Scan>, NotebookError> {
        self.many("SELECT * FROM scans ORDER BY id", [], Scan::read)
    }

    /// The scans of a job, in the order in which they arrived.
    pub fn scans_of_job(&self, job: JobId) -> Result<Vec<Scan>, NotebookError> {
        self.many("SELECT * FROM scans WHERE job = ?1 ORDER BY id", [job], Scan::read)
    }

    /// The scan of a frame. When it was scanned more than once, the one that arrived last.
    pub fn scan_of_frame(&self, frame: FrameId) -> Result<Option<Scan>, NotebookError> {
        self.one("SELECT * FROM scans WHERE frame = ?1 ORDER BY id DESC LIMIT 1", [frame], Scan::read)
    }

    /// Scans that were still arriving or being prepared. Asked at the start of the program, these are the ones that its
    /// end cut short: to be prepared again, or to be cleared away.
    pub fn interrupted_scans(&self) -> Result<Vec<Scan>, NotebookError> {
        self.many("SELECT * FROM scans WHERE state IN ('arriving', 'preparing') ORDER BY id", [], Scan::read)
    }
}

/// No file system holds such a file; SQLite cannot write the number.
fn too_large(bytes: u64) -> NotebookError {
    NotebookError::Value { field: "the size of the scan", given: bytes as f64, wanted: "below 2^63 bytes" }
}
