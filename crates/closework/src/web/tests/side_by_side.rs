//! Scans laid over each other: by what they show, by two details, refused in words.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::time::Duration;

use axum::http::StatusCode;
use measure::Similarity;
use notebook::ScanId;
use scene::{Blur, Capture, Channel, Point, Reflectance, Scene, Settings, Specimen, render, specimen};
use testkit::assert_close;

use super::House;
use super::scans::{edge_form, scratch};
use crate::documents::{
    AlignmentDocument, CardDocument, FrameDocument, MappingDocument, Measured, SharpnessDocument, SheetDocument,
    ZoneDocument,
};
use crate::web::tasks::Standing;

const SIDE: u32 = 320;
const PITCH_UM: f64 = 52.5;

fn settings() -> Settings {
    Settings {
        width_px: SIDE,
        height_px: SIDE,
        pitch_um: PITCH_UM,
        magnification: 0.7,
        blur: Blur::even(30.0),
        ..Settings::default()
    }
}

/// A beetle of 18 mm on light paper with a pod beside it, or crystals.
fn subject(which: Specimen) -> Scene {
    let mut scene = Scene::new(Reflectance::grey(0.7));
    scene.lay(&specimen(which), 18.0, 12.0, Point::new(-2.0, 0.5));
    if which == Specimen::StagBeetle {
        scene.lay(&specimen(Specimen::SeedPod), 8.0, -30.0, Point::new(7.0, 3.0));
    }
    scene
}

impl House {
    /// Loads a frame of the renderer's and says how large its subject is.
    async fn load_frame(&self, id: i64, scene: &Scene, settings: Settings) -> Capture {
        let capture = Capture::new(settings).expect("capture");
        let frame = render(scene, &capture, &mut |_| ControlFlow::Continue(())).expect("rendered");
        let path = scratch("frame.tif");
        imaging::write_tiff_rgb16(&path, SIDE, SIDE, Some(settings.pitch_um), None, |y, row| {
            row.copy_from_slice(&frame.samples[(3 * y * SIDE) as usize..][..3 * SIDE as usize]);
            ControlFlow::Continue(())
        })
        .expect("written");
        let bytes = std::fs::read(&path).expect("read");
        std::fs::remove_file(&path).expect("removed");
        self.load("frame.tif", &bytes, id).await;
        let magnification = settings.magnification.to_string();
        self.post(&format!("/scans/{id}/magnification"), &[("magnification", magnification.as_str())]).await;
        capture
    }

    /// Looks for the first scan's subject in the second, and waits for the end.
    async fn lay_automatically(&self) -> Standing {
        let answer = self.post("/side-by-side/automatic", &[("scan", "1"), ("scan", "2")]).await;
        let to = "/side-by-side?scan=1&scan=2&by=picture";
        assert_eq!((answer.status, answer.header("location")), (StatusCode::SEE_OTHER, to));
        for _ in 0..2400 {
            match self.app.tasks().about(to.trim_start_matches('/')).expect("begun").standing {
                Standing::Running => tokio::time::sleep(Duration::from_millis(50)).await,
                ended => return ended,
            }
        }
        panic!("the task does not end");
    }
}

/// How the page's script is told that the second lies on the first.
fn laid(page: &str) -> Similarity {
    let told = page.split("data-laid=\"").nth(2).and_then(|rest| rest.split('"').next()).expect("told");
    let n: Vec<f64> = told.split(' ').map(|n| n.parse().expect("a number")).collect();
    Similarity::new(n[0].hypot(n[1]), n[1].atan2(n[0]).to_degrees(), (n[2], n[3]), n[4] == 1.0)
}

#[tokio::test]
async fn the_same_subject_is_found_and_kept() {
    let house = House::new();
    let scene = subject(Specimen::StagBeetle);
    let first = house.load_frame(1, &scene, settings()).await;
    let turned = Settings { magnification: 0.5, rotation_deg: 37.0, shift_mm: Point::new(1.0, -0.6), ..settings() };
    let second = house.load_frame(2, &scene, turned).await;
    let before = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(before.contains("Laid over each other by the middles") && before.contains("grey-2"), "{before}");
    assert_eq!(house.lay_automatically().await, Standing::Done);
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(page.contains("Laid over each other by what they show") && page.contains("detail alike to"), "{page}");
    // The renderer's truth: to half a pixel of the scan, scale to 0.2 %.
    let on = laid(&page);
    assert_close!(on.scale(), 5.0 / 7.0, relative = 0.002);
    for mm in [Point::new(-2.0, 0.0), Point::new(6.0, 4.0), Point::new(-4.0, -7.0)] {
        let (from, to) = (first.to_pixel(Channel::Green, mm), second.to_pixel(Channel::Green, mm));
        let (x, y) = on.to_second((from.x, from.y));
        assert_close!((x - to.x).hypot(y - to.y), 0.0, absolute = 0.5);
    }
    // The other way round it is the same alignment, inverted.
    let back = laid(&house.get("/side-by-side?scan=2&scan=1").await.text());
    assert_close!(back.scale(), 1.0 / on.scale(), relative = 1e-9);
    // And asked for, the middles.
    let middles = house.get("/side-by-side?scan=1&scan=2&by=middles").await.text();
    assert_close!(laid(&middles).turn_deg(), 0.0, absolute = 1e-9);
}

#[tokio::test]
async fn different_subjects_are_refused_in_words() {
    let house = House::new();
    house.load_frame(1, &subject(Specimen::StagBeetle), settings()).await;
    house.load_frame(2, &subject(Specimen::Crystal), settings()).await;
    let Standing::Failed(why) = house.lay_automatically().await else { panic!("laid over each other") };
    assert!(why.contains("do not show the same subject") && why.contains("pick two details"), "{why}");
    let page = house.get("/side-by-side?scan=1&scan=2&by=picture").await.text();
    assert!(page.contains("do not show the same subject") && page.contains("by the middles"), "{page}");
    // Without a size it is said before anything is searched.
    house.post("/scans/2/magnification", &[("magnification", "")]).await;
    let Standing::Failed(why) = house.lay_automatically().await else { panic!("laid over each other") };
    assert!(why.contains("measure a ruler"), "{why}");
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(page.contains("cannot be brought to one size") && page.contains("pick two details in each"), "{page}");
    let one = house.post("/side-by-side/automatic", &[("scan", "1")]).await;
    assert_eq!(one.status, StatusCode::UNPROCESSABLE_ENTITY);
    let absent = house.post("/side-by-side/automatic", &[("scan", "1"), ("scan", "9")]).await;
    assert_eq!(absent.status, StatusCode::NOT_FOUND);
}

/// Two details in the first at (100, 100) and (300, 100); in the second where it says.
fn details<'a>(second: [&'a str; 4], more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut form = vec![("scan", "1"), ("scan", "2"), ("ax1", "100"), ("ay1", "100"), ("bx1", "300"), ("by1", "100")];
    form.extend(["ax2", "ay2", "bx2", "by2"].into_iter().zip(second));
    form.extend_from_slice(more);
    form
}

#[tokio::test]
async fn two_details_give_size_turn_and_place() {
    let house = House::new();
    house.load_card(1).await;
    house.load_card(2).await;
    // Half as long and a quarter turn clockwise.
    let kept = house.post("/side-by-side/points", &details(["200", "50", "200", "150"], &[])).await;
    let to = "/side-by-side?scan=1&scan=2&by=points";
    assert_eq!((kept.status, kept.header("location")), (StatusCode::SEE_OTHER, to));
    // Neither has a magnification: the details alone make the sizes alike.
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(page.contains("by two picked details") && !page.contains("cannot be brought to one size"), "{page}");
    let on = laid(&page);
    assert_close!(on.scale(), 0.5, relative = 1e-9);
    assert_close!(on.turn_deg(), 90.0, absolute = 1e-9);
    assert_close!(on.to_second((200.0, 100.0)).1, 100.0, absolute = 1e-6);
    // Kept, in the fields of the form too.
    assert!(page.contains("value=\"300.0\""), "{page}");
    let mirrored =
        house.post("/side-by-side/points", &details(["200", "50", "200", "150"], &[("mirrored2", "on")])).await;
    assert_eq!(mirrored.status, StatusCode::SEE_OTHER);
    assert!(laid(&house.get(to).await.text()).is_mirrored());
}

#[tokio::test]
async fn details_that_are_no_places_are_refused() {
    let house = House::new();
    house.load_card(1).await;
    house.load_card(2).await;
    for (second, said) in [
        (["200", "50", "200", "60"], "10.0 pixels apart"),
        (["200", "50", "200", "900"], "a number from 0 to 400"),
        (["200", "fifty", "200", "150"], "“fifty”"),
        (["", "", "", ""], "“”"),
    ] {
        let refused = house.post("/side-by-side/points", &details(second, &[])).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{said}");
        assert!(refused.text().contains(said), "{said}: {}", refused.text());
    }
    assert!(house.get("/side-by-side?scan=1&scan=2").await.text().contains("by the middles"));
    let alone = house.post("/side-by-side/points", &[("scan", "1")]).await;
    assert_eq!(alone.status, StatusCode::UNPROCESSABLE_ENTITY);
    let absent = house.post("/side-by-side/points", &[("scan", "1"), ("scan", "7")]).await;
    assert_eq!(absent.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn what_is_missing_is_said_with_the_next_step() {
    let house = House::new();
    house.load_card(1).await;
    house.load_card(2).await;
    house.post("/scans/1/edge", &edge_form("Centre")).await;
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(page.contains("Nothing is measured yet in") && page.contains("/scans/2#whole"), "{page}");
    assert!(!page.contains("href=\"/scans/1#whole\">card.tif"));
    assert!(!page.contains("different jobs"));
    // The picture stands before any script.
    assert!(page.contains("<svg class=\"still\" viewBox=") && page.contains("<image href=\"/iiif/scans/1/"), "{page}");
}

#[tokio::test]
async fn a_jobs_own_scans_are_offered_and_ticked() {
    let house = House::new();
    for id in 1..=3 {
        house.load_card(id).await;
    }
    let draft = notebook::JobDraft { title: "Beetles".into(), ..notebook::JobDraft::default() };
    let job = house.app.with_notebook(|book| book.add_job(&draft, false, "now")).expect("a job");
    for id in [1, 3] {
        house.app.with_notebook(|book| book.set_scan_job(ScanId(id), Some(job))).expect("of the job");
    }
    let of = |page: &str| {
        [1, 2, 3].map(|id| {
            let there = page.contains(&format!("name=\"scan\" value=\"{id}\""));
            (there, page.contains(&format!("name=\"scan\" value=\"{id}\" checked")))
        })
    };
    let own = house.get(&format!("/side-by-side?job={job}")).await.text();
    assert_eq!(of(&own), [(true, true), (false, false), (true, true)], "{own}");
    assert!(own.contains("All scans, of every job"));
    // Of a job without scans, and of none, all are offered and none is ticked.
    for address in ["/side-by-side", "/side-by-side?job=99", "/side-by-side?job=x"] {
        let all = house.get(address).await.text();
        assert_eq!(of(&all), [(true, false); 3], "{address}");
    }
}

#[tokio::test]
async fn the_sharpest_place_says_how_it_was_found() {
    let house = House::new();
    house.load_card(1).await;
    let answer = house.get("/side-by-side/sharpest?scan=1").await;
    assert_eq!(answer.status, StatusCode::OK);
    let found: serde_json::Value = serde_json::from_slice(&answer.body).expect("json");
    assert_eq!(found["by"], "structure");
    // The ruler's marks, in the rows from 320 on, are the finest there is.
    assert!(found["at_px"][1].as_f64().expect("a place") > 280.0, "{found}");
    assert_eq!(house.get("/side-by-side/sharpest?scan=8").await.status, StatusCode::NOT_FOUND);
}

/// A whole frame of one card, as it is kept: turned by a right angle or not, its centre this fine, its focus off by so many mm.
fn whole(turned: bool, lp_mm: f64, focus_mm: f64) -> FrameDocument {
    let sharpness = SharpnessDocument {
        edges: 4,
        mtf50_cy_px: None,
        mtf50_lp_mm: None,
        mtf50_subject_lp_mm: Some(Measured { value: lp_mm, plus_minus: 1.0 }),
        mtf50_lw_ph: None,
        mean_contrast_to_limit: None,
        corrected_mtf50_lp_mm: None,
        curve: Vec::new(),
        corrected_curve: Vec::new(),
        corrected_to: String::new(),
        warnings: Vec::new(),
    };
    let [across, down] =
        if turned { [[0.0, -5.0, 200.0], [5.0, 0.0, 210.0]] } else { [[10.0, 0.0, 240.0], [0.0, 10.0, 200.0]] };
    let none = Measured { value: 0.0, plus_minus: 0.1 };
    let sheet = SheetDocument {
        part: "whole".into(),
        codes: Vec::new(),
        rotation_deg: 0.0,
        mirrored: false,
        px_per_mm: Measured { value: 10.0, plus_minus: 0.01 },
        scatter_px: None,
        corner_distortion_percent: None,
        lean_about_upright_deg: None,
        lean_about_level_deg: None,
        mapping: Some(MappingDocument {
            homography: [across, down, [0.0, 0.0, 1.0]],
            k1: 0.0,
            centre_px: [200.0, 200.0],
            radius_px: 300.0,
        }),
    };
    FrameDocument {
        file: "card.tif".into(),
        width_px: 480,
        height_px: 400,
        transfer: "linear".into(),
        pitch_um: None,
        pitch_from: String::new(),
        magnification: None,
        magnification_from: String::new(),
        card: Some(CardDocument { identity: "A7".into(), field_mm: [30.0, 30.0], sheets: vec![sheet] }),
        places: Vec::new(),
        zones: vec![ZoneDocument {
            zone: "centre".into(),
            places: 1,
            sharpness: [("central".to_owned(), sharpness)].into(),
        }],
        fringing: None,
        contrast: BTreeMap::new(),
        evenness: None,
        exposure: None,
        grain: None,
        rulers: Vec::new(),
        ramps: Vec::new(),
        alignment: Some(AlignmentDocument {
            centre_mm: Measured { value: focus_mm, plus_minus: 0.1 },
            about_upright_deg: none,
            about_level_deg: none,
            curvature_mm: None,
            otherwise: None,
            corners_mm: [none; 4],
            warnings: Vec::new(),
        }),
        left_out: Vec::new(),
        warnings: Vec::new(),
        settings: Default::default(),
        made_by: "a test".into(),
    }
}

#[tokio::test]
async fn the_card_lays_them_and_its_figures_are_told_apart() {
    let house = House::new();
    for (id, document) in [(1, whole(false, 40.0, 0.02)), (2, whole(true, 30.0, -0.4))] {
        house.load_card(id).await;
        let draft = crate::web::scans::whole::draft(ScanId(id), &document).expect("draft");
        house.app.with_notebook(|book| book.add_measurement(&draft, "2026-03-01T09:00:00Z")).expect("kept");
    }
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(page.contains("Laid over each other by the card"), "{page}");
    // 10 px/mm and 5 px/mm turned: half the scale, a quarter turn, the card's middle on the card's middle.
    let on = laid(&page);
    assert_close!(on.scale(), 0.5, relative = 1e-9);
    assert_close!(on.turn_deg(), 90.0, absolute = 1e-9);
    assert_close!(on.to_second((240.0, 200.0)).0, 200.0, absolute = 1e-6);
    // 40 ± 1 and 30 ± 1 differ by 10 ± 1.4; the foci 0.02 ± 0.1 and −0.4 ± 0.1 by 0.42 ± 0.14.
    assert!(page.contains("▼ less than picture 1 by 10.0 ± 1.4") && page.contains("1 above 2 by 10.0 ± 1.4"), "{page}");
    assert!(page.contains("1 above 2 by 0.42 ± 0.14"), "{page}");
    assert_eq!(page.matches("focus missed the card by").count(), 1);
    assert!(page.contains("away from the lens"));
}
