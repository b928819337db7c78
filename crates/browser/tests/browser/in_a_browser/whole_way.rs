//! The whole way once, as a photographer goes it on the first evening: the example, the kit, what it reaches, a set-up
//! under the hand, a photograph of their own, a region, a curve, two frames side by side, the verdict.

use std::path::Path;

use browser::{Failure, House, Visitor};

/// A real photograph of a printed chessboard, from Debian's `opencv-doc` (Apache-2.0).
const PHOTOGRAPH: &str = "/usr/share/doc/opencv-doc/examples/data/left02.jpg";
/// Left, top, width and height of a region in it that holds one straight edge.
const REGION: [f64; 4] = [450.0, 174.0, 24.0, 33.0];
/// Its size in pixels.
const SIZE: [f64; 2] = [640.0, 480.0];

/// What a phone is checked on: every kind of page.
const PAGES: [&str; 11] = [
    "/jobs",
    "/jobs/1",
    "/jobs/new",
    "/kit",
    "/kit/new/lens",
    "/reach?job=1",
    "/set-up?job=1",
    "/exposure",
    "/scans",
    "/scans/1",
    "/jobs/1/verdict",
];

pub(super) async fn from_the_example_to_the_verdict(house: &mut House) -> Result<(), Failure> {
    let mut visitor = Visitor::new(house, 1280, 900).await?;
    the_example_is_there(&visitor).await?;
    a_changed_lens_changes_reach(&visitor).await?;
    a_set_up_follows_the_slider(&visitor).await?;
    an_own_photograph_is_measured(&visitor).await?;
    two_frames_stand_side_by_side(&visitor).await?;
    the_verdict_is_read(&visitor).await?;
    house.kill_and_restart()?;
    visitor.move_to(house);
    nothing_saved_was_lost(&visitor).await?;
    visitor.leave().await?;
    a_phone_shows_every_page(house).await
}

/// The first start makes the example; its frames arrive while the program runs.
async fn the_example_is_there(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/jobs/1").await?;
    assert!(visitor.text("h1").await?.contains("Stag beetles"));
    visitor.keep_picture("01-job").await?;
    let all_there = "return [...document.querySelectorAll('article.scan a.button')].length === 6";
    visitor.until_at("/scans", "six scans are ready", all_there).await?;
    visitor.keep_picture("02-scans").await
}

/// Taking the thread away from a lens takes the close-up lenses off it.
async fn a_changed_lens_changes_reach(visitor: &Visitor) -> Result<(), Failure> {
    let set_ups = "document.querySelectorAll('table.sortable tbody tr').length";
    visitor.until_at("/reach?job=1", "set-ups", &format!("return {set_ups} > 0")).await?;
    visitor.keep_picture("03-reach").await?;
    let before = visitor.run(&format!("return {set_ups}")).await?;
    visitor.go("/kit/part/long-160").await?;
    visitor.find("#field-thread_mm").await?.clear().await?;
    visitor.press_words("Save the changes").await?;
    visitor.until("the kit again", "return location.pathname === '/kit' && document.readyState === 'complete'").await?;
    let fewer = format!("return {set_ups} > 0 && {set_ups} < {before}");
    visitor.until_at("/reach?job=1", "fewer set-ups", &fewer).await
}

/// Arrow keys on the travel slider change the figures without loading the page again.
async fn a_set_up_follows_the_slider(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/set-up?parts=copy-stand-6x6,tube-26,tube-52,normal-85&focus=travel=5.3&f=16&job=1").await?;
    visitor.run("window.sameLoad = true").await?;
    let before = visitor.text("#figures .big").await?;
    let slider = visitor.find("#slide-travel").await?;
    slider.send_keys(&"\u{e014}".repeat(30)).await?;
    let moved = "return document.querySelector('#figures .big').innerText !== arguments[0]";
    visitor.until("other figures", &moved.replace("arguments[0]", &serde_json::to_string(&before)?)).await?;
    assert_eq!(visitor.run("return window.sameLoad === true").await?, true, "the page was loaded anew");
    visitor.keep_picture("04-set-up").await
}

/// Upload, region by mouse, curve.
async fn an_own_photograph_is_measured(visitor: &Visitor) -> Result<(), Failure> {
    if !Path::new(PHOTOGRAPH).exists() {
        return Err(format!("{PHOTOGRAPH} is not on this machine: apt-get install opencv-doc").into());
    }
    visitor.load_scan(Path::new(PHOTOGRAPH)).await?;
    let link = "[...document.querySelectorAll('article.scan h3 a')].find((a) => a.textContent === 'left02.jpg')";
    visitor.run(&format!("location.assign({link}.href)")).await?;
    visitor.until("the pane", "return !!document.querySelector('.pane canvas')").await?;
    visitor.press(".tools input[value=region]").await?;
    let (from, to) = on_screen(visitor).await?;
    visitor.draw(".pane", from, to).await?;
    for (name, wanted) in ["x", "y", "width", "height"].iter().zip(REGION) {
        let field = format!("return Number(document.getElementById('field-edge_{name}').value)");
        let drawn = visitor.run(&field).await?.as_f64().unwrap_or(f64::NAN);
        assert!((drawn - wanted).abs() <= 2.0, "edge_{name}: drawn {drawn}, wanted {wanted}");
    }
    visitor.fill("#field-edge_label", "centre").await?;
    visitor.press_words("Measure the edge").await?;
    visitor.until("a curve", "return !!document.querySelector('.measurement[open] svg .line')").await?;
    let said = visitor.text(".measurement[open]").await?;
    assert!(said.contains("centre") && said.contains("cycles/px"), "{said}");
    visitor.keep_picture("05-scan").await
}

/// Where the region's corners fall in the pane, in which the whole picture is shown first.
async fn on_screen(visitor: &Visitor) -> Result<((f64, f64), (f64, f64)), Failure> {
    let sides = visitor
        .run("const r = document.querySelector('.pane').getBoundingClientRect(); return [r.width, r.height]")
        .await?;
    let [width, height] = [0, 1].map(|i| sides[i].as_f64().unwrap_or(0.0));
    let scale = (width / SIZE[0]).min(height / SIZE[1]);
    let place =
        |x: f64, y: f64| ((width - SIZE[0] * scale) / 2.0 + x * scale, (height - SIZE[1] * scale) / 2.0 + y * scale);
    let [x, y, w, h] = REGION;
    Ok((place(x, y), place(x + w, y + h)))
}

async fn two_frames_stand_side_by_side(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/side-by-side?scan=1&scan=3").await?;
    visitor.until("two pictures", "return document.querySelectorAll('.pane canvas').length === 2").await?;
    let table = visitor.text("[aria-labelledby=edges] table").await?;
    assert!(table.contains("corner") && table.contains("lp/mm"), "{table}");
    visitor.keep_picture("06-side-by-side").await
}

async fn the_verdict_is_read(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/jobs/1/verdict").await?;
    let said = visitor.text(".conclusions").await?;
    for words in ["meets everything that is asked", "Keep Long lens, 160 mm", "are not needed for this job", "How sure"]
    {
        assert!(said.contains(words), "“{words}” is not in: {said}");
    }
    visitor.fill("#field-text", "The long lens for the plates").await?;
    visitor.press_words("Write it down").await?;
    visitor
        .until(
            "the decision",
            "return document.querySelector('main').innerText.includes('The long lens for the plates.')",
        )
        .await?;
    visitor.keep_picture("07-verdict").await
}

/// The server was killed; what was saved is there.
async fn nothing_saved_was_lost(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/jobs/1/verdict").await?;
    assert!(visitor.text("main").await?.contains("The long lens for the plates."));
    visitor.go("/scans").await?;
    visitor.until("seven scans", "return document.querySelectorAll('article.scan a.button').length === 7").await
}

/// No page is wider than a phone of 390 px.
async fn a_phone_shows_every_page(house: &House) -> Result<(), Failure> {
    let visitor = Visitor::new(house, 390, 844).await?;
    for (number, path) in PAGES.iter().chain(&["/side-by-side?scan=1&scan=3"]).enumerate() {
        visitor.go(path).await?;
        visitor.find("h1").await?;
        visitor.fits().await?;
        visitor.keep_picture(&format!("phone-{number:02}")).await?;
    }
    visitor.leave().await
}
