//! A verdict as a person reads it: sentences first, then each use with its set-ups, then the figures.

use maud::{Markup, html};

use crate::documents::Asked;
use crate::documents::verdict::{
    DecidesDocument, Evidence, FigureDocument, FindingDocument, JudgedSetUp, LimitDocument, RankedDocument, Sentence,
    SentenceKind, UseStanding, VerdictDocument,
};
use crate::verdict::judged::{chance, figure_words, limit_words};
use crate::web::fmt;
use crate::web::plot::{Axis, BarChart, BarRow};

/// The verdict in sentences, the uses' first.
pub(super) fn sentences(document: &VerdictDocument) -> Markup {
    html! {
        section aria-labelledby="in-short" {
            h2 id="in-short" { "In short" }
            ul.conclusions { @for sentence in &document.sentences { (said(sentence)) } }
        }
    }
}

pub(super) fn said(sentence: &Sentence) -> Markup {
    html! {
        li {
            span.mark-of aria-hidden="true" { (mark(sentence.kind)) } " "
            (sentence.text)
            @if !sentence.evidence.is_empty() { " " (links(&sentence.evidence)) }
        }
    }
}

/// Where a figure can be looked at.
fn links(evidence: &[Evidence]) -> Markup {
    html! {
        span.rests-on {
            @for (at, one) in evidence.iter().enumerate() { @if at > 0 { ", " } a href=(one.page) { (one.words) } }
        }
    }
}

/// A sign that is told apart without its colour.
fn mark(kind: SentenceKind) -> &'static str {
    match kind {
        SentenceKind::Best => "●",
        SentenceKind::Perhaps => "◐",
        SentenceKind::NotServed => "○",
        SentenceKind::Keep => "■",
        SentenceKind::CouldGo => "□",
        SentenceKind::Buy => "+",
        SentenceKind::Prices | SentenceKind::Sure | SentenceKind::Note => "–",
    }
}

fn answer_mark(answer: &str) -> &'static str {
    match answer {
        "serves" => "●",
        "falls short" => "○",
        _ => "◐",
    }
}

/// Every use with what serves it.
pub(super) fn uses(document: &VerdictDocument, whole_drawer: bool) -> Markup {
    html! {
        section aria-labelledby="uses" {
            h2 id="uses" { "Good enough, for what" }
            @for standing in &document.uses { (one_use(document, standing, whole_drawer)) }
        }
    }
}

fn one_use(document: &VerdictDocument, standing: &UseStanding, whole_drawer: bool) -> Markup {
    let job = document.jobs.iter().find(|job| job.id == standing.job);
    html! {
        article.detail id=(standing.id) {
            h3 {
                (capital(&standing.title))
                @if let Some(job) = job.filter(|_| whole_drawer) { ", for " a href=(format!("/jobs/{}/verdict#{}", job.id, standing.id)) { (job.title) } }
            }
            p.soft {
                "Judged at " (fmt::ratio(standing.magnification)) ": a frame taken at another size counts by the same detail of the subject. "
                @match standing.number {
                    Some(number) => a href=(format!("/uses/{number}")) { "Change its limits" },
                    None => { "Worked out of the job's print; " a href=(format!("/jobs/{}/edit", standing.job)) { "change the job" } ", or state a use below." },
                }
            }
            (limits(document, standing))
            @if standing.ranked.is_empty() {
                p { "No set-up was tried that can be built of this kit. " a href=(format!("/jobs/{}/test-roll", standing.job)) { "Plan a test roll" } "." }
            } @else {
                (drawing(document, standing))
                (one_by_one(document, standing, whole_drawer))
            }
        }
    }
}

fn limits(document: &VerdictDocument, standing: &UseStanding) -> Markup {
    html! {
        details.limits {
            summary { "What it asks: " (standing.limits.len()) " limits, with reasons" }
            @if !standing.reckoned.is_empty() { p { (standing.reckoned) } }
            ul {
                @for limit in &standing.limits {
                    li {
                        (limit.words) (at_other_sizes(document, standing, limit)) @if !limit.asked.reason.is_empty() { "; " (limit.asked.reason) }
                        span.soft { " (" @if limit.from_job { "from the job" } @else { (limit.asked.source) } ")" }
                    }
                }
            }
        }
    }
}

/// What a fineness comes to on film at the sizes that the set-ups were taken at, where those are others than the job's.
fn at_other_sizes(document: &VerdictDocument, standing: &UseStanding, limit: &LimitDocument) -> String {
    /// Nearer sizes than this share are one.
    const ALIKE: f64 = 0.05;
    if limit.asked.quantity != Asked::Resolution {
        return String::new();
    }
    let taken = standing.ranked.iter().filter_map(|ranked| {
        let set_up = document.set_ups.iter().find(|set_up| set_up.id == ranked.set_up)?;
        Some(set_up.magnification?.value).filter(|m| *m > 0.0)
    });
    let mut sizes: Vec<f64> = Vec::new();
    for m in taken {
        let far = |other: f64| (m / other - 1.0).abs() > ALIKE;
        if far(standing.magnification) && sizes.iter().all(|known| far(*known)) {
            sizes.push(m);
        }
    }
    let on_film = |m: &f64| {
        let lp_mm = limit.asked.limit * standing.magnification / m;
        format!(", {}\u{a0}lp/mm on film at {}", fmt::figure(lp_mm, 3), fmt::ratio(*m))
    };
    sizes.iter().map(on_film).collect()
}

/// The chances of all set-ups over one axis.
fn drawing(document: &VerdictDocument, standing: &UseStanding) -> Markup {
    let row = |(at, ranked): (usize, &RankedDocument)| BarRow {
        label: format!("{}: {}", at + 1, shortened(name(document, &ranked.set_up))),
        href: None,
        range: (0.0, 100.0 * ranked.probability),
        point: None,
        shade: if ranked.answer == "undecided" { 0.35 } else { 1.0 },
        note: match (ranked.answer.as_str(), ranked.missing.is_empty()) {
            ("undecided", false) => format!("{} at most, undecided", short_chance(ranked.probability)),
            (answer, _) => format!("{}, {answer}", short_chance(ranked.probability)),
        },
    };
    let sure = 100.0 * document.settings.sure;
    let chart = BarChart {
        id: format!("chances-{}", standing.id),
        title: "The chance that everything asked is met".into(),
        description: format!(
            "One bar for each set-up from 0 to its chance; from {sure:.0} % it counts as serving, up to {:.0} % as falling short. Lighter bars are undecided.",
            100.0 - sure
        ),
        axis: Axis::linear("Chance", "%").range(0.0, 100.0),
        rows: standing.ranked.iter().enumerate().map(row).collect(),
        wanted: Some((sure, format!("serves from {sure:.0} %"))),
    };
    chart.show()
}

/// A name in a drawing, its end as well as its beginning, for names of one lens differ at the end: the list below has it whole, under
/// the same number.
fn shortened(name: &str) -> String {
    const LETTERS: usize = 34;
    let letters: Vec<char> = name.chars().collect();
    let Some(over) = letters.len().checked_sub(LETTERS).filter(|over| *over > 0) else { return name.into() };
    let (head, tail) = (&letters[..LETTERS / 2], &letters[LETTERS / 2 + over + 1..]);
    head.iter().chain(&['…']).chain(tail).collect()
}

fn short_chance(p: f64) -> String {
    match p {
        p if p > 0.99 => ">\u{a0}99\u{a0}%".into(),
        p if p < 0.01 => "<\u{a0}1\u{a0}%".into(),
        p => format!("{:.0}\u{a0}%", 100.0 * p),
    }
}

/// All set-ups one by one; those that are out of the question behind a fold, and all of them where many uses are shown.
fn one_by_one(document: &VerdictDocument, standing: &UseStanding, whole_drawer: bool) -> Markup {
    // The best stands open even where it falls short: it is what comes nearest.
    let open = standing.ranked.iter().skip(1).position(|ranked| ranked.answer == "falls short");
    let split = if whole_drawer { 0 } else { open.map_or(standing.ranked.len(), |at| at + 1) };
    let (first, rest) = standing.ranked.split_at(split);
    html! {
        @if !first.is_empty() { ol.ranked { @for ranked in first { (one_set_up(document, standing, ranked)) } } }
        @if !rest.is_empty() {
            details {
                summary { @if whole_drawer { "All " (rest.len()) " set-ups one by one" } @else { (rest.len()) " more that fall short" } }
                ol.ranked start=(split + 1) { @for ranked in rest { (one_set_up(document, standing, ranked)) } }
            }
        }
    }
}

fn one_set_up(document: &VerdictDocument, standing: &UseStanding, ranked: &RankedDocument) -> Markup {
    html! {
        li {
            p {
                span.mark-of aria-hidden="true" { (answer_mark(&ranked.answer)) } " "
                a href=(format!("#{}", ranked.set_up)) { (name(document, &ranked.set_up)) } " "
                strong { (answer_words(ranked)) }
                @if !ranked.why.is_empty() { span.soft { "; " (ranked.why) } }
            }
            ul.found-of {
                @for finding in &ranked.findings { (one_finding(standing, finding)) }
                @for missing in &ranked.missing { li.missing { (missing.why) } }
            }
            @if !ranked.decides.is_empty() { (what_decides(&ranked.decides)) }
        }
    }
}

fn answer_words(ranked: &RankedDocument) -> String {
    let sure = chance(ranked.probability);
    match (ranked.answer.as_str(), ranked.missing.is_empty()) {
        ("serves", _) => format!("serves, {sure} sure"),
        ("falls short", _) => format!("falls short: a chance of {sure} that it meets everything"),
        (_, true) => format!("is undecided: a chance of {sure}"),
        (_, false) if ranked.findings.iter().all(|finding| finding.basis == "predicted") => {
            "is undecided: nothing was measured of it".into()
        }
        (_, false) => format!("is undecided: a chance of {sure} at most"),
    }
}

fn one_finding(standing: &UseStanding, finding: &FindingDocument) -> Markup {
    let limit = &standing.limits[finding.limit];
    let met = match finding.probability {
        p if p >= 0.95 => "✓",
        p if p <= 0.05 => "✗",
        _ => "?",
    };
    html! {
        li {
            span aria-hidden="true" { (met) } " "
            (figure_words(limit, finding)) ", " (limit.asked.side.words()) " " (limit_words(limit)) " asked"
            @if finding.probability < 0.99 { ": " (chance(finding.probability)) }
            " " (links(&finding.evidence))
        }
    }
}

fn what_decides(steps: &[DecidesDocument]) -> Markup {
    html! {
        p.decides {
            "What would decide: "
            @for step in steps {
                a href=(step.page) { (step.words) }
                @if let Some(share) = step.chance { span.soft { " (" (chance(share)) " likely to decide)" } }
                " "
            }
        }
    }
}

fn name<'a>(document: &'a VerdictDocument, id: &'a str) -> &'a str {
    document.set_ups.iter().find(|set_up| set_up.id == id).map_or(id, |set_up| set_up.name.as_str())
}

/// The figures of every set-up.
pub(super) fn set_ups(document: &VerdictDocument) -> Markup {
    html! {
        @if !document.set_ups.is_empty() {
            section aria-labelledby="evidence" {
                h2 id="evidence" { "The evidence" }
                p.soft { "What was measured and what is worked out, never mixed. Lens, film and scanner together; resolution and fringing on the subject, so that frames of any size compare." }
                @for set_up in &document.set_ups { (one_evidence(set_up)) }
            }
        }
    }
}

fn one_evidence(set_up: &JudgedSetUp) -> Markup {
    let frames = set_up.frames.iter().map(|frame| frame.number.to_string()).collect::<Vec<_>>().join(", ");
    html! {
        details.detail id=(set_up.id) {
            summary {
                strong { (set_up.name) }
                @if let Some(m) = set_up.magnification { ", " (fmt::ratio(m.value)) }
                span.soft { ", frame " (frames) @if !set_up.owned { "; a part of it is not in the kit" } }
            }
            @for remark in &set_up.remarks { p.note { (remark) } }
            @if set_up.figures.is_empty() { p { "Nothing is known of it." } } @else { (figures(&set_up.name, &set_up.figures)) }
        }
    }
}

pub(super) fn figures(name: &str, figures: &[FigureDocument]) -> Markup {
    html! {
        div.scroll tabindex="0" role="region" aria-label=(format!("Figures of {name}")) {
            table.stacked {
                thead { tr { th scope="col" { "Figure" } th scope="col" { "Where" } th.n scope="col" { "Found" } th scope="col" { "How" } th scope="col" { "Rests on" } } }
                tbody {
                    @for figure in figures {
                        tr {
                            th scope="row" { (figure.what) }
                            td data-label="where" { @if figure.place.is_empty() { "the whole frame" } @else { (figure.place) } }
                            td.n data-label="found" { @if !figure.bound.is_empty() { (figure.bound) " " } (fmt::measured(figure.figure.value, Some(figure.figure.plus_minus))) }
                            td data-label="how" { @if figure.basis == "predicted" && figure.place.is_empty() { "worked out" } @else { (figure.basis) } @if !figure.shares.is_empty() { span.soft { "; shares " (figure.shares.join(", ")) } } }
                            td data-label="rests on" { (links(&figure.evidence)) }
                        }
                    }
                }
            }
        }
    }
}

/// What says nothing, why, and what to do.
pub(super) fn silent(document: &VerdictDocument) -> Markup {
    html! {
        @if !document.silent.is_empty() {
            section aria-labelledby="silent" {
                h2 id="silent" { "What says nothing yet" }
                ul { @for silent in &document.silent { li { (silent.what) ": " (silent.why) ". " a href=(silent.page) { (capital(&silent.next)) } "." } } }
            }
        }
    }
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
