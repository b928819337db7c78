//! Proposals: asked for by a link, shown with their reasons, kept by one press.

use matching::{Direction, Fit, Order, Proposal, Proposals, Reason, SortBy, Sureness, by_code, by_name, by_order};
use maud::{Markup, html};
use notebook::{FrameId, ScanId};

use super::facts::Facts;
use super::trouble::listed;
use crate::web::fmt;
use crate::web::form::Filled;

/// How a proposal is asked for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Asked {
    /// "order", "name", "code"; nothing is proposed for any other.
    way: String,
    order: Order,
    /// Frames that have no scan: blank, skipped.
    missing: Vec<FrameId>,
    /// Scans that show none of these frames.
    left_out: Vec<ScanId>,
    /// All of it as a query, for the way back to this page.
    pub query: String,
}

const DIRECTIONS: [(&str, &str, Direction); 3] = [
    ("forwards", "from the first frame on", Direction::Forwards),
    ("backwards", "from the last frame back", Direction::Backwards),
    ("rolls-backwards", "roll by roll, each from its last frame back", Direction::RollsBackwards),
];

impl Asked {
    pub fn read(query: &Filled, facts: &Facts) -> Self {
        let direction = DIRECTIONS.iter().find(|(word, ..)| *word == query.text("direction"));
        let by = if query.text("by") == "time" { SortBy::Time } else { SortBy::Name };
        let order = Order { by, direction: direction.map_or(Direction::Forwards, |(.., found)| *found) };
        let missing = query.all("blank").filter_map(|id| id.parse().ok()).filter(|id| facts.frame(*id).is_some());
        let left_out = query.all("none").filter_map(|id| id.parse().ok()).filter(|id| facts.scan(*id).is_some());
        let mut asked = Self {
            way: query.text("way").to_owned(),
            order,
            missing: missing.collect(),
            left_out: left_out.collect(),
            query: String::new(),
        };
        asked.query = asked.as_query();
        asked
    }

    fn as_query(&self) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        if !self.way.is_empty() {
            query.append_pair("way", &self.way);
        }
        if self.order.by == SortBy::Time {
            query.append_pair("by", "time");
        }
        if let Some((word, ..)) = DIRECTIONS.iter().skip(1).find(|(.., known)| *known == self.order.direction) {
            query.append_pair("direction", word);
        }
        for id in &self.missing {
            query.append_pair("blank", &id.to_string());
        }
        for id in &self.left_out {
            query.append_pair("none", &id.to_string());
        }
        query.finish()
    }

    /// The address with one frame more, or less, that has no scan.
    fn with_blank(&self, id: &str, frame: FrameId) -> String {
        let mut other = self.clone();
        if other.missing.contains(&frame) {
            other.missing.retain(|known| *known != frame);
        } else {
            other.missing.push(frame);
        }
        format!("/jobs/{id}/matching?{}#proposed", other.as_query())
    }

    fn with_left_out(&self, id: &str, scan: ScanId) -> String {
        let mut other = self.clone();
        if other.left_out.contains(&scan) {
            other.left_out.retain(|known| *known != scan);
        } else {
            other.left_out.push(scan);
        }
        format!("/jobs/{id}/matching?{}#proposed", other.as_query())
    }

    fn turned(&self, id: &str, direction: Direction) -> String {
        let other = Self { order: Order { direction, ..self.order }, ..self.clone() };
        format!("/jobs/{id}/matching?{}#proposed", other.as_query())
    }

    fn propose(&self, facts: &Facts) -> Option<(Vec<usize>, Proposals)> {
        let mut film = facts.film.clone();
        for frame in self.missing.iter().filter_map(|id| facts.frame(*id)) {
            film.frames[frame].missing = true;
        }
        let taken: Vec<usize> =
            (0..facts.scans.len()).filter(|scan| !self.left_out.contains(&facts.scans[*scan].id)).collect();
        let scans: Vec<matching::Scan> = taken.iter().map(|scan| facts.facts[*scan].clone()).collect();
        let found = match self.way.as_str() {
            "order" => by_order(&film, &scans, self.order),
            "name" => by_name(&film, &scans),
            "code" => by_code(&film, &scans),
            _ => return None,
        };
        Some((taken, found))
    }
}

pub(super) fn shown(id: &str, facts: &Facts, asked: &Asked) -> Markup {
    html! {
        section aria-labelledby="proposed" {
            h2 id="proposed" { "Proposed" }
            (ask(id, asked))
            @if let Some((taken, found)) = asked.propose(facts) { (proposals(id, facts, asked, &taken, &found)) }
        }
    }
}

fn ask(id: &str, asked: &Asked) -> Markup {
    let way = |value: &str, label: &str, hint: &str| {
        let chosen = asked.way == value || (asked.way.is_empty() && value == "order");
        html! { label.way { input type="radio" name="way" value=(value) checked[chosen]; span { strong { (label) } " " (hint) } } }
    };
    html! {
        form.detail method="get" action=(format!("/jobs/{id}/matching#proposed")) {
            @for frame in &asked.missing { input type="hidden" name="blank" value=(frame); }
            @for scan in &asked.left_out { input type="hidden" name="none" value=(scan); }
            fieldset.plain {
                legend { "Match" }
                (way("order", "by order,", "the scans laid along the frames"))
                (way("name", "by file name,", "where names hold frame numbers"))
                (way("code", "by what was measured,", "magnification and the card's print"))
            }
            div.fields {
                div.field {
                    label for="by" { "Scans in order" }
                    select id="by" name="by" {
                        option value="name" selected[asked.order.by == SortBy::Name] { "of their names (s9 before s10)" }
                        option value="time" selected[asked.order.by == SortBy::Time] { "of the time in their files" }
                    }
                }
                div.field {
                    label for="direction" { "They run" }
                    select id="direction" name="direction" {
                        @for (word, label, direction) in DIRECTIONS { option value=(word) selected[asked.order.direction == direction] { (label) } }
                    }
                }
            }
            div.actions { button.main { "Propose" } }
        }
    }
}

fn proposals(id: &str, facts: &Facts, asked: &Asked, taken: &[usize], found: &Proposals) -> Markup {
    html! {
        p.hint { "“Sure” means: if every scan shows one of these frames" @if asked.way == "order" { ", none was scanned twice and the order was kept" } ", no other frame fits what was measured. Without measurements nothing is sure." }
        (better(id, asked, found))
        (shift(id, facts, asked, found))
        form method="post" action=(format!("/jobs/{id}/matching/keep")) {
            input type="hidden" name="way" value=(asked.way);
            input type="hidden" name="query" value=(asked.query);
            div.scroll { table.proposals {
                thead { tr { th scope="col" { "Keep" } th scope="col" { "Scan" } th scope="col" { "Frame" } th scope="col" { "How sure" } th scope="col" { "Why" } } }
                tbody { @for proposal in &found.proposals { (row(id, facts, asked, taken[proposal.scan], proposal)) } }
            } }
            @if !asked.left_out.is_empty() {
                p { "Left out: " @for scan in &asked.left_out { a href=(asked.with_left_out(id, *scan)) { (facts.scan(*scan).map(|at| facts.scans[at].file_name.clone()).unwrap_or_default()) " (take it in again)" } " " } }
            }
            div.actions { button.main { "Keep the ticked matches" } }
        }
    }
}

fn better(id: &str, asked: &Asked, found: &Proposals) -> Markup {
    let named = |wanted: Direction| DIRECTIONS.iter().find(|(.., known)| *known == wanted).map(|(_, label, _)| *label);
    html! {
        @if let Some((direction, label)) = found.better.and_then(|d| Some((d, named(d)?))) {
            div.warning { p { "What was measured fits clearly better when the scans run " (label) ". " a.button.quiet href=(asked.turned(id, direction)) { "Turn them round" } } }
        }
    }
}

/// Frames without a scan: where the order shifts, and the press that settles it.
fn shift(id: &str, facts: &Facts, asked: &Asked, found: &Proposals) -> Markup {
    let name = |frame: &usize| facts.frame_name(*frame);
    html! {
        @if asked.way == "order" && !found.without_scan.is_empty() {
            div.note {
                p { "For now " (listed(&found.without_scan, &name)) @if found.without_scan.len() == 1 { " has" } @else { " have" } " no scan. " @if !found.may_be_missing.is_empty() { "Which frame was blank or skipped? Everything behind it shifts by one." } }
                div.actions.blanks { @for frame in &found.may_be_missing {
                    a.button.quiet href=(asked.with_blank(id, facts.known.frames[*frame].id)) { (facts.frame_name(*frame)) }
                } }
            }
        }
        @if !asked.missing.is_empty() {
            p { "Taken as blank or skipped: " @for frame in &asked.missing {
                a href=(asked.with_blank(id, *frame)) { (facts.frame(*frame).map(|at| facts.frame_name(at)).unwrap_or_default()) " (it has a scan after all)" } " "
            } }
        }
    }
}

fn row(id: &str, facts: &Facts, asked: &Asked, scan: usize, proposal: &Proposal) -> Markup {
    let entry = &facts.scans[scan];
    let stands = entry.frame.and_then(|frame| facts.frame(frame));
    let same = stands.is_some() && stands == proposal.frame;
    let ticked = !same && proposal.sureness >= Sureness::Likely;
    html! {
        tr {
            td { @if let (Some(frame), false) = (proposal.frame, same) {
                input type="checkbox" name="pair" value=(format!("{}:{}", entry.id, facts.known.frames[frame].id)) checked[ticked] aria-label=(format!("{} to {}", entry.file_name, facts.frame_name(frame)));
            } }
            th scope="row" { a href=(format!("/scans/{}", entry.id)) { (entry.file_name) } @if let Some(stands) = stands.filter(|_| !same) { p.soft { "now " (facts.frame_name(stands)) } } }
            td {
                @match proposal.frame {
                    Some(frame) => { (facts.frame_name(frame)) @if !facts.known.frames[frame].label.is_empty() { span.soft { ": " (facts.known.frames[frame].label) } } @if same { span.soft { " (kept already)" } } },
                    None => "none",
                }
                @if proposal.candidates_in_all > 1 { p.soft.small { "or " (others(facts, proposal)) } }
            }
            td { span.tag { (word(proposal.sureness)) } }
            td {
                @for reason in &proposal.reasons { p.small.why { (why(facts, reason)) } }
                @if asked.way == "order" { p.small { a href=(asked.with_left_out(id, entry.id)) { "It shows none of these frames" } } }
            }
        }
    }
}

fn others(facts: &Facts, proposal: &Proposal) -> String {
    let others: Vec<usize> = proposal.candidates.iter().copied().filter(|one| Some(*one) != proposal.frame).collect();
    listed(&others, &|frame| facts.frame_name(*frame))
}

fn word(sureness: Sureness) -> &'static str {
    match sureness {
        Sureness::Sure => "sure",
        Sureness::Likely => "likely",
        Sureness::Open => "one of several",
        Sureness::Nothing => "nothing",
    }
}

fn why(facts: &Facts, reason: &Reason) -> String {
    let size = |size: &matching::Size| fmt::measured(size.value, Some(size.plus_minus));
    match reason {
        Reason::Place { place, of, by: SortBy::Name } => format!("Number {place} of {of} by name."),
        Reason::Place { place, of, by: SortBy::Time } => format!("Number {place} of {of} by time."),
        Reason::Named { roll: Some(roll), number } => format!("The name says roll {roll}, frame {number}."),
        Reason::Named { roll: None, number } => format!("The name says frame {number}."),
        Reason::NoNumber => "The name holds no number.".into(),
        Reason::NoSuchFrame(number) => format!("The name says {number}, and no frame has that number."),
        Reason::RollNotSaid(number) => format!("The name says {number}, and not of which roll."),
        Reason::MayBeACounter => {
            "The numbers run on without a gap while frames are left over: they may count the scans.".into()
        }
        Reason::NamedTwice => "Another scan's name says the same frame.".into(),
        Reason::Measured { measured, planned, fit } => {
            let verdict = match fit {
                Fit::Agrees => "agrees with",
                Fit::Doubtful => "lies a little beside",
                Fit::Disagrees => "disagrees with",
            };
            format!("Measured {} {verdict} the set-up's {}.", size(measured), size(planned))
        }
        Reason::OnlyOne => "In this order nothing else fits what was measured.".into(),
        Reason::OnlySize => "No other frame has a magnification that fits.".into(),
        Reason::ManyFit(1) => "One frame has a magnification that fits.".into(),
        Reason::ManyFit(count) => format!("{count} frames have a magnification that fits."),
        Reason::NoneFits(Some(nearest)) => {
            format!("No frame's magnification fits; the nearest is {}.", facts.frame_name(*nearest))
        }
        Reason::NoneFits(None) => "No frame has a set-up whose magnification is known.".into(),
        Reason::NotRuledOut(count) => {
            format!("{count} more have no set-up whose magnification is known, and are not ruled out.")
        }
        Reason::Print(print) => format!("The frame's notes name the card {print} that is in the scan."),
        Reason::NotMeasured => {
            "Nothing was measured in it yet: measure a ruler, or the whole frame by its card.".into()
        }
        Reason::LeftOver => "In this order it fits none of the frames that are left for it.".into(),
    }
}
