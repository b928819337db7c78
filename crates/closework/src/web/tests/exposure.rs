//! The pages about exposure, flash and films, asked for as a browser would.

use axum::http::StatusCode;

use super::House;
use crate::demo;

fn furnished() -> House {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    house
}

const SET_UP: &str = "parts=copy-stand-6x6,tube-26,tube-52,normal-85&focus=travel%3D5.3&f=16";

#[tokio::test]
async fn a_film_and_filters_are_counted_with_their_sources() {
    let house = furnished();
    let page = house
        .get(&format!("/exposure?{SET_UP}&metered=1&filter1=no-25&film=hp5-plus&doubt=0.5&moving=0.1"))
        .await
        .text();
    for words in [
        "from a copy of the maker's sheet",
        "an independent test, not the maker's",
        "disagree",
        "No. 25, red, ×8 (printed beside it: 3 stops)",
        "Kodak F-4016, October 2007, p. 5",
        "Frames to be safe",
        "negative film forgives",
        "µm on film",
        "Hot lamps",
        "<svg",
    ] {
        assert!(page.contains(words), "“{words}” is missing");
    }
    assert!(!page.contains("NaN") && !page.contains("not counted"));
    let outside = house.get(&format!("/exposure?{SET_UP}&metered=60&film=t-max-100")).await.text();
    assert!(outside.contains("so test it") && outside.contains("best estimate"), "the sheet ends at 100 s");
}

#[tokio::test]
async fn a_film_of_ones_own_is_entered_on_the_kits_page_and_wins() {
    let house = furnished();
    let form = house.get("/kit/new/film").await.text();
    assert!(form.contains("name=\"times_s\"") && form.contains("1=1.3, 10=20"), "{form}");
    let typed = [("id", "hp5-plus"), ("name", "HP5 of the drawer"), ("times_s", "10=14, 1=1.1")];
    let wrong = house.post("/kit/new/film", &typed).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.text().contains("point 2") && wrong.text().contains("10=14, 1=1.1"), "{}", wrong.text());
    let typed = [("id", "hp5-plus"), ("name", "HP5 of the drawer"), ("times_s", "1=1.1, 10=14"), ("tested", "March")];
    assert_eq!(house.post("/kit/new/film", &typed).await.status, StatusCode::SEE_OTHER);
    let page = house.get("/exposure?parts=copy-stand-6x6,normal-85&f=16&metered=10&film=hp5-plus").await.text();
    assert!(page.contains("HP5 of the drawer (ILFORD) (your kit)"), "{page}");
    assert!(
        page.contains("14\u{a0}s") && page.contains("your own test, March") && page.contains("stands in the place of"),
        "{page}"
    );
    let films = house.get("/films").await.text();
    assert!(films.contains("of your kit") && films.contains("HARMAN technology"), "{films}");
    assert!(house.get("/kit").await.text().contains("1=1.1, 10=14"));
}

#[tokio::test]
async fn flash_says_where_it_may_stand_and_when_not_to_believe_it() {
    let house = furnished();
    let page = house
        .get(&format!("/exposure/flash?{SET_UP}&guide=92+ft&distance=40+cm&reflector=70&film=t-max-100"))
        .await
        .text();
    for words in [
        "is right",
        "overstate the light",
        "never fire a flash".to_owned().as_str(),
        "test frame",
        "does not say at which speeds",
    ] {
        assert!(page.to_lowercase().contains(&words.to_lowercase()), "“{words}” is missing: {page}");
    }
    let metered = house.get(&format!("/exposure/flash?{SET_UP}&meter=22&iso=100")).await.text();
    assert!(metered.contains("is right") && !metered.contains("overstate"));
    for (query, words) in [
        ("guide=28+yd&distance=40+cm&iso=100", "is no length with its unit"),
        ("guide=28+m&distance=40&iso=100", "is no length with its unit"),
        ("guide=28+m&iso=100", "How far the flash stands"),
        ("guide=28+m&distance=40+cm", "speed is needed"),
        ("guide=28+m&distance=40+cm&iso=100&power=3", "no share of the full power"),
        ("guide=28+m&distance=40+cm&iso=100&film=hp6", "There is no film"),
    ] {
        let wrong = house.get(&format!("/exposure/flash?{SET_UP}&{query}")).await.text();
        assert!(wrong.contains(words) && !wrong.contains("is right"), "{query}: “{words}” is missing");
    }
}

#[tokio::test]
async fn what_was_mistyped_comes_back_with_its_message() {
    let house = furnished();
    for (query, words) in [
        ("metered=0", "is no time"),
        ("metered=f%2Fo", "is no time"),
        ("metered=1%2F0", "is no time"),
        ("metered=nan", "is no time"),
        ("metered=1&read=spot&placed=12", "outside −8 to 8"),
        ("metered=1&read=card&card=0", "outside 1 to 100"),
        ("metered=1&doubt=-1", "outside 0 to 5"),
        ("metered=1&film=hp5", "did you mean"),
        ("metered=1&filter1=no-9", "There is no filter"),
        ("metered=1&factor=0.5", "outside 1 to"),
        ("metered=1&frames=0", "outside 1 to 99"),
        ("metered=1&blur=0", "must be above 0"),
    ] {
        let page = house.get(&format!("/exposure?{SET_UP}&{query}")).await.text();
        assert!(page.contains(words) || page.contains(&words.replace('−', "-")), "{query}: “{words}” is missing");
        assert!(!page.contains("Step by step"), "{query}: no answer to what was not understood");
    }
}

#[tokio::test]
async fn a_fresh_notebook_has_films_to_read_of() {
    let house = House::new();
    let page = house.get("/films").await;
    assert_eq!(page.status, StatusCode::OK);
    let page = page.text();
    for words in [
        "T-MAX 100 (Kodak)",
        "open up 1/2 stop, or give 15",
        "RMS granularity 8",
        "Polarizer",
        "1 2/3 stops, ×2.5",
        "speed as on its box",
    ] {
        assert!(page.contains(words), "“{words}” is missing: {page}");
    }
}
