//! The page itself, and what is chosen, used and forgotten on it.

use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{Html, IntoResponse, Redirect, Response};
use kit::{Kind, Kit, Part};
use maud::{Markup, html};
use notebook::Notebook;

use super::kept::{self, Kept, hand_name};
use super::seen::{self, Seen};
use super::{forms, result};
use crate::calibrating::{
    CloseUpEntry, FrameEntry, Given, Side, Trouble, Whole, forgotten, is_calibrated, kept as with_figures, whole,
};
use crate::web::error::{PageResult, sentence};
use crate::web::form::Filled;
use crate::web::kit_book::{read_kit, record};
use crate::web::layout::{Place, Sheet};
use crate::web::manners::{Manners, Units};
use crate::web::{App, PageError};

/// Everything that the page is about.
pub(super) struct Around {
    pub kit: Kit,
    pub part: Part,
    pub kept: Kept,
    pub frames: Vec<Seen<FrameEntry>>,
    pub pairs: Vec<Seen<CloseUpEntry>>,
}

impl Around {
    pub fn read(book: &Notebook, id: &str) -> Result<Self, PageError> {
        let kit = read_kit(book)?;
        let missing = || PageError::missing(format!("There is no part “{id}” in the kit."));
        let part = kit.part(id).cloned().ok_or_else(missing)?;
        let kept = kept::read(book, id)?;
        let (mut frames, mut pairs) = (Vec::new(), Vec::new());
        match part.kind() {
            Kind::Lens => frames = seen::frames(book, &kit, &part)?,
            Kind::CloseUpLens => pairs = seen::pairs(book, &kit, &part)?,
            other => {
                return Err(PageError::refused(
                    format!("A {} is not calibrated.", other.spec().label),
                    "Lenses and close-up lenses are; their pages lead there.",
                ));
            }
        }
        Ok(Self { kit, part, kept, frames, pairs })
    }

    pub async fn of(app: &App, id: String) -> Result<Self, PageError> {
        app.notebook(move |book| Self::read(book, &id)).await
    }

    pub fn is_lens(&self) -> bool {
        self.part.kind() == Kind::Lens
    }

    /// All that is ticked.
    pub fn given(&self) -> Given {
        let by_hand = &self.kept.given;
        let ticked = |label: &str| self.kept.takes(&hand_name(label));
        let seen = self.frames.iter().filter_map(|seen| seen.taken(&self.kept)).cloned();
        let typed = by_hand.frames.iter().filter(|frame| ticked(&frame.label)).cloned();
        let seen_pairs = self.pairs.iter().filter_map(|seen| seen.taken(&self.kept)).cloned();
        let typed_pairs = by_hand.close_ups.iter().filter(|pair| ticked(&pair.label)).cloned();
        Given {
            frames: seen.chain(typed).collect(),
            close_ups: seen_pairs.chain(typed_pairs).collect(),
            ..by_hand.clone()
        }
    }

    /// What the ticked entries tell; `None` while there are none, or photographs of one end of the lens alone.
    pub fn found(&self) -> Option<Result<Whole, Trouble>> {
        let mut given = self.given();
        if self.pupil_wanting().is_some() {
            given.pupils.clear();
        }
        let nothing = given.frames.is_empty() && given.pupils.is_empty() && given.close_ups.is_empty();
        (!nothing).then(|| whole(&self.kit, &given, Some(self.part.id())))
    }

    /// The end of the lens that is not photographed yet, when the other one is.
    pub fn pupil_wanting(&self) -> Option<Side> {
        let pupils = &self.kept.given.pupils;
        let missing = |side: Side| !pupils.is_empty() && pupils.iter().all(|pupil| pupil.side != side);
        [Side::Front, Side::Back].into_iter().find(|side| missing(*side))
    }

    pub fn address(&self, rest: &str) -> String {
        format!("/kit/part/{}/calibrate{rest}", self.part.id())
    }
}

pub(super) async fn page(State(app): State<App>, Path(id): Path<String>, manners: Manners) -> PageResult {
    let around = Around::of(&app, id).await?;
    Ok(show(&around, &Filled::default(), manners.units))
}

/// The page; `filled` is a form that came back.
pub(super) fn show(around: &Around, filled: &Filled, units: Units) -> Html<String> {
    let found = around.found();
    let lead = if around.is_lens() {
        "Engraved figures are nominal. A ruler at a few known extensions tells the true ones."
    } else {
        "Powers are rounded. A ruler without and with the close-up lens tells the true one."
    };
    let body = html! {
        (filled.summary_of("Nothing was added yet. Please look at:"))
        @if found.is_none() { (first_steps(around)) }
        (result::in_use(around, units))
        (forms::entries(around))
        @match &found {
            None => {},
            Some(Err(trouble)) => section aria-labelledby="result" {
                h2 id="result" { "What they tell" }
                div.refusal role="alert" { p.what { (sentence(&refusal(trouble))) } }
            },
            Some(Ok(whole)) => (result::show(around, whole, units)),
        }
        (forms::by_hand(around, filled))
        p { a href=(format!("/kit/part/{}", around.part.id())) { "Back to " (around.part.name()) } }
    };
    Sheet::new(&format!("Calibrate: {}", around.part.name()), Place::Kit).lead(lead).show(body)
}

/// Without the words of a file or a command line.
fn refusal(trouble: &Trouble) -> String {
    match trouble {
        Trouble::Refused { source, .. } => source.to_string(),
        Trouble::Entry { label, why, .. } => format!("{label}: {why}"),
        other => other.to_string(),
    }
}

fn first_steps(around: &Around) -> Markup {
    html! {
        div.note {
            @if around.is_lens() {
                p { "Nothing usable yet. First photograph a ruler with this lens, on any body that takes it:" }
                ol {
                    li { "at the infinity mark, on one tube;" }
                    li { "at the infinity mark, on another tube, or on both: the greater the difference in length, the better;" }
                    li { "at the closest mark, with and without a tube: that tells the travel." }
                }
                p { "Move the camera until the ruler is sharp; do not touch the focusing. With a tape from film mark to ruler beside one or two of the frames, the separation of the principal planes is told too. Log the frames with their set-up, scan them, and measure the ruler on the scan's page: they then stand here by themselves. Or type below what was measured elsewhere." }
            } @else {
                p { "Nothing usable yet. First photograph a ruler with this close-up lens on a lens that is well known, best a calibrated one:" }
                ol {
                    li { "with the lens at its infinity mark: one frame is enough;" }
                    li { "at the closest mark, once without and once with the close-up lens." }
                }
                p { "Log the frames, scan them, and measure the ruler on the scan's page: they then stand here by themselves. Or type below what was measured elsewhere." }
            }
        }
    }
}

/// What was ticked: everything usable that was not is left out, and the rest of an earlier choice stays.
pub(super) async fn choose(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Redirect, PageError> {
    let next = format!("/kit/part/{id}/calibrate#result");
    let act = move |book: &mut Notebook| {
        let around = Around::read(book, &id)?;
        let ticked = |name: &String| filled.all("take").any(|taken| taken == name);
        let mut kept = around.kept.clone();
        kept.left_out = forms::names(&around).into_iter().filter(|name| !ticked(name)).collect();
        kept.given.fit_infinity_mark = filled.ticked("fit_infinity_mark");
        kept.given.use_outliers = filled.ticked("use_outliers");
        kept::write(book, &id, &kept).map_err(PageError::from)
    };
    app.notebook(act).await?;
    Ok(Redirect::to(&next))
}

/// Writes what is told now into the kit.
pub(super) async fn use_these(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let next = format!("/kit/part/{id}/calibrate#in-use");
    let act = move |book: &mut Notebook| {
        let around = Around::read(book, &id)?;
        let nothing = || PageError::refused("There is nothing to calibrate from.", "Go back and tick or add frames.");
        let whole = around.found().ok_or_else(nothing)?;
        let whole = whole
            .map_err(|trouble| PageError::refused(sentence(&refusal(&trouble)), "Go back and look at the frames."))?;
        let told = whole.told().find(|(of, _)| *of == id).map(|(_, told)| told.to_vec()).ok_or_else(nothing)?;
        let part = with_figures(&around.part, &told).map_err(|why| {
            PageError::refused(sentence(&format!("The kit does not take it: {why}")), "Go back and look at the frames.")
        })?;
        book.update_part(&id, &record(&part)).map_err(PageError::from)
    };
    app.notebook(act).await?;
    Ok(Redirect::to(&next))
}

/// Takes the calibrated figures out of the kit; the frames stay.
pub(super) async fn forget(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    let next = format!("/kit/part/{id}/calibrate#in-use");
    let act = move |book: &mut Notebook| {
        let around = Around::read(book, &id)?;
        if !is_calibrated(&around.part) {
            return Ok(());
        }
        let part = forgotten(&around.part).map_err(|why| PageError::broken("The part could not be written.", why))?;
        book.update_part(&id, &record(&part)).map_err(PageError::from)
    };
    app.notebook(act).await?;
    Ok(Redirect::to(&next))
}

/// What is ticked, as a calibrating file for the command line.
pub(super) async fn file(State(app): State<App>, Path(id): Path<String>) -> Result<Response, PageError> {
    let around = Around::of(&app, id).await?;
    let mut given = around.given();
    given.pupils.iter_mut().for_each(|pupil| pupil.lens = Some(around.part.id().to_owned()));
    let headers = [
        (CONTENT_TYPE, "application/toml; charset=utf-8"),
        (CONTENT_DISPOSITION, "attachment; filename=\"calibrating.toml\""),
    ];
    Ok((headers, given.to_toml()).into_response())
}
