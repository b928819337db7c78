//! The verdict of a notebook, in words and as JSON.

use std::path::PathBuf;
use std::process::Command;

use notebook::{FrameDraft, FrameState, JobDraft, Notebook, PartRecord, RollDraft};
use serde_json::Value;

/// A notebook with one job and one frame that is not scanned yet.
fn furnished() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("notebook.sqlite");
    let mut book = Notebook::open(&path).expect("notebook");
    let part = |id: &str, document: &str| PartRecord { kind: "x".into(), id: id.into(), document: document.into() };
    let body = part("six", "[[body]]\nid = \"six\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"a\"\n");
    let lens = "[[lens]]\nid = \"normal\"\nmount = \"a\"\nfocal_length_mm = 80\nmax_aperture = 2.8\nlength_mm = 60\n";
    let tube = part("tube-50", "[[tube]]\nid = \"tube-50\"\nmount = \"a\"\nlength_mm = 50\n");
    book.replace_kit(&[body, part("normal", lens), tube]).expect("kit");
    let job = JobDraft { title: "Seeds".into(), ..JobDraft::default() };
    let job = book.add_job(&job, false, "2026-03-01T09:00:00Z").expect("job");
    let roll = book.add_roll(job, &RollDraft { title: "A".into(), ..RollDraft::default() }).expect("roll");
    let parts = ["six", "tube-50", "normal"].map(String::from).to_vec();
    let frame = FrameDraft { parts, f_number: Some(5.6), state: FrameState::Shot, ..FrameDraft::default() };
    book.add_frame(roll, &frame).expect("frame");
    (folder, path)
}

fn run(args: &[&str]) -> (String, String, Option<i32>) {
    let output = Command::new(env!("CARGO_BIN_EXE_closework")).args(args).output().expect("ran");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (text(output.stdout), text(output.stderr), output.status.code())
}

#[test]
fn the_same_is_said_in_words_and_as_json() {
    let (_folder, path) = furnished();
    let path = path.to_str().expect("path");
    let (words, _, status) = run(&["verdict", "--notebook", path, "--job", "1"]);
    assert_eq!(status, Some(0));
    assert!(words.contains("its frame is not scanned yet") && words.contains("Scan frame 1 and load it."), "{words}");
    let (json, _, status) = run(&["verdict", "--notebook", path, "--json"]);
    assert_eq!(status, Some(0));
    let document: Value = serde_json::from_str(&json).expect("json");
    assert_eq!((&document["version"], &document["whole_drawer"]), (&Value::from(1), &Value::from(true)));
    let ranked = &document["uses"][0]["ranked"][0];
    assert_eq!(ranked["answer"], "undecided");
    assert_eq!(ranked["decides"][0]["words"], "Scan frame 1 and load it.");
    assert_eq!(document["uses"][0]["limits"][0]["quantity"], "resolution");
}

#[test]
fn a_verdict_is_refused_in_words() {
    let (folder, path) = furnished();
    let path = path.to_str().expect("path");
    let nowhere = folder.path().join("none.sqlite");
    let cases: [(&[&str], &str); 5] = [
        (&["verdict", "--notebook", path, "--job", "7"], "there is no job 7"),
        (&["verdict", "--notebook", path, "--job", "x"], "number of a job"),
        (&["verdict", "--notebook", path, "--sure", "0.5"], "above 0.5 and below 1"),
        (&["verdict", "--notebook", path, "--worlds", "5"], "from 100 to 100000"),
        (&["verdict", "--notebook", nowhere.to_str().expect("path")], "none.sqlite"),
    ];
    for (args, words) in cases {
        let (out, said, status) = run(args);
        assert_eq!((out.as_str(), status), ("", Some(2)), "{args:?}: {said}");
        assert!(said.contains(words) && said.lines().count() == 1, "{args:?}: {said}");
    }
}
