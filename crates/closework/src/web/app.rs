//! What every handler shares.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::tasks::Tasks;

/// The running program as handlers see it; cheap to clone.
#[derive(Clone)]
pub struct App(Arc<Inner>);

struct Inner {
    data_folder: PathBuf,
    port: u16,
    tasks: Tasks,
}

impl App {
    /// The port that requests must be addressed to.
    pub fn port(&self) -> u16 {
        self.0.port
    }

    /// The table of background work.
    pub fn tasks(&self) -> &Tasks {
        &self.0.tasks
    }

    /// The folder beside the notebook that holds the scans' files.
    pub fn scans_folder(&self) -> PathBuf {
        self.0.data_folder.join("scans")
    }

    /// Opens.
    pub fn open(notebook: &Path, port: u16) -> std::io::Result<Self> {
        let data_folder = notebook.parent().unwrap_or(Path::new(".")).to_owned();
        Ok(Self(Arc::new(Inner { data_folder, port, tasks: Tasks::default() })))
    }
}
