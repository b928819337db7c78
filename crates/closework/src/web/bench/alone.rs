//! A form of the library, or a table of one's own, with attachments given by their figures.

use axum::extract::{Path, RawQuery, State};
use axum::response::Html;
use kit::Part;
use maud::{Markup, html};
use rays::{CloseUp, CloseUpKind, Draw};
use std::sync::Arc;

use super::desk::traced;
use super::library::facts;
use super::{own, shown};
use crate::bench::{Asked, Coupled, Design, Glass, InFront, OwnTable, SURFACES, designs_of};
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, parse_magnification};
use crate::web::kit_book::read_kit;
use crate::web::layout::{Place, Sheet};
use crate::web::manners::Manners;
use crate::web::{App, PageError};

/// Formats on film, mm (common practice, no source; makers differ by a millimetre).
const FRAMES: [(&str, &str, [f64; 2]); 4] = [
    ("6x6", "6×6", [56.0, 56.0]),
    ("35", "24×36", [36.0, 24.0]),
    ("645", "6×4.5", [56.0, 41.5]),
    ("6x7", "6×7", [69.5, 56.0]),
];
/// A close-up lens in front stands so far from the glass, mm.
const GAP_MM: f64 = 6.0;
const USUAL_CLOSE_UP_MM: f64 = 58.0;

pub(super) async fn form(
    State(app): State<App>,
    manners: Manners,
    Path(key): Path<String>,
    RawQuery(query): RawQuery,
) -> PageResult {
    let form = rays::form(&key).ok_or_else(|| PageError::missing(format!("There is no design form “{key}”.")))?;
    let designs = designs_of(&app.notebook(|book| read_kit(book)).await?);
    let mut query = Filled::from_query(query.as_deref());
    let action = format!("/bench/forms/{key}");
    let result = result(&app, manners, Glass::Kept(Design::Form(form)), &mut query, &designs).await?;
    let body = html! {
        div.detail { (facts(form)) }
        (query.summary_of("This could not be read:"))
        form method="get" action=(action) { div.fields { (fields(&query, &designs)) } div.actions { button.main { "Trace it so" } a href="/bench" { "All forms" } } }
        (result)
    };
    Ok(page(form.name, body))
}

pub(super) async fn table(State(app): State<App>, manners: Manners, RawQuery(query): RawQuery) -> PageResult {
    table_page(&app, manners, Filled::from_query(query.as_deref())).await
}

/// A table as typed or as kept, traced where it can be.
pub(super) async fn table_page(app: &App, manners: Manners, mut query: Filled) -> PageResult {
    let kit = app.notebook(|book| read_kit(book)).await?;
    let kept = own::kept(&kit, query.text("kept"))?;
    if let Some(part) = &kept {
        query.default_to("text", part.words(SURFACES).unwrap_or_default());
    }
    let designs = designs_of(&kit);
    let result = match query.untrimmed("text").trim().to_owned() {
        text if text.is_empty() => html! {},
        text => of_text(app, manners, &text, kept.as_ref(), &mut query, &designs).await?,
    };
    let (id, name) = kept.as_ref().map_or(("", "A lens table of your own"), |part| (part.id(), part.name()));
    let read = !query.untrimmed("text").trim().is_empty() && query.error("text").is_none();
    let body = html! {
        p { "One surface to a line, light meeting the first line first: radius, gap to the next, glass behind it (" code { "air" } ", an index, or a name), V, half clear diameter. " code { "stop" } " in place of a radius is the iris; " code { "plane" } " is flat. Columns are parted by blanks, tabs, semicolons or bars, as they come out of a patent." }
        details { summary { "An example" } pre { code { (EXAMPLE) } } }
        (query.summary_of("This could not be read:"))
        form method="get" action="/bench/table" data-keep=[kept.is_none().then_some("bench-table")] {
            @if !id.is_empty() { input type="hidden" name="kept" value=(id); }
            (Field::area("text", "The table").required().show(&query))
            div.fields { (fields(&query, &designs)) }
            div.actions { button.main { "Trace it" } a href="/bench" { "Forms of the library" } }
        }
        @if read { (own::keeping(&kit, kept.as_ref(), &query)) }
        (result)
    };
    Ok(page(name, body))
}

async fn of_text(
    app: &App,
    manners: Manners,
    text: &str,
    kept: Option<&Part>,
    query: &mut Filled,
    designs: &[Design],
) -> Result<Markup, PageError> {
    let (id, name) = kept.map_or(("", "as typed"), |part| (part.id(), part.name()));
    match OwnTable::read(id, name, text) {
        Err(why) => {
            query.wrong("text", sentence(&why.to_string()));
            Ok(html! {})
        }
        Ok(table) => result(app, manners, Glass::Kept(Design::Own(Arc::new(table))), query, designs).await,
    }
}

fn page(title: &str, body: Markup) -> Html<String> {
    let lead = "Exact rays through a published or typed design, with what is put before and behind it.";
    Sheet::new(title, Place::SetUp).lead(lead).wide().show(body)
}

/// A triplet of the textbooks in its own shape, in no maker's size.
const EXAMPLE: &str = "# radius  gap    glass    V     half diameter
  41      5.9    1.613    58.6  13
  plane   12.9   air
  -55     2.5    1.621    36.2  10
  40      6      air
  stop    5      air
  160     5.9    1.613    58.6  12
  -36     -      air";

fn fields(query: &Filled, designs: &[Design]) -> Markup {
    let mut filled = query.clone();
    filled.default_to("f", "8");
    let kinds = [
        ("meniscus", "one glass, hollow behind"),
        ("plano-convex", "one glass, flat behind"),
        ("cemented", "two glasses cemented"),
    ];
    let seconds = std::iter::once(("", "none")).chain(designs.iter().map(|design| (design.key(), design.name())));
    html! {
        (Field::number("focal", "Focal length").unit("mm").hint("Empty: as printed.").show(&filled))
        (Field::number("f", "Engraved f-number").show(&filled))
        (Field::text("m", "Magnification").hint("0.5 or 1:2. Empty: by the extension.").show(&filled))
        (Field::number("extension", "Extension beyond infinity").unit("mm").show(&filled))
        (Field::number("close_up", "Close-up lens in front").unit("dpt").hint("Empty: none.").show(&filled))
        (Field::choice("close_up_kind", "It is made of", kinds).show(&filled))
        (Field::choice("coupled", "A second lens turned round in front", seconds).show(&filled))
        (Field::number("coupled_focal", "Its focal length").unit("mm").hint("Empty: as printed.").show(&filled))
        (Field::choice("frame", "Frame", FRAMES.map(|(value, label, _)| (value, label))).show(&filled))
        (Field::tick("reversed", "The lens is turned round").show(&filled))
        (shown::how(&filled))
    }
}

async fn result(
    app: &App,
    manners: Manners,
    glass: Glass,
    query: &mut Filled,
    designs: &[Design],
) -> Result<Markup, PageError> {
    let frame = FRAMES.iter().find(|(value, ..)| *value == query.text("frame")).unwrap_or(&FRAMES[0]);
    let wanted = shown::wanted(query, frame.2);
    let asked = asked(glass, query, designs);
    if query.has_errors() {
        return Ok(html! {});
    }
    match asked.set_up() {
        Err(why) => Ok(shown::refused(&why.to_string())),
        Ok((set_up, design)) => {
            let traced = traced(app, set_up, design, &wanted).await?;
            Ok(shown::result(&traced, &wanted, manners.units))
        }
    }
}

fn asked(glass: Glass, query: &mut Filled, designs: &[Design]) -> Asked {
    let size = query.text("m").to_owned();
    let ratio = parse_magnification(&size);
    if ratio.is_none() && !size.is_empty() {
        query.wrong("m", format!("“{size}” is no magnification. Write it like 0.5 or 1:2."));
    }
    let extension = query.number_within("extension", 0.0, 2000.0, "mm");
    let kind = match query.text("close_up_kind") {
        "cemented" => CloseUpKind::Achromat,
        "plano-convex" => CloseUpKind::PlanoConvex,
        _ => CloseUpKind::Meniscus,
    };
    let close_up = query.number_within("close_up", 0.1, 50.0, "dpt").map(|power_dpt| InFront {
        lens: CloseUp { power_dpt, diameter_mm: USUAL_CLOSE_UP_MM, kind },
        turned: false,
        gap_mm: GAP_MM,
    });
    let second = query.text("coupled").to_owned();
    let known = designs.iter().find(|design| design.key() == second).cloned();
    let coupled_focal = query.number_within("coupled_focal", 1.0, 2000.0, "mm");
    let coupled = (!second.is_empty()).then_some(Coupled {
        glass: known.map_or(Glass::Form(second), Glass::Kept),
        focal_length_mm: coupled_focal,
        f_number: None,
        gap_mm: GAP_MM,
    });
    if coupled.is_some() && close_up.is_some() {
        query.wrong("coupled", "Either a close-up lens or a second lens in front: not both.");
    }
    Asked {
        glass,
        focal_length_mm: query.number_within("focal", 1.0, 2000.0, "mm"),
        f_number: query.number_within("f", 0.5, 200.0, "").unwrap_or(8.0),
        reversed: query.ticked("reversed"),
        draw: match ratio {
            Some(ratio) => Draw::Magnification { ratio },
            None => Draw::Extension { mm: extension.unwrap_or(0.0) },
        },
        close_up,
        coupled,
    }
}
