//! Drawing a shot as the scan that it would have given.

use std::ops::ControlFlow;

use scene::{Capture, Grain, Laid, Places, Scene, Settings, test_card};

use super::content::Shot;
use crate::bench::{self, PITCH_UM};
use crate::web::scans::{file_of, new_name};
use crate::web::{App, PageError};

/// The frame's side on film, mm.
const FRAME_MM: f64 = 56.0;

/// A drawn scan.
pub(super) struct Drawn {
    /// Its name in the folder of scans.
    pub stored: String,
    /// Where edges and rulers lie on it.
    pub places: Places,
}

/// Draws a shot into the folder of scans; `None` when it was stopped, and then nothing is left.
pub(super) fn draw(
    app: &App,
    shot: &Shot,
    heard: &mut dyn FnMut(f64) -> ControlFlow<()>,
) -> Result<Option<Drawn>, PageError> {
    let (scene, capture) = world(shot)?;
    let undrawn = |cause: &dyn std::fmt::Display| PageError::broken("An example frame could not be drawn.", cause);
    // Twice as fine as the cells that frames are drawn on.
    let spreads = shot.spreads(capture.corner_mm(), PITCH_UM / 6000.0).map_err(|why| undrawn(&why))?;
    let stored = format!("{}.tif", new_name());
    let ended = bench::write_scan(&scene, &capture, &spreads, &file_of(app, &stored), heard);
    match ended.map_err(|why| undrawn(&why))? {
        ControlFlow::Break(()) => Ok(None),
        ControlFlow::Continue(()) => Ok(Some(Drawn { stored, places: capture.places(&scene) })),
    }
}

/// The card with the specimen on it, and how it is photographed.
pub(super) fn world(shot: &Shot) -> Result<(Scene, Capture), PageError> {
    let undrawn = |cause: &dyn std::fmt::Display| PageError::broken("An example frame could not be drawn.", cause);
    let magnification = shot.magnification().ok_or_else(|| undrawn(&"its set-up has no magnification"))?;
    let field_mm = FRAME_MM / magnification;
    let scene =
        test_card(field_mm, &[Laid::in_place(shot.specimen, shot.length_mm, field_mm)]).map_err(|e| undrawn(&e))?;
    let capture = Capture::new(Settings {
        magnification,
        pitch_um: PITCH_UM,
        rotation_deg: 0.4 - 0.2 * f64::from(shot.number),
        blur: shot.blur(),
        veiling_glare: shot.glare,
        grain: Grain { density_sd: 0.012, correlation_um: 12.0 },
        seed: u64::from(shot.number) + (shot.f_number * 100.0) as u64,
        ..Settings::default()
    });
    Ok((scene, capture.map_err(|e| undrawn(&e))?))
}
