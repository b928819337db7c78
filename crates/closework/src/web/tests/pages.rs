//! Kit, reach, set-up, exposure, jobs and verdict, asked for as a browser would.

use axum::http::StatusCode;

use super::House;
use crate::demo;

/// A house with the example's entries in it, its frames not drawn.
fn furnished() -> House {
    let house = House::new();
    house.app.with_notebook(demo::enter_for_tests).expect("example");
    house
}

const SET_UP: &str = "parts=copy-stand-6x6,tube-26,tube-52,normal-85&focus=travel%3D5.3&f=16";

#[tokio::test]
async fn every_page_answers_with_an_empty_notebook_and_says_what_to_do_first() {
    let house = House::new();
    for (path, words) in [
        ("/", "No job yet"),
        ("/jobs/new", "What the job is called"),
        ("/kit", "The drawer is empty"),
        ("/reach", "The drawer is empty"),
        ("/set-up", "needs a body and a lens"),
        ("/exposure", "Put them in the drawer"),
        ("/verdict", "There is no job"),
    ] {
        let answer = house.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert!(answer.text().contains(words), "{path} does not say “{words}”");
    }
}

#[tokio::test]
async fn a_lens_is_added_with_four_figures_and_comes_back_when_something_is_wrong() {
    let house = House::new();
    let typed = [
        ("name", "Tele <b>"),
        ("mount", "m"),
        ("focal_length_mm", "150"),
        ("max_aperture", "4"),
        ("length_mm", "ninety"),
    ];
    let wrong = house.post("/kit/new/lens", &typed).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    let text = wrong.text();
    assert!(
        text.contains("field-length_mm-error") && text.contains("value=\"150\"") && !text.contains("<b>"),
        "{text}"
    );
    let right: Vec<_> = typed[..4].iter().copied().chain([("length_mm", "90,5")]).collect();
    assert_eq!(house.post("/kit/new/lens", &right).await.status, StatusCode::SEE_OTHER);
    let kit = house.get("/kit").await.text();
    assert!(kit.contains("tele-b") && kit.contains("90.5 mm") && kit.contains("assumed"), "{kit}");
    // A second part of that name is refused at its field.
    let again = house.post("/kit/new/lens", &right).await;
    assert_eq!(again.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(again.text().contains("field-id-error"));
}

#[tokio::test]
async fn a_kit_file_goes_out_and_comes_back_the_same_and_is_read_whole_or_not_at_all() {
    let house = furnished();
    let file = house.get("/kit/file").await.text();
    assert_eq!(house.post("/kit/bring", &[("text", &file), ("how", "replace")]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(house.get("/kit/file").await.text(), file);
    let broken = format!("{file}\n[[tube]]\nid = \"new\"\nmount = \"x\"\nlength_mm = -1\n");
    let refused = house.post("/kit/bring", &[("text", &broken), ("how", "replace")]).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("length_mm"));
    let doubled = house.post("/kit/bring", &[("text", &file), ("how", "add")]).await;
    assert_eq!(doubled.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.get("/kit/file").await.text(), file, "nothing half-read");
}

#[tokio::test]
async fn a_changed_lens_changes_what_the_kit_reaches() {
    let house = furnished();
    let before = house.get("/reach?job=1").await.text();
    let mut typed =
        vec![("name", "Normal lens"), ("id", "normal-85"), ("mount", "other-bayonet"), ("focal_length_mm", "85")];
    typed.extend([("max_aperture", "2.8"), ("length_mm", "61")]);
    assert_eq!(house.post("/kit/part/normal-85", &typed).await.status, StatusCode::SEE_OTHER);
    let after = house.get("/reach?job=1").await.text();
    assert!(before.contains("tube-26 + tube-52 + normal-85"));
    assert!(!after.contains("tube-26 + tube-52 + normal-85"), "its mount fits nothing any more");
}

#[tokio::test]
async fn a_set_up_is_drawn_and_its_sliders_renew_a_part_of_the_page() {
    let house = furnished();
    let page = house.get(&format!("/set-up?{SET_UP}&job=1")).await.text();
    for part in ["<svg", "film to subject", "name=\"travel\"", "name=\"stop\"", "What the frame covers", "wants"] {
        assert!(page.contains(part), "{part} is missing");
    }
    assert!(!page.contains("NaN") && !page.contains("not known"), "no figure is nonsense");
    let slid =
        house.get("/set-up/figures?body=copy-stand-6x6&bellows=bellows&draw=120&lens=long-160&travel=0&stop=3").await;
    let slid = slid.text();
    assert!(slid.contains("<svg") && !slid.contains("<html"), "{slid}");
    let refused = house.get("/set-up/figures?parts=copy-stand-6x6,reverse-62,normal-85,plus-2").await.text();
    assert!(refused.contains("role=\"alert\"") && refused.contains("plus-2"), "{refused}");
}

#[tokio::test]
async fn an_exposure_is_worked_out_step_by_step() {
    let house = furnished();
    let page = house.get(&format!("/exposure?{SET_UP}&metered=1%2F4&filter=1")).await.text();
    for words in ["Lost to extension", "Taken by filters", "Hold B for", "not counted"] {
        assert!(page.contains(words), "“{words}” is missing");
    }
    let wrong = house.get(&format!("/exposure?{SET_UP}&metered=quarter")).await.text();
    assert!(wrong.contains("is no time") && wrong.contains("value=\"quarter\""));
}

#[tokio::test]
async fn a_job_is_begun_planned_and_logged() {
    let house = furnished();
    let refused = house
        .post(
            "/jobs/new",
            &[
                ("title", ""),
                ("subject_mm", "-3"),
                ("fill", "70"),
                ("print_mm", "200"),
                ("criterion_lp_mm", "5"),
                ("contrast_needed", "20"),
            ],
        )
        .await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.text().contains("field-subject_mm-error") && refused.text().contains("field-title-error"));
    assert!(refused.text().contains("Its longest side: "), "the summary says of what: {}", refused.text());
    let good = [
        ("title", "Weevils"),
        ("subject_mm", "8"),
        ("fill", "60"),
        ("print_mm", "200"),
        ("criterion_lp_mm", "5"),
        ("contrast_needed", "20"),
    ];
    let begun = house.post("/jobs/new", &good).await;
    assert_eq!(begun.status, StatusCode::SEE_OTHER);
    let job = begun.header("location").to_owned();
    // 0.6 of 56 mm over 8 mm.
    assert!(house.get(&job).await.text().contains("4.2:1"));
    let frame = [
        ("number", "1"),
        ("parts", "copy-stand-6x6, tube-52, normal-85"),
        ("focus", "infinity"),
        ("f_number", "11"),
        ("state", "planned"),
    ];
    let wrong: Vec<_> =
        frame.iter().map(|(n, v)| if *n == "parts" { (*n, "copy-stand-6x6, tube-99") } else { (*n, *v) }).collect();
    let to = format!("{job}/frames/new");
    assert_eq!(house.post(&to, &wrong).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(house.post(&to, &frame).await.status, StatusCode::SEE_OTHER);
    let page = house.get(&job).await.text();
    assert!(page.contains("Taken as planned"), "{page}");
    let press = page
        .split("action=\"")
        .find(|piece| piece.starts_with("/frames/") && piece.contains("/shot\""))
        .expect("a press");
    assert_eq!(house.post(press.split('"').next().expect("path"), &[]).await.status, StatusCode::SEE_OTHER);
    assert!(!house.get(&job).await.text().contains("Taken as planned"));
    assert_eq!(house.post(&format!("{job}/delete"), &[]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(house.get(&job).await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn a_decision_is_written_down_and_taken_back() {
    let house = furnished();
    assert_eq!(
        house.post("/jobs/1/decisions", &[("text", "the long lens <i>goes</i>")]).await.status,
        StatusCode::SEE_OTHER
    );
    let page = house.get("/jobs/1/verdict").await.text();
    assert!(page.contains("The long lens &lt;i&gt;goes&lt;/i&gt;."), "{page}");
    assert!(house.get("/jobs").await.text().contains("decided"));
    assert_eq!(house.post("/decisions/1/1/delete", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(!house.get("/jobs/1/verdict").await.text().contains("The long lens"));
}

#[tokio::test]
async fn what_is_not_there_is_said_in_words() {
    let house = furnished();
    for path in ["/jobs/99", "/jobs/x", "/kit/part/none", "/kit/new/spaceship", "/frames/12345", "/jobs/99/edit"] {
        assert_eq!(house.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
}

#[tokio::test]
async fn a_setting_that_cannot_be_read_gives_no_figures() {
    let house = furnished();
    let parts = "parts=copy-stand-6x6,tube-26,tube-52,normal-85&metered=1%2F4";
    for wrong in ["focus=near", "focus=travel%3D5%20mm", "f=f%2F8", "f=eight"] {
        let page = house.get(&format!("/exposure?{parts}&{wrong}")).await.text();
        assert!(page.contains("Please look at") && !page.contains("Step by step"), "{wrong}");
        let set_up = house.get(&format!("/set-up/figures?{parts}&{wrong}")).await.text();
        assert!(set_up.contains("could not be read") && !set_up.contains("<svg"), "{wrong}");
    }
    for wrong in ["deep=deep", "deep=0", "deep=5000"] {
        let set_up = house.get(&format!("/set-up/figures?{parts}&{wrong}")).await.text();
        assert!(set_up.contains("#field-deep") && !set_up.contains("<svg"), "{wrong}");
    }
    let fields = "body=copy-stand-6x6&bellows=bellows&lens=normal-85&metered=1%2F4";
    for wrong in ["draw=500", "draw=85%20mm"] {
        let page = house.get(&format!("/exposure?{fields}&{wrong}")).await.text();
        assert!(page.contains("field-draw-error") && !page.contains("Step by step"), "{wrong}");
    }
    // Capitals are no mistake.
    assert!(house.get(&format!("/exposure?{parts}&focus=Closest")).await.text().contains("Step by step"));
}

#[tokio::test]
async fn a_tall_stack_keeps_all_its_parts_when_a_slider_moves() {
    let house = furnished();
    let five: String =
        (1..=5).map(|i| format!("[[tube]]\nid = \"t{i}\"\nmount = \"wide-bayonet\"\nlength_mm = 10\n")).collect();
    assert_eq!(house.post("/kit/bring", &[("text", &five), ("how", "add")]).await.status, StatusCode::SEE_OTHER);
    let page = house.get("/set-up?parts=copy-stand-6x6,t1,t2,t3,t4,t5,normal-85").await.text();
    let chosen = (1..=5).all(|i| page.contains(&format!("<option value=\"t{i}\" selected>")));
    assert!(chosen && page.contains("name=\"tube\""), "each of the five has its choice");
}

#[tokio::test]
async fn a_job_whose_body_is_gone_says_so() {
    let house = furnished();
    assert_eq!(house.post("/kit/part/copy-stand-6x6/delete", &[]).await.status, StatusCode::SEE_OTHER);
    let spare = "[[body]]\nid = \"other\"\nmount = \"x\"\nframe_mm = [24, 36]\nregister_mm = 44\n";
    assert_eq!(house.post("/kit/bring", &[("text", spare), ("how", "add")]).await.status, StatusCode::SEE_OTHER);
    assert!(house.get("/jobs/1/verdict").await.text().contains("body of its job is not in the kit"));
    assert!(house.get("/jobs/1").await.text().contains("its body in the"));
}

#[tokio::test]
async fn a_set_up_says_whether_the_jobs_room_and_depth_are_there() {
    let house = furnished();
    let page = house.get(&format!("/set-up/figures?{SET_UP}&job=1")).await.text();
    assert!(page.contains("in front; the job needs"), "{page}");
    assert!(page.contains("takes focused through it") && page.contains("best at about f/"), "{page}");
    assert!(page.contains("its shorter side is not stated"), "{page}");
    let far = house.get("/set-up/figures?parts=copy-stand-6x6,normal-85&focus=travel%3D5&job=1").await.text();
    assert!(far.contains("one take covers it") && !far.contains("takes focused"), "{far}");
    let infinite = house.get("/set-up/figures?parts=copy-stand-6x6,normal-85").await.text();
    assert!(!infinite.contains("0.0000000"), "nothing lost is 0, not the rounding of arithmetic");
}

#[tokio::test]
async fn a_kit_file_that_is_brought_in_counts_its_lines_from_the_first() {
    let house = House::new();
    let refused =
        house.post("/kit/bring", &[("text", "\n\n\n[[tube]]\nid = \"t\"\nmount = \"m\"\nlength_mm = -1\n")]).await;
    assert!(refused.text().contains("Line 7"), "{}", refused.text());
}

#[tokio::test]
async fn the_example_goes_and_what_is_ones_own_stays() {
    let house = furnished();
    let mine = "[[lens]]\nid = \"long-160\"\nmount = \"m\"\nfocal_length_mm = 160\nmax_aperture = 4\nlength_mm = 90\n";
    assert_eq!(house.post("/kit/bring", &[("text", mine), ("how", "renew")]).await.status, StatusCode::SEE_OTHER);
    assert_eq!(house.post("/example/remove", &[]).await.status, StatusCode::SEE_OTHER);
    assert!(house.get("/jobs").await.text().contains("No job yet"));
    let kit = house.get("/kit/file").await.text();
    assert!(kit.contains("id = \"long-160\"") && !kit.contains("normal-85"), "the changed lens stays: {kit}");
}

#[tokio::test]
async fn units_may_be_typed_with_their_figures() {
    let house = House::new();
    let typed = [
        ("name", "Tele"),
        ("mount", "m"),
        ("focal_length_mm", "150 mm"),
        ("max_aperture", "f/4"),
        ("length_mm", "90,5mm"),
        ("thread_mm", "Ø 62"),
        ("close_focus_mm", "900"),
        ("max_magnification", "1:4"),
    ];
    assert_eq!(house.post("/kit/new/lens", &typed).await.status, StatusCode::SEE_OTHER);
    let kit = house.get("/kit/file").await.text();
    for line in
        ["focal_length_mm = 150", "max_aperture = 4", "length_mm = 90.5", "thread_mm = 62", "max_magnification = 0.25"]
    {
        assert!(kit.contains(line), "{line} is not in {kit}");
    }
}

#[tokio::test]
async fn an_exposure_goes_on_to_the_frame() {
    let house = furnished();
    let page = house.get(&format!("/exposure?{SET_UP}&metered=1%2F4&job=1")).await.text();
    let link =
        page.split('"').find(|piece| piece.starts_with("/jobs/1/frames/new?")).expect("a way on").replace("&amp;", "&");
    let frame = house.get(&link).await.text();
    assert!(frame.contains("value=\"0.25\"") && frame.contains("value=\"1\"") && frame.contains("tube-26"), "{frame}");
}

#[tokio::test]
async fn a_drawer_with_too_many_set_ups_is_asked_to_be_narrowed() {
    let house = furnished();
    let tubes: String = (0..40)
        .map(|i| format!("[[tube]]\nid = \"t{i}\"\nmount = \"wide-bayonet\"\nlength_mm = {}\n", i + 5))
        .collect();
    assert_eq!(house.post("/kit/bring", &[("text", &tubes), ("how", "add")]).await.status, StatusCode::SEE_OTHER);
    let page = house.get("/reach?tubes=5").await.text();
    assert!(page.contains("role=\"alert\"") && !page.contains("<svg id"), "{page}");
    assert!(house.get("/reach?tubes=1").await.text().contains("<svg id"));
}

#[tokio::test]
async fn a_job_finds_the_set_ups_that_nothing_else_beats() {
    let house = furnished();
    let page = house.get("/jobs/1/plan").await;
    assert_eq!(page.status, StatusCode::OK);
    let text = page.text();
    for words in [
        "What the pictures need",
        "13.4 lp/mm",
        "Worth choosing between",
        "Bellows · Long lens, 160 mm",
        "exposures",
        "Ruled out",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
    assert!(!text.contains(" on 6×6 body"), "the only body goes without saying");
    // A wish that nothing meets: why, and what is nearest.
    let mut typed = vec![
        ("title", "Far away"),
        ("subject_mm", "40"),
        ("fill", "70"),
        ("print_mm", "150"),
        ("criterion_lp_mm", "5"),
        ("contrast_needed", "20"),
        ("least_working_distance_mm", "2500"),
        ("most_stops_lost", "3"),
        ("largest_crop", "10"),
    ];
    assert_eq!(house.post("/jobs/new", &typed).await.status, StatusCode::SEE_OTHER);
    let text = house.get("/jobs/4/plan").await.text();
    for words in ["No set-up serves", "come too near the subject", "Nearest"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    typed.push(("subject_short_mm", "90"));
    let wrong = house.post("/jobs/new", &typed).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(wrong.text().contains("field-subject_short_mm-error"));
    // A wish that cannot be taken is refused, never dropped.
    for (field, value) in [("subject_short_mm", "-4"), ("depth_wanted_mm", "7")] {
        let mut typed = typed.clone();
        typed.retain(|(name, _)| *name != "subject_short_mm");
        typed.extend([("subject_depth_mm", "6"), (field, value)]);
        let text = house.post("/jobs/new", &typed).await.text();
        assert!(
            text.contains(&format!("field-{field}-error")) && text.contains(&format!("value=\"{value}\"")),
            "{text}"
        );
    }
    assert_eq!(house.get("/jobs/99/plan").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn every_kind_of_part_can_be_picked() {
    let house = furnished();
    // Picked by fields: the coupling ring and the second lens follow the first, the converter stands where it is put.
    let picked = "body=copy-stand-6x6&tube=tube-26&converter=converter-14&converter_at=body&lens=long-160&coupling=couple-62&second=normal-85";
    let text = house.get(&format!("/set-up?{picked}")).await.text();
    assert!(text.contains("copy-stand-6x6,converter-14,tube-26,long-160,couple-62,normal-85"), "{text}");
    let other = house.get(&format!("/set-up?{}", picked.replace("=body&lens", "=lens&lens"))).await.text();
    assert!(other.contains("copy-stand-6x6,tube-26,converter-14,long-160,couple-62,normal-85"), "{other}");
    // A stack that came in an order of its own keeps it while the same parts are picked.
    let kept = format!("/set-up?{picked}&order=copy-stand-6x6,tube-26,converter-14,long-160,couple-62,normal-85");
    assert!(house.get(&kept).await.text().contains("parts copy-stand-6x6,tube-26,converter-14,long-160"));
    // Written out: what no field can say.
    let text = house.get("/set-up?parts=copy-stand-6x6,free%3D120,normal-85%3Dreversed&planes=1").await.text();
    for words in ["120 mm free", "reversed, held by hand", "entrance pupil", "Which stop", "On other film", "24×36"] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

#[tokio::test]
async fn a_figure_below_nothing_has_a_minus_in_the_kit() {
    let kit = furnished().get("/kit").await.text();
    assert!(kit.contains("<dd>−9.3 ± 2 mm</dd>") && kit.contains("double-gauss-1954"), "{kit}");
}
