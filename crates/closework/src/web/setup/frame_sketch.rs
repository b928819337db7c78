//! What the frame covers, with the subject at its size in it.

use kit::Report;
use maud::{Markup, html};
use notebook::Job;
use optics::Figure;

use crate::web::fmt;
use crate::web::manners::Units;
use crate::web::plot::at;

const SIDE: f64 = 320.0;

/// The frame's field to scale. The subject is an oval of the job's length, or a millimetre rule where no job is chosen.
pub(super) fn sketch(report: &Report, job: Option<&Job>, units: Units) -> Markup {
    let sides = report.figures.get(Figure::FieldWidth).zip(report.figures.get(Figure::FieldHeight));
    let Some((width, height)) = sides.map(|(w, h)| (w.value, h.value)) else {
        return html! {
            section aria-labelledby="covers" {
                h2 id="covers" { "What the frame covers" }
                p { "At infinity the frame covers no bounded field." }
            }
        };
    };
    let scale = SIDE / width.max(height);
    let (w, h) = (width * scale, height * scale);
    let words = in_words(width, height, job, units);
    html! {
        section aria-labelledby="covers" {
            h2 id="covers" { "What the frame covers" }
            figure.plot.sketch {
                svg viewBox=(format!("-14 -14 {} {}", at(w + 28.0), at(h + 28.0))) role="img" aria-labelledby="sketch-d" {
                    desc id="sketch-d" { (words) }
                    rect.field-edge x="0" y="0" width=(at(w)) height=(at(h)) {}
                    (rule(w, h, scale))
                    @if let Some(job) = job { (subject(job, w, h, scale)) }
                }
                figcaption { (words) }
            }
        }
    }
}

fn in_words(width: f64, height: f64, job: Option<&Job>, units: Units) -> String {
    let field = format!("{} by {} of the subject", fmt::figure_length(width, units), fmt::figure_length(height, units));
    match job {
        None => format!("{field}. Small marks stand a millimetre apart, long ones ten."),
        Some(job) => {
            let share = job.subject_mm / width.min(height);
            let name = if job.subject.is_empty() { "the subject" } else { &job.subject };
            let fits = if share > 1.0 { "It does not fit." } else { "" };
            format!(
                "{field}; {name}, {} long, takes {} of the shorter side. {fits}",
                fmt::stated_length(job.subject_mm, units),
                fmt::percent(share)
            )
        }
    }
}

/// Millimetre marks along the lower edge; every tenth alone where they would run together.
fn rule(w: f64, h: f64, scale: f64) -> Markup {
    let step = if scale >= 3.0 {
        1
    } else if scale >= 0.3 {
        10
    } else {
        100
    };
    let marks = (w / scale / f64::from(step)).floor() as i32;
    html! {
        g.ruler { @for i in 0..=marks.min(400) {
            @let mm = i * step;
            @let x = f64::from(mm) * scale;
            path d=(format!("M{} {}v{}", at(x), at(h), if mm % (10 * step.min(10)) == 0 { -12 } else { -6 })) {}
        } }
    }
}

fn subject(job: &Job, w: f64, h: f64, scale: f64) -> Markup {
    // Half as wide as long, where nobody said, is the shape of most beetles, seeds and stones.
    let short_mm = job.subject_short_mm.unwrap_or(job.subject_mm / 2.0);
    let (long, short) = (job.subject_mm * scale / 2.0, short_mm * scale / 2.0);
    // Lying along the longer side.
    let (rx, ry) = if w >= h { (long, short) } else { (short, long) };
    html! {
        ellipse.subject cx=(at(w / 2.0)) cy=(at(h / 2.0)) rx=(at(rx)) ry=(at(ry)) {}
    }
}
