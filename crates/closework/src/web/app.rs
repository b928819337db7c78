//! What every handler shares.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use notebook::{Notebook, NotebookError};

use super::bench::Desk;
use super::error::PageError;
use super::log::Camera;
use super::records::Shelf;
use super::scans::PictureReader;
use super::tasks::Tasks;

/// The running program as handlers see it; cheap to clone.
#[derive(Clone)]
pub struct App(Arc<Inner>);

struct Inner {
    notebook: Mutex<Notebook>,
    data_folder: PathBuf,
    port: u16,
    tasks: Tasks,
    turn: Mutex<()>,
    shelf: Shelf,
    desk: Desk,
    camera: Camera,
    readers: OnceLock<Vec<PictureReader>>,
}

/// Why the notebook or the folders beside it could not be opened.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// A folder could not be made.
    #[error("the folder {folder} cannot be made ({cause}); choose another place with --notebook", folder = .folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// The notebook itself.
    #[error(transparent)]
    Notebook(#[from] NotebookError),
}

impl App {
    /// Opens the notebook, making it and its folder when they are not there. Scans lie in `scans` beside it, photos of set-ups in `photos`. `port` is
    /// the one that requests must be addressed to.
    pub fn open(notebook: &Path, port: u16) -> Result<Self, OpenError> {
        let folder = notebook.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")).to_owned();
        make_folder(&folder)?;
        Self::over(Notebook::open(notebook)?, folder, port)
    }

    /// The program over a notebook that is open already, such as one in memory.
    pub fn over(notebook: Notebook, data_folder: PathBuf, port: u16) -> Result<Self, OpenError> {
        make_folder(&data_folder.join("scans"))?;
        make_folder(&data_folder.join("photos"))?;
        let (notebook, turn) = (Mutex::new(notebook), Mutex::new(()));
        Ok(Self(Arc::new(Inner {
            notebook,
            data_folder,
            port,
            tasks: Tasks::default(),
            turn,
            shelf: Shelf::default(),
            desk: Desk::default(),
            camera: Camera::default(),
            readers: OnceLock::new(),
        })))
    }

    /// The port that requests must be addressed to.
    pub fn port(&self) -> u16 {
        self.0.port
    }

    /// The other sites whose pages may read pictures of the scans; none unless said.
    pub fn picture_readers(&self) -> &[PictureReader] {
        self.0.readers.get().map_or(&[], Vec::as_slice)
    }

    /// Says which they are, once, before the first request.
    pub fn let_read(&self, readers: Vec<PictureReader>) {
        // A second saying would change what pages were told already.
        self.0.readers.get_or_init(|| readers);
    }

    /// The door to the log for phones.
    pub fn camera(&self) -> &Camera {
        &self.0.camera
    }

    /// The folder that holds the photos of set-ups, each under a name of our own.
    pub fn photos_folder(&self) -> PathBuf {
        self.0.data_folder.join("photos")
    }

    /// The folder that holds the reports made last, one folder a job.
    pub fn reports_folder(&self) -> PathBuf {
        self.0.data_folder.join("reports")
    }

    /// The folder that holds the predicted frames drawn last.
    pub fn predicted_folder(&self) -> PathBuf {
        self.0.data_folder.join("predicted")
    }

    /// The table of background work.
    pub fn tasks(&self) -> &Tasks {
        &self.0.tasks
    }

    /// The tables that were sent and not kept yet.
    pub(super) fn shelf(&self) -> &Shelf {
        &self.0.shelf
    }

    /// What the bench traced last.
    pub(super) fn desk(&self) -> &Desk {
        &self.0.desk
    }

    /// Waits for the turn of work that takes all cores, and holds it until dropped.
    pub fn turn(&self) -> MutexGuard<'_, ()> {
        self.0.turn.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The folder that holds the scans' files, each under a name of our own.
    pub fn scans_folder(&self) -> PathBuf {
        self.0.data_folder.join("scans")
    }

    /// Works with the notebook off the server's own threads. What `act` returns as an error becomes a page.
    pub async fn notebook<T, E>(
        &self,
        act: impl FnOnce(&mut Notebook) -> Result<T, E> + Send + 'static,
    ) -> Result<T, PageError>
    where
        T: Send + 'static,
        E: Into<PageError> + Send + 'static,
    {
        let app = self.clone();
        off_thread(move || app.with_notebook(act)).await?.map_err(Into::into)
    }

    /// Works with the notebook on this thread, which must be one that may wait: background work, or a command.
    pub fn with_notebook<T>(&self, act: impl FnOnce(&mut Notebook) -> T) -> T {
        act(&mut self.0.notebook.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// Runs work that computes or waits for the disk, away from the threads that answer requests.
pub async fn off_thread<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, PageError> {
    let broke = |cause| PageError::broken("The program stumbled over this request.", cause);
    tokio::task::spawn_blocking(work).await.map_err(broke)
}

fn make_folder(folder: &Path) -> Result<(), OpenError> {
    std::fs::create_dir_all(folder).map_err(|cause| OpenError::Folder { folder: folder.to_owned(), cause })
}
