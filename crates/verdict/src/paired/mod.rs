//! Paired comparisons: picks made with the names hidden become a scale with intervals.
//!
//! The model is Davidson's, "On extending the Bradley-Terry model to accommodate ties in paired comparison experiments",
//! *Journal of the American Statistical Association* 65 (1970), 317-328. With strengths β in log-odds and d the left one's
//! strength less the right one's, the odds of "left", "right" and "no difference" are as e^(d/2), e^(−d/2) and ν. It was
//! preferred to the model of Rao and Kupper (1967), in which a tie is a difference below a threshold, because here (a) the
//! odds of left against right are those of the plain model whatever the ties, (b) in a balanced trial the order of strengths
//! is the order of picks won plus half of the ties, which anybody can check by hand, and (c) the log-likelihood is concave,
//! so that Newton's method finds its one maximum from anywhere. A preference for one side, whatever is shown there, adds
//! δ to d (Davidson and Beaver, *Biometrics* 33 (1977), 693-702).
//!
//! Intervals are by profile likelihood: an end is where the log-likelihood, the other unknowns fitted anew, has fallen by
//! half of chi-square's 95 % point. Unlike the observed information they stay right when an item hardly ever loses.

mod agreement;
mod check;
mod fit;
mod interval;
mod model;
mod more;
mod schedule;

pub use agreement::{Agreement, AgreementError, Meeting, MeetingAnswer, Reading, agreement};
pub use check::{FitCheck, check_fit};
pub use fit::{FitError, FitOptions, FitRemark, PairedFit, Prior, fit};
pub use interval::Interval;
pub use more::{PairState, SettleOptions, Settled, next_pair, picks_to_settle, settle};
pub use schedule::{Balance, balance, place};

/// What the person said of two pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Seen {
    /// The left one is better.
    Left,
    /// The right one is better.
    Right,
    /// Neither is.
    NoDifference,
}

/// One pick: which items were shown, and what was said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Pick {
    /// Number of the item shown on the left, from 0.
    pub left: usize,
    /// Number of the item shown on the right.
    pub right: usize,
    /// What was said.
    pub seen: Seen,
}

/// How often a pair was shown in one order, and with which answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Left better.
    pub left: u32,
    /// Right better.
    pub right: u32,
    /// No difference.
    pub ties: u32,
}

impl Tally {
    /// All of them.
    pub fn total(&self) -> u32 {
        self.left + self.right + self.ties
    }

    pub(crate) fn add(&mut self, seen: Seen) {
        match seen {
            Seen::Left => self.left += 1,
            Seen::Right => self.right += 1,
            Seen::NoDifference => self.ties += 1,
        }
    }
}
