//! What cannot be right about the matches there are.

use matching::{Trouble, troubles};
use maud::{Markup, html};

use super::facts::Facts;
use crate::web::fmt;

/// So many frames or scans are named before the rest are counted.
const NAMED: usize = 8;

/// The list above everything else.
pub(super) fn shown(facts: &Facts) -> Markup {
    let found = troubles(&facts.film, &facts.facts, &facts.shown());
    let wrong: Vec<&Trouble> = found.iter().filter(|trouble| is_wrong(trouble)).collect();
    let open: Vec<&Trouble> = found.iter().filter(|trouble| !is_wrong(trouble)).collect();
    html! {
        @if !wrong.is_empty() {
            div.warning role="status" {
                p { strong { "These matches cannot all be right:" } }
                ul { @for trouble in wrong { li { (words(facts, trouble)) } } }
            }
        }
        @if !open.is_empty() { ul.still-open { @for trouble in open { li { (words(facts, trouble)) } } } }
    }
}

fn is_wrong(trouble: &Trouble) -> bool {
    matches!(trouble, Trouble::Disagrees { .. } | Trouble::Shared { .. })
}

/// Whether a scan's match disagrees with what was measured in it.
pub(super) fn disagrees(facts: &Facts, scan: usize, frame: usize) -> bool {
    let sizes = facts.facts[scan].size.zip(facts.film.frames[frame].size);
    sizes.is_some_and(|(measured, planned)| measured.fit(planned) != matching::Fit::Agrees)
}

fn words(facts: &Facts, trouble: &Trouble) -> String {
    let scan = |index: &usize| format!("“{}”", facts.scans[*index].file_name);
    let frame = |index: &usize| facts.frame_name(*index);
    match trouble {
        Trouble::Disagrees { scan: index, frame: at, measured, planned, agreeing } => {
            let size = |size: &matching::Size| fmt::measured(size.value, Some(size.plus_minus));
            let off = 100.0 * (measured.value / planned.value - 1.0);
            let sign = if off < 0.0 { "smaller" } else { "larger" };
            let better = match agreeing.as_slice() {
                [] => "no planned set-up agrees".to_owned(),
                some => format!("it agrees with {}", listed(some, &frame)),
            };
            format!(
                "{} on {}: its magnification was measured as {}, the set-up gives {}: {} % {sign}, beyond both uncertainties; {better}.",
                scan(index),
                frame(at),
                size(measured),
                size(planned),
                fmt::figure(off.abs(), 2)
            )
        }
        Trouble::Shared { frame: at, scans } => {
            format!("{} is shown by {}.", capital(&frame(at)), listed(scans, &scan))
        }
        Trouble::WithoutScan(frames) => format!("Without a scan: {}.", listed(frames, &frame)),
        Trouble::WithoutFrame(scans) => format!("Without a frame: {}.", listed(scans, &scan)),
        Trouble::MoreScansThanFrames { scans, frames } => {
            format!("There are {scans} scans here and {frames} frames that may have one.")
        }
    }
}

pub(super) fn listed(all: &[usize], name: &dyn Fn(&usize) -> String) -> String {
    let named: Vec<String> = all.iter().take(NAMED).map(name).collect();
    match all.len() - named.len() {
        0 => named.join(", "),
        more => format!("{} and {more} more", named.join(", ")),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|c| c.to_uppercase().collect::<String>()).unwrap_or_default() + letters.as_str()
}
