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

/// The same with a form for its lens, and a close-up lens wished for.
fn foreseen() -> (tempfile::TempDir, PathBuf) {
    let (folder, path) = furnished();
    let mut book = Notebook::open(&path).expect("notebook");
    let lens = book.parts().expect("parts").into_iter().find(|part| part.id == "normal").expect("the lens");
    let document = format!("{}design_form = \"double-gauss-1954\"\nthread_mm = 58\n", lens.document);
    book.update_part("normal", &PartRecord { document, ..lens }).expect("kept");
    let glass = "[[close_up_lens]]\nid = \"plus-4\"\npower_dpt = 4\nthread_mm = 58\nmake = \"achromat\"\nprice = 60\n";
    let wish = PartRecord { kind: "close_up_lens".into(), id: "plus-4".into(), document: glass.into() };
    book.add_wish(&wish).expect("wished");
    (folder, path)
}

#[test]
fn what_is_predicted_stands_apart_in_words_and_as_json() {
    let (_folder, path) = foreseen();
    let path = path.to_str().expect("path");
    let (words, _, status) = run(&["verdict", "--notebook", path, "--job", "1"]);
    assert_eq!(status, Some(0));
    let (measured, predicted) =
        words.split_once("\nHere predicted, not measured: a form, not your lens").expect("apart");
    assert!(!measured.contains("predicted chance") && measured.contains("its frame is not scanned yet"), "{words}");
    assert!(predicted.contains("a predicted chance of") && predicted.contains("Why these intervals are so wide"));
    let (json, ..) = run(&["verdict", "--notebook", path, "--job", "1", "--json"]);
    let document: Value = serde_json::from_str(&json).expect("json");
    let foreseen = &document["foreseen"];
    assert_eq!(foreseen["set_ups"][0]["forms"][0][1], "double Gauss, f/2");
    assert_eq!(foreseen["wishes"][0]["part"], "plus-4");
    // The verdict on what was measured does not count it.
    assert_eq!(document["uses"][0]["ranked"][0]["answer"], "undecided");
    assert!(document["set_ups"].to_string().find("design form").is_none());
}

#[test]
fn a_report_is_written_as_four_files_and_never_over_others_unasked() {
    let (folder, path) = foreseen();
    let (path, out) = (path.to_str().expect("path"), folder.path().join("out"));
    let out_name = out.to_str().expect("path");
    let (words, errors, status) = run(&["report", "--notebook", path, "--job", "1", "--out", out_name]);
    assert_eq!(status, Some(0), "{errors}");
    for ending in ["pdf", "html", "csv", "json"] {
        let file = out.join(format!("report-job-1.{ending}"));
        assert!(file.metadata().is_ok_and(|found| found.len() > 0) && words.contains(ending), "{words}");
    }
    let html = std::fs::read_to_string(out.join("report-job-1.html")).expect("read");
    assert!(html.contains("Predicted, not measured") && html.contains("a form, not your lens"));
    let (_, refused, status) = run(&["report", "--notebook", path, "--job", "1", "--out", out_name]);
    assert_ne!(status, Some(0));
    assert!(refused.contains("report-job-1.pdf"), "{refused}");
    let (_, _, status) = run(&["report", "--notebook", path, "--job", "1", "--out", out_name, "--force"]);
    assert_eq!(status, Some(0));
    let (_, refused, status) = run(&["report", "--notebook", path, "--job", "9", "--out", out_name, "--force"]);
    assert_eq!((status, refused.contains("there is no job 9")), (Some(2), true), "{refused}");
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
