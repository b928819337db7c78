//! The virtual bench in a browser: from the set-up to its rays, by keys alone, a table of one's own, and on a phone.

use browser::{Failure, House, Visitor};

/// The example's normal lens behind a tube.
const SET_UP: &str = "parts=copy-stand-6x6%2Ctube-26%2Cnormal-85&focus=infinity";
const ENTER: &str = "\u{e007}";

#[tokio::test]
async fn rays_go_through_a_set_up_and_a_typed_table() -> Result<(), Failure> {
    let house = House::open()?;
    let visitor = Visitor::new(&house, 1280, 900).await?;
    the_set_up_leads_to_its_rays(&visitor).await?;
    stopping_down_by_keys_sharpens_the_corner(&visitor).await?;
    a_slip_in_a_table_is_named_and_the_rest_is_kept(&visitor).await?;
    visitor.leave().await?;

    let phone = Visitor::new(&house, 390, 844).await?;
    for page in [format!("/bench?{SET_UP}&f=16"), "/bench".into(), "/bench/table".into(), "/bench/measured".into()] {
        phone.go(&page).await?;
        phone.find("h1").await?;
        phone.fits().await?;
    }
    phone.leave().await
}

async fn the_set_up_leads_to_its_rays(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go(&format!("/set-up?{SET_UP}")).await?;
    visitor.press_words("On the bench: rays through it").await?;
    visitor
        .until("the bench", "return location.pathname === '/bench' && document.querySelector('h1') !== null")
        .await?;
    assert!(visitor.text(".note").await?.contains("A form, not your lens"));
    visitor.until("the map", &format!("return {CORNER} !== null")).await?;
    // Whatever is drawn is written down, too; the lines of a legend stand beside their words.
    let untold = "return [...document.querySelectorAll('figure svg')].filter((svg) => svg.getAttribute('role') === 'img' \
                  && !svg.getAttribute('aria-label') && !svg.getAttribute('aria-labelledby')).length";
    assert_eq!(visitor.run(untold).await?, 0);
    assert!(visitor.count("figure svg[role=img]").await? >= 15);
    visitor.keep_picture("bench").await
}

/// Contrast in the corner, per cent, as the map's caption has it.
const CORNER: &str = "(() => { const told = document.body.innerText.match(/in the corner ([0-9.]+)\\s%/); \
                      return told ? Number(told[1]) : null; })()";

async fn stopping_down_by_keys_sharpens_the_corner(visitor: &Visitor) -> Result<(), Failure> {
    let before = visitor.run(&format!("return {CORNER}")).await?.as_f64().ok_or("no corner")?;
    visitor.find("[name=f]").await?.send_keys(&format!("16{ENTER}")).await?;
    visitor.until("traced at f/16", &format!("return location.search.includes('f=16') && {CORNER} !== null")).await?;
    let after = visitor.run(&format!("return {CORNER}")).await?.as_f64().ok_or("no corner")?;
    assert!(after > 2.0 * before, "{before} % wide open, {after} % at f/16");
    Ok(())
}

async fn a_slip_in_a_table_is_named_and_the_rest_is_kept(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/bench/table").await?;
    let table = "41 5.9 1.613 58.6 13\n-55 0.6 air\n";
    visitor.fill("[name=text]", table).await?;
    visitor.press_words("Trace it").await?;
    visitor.until("it is refused", "return document.querySelector('[role=alert], .error') !== null").await?;
    let said = visitor.text("main").await?;
    assert!(said.contains("row") || said.contains("line"), "{said}");
    let kept = visitor.run("return document.querySelector('[name=text]').value").await?;
    assert_eq!(kept.as_str().map(|kept| kept.replace("\r\n", "\n").trim().to_owned()), Some(table.trim().to_owned()));
    Ok(())
}
