//! Measuring an edge, and deleting what was measured.

use std::path::PathBuf;

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use imaging::ToneChoice;
use measure::EdgeOptions;
use notebook::{MeasurementDraft, MeasurementKind, Scan, ScanId};
use planes::{Region, ToneCurve};
use serde_json::json;

use super::{found, found_in, sheet, sizes_of, store};
use crate::documents::{Circumstances, EdgeDocument, MADE_BY, Sizes};
use crate::web::error::sentence;
use crate::web::form::{Filled, saved};
use crate::web::manners::Manners;
use crate::web::{App, PageError, clock, off_thread};

/// The longest name of a place that is kept.
const LABEL_LETTERS: usize = 80;

pub(super) async fn measure(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    let Some(wanted) = Wanted::read(&mut filled, &scan) else {
        return sheet::come_back(&app, scan, filled, manners).await;
    };
    let (file, sizes) = (store::file_of(&app, &scan.stored), sizes_of(&scan));
    let (region, tone) = (wanted.region, wanted.tone);
    match off_thread(move || take(file, region, tone, sizes)).await? {
        Ok(result) => keep(&app, &scan, &wanted, &result, filled.text("edge_label")).await,
        Err(why) => {
            filled.wrong("edge", sentence(&why));
            sheet::come_back(&app, scan, filled, manners).await
        }
    }
}

const REGION: [&str; 4] = ["edge_x", "edge_y", "edge_width", "edge_height"];

struct Wanted {
    region: Region,
    tone: ToneChoice,
}

impl Wanted {
    fn read(filled: &mut Filled, scan: &Scan) -> Option<Self> {
        if REGION.iter().any(|name| filled.text(name).is_empty()) {
            filled.wrong("edge", "Draw a region across the edge in the picture first, or type all four numbers here.");
            return None;
        }
        let tone = tone(filled);
        let (width, height) = (scan.width.unwrap_or(0), scan.height.unwrap_or(0));
        let x = whole(filled, "edge_x", width);
        let y = whole(filled, "edge_y", height);
        let w = whole(filled, "edge_width", width);
        let h = whole(filled, "edge_height", height);
        let region = Region { x: x?, y: y?, width: w?, height: h? };
        if !region.lies_within(width, height) {
            filled.wrong(
                "edge_width",
                format!("The region does not lie within the picture, which is {width} × {height} pixels."),
            );
            return None;
        }
        Some(Self { region, tone: tone? })
    }
}

/// Whole pixels; a drawn region is rounded already, a typed fraction is rounded here.
fn whole(filled: &mut Filled, name: &str, limit: u32) -> Option<u32> {
    filled.number_within(name, 0.0, f64::from(limit), "px").map(|n| n.round() as u32)
}

fn tone(filled: &mut Filled) -> Option<ToneChoice> {
    match filled.text("edge_transfer") {
        "srgb" => Some(ToneChoice::Curve(ToneCurve::Srgb)),
        "linear" => Some(ToneChoice::Curve(ToneCurve::Linear)),
        "gamma" => {
            if filled.text("edge_gamma").is_empty() {
                filled.wrong("edge_gamma", "A power curve needs its gamma, for example 2.2.");
            }
            filled.number_within("edge_gamma", 0.1, 10.0, "").map(|g| ToneChoice::Curve(ToneCurve::Gamma(g)))
        }
        "" | "icc" => Some(ToneChoice::Icc),
        other => {
            let other = format!("“{other}” is no way to turn numbers into light; choose one of the list.");
            filled.wrong("edge_transfer", other);
            None
        }
    }
}

/// Reads the region and measures; a refusal comes back in words.
pub(crate) fn take(file: PathBuf, region: Region, tone: ToneChoice, sizes: Sizes) -> Result<EdgeDocument, String> {
    let in_words = |error: imaging::ImagingError| format!("the scan's file {}", error.fault);
    let mut scan = imaging::Scan::open(&file).map_err(in_words)?;
    let reading = scan.read_linear(region, tone).map_err(in_words)?;
    let report = measure::edge(&reading.picture, &EdgeOptions::default()).map_err(|e| e.to_string())?;
    let around = Circumstances {
        corner: (region.x, region.y),
        sizes,
        transfer: reading.tone.label(),
        about_file: reading.remarks.iter().map(ToString::to_string).collect(),
    };
    Ok(EdgeDocument::of(&report, around))
}

/// A measured edge as the notebook keeps it.
pub(crate) fn draft(
    scan: ScanId,
    region: Region,
    result: &EdgeDocument,
    label: &str,
) -> Result<MeasurementDraft, PageError> {
    let Region { x, y, width, height } = region;
    let settings = json!({ "transfer": result.transfer }).to_string();
    let made_by = MADE_BY.into();
    let result =
        serde_json::to_string(result).map_err(|e| PageError::broken("The figures could not be written down.", e))?;
    let place = json!({ "x": x, "y": y, "width": width, "height": height }).to_string();
    let label: String = label.chars().take(LABEL_LETTERS).collect();
    Ok(MeasurementDraft { scan, kind: MeasurementKind::Edge, label, place, result, settings, made_by })
}

async fn keep(
    app: &App,
    scan: &Scan,
    wanted: &Wanted,
    result: &EdgeDocument,
    label: &str,
) -> Result<Response, PageError> {
    let draft = draft(scan.id, wanted.region, result, label)?;
    let id = app.notebook(move |book| book.add_measurement(&draft, &clock::now())).await?;
    Ok(saved(&format!("/scans/{}?shown={id}#m{id}", scan.id), &format!("edge-{}", scan.id)))
}

pub(super) async fn delete(
    State(app): State<App>,
    Path((scan, id)): Path<(String, String)>,
) -> Result<Response, PageError> {
    let scan = found(&app, &scan).await?;
    let id = found_in(&app, &scan, &id).await?.id;
    app.notebook(move |book| book.delete_measurement(id)).await?;
    Ok(Redirect::to(&format!("/scans/{}#kept", scan.id)).into_response())
}
