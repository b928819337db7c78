//! The sheet every page is drawn on: title block, navigation, scripts, footer.

use axum::response::Html;
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Where in the navigation a page belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// What has to be photographed.
    Jobs,
    /// Bodies, lenses, attachments.
    Kit,
    /// Every set-up the kit allows.
    Reach,
    /// One set-up to scale.
    SetUp,
    /// From the meter to the shutter.
    Exposure,
    /// Scans and their measurements.
    Scans,
    /// Scans at one size of subject.
    SideBySide,
    /// What is good enough.
    Verdict,
    /// Pages outside the navigation: errors, settings.
    Nowhere,
}

impl Place {
    /// The places of the navigation, in the order of the work.
    pub const ALL: [Self; 8] =
        [Self::Jobs, Self::Kit, Self::Reach, Self::SetUp, Self::Exposure, Self::Scans, Self::SideBySide, Self::Verdict];

    /// Its name in the navigation.
    pub fn label(self) -> &'static str {
        match self {
            Self::Jobs => "Jobs",
            Self::Kit => "Kit",
            Self::Reach => "Reach",
            Self::SetUp => "Set-up",
            Self::Exposure => "Exposure",
            Self::Scans => "Scans",
            Self::SideBySide => "Side by side",
            Self::Verdict => "Verdict",
            Self::Nowhere => "",
        }
    }

    /// Its address.
    pub fn path(self) -> &'static str {
        match self {
            Self::Jobs => "/jobs",
            Self::Kit => "/kit",
            Self::Reach => "/reach",
            Self::SetUp => "/set-up",
            Self::Exposure => "/exposure",
            Self::Scans => "/scans",
            Self::SideBySide => "/side-by-side",
            Self::Verdict => "/verdict",
            Self::Nowhere => "/",
        }
    }
}

/// A page under construction; [`page`] is the short way for the ordinary ones.
#[derive(Debug, Clone)]
pub struct Sheet<'a> {
    title: &'a str,
    place: Place,
    scripts: Vec<&'a str>,
    neutral: bool,
    wide: bool,
    lead: Option<&'a str>,
}

impl<'a> Sheet<'a> {
    /// A sheet with its heading and its place in the navigation.
    pub fn new(title: &'a str, place: Place) -> Self {
        Self { title, place, scripts: Vec::new(), neutral: false, wide: false, lead: None }
    }

    /// One sentence under the heading: what this page is for.
    pub fn lead(mut self, sentence: &'a str) -> Self {
        self.lead = Some(sentence);
        self
    }

    /// Adds a module script of ours, by its address: `/assets/viewer.js`.
    pub fn script(mut self, address: &'a str) -> Self {
        self.scripts.push(address);
        self
    }

    /// Neutral grey around, nothing coloured: for pages on which pictures are judged (ISO 3664).
    pub fn neutral(mut self) -> Self {
        self.neutral = true;
        self
    }

    /// Uses the whole width of the window.
    pub fn wide(mut self) -> Self {
        self.wide = true;
        self
    }

    /// The finished page.
    pub fn show(&self, body: Markup) -> Html<String> {
        let class = match (self.neutral, self.wide) {
            (true, _) => "neutral wide",
            (false, true) => "wide",
            (false, false) => "",
        };
        let markup = html! {
            (DOCTYPE)
            html lang="en" {
                (self.head())
                body class=(class) {
                    a.skip href="#main" { "Skip to the page" }
                    (self.title_block())
                    main id="main" tabindex="-1" {
                        h1 { (self.title) }
                        @if let Some(lead) = self.lead { p.lead { (lead) } }
                        (body)
                    }
                    (footer())
                }
            }
        };
        Html(markup.into_string())
    }

    fn head(&self) -> Markup {
        html! {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (self.title) " · Closework" }
                link rel="icon" type="image/svg+xml" href="/assets/mark.svg";
                link rel="stylesheet" href="/assets/style.css";
                script src="/assets/light.js" {}
                script type="module" src="/assets/sheet.js" {}
                @for script in &self.scripts { script type="module" src=(script) {} }
            }
        }
    }

    fn title_block(&self) -> Markup {
        html! {
            header.title-block {
                a.name href="/" { (MARK) span { "Closework" } }
                nav aria-label="Pages" {
                    @for place in Place::ALL {
                        a href=(place.path()) aria-current=[(place == self.place).then_some("page")] { (place.label()) }
                    }
                }
            }
        }
    }
}

/// An ordinary page: heading, place in the navigation, body.
pub fn page(title: &str, active: Place, body: Markup) -> Html<String> {
    Sheet::new(title, active).show(body)
}

/// The project's mark: a dimension line between its two witness lines.
const MARK: PreEscaped<&str> = PreEscaped(
    r#"<svg class="mark" viewBox="0 0 32 24" width="32" height="24" aria-hidden="true" focusable="false"><path d="M3 2v20M29 2v20M5 12h22M10 8.5 4 12l6 3.5M22 8.5 28 12l-6 3.5"/></svg>"#,
);

fn footer() -> Markup {
    html! {
        footer.sheet-foot {
            form.manners method="post" action="/manners" aria-label="Units and light" {
                fieldset {
                    legend { "Lengths in" }
                    button name="units" value="mm" { "millimetres" }
                    button name="units" value="in" title="Results alone: what is entered stays in millimetres, as it is engraved." { "inches, in results" }
                }
                fieldset {
                    legend { "Light" }
                    button name="light" value="auto" { "as the system" }
                    button name="light" value="paper" { "paper" }
                    button name="light" value="dim" { "dim" }
                    button name="light" value="red" { "red" }
                }
            }
            p { "Everything stays on this machine." }
        }
    }
}
