//! Who gets in, what every answer carries, and how errors look.

use axum::body::Body;
use axum::http::{Request, StatusCode};

use super::{House, ask};

#[tokio::test]
async fn foreign_hosts_are_turned_away_on_every_page() {
    let house = House::new();
    for host in ["example.org", "127.0.0.1:80", "127.0.0.1.example.org:4711", "localhost:4711.example.org"] {
        let request = Request::builder().uri("/assets/style.css").header("host", host).body(Body::empty());
        let answer = house.send(request.expect("request")).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{host}");
        assert!(answer.text().contains("not this server"));
    }
    let nobody = Request::builder().uri("/assets/style.css").body(Body::empty()).expect("request");
    assert_eq!(house.send(nobody).await.status, StatusCode::FORBIDDEN);
    assert_eq!(house.get("/assets/style.css").await.status, StatusCode::OK);
}

#[tokio::test]
async fn forms_of_other_sites_are_turned_away() {
    let house = House::new();
    let send = |site: &'static str, origin: &'static str| {
        let request = ask("POST", "/manners").header("sec-fetch-site", site).header("origin", origin);
        house.send(request.body(Body::empty()).expect("request"))
    };
    assert_eq!(send("cross-site", "https://example.org").await.status, StatusCode::FORBIDDEN);
    assert_eq!(send("same-origin", "https://example.org").await.status, StatusCode::FORBIDDEN);
    assert_eq!(send("same-site", "http://127.0.0.1:4711").await.status, StatusCode::FORBIDDEN);
    assert_ne!(send("same-origin", "http://127.0.0.1:4711").await.status, StatusCode::FORBIDDEN);
    let unsigned = ask("POST", "/manners").body(Body::empty()).expect("request");
    assert_eq!(house.send(unsigned).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn every_answer_is_hedged_in() {
    let house = House::new();
    for path in ["/no-such-page", "/assets/style.css", "/tasks"] {
        let answer = house.get(path).await;
        assert!(answer.header("content-security-policy").starts_with("default-src 'self'"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("referrer-policy"), "no-referrer", "{path}");
    }
}

#[tokio::test]
async fn errors_are_pages_in_words() {
    let house = House::new();
    let lost = house.get("/no-such-page/%3Cscript%3Ealert(1)%3C/script%3E").await;
    assert_eq!(lost.status, StatusCode::NOT_FOUND);
    assert!(lost.text().contains("There is no page at") && lost.text().contains("aria-label=\"Pages\""));
    assert!(!lost.text().contains("<script>alert"), "{}", lost.text());
    let wrong = house.post("/tasks", &[]).await;
    assert_eq!(wrong.status, StatusCode::METHOD_NOT_ALLOWED);
    let task = house.get("/tasks/77").await;
    assert_eq!(task.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_form_of_absurd_size_is_refused() {
    let house = House::new();
    let large = "x".repeat(crate::web::security::FORM_LIMIT + 1);
    assert_eq!(house.post("/manners", &[("units", &large)]).await.status, StatusCode::PAYLOAD_TOO_LARGE);
}

#[tokio::test]
async fn assets_are_asked_for_again_and_answered_unchanged() {
    let house = House::new();
    let first = house.get("/assets/sheet.js").await;
    let again = ask("GET", "/assets/sheet.js").header("if-none-match", first.header("etag"));
    let again = house.send(again.body(Body::empty()).expect("request")).await;
    assert_eq!((again.status, again.body.len()), (StatusCode::NOT_MODIFIED, 0));
    for path in ["/assets/../Cargo.toml", "/assets/%2e%2e%2fCargo.toml", "/assets/nothing.js"] {
        assert_eq!(house.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
}

#[tokio::test]
async fn units_are_remembered_in_a_cookie_of_this_site_only() {
    let answer = House::new().post("/manners", &[("units", "in")]).await;
    assert_eq!(answer.status, StatusCode::SEE_OTHER);
    assert_eq!(answer.header("set-cookie"), "units=in; Path=/; Max-Age=31536000; SameSite=Strict");
    let odd = House::new().post("/manners", &[("units", "in; Domain=x")]).await;
    assert_eq!(odd.header("set-cookie"), "");
}
