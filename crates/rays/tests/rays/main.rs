//! Rays through published lenses, against what their authors printed and what theory demands.

mod glass_database;
mod laws;
mod paths;
mod pencils;
mod published;
mod refusals;
mod set_ups;
mod spreads;
mod systems;
mod tables;
mod trial;
