//! From a file in the folder to a scan that can be looked at.

use std::ops::ControlFlow;

use imaging::pyramid;
use imaging::{Fault, ImagingError, Info};
use notebook::{Notebook, NotebookError, Scan, ScanDraft, ScanId, ScanPicture, ScanState};

use super::store;
use crate::web::tasks::{Standing, Task};
use crate::web::{App, clock};

/// Why a file did not become a scan.
#[derive(Debug, thiserror::Error)]
pub enum EnterError {
    /// It is not a picture that can be measured; the sentence goes on from the file's name.
    #[error("“{name}” {fault}")]
    Picture {
        /// What the visitor's file was called.
        name: String,
        /// What is wrong with it.
        fault: Fault,
    },
    /// The notebook refused it.
    #[error(transparent)]
    Notebook(#[from] NotebookError),
}

/// Enters a file that lies complete in the folder of scans under `draft.stored`: reads its header and notes what it
/// says. A file that is no picture is refused and stays where it is; the caller removes it.
pub fn enter(app: &App, draft: &ScanDraft) -> Result<ScanId, EnterError> {
    let found = look(app, draft)?;
    Ok(app.with_notebook(|book| enter_in(book, draft, &found))?)
}

/// What the header of a file in the folder of scans says.
pub(crate) fn look(app: &App, draft: &ScanDraft) -> Result<ScanPicture, EnterError> {
    let scan = imaging::Scan::open(&store::file_of(app, &draft.stored));
    let scan = scan.map_err(|e: ImagingError| EnterError::Picture { name: draft.file_name.clone(), fault: e.fault })?;
    Ok(described(scan.info()))
}

/// The entries of a scan that was looked at, all or none.
pub(crate) fn enter_in(book: &mut Notebook, draft: &ScanDraft, found: &ScanPicture) -> Result<ScanId, NotebookError> {
    book.atomically(|book| {
        let id = book.add_scan(draft, &clock::now())?;
        book.set_scan_picture(id, found)?;
        book.set_scan_state(id, &ScanState::Preparing { share: 0.0 })?;
        Ok(id)
    })
}

fn described(info: &Info) -> ScanPicture {
    let remarks: Vec<_> = info.remarks.iter().map(ToString::to_string).collect();
    let doubtful = info.remarks.iter().any(|r| matches!(r, imaging::Remark::PitchDoubtful { .. }));
    // A pitch that programs write without knowing would spoil every size; it stays in the remark, for the person to judge.
    let pitch_um = info.pitch_um.filter(|_| !doubtful);
    ScanPicture {
        width: info.width,
        height: info.height,
        bits: info.bits,
        pitch_um,
        pitch_from: if pitch_um.is_some() { "file".into() } else { String::new() },
        transfer: if info.profile.is_some() { "icc".into() } else { "srgb".into() },
        about: serde_json::to_string(&remarks).unwrap_or_default(),
    }
}

/// Starts the preparation of an entered scan in a thread of its own.
pub fn prepare_soon(app: &App, id: ScanId) {
    let task = start(app, id);
    let app = app.clone();
    std::thread::spawn(move || prepare(&app, id, task));
}

/// Starts the task under which a scan is prepared.
pub(crate) fn start(app: &App, id: ScanId) -> Task {
    app.tasks().start(format!("Preparing scan {id} to be looked at"), about(id))
}

/// What the tasks of a scan are about.
pub fn about(id: ScanId) -> String {
    format!("scan/{id}")
}

/// Makes the tiles of an entered scan, on this thread; one scan at a time, since each takes all cores.
pub fn prepare(app: &App, id: ScanId, task: Task) {
    let _turn = app.turn();
    let standing = match app.with_notebook(|book| book.scan(id)) {
        Ok(Some(scan)) => build(app, &scan, &task),
        Ok(None) => Standing::Stopped,
        Err(error) => Standing::Failed(error.to_string()),
    };
    let state = match &standing {
        Standing::Failed(why) => ScanState::Failed { why: why.clone() },
        Standing::Stopped => ScanState::Failed { why: "It was stopped before it could be looked at.".into() },
        Standing::Done | Standing::Running => ScanState::Ready,
    };
    // The scan may have been deleted meanwhile: then there is nothing to note.
    match app.with_notebook(|book| book.set_scan_state(id, &state)) {
        Ok(()) | Err(NotebookError::NoSuchScan { .. }) => task.end(standing),
        Err(error) => task.end(Standing::Failed(error.to_string())),
    }
}

fn build(app: &App, scan: &Scan, task: &Task) -> Standing {
    let mut heard = |share: f64| {
        task.reached(share);
        if task.must_stop() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    let built = imaging::Scan::open(&store::file_of(app, &scan.stored)).and_then(|mut file| {
        pyramid::build(&mut file, &store::tiles_of(app, &scan.stored), pyramid::Options::default(), &mut heard)
    });
    match built {
        Ok(_) => Standing::Done,
        Err(ImagingError { fault: Fault::Cancelled, .. }) => Standing::Stopped,
        Err(error) => Standing::Failed(format!("The file {}.", error.fault)),
    }
}

/// On start: clears away what a kill left half-made, and goes on with the scans that were being prepared.
pub fn resume(app: &App) -> Result<(), NotebookError> {
    let (all, interrupted) =
        app.with_notebook(|book| Ok::<_, NotebookError>((book.scans()?, book.interrupted_scans()?)))?;
    store::sweep(app, &all);
    for scan in interrupted {
        if store::file_of(app, &scan.stored).is_file() {
            prepare_soon(app, scan.id);
        } else {
            let why = "Its file did not arrive whole before the program was stopped. Load it again.".to_owned();
            app.with_notebook(|book| book.set_scan_state(scan.id, &ScanState::Failed { why }))?;
        }
    }
    Ok(())
}
