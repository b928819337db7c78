//! What a person says about a scan: its pitch, its magnification, the frame it shows.

use axum::extract::{Path, State};
use axum::response::{IntoResponse, Redirect, Response};
use notebook::{FrameId, Magnification, MagnificationSource, Notebook, NotebookError, Scan};

use super::{found, sheet};
use crate::web::fmt::MM_PER_INCH;
use crate::web::form::{Filled, parse_magnification};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

fn back(scan: &Scan) -> Response {
    Redirect::to(&format!("/scans/{}", scan.id)).into_response()
}

pub(super) async fn pitch(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    let Ok(pitch) = read_pitch(&mut filled) else { return sheet::come_back(&app, scan, filled, manners).await };
    let (id, from) = (scan.id, if pitch.is_some() { "entered" } else { "" });
    let magnification = along_with_pitch(&scan, pitch);
    let change = move |book: &mut Notebook| {
        book.atomically(|book| {
            book.set_scan_pitch(id, pitch, from)?;
            book.set_scan_magnification(id, magnification)
        })
    };
    app.notebook::<_, NotebookError>(change).await?;
    Ok(back(&scan))
}

/// A ruler gives pixels per millimetre; the magnification that came from one follows the pitch.
fn along_with_pitch(scan: &Scan, pitch_um: Option<f64>) -> Option<Magnification> {
    let known = scan.magnification?;
    match (known.from, scan.pitch_um, pitch_um) {
        (MagnificationSource::Ruler, Some(old), Some(new)) => {
            let plus_minus = known.plus_minus.map(|u| u * new / old);
            Some(Magnification { value: known.value * new / old, plus_minus, ..known })
        }
        (MagnificationSource::Ruler, _, None) => None,
        _ => Some(known),
    }
}

/// Micrometres; nothing when the field was emptied. Scanners and cameras lie between 0.5 and 500 µm with room to spare.
fn read_pitch(filled: &mut Filled) -> Result<Option<f64>, ()> {
    if filled.text("pitch").is_empty() {
        return Ok(None);
    }
    let pitch_um = match filled.text("pitch_unit") {
        "dpi" => filled.number_within("pitch", 50.0, 50_000.0, "dpi").map(|dpi| MM_PER_INCH * 1000.0 / dpi),
        "px_mm" => filled.number_within("pitch", 2.0, 2_000.0, "pixels per mm").map(|density| 1000.0 / density),
        _ => filled.number_within("pitch", 0.5, 500.0, "µm"),
    };
    pitch_um.map(Some).ok_or(())
}

pub(super) async fn magnification(
    State(app): State<App>,
    Path(id): Path<String>,
    manners: Manners,
    mut filled: Filled,
) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    let Ok(value) = read_magnification(&mut filled) else { return sheet::come_back(&app, scan, filled, manners).await };
    let id = scan.id;
    let entered = value.map(|value| Magnification { value, plus_minus: None, from: MagnificationSource::Entered });
    app.notebook(move |book| book.set_scan_magnification(id, entered)).await?;
    Ok(back(&scan))
}

/// `0.37`, `1:2.7` or `2.5:1`.
fn read_magnification(filled: &mut Filled) -> Result<Option<f64>, ()> {
    let typed = filled.text("magnification").to_owned();
    if typed.is_empty() {
        return Ok(None);
    }
    match parse_magnification(&typed).filter(|m| (0.001..=100.0).contains(m)) {
        Some(m) => Ok(Some(m)),
        None => {
            filled.wrong(
                "magnification",
                format!("“{typed}” is not a magnification between 0.001 and 100. Write it like 0.37 or 1:2.7."),
            );
            Err(())
        }
    }
}

pub(super) async fn frame(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Response, PageError> {
    let scan = found(&app, &id).await?;
    let frame: Option<FrameId> = filled.text("frame").parse().ok();
    let id = scan.id;
    app.notebook(move |book| book.set_scan_frame(id, frame)).await?;
    Ok(back(&scan))
}

#[cfg(test)]
mod tests {
    use super::*;
    use testkit::assert_close;

    fn magnification(typed: &str) -> Result<Option<f64>, ()> {
        read_magnification(&mut [("magnification", typed)].into_iter().collect())
    }

    #[test]
    fn magnifications_as_people_write_them() {
        assert_close!(magnification("1:2.5").ok().flatten().unwrap_or(f64::NAN), 0.4, relative = 1e-12);
        assert_close!(magnification("2,5:1").ok().flatten().unwrap_or(f64::NAN), 2.5, relative = 1e-12);
        assert_eq!(magnification(""), Ok(None));
        for wrong in ["1:0", "0", "-1", "life size", "1:2:3", "1000"] {
            assert_eq!(magnification(wrong), Err(()), "{wrong}");
        }
    }

    #[test]
    fn a_thousand_dots_per_inch_are_25_4_micrometres() {
        let pitch = read_pitch(&mut [("pitch", "1000"), ("pitch_unit", "dpi")].into_iter().collect());
        assert_close!(pitch.ok().flatten().unwrap_or(f64::NAN), 25.4, relative = 1e-12);
    }

    #[test]
    fn a_known_length_on_the_film_gives_the_pitch() {
        // A gate 56 mm wide that takes 8819 pixels.
        let density = (8819.0_f64 / 56.0).to_string();
        let pitch = read_pitch(&mut [("pitch", density.as_str()), ("pitch_unit", "px_mm")].into_iter().collect());
        assert_close!(pitch.ok().flatten().unwrap_or(f64::NAN), 56_000.0 / 8819.0, relative = 1e-12);
    }
}
