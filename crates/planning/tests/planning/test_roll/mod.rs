//! Test rolls.

mod brackets;
mod meeting;
mod order;
mod plans;
mod power;
mod stand;
mod stops;
