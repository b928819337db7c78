//! What a person may say before a whole frame is measured; nothing need be said.

use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Response, ResponseKind, Scan};

use super::{about, frame_of};
use crate::web::App;
use crate::web::fmt;
use crate::web::form::{Field, Filled};
use crate::web::tasks::Standing;
use crate::whole_frame::{Known, Settings};

/// The section of a scan's page: what was measured, what is being measured, and the form.
pub(in crate::web::scans) fn section(
    app: &App,
    scan: &Scan,
    measurements: &[Measurement],
    responses: &[Response],
    filled: &Filled,
) -> Markup {
    let task = app.tasks().about(&about(scan.id));
    let kept = measurements.iter().filter(|m| m.kind == MeasurementKind::Frame);
    html! {
        section.detail id="whole" aria-labelledby="whole-head" {
            h2 id="whole-head" { "The whole frame" }
            @for m in kept.rev() { (in_short(scan, m)) }
            @match task.as_ref().map(|task| &task.standing) {
                Some(Standing::Running) => (task.as_ref().map(|task| task.bar()).unwrap_or_default()),
                Some(Standing::Failed(why)) => div.refusal role="alert" { p.what { (why) } p { "Nothing was kept." } },
                Some(Standing::Stopped) => p { "It was stopped; nothing was kept." },
                _ => {}
            }
            p { "Everything at once: with the " a href="/target" { "printed target card" } " in the picture it is found by its codes and measured without a click; without it, every good edge that is found." }
            form.live method="post" action=(format!("/scans/{}/whole", scan.id)) {
                details {
                    summary { "Say more first" }
                    div.fields {
                        (Field::number("whole_line_mm", "The card’s line of 100 mm measures").unit("mm").hint("Printers err by half a per cent or more.").show(filled))
                        (Field::number("whole_limit", "Detail the print can show").unit("lp/mm on film").hint("The mean contrast is taken up to there.").show(filled))
                        (Field::number("whole_ne", "Effective f-number").hint("At the film, as Set-up says it: for what misalignment explains.").show(filled))
                        (Field::number("whole_pupil", "Entrance pupil to subject").unit("mm").hint("For the card’s lean; about the working distance plus a third of the lens.").show(filled))
                    }
                    div.fields {
                        (Field::choice("whole_trap", "The card’s trap", [("printed", "is printed black"), ("cut", "is cut out over a dark box")]).show(filled))
                        @if !responses.is_empty() {
                            (Field::choice("whole_scanner", "Divide out the scanner", options(responses, ResponseKind::Scanner)).show(filled))
                            (Field::choice("whole_film", "Divide out the film", options(responses, ResponseKind::Film)).show(filled))
                        }
                    }
                }
                div.actions { button.main { "Measure the whole frame" } }
            }
            (super::responses::list(scan, responses))
        }
    }
}

fn options(responses: &[Response], kind: ResponseKind) -> Vec<(String, String)> {
    let fitting = responses.iter().filter(|response| response.draft.kind == kind);
    let named = fitting.map(|response| (response.id.to_string(), response.draft.name.clone()));
    std::iter::once((String::new(), "no".to_owned())).chain(named).collect()
}

fn in_short(scan: &Scan, m: &Measurement) -> Markup {
    let to = format!("/scans/{}/whole/{}", scan.id, m.id);
    let document = frame_of(m);
    html! {
        p id=(format!("m{}", m.id)) {
            a href=(to) { "All figures of " (m.created.get(..16).unwrap_or(&m.created).replace('T', " ")) }
            @if let Some(document) = document {
                @if let Some(size) = document.magnification { ": " (fmt::ratio(size.value)) }
                @for zone in &document.zones {
                    @for figure in zone.sharpness.values().filter_map(|s| s.mtf50_lp_mm).take(1) { ", " (zone.zone) " " (fmt::measured(figure.value, Some(figure.plus_minus))) " lp/mm" }
                }
            }
        }
    }
}

/// The settings as typed; `None` when a field is wrong, which is then said at the field.
pub(super) fn read(filled: &mut Filled, scan: &Scan, responses: &[Response]) -> Option<Settings> {
    let mut settings = Settings {
        pitch_um: scan.pitch_um,
        magnification: scan.magnification.map(|m| m.value),
        trap_cut: filled.text("whole_trap") == "cut",
        ..Settings::default()
    };
    let mut good = true;
    let mut number = |name: &str, low: f64, high: f64, unit: &str| {
        if filled.text(name).is_empty() {
            return None;
        }
        let read = filled.number_within(name, low, high, unit);
        good &= read.is_some();
        read
    };
    settings.line_mm = number("whole_line_mm", 80.0, 120.0, "mm");
    settings.print_limit_lp_mm = number("whole_limit", 0.1, 500.0, "lp/mm");
    settings.effective_f_number = number("whole_ne", 0.5, 1000.0, "");
    settings.pupil_to_subject_mm = number("whole_pupil", 1.0, 100_000.0, "mm");
    let chosen = |name: &str| {
        let id = filled.text(name);
        responses.iter().find(|response| response.id.to_string() == id)
    };
    let known = |response: &Response| serde_json::from_str::<Known>(&response.draft.document).ok();
    settings.scanner = chosen("whole_scanner").and_then(known).into_iter().collect();
    settings.film = chosen("whole_film").and_then(known);
    good.then_some(settings)
}
