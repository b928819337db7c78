//! What the command line refuses is said in one sentence with the option and the fix; what people type is understood.

use super::{KIT, closework, document, edge_scan, kit, refusal};
use serde_json::Value;
use std::process::Command;
use testkit::assert_close;

/// A refusal that names what it must, and nothing of the parser's own.
fn assert_says(args: &[&str], needles: &[&str]) {
    let words = refusal(args, KIT);
    for needle in needles {
        assert!(words.contains(needle), "\"{needle}\" is not in: {words}");
    }
    for foreign in ["--help", "tip:", "error:", "invalid float", "invalid digit", "For more information", "Usage:"] {
        assert!(!words.contains(foreign), "{words}");
    }
}

#[test]
fn numbers_that_cannot_be_name_their_option() {
    let setup = |option, value| assert_says_number(&["setup", "--parts", "six,normal", option, value], option);
    setup("--coc-mm", "-1");
    setup("--coc-mm", "thin");
    setup("--f-number", "-5");
    setup("--f-number", "far");
    let exposure = ["exposure", "--parts", "six,normal"];
    for (option, value) in [("--metered-s", "soon"), ("--metered-s", "-1"), ("--filter-stops", "-2")] {
        let rest = if option == "--metered-s" { vec![] } else { vec!["--metered-s", "1"] };
        let args = [&exposure[..], &["--f-number", "8", option, value], &rest].concat();
        assert_says_number(&args, option);
    }
    assert_says_number(&["reach", "--limit", "-1"], "--limit");
    assert_says_number(&["reach", "--tubes", "-1"], "--tubes");
    assert_says_number(&["reach", "--magnification", "1:0"], "--magnification");
    assert_says(
        &["measure", "edge", "e.tif", "--roi", "-5,0,10,10"],
        &["--roi must lie within the picture", "-5,0,10,10"],
    );
    assert_says(&["measure", "edge", "e.tif", "--roi", "0,0,0,10"], &["--roi is empty", "1 or more"]);
    assert_says(&["measure", "edge", "e.tif", "--roi", "1,2,3"], &["--roi must be X,Y,W,H", "120,80,100,200"]);
    assert_says(&["setup", "--parts", "six,normal", "--coc-mm", "0,03"], &["--coc-mm", "with a point: 0.03"]);
    assert_says(&["setup", "--parts", "six,normal", "--coc-mm", "--json"], &["--coc-mm needs a number after it"]);
}

fn assert_says_number(args: &[&str], option: &str) {
    assert_says(args, &[option, "must be"]);
}

#[test]
fn numbers_as_people_write_them() {
    let args = |metered, stop| {
        let rest = ["--parts", "six,tube-50,normal", "--f-number", stop, "--metered-s", metered, "--json"];
        document(&[&["exposure"][..], &rest].concat())["time_s"]["value"].as_f64().expect("a time")
    };
    for metered in ["1/125", "1/125s", "0.008"] {
        assert_close!(args(metered, "f/8"), args("0.008", "8"), relative = 1e-12, "{metered}");
    }
    let total = |m| document(&["reach", "--magnification", m, "--json"])["total"].as_u64();
    assert_eq!(total("1:2"), total("0.5"));
}

#[test]
fn a_command_line_with_something_missing_or_too_much() {
    assert_says(&["measure"], &["edge", "scale", "--roi", "--tick-mm"]);
    assert_says(&["measure", "everything"], &["no command \"everything\"", "edge, scale or frame"]);
    assert_says(&["setup"], &["setup needs --parts ID,ID,..."]);
    assert_says(
        &["setup", "--parts", "six,normal", "--colour", "red"],
        &["no option --colour", "closework help setup"],
    );
    assert_says(&["setup", "--parts", "six,normal", "--f-numbr", "8"], &["--f-numbr", "did you mean --f-number"]);
    assert_says(&["reach", "--limit", "1", "--limit", "2"], &["--limit is given twice"]);
    assert_says(&["reach", "--lenses", "0"], &["--lenses", "must be 1 or 2, not 0"]);
    assert_says(&["reach", "--converters", "2"], &["--converters", "must be 0 or 1, not 2"]);
    assert_says(&["setup", "--parts", "six,bellows", "=", "85,normal"], &["one word too many", "quotes"]);
    assert_says(&["reach", "--magnification=", "--json"], &["--magnification"]);
    assert_says(&["exposur"], &["did you mean exposure"]);
    assert_says(&["reach", "--json=3"], &["--json takes no value"]);
    assert_says(&["develop"], &["no command \"develop\"", "serve, setup, reach", "or frames"]);
    assert_says(&["frame"], &["no command \"frame\"", "did you mean frames"]);
}

#[test]
fn draws_and_bodies() {
    assert_says(&["setup", "--parts", "six,bellows=85mm,normal"], &["plain number", "bellows=85"]);
    assert_says(&["reach", "--body", "normal"], &["\"normal\" is a lens, not a body", "give six"]);
    let blanks = document(&["setup", "--parts", "six, bellows = 85 ,normal", "--json"]);
    assert_eq!(blanks["extension_mm"]["value"], 85.0);
}

#[test]
fn pictures_and_kits_that_are_not_there_or_no_text() {
    assert_says(&["measure", "edge", "nowhere.tif", "--roi", "0,0,10,10"], &["nowhere.tif", "check the path"]);
    let folder = tempfile::tempdir().expect("folder");
    let scan = edge_scan(folder.path());
    let scan = scan.to_str().expect("path");
    let outside = ["measure", "edge", scan, "--roi", "100,100,100,100"];
    assert_says(&outside, &["lies outside", "write --roi within 0..160, 0..160"]);
    let path = folder.path().join("kit.toml");
    std::fs::write(&path, b"[[tube]]\nid = \"t\xfc\"\n").expect("written");
    let output = closework(&["reach"], &path);
    let words = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{words}");
    assert!(words.contains("save it as UTF-8") && words.contains("kit.toml"), "{words}");
}

/// The standing kit with four more tubes.
fn many_tubes() -> String {
    let more = |i: usize| format!("[[tube]]\nid = \"tube-{i}\"\nmount = \"a\"\nlength_mm = {}\n", 8 + i);
    KIT.to_string() + &(1..5).map(more).collect::<String>()
}

#[test]
fn every_set_up_is_listed_and_limits_are_told() {
    let (_folder, path) = kit(&many_tubes());
    let run = |more: &[&str]| {
        let output = closework(&[&["reach", "--json"][..], more].concat(), &path);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let found: Value = serde_json::from_slice(&output.stdout).expect("one document");
        (found, String::from_utf8_lossy(&output.stderr).into_owned())
    };
    let (whole, words) = run(&["--tubes", "5"]);
    // 2⁵ sets of tubes, with and without the bellows, the lens with and without the close-up lens: 128 ways. Tubes of 50, 9, 10,
    // 11 and 12 mm: lengths 0 to 42 of the four small ones are fewer sums than 16 (9 + 12 = 10 + 11 and so on), each with
    // and without the long one.
    assert_eq!(whole["ways"], 128);
    let mut sums: Vec<i32> = (0..16).map(|i: i32| (0..4).map(|k| (i >> k & 1) * (9 + k)).sum()).collect();
    sums.sort_unstable();
    sums.dedup();
    assert_eq!(whole["total"], 2 * 4 * sums.len());
    let limits = serde_json::json!({ "tubes": 5, "bellows": 1, "close_ups": 2, "converters": 1, "lenses": 2 });
    assert_eq!(whole["limits"], limits);
    assert!(!words.contains("not listed"), "{words}");
    let (cut, words) = run(&[]);
    // 1 + 5 + 10 + 10 sets of tubes: three are the usual limit.
    assert_eq!(cut["ways"], 26 * 4);
    assert_eq!(cut["limits"]["tubes"], 3);
    let told = cut["left_out"].to_string();
    assert!(told.contains("more than 3 tubes are not listed, though 5 would fit"), "{told}");
    assert!(words.contains("more than 3 tubes") && words.contains("--tubes"), "{words}");
    let (bare, _) = run(&["--tubes", "0", "--bellows", "0", "--close-ups", "0"]);
    assert_eq!(bare["total"], 1);
}

#[test]
fn impossible_exposures_are_refused() {
    let with = |metered: &str, filter: &str, needles: &[&str]| {
        let args =
            ["exposure", "--parts", "six,normal", "--f-number", "8", "--metered-s", metered, "--filter-stops", filter];
        assert_says(&args, needles);
    };
    with("1e308", "1000", &["the metered time", "1000000"]);
    with("1", "1000", &["filters", "at most 40"]);
    with("1000", "40", &["filters", "cannot be"]);
}

#[test]
fn serving_what_cannot_be_served_is_a_wrong_input() {
    let folder = tempfile::tempdir().expect("folder");
    let text = folder.path().join("notes.txt");
    std::fs::write(&text, "no notebook, but a page of notes about beetles and seeds".repeat(40)).expect("written");
    let fresh = folder.path().join("fresh.sqlite");
    for (notebook, listen, needle) in
        [(&fresh, "0.0.0.0:0", "127.0.0.1"), (&text, "127.0.0.1:0", "notebook"), (&fresh, "nowhere", "--listen")]
    {
        let mut command = Command::new(env!("CARGO_BIN_EXE_closework"));
        command.args(["serve", "--no-browser", "--listen", listen, "--notebook"]).arg(notebook);
        let output = command.output().expect("ran");
        let words = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{words}");
        assert!(words.contains(needle), "{words}");
    }
}
