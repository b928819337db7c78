//! What the frames tell, beside what the part says of itself, and which of the two set-ups use.

use calibration::{ChiSquare, LensCalibration, Residual};
use maud::{Markup, html};
use optics::{Estimate, Input};

use super::charts;
use super::forms::remarks;
use super::page::Around;
use crate::calibrating::{LensFound, Marked, PowerFound, Told, Whole, is_calibrated, marked, marked_travel, stated};
use crate::web::fmt;
use crate::web::manners::Units;

fn text(figure: Estimate, unit: &str, units: Units) -> String {
    match unit {
        "mm" => fmt::length(figure.value, figure.half_width(), units),
        "" => fmt::measured(figure.value, figure.half_width()),
        unit => fmt::measured_with(figure.value, figure.half_width(), unit),
    }
}

fn marked_text(marked: Option<Marked>, unit: &str, units: Units) -> Markup {
    html! {
        @match marked {
            None => "not known",
            Some(marked) => { (text(marked.figure, unit, units)) " " span.soft { (marked.origin.word()) } },
        }
    }
}

/// A calibrated field of the kit with the marked figure that it stands beside.
struct Beside {
    label: &'static str,
    unit: &'static str,
    marked: Option<Marked>,
    calibrated: Option<Input>,
}

fn beside(around: &Around) -> Vec<Beside> {
    let part = &around.part;
    let twins = part.kind().fields().filter_map(|field| {
        let calibrated = stated(part, field.calibrated?);
        Some(Beside { label: field.label, unit: field.unit, marked: marked(part, field.name), calibrated })
    });
    let mut all: Vec<Beside> = twins.collect();
    if around.is_lens() {
        let calibrated = stated(part, "calibrated_travel_mm");
        let travel =
            Beside { label: "travel to the closest mark", unit: "mm", marked: marked_travel(part), calibrated };
        all.insert(1.min(all.len()), travel);
    }
    all
}

/// Which figures set-ups use now.
pub(super) fn in_use(around: &Around, units: Units) -> Markup {
    let calibrated = is_calibrated(&around.part);
    let figure = |input: Input| Estimate { value: input.value, plus_minus: input.plus_minus };
    html! {
        section aria-labelledby="in-use" {
            h2 id="in-use" { "What set-ups use now" }
            dl.facts {
                @for row in beside(around) {
                    dt { (row.label) }
                    dd {
                        @match row.calibrated {
                            Some(found) => { strong { (text(figure(found), row.unit, units)) } ", calibrated; " span.soft { "instead of " (marked_text(row.marked, row.unit, units)) } },
                            None => (marked_text(row.marked, row.unit, units)),
                        }
                    }
                }
            }
            @if calibrated {
                form method="post" action=(around.address("/forget")) {
                    button.quiet { "Forget the calibration" }
                    p.hint { "Set-ups then use the marked figures again. The frames stay." }
                }
            }
        }
    }
}

pub(super) fn show(around: &Around, whole: &Whole, units: Units) -> Markup {
    html! {
        section aria-labelledby="result" {
            h2 id="result" { "What they tell" }
            @for lens in &whole.lenses { (figures(around, &lens.told, units)) (of_lens(lens, units)) }
            @for power in &whole.close_ups { (figures(around, &power.told, units)) (of_power(power)) }
            @if !whole.usual.is_empty() {
                details { summary { "How far plain figures are trusted" } ul { @for words in &whole.usual { li { (words) } } } }
            }
        }
    }
}

fn figures(around: &Around, told: &[Told], units: Units) -> Markup {
    let fresh = told.iter().any(Told::keeps);
    html! {
        table.stacked {
            thead { tr { th scope="col" { "Figure" } th.n scope="col" { "Calibrated" } th.n scope="col" { "Without calibration" } th scope="col" { "Remark" } } }
            tbody {
                @for told in told {
                    tr {
                        th scope="row" { (told.label) }
                        td.n data-label="Calibrated" { strong { (text(told.found, told.unit, units)) } }
                        td.n data-label="Without calibration" { (marked_text(told.marked, told.unit, units)) }
                        td data-label="Remark" { (verdict(told)) }
                    }
                }
            }
        }
        @if fresh {
            form method="post" action=(around.address("/use")) {
                div.actions { button.main { "Use these in set-ups" } }
            }
        }
    }
}

fn verdict(told: &Told) -> String {
    match told.marked {
        _ if told.worse() => "told worse than without it: it is not taken over".into(),
        _ if !told.keeps() => "not possible: it is not taken over".into(),
        Some(marked) if marked.figure.plus_minus > 0.0 => {
            let times = marked.figure.plus_minus / told.found.plus_minus;
            if times >= 1.5 { format!("{} times as sure", fmt::figure(times, 2)) } else { "hardly surer".into() }
        }
        _ => "new".into(),
    }
}

fn agreement(chi_square: ChiSquare) -> String {
    let Some(chance) = chi_square.probability else {
        return "There are just as many figures as readings, so that nothing would show a slip.".into();
    };
    let agree = if chi_square.consistent() { "agree as" } else { "differ by more than" };
    let freedom = if chi_square.degrees == 1 { "degree" } else { "degrees" };
    format!(
        "The readings {agree} their uncertainties allow (chi-square {} of {} {freedom} of freedom; as much by chance in {} of cases).",
        fmt::figure(chi_square.value, 2),
        chi_square.degrees,
        fmt::percent(chance)
    )
}

fn of_lens(lens: &LensFound, units: Units) -> Markup {
    html! {
        @if let Some(offset) = lens.offset() {
            p { "At its infinity mark the lens stands " strong { (text(offset, "mm", units)) } " forward of true infinity. The kit has no place for that: mind it where the mark is used." }
        }
        @if let Some(fit) = &lens.fit {
            p { (agreement(fit.solution.chi_square)) }
            @if !fit.outliers.is_empty() { (outliers(fit, units)) }
            (remarks(&lens.remarks()))
            (frame_table(lens))
            div.columns {
                @if let Some(chart) = charts::residuals(lens) { (chart) }
                @if let Some(chart) = charts::worth(lens) { (chart) }
            }
            (worth_table(lens))
        } @else {
            (remarks(&lens.remarks()))
        }
    }
}

fn outliers(fit: &LensCalibration, units: Units) -> Markup {
    let (it, was) = if fit.outliers.len() == 1 { ("it", "it was") } else { ("them", "they were") };
    html! {
        div.warning {
            @for outlier in &fit.outliers {
                p { strong { (outlier.id) } " lies " (fmt::figure(outlier.distance, 2)) " standard uncertainties from what the others foretell." }
            }
            p {
                @if fit.outliers_left_out { @if it == "it" { "It was left out." } @else { "They were left out." } } @else { "All the same " (was) " kept." }
                @if let Some(other) = &fit.other {
                    @if fit.outliers_left_out { " With " } @else { " Without " } (it) " the focal length would be " (text(other.focal_length(), "mm", units)) "."
                }
            }
        }
    }
}

fn residual(residual: &Residual) -> Markup {
    html! {
        td.n data-label="Measured" { (fmt::figure(residual.measured, 4)) }
        td.n data-label="Fitted" { (fmt::figure(residual.fitted, 4)) }
        td.n data-label="Off by" { @match residual.studentised { Some(off) => { (signed(off)) " σ" }, None => "nothing foretells it" } }
    }
}

fn signed(off: f64) -> String {
    let text = format!("{off:+.1}");
    if matches!(&text[..], "+0.0" | "-0.0") { "0.0".into() } else { text.replace('-', "−") }
}

fn frame_table(lens: &LensFound) -> Markup {
    let frames = lens.fit.iter().flat_map(|fit| &fit.solution.frames);
    html! {
        h3 { "Frame by frame" }
        p.soft { "σ is the standard uncertainty of the difference; beyond 3 one looks for a slip." }
        table.stacked {
            thead { tr { th scope="col" { "Frame" } th scope="col" { "Reading" } th.n scope="col" { "Measured" } th.n scope="col" { "Fitted" } th.n scope="col" { "Off by" } } }
            tbody {
                @for frame in frames {
                    @let label = if frame.left_out { format!("{} (left out)", frame.id) } else { frame.id.clone() };
                    @if let Some(m) = &frame.magnification { tr { th scope="row" { (label) } td data-label="Reading" { "magnification" } (residual(m)) } }
                    @if let Some(d) = &frame.distance { tr { th scope="row" { (label) } td data-label="Reading" { "ruler to film, mm" } (residual(d)) } }
                    @if frame.magnification.is_none() && frame.distance.is_none() { tr { th scope="row" { (label) } td data-label="Reading" { "not foretold by the others" } td {} td {} td {} } }
                }
            }
        }
    }
}

fn half_width(figure: Option<f64>) -> String {
    figure.map_or("–".into(), |figure| format!("± {}", fmt::figure(figure, 2)))
}

fn worth_table(lens: &LensFound) -> Markup {
    let Some(worth) = &lens.worth else { return html! {} };
    html! {
        h3 { "How many frames are worth taking" }
        @if let Some(enough) = lens.enough() {
            p { "Beyond " (enough) " each further frame betters the focal length by less than a tenth." }
        }
        @if let Some(next) = &worth.tells_most {
            p { "The next frame that makes the focal length surest: " strong { (next) } "." }
        }
        table.stacked {
            thead { tr { th scope="col" { "Frames" } th scope="col" { "The last one" } th.n scope="col" { "Focal length, mm" } th.n scope="col" { "Travel, mm" } th.n scope="col" { "Separation, mm" } } }
            tbody {
                @for step in &worth.steps {
                    tr {
                        th scope="row" { (step.frames) @if step.to_take { span.soft { " to be taken" } } }
                        td data-label="The last one" { (step.added) }
                        td.n data-label="Focal length, mm" { (half_width(step.focal_length)) }
                        td.n data-label="Travel, mm" { (half_width(step.travel)) }
                        td.n data-label="Separation, mm" { (half_width(step.separation)) }
                    }
                }
            }
        }
    }
}

fn of_power(power: &PowerFound) -> Markup {
    html! {
        p { "Measured on " (power.lens) ". " (agreement(power.fit.chi_square)) }
        (remarks(&power.fit.remarks.iter().map(ToString::to_string).collect::<Vec<_>>()))
        h3 { "Pair by pair" }
        p.soft { "The magnification with it; σ is the standard uncertainty of the difference." }
        table.stacked {
            thead { tr { th scope="col" { "Pair" } th.n scope="col" { "Measured" } th.n scope="col" { "Fitted" } th.n scope="col" { "Off by" } } }
            tbody { @for (label, found) in &power.fit.pairs { tr { th scope="row" { (label) } (residual(found)) } } }
        }
    }
}
