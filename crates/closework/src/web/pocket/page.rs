//! The page that puts pocket cards together.

use axum::extract::{RawQuery, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use kit::{Focus, Kit, SetupRequest};
use maud::{Markup, PreEscaped, html};
use notebook::Notebook;

use crate::pocket::{Correction, FINE_ROWS, Paper, PocketCard, ROWS, card, on_paper, on_phone};
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled};
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError};

/// Cards that one document holds at most: a drawer's worth.
const MOST: usize = 60;

/// A set-up to choose from.
struct Offered {
    parts: String,
    focus: Focus,
    name: String,
    chosen: bool,
}

struct Asked {
    filled: Filled,
    kit: Kit,
    offered: Vec<Offered>,
    paper: Paper,
    film: Option<film::Film>,
}

impl Asked {
    fn read(book: &Notebook, query: Option<&str>) -> Result<Self, PageError> {
        let kit = read_kit(book)?;
        let mut filled = Filled::from_query(query);
        filled.default_to("paper", Paper::A4.name());
        let paper = Paper::of(filled.text("paper")).unwrap_or_else(|| {
            filled.wrong("paper", "Cards are printed on A6, A5 or A4.");
            Paper::A4
        });
        let film = film(&kit, &mut filled);
        let offered = offered(book, &kit, &mut filled)?;
        Ok(Self { filled, kit, offered, paper, film })
    }

    /// The chosen set-ups' cards with so many rows; what makes none is noted at its place.
    fn cards(&mut self, most: usize) -> Vec<PocketCard> {
        let mut cards = Vec::new();
        for offered in self.offered.iter().filter(|offered| offered.chosen) {
            let request =
                SetupRequest { parts: words(&offered.parts), focus: offered.focus, ..SetupRequest::default() };
            match card(&self.kit, &request, &[], most) {
                Ok(card) => cards.push(card),
                Err(why) => self.filled.wrong("", format!("{}: {}", offered.name, sentence(&why.to_string()))),
            }
        }
        cards
    }

    fn query(&self) -> String {
        let mut pairs = form_urlencoded::Serializer::new(String::new());
        for offered in self.offered.iter().filter(|offered| offered.chosen) {
            pairs.append_pair("set-up", &value(&offered.parts, offered.focus));
        }
        if let Some(film) = &self.film {
            pairs.append_pair("film", &film.id);
        }
        pairs.append_pair("paper", self.paper.name()).finish()
    }
}

/// The film whose loss goes on the cards.
fn film(kit: &Kit, filled: &mut Filled) -> Option<film::Film> {
    let id = filled.text("film").to_owned();
    if id.is_empty() {
        return None;
    }
    match kit.film(&id) {
        Ok(chosen) if chosen.film.law().is_none() => {
            filled.wrong("film", "Nothing is published here of what this film loses in long exposures.");
            None
        }
        Ok(chosen) => Some(chosen.film),
        Err(error) => {
            filled.wrong("film", sentence(&error.to_string()));
            None
        }
    }
}

fn words(parts: &str) -> Vec<String> {
    parts.split(',').map(|word| word.trim().to_owned()).filter(|word| !word.is_empty()).collect()
}

/// A set-up in one form value: its parts, and after a blank where the lens is focused.
fn value(parts: &str, focus: Focus) -> String {
    match focus {
        Focus::Infinity => parts.to_owned(),
        focus => format!("{parts} {focus}"),
    }
}

/// What the notebook's frames use, and what came with the address (which is chosen). A set-up without a bellows goes through its
/// lens's own travel, whatever a frame had it set to.
fn offered(book: &Notebook, kit: &Kit, filled: &mut Filled) -> Result<Vec<Offered>, PageError> {
    let mut found: Vec<Offered> = Vec::new();
    let asked: Vec<String> = filled.all("set-up").map(str::to_owned).take(MOST + 1).collect();
    if asked.len() > MOST {
        filled.wrong("", format!("{MOST} cards at most are put into one document."));
    }
    for asked in asked.iter().take(MOST) {
        let (parts, focus) = asked.split_once(' ').unwrap_or((asked, "infinity"));
        match focus.parse() {
            Ok(focus) => add(&mut found, kit, parts, focus, true),
            Err(why) => filled.wrong("", sentence(&why)),
        }
    }
    for job in book.jobs()? {
        for frame in book.frames_of_job(job.id)? {
            add(&mut found, kit, &without_draws(kit, &frame.parts), Focus::Infinity, false);
        }
    }
    found.truncate(MOST);
    Ok(found)
}

/// The parts with a bellows at no particular draw: the card goes through all of it.
fn without_draws(kit: &Kit, parts: &[String]) -> String {
    let bare = |word: &String| match word.split_once('=') {
        Some((id, draw)) if draw.parse::<f64>().is_ok() && kit.part(id).is_some() => id.to_owned(),
        _ => word.clone(),
    };
    parts.iter().map(bare).collect::<Vec<_>>().join(",")
}

fn add(found: &mut Vec<Offered>, kit: &Kit, parts: &str, focus: Focus, chosen: bool) {
    let parts = without_draws(kit, &words(parts));
    if parts.is_empty() || found.iter().any(|other| other.parts == parts && other.focus == focus) {
        return;
    }
    let name = set_up_name(kit, &words(&parts));
    let name = if focus == Focus::Infinity { name } else { format!("{name}, focused at {focus}") };
    found.push(Offered { parts, focus, name, chosen });
}

pub(super) async fn page(State(app): State<App>, RawQuery(query): RawQuery) -> PageResult {
    let mut asked = app.notebook(move |book| Asked::read(book, query.as_deref())).await?;
    let (asked, cards) = crate::web::off_thread(move || {
        let cards = asked.cards(ROWS);
        (asked, cards)
    })
    .await?;
    let body = html! {
        (form(&asked))
        @if !cards.is_empty() { (shown(&asked, &cards)) }
    };
    let lead = "What a set-up gives over its draw or travel: size, field, room, light and depth, to carry in a pocket.";
    Ok(Sheet::new("Pocket cards", Place::SetUp).lead(lead).show(body))
}

async fn chosen(app: &App, query: Option<String>, most: usize) -> Result<(Asked, Vec<PocketCard>), PageError> {
    let mut asked = app.notebook(move |book| Asked::read(book, query.as_deref())).await?;
    let (asked, cards) = crate::web::off_thread(move || {
        let cards = asked.cards(most);
        (asked, cards)
    })
    .await?;
    if asked.filled.has_errors() || cards.is_empty() {
        let advice = "Go back to the page of the pocket cards and choose set-ups there.";
        return Err(PageError::refused("This address does not describe cards that can be made.", advice));
    }
    Ok((asked, cards))
}

pub(super) async fn pdf(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response, PageError> {
    let (asked, cards) = chosen(&app, query, ROWS).await?;
    let paper = asked.paper;
    let written = crate::web::off_thread(move || on_paper(&cards, None, paper, crate::card::today()).to_pdf()).await?;
    let bytes = written.map_err(|why| PageError::broken("The cards could not be written.", why))?;
    let name = format!("attachment; filename=\"pocket-cards-{}.pdf\"", paper.name());
    Ok(([(CONTENT_TYPE, "application/pdf".to_owned()), (CONTENT_DISPOSITION, name)], bytes).into_response())
}

pub(super) async fn phone(State(app): State<App>, RawQuery(query): RawQuery) -> Result<Response, PageError> {
    let (asked, cards) = chosen(&app, query, FINE_ROWS).await?;
    let correction = asked.film.as_ref().and_then(Correction::on_phone);
    let page = on_phone(&cards, correction.as_ref(), crate::card::today());
    let name = "attachment; filename=\"pocket-cards.html\"".to_owned();
    Ok(([(CONTENT_TYPE, "text/html; charset=utf-8".to_owned()), (CONTENT_DISPOSITION, name)], page).into_response())
}

fn form(asked: &Asked) -> Markup {
    let papers = Paper::ALL.map(|paper| (paper.name(), paper.label()));
    let with_law = asked.kit.films().into_iter().filter(|chosen| chosen.film.law().is_some());
    let films = with_law.map(|chosen| (chosen.film.id.clone(), chosen.film.full_name()));
    let films = std::iter::once((String::new(), "none".to_owned())).chain(films);
    html! {
        form method="get" action="/pocket-cards" {
            (asked.filled.summary_of("Please look at:"))
            @if asked.offered.is_empty() {
                p { "No set-up is named yet. " a href="/set-up" { "Put one together" } ", and choose “pocket card” there; set-ups of planned frames are listed here by themselves." }
            } @else {
                fieldset.choices {
                    legend { "Set-ups" }
                    @for (at, offered) in asked.offered.iter().enumerate() {
                        @let id = format!("set-up-{at}");
                        label.check for=(id) {
                            input type="checkbox" id=(id) name="set-up" value=(value(&offered.parts, offered.focus)) checked[offered.chosen];
                            " " (offered.name)
                        }
                    }
                }
                div.fields {
                    (Field::choice("film", "Long exposures of", films).show(&asked.filled))
                    (Field::choice("paper", "Paper", papers).show(&asked.filled))
                }
                div.actions { button.main { "Make the cards" } a href="/set-up" { "Another set-up" } }
            }
        }
    }
}

fn shown(asked: &Asked, cards: &[PocketCard]) -> Markup {
    let correction = asked.film.as_ref().and_then(Correction::on_paper);
    let document = on_paper(cards, correction.as_ref(), Paper::A6, None);
    html! {
        section aria-labelledby="made" {
            h2 id="made" { (cards.len()) @if cards.len() == 1 { " card" } @else { " cards" } }
            div.actions {
                a.button.main href=(format!("/pocket-cards/cards.pdf?{}", asked.query())) download { "Download the PDF" }
                a.button href=(format!("/pocket-cards/cards.html?{}", asked.query())) download { "Download the page for a phone" }
            }
            p.soft { "Print at 100 %, without fitting to the page. The page for a phone is one file that works without a network: send it to the phone and open it there." }
            div.cards {
                @for (index, (card, page)) in cards.iter().zip(&document.pages).enumerate() {
                    figure.paper.a6 { figcaption { (card.name) } (PreEscaped(page.to_svg(&format!("card-{index}"), &in_words(card)))) }
                }
            }
        }
    }
}

fn in_words(card: &PocketCard) -> String {
    format!("Pocket card of {}: {} rows. {}", card.name, card.rows.len(), card.doubts_in_words())
}
