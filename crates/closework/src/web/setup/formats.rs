//! The same subject at the same size on other film: magnification says nothing about the frame.

use kit::{Report, Setup};
use maud::{Markup, html};
use notebook::Job;
use optics::Figure;
use planning::compare_frames;

use crate::web::fmt;
use crate::web::manners::Units;

/// Formats to compare with, width and height on film, mm (common practice, no source; makers differ by a millimetre).
const FORMATS: [(&str, [f64; 2]); 5] = [
    ("24×36", [36.0, 24.0]),
    ("6×4.5", [56.0, 41.5]),
    ("6×6", [56.0, 56.0]),
    ("6×7", [69.5, 56.0]),
    ("4×5 inch", [120.0, 96.0]),
];
/// Sides that differ by less are the same format, mm.
const SAME_MM: f64 = 2.0;

fn short(frame: [f64; 2]) -> f64 {
    frame[0].min(frame[1])
}

fn long(frame: [f64; 2]) -> f64 {
    frame[0].max(frame[1])
}

/// How the subject fills this frame and two others. Without a job the subject is a small one of 24 × 36 mm.
pub(super) fn compared(report: &Report, setup: &Setup<'_>, job: Option<&Job>, units: Units) -> Markup {
    let Some(m) = report.figures.get(Figure::Magnification).map(|m| m.value).filter(|m| *m > 0.0) else {
        return html! {};
    };
    let own = setup.numbers().frame;
    let (name, subject) = match job {
        Some(job) => {
            let name = if job.subject.is_empty() { "the subject" } else { job.subject.as_str() };
            (name, [job.subject_short_mm.unwrap_or(job.subject_mm), job.subject_mm])
        }
        None => ("a subject", [24.0, 36.0]),
    };
    let guessed = job.is_some_and(|job| job.subject_short_mm.is_none());
    let near = |a: f64, b: f64| (a - b).abs() < SAME_MM;
    let same = |frame: &[f64; 2]| near(short(*frame), short(own)) && near(long(*frame), long(own));
    let others: Vec<_> = FORMATS.iter().filter(|(_, frame)| !same(frame)).collect();
    // The small format everybody knows, and the next larger than one's own.
    let larger = others.iter().find(|(_, frame)| frame[0] * frame[1] > own[0] * own[1] * 1.05);
    let mut shown = vec![*others[0]];
    shown.extend(larger.or(others.get(1)).filter(|other| other.0 != others[0].0).map(|other| **other));
    let frames: Vec<[f64; 2]> = std::iter::once(own).chain(shown.iter().map(|(_, frame)| *frame)).collect();
    let Ok(fills) = compare_frames(subject, m, &frames) else { return html! {} };
    let names = std::iter::once("this frame").chain(shown.iter().map(|(name, _)| *name));
    html! {
        section aria-labelledby="formats" {
            h2 id="formats" { "On other film" }
            p { "At " (fmt::ratio(m)) " " (name) " (" @if guessed { "its shorter side is not stated, so taken as " } (fmt::stated_length(subject[0], units)) " by " (fmt::stated_length(subject[1], units)) ") fills:" }
            ul { @for (name, fill) in names.zip(&fills) {
                li {
                    strong { (name) } " (" (fmt::stated_length(short(fill.frame_mm), units)) " × " (fmt::stated_length(long(fill.frame_mm), units)) "): "
                    (fmt::figure(fill.sides[0] * 100.0, 3)) " × " (fmt::figure(fill.sides[1] * 100.0, 3)) " % of its sides"
                    @if !fill.fits() { ", so it does not fit" }
                    "; the frame covers " (fmt::figure_length(short(fill.frame_mm) / m, units)) " by " (fmt::figure_length(long(fill.frame_mm) / m, units))
                }
            } }
        }
    }
}
