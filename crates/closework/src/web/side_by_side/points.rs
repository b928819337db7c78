//! Two details picked in every scan, kept with the scans.

use axum::extract::State;
use axum::response::{IntoResponse, Redirect, Response};
use notebook::{Notebook, NotebookError, Scan, ScanId};

use super::compared::placing;
use super::{MOST, address, laid::Way, numbers};
use crate::documents::{MADE_BY, PlacingDocument, PointsDocument};
use crate::web::form::{Filled, parse_number};
use crate::web::{App, PageError, clock};

/// Two picks nearer to each other than this say nothing of scale and turn.
const LEAST_APART_PX: f64 = 20.0;

/// Keeps the details, or says which of them is no place in its scan.
pub(super) async fn keep(State(app): State<App>, filled: Filled) -> Result<Response, PageError> {
    let ids = numbers(&filled);
    if !(2..=MOST).contains(&ids.len()) {
        return Err(wrong("Two to four scans are needed.".into()));
    }
    let wanted = ids.clone();
    let read = move |book: &mut Notebook| wanted.iter().map(|id| book.scan(*id)).collect::<Result<Vec<_>, _>>();
    let scans: Option<Vec<Scan>> = app.notebook(read).await?.into_iter().collect();
    let scans = scans.ok_or_else(|| PageError::missing("One of these scans is not there any more."))?;
    let first_mirrored = false;
    let picked = scans.iter().enumerate().map(|(k, scan)| picked(&filled, k + 1, scan));
    let picked: Vec<([[f64; 2]; 2], bool)> = picked.collect::<Result<_, _>>()?;
    let now = clock::now();
    let set = format!("{now} {}", crate::web::scans::new_name());
    let write = move |book: &mut Notebook| {
        book.atomically(|book| {
            for (scan, (at_px, mirrored)) in scans.iter().zip(&picked) {
                let points = PointsDocument { set: set.clone(), at_px: *at_px, mirrored: *mirrored != first_mirrored };
                let known = placing(book, scan.id)?;
                put(book, scan.id, &PlacingDocument { points: Some(points), ..known }, &now)?;
            }
            Ok::<_, NotebookError>(())
        })
    };
    app.notebook(write).await?;
    Ok(Redirect::to(&address(&ids, Some(Way::Points))).into_response())
}

/// Writes a placing down.
pub(super) fn put(book: &mut Notebook, id: ScanId, document: &PlacingDocument, now: &str) -> Result<(), NotebookError> {
    let document = PlacingDocument { made_by: MADE_BY.into(), ..document.clone() };
    // Numbers and words: they cannot fail to be written, and would be an empty placing if they did.
    book.set_placing(id, &serde_json::to_string(&document).unwrap_or_default(), now)
}

/// The two details of the pane of that number.
fn picked(filled: &Filled, pane: usize, scan: &Scan) -> Result<([[f64; 2]; 2], bool), PageError> {
    let number = |detail: &str, axis: &str, size: Option<u32>| {
        let text = filled.text(&format!("{detail}{axis}{pane}")).to_owned();
        let most = f64::from(size.unwrap_or(0));
        parse_number(&text).filter(|at| (0.0..=most).contains(at)).ok_or_else(|| {
            let of = if axis == "x" { "from its left side" } else { "from its top" };
            wrong(format!(
                "Detail {} of picture {pane} ({}) lies “{text}” pixels {of}; a number from 0 to {most} is needed.",
                if detail == "a" { "A" } else { "B" },
                scan.file_name
            ))
        })
    };
    let place = |detail| Ok::<_, PageError>([number(detail, "x", scan.width)?, number(detail, "y", scan.height)?]);
    let (a, b) = (place("a")?, place("b")?);
    let apart = (a[0] - b[0]).hypot(a[1] - b[1]);
    if apart < LEAST_APART_PX {
        return Err(wrong(format!(
            "The two details of picture {pane} ({}) lie {apart:.1} pixels apart; at least {LEAST_APART_PX} are needed, better half of the \
             picture. Pick them at opposite ends of the subject.",
            scan.file_name
        )));
    }
    Ok(([a, b], filled.ticked(&format!("mirrored{pane}"))))
}

fn wrong(what: String) -> PageError {
    PageError::refused(what, "Go back and pick both details in every picture; what you set should still be there.")
}
