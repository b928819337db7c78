//! What is looked at: pictures by the IIIF Image API 3.0, and marks on clipped samples.
//!
//! Sections are those of <https://iiif.io/api/image/3.0/>, from memory.

use std::ops::ControlFlow;
use std::time::Duration;

use axum::body::Body;
use axum::http::StatusCode;
use planes::{Channels, srgb_encode};
use serde_json::{Value, json};
use testkit::assert_close;

use super::scans::scratch;
use super::{Answer, House, PORT, ask};

/// The picture: columns and rows; more than a tile across and odd both ways.
const SIZE: (u32, u32) = (1101, 701);
/// From this column on the file's red is at full scale, and above this row its blue is 0.
const CLIPPED: (u32, u32) = (1000, 3);

/// Light of red, green, blue at a place, in the file's 16 bits: three even fields and two clipped borders.
fn light(x: u32, y: u32) -> [u16; 3] {
    let mut pixel =
        if x < 550 { [0.5, 0.25, 0.1] } else { [0.05, 0.4, 0.7] }.map(|v| (v * 65_535.0_f64).round() as u16);
    if x >= CLIPPED.0 {
        pixel[0] = u16::MAX;
    }
    if y < CLIPPED.1 {
        pixel[2] = 0;
    }
    pixel
}

/// A TIFF in sRGB numbers without a profile, so that its numbers are the tiles' too.
fn fields() -> Vec<u8> {
    let path = scratch("fields.tif");
    let encode = |v: u16| match v {
        0 | u16::MAX => v,
        _ => (srgb_encode(f64::from(v) / 65_535.0) * 65_535.0).round() as u16,
    };
    imaging::write_tiff_rgb16(&path, SIZE.0, SIZE.1, None, None, |y, row| {
        row.chunks_mut(3).enumerate().for_each(|(x, p)| p.copy_from_slice(&light(x as u32, y).map(encode)));
        ControlFlow::Continue(())
    })
    .expect("written");
    let bytes = std::fs::read(&path).expect("read");
    std::fs::remove_file(&path).expect("removed");
    bytes
}

impl House {
    async fn with_fields() -> Self {
        let house = Self::new();
        house.load("fields.tif", &fields(), 1).await;
        house
    }

    async fn picture(&self, request: &str) -> Answer {
        self.get(&format!("/iiif/scans/1/{request}")).await
    }
}

/// A JPEG read again: columns, rows, and the sRGB numbers of red, green, blue at a place, 0 to 255.
struct Seen(imaging::EncodedReading);

impl Seen {
    fn of(answer: &Answer) -> Self {
        assert_eq!((answer.status, answer.header("content-type")), (StatusCode::OK, "image/jpeg"));
        let path = scratch("seen.jpg");
        std::fs::write(&path, &answer.body).expect("written");
        let mut scan = imaging::Scan::open(&path).expect("a picture");
        let whole = scan.whole();
        let reading = scan.read_encoded(whole).expect("read");
        std::fs::remove_file(&path).expect("removed");
        Self(reading)
    }

    fn size(&self) -> (usize, usize) {
        (self.0.picture.width(), self.0.picture.height())
    }

    fn at(&self, x: usize, y: usize) -> [f64; 3] {
        match self.0.picture.channels() {
            Channels::Grey(plane) => [f64::from(plane.at(x, y)) * 255.0; 3],
            Channels::Rgb { planes, .. } => [0, 1, 2].map(|i| f64::from(planes[i].at(x, y)) * 255.0),
        }
    }
}

/// What JPEG of quality 85 may change in an even field, in numbers of 255; measured, not a law: rounding in Y, Cb, Cr.
const JPEG: f64 = 2.5;

fn assert_seen(seen: [f64; 3], light: [f64; 3]) {
    for (number, light) in seen.into_iter().zip(light) {
        assert_close!(number, 255.0 * srgb_encode(light), absolute = JPEG);
    }
}

#[tokio::test]
async fn a_scan_describes_itself_by_section_5() {
    let house = House::with_fields().await;
    let answer = house.picture("info.json").await;
    // 5.1: plain JSON unless JSON-LD is asked for.
    assert_eq!((answer.status, answer.header("content-type")), (StatusCode::OK, "application/json"));
    let info: Value = serde_json::from_slice(&answer.body).expect("JSON");
    let wanted = json!({
        // 5.2: context, id without a slash at its end, type, protocol, profile, size.
        "@context": "http://iiif.io/api/image/3/context.json",
        "id": format!("http://127.0.0.1:{PORT}/iiif/scans/1"),
        "type": "ImageService3",
        "protocol": "http://iiif.io/api/image",
        // 6: without leave for other sites level 0 is claimed, and what there is of level 1 is listed.
        "profile": "level0",
        "width": 1101,
        "height": 701,
        // 5.2: limits. 5.3: sizes, each by the rounding of the tiles. 5.4: tiles.
        "maxWidth": 2048,
        "maxHeight": 2048,
        "sizes": [{"width": 276, "height": 176}, {"width": 551, "height": 351}, {"width": 1101, "height": 701}],
        "tiles": [{"width": 512, "height": 512, "scaleFactors": [1, 2, 4]}],
        // 5.7: what there is beyond level 1.
        "extraQualities": ["color", "gray", "red", "green", "blue"],
        "extraFeatures": ["baseUriRedirect", "jsonldMediaType", "regionByPx", "regionSquare", "sizeByH", "sizeByW",
            "canonicalLinkHeader", "profileLinkHeader", "sizeByWh"],
    });
    assert_eq!(info, wanted);
    for size in info["sizes"].as_array().expect("sizes") {
        let request = format!("full/{},{}/0/default.jpg", size["width"], size["height"]);
        assert_eq!(house.picture(&request).await.status, StatusCode::OK, "{request}");
    }
}

#[tokio::test]
async fn json_ld_is_given_to_those_who_ask_by_section_5_1() {
    let house = House::with_fields().await;
    let ld = "application/ld+json;profile=\"http://iiif.io/api/image/3/context.json\"";
    let kinds = [
        ("application/ld+json", ld),
        (ld, ld),
        ("text/html, application/ld+json;q=0.5", ld),
        ("application/json", "application/json"),
        ("*/*", "application/json"),
        ("application/ld+json; q=0", "application/json"),
    ];
    for (accept, wanted) in kinds {
        let request = ask("GET", "/iiif/scans/1/info.json").header("accept", accept).body(Body::empty());
        assert_eq!(house.send(request.expect("request")).await.header("content-type"), wanted, "{accept}");
    }
}

#[tokio::test]
async fn the_bare_address_leads_to_the_description_by_section_2() {
    let house = House::with_fields().await;
    for base in ["/iiif/scans/1", "/iiif/scans/1/"] {
        let answer = house.get(base).await;
        let next = format!("http://127.0.0.1:{PORT}/iiif/scans/1/info.json");
        assert_eq!((answer.status, answer.header("location")), (StatusCode::SEE_OTHER, next.as_str()), "{base}");
    }
    assert_eq!(house.get("/iiif/scans/2").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn requests_for_tiles_are_answered_with_the_stored_bytes() {
    let house = House::with_fields().await;
    let tiles = crate::web::scans::tiles_of(&house.app, &house.scan(1).stored);
    let p = imaging::pyramid::load(&tiles).expect("a pyramid");
    let cases = [
        ("0,0,512,512/512,512", "0/0_0.jpg"),
        ("1024,512,77,189/max", "0/2_1.jpg"),
        ("1024,0,77,701/39,351", "1/1_0.jpg"),
        ("full/276,176", "2/0_0.jpg"),
    ];
    for (request, name) in cases {
        let answer = house.picture(&format!("{request}/0/default.jpg")).await;
        assert!(answer.body == std::fs::read(tiles.join(name)).expect("a tile"), "{request} is {name}");
    }
    assert_eq!(p.levels, 3);
}

#[tokio::test]
async fn any_region_is_composed_and_keeps_its_tones() {
    let house = House::with_fields().await;
    // 4.1 and 4.2: cut off at the edge; the shape kept to the nearest pixel; no size above the region's.
    let seen = Seen::of(&house.picture("500,100,100,200/50,/0/default.jpg").await);
    assert_eq!(seen.size(), (50, 100));
    // The border between the fields at column 550 falls between the answer's columns 24 and 25.
    assert_seen(seen.at(8, 50), [0.5, 0.25, 0.1]);
    assert_seen(seen.at(42, 50), [0.05, 0.4, 0.7]);
    let seen = Seen::of(&house.picture("square/100,100/0/default.jpg").await);
    // As large as can be and in the middle: columns 200 to 900, so the border is at (550 - 200) / 701 of it.
    assert_seen(seen.at(40, 50), [0.5, 0.25, 0.1]);
    assert_seen(seen.at(60, 50), [0.05, 0.4, 0.7]);
    // One pixel of everything: light is averaged, not numbers. Closed form from the fields' areas.
    let seen = Seen::of(&house.picture("full/1,1/0/default.jpg").await);
    let share = |from: u32, to: u32| f64::from(to - from) / f64::from(SIZE.0);
    let red = 0.5 * share(0, 550) + 0.05 * share(550, CLIPPED.0) + share(CLIPPED.0, SIZE.0);
    let unclipped = 1.0 - f64::from(CLIPPED.1) / f64::from(SIZE.1);
    let blue = (0.1 * share(0, 550) + 0.7 * share(550, SIZE.0)) * unclipped;
    assert_seen(seen.at(0, 0), [red, 0.25 * share(0, 550) + 0.4 * share(550, SIZE.0), blue]);
    assert!(
        house.files().iter().all(|name| !name.ends_with(".tif") && !name.ends_with(".part")),
        "{:?}",
        house.files()
    );
}

#[tokio::test]
async fn channels_and_luminance_are_shown_as_grey_by_section_4_4() {
    let house = House::with_fields().await;
    // Luminance by IEC 61966-2-1: 0.2126 R + 0.7152 G + 0.0722 B of light.
    let luminance = 0.2126 * 0.5 + 0.7152 * 0.25 + 0.0722 * 0.1;
    for (quality, light) in [("red", 0.5), ("green", 0.25), ("blue", 0.1), ("gray", luminance)] {
        let seen = Seen::of(&house.picture(&format!("100,100,200,200/max/0/{quality}.jpg")).await);
        assert_seen(seen.at(100, 100), [light; 3]);
    }
    let colour = house.picture("0,0,512,512/max/0/color.jpg").await;
    assert!(colour.body == house.picture("0,0,512,512/max/0/default.jpg").await.body);
}

#[tokio::test]
async fn what_is_wrong_or_not_offered_is_told_by_its_status_by_section_7() {
    let house = House::with_fields().await;
    let cases = [
        ("0,0,0,9/max/0/default.jpg", StatusCode::BAD_REQUEST, "no pixels"),
        ("1101,0,9,9/max/0/default.jpg", StatusCode::BAD_REQUEST, "1101 × 701"),
        ("full/1102,/0/default.jpg", StatusCode::BAD_REQUEST, "nothing is scaled up"),
        ("full/max/0/bitonal.jpg", StatusCode::BAD_REQUEST, "bitonal"),
        ("full/max/0/default.png", StatusCode::BAD_REQUEST, "png"),
        ("full/%5Emax/0/default.jpg", StatusCode::NOT_IMPLEMENTED, "Scaling up"),
        ("full/!99,99/0/default.jpg", StatusCode::NOT_IMPLEMENTED, "within a frame"),
        ("pct:1,2,3,4/max/0/default.jpg", StatusCode::NOT_IMPLEMENTED, "per cent"),
        ("full/max/90/default.jpg", StatusCode::NOT_IMPLEMENTED, "Turning"),
        ("full/max/!0/default.jpg", StatusCode::NOT_IMPLEMENTED, "mirroring"),
    ];
    for (request, status, words) in cases {
        let answer = house.picture(request).await;
        assert_eq!(answer.status, status, "{request}");
        assert!(answer.text().contains(words), "{request}: {}", answer.text());
    }
    for absent in ["/iiif/scans/2/info.json", "/iiif/scans/x/full/max/0/default.jpg", "/iiif/scans/1/full/max/0"] {
        assert_eq!(house.get(absent).await.status, StatusCode::NOT_FOUND, "{absent}");
    }
    let stored = house.scan(1).stored;
    for escape in ["..%2f..%2fnotebook.sqlite", "default.jpg%00.png", &format!("..%2f{stored}")] {
        assert_eq!(house.picture(&format!("full/max/0/{escape}")).await.status, StatusCode::BAD_REQUEST, "{escape}");
    }
}

#[tokio::test]
async fn a_scan_that_is_being_prepared_says_so() {
    let house = House::new();
    // Somebody else's work takes all cores until `done` is dropped.
    let (busy, done) = (house.app.clone(), std::sync::mpsc::channel::<()>());
    let worker = std::thread::spawn(move || (busy.turn(), done.1.recv().is_ok()).1);
    house.upload("fields.tif", &fields()).await;
    let answer = house.picture("info.json").await;
    assert_eq!((answer.status, answer.header("retry-after")), (StatusCode::SERVICE_UNAVAILABLE, "2"));
    drop(done.0);
    assert!(!worker.join().expect("ended"));
}

#[tokio::test]
async fn answers_name_their_canonical_address_and_their_level_by_section_6() {
    let house = House::with_fields().await;
    let answer = house.picture("0,0,1101,701/276,/0.0/color.jpg").await;
    let link = format!(
        "<http://127.0.0.1:{PORT}/iiif/scans/1/full/276,176/0/default.jpg>;rel=\"canonical\", \
         <http://iiif.io/api/image/3/level0.json>;rel=\"profile\""
    );
    assert_eq!((answer.status, answer.header("link")), (StatusCode::OK, link.as_str()));
    let known = ask("GET", "/iiif/scans/1/full/276,176/0/default.jpg").header("if-none-match", answer.header("etag"));
    let again = house.send(known.body(Body::empty()).expect("request")).await;
    assert_eq!((again.status, again.body.len()), (StatusCode::NOT_MODIFIED, 0));
    assert_eq!(answer.header("cache-control"), "private, no-cache");
    let named = house.picture(&format!("full/276,176/0/default.jpg?v={}", house.scan(1).stored)).await;
    assert_eq!(named.header("cache-control"), "private, max-age=31536000, immutable");
}

#[tokio::test]
async fn only_our_own_addresses_may_read_scans_from_a_page() {
    let house = House::with_fields().await;
    let paths = ["/iiif/scans/1", "/iiif/scans/1/info.json", "/iiif/scans/1/full/9,/0/default.jpg", "/iiif/scans/7"];
    let own = format!("http://localhost:{PORT}");
    let foreign =
        ["https://example.org", "null", "http://localhost", "http://127.0.0.1:4712", "https://127.0.0.1:4711"];
    for path in paths {
        let asked_by = |origin: &str| {
            let request = ask("GET", path).header("origin", origin).header("sec-fetch-site", "cross-site");
            house.send(request.body(Body::empty()).expect("request"))
        };
        assert_eq!(asked_by(&own).await.header("access-control-allow-origin"), own, "{path}");
        for origin in foreign {
            let answer = asked_by(origin).await;
            assert_eq!(answer.header("access-control-allow-origin"), "", "{path} for {origin}");
            assert_eq!(answer.header("cross-origin-resource-policy"), "same-origin", "{path} for {origin}");
        }
    }
}

/// The compliance table of the Image API 3.0 (`cors` is level 1).
#[tokio::test]
async fn level_1_is_claimed_when_sites_were_named_and_they_may_read() {
    let house = House::with_fields().await;
    house.app.let_read(vec!["https://example.org".parse().expect("a site")]);
    let asked_by = |origin: &'static str| {
        house.send(ask("GET", "/iiif/scans/1/info.json").header("origin", origin).body(Body::empty()).expect("request"))
    };
    let named = asked_by("https://example.org").await;
    assert_eq!(named.header("access-control-allow-origin"), "https://example.org");
    assert_eq!(named.header("link"), "<http://iiif.io/api/image/3/level1.json>;rel=\"profile\"");
    let info: Value = serde_json::from_slice(&named.body).expect("JSON");
    assert_eq!(info["profile"], "level1");
    assert_eq!(info["extraFeatures"], json!(["canonicalLinkHeader", "profileLinkHeader", "sizeByWh"]));
    for other in ["https://example.com", "http://example.org", "https://example.org:8443", "null"] {
        assert_eq!(asked_by(other).await.header("access-control-allow-origin"), "", "{other}");
    }
    let open = House::with_fields().await;
    open.app.let_read(vec!["any".parse().expect("every site")]);
    let request = ask("GET", "/iiif/scans/1/full/9,/0/default.jpg").header("origin", "https://example.com");
    let answer = open.send(request.body(Body::empty()).expect("request")).await;
    assert_eq!(answer.header("access-control-allow-origin"), "*");
}

#[tokio::test]
async fn clipped_samples_are_counted_in_the_file_and_marked_where_they_are() {
    let house = House::with_fields().await;
    let absent: Value = serde_json::from_slice(&house.get("/scans/1/ends").await.body).expect("JSON");
    assert_eq!(absent["state"], "absent");
    assert_eq!(house.get("/scans/1/ends/0/0_0").await.status, StatusCode::NOT_FOUND);
    house.post("/scans/1/ends", &[]).await;
    let mut ready = absent;
    for _ in 0..2400 {
        ready = serde_json::from_slice(&house.get("/scans/1/ends").await.body).expect("JSON");
        if ready["state"] != "working" {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    // Closed form: the clipped borders' areas.
    let (columns, rows) = (SIZE.0 - CLIPPED.0, CLIPPED.1);
    let wanted = json!({
        "state": "ready", "pixels": SIZE.0 * SIZE.1, "grey": false,
        "low": [0, 0, SIZE.0 * rows], "high": [columns * SIZE.1, 0, 0],
    });
    assert_eq!(ready, wanted);
    // Above, three rows of blue at zero (bit 2) and then nothing: 512 x 3 = 1536 = 0 + 12 * 128 in LEB128, the rest
    // 512 x 509 = 260 608 = 0 + 116 * 128 + 15 * 128 * 128.
    let marks = house.get("/scans/1/ends/0/0_0").await;
    assert_eq!((marks.status, marks.body), (StatusCode::OK, vec![4, 0x80, 0x0c, 0, 0x80, 0xf4, 0x0f]));
    assert_eq!(house.get("/scans/1/ends/0/0_1").await.status, StatusCode::NO_CONTENT, "nothing is clipped there");
    for nothing in ["0/9_9", "9/0_0", "0/..%2fends.json", "x/0_0", "0/0"] {
        assert_eq!(house.get(&format!("/scans/1/ends/{nothing}")).await.status, StatusCode::NOT_FOUND, "{nothing}");
    }
    house.post("/scans/1/delete", &[]).await;
    for _ in 0..2400 {
        if house.files().is_empty() {
            return;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("deleting left {:?}", house.files());
}

#[tokio::test]
async fn without_scripts_the_page_shows_the_picture_and_its_forms() {
    let house = House::with_fields().await;
    let page = house.get("/scans/1").await.text();
    let still = format!("<noscript><img src=\"/iiif/scans/1/full/276,176/0/default.jpg?v={}\"", house.scan(1).stored);
    assert!(page.contains(&still), "{page}");
    assert!(page.contains("id=\"edge-form\" method=\"post\"") && page.contains("name=\"edge_x\""));
    assert!(page.contains("class=\"tools\" hidden"), "what only scripts can do is not promised");
    assert!(page.contains("data-pictures=\"/iiif/scans/1\"") && page.contains("aria-label=\"The scan."));
}
