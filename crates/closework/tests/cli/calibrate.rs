//! `closework calibrate`: exact data give the truth, a slip is named, and what cannot be is refused in a sentence.

use super::kit;
use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};
use testkit::assert_close;

const KIT: &str = r#"
[[body]]
id = "six"
frame_mm = [56, 56]
register_mm = 80
mount = "a"

[[lens]]
id = "normal"
mount = "a"
focal_length_mm = 80
max_aperture = 2.8
length_mm = 60
max_magnification = 0.125
thread_mm = 58

[[lens]]
id = "short"
mount = "a"
focal_length_mm = 50
max_aperture = 4
length_mm = 50

[[tube]]
id = "tube-13"
mount = "a"
length_mm = 13

[[tube]]
id = "tube-36"
mount = "a"
length_mm = 36

[[bellows]]
id = "bellows"
mount = "a"
draw_mm = [40, 140]

[[close_up_lens]]
id = "plus-4"
power_dpt = 4
thread_mm = 58
gap_mm = 3

[[reversing_ring]]
id = "reverse"
mount = "a"
thread_mm = 58
"#;

/// The lens as it truly is.
const FOCAL_MM: f64 = 78.6;
const TRAVEL_MM: f64 = 9.4;
const SEPARATION_MM: f64 = 4.5;

/// A frame without error: m = (x + e)/f, ruler to film f(2 + m + 1/m) + t (Jacobson, Photographic Lenses FAQ, 1995,
/// Q4-Q5, with the principal separation added).
fn frame(label: &str, behind: &[&str], extension_mm: f64, focus: &str, off: f64) -> String {
    let travel = if focus == "closest" { TRAVEL_MM } else { 0.0 };
    let m = (extension_mm + travel) / FOCAL_MM;
    let distance = FOCAL_MM * (2.0 + m + 1.0 / m) + SEPARATION_MM;
    let behind: String = behind.iter().map(|id| format!("\"{id}\", ")).collect();
    format!(
        "[[frame]]\nlabel = \"{label}\"\nparts = [\"six\", {behind}\"normal\"]\nfocus = \"{focus}\"\nmagnification = {}\nsubject_to_film_mm = {distance}\n",
        m + off
    )
}

fn frames() -> String {
    frame("A1", &["tube-13"], 13.0, "infinity", 0.0)
        + &frame("A2", &["tube-36"], 36.0, "infinity", 0.0)
        + &frame("A3", &["tube-13", "tube-36"], 49.0, "infinity", 0.0)
        + &frame("A4", &["tube-36"], 36.0, "closest", 0.0)
        + &frame("A5", &["bellows=100"], 100.0, "infinity", 0.0)
}

fn run(folder: &Path, text: &str, more: &[&str]) -> Output {
    let (kit, from) = (folder.join("kit.toml"), folder.join("frames.toml"));
    std::fs::write(&from, text).expect("written");
    let mut command = Command::new(env!("CARGO_BIN_EXE_closework"));
    command.arg("calibrate").arg("--kit").arg(kit).arg("--from").arg(from).args(more);
    command.output().expect("ran")
}

fn document(text: &str, more: &[&str]) -> Value {
    let (folder, _) = kit(KIT);
    let more: Vec<&str> = more.iter().copied().chain(["--json"]).collect();
    let output = run(folder.path(), text, &more);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).expect("one JSON document and nothing else")
}

fn refusal(text: &str, more: &[&str]) -> String {
    let (folder, _) = kit(KIT);
    let output = run(folder.path(), text, more);
    assert_eq!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stdout));
    assert!(output.stdout.is_empty(), "a refusal prints no result");
    let words = String::from_utf8(output.stderr).expect("text");
    assert_eq!(words.trim_end().lines().count(), 1, "one sentence: {words}");
    words
}

fn number(value: &Value, path: &str) -> f64 {
    value.pointer(path).and_then(Value::as_f64).unwrap_or(f64::NAN)
}

#[test]
fn exact_data_give_the_truth() {
    let document = document(&frames(), &[]);
    // Closed form: without error the fit gives back what the frames were made of.
    assert_close!(number(&document, "/lenses/0/focal_length_mm/value"), FOCAL_MM, relative = 1e-6);
    assert_close!(number(&document, "/lenses/0/travel_mm/value"), TRAVEL_MM, absolute = 1e-4);
    assert_close!(number(&document, "/lenses/0/principal_separation_mm/value"), SEPARATION_MM, absolute = 1e-3);
    assert_close!(number(&document, "/lenses/0/focal_length_mm/marked/value"), 80.0, relative = 1e-12);
    // Law: exact readings leave no residual.
    assert_close!(number(&document, "/lenses/0/fit/chi_square/value"), 0.0, absolute = 1e-9);
    let lens = &document["lenses"][0];
    assert_eq!((lens["outliers"].as_array().map(Vec::len), lens["pupil_ratio"].is_null()), (Some(0), true));
    // Every fitted figure has its row in the covariance, and its half-width from there.
    let unknowns = lens["fit"]["unknowns"].as_array().expect("unknowns");
    assert_eq!(lens["fit"]["covariance"].as_array().map(Vec::len), Some(unknowns.len()));
    let half_width = number(lens, "/fit/coverage") * number(lens, "/fit/covariance/0/0").sqrt();
    assert_close!(number(lens, "/focal_length_mm/plus_minus"), half_width, relative = 1e-12);
    // Law: a frame adds information and never takes any.
    let steps = lens["worth"]["steps"].as_array().expect("steps");
    let widths: Vec<f64> = steps.iter().filter_map(|step| step["focal_length_plus_minus_mm"].as_f64()).collect();
    assert!(widths.len() > 5 && widths.windows(2).all(|pair| pair[1] <= pair[0] * (1.0 + 1e-9)), "{widths:?}");
    // The plain figures' uncertainties are told: magnification, common scale, distance.
    assert_eq!(document["usual"].as_array().map(Vec::len), Some(3), "{}", document["usual"]);
}

#[test]
fn a_scan_tells_the_magnification_too() {
    let with = |how: &str| {
        document(&format!("[[frame]]\nparts = [\"six\", \"tube-36\", \"normal\"]\nfocus = \"infinity\"\n{how}\n"), &[])
    };
    // 80 px/mm of 5.725 µm are 0.458 on film, and 0.16 px/mm are 0.000916.
    let scan = with("px_per_mm = { value = 80, plus_minus = 0.16 }\npitch_um = 5.725");
    let typed = with("magnification = { value = 0.458, plus_minus = 0.000916 }");
    for path in ["/lenses/0/focal_length_mm/value", "/lenses/0/focal_length_mm/plus_minus"] {
        assert_close!(number(&scan, path), number(&typed, path), relative = 1e-9);
    }
    assert_close!(number(&scan, "/lenses/0/focal_length_mm/value"), 36.0 / 0.458, relative = 1e-9);
}

#[test]
fn a_slip_is_named_and_left_out_unless_it_is_asked_for() {
    // The ruler of a sixth frame miscounted: a tenth off.
    let text = frames() + &frame("miscounted", &["bellows=60"], 60.0, "infinity", 0.08);
    let found = document(&text, &[]);
    let lens = &found["lenses"][0];
    assert_eq!(lens["outliers"][0]["label"], "miscounted");
    assert_eq!((lens["outliers"].as_array().map(Vec::len), lens["outliers_left_out"].as_bool()), (Some(1), Some(true)));
    assert_close!(number(lens, "/focal_length_mm/value"), FOCAL_MM, relative = 1e-6);
    let kept = document(&format!("use_outliers = true\n{text}"), &[]);
    assert_eq!(kept["lenses"][0]["outliers_left_out"].as_bool(), Some(false));
    assert!((number(&kept["lenses"][0], "/focal_length_mm/value") - FOCAL_MM).abs() > 0.1);
    let (folder, _) = kit(KIT);
    let words = String::from_utf8(run(folder.path(), &text, &[]).stdout).expect("text");
    assert!(words.contains("outlier: miscounted lies") && words.contains("it was left out"), "{words}");
}

#[test]
fn the_kit_is_saved_anew_and_set_ups_use_it() {
    let (folder, path) = kit(KIT);
    let new = folder.path().join("new.toml");
    let new_path = new.to_str().expect("text");
    let output = run(folder.path(), &frames(), &["--save", new_path]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    assert_eq!(std::fs::read_to_string(&path).expect("kit"), KIT);
    let saved = kit::Kit::parse(&std::fs::read_to_string(&new).expect("kit")).expect("a kit");
    let lens = saved.part("normal").expect("lens");
    assert_close!(lens.number("calibrated_focal_length_mm").unwrap_or(f64::NAN), FOCAL_MM, absolute = 2e-3);
    assert_close!(lens.number("focal_length_mm").unwrap_or(f64::NAN), 80.0, relative = 1e-12);
    let setup = |kit: &Path| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_closework"));
        command.args(["setup", "--parts", "six,tube-36,normal", "--json", "--kit"]).arg(kit);
        serde_json::from_slice::<Value>(&command.output().expect("ran").stdout).expect("a document")
    };
    // m = e/f with the true f.
    assert_close!(number(&setup(&new), "/magnification/value"), 36.0 / FOCAL_MM, relative = 1e-4);
    let calibrated = setup(&new)["calibrated"].clone();
    assert!(calibrated.as_array().is_some_and(|list| list.contains(&"normal.focal_length_mm".into())), "{calibrated}");
    // What is there is never written over.
    let again = run(folder.path(), &frames(), &["--save", new_path]);
    assert_eq!(again.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&again.stderr).contains("there is such a file already"));
}

#[test]
fn a_figure_that_the_marking_tells_better_is_said_and_not_saved() {
    // One rough frame: 6 % where the engraving is good to 4 %.
    let text = "[[frame]]\nparts = [\"six\", \"tube-36\", \"normal\"]\nfocus = \"infinity\"\nmagnification = { value = 0.45, plus_minus = 0.027 }\n";
    let (folder, _) = kit(KIT);
    let new = folder.path().join("new.toml");
    let output = run(folder.path(), text, &["--save", new.to_str().expect("text")]);
    let words = String::from_utf8(output.stdout).expect("text");
    assert!(words.contains("told worse by these frames than by its marking"), "{words}");
    assert!(!std::fs::read_to_string(&new).expect("kit").contains("calibrated_"));
}

#[test]
fn pupils_and_close_up_lenses() {
    let text = frames()
        + r#"
[[pupil]]
side = "front"
diameter_px = 400
px_per_mm = 20

[[pupil]]
side = "back"
diameter_px = { value = 380, plus_minus = 2 }
px_per_mm = 20

[[close_up]]
part = "plus-4"
lens = "normal"
focus = "infinity"
magnification_with = 0.29868
"#;
    let found = document(&text, &[]);
    assert_close!(number(&found, "/lenses/0/pupil_ratio/value"), 380.0 / 400.0, relative = 1e-12);
    // m = f·D for a lens at infinity, with the f that the same file tells: 0.29868 = 78.6 mm · 3.8 dpt.
    assert_close!(number(&found, "/close_up_lenses/0/power_dpt/value"), 3.8, absolute = 1e-3);
    // Asked for alone it is measured on the same calibrated lens.
    let only = document(&text, &["--lens", "plus-4"]);
    assert_eq!(
        (only["lenses"].as_array().map(Vec::len), &only["close_up_lenses"]),
        (Some(0), &found["close_up_lenses"])
    );
}

#[test]
fn what_cannot_be_is_refused_with_its_place_and_a_fix() {
    let entry = |parts: &str, rest: &str| format!("[[frame]]\nlabel = \"B1\"\nparts = {parts}\n{rest}\n");
    let good = "focus = \"infinity\"\nmagnification = 0.45";
    let table: [(String, &[&str]); 18] = [
        (entry(r#"["six", "tube-63", "normal"]"#, good), &["B1", "tube-63", "did you mean"]),
        (entry(r#"["six", "reverse", "normal"]"#, good), &["B1", "reversing ring", "no place in a test frame"]),
        (entry(r#"["six", "tube-36", "normal", "plus-4"]"#, good), &["B1", "plus-4", "no place in a test frame"]),
        (entry(r#"["six", "tube-36"]"#, good), &["B1", "no lens"]),
        (entry(r#"["six", "bellows", "normal"]"#, good), &["B1", "bellows"]),
        (entry(r#"["six", "normal"]"#, good), &["B1", "infinity mark without any extension"]),
        (entry(r#"["six", "tube-36", "normal"]"#, "magnification = 0.45"), &["line 1", "B1", "focus is missing"]),
        (
            entry(r#"["six", "tube-36", "normal"]"#, "focus = \"near\"\nmagnification = 1"),
            &["line 4", "focus", "closest or travel=MM"],
        ),
        (
            entry(r#"["six", "tube-36", "normal"]"#, "focus = \"infinity\""),
            &["B1", "magnification is missing", "px_per_mm"],
        ),
        (
            entry(r#"["six", "tube-36", "normal"]"#, "focus = \"infinity\"\nmagnification = -1"),
            &["line 5", "must be above 0, not -1"],
        ),
        (entry(r#"["six", "tube-36", "normal"]"#, "focus = \"infinity\"\nmagnification = 45"), &["B1", "per cent"]),
        (entry(r#"["six", "tube-36", "normal"]"#, "focus = \"infinity\"\npx_per_mm = 80"), &["pitch_um is missing"]),
        (
            entry(r#"["six", "tube-36", "normal"]"#, "focus = \"infinity\"\nmagnificaton = 1"),
            &["line 5", "\"magnificaton\" is no field", "magnification"],
        ),
        (entry(r#""six""#, good), &["line 3", "parts must be a list"]),
        (frame("A", &["tube-36"], 36.0, "infinity", 0.0).repeat(2), &["\"A\"", "name of its own"]),
        ("[[frames]]\n".into(), &["line 1", "\"frames\" is no field of a calibrating file", "frame"]),
        (String::new(), &["nothing to calibrate from", "[[frame]]"]),
        (
            "[[pupil]]\nlens = \"normal\"\nside = \"front\"\ndiameter_px = 400\n".into(),
            &["no photograph from the back", "side = \"back\""],
        ),
    ];
    for (text, needles) in table {
        let words = refusal(&text, &[]);
        for needle in needles {
            assert!(words.contains(needle), "\"{needle}\" is not in: {words}");
        }
        assert!(words.contains("frames.toml"), "names the file: {words}");
    }
    assert!(refusal(&frames(), &["--lens", "short"]).contains("the file is about normal"));
    assert!(refusal(&frames(), &["--save", "/nowhere/at/all/kit.toml"]).contains("--save"));
}

#[test]
fn the_example_that_is_documented_works() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(root.join("CALIBRATING.md")).expect("document");
    let example: Vec<&str> = text
        .lines()
        .skip_while(|line| !line.starts_with("    # At the head"))
        .take_while(|line| line.starts_with("    ") || line.is_empty())
        .map(|line| line.trim_start())
        .collect();
    let folder = tempfile::tempdir().expect("folder");
    std::fs::copy(root.join("src/demo/kit.toml"), folder.path().join("kit.toml")).expect("kit");
    let output = run(folder.path(), &example.join("\n"), &["--json"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let document: Value = serde_json::from_slice(&output.stdout).expect("a document");
    // What the example was made of: 86.1 mm, with errors within the stated uncertainties.
    assert_close!(number(&document, "/lenses/0/focal_length_mm/value"), 86.1, absolute = 0.42);
    assert_close!(number(&document, "/close_up_lenses/0/power_dpt/value"), 3.92, absolute = 0.03);
}
