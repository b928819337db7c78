//! Reports from a whole notebook, read back by poppler and qpdf where they are on this machine.

use std::ops::ControlFlow;
use std::process::Command;

use notebook::{
    FrameDraft, FrameState, JobDraft, JobId, Magnification, MagnificationSource, Notebook, RollDraft, ScanDraft,
    ScanPicture, ScanState,
};
use printing::Date;

use super::{Files, Item, build, files, html, read};
use crate::web::scans::edge;

const NOW: &str = "2026-05-01T10:00:00Z";
const DAY: Option<Date> = Some(Date { year: 2026, month: 5, day: 2 });

struct Scene {
    book: Notebook,
    folder: tempfile::TempDir,
    job: JobId,
}

/// A job with two frames of one set-up each; the scans are a slanted edge, measured in the middle.
fn scene() -> Scene {
    let folder = tempfile::tempdir().expect("a folder");
    let mut book = Notebook::in_memory().expect("a notebook");
    crate::demo::enter_for_tests(&mut book).expect("the example");
    let job = book.jobs().expect("jobs")[0].id;
    let frames = book.frames_of_job(job).expect("frames");
    for (place, frame) in frames.iter().take(2).enumerate() {
        let stored = format!("scan-{place}");
        let path = folder.path().join(&stored).with_extension("tif");
        slanted(&path);
        let mut file = imaging::Scan::open(&path).expect("a scan");
        let tiles = folder.path().join(format!("{stored}.tiles"));
        imaging::pyramid::build(&mut file, &tiles, Default::default(), &mut |_| ControlFlow::Continue(()))
            .expect("tiles");
        let draft =
            ScanDraft { frame: Some(frame.id), file_name: format!("scan {place}.tif"), stored, ..ScanDraft::default() };
        let id = book.add_scan(&draft, NOW).expect("a scan");
        let picture = ScanPicture {
            width: 900,
            height: 700,
            bits: 16,
            pitch_um: Some(10.0),
            pitch_from: "file".into(),
            transfer: "icc".into(),
            about: "[]".into(),
        };
        book.set_scan_picture(id, &picture).expect("its picture");
        let size = Magnification { value: 0.9, plus_minus: Some(0.005), from: MagnificationSource::Ruler };
        book.set_scan_magnification(id, Some(size)).expect("its size");
        book.set_scan_state(id, &ScanState::Ready).expect("ready");
        let region = planes::Region { x: 380, y: 250, width: 140, height: 200 };
        let sizes = crate::documents::Sizes { pitch_um: Some(10.0), magnification: Some(0.9) };
        let found = edge::take(path, region, imaging::ToneChoice::Icc, sizes).expect("an edge");
        book.add_measurement(&edge::draft(id, region, &found, "centre").expect("a draft"), NOW).expect("kept");
    }
    Scene { book, folder, job }
}

/// An upright edge that leans by a tenth, somewhat soft.
fn slanted(path: &std::path::Path) {
    imaging::write_tiff_rgb16(path, 900, 700, Some(10.0), Some(&imaging::srgb_profile()), |y, row| {
        for (x, pixel) in row.chunks_mut(3).enumerate() {
            let off = (x as f64 - 450.0 - 0.1 * (f64::from(y) - 350.0)) / 1.4;
            let light = 0.1 + 0.6 / (1.0 + (-1.7 * off).exp());
            pixel.fill((65_535.0 * planes::srgb_encode(light)).round() as u16);
        }
        ControlFlow::Continue(())
    })
    .expect("written");
}

fn made(scene: &Scene) -> Files {
    let material = read(&scene.book, scene.job, scene.folder.path()).expect("material");
    files(&material, DAY, &|_| true).expect("files")
}

/// What a program says of the report's PDF; nothing where it is not on this machine.
fn asked(scene: &Scene, pdf: &[u8], program: &str, before: &[&str], after: &[&str]) -> Option<String> {
    let path = scene.folder.path().join("report.pdf");
    std::fs::write(&path, pdf).expect("written");
    match Command::new(program).args(before).arg(&path).args(after).output() {
        Ok(out) => {
            assert!(out.status.success(), "{program}: {}", String::from_utf8_lossy(&out.stderr));
            Some(String::from_utf8_lossy(&out.stdout).into_owned())
        }
        Err(_) => {
            eprintln!("{program} is not on this machine: not checked with it (Debian: poppler-utils, qpdf)");
            None
        }
    }
}

#[test]
fn readers_find_words_fonts_tags_and_sound_links_in_the_pdf() {
    let scene = scene();
    let pdf = made(&scene).pdf;
    if let Some(fonts) = asked(&scene, &pdf, "pdffonts", &[], &[]) {
        // Below two lines of heads, one font a line: name, type, encoding, embedded, subset, with Unicode.
        let lines: Vec<&str> = fonts.lines().skip(2).collect();
        assert!(!lines.is_empty() && lines.iter().all(|line| line.contains("yes yes yes")), "{fonts}");
    }
    if let Some(text) = asked(&scene, &pdf, "pdftotext", &["-layout"], &["-"]) {
        for words in [
            "The question",
            "The verdict",
            "The kit",
            "Sharpness",
            "ISO 12233",
            "scan 0.tif",
            "2026-05-02",
            "Settings and versions",
        ] {
            assert!(text.contains(words), "{words}");
        }
    }
    if let Some(tags) = asked(&scene, &pdf, "pdfinfo", &["-struct"], &[]) {
        for tag in ["H1", "H2", "Table", "TH", "Figure", "Link"] {
            assert!(tags.lines().any(|line| line.trim().starts_with(tag)), "{tag}");
        }
    }
    asked(&scene, &pdf, "qpdf", &["--check"], &[]);
}

#[test]
fn the_page_needs_nothing_beside_it_and_its_links_arrive() {
    let scene = scene();
    let html = made(&scene).html;
    for foreign in ["http://", "https://", "<script", "<link", "url("] {
        let without_names = html.replace("http://www.w3.org/2000/svg", "");
        assert!(!without_names.contains(foreign), "{foreign}");
    }
    // A JPEG begins with the bytes ff d8 ff, "/9j/" in base 64 (RFC 4648).
    assert!(html.contains("src=\"data:image/jpeg;base64,/9j/") && html.contains("<svg"));
    let ids: Vec<&str> = html.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let links: Vec<&str> = html.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    assert!(links.len() > 10 && links.iter().all(|link| ids.contains(link)), "{links:?} {ids:?}");
    assert!(links.iter().any(|link| link.starts_with("scan-")), "the verdict leads to its evidence");
    let twice = ids.iter().enumerate().find(|(i, id)| ids[..*i].contains(id));
    assert_eq!(twice, None, "an address is there twice");
}

#[test]
fn figures_go_out_unrounded() {
    let scene = scene();
    let Files { csv, json, .. } = made(&scene);
    let csv = String::from_utf8(csv).expect("text");
    assert!(csv.starts_with("set_up,scan,frame,place,figure,value,plus_minus,bound,basis"));
    let row = csv.lines().find(|line| line.contains("scan 0.tif") && line.contains("cycles per pixel")).expect("a row");
    let value: f64 = row.split(',').rev().nth(3).expect("a field").parse().expect("a number");
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let kept = json["measurements"][0]["result"]["channels"]["luminance"]["mtf50_cy_px"].as_f64();
    assert_eq!(Some(value), kept);
    assert_eq!(json["made_on"], "2026-05-02");
    assert!(
        json["verdict"]["sentences"].is_array()
            && json["kit_file"].as_str().is_some_and(|kit| kit.contains("[[lens]]"))
    );
}

#[test]
fn a_job_without_frames_gets_an_honest_report() {
    let mut book = Notebook::in_memory().expect("a notebook");
    let job =
        book.add_job(&JobDraft { title: "Nothing yet 甲虫".into(), ..JobDraft::default() }, false, NOW).expect("a job");
    let folder = tempfile::tempdir().expect("a folder");
    let material = read(&book, job, folder.path()).expect("material");
    let report = build(&material, None, &|_| true).expect("a report");
    let lacking = report.sections.iter().find(|section| section.id == "lacking").expect("a section");
    let Item::Table(table) = &lacking.items[0] else { panic!("a table") };
    assert!(table.rows.iter().any(|row| row[0].contains("No frame") && row[1].contains("test roll")));
    assert!(table.rows.iter().all(|row| row.len() == 2 && !row[1].is_empty()), "what to do is always said");
    assert!(html::to_html(&report).contains("Nothing yet 甲虫"));
    // A letter that the printing font lacks is no reason not to print.
    assert!(super::pdf::to_pdf(&report).expect("printed").starts_with(b"%PDF"));
}

#[test]
fn whoever_stops_it_gets_nothing_half_made() {
    let scene = scene();
    let material = read(&scene.book, scene.job, scene.folder.path()).expect("material");
    assert!(matches!(files(&material, DAY, &|_| false), Err(super::ReportTrouble::Stopped)));
    let gone = read(&scene.book, JobId(999), scene.folder.path()).err().expect("no such job");
    assert!(gone.to_string().contains("999"), "{gone}");
}

#[test]
fn frames_are_told_as_they_were_logged() {
    let mut book = Notebook::in_memory().expect("a notebook");
    let job = book.add_job(&JobDraft { title: "Seeds".into(), ..JobDraft::default() }, false, NOW).expect("a job");
    let roll = book
        .add_roll(
            job,
            &RollDraft { title: "Roll 7".into(), film: "Slow film".into(), iso: Some(50.0), ..RollDraft::default() },
        )
        .expect("a roll");
    let draft = FrameDraft {
        number: 3,
        label: "Poppy".into(),
        parts: vec!["body".into(), "gone-lens".into()],
        shutter_s: Some(0.5),
        state: FrameState::Shot,
        note: "wind".into(),
        ..FrameDraft::default()
    };
    book.add_frame(roll, &draft).expect("a frame");
    let folder = tempfile::tempdir().expect("a folder");
    let report = build(&read(&book, job, folder.path()).expect("material"), None, &|_| true).expect("a report");
    let html = html::to_html(&report);
    for words in [
        "Poppy",
        "1/2",
        "taken as entered; wind",
        "exposed at ISO 50",
        "No longer in the kit: body, gone-lens",
        "cannot be worked out",
    ] {
        assert!(html.contains(words), "{words}");
    }
}
