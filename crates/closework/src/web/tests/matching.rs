//! Scans matched to frames, asked for as a browser would.

use axum::http::StatusCode;
use notebook::{JobId, Magnification, MagnificationSource, Matched, Notebook, ScanDraft, ScanId};

use super::{Answer, House};
use crate::demo;

const PAGE: &str = "/jobs/1/matching";

/// The example's first job with its four frames, and these scans of no frame: name and measured magnification.
fn furnished(scans: &[(&str, Option<f64>)]) -> (House, Vec<ScanId>) {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    let enter = |book: &mut Notebook| {
        let all = scans.iter().map(|(name, m)| {
            let draft =
                ScanDraft { job: None, frame: None, file_name: (*name).into(), stored: format!("s-{name}"), bytes: 1 };
            let id = book.add_scan(&draft, "2026-03-01T09:00:00Z")?;
            let m = m.map(|value| Magnification { value, plus_minus: Some(0.002), from: MagnificationSource::Ruler });
            book.set_scan_magnification(id, m)?;
            Ok::<_, notebook::NotebookError>(id)
        });
        all.collect::<Result<Vec<_>, _>>()
    };
    let ids = house.app.with_notebook(enter).expect("scans");
    (house, ids)
}

/// The number on the film of the frame that each scan shows, and how it was matched.
fn shown(house: &House, scans: &[ScanId]) -> Vec<Option<(u32, Option<Matched>)>> {
    let read = |book: &mut Notebook| {
        let of = |id: &ScanId| {
            let scan = book.scan(*id)?.expect("there");
            let frame = scan.frame.map(|frame| book.frame(frame)).transpose()?.flatten();
            Ok::<_, notebook::NotebookError>(frame.map(|frame| (frame.number, scan.matched)))
        };
        scans.iter().map(of).collect::<Result<Vec<_>, _>>()
    };
    house.app.with_notebook(read).expect("scans")
}

fn numbers(house: &House, scans: &[ScanId]) -> Vec<Option<u32>> {
    shown(house, scans).into_iter().map(|found| found.map(|(number, _)| number)).collect()
}

async fn press(house: &House, what: &str, form: &[(&str, &str)]) -> Answer {
    house.post(&format!("{PAGE}/{what}"), form).await
}

/// The pairs that are ticked on a page.
fn ticked(page: &str) -> Vec<String> {
    let boxes = page.split("<input type=\"checkbox\" name=\"pair\" value=\"").skip(1);
    let ticked = boxes.filter(|rest| rest.split('>').next().is_some_and(|tag| tag.contains(" checked")));
    ticked.filter_map(|rest| rest.split('"').next()).map(str::to_owned).collect()
}

#[tokio::test]
async fn scans_are_matched_by_name_and_every_step_is_taken_back() {
    let (house, scans) = furnished(&[("b-4.tif", None), ("b-1.tif", None), ("b-2.tif", None), ("b-3.tif", None)]);
    let page = house.get(&format!("{PAGE}?way=name")).await.text();
    assert!(page.contains("The name says frame 4") && page.contains("0 of 4 scans show a frame"), "{page}");
    let pairs = ticked(&page);
    assert_eq!(pairs.len(), 4, "all four numbers are there: likely, and ticked");
    let mut form: Vec<(&str, &str)> = pairs.iter().map(|pair| ("pair", pair.as_str())).collect();
    form.push(("way", "name"));
    let kept = press(&house, "keep", &form).await;
    assert_eq!(kept.status, StatusCode::SEE_OTHER);
    let by_name = |number| Some((number, Some(Matched::Name)));
    assert_eq!(shown(&house, &scans), [by_name(4), by_name(1), by_name(2), by_name(3)]);
    // One by eye, onto a frame that another scan shows already.
    let frame = house.app.with_notebook(|book| book.frames_of_job(JobId(1)).expect("frames")[1].id).to_string();
    press(&house, "set", &[("scan", &scans[0].to_string()), ("frame", &frame)]).await;
    assert_eq!(shown(&house, &scans)[0], Some((2, Some(Matched::Picture))));
    let page = house.get(PAGE).await.text();
    assert!(
        page.contains("Frame 2 is shown by “b-4.tif”, “b-2.tif”") && page.contains("Without a scan: frame 4"),
        "{page}"
    );
    press(&house, "undo", &[]).await;
    assert_eq!(shown(&house, &scans)[0], by_name(4), "as it was, and how it was known");
    press(&house, "again", &[]).await;
    assert_eq!(numbers(&house, &scans)[0], Some(2));
    press(&house, "undo-scan", &[("scan", &scans[0].to_string())]).await;
    assert_eq!(numbers(&house, &scans), [Some(4), Some(1), Some(2), Some(3)]);
    press(&house, "undo-all", &[]).await;
    assert_eq!(numbers(&house, &scans), [None; 4]);
    let jobs = house.app.with_notebook(|book| book.scans().expect("scans"));
    assert!(jobs.iter().all(|scan| scan.job.is_none()), "they belong to no job again");
    press(&house, "undo", &[]).await;
    assert_eq!(numbers(&house, &scans), [Some(4), Some(1), Some(2), Some(3)], "taking all back is a step as well");
}

#[tokio::test]
async fn a_blank_frame_is_named_and_one_press_shifts_the_rest() {
    let (house, scans) = furnished(&[("s9.tif", None), ("s10.tif", None), ("s11.tif", None)]);
    let page = house.get(&format!("{PAGE}?way=order")).await.text();
    assert!(page.contains("frame 4 has no scan") && page.contains("Which frame was blank"), "{page}");
    assert!(page.contains("Number 1 of 3 by name") && ticked(&page).is_empty(), "one of several is not ticked");
    let second = house.app.with_notebook(|book| book.frames_of_job(JobId(1)).expect("frames")[1].id);
    let link = format!("{PAGE}?way=order&amp;blank={second}#proposed");
    assert!(page.contains(&link), "{page}");
    let page = house.get(&format!("{PAGE}?way=order&blank={second}")).await.text();
    let pairs = ticked(&page);
    assert_eq!(pairs.len(), 3, "as many scans as frames: likely");
    let mut form: Vec<(&str, &str)> = pairs.iter().map(|pair| ("pair", pair.as_str())).collect();
    let query = format!("way=order&blank={second}");
    form.extend([("way", "order"), ("query", query.as_str())]);
    let kept = press(&house, "keep", &form).await;
    assert!(kept.header("location").starts_with(&format!("{PAGE}?{query}&said=")), "{}", kept.header("location"));
    assert_eq!(numbers(&house, &scans), [Some(1), Some(3), Some(4)]);
}

#[tokio::test]
async fn a_match_that_disagrees_with_what_was_measured_is_marked() {
    // The example's frames are all about life size: half of it is none of them.
    let (house, scans) = furnished(&[("half.tif", Some(0.5))]);
    let page = house.get(&format!("{PAGE}?way=code")).await.text();
    assert!(
        page.contains("No frame&#39;s magnification fits") || page.contains("No frame's magnification fits"),
        "{page}"
    );
    let frame = house.app.with_notebook(|book| book.frames_of_job(JobId(1)).expect("frames")[0].id).to_string();
    press(&house, "set", &[("scan", &scans[0].to_string()), ("frame", &frame)]).await;
    let page = house.get(PAGE).await.text();
    assert!(page.contains("beyond both uncertainties") && page.contains("no planned set-up agrees"), "{page}");
    assert!(page.contains("match off"), "its card is marked");
}

#[tokio::test]
async fn what_cannot_be_matched_is_refused_in_words() {
    let (house, scans) = furnished(&[("a.tif", None)]);
    let scan = scans[0].to_string();
    let other_jobs_frame =
        house.app.with_notebook(|book| book.frames_of_job(JobId(2)).expect("frames")[0].id).to_string();
    for (what, form, status) in [
        ("set", vec![("scan", "99"), ("frame", "1")], StatusCode::NOT_FOUND),
        ("set", vec![("scan", "x"), ("frame", "1")], StatusCode::NOT_FOUND),
        ("set", vec![("scan", &scan), ("frame", "999")], StatusCode::NOT_FOUND),
        ("set", vec![("scan", &scan), ("frame", &other_jobs_frame)], StatusCode::NOT_FOUND),
        ("keep", vec![("way", "order")], StatusCode::UNPROCESSABLE_ENTITY),
    ] {
        assert_eq!(press(&house, what, &form).await.status, status, "{what} {form:?}");
        assert_eq!(numbers(&house, &scans), [None], "{what}");
    }
    // A group with one that cannot be is not kept in part.
    let own = house.app.with_notebook(|book| book.frames_of_job(JobId(1)).expect("frames")[0].id);
    let (good, bad) = (format!("{scan}:{own}"), format!("{scan}:999"));
    press(&house, "keep", &[("pair", &good), ("pair", &bad)]).await;
    assert_eq!(numbers(&house, &scans), [None]);
    // A scan of another job is not taken away from it.
    let enter = |book: &mut Notebook| book.set_scan_job(scans[0], Some(JobId(2)));
    house.app.with_notebook(enter).expect("job");
    assert_eq!(
        press(&house, "set", &[("scan", &scan), ("frame", &own.to_string())]).await.status,
        StatusCode::UNPROCESSABLE_ENTITY
    );
    // Taking back what was matched elsewhere in the meantime leaves it.
    let (house, scans) = furnished(&[("a.tif", None)]);
    let frames = house.app.with_notebook(|book| book.frames_of_job(JobId(1)).expect("frames"));
    press(&house, "set", &[("scan", &scans[0].to_string()), ("frame", &frames[0].id.to_string())]).await;
    house.app.with_notebook(|book| book.set_scan_frame(scans[0], Some(frames[1].id))).expect("frame");
    let undone = press(&house, "undo", &[]).await;
    assert!(undone.header("location").contains("left+as+it+is"), "{}", undone.header("location"));
    assert_eq!(numbers(&house, &scans), [Some(2)]);
}

#[tokio::test]
async fn an_empty_page_says_what_to_do_first() {
    let (house, _) = furnished(&[]);
    assert!(house.get(PAGE).await.text().contains("No scan is here yet"));
    assert!(house.get("/jobs/3/matching").await.text().contains("This job has no frame yet"));
}
