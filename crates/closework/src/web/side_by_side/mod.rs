//! Scans side by side: brought to one size of the subject, moved as one, their measured edges compared like with like.

mod chooser;
mod compared;
mod panes;
mod table;

use axum::Router;
use axum::extract::{RawQuery, State};
use axum::routing::get;
use notebook::{Notebook, NotebookError, ScanId, ScanState};

use super::App;
use super::error::PageResult;
use super::form::Filled;
use super::manners::Manners;
use super::scans::Viewer;
use compared::Compared;

/// As many as a window still shows large enough to judge.
const MOST: usize = 4;

pub(super) fn routes() -> Router<App> {
    Router::new().route("/side-by-side", get(page))
}

async fn page(State(app): State<App>, RawQuery(query): RawQuery, manners: Manners) -> PageResult {
    let wanted = wanted(query.as_deref());
    let ids = wanted.clone();
    let read = move |book: &mut Notebook| Ok::<_, NotebookError>((book.scans()?, Compared::read(book, &ids)?));
    let (scans, compared) = app.notebook(read).await?;
    let shown: Vec<_> = compared.iter().filter_map(|c| Some((c, ready(&app, c)?))).collect();
    if shown.len() == wanted.len() && (2..=MOST).contains(&shown.len()) {
        return Ok(panes::page(&shown, manners.units));
    }
    let why = complaint(&wanted, shown.len());
    Ok(chooser::page(&app, &scans, &wanted, why.as_deref()))
}

/// The scans of `?scan=1&scan=2`, each once, in the order given; what is no number is left out.
fn wanted(query: Option<&str>) -> Vec<ScanId> {
    let query = Filled::from_query(query);
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
        let ids = |query| wanted(Some(query)).into_iter().map(|id: ScanId| id.0).collect::<Vec<_>>();
        assert_eq!(ids("scan=2&scan=1&scan=2&scan=x&scan=../1&other=3"), [2, 1]);
        assert!(ids("").is_empty());
    }
}
