//! Tables and sidecars, asked for and sent as a browser would.

use axum::body::Body;
use axum::http::{StatusCode, header};
use notebook::{Notebook, ScanDraft, ScanId};

use super::{Answer, House, ask};
use crate::demo;
use crate::records::{Whose, whose};

fn furnished() -> House {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    house
}

/// A scan of the first job's first frame.
fn scanned(house: &House, name: &str) -> ScanId {
    let enter = |book: &mut Notebook| {
        let job = book.jobs()?[0].id;
        let frame = Some(book.frames_of_job(job)?[0].id);
        let stored = format!("stored-{name}");
        book.add_scan(
            &ScanDraft { job: Some(job), frame, file_name: name.into(), stored, bytes: 1 },
            "2026-03-01T09:00:00Z",
        )
    };
    house.app.with_notebook(enter).expect("scan")
}

async fn send(house: &House, path: &str, table: &str) -> Answer {
    let body = format!(
        "--edge\r\ncontent-disposition: form-data; name=\"file\"; filename=\"log.csv\"\r\n\r\n{table}\r\n\
         --edge\r\ncontent-disposition: form-data; name=\"text\"\r\n\r\n\r\n--edge--\r\n"
    );
    let request = ask("POST", path).header("sec-fetch-site", "same-origin");
    let request = request.header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge");
    house.send(request.body(Body::from(body)).expect("request")).await
}

/// What the preview's form would send back.
fn word(page: &str) -> String {
    let (_, rest) = page.split_once("name=\"table\" value=\"").expect("a form to keep it");
    rest.split('"').next().expect("its end").to_owned()
}

#[tokio::test]
async fn the_table_goes_out_and_comes_back_without_a_change() {
    let house = furnished();
    scanned(&house, "r1_01.tif");
    let out = house.get("/jobs/1/frames.csv").await;
    assert_eq!((out.status, out.header("content-type")), (StatusCode::OK, "text/csv; charset=utf-8"));
    assert!(out.header("content-disposition").contains("filename=\"Stag_beetles_for_plate_12_frames.csv\""));
    let text = out.text();
    assert!(text.starts_with("\u{feff}roll,film,iso,frame,"), "{text}");
    assert!(text.contains("r1_01.tif") && text.contains("\"copy-stand-6x6, tube-26, tube-52, normal-85\""));
    let back = send(&house, "/jobs/1/paper", &text).await;
    assert_eq!(back.status, StatusCode::OK);
    assert!(back.text().contains("there is nothing to keep"), "{}", back.text());
    let template = house.get("/jobs/3/frames-template.csv").await.text();
    assert_eq!(template, "\u{feff}roll,film,iso,frame,state,label,parts,focus,f_number,shutter_s,metered_s,note\r\n");
}

#[tokio::test]
async fn a_log_is_looked_at_then_kept() {
    let house = furnished();
    let table = "roll;frame;f_number;shutter;weather\nSeeds 1;1;f/5,6;0,5;rain\nSeeds 1;2;8;4\";sun\n";
    let seen = send(&house, "/jobs/3/paper", table).await;
    assert_eq!(seen.status, StatusCode::OK);
    let page = seen.text();
    assert!(page.contains("passed over: weather") && page.contains("f/5.6, 1/2") && page.contains("Seeds 1"), "{page}");
    let frames = |house: &House| {
        let read = |book: &mut Notebook| book.frames_of_job(book.jobs()?[2].id);
        house.app.with_notebook(read).expect("frames")
    };
    assert!(frames(&house).is_empty(), "looked at, not kept");
    let kept = house.post("/jobs/3/paper/keep", &[("table", &word(&page))]).await;
    assert!(kept.text().contains("All of it is kept"), "{}", kept.text());
    let stops: Vec<_> = frames(&house).iter().map(|frame| (frame.f_number, frame.shutter_s)).collect();
    assert_eq!(stops, [(Some(5.6), Some(0.5)), (Some(8.0), Some(4.0))]);
    let again = house.post("/jobs/3/paper/keep", &[("table", &word(&page))]).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY, "it waits no longer");
    let other_job = send(&house, "/jobs/3/paper", "frame,note\n9,x\n").await.text();
    let foreign = house.post("/jobs/1/paper/keep", &[("table", &word(&other_job))]).await;
    assert_eq!(foreign.status, StatusCode::UNPROCESSABLE_ENTITY, "a table belongs to the job that it was sent to");
}

#[tokio::test]
async fn slips_are_shown_by_row_and_column() {
    let house = furnished();
    let wrong = send(&house, "/jobs/3/paper", "frame,f_number\n1,f/o\n1,<b>\n").await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let page = wrong.text();
    assert!(page.contains("Nothing of the table was kept") && page.contains("2 slips"), "{page}");
    assert!(page.contains("“f/o” is not an f-number") && !page.contains("<b>"), "{page}");
    let sheet = send(&house, "/jobs/3/paper", "PK\u{3}\u{4}xl/workbook").await;
    assert!(sheet.text().contains("spreadsheet&#39;s own file") || sheet.text().contains("spreadsheet's own file"));
    let none = send(&house, "/jobs/3/paper", "").await;
    assert_eq!(none.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.get("/jobs/99/records").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn sidecars_are_saved_one_by_one_and_together() {
    let house = furnished();
    let nothing = house.get("/jobs/1/sidecars.zip").await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY, "no scan shows a frame");
    let id = scanned(&house, "Käfer 07.tif");
    let one = house.get(&format!("/scans/{id}/sidecar")).await;
    assert_eq!(
        one.header("content-disposition"),
        "attachment; filename=\"K_fer_07.xmp\"; filename*=UTF-8''K%C3%A4fer%2007.xmp"
    );
    assert_eq!(whose(&one.body), Whose::Ours);
    assert!(one.text().contains("Normal lens, 85 mm"));
    let all = house.get("/jobs/1/sidecars.zip").await;
    assert_eq!((all.header("content-type"), &all.body[..4]), ("application/zip", &b"PK\x03\x04"[..]));
    let page = house.get("/jobs/1/records").await.text();
    assert!(page.contains("1 of 1 scans show a frame") && page.contains("closework sidecars --job 1"), "{page}");
    for path in ["/scans/99/sidecar", "/scans/x/sidecar"] {
        assert_eq!(house.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
}
