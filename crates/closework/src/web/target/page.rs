//! The page of the target card.

use ::target::{Card, CardError, Identity, LARGEST_FIELD_MM, Paper, SMALLEST_FIELD_MM};
use axum::extract::{RawQuery, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use kit::Kit;
use maud::{Markup, PreEscaped, html};
use optics::Figure;
use printing::Printed;

use crate::card;
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled};
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::setup::{Picked, computed};
use crate::web::{App, PageError};

/// What is asked for: nothing before a field was given.
struct Asked {
    filled: Filled,
    /// The set-up that the field was taken from.
    set_up: Option<String>,
    paper: Paper,
    identity: Identity,
    card: Option<Card>,
}

impl Asked {
    fn read(kit: &Kit, query: Option<&str>) -> Self {
        let mut filled = Filled::from_query(query);
        let set_up = from_set_up(kit, &mut filled);
        filled.default_to("paper", Paper::A4.name());
        let paper = card::paper(filled.text("paper")).unwrap_or_else(|| {
            filled.wrong("paper", "A card is printed on A4 or Letter.");
            Paper::A4
        });
        let identity = identity(&mut filled);
        let width = filled.number_within("width", SMALLEST_FIELD_MM, LARGEST_FIELD_MM, "mm");
        let height = filled.number_within("height", SMALLEST_FIELD_MM, LARGEST_FIELD_MM, "mm");
        if width.is_none() && height.is_some() {
            filled.wrong("width", "A number is needed here.");
        }
        let mut asked = Self { filled, set_up, paper, identity, card: None };
        if let (Some(width), false) = (width, asked.filled.has_errors()) {
            match Card::new([width, height.unwrap_or(width)], identity) {
                Ok(card) => asked.card = Some(card),
                Err(error) => asked.filled.wrong(field_of(&error), sentence(&error.to_string())),
            }
        }
        asked
    }

    /// The same card again, as a query.
    fn query(&self) -> String {
        let mut pairs = form_urlencoded::Serializer::new(String::new());
        for name in ["width", "height", "paper"] {
            pairs.append_pair(name, self.filled.text(name));
        }
        pairs.append_pair("print", &self.identity.to_string()).finish()
    }
}

fn field_of(error: &CardError) -> &'static str {
    match error {
        CardError::Field { side, .. } => side,
        CardError::Shape { .. } => "height",
    }
}

/// Which print: the one of the address, so that what is shown is what is printed; else a new one.
fn identity(filled: &mut Filled) -> Identity {
    let typed = filled.text("print").to_owned();
    card::identity(&typed).unwrap_or_else(|| {
        if !typed.is_empty() {
            filled.wrong("print", "Five letters or digits, or nothing for a new one.");
        }
        card::random_identity()
    })
}

/// Width and height of the frame's field where a set-up came with the address and no field was typed; gives the set-up's name.
fn from_set_up(kit: &Kit, filled: &mut Filled) -> Option<String> {
    if filled.text("parts").is_empty() {
        return None;
    }
    let picked = Picked::read(filled, kit);
    let name = set_up_name(kit, &picked.parts);
    let report = match computed(kit, &picked) {
        Ok((_, report)) => report,
        Err(error) => {
            filled.wrong("", sentence(&error.to_string()));
            return None;
        }
    };
    let side = |figure| report.figures.get(figure).map(|found| found.value).filter(|mm| mm.is_finite());
    match (side(Figure::FieldWidth), side(Figure::FieldHeight)) {
        (Some(width), Some(height)) => {
            // Down to a tenth: the card is to lie within the frame.
            filled.default_to("width", format!("{:.1}", (width * 10.0).floor() / 10.0));
            filled.default_to("height", format!("{:.1}", (height * 10.0).floor() / 10.0));
            Some(name)
        }
        _ => {
            filled.wrong("", "At infinity this set-up covers no bounded field: a card needs one.");
            None
        }
    }
}

async fn asked(app: &App, query: Option<String>) -> Result<Asked, PageError> {
    let kit = app.notebook(|book| read_kit(book)).await?;
    Ok(Asked::read(&kit, query.as_deref()))
}

pub(super) async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let asked = asked(&app, query).await?;
    let (asked, printed) = crate::web::off_thread(move || {
        let printed = asked.card.as_ref().map(|card| card::on_paper(card, asked.paper));
        (asked, printed)
    })
    .await?;
    let body = html! {
        (form(&asked))
        @if let (Some(card), Some(printed)) = (&asked.card, &printed) { (shown(&asked, card, printed)) }
        @else if !asked.filled.has_errors() { (what_for()) }
    };
    let lead = "A card to print, photograph and measure: sharpness, scale, tone, stray light and focus from one frame.";
    Ok(Sheet::new("Target card", Place::Kit).lead(lead).show(body))
}

pub(super) async fn pdf(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response, PageError> {
    let asked = asked(&app, query).await?;
    let advice = "Go back to the card's page and give a width between 15 and 400 mm.";
    let Some(card) = asked.card else {
        return Err(PageError::refused("This address does not describe a card.", advice));
    };
    let written = crate::web::off_thread(move || card::on_paper(&card, asked.paper).document.to_pdf()).await?;
    let bytes = written.map_err(|why| PageError::broken("The card could not be written.", why))?;
    let name = format!("attachment; filename=\"target-card-{}.pdf\"", asked.identity);
    Ok(([(CONTENT_TYPE, "application/pdf".to_owned()), (CONTENT_DISPOSITION, name)], bytes).into_response())
}

fn form(asked: &Asked) -> Markup {
    let filled = &asked.filled;
    let papers = [(Paper::A4.name(), "A4"), (Paper::Letter.name(), "Letter")];
    html! {
        form method="get" action="/target" {
            (filled.summary_of("Please look at:"))
            @if let Some(name) = &asked.set_up { p.note { "The field is that of the set-up " strong { (name) } "." } }
            div.fields {
                (Field::number("width", "Field, width").unit("mm").hint("What the frame covers, 15 to 400.").required().show(filled))
                (Field::number("height", "Field, height").unit("mm").hint("Left blank: as wide as high.").show(filled))
                (Field::choice("paper", "Paper", papers).show(filled))
                (Field::text("print", "Print").hint("Five letters or digits that tell cards apart. Left blank: a new one.").show(filled))
            }
            div.actions { button.main { "Lay it out" } a href="/set-up" { "Take the field from a set-up" } }
        }
    }
}

fn what_for() -> Markup {
    html! {
        p { "Give the field that the frame covers. The card fills it with slanted squares for sharpness in the middle, half-way out and in the corners, rulers, grey steps, a black trap and ramps for focus; codes in its corners say where everything lies." }
    }
}

fn shown(asked: &Asked, card: &Card, printed: &Printed) -> Markup {
    let pages = printed.document.pages.len();
    html! {
        section aria-labelledby="prints" {
            h2 id="prints" { "What is printed" }
            p { (pages) @if pages == 1 { " page" } @else { " pages" } ", print " strong { (asked.identity) } ". Print at 100 %, without fitting to the page; the line at its head must measure 100.0 mm." }
            ul { @for note in card::notes(card) { li { (note) } } }
            p.note { strong { "Care: " } "blades cut: hold them with pliers, cover their free edges, keep them from children. Hot lamps burn skin, paper and specimens. Local rules and the makers’ instructions come first." }
            div.actions { a.button.main href=(format!("/target/card.pdf?{}", asked.query())) download { "Download the PDF" } }
            (sheets(card, printed, asked.paper))
            p.soft.small { "On the command line: " code { "closework target --field-mm " (card.field_mm[0]) "x" (card.field_mm[1]) " --paper " (asked.paper.name()) " --identity " (asked.identity) " --out card.pdf" } }
        }
    }
}

/// Each sheet's page at its size, as far as the window is wide enough.
fn sheets(card: &Card, printed: &Printed, paper: Paper) -> Markup {
    html! {
        @for (index, (sheet, placed)) in card.sheets.iter().zip(&printed.placed).enumerate() {
            @let [w, h] = sheet.size_mm;
            @let words = format!("Page {}: sheet “{}”, {w:.1} × {h:.1} mm", placed.page, sheet.part.name());
            figure class=(format!("paper {}", paper.name())) {
                figcaption { (words) }
                (PreEscaped(printed.document.pages[placed.page - 1].to_svg(&format!("sheet-{index}"), &words)))
            }
            @if let Some(page) = placed.strips_page.filter(|page| *page != placed.page) {
                @let words = format!("Page {page}: strips for the sheet “{}”", sheet.part.name());
                figure class=(format!("paper {}", paper.name())) {
                    figcaption { (words) }
                    (PreEscaped(printed.document.pages[page - 1].to_svg(&format!("strips-{index}"), &words)))
                }
            }
        }
    }
}
