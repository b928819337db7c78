//! Whole frames measured from a scan's page, found edges, kept responses, what a file says of itself.

use std::time::Duration;

use axum::http::StatusCode;
use notebook::{Measurement, MeasurementKind, ScanId};
use testkit::assert_close;

use super::House;
use super::scans::edge_form;
use crate::demo;
use crate::documents::FrameDocument;
use crate::web::tasks::Standing;
use crate::whole_frame::{Negative, NegativeBase, NegativeCurve};

impl House {
    fn frames_measured(&self, id: i64) -> Vec<Measurement> {
        let all = self.app.with_notebook(|book| book.measurements(ScanId(id))).expect("read");
        all.into_iter().filter(|m| m.kind == MeasurementKind::Frame).collect()
    }

    /// Presses a button that measures the whole frame, and waits for its end.
    async fn measure_whole(&self, path: &str, form: &[(&str, &str)]) -> Standing {
        let answer = self.post(path, form).await;
        assert_eq!((answer.status, answer.header("location")), (StatusCode::SEE_OTHER, "/scans/1#whole"), "{path}");
        for _ in 0..2400 {
            match self.app.tasks().about("scan/1/whole").expect("begun").standing {
                Standing::Running => tokio::time::sleep(Duration::from_millis(50)).await,
                ended => return ended,
            }
        }
        panic!("the task does not end");
    }
}

fn document(m: &Measurement) -> FrameDocument {
    serde_json::from_str(&m.result).expect("a frame")
}

#[tokio::test]
async fn a_whole_frame_is_measured_and_measured_again_with_its_settings() {
    let house = House::new();
    house.load_card(1).await;
    let page = house.get("/scans/1").await.text();
    assert!(page.contains("action=\"/scans/1/whole\"") && page.contains("Measure the whole frame"));
    let form = [("whole_limit", "12"), ("whole_ne", "16"), ("whole_greys", "0.8; 0.4, 0.2")];
    assert_eq!(house.measure_whole("/scans/1/whole", &form).await, Standing::Done);
    let kept = house.frames_measured(1);
    let first = document(&kept[0]);
    // No card in the picture: its one edge is found, and its blur is the drawn one's (see `super::scans`).
    assert!(first.card.is_none() && !first.places.is_empty(), "{first:?}");
    let settings = &first.settings;
    assert_eq!((settings.print_limit_lp_mm, settings.effective_f_number), (Some(12.0), Some(16.0)));
    assert_eq!(settings.grey_scale, [0.8, 0.4, 0.2]);
    let shown = house.get(&format!("/scans/1/whole/{}", kept[0].id)).await.text();
    assert!(shown.contains("Measure again with these settings"), "{shown}");
    let again = format!("/scans/1/whole/{}/again", kept[0].id);
    assert_eq!(house.measure_whole(&again, &[]).await, Standing::Done);
    let kept = house.frames_measured(1);
    assert_eq!(kept.len(), 2);
    // The same file, the same settings, the same program: the same figures.
    assert_eq!(document(&kept[1]), first);
    assert_eq!(house.post("/scans/1/whole/999/again", &[]).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_negative_is_turned_as_its_form_says() {
    let house = House::new();
    house.load_card(1).await;
    let form = [("whole_negative", "gamma"), ("whole_gamma", "0.62"), ("whole_bare", "stated"), ("whole_base", "0.05")];
    assert_eq!(house.measure_whole("/scans/1/whole", &form).await, Standing::Done);
    let taken = document(&house.frames_measured(1)[0]).settings.negative;
    let curve = NegativeCurve::Gamma(0.62);
    assert_eq!(taken, Some(Negative { curve, base: NegativeBase::Densities(vec![0.05]) }));
    // The lightest part of the picture as if it were bare film, and a film's curve in lines.
    let curve = "# log exposure, density\n-1.2, 0\n-0.6, 1.4\n0, 3.0\n";
    let form = [
        ("whole_negative", "curve"),
        ("whole_curve", curve),
        ("whole_bare", "rebate"),
        ("whole_rebate", "350, 20, 100, 60"),
    ];
    assert_eq!(house.measure_whole("/scans/1/whole", &form).await, Standing::Done);
    let taken = document(&house.frames_measured(1)[1]).settings.negative.expect("kept");
    assert_eq!(taken.base, NegativeBase::Rebate([350, 20, 100, 60]));
    assert!(matches!(taken.curve, NegativeCurve::Table(text) if text.contains("-0.6, 1.4")));
    // A rebate outside the picture is told when the task ends.
    let form = [("whole_negative", "gamma"), ("whole_gamma", "0.6"), ("whole_rebate", "470, 0, 100, 60")];
    let ended = house.measure_whole("/scans/1/whole", &form).await;
    assert!(matches!(&ended, Standing::Failed(why) if why.contains("480 × 400")), "{ended:?}");
}

#[tokio::test]
async fn wrong_settings_come_back_to_their_fields() {
    let house = House::new();
    house.load_card(1).await;
    type Form<'a> = &'a [(&'a str, &'a str)];
    let cases: [(Form<'_>, &str); 8] = [
        (&[("whole_line_mm", "50")], "whole_line_mm"),
        (&[("whole_greys", "18, 40")], "whole_greys"),
        (&[("whole_greys", "0.8, grey")], "whole_greys"),
        (&[("whole_negative", "gamma"), ("whole_base", "0.2"), ("whole_bare", "stated")], "whole_gamma"),
        (&[("whole_negative", "gamma"), ("whole_gamma", "0.6"), ("whole_rebate", "1, 2, 3")], "whole_rebate"),
        (&[("whole_negative", "gamma"), ("whole_gamma", "0.6"), ("whole_rebate", "-1, 2, 30, 40")], "whole_rebate"),
        (
            &[("whole_negative", "gamma"), ("whole_gamma", "0.6"), ("whole_bare", "stated"), ("whole_base", "0.2, 9")],
            "whole_base",
        ),
        (
            &[("whole_negative", "curve"), ("whole_curve", "0, much"), ("whole_bare", "stated"), ("whole_base", "0.2")],
            "whole_curve",
        ),
    ];
    for (form, field) in cases {
        let answer = house.post("/scans/1/whole", form).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{form:?}");
        let page = answer.text();
        assert!(page.contains("<details open><summary>Say more first"), "{form:?}");
        let at = page.find(&format!("name=\"{field}\"")).unwrap_or_else(|| panic!("{field}"));
        let tag = page[..at].rfind('<').expect("a tag")..at + page[at..].find('>').expect("its end");
        assert!(page[tag.clone()].contains("aria-invalid"), "{form:?}: {}", &page[tag]);
    }
    assert!(house.frames_measured(1).is_empty());
}

#[tokio::test]
async fn the_set_up_of_the_frame_is_kept_with_the_figures() {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    house.load_card(1).await;
    let frames = house.app.with_notebook(|book| {
        let jobs = book.jobs().expect("jobs");
        jobs.iter().flat_map(|job| book.frames_of_job(job.id).expect("frames")).collect::<Vec<_>>()
    });
    let frame = frames.iter().find(|frame| !frame.parts.is_empty()).expect("a frame with its set-up");
    let said = house.post("/scans/1/frame", &[("frame", &frame.id.to_string())]).await;
    assert_eq!(said.status, StatusCode::SEE_OTHER);
    assert_eq!(house.measure_whole("/scans/1/whole", &[]).await, Standing::Done);
    let set_up = document(&house.frames_measured(1)[0]).settings.set_up.expect("from the frame");
    // The thin lens's relation between the two f-numbers holds within a pupil ratio of a half to two: N (1 + m/P).
    let (n, m) = (frame.f_number.expect("set"), set_up.magnification.value);
    let ratio = set_up.effective_f_number.value / n;
    assert!(ratio > 1.0 + m / 2.0 && ratio < 1.0 + 2.0 * m, "{set_up:?} at f/{n}");
    // The depth by similar triangles, 2 c Ne / m², c the disc that counts as sharp.
    let depth = 2.0 * set_up.circle_um / 1000.0 * set_up.effective_f_number.value / (m * m);
    assert_close!(set_up.depth_mm.expect("finite").value, depth, relative = 0.1);
}

#[tokio::test]
async fn found_edges_are_listed_with_their_buttons() {
    let house = House::new();
    house.load_card(1).await;
    assert!(house.get("/scans/1").await.text().contains("Find edges"));
    let page = house.get("/scans/1?find=edges").await.text();
    let list = page.split("<ol class=\"offered\">").nth(1).expect("a list").split("</ol>").next().expect("its end");
    // The picture holds one long slanted edge; the ruler's marks are upright.
    assert!(list.contains("px long, slanted by 5") && list.contains("Measure <span"), "{list}");
    assert!(page.contains("&quot;kind&quot;:&quot;found&quot;"), "the overlay draws them");
    // What the button sends is measured.
    let value = |name: &str| {
        let at = list.find(&format!("name=\"{name}\" value=\"")).expect("a field") + name.len() + 15;
        list[at..].split('"').next().expect("a value").to_owned()
    };
    let names = ["edge_x", "edge_y", "edge_width", "edge_height"];
    let values = names.map(value);
    let form: Vec<(&str, &str)> = names.into_iter().zip(values.iter().map(String::as_str)).collect();
    assert_eq!(house.post("/scans/1/edge", &form).await.status, StatusCode::SEE_OTHER);
}

#[tokio::test]
async fn a_blade_is_kept_as_a_response_divided_out_and_deleted() {
    let house = House::new();
    house.load_card(1).await;
    // Numbers into light as the whole frame will take them: a file without a profile is taken for sRGB.
    let edge = edge_form("blade").map(|(name, value)| (name, if name == "edge_transfer" { "icc" } else { value }));
    house.post("/scans/1/edge", &edge).await;
    assert!(house.get("/scans/1?shown=1").await.text().contains("Keep as the scanner’s response"));
    let kept = house.post("/scans/1/measurements/1/response", &[("name", "flatbed, 4000 dpi")]).await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER);
    let page = house.get("/scans/1").await.text();
    assert!(page.contains("Responses that are kept: 1") && page.contains("flatbed, 4000 dpi"), "{page}");
    assert_eq!(house.measure_whole("/scans/1/whole", &[("whole_scanner", "1")]).await, Standing::Done);
    let frame = document(&house.frames_measured(1)[0]);
    assert_eq!(frame.settings.scanner[0].name, "flatbed, 4000 dpi");
    // An edge divided by itself is left with all its contrast, wherever that is known.
    let corrected = frame.places.iter().flat_map(|p| p.sharpness.values()).find(|s| !s.corrected_curve.is_empty());
    for [_, response, half] in &corrected.expect("divided out").corrected_curve {
        assert_close!(*response, 1.0, absolute = 0.05 + 2.0 * half);
    }
    // A ruler is no response, and a second press on delete finds nothing left to do.
    house.post("/scans/1/responses/1/delete", &[]).await;
    assert_eq!(house.post("/scans/1/responses/1/delete", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(!house.get("/scans/1").await.text().contains("Responses that are kept"));
    assert_eq!(house.post("/scans/1/measurements/99/response", &[("name", "x")]).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn the_page_shows_what_the_file_says_of_itself() {
    let house = House::new();
    house.load_card(1).await;
    let page = house.get("/scans/1").await.text();
    let header = page.split("What the file says").nth(1).expect("the section");
    // 10 µm from pixel to pixel are 2540 dpi.
    for words in ["TIFF, 16 bits, colour", "2540 dpi, 10.0 µm from pixel to pixel", "none: sRGB is assumed"] {
        assert!(header.contains(words), "{words}: {}", &header[..600]);
    }
}
