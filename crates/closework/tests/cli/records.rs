//! Sidecars beside the scans, and tables out of a notebook and into one.

use std::path::{Path, PathBuf};
use std::process::Command;

use notebook::{FrameDraft, JobDraft, JobId, Notebook, PartRecord, RollDraft, ScanDraft};
use serde_json::Value;

/// A notebook with one job, one frame and its scan, in a folder with the scan's file.
fn furnished() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("folder");
    let path = folder.path().join("notebook.sqlite");
    let mut book = Notebook::open(&path).expect("notebook");
    let part = |id: &str, document: &str| PartRecord { kind: "x".into(), id: id.into(), document: document.into() };
    let body = part("six", "[[body]]\nid = \"six\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"a\"\n");
    let lens = part(
        "normal",
        "[[lens]]\nid = \"normal\"\nmount = \"a\"\nfocal_length_mm = 80\nmax_aperture = 2.8\nlength_mm = 60\n",
    );
    let tube = part("tube-50", "[[tube]]\nid = \"tube-50\"\nmount = \"a\"\nlength_mm = 50\n");
    book.replace_kit(&[body, lens, tube]).expect("kit");
    let job = book.add_job(&JobDraft { title: "Seeds".into(), ..JobDraft::default() }, false, "2026-03-01T09:00:00Z");
    let roll =
        book.add_roll(job.expect("job"), &RollDraft { title: "A".into(), ..RollDraft::default() }).expect("roll");
    let draft = FrameDraft {
        parts: ["six", "tube-50", "normal"].map(String::from).to_vec(),
        f_number: Some(5.6),
        shutter_s: Some(0.008),
        ..FrameDraft::default()
    };
    let frame = book.add_frame(roll, &draft).expect("frame");
    let scan = ScanDraft { job: None, frame: Some(frame), file_name: "a.tif".into(), stored: "s".into(), bytes: 4 };
    book.add_scan(&scan, "2026-03-01T09:00:00Z").expect("scan");
    std::fs::write(folder.path().join("a.tif"), "scan").expect("written");
    (folder, path)
}

/// What a command printed, what it said on standard error, its status.
fn run(args: &[&str]) -> (String, String, Option<i32>) {
    let output = Command::new(env!("CARGO_BIN_EXE_closework")).args(args).output().expect("ran");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (text(output.stdout), text(output.stderr), output.status.code())
}

fn text(path: &Path) -> &str {
    path.to_str().expect("path")
}

#[test]
fn sidecars_are_written_only_where_a_folder_is_named() {
    let (folder, book) = furnished();
    let (told, _, status) = run(&["sidecars", "--notebook", text(&book), "--job", "1"]);
    assert_eq!(status, Some(0));
    assert!(told.contains("a.xmp") && told.contains("nothing was written"), "{told}");
    assert!(!folder.path().join("a.xmp").exists());
    let beside = ["sidecars", "--notebook", text(&book), "--job", "1", "--beside", text(folder.path()), "--json"];
    let (told, _, status) = run(&beside);
    let told: Value = serde_json::from_str(&told).expect("JSON");
    assert_eq!((status, &told["new"]), (Some(0), &serde_json::json!(["a.xmp"])));
    let written = std::fs::read_to_string(folder.path().join("a.xmp")).expect("sidecar");
    assert!(written.contains("<exif:FNumber>56/10<") && written.contains("<exif:ExposureTime>1/125<"), "{written}");
    let (told, _, _) = run(&beside);
    assert_eq!(serde_json::from_str::<Value>(&told).expect("JSON")["unchanged"], serde_json::json!(["a.xmp"]));
    std::fs::write(folder.path().join("a.xmp"), written.replace("Seeds", "Weeds")).expect("changed");
    let (out, words, status) = run(&beside);
    assert_eq!((out.as_str(), status), ("", Some(2)));
    assert!(words.contains("a.xmp") && words.contains("changed since"), "{words}");
}

#[test]
fn a_table_goes_out_and_a_log_comes_in() {
    let (folder, book) = furnished();
    let (table, _, status) = run(&["frames", "out", "--notebook", text(&book), "--job", "1"]);
    assert_eq!(status, Some(0));
    assert!(table.starts_with("roll,film,iso,frame,state,") && table.contains("a.tif"), "{table}");
    let (template, ..) = run(&["frames", "template"]);
    assert_eq!(template, "roll,film,iso,frame,state,label,parts,focus,f_number,shutter_s,metered_s,note\r\n");
    let log = folder.path().join("log.csv");
    std::fs::write(&log, "roll;frame;f_number;shutter;parts\nA;1;8;1/60;\nA;2;f/5,6;\"2 s\";tube-50 + normal\n")
        .expect("written");
    let args = ["frames", "in", text(&log), "--notebook", text(&book), "--job", "1", "--json"];
    let (told, words, status) = run(&args);
    assert_eq!(status, Some(0), "{words}");
    let told: Value = serde_json::from_str(&told).expect("JSON");
    assert_eq!((&told["kept"], &told["new"], &told["changed"]), (&false.into(), &1.into(), &1.into()));
    let frames = || Notebook::open(&book).expect("notebook").frames_of_job(JobId(1)).expect("frames");
    assert_eq!(frames().len(), 1, "nothing is kept without --keep");
    let (_, _, status) = run(&[&args[..], &["--keep"]].concat());
    assert_eq!(status, Some(0));
    let kept: Vec<_> = frames().iter().map(|frame| (frame.number, frame.f_number, frame.shutter_s)).collect();
    assert_eq!(kept, [(1, Some(8.0), Some(1.0 / 60.0)), (2, Some(5.6), Some(2.0))]);
}

#[test]
fn what_is_wrong_is_one_sentence_and_status_2() {
    let (folder, book) = furnished();
    let log = folder.path().join("log.csv");
    std::fs::write(&log, "frame,f_number\n1,f/o\n1,8\n").expect("written");
    let nowhere = folder.path().join("nowhere");
    let (book, log, nowhere, here) = (text(&book), text(&log), text(&nowhere), text(folder.path()));
    for (args, words) in [
        (vec!["sidecars", "--notebook", nowhere, "--job", "1"], "no such notebook"),
        (vec!["sidecars", "--notebook", book, "--job", "7"], "there is no job 7 in this notebook; it has 1 (“Seeds”)"),
        (vec!["sidecars", "--notebook", book, "--job", "seeds"], "the number of a job"),
        (vec!["sidecars", "--notebook", book, "--job", "1", "--beside", nowhere], "no such folder"),
        (vec!["sidecars", "--notebook", book], "--job"),
        (vec!["sidecars", "--notebook", log, "--job", "1"], "not a notebook"),
        (vec!["frames", "in", log, "--notebook", book, "--job", "1"], "row 2, f_number: “f/o” is not an f-number"),
        (vec!["frames", "in", nowhere, "--notebook", book, "--job", "1"], "could not be read"),
        (vec!["frames", "in", here, "--notebook", book, "--job", "1"], "could not be read"),
        (vec!["frames", "in", book, "--notebook", book, "--job", "1"], "not text"),
        (vec!["frames"], "frames needs to know what"),
        (vec!["frames", "inn"], "did you mean in"),
    ] {
        let (out, said, status) = run(&args);
        assert_eq!((out.as_str(), status), ("", Some(2)), "{args:?}: {said}");
        assert!(said.contains(words) && said.trim_end().lines().count() == 1, "{args:?}: {said}");
    }
    assert!(!Path::new(nowhere).exists(), "a notebook that is not there is not begun");
}
