//! The virtual bench in a browser: from the set-up to its rays, by keys alone, a table of one's own, and on a phone.

use browser::{Failure, House, Visitor};

/// The example's normal lens behind a tube.
const SET_UP: &str = "parts=copy-stand-6x6%2Ctube-26%2Cnormal-85&focus=infinity";
const ENTER: &str = "\u{e007}";

pub(super) async fn rays_go_through_a_set_up_and_a_typed_table(house: &House) -> Result<(), Failure> {
    let visitor = Visitor::new(house, 1280, 900).await?;
    the_set_up_leads_to_its_rays(&visitor).await?;
    stopping_down_by_keys_sharpens_the_corner(&visitor).await?;
    a_slip_in_a_table_is_named_and_the_rest_is_kept(&visitor).await?;
    a_kept_table_stands_for_a_lens(&visitor).await?;
    a_predicted_frame_is_drawn_to_its_end(&visitor).await?;
    visitor.leave().await?;

    let phone = Visitor::new(house, 390, 844).await?;
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

/// Four elements of the textbooks, the iris between.
const TABLE: &str =
    "43 9.8 1.69\n-115 2.1 1.55\n307 4.16 air\nstop 4 air\n-59.1 1.87 1.64\n40.9 10.6 air\n184 7.05 1.69\n-48.9 79.8";

async fn a_kept_table_stands_for_a_lens(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go("/bench/table").await?;
    visitor.fill("[name=text]", TABLE).await?;
    visitor.press_words("Trace it").await?;
    visitor.until("it was read", "return document.querySelector('[name=name]') !== null").await?;
    visitor.fill("[name=name]", "Four of mine").await?;
    visitor.press_words("Keep it in the kit").await?;
    visitor.until("it is kept", "return location.search === '?kept=four-of-mine'").await?;
    visitor.choose("[action='/bench/choose'] [name=lens]", "normal-85").await?;
    visitor.press_words("Let it stand for this lens").await?;
    let stands =
        "return document.querySelector('main').innerText.includes('Rays go through it for Normal lens, 85 mm')";
    visitor.until("it stands for the lens", stands).await?;
    visitor.keep_picture("bench-own-table").await?;
    visitor.go(&format!("/bench?{SET_UP}&f=11")).await?;
    visitor.until("the set-up is traced through it", &format!("return {CORNER} !== null")).await?;
    let label = visitor.text(".note").await?;
    assert!(label.contains("A lens table that you gave (“Four of mine”), made 0."), "{label}");
    // The table does not go while the lens stands on it.
    visitor.go("/bench/table?kept=four-of-mine").await?;
    assert_eq!(
        visitor.run("return document.querySelectorAll('[action$=\"/delete\"] button[data-sure]').length").await?,
        1
    );
    Ok(())
}

async fn a_predicted_frame_is_drawn_to_its_end(visitor: &Visitor) -> Result<(), Failure> {
    visitor.go(&format!("/bench?{SET_UP}&f=11")).await?;
    visitor.choose("[action='/bench/picture'] [name=subject]", "pod").await?;
    visitor.press_words("Draw it").await?;
    visitor.until("the frame's page", "return location.pathname === '/bench/picture'").await?;
    // The page comes again by itself when the frame is drawn; all four pictures of it then load.
    let drawn = "const all = [...document.querySelectorAll('figure.predicted img')]; \
                 return all.length === 4 && all.every((img) => img.complete && img.naturalWidth > 0)";
    visitor.until("the whole frame and three places of it", drawn).await?;
    let whole = visitor.run("return document.querySelector('figure.predicted img').naturalWidth").await?;
    assert!(whole.as_f64().is_some_and(|px| px > 700.0), "{whole}");
    assert!(visitor.text("main").await?.contains("a seed pod on the test card"));
    visitor.keep_picture("bench-frame").await
}
