//! `closework target`

use super::Value;
use std::process::{Command, Output};
use testkit::assert_close;

fn made(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_closework")).arg("target").args(args).output().expect("ran")
}

#[test]
fn a_card_is_written_once_and_described() {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("card.pdf");
    let out = path.to_str().expect("plain");
    let done = made(&["--field-mm", "56x42", "--identity", "ab12c", "--out", out, "--json"]);
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let found: Value = serde_json::from_slice(&done.stdout).expect("a document");
    assert_eq!(found["identity"], "AB12C");
    assert_eq!(found["paper"], "a4");
    assert_eq!(found["pages"], 1);
    let marks = found["sheets"][0]["marks"].as_array().expect("marks");
    let codes: Vec<_> = marks.iter().filter(|mark| mark["kind"] == "code").collect();
    assert_eq!(codes.len(), 4);
    // The layout's own text: version, field in tenths (560 and 420 in base 36), sheet, corner, print.
    assert!(codes[0]["text"].as_str().is_some_and(|text| text.starts_with("CW10FK0BO00AB12C")));
    let line = &found["sheets"][0]["check_line_on_page_mm"];
    let x = |end: usize| line[end][0].as_f64().expect("a number");
    assert_close!(x(1) - x(0), 100.0, absolute = 1e-9);
    let before = std::fs::read(&path).expect("written");
    assert!(before.starts_with(b"%PDF-"));

    let again = made(&["--field-mm", "60", "--out", out]);
    assert_eq!(again.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&again.stderr).contains("--force"));
    assert_eq!(std::fs::read(&path).expect("still there"), before);
    let forced = made(&["--field-mm", "60", "--out", out, "--force"]);
    assert!(forced.status.success());
    let words = String::from_utf8_lossy(&forced.stdout).into_owned();
    assert!(words.contains("60.0 × 60.0 mm") && words.contains("100 %"), "{words}");
    assert_ne!(std::fs::read(&path).expect("written"), before);
}

#[test]
fn what_cannot_be_printed_is_one_sentence() {
    for (args, needles) in [
        (&["--field-mm", "14", "--out", "no.pdf"][..], &["--field-mm", "14", "15", "400"][..]),
        (&["--field-mm", "60x19", "--out", "no.pdf"], &["--field-mm", "three times"]),
        (&["--field-mm", "wide", "--out", "no.pdf"], &["--field-mm", "number"]),
        (&["--field-mm", "-5", "--out", "no.pdf"], &["--field-mm", "above 0"]),
        (&["--field-mm", "60", "--paper", "a5", "--out", "no.pdf"], &["--paper", "a4 or letter"]),
        (&["--field-mm", "60", "--identity", "four", "--out", "no.pdf"], &["--identity", "five letters"]),
        (&["--field-mm", "60", "--out", "no/such/folder/no.pdf"], &["--out", "no/such/folder"]),
        (&["--field-mm", "60"], &["--out"]),
    ] {
        let done = made(args);
        let words = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(2), "{words}");
        assert!(done.stdout.is_empty());
        assert_eq!(words.trim_end().lines().count(), 1, "one sentence: {words}");
        for needle in needles {
            assert!(words.contains(needle), "{needle}: {words}");
        }
    }
    assert!(!std::path::Path::new("no.pdf").exists());
}
