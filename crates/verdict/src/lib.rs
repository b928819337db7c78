//! What a job needs, and which measured set-ups meet it.
//!
//! A print shows detail down to its *criterion*, a number of line pairs per millimetre of paper. Enlarged back onto the
//! film that is the fineness the negative must hold, and a set-up serves when its measured contrast at that fineness is
//! what the job asks for. Both the need and the measurement carry an uncertainty, so the answer is a probability: yes
//! from 95 %, no up to 5 %, undecided between.
//!
//! [`paired`] turns picks made with the names hidden into a scale with intervals. [`enough`] judges a set-up by everything that a
//! use asks for at once. [`cover`] finds the cheapest parts that serve every use, and [`decision`] puts it all together, with the
//! share of worlds in which the same comes out.
//!
//! Absent on purpose: how anything was measured, names of gear, pages, a clock. Chance comes in as a seed.

pub mod cover;
pub mod decision;
pub mod enough;
mod margin;
mod need;
mod numeric;
pub mod paired;

pub use need::{Answer, Need, seen_from_lp_mm};
pub use numeric::Chance;
