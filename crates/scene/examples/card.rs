//! Photographs a target card and writes it as a PNG: `cargo run --release --example card -- tilted 100 /tmp/card.png`.
//!
//! The first argument says how: upright, turned, tilted, unsharp, negative, hidden, large.

use scene::{
    Blur, Capture, Focus, GlareSpot, Grain, LateralColour, Negative, Perspective, Placement, Point, Settings,
    TargetPaint, Truth, render, target_scene,
};
use std::ops::ControlFlow;
use target::{Card, Identity};

mod picture;
use picture::Picture;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let argument = |i: usize, default: &str| arguments.get(i).cloned().unwrap_or_else(|| default.into());
    let field_mm: f64 = argument(1, "100").parse()?;
    let card = Card::new([field_mm; 2], Identity::from_number(7))?;
    let laid = card.sheets.iter().enumerate().map(|(i, sheet)| {
        let off = if i > 0 { 1.5 } else { 0.0 };
        (sheet.clone(), Placement::beside(sheet, Point::new(off, -off), 0.8 * off))
    });
    let laid: Vec<_> = laid.collect();
    let paint = TargetPaint { blades: true, grey_scale: vec![0.85, 0.45, 0.2, 0.09, 0.04], ..TargetPaint::default() };
    let scene = target_scene(&laid, &paint)?;
    let magnification = 56.0 / (1.04 * field_mm);
    let straight_on = Settings {
        magnification,
        rotation_deg: 0.8,
        blur: Blur { corner_radial_um: 24.0, corner_tangential_um: 16.0, ..Blur::even(11.0) },
        lateral: LateralColour { red_um: 12.0, blue_um: -16.0 },
        perspective: Perspective { distance_mm: 2.5 * field_mm, ..Perspective::default() },
        focus: Focus { f_number: 5.6 * (1.0 + magnification), ..Focus::default() },
        veiling_glare: 0.02,
        falloff_stops_at_corner: 0.5,
        grain: Grain { density_sd: 0.012, correlation_um: 14.0 },
        ..Settings::default()
    };
    let leaning = Perspective { right_deg: 14.0, down_deg: -9.0, ..straight_on.perspective };
    let settings = match argument(0, "upright").as_str() {
        "turned" => Settings { rotation_deg: 117.0, mirrored: true, ..straight_on },
        "tilted" => {
            Settings { perspective: leaning, distortion: 0.03, magnification: 0.9 * magnification, ..straight_on }
        }
        "unsharp" => Settings {
            focus: Focus { height_mm: 0.05 * field_mm, slope: Point::new(0.08, 0.0), ..straight_on.focus },
            ..straight_on
        },
        "negative" => Settings { negative: Some(Negative { base: 0.2, gamma: 0.65, toe: 0.01 }), ..straight_on },
        "hidden" => Settings {
            glare_spot: Some(GlareSpot { at_mm: Point::new(22.0, -22.0), radius_mm: 16.0, light: 2.0 }),
            shift_mm: Point::new(-0.15 * field_mm, 0.0),
            ..straight_on
        },
        _ => straight_on,
    };
    let capture = Capture::new(settings)?;
    let started = std::time::Instant::now();
    let frame = render(&scene, &capture, &mut |_| ControlFlow::Continue(())).ok_or("stopped")?;
    eprintln!("{} x {} px in {:.2} s", frame.width, frame.height, started.elapsed().as_secs_f64());
    let truth = Truth::new(&scene, &capture);
    eprintln!("{} edges, {} codes", truth.edges().len(), truth.codes().iter().filter(|code| code.on_scan).count());
    for ramp in truth.ramps() {
        eprintln!("{}: best focus {:?}", ramp.name, ramp.best.map(|best| (best.height_mm, best.depth_mm)));
    }
    Picture::of(&frame).save(&argument(2, "/tmp/card.png"))
}
