//! The printed card photographed: what is drawn is what the truth says.

use crate::common::{draw, settings};
use measure::{Channel as Measured, EdgeOptions};
use planes::{Channels, Region};
use scene::edge::EdgeTruth;
use scene::{
    Blur, Capture, Channel, Focus, LateralColour, PaintError, Perspective, Placement, Point, Rendered, Scene, Settings,
    TargetPaint, Truth, target_scene,
};
use target::{Card, Identity, Sheet};
use testkit::assert_close;

const SIDE_PX: u32 = 1000;

fn sheets(field_mm: f64) -> Vec<(Sheet, Placement)> {
    let card = Card::new([field_mm; 2], Identity::from_number(7)).unwrap();
    card.sheets.into_iter().map(|sheet| (sheet.clone(), Placement::meant(&sheet))).collect()
}

fn card(field_mm: f64, paint: &TargetPaint) -> Scene {
    target_scene(&sheets(field_mm), paint).unwrap()
}

/// The field fills the frame of 25.4 mm but for 3 %, straight on.
fn framed(field_mm: f64) -> Settings {
    Settings { magnification: 0.97 * 25.4 / field_mm, rotation_deg: 0.0, blur: Blur::even(18.0), ..settings() }
}

/// Light in green at the middle of a pixel.
fn light(frame: &Rendered, at: Point) -> f64 {
    let pixel = at.y as usize * frame.width as usize + at.x as usize;
    planes::srgb_decode(f64::from(frame.samples[3 * pixel + 1]) / 65_535.0)
}

/// The largest difference between what is drawn near an edge's middle and the closed form there, over the step.
fn worst(capture: &Capture, frame: &Rendered, truth: &scene::TrueEdge, channel: Channel) -> f64 {
    let displaced = match channel {
        Channel::Red => truth.displacement_px[0],
        Channel::Green => 0.0,
        Channel::Blue => truth.displacement_px[1],
    };
    let [low, high] = truth.levels;
    let size = 9u32;
    let corner = |v: f64| v as u32 - size / 2;
    let region = Region { x: corner(truth.middle_px.x), y: corner(truth.middle_px.y), width: size, height: size };
    let picture = frame.linear(region).unwrap().unwrap();
    let Channels::Rgb { planes, .. } = picture.channels() else { panic!("three colours") };
    let mut worst = 0.0f64;
    for (c, r) in (0..size as usize).flat_map(|r| (0..size as usize).map(move |c| (c, r))) {
        let at = Point::new(f64::from(region.x) + c as f64 + 0.5, f64::from(region.y) + r as f64 + 0.5);
        let by = at - truth.middle_px;
        let d = by.x * truth.normal.x + by.y * truth.normal.y - displaced;
        // Upright or level makes no difference to the closed form; its angle may be up to 45 degrees.
        let angle_deg = {
            let across = truth.normal.x.abs().max(truth.normal.y.abs());
            across.acos().to_degrees()
        };
        let sigma_px = truth.sigma_px[channel as usize];
        let share = EdgeTruth { angle_deg, sigma_px, ..EdgeTruth::default() }.esf(d);
        let expected = (low + (high - low) * share) * capture.falloff_at(capture.pixel_to_film(at));
        worst = worst.max((f64::from(planes[channel as usize].at(c, r)) - expected).abs() / (high - low));
    }
    worst
}

fn check_edges(scene: &Scene, settings: Settings, least: usize, allowed: f64) {
    let (capture, frame) = draw(scene, settings);
    let edges = Truth::new(scene, &capture).edges();
    assert!(edges.len() >= least, "{}", edges.len());
    for edge in &edges {
        for channel in Channel::ALL {
            let worst = worst(&capture, &frame, edge, channel);
            assert_close!(worst, 0.0, absolute = allowed, "{} {:?} {channel:?}", edge.name, edge.side);
        }
    }
}

#[test]
fn every_edge_of_the_card_has_its_closed_form_straight_on() {
    // 17 squares of four sides; the cells show as a ripple, as in `truth.rs`.
    check_edges(&card(100.0, &TargetPaint::default()), framed(100.0), 68, 6e-3);
}

#[test]
fn every_edge_has_its_closed_form_turned_tilted_bent_mirrored_and_out_of_focus() {
    let paint = TargetPaint { ramps: false, ..TargetPaint::default() };
    let perspective = Perspective { right_deg: 8.0, down_deg: -5.0, distance_mm: 250.0 };
    let focus = Focus { height_mm: 2.0, slope: Point::new(0.03, 0.01), curvature_mm: 1.0, f_number: 5.6 };
    let settings = Settings {
        rotation_deg: 131.0,
        perspective,
        distortion: 0.02,
        mirrored: true,
        focus,
        lateral: LateralColour { red_um: 14.0, blue_um: -20.0 },
        falloff_stops_at_corner: 0.4,
        magnification: 0.8 * 25.4 / 100.0 * std::f64::consts::FRAC_1_SQRT_2,
        ..framed(100.0)
    };
    // The closed form takes the blur and the direction of the edge's middle; four pixels beside it they differ a little.
    check_edges(&card(100.0, &paint), settings, 68, 1.2e-2);
}

#[test]
fn blades_are_sharper_than_the_print_and_both_as_stated() {
    let paint = TargetPaint { blades: true, rise_mm: 0.12, ..TargetPaint::default() };
    let scene = card(40.0, &paint);
    check_edges(&scene, framed(40.0), 70, 6e-3);
    let capture = Capture::new(framed(40.0)).unwrap();
    let edges = Truth::new(&scene, &capture).edges();
    let sigma = |name: &str| edges.iter().find(|edge| edge.name == name).unwrap().sigma_px[1];
    // 18 um of lens, and 0.12 mm / 2.5631 of print times the magnification, over 25.4 um.
    let print = 0.12 / 2.563_103_131 * 0.97 * 25.4 / 40.0;
    assert_close!(sigma("blade bottom left"), 18.0 / 25.4, relative = 1e-9);
    assert_close!(sigma("centre"), 0.018f64.hypot(print) / 0.0254, relative = 1e-9);
}

#[test]
fn codes_are_drawn_module_by_module_wherever_the_sheet_lies() {
    let mut laid = sheets(100.0);
    laid[0].1 = Placement::beside(&laid[0].0, Point::new(1.0, -1.5), 3.0);
    let scene = target_scene(&laid, &TargetPaint::default()).unwrap();
    let perspective = Perspective { right_deg: 6.0, down_deg: 4.0, distance_mm: 250.0 };
    let tilted = Settings { magnification: 0.2, rotation_deg: 90.0, perspective, blur: Blur::even(8.0), ..settings() };
    let (capture, frame) = draw(&scene, tilted);
    let truth = Truth::new(&scene, &capture);
    let codes = truth.codes();
    assert_eq!(codes.len(), 4);
    for (code, known) in codes.iter().zip(laid[0].0.codes()) {
        assert!(code.on_scan && code.text == known.text.text());
        let dots = target::dots(&known.text);
        for (i, &dark) in dots.dark.iter().enumerate() {
            let share = |n: usize| (n as f64 + 0.5) / dots.side as f64;
            let (u, v) = (share(i % dots.side), share(i / dots.side));
            // Between the corners; over a small code central projection is nearly linear.
            let [a, b, c, d] = code.corners_px;
            let at = (a * (1.0 - u) + b * u) * (1.0 - v) + (d * (1.0 - u) + c * u) * v;
            let seen = light(&frame, at);
            assert!((seen < 0.35) == dark, "module {i} of {}: {seen}", code.text);
        }
    }
}

#[test]
fn steps_and_trap_have_their_reflectance() {
    let paint = TargetPaint { trap: 0.001, ..TargetPaint::default() };
    let mut laid = sheets(100.0);
    laid[0].1.turn_deg = 4.0;
    let scene = target_scene(&laid, &paint).unwrap();
    let (capture, frame) = draw(&scene, framed(100.0));
    let patches = capture.places(&scene).patches;
    assert_eq!(patches.len(), 7);
    for patch in patches {
        let r = patch.region;
        for (x, y) in [(r.x, r.y), (r.x + r.width - 1, r.y), (r.x + r.width / 2, r.y + r.height - 1)] {
            let seen = light(&frame, Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
            assert_close!(seen, patch.reflectance, absolute = 2e-3, "{}", patch.name);
        }
    }
}

#[test]
fn a_grey_scale_and_a_steel_rule_come_onto_a_small_card() {
    let grey_scale = vec![0.8, 0.3, 0.1];
    let scene = card(40.0, &TargetPaint { blades: true, grey_scale: grey_scale.clone(), ..TargetPaint::default() });
    let focus = Focus { f_number: 8.0, ..Focus::default() };
    let (capture, frame) = draw(&scene, Settings { focus, ..framed(40.0) });
    let patches = capture.places(&scene).patches;
    for (i, share) in grey_scale.into_iter().enumerate() {
        let patch = patches.iter().find(|patch| patch.name == format!("grey {}", i + 1)).unwrap();
        let r = patch.region;
        let middle = Point::new(f64::from(r.x + r.width / 2), f64::from(r.y + r.height / 2));
        assert_close!(light(&frame, middle), share, absolute = 2e-3);
    }
    let ramps = Truth::new(&scene, &capture).ramps();
    assert_eq!(ramps.iter().map(|ramp| ramp.name.as_str()).collect::<Vec<_>>(), ["rule"]);
}

#[test]
fn sheets_of_a_large_card_are_named_and_lie_where_they_are_laid() {
    let mut laid = sheets(300.0);
    laid[1].1 = Placement::beside(&laid[1].0, Point::new(2.0, 1.0), -1.5);
    let scene = target_scene(&laid, &TargetPaint::default()).unwrap();
    let capture = Capture::new(framed(300.0)).unwrap();
    let truth = Truth::new(&scene, &capture);
    let edges = truth.edges();
    assert_eq!((edges.len(), truth.codes().len()), (5 * 68, 20));
    let square = laid[1].0.squares().find(|square| square.name == "centre").unwrap();
    let (sin, cos) = (-1.5f64).to_radians().sin_cos();
    let [x, y] = square.edges()[1].middle();
    let [ox, oy] = laid[1].0.offset_mm;
    let place = Point::new(x * cos - y * sin + ox + 2.0, x * sin + y * cos + oy + 1.0);
    let expected = capture.to_pixel(Channel::Green, place);
    let found = edges.iter().find(|e| e.name == "top left: centre" && e.side == Some(scene::Side::Right)).unwrap();
    assert_close!((found.middle_px - expected).length(), 0.0, absolute = 1e-9);
}

/// Light in green of the pixels along a strip's middle third: mm along it, at the pixel's own middle, and light.
fn profile(capture: &Capture, frame: &Rendered, scene: &Scene, name: &str) -> Vec<(f64, f64)> {
    let strip = scene.features.iter().find_map(|feature| match feature {
        scene::Feature::Ramp(strip) if strip.name == name => Some(strip),
        _ => None,
    });
    let strip = strip.unwrap();
    let seen = |along: f64, across: f64| {
        let place = strip.point(along, across);
        capture.to_pixel_at(Channel::Green, place.at, place.height_mm)
    };
    let steps = 4000;
    let along = (0..=steps).map(|i| (f64::from(i) / f64::from(steps) - 0.5) * 0.98 * strip.strip_mm);
    let places = along.flat_map(|along| (-4..=4).map(move |k| (along, f64::from(k) * 0.04 * strip.width_mm)));
    let pixel = |(along, across): (f64, f64)| {
        let at = seen(along, across);
        let run = (seen(along + 1e-3, across) - at) * 1e3;
        let middle = Point::new(at.x.floor() + 0.5, at.y.floor() + 0.5);
        let off = middle - at;
        (along + (off.x * run.x + off.y * run.y) / run.length().powi(2), light(frame, middle))
    };
    places.map(pixel).collect()
}

/// Amplitude of the bars' frequency in the light within two periods of a place, weighted so that the ends of that
/// stretch do not count (von Hann's window).
fn amplitude(profile: &[(f64, f64)], at: f64, period: f64) -> f64 {
    let tau = std::f64::consts::TAU;
    let near: Vec<(f64, f64, f64)> = profile
        .iter()
        .filter(|(along, _)| (along - at).abs() < 2.0 * period)
        .map(|&(along, light)| (along, light, 1.0 + (tau * (along - at) / (4.0 * period)).cos()))
        .collect();
    let weight: f64 = near.iter().map(|(_, _, w)| w).sum();
    let mean = near.iter().map(|(_, light, w)| w * light).sum::<f64>() / weight;
    let part = |turn: f64| {
        near.iter().map(|(along, light, w)| w * (light - mean) * (tau * along / period + turn).cos()).sum::<f64>()
    };
    2.0 * part(0.0).hypot(part(-0.25 * tau)) / weight
}

#[test]
fn a_ramp_is_sharpest_where_the_truth_says_and_loses_contrast_as_it_says() {
    let scene = card(100.0, &TargetPaint::default());
    for (rotation_deg, perspective) in
        [(0.0, Perspective::default()), (90.0, Perspective { distance_mm: 300.0, ..Perspective::default() })]
    {
        let focus = Focus { height_mm: 1.5, f_number: 4.0, ..Focus::default() };
        let ready = Settings { rotation_deg, perspective, focus, blur: Blur::even(8.0), ..framed(100.0) };
        let ready = Settings { width_px: 2 * SIDE_PX, height_px: 2 * SIDE_PX, pitch_um: 12.7, ..ready };
        let (capture, frame) = draw(&scene, ready);
        let truth = Truth::new(&scene, &capture);
        for ramp in truth.ramps() {
            let best = ramp.best.unwrap();
            assert_close!(best.height_mm, 1.5, absolute = 1e-6);
            assert_close!(best.along_mm, 1.5 * std::f64::consts::SQRT_2, absolute = 1e-6);
            let profile = profile(&capture, &frame, &scene, &ramp.name);
            let period = 100.0 / 300.0;
            // A square wave of half dark, half white has a fundamental of 2 / pi of the step from middle to top.
            let full = (0.85 - 0.04) * 2.0 / std::f64::consts::PI;
            let half = 0.5 * best.along_depth_mm;
            let contrast = |at: f64| truth.bar_contrast(&ramp.name, at).unwrap();
            // Half of the peak at either end, less what the perspective's change of scale adds.
            for end in [-half, half] {
                assert_close!(contrast(best.along_mm + end) / contrast(best.along_mm), 0.5, absolute = 0.03);
            }
            for at in [best.along_mm + 0.2, best.along_mm + half, best.along_mm + 0.5 * half] {
                let found = amplitude(&profile, at, period) / full;
                assert_close!(found, contrast(at), absolute = 0.03, "{} at {at}", ramp.name);
            }
        }
    }
}

#[test]
fn depth_on_a_ramp_has_its_closed_form() {
    let scene = card(100.0, &TargetPaint::default());
    let focus = Focus { f_number: 8.0, ..Focus::default() };
    let capture = Capture::new(Settings { focus, magnification: 0.25, ..framed(100.0) }).unwrap();
    let best = Truth::new(&scene, &capture).ramps()[0].best.unwrap();
    // Bars of 1/3 mm on a strip at 45 degrees: 3 sqrt 2 / 0.25 cycles per mm on film. The disc grows by m^2 / N per
    // mm, its deviation by a quarter of that: 0.25^2 / 32.
    let nu = 3.0 * std::f64::consts::SQRT_2 / 0.25;
    assert_close!(best.cy_per_mm, nu, relative = 1e-12);
    let k = 0.0625 / 32.0;
    let half = (std::f64::consts::LN_2 / (2.0 * (std::f64::consts::PI * k * nu).powi(2))).sqrt();
    assert_close!(best.depth_mm, 2.0 * half, relative = 1e-9);
    assert_close!(best.along_depth_mm, 2.0 * half * std::f64::consts::SQRT_2, relative = 1e-9);
}

#[test]
fn nothing_is_best_where_all_is_equally_sharp_or_the_focus_lies_beyond_the_strip() {
    let scene = card(100.0, &TargetPaint::default());
    for focus in [Focus::default(), Focus { f_number: 8.0, height_mm: 30.0, ..Focus::default() }] {
        let capture = Capture::new(Settings { focus, ..framed(100.0) }).unwrap();
        assert!(Truth::new(&scene, &capture).ramps().iter().all(|ramp| ramp.best.is_none()));
    }
}

#[test]
fn defocus_has_the_disc_of_similar_triangles() {
    let scene = card(100.0, &TargetPaint { rise_mm: 0.0, ..TargetPaint::default() });
    let perspective = Perspective { distance_mm: 200.0, ..Perspective::default() };
    let focus = Focus { height_mm: -20.0, f_number: 8.0, ..Focus::default() };
    let m = 0.25;
    let ready = Settings { focus, perspective, magnification: m, blur: Blur::even(0.0), ..framed(100.0) };
    let capture = Capture::new(ready).unwrap();
    // A pupil of 200 m / 8 mm at 200 mm; the cone from a point 20 mm nearer than best focus is 20 / 200 of it wide
    // there, and what lies there is seen 200 / 220 as large as the card.
    let disc = 200.0 * m / 8.0 * (20.0 / 200.0) * m * 200.0 / 220.0;
    let sigma = Truth::new(&scene, &capture).sigma_px(Channel::Green, Point::default(), 20.0);
    assert_close!(sigma, disc / 4.0 / 0.0254, relative = 1e-9);
}

#[test]
fn glare_light_is_what_a_black_shows_above_itself() {
    let scene = card(100.0, &TargetPaint { trap: 0.0, ..TargetPaint::default() });
    let (capture, frame) = draw(&scene, Settings { veiling_glare: 0.05, ..framed(100.0) });
    let region = capture.places(&scene).patch("trap").unwrap().region;
    let middle = Point::new(f64::from(region.x + region.width / 2), f64::from(region.y + region.height / 2));
    let glare = Truth::new(&scene, &capture).glare_light()[1];
    assert_close!(light(&frame, middle), glare, absolute = 2e-5);
    assert!(glare > 0.02);
}

#[test]
fn measured_edges_agree_with_the_truth() {
    let perspective = Perspective { right_deg: 4.0, down_deg: 3.0, distance_mm: 250.0 };
    let scene = card(100.0, &TargetPaint { ramps: false, ..TargetPaint::default() });
    let ready = Settings {
        perspective,
        focus: Focus { height_mm: 1.0, f_number: 8.0, ..Focus::default() },
        distortion: 0.01,
        width_px: 2 * SIDE_PX,
        height_px: 2 * SIDE_PX,
        pitch_um: 12.7,
        ..framed(100.0)
    };
    let (capture, frame) = draw(&scene, ready);
    let (places, edges) = (capture.places(&scene).edges, Truth::new(&scene, &capture).edges());
    let options = EdgeOptions { resamples: 20, ..EdgeOptions::default() };
    let mut checked = 0;
    for place in places.iter().filter(|place| place.angle_deg.abs() < 12.0) {
        let truth = edges.iter().find(|edge| edge.name == place.name && edge.side == Some(place.side)).unwrap();
        let picture = frame.linear(place.region).unwrap().unwrap();
        let report =
            measure::edge(&picture, &options).unwrap_or_else(|e| panic!("{} {:?}: {e}", place.name, place.side));
        let found = report.channel(Measured::Green).and_then(|c| c.mtf50_cy_px).unwrap_or(f64::NAN);
        let expected = truth.frequency_at(Channel::Green, 0.5).unwrap() * capture.pitch_mm();
        assert_close!(found, expected, relative = 0.02, "{} {:?}", place.name, place.side);
        assert_close!(report.angle_deg, place.angle_deg.abs(), absolute = 0.1, "{} {:?}", place.name, place.side);
        checked += 1;
    }
    assert!(checked >= 20, "{checked}");
}

#[test]
fn paints_that_are_none_are_refused_by_name() {
    let good = TargetPaint::default();
    let wrong = [
        ("paper's reflectance", TargetPaint { paper: 1.2, ..good.clone() }),
        ("print's reflectance", TargetPaint { ink: f64::NAN, ..good.clone() }),
        ("trap", TargetPaint { trap: -0.1, ..good.clone() }),
        ("table", TargetPaint { table: 2.0, ..good.clone() }),
        ("border", TargetPaint { border_mm: -1.0, ..good.clone() }),
        ("rise", TargetPaint { rise_mm: f64::INFINITY, ..good.clone() }),
        ("grey scale", TargetPaint { grey_scale: vec![0.5, 1.5], ..good.clone() }),
    ];
    for (name, paint) in wrong {
        let PaintError::OutOfRange { what, .. } = target_scene(&sheets(100.0), &paint).unwrap_err() else {
            panic!("{name}")
        };
        assert!(what.contains(name), "{name}: {what}");
    }
    let pale = TargetPaint { ink: 0.9, ..good.clone() };
    assert_eq!(target_scene(&sheets(100.0), &pale).unwrap_err(), PaintError::InkNotDarker { ink: 0.9, paper: 0.85 });
    let mut laid = sheets(100.0);
    laid[0].1.turn_deg = f64::NAN;
    assert!(target_scene(&laid, &good).unwrap_err().to_string().contains("turn"));
}
