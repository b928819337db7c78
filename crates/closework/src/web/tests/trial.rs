//! Blind trials from the form to the outcome, and that nothing tells before the end which scan is which.

use std::collections::BTreeSet;
use std::ops::ControlFlow;

use axum::http::StatusCode;
use notebook::{Choice, JobDraft, Magnification, MagnificationSource, ScanId, TrialId};
use serde_json::Value;
use testkit::assert_close;

use super::scans::scratch;
use super::{Answer, House};

/// Light of each scan's ground: they differ, so that one tone shows.
const GROUNDS: [f64; 3] = [0.2, 0.4, 0.3];
const NAMES: [&str; 3] = ["alder.tif", "birch.tif", "cedar.tif"];

/// A scan with stripes of its own number across on an even ground: 1200 by 900 pixels.
fn striped(scan: usize) -> Vec<u8> {
    let path = scratch("striped.tif");
    imaging::write_tiff_rgb16(&path, 1200, 900, Some(10.0), Some(&imaging::srgb_profile()), |_, row| {
        for (x, pixel) in row.chunks_mut(3).enumerate() {
            let light = if x % (40 + 10 * scan) < 8 { 0.05 } else { GROUNDS[scan] };
            pixel.fill((65_535.0 * planes::srgb_encode(light)).round() as u16);
        }
        ControlFlow::Continue(())
    })
    .expect("written");
    let bytes = std::fs::read(&path).expect("read");
    std::fs::remove_file(&path).expect("removed");
    bytes
}

impl House {
    /// A job with three scans; the second was taken at half the size of the others.
    async fn with_three(&self) {
        let draft = JobDraft { title: "Beetles, drawer 3".into(), ..JobDraft::default() };
        let job = self.app.with_notebook(|book| book.add_job(&draft, false, "now")).expect("a job");
        for (scan, name) in NAMES.iter().enumerate() {
            let id = scan as i64 + 1;
            self.load(name, &striped(scan), id).await;
            let value = if scan == 1 { 0.5 } else { 1.0 };
            let size = Magnification { value, plus_minus: Some(0.01), from: MagnificationSource::Ruler };
            self.app
                .with_notebook(|book| {
                    book.set_scan_magnification(ScanId(id), Some(size))?;
                    book.set_scan_job(ScanId(id), Some(job))
                })
                .expect("of the job");
        }
    }

    async fn begin(&self, more: &[(&str, &str)]) -> Answer {
        let form =
            [("scan", "1"), ("scan", "2"), ("scan", "3"), ("question", "Which is crisper?"), ("place", "centre")];
        let form: Vec<_> =
            form.into_iter().filter(|(n, _)| !more.iter().any(|(m, _)| m == n)).chain(more.iter().copied()).collect();
        self.post("/jobs/1/trials", &form).await
    }

    async fn begun(&self, more: &[(&str, &str)]) {
        let answer = self.begin(more).await;
        assert_eq!(
            (answer.status, answer.header("location")),
            (StatusCode::SEE_OTHER, "/trials/1"),
            "{}",
            answer.text()
        );
    }

    async fn pick(&self, number: u32, choice: &str) {
        let answer = self.post("/trials/1/picks", &[("number", &number.to_string()), ("choice", choice)]).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
    }

    fn picks(&self) -> Vec<notebook::Pick> {
        self.app.with_notebook(|book| book.picks(TrialId(1))).expect("picks")
    }
}

/// The addresses of the pictures on a page, left and right.
fn pictures(page: &str) -> Vec<String> {
    page.split("<img src=\"").skip(1).filter_map(|rest| rest.split('"').next()).map(str::to_owned).collect()
}

/// Mean of the middle third of a JPEG, sRGB numbers.
fn middle_tone(answer: &Answer) -> f64 {
    let path = scratch("piece.jpg");
    std::fs::write(&path, &answer.body).expect("written");
    let mut scan = imaging::Scan::open(&path).expect("a picture");
    assert_eq!((scan.info().width, scan.info().height), (480, 480));
    let whole = scan.whole();
    let reading = scan.read_linear(whole, imaging::ToneChoice::Curve(planes::ToneCurve::Srgb)).expect("read");
    std::fs::remove_file(&path).expect("removed");
    let mut light: Vec<f32> = reading.picture.luminance().samples().to_vec();
    light.sort_by(f32::total_cmp);
    f64::from(light[light.len() / 2])
}

#[tokio::test]
async fn nothing_tells_which_is_which_before_the_end() {
    let house = House::new();
    house.with_three().await;
    house.begun(&[("one_tone", "on")]).await;
    let mut seen = BTreeSet::new();
    for number in 1..=6 {
        let page = house.get("/trials/1").await;
        let text = page.text();
        for name in
            NAMES.iter().map(|name| name.trim_end_matches(".tif")).chain(["/scans/", "/iiif/", "data-scan", "stored"])
        {
            assert!(!text.contains(name), "pick {number}: the page says {name}");
        }
        let pictures = pictures(&text);
        assert_eq!(pictures.len(), 2);
        for address in &pictures {
            // New for every pick and side, so that no address is known again.
            assert!(seen.insert(address.clone()), "{address} was there before");
            let picture = house.get(address).await;
            assert_eq!((picture.status, picture.header("content-type")), (StatusCode::OK, "image/jpeg"));
            assert_eq!(picture.header("cache-control"), "no-store");
            for header in ["etag", "last-modified", "link", "content-disposition"] {
                assert!(!picture.headers.contains_key(header), "{header}");
            }
            // All at one tone and one size of picture.
            assert_close!(middle_tone(&picture), 0.288, absolute = 0.03);
        }
        assert!(text.contains("alt=\"The left picture\"") && text.contains("alt=\"The right picture\""));
        house.pick(number, "left").await;
        // What was shown is gone.
        assert_eq!(house.get(&pictures[0]).await.status, StatusCode::NOT_FOUND);
    }
    assert_eq!(house.get("/trials/1/outcome.json").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.get("/trials/1/picks.csv").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let listed = house.get("/jobs/1/trials").await.text();
    assert!(listed.contains("names hidden"));
}

#[tokio::test]
async fn left_and_right_are_by_chance_and_balanced() {
    let house = House::new();
    house.with_three().await;
    house.begun(&[]).await;
    for number in 1..=12 {
        house.pick(number, if number % 3 == 0 { "no difference" } else { "left" }).await;
    }
    let picks = house.picks();
    assert_eq!(picks.len(), 12);
    for candidate in 0..3 {
        let left = picks.iter().filter(|pick| pick.left == candidate).count() as i64;
        let right = picks.iter().filter(|pick| pick.right == candidate).count() as i64;
        assert!((left - right).abs() <= 2, "candidate {candidate}: {left} left, {right} right");
    }
    assert_eq!(picks[2].choice, Choice::NoDifference);
}

#[tokio::test]
async fn a_pick_counts_once_and_can_be_taken_back() {
    let house = House::new();
    house.with_three().await;
    house.begun(&[]).await;
    let first = house.get("/trials/1").await.text();
    house.pick(1, "left").await;
    house.pick(1, "right").await;
    assert_eq!(house.picks().len(), 1, "a form sent twice counts once");
    assert_eq!(house.picks()[0].choice, Choice::Left);
    assert_eq!(
        house.post("/trials/1/picks", &[("number", "2"), ("choice", "both")]).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    assert_eq!(house.post("/trials/1/take-back", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(house.picks().is_empty());
    // The same pair is asked again.
    assert_eq!(pictures(&house.get("/trials/1").await.text()), pictures(&first));
}

#[tokio::test]
async fn the_end_tells_everything() {
    let house = House::new();
    house.with_three().await;
    house.begun(&[("title", "Crispness")]).await;
    // The person likes cedar best and alder least, every time.
    let document: Value = serde_json::from_str(
        &house.app.with_notebook(|book| book.trial(TrialId(1))).expect("read").expect("there").draft.document,
    )
    .expect("JSON");
    let liking = |candidate: u32| NAMES.iter().position(|name| document["scans"][candidate as usize]["name"] == *name);
    for number in 1..=40 {
        let due = house.post("/trials/1/picks", &[("number", &number.to_string()), ("choice", "no difference")]).await;
        assert_eq!(due.status, StatusCode::SEE_OTHER);
        let Some(pick) = house.picks().into_iter().nth(number as usize - 1) else { break };
        house.post("/trials/1/take-back", &[]).await;
        house.pick(number, if liking(pick.left) > liking(pick.right) { "left" } else { "right" }).await;
    }
    assert!(house.get("/trials/1").await.text().contains("Every pair is settled"));
    house.post("/trials/1/end", &[]).await;
    let page = house.get("/trials/1").await;
    let text = page.text();
    assert_eq!(page.status, StatusCode::OK);
    assert!(text.contains("cedar.tif is better than all others."), "{text}");
    let outcome: Value = serde_json::from_str(&house.get("/trials/1/outcome.json").await.text()).expect("JSON");
    let names: Vec<_> = outcome["items"]
        .as_array()
        .expect("items")
        .iter()
        .map(|item| item["name"].as_str().expect("name").to_owned())
        .collect();
    assert_eq!(names, ["cedar.tif", "birch.tif", "alder.tif"]);
    assert_eq!((outcome["more"].as_u64(), outcome["never"].as_u64()), (Some(0), Some(0)));
    let csv = house.get("/trials/1/picks.csv").await.text();
    assert_eq!(csv.lines().count(), 1 + house.picks().len());
    assert!(csv.contains("cedar.tif"));
    // Whoever has seen the names picks no more.
    let before = house.picks().len();
    house.pick(before as u32 + 1, "left").await;
    assert_eq!(house.picks().len(), before);
    assert_eq!(house.post("/trials/1/take-back", &[]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn pieces_show_the_same_subject_whatever_the_magnification() {
    let house = House::new();
    house.with_three().await;
    house.begun(&[("piece_mm", "3")]).await;
    let document: Value = serde_json::from_str(
        &house.app.with_notebook(|book| book.trial(TrialId(1))).expect("read").expect("there").draft.document,
    )
    .expect("JSON");
    for scan in document["scans"].as_array().expect("scans") {
        // A pitch of 10 µm: 100 px on a mm of film; half as many on a mm of the subject at 1:2.
        let expected = if scan["name"] == "birch.tif" { 50.0 } else { 100.0 };
        assert_close!(scan["px_per_mm"].as_f64().expect("a number"), expected, relative = 1e-12);
        assert_close!(scan["centre_px"][0].as_f64().expect("a number"), 600.0, absolute = 1e-9);
        assert_eq!(scan["gain"], serde_json::json!([1.0, 1.0, 1.0]), "tone is left alone unless asked for");
    }
}

#[tokio::test]
async fn what_would_spoil_a_trial_is_refused_with_what_to_do() {
    let house = House::new();
    house.with_three().await;
    let refused = |answer: Answer, words: &str| {
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(answer.text().contains(words), "{words}: {}", answer.text());
    };
    let one = house.post("/jobs/1/trials", &[("scan", "1"), ("question", "Which?"), ("place", "centre")]).await;
    refused(one, "One is ticked; a trial takes 2 to 12.");
    refused(house.begin(&[("question", " ")]).await, "This must be filled in.");
    refused(house.begin(&[("piece_mm", "10")]).await, "shows only 9.00 mm of the subject across");
    refused(house.begin(&[("piece_mm", "0.5")]).await, "choose 2.40 mm or more");
    refused(house.begin(&[("piece_mm", "wide")]).await, "is not a number");
    house.app.with_notebook(|book| book.set_scan_magnification(ScanId(2), None)).expect("forgotten");
    refused(house.begin(&[]).await, "the same size as the others: birch.tif. Measure a ruler");
    assert_eq!(house.get("/trials/1").await.status, StatusCode::NOT_FOUND);
    assert_eq!(house.get("/trials/x").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_same_detail_is_marked_by_a_click_without_a_script() {
    let house = House::new();
    house.with_three().await;
    let asked = house.begin(&[("place", "marked"), ("piece_mm", "3")]).await;
    assert_eq!(asked.status, StatusCode::SEE_OTHER);
    let marking = asked.header("location").to_owned();
    let page = house.get(&marking).await.text();
    assert!(page.contains("type=\"image\"") && page.contains("alder.tif"), "{page}");
    // A click 75 to the right and 50 down in the whole, 300 wide for 1200 pixels: at 302 and 202 (pixel middles).
    let clicked = house.get(&format!("{marking}&whole-1.x=75&whole-1.y=50")).await.text();
    assert!(clicked.contains("value=\"25.167\"") && clicked.contains("value=\"22.444\""), "{clicked}");
    let marks = [
        ("across-1", "25"),
        ("down-1", "25"),
        ("across-2", "50"),
        ("down-2", "50"),
        ("across-3", "75"),
        ("down-3", "50"),
    ];
    let begin: Vec<_> = [("place", "marked"), ("piece_mm", "3")].into_iter().chain(marks).collect();
    house.begun(&begin).await;
    let document = house.app.with_notebook(|book| book.trial(TrialId(1))).expect("read").expect("there").draft.document;
    let document: Value = serde_json::from_str(&document).expect("JSON");
    let first =
        document["scans"].as_array().expect("scans").iter().find(|scan| scan["scan"] == 1).expect("there").clone();
    assert_close!(first["centre_px"][0].as_f64().expect("a number"), 300.0, absolute = 1e-9);
    // Over the edge is refused at its mark.
    let over: Vec<_> = begin.iter().map(|&(n, v)| if n == "across-1" { (n, "1") } else { (n, v) }).collect();
    let answer = house.begin(&over).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(answer.text().contains("goes beyond the edge of the scan"), "{}", answer.text());
}
