//! A drawn scan, loaded and measured as a person would do it.

use imaging::ToneChoice;
use measure::ScaleOptions;
use notebook::{FrameId, Notebook, NotebookError, ScanDraft, ScanId};
use planes::Region;
use scene::Side;

use super::content::Shot;
use super::draw::Drawn;
use crate::documents::{EdgeDocument, ScaleDocument, Sizes};
use crate::web::scans::{edge, file_of, prepare, ruler};
use crate::web::{App, PageError, clock};

/// Squares of the card and what their measurements are called: alike from frame to frame, so that like is compared
/// with like.
const EDGES: [(&str, Side, &str); 6] = [
    ("centre", Side::Left, "centre"),
    ("upper middle", Side::Left, "half-way out"),
    ("right", Side::Left, "side, upright edge"),
    ("right", Side::Top, "side, level edge"),
    ("top right", Side::Left, "corner"),
    ("bottom right", Side::Left, "lower corner"),
];

/// What was measured in a drawn scan.
struct Found {
    ruler: Option<(ScaleOptions, ScaleDocument)>,
    edges: Vec<(&'static str, Region, EdgeDocument)>,
    pitch_um: Option<f64>,
}

/// Loads a drawn scan with everything measured in it, all or nothing, and makes it ready to be looked at.
pub(super) fn load(app: &App, frame: FrameId, shot: &Shot, drawn: Drawn) -> Result<(), PageError> {
    let bytes = std::fs::metadata(file_of(app, &drawn.stored)).map_or(0, |file| file.len());
    let word = shot.label.split([' ', ',']).next().unwrap_or("frame").to_lowercase();
    let file_name = format!("{word}-{:02}.tif", shot.number);
    let draft = ScanDraft { job: None, frame: Some(frame), file_name, stored: drawn.stored.clone(), bytes };
    let unloaded = |error| PageError::broken("An example frame could not be loaded.", error);
    let picture = prepare::look(app, &draft).map_err(unloaded)?;
    let found = measure_all(app, &drawn, (picture.width, picture.height), picture.pitch_um);
    let found = found.map_err(|why| PageError::broken("An example frame could not be measured.", why))?;
    let id = app.with_notebook(|book| {
        book.atomically(|book| {
            let id = prepare::enter_in(book, &draft, &picture)?;
            keep(book, id, &found).map(|()| id)
        })
    })?;
    prepare::prepare(app, id, prepare::start(app, id));
    Ok(())
}

fn measure_all(app: &App, drawn: &Drawn, size: (u32, u32), pitch_um: Option<f64>) -> Result<Found, String> {
    let file = file_of(app, &drawn.stored);
    let ruler = drawn.places.ruler("bottom").map(|place| ScaleOptions {
        from: (place.from.x, place.from.y),
        to: (place.to.x, place.to.y),
        tick_mm: place.tick_mm,
        pitch_um,
    });
    let ruler = ruler.map(|line| Ok::<_, String>((line, ruler::take(file.clone(), size, line)?))).transpose()?;
    let magnification = ruler.as_ref().and_then(|(_, document)| document.magnification);
    let sizes = Sizes { pitch_um, magnification };
    let places =
        EDGES.iter().filter_map(|(square, side, label)| Some((*label, drawn.places.edge(square, *side)?.region)));
    // An edge too blurred for its region is refused, as anybody's would be: what is known of the frame is then what is left.
    let edges = places.filter_map(|(label, region)| {
        Some((label, region, edge::take(file.clone(), region, ToneChoice::Icc, sizes).ok()?))
    });
    Ok(Found { ruler, edges: edges.collect(), pitch_um })
}

fn keep(book: &mut Notebook, scan: ScanId, found: &Found) -> Result<(), NotebookError> {
    // Documents of ours are written without fail; what could not be written would be left out.
    if let Some((line, document)) = &found.ruler {
        if let Ok(draft) = ruler::draft(scan, *line, document) {
            book.add_measurement(&draft, &clock::now())?;
        }
        let magnification = found.pitch_um.map(|pitch| ruler::from_ruler(document, pitch));
        book.set_scan_magnification(scan, magnification)?;
    }
    for (label, region, document) in &found.edges {
        if let Ok(draft) = edge::draft(scan, *region, document, label) {
            book.add_measurement(&draft, &clock::now())?;
        }
    }
    Ok(())
}
