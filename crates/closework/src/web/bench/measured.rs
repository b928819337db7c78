//! Predicted beside measured: a logged frame's scan against rays through its set-up.

use axum::extract::{Path, State};
use kit::{Kit, Setup};
use maud::{Markup, html};
use rays::SetUp;

use super::desk::{Traced, traced};
use super::shown;
use crate::bench::{BenchError, Design, MeasuredFrame, MeasuredPlace, Way, measured_frames, off_by_words, stand_in};
use crate::web::error::{PageResult, sentence};
use crate::web::kit_book::{read_kit, set_up_name};
use crate::web::layout::{Place, Sheet};
use crate::web::plot::{Axis, Chart, Mark, Style};
use crate::web::setup::Picked;
use crate::web::{App, PageError, fmt};

const LEAD: &str = "What scans show beside what rays through the set-up's design forms predict.";

/// All frames that can be compared.
pub(super) async fn list(State(app): State<App>) -> PageResult {
    let (kit, frames) =
        app.notebook(|book| Ok::<_, PageError>((read_kit(book)?, measured_frames(book, |_| true)?))).await?;
    let body = html! {
        (shown::not_yours())
        @if frames.is_empty() { p { "No frame can be compared yet. Log frames, scan them, say which frame each scan shows, and " a href="/scans" { "measure the whole frame" } " with the target card in it." } }
        (listed(&kit, &frames))
        @if !frames.is_empty() {
            h2 { "The form that fits best" }
            p { "Every form of the library and every lens table of your own is put in the place of a lens, and each is asked for the frames that were measured with it." }
            div.actions { @for lens in kit.of_kind(kit::Kind::Lens) { a.button href=(format!("/bench/fit?lens={}", lens.id())) { (lens.name()) } } }
        }
    };
    Ok(Sheet::new("Predicted beside measured", Place::SetUp).lead(LEAD).show(body))
}

/// Links to frames, each with its set-up.
pub(super) fn listed(kit: &Kit, frames: &[MeasuredFrame]) -> Markup {
    html! {
        @if !frames.is_empty() {
            ul.frames { @for frame in frames { li {
                p { a href=(format!("/bench/measured/{}", frame.id)) { (frame.name) } ": " (set_up_name(kit, &frame.request.parts)) @if let Some(f) = frame.request.f_number { ", f/" (f) } }
            } } }
        }
    }
}

/// One frame.
pub(super) async fn one(State(app): State<App>, Path(id): Path<String>) -> PageResult {
    let wanted = id.clone();
    let read = app.notebook(move |book| {
        let frame = measured_frames(book, |frame| frame.id.to_string() == wanted)?.pop();
        Ok::<_, PageError>((read_kit(book)?, frame))
    });
    let (kit, frame) = read.await?;
    let none = || PageError::missing(format!("No scan of frame {id} was measured in the middle and elsewhere."));
    let frame = frame.ok_or_else(none)?;
    let body = html! {
        p {
            strong { (set_up_name(&kit, &frame.request.parts)) } @if let Some(f) = frame.request.f_number { ", f/" (f) } ". "
            a href=(frame.page) { "Its measurement" } ", "
            a href=(super::address_of(&picked(&frame))) { "its set-up on the bench" } ", "
            a href="/bench/measured" { "all measured frames" } "."
        }
        (beside(&app, &kit, &frame).await?)
    };
    Ok(Sheet::new(&capital(&frame.name), Place::SetUp).lead(LEAD).show(body))
}

fn capital(name: &str) -> String {
    sentence(name).trim_end_matches('.').to_owned()
}

fn picked(frame: &MeasuredFrame) -> Picked {
    Picked { parts: frame.request.parts.clone(), focus: frame.request.focus, f_number: frame.request.f_number }
}

/// Glass for a frame's set-up.
fn glass(kit: &Kit, frame: &MeasuredFrame) -> Result<(SetUp, Design), BenchError> {
    stand_in(&Setup::resolve(kit, &frame.request)?)
}

async fn beside(app: &App, kit: &Kit, frame: &MeasuredFrame) -> Result<Markup, PageError> {
    let (set_up, design) = match glass(kit, frame) {
        Ok(glass) => glass,
        Err(why) => return Ok(shown::refused(&why.to_string())),
    };
    let wanted = frame.wanted();
    Ok(match traced(app, set_up, design.clone(), &wanted).await? {
        told @ Traced::Working(_) => shown::result(&told, &wanted, Default::default()),
        Traced::Told(outcome) => match &*outcome {
            Err(why) => shown::refused(&why.to_string()),
            Ok(found) => {
                let lens =
                    frame.request.parts.iter().find_map(|word| kit.part(word).filter(|p| p.kind() == kit::Kind::Lens));
                compared(&frame.against(found), found.label(), &design, lens.map(kit::Part::id))
            }
        },
    })
}

fn compared(frame: &MeasuredFrame, label: &str, design: &Design, lens: Option<&str>) -> Markup {
    html! {
        (shown::labelled(label))
        p.big {
            @match frame.off_by() {
                Some(off) => { "Off by " (off_by_words(off)) },
                None => "Too little contrast is left in the middle to compare by",
            }
            " " span.soft { "with " (design.name()) }
        }
        p { "A scan shows lens, film and scanner together, rays the lens alone. As a share of the middle’s contrast film and scanner fall out: those shares are what is compared, the root mean square of their differences is the figure above, the surer counting more." }
        (shares(frame))
        h2 { "Curves" }
        p { "Measured curves lie lower by what film and scanner take; their shape from middle to corner is what the rays predict." }
        div.columns { @for (at, place) in frame.places.iter().enumerate() { (curve(at, place)) } }
        @if let Some(lens) = lens { div.actions { a.button href=(format!("/bench/fit?lens={lens}")) { "Which form fits this lens best?" } a.button.quiet href=(format!("/bench?lens={lens}")) { "Choose its form" } } }
    }
}

fn name(zone: &str, way: Way) -> String {
    match way {
        Way::Both => zone.to_owned(),
        way => format!("{zone}, {}", way.word()),
    }
}

/// Corner figures as shares of the middle's.
fn shares(frame: &MeasuredFrame) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label="Shares of the middle's contrast" {
            table {
                thead { tr { th scope="col" { "Place" } th.n scope="col" { "Fineness, lp/mm" } th.n scope="col" { "Measured share" } th.n scope="col" { "Predicted share" } th.n scope="col" { "Apart" } } }
                tbody { @for share in frame.shares() { tr {
                    th scope="row" { (name(&share.zone, share.way)) }
                    td.n { (share.cycles_per_mm) }
                    td.n { (fmt::measured(share.measured, Some(share.plus_minus))) }
                    td.n { (format!("{:.2}", share.predicted)) }
                    td.n { (fmt::signed(share.predicted - share.measured, 2)) }
                } } }
            }
        }
    }
}

fn curve(at: usize, place: &MeasuredPlace) -> Markup {
    let measured = place.points.iter().map(|p| (p.cycles_per_mm, p.measured - p.plus_minus, p.measured + p.plus_minus));
    let middle = place.points.iter().map(|p| (p.cycles_per_mm, p.measured)).collect();
    let predicted = place.points.iter().filter_map(|p| Some((p.cycles_per_mm, p.predicted?))).collect();
    let title =
        format!("{}, {} mm from the middle", capital(&name(&place.zone, place.way)), fmt::figure(place.film_mm, 3));
    Chart::new(
        &format!("beside-{at}"),
        &title,
        "Contrast in the scan, with its interval, and contrast that rays through the form leave.",
        Axis::linear("Fineness on film", "lp/mm"),
        Axis::linear("Contrast left", "").range(0.0, 1.0),
    )
    .with(Mark::Band { label: "measured, 95 %".into(), points: measured.collect(), style: Style(0) })
    .with(Mark::Line { label: "measured".into(), points: middle, style: Style(0) })
    .with(Mark::Line { label: "predicted, the lens alone".into(), points: predicted, style: Style(3) })
    .show()
}
