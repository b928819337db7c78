//! From frames of a ruler to the figures that set-ups use, asked for as a browser would.

use axum::http::StatusCode;
use notebook::{FrameDraft, FrameState};
use notebook::{JobDraft, MeasurementDraft, MeasurementKind, RollDraft, ScanDraft, ScanId};
use testkit::assert_close;

use super::House;
use crate::demo;
use crate::web::kit_book::read_kit;

const LENS: &str = "/kit/part/normal-85/calibrate";
const CLOSE_UP: &str = "/kit/part/plus-4/calibrate";

/// The lens as it truly is, where its ring says 85 mm and 0.117×.
const FOCAL_MM: f64 = 86.5;
const TRAVEL_MM: f64 = 10.4;

/// A house with the example's kit and jobs, its frames not drawn.
fn furnished() -> House {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    house
}

fn calibrated(house: &House, part: &str, field: &str) -> Option<f64> {
    house.app.with_notebook(|book| read_kit(book).expect("kit").part(part).and_then(|part| part.number(field)))
}

/// m = (x + e)/f (the crate `calibration`, derived there).
fn exact(extension_mm: f64) -> String {
    (extension_mm / FOCAL_MM).to_string()
}

async fn add(house: &House, label: &str, tubes: &[&str], extension_mm: f64, focus: &str) {
    let m = exact(extension_mm);
    let mut form = vec![("label", label), ("body", "copy-stand-6x6"), ("focus", focus), ("magnification", &m)];
    form.extend(tubes.iter().map(|tube| ("tube", *tube)));
    let sent = house.post(&format!("{LENS}/frame"), &form).await;
    assert_eq!(
        (sent.status, sent.header("location")),
        (StatusCode::SEE_OTHER, "/kit/part/normal-85/calibrate#entries")
    );
}

async fn add_four(house: &House) {
    add(house, "A1", &["tube-26"], 26.0, "infinity").await;
    add(house, "A2", &["tube-52"], 52.0, "infinity").await;
    add(house, "A3", &["tube-26", "tube-52"], 78.0, "infinity").await;
    add(house, "A4", &["tube-52"], 52.0 + TRAVEL_MM, "closest").await;
}

#[tokio::test]
async fn without_a_usable_frame_it_says_what_to_photograph_first_and_why_each_frame_tells_nothing() {
    let house = furnished();
    let text = house.get(LENS).await.text();
    assert!(text.contains("at the infinity mark, on one tube"), "{text}");
    assert!(text.contains("Not usable: it has no scan yet"), "{text}");
    assert!(!text.contains("What they tell"), "{text}");
    let text = house.get(CLOSE_UP).await.text();
    assert!(text.contains("once without and once with the close-up lens"), "{text}");
    // Only lenses and close-up lenses have such a page, and their own pages lead there.
    assert_eq!(house.get("/kit/part/tube-26/calibrate").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.get("/kit/part/nothing/calibrate").await.status, StatusCode::NOT_FOUND);
    assert!(house.get("/kit/part/normal-85").await.text().contains(LENS));
    assert!(!house.get("/kit/part/tube-26").await.text().contains("/calibrate"));
    assert!(house.get("/kit").await.text().contains(CLOSE_UP));
}

#[tokio::test]
async fn frames_by_hand_tell_the_truth_and_set_ups_use_it_until_it_is_forgotten() {
    let house = furnished();
    add_four(&house).await;
    let text = house.get(LENS).await.text();
    for part in ["id=\"residuals\"", "id=\"worth\"", "Use these in set-ups", "86.5", "Off by, σ"] {
        assert!(text.contains(part), "{part} is not in {text}");
    }
    assert!(!text.contains("Forget the calibration"), "{text}");
    let used = house.post(&format!("{LENS}/use"), &[]).await;
    assert_eq!(used.status, StatusCode::SEE_OTHER);
    // Closed form: exact magnifications give f and the travel back, to the three digits of the half-width that are kept.
    let found = |field: &str| calibrated(&house, "normal-85", field).unwrap_or(f64::NAN);
    assert_close!(found("calibrated_focal_length_mm"), FOCAL_MM, absolute = 2e-3);
    assert_close!(found("calibrated_travel_mm"), TRAVEL_MM, absolute = 2e-3);
    assert_eq!(calibrated(&house, "normal-85", "focal_length_mm"), Some(85.0));
    let text = house.get(LENS).await.text();
    assert!(text.contains("calibrated; ") && text.contains("Forget the calibration"), "{text}");
    let gone = house.post(&format!("{LENS}/forget"), &[]).await;
    assert_eq!(gone.status, StatusCode::SEE_OTHER);
    assert_eq!(calibrated(&house, "normal-85", "calibrated_focal_length_mm"), None);
    // The frames stay, and can be taken out for the command line.
    let file = house.get(&format!("{LENS}/file")).await;
    assert_eq!(file.status, StatusCode::OK);
    assert_eq!(file.text().matches("[[frame]]").count(), 4, "{}", file.text());
}

#[tokio::test]
async fn an_outlier_is_named_and_what_is_unticked_takes_no_part() {
    let house = furnished();
    add_four(&house).await;
    // A frame on two tubes noted as one: 13 mm too much, a fifth of the magnification.
    add(&house, "mistaken", &["tube-13", "tube-52"], 78.0, "infinity").await;
    let text = house.get(LENS).await.text();
    assert!(text.contains("<strong>mistaken</strong> lies") && text.contains("It was left out"), "{text}");
    let ticked = ["A1", "A2", "A3", "A4"].map(|label| ("take", format!("by hand: {label}")));
    let ticked: Vec<(&str, &str)> = ticked.iter().map(|(name, value)| (*name, value.as_str())).collect();
    assert_eq!(house.post(&format!("{LENS}/choose"), &ticked).await.status, StatusCode::SEE_OTHER);
    let text = house.get(LENS).await.text();
    assert!(!text.contains("<strong>mistaken</strong>") && text.contains("mistaken"), "{text}");
    assert_eq!(house.post(&format!("{LENS}/drop"), &[("what", "frame mistaken")]).await.status, StatusCode::SEE_OTHER);
    assert!(!house.get(LENS).await.text().contains("mistaken"));
}

#[tokio::test]
async fn entries_that_cannot_be_come_back_with_what_was_typed() {
    let house = furnished();
    let base = [("label", "B1"), ("body", "copy-stand-6x6"), ("focus", "infinity")];
    type Wrong<'a> = (&'a [(&'a str, &'a str)], &'a str, &'a str);
    let table: [Wrong<'_>; 6] = [
        (&[("tube", "tube-26")], "field-magnification-error", "How large did the ruler come out"),
        (&[("tube", "tube-26"), ("magnification", "large")], "field-magnification-error", "“large” is no figure"),
        (&[("magnification", "0.3")], "field-tube-error", "nothing near can be sharp"),
        (&[("tube", "tube-26"), ("tube", "tube-26"), ("magnification", "0.3")], "field-tube-error", "tube-26"),
        (&[("tube", "tube-26"), ("px_per_mm", "48")], "field-pitch_um-error", "pitch of the scan"),
        (&[("bellows", "bellows"), ("magnification", "1")], "field-draw-error", "44 to 182 mm"),
    ];
    for (typed, field, words) in table {
        let form: Vec<_> = base.iter().chain(typed).copied().collect();
        let sent = house.post(&format!("{LENS}/frame"), &form).await;
        assert_eq!(sent.status, StatusCode::UNPROCESSABLE_ENTITY, "{typed:?}");
        let text = sent.text();
        assert!(text.contains(field) && text.contains(words) && text.contains("value=\"B1\""), "{typed:?}: {text}");
    }
    assert!(house.get(LENS).await.text().contains("Nothing usable yet"));
    // With nothing to calibrate from there is nothing to use.
    assert_eq!(house.post(&format!("{LENS}/use"), &[]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

/// A frame of a ruler in the notebook: 6.35 µm pixels, so that m·1000/6.35 of them make a millimetre.
fn frame_with_ruler(house: &House, number: u32, parts: &[&str], focus: &str, m: f64) -> ScanId {
    let px_per_mm = m * 1000.0 / 6.35;
    house.app.with_notebook(|book| {
        let job = match book.jobs().expect("jobs").iter().find(|job| job.title == "Rulers") {
            Some(job) => job.id,
            None => {
                let draft = JobDraft { title: "Rulers".into(), subject_mm: 50.0, ..JobDraft::default() };
                book.add_job(&draft, false, "2026-03-01T09:00:00Z").expect("job")
            }
        };
        let roll = match book.rolls(job).expect("rolls").first() {
            Some(roll) => roll.id,
            None => {
                book.add_roll(job, &RollDraft { title: "Ruler roll".into(), ..RollDraft::default() }).expect("roll")
            }
        };
        let parts = parts.iter().map(|part| (*part).to_owned()).collect();
        let draft = FrameDraft { number, parts, focus: focus.into(), state: FrameState::Shot, ..FrameDraft::default() };
        let frame = book.add_frame(roll, &draft).expect("frame");
        let stored = format!("ruler-{number}");
        let draft = ScanDraft { job: Some(job), frame: Some(frame), file_name: "r.tif".into(), stored, bytes: 1 };
        let scan = book.add_scan(&draft, "2026-03-01T09:00:00Z").expect("scan");
        book.set_scan_pitch(scan, Some(6.35), "entered").expect("pitch");
        let result = format!(
            r#"{{"px_per_tick": {px_per_mm}, "px_per_mm": {px_per_mm}, "plus_minus": {}, "ticks": 40}}"#,
            2e-4 * px_per_mm
        );
        let (kind, place) = (MeasurementKind::Scale, "{}".into());
        let measured = MeasurementDraft {
            scan,
            kind,
            label: String::new(),
            place,
            result,
            settings: String::new(),
            made_by: String::new(),
        };
        book.add_measurement(&measured, "2026-03-01T09:00:00Z").expect("measured");
        scan
    })
}

#[tokio::test]
async fn frames_with_a_measured_ruler_are_ticked_by_themselves() {
    let house = furnished();
    let body = "copy-stand-6x6";
    for (number, tubes, extension) in
        [(1, vec!["tube-26"], 26.0), (2, vec!["tube-52"], 52.0), (3, vec!["tube-26", "tube-52"], 78.0)]
    {
        let parts: Vec<&str> = [body].into_iter().chain(tubes).chain(["normal-85"]).collect();
        frame_with_ruler(&house, number, &parts, "infinity", extension / FOCAL_MM);
    }
    // A close-up lens before it, and the lens's own scale: no test frames.
    frame_with_ruler(&house, 4, &[body, "normal-85", "plus-4"], "infinity", 0.34);
    frame_with_ruler(&house, 5, &[body, "tube-52", "normal-85"], "distance=1200", 0.7);
    let text = house.get(LENS).await.text();
    for words in [
        "value=\"scan 1\" checked",
        "Ruler roll, frame 3",
        "has no place in a test frame",
        "own scale",
        "What they tell",
    ] {
        assert!(text.contains(words), "{words} is not in {text}");
    }
    assert!(!text.contains("value=\"scan 4\"") && !text.contains("value=\"scan 5\""), "{text}");
    house.post(&format!("{LENS}/use"), &[]).await;
    let found = calibrated(&house, "normal-85", "calibrated_focal_length_mm").unwrap_or(f64::NAN);
    assert_close!(found, FOCAL_MM, absolute = 2e-3);
}

#[tokio::test]
async fn a_close_up_lens_is_told_by_frames_without_and_with_it() {
    let house = furnished();
    // Thin lens before a lens at infinity: m = f·D (the crate `calibration`, derived there); 85 mm and 3.8 dpt.
    frame_with_ruler(&house, 1, &["copy-stand-6x6", "normal-85", "plus-4"], "infinity", 85.0 * 3.8e-3);
    frame_with_ruler(&house, 2, &["copy-stand-6x6", "normal-85", "plus-4"], "closest", 0.46);
    let text = house.get(CLOSE_UP).await.text();
    assert!(
        text.contains("there is no frame of a measured ruler with copy-stand-6x6, normal-85 at closest without it"),
        "{text}"
    );
    assert!(text.contains("3.80"), "{text}");
    house.post(&format!("{CLOSE_UP}/use"), &[]).await;
    let found = |house: &House| calibrated(house, "plus-4", "calibrated_power_dpt").unwrap_or(f64::NAN);
    assert_close!(found(&house), 3.8, absolute = 1e-3);
    let form = [("lens", "normal-85"), ("focus", "closest"), ("magnification_with", "0.46")];
    let sent = house.post(&format!("{CLOSE_UP}/pair"), &form).await;
    assert_eq!(sent.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(sent.text().contains("field-magnification_without-error"), "{}", sent.text());
    let form: Vec<_> = form.into_iter().chain([("magnification_without", "0.117"), ("label", "C1")]).collect();
    assert_eq!(house.post(&format!("{CLOSE_UP}/pair"), &form).await.status, StatusCode::SEE_OTHER);
    assert!(house.get(CLOSE_UP).await.text().contains("C1"));
}

#[tokio::test]
async fn pupils_need_a_photograph_from_each_end() {
    let house = furnished();
    let pupil = |side: &'static str, px: &'static str| [("side", side), ("diameter_px", px)];
    house.post(&format!("{LENS}/pupil"), &pupil("front", "400")).await;
    assert!(house.get(LENS).await.text().contains("from the back is still wanting"));
    house.post(&format!("{LENS}/pupil"), &pupil("back", "380 ± 2")).await;
    let text = house.get(LENS).await.text();
    // 380/400.
    assert!(text.contains("0.950 ± 0.020") && text.contains("taken on trust"), "{text}");
    let wrong = house.post(&format!("{LENS}/pupil"), &[("side", "back"), ("diameter_px", "")]).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
}
