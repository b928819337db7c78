//! Every set-up against every use, and how single figures read.

use optics::Estimate;
use verdict::Answer;
use verdict::enough::{Basis, Bound, Dossier, Figure, Finding, Measured, Predicted, Quantity, RuleError, Ruling, rule};

use super::candidates::Candidate;
use super::figures::{Placed, measured};
use super::uses::{Stated, amount, to_subject};
use crate::documents::verdict::{Evidence, FigureDocument, FindingDocument, LimitDocument};
use crate::documents::{Asked, Measured as Figured};
use crate::web::fmt;

/// Uses, set-ups and all rulings.
#[derive(Debug, Clone)]
pub struct Judged {
    /// The uses.
    pub uses: Vec<Stated>,
    /// The set-ups.
    pub candidates: Vec<Candidate>,
    /// What is known of each set-up, with places in words: measured, predicted.
    pub known: Vec<[Vec<Placed>; 2]>,
    /// The same as the judging crate takes it.
    pub dossiers: Vec<Dossier>,
    /// By use, then by set-up.
    pub rulings: Vec<Vec<Ruling>>,
}

impl Judged {
    /// Judges every set-up for every use.
    pub fn new(uses: Vec<Stated>, candidates: Vec<Candidate>, sure: f64) -> Result<Self, RuleError> {
        let wanted = wanted(&uses);
        let known: Vec<[Vec<Placed>; 2]> = candidates.iter().map(|candidate| known_of(candidate, &wanted)).collect();
        let dossiers: Vec<Dossier> = candidates.iter().zip(&known).map(|(c, known)| dossier(c, known)).collect();
        let of_use = |stated: &Stated| dossiers.iter().map(|dossier| rule(&stated.use_, dossier, sure)).collect();
        let rulings = uses.iter().map(of_use).collect::<Result<_, _>>()?;
        Ok(Self { uses, candidates, known, dossiers, rulings })
    }

    /// Index of a set-up by its id.
    pub fn candidate(&self, id: &str) -> Option<usize> {
        self.candidates.iter().position(|candidate| candidate.id == id)
    }

    /// Index of a use by its id.
    pub fn use_at(&self, id: &str) -> Option<usize> {
        self.uses.iter().position(|stated| stated.id == id)
    }

    /// The name of a set-up.
    pub fn name(&self, id: &str) -> &str {
        self.candidate(id).map_or("", |at| &self.candidates[at].name)
    }

    /// A figure with its place in words.
    fn placed(&self, candidate: usize, basis: Basis, figure: usize) -> &Placed {
        let [measured, predicted] = &self.known[candidate];
        match basis {
            Basis::Measured => &measured[figure],
            Basis::Predicted => &predicted[figure],
        }
    }

    /// For each limit of which anything is known, what meets it least surely.
    pub fn findings(&self, use_: usize, candidate: usize) -> Vec<FindingDocument> {
        let ruling = &self.rulings[use_][candidate];
        let least = |limit: usize| {
            let of_limit = ruling.findings.iter().filter(|finding| finding.requirement == limit);
            of_limit.min_by(|a, b| a.safety().total_cmp(&b.safety()))
        };
        let limits = 0..self.uses[use_].limits.len();
        limits.filter_map(least).map(|finding| self.finding(use_, candidate, finding)).collect()
    }

    /// The finding that is met least surely of all.
    pub fn weakest(&self, use_: usize, candidate: usize) -> Option<FindingDocument> {
        Some(self.finding(use_, candidate, self.rulings[use_][candidate].weakest()?))
    }

    fn finding(&self, use_: usize, candidate: usize, finding: &Finding) -> FindingDocument {
        let stated = &self.uses[use_];
        let asked = stated.limits[finding.requirement].asked.quantity;
        let factor = to_subject(asked, stated.need.magnification());
        let placed = self.placed(candidate, finding.basis, finding.figure);
        let Estimate { value, plus_minus } = placed.figure.estimate();
        FindingDocument {
            limit: finding.requirement,
            figure: Figured { value: value / factor, plus_minus: plus_minus / factor },
            bound: bound_words(placed.figure.only).into(),
            at: placed.figure.at,
            basis: basis_words(finding.basis).into(),
            probability: finding.probability,
            evidence: self.evidence(candidate, placed),
        }
    }

    /// What a figure rests on, in words.
    pub fn evidence(&self, candidate: usize, placed: &Placed) -> Vec<Evidence> {
        placed.figure.evidence.iter().map(|page| self.shown(candidate, page, &placed.place)).collect()
    }

    fn shown(&self, candidate: usize, page: &str, place: &str) -> Evidence {
        let scan = page.strip_prefix("/scans/").and_then(|rest| rest.split(['/', '#']).next());
        let frames = &self.candidates[candidate].frames;
        let shows = |taken: &&super::candidates::Taken| {
            taken.scans.iter().any(|shown| Some(shown.id.to_string().as_str()) == scan)
        };
        let words = match frames.iter().find(shows) {
            Some(taken) if place.is_empty() => taken.name.clone(),
            Some(taken) => format!("{}, {place}", taken.name),
            None if !place.is_empty() => "traced through a form".into(),
            None => "worked out of the kit".into(),
        };
        Evidence { words, page: page.into() }
    }

    /// All figures of a set-up, for the document.
    pub fn figures(&self, candidate: usize) -> Vec<FigureDocument> {
        let [measured, predicted] = &self.known[candidate];
        let of = |basis: Basis| move |placed: &Placed| (basis, placed.clone());
        let all = measured.iter().map(of(Basis::Measured)).chain(predicted.iter().map(of(Basis::Predicted)));
        all.map(|(basis, placed)| self.figure(candidate, basis, &placed)).collect()
    }

    fn figure(&self, candidate: usize, basis: Basis, placed: &Placed) -> FigureDocument {
        let Estimate { value, plus_minus } = placed.figure.estimate();
        FigureDocument {
            what: what(placed.figure.quantity),
            figure: Figured { value, plus_minus },
            bound: bound_words(placed.figure.only).into(),
            place: placed.place.clone(),
            at: placed.figure.at,
            basis: basis_words(basis).into(),
            shares: placed.figure.shared.iter().map(|cause| cause.name.clone()).collect(),
            evidence: self.evidence(candidate, placed),
        }
    }
}

/// Every quantity that any use asks for, each once; the magnification besides, which is always told.
fn wanted(uses: &[Stated]) -> Vec<Quantity> {
    let mut wanted = vec![Quantity::Magnification];
    for requirement in uses.iter().flat_map(|stated| &stated.use_.requirements) {
        if !wanted.iter().any(|known| known.is_same(requirement.quantity)) {
            wanted.push(requirement.quantity);
        }
    }
    wanted
}

fn known_of(candidate: &Candidate, wanted: &[Quantity]) -> [Vec<Placed>; 2] {
    let scans: Vec<_> = candidate.observed.iter().collect();
    let asked = |placed: &&Placed| wanted.iter().any(|quantity| quantity.is_same(placed.figure.quantity));
    let predicted = candidate.predicted.iter().filter(asked).cloned().collect();
    [measured(&scans, wanted, candidate.frame_short_mm), predicted]
}

fn dossier(candidate: &Candidate, [measured, predicted]: &[Vec<Placed>; 2]) -> Dossier {
    let figures = |placed: &[Placed]| placed.iter().map(|placed| placed.figure.clone()).collect::<Vec<Figure>>();
    Dossier {
        set_up: candidate.id.clone(),
        measured: figures(measured).into_iter().map(Measured).collect(),
        predicted: figures(predicted).into_iter().map(Predicted).collect(),
    }
}

fn bound_words(only: Option<Bound>) -> &'static str {
    match only {
        Some(Bound::AtLeast) => "at least",
        Some(Bound::AtMost) => "at most",
        None => "",
    }
}

/// "measured" or "predicted".
pub fn basis_words(basis: Basis) -> &'static str {
    match basis {
        Basis::Measured => "measured",
        Basis::Predicted => "predicted",
    }
}

/// "serves", "falls short" or "undecided".
pub fn answer_words(answer: Answer) -> &'static str {
    match answer {
        Answer::Serves => "serves",
        Answer::FallsShort => "falls short",
        Answer::Undecided => "undecided",
    }
}

/// What a figure on the subject is, with its unit.
fn what(quantity: Quantity) -> String {
    match quantity {
        Quantity::Resolution { contrast } => {
            format!("resolution on the subject with {} of the contrast left, lp/mm", fmt::percent(contrast))
        }
        Quantity::Contrast { lp_mm } => {
            format!("share of contrast left at {} lp/mm on the subject", fmt::figure(lp_mm, 3))
        }
        Quantity::Fringing => "colour fringing on the subject, µm".into(),
        Quantity::Glare => "veiling glare, share of white".into(),
        Quantity::Unevenness => "fall-off, stops".into(),
        Quantity::WorkingDistance => "room in front, mm".into(),
        Quantity::LightLost => "light lost, stops".into(),
        Quantity::Magnification => "size on film over size of the subject".into(),
        Quantity::Field => "shorter side of the field, mm".into(),
        _ => "another figure".into(),
    }
}

/// A figure against its limit in words: "30.1 ± 2.0 lp/mm on film at the corner".
pub fn figure_words(limit: &LimitDocument, finding: &FindingDocument) -> String {
    let (asked, figure) = (limit.asked.quantity, finding.figure);
    let shown = match asked {
        Asked::Contrast | Asked::Glare => fmt::likely(100.0 * figure.value, 100.0 * figure.plus_minus, "%"),
        Asked::Resolution | Asked::Fringing => fmt::likely(figure.value, figure.plus_minus, asked.unit()),
        other => fmt::measured_with(figure.value, Some(figure.plus_minus), other.unit()),
    };
    let of = match asked {
        Asked::Resolution => " on film",
        Asked::Contrast => " of the contrast",
        Asked::Fringing => " of colour",
        Asked::Glare => " of glare",
        Asked::Unevenness => " of fall-off",
        Asked::WorkingDistance => " of room",
        Asked::LightLost => " of light lost",
        Asked::Field => " in the frame",
    };
    let bound = if finding.bound.is_empty() { String::new() } else { format!("{} ", finding.bound) };
    let place = finding.at.map_or(String::new(), |at| format!(" {}", place_words(at)));
    format!("{bound}{shown}{of}{place}")
}

/// The limit's figure alone: "25 lp/mm".
pub fn limit_words(limit: &LimitDocument) -> String {
    amount(limit.asked.quantity, limit.asked.limit)
}

/// Where in the frame, as a photographer says it.
pub fn place_words(at: f64) -> &'static str {
    match at {
        near if near < 0.12 => "in the middle",
        inner if inner < 0.55 => "half-way out",
        side if side < 0.78 => "at the side",
        _ => "in the corner",
    }
}

/// A chance in words.
pub fn chance(p: f64) -> String {
    match p {
        p if p.is_nan() => "unknown".into(),
        p if p > 0.99 => "more than 99\u{a0}%".into(),
        p if p < 0.01 => "less than 1\u{a0}%".into(),
        p => format!("{:.0}\u{a0}%", 100.0 * p),
    }
}
