//! A scan looked at as through a loupe: pixel for pixel, by keys alone, with clipped samples marked.

use std::path::{Path, PathBuf};

use browser::{Failure, House, Visitor};

/// Columns and rows of the picture that is looked at: larger than the pane, and more than a tile.
const SIZE: [u32; 2] = [1400, 1100];
/// Where it is clipped: left, top, width, height; red, green and blue alike.
const CLIPPED: [u32; 4] = [660, 500, 90, 90];

/// A TIFF 6.0 of 8-bit colour in one strip without compression, written here so that every sample is known.
fn picture(folder: &Path) -> Result<PathBuf, Failure> {
    let [width, height] = SIZE;
    let bits_at = 8 + 2 + 10 * 12 + 4;
    let pixels_at = bits_at + 6;
    // Tags of section 8 (baseline RGB): size, bits, compression, photometric, strip, samples, rows, bytes, planes.
    let tags: [(u16, u16, u32, u32); 10] = [
        (256, 4, 1, width),
        (257, 4, 1, height),
        (258, 3, 3, bits_at),
        (259, 3, 1, 1),
        (262, 3, 1, 2),
        (273, 4, 1, pixels_at),
        (277, 3, 1, 3),
        (278, 4, 1, height),
        (279, 4, 1, width * height * 3),
        (284, 3, 1, 1),
    ];
    let mut file = [b"II*\0".as_slice(), &8_u32.to_le_bytes(), &10_u16.to_le_bytes()].concat();
    for (tag, kind, count, value) in tags {
        file.extend(tag.to_le_bytes().into_iter().chain(kind.to_le_bytes()));
        file.extend(count.to_le_bytes().into_iter().chain(value.to_le_bytes()));
    }
    file.extend(0_u32.to_le_bytes().into_iter().chain([8, 0, 8, 0, 8, 0]));
    let [left, top, wide, high] = CLIPPED;
    for (x, y) in (0..height).flat_map(|y| (0..width).map(move |x| (x, y))) {
        let clipped = (left..left + wide).contains(&x) && (top..top + high).contains(&y);
        // Squares of 8 pixels in different tones, as JPEG keeps them, none at an end of the range.
        let tone = 40 + ((x / 8 * 37 + y / 8 * 91) % 160) as u8;
        file.extend(if clipped { [255; 3] } else { [tone, tone / 2 + 60, 220 - tone] });
    }
    let path = folder.join("squares.tif");
    std::fs::write(&path, file)?;
    Ok(path)
}

#[tokio::test]
async fn a_scan_is_seen_as_it_is() -> Result<(), Failure> {
    let house = House::open_empty()?;
    let visitor = Visitor::new(&house, 1280, 900).await?;
    load(&visitor, &picture(house.folder())?).await?;
    keys_move_and_say_where(&visitor).await?;
    one_pixel_is_one_pixel(&visitor).await?;
    enlarged_pixels_stay_squares(&visitor).await?;
    a_region_is_drawn_moved_and_pulled_by_keys(&visitor).await?;
    channels_are_grey(&visitor).await?;
    clipped_samples_are_marked(&visitor).await?;
    edges_are_looked_for(&visitor).await?;
    visitor.leave().await
}

/// The form asks by its address, and the page stays where it is.
async fn edges_are_looked_for(visitor: &Visitor) -> Result<(), Failure> {
    visitor.press("#offered button").await?;
    let answered =
        "return document.querySelector('#offered button') === null && document.querySelector('.refusal') === null";
    visitor.until("edges are looked for", answered).await
}

async fn load(visitor: &Visitor, file: &Path) -> Result<(), Failure> {
    visitor.load_scan(file).await?;
    let link = "[...document.querySelectorAll('article.scan h3 a')].find((a) => a.textContent === 'squares.tif')";
    visitor.run(&format!("location.assign({link}.href)")).await?;
    visitor.until("the viewer", "return !!document.querySelector('.tools:not([hidden])')").await
}

/// Presses keys in the pane.
async fn press_keys(visitor: &Visitor, keys: &str) -> Result<(), Failure> {
    Ok(visitor.find(".pane").await?.send_keys(keys).await?)
}

const CONTROL: &str = "\u{e009}";
const SHIFT: &str = "\u{e008}";
const LEFT: &str = "\u{e012}";
const RIGHT: &str = "\u{e014}";
const DOWN: &str = "\u{e015}";
const ENTER: &str = "\u{e007}";
const HOME: &str = "\u{e011}";

async fn said(visitor: &Visitor, words: &str) -> Result<(), Failure> {
    let script = format!("return document.querySelector('.tools [role=status]').textContent.includes({words:?})");
    visitor.until(words, &script).await
}

async fn keys_move_and_say_where(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "1").await?;
    said(visitor, "100 %, middle at 700, 550 px of 1400 by 1100").await?;
    press_keys(visitor, RIGHT).await?;
    said(visitor, "100 %, middle at 780, 550 px").await?;
    press_keys(visitor, LEFT).await?;
    said(visitor, "100 %, middle at 700, 550 px").await?;
    press_keys(visitor, "+").await?;
    said(visitor, "125 %").await?;
    press_keys(visitor, HOME).await?;
    let whole = "const p = document.querySelector('.pane'); \
                 return document.querySelector('.tools [role=status]').textContent.startsWith( \
                 Math.round(1000 * Math.min(p.clientWidth / 1400, p.clientHeight / 1100)) / 10 + ' %')";
    visitor.until("the whole", whole).await?;
    let focus = "return getComputedStyle(document.querySelector('.pane')).outlineStyle !== 'none'";
    assert_eq!(visitor.run(focus).await?, true, "the focus is seen");
    Ok(())
}

/// Counts the canvas's pixels that differ from the tile's own, over a stretch around a place of the picture; -1 while the
/// tile is not there. `enlarged` times as many device pixels as pixels.
fn differing(x: u32, y: u32, enlarged: u32) -> String {
    format!(
        "const canvas = document.querySelector('.pane canvas'), n = 24, k = {enlarged}; \
         const tile = window.truth ??= new OffscreenCanvas(512, 512); \
         if (!window.asked) {{ \
           window.asked = true; \
           const address = document.querySelector('.pane').dataset.pictures + '/512,512,512,512/max/0/default.jpg'; \
           fetch(address).then((a) => a.blob()).then(createImageBitmap) \
             .then((b) => {{ tile.getContext('2d').drawImage(b, 0, 0); window.there = true; }}); \
         }} \
         if (!window.there) return -1; \
         const middle = [canvas.width / 2, canvas.height / 2], held = window.held ?? middle; \
         const [left, top] = [{x}, {y}].map((v, i) => held[i] + (v - [700, 550][i] - held[i] + middle[i]) * k); \
         const seen = canvas.getContext('2d').getImageData(Math.round(left), Math.round(top), n * k, n * k).data; \
         const true_ = tile.getContext('2d').getImageData({x} - 512, {y} - 512, n, n).data; \
         let wrong = 0; \
         for (let y = 0; y < n * k; y++) for (let x = 0; x < n * k; x++) for (let c = 0; c < 3; c++) \
           if (seen[(y * n * k + x) * 4 + c] !== true_[(Math.floor(y / k) * n + Math.floor(x / k)) * 4 + c]) wrong++; \
         return wrong;"
    )
}

/// At true pixels the canvas holds the tile's own numbers, each in one device pixel.
async fn one_pixel_is_one_pixel(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "1").await?;
    said(visitor, "100 %").await?;
    let same = format!("return (() => {{ {} }})() === 0", differing(800, 560, 1));
    visitor.until("every pixel is the tile's own", &same).await?;
    // That the comparison can fail: a pixel beside it is another one.
    let beside = visitor.run(&differing(800, 560, 1).replace("[800, 560]", "[801, 560]")).await?;
    assert!(beside.as_i64() > Some(0), "{beside}");
    Ok(())
}

/// Beyond that each pixel is a square of one colour.
async fn enlarged_pixels_stay_squares(visitor: &Visitor) -> Result<(), Failure> {
    // The place under the pointer stays; events count whole pixels of the window. 800 of the wheel are a factor of 4.
    let wheel = "const p = document.querySelector('.pane'), r = p.getBoundingClientRect(); \
                 const corner = [r.left + p.clientLeft, r.top + p.clientTop]; \
                 const [x, y] = [corner[0] + p.clientWidth / 2, corner[1] + p.clientHeight / 2].map(Math.ceil); \
                 window.held = [x - corner[0], y - corner[1]]; \
                 p.dispatchEvent(new WheelEvent('wheel', { deltaY: -800, bubbles: true, cancelable: true, clientX: x, clientY: y }))";
    visitor.run(wheel).await?;
    said(visitor, "400 %").await?;
    let same = format!("return (() => {{ {} }})() === 0", differing(720, 560, 4));
    visitor.until("every pixel is a square of 4 x 4", &same).await
}

async fn region(visitor: &Visitor) -> Result<[f64; 4], Failure> {
    let fields =
        "return ['x', 'y', 'width', 'height'].map((n) => Number(document.getElementById('field-edge_' + n).value))";
    let found = visitor.run(fields).await?;
    Ok([0, 1, 2, 3].map(|i| found[i].as_f64().unwrap_or(f64::NAN)))
}

async fn a_region_is_drawn_moved_and_pulled_by_keys(visitor: &Visitor) -> Result<(), Failure> {
    press_keys(visitor, "1").await?;
    visitor.press(".tools input[value=region]").await?;
    press_keys(visitor, ENTER).await?;
    let [x, y, width, height] = region(visitor).await?;
    assert!(width > 20.0 && (x + width / 2.0 - 700.0).abs() <= 2.0 && (y + height / 2.0 - 550.0).abs() <= 2.0);
    press_keys(visitor, &format!("{SHIFT}{RIGHT}{SHIFT}")).await?;
    // A step is 4 pixels of the screen, and so of the picture at true pixels.
    assert_eq!(region(visitor).await?, [x + 4.0, y, width, height], "moved");
    press_keys(visitor, &format!("{CONTROL}{DOWN}{CONTROL}")).await?;
    assert_eq!(region(visitor).await?, [x + 4.0, y, width, height + 4.0], "pulled");
    visitor.press(".tools input[value=move]").await?;
    Ok(())
}

/// The filter belongs to the page and its shares add up to one.
async fn channels_are_grey(visitor: &Visitor) -> Result<(), Failure> {
    for channel in ["red", "green", "blue", "luminance"] {
        visitor.press(&format!(".tools input[value={channel}]")).await?;
        let script = format!(
            "const shares = document.querySelector('#only-{channel} feColorMatrix').getAttribute('values').split(' ').map(Number); \
             const rows = [0, 5, 10].map((i) => shares.slice(i, i + 3)); \
             return getComputedStyle(document.querySelector('.pane canvas')).filter.includes('#only-{channel}') \
               && rows.every((row) => Math.abs(row[0] + row[1] + row[2] - 1) < 1e-9 && row.join() === rows[0].join())"
        );
        assert_eq!(visitor.run(&script).await?, true, "{channel}");
    }
    visitor.press(".tools input[value=colour]").await
}

async fn clipped_samples_are_marked(visitor: &Visitor) -> Result<(), Failure> {
    visitor.press(".tools input[name=ends]").await?;
    let [left, top, wide, high] = CLIPPED;
    let counted = format!("{}", wide * high);
    let words = "return document.querySelector('.counted').textContent.replace(/,(?=\\d)/g, '')";
    visitor.until("counted", "return /^At /.test(document.querySelector('.counted').textContent)").await?;
    let said = visitor.run(words).await?;
    let said = said.as_str().unwrap_or_default();
    assert!(said.contains(&format!("red {counted} (")) && said.contains("At zero, lines falling: red none"), "{said}");
    // Within the field the hatching is black and white in turn; beside it the picture is as it was.
    let hatched = |x: u32, y: u32| {
        format!(
            "return (() => {{ const canvas = document.querySelector('.pane canvas'); \
             const at = [canvas.width / 2 + {x} - 700, canvas.height / 2 + {y} - 550].map(Math.round); \
             const seen = canvas.getContext('2d').getImageData(...at, 8, 8).data; \
             const tones = new Set([...Array(64).keys()].map((i) => seen.slice(i * 4, i * 4 + 3).join())); \
             return tones.size === 2 && tones.has('0,0,0') && tones.has('255,255,255') }})()"
        )
    };
    visitor.until("hatching", &hatched(left + 10, top + 10)).await?;
    assert_eq!(visitor.run(&hatched(left + wide + 20, top + 10)).await?, false);
    visitor.keep_picture("viewer-clipped").await
}
