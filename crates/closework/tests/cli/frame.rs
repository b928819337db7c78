//! `closework measure frame`: a photographed card whose truth is known, and pictures without one.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use super::Value;
use scene::{Blur, Capture, LateralColour, Placement, Settings, TargetPaint, render, target_scene};
use testkit::assert_close;

const PITCH_UM: f64 = 25.4;
const FIELD_MM: f64 = 64.0;

/// A card of 64 mm, a little smaller in the frame than the frame is, turned by about a quarter.
fn settings() -> Settings {
    Settings {
        width_px: 1500,
        height_px: 1500,
        pitch_um: PITCH_UM,
        magnification: 1500.0 * PITCH_UM / 1000.0 / (1.05 * FIELD_MM),
        rotation_deg: 91.0,
        blur: Blur::even(20.0),
        lateral: LateralColour { red_um: 14.0, blue_um: -9.0 },
        falloff_stops_at_corner: 0.6,
        ..Settings::default()
    }
}

fn photograph(folder: &Path, settings: Settings) -> PathBuf {
    let card = target::Card::new([FIELD_MM, FIELD_MM], target::Identity::from_number(1)).expect("a card");
    let laid: Vec<_> = card.sheets.iter().map(|sheet| (sheet.clone(), Placement::meant(sheet))).collect();
    let paint = TargetPaint { rise_mm: 0.0, ..TargetPaint::default() };
    let scene = target_scene(&laid, &paint).expect("a scene");
    let capture = Capture::new(settings).expect("a capture");
    let frame = render(&scene, &capture, &mut |_| ControlFlow::Continue(())).expect("not stopped");
    let path = folder.join("card.tif");
    let profile = imaging::srgb_profile();
    let row = frame.width as usize * 3;
    imaging::write_tiff_rgb16(&path, frame.width, frame.height, Some(PITCH_UM), Some(&profile), |y, out| {
        out.copy_from_slice(&frame.samples[y as usize * row..][..row]);
        ControlFlow::Continue(())
    })
    .expect("written");
    path
}

fn ran(args: &[&str]) -> std::process::Output {
    std::process::Command::new(env!("CARGO_BIN_EXE_closework")).args(args).output().expect("ran")
}

fn closework(args: &[&str]) -> Value {
    let done = ran(args);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    serde_json::from_slice(&done.stdout).expect("one document")
}

/// One sentence and status 2.
fn refused(args: &[&str]) -> String {
    let done = ran(args);
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(2), "{said}");
    assert!(done.stdout.is_empty());
    assert_eq!(said.trim_end().lines().count(), 1, "{said}");
    said
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

#[test]
fn a_photographed_card_is_found_and_gives_back_what_it_was_made_with() {
    let folder = tempfile::tempdir().expect("folder");
    let settings = settings();
    let path = photograph(folder.path(), settings);
    let found = closework(&["measure", "frame", path.to_str().expect("plain"), "--target", "--json"]);
    assert_eq!(found["card"]["field_mm"], serde_json::json!([64.0, 64.0]));
    assert_close!(number(&found["card"]["sheets"][0]["rotation_deg"]), 91.0, absolute = 0.02);
    assert_close!(number(&found["magnification"]["value"]), settings.magnification, relative = 5e-4);
    // Closed form: a Gaussian's response falls to one half at √(ln 2 / 2) / (π σ); the pixel's own box takes a little more,
    // sinc(ν p) = 0.94 there, and half of that share in frequency.
    let gaussian = (std::f64::consts::LN_2 / 2.0).sqrt() / (std::f64::consts::PI * 0.020);
    let zones = found["zones"].as_array().expect("zones");
    assert_eq!(zones.len(), 4);
    for zone in zones {
        for figure in zone["sharpness"].as_object().expect("lines").values() {
            let mtf50 = number(&figure["mtf50_lp_mm"]["value"]);
            assert!((0.90 * gaussian..gaussian).contains(&mtf50), "{}: {mtf50} of {gaussian}", zone["zone"]);
        }
    }
    for (colour, truth) in [("red", 14.0), ("blue", -9.0)] {
        let corner = &found["fringing"]["channels"][colour]["field"][2]["radial_um"];
        assert_close!(number(&corner["value"]), truth, absolute = 1.5, "{colour}");
    }
    assert_close!(number(&found["evenness"]["falloff_stops"]["value"]), 0.6, absolute = 0.03);
    assert!(found["made_by"].as_str().is_some_and(|by| by.starts_with("closework ")));

    let table = ran(&["measure", "frame", path.to_str().expect("plain"), "--csv"]);
    let text = String::from_utf8(table.stdout).expect("text");
    let columns = text.lines().next().map(|line| line.split(',').count());
    assert!(text.lines().count() > 30);
    assert!(text.lines().all(|line| Some(line.split(',').count()) == columns), "{text}");
}

#[test]
fn a_negative_is_turned_back_into_the_light_that_made_it() {
    let folder = tempfile::tempdir().expect("folder");
    let made = Settings {
        negative: Some(scene::Negative { base: 0.25, gamma: 0.6, toe: 0.001 }),
        lateral: LateralColour::default(),
        ..settings()
    };
    let path = photograph(folder.path(), made);
    let path = path.to_str().expect("plain");
    let args = ["measure", "frame", path, "--target", "--negative", "0.6", "--base", "0.25", "--json"];
    let found = closework(&args);
    // As from the positive: tones are the subject's again.
    assert_close!(number(&found["evenness"]["falloff_stops"]["value"]), 0.6, absolute = 0.04);
    let gaussian = (std::f64::consts::LN_2 / 2.0).sqrt() / (std::f64::consts::PI * 0.020);
    let centre = &found["zones"][0]["sharpness"]["central"]["mtf50_lp_mm"]["value"];
    assert!((0.88 * gaussian..1.01 * gaussian).contains(&number(centre)), "{centre} of {gaussian}");
    let why = refused(&["measure", "frame", path, "--negative", "0.6"]);
    assert!(why.contains("--rebate"), "{why}");
    let why = refused(&["measure", "frame", path, "--negative", "0", "--base", "0.25"]);
    assert!(why.contains("curve"), "{why}");
    let why = refused(&["measure", "frame", path, "--negative", "0.6", "--rebate", "0,0,9000,9"]);
    assert!(why.contains("rebate"), "{why}");
    let why = refused(&["measure", "frame", path, "--negative", "no-such-file", "--base", "0.1"]);
    assert!(why.contains("no-such-file"), "{why}");
}

#[test]
fn a_picture_without_the_card_is_measured_by_its_edges_or_refused() {
    let folder = tempfile::tempdir().expect("folder");
    // A slanted square on white, drawn pixel by pixel: four edges, no code.
    let path = folder.path().join("square.tif");
    let (sin, cos) = 8.0_f64.to_radians().sin_cos();
    imaging::write_tiff_rgb16(&path, 600, 500, Some(10.0), None, |y, row| {
        for (x, samples) in row.chunks_mut(3).enumerate() {
            let (dx, dy) = (x as f64 - 300.0, f64::from(y) - 250.0);
            let (u, v) = (dx * cos + dy * sin, dy * cos - dx * sin);
            let outside = (u.abs().max(v.abs()) - 120.0).clamp(-1.0, 1.0);
            samples.fill(((0.5 + 0.4 * outside) * 65_535.0) as u16);
        }
        ControlFlow::Continue(())
    })
    .expect("written");
    let square = path.to_str().expect("plain");
    let found = closework(&["measure", "frame", square, "--json"]);
    assert!(found["card"].is_null());
    assert!(found["places"].as_array().is_some_and(|places| places.len() >= 3), "{}", found["left_out"]);
    let why = refused(&["measure", "frame", square, "--target"]);
    assert!(why.contains("square.tif") && why.contains("no code"), "{why}");

    let blank = folder.path().join("blank.tif");
    imaging::write_tiff_rgb16(&blank, 400, 400, None, None, |_, row| {
        row.fill(40_000);
        ControlFlow::Continue(())
    })
    .expect("written");
    let why = refused(&["measure", "frame", blank.to_str().expect("plain")]);
    assert!(why.contains("blank.tif") && why.contains("nothing that can be measured"), "{why}");
    let why = refused(&["measure", "frame", "nowhere.tif"]);
    assert!(why.contains("no such picture"), "{why}");
    let why = refused(&["measure", "frame", square, "--line-mm", "70"]);
    assert!(why.contains("between 80 and 120"), "{why}");
    let why = refused(&["measure", "frame", square, "--film", square]);
    assert!(why.contains("square.tif"), "{why}");
}
