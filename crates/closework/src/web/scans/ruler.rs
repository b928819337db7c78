//! Measuring a ruler, and taking its magnification for the scan.

use std::path::PathBuf;

use axum::extract::{Path, State};
use axum::response::Response;
use imaging::ToneChoice;
use measure::ScaleOptions;
use notebook::{
    Magnification, MagnificationSource, MeasurementDraft, MeasurementKind, Notebook, NotebookError, Scan, ScanId,
};
use serde_json::json;

use super::{found, found_in, sheet, store};
use crate::documents::{ScaleDocument, around_line};
use crate::web::error::sentence;
use crate::web::form::{Filled, parse_marks_mm, saved};
use crate::web::manners::Manners;
use crate::web::{App, PageError, clock, off_thread};

pub(super) async fn measure(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    let Some(wanted) = read(&mut filled, &scan) else {
        return sheet::come_back(&app, scan, filled, manners).await;
    };
    let (file, picture) = (store::file_of(&app, &scan.stored), (scan.width.unwrap_or(0), scan.height.unwrap_or(0)));
    match off_thread(move || take(file, picture, wanted)).await? {
        Ok(document) => keep(&app, &scan, wanted, &document).await,
        Err(why) => {
            filled.wrong("ruler", sentence(&why));
            sheet::come_back(&app, scan, filled, manners).await
        }
    }
}

const LINE: [&str; 4] = ["ruler_x1", "ruler_y1", "ruler_x2", "ruler_y2"];

/// The line and the marks' distance as typed or drawn, in pixels of the whole picture.
fn read(filled: &mut Filled, scan: &Scan) -> Option<ScaleOptions> {
    if LINE.iter().any(|name| filled.text(name).is_empty()) {
        filled.wrong("ruler", "Draw a line along the ruler in the picture first, or type all four numbers here.");
        return None;
    }
    let (width, height) = (f64::from(scan.width.unwrap_or(0)), f64::from(scan.height.unwrap_or(0)));
    let x1 = filled.number_within("ruler_x1", 0.0, width, "px");
    let y1 = filled.number_within("ruler_y1", 0.0, height, "px");
    let x2 = filled.number_within("ruler_x2", 0.0, width, "px");
    let y2 = filled.number_within("ruler_y2", 0.0, height, "px");
    if filled.text("ruler_tick_mm").is_empty() {
        filled.wrong(
            "ruler_tick_mm",
            "Say how far apart the ruler's finest marks are: 1 for millimetres, 0.5 for halves.",
        );
    }
    let typed = !filled.text("ruler_tick_mm").is_empty();
    let tick_mm = parse_marks_mm(filled.text("ruler_tick_mm")).filter(|mm| (0.001..=1000.0).contains(mm));
    if typed && tick_mm.is_none() {
        filled.wrong(
            "ruler_tick_mm",
            "This is no distance of marks: write millimetres, as 1 or 0.5, or inches, as 1/16 in.",
        );
    }
    Some(ScaleOptions { from: (x1?, y1?), to: (x2?, y2?), tick_mm: tick_mm?, pitch_um: scan.pitch_um })
}

/// Reads the part of the picture around the line and measures; a refusal comes back in words.
pub(crate) fn take(file: PathBuf, picture: (u32, u32), wanted: ScaleOptions) -> Result<ScaleDocument, String> {
    let in_words = |error: imaging::ImagingError| format!("the scan's file {}", error.fault);
    let region = around_line(wanted.from, wanted.to, picture).ok_or("the line does not lie within the picture")?;
    let mut scan = imaging::Scan::open(&file).map_err(in_words)?;
    let reading = scan.read_linear(region, ToneChoice::Icc).map_err(in_words)?;
    let in_region = |(x, y): (f64, f64)| (x - f64::from(region.x), y - f64::from(region.y));
    let options = ScaleOptions { from: in_region(wanted.from), to: in_region(wanted.to), ..wanted };
    let report = measure::scale(&reading.picture, &options).map_err(|e| e.to_string())?;
    let remarks = reading.remarks.iter().map(ToString::to_string).collect();
    Ok(ScaleDocument::of(&report, (region.x, region.y), reading.tone.label(), remarks))
}

/// A measured ruler as the notebook keeps it.
pub(crate) fn draft(
    scan: ScanId,
    wanted: ScaleOptions,
    document: &ScaleDocument,
) -> Result<MeasurementDraft, PageError> {
    let ScaleOptions { from, to, tick_mm, .. } = wanted;
    let place = json!({ "x1": from.0, "y1": from.1, "x2": to.0, "y2": to.1, "tick_mm": tick_mm }).to_string();
    let unwritten = |e| PageError::broken("The figures could not be written down.", e);
    let result = serde_json::to_string(document).map_err(unwritten)?;
    Ok(MeasurementDraft {
        scan,
        kind: MeasurementKind::Scale,
        label: String::new(),
        place,
        result,
        settings: String::new(),
        made_by: crate::documents::MADE_BY.into(),
    })
}

/// Keeps the ruler; a scan whose magnification is not known takes the ruler's at once.
async fn keep(app: &App, scan: &Scan, wanted: ScaleOptions, document: &ScaleDocument) -> Result<Response, PageError> {
    let draft = draft(scan.id, wanted, document)?;
    let first = scan.pitch_um.filter(|_| scan.magnification.is_none()).map(|pitch| from_ruler(document, pitch));
    let scan = scan.id;
    let add = move |book: &mut Notebook| {
        book.atomically(|book| {
            if first.is_some() {
                book.set_scan_magnification(scan, first)?;
            }
            book.add_measurement(&draft, &clock::now())
        })
    };
    let id = app.notebook::<_, NotebookError>(add).await?;
    Ok(saved(&format!("/scans/{scan}?shown={id}#m{id}"), &format!("ruler-{scan}")))
}

/// Scanners keep to their stated resolution, and rulers to their millimetres, within some tenths of a per cent (common
/// practice, no source): this share of the magnification is uncertain (95 %) however well the marks are found.
const PITCH_AND_RULER_SHARE: f64 = 0.003;

pub(crate) fn from_ruler(document: &ScaleDocument, pitch_um: f64) -> Magnification {
    let (value, marks) = document.magnification_at(pitch_um);
    let plus_minus = marks.hypot(PITCH_AND_RULER_SHARE * value);
    Magnification { value, plus_minus: Some(plus_minus), from: MagnificationSource::Ruler }
}

/// Takes a kept ruler's magnification for its scan.
pub(super) async fn use_for_scan(
    State(app): State<App>,
    Path((scan, id)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let scan = found(&app, &scan).await?;
    let measurement = found_in(&app, &scan, &id).await?;
    let document = serde_json::from_str::<ScaleDocument>(&measurement.result).ok();
    let document = document.filter(|_| measurement.kind == MeasurementKind::Scale).ok_or_else(|| {
        PageError::refused(
            "This measurement holds no scale.",
            "Measure a ruler in the scan; it gives the magnification.",
        )
    })?;
    let pitch = scan.pitch_um.ok_or_else(|| {
        PageError::refused(
            "The scan's pitch is not known.",
            "Enter it on the scan's page; a ruler gives the magnification with it.",
        )
    })?;
    let (scan, magnification) = (scan.id, from_ruler(&document, pitch));
    app.notebook(move |book| book.set_scan_magnification(scan, Some(magnification))).await?;
    let id = measurement.id;
    Ok(saved(&format!("/scans/{scan}?shown={id}#m{id}"), &format!("ruler-{scan}")))
}
