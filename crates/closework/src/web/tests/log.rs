//! The log: the phone's door, what comes through it, and what the computer shows of it.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};

use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, StatusCode};
use notebook::{FrameDraft, FrameId, FrameState, JobDraft, RollDraft, RollId};
use serde_json::{Value, json};
use tower::ServiceExt;

use super::{Answer, House, ask};
use crate::web::log::at_camera::{self, Here};

const HERE: &str = "192.168.7.20:4621";
const ORIGIN: &str = "http://192.168.7.20:4621";
const AT: &str = "2026-03-01T09:00:00.000Z";

fn uid(number: u32) -> String {
    format!("0d9f5a3e-93c1-4b6a-9f10-{number:012x}")
}

/// A request as a phone sends it to the machine's address.
fn from_phone(method: &str, path: &str) -> axum::http::request::Builder {
    let request = Request::builder().method(method).uri(path).header("host", HERE);
    if method == "GET" { request } else { request.header("origin", ORIGIN) }
}

impl House {
    /// Sends to the listener for phones.
    async fn camera(&self, mut request: Request<Body>) -> Answer {
        let here: SocketAddr = HERE.parse().expect("address");
        request.extensions_mut().insert(ConnectInfo(Here(here)));
        let response = at_camera::router(self.app.clone()).oneshot(request).await.expect("infallible");
        Answer::read(response).await
    }

    async fn phone_get(&self, path: &str, cookie: &str) -> Answer {
        self.camera(from_phone("GET", path).header("cookie", cookie).body(Body::empty()).expect("request")).await
    }

    async fn phone_post(&self, path: &str, cookie: &str, body: impl Into<Body>) -> Answer {
        self.camera(from_phone("POST", path).header("cookie", cookie).body(body.into()).expect("request")).await
    }

    async fn phone_form(&self, path: &str, form: &[(&str, &str)]) -> Answer {
        let body: String = form_urlencoded::Serializer::new(String::new()).extend_pairs(form).finish();
        let kind = "application/x-www-form-urlencoded";
        self.camera(from_phone("POST", path).header("content-type", kind).body(Body::from(body)).expect("request"))
            .await
    }

    /// A roll with planned frames 1 to 3, open to phones.
    fn roll(&self) -> RollId {
        self.app.with_notebook(|book| {
            let draft = JobDraft { title: "Beetles".into(), ..JobDraft::default() };
            let job = book.add_job(&draft, false, AT).expect("job");
            let roll = book.add_roll(job, &RollDraft { title: "Roll 7".into(), ..RollDraft::default() }).expect("roll");
            for number in 1..=3 {
                let (f_number, shutter_s) = (Some(11.0), Some(0.25));
                let draft = FrameDraft { number, label: "weevil".into(), f_number, shutter_s, ..FrameDraft::default() };
                book.add_frame(roll, &draft).expect("frame");
            }
            book.set_roll_at_camera(roll, true).expect("open");
            roll
        })
    }

    /// Pairs a phone and gives its cookie.
    async fn pair(&self) -> String {
        let door = &self.app.camera().door;
        door.show_code(crate::web::log::test_code()).expect("no pause");
        let code = door.code().expect("a code").0;
        let answer = self.phone_form("/pair", &[("code", code.digits()), ("name", "My phone")]).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", answer.text());
        let cookie = answer.header("set-cookie");
        assert!(cookie.ends_with("; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict"), "{cookie}");
        cookie.split(';').next().expect("a pair").to_owned()
    }

    async fn say(&self, cookie: &str, entries: Value) -> Value {
        let answer = self.phone_post("/rolls/1/entries", cookie, json!({ "entries": entries }).to_string()).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        serde_json::from_slice(&answer.body).expect("JSON")
    }

    fn frame_at(&self, id: i64) -> notebook::Frame {
        self.app.with_notebook(|book| book.frame(FrameId(id))).expect("read").expect("there")
    }

    fn entries(&self) -> Vec<notebook::Entry> {
        self.app.with_notebook(|book| book.entries_of_roll(RollId(1))).expect("read")
    }
}

fn taken(frame: i64, sequence: u32) -> Value {
    let uid = uid(sequence);
    json!({ "uid": uid, "frame": frame, "number": frame, "sequence": sequence, "said": "taken", "said_at": AT })
}

#[tokio::test]
async fn a_phone_pairs_sees_the_roll_and_logs_on_it() {
    let house = House::new();
    house.roll();
    assert_eq!(house.phone_get("/", "").await.header("location"), "/pair");
    assert!(house.phone_get("/pair?code=123456", "").await.text().contains("value=\"123456\""));
    let cookie = house.pair().await;
    assert_eq!(house.phone_get("/", &cookie).await.header("location"), "/rolls/1");
    let page = house.phone_get("/rolls/1", &cookie).await;
    assert!(page.status.is_success() && page.text().contains("weevil"), "{}", page.text());
    let changed = json!({ "uid": uid(2), "frame": 2, "number": 2, "sequence": 2, "said": "changed", "said_at": AT,
        "set": { "f_number": 8 }, "meter": "1/15", "note": "lamp moved" });
    let answer = house.say(&cookie, json!([taken(1, 1), changed])).await;
    assert_eq!(answer["kept"], json!([uid(1), uid(2)]));
    assert_eq!(answer["refused"], json!([]));
    assert_eq!(answer["sheet"]["frames"][0]["state"], "shot");
    assert_eq!(answer["sheet"]["frames"][1]["planned"]["f_number"], 11.0);
    assert_eq!(answer["sheet"]["last"], 2);
    let frame = house.frame_at(2);
    assert_eq!((frame.state, frame.f_number, frame.metered_s), (FrameState::Shot, Some(8.0), Some(1.0 / 15.0)));
    // Both clocks are kept.
    let entry = house.entries().remove(1);
    assert_eq!((entry.said_at.as_str(), entry.note.as_str(), entry.meter.as_str()), (AT, "lamp moved", "1/15"));
    assert_ne!(entry.arrived, AT);
}

#[tokio::test]
async fn a_second_post_changes_nothing() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    for _ in 0..3 {
        let answer = house.say(&cookie, json!([taken(1, 1), taken(1, 1)])).await;
        assert_eq!(answer["kept"], json!([uid(1), uid(1)]));
    }
    assert_eq!(house.entries().len(), 1);
}

#[tokio::test]
async fn without_a_token_there_is_nothing_but_the_pairing_page() {
    let house = House::new();
    house.roll();
    let known = house.pair().await;
    for cookie in ["", "phone=", "phone=0000", "phone=' OR 1=1 --", &known.to_uppercase()] {
        for path in ["/rolls/1", "/rolls/1/sheet"] {
            let answer = house.phone_get(path, cookie).await;
            assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{cookie} {path}");
            assert!(!answer.text().contains("weevil") && answer.text().contains("href=\"/pair\""));
        }
        let body = json!({ "entries": [taken(1, 1)] }).to_string();
        assert_eq!(house.phone_post("/rolls/1/entries", cookie, body).await.status, StatusCode::UNAUTHORIZED);
    }
    assert!(house.entries().is_empty());
}

#[tokio::test]
async fn a_paired_phone_reaches_the_log_and_nothing_else() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    for path in
        ["/jobs", "/jobs/1", "/kit", "/scans", "/phones", "/rolls/1/log", "/photos/1", "/tasks", "/assets/sheet.js"]
    {
        assert_eq!(house.phone_get(path, &cookie).await.status, StatusCode::NOT_FOUND, "{path}");
    }
    for path in ["/phones/code", "/frames/1/shot", "/rolls/1/at-camera", "/manners"] {
        assert_eq!(house.phone_post(path, &cookie, "").await.status, StatusCode::NOT_FOUND, "{path}");
    }
    assert_eq!(house.phone_get("/assets/log.js", "").await.status, StatusCode::OK);
    // And the computer's own pages do not take what phones send.
    assert_eq!(house.post("/rolls/1/entries", &[]).await.status, StatusCode::NOT_FOUND);
    // A roll that was not opened is no roll for a phone.
    house.app.with_notebook(|book| book.set_roll_at_camera(RollId(1), false)).expect("close");
    for path in ["/rolls/1", "/rolls/1/sheet", "/rolls/2", "/rolls/x"] {
        assert_eq!(house.phone_get(path, &cookie).await.status, StatusCode::FORBIDDEN, "{path}");
    }
    let body = json!({ "entries": [taken(1, 1)] }).to_string();
    let refused = house.phone_post("/rolls/1/entries", &cookie, body).await;
    assert_eq!((refused.status, house.entries().len()), (StatusCode::FORBIDDEN, 0));
    assert!(refused.text().contains("Roll 1 is not open for phones."));
}

#[tokio::test]
async fn foreign_hosts_and_origins_are_turned_away() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    for host in [
        "example.org",
        "example.org:4621",
        "192.168.7.20",
        "192.168.7.20:80",
        "192.168.7.21:4621",
        "127.0.0.1:4621",
        "",
    ] {
        let request = Request::builder().uri("/pair").header("host", host).body(Body::empty()).expect("request");
        assert_eq!(house.camera(request).await.status, StatusCode::FORBIDDEN, "{host}");
    }
    let origins = [
        None,
        Some("null"),
        Some("http://example.org"),
        Some("https://192.168.7.20:4621"),
        Some("http://192.168.7.20"),
    ];
    for origin in origins {
        let request =
            Request::builder().method("POST").uri("/rolls/1/entries").header("host", HERE).header("cookie", &cookie);
        let request = origin.into_iter().fold(request, |request, origin| request.header("origin", origin));
        let body = Body::from(json!({ "entries": [taken(1, 1)] }).to_string());
        assert_eq!(
            house.camera(request.body(body).expect("request")).await.status,
            StatusCode::FORBIDDEN,
            "{origin:?}"
        );
    }
    let cross =
        from_phone("POST", "/pair").header("sec-fetch-site", "cross-site").body(Body::empty()).expect("request");
    assert_eq!(house.camera(cross).await.status, StatusCode::FORBIDDEN);
    assert!(house.entries().is_empty());
}

#[tokio::test]
async fn every_answer_to_a_phone_is_hedged_in_and_stored_nowhere() {
    let house = House::new();
    for path in ["/pair", "/rolls/1", "/nothing", "/assets/log.js"] {
        let answer = house.phone_get(path, "").await;
        assert_eq!(answer.header("cache-control"), "no-store", "{path}");
        assert!(answer.header("content-security-policy").contains("frame-ancestors 'none'"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
    }
}

#[tokio::test]
async fn ten_wrong_codes_and_then_a_pause() {
    let house = House::new();
    let door = &house.app.camera().door;
    door.show_code(crate::web::log::test_code()).expect("no pause");
    let right = door.code().expect("a code").0;
    for left in (1..10).rev() {
        let answer = house.phone_form("/pair", &[("code", "12")]).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
        let words = if left == 1 { "1 try is left".to_owned() } else { format!("{left} tries are left") };
        assert!(answer.text().contains(&words), "{}", answer.text());
    }
    for code in ["12", right.digits()] {
        let answer = house.phone_form("/pair", &[("code", code)]).await;
        assert_eq!(answer.status, StatusCode::TOO_MANY_REQUESTS, "{code}");
        assert!(answer.text().contains("nobody can pair for 5 minutes more"), "{}", answer.text());
    }
    assert!(house.app.with_notebook(|book| book.devices()).expect("read").is_empty());
}

#[tokio::test]
async fn a_code_pairs_one_phone() {
    let house = House::new();
    let door = &house.app.camera().door;
    door.show_code(crate::web::log::test_code()).expect("no pause");
    let code = door.code().expect("a code").0;
    let form = [("code", code.digits()), ("name", "  ")];
    assert_eq!(house.phone_form("/pair", &form).await.status, StatusCode::SEE_OTHER);
    let again = house.phone_form("/pair", &form).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(again.text().contains("No code is waiting"), "{}", again.text());
    let names: Vec<_> =
        house.app.with_notebook(|book| book.devices()).expect("read").into_iter().map(|d| d.name).collect();
    assert_eq!(names, ["Phone"]);
}

#[tokio::test]
async fn a_phone_that_was_turned_away_stays_out() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    assert_eq!(house.post("/phones/1/revoke", &[]).await.status, StatusCode::SEE_OTHER);
    let answer = house.phone_get("/rolls/1", &cookie).await;
    assert_eq!(answer.status, StatusCode::UNAUTHORIZED);
    assert!(answer.text().contains("This phone was turned away at the computer."));
    let body = json!({ "entries": [taken(1, 1)] }).to_string();
    assert_eq!(house.phone_post("/rolls/1/entries", &cookie, body).await.status, StatusCode::UNAUTHORIZED);
    assert!(house.entries().is_empty());
    assert!(house.get("/phones").await.text().contains("turned away 20"));
}

#[tokio::test]
async fn what_cannot_be_kept_is_named_and_holds_up_nothing() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    let with = |change: Value| {
        let mut entry = taken(1, 9);
        entry.as_object_mut().expect("object").extend(change.as_object().expect("object").clone());
        entry
    };
    let wrong = [
        (json!({ "uid": "x" }), "it must be a UUID"),
        (json!({ "said": "burnt" }), "“burnt” is nothing that can be said of a frame"),
        (json!({ "said": "changed", "set": { "f_number": 0 } }), "The f-number is 0: it must be a number above 0"),
        (json!({ "said": "changed", "set": { "shutter_s": -1 } }), "The shutter time is -1"),
        (json!({ "said": "changed", "set": { "f_number": "f/o" } }), "cannot be read"),
        (json!({ "said_at": "yesterday" }), "“yesterday” is not a time"),
        (json!({ "note": "x".repeat(4001) }), "The note has 4001 letters; at most 4000 are taken"),
        (json!({ "sequence": -1 }), "cannot be read"),
    ];
    for (change, why) in wrong {
        let answer = house.say(&cookie, json!([with(change.clone()), taken(2, 2)])).await;
        assert_eq!(answer["kept"], json!([uid(2)]), "{change}");
        assert!(answer["refused"][0]["why"].as_str().is_some_and(|told| told.contains(why)), "{change}: {answer}");
    }
    assert_eq!(house.entries().len(), 1);
    let many = json!({ "entries": vec![taken(1, 1); 101] }).to_string();
    for body in ["", "[]", "{\"entries\": 1}", "\u{0}\u{1}", &many] {
        let answer = house.phone_post("/rolls/1/entries", &cookie, body.to_owned()).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{body:.20}");
    }
    let large = "x".repeat(513 * 1024);
    assert_eq!(house.phone_post("/rolls/1/entries", &cookie, large).await.status, StatusCode::PAYLOAD_TOO_LARGE);
}

#[tokio::test]
async fn what_finds_no_frame_is_kept_with_the_reason() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    house.app.with_notebook(|book| book.delete_frame(FrameId(2))).expect("delete");
    let twice = json!({ "uid": uid(8), "frame": null, "number": 3, "sequence": 8, "said": "extra", "said_at": AT,
        "set": { "f_number": 8 } });
    let answer = house.say(&cookie, json!([taken(2, 7), twice])).await;
    assert_eq!(answer["kept"], json!([uid(7), uid(8)]));
    let page = house.get("/rolls/1/log").await.text();
    assert!(page.contains("Said of frames that are not here"), "{page}");
    assert!(page.contains("Frame 2 was deleted before this arrived, so it is kept as a note."));
    assert!(page.contains("The roll has a frame 3 already, so this one is kept as a note."));
}

/// A PNG of one black pixel (PNG specification, second edition: signature, IHDR, IDAT, IEND).
const PNG: [u8; 67] = [
    0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 0x0d, 0x49, 0x48, 0x44, 0x52, 0, 0, 0, 1, 0, 0, 0, 1, 8,
    0, 0, 0, 0, 0x3a, 0x7e, 0x9b, 0x55, 0, 0, 0, 0x0a, 0x49, 0x44, 0x41, 0x54, 0x78, 0xda, 0x63, 0x60, 0, 0, 0, 2, 0,
    1, 0xe5, 0x27, 0xde, 0xfc, 0, 0, 0, 0, 0x49, 0x45, 0x4e, 0x44, 0xae, 0x42, 0x60, 0x82,
];

fn piece(number: u32, bytes: usize, offset: usize) -> String {
    format!("/rolls/1/photos/{}?frame=1&number=1&bytes={bytes}&offset={offset}&at={AT}", uid(number))
}

#[tokio::test]
async fn a_photo_arrives_in_pieces_once() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    let standing = async |offset: usize, bytes: &'static [u8]| -> Value {
        let path = piece(1, PNG.len(), offset);
        let answer = house.phone_post(&path, &cookie, bytes).await;
        serde_json::from_slice(&answer.body).expect("JSON")
    };
    static WHOLE: [u8; 67] = PNG;
    assert_eq!(standing(0, &[]).await, json!({ "have": 0, "done": false }));
    assert_eq!(standing(0, &WHOLE[..30]).await, json!({ "have": 30, "done": false }));
    let page = house.get("/rolls/1/log").await.text();
    assert!(page.contains("is still on its way from the phone"), "{page}");
    // The same piece again, as after a lost answer.
    let again = house.phone_post(&piece(1, PNG.len(), 0), &cookie, &WHOLE[..30]).await;
    assert_eq!(again.status, StatusCode::CONFLICT);
    assert_eq!(standing(0, &[]).await, json!({ "have": 30, "done": false }));
    assert_eq!(standing(30, &WHOLE[30..]).await, json!({ "have": 67, "done": true }));
    assert_eq!(standing(0, &WHOLE[..30]).await, json!({ "have": 67, "done": true }), "a second sending");
    let shown = house.get("/photos/1").await;
    assert_eq!((shown.header("content-type"), shown.body.as_slice()), ("image/png", PNG.as_slice()));
    assert!(house.get("/rolls/1/log").await.text().contains("src=\"/photos/1\""));
    assert_eq!(house.post("/photos/1/delete", &[]).await.header("location"), "/rolls/1/log");
    assert_eq!(house.get("/photos/1").await.status, StatusCode::NOT_FOUND);
    assert_eq!(std::fs::read_dir(house.app.photos_folder()).expect("folder").count(), 0);
}

#[tokio::test]
async fn photos_that_are_too_large_or_none() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    let huge = house.phone_post(&piece(1, 25 * 1024 * 1024, 0), &cookie, vec![0; 10]).await;
    assert_eq!(huge.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(huge.text().contains("at most"), "{}", huge.text());
    let large_piece = house.phone_post(&piece(1, 3 << 20, 0), &cookie, vec![0; (1 << 20) + 1]).await;
    assert_eq!(large_piece.status, StatusCode::PAYLOAD_TOO_LARGE);
    let more = house.phone_post(&piece(2, 5, 0), &cookie, vec![0; 6]).await;
    assert_eq!(more.status, StatusCode::PAYLOAD_TOO_LARGE);
    for no_picture in [b"<svg onload=alert(1)/>".as_slice(), b"\xff\xd8\xff\xe0 nothing more", b"GIF89a", b"x"] {
        let sent = house.phone_post(&piece(3, no_picture.len(), 0), &cookie, no_picture.to_vec()).await;
        assert_eq!(sent.status, StatusCode::UNPROCESSABLE_ENTITY, "{no_picture:?}");
        assert!(sent.text().contains("no picture"), "{}", sent.text());
    }
    let bad = house.phone_post(&format!("/rolls/1/photos/..%2f..%2fx?bytes=1&offset=0&at={AT}"), &cookie, "x").await;
    assert_eq!(bad.status, StatusCode::UNPROCESSABLE_ENTITY);
    let photos = house.app.with_notebook(|book| book.photos_of_roll(RollId(1))).expect("read");
    assert!(photos.iter().all(|photo| photo.stored.is_none()), "{photos:?}");
}

#[tokio::test]
async fn the_computer_shows_what_was_taken_beside_its_plan() {
    let house = House::new();
    house.roll();
    let cookie = house.pair().await;
    let changed = json!({ "uid": uid(1), "frame": 1, "number": 1, "sequence": 1, "said": "changed", "said_at": AT,
        "set": { "shutter_s": 0.5 }, "note": "<b>lamp</b>" });
    let note = json!({ "uid": uid(2), "frame": null, "number": null, "sequence": 2, "said": "note", "said_at": AT,
        "note": "new batch of film" });
    house.say(&cookie, json!([changed, note])).await;
    let page = house.get("/rolls/1/log").await.text();
    assert!(page.contains("taken otherwise than planned"), "{page}");
    assert!(page.contains("<s>1/4\u{a0}s</s>") && page.contains("<strong>1/2\u{a0}s</strong>"), "{page}");
    assert!(page.contains("&lt;b&gt;lamp&lt;/b&gt;") && !page.contains("<b>lamp</b>"));
    assert!(page.contains("My phone") && page.contains("Of the roll as a whole") && page.contains("new batch of film"));
    assert!(house.get("/jobs/1").await.text().contains("not as planned"));
    // "Taken as planned" at the computer is an entry like any other.
    house.post("/frames/2/shot", &[]).await;
    assert_eq!((house.frame_at(2).state, house.entries().len()), (FrameState::Shot, 3));
    assert!(house.get("/rolls/1/log").await.text().contains("at the computer"));
}

/// One request over a connection of its own, or over one that is kept.
fn over_wire(stream: &mut TcpStream, address: SocketAddr) -> String {
    let request = format!("GET /pair HTTP/1.1\r\nHost: {address}\r\n\r\n");
    stream.write_all(request.as_bytes()).expect("sent");
    let mut answer = [0; 512];
    let length = stream.read(&mut answer).expect("answered");
    String::from_utf8_lossy(&answer[..length]).into_owned()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_door_is_shut_until_opened_and_shuts_at_once() {
    let house = House::new();
    let door = &house.app.camera().door;
    assert!(house.get("/phones").await.text().contains("No phone can reach Closework now"));
    assert_eq!(house.post("/phones/code", &[]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    door.listen_at("127.0.0.1:0".parse().expect("address"));
    assert_eq!(house.post("/phones/open", &[]).await.header("location"), "/phones");
    let address = door.address().expect("open");
    let page = house.get("/phones").await.text();
    let code = door.code().expect("a code").0;
    assert!(page.contains(&code.spaced()) && page.contains(&format!("http://{address}/")), "{page}");
    let mut kept = TcpStream::connect(address).expect("open");
    assert!(over_wire(&mut kept, address).starts_with("HTTP/1.1 200"));
    assert_eq!(house.post("/phones/close", &[]).await.header("location"), "/phones");
    assert!(door.code().is_none());
    // The connection that was open ends, and no new one is taken.
    let mut rest = Vec::new();
    let _ = kept.read_to_end(&mut rest);
    let _ = kept.write_all(b"GET /pair HTTP/1.1\r\n\r\n");
    assert!(matches!(kept.read(&mut [0; 8]), Ok(0) | Err(_)));
    assert!(TcpStream::connect(address).is_err());
    // Opened again it is where it was, and shut again it is shut, however often.
    for _ in 0..20 {
        assert_eq!(door.open(&house.app).expect("opens"), address);
        door.close();
        assert!(TcpStream::connect(address).is_err());
    }
    assert_eq!(door.open(&house.app).expect("opens"), address);
    let taken = House::new();
    taken.app.camera().door.listen_at(address);
    let refused = taken.post("/phones/open", &[]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("is taken by another program"), "{}", refused.text());
    door.close();
}

#[tokio::test]
async fn letting_phones_in_at_every_start_is_remembered() {
    let house = House::new();
    let wanted = || house.app.with_notebook(|book| book.setting(crate::web::log::AT_START)).expect("read");
    assert_eq!(wanted(), None, "unless the person says so, the door is shut");
    house.post("/phones/at-start", &[("on", "yes")]).await;
    assert_eq!(wanted().as_deref(), Some("yes"));
    assert!(house.get("/phones").await.text().contains("Do not let phones in at every start"));
    house.post("/phones/at-start", &[("on", "no")]).await;
    assert_eq!(wanted().as_deref(), Some("no"));
}

#[tokio::test]
async fn forms_of_other_sites_do_not_open_the_door() {
    let house = House::new();
    let request =
        ask("POST", "/phones/open").header("sec-fetch-site", "cross-site").body(Body::empty()).expect("request");
    assert_eq!(house.send(request).await.status, StatusCode::FORBIDDEN);
    assert_eq!(house.app.camera().door.address(), None);
}
