//! The page of the pocket cards and its files.

use super::House;
use axum::http::StatusCode;

const KIT: &str = "[[body]]\nid = \"six\"\nframe_mm = [56, 56]\nregister_mm = 80\nmount = \"a\"\n[[lens]]\nid = \"normal\"\nmount = \"a\"\nfocal_length_mm = 80\nmax_aperture = 2.8\nmin_aperture = 22\nlength_mm = 60\n[[bellows]]\nid = \"bellows\"\nmount = \"a\"\ndraw_mm = [40, 160]\n";

async fn house() -> House {
    let house = House::new();
    house.post("/kit/bring", &[("text", KIT)]).await;
    house
}

#[tokio::test]
async fn a_set_up_gives_a_card_a_file_to_print_and_a_page_for_a_phone() {
    let house = house().await;
    // A draw that came along is left out: the card goes through all of it. 80 mm on 80 mm is life size.
    let text = house.get("/pocket-cards?set-up=six,bellows%3D85,normal&paper=a5").await.text();
    assert!(text.contains("1 card") && text.contains("1:1") && text.contains("checked"), "{text}");
    let link = |start: &str| {
        let link = text.split("href=\"").find(|rest| rest.starts_with(start)).expect("a link");
        link.split('"').next().expect("ends").replace("&amp;", "&")
    };
    let pdf = house.get(&link("/pocket-cards/cards.pdf?")).await;
    assert_eq!((pdf.status, pdf.header("content-type")), (StatusCode::OK, "application/pdf"));
    assert!(pdf.body.starts_with(b"%PDF-") && pdf.header("content-disposition").contains("a5"));
    let phone = house.get(&link("/pocket-cards/cards.html?")).await;
    assert_eq!(phone.status, StatusCode::OK);
    assert!(phone.header("content-disposition").starts_with("attachment"));
    assert!(phone.text().contains("works without a network"));
}

#[tokio::test]
async fn without_set_ups_the_page_says_where_they_come_from_and_files_are_refused() {
    let house = house().await;
    assert!(house.get("/pocket-cards").await.text().contains("Put one together"));
    for query in ["", "set-up=six,gone", "set-up=six,normal&paper=b5", "set-up=six,normal%20nearest"] {
        let file = house.get(&format!("/pocket-cards/cards.pdf?{query}")).await;
        assert_eq!(file.status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
    }
    let text = house.get("/pocket-cards?set-up=six,gone").await.text();
    assert!(text.contains("gone") && text.contains("role=\"alert\"") && !text.contains("<figure"));
}
