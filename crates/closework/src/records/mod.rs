//! What goes out of the notebook beside pictures and tables, and what comes in from paper.
//!
//! * [`Sidecar`]: what is known of one scan as an XMP packet; [`beside`] writes them beside the scans, on request alone and
//!   never over a file that is not ours as we left it; [`archive`] packs them into one file.
//! * [`table`]: every frame of a job as a table (CSV, RFC 4180), one row for each frame and scan.
//! * [`paper`]: the same table read back, from whatever program wrote it, for people who log on paper.
//!
//! [`Known`] holds what both say, read from the notebook once.

pub mod archive;
pub mod beside;
mod cells;
mod facts;
mod mark;
pub mod paper;
mod rational;
mod sidecar;
pub mod table;
#[cfg(test)]
mod tests;

pub use facts::{Known, NotFound, unique_titles};
pub use mark::{Whose, whose};
pub use rational::Rational;
pub use sidecar::Sidecar;
