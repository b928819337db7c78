//! What tracing predicts of set-ups, as part of the verdict's document: apart from everything measured, and labelled so.

use serde::{Deserialize, Serialize};

use super::frame::Measured;
use super::verdict::{FigureDocument, FindingDocument, Sentence, Silent};

/// What is likely of set-ups that no frame shows. Every figure in it is predicted; its intervals are wide, and say why.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct ForeseenDocument {
    /// What these figures are and are not.
    pub label: String,
    /// Where their width comes from, and what they count in.
    pub reasons: Vec<String>,
    /// In the order to be read.
    pub sentences: Vec<Sentence>,
    /// Every use of which tracing tells something.
    pub uses: Vec<ForeseenUse>,
    /// Every set-up that was traced.
    pub set_ups: Vec<ForeseenSetUp>,
    /// Every part that is wished for.
    pub wishes: Vec<ForeseenWish>,
    /// The cheapest kit if predictions counted as frames do; absent where nothing can be decided.
    pub kit: Option<ForeseenKit>,
    /// How predictions stand beside what was measured; absent where nothing was measured that can be traced.
    pub check: Option<ForeseenCheck>,
    /// What cannot be traced, with the reason and what to do.
    pub silent: Vec<Silent>,
}

/// A use, by what tracing tells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenUse {
    /// As in the verdict.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Its limits that no tracing tells: a frame must.
    pub left_out: Vec<String>,
    /// Set-ups, the likeliest first.
    pub ranked: Vec<ForeseenRank>,
}

/// A set-up for a use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenRank {
    /// Id of the set-up in [`ForeseenDocument::set_ups`].
    pub set_up: String,
    /// "likely serves", "may serve" or "likely falls short".
    pub answer: String,
    /// The chance that it meets all that tracing tells.
    pub probability: f64,
    /// For each limit of which anything is known, the figure that meets it least surely. Indices are those of the use's limits in the
    /// verdict.
    pub findings: Vec<FindingDocument>,
    /// What could not be traced of it.
    pub missing: Vec<String>,
}

/// A set-up that was traced.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenSetUp {
    /// "predicted-1".
    pub id: String,
    /// In a person's words.
    pub name: String,
    /// From the body outwards.
    pub parts: Vec<String>,
    /// Where the lens is focused.
    pub focus: String,
    /// The engraved f-number.
    pub f_number: Option<f64>,
    /// Whether all of it is there.
    pub owned: bool,
    /// Whether a frame was planned or taken with it.
    pub tried: bool,
    /// For each lens the form that stands for it.
    pub forms: Vec<[String; 2]>,
    /// Forms that stood in their place for the interval.
    pub others: Vec<String>,
    /// Size on film over size of the subject.
    pub magnification: Option<Measured>,
    /// Its figures on the subject.
    pub figures: Vec<FigureDocument>,
}

/// A part that is wished for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenWish {
    /// Its id.
    pub part: String,
    /// What it is called.
    pub name: String,
    /// What it costs.
    pub price: Option<f64>,
    /// Half-width of the price; 0 where it is known.
    #[serde(default)]
    pub price_plus_minus: f64,
    /// What it would do for each use.
    pub uses: Vec<ForeseenGain>,
    /// Why nothing can be said of it; empty where something is.
    pub why_not: String,
}

/// What a part would do for a use.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenGain {
    /// The use.
    pub use_id: String,
    /// The likeliest set-up with the part.
    pub set_up: String,
    /// Its chance.
    pub probability: f64,
    /// Its tightest figure.
    pub finding: Option<FindingDocument>,
    /// The likeliest set-up of what is owned, by prediction too; absent where none can be traced.
    pub without: Option<ForeseenWithout>,
}

/// The likeliest set-up without a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenWithout {
    /// The set-up.
    pub set_up: String,
    /// Its chance.
    pub probability: f64,
    /// Its tightest figure.
    pub finding: Option<FindingDocument>,
}

/// A kit chosen with predictions beside frames.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenKit {
    /// Ids of its parts.
    pub parts: Vec<String>,
    /// What the priced ones tie up.
    pub worth: f64,
    /// Half-width of that.
    #[serde(default)]
    pub worth_plus_minus: f64,
    /// Ids of those without a price.
    pub unpriced: Vec<String>,
    /// Ids of owned parts that no use needs then.
    pub could_go: Vec<String>,
    /// Ids of uses that nothing owned serves even so.
    pub unserved: Vec<String>,
}

/// Predictions beside measurements of the same set-ups.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ForeseenCheck {
    /// Set-ups that were both measured and traced.
    pub set_ups: usize,
    /// Measured figures that were predicted as well.
    pub figures: usize,
    /// Those of them that lie within the predicted interval, their own doubt counted.
    pub within: usize,
    /// Middle of measured over predicted resolution.
    pub resolution_ratio: Option<f64>,
}
