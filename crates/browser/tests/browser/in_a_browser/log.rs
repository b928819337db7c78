//! A roll logged on a phone: paired by the code that the computer shows, with the connection cut and restored.

use std::path::{Path, PathBuf};

use browser::{Failure, House, Visitor};

/// The first roll's frames: the set-ups of the example's kit that its own frames use.
const FRAMES: u32 = 4;

/// At the computer: a roll with planned frames, taken to the camera. Gives the roll's number.
async fn plan_a_roll(desk: &Visitor) -> Result<String, Failure> {
    desk.go("/jobs/1").await?;
    let script = format!(
        "const send = (path, fields) => fetch(path, {{ method: 'POST', body: new URLSearchParams(fields) }});
         await send('/jobs/1/rolls', {{ title: 'Test roll', film: 'slow film', iso: '100' }});
         const page = new DOMParser().parseFromString(await (await fetch('/jobs/1')).text(), 'text/html');
         const logs = [...page.querySelectorAll('a[href$=\"/log\"]')].map((a) => a.getAttribute('href'));
         const frame = page.querySelector('a[href^=\"/frames/\"]').getAttribute('href');
         const form = new DOMParser().parseFromString(await (await fetch(frame)).text(), 'text/html');
         const roll = logs.at(-1).split('/')[2];
         for (let number = 1; number <= {FRAMES}; number++) {{
             await send('/jobs/1/frames/new', {{ roll, number: String(number), label: 'the beetle, repeat ' + number, f_number: '11',
                 shutter_s: '1/4', parts: form.querySelector('[name=parts]').value, focus: form.querySelector('[name=focus]').value }});
         }}
         return roll;"
    );
    let roll = desk.run(&script).await?.as_str().ok_or("no roll was made")?.to_owned();
    desk.go(&format!("/rolls/{roll}/log")).await?;
    desk.press_words("Take it to the camera").await?;
    Ok(roll)
}

/// At the computer: lets phones in and gives the address and the code.
async fn let_in(desk: &Visitor) -> Result<(String, String), Failure> {
    desk.go("/phones").await?;
    desk.press_words("Let phones in").await?;
    let code = desk.find(".code-shown").await?.text().await?;
    let address = desk.text(".addresses code").await?;
    Ok((address.trim_end_matches('/').to_owned(), code))
}

async fn standing(phone: &Visitor, words: &str) -> Result<(), Failure> {
    phone.until(words, &format!("return document.getElementById('standing')?.textContent === '{words}'")).await
}

/// Taps, and waits out the time in which a second tap would be taken for an echo.
async fn tap(phone: &Visitor, words: &str) -> Result<(), Failure> {
    let press = format!(
        "const all = [...document.querySelectorAll('#panel button')];
         const button = all.find((one) => one.textContent.trim() === '{words}');
         if (!button) return false;
         button.click();
         return true;"
    );
    tokio::time::sleep(std::time::Duration::from_millis(750)).await;
    phone.until(&format!("“{words}” can be tapped"), &press).await
}

pub(super) async fn a_roll_is_logged_with_the_connection_cut_and_restored(house: &House) -> Result<(), Failure> {
    let desk = Visitor::new(house, 1280, 900).await?;
    let roll = plan_a_roll(&desk).await?;
    let (address, code) = let_in(&desk).await?;
    desk.keep_picture("phones-computer").await?;
    let mut phone = Visitor::new(house, 390, 844).await?;
    phone.move_to_address(&address);
    pair(&phone, &code).await?;
    one_tap_each(&phone).await?;
    targets_are_large_and_low(&phone).await?;
    cut_and_restored(&desk, &phone, &roll).await?;
    otherwise(&phone).await?;
    a_photo(&phone, house.folder()).await?;
    in_other_light(&phone).await?;
    at_the_computer(&desk, &roll).await?;
    turned_away(&desk, &phone).await?;
    phone.leave().await?;
    desk.leave().await
}

async fn pair(phone: &Visitor, code: &str) -> Result<(), Failure> {
    phone.go("/").await?;
    phone.fits().await?;
    phone.keep_picture("phone-pair").await?;
    phone.fill("#field-code", code).await?;
    phone.fill("#field-name", "Test phone").await?;
    phone.press_words("Pair this phone").await?;
    phone.find("#frames .row").await?;
    assert_eq!(phone.count("#frames .row").await?, FRAMES as usize);
    standing(phone, "All arrived").await
}

async fn one_tap_each(phone: &Visitor) -> Result<(), Failure> {
    phone.keep_picture("phone-next").await?;
    assert!(phone.text("#panel h2").await?.starts_with("Next: frame 1"));
    tap(phone, "Taken as planned").await?;
    // An echo of the tap must not log the frame that has slid under the thumb.
    phone.run("document.querySelector('#panel .main').click()").await?;
    standing(phone, "All arrived").await?;
    assert!(phone.text("#panel h2").await?.starts_with("Next: frame 2"));
    tap(phone, "Undo frame 1").await?;
    standing(phone, "All arrived").await?;
    assert!(phone.text("#panel h2").await?.starts_with("Frame 1"));
    tap(phone, "Taken as planned").await?;
    standing(phone, "All arrived").await
}

/// Everything in the panel is at least 48 px high and lies in the lower half.
async fn targets_are_large_and_low(phone: &Visitor) -> Result<(), Failure> {
    let small = phone
        .run(
            "return [...document.querySelectorAll('#panel button, #panel label.button')].map((one) => [one.textContent, one.getBoundingClientRect()])
               .filter(([, box]) => box.height < 48 || box.width < 48 || box.top < innerHeight / 2 || box.bottom > innerHeight)
               .map(([words, box]) => `${words}: ${box.width} × ${box.height} at ${box.top}`)",
        )
        .await?;
    assert_eq!(small, serde_json::json!([]));
    phone.fits().await
}

async fn cut_and_restored(desk: &Visitor, phone: &Visitor, roll: &str) -> Result<(), Failure> {
    desk.go("/phones").await?;
    desk.press_words("Shut phones out").await?;
    desk.find("form[action='/phones/open']").await?;
    tap(phone, "Taken as planned").await?;
    standing(phone, "Kept on the phone: 1 entry").await?;
    tap(phone, "Note").await?;
    phone.fill("#words", "lamp moved, daylight lost").await?;
    tap(phone, "Keep the note").await?;
    standing(phone, "Kept on the phone: 2 entries").await?;
    phone
        .until("the phone says why", "return document.getElementById('trouble').textContent.includes('No connection')")
        .await?;
    phone.fits().await?;
    phone.keep_picture("phone-cut").await?;
    // The page is lost by loading it with nothing there; what it kept is not.
    let _ = phone.go(&format!("/rolls/{roll}")).await;
    desk.press_words("Let phones in").await?;
    desk.find(".code-shown").await?;
    phone.go(&format!("/rolls/{roll}")).await?;
    standing(phone, "All arrived").await?;
    assert!(phone.text("#panel h2").await?.starts_with("Next: frame 3"));
    Ok(())
}

async fn otherwise(phone: &Visitor) -> Result<(), Failure> {
    tap(phone, "Otherwise").await?;
    phone.press("[aria-label='Aperture: down']").await?;
    phone.press("[aria-label='Aperture: down']").await?;
    phone.press("[aria-label='Shutter: down']").await?;
    phone.fill("#line-Themetersaid", "1/15").await?;
    phone.fits().await?;
    phone.keep_picture("phone-otherwise").await?;
    tap(phone, "It was taken so").await?;
    standing(phone, "All arrived").await?;
    phone
        .until(
            "the list shows it",
            "return document.querySelectorAll('#frames .row')[2].textContent.includes('taken, changed')",
        )
        .await?;
    let shown = phone.text("#frames li:nth-child(3) .first").await?;
    assert!(shown.contains("f/8") && shown.contains("1/8"), "{shown}");
    // What is no number is named and nothing is lost.
    tap(phone, "Otherwise").await?;
    phone.fill("#step-Aperture", "f/o").await?;
    tap(phone, "It was taken so").await?;
    phone
        .until("the field is named", "return document.querySelector('#panel .wrong').textContent.includes('f/o')")
        .await?;
    tap(phone, "Back").await
}

/// A picture of 3000 × 2000 px, drawn by the browser itself and handed to the file field.
async fn a_photo(phone: &Visitor, folder: &Path) -> Result<(), Failure> {
    let drawn = phone
        .run(
            "const canvas = Object.assign(document.createElement('canvas'), { width: 3000, height: 2000 });
             const paint = canvas.getContext('2d');
             paint.fillStyle = '#555'; paint.fillRect(0, 0, 3000, 2000);
             paint.fillStyle = '#ddd'; paint.fillRect(900, 400, 1200, 1200);
             return canvas.toDataURL('image/jpeg', 0.9).split(',')[1];",
        )
        .await?;
    let path: PathBuf = folder.join("set-up.jpg");
    std::fs::write(&path, from_base64(drawn.as_str().ok_or("no picture")?))?;
    phone.hand_over("#photo", &path).await?;
    standing(phone, "All arrived").await
}

/// RFC 4648, section 4.
fn from_base64(text: &str) -> Vec<u8> {
    let alphabet = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let values = text.bytes().filter_map(|byte| alphabet.iter().position(|letter| *letter == byte));
    let bits: Vec<u32> = values.map(|value| value as u32).collect();
    let group = |four: &[u32]| {
        let whole = four.iter().enumerate().fold(0, |sum, (at, value)| sum | value << (18 - 6 * at));
        whole.to_be_bytes()[1..four.len()].to_vec()
    };
    bits.chunks(4).flat_map(group).collect()
}

async fn in_other_light(phone: &Visitor) -> Result<(), Failure> {
    for light in ["dim", "red", "paper"] {
        tokio::time::sleep(std::time::Duration::from_millis(750)).await;
        phone.press("#light").await?;
        phone.until(light, &format!("return document.documentElement.dataset.light === '{light}'")).await?;
        phone.keep_picture(&format!("phone-{light}")).await?;
    }
    Ok(())
}

async fn at_the_computer(desk: &Visitor, roll: &str) -> Result<(), Failure> {
    desk.go(&format!("/rolls/{roll}/log")).await?;
    let page = desk.text("main").await?;
    for words in ["taken otherwise than planned", "lamp moved, daylight lost", "put back to be taken", "Test phone"] {
        assert!(page.contains(words), "no “{words}” in:\n{page}");
    }
    let wide = "const img = document.querySelector('.photos img');
                img.loading = 'eager'; await img.decode(); return [img.naturalWidth, img.naturalHeight];";
    // 3000 × 2000 made smaller to 2048 px on its longer side.
    assert_eq!(desk.run(wide).await?, serde_json::json!([2048, 1365]));
    desk.keep_picture("log-computer").await
}

async fn turned_away(desk: &Visitor, phone: &Visitor) -> Result<(), Failure> {
    desk.go("/phones").await?;
    desk.press("form[action$='/revoke'] button").await?;
    desk.press("form[action$='/revoke'] button").await?;
    desk.until("it is turned away", "return document.querySelector('main').textContent.includes('turned away')")
        .await?;
    tap(phone, "Taken as planned").await?;
    standing(phone, "Kept on the phone: 1 entry").await?;
    phone
        .until("the phone says why", "return document.getElementById('trouble').textContent.includes('turned away')")
        .await
}
