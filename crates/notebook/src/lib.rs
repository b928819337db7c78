//! The SQLite file that holds kit, wishes, jobs, uses, rolls, frames, the log, scans, measurements, trials and
//! decisions.
//!
//! This is the only crate with SQL. It keeps what it is given and gives it back unchanged; it knows no optics, and
//! nothing of what a part's text or a measurement's JSON means: those documents are kept verbatim and are the
//! caller's to validate. There is no clock in here either: where a time of creation is kept, the caller hands it in.
//!
//! # What it promises
//!
//! * **A saved entry stays saved.** When a method that changes something has returned `Ok`, the entry survives the
//!   program being killed in the next instant: write-ahead log, `synchronous = FULL`. What consists of several
//!   changes is kept whole or not at all; [`Notebook::atomically`] makes any group of calls such a whole.
//! * **Nothing half right is kept.** Lengths are finite and above zero, shares lie in 0 ..= 1, every frame belongs to a
//!   roll and every roll to a job: said here in a photographer's words ([`NotebookError`]), and once more by `CHECK` and
//!   foreign keys in the file itself.
//! * **An older notebook is brought up to date** when it is opened, one transaction per step. A newer one is
//!   refused by name and left as it is, and so is a file that is no notebook.
//! * **What was said at the camera is never changed.** An entry of the log that arrives a second time changes nothing, and
//!   one whose frame is gone is kept with the reason ([`Notebook::add_entry`]).
//! * **Numbers are never used twice**, not even after a deletion.
//!
//! # Example
//!
//! ```
//! use notebook::{JobDraft, Notebook};
//!
//! let mut notebook = Notebook::in_memory()?;
//! let draft = JobDraft { title: "Weevils, drawer 12".into(), subject_mm: 8.0, ..JobDraft::default() };
//! let job = notebook.add_job(&draft, false, "2026-03-01T09:00:00Z")?;
//! assert_eq!(notebook.job(job)?.expect("just added").title, "Weevils, drawer 12");
//! # Ok::<(), notebook::NotebookError>(())
//! ```

mod decisions;
mod devices;
mod error;
mod file;
mod films;
mod frames;
mod ids;
mod jobs;
mod kit;
mod log;
mod measurements;
mod migrate;
mod photos;
mod placings;
mod responses;
mod rolls;
mod scan_changes;
mod scans;
mod settings;
mod store;
mod trials;
mod uses;
mod values;
mod wishes;

pub use decisions::Decision;
pub use devices::Device;
pub use error::NotebookError;
pub use films::FilmRecord;
pub use frames::{Exposed, Frame, FrameDraft, FrameState};
pub use ids::{
    DecisionId, DeviceId, EntryId, FrameId, IdError, JobId, MeasurementId, PhotoId, ResponseId, RollId, ScanId,
    TrialId, Uid, UidError, UseId,
};
pub use jobs::{DEFAULT_CONTRAST_NEEDED, DEFAULT_CRITERION_LP_MM, Job, JobDraft};
pub use kit::PartRecord;
pub use log::{Arrival, Deviations, Entry, EntryDraft, Said};
pub use measurements::{Measurement, MeasurementDraft, MeasurementKind};
pub use photos::{Photo, PhotoDraft};
pub use placings::Placing;
pub use responses::{Response, ResponseDraft, ResponseKind};
pub use rolls::{Roll, RollDraft};
pub use scan_changes::ScanPicture;
pub use scans::{Magnification, MagnificationSource, Matched, Scan, ScanDraft, ScanState};
pub use store::Notebook;
pub use trials::{Choice, Pick, Trial, TrialDraft};
pub use uses::{UseDraft, UseRecord};
