//! Somebody in front of the browser.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use fantoccini::actions::{InputSource, MouseActions, PointerAction};
use fantoccini::elements::Element;
use fantoccini::error::{CmdError, ErrorStatus};
use fantoccini::{Client, ClientBuilder, Locator};
use hyper_util::client::legacy::connect::HttpConnector;
use serde_json::{Value, json};

use crate::House;

/// Whatever goes wrong in a test, in words.
pub type Failure = Box<dyn std::error::Error + Send + Sync>;

/// How long anything may take to appear.
const PATIENCE: Duration = Duration::from_secs(420);

/// Whether this error is the page's being drawn anew or loaded just then: whoever looks again finds it settled.
fn between_two_pages(error: &CmdError) -> bool {
    let CmdError::Standard(error) = error else { return false };
    matches!(
        error.error,
        ErrorStatus::StaleElementReference
            | ErrorStatus::NoSuchElement
            | ErrorStatus::ElementClickIntercepted
            | ErrorStatus::ElementNotInteractable
    )
}

/// How many there have been: each comes with a browser that has kept nothing.
static VISITORS: AtomicUsize = AtomicUsize::new(0);

/// Somebody in front of the browser.
pub struct Visitor {
    client: Client,
    address: String,
}

impl Visitor {
    /// Sits down before a window of that size in CSS pixels; narrow ones are emulated as a phone.
    pub async fn new(house: &House, width: u32, height: u32) -> Result<Self, Failure> {
        let profile = house.folder().join(format!("profile-{}", VISITORS.fetch_add(1, Ordering::Relaxed)));
        let mut options = json!({ "args": [
            "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
            "--disable-background-networking", "--disable-component-update", "--hide-scrollbars",
            format!("--user-data-dir={}", profile.display()), format!("--window-size={width},{height}"),
        ] });
        if width < 500 {
            let metrics = json!({ "width": width, "height": height, "pixelRatio": 2.0, "touch": true });
            options["mobileEmulation"] = json!({ "deviceMetrics": metrics });
        }
        let wanted = json!({ "browserName": "chrome", "goog:chromeOptions": options, "goog:loggingPrefs": { "browser": "ALL" } });
        let Value::Object(wanted) = wanted else { return Err("capabilities are an object".into()) };
        let mut builder = ClientBuilder::new(HttpConnector::new());
        let client = builder.capabilities(wanted).connect(&house.driver).await?;
        Ok(Self { client, address: house.address.clone() })
    }

    /// Goes to a page.
    pub async fn go(&self, path: &str) -> Result<(), Failure> {
        Ok(self.client.goto(&format!("{}{path}", self.address)).await?)
    }

    /// Goes on at another address, after the server was started again.
    pub fn move_to(&mut self, house: &House) {
        self.address = house.address.clone();
    }

    /// Goes on at this address, such as the one for phones.
    pub fn move_to_address(&mut self, address: &str) {
        self.address = address.to_owned();
    }

    /// Waits for what a CSS selector names.
    pub async fn find(&self, css: &str) -> Result<Element, Failure> {
        let found = self.client.wait().at_most(PATIENCE).for_element(Locator::Css(css)).await;
        match found {
            Ok(element) => Ok(element),
            Err(error) => {
                let page = self.text("main").await.unwrap_or_default();
                Err(format!("{css} is not on {} ({error}); the page says:\n{page}", self.path().await?).into())
            }
        }
    }

    /// Everything a selector names now, without waiting.
    pub async fn count(&self, css: &str) -> Result<usize, Failure> {
        Ok(self.client.find_all(Locator::Css(css)).await?.len())
    }

    /// The text of the first such element, as it is seen.
    pub async fn text(&self, css: &str) -> Result<String, Failure> {
        self.settled(css, async || self.client.find(Locator::Css(css)).await?.text().await).await
    }

    /// Presses something.
    pub async fn press(&self, css: &str) -> Result<(), Failure> {
        self.press_at(Locator::Css(css), css).await
    }

    /// Presses the button or link with these words.
    pub async fn press_words(&self, words: &str) -> Result<(), Failure> {
        let path = format!("//main//*[self::a or self::button][contains(normalize-space(.), \"{words}\")]");
        self.press_at(Locator::XPath(&path), &format!("“{words}”")).await
    }

    async fn press_at(&self, place: Locator<'_>, what: &str) -> Result<(), Failure> {
        let press = async || {
            let element = self.client.find(place).await?;
            let itself = serde_json::to_value(&element)?;
            self.client.execute("arguments[0].scrollIntoView({block: 'center'})", vec![itself]).await?;
            element.click().await
        };
        self.settled(what, press).await
    }

    /// Does something with what is on the page; again, when the page was drawn anew under it or does not have it yet.
    async fn settled<T>(&self, what: &str, act: impl AsyncFn() -> Result<T, CmdError>) -> Result<T, Failure> {
        let begun = std::time::Instant::now();
        loop {
            match act().await {
                Ok(done) => return Ok(done),
                Err(error) if between_two_pages(&error) && begun.elapsed() < PATIENCE => {
                    tokio::time::sleep(Duration::from_millis(100)).await;
                }
                Err(error) => {
                    let page = self.run("return document.body?.innerText").await.unwrap_or_default();
                    return Err(format!("{what} on {}: {error}; the page says:\n{page}", self.path().await?).into());
                }
            }
        }
    }

    /// Types into a field in the place of what is there.
    pub async fn fill(&self, css: &str, words: &str) -> Result<(), Failure> {
        let field = self.find(css).await?;
        field.clear().await?;
        Ok(field.send_keys(words).await?)
    }

    /// Chooses an option by its value.
    pub async fn choose(&self, css: &str, value: &str) -> Result<(), Failure> {
        Ok(self.find(css).await?.select_by_value(value).await?)
    }

    /// Hands a file of this machine to a file field.
    pub async fn hand_over(&self, css: &str, file: &Path) -> Result<(), Failure> {
        Ok(self.find(css).await?.send_keys(&file.to_string_lossy()).await?)
    }

    /// Draws with the mouse from one place to another, CSS pixels from the upper left corner of the element.
    pub async fn draw(&self, css: &str, from: (f64, f64), to: (f64, f64)) -> Result<(), Failure> {
        let element = self.find(css).await?;
        self.client
            .execute("arguments[0].scrollIntoView({block: 'center'})", vec![serde_json::to_value(&element)?])
            .await?;
        let (left, top, ..) = element.rectangle().await?;
        let scrolled = self.run("return [scrollX, scrollY]").await?;
        let (sx, sy) = (scrolled[0].as_f64().unwrap_or(0.0), scrolled[1].as_f64().unwrap_or(0.0));
        let place = |(x, y): (f64, f64)| ((left - sx + x).round(), (top - sy + y).round());
        let step = |(x, y): (f64, f64)| PointerAction::MoveTo { duration: Some(Duration::from_millis(120)), x, y };
        let middle = ((from.0 + to.0) / 2.0, (from.1 + to.1) / 2.0);
        let mouse = MouseActions::new("mouse".into())
            .then(step(place(from)))
            .then(PointerAction::Down { button: fantoccini::actions::MOUSE_BUTTON_LEFT })
            .then(step(place(middle)))
            .then(step(place(to)))
            .then(PointerAction::Up { button: fantoccini::actions::MOUSE_BUTTON_LEFT });
        Ok(self.client.perform_actions(mouse).await?)
    }

    /// Runs a script in the page and gives what it returns.
    pub async fn run(&self, script: &str) -> Result<Value, Failure> {
        Ok(self.client.execute(script, Vec::new()).await?)
    }

    /// The page's path and query.
    pub async fn path(&self) -> Result<String, Failure> {
        let url = self.client.current_url().await?;
        Ok(url.as_str().trim_start_matches(&self.address).to_owned())
    }

    /// Waits until a script returns true. One that fails is run again: the page may be on its way, with nothing in it yet.
    pub async fn until(&self, what: &str, script: &str) -> Result<(), Failure> {
        let begun = std::time::Instant::now();
        let mut last = None;
        while begun.elapsed() < PATIENCE {
            match self.client.execute(script, Vec::new()).await {
                Ok(Value::Bool(true)) => return Ok(()),
                Ok(_) => last = None,
                Err(error @ CmdError::Standard(_)) => last = Some(error),
                Err(error) => return Err(error.into()),
            }
            tokio::time::sleep(Duration::from_millis(200)).await;
        }
        let failed = last.map(|error| format!("\nThe script fails: {error}")).unwrap_or_default();
        let page = self.text("main").await.unwrap_or_default();
        Err(format!("it never came to this: {what}; {} says:\n{page}{failed}", self.path().await?).into())
    }

    /// Loads a page anew, again and again, until a script on it returns true.
    pub async fn until_at(&self, path: &str, what: &str, script: &str) -> Result<(), Failure> {
        let begun = std::time::Instant::now();
        while begun.elapsed() < PATIENCE {
            self.go(path).await?;
            if self.run(script).await? == Value::Bool(true) {
                return Ok(());
            }
            tokio::time::sleep(Duration::from_millis(700)).await;
        }
        let page = self.text("main").await.unwrap_or_default();
        Err(format!("it never came to this: {what}; {path} says:\n{page}").into())
    }

    /// Loads a scan on its page and waits until the list there shows its picture.
    pub async fn load_scan(&self, file: &Path) -> Result<(), Failure> {
        let name = file.file_name().ok_or("no file")?.to_string_lossy();
        self.go("/scans").await?;
        self.hand_over("#field-file", file).await?;
        self.press_words("Load").await?;
        self.until("it is sent", "return !document.querySelector('.arriving li')").await?;
        let ready = format!(
            "return [...document.querySelectorAll('article.scan')].some((one) => \
             one.querySelector('h3 a')?.textContent === '{name}' && one.querySelector('input[name=scan]'))"
        );
        self.until_at("/scans", &format!("{name} is ready"), &ready).await
    }

    /// Saves a picture of the whole page into the folder named by CLOSEWORK_SCREENSHOTS; does nothing without it.
    pub async fn keep_picture(&self, name: &str) -> Result<(), Failure> {
        let Some(folder) = std::env::var_os("CLOSEWORK_SCREENSHOTS") else { return Ok(()) };
        std::fs::create_dir_all(&folder)?;
        let picture = self.client.screenshot().await?;
        Ok(std::fs::write(Path::new(&folder).join(format!("{name}.png")), picture)?)
    }

    /// Fails when the page is wider than its window, which makes a phone scroll sideways.
    pub async fn fits(&self) -> Result<(), Failure> {
        let widths = self.run("return [document.documentElement.scrollWidth, innerWidth]").await?;
        if widths[0].as_f64() > widths[1].as_f64() {
            return Err(
                format!("{} is {} px wide in a window of {} px", self.path().await?, widths[0], widths[1]).into()
            );
        }
        Ok(())
    }

    /// Leaves.
    pub async fn leave(self) -> Result<(), Failure> {
        Ok(self.client.close().await?)
    }
}
