//! What a trial came to: one document for the page, the report and whoever reads on.

use serde::Serialize;
use verdict::paired::{
    Agreement, AgreementError, FitError, FitOptions, FitRemark, Interval, MeetingAnswer, PairedFit, Pick, Reading,
    Seen, Settled, agreement, balance, check_fit, fit,
};

use super::course::Course;
use super::document::TrialDocument;
use super::eye::Figures;

/// A figure with its 95 % interval; an end is `null` where nothing bounds it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RangeDocument {
    /// The figure.
    pub value: f64,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

impl From<Interval> for RangeDocument {
    fn from(i: Interval) -> Self {
        let finite = |end: f64| Some(end).filter(|end| end.is_finite());
        Self { value: i.value, low: finite(i.low), high: finite(i.high) }
    }
}

/// One scan on the scale.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ItemDocument {
    /// Its number in the notebook.
    pub scan: i64,
    /// The name of its file.
    pub name: String,
    /// Its set-up in words.
    pub set_up: String,
    /// Strength against the mean of all, log-odds; absent while there is no scale.
    pub strength: Option<RangeDocument>,
    /// Picks won.
    pub won: u32,
    /// Picks lost.
    pub lost: u32,
    /// "No difference".
    pub same: u32,
}

/// One pair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairDocument {
    /// The two, as places in `items`; the stronger first.
    pub items: [usize; 2],
    /// How often they were shown together.
    pub shown: u32,
    /// How much stronger the first is, log-odds.
    pub difference: RangeDocument,
    /// The chance that it is stronger at all.
    pub first_stronger: f64,
    /// "better" (the first), "no difference" or "open".
    pub settled: &'static str,
    /// Picks of this pair that would settle it; absent when settled, or when no bearable number would.
    pub more: Option<u32>,
}

/// Eye against instrument.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EyeDocument {
    /// The items that have a figure, as places in `items`.
    pub items: Vec<usize>,
    /// Kendall's rank correlation.
    pub kendall: RangeDocument,
    /// Spearman's rank correlation.
    pub spearman: RangeDocument,
    /// Pairs on which both surely agree.
    pub agree: usize,
    /// Pairs that they surely put in opposite orders, as places in `items`.
    pub disagree: Vec<[usize; 2]>,
    /// Pairs of which one of the two cannot tell.
    pub open: usize,
}

/// What a trial came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OutcomeDocument {
    /// What was asked, in the person's words.
    pub question: String,
    /// Where the pieces lay.
    pub place: String,
    /// The scans, the best liked first.
    pub items: Vec<ItemDocument>,
    /// All pairs; empty while there is no scale.
    pub pairs: Vec<PairDocument>,
    /// Picks made.
    pub picks: usize,
    /// Of them "no difference".
    pub same: u32,
    /// Why there is no scale.
    pub no_scale: Option<String>,
    /// Picks that would settle what picks can settle; absent while there is no scale.
    pub more: Option<u32>,
    /// Pairs that no bearable number of picks would settle.
    pub never: usize,
    /// Pairs shown more than once, and of their repeated picks the share that said the same as the pick before.
    pub repeated: Option<(u32, f64)>,
    /// The chance of picks as much at odds with one scale as these, if there is one.
    pub fits_one_scale: Option<f64>,
    /// The left picture's advantage, log-odds.
    pub side: Option<RangeDocument>,
    /// Eye against instrument, where three scans at least have a figure.
    pub eye: Option<EyeDocument>,
    /// Reservations, as sentences.
    pub remarks: Vec<String>,
}

/// Trials drawn to test the fit, and worlds drawn for the rank correlation.
const DRAWS: usize = 400;
const WORLDS: usize = 2000;

/// Works out what a trial came to, with the measured figures of its scans where there are any.
pub fn outcome(trial: &TrialDocument, course: &Course, measured: Option<&Figures>) -> OutcomeDocument {
    let order = order(trial, course);
    let rank = |item: usize| order.iter().position(|o| *o == item).unwrap_or(item);
    let (more, never) = course.more().map_or((None, 0), |(more, never)| (Some(more), never));
    let said = balance(course.items, &course.picks).said;
    let scale = course.fit().ok();
    OutcomeDocument {
        question: trial.question.clone(),
        place: trial.place.clone(),
        items: order.iter().map(|item| item_of(trial, course, *item)).collect(),
        pairs: pairs(course, rank),
        picks: course.picks.len(),
        same: said.2,
        no_scale: course.fit().err().map(no_scale),
        more,
        never,
        repeated: repeated(&course.picks),
        fits_one_scale: scale.filter(|_| course.items > 2).map(|scale| check_fit(scale, DRAWS, 1).by_simulation),
        side: side(course),
        eye: measured.and_then(|figures| eye(course, figures, rank)),
        remarks: scale.map(|scale| remarks(trial, scale)).unwrap_or_default(),
    }
}

/// The items from the strongest to the weakest; without a scale as they are.
fn order(trial: &TrialDocument, course: &Course) -> Vec<usize> {
    let mut order: Vec<usize> = (0..trial.scans.len()).collect();
    if let Ok(scale) = course.fit() {
        order.sort_by(|a, b| scale.strengths[*b].value.total_cmp(&scale.strengths[*a].value));
    }
    order
}

fn item_of(trial: &TrialDocument, course: &Course, item: usize) -> ItemDocument {
    let mut counts = [0; 3];
    for pick in course.picks.iter().filter(|pick| pick.left == item || pick.right == item) {
        counts[match pick.seen {
            Seen::NoDifference => 2,
            Seen::Left if pick.left == item => 0,
            Seen::Right if pick.right == item => 0,
            _ => 1,
        }] += 1;
    }
    let scan = &trial.scans[item];
    ItemDocument {
        scan: scan.scan,
        name: scan.name.clone(),
        set_up: scan.set_up.clone(),
        strength: course.fit().ok().map(|scale| scale.strengths[item].into()),
        won: counts[0],
        lost: counts[1],
        same: counts[2],
    }
}

fn pairs(course: &Course, rank: impl Fn(usize) -> usize) -> Vec<PairDocument> {
    let Ok(scale) = course.fit() else { return Vec::new() };
    let mut pairs: Vec<PairDocument> = course
        .states()
        .iter()
        .map(|state| {
            let (a, b) = state.items;
            let turned = rank(b) < rank(a);
            let (first, second) = if turned { (b, a) } else { (a, b) };
            let (settled, more) = match state.settled {
                Settled::Better(_) => ("better", None),
                Settled::NoDifference => ("no difference", None),
                Settled::Open { more } => ("open", more),
            };
            PairDocument {
                items: [rank(first), rank(second)],
                shown: state.shown,
                difference: scale.difference(first, second).into(),
                first_stronger: if turned { 1.0 - state.first_stronger } else { state.first_stronger },
                settled,
                more,
            }
        })
        .collect();
    pairs.sort_by_key(|pair| pair.items);
    pairs
}

fn no_scale(why: &FitError) -> String {
    match why {
        FitError::OnlyTies { picks } => {
            format!("all {picks} picks say “no difference”, so there is nothing to put on a scale")
        }
        FitError::NotConnected { .. } => "the picks so far do not join all scans, not even through others".into(),
        other => other.to_string(),
    }
}

/// How often a pick of a pair said the same as the pick of that pair before it.
fn repeated(picks: &[Pick]) -> Option<(u32, f64)> {
    let better = |pick: &Pick| match pick.seen {
        Seen::Left => Some(pick.left),
        Seen::Right => Some(pick.right),
        Seen::NoDifference => None,
    };
    let pair = |pick: &Pick| (pick.left.min(pick.right), pick.left.max(pick.right));
    let before = |i: usize| picks[..i].iter().rev().find(|old| pair(old) == pair(&picks[i]));
    let repeats: Vec<bool> = (0..picks.len()).filter_map(|i| Some(better(before(i)?) == better(&picks[i]))).collect();
    let same = repeats.iter().filter(|same| **same).count();
    (!repeats.is_empty()).then(|| (repeats.len() as u32, same as f64 / repeats.len() as f64))
}

/// Fewer picks say nothing of a preference for one side.
const FEWEST_FOR_SIDE: usize = 12;

fn side(course: &Course) -> Option<RangeDocument> {
    if course.picks.len() < FEWEST_FOR_SIDE {
        return None;
    }
    let with_side = fit(course.items, &course.picks, &FitOptions { side: true, ..FitOptions::default() });
    with_side.ok()?.side.map(Into::into)
}

/// The scale anew from the picks among the scans that have a figure, against those figures.
fn eye(course: &Course, figures: &Figures, rank: impl Fn(usize) -> usize) -> Option<EyeDocument> {
    let with: Vec<usize> = (0..course.items).filter(|item| figures.each[*item].is_some()).collect();
    let place = |item: usize| with.iter().position(|w| *w == item);
    let among = course
        .picks
        .iter()
        .filter_map(|pick| Some(Pick { left: place(pick.left)?, right: place(pick.right)?, seen: pick.seen }));
    let scale = fit(with.len(), &among.collect::<Vec<_>>(), &FitOptions::default()).ok()?;
    let reading = Reading {
        figures: with.iter().filter_map(|item| figures.each[*item].as_ref().map(|f| f.0)).collect(),
        more_is_better: true,
    };
    let found: Result<Agreement, AgreementError> = agreement(&scale, &reading, WORLDS, 1);
    let Agreement { kendall, spearman, pairs } = found.ok()?;
    let count = |answer: MeetingAnswer| pairs.iter().filter(|pair| pair.answer == answer).count();
    let ranked = |(a, b): (usize, usize)| {
        let both = [rank(with[a]), rank(with[b])];
        [both[0].min(both[1]), both[0].max(both[1])]
    };
    let disagree = pairs.iter().filter(|pair| pair.answer == MeetingAnswer::Disagree).map(|pair| ranked(pair.items));
    Some(EyeDocument {
        items: with.iter().map(|item| rank(*item)).collect(),
        kendall: kendall.into(),
        spearman: spearman.into(),
        agree: count(MeetingAnswer::Agree),
        disagree: disagree.collect(),
        open: count(MeetingAnswer::Open),
    })
}

fn remarks(trial: &TrialDocument, scale: &PairedFit) -> Vec<String> {
    let name = |item: usize| trial.scans[item].name.clone();
    let sentence = |remark: &FitRemark| match *remark {
        FitRemark::PriorUsed { sd } => format!(
            "The picks alone would put a scan infinitely far off, so that strengths were taken to differ by no more than \
             people's usually do (normal about the mean, {sd} log-odds)."
        ),
        FitRemark::NeverLost { item } => format!("{} won every pick.", name(item)),
        FitRemark::NeverWon { item } => format!("{} lost every pick.", name(item)),
    };
    scale.remarks.iter().map(sentence).collect()
}
