//! Scans from the upload to the compared figures, and uploads that are no scans.

use std::ops::ControlFlow;
use std::path::PathBuf;
use std::time::Duration;

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use notebook::{MagnificationSource, Measurement, Scan, ScanId, ScanState};
use scene::edge::EdgeTruth;
use testkit::assert_close;

use super::{Answer, House, PORT, ask};
use crate::documents::{EdgeDocument, ScaleDocument};

const WIDTH: u32 = 480;
const EDGE_ROWS: u32 = 300;
const HEIGHT: u32 = 400;
const PITCH_UM: f64 = 10.0;
/// From mark to mark of the ruler below the edge.
const TICK_PX: u32 = 20;

fn truth() -> EdgeTruth {
    EdgeTruth { sigma_px: 0.9, ..EdgeTruth::default() }
}

/// A TIFF in linear light: an upright edge of known blur above a ruler with a mark every 20 pixels.
fn card() -> Vec<u8> {
    let edge = truth().render(WIDTH as usize, EDGE_ROWS as usize).expect("edge");
    let light = |x: u32, y: u32| match y.checked_sub(EDGE_ROWS) {
        None => edge.at(x as usize, y as usize),
        // Marks 4 pixels wide and 60 long on even ground.
        Some(down) if x % TICK_PX < 4 && (20..80).contains(&down) => 0.1,
        Some(_) => 0.8,
    };
    let path = scratch("card.tif");
    imaging::write_tiff_rgb16(&path, WIDTH, HEIGHT, Some(PITCH_UM), None, |y, row| {
        for (x, samples) in row.chunks_mut(3).enumerate() {
            samples.fill((light(x as u32, y) * 65_535.0).round() as u16);
        }
        ControlFlow::Continue(())
    })
    .expect("written");
    let bytes = std::fs::read(&path).expect("read");
    std::fs::remove_file(&path).expect("removed");
    bytes
}

pub(super) fn scratch(name: &str) -> PathBuf {
    std::env::temp_dir().join(format!("{}-{name}", crate::web::scans::new_name()))
}

fn multipart(file_name: &str, bytes: &[u8]) -> Vec<u8> {
    let mut body = format!("--line\r\ncontent-disposition: form-data; name=\"file\"; filename=\"{file_name}\"\r\n\r\n")
        .into_bytes();
    body.extend_from_slice(bytes);
    body.extend_from_slice(b"\r\n--line--\r\n");
    body
}

fn sending(body: Vec<u8>) -> axum::http::request::Builder {
    let request = ask("POST", "/scans").header(header::CONTENT_TYPE, "multipart/form-data; boundary=line");
    request.header(header::CONTENT_LENGTH, body.len())
}

impl House {
    pub(super) async fn upload(&self, file_name: &str, bytes: &[u8]) -> Answer {
        let body = multipart(file_name, bytes);
        let request = sending(body.clone()).header("sec-fetch-site", "same-origin");
        self.send(request.body(Body::from(body)).expect("request")).await
    }

    pub(super) fn scan(&self, id: i64) -> Scan {
        self.app.with_notebook(|book| book.scan(ScanId(id))).expect("read").expect("scan")
    }

    fn measured(&self, id: i64) -> Vec<Measurement> {
        self.app.with_notebook(|book| book.measurements(ScanId(id))).expect("read")
    }

    /// Loads the card and waits until it can be looked at.
    pub(super) async fn load_card(&self, id: i64) {
        self.load("card.tif", &card(), id).await;
    }

    /// Loads a file as the scan of that number and waits until it can be looked at.
    pub(super) async fn load(&self, name: &str, bytes: &[u8], id: i64) {
        assert_eq!(self.upload(name, bytes).await.status, StatusCode::SEE_OTHER);
        for _ in 0..2400 {
            if self.scan(id).state == ScanState::Ready {
                return;
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        panic!("not ready: {:?}", self.scan(id).state);
    }

    pub(super) fn files(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.app.scans_folder()).expect("folder");
        entries.map(|entry| entry.expect("entry").file_name().to_string_lossy().into_owned()).collect()
    }
}

/// The form as the page sends it, for a region across the edge.
pub(super) fn edge_form(label: &str) -> [(&str, &str); 6] {
    let [x, y, width, height] = ["190", "60", "100", "180"];
    let place = [("edge_x", x), ("edge_y", y), ("edge_width", width), ("edge_height", height)];
    [place[0], place[1], place[2], place[3], ("edge_label", label), ("edge_transfer", "linear")]
}

const RULER: [(&str, &str); 5] =
    [("ruler_x1", "12"), ("ruler_y1", "350"), ("ruler_x2", "472"), ("ruler_y2", "350"), ("ruler_tick_mm", "1")];

#[tokio::test]
async fn an_edge_is_measured_kept_and_shown() {
    let house = House::new();
    house.load_card(1).await;
    let sent = house.post("/scans/1/edge", &edge_form("centre")).await;
    assert_eq!((sent.status, sent.header("location")), (StatusCode::SEE_OTHER, "/scans/1?shown=1#m1"));
    let kept = house.measured(1);
    let edge: EdgeDocument = serde_json::from_str(&kept[0].result).expect("an edge");
    let half = edge.main_channel().and_then(|c| c.mtf50_cy_px).expect("a figure");
    // The closed form of a step through a Gaussian and a square pixel.
    assert_close!(half, truth().frequency_at(0.5).expect("crossing"), absolute = 0.003);
    assert_close!(edge.angle_deg, 5.0, absolute = 0.02);
    // In the whole picture's pixels: the edge passes the middle of its part, whose rows are the first 300.
    let [top, bottom] = [edge.trace_px[0], edge.trace_px[edge.trace_px.len() - 1]];
    let at_middle = top[0] + (bottom[0] - top[0]) * (150.0 - top[1]) / (bottom[1] - top[1]);
    assert_close!(at_middle, 240.0, absolute = 0.05);
    let page = house.get("/scans/1?shown=1").await.text();
    let film = crate::web::fmt::figure(half * 1000.0 / PITCH_UM, 2);
    assert!(page.contains("Edge, centre: ") && page.contains(&film), "{film}");
    assert!(page.contains("&quot;trace&quot;") && page.contains("<svg"));
}

#[tokio::test]
async fn a_ruler_gives_the_magnification_which_follows_the_pitch() {
    let house = House::new();
    house.load_card(1).await;
    assert_eq!(house.post("/scans/1/scale", &RULER).await.status, StatusCode::SEE_OTHER);
    let ruler: ScaleDocument = serde_json::from_str(&house.measured(1)[0].result).expect("a ruler");
    // Drawn so: a mark every 20 whole pixels; with 10 µm from pixel to pixel 1 mm takes 0.2 mm on film.
    assert_close!(ruler.px_per_mm, 20.0, relative = 1e-3);
    let taken = house.scan(1).magnification.expect("taken over, since none was known");
    assert_eq!(taken.from, MagnificationSource::Ruler);
    assert_close!(taken.value, 0.2, relative = 1e-3);
    house.post("/scans/1/pitch", &[("pitch", "20"), ("pitch_unit", "um")]).await;
    assert_close!(house.scan(1).magnification.expect("known").value, 0.4, relative = 1e-3);
    house.post("/scans/1/magnification", &[("magnification", "1:2")]).await;
    assert_close!(house.scan(1).magnification.expect("known").value, 0.5, absolute = 0.0);
    assert!(house.get("/scans/1").await.text().contains("Use this magnification for the scan"));
    house.post("/scans/1/measurements/1/use", &[]).await;
    assert_close!(house.scan(1).magnification.expect("known").value, 0.4, relative = 1e-3);
}

#[tokio::test]
async fn what_cannot_be_measured_is_refused_in_words_at_its_form() {
    let house = House::new();
    house.load_card(1).await;
    let even =
        [("edge_x", "10"), ("edge_y", "20"), ("edge_width", "80"), ("edge_height", "90"), ("edge_label", "here")];
    let refused = house.post("/scans/1/edge", &even).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let page = refused.text();
    assert!(page.contains("class=\"refusal\"") && page.contains("value=\"90\"") && page.contains("value=\"here\""));
    let outside =
        house.post("/scans/1/edge", &[("edge_x", "470"), ("edge_y", "0"), ("edge_width", "80"), ("edge_height", "90")]);
    assert!(outside.await.text().contains("480 × 400 pixels"));
    let no_marks =
        [("ruler_x1", "12"), ("ruler_y1", "20"), ("ruler_x2", "200"), ("ruler_y2", "20"), ("ruler_tick_mm", "1")];
    let refused = house.post("/scans/1/scale", &no_marks).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("o ruler&#39;s marks") || refused.text().contains("o ruler's marks"));
    for (path, form) in [("edge", &[][..]), ("scale", &[("ruler_tick_mm", "nonsense")][..])] {
        assert_eq!(
            house.post(&format!("/scans/1/{path}"), form).await.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{path}"
        );
    }
    assert!(house.measured(1).is_empty());
}

#[tokio::test]
async fn two_scans_stand_side_by_side_at_one_size_of_the_subject() {
    let house = House::new();
    for (id, magnification) in [(1, "0.2"), (2, "0.4")] {
        house.load_card(id).await;
        house.post(&format!("/scans/{id}/edge"), &edge_form("Centre")).await;
        house.post(&format!("/scans/{id}/magnification"), &[("magnification", magnification)]).await;
    }
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    // 1 mm of the subject is 0.2 mm on film, 20 pixels of 10 µm; and 40.
    assert!(page.contains("data-px-per-mm=\"20\"") && page.contains("data-px-per-mm=\"40\""), "{page}");
    // Without scripts the second, of half the field, stands half as wide.
    assert!(
        page.contains("transform=\"matrix(1 0 0 1 0 0)\"") && page.contains("transform=\"matrix(0.5 0 0 0.5 "),
        "{page}"
    );
    // Both in one sight.
    let sights: Vec<&str> =
        page.split("class=\"still\" viewBox=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    assert!(sights.len() == 2 && sights[0] == sights[1], "{sights:?}");
    assert!(page.contains("card.tif, by ") && page.contains("near vertical"));
    house.post("/scans/2/magnification", &[("magnification", "")]).await;
    let page = house.get("/side-by-side?scan=1&scan=2").await.text();
    assert!(page.contains("cannot be brought to one size") && page.contains("on film only"));
}

#[tokio::test]
async fn too_few_or_absent_scans_lead_to_the_choice() {
    let house = House::new();
    assert!(house.get("/side-by-side").await.text().contains("Load scans"));
    house.load_card(1).await;
    house.load_card(2).await;
    let one = house.get("/side-by-side?scan=2").await.text();
    assert!(one.contains("tick at least one more") && one.contains("value=\"2\" checked"));
    let absent = house.get("/side-by-side?scan=1&scan=77").await;
    assert_eq!(absent.status, StatusCode::OK);
    assert!(absent.text().contains("Not all of these scans are there"));
}

#[tokio::test]
async fn files_that_are_no_scans_are_refused_and_leave_nothing() {
    let house = House::new();
    let card = card();
    let mut absurd = card.clone();
    // ImageWidth is tag 256 (TIFF 6.0, section 8): its value lies 8 bytes into the entry.
    let entry = absurd.windows(2).position(|pair| pair == 256u16.to_le_bytes()).expect("tag");
    absurd[entry + 8..entry + 12].copy_from_slice(&4_000_000_000u32.to_le_bytes());
    let cases: [(&str, &[u8]); 5] = [
        ("notes.tif", b"Beetles, drawer 4, not a picture at all."),
        ("empty.tif", b""),
        ("half.tif", &card[..card.len() / 2]),
        ("absurd.tif", &absurd),
        ("page.jpg", b"<html><script>alert(1)</script></html>"),
    ];
    for (name, bytes) in cases {
        let refused = house.upload(name, bytes).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert!(refused.text().contains(name) && !refused.text().contains("<script>alert"), "{}", refused.text());
        assert_eq!(house.files(), Vec::<String>::new(), "{name}");
    }
    assert!(house.app.with_notebook(|book| book.scans()).expect("read").is_empty());
}

#[tokio::test]
async fn an_upload_that_breaks_off_leaves_nothing() {
    let house = House::new();
    let whole = multipart("card.tif", &card());
    let request = sending(whole.clone()).header("sec-fetch-site", "same-origin");
    let cut = whole[..whole.len() / 2].to_vec();
    let answer = house.send(request.body(Body::from(cut)).expect("request")).await;
    assert!(answer.status.is_client_error() || answer.status.is_server_error(), "{}", answer.status);
    assert_eq!(house.files(), Vec::<String>::new());
}

#[tokio::test]
async fn a_visitors_name_for_a_file_is_shown_and_nothing_else() {
    let house = House::new();
    assert_eq!(house.upload("../../<b>escape</b>.tif", &card()).await.status, StatusCode::SEE_OTHER);
    let scan = house.scan(1);
    assert_eq!(scan.file_name, "b>.tif", "what follows the last slash");
    assert!(scan.stored.bytes().all(|b| b.is_ascii_hexdigit() || b == b'-'), "{}", scan.stored);
    assert!(house.files().iter().all(|name| name.starts_with(&scan.stored)), "{:?}", house.files());
    assert!(house.get("/scans").await.text().contains("b&gt;.tif"));
}

#[tokio::test]
async fn uploads_from_other_sites_are_turned_away_before_anything_is_written() {
    let house = House::new();
    let body = multipart("card.tif", &card());
    for (site, origin) in [("cross-site", "https://example.org"), ("same-site", "http://127.0.0.1:1"), ("none", "null")]
    {
        let request = sending(body.clone()).header("sec-fetch-site", site).header(header::ORIGIN, origin);
        let answer = house.send(request.body(Body::from(body.clone())).expect("request")).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{site}");
    }
    let elsewhere = Request::builder().method("POST").uri("/scans").header(header::HOST, format!("example.org:{PORT}"));
    let elsewhere = elsewhere.header("sec-fetch-site", "same-origin").body(Body::from(body)).expect("request");
    assert_eq!(house.send(elsewhere).await.status, StatusCode::FORBIDDEN);
    assert_eq!(house.files(), Vec::<String>::new());
}

#[tokio::test]
async fn a_measurement_is_reached_through_its_own_scan_alone() {
    let house = House::new();
    house.load_card(1).await;
    house.load_card(2).await;
    house.post("/scans/1/scale", &RULER).await;
    for path in ["/scans/2/measurements/1/delete", "/scans/2/measurements/1/use", "/scans/1/measurements/9/delete"] {
        assert_eq!(house.post(path, &[]).await.status, StatusCode::NOT_FOUND, "{path}");
    }
    assert_eq!(house.measured(1).len(), 1);
    house.post("/scans/1/measurements/1/delete", &[]).await;
    assert!(house.measured(1).is_empty());
}
