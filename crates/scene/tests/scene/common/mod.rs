//! A small frame to test on, and how to draw it.

use scene::{Capture, Rendered, Scene, Settings, render, test_card};
use std::ops::ControlFlow;

/// Columns and rows: large enough for every edge of the card, small enough to draw often.
pub const SIDE_PX: u32 = 1000;
/// Width of the subject that is seen, mm.
pub const FIELD_MM: f64 = 28.0;

/// A square of 1000 x 1000 pixels of 25.4 micrometres that shows 28 mm, turned a little; sharp, even and clean.
pub fn settings() -> Settings {
    let defaults = Settings::default();
    let film_mm = f64::from(SIDE_PX) * defaults.pitch_um * 1e-3;
    Settings { magnification: film_mm / FIELD_MM, width_px: SIDE_PX, height_px: SIDE_PX, rotation_deg: 0.7, ..defaults }
}

pub fn card() -> Scene {
    test_card(FIELD_MM, &[]).unwrap()
}

pub fn draw(scene: &Scene, settings: Settings) -> (Capture, Rendered) {
    let capture = Capture::new(settings).unwrap();
    let frame = render(scene, &capture, &mut |_| ControlFlow::Continue(())).unwrap();
    (capture, frame)
}
