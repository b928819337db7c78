//! One part in a form: the needed figures first, the rest when they are known.

use axum::extract::{Path, State};
use axum::response::{Html, Redirect, Response};
use kit::{FieldSpec, Kind, KitError, Part, Shape};
use maud::{Markup, html};

use super::list::capital;
use crate::bench::SURFACES;
use crate::web::bench::{may_go, unusable};
use crate::web::error::{PageResult, sentence};
use crate::web::form::{Field, Filled, come_back, parse_magnification, saved};
use crate::web::kit_book::{read_kit, record};
use crate::web::layout::{Place, Sheet};
use crate::web::{App, PageError, fmt};

fn kind_of(word: &str) -> Result<Kind, PageError> {
    Kind::from_table(word).ok_or_else(|| PageError::missing(format!("“{word}” is no kind of part.")))
}

pub(super) async fn new(Path(kind): Path<String>) -> PageResult {
    Ok(show(kind_of(&kind)?, None, &Filled::default()))
}

pub(super) async fn edit(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let part = find(&app, &id).await?;
    let mut filled: Filled = part.kind().fields().map(|field| (field.name, part.form_text(field.name))).collect();
    filled.set("id", part.id());
    for field in part.kind().fields().filter(|field| field.shape == Shape::Flag && !part.flag(field.name)) {
        filled.clear(field.name);
    }
    Ok(show(part.kind(), Some(part.id()), &filled))
}

async fn find(app: &App, id: &str) -> Result<Part, PageError> {
    let wanted = id.to_owned();
    let part = app.notebook(move |book| Ok::<_, PageError>(read_kit(book)?.part(&wanted).cloned())).await?;
    part.ok_or_else(|| PageError::missing(format!("There is no part “{id}” in the kit.")))
}

pub(super) async fn add(
    State(app): State<App>,
    Path(kind): Path<String>,
    filled: Filled,
) -> Result<Response, PageError> {
    keep(&app, kind_of(&kind)?, None, filled).await
}

pub(super) async fn update(
    State(app): State<App>,
    Path(id): Path<String>,
    filled: Filled,
) -> Result<Response, PageError> {
    let kind = find(&app, &id).await?.kind();
    keep(&app, kind, Some(id), filled).await
}

/// Keeps what was typed, or shows the form again with what is wrong in it.
async fn keep(app: &App, kind: Kind, old: Option<String>, mut filled: Filled) -> Result<Response, PageError> {
    let Some(part) = read(kind, &mut filled) else { return Ok(come_back(show(kind, old.as_deref(), &filled))) };
    if let Some((field, why)) = refused(app, &part, old.as_deref()).await? {
        filled.wrong(field, why);
        return Ok(come_back(show(kind, old.as_deref(), &filled)));
    }
    let (kept, before) = (record(&part), old.clone());
    let outcome = app.notebook(move |book| match before {
        None => book.add_part(&kept),
        Some(before) => book.update_part(&before, &kept),
    });
    match outcome.await {
        Ok(()) => Ok(saved("/kit", &keep_key(kind, old.as_deref()))),
        Err(error) if error.status() == axum::http::StatusCode::UNPROCESSABLE_ENTITY => {
            filled.wrong("id", error.what());
            Ok(come_back(show(kind, old.as_deref(), &filled)))
        }
        Err(error) => Err(error),
    }
}

/// What the bench could not use of it, or would lose by its new short name.
async fn refused(app: &App, part: &Part, old: Option<&str>) -> Result<Option<(&'static str, String)>, PageError> {
    let (part, renamed) = (part.clone(), old.filter(|old| *old != part.id()).map(str::to_owned));
    app.notebook(move |book| {
        let kept = renamed.map_or(Ok(()), |old| may_go(book, &old));
        Ok::<_, PageError>(kept.err().map(|why| ("id", why.what().to_owned())).or(unusable(&read_kit(book)?, &part)))
    })
    .await
}

/// The part as typed, with a short name made of its name where none was given; what is wrong is noted at its field.
pub fn read(kind: Kind, filled: &mut Filled) -> Option<Part> {
    if filled.text("id").is_empty() {
        let made = id_from(filled.text("name"));
        if made.is_empty() {
            filled.wrong("name", "Name: give it one with some plain letters; the short name is made from it.");
        }
        filled.set("id", made);
    }
    part_from(kind, filled).map_err(|errors| refuse(kind, filled, errors)).ok()
}

/// The part as typed; a magnification may be a ratio such as 1:2.
fn part_from(kind: Kind, filled: &Filled) -> Result<Part, Vec<KitError>> {
    Part::from_form(kind, filled.text("id"), |field| {
        let typed = filled.text(field);
        let plain = kind.field(field).map_or(typed, |spec| without_unit(spec, typed));
        let ratio = kind.field(field).filter(|spec| spec.unit == "×" && plain.contains(':'));
        let size = ratio.and_then(|_| parse_magnification(plain));
        Some(size.map_or_else(|| plain.to_owned(), |size| size.to_string()))
    })
}

/// "80 mm" is 80 where millimetres are asked for, "f/2.8" is 2.8, "Ø 62" is 62; anything else is left as it was typed.
fn without_unit<'a>(field: &FieldSpec, typed: &'a str) -> &'a str {
    if !matches!(field.shape, Shape::Number(_)) {
        return typed;
    }
    let typed = typed.trim().trim_start_matches("f/").trim_start_matches(['Ø', 'ø']).trim_start();
    let plain = typed.strip_suffix(field.unit).filter(|_| !field.unit.is_empty());
    plain.map_or(typed, str::trim_end)
}

fn refuse(kind: Kind, filled: &mut Filled, errors: Vec<KitError>) {
    for error in errors {
        let field = error.place.field.unwrap_or_default();
        let label = match kind.field(&field) {
            Some(spec) => capital(spec.label),
            None => "The short name".into(),
        };
        if field == "id" && filled.error("name").is_some() {
            continue;
        }
        filled.wrong(&field, sentence(&format!("{label} {}", error.problem.in_form())));
    }
}

/// "Normal lens, 80 mm" makes "normal-lens-80-mm".
pub(in crate::web) fn id_from(name: &str) -> String {
    let letters = name.to_lowercase();
    let words = letters.split(|c: char| !c.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join("-")
}

pub(super) async fn delete(State(app): State<App>, Path(id): Path<String>) -> Result<Redirect, PageError> {
    app.notebook(move |book| {
        may_go(book, &id)?;
        Ok::<_, PageError>(book.delete_part(&id)?)
    })
    .await?;
    Ok(Redirect::to("/kit"))
}

fn keep_key(kind: Kind, old: Option<&str>) -> String {
    format!("part-{}-{}", kind.spec().table, old.unwrap_or_default())
}

fn show(kind: Kind, old: Option<&str>, filled: &Filled) -> Html<String> {
    let label = kind.spec().label;
    let title = match old {
        None => format!("A new {label}"),
        Some(id) => format!("{}: {id}", capital(label)),
    };
    let action = match old {
        None => format!("/kit/new/{}", kind.spec().table),
        Some(id) => format!("/kit/part/{id}"),
    };
    let body = html! {
        (filled.summary())
        form method="post" action=(action) data-keep=(keep_key(kind, old)) {
            (fields(kind, old.is_some(), filled))
            div.actions {
                button.main { @if old.is_some() { "Save the changes" } @else { "Put it in the drawer" } }
                a href="/kit" { "Back to the kit" }
                @if let (Some(id), Kind::Lens | Kind::CloseUpLens) = (old, kind) { a.button.quiet href=(format!("/kit/part/{id}/calibrate")) { "Calibrate" } }
                @if let (Some(id), Kind::Lens) = (old, kind) { a.button.quiet href=(format!("/bench?lens={id}")) { "Choose its design form" } }
            }
        }
        @if let Some(id) = old { (delete_form(id)) }
    };
    Sheet::new(&title, Place::Kit).show(body)
}

/// The fields of a part: the needed ones first, the rest behind a fold that stands open where it is `open` or something in it is wrong.
pub fn fields(kind: Kind, open: bool, filled: &Filled) -> Markup {
    let (needed, rest): (Vec<_>, Vec<_>) =
        kind.fields().filter(|f| f.name != "name" && f.name != "notes").partition(|f| f.required);
    let open = open || rest.iter().any(|field: &&FieldSpec| filled.error(field.name).is_some());
    html! {
        div.fields {
            (Field::text("name", "Name").hint("What you call it.").show(filled))
            (Field::text("id", "Short name").hint("Lower-case letters, digits and dashes; made from the name when left blank. The kit file and the command line use it.").show(filled))
        }
        div.fields { @for field in &needed { (entry(field, filled)) } }
        @if !rest.is_empty() {
            details open[open] {
                summary { "More, as far as it is known" }
                p.soft { "A number may carry its own uncertainty: 90 ± 1.5. Without one, what is usual for such a figure is counted." }
                div.fields { @for field in &rest { (entry(field, filled)) } }
                (Field::area("notes", "Notes").show(filled))
            }
        }
    }
}

fn delete_form(id: &str) -> Markup {
    html! {
        form method="post" action=(format!("/kit/part/{id}/delete")) {
            button.quiet data-sure="Take it out for good?" { "Take it out of the kit" }
            p.hint { "Frames that were taken with it keep their notes." }
        }
    }
}

fn entry(field: &FieldSpec, filled: &Filled) -> Markup {
    let hint = hint(field);
    let label = capital(field.label);
    let shown = match field.shape {
        Shape::Number(_) => Field::number(field.name, &label),
        Shape::OneOf(words) => {
            let options = std::iter::once(("", "not said")).chain(words.iter().map(|word| (*word, *word)));
            Field::choice(field.name, &label, options)
        }
        Shape::Flag => Field::tick(field.name, &label),
        Shape::Words if field.name == SURFACES => Field::area(field.name, &label),
        _ => Field::text(field.name, &label),
    };
    let shown = if field.unit.is_empty() { shown } else { shown.unit(field.unit) };
    let shown = if hint.is_empty() { shown } else { shown.hint(&hint) };
    if field.required { shown.required().show(filled) } else { shown.show(filled) }
}

/// What the field means, what is assumed without it, and how to find it.
fn hint(field: &FieldSpec) -> String {
    let assumed = field.absent.map(|absent| {
        let assumed = fmt::measured_with(absent.value, Some(absent.plus_minus), field.unit);
        format!("Left blank, {assumed} is assumed. To find it: {}.", absent.find)
    });
    let lists = matches!(field.shape, Shape::Numbers(_))
        .then_some("Separate them by blanks; fractions such as 1/125 are understood.");
    // The reason stands in the table on the kit's page.
    let trusted =
        field.usual().and_then(|usual| Some(format!("A plain figure is trusted to {}.", usual.split_once(": ")?.0)));
    let parts = [Some(field.help).filter(|help| !help.is_empty()), lists, trusted.as_deref(), assumed.as_deref()];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn short_names_are_made_from_names() {
        assert_eq!(id_from("Normal lens, 80 mm"), "normal-lens-80-mm");
        assert_eq!(id_from("  Ämter "), "mter");
        assert_eq!(id_from("!"), "");
    }
}
