//! The target card's page and its file.

use super::House;
use axum::http::StatusCode;

#[tokio::test]
async fn a_field_gives_a_drawing_and_a_file_of_the_same_print() {
    let house = House::new();
    let page = house.get("/target?width=56&height=42&paper=letter&print=AB12C").await;
    assert_eq!(page.status, StatusCode::OK);
    let text = page.text();
    for words in
        ["print <strong>AB12C</strong>", "56.0 × 42.0 mm", "viewBox=\"0 0 215.9 279.4\"", "Download the PDF", "pliers"]
    {
        assert!(text.contains(words), "“{words}” is not on the page");
    }
    let link = text.split("href=\"").find(|rest| rest.starts_with("/target/card.pdf?")).expect("a link to the file");
    let link = link.split('"').next().expect("ends").replace("&amp;", "&");
    let file = house.get(&link).await;
    assert_eq!(file.status, StatusCode::OK);
    assert_eq!(file.header("content-type"), "application/pdf");
    assert!(file.header("content-disposition").contains("target-card-AB12C.pdf"));
    assert!(file.body.starts_with(b"%PDF-"));
}

#[tokio::test]
async fn an_empty_form_says_what_the_card_is_for_and_a_new_print_is_new() {
    let house = House::new();
    let empty = house.get("/target").await.text();
    assert!(empty.contains("slanted squares") && !empty.contains("<figure"));
    let print = |text: String| text.split("print <strong>").nth(1).and_then(|rest| rest.get(..5)).map(str::to_owned);
    let (one, other) =
        (print(house.get("/target?width=60").await.text()), print(house.get("/target?width=60").await.text()));
    assert!(one.is_some() && one != other, "{one:?} {other:?}");
}

#[tokio::test]
async fn what_has_no_card_is_said_at_its_field() {
    let house = House::new();
    for (query, field, words) in [
        ("width=14", "width", "outside 15 to 400"),
        ("width=wide", "width", "is not a number"),
        ("width=60&height=401", "height", "outside 15 to 400"),
        ("width=60&height=19", "height", "three times as long"),
        ("height=60", "width", "needed"),
        ("width=60&paper=a5", "paper", "A4 or Letter"),
        ("width=60&print=four", "print", "Five letters"),
    ] {
        let text = house.get(&format!("/target?{query}")).await.text();
        assert!(text.contains(&format!("id=\"field-{field}-error\"")) && text.contains(words), "{query}");
        assert!(!text.contains("<figure"), "{query}");
        let file = house.get(&format!("/target/card.pdf?{query}")).await;
        assert_eq!(file.status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
    }
}

#[tokio::test]
async fn a_large_field_shows_its_five_sheets() {
    let house = House::new();
    let text = house.get("/target?width=300&height=240").await.text();
    assert_eq!(text.matches("id=\"sheet-").count(), 5);
    assert!(text.contains("takes 5 sheets"));
}

#[tokio::test]
async fn a_set_up_gives_its_field() {
    let house = House::new();
    let kit = "[[body]]\nid = \"six\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"a\"\n[[lens]]\nid = \"normal\"\nmount = \"a\"\nfocal_length_mm = 80\nmax_aperture = 2.8\nlength_mm = 60\n[[tube]]\nid = \"tube-50\"\nmount = \"a\"\nlength_mm = 50\n";
    house.post("/kit/bring", &[("text", kit)]).await;
    // m = 50 / 80, so 56 mm of film cover 89.6 mm.
    let text = house.get("/target?parts=six,tube-50,normal&focus=infinity").await.text();
    assert!(text.contains("value=\"89.6\"") && text.contains("89.6 × 89.6 mm"), "{text}");
    let text = house.get("/target?parts=six,normal&focus=infinity").await.text();
    assert!(text.contains("no bounded field") && !text.contains("<figure"));
}
