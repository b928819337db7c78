//! Why there is no plan.

use crate::words::{figure, pair, percent};

/// Two magnifications, apart as far as they are.
pub(super) fn place(p: f64, q: f64) -> [String; 2] {
    pair(p, q)
}

/// Why a test cannot be planned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TestRollError {
    /// Nothing to test.
    #[error("no set-up is chosen; choose one at least, two to compare")]
    NoSetUps,
    /// More than a test can hold.
    #[error("{found} set-ups are chosen, and a test holds {most} at most: choose those that the question is about")]
    TooManySetUps {
        /// How many.
        found: usize,
        /// How many there may be.
        most: usize,
    },
    /// The same set-up is there twice.
    #[error("{name} is chosen twice; take one of them out: takes of one set-up are repeated by the plan itself")]
    Twice {
        /// Its name.
        name: String,
    },
    /// Magnifications that cannot be.
    #[error("{name} is said to reach magnifications from {least} to {largest}; check its parts")]
    Span {
        /// Its name.
        name: String,
        /// From.
        least: f64,
        /// To.
        largest: f64,
    },
    /// No size in common.
    #[error("the set-ups share no magnification within {} of the {}× that the job asks for: {}; change their tubes, or test those that meet", percent(*.farthest), figure(*.wanted), reached_words(.reached))]
    NothingShared {
        /// What the job asks for.
        wanted: f64,
        /// How far a group may stand from it, as a share.
        farthest: f64,
        /// What comes nearest to that: names and magnifications.
        reached: Vec<(String, f64)>,
    },
    /// No aperture that a comparison could be made at.
    #[error("no two set-ups can be set to the same effective f-number {}: {}", .asked, .why)]
    NoAperture {
        /// The effective f-numbers asked for, in words.
        asked: String,
        /// What their rings give.
        why: String,
    },
    /// No frame to plan on.
    #[error("the rolls at hand have no frame left; add a roll")]
    NoFrames,
    /// More than can be planned.
    #[error("the rolls at hand hold {found} frames, and a test is planned on {most} at most; take fewer rolls")]
    TooManyFrames {
        /// How many.
        found: usize,
        /// How many there may be.
        most: usize,
    },
    /// A figure that cannot be.
    #[error("{0}")]
    OutOfRange(#[from] crate::OutOfRange),
}

fn reached_words(reached: &[(String, f64)]) -> String {
    let one = |(name, magnification): &(String, f64)| format!("{name} comes to {}×", figure(*magnification));
    let all: Vec<String> = reached.iter().map(one).collect();
    if all.is_empty() { "none gives a picture".into() } else { all.join(", ") }
}
