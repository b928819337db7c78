//! Scans side by side: brought to one size of the subject, one orientation, place and tone, moved as one, their measured figures
//! compared like with like.
//!
//! The page stands without scripts: still pictures from the pyramid's smallest level, turned and laid as the script draws them. `side.js` moves
//! them as one.

mod automatic;
mod chooser;
mod compared;
mod figures;
mod laid;
mod panes;
mod points;
mod sharpest;
mod table;
mod tone;
mod tools;

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::routing::{get, post};
use notebook::{JobId, Notebook, NotebookError, Scan, ScanId, ScanState};

use super::error::PageResult;
use super::form::Filled;
use super::manners::Manners;
use super::scans::Viewer;
use super::{App, off_thread};
use compared::Compared;
use laid::Way;

/// As many as a window still shows large enough to judge.
const MOST: usize = 4;

pub(super) fn routes() -> Router<App> {
    Router::new()
        .route("/side-by-side", get(page))
        .route("/side-by-side/points", post(points::keep))
        .route("/side-by-side/automatic", post(automatic::begin))
        .route("/side-by-side/sharpest", get(sharpest::answer))
}

async fn page(State(app): State<App>, RawQuery(query): RawQuery, manners: Manners) -> PageResult {
    let query = Filled::from_query(query.as_deref());
    let wanted = numbers(&query);
    let ids = wanted.clone();
    let read = move |book: &mut Notebook| Ok::<_, NotebookError>((book.scans()?, Compared::read(book, &ids)?));
    let (mut scans, compared) = app.notebook(read).await?;
    let job: Option<JobId> = query.text("job").parse().ok();
    let own = |scan: &Scan| job.is_some() && scan.job == job;
    let of_job = scans.iter().any(own);
    if of_job {
        scans.retain(own);
    }
    let way = Way::ALL.into_iter().find(|way| way.word() == query.text("by"));
    // Tones are read from the pictures' smallest tiles.
    let work = move || {
        let shown: Vec<_> = compared.iter().filter_map(|c| Some((c, ready(&app, c)?))).collect();
        if shown.len() == wanted.len() && (2..=MOST).contains(&shown.len()) {
            return panes::page(&app, &shown, way, manners.units);
        }
        let why = complaint(&wanted, shown.len());
        chooser::page(&app, &scans, &chooser::Asked { ticked: &wanted, of_job, why })
    };
    off_thread(work).await
}

/// The address of these scans side by side, laid by a way or by the best there is.
fn address(ids: &[ScanId], way: Option<Way>) -> String {
    let scans: Vec<String> = ids.iter().map(|id| format!("scan={id}")).collect();
    let by = way.map_or(String::new(), |way| format!("&by={}", way.word()));
    format!("/side-by-side?{}{by}", scans.join("&"))
}

/// The scans of `?scan=1&scan=2`, each once, in the order given; what is no number is left out.
fn numbers(query: &Filled) -> Vec<ScanId> {
    let mut ids: Vec<ScanId> = Vec::new();
    for id in query.all("scan").filter_map(|text| text.trim().parse().ok()) {
        if !ids.contains(&id) {
            ids.push(id);
        }
    }
    ids
}

fn ready<'a>(app: &App, compared: &'a Compared) -> Option<Viewer<'a>> {
    (compared.scan.state == ScanState::Ready).then(|| Viewer::of(app, &compared.scan)).flatten()
}

/// Why the chosen scans are not shown, in words.
fn complaint(wanted: &[ScanId], shown: usize) -> Option<String> {
    match wanted.len() {
        0 => None,
        n if shown < n => Some("Not all of these scans are there and prepared. Choose among those below.".into()),
        1 => Some("One is chosen; tick at least one more.".into()),
        n if n > MOST => Some(format!("{n} are chosen; at most {MOST} are shown at once.")),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_name_each_scan_once() {
        let ids =
            |query| numbers(&Filled::from_query(Some(query))).into_iter().map(|id: ScanId| id.0).collect::<Vec<_>>();
        assert_eq!(ids("scan=2&scan=1&scan=2&scan=x&scan=../1&other=3"), [2, 1]);
        assert!(ids("").is_empty());
    }
}
