//! The notebook as its users see it: what goes in comes out, what must not be is refused, and the file is safe.

mod files;
mod laws;
mod log;
mod model;
mod operations;
mod property;
mod records;
mod refusals;
mod samples;
mod together;
mod verdict;
