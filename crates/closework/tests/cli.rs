//! The command line as scripts use it: documents, exit status, one sentence for what is wrong.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;
use testkit::assert_close;

#[path = "cli/bench.rs"]
mod bench;
#[path = "cli/calibrate.rs"]
mod calibrate;
#[path = "cli/exposures.rs"]
mod exposures;
#[path = "cli/frame.rs"]
mod frame;
#[path = "cli/plans.rs"]
mod plans;
#[path = "cli/records.rs"]
mod records;
#[path = "cli/target.rs"]
mod target;
#[path = "cli/test_rolls.rs"]
mod test_rolls;
#[path = "cli/verdict.rs"]
mod verdict;
#[path = "cli/words.rs"]
mod words;

const KIT: &str = r#"
[[body]]
id = "six"
frame_mm = [56, 56]
register_mm = 80
mount = "a"
shutter_s = [1, 0.5, 0.25, 0.125]

[[lens]]
id = "normal"
mount = "a"
focal_length_mm = 80
max_aperture = 2.8
min_aperture = 22
pupil_ratio = 1
length_mm = 60
principal_separation_mm = 0
thread_mm = 58
max_magnification = 0.125

[[tube]]
id = "tube-50"
mount = "a"
length_mm = 50

[[bellows]]
id = "bellows"
mount = "a"
draw_mm = [40, 140]

[[close_up_lens]]
id = "plus-4"
power_dpt = 4
thread_mm = 58

[[step_ring]]
id = "step"
from_mm = 58
to_mm = 62
"#;

fn kit(text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("kit.toml");
    std::fs::write(&path, text).expect("written");
    (folder, path)
}

fn closework(args: &[&str], kit: &Path) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_closework"));
    command.args(args);
    if args[0] != "measure" {
        command.arg("--kit").arg(kit);
    }
    command.output().expect("ran")
}

/// The document of a command that must succeed.
fn document(args: &[&str]) -> Value {
    document_of(args, KIT)
}

/// The same with another kit.
fn document_of(args: &[&str], text: &str) -> Value {
    let (_folder, path) = kit(text);
    let output = closework(args, &path);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("one JSON document and nothing else")
}

/// The sentence of a command that must be refused with status 2.
fn refusal(args: &[&str], text: &str) -> String {
    let (_folder, path) = kit(text);
    let output = closework(args, &path);
    let words = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{words}");
    assert!(output.stdout.is_empty(), "nothing is printed for input that was not understood");
    assert_eq!(words.trim_end().lines().count(), 1, "one sentence: {words}");
    words
}

#[test]
fn a_set_up_has_every_field() {
    let found = document(&["setup", "--parts", "six,tube-50,normal", "--f-number", "8", "--json"]);
    let value = |field: &str| found[field]["value"].as_f64().expect("a number");
    // f = 80, extension 50, N = 8, P = 1 (own calculation from m = e/f and N(1 + m/P); Jacobson, Photographic Lenses
    // FAQ, question 5 for m).
    assert_close!(value("magnification"), 0.625, relative = 1e-12);
    assert_close!(value("effective_f_number"), 13.0, relative = 1e-12);
    assert_close!(value("exposure_stops"), 1.4008794362821844, relative = 1e-12);
    assert_close!(value("subject_to_film_mm"), 338.0, relative = 1e-12);
    assert_close!(value("extension_mm"), 50.0, relative = 1e-12);
    assert_close!(found["field_mm"]["value"][0].as_f64().expect("width"), 56.0 / 0.625, relative = 1e-12);
    for field in ["working_distance_mm", "depth_of_field_mm", "depth_near_mm", "depth_far_mm", "airy_diameter_um"] {
        assert!(value(field) > 0.0 && found[field]["plus_minus"].as_f64().is_some_and(|u| u > 0.0), "{field}: {found}");
    }
    assert_eq!(found["ratio"], "1:1.6");
    assert_eq!(found["limited_by"], "normal");
    assert!(found["assumed"].is_array() && found["warnings"].is_array());
}

#[test]
fn infinity_is_null() {
    let found = document(&["setup", "--parts", "six,normal", "--json"]);
    assert_eq!(found["magnification"]["value"], 0.0);
    assert_eq!(found["ratio"], Value::Null);
    assert_eq!(found["subject_to_film_mm"]["value"], Value::Null);
}

#[test]
fn reach_lists_what_fits_and_the_nearest_misses() {
    let all = document(&["reach", "--json"]);
    let setups = all["setups"].as_array().expect("set-ups");
    assert_eq!(all["total"], setups.len());
    assert!(
        setups.iter().all(|setup| setup["magnification"]["min"].as_f64() <= setup["magnification"]["max"].as_f64())
    );
    let wanted = document(&["reach", "--magnification", "1.2", "--json"]);
    let setups = wanted["setups"].as_array().expect("set-ups");
    assert!(!setups.is_empty());
    for setup in setups {
        let end = |end: &str| setup["magnification"][end].as_f64().expect("a number");
        assert!(end("min") <= 1.2 && 1.2 <= end("max"), "{setup}");
    }
    assert!(wanted["misses"].as_array().is_some_and(|misses| !misses.is_empty() && misses[0]["why"].is_string()));
    let two = document(&["reach", "--limit", "2", "--json"]);
    assert_eq!(two["setups"].as_array().map(Vec::len), Some(2));
    assert_eq!(two["total"], all["total"]);
}

#[test]
fn an_exposure_counts_the_extension() {
    let found = document(&[
        "exposure",
        "--parts",
        "six,bellows=80,normal",
        "--focus",
        "infinity",
        "--f-number",
        "16",
        "--metered-s",
        "0.25",
        "--filter-stops",
        "1",
        "--json",
    ]);
    // Life size with a symmetrical lens costs two stops (common practice, no source): 1/4 s, three stops: 2 s.
    assert_close!(found["extension_stops"]["value"].as_f64().expect("stops"), 2.0, relative = 1e-12);
    assert_close!(found["time_s"]["value"].as_f64().expect("time"), 2.0, relative = 1e-12);
    assert_eq!(found["set_s"], 1.0);
    assert_close!(found["set_error_stops"]["value"].as_f64().expect("error"), -1.0, absolute = 1e-12);
    assert_eq!(found["metered_s"], 0.25);
    assert_eq!(found["reciprocity_stops"]["value"], 0.0);
}

#[test]
fn parts_that_do_not_fit_name_what_meets_what() {
    let other = KIT.replace("id = \"tube-50\"\nmount = \"a\"", "id = \"tube-50\"\nmount = \"b\"");
    let words = refusal(&["setup", "--parts", "six,tube-50,normal"], &other);
    assert!(words.contains("\"a\"") && words.contains("\"b\"") && words.contains("tube-50"), "{words}");
}

#[test]
fn mistakes_in_a_kit_name_line_field_and_fix() {
    let cases = [
        (KIT.replace("register_mm = 80", "register = 80"), "register"),
        (KIT.replace("length_mm = 50", "length_mm = -50"), "length_mm"),
        (KIT.replace("length_mm = 50", "length_mm = \"fifty\""), "length_mm"),
        (KIT.replace("id = \"plus-4\"", "id = \"normal\""), "normal"),
        (KIT.replace("focal_length_mm = 80", ""), "focal_length_mm"),
    ];
    for (text, field) in cases {
        let words = refusal(&["reach"], &text);
        assert!(words.contains("line ") && words.contains(field) && words.contains("kit.toml"), "{words}");
    }
}

#[test]
fn a_command_line_that_is_wrong_is_told_in_a_sentence() {
    for args in [
        &["setup", "--parts", "six,nromal"][..],
        &["setup", "--parts", "six,normal", "--focus", "far"],
        &["setup", "--parts", "six,normal", "--f-number", "90"],
        &["setup", "--parts", "six,bellows,normal"],
        &["setup", "--parts", "six,bellows=400,normal"],
        &["setup", "--parts", "normal,six"],
        &["setup"],
        &["reach", "--magnification", "-1"],
        &["exposure", "--parts", "six,normal", "--f-number", "8", "--metered-s", "0"],
        &["exposure", "--parts", "six,normal", "--f-number", "8", "--metered-s", "1", "--film", "any"],
        &["setup", "--parts", "six,normal", "--colour", "red"],
    ] {
        refusal(args, KIT);
    }
    let near = refusal(&["setup", "--parts", "six,nromal"], KIT);
    assert!(near.contains("normal"), "the nearest id is named: {near}");
}

/// A straight edge of known blur, 6° from upright, as a 16-bit TIFF with a profile.
fn edge_scan(folder: &Path) -> PathBuf {
    let path = folder.join("edge.tif");
    let (width, height, sigma, angle) = (160u32, 160u32, 0.9f64, 6.0f64.to_radians());
    let profile = imaging::srgb_profile();
    let drawn = imaging::write_tiff_rgb16(&path, width, height, Some(25.4), Some(&profile), |y, row| {
        for x in 0..width {
            let (dx, dy) = (f64::from(x) + 0.5 - 80.0, f64::from(y) + 0.5 - 80.0);
            let distance = dx * angle.cos() + dy * angle.sin();
            let light = 0.1 + 0.7 * 0.5 * (1.0 + libm_erf(distance / (sigma * std::f64::consts::SQRT_2)));
            let code = (planes::ToneCurve::Srgb.encode(light) * 65535.0).round() as u16;
            row[3 * x as usize..][..3].fill(code);
        }
        std::ops::ControlFlow::Continue(())
    });
    drawn.expect("written");
    path
}

/// Abramowitz & Stegun 7.1.26: error below 1.5e-7, far below a 16-bit step.
fn libm_erf(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.3275911 * x.abs());
    let series = ((((1.061405429 * t - 1.453152027) * t + 1.421413741) * t - 0.284496736) * t + 0.254829592) * t;
    (1.0 - series * (-x * x).exp()).copysign(x)
}

#[test]
fn an_edge_is_measured_and_told_on_film_and_subject() {
    let folder = tempfile::tempdir().expect("folder");
    let path = edge_scan(folder.path());
    let path = path.to_str().expect("path");
    let args =
        ["measure", "edge", path, "--roi", "20,20,120,120", "--pitch-um", "25.4", "--magnification", "0.5", "--json"];
    let found = document(&args);
    let luminance = &found["channels"]["luminance"];
    // Sampled at points, not through a pixel's box: a Gaussian alone, MTF50 = sqrt(ln 2 / 2) / (pi sigma).
    let truth = (std::f64::consts::LN_2 / 2.0).sqrt() / (std::f64::consts::PI * 0.9);
    let mtf50 = luminance["mtf50_cy_px"].as_f64().expect("a number");
    assert_close!(mtf50, truth, relative = 0.01);
    assert_close!(luminance["mtf50_cy_mm"].as_f64().expect("film"), mtf50 / 0.0254, relative = 1e-12);
    assert_close!(luminance["mtf50_subject_cy_mm"].as_f64().expect("subject"), mtf50 / 0.0254 * 0.5, relative = 1e-12);
    assert_close!(found["angle_deg"].as_f64().expect("angle").abs(), 6.0, absolute = 0.05);
    assert_eq!(found["transfer"], "icc");
    for field in ["displacement_px", "contrast", "clipped_fraction", "warnings"] {
        assert!(!found[field].is_null(), "{field} is missing");
    }
    let first = &luminance["sfr"][0];
    assert_close!(first[1].as_f64().expect("response at 0"), 1.0, absolute = 1e-9);
}

#[test]
fn pictures_and_regions_that_hold_nothing_are_refused() {
    let folder = tempfile::tempdir().expect("folder");
    let path = edge_scan(folder.path());
    let path = path.to_str().expect("path");
    let text = folder.path().join("text.tif");
    std::fs::write(&text, "not a picture").expect("written");
    let text = text.to_str().expect("path");
    for args in [
        &["measure", "edge", path, "--roi", "0,0,30,160"][..],
        &["measure", "edge", path, "--roi", "100,100,100,100"],
        &["measure", "edge", path, "--roi", "1,2,3"],
        &["measure", "edge", text, "--roi", "0,0,10,10"],
        &["measure", "edge", "nowhere.tif", "--roi", "0,0,10,10"],
        &["measure", "scale", path, "--from", "20,80", "--to", "140,80", "--tick-mm", "1"],
        &["measure", "scale", path, "--from", "20,80", "--to", "400,80", "--tick-mm", "1"],
        &["measure", "scale", path, "--from", "20,80", "--to", "140,80", "--tick-mm", "0"],
        &["measure", "edge", path, "--roi", "20,20,120,120", "--pitch-um", "-1"],
    ] {
        refusal(args, KIT);
    }
}

#[test]
fn a_ruler_gives_the_magnification() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("ruler.tif");
    let drawn = imaging::write_tiff_rgb16(&path, 900, 120, Some(10.0), None, |_, row| {
        for (x, pixel) in row.chunks_mut(3).enumerate() {
            // Marks every 25.5 px, three pixels wide, their sides as shares of a pixel.
            let phase = (x as f64 + 0.5 - 12.0).rem_euclid(25.5);
            let cover = (1.5 + 0.5 - phase.min(25.5 - phase)).clamp(0.0, 1.0);
            pixel.fill(((0.9 - 0.8 * cover) * 65535.0) as u16);
        }
        std::ops::ControlFlow::Continue(())
    });
    drawn.expect("written");
    let path = path.to_str().expect("path");
    let args = [
        "measure",
        "scale",
        path,
        "--from",
        "5,60",
        "--to",
        "895,60",
        "--tick-mm",
        "0.5",
        "--transfer",
        "linear",
        "--pitch-um",
        "10",
        "--json",
    ];
    let found = document(&args);
    assert_close!(found["px_per_tick"].as_f64().expect("spacing"), 25.5, relative = 0.001);
    assert_close!(found["px_per_mm"].as_f64().expect("scale"), 51.0, relative = 0.001);
    assert_close!(found["magnification"].as_f64().expect("magnification"), 0.51, relative = 0.001);
    assert!(found["plus_minus"].as_f64().is_some_and(|u| u > 0.0 && u < 0.5));
    assert!(found["ticks"].as_u64().is_some_and(|ticks| ticks >= 30));
}
