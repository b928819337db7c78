//! What can go wrong with a notebook, in the words of the person whose notebook it is.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

use crate::ids::{
    DecisionId, DeviceId, FrameId, JobId, MeasurementId, PhotoId, ResponseId, RollId, ScanId, TrialId, UseId,
};

/// Why the notebook did not do what it was asked. After any of these the notebook is as it was before the call.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum NotebookError {
    /// Two parts of the kit would be called the same.
    #[error("the kit has a part called \"{id}\" already: give this one another id, or change the part that has it")]
    DuplicatePart {
        /// The id that is taken.
        id: String,
    },
    /// The kit has no such part.
    #[error("the kit has no part called \"{id}\": it may have been renamed or deleted; look at the list of parts")]
    NoSuchPart {
        /// The id that was asked for.
        id: String,
    },
    /// There is no such job.
    #[error("there is no job number {id}: it may have been deleted; look at the list of jobs")]
    NoSuchJob {
        /// The number that was asked for.
        id: JobId,
    },
    /// There is no such roll.
    #[error("there is no roll number {id}: it may have been deleted; look at the rolls of the job")]
    NoSuchRoll {
        /// The number that was asked for.
        id: RollId,
    },
    /// There is no such frame.
    #[error("there is no frame with the entry number {id}: it may have been deleted; look at the roll")]
    NoSuchFrame {
        /// The number that was asked for: the entry's, not the one on the film.
        id: FrameId,
    },
    /// There is no such scan.
    #[error("there is no scan number {id}: it may have been deleted; look at the list of scans")]
    NoSuchScan {
        /// The number that was asked for.
        id: ScanId,
    },
    /// There is no such measurement.
    #[error("there is no measurement number {id}: it may have been deleted; look at the scan")]
    NoSuchMeasurement {
        /// The number that was asked for.
        id: MeasurementId,
    },
    /// There is no such decision.
    #[error("there is no decision number {id}: it may have been deleted; look at the job")]
    NoSuchDecision {
        /// The number that was asked for.
        id: DecisionId,
    },
    /// There is no such response.
    #[error("there is no response number {id}: it may have been deleted; look at the list of responses")]
    NoSuchResponse {
        /// The number that was asked for.
        id: ResponseId,
    },
    /// There is no such use.
    #[error("there is no use number {id}: it may have been deleted; look at the job's uses")]
    NoSuchUse {
        /// The number that was asked for.
        id: UseId,
    },
    /// Two uses of one job would have the same name.
    #[error("the job has a use called \"{title}\" already: give one of the two another name")]
    UseTitleTaken {
        /// The name that is taken.
        title: String,
    },
    /// There is no such trial.
    #[error("there is no trial number {id}: it may have been deleted; look at the job's trials")]
    NoSuchTrial {
        /// The number that was asked for.
        id: TrialId,
    },
    /// The names have been shown.
    #[error("\"{title}\" has ended and the names were shown: begin a new trial to go on picking")]
    TrialEnded {
        /// The trial.
        title: String,
    },
    /// The pick was made already.
    #[error("pick {number} was made already: go on with the next pair")]
    PickTaken {
        /// Which pick.
        number: u32,
    },
    /// A pick between a candidate and itself, or one without a number.
    #[error("pick {number} is no pick between two candidates: it needs a number from 1 and two different ones")]
    PickOfOne {
        /// Which pick.
        number: u32,
    },
    /// There is no such phone.
    #[error("there is no phone number {id}: look at the list of paired phones")]
    NoSuchDevice {
        /// The number that was asked for.
        id: DeviceId,
    },
    /// There is no such photo.
    #[error("there is no photo number {id}: it may have been deleted; look at the roll")]
    NoSuchPhoto {
        /// The number that was asked for.
        id: PhotoId,
    },
    /// Nothing is kept of the film.
    #[error("nothing is kept of a film called \"{name}\": look at the list of films")]
    NoSuchFilm {
        /// The name that was asked for.
        name: String,
    },
    /// Two responses would be called the same.
    #[error("a response is called \"{name}\" already: give this one another name, or delete the one that has it")]
    ResponseNameTaken {
        /// The name that is taken.
        name: String,
    },
    /// A roll would have two frames of the same number.
    #[error("roll {roll} has a frame {number} already: take the next free number, or change the frame that has it")]
    FrameNumberTaken {
        /// The roll.
        roll: RollId,
        /// The frame's number on the film.
        number: u32,
    },
    /// A scan was to be put to one job and to a frame of another.
    #[error(
        "frame {frame} belongs to job {belongs_to}, not to job {job}: choose a frame of that job, or that frame's job"
    )]
    FrameOfAnotherJob {
        /// The frame that was named.
        frame: FrameId,
        /// The job that this frame belongs to.
        belongs_to: JobId,
        /// The job that was named.
        job: JobId,
    },
    /// Two scans would lie under one name in the folder of scans.
    #[error("a scan is kept under the name \"{stored}\" already: keep the new one under another name")]
    StoredNameTaken {
        /// The name in the folder of scans.
        stored: String,
    },
    /// A number that cannot be.
    #[error("{field} is {given}: it must be {wanted}; correct it and save again")]
    Value {
        /// What the number says, for example "the longest side of the subject".
        field: &'static str,
        /// The number as it came.
        given: f64,
        /// What is allowed, with the unit.
        wanted: &'static str,
    },
    /// A text that must not be empty.
    #[error("{field} is empty: fill it in and save again")]
    Blank {
        /// What the text says, for example "the title of the job".
        field: &'static str,
    },

    /// The notebook was written by a later version of the program.
    #[error(
        "{path} was written by a newer version of this program (its format is {found}, this program knows up to \
         {known}): use the newer program; the file was left as it is"
    )]
    NewerFile {
        /// The file.
        path: PathBuf,
        /// The format's number in the file.
        found: i32,
        /// The highest number that this program knows.
        known: i32,
    },
    /// The file is something else.
    #[error("{path} is not a notebook of this program: name another file, or a new one; this one was left as it is")]
    NotANotebook {
        /// The file.
        path: PathBuf,
    },
    /// The file cannot be opened or made at all.
    #[error("{path} cannot be opened ({why}): see that its folder exists and that you may write there")]
    CannotOpen {
        /// The file.
        path: PathBuf,
        /// What the operating system or SQLite said.
        why: String,
    },
    /// The file holds something that this program never wrote.
    #[error("{path} is damaged ({what}): keep a copy of it as it is, and go on with the last good copy")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// Another program kept the notebook busy for too long.
    #[error("{path} is in use by another program: close that program, or wait until it is done, and try again")]
    Locked {
        /// The file.
        path: PathBuf,
    },
    /// The file must not be written.
    #[error("{path} cannot be written: allow writing to the file and to its folder, then try again")]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// No room is left.
    #[error(
        "no room is left to write to {path}: nothing of this entry was saved; make room on the disk and save again"
    )]
    Full {
        /// The file.
        path: PathBuf,
    },
    /// A change was asked for in a group of changes of which an earlier one had already undone them all.
    #[error("an earlier step of the same action failed, and all of it was taken back: begin the action again ({path})")]
    TakenBack {
        /// The file.
        path: PathBuf,
    },
    /// The file's own rules refused something that no check before had caught.
    #[error("{path} refused the entry ({rule}): nothing of it was saved; look the entry over and save again")]
    Refused {
        /// The file.
        path: PathBuf,
        /// The rule, as SQLite names it.
        rule: String,
    },
    /// Reading or writing failed for another reason.
    #[error(
        "{path} could not be read or written ({source}): nothing of this entry was saved; see that the disk is sound"
    )]
    Trouble {
        /// The file.
        path: PathBuf,
        /// What SQLite said.
        source: rusqlite::Error,
    },
}

impl NotebookError {
    /// The one place where SQLite's errors become the photographer's.
    pub(crate) fn from_sqlite(path: &Path, error: rusqlite::Error) -> Self {
        let path = path.to_owned();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Locked { path },
            Some(ErrorCode::ReadOnly) => Self::ReadOnly { path },
            Some(ErrorCode::DiskFull) => Self::Full { path },
            Some(ErrorCode::DatabaseCorrupt) => Self::Damaged { path, what: error.to_string() },
            Some(ErrorCode::NotADatabase) => Self::NotANotebook { path },
            Some(ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
                Self::CannotOpen { path, why: error.to_string() }
            }
            Some(ErrorCode::ConstraintViolation) => Self::Refused { path, rule: error.to_string() },
            Some(_) => Self::Trouble { path, source: error },
            None => Self::from_reading(path, error),
        }
    }

    /// Values of a kind or range that the program never wrote.
    fn from_reading(path: PathBuf, error: rusqlite::Error) -> Self {
        use rusqlite::Error as E;
        match error {
            E::FromSqlConversionFailure(..)
            | E::IntegralValueOutOfRange(..)
            | E::InvalidColumnType(..)
            | E::InvalidColumnName(_)
            | E::Utf8Error(..) => Self::Damaged { path, what: error.to_string() },
            source => Self::Trouble { path, source },
        }
    }
}
