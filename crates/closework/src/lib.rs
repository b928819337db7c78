//! Closework as a library: what the binary's command line and its tests share.

pub mod bench;
pub mod calibrating;
pub mod card;
pub mod cli;
pub mod demo;
pub mod documents;
pub mod exposing;
pub mod pieces;
pub mod planner;
pub mod pocket;
pub mod records;
pub mod report;
pub mod test_roll;
pub mod trial;
pub mod verdict;
pub mod web;
pub mod whole_frame;
