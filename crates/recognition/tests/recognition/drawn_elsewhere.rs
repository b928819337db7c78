//! The card as `scene` draws it, whose truth is its own.

use planes::{Linear, Picture};
use recognition::{Held, Options, Recognised, recognise};
use scene::{Blur, Capture, Focus, Perspective, Placement, Point, Settings, TargetPaint, Truth, render, target_scene};
use std::ops::ControlFlow;
use target::{Card, Identity};
use testkit::assert_close;

const FIELD_MM: f64 = 80.0;
const SIDE_PX: u32 = 1500;

#[test]
fn a_leaning_camera_is_told_by_the_ramps_and_explains_soft_corners() {
    let pitch_um = 25.4;
    let settings = Settings {
        magnification: 0.97 * f64::from(SIDE_PX) * pitch_um / 1000.0 / FIELD_MM,
        pitch_um,
        width_px: SIDE_PX,
        height_px: SIDE_PX,
        rotation_deg: 90.8,
        mirrored: true,
        blur: Blur::even(15.0),
        focus: Focus { height_mm: 0.4, slope: Point::new(0.06, 0.0), curvature_mm: 0.0, f_number: 6.0 },
        perspective: Perspective { distance_mm: 260.0, ..Perspective::default() },
        exposure_stops: -0.2,
        ..Settings::default()
    };
    let card = Card::new([FIELD_MM; 2], Identity::from_number(31)).unwrap();
    let sheets: Vec<_> = card.sheets.into_iter().map(|sheet| (sheet.clone(), Placement::meant(&sheet))).collect();
    let scene = target_scene(&sheets, &TargetPaint::default()).unwrap();
    let capture = Capture::new(settings).unwrap();
    let drawn = render(&scene, &capture, &mut |_| ControlFlow::Continue(())).unwrap();
    let picture: Picture<Linear> = drawn.linear(drawn.whole()).unwrap().unwrap();
    let options = Options { pitch_um: Some(pitch_um), effective_f_number: Some(6.0), ..Options::default() };
    let r: Recognised = recognise(&mut Held(picture), &options).unwrap_or_else(|error| panic!("{error}"));

    assert!(r.pose.mirrored);
    assert_close!(r.pose.magnification.unwrap().value, settings.magnification, relative = 5e-4);
    assert_eq!(r.edges.len(), 68);
    let truth = Truth::new(&scene, &capture);
    // Every edge's middle, by the mapping: half-way between the found corners on the sheet.
    for edge in truth.edges() {
        let nearest = r.edges.iter().map(|e| {
            let (x, y) = e.place_px;
            (x - edge.middle_px.x).hypot(y - edge.middle_px.y)
        });
        // Regions are whole pixels.
        assert_close!(nearest.fold(f64::MAX, f64::min), 0.0, absolute = 1.0, "{}", edge.name);
    }
    let ramps = truth.ramps();
    assert_eq!(r.ramps.len(), 4);
    for ramp in &r.ramps {
        let drawn =
            ramps.iter().find(|t| t.name == format!("ramp {}", ramp.name)).unwrap_or_else(|| panic!("{}", ramp.name));
        let best = drawn.best.as_ref().unwrap();
        assert_close!(ramp.report.peak_height_mm.value, best.height_mm, absolute = 0.3, "{}", ramp.name);
        assert_close!(ramp.sharpest_px.0, best.at_px.x, absolute = 6.0, "{}", ramp.name);
        assert_close!(ramp.sharpest_px.1, best.at_px.y, absolute = 6.0, "{}", ramp.name);
    }
    // The slope is told before mirroring: in the mirrored picture the surface rises to the left.
    let surface = r.alignment.as_ref().unwrap();
    assert_close!(surface.about_upright_deg.value, -(0.06f64).atan().to_degrees(), absolute = 0.5);
    assert_close!(surface.about_level_deg.value, 0.0, absolute = 0.5);
    assert_close!(surface.centre_mm.value, 0.4, absolute = 0.3);
    // All that corners lose against the middle they lose by being out of focus; the drawn blur is a Gaussian where the
    // explanation is a perfect lens's, so the shares agree within a half.
    assert!(!r.softness.is_empty());
    for corner in &r.softness {
        let explained = corner.report.explained;
        assert_close!(explained.value, 1.0, absolute = 0.5 + explained.plus_minus, "{}", corner.square);
    }
}
