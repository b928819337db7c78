//! The verdict: printed by `verdict --json`, shown by its pages, kept in reports.
//!
//! Figures on film are given at the size that the use's job wants, whatever size the frame was taken at: line pairs of the subject are
//! what is compared. Ids of uses are "use-3" (stated in the notebook) or "job-1" (worked out of the job); ids of set-ups are "set-up-1"
//! and so on, by this document alone. Addresses of evidence are those of the program's own pages.

use serde::{Deserialize, Serialize};

use super::foreseen::ForeseenDocument;
use super::frame::Measured;
use super::uses::RequirementDocument;

/// The version of [`VerdictDocument`] that this program writes.
pub const VERDICT_VERSION: u32 = 1;

/// What serves, what each part is good for, the cheapest kit, and how sure.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VerdictDocument {
    /// [`VERDICT_VERSION`] when it was made.
    pub version: u32,
    /// Which program in which version made it.
    pub made_by: String,
    /// The question, in one sentence.
    pub question: String,
    /// Whether all jobs are weighed together; else one of them.
    pub whole_drawer: bool,
    /// The jobs whose uses are judged.
    pub jobs: Vec<NamedJob>,
    /// How it was decided.
    pub settings: VerdictSettings,
    /// The verdict in sentences, in the order to be read.
    pub sentences: Vec<Sentence>,
    /// For every use, what it asks for and what serves it, best first.
    pub uses: Vec<UseStanding>,
    /// Every set-up that comes into question, with its figures.
    pub set_ups: Vec<JudgedSetUp>,
    /// What each part of those set-ups is good for.
    pub parts: Vec<JudgedPart>,
    /// The cheapest kit that still serves every use; absent when nothing can be decided.
    pub kit: Option<ChosenKit>,
    /// What buying one part would bring.
    pub purchases: Vec<Purchase>,
    /// How sure the kit is; absent without a kit.
    pub worlds: Option<WorldShares>,
    /// What was and was not known of prices.
    pub money: Money,
    /// Scans, frames, uses and parts that say nothing here, each with the reason and what to do.
    pub silent: Vec<Silent>,
    /// What tracing predicts, apart from all of the above; absent where it was not asked for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub foreseen: Option<ForeseenDocument>,
}

/// A job.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NamedJob {
    /// Its number.
    pub id: i64,
    /// Its title.
    pub title: String,
}

/// How a verdict is reached.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct VerdictSettings {
    /// The probability from which a set-up counts as serving.
    pub sure: f64,
    /// Worlds drawn from the doubts.
    pub worlds: usize,
    /// Which ones.
    pub seed: u64,
}

impl Default for VerdictSettings {
    fn default() -> Self {
        Self { sure: 0.95, worlds: 500, seed: 1 }
    }
}

/// One thing said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sentence {
    /// What sort of thing.
    pub kind: SentenceKind,
    /// The sentence, or two.
    pub text: String,
    /// Ids of the use, set-up and part that it is about.
    pub about: Vec<String>,
    /// What it rests on.
    pub evidence: Vec<Evidence>,
}

/// What a sentence says, in the order to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SentenceKind {
    /// The best set-up for a use.
    Best,
    /// None surely serves a use, and one may.
    Perhaps,
    /// Nothing serves a use.
    NotServed,
    /// Keep parts.
    Keep,
    /// A part could go.
    CouldGo,
    /// What buying would bring.
    Buy,
    /// How sure all of it is.
    Sure,
    /// Prices are missing or do not go together.
    Prices,
    /// Why nothing, or not more, can be said.
    Note,
}

/// Something that a figure rests on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Evidence {
    /// What, in words: "frame 3, corner".
    pub words: String,
    /// Where it is shown, as a path of the pages: "/scans/4#m12".
    pub page: String,
}

/// One use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UseStanding {
    /// "use-3" or "job-1".
    pub id: String,
    /// Its number in the notebook; absent when it was worked out of the job.
    pub number: Option<i64>,
    /// Number of its job.
    pub job: i64,
    /// What it is called.
    pub title: String,
    /// Size on film over size of the subject that its job wants.
    pub magnification: f64,
    /// From the print to film and subject, step by step, in words; empty where nothing that it asks is seen in a print.
    #[serde(default)]
    pub reckoned: String,
    /// What it asks for.
    pub limits: Vec<LimitDocument>,
    /// "served", "perhaps" or "not served"; absent where there is nothing to judge.
    pub standing: Option<String>,
    /// Set-ups, best first.
    pub ranked: Vec<RankedDocument>,
}

/// A limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LimitDocument {
    /// As it is judged by: in film's terms, whatever terms it was given in.
    #[serde(flatten)]
    pub asked: RequirementDocument,
    /// As stated and as judged by, in words.
    pub words: String,
    /// Whether it comes from the job (room in front, light, the subject in the frame) and not from the use.
    pub from_job: bool,
}

/// A set-up against a use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RankedDocument {
    /// The set-up's id.
    pub set_up: String,
    /// "serves", "falls short" or "undecided".
    pub answer: String,
    /// The chance that it meets everything; with something missing, the most that it can be.
    pub probability: f64,
    /// Why it stands above the next, in words; empty for the last.
    pub why: String,
    /// For each limit of which anything is known, the figure that meets it least surely.
    pub findings: Vec<FindingDocument>,
    /// What is not known.
    pub missing: Vec<MissingDocument>,
    /// What would decide it, the best first; empty when it is decided.
    pub decides: Vec<DecidesDocument>,
}

/// A figure against a limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FindingDocument {
    /// Index of the limit.
    pub limit: usize,
    /// The figure in the limit's unit, on film at the size wanted.
    pub figure: Measured,
    /// "at least" or "at most" where it is only a bound; empty otherwise.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub bound: String,
    /// Where in the frame, 0 (centre) to 1 (corner); absent for the whole.
    pub at: Option<f64>,
    /// "measured" or "predicted".
    pub basis: String,
    /// The chance that the limit is met there.
    pub probability: f64,
    /// What it rests on.
    pub evidence: Vec<Evidence>,
}

/// A limit of which something is not known.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MissingDocument {
    /// Index of the limit.
    pub limit: usize,
    /// Why, in words.
    pub why: String,
}

/// What would decide.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DecidesDocument {
    /// What to do, in a sentence.
    pub words: String,
    /// The chance that the verdict is decided by it at best; absent where something is missing.
    pub chance: Option<f64>,
    /// Where to do it, as a path of the pages.
    pub page: String,
}

/// A set-up.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JudgedSetUp {
    /// "set-up-1".
    pub id: String,
    /// Its name in a person's words.
    pub name: String,
    /// Parts from the body outwards, as on the command line.
    pub parts: Vec<String>,
    /// Where the lens was focused.
    pub focus: String,
    /// The engraved f-number.
    pub f_number: Option<f64>,
    /// Whether all of its parts are in the kit.
    pub owned: bool,
    /// Its frames, pooled.
    pub frames: Vec<FrameRef>,
    /// Size on film over size of the subject, as measured, else as worked out.
    pub magnification: Option<Measured>,
    /// Its figures.
    pub figures: Vec<FigureDocument>,
    /// Reservations: left-out places, predictions that measurements contradict.
    pub remarks: Vec<String>,
}

/// A frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FrameRef {
    /// Its number in the notebook.
    pub id: i64,
    /// Its number on the roll.
    pub number: u32,
    /// Number of its job.
    pub job: i64,
    /// What is on it.
    pub label: String,
    /// "planned" or "shot".
    pub state: String,
    /// Its scans' numbers.
    pub scans: Vec<i64>,
}

/// A figure of a set-up. Resolution and fringing are given on the subject here, so that they compare whatever the size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FigureDocument {
    /// Of what, with its unit: "resolution on the subject at 20 % of the contrast, lp/mm".
    pub what: String,
    /// The figure.
    pub figure: Measured,
    /// "at least" or "at most" where it is only a bound; empty otherwise.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub bound: String,
    /// Where in words; empty for the whole frame.
    pub place: String,
    /// Where in the frame, 0 to 1; absent for the whole.
    pub at: Option<f64>,
    /// "measured" or "predicted".
    pub basis: String,
    /// Names of doubts that it shares with other figures.
    pub shares: Vec<String>,
    /// What it rests on.
    pub evidence: Vec<Evidence>,
}

/// A part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JudgedPart {
    /// Its id in the kit.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Whether it is in the kit; else it is wished for.
    pub owned: bool,
    /// Its price in the currency of [`Money::currency`], where one is known.
    pub price: Option<f64>,
    /// Half-width of the price; 0 where it is known.
    #[serde(default)]
    pub price_plus_minus: f64,
    /// Whether the cheapest kit has it.
    pub kept: bool,
    /// Share of worlds in which the cheapest kit has it.
    pub kept_share: Option<f64>,
    /// Uses that are served now and would not be without it, each with what would come nearest.
    pub lost: Vec<LostUse>,
    /// Uses whose best set-up needs it and that another would still serve.
    pub weakened: Vec<WeakenedUse>,
    /// By how much the cheapest kit would tie up more without it.
    pub dearer_by: Option<f64>,
    /// Half-width of that.
    #[serde(default)]
    pub dearer_by_plus_minus: f64,
}

/// A use that would not be served any more.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LostUse {
    /// The use's id.
    pub use_id: String,
    /// Id of the set-up that comes nearest without the part.
    pub nearest: Option<String>,
    /// Its weakest figure.
    pub finding: Option<FindingDocument>,
}

/// A use that another set-up would serve.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WeakenedUse {
    /// The use's id.
    pub use_id: String,
    /// Id of its best set-up now.
    pub from: String,
    /// Id of its best set-up then.
    pub to: String,
    /// The chance that all is met, now and then.
    pub probability: [f64; 2],
}

/// A kit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChosenKit {
    /// Ids of the parts kept.
    pub parts: Vec<String>,
    /// What the priced ones among them tie up.
    pub worth: f64,
    /// Half-width of that, from the prices' own; 0 where all are known.
    #[serde(default)]
    pub worth_plus_minus: f64,
    /// Ids of those among them whose price is not known.
    pub unpriced: Vec<String>,
    /// Ids of the parts that no use needs.
    pub could_go: Vec<String>,
    /// What the priced ones of those would bring.
    pub would_bring: f64,
    /// Half-width of that.
    #[serde(default)]
    pub would_bring_plus_minus: f64,
    /// The kit that hangs on the fewest unknown prices, where it is another one.
    pub fewest_unpriced: Option<Vec<String>>,
    /// Ids of uses that nothing owned serves.
    pub unserved: Vec<String>,
    /// Parts that are owned and in no set-up that was tried: nothing can be said of them.
    pub untried: Vec<String>,
    /// Their names, in the same order.
    #[serde(default)]
    pub untried_names: Vec<String>,
}

/// A purchase.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Purchase {
    /// The part's id.
    pub part: String,
    /// What it costs.
    pub price: Option<f64>,
    /// Half-width of the price; 0 where it is known.
    #[serde(default)]
    pub price_plus_minus: f64,
    /// Ids of uses that are served with it and not without.
    pub newly_served: Vec<String>,
    /// Ids of uses that a set-up with it may serve, and that nothing serves without it: to be tried first.
    pub perhaps: Vec<String>,
    /// How much less the cheapest kit would tie up with it.
    pub frees: Option<f64>,
    /// Half-width of that.
    #[serde(default)]
    pub frees_plus_minus: f64,
    /// The cheapest kit with it.
    pub kit: Vec<String>,
}

/// Shares of worlds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WorldShares {
    /// Worlds drawn.
    pub drawn: usize,
    /// Share with the same cheapest kit.
    pub same_kit: f64,
    /// Share in which the kit serves everything that anything owned serves.
    pub nothing_lost: f64,
    /// For every use, by id, the share in which the kit serves it.
    pub served: Vec<(String, f64)>,
}

/// Prices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, Default)]
pub struct Money {
    /// The currency of every sum; empty where none was written beside the prices.
    pub currency: String,
    /// More than one: then nothing is summed.
    pub mixed: Vec<String>,
    /// Ids of parts without a price.
    pub missing: Vec<String>,
}

/// Something that says nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Silent {
    /// What.
    pub what: String,
    /// Why.
    pub why: String,
    /// What to do.
    pub next: String,
    /// Where, as a path of the pages.
    pub page: String,
}
