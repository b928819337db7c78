//! The shipped data against its sources, the laws as properties, and what a data file or a test of one's own may not hold.

mod laws;
mod published;
mod refused;
