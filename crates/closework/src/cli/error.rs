//! What the command line refuses, and with which status.

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
    /// An exposure that cannot be computed.
    #[error("{0}")]
    Exposure(#[from] exposure::ExposureError),
    /// A film is named, and this version has none.
    #[error(
        "--film {0}: this version has no film data, so the exposure is not computed as if there were none; leave --film out and look at the film's data sheet for times over a second"
    )]
    NoFilms(String),
    /// A number on the command line that cannot be.
    #[error("{option} must be above 0, not {found}")]
    NotPositive {
        /// Which.
        option: &'static str,
        /// What it was.
        found: f64,
    },
    /// A picture that cannot be read.
    #[error("{0}")]
    Picture(#[from] imaging::ImagingError),
    /// A region or line outside the picture.
    #[error("{}: {what} lies outside the picture of {width} × {height} pixels", .path.display())]
    Outside {
        /// The picture.
        path: PathBuf,
        /// What was asked for.
        what: String,
        /// Its columns.
        width: u32,
        /// Its rows.
        height: u32,
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
    /// Nowhere to keep the notebook.
    #[error("there is no home folder to keep the notebook in; give --notebook PATH")]
    NoHome,
    /// The pages cannot be served.
    #[error("{0}")]
    Serve(#[from] crate::web::ServeError),
    /// A result that could not be written as JSON.
    #[error("the result could not be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

impl CliError {
    /// For a set-up of the kit in `path`.
    pub fn setup(path: &Path) -> impl Fn(kit::SetupError) -> Self + '_ {
        |source| Self::Setup { path: path.into(), source: Box::new(source) }
    }

    /// 2 when what was asked or given is wrong, 1 for anything else.
    pub fn exit_code(&self) -> ExitCode {
        match self {
            Self::Serve(_) | Self::Json(_) | Self::NoHome => ExitCode::FAILURE,
            _ => ExitCode::from(2),
        }
    }
}
