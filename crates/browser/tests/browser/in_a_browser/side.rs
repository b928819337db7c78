//! Scans side by side under the hand: moved as one, one laid turned on the other, wiped, blinked, their difference, by keys alone.

use std::path::{Path, PathBuf};

use browser::{Failure, House, Visitor};

/// Columns and rows.
const SIZE: [u32; 2] = [900, 700];
const LEFT: &str = "\u{e012}";
const UP: &str = "\u{e013}";
const RIGHT: &str = "\u{e014}";

/// A binary 8-bit grey TIFF 6.0 in one strip; a dark square of 60 pixels with its upper left corner there.
fn picture(folder: &Path, name: &str, [left, top]: [u32; 2]) -> Result<PathBuf, Failure> {
    let [width, height] = SIZE;
    let pixels_at = 8 + 2 + 9 * 12 + 4;
    // Tags of section 4 (grey): size, bits, compression, photometric, strip, samples, rows, bytes.
    let tags: [(u16, u16, u32, u32); 9] = [
        (256, 4, 1, width),
        (257, 4, 1, height),
        (258, 3, 1, 8),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (273, 4, 1, pixels_at),
        (277, 3, 1, 1),
        (278, 4, 1, height),
        (279, 4, 1, width * height),
    ];
    let mut file = [b"II*\0".as_slice(), &8_u32.to_le_bytes(), &9_u16.to_le_bytes()].concat();
    for (tag, kind, count, value) in tags {
        file.extend(tag.to_le_bytes().into_iter().chain(kind.to_le_bytes()));
        file.extend(count.to_le_bytes().into_iter().chain(value.to_le_bytes()));
    }
    file.extend(0_u32.to_le_bytes());
    for (x, y) in (0..height).flat_map(|y| (0..width).map(move |x| (x, y))) {
        let inside = (left..left + 60).contains(&x) && (top..top + 60).contains(&y);
        file.push(if inside { 40 } else { 210 });
    }
    let path = folder.join(name);
    std::fs::write(&path, file)?;
    Ok(path)
}

#[tokio::test]
async fn two_scans_are_moved_wiped_and_blinked() -> Result<(), Failure> {
    let house = House::open_empty()?;
    let visitor = Visitor::new(&house, 1280, 900).await?;
    for (name, at) in [("one.tif", [200, 300]), ("two.tif", [500, 200])] {
        visitor.load_scan(&picture(house.folder(), name, at)?).await?;
    }
    let address = address(&visitor).await?;
    lay_by_typed_details(&visitor, &address).await?;
    keys_move_both(&visitor).await?;
    the_loupe_shows_one_spot_of_both_in_print_size(&visitor).await?;
    they_are_wiped_by_keys(&visitor).await?;
    they_are_blinked_by_keys(&visitor).await?;
    the_difference_is_black_where_they_are_alike(&visitor).await?;
    visitor.leave().await
}

/// The page of the two.
async fn address(visitor: &Visitor) -> Result<String, Failure> {
    let number = "(name) => [...document.querySelectorAll('article.scan')].find((a) => a.querySelector('h3 a').textContent === name) \
                  .querySelector('input[name=scan]').value";
    let found = visitor.run(&format!("return ['one.tif', 'two.tif'].map({number}).join('&scan=')")).await?;
    Ok(format!("/side-by-side?scan={}", found.as_str().unwrap_or_default()))
}

/// The square's upper corners, typed; in the second they lie a quarter turn on, so that it is shown turned.
async fn lay_by_typed_details(visitor: &Visitor, address: &str) -> Result<(), Failure> {
    visitor.go(address).await?;
    let typed = [
        ("ax1", 200),
        ("ay1", 300),
        ("bx1", 260),
        ("by1", 300),
        ("ax2", 560),
        ("ay2", 200),
        ("bx2", 560),
        ("by2", 260),
    ];
    for (field, value) in typed {
        visitor.fill(&format!("[name={field}]"), &value.to_string()).await?;
    }
    visitor.press_words("Lay them so").await?;
    visitor
        .until("laid", "return location.search.includes('by=points') && !!document.querySelector('.pane canvas')")
        .await?;
    assert!(visitor.text("#laying").await?.contains("two picked details"));
    // The still pictures have given way to the drawn ones.
    visitor.until("drawn", "return document.querySelectorAll('.still').length === 0").await
}

/// Share of dark pixels, per cent, in a square of 16 in the middle of a pane.
fn dark(pane: usize) -> String {
    format!(
        "(() => {{ const canvas = document.querySelectorAll('.pane > canvas')[{pane}], n = 16; \
         const at = [canvas.width / 2 - n / 2, canvas.height / 2 - n / 2].map(Math.round); \
         const seen = canvas.getContext('2d').getImageData(...at, n, n).data; \
         let dark = 0; for (let i = 0; i < n * n; i++) if (seen[4 * i] < 100) dark++; \
         return 100 * dark / (n * n) }})()"
    )
}

async fn press_keys(visitor: &Visitor, keys: &str) -> Result<(), Failure> {
    Ok(visitor.find(".pane:not(.away)").await?.send_keys(keys).await?)
}

/// Turned back, the second reaches from (0, -40) to (700, 860) of the first, so that the middle of both is (450, 410). The square reaches from
/// (200, 300) to (260, 360): three steps of 80 to the left and one up lead to (210, 330), within it in both.
async fn keys_move_both(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "01").await?;
    visitor
        .until("true pixels", "return document.querySelector('.where').textContent.includes('100 %, 100 %')")
        .await?;
    for pane in [0, 1] {
        visitor.until("no square yet", &format!("return {} < 5", dark(pane))).await?;
    }
    press_keys(visitor, &format!("{LEFT}{LEFT}{LEFT}{UP}")).await?;
    for pane in [0, 1] {
        visitor.until("the square in the middle", &format!("return {} > 95", dark(pane))).await?;
    }
    press_keys(visitor, RIGHT).await?;
    for pane in [0, 1] {
        visitor.until("moved on", &format!("return {} < 95", dark(pane))).await?;
    }
    press_keys(visitor, LEFT).await
}

/// Dark pixels in a row of a loupe's window, so far below its middle, CSS pixels.
fn dark_in_loupe(pane: usize, below: u32) -> String {
    format!(
        "(() => {{ const canvas = document.querySelectorAll('.loupe-window.seen canvas')[{pane}]; if (!canvas) return -1; \
         const row = canvas.getContext('2d').getImageData(0, Math.round(canvas.height / 2) + {below}, canvas.width, 1).data; \
         let dark = 0; for (let i = 0; i < canvas.width; i++) if (row[4 * i] < 125) dark++; return dark }})()"
    )
}

/// Both loupes show the square, of 60 pixels in frames of 900, at this width.
async fn both_loupes_show_it(visitor: &Visitor, wide: f64) -> Result<(), Failure> {
    for pane in [0, 1] {
        visitor
            .until("the square in print size", &format!("return Math.abs({} - {wide}) < 3", dark_in_loupe(pane, 16)))
            .await?;
    }
    Ok(())
}

/// A print 30 cm wide at 40 cm is as wide as 45 cm at 60 cm: on a screen taken as 96 pixels to the inch, 1701 pixels for the 900 of a frame
/// and 113.4 for the square. The arrows move the loupe, and the pictures stay.
async fn the_loupe_shows_one_spot_of_both_in_print_size(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "l").await?;
    both_loupes_show_it(visitor, 113.4).await?;
    let told = visitor.text(".loupe-words").await?;
    assert!(told.contains("45 cm of this screen") && told.contains("not measured"), "{told}");
    visitor.keep_picture("side-loupe").await?;
    // From (210, 330) by four steps of 16 to the right: beside the square, which ends at 260.
    press_keys(visitor, &RIGHT.repeat(6)).await?;
    for pane in [0, 1] {
        visitor.until("beside it in the pictures' middle still", &format!("return {} > 95", dark(pane))).await?;
        let beside = format!("return {} < 100 && {} >= 0", dark_in_loupe(pane, 16), dark_in_loupe(pane, 16));
        visitor.until("the square no longer whole in the loupe", &beside).await?;
    }
    press_keys(visitor, &LEFT.repeat(6)).await?;
    a_card_tells_how_large_the_screen_is(visitor).await?;
    press_keys(visitor, "l").await?;
    visitor.until("laid away", "return !document.querySelector('.loupe-window.seen')").await
}

/// The short side of a card, 53.98 mm, made 220 pixels long: 4.076 on a millimetre, and the square 122.3 wide. It is kept.
async fn a_card_tells_how_large_the_screen_is(visitor: &Visitor) -> Result<(), Failure> {
    visitor
        .run("const line = document.querySelector('[name=line-px]'); line.value = 220; line.dispatchEvent(new Event('input'))")
        .await?;
    both_loupes_show_it(visitor, 122.3).await?;
    let kept = visitor.run("return Number(localStorage.getItem('screen-px-per-mm')).toFixed(3)").await?;
    assert_eq!(kept, "4.076");
    // Nothing typed that is no length is kept.
    visitor
        .run("const mm = document.querySelector('[name=line-mm]'); mm.value = 2; mm.dispatchEvent(new Event('input'))")
        .await?;
    visitor
        .until("refused", "return document.querySelector('.screen-words').textContent.includes('between 10 and 300')")
        .await?;
    both_loupes_show_it(visitor, 122.3).await
}

async fn they_are_wiped_by_keys(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "w").await?;
    let clipped = |percent: u32| {
        format!(
            "const [one, two] = document.querySelectorAll('.pane'); \
             return getComputedStyle(two).clipPath === 'inset(0px 0px 0px {percent}%)' \
               && one.getBoundingClientRect().left === two.getBoundingClientRect().left"
        )
    };
    visitor.until("over each other, half wiped", &clipped(50)).await?;
    press_keys(visitor, "..").await?;
    visitor.until("the line moved", &clipped(60)).await?;
    press_keys(visitor, ",").await?;
    visitor.until("the line moved back", &clipped(55)).await?;
    visitor.keep_picture("side-wiped").await
}

async fn they_are_blinked_by_keys(visitor: &Visitor) -> Result<(), Failure> {
    let seen = |which: &str| {
        format!(
            "return [...document.querySelectorAll('.pane')].map((p) => getComputedStyle(p).visibility).join() === '{which}'"
        )
    };
    press_keys(visitor, "b").await?;
    visitor.until("the first alone", &seen("visible,hidden")).await?;
    press_keys(visitor, "b").await?;
    visitor.until("the second alone", &seen("hidden,visible")).await?;
    press_keys(visitor, "b").await?;
    visitor.until("the first again", &seen("visible,hidden")).await?;
    press_keys(visitor, "s").await?;
    visitor.until("beside each other", &seen("visible,visible")).await
}

async fn the_difference_is_black_where_they_are_alike(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "d").await?;
    let blended = "return getComputedStyle(document.querySelector('.pane.above')).mixBlendMode === 'difference'";
    visitor.until("the difference", blended).await?;
    visitor.keep_picture("side-difference").await
}

/// A form that is on its way is not sent once more, unless something else stands in it.
#[tokio::test]
async fn two_presses_send_a_form_once() -> Result<(), Failure> {
    let house = House::open()?;
    let visitor = Visitor::new(&house, 1280, 900).await?;
    visitor.go("/jobs/new").await?;
    visitor.fill("[name=title]", "Coins").await?;
    // Whether each press was held back; nothing is sent.
    let held_back = "const seen = []; \
        addEventListener('submit', (event) => { seen.push(event.defaultPrevented); event.preventDefault(); }); \
        const press = () => document.querySelector('main form button.main').click(); \
        press(); press(); document.querySelector('[name=title]').value = 'Medals'; press(); \
        return seen.join()";
    assert_eq!(visitor.run(held_back).await?, "false,true,false");
    visitor.leave().await
}
