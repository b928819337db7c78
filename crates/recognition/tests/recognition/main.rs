//! Cards found in pictures, however they lie.

mod cards;
mod common;
mod curved;
mod drawn_elsewhere;
mod laid;
mod refusals;
