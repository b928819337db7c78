//! What a person may say before a whole frame is measured; nothing need be said.

use maud::{Markup, html};
use notebook::{Measurement, MeasurementKind, Response, ResponseKind, Scan};

use super::{about, frame_of};
use crate::web::App;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::form::{Field, Filled};
use crate::web::tasks::Standing;
use crate::whole_frame::{Known, Negative, NegativeBase, NegativeCurve, Settings};

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
                details open[has_errors(filled)] {
                    summary { "Say more first" }
                    div.fields {
                        (Field::number("whole_line_mm", "The card’s line of 100 mm measures").unit("mm").hint("Printers err by half a per cent or more.").show(filled))
                        (Field::number("whole_limit", "Detail the print can show").unit("lp/mm on film").hint("The mean contrast is taken up to there.").show(filled))
                        (Field::number("whole_ne", "Effective f-number").hint("At the film, as Set-up says it: for what misalignment explains.").show(filled))
                        (Field::number("whole_pupil", "Entrance pupil to subject").unit("mm").hint("For the card’s lean; about the working distance plus a third of the lens.").show(filled))
                    }
                    div.fields {
                        (Field::text("whole_greys", "A grey scale stuck on a small card").hint("What each field sends back, the lightest first, 0 to 1: 0.8, 0.4, 0.2.").show(filled))
                    }
                    (negative(filled))
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

/// A field that came back with a message is not to be hidden.
fn has_errors(filled: &Filled) -> bool {
    FIELDS.iter().any(|name| filled.error(name).is_some())
}

const FIELDS: [&str; 9] = [
    "whole_line_mm",
    "whole_limit",
    "whole_ne",
    "whole_pupil",
    "whole_greys",
    "whole_gamma",
    "whole_curve",
    "whole_rebate",
    "whole_base",
];

/// A negative, turned back into exposure before anything is measured.
fn negative(filled: &Filled) -> Markup {
    html! {
        fieldset {
            legend { "The scan shows a negative" }
            div.fields {
                (Field::choice("whole_negative", "Turn it back into light", [("", "no, it is a positive"), ("gamma", "by the film’s slope"), ("curve", "by the film’s curve")]).show(filled))
                (Field::number("whole_gamma", "Slope of the film").hint("Density over log exposure, from its data sheet: often 0.55 to 0.7.").show(filled))
                (Field::choice("whole_bare", "Bare film", [("rebate", "is measured in the picture"), ("stated", "has the density stated")]).show(filled))
                (Field::text("whole_rebate", "A region of bare film").unit("px").hint("Left, top, width, height: 40, 60, 300, 80. The region tool shows these numbers.").show(filled))
                (Field::text("whole_base", "Density of bare film").hint("One number, or one for each colour: 0.22, 0.6, 0.85.").show(filled))
            }
            (Field::area("whole_curve", "The film’s curve").hint("Lines of log exposure and density above bare film, as “-1.2, 0.15”; a # begins a remark.").show(filled))
        }
    }
}

/// Numbers between commas or blanks; `None` when a word is no number.
fn numbers(text: &str) -> Option<Vec<f64>> {
    let words = text.split(|c: char| c == ',' || c == ';' || c.is_whitespace()).filter(|word| !word.is_empty());
    words.map(|word| word.parse::<f64>().ok().filter(|number| number.is_finite())).collect()
}

/// How the negative is turned; `Err` when a field is wrong, which is then said there.
fn read_negative(filled: &mut Filled) -> Result<Option<Negative>, ()> {
    let curve = match filled.text("whole_negative") {
        "gamma" => {
            let gamma = filled.number_within("whole_gamma", 0.1, 5.0, "");
            if gamma.is_none() && filled.error("whole_gamma").is_none() {
                filled.wrong("whole_gamma", "The film’s slope is needed here, such as 0.62.");
            }
            NegativeCurve::Gamma(gamma.ok_or(())?)
        }
        "curve" => {
            let text = filled.untrimmed("whole_curve").to_owned();
            if let Err(error) = imaging::negative::Curve::parse(&text) {
                filled.wrong("whole_curve", sentence(&error.to_string()));
                return Err(());
            }
            NegativeCurve::Table(text)
        }
        _ => return Ok(None),
    };
    let base = if filled.text("whole_bare") == "stated" { stated_base(filled) } else { rebate(filled) };
    base.map(|base| Some(Negative { curve, base }))
}

fn rebate(filled: &mut Filled) -> Result<NegativeBase, ()> {
    let found = numbers(filled.text("whole_rebate")).unwrap_or_default();
    let whole = |n: &f64| *n >= 0.0 && n.fract() == 0.0 && *n < 1e9;
    match found[..] {
        [x, y, w, h] if found.iter().all(whole) && w >= 1.0 && h >= 1.0 => {
            Ok(NegativeBase::Rebate([x, y, w, h].map(|n| n as u32)))
        }
        _ => {
            filled.wrong(
                "whole_rebate",
                "Four whole numbers are needed here: left, top, width, height, such as 40, 60, 300, 80.",
            );
            Err(())
        }
    }
}

fn stated_base(filled: &mut Filled) -> Result<NegativeBase, ()> {
    let found = numbers(filled.text("whole_base")).unwrap_or_default();
    if matches!(found.len(), 1 | 3) && found.iter().all(|density| (0.0..=4.0).contains(density)) {
        return Ok(NegativeBase::Densities(found));
    }
    filled.wrong("whole_base", "One density between 0 and 4 is needed here, or three: red, green, blue.");
    Err(())
}

/// The reflectances of a stuck-on grey scale.
fn read_greys(filled: &mut Filled) -> Option<Vec<f64>> {
    let found = numbers(filled.text("whole_greys"));
    let good = |greys: &Vec<f64>| greys.iter().all(|grey| *grey > 0.0 && *grey <= 1.0);
    let found = found.filter(good);
    if found.is_none() {
        filled
            .wrong("whole_greys", "Numbers above 0 and at most 1 are needed here, one for each field: 0.8, 0.4, 0.2.");
    }
    found
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
    match read_negative(filled) {
        Ok(negative) => settings.negative = negative,
        Err(()) => good = false,
    }
    match read_greys(filled) {
        Some(greys) => settings.grey_scale = greys,
        None => good = false,
    }
    let chosen = |name: &str| {
        let id = filled.text(name);
        responses.iter().find(|response| response.id.to_string() == id)
    };
    let known = |response: &Response| serde_json::from_str::<Known>(&response.draft.document).ok();
    settings.scanner = chosen("whole_scanner").and_then(known).into_iter().collect();
    settings.film = chosen("whole_film").and_then(known);
    good.then_some(settings)
}
