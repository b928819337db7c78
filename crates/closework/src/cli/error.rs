//! What the command line refuses, and with which status.

use crate::records::beside::BesideError;
use crate::web::{OpenError, ServeError};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Everything that can end a command.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// A kit file that cannot be opened.
    #[error("{}: the kit file cannot be read ({source}); check the path", .path.display())]
    KitUnreadable {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// No verdict.
    #[error("{}", .0.to_string().trim_end_matches('.'))]
    Verdict(#[from] crate::verdict::VerdictTrouble),
    /// No report.
    #[error("no report could be made: {0}")]
    Report(Box<crate::report::ReportTrouble>),
    /// A kit file in another encoding, or no text at all.
    #[error("{}: the kit file is not UTF-8 text; save it as UTF-8", .0.display())]
    KitNotText(PathBuf),
    /// A kit file with something wrong in it.
    #[error("{}: {source}", .path.display())]
    Kit {
        /// The file.
        path: PathBuf,
        /// What.
        source: Box<kit::KitError>,
    },
    /// Parts that make no set-up.
    #[error("{}: {source}", .path.display())]
    Setup {
        /// The kit file.
        path: PathBuf,
        /// Why.
        source: Box<kit::SetupError>,
    },
    /// A set-up that no card can be made of.
    #[error("{}: --set-up {set_up}: {source}", .path.display())]
    Pocket {
        /// The kit file.
        path: PathBuf,
        /// The parts.
        set_up: String,
        /// Why.
        source: Box<crate::pocket::PocketError>,
    },
    /// A film of which no law of long exposures is known.
    #[error(
        "--film: nothing is published here of what {0} loses in long exposures; leave --film out, or enter a test of your own in the kit"
    )]
    FilmWithoutLaw(String),
    /// A file for cards that is neither for paper nor for a phone.
    #[error("--out {}: the name must end in .pdf (to print) or .html (for a phone)", .0.display())]
    PocketOut(PathBuf),
    /// An exposure that cannot be computed.
    #[error("{0}")]
    Exposing(#[from] crate::exposing::ExposingError),
    /// A flash that cannot be computed.
    #[error("{0}")]
    Lit(#[from] crate::exposing::LitError),
    /// A flash without what tells its strength or its place.
    #[error("{0}")]
    FlashUntold(&'static str),
    /// A film that is nowhere.
    #[error("{0}")]
    NoSuchFilm(#[from] kit::NoSuchFilm),
    /// A picture that cannot be read.
    #[error("{}", picture(.0))]
    Picture(#[from] imaging::ImagingError),
    /// A region or line outside the picture.
    #[error("{}: {what} lies outside the picture of {width} × {height} pixels; write {option} within 0..{width}, 0..{height}", .path.display())]
    Outside {
        /// The picture.
        path: PathBuf,
        /// What was asked for.
        what: String,
        /// What to write otherwise.
        option: &'static str,
        /// Its columns.
        width: u32,
        /// Its rows.
        height: u32,
    },
    /// A frame that cannot be measured.
    #[error("{}", frame(.path, .source))]
    Frame {
        /// The picture.
        path: PathBuf,
        /// Why.
        source: crate::whole_frame::TakeError,
    },
    /// A file with a response that cannot be opened.
    #[error("{}: it cannot be read ({source}); check the path", .path.display())]
    ResponseUnreadable {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A negative whose bare film is not told.
    #[error("--negative needs to know bare film: give --rebate X,Y,W,H of a place without picture, or --base D")]
    NegativeWithoutBase,
    /// A file that holds no response.
    #[error("{}: {source}", .path.display())]
    Response {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: crate::whole_frame::KnownError,
    },
    /// A calibrating file that cannot be opened.
    #[error("{}: the calibrating file cannot be read ({source}); check the path", .path.display())]
    CalibratingUnreadable {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A calibrating file in another encoding, or no text at all.
    #[error("{}: the calibrating file is not UTF-8 text; save it as UTF-8", .0.display())]
    CalibratingNotText(PathBuf),
    /// A calibrating file with something wrong in it.
    #[error("{}: {source}", .path.display())]
    Calibrating {
        /// The file.
        path: PathBuf,
        /// What.
        source: Box<crate::calibrating::FileError>,
    },
    /// Frames that tell nothing.
    #[error("{}: {source}", .path.display())]
    Calibrate {
        /// The calibrating file.
        path: PathBuf,
        /// Why.
        source: Box<crate::calibrating::Trouble>,
    },
    /// Figures that the kit does not take.
    #[error("{}: the kit does not take what was found: {why}", .path.display())]
    NotKept {
        /// The kit file.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// A file to save to that is there already.
    #[error("--save {}: there is such a file already; give another name, or move it away first", .0.display())]
    SaveExists(PathBuf),
    /// A file to save to that cannot be written.
    #[error("--save {}: the file cannot be written ({source}); check the path", .path.display())]
    SaveRefused {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A field that no card is laid out for.
    #[error("--field-mm: {0}")]
    Field(#[from] target::CardError),
    /// A card that cannot be written as a PDF.
    #[error("the card cannot be printed: {0}")]
    Printing(#[from] printing::PrintError),
    /// A card's file that is there already.
    #[error("--out {}: there is such a file already; give another name, or --force to write over it", .0.display())]
    OutExists(PathBuf),
    /// A card's file that cannot be written.
    #[error("--out {}: the file cannot be written ({source}); check the path", .path.display())]
    OutRefused {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A job that cannot be planned with a kit.
    #[error("{}: {source}", .path.display())]
    Plan {
        /// The kit file.
        path: PathBuf,
        /// Why.
        source: Box<crate::planner::PlanError>,
    },
    /// A test that cannot be laid out with a kit.
    #[error("{}: {source}", .path.display())]
    TestRoll {
        /// The kit file.
        path: PathBuf,
        /// Why.
        source: Box<crate::test_roll::LayError>,
    },
    /// No edge that can be measured.
    #[error("{}: {source}", .path.display())]
    Edge {
        /// The picture.
        path: PathBuf,
        /// Why.
        source: measure::EdgeError,
    },
    /// No ruler that can be measured.
    #[error("{}: {source}", .path.display())]
    Scale {
        /// The picture.
        path: PathBuf,
        /// Why.
        source: measure::ScaleError,
    },
    /// A notebook that is not there.
    #[error("{}: there is no such notebook; check --notebook, or begin one with closework serve", .0.display())]
    NoSuchNotebook(PathBuf),
    /// A notebook that cannot be read or written.
    #[error("{0}")]
    Notebook(#[from] notebook::NotebookError),
    /// A kit in the notebook that cannot be read.
    #[error("{0}")]
    KitInNotebook(String),
    /// A job that is not there.
    #[error("--job: {0}")]
    Job(#[from] crate::records::NotFound),
    /// No scan of a job shows a frame.
    #[error("--beside {}: none of the {} scans of this job shows a frame, so that nothing is known to write; match them to frames first", .0.display(), .1)]
    NothingToTell(PathBuf, usize),
    /// Sidecars that were not written.
    #[error("--beside {0}")]
    Beside(#[from] crate::records::beside::BesideError),
    /// A table that was not read.
    #[error("{}: {source}", .path.display())]
    Paper {
        /// The table.
        path: PathBuf,
        /// Why.
        source: crate::records::paper::PaperError,
    },
    /// A lens table that cannot be opened.
    #[error("--table {}: the file cannot be read as text ({source}); check the path", .path.display())]
    TableUnreadable {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A bench without a lens.
    #[error("give a lens: --form KEY (closework bench forms lists them) or --table FILE with one of your own")]
    BenchWithoutLens,
    /// Nothing that the bench could trace.
    #[error("{0}")]
    Bench(#[from] crate::bench::TraceError),
    /// A set-up of the kit that has no glass to trace.
    #[error("{0}")]
    StandIn(#[from] crate::bench::BenchError),
    /// Nothing to hold a prediction against.
    #[error("{0}")]
    Measured(#[from] crate::bench::MeasuredError),
    /// A predicted frame that is there already.
    #[error("--frame {}: the file is there already; give --force to write over it, or another name", .0.display())]
    FrameThere(PathBuf),
    /// Nowhere to keep the notebook.
    #[error("there is no home folder to keep the notebook in; give --notebook PATH")]
    NoHome,
    /// The pages cannot be served.
    #[error("{0}")]
    Serve(#[from] ServeError),
    /// A result that could not be written as JSON.
    #[error("the result could not be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

impl CliError {
    /// For a set-up of the kit in `path`.
    pub fn setup(path: &Path) -> impl Fn(kit::SetupError) -> Self + '_ {
        |source| Self::Setup { path: path.into(), source: Box::new(source) }
    }

    /// For a job planned with the kit in `path`.
    pub fn plan(path: &Path) -> impl Fn(crate::planner::PlanError) -> Self + '_ {
        |source| Self::Plan { path: path.into(), source: Box::new(source) }
    }

    /// For what is told by the calibrating file in `path`.
    pub fn calibrate(path: &Path) -> impl Fn(crate::calibrating::Trouble) -> Self + '_ {
        |source| Self::Calibrate { path: path.into(), source: Box::new(source) }
    }

    /// 2 when what was asked or given is wrong, 1 for anything else.
    pub fn exit_code(&self) -> ExitCode {
        match self {
            Self::Serve(error) if wrong_input(error) => ExitCode::from(2),
            // A folder that is not there is a slip in the path; a full disk is not the command line's fault.
            Self::SaveRefused { source, .. } | Self::OutRefused { source, .. } if !is_slip(source.kind()) => {
                ExitCode::FAILURE
            }
            Self::Beside(BesideError::Protected { .. } | BesideError::CutShort { .. }) => ExitCode::FAILURE,
            Self::Notebook(error) if !wrong_notebook(error) => ExitCode::FAILURE,
            Self::Serve(_) | Self::Json(_) | Self::NoHome | Self::Printing(_) | Self::Report(_) => ExitCode::FAILURE,
            _ => ExitCode::from(2),
        }
    }
}

/// What is named is not there, or is a folder where a file belongs or the other way round.
fn is_slip(kind: std::io::ErrorKind) -> bool {
    use std::io::ErrorKind as K;
    matches!(kind, K::NotFound | K::AlreadyExists | K::IsADirectory | K::NotADirectory)
}

/// An address that is not this machine's, or a notebook that is none: what was given is wrong. A port that is taken or a
/// full disk is not the command line's fault.
fn wrong_input(error: &ServeError) -> bool {
    match error {
        ServeError::NotLoopback(_) => true,
        ServeError::Notebook(OpenError::Notebook(error)) => wrong_notebook(error),
        _ => false,
    }
}

fn wrong_notebook(error: &notebook::NotebookError) -> bool {
    use notebook::NotebookError as E;
    matches!(error, E::NotANotebook { .. } | E::NewerFile { .. } | E::Damaged { .. } | E::CannotOpen { .. })
}

/// A frame's trouble names its file once.
fn frame(path: &Path, source: &crate::whole_frame::TakeError) -> String {
    match source {
        crate::whole_frame::TakeError::Picture(error) => picture(error),
        other => format!("{}: {other}", path.display()),
    }
}

/// A picture that is not there is a slip in the path, said as one.
fn picture(error: &imaging::ImagingError) -> String {
    match &error.fault {
        imaging::Fault::Read(cause) if cause.kind() == std::io::ErrorKind::NotFound => {
            format!("{}: there is no such picture; check the path", error.path.display())
        }
        _ => error.to_string(),
    }
}
