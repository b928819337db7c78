//! The bench's pages.

use axum::http::StatusCode;
use notebook::Notebook;

use super::House;
use crate::bench::NOT_YOURS;
use crate::web::error::sentence;
use crate::web::kit_book::{read_kit, records};
use kit::Kit;

fn with_kit(text: &str) -> House {
    let mut book = Notebook::in_memory().expect("notebook");
    book.replace_kit(&records(&Kit::parse(text).expect("a kit"))).expect("kept");
    House::over(book)
}

fn house() -> House {
    with_kit(crate::demo::KIT)
}

const STACK: &str = "parts=copy-stand-6x6,tube-26,tube-52,normal-85&focus=travel%3D5&f=11";

#[tokio::test]
async fn a_set_up_of_the_kit_is_shown_whole() {
    let page = house().get(&format!("/bench?{STACK}&lp=25")).await;
    let text = page.text();
    assert_eq!(page.status, StatusCode::OK);
    let parts = [
        sentence(NOT_YOURS),
        "US patent 2,673,491".into(),
        "The glass cut along its axis".into(),
        "Contrast over the field, 25 lp/mm".into(),
        "Map of the frame: contrast at 25 lp/mm".into(),
        "Ray fans, corner".into(),
        "Field curvature and astigmatism".into(),
        "Lateral colour".into(),
        "Axial colour".into(),
        "Relative illumination".into(),
        "Distortion".into(),
        "Wave aberration".into(),
        "All together".into(),
        "closework bench kit --kit kit.toml --parts copy-stand-6x6,tube-26,tube-52,normal-85".into(),
    ];
    for part in parts {
        assert!(text.contains(&part), "{part} is not in the page");
    }
    // The middle of the map, the middle of the curve over the field: one figure, told in words and as a table.
    let found = crate::web::fmt::percent(middle(&text));
    assert!(text.contains(&format!("In the middle {found}")), "{found}");
    assert!(!text.contains("style=") && !text.contains("NaN"), "styles belong to the sheet");
}

/// Contrast in the middle as the first row of the curve over the field tells it.
fn middle(text: &str) -> f64 {
    let table = text.split("id=\"over-field\"").nth(1).expect("the chart");
    let row = table.split("<tbody><tr>").nth(1).expect("its table");
    let cell = row.split("<td>").nth(2).expect("a figure");
    cell.split('<').next().expect("text").parse().expect("a number")
}

#[tokio::test]
async fn the_drawing_has_the_glass_where_a_form_is_chosen() {
    let shown = house().get(&format!("/set-up?{STACK}")).await.text();
    assert_eq!(shown.matches("class=\"glass\"").count(), 6, "US 2,673,491 has six");
    assert!(shown.contains("/bench?parts=copy-stand-6x6%2Ctube-26%2Ctube-52%2Cnormal-85"));
    let bare = crate::demo::KIT.replace("design_form", "# design_form");
    let shown = with_kit(&bare).get(&format!("/set-up?{STACK}")).await.text();
    assert!(!shown.contains("class=\"glass\"") && shown.contains("class=\"ray\""), "the schematic stays");
    assert!(shown.contains("Choose a design form to see its glass"));
}

#[tokio::test]
async fn what_has_no_glass_says_what_to_do() {
    let bare = with_kit(&crate::demo::KIT.replace("design_form", "# design_form"));
    let text = bare.get(&format!("/bench?{STACK}")).await.text();
    assert!(text.contains("no design form is chosen") || text.contains("No design form is chosen"), "{text}");
    assert!(text.contains("href=\"/bench?lens=normal-85\"") && text.contains("Choose one"));
    assert!(text.contains("Choose a form") && !text.contains("Draw it"), "what cannot be drawn is not offered: {text}");
    let odd = with_kit(&crate::demo::KIT.replace("double-gauss-1954", "double-gaus"));
    assert!(odd.get(&format!("/bench?{STACK}")).await.text().contains("which there is not"));
    let house = house();
    let converter = house.get("/bench?parts=copy-stand-6x6,converter-14,tube-26,normal-85").await.text();
    assert!(converter.contains("; the converter counts as without faults of its own, the best case"), "{converter}");
    assert!(house.get("/bench?parts=copy-stand-6x6,nothing").await.text().contains("nothing"));
    assert!(house.get(&format!("/bench?{STACK}&lp=fine")).await.text().contains("is not a number"));
    assert_eq!(house.get("/bench/forms/no-such-form").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn forms_come_nearest_first_with_their_source() {
    let text = house().get("/bench?elements=4&symmetric=no&back_focus=short").await.text();
    let at = |key: &str| text.find(&format!("/bench/forms/{key}\"")).expect("listed");
    assert!(at("telephoto") < at("triplet-derived-1903") && at("triplet-derived-1903") < at("double-gauss-1954"));
    // Printed beside traced, nothing adjusted.
    assert!(text.contains("back focus printed 1, traced 0.709547") && text.contains("US patent 2,673,491"));
    assert!(text.contains("Fits every answer."));
}

#[tokio::test]
async fn a_form_is_kept_with_its_lens_and_nothing_else_changes() {
    let house = house();
    let before = house.app.with_notebook(|book| read_kit(book)).expect("a kit");
    let kept = house.post("/bench/choose", &[("lens", "normal-85"), ("form", "double-gauss-1930")]).await;
    assert_eq!((kept.status, kept.header("location")), (StatusCode::SEE_OTHER, "/bench?lens=normal-85"));
    let after = house.app.with_notebook(|book| read_kit(book)).expect("a kit");
    for (old, new) in before.parts().iter().zip(after.parts()) {
        for field in old.kind().fields() {
            let changed = old.id() == "normal-85" && field.name == "design_form";
            assert_eq!(old.form_text(field.name) != new.form_text(field.name), changed, "{} {}", old.id(), field.name);
        }
    }
    assert!(house.get("/bench?lens=normal-85").await.text().contains("Stands for Normal lens, 85 mm."));
    let unknown = house.post("/bench/choose", &[("lens", "normal-85"), ("form", "double-gaus")]).await;
    assert_eq!(unknown.status, StatusCode::UNPROCESSABLE_ENTITY);
    let nobody = house.post("/bench/choose", &[("lens", "tube-26"), ("form", "telephoto")]).await;
    assert_eq!(nobody.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_form_alone_has_the_size_that_was_asked_for() {
    let text = house().get("/bench/forms/double-gauss-1954?focal=85&f=8&m=1:2&reversed=on").await.text();
    assert!(text.contains("<dd>1:2</dd>") && text.contains("Contrast over fineness"), "{text}");
    // Coupled, the size is the ratio of the focal lengths (the trade's rule).
    let coupled = "/bench/forms/double-gauss-1954?focal=160&f=11&coupled=triplet-derived-1903&coupled_focal=80";
    assert!(house().get(coupled).await.text().contains("<dd>2:1</dd>"));
    assert!(house().get(&format!("{coupled}&close_up=4")).await.text().contains("not both"));
    let wrong = house().get("/bench/forms/double-gauss-1954?m=large&f=0.1").await.text();
    assert!(wrong.contains("is no magnification") && wrong.contains("outside 0.5 to 200"), "{wrong}");
}

#[tokio::test]
async fn a_table_is_traced_or_refused_by_its_row() {
    let house = house();
    let table =
        "43 9.8 1.69\n-115 2.1 1.55\n307 4.16 air\nstop 4 air\n-59.1 1.87 1.64\n40.9 10.6 air\n184 7.05 1.69\n-48.9";
    let ask = |text: &str| {
        let query: String = form_urlencoded::Serializer::new(String::new())
            .extend_pairs([("text", text), ("f", "8"), ("extension", "50")])
            .finish();
        format!("/bench/table?{query}")
    };
    let shown = house.get(&ask(table)).await.text();
    assert!(shown.contains("Map of the frame") && shown.contains("4 glasses"), "{shown}");
    let wrong = house.get(&ask("43 9.8 1.69\n\n-115 thick 1.55")).await.text();
    assert!(
        wrong.contains("Line 3") && wrong.contains("thick") && wrong.contains("id=\"field-text-error\""),
        "{wrong}"
    );
    // What was typed is still there.
    assert!(wrong.contains("-115 thick 1.55"));
    let none = house.get(&ask("plane 5 1.5\nstop 5 air\nplane - air")).await.text();
    assert!(none.contains("check the signs of its radii"), "{none}");
}

/// A notebook with one frame of the example's first set-up, scanned, with an edge in the middle and one at the side.
fn measured_house() -> House {
    use notebook::{Magnification, MagnificationSource, ScanDraft, ScanPicture};
    let mut book = Notebook::in_memory().expect("notebook");
    crate::demo::enter_for_tests(&mut book).expect("the example");
    let job = book.jobs().expect("jobs").into_iter().find(|job| job.title.contains("plate 12")).expect("the job").id;
    let frame = book.frames_of_job(job).expect("frames")[0].id;
    let draft =
        ScanDraft { job: Some(job), frame: Some(frame), file_name: "a.tif".into(), stored: "a.tif".into(), bytes: 1 };
    let now = "2026-05-01T10:00:00Z";
    let scan = book.add_scan(&draft, now).expect("scan");
    let picture = ScanPicture { width: 5600, height: 5600, bits: 16, pitch_um: Some(10.0), ..ScanPicture::default() };
    book.set_scan_picture(scan, &picture).expect("picture");
    let size = Magnification { value: 1.0, plus_minus: Some(0.01), from: MagnificationSource::Ruler };
    book.set_scan_magnification(scan, Some(size)).expect("scale");
    for (label, x, at_half) in [("centre", 2800.0, 0.5), ("half-way", 4800.0, 0.25)] {
        let curve = ([[0.0, 1.0], [0.5, at_half]], [0.01, 0.02]);
        crate::verdict::tests::keep_edge(&mut book, scan, label, (&curve.0, &curve.1), [x, 2800.0]);
    }
    House::over(book)
}

#[tokio::test]
async fn predicted_stands_beside_measured() {
    let house = measured_house();
    let list = house.get("/bench/measured").await.text();
    let link = list.split("href=\"/bench/measured/").nth(1).expect("a frame").split('"').next().expect("its id");
    let text = house.get(&format!("/bench/measured/{link}")).await.text();
    // By hand: 10 lp/mm are 0.1 cycles per pixel of 10 µm; 1 − 0.1 in the middle, 1 − 0.15 half-way out: 0.944 of it.
    assert!(text.contains("half-way, tangential") && text.contains("0.944"), "{text}");
    let parts =
        [&sentence(NOT_YOURS), "Off by", "predicted, the lens alone", "of the middle&#39;s contrast", "the lens alone"];
    for part in parts {
        assert!(text.contains(part) || text.contains(&part.replace("&#39;", "'")), "{part} is not in the page");
    }
    assert!(
        house
            .get(&format!("/bench?parts={}", "copy-stand-6x6,tube-26,tube-52,normal-85"))
            .await
            .text()
            .contains(&format!("/bench/measured/{link}"))
    );
    assert_eq!(house.get("/bench/measured/999").await.status, StatusCode::NOT_FOUND);
    assert!(self::house().get("/bench/measured").await.text().contains("No frame can be compared yet"));
}

#[tokio::test]
async fn every_form_is_tried_and_none_is_kept() {
    let house = measured_house();
    let before = house.app.with_notebook(|book| read_kit(book)).expect("a kit");
    assert!(house.get("/bench/fit?lens=long-160").await.text().contains("No measured frame was taken with"));
    assert_eq!(house.get("/bench/fit?lens=tube-26").await.status, StatusCode::NOT_FOUND);
    let begun = house.post("/bench/fit", &[("lens", "normal-85")]).await;
    assert_eq!(begun.header("location"), "/bench/fit?lens=normal-85");
    let text = until(&house, "/bench/fit?lens=normal-85", "The best first").await;
    assert!(
        text.contains("stands for it now") && text.matches("name=\"form\"").count() == rays::FORMS.len() - 1,
        "{text}"
    );
    let after = house.app.with_notebook(|book| read_kit(book)).expect("a kit");
    assert_eq!(before.parts(), after.parts(), "a person chooses, not the fit");
}

/// The page once it says so; background work has four minutes.
async fn until(house: &House, page: &str, says: &str) -> String {
    for _ in 0..2400 {
        let text = house.get(page).await.text();
        if text.contains(says) {
            return text;
        }
        assert!(!text.contains("class=\"refusal\""), "{text}");
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    panic!("{page} never said “{says}”");
}

/// A small frame, so that it is drawn soon.
#[tokio::test]
async fn a_predicted_frame_is_drawn_kept_and_shown() {
    let house = with_kit(&crate::demo::KIT.replace("frame_mm = [56, 56]", "frame_mm = [12, 12]"));
    let fields = [
        ("parts", "copy-stand-6x6,tube-26,tube-52,normal-85"),
        ("focus", "travel=5"),
        ("f", "16"),
        ("subject", "card"),
    ];
    let begun = house.post("/bench/picture", &fields).await;
    let page = begun.header("location").to_owned();
    let text = until(&house, &page, "<img").await;
    assert!(text.contains(&sentence(NOT_YOURS)) && text.contains("a test card of slanted squares and greys"), "{text}");
    let whole = text.split("<img src=\"").nth(1).expect("a picture").split('"').next().expect("its address");
    let picture = house.get(whole).await;
    assert_eq!((picture.status, picture.header("content-type")), (StatusCode::OK, "image/jpeg"));
    assert_eq!(&picture.body[..2], [0xff, 0xd8]);
    let scan = house.get(&whole.replace("whole.jpg", "frame.tif")).await;
    assert_eq!((scan.status, scan.header("content-type")), (StatusCode::OK, "image/tiff"));
    assert_eq!(house.get(&whole.replace("whole", "elsewhere")).await.status, StatusCode::NOT_FOUND);
    assert_eq!(house.get("/bench/pictures/..%2fn.db/frame.tif").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_frame_that_cannot_be_predicted_says_why() {
    let bare = with_kit(&crate::demo::KIT.replace("design_form", "# design_form"));
    let fields = [("parts", "copy-stand-6x6,tube-26,normal-85"), ("subject", "card")];
    let page = bare.post("/bench/picture", &fields).await.header("location").to_owned();
    assert!(bare.get(&page).await.text().contains("No design form is chosen"));
    let house = house();
    let far = [("parts", "copy-stand-6x6,normal-85"), ("f", "16"), ("subject", "card")];
    let page = house.post("/bench/picture", &far).await.header("location").to_owned();
    for _ in 0..2400 {
        let text = house.get(&page).await.text();
        if text.contains("sharp at infinity") {
            return;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    panic!("it never said that the subject is far away");
}

/// The rows of a form of the library as a person would copy them from its patent (US 2,854,889).
const ROWS: &str =
    "43 9.8 1.69\n-115 2.1 1.55\n307 4.16 air\nstop 4 air\n-59.1 1.87 1.64\n40.9 10.6 air\n184 7.05 1.69\n-48.9 79.8";

async fn kept(house: &House) {
    let kept = house.post("/bench/tables", &[("text", ROWS), ("name", "My own four")]).await;
    assert_eq!((kept.status, kept.header("location")), (StatusCode::SEE_OTHER, "/bench/table?kept=my-own-four"));
}

/// A table is kept, stands for a lens, and every page that asks for the lens's form uses it; figures are those of the form that it is.
#[tokio::test]
async fn a_table_of_ones_own_stands_for_a_lens() {
    let house = house();
    kept(&house).await;
    let page = house.get("/bench/table?kept=my-own-four").await.text();
    assert!(page.contains("No lens stands on it yet.") && page.contains("Back focus in the table 79.8 mm, traced"));
    let chosen =
        house.post("/bench/choose", &[("lens", "normal-85"), ("form", "my-own-four"), ("back", "table")]).await;
    assert_eq!(chosen.header("location"), "/bench/table?kept=my-own-four");
    let text = house.get(&format!("/bench?{STACK}")).await.text();
    assert!(text.contains("A lens table that you gave (“My own four”), made 0."), "{text}");
    assert!(
        text.contains("to 85.00 mm: it predicts as well as it is the table of your lens")
            && !text.contains("A form, not your lens")
    );
    let form = house.post("/bench/choose", &[("lens", "normal-85"), ("form", "cemented-front-four")]).await;
    assert_eq!(form.status, StatusCode::SEE_OTHER);
    assert_eq!(middle(&text), middle(&house.get(&format!("/bench?{STACK}")).await.text()));
    // Among the forms to choose from, and to be put in front.
    let library = house.get("/bench?lens=long-160").await.text();
    assert!(library.contains("Lens tables of your own") && library.contains("name=\"form\" value=\"my-own-four\""));
    let coupled = house.get("/bench/forms/telephoto?f=11&coupled=my-own-four&focal=160&coupled_focal=80").await.text();
    assert!(coupled.contains("<dd>2:1</dd>"), "{coupled}");
}

#[tokio::test]
async fn a_kept_table_is_changed_and_does_not_go_while_a_lens_stands_on_it() {
    let house = house();
    kept(&house).await;
    let again = house.post("/bench/tables", &[("text", ROWS), ("name", "My own four")]).await;
    assert!(again.text().contains("is that of something in the kit already"), "{}", again.text());
    let shipped = house.post("/bench/tables", &[("text", ROWS), ("name", "Telephoto")]).await;
    assert!(shipped.text().contains("is that of a form of the library already"));
    let slip = house.post("/bench/tables", &[("text", "43 thick 1.69"), ("name", "A slip")]).await;
    assert!(slip.text().contains("Line 1: the gap is “thick”"), "{}", slip.text());
    let blind = house.post("/bench/tables", &[("text", "43 9.8 1.69\n-48.9"), ("name", "No iris")]).await;
    assert!(blind.text().contains("The table has no stop"), "{}", blind.text());
    let changed = [("text", &*ROWS.replace("184", "185")), ("name", "The same"), ("kept", "my-own-four")];
    assert_eq!(house.post("/bench/tables", &changed).await.status, StatusCode::SEE_OTHER);
    let page = house.get("/bench/table?kept=my-own-four").await.text();
    assert!(page.contains("185 7.05") && page.contains("value=\"The same\""), "{page}");
    house.post("/bench/choose", &[("lens", "normal-85"), ("form", "my-own-four")]).await;
    for way in ["/bench/tables/my-own-four/delete", "/kit/part/my-own-four/delete"] {
        let stays = house.post(way, &[]).await;
        assert_eq!(stays.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(stays.text().contains("stands for Normal lens, 85 mm"), "{}", stays.text());
    }
    house.post("/bench/choose", &[("lens", "normal-85"), ("form", "telephoto")]).await;
    assert_eq!(house.post("/bench/tables/my-own-four/delete", &[]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(house.get("/bench/table?kept=my-own-four").await.status, StatusCode::NOT_FOUND);
}

/// The kit file takes tables out and brings them in; what it lacks is said, and nothing is brought in.
#[tokio::test]
async fn a_kit_file_with_a_table_stands_by_itself() {
    let house = house();
    kept(&house).await;
    house.post("/bench/choose", &[("lens", "normal-85"), ("form", "my-own-four")]).await;
    let file = house.get("/kit/file").await.text();
    let elsewhere = House::over(Notebook::in_memory().expect("notebook"));
    assert_eq!(elsewhere.post("/kit/bring", &[("text", &file), ("how", "add")]).await.status, StatusCode::SEE_OTHER);
    let [here, there] =
        [&house, &elsewhere].map(|house| house.app.with_notebook(|book| read_kit(book)).expect("a kit"));
    assert_eq!(here, there);
    assert!(elsewhere.get(&format!("/bench?{STACK}")).await.text().contains("“My own four”"));
    assert!(elsewhere.get("/kit").await.text().contains("href=\"/bench/table?kept=my-own-four\""));
    let lacking = file.split("[[lens_table]]").next().expect("before it").to_owned();
    let refused = House::over(Notebook::in_memory().expect("notebook"));
    let said = refused.post("/kit/bring", &[("text", &lacking), ("how", "add")]).await.text();
    assert!(said.contains("names the design form") && said.contains("Nothing was brought in."), "{said}");
    let broken = file.replace("stop 4 air", "stop four air");
    let said = refused.post("/kit/bring", &[("text", &broken), ("how", "add")]).await.text();
    assert!(said.contains("my-own-four") && said.contains("line 4: the gap is “four”"), "{said}");
    assert!(refused.app.with_notebook(|book| read_kit(book)).expect("a kit").parts().is_empty());
}

#[tokio::test]
async fn a_lens_that_names_what_is_not_there_is_not_saved() {
    let house = house();
    let kit = house.app.with_notebook(|book| read_kit(book)).expect("a kit");
    let lens = kit.part("normal-85").expect("there");
    let typed: Vec<(&str, String)> = lens
        .kind()
        .fields()
        .map(|field| {
            (field.name, if field.name == "design_form" { "my-fuor".into() } else { lens.form_text(field.name) })
        })
        .chain([("id", "normal-85".into())])
        .collect();
    let typed: Vec<(&str, &str)> = typed.iter().map(|(name, text)| (*name, text.as_str())).collect();
    let said = house.post("/kit/part/normal-85", &typed).await.text();
    assert!(
        said.contains("“my-fuor”") || said.contains("&quot;my-fuor&quot;") || said.contains("\"my-fuor\""),
        "{said}"
    );
    assert!(said.contains("double-gauss-1954") && said.contains("lens_table"), "{said}");
}
