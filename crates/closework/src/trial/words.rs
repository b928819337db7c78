//! What a trial came to, in words: pages and reports say the same.

use notebook::{Job, Notebook, ScanId};

use super::document::TrialDocument;
use super::eye::{Figures, Measure, candidates, figures};
use super::outcome::{EyeDocument, OutcomeDocument, PairDocument, RangeDocument};
use crate::web::PageError;
use crate::web::error::sentence;
use crate::web::fmt;
use crate::web::jobs::need_for;
use crate::web::kit_book::read_kit;

/// What was measured of the scans, and in which terms.
pub struct Measured {
    /// One for each scan that has any.
    pub figures: Figures,
    /// In which terms.
    pub measure: Measure,
}

impl Measured {
    /// The figure's name with its unit.
    pub fn name(&self) -> String {
        match self.measure {
            Measure::ContrastAt(lp) => format!("contrast left at {} lp/mm on the subject", fmt::figure(lp, 3)),
            Measure::HalfContrast => "half of the contrast left at, lp/mm on the subject".into(),
        }
    }

    /// How many scans have a figure.
    pub fn there(&self) -> usize {
        self.figures.each.iter().flatten().count()
    }
}

/// The figures in the wanted terms; without a wish, or where that gives too few, in those that more scans have.
pub fn measured(
    book: &Notebook,
    document: &TrialDocument,
    job: Option<&Job>,
    wish: &str,
) -> Result<Measured, PageError> {
    let mut all = Vec::new();
    for scan in &document.scans {
        all.push(candidates(&book.measurements(ScanId(scan.scan))?));
    }
    let kit = read_kit(book)?;
    let fineness = job.and_then(|job| need_for(job, &kit)).map(|need| Measure::ContrastAt(need.on_subject_lp_mm()));
    let of = |measure| Measured { figures: figures(document, &all, measure), measure };
    let (contrast, half) = (fineness.map(of), of(Measure::HalfContrast));
    Ok(match (contrast, wish) {
        (None, _) | (Some(_), "half") => half,
        (Some(contrast), "contrast") => contrast,
        (Some(contrast), _) => {
            if contrast.there() >= half.there() {
                contrast
            } else {
                half
            }
        }
    })
}

/// The one sentence that counts.
pub fn headline(outcome: &OutcomeDocument) -> String {
    let better: Vec<&PairDocument> = outcome.pairs.iter().filter(|pair| pair.settled == "better").collect();
    if let Some(why) = &outcome.no_scale {
        return sentence(&format!("There is no scale: {why}"));
    }
    let best = &outcome.items[0].name;
    let over = better.iter().filter(|pair| pair.items[0] == 0).count();
    match (over, outcome.items.len() - 1) {
        (0, _) => "The picks do not settle which is best.".into(),
        (over, others) if over == others && others == 1 => format!("{best} is better than the other."),
        (over, others) if over == others => format!("{best} is better than all others."),
        (over, others) => format!("{best} leads, and is surely better than {over} of the {others} others."),
    }
}

/// Whether there were enough picks, in a sentence.
pub fn enough(outcome: &OutcomeDocument, open: usize) -> String {
    let pairs = fmt::count(outcome.pairs.len(), "pair", "pairs");
    if open == 0 {
        return format!("All {pairs} are settled: more picks would change nothing.");
    }
    let never = match outcome.never {
        0 => String::new(),
        n => format!(
            " {} so near the limit of a difference worth having that not even a thousand picks would settle it.",
            fmt::count(n, "pair is", "pairs are")
        ),
    };
    let more = match outcome.more {
        Some(more) if more > 0 => format!(
            " About {} would settle what picks can settle, four times out of five for each pair, if the truth is what it looks like now.",
            fmt::count(more as usize, "more pick", "more picks")
        ),
        _ => String::new(),
    };
    format!("{open} of {pairs} are not settled.{more}{never}")
}

/// Consistency, in sentences.
pub fn steady(outcome: &OutcomeDocument) -> Vec<String> {
    let mut lines = Vec::new();
    lines.push(match outcome.repeated {
        Some((repeats, same)) => format!(
            "{} of a pair that had been shown before: {} of them said the same again.",
            fmt::count(repeats as usize, "pick was", "picks were"),
            fmt::percent(same)
        ),
        None => "No pair was shown twice, so that nothing can be said of how the same pair is picked again.".into(),
    });
    lines.extend(outcome.fits_one_scale.map(|p| {
        if p < 0.05 {
            format!("The picks go round in circles more than chance does ({} of trials would): perhaps more than one thing was judged.", fmt::percent(p))
        } else {
            format!("The picks fit one scale: {} of trials that follow it would be as much at odds with it.", fmt::percent(p))
        }
    }));
    lines.extend(outcome.side.map(|side| match (side.low, side.high) {
        (Some(low), _) if low > 0.0 => {
            "The left picture was preferred, whatever it showed; as sides were balanced, the scale holds.".into()
        }
        (_, Some(high)) if high < 0.0 => {
            "The right picture was preferred, whatever it showed; as sides were balanced, the scale holds.".into()
        }
        _ => "Neither side was preferred for being that side.".to_owned(),
    }));
    lines
}

/// How far eye and instrument agree, in plain words.
pub fn agreement_words(outcome: &OutcomeDocument, eye: &EyeDocument, figure: &str) -> String {
    let k = eye.kendall;
    let rank = format!(
        "The rank correlation (Kendall) of what was liked with the {figure} is {}, 95 % interval {}: ",
        fmt::figure(k.value, 2),
        span(k)
    );
    let plain = match (k.low, k.high) {
        (Some(low), _) if low > 0.0 => "the eye likes more what measures higher.",
        (_, Some(high)) if high < 0.0 => "the eye likes less what measures higher: something else decides.",
        _ => "whether the eye follows the instrument cannot be told from these.",
    };
    let name = |item: usize| outcome.items[item].name.as_str();
    let pairs = format!(
        " They surely agree on {} and surely disagree on {}; of {} one of them cannot tell.",
        fmt::count(eye.agree, "pair", "pairs"),
        fmt::count(eye.disagree.len(), "pair", "pairs"),
        eye.open
    );
    let which: Vec<String> = eye.disagree.iter().map(|[a, b]| format!("{} and {}", name(*a), name(*b))).collect();
    let which = if which.is_empty() { String::new() } else { format!(" Opposite orders: {}.", which.join("; ")) };
    format!("{rank}{plain}{pairs}{which}")
}

/// The two ends of an interval.
pub fn span(range: RangeDocument) -> String {
    let end = |end: Option<f64>, none: &str| end.map_or(none.into(), |end| fmt::figure(end, 2));
    format!("{} to {}", end(range.low, "no bound"), end(range.high, "no bound"))
}
