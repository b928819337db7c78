//! Pocket cards from the command line, read by poppler, which shares nothing with what wrote them.

use std::path::Path;
use std::process::{Command, Output};

fn pocket(out: &Path, more: &[&str]) -> Output {
    let kit = concat!(env!("CARGO_MANIFEST_DIR"), "/src/demo/kit.toml");
    let mut command = Command::new(env!("CARGO_BIN_EXE_closework"));
    command.args(["pocket", "--kit", kit, "--out"]).arg(out).args(more).output().expect("it starts")
}

/// What a program of poppler's says; nothing where it is not on this machine (`./test` installs it).
fn said(program: &str, arguments: &[&str]) -> Option<String> {
    match Command::new(program).args(arguments).output() {
        Ok(done) => {
            assert!(done.status.success(), "{program} {arguments:?}");
            Some(String::from_utf8_lossy(&done.stdout).into_owned())
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            eprintln!("{program} is not on this machine: not checked with it (Debian: poppler-utils)");
            None
        }
        Err(error) => panic!("{program}: {error}"),
    }
}

const BELLOWS: &str = "copy-stand-6x6,bellows,normal-85";

#[test]
fn four_cards_lie_on_one_a4_page_whose_words_and_figures_can_be_taken_out() {
    let folder = tempfile::tempdir().expect("a folder");
    let pdf = folder.path().join("cards.pdf");
    let four = ["--set-up", BELLOWS, "--set-up", BELLOWS, "--set-up", BELLOWS, "--set-up", BELLOWS];
    let done = pocket(&pdf, &[&four[..], &["--json"]].concat());
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let json: serde_json::Value = serde_json::from_slice(&done.stdout).expect("one document");
    let rows = json["cards"][0]["rows"].as_array().expect("rows");
    let pdf = pdf.to_str().expect("plain path");
    if let Some(info) = said("pdfinfo", &[pdf]) {
        // ISO 216: 210 × 297 mm are 595.28 × 841.89 points.
        assert!(info.contains("595.276 x 841.89") && info.contains("Tagged:          yes"), "{info}");
        assert!(info.lines().any(|line| line.starts_with("Pages:") && line.ends_with('1')), "{info}");
    }
    if let Some(text) = said("pdftotext", &["-layout", pdf, "-"]) {
        for row in rows {
            let draw = row["setting_mm"].as_f64().expect("a draw");
            let size = row["magnification"]["value"].as_f64().expect("a size");
            let shown = if size < 1.0 { format!("1:{:.2}", 1.0 / size) } else { format!("{size:.2}:1") };
            let line =
                |line: &&str| line.trim_start().starts_with(&format!("{draw} ")) && line.matches(&shown).count() == 2;
            assert_eq!(text.lines().filter(line).count(), 2, "{draw} mm, {shown}: {text}");
        }
    }
    if let Some(fonts) = said("pdffonts", &[pdf]) {
        // The columns emb and sub of pdffonts: every font travels with the file.
        assert!(fonts.lines().skip(2).all(|line| line.contains(" yes yes ")), "{fonts}");
    }
}

#[test]
fn what_cannot_be_written_is_refused_in_a_sentence() {
    let folder = tempfile::tempdir().expect("a folder");
    let there = folder.path().join("there.pdf");
    std::fs::write(&there, "mine").expect("disk");
    for (out, set_up, words) in [
        (folder.path().join("cards.doc"), BELLOWS, ".pdf (to print) or .html"),
        (there.clone(), BELLOWS, "there is such a file already"),
        (folder.path().join("none.pdf"), "copy-stand-6x6,gone", "gone"),
        (folder.path().join("none.pdf"), "copy-stand-6x6,bellows", "no lens"),
        (folder.path().join("none.pdf"), ",", "--set-up ,"),
    ] {
        let done = pocket(&out, &["--set-up", set_up]);
        let error = String::from_utf8_lossy(&done.stderr).into_owned();
        assert_eq!(done.status.code(), Some(2), "{error}");
        assert!(error.contains(words) && error.lines().count() == 1, "{error}");
    }
    assert_eq!(std::fs::read_to_string(there).expect("disk"), "mine");
    assert!(!folder.path().join("none.pdf").exists());
}
