//! What would decide an undecided verdict: the frame to take, the scan to make, the figure to measure.

use notebook::FrameState;
use verdict::enough::{Decider, Doubt, Missing, WhyMissing, deciders};

use super::candidates::{Candidate, Taken};
use super::figures::NYQUIST_CY_PX;
use super::judged::{Judged, limit_words};
use super::predicted::address;
use super::uses::Stated;
use crate::documents::Asked;
use crate::documents::verdict::{DecidesDocument, MissingDocument};
use crate::web::error::sentence;
use crate::web::fmt;

/// So many ways to decide are named.
const NAMED: usize = 3;
/// A doubt that decides in fewer cases is not worth a frame.
const WORTH: f64 = 0.02;

/// What is missing, in words.
pub fn missing(judged: &Judged, use_: usize, candidate: usize) -> Vec<MissingDocument> {
    let stated = &judged.uses[use_];
    let of = |missing: &Missing| MissingDocument {
        limit: missing.requirement,
        why: why(stated, &judged.candidates[candidate], missing),
    };
    judged.rulings[use_][candidate].missing.iter().map(of).collect()
}

fn why(stated: &Stated, candidate: &Candidate, missing: &Missing) -> String {
    let limit = &stated.limits[missing.requirement];
    let what = limit.asked.quantity.label();
    match missing.why {
        WhyMissing::RimNotReached { farthest } => {
            format!("{what} is known only out to {} of the way to the corner", fmt::percent(farthest))
        }
        WhyMissing::OnlyBounded { value } => {
            let film = value / super::uses::to_subject(limit.asked.quantity, stated.need.magnification());
            let shown = super::uses::amount(limit.asked.quantity, film);
            match limit.asked.quantity {
                Asked::Resolution => format!("the scan shows nothing finer than {shown} on film"),
                _ => format!("of {what} only a bound is known, {shown}"),
            }
        }
        _ if candidate.observed.is_empty() && is_measured(limit.asked.quantity) => {
            format!("{what}: {}", unmeasured(candidate))
        }
        _ if limit.asked.quantity == Asked::Contrast => "the scan is too coarse to show it".into(),
        _ if is_measured(limit.asked.quantity) => format!("{what} was not measured"),
        _ => format!("{what} cannot be worked out of the kit"),
    }
}

/// Whether frames tell it, and not the kit's data.
fn is_measured(asked: Asked) -> bool {
    !matches!(asked, Asked::WorkingDistance | Asked::LightLost | Asked::Field)
}

fn unmeasured(candidate: &Candidate) -> &'static str {
    match how_far(candidate) {
        Some((HowFar::Scanned, _)) => "its scan says nothing yet",
        Some((HowFar::Shot, _)) => "its frame is not scanned yet",
        _ => "its frame is not taken yet",
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum HowFar {
    Planned,
    Shot,
    Scanned,
}

/// The frame that has come farthest.
fn how_far(candidate: &Candidate) -> Option<(HowFar, &Taken)> {
    let far = |taken: &Taken| match (taken.frame.state, taken.scans.is_empty()) {
        (_, false) => HowFar::Scanned,
        (FrameState::Shot, true) => HowFar::Shot,
        _ => HowFar::Planned,
    };
    candidate.frames.iter().map(|taken| (far(taken), taken)).max_by_key(|(far, _)| *far)
}

/// What would decide, the best first.
pub fn decides(judged: &Judged, use_: usize, candidate: usize, sure: f64) -> Vec<DecidesDocument> {
    let (stated, set_up) = (&judged.uses[use_], &judged.candidates[candidate]);
    let ruling = &judged.rulings[use_][candidate];
    if ruling.answer != verdict::Answer::Undecided {
        return Vec::new();
    }
    if !ruling.missing.is_empty() {
        let mut steps: Vec<DecidesDocument> = Vec::new();
        for step in ruling.missing.iter().map(|missing| to_find(stated, set_up, missing)) {
            if !steps.contains(&step) {
                steps.push(step);
            }
        }
        return steps;
    }
    let doubts = deciders(&stated.use_, &judged.dossiers[candidate], sure).unwrap_or_default();
    let worth = doubts.iter().filter(|decider| decider.decides > WORTH || decider.explains > 0.1);
    worth.take(NAMED).map(|decider| to_settle(judged, stated, candidate, decider)).collect()
}

/// How a missing figure is found.
fn to_find(stated: &Stated, candidate: &Candidate, missing: &Missing) -> DecidesDocument {
    let limit = &stated.limits[missing.requirement];
    let step = |words: String, page: String| DecidesDocument { words, chance: None, page };
    if !is_measured(limit.asked.quantity) {
        let why = candidate.remarks.first().map_or(String::new(), |remark| format!(": {remark}"));
        return step(sentence(&format!("Correct the set-up or the kit{why}")), "/kit".into());
    }
    if candidate.observed.is_empty() {
        return first_frame(candidate);
    }
    let scan = candidate.finest().map(|seen| &seen.scan);
    let page = scan.map_or_else(|| "/scans".to_owned(), |scan| format!("/scans/{}", scan.id));
    let named = scan.map_or("its scan", |scan| scan.file_name.as_str());
    let finer = limit.asked.quantity == Asked::Contrast
        || matches!((missing.why, limit.asked.quantity), (WhyMissing::OnlyBounded { .. }, Asked::Resolution));
    match missing.why {
        _ if finer => step(finer_scan(stated, candidate, missing.requirement, named), page),
        WhyMissing::RimNotReached { .. } => {
            let share = fmt::percent(limit.asked.out_to);
            step(format!("Measure a place near {share} of the way to the corner in {named}."), page)
        }
        _ => {
            let what = limit.asked.quantity.label();
            step(format!("Measure the whole frame in {named}: {what} shows on a frame of the target card."), page)
        }
    }
}

/// Where a finer scan is asked for, the structure shall lie well within what it shows, cycles per pixel.
const ROOMY_CY_PX: f64 = 0.4;

fn finer_scan(stated: &Stated, candidate: &Candidate, limit: usize, named: &str) -> String {
    let asked = &stated.limits[limit].asked;
    let on_film = if asked.quantity == Asked::Contrast { asked.at.unwrap_or(f64::NAN) } else { asked.limit };
    let on_subject = on_film * stated.need.magnification();
    let needed = candidate.finest().map(|seen| {
        let cy_px = on_subject / seen.px_per_mm();
        25_400.0 / seen.pitch_um * cy_px.max(NYQUIST_CY_PX) / ROOMY_CY_PX
    });
    match needed {
        Some(dpi) => format!(
            "Scan {named} again at {} dpi or finer, and measure it.",
            fmt::figure((dpi / 100.0).ceil() * 100.0, 4)
        ),
        None => format!("Scan {named} finer, and measure it."),
    }
}

fn first_frame(candidate: &Candidate) -> DecidesDocument {
    let (words, page) = match how_far(candidate) {
        Some((HowFar::Scanned, taken)) => {
            let scan = taken.scans.last().map(|scan| format!("/scans/{}", scan.id)).unwrap_or_default();
            (format!("Measure the scan of {}, its scale first.", taken.name), scan)
        }
        Some((HowFar::Shot, taken)) => (format!("Scan {} and load it.", taken.name), "/scans".into()),
        Some((HowFar::Planned, taken)) => {
            (format!("Take {}, scan and measure it.", taken.name), format!("/rolls/{}/log", taken.frame.roll))
        }
        None => ("Take a frame with it, scan and measure it.".into(), "/jobs".into()),
    };
    DecidesDocument { words, chance: None, page }
}

/// How a doubt is settled.
fn to_settle(judged: &Judged, stated: &Stated, candidate: usize, decider: &Decider) -> DecidesDocument {
    let set_up = &judged.candidates[candidate];
    let (words, page) = match &decider.doubt {
        Doubt::Measured { figure, .. } => {
            let place = &judged.known[candidate][0][*figure].place;
            let place = if place.is_empty() { String::new() } else { format!(", measured there again ({place})") };
            (format!("One more frame of {}{place}.", set_up.name), another_frame(stated, set_up))
        }
        Doubt::Predicted { figure, .. } => {
            let [_, predicted] = &judged.known[candidate];
            let quantity = predicted[*figure].figure.quantity;
            let limit = stated.use_.requirements.iter().position(|asked| asked.quantity.is_same(quantity));
            let what = limit.map_or("that figure", |at| stated.limits[at].asked.quantity.label());
            let page = address(&set_up.parts, &set_up.focus, set_up.f_number);
            (format!("Measure {what} at the set-up itself, or calibrate its lens: it is only worked out."), page)
        }
        Doubt::Cause(name) => {
            let scan = set_up.observed.iter().find(|seen| seen.scale_doubt() == *name);
            let page = scan.map_or_else(|| "/scans".into(), |seen| format!("/scans/{}", seen.scan.id));
            (format!("Measure {name} better: along a longer ruler."), page)
        }
        Doubt::Limit { requirement, .. } => {
            let limit = limit_words(&stated.limits[*requirement]);
            (format!("State the limit of {limit} more surely: its own doubt decides."), use_page(stated))
        }
    };
    DecidesDocument { words, chance: Some(decider.decides), page }
}

/// The form for a new frame with this set-up.
pub fn another_frame(stated: &Stated, candidate: &Candidate) -> String {
    let page = address(&candidate.parts, &candidate.focus, candidate.f_number);
    let query = page.strip_prefix("/set-up?").unwrap_or_default();
    format!("/jobs/{}/frames/new?{query}", stated.job.id)
}

/// Where a use is changed.
pub fn use_page(stated: &Stated) -> String {
    match stated.number {
        Some(number) => format!("/uses/{number}"),
        None => format!("/jobs/{}/edit", stated.job.id),
    }
}
