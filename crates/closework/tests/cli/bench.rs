//! The bench as scripts use it.

use std::process::Command;

use rays::Wavelength;
use serde_json::Value;
use testkit::assert_close;

fn run(args: &[&str]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_closework")).arg("bench").args(args).output().expect("ran");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}

fn document(args: &[&str]) -> Value {
    let (status, printed, said) = run(&[args, &["--json"]].concat());
    assert_eq!(status, Some(0), "{said}");
    serde_json::from_str(&printed).expect("one JSON document and nothing else")
}

fn refused(args: &[&str]) -> String {
    let (status, printed, said) = run(args);
    assert_eq!((status, printed.as_str()), (Some(2), ""), "{said}");
    assert_eq!(said.trim_end().lines().count(), 1, "one sentence: {said}");
    said
}

const DOUBLE_GAUSS: [&str; 5] = ["set-up", "--form", "double-gauss-1954", "--f-number", "4"];

fn with(rest: &[&str]) -> Value {
    document(&[&DOUBLE_GAUSS, rest].concat())
}

fn number(found: &Value, field: &str) -> f64 {
    found[field].as_f64().unwrap_or_else(|| panic!("{field}: {found}"))
}

/// US 2,673,491 at f/4 by an independent trace of 2 x 2 matrices: free distance and effective f-number, and the same lens
/// turned round.
#[test]
fn distances_and_light_of_a_patent_lens() {
    for (ratio, turned, free, effective) in [
        ("0.25", false, 226.80091863989273, 4.934600378191906),
        ("1", false, 76.77846944685268, 7.7384015127676244),
        ("1", true, 85.72976118409173, 7.738401512767627),
        ("2", true, 60.726019651918385, 11.738401512767627),
    ] {
        let reversed: &[&str] = if turned { &["--reversed"] } else { &[] };
        let found = with(&[&["--magnification", ratio, "--at-mm", "0"], reversed].concat());
        assert_close!(number(&found, "subject_mm"), free, relative = 1e-9);
        assert_close!(number(&found, "effective_f_number"), effective, relative = 1e-9);
    }
    let form = &with(&["--at-mm", "0"])["form"];
    // Printed beside traced: 0.015 % and 0.012 % apart.
    assert_close!(number(form, "printed_back_focus"), 35.718, absolute = 0.0);
    assert_close!(number(form, "traced_back_focus"), 35.722278120, relative = 1e-9);
}

/// A second lens in front magnifies by the ratio of the focal lengths (the trade's rule), a close-up lens by focal length
/// times power.
#[test]
fn what_is_in_front_magnifies_by_its_rule() {
    let coupled =
        with(&["--focal-mm", "160", "--coupled", "triplet-derived-1903", "--coupled-focal-mm", "80", "--at-mm", "0"]);
    assert_close!(number(&coupled, "magnification"), 2.0, relative = 1e-9);
    let close_up = with(&["--focal-mm", "80", "--close-up-dpt", "4", "--close-up", "cemented", "--at-mm", "0"]);
    assert_close!(number(&close_up, "magnification"), 0.32, relative = 1e-9);
}

/// What every place tells: contrast that falls with fineness, all the light in the middle, every ray accounted for; and dark
/// places say so in place of figures.
#[test]
fn places_are_told_or_dark() {
    let telephoto = ["set-up", "--form", "telephoto", "--focal-mm", "160", "--f-number", "16", "--at-mm", "0,20,80"];
    let found = document(&telephoto);
    let zones = found["zones"].as_array().expect("zones");
    for zone in &zones[..2] {
        let (coarse, fine) = (&zone["transfer"][0], &zone["transfer"][1]);
        assert!(number(coarse, "sagittal") > number(fine, "sagittal").abs());
        let rays = &zone["rays"];
        let lost = ["cut", "missed", "reflected", "unsettled", "unaimed"].map(|kind| number(rays, kind));
        assert_close!(lost.iter().sum::<f64>() + number(rays, "arrived"), number(rays, "sent"), absolute = 0.0);
    }
    assert_close!(number(&zones[0], "illumination"), 1.0, absolute = 1e-9);
    // Diffraction alone at f/16 leaves 0.785 in d (closed form); this form loses little more in the middle.
    let limit = optics::diffraction_mtf(Wavelength::D.mm(), 16.0, 20.0);
    assert_close!(number(&zones[0]["transfer"][0], "tangential"), limit, absolute = 0.03);
    assert!(zones[2]["dark"].is_string() && zones[2]["transfer"].is_null());
    let remarks = found["remarks"].to_string();
    assert!(remarks.contains("not your lens") && remarks.contains("free of colour"), "{remarks}");
    let sums = found["surfaces"].as_array().expect("surfaces").iter().map(|row| number(&row["sums"], "petzval"));
    assert_close!(sums.sum::<f64>(), number(&found["sums"], "petzval"), relative = 1e-12);
    assert_eq!(found["through_focus"].as_array().map(Vec::len), Some(13));
}

#[test]
fn a_table_of_ones_own_is_traced_as_the_form_that_it_is() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("lens.txt");
    let table =
        "43 9.8 1.69\n-115 2.1 1.55\n307 4.16 air\nstop 4 air\n-59.1 1.87 1.64\n40.9 10.6 air\n184 7.05 1.69\n-48.9";
    std::fs::write(&path, table).expect("written");
    let rest = ["--f-number", "8", "--extension-mm", "50", "--at-mm", "0,15"];
    let path_word = path.to_str().expect("text");
    let own = document(&[&["set-up", "--table", path_word], &rest[..]].concat());
    let form = document(&[&["set-up", "--form", "cemented-front-four"], &rest[..]].concat());
    assert_eq!(own["zones"], form["zones"]);
    assert_eq!(own["form"], Value::Null);
    std::fs::write(&path, "43 9.8 1.69\n\n-115 thick 1.55").expect("written");
    let said = refused(&["set-up", "--table", path_word, "--f-number", "8"]);
    assert!(said.contains("line 3") && said.contains("thick"), "{said}");
}

#[test]
fn forms_come_nearest_first_with_their_mismatch() {
    let found = document(&["forms", "--elements", "4", "--symmetric", "false", "--back-focus", "short"]);
    assert_eq!(found["forms"][0]["key"], "telephoto");
    let forms = found["forms"].as_array().expect("forms");
    let flattened = forms.iter().find(|form| form["key"] == "field-flattened").expect("there");
    // The printed 1.0 is reported as it is beside the traced 0.709547, not adjusted.
    assert_close!(number(flattened, "printed_back_focus"), 1.0, absolute = 0.0);
    assert_close!(number(flattened, "traced_back_focus"), 0.709547, absolute = 5e-7);
    let (_, words, _) = run(&["forms"]);
    assert!(words.contains("not your lens") && words.contains("US patent 2,673,491"), "{words}");
}

#[test]
fn what_cannot_be_traced_is_refused_in_a_sentence() {
    assert!(refused(&["set-up", "--f-number", "8"]).contains("--form"));
    assert!(refused(&["set-up", "--form", "tessera", "--f-number", "8"]).contains("double-gauss-1954"));
    assert!(refused(&["set-up", "--table", "/nowhere.txt", "--f-number", "8"]).contains("/nowhere.txt"));
    assert!(refused(&[&DOUBLE_GAUSS, &["--magnification", "0"][..]].concat()).contains("above 0"));
    assert!(refused(&[&DOUBLE_GAUSS, &["--to-film-mm", "10"][..]].concat()).contains("sharp"));
    assert!(
        refused(&[&DOUBLE_GAUSS, &["--close-up-dpt", "30", "--close-up-mm", "90"][..]].concat()).contains("close-up")
    );
    assert!(refused(&[]).contains("bench forms"));
}
