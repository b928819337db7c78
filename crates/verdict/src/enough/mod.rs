//! Good enough, for what: a use states its requirements, and a set-up's figures meet them with a probability.
//!
//! Every figure and every limit is normal with its own doubt and with doubts that it shares with others (the scale's
//! uncertainty moves every resolution alike). All requirements of a use must be met at once; the probability of that is the
//! multivariate normal one, shared doubts counted as shared. Measured and predicted figures are two types: where anything was
//! measured of a requirement the measurements alone decide, otherwise the predictions alone, and the finding says which.

mod figure;
mod ready;
mod requirement;
mod rule;

pub use figure::{Cause, Dossier, Figure, FigureError, Measured, Predicted, Surprise};
pub use ready::{PictureSize, ready_made};
pub use requirement::{Bound, Limit, Quantity, Requirement, Source, Use, UseError};
pub use rule::{Basis, Decider, Doubt, Finding, Missing, RuleError, Ruling, WhyMissing, deciders, rule};
pub(crate) use rule::{Doubts, rule_with};
