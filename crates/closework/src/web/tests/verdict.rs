//! The verdict's pages, asked for as a browser would.

use axum::http::StatusCode;
use notebook::{Magnification, MagnificationSource, ScanId};

use super::House;
use crate::verdict::tests::Bench;

fn furnished() -> House {
    House::over(Bench::compared().book)
}

fn plain(text: String) -> String {
    text.replace('\u{a0}', " ")
}

#[tokio::test]
async fn the_verdict_stands_in_sentences_with_links_to_what_they_rest_on() {
    let house = furnished();
    let page = plain(house.get("/jobs/1/verdict").await.text());
    assert!(page.contains("No other set-up reaches 25.0 lp/mm; the best, “40 mm of tubes · The 80, f/8”, has 14.0 ± 2.0 lp/mm on film in the corner."));
    assert!(page.contains("href=\"/scans/2#m2\"") && page.contains("frame 2, corner, near-vertical"));
    assert!(page.contains("The chance that everything asked is met") && page.contains("serves from 95 %"));
    assert!(page.contains("In the cheapest kit") && page.contains("In no set-up that was tried"));
    let drawer = plain(house.get("/verdict").await.text());
    assert!(drawer.contains("The 80 could go") && drawer.contains("Currency of all of them"));
    assert!(drawer.contains("href=\"/jobs/1/verdict#job-1\""));
    // Less sure a verdict is asked for, and an address of an earlier version.
    assert!(plain(house.get("/jobs/1/verdict?sure=0.9").await.text()).contains("serves from 90 %"));
    let old = house.get("/verdict?job=1").await;
    assert_eq!((old.status, old.header("location")), (StatusCode::SEE_OTHER, "/jobs/1/verdict"));
}

#[tokio::test]
async fn every_ready_made_use_can_be_begun_changed_and_deleted() {
    let house = furnished();
    for set in ["screen", "plate", "hand-print", "wall-print", "measuring", "job"] {
        let form = house.get(&format!("/jobs/1/uses/new?set={set}")).await;
        assert_eq!(form.status, StatusCode::OK, "{set}");
        assert!(form.text().contains("common practice"), "{set}");
    }
    assert_eq!(house.get("/jobs/1/uses/new?set=mural").await.status, StatusCode::NOT_FOUND);
    let plate = [
        ("title", "Plate 12"),
        ("quantity-0", "resolution"),
        ("side-0", "at_least"),
        ("limit-0", "12,5"),
        ("at-0", "20"),
        ("out-0", "90"),
        ("reason-0", "as the journal prints"),
        ("source-0", "the journal's sheet for authors"),
    ];
    let kept = house.post("/jobs/1/uses", &plate).await;
    assert_eq!((kept.status, kept.header("location")), (StatusCode::SEE_OTHER, "/jobs/1/verdict#use-1"));
    let page = plain(house.get("/jobs/1/verdict").await.text());
    assert!(
        page.contains("Plate 12")
            && page.contains("as the journal prints")
            && page.contains("the journal's sheet for authors")
    );
    assert!(page.contains("at least 12.5 lp/mm on film with 20 % of the contrast left"));
    // The same name again, a wrong number, an unknown use.
    let twice = house.post("/jobs/1/uses", &plate).await;
    assert_eq!(twice.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(twice.text().contains("Plate 12") && twice.text().contains("field-title-error"));
    let wrong: Vec<_> = plate.iter().map(|(n, v)| if *n == "limit-0" { (*n, "fine") } else { (*n, *v) }).collect();
    let refused = house.post("/uses/1", &wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("“fine” is not a number") && refused.text().contains("as the journal prints"));
    assert_eq!(house.get("/uses/9").await.status, StatusCode::NOT_FOUND);
    let wider: Vec<_> = plate.iter().map(|(n, v)| if *n == "limit-0" { (*n, "40") } else { (*n, *v) }).collect();
    assert_eq!(house.post("/uses/1", &wider).await.status, StatusCode::SEE_OTHER);
    assert!(plain(house.get("/uses/1").await.text()).contains("value=\"40\""));
    assert!(plain(house.get("/jobs/1/verdict").await.text()).contains("Nothing that was tried serves “Plate 12”"));
    assert_eq!(house.post("/uses/1/delete", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(house.get("/jobs/1/verdict").await.text().contains("Worked out of the job's print"));
}

/// A limit of half the finest pair that is seen in a print 300 mm long from 250 mm: 0.1 mm of it, 18.7 µm on 56 mm of film.
const SEEN_IN_PRINT: [(&str, &str); 9] = [
    ("title", "In the hand"),
    ("print-mm", "300"),
    ("seen-from-mm", "250"),
    ("quantity-0", "fringing"),
    ("side-0", "at_most"),
    ("terms-0", "seen"),
    ("limit-0", "50"),
    ("out-0", "90"),
    ("source-0", "own choice"),
];

#[tokio::test]
async fn a_use_may_be_stated_as_its_print_is_seen() {
    let house = furnished();
    assert_eq!(house.post("/jobs/1/uses", &SEEN_IN_PRINT).await.status, StatusCode::SEE_OTHER);
    let page = plain(house.get("/jobs/1/verdict").await.text());
    assert!(page.contains("enlarged 300 / 56.0 = 5.36 times"), "{page}");
    assert!(page.contains("50 % of the finest line pair that is seen"), "{page}");
    assert!(page.contains("19 µm on film, 0.10 mm on the print"), "{page}");
    // The job's 25 lp/mm hold at 1:2; both set-ups were taken so, and nothing is said of another size.
    assert!(!page.contains("lp/mm on film at 1:"), "{page}");
    // The form shows what was typed, and the same in other terms.
    let form = plain(house.get("/uses/1").await.text());
    assert!(
        form.contains("value=\"300\"") && form.contains("value=\"50\"") && form.contains("19 µm on film"),
        "{form}"
    );
    // Both ways to say how fine the eye sees.
    let both: Vec<_> = SEEN_IN_PRINT.into_iter().chain([("seen-lp-mm", "4")]).collect();
    let refused = house.post("/uses/1", &both).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("field-seen-lp-mm-error"));
    // Another print of the same use moves its limit on film: 0.1 mm of 600 mm is 9.33 µm.
    let larger: Vec<_> =
        SEEN_IN_PRINT.iter().map(|(n, v)| if *n == "print-mm" { (*n, "600") } else { (*n, *v) }).collect();
    assert_eq!(house.post("/uses/1", &larger).await.status, StatusCode::SEE_OTHER);
    assert!(plain(house.get("/jobs/1/verdict").await.text()).contains("9.3 µm on film, 0.10 mm on the print"));
}

#[tokio::test]
async fn a_frame_of_another_size_is_told_what_its_film_must_hold() {
    // 25 lp/mm at 1:2, where the job wants its picture, are 50 lp/mm on a film that shows the subject at 1:4.
    let house = furnished();
    let quarter = Magnification { value: 0.25, plus_minus: Some(0.0025), from: MagnificationSource::Ruler };
    house.app.with_notebook(|book| book.set_scan_magnification(ScanId(2), Some(quarter))).expect("a size");
    let page = plain(house.get("/jobs/1/verdict").await.text());
    assert!(page.contains("50.0 lp/mm on film at 1:4"), "{page}");
}

#[tokio::test]
async fn what_is_unsure_of_prices_is_unsure_of_their_sum() {
    let house = furnished();
    let prices = [
        ("currency", "EUR"),
        ("price-long", "400 ± 40"),
        ("price-six", "300 ± 30"),
        ("price-tube-60", "40"),
        ("price-normal", "200 ± 20"),
    ];
    assert_eq!(house.post("/verdict/prices", &prices).await.status, StatusCode::SEE_OTHER);
    let page = plain(house.get("/verdict").await.text());
    // √(40² + 30²) = 50.
    assert!(page.contains("It ties up 740 ± 50 EUR"), "{page}");
    assert!(page.contains("it would bring 200 ± 20 EUR"), "{page}");
    assert!(page.contains("The rest of what was tried would bring 200 ± 20 EUR"), "{page}");
    // A wish says what it costs.
    let wish = [
        ("kind", "tube"),
        ("name", "Tube 25"),
        ("mount", "a"),
        ("length_mm", "25"),
        ("price", "30 ± 5"),
        ("currency", "EUR"),
    ];
    assert_eq!(house.post("/wishes/new", &wish).await.status, StatusCode::SEE_OTHER);
    assert!(plain(house.get("/verdict").await.text()).contains(", for 30.0 ± 5.0 EUR"));
}

#[tokio::test]
async fn a_use_without_a_body_to_work_it_out_on_is_refused() {
    let house = furnished();
    let stated = [("title", "Plate"), ("quantity-0", "resolution"), ("limit-0", "20"), ("at-0", "30"), ("out-0", "90")];
    assert_eq!(house.post("/jobs/1/uses", &stated).await.status, StatusCode::SEE_OTHER);
    assert_eq!(house.post("/kit/part/six/delete", &[]).await.status, StatusCode::SEE_OTHER);
    let refused = house.get("/jobs/1/uses/new?set=plate").await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("Put it there first") && refused.text().contains("data-back"));
    // One that is there opens and says so; nothing is saved that could not be checked, and it can be deleted.
    let page = house.get("/uses/1").await;
    assert_eq!(page.status, StatusCode::OK);
    assert!(page.text().contains("is not in the kit") && page.text().contains("value=\"Plate\""), "{}", page.text());
    let other = house.post("/uses/1", &[&[("title", "Wall")], &stated[1..]].concat()).await;
    assert_eq!(other.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(other.text().contains("value=\"Wall\"") && other.text().contains("when the body is back"));
    assert!(house.get("/uses/1").await.text().contains("value=\"Plate\""));
    assert_eq!(house.post("/uses/1/delete", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(house.get("/jobs/1/verdict").await.text().contains("body of its job is not in the kit"));
}

#[tokio::test]
async fn prices_are_saved_in_one_go_or_not_at_all() {
    let house = furnished();
    let prices = [
        ("currency", "EUR"),
        ("price-long", "400"),
        ("price-normal", "200,50"),
        ("price-six", ""),
        ("price-tube-60", "40"),
    ];
    assert_eq!(house.post("/verdict/prices", &prices).await.status, StatusCode::SEE_OTHER);
    let page = plain(house.get("/verdict").await.text());
    assert!(page.contains("value=\"EUR\"") && page.contains("it would bring 200.50 EUR"), "{page}");
    assert!(page.contains("No price is known of Body"));
    let wrong = [("currency", "EUR"), ("price-long", "500"), ("price-normal", "a lot")];
    let refused = house.post("/verdict/prices", &wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("value=\"a lot\"") && refused.text().contains("The 80:"), "{}", refused.text());
    assert!(plain(house.get("/verdict").await.text()).contains("400 EUR"));
}

#[tokio::test]
async fn wishes_lie_beside_the_kit_until_they_come_true() {
    let house = furnished();
    assert_eq!(house.get("/wishes/new?kind=lens").await.status, StatusCode::OK);
    for kind in ["film", "spaceship"] {
        assert_eq!(house.get(&format!("/wishes/new?kind={kind}")).await.status, StatusCode::NOT_FOUND, "{kind}");
    }
    let wish = [("kind", "tube"), ("name", "Tube 25"), ("mount", "a"), ("length_mm", "25"), ("price", "30")];
    assert_eq!(house.post("/wishes/new", &wish).await.status, StatusCode::SEE_OTHER);
    let page = house.get("/verdict").await.text();
    assert!(page.contains("Tube 25") && page.contains("no frame was planned or taken with it"), "{page}");
    // Nothing counts on it: the kit's page and what is reached know nothing of it.
    assert!(!house.get("/kit").await.text().contains("Tube 25"));
    assert!(!house.get("/reach").await.text().contains("Tube 25"));
    // Twice, in the kit already, without its length.
    assert_eq!(house.post("/wishes/new", &wish).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let owned = [("kind", "tube"), ("id", "tube-13"), ("mount", "a"), ("length_mm", "13")];
    assert!(house.post("/wishes/new", &owned).await.text().contains("has a part “tube-13” already"));
    let short = [("kind", "tube"), ("name", "Tube 26"), ("mount", "a")];
    assert_eq!(house.post("/wishes/new", &short).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.post("/wishes/tube-25/came", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(house.get("/kit").await.text().contains("Tube 25"));
    assert_eq!(house.post("/wishes/tube-25/came", &[]).await.status, StatusCode::NOT_FOUND);
    assert_eq!(house.post("/wishes/tube-25/delete", &[]).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn verdicts_on_what_is_not_there_are_refused_in_words() {
    let house = furnished();
    for path in ["/jobs/99/verdict", "/jobs/x/verdict", "/jobs/99/uses/new?set=plate", "/uses/x"] {
        assert_eq!(house.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
}

/// The example's kit and jobs, whose lenses have forms; no frame of it is scanned.
fn with_forms() -> House {
    let house = House::new();
    house.app.with_notebook(crate::demo::enter_for_tests).expect("the example");
    house
}

/// A page once nothing works in the background any more.
async fn settled(house: &House, path: &str) -> String {
    for _ in 0..2400 {
        let page = house.get(path).await;
        assert_eq!(page.status, StatusCode::OK);
        if house.app.tasks().running().is_empty() {
            return plain(house.get(path).await.text());
        }
        tokio::time::sleep(std::time::Duration::from_millis(200)).await;
    }
    panic!("{path} never settles");
}

#[tokio::test]
async fn what_is_predicted_has_a_section_of_its_own_and_what_is_measured_does_not_wait() {
    let house = with_forms();
    let wish = [
        ("kind", "close_up_lens"),
        ("id", "plus-3"),
        ("name", "Close-up lens +3"),
        ("power_dpt", "3"),
        ("thread_mm", "62"),
        ("make", "achromat"),
    ];
    assert_eq!(house.post("/wishes/new", &wish).await.status, StatusCode::SEE_OTHER);
    let page = settled(&house, "/jobs/1/verdict").await;
    let (measured, predicted) = page.split_once("Predicted, not measured").expect("a section");
    assert!(!measured.contains("a predicted chance of") && measured.contains("its frame is not scanned yet"));
    assert!(predicted.contains("a form, not your lens") && predicted.contains("Why these intervals are so wide"));
    assert!(predicted.contains("may serve") && predicted.contains("frame not measured"));
    let drawer = settled(&house, "/verdict").await;
    assert!(drawer.contains("Predicted, not measured: Buying Close-up lens +3"), "{drawer}");
    assert!(drawer.contains("to be bought") && drawer.contains("The job's print, for Seed pods"));
}

#[tokio::test]
async fn a_plan_says_what_is_predicted_and_is_there_before_it() {
    let house = with_forms();
    let first = plain(house.get("/jobs/3/plan").await.text());
    assert!(first.contains("Worth choosing between"), "the plan does not wait");
    let page = settled(&house, "/jobs/3/plan").await;
    assert!(page.contains("Predicted detail, lp/mm") && page.contains("a form, not your lens"), "{page}");
    assert!(page.contains("predicted, not measured"));
    // Without forms the columns are not there, and why is said.
    let bare = crate::demo::KIT.replace("design_form", "# design_form");
    let kit = kit::Kit::parse(&bare).expect("a kit");
    house.app.with_notebook(|book| book.replace_kit(&crate::web::kit_book::records(&kit))).expect("kept");
    let page = settled(&house, "/jobs/3/plan").await;
    assert!(!page.contains("Predicted detail") && page.contains("Detail and colour are not predicted."), "{page}");
}
