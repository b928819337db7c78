//! The page of a report: made in the background, taken as files.

use std::time::Duration;

use axum::http::StatusCode;
use notebook::JobDraft;

use super::House;

#[tokio::test]
async fn a_report_is_made_in_the_background_and_taken_as_files() {
    let house = House::new();
    let draft = JobDraft { title: "Seeds, tray 4".into(), ..JobDraft::default() };
    house.app.with_notebook(|book| book.add_job(&draft, false, "2026-05-01T10:00:00Z")).expect("a job");
    assert_eq!(house.get("/jobs/1/report/pdf").await.status, StatusCode::NOT_FOUND, "not made yet");
    assert_eq!(house.post("/jobs/1/report", &[]).await.status, StatusCode::SEE_OTHER);
    for _ in 0..2400 {
        if house.app.tasks().running().is_empty() {
            break;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    let page = house.get("/jobs/1/report").await.text();
    assert!(page.contains("/jobs/1/report/pdf") && page.contains("/jobs/1/report/zip"), "{page}");
    let pdf = house.get("/jobs/1/report/pdf").await;
    assert!(pdf.body.starts_with(b"%PDF") && pdf.header("content-disposition").contains("report-job-1.pdf"));
    // An honest report of a job without frames: what is missing, and what to do.
    let html = house.get("/jobs/1/report/html").await.text();
    for words in ["No frame was planned or taken.", "Load the scans", "Seeds, tray 4"] {
        assert!(html.contains(words), "{words}");
    }
    assert!(house.get("/jobs/1/report/zip").await.body.starts_with(b"PK"));
    assert_eq!(house.get("/jobs/1/report/exe").await.status, StatusCode::NOT_FOUND);
    assert_eq!(house.get("/jobs/9/report").await.status, StatusCode::NOT_FOUND);
}
