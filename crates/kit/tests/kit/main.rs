//! The kit as a photographer and a script see it: text in, set-ups out. Every figure that is expected here was worked
//! out by hand from the written rules of how parts are placed, never read off the program.

mod common;

mod absurd;
mod any_stack;
mod apertures;
mod every_stack;
mod example;
mod fields;
mod films;
mod form;
mod limits;
mod marks;
mod mutations;
mod named_failures;
mod obstacles;
mod placement;
mod reach;
mod reach_wanted;
mod refused_kits;
mod refused_setups;
mod remedies;
mod round_trip;
mod steep;
mod traced;
mod trade;
mod true_remedies;
mod warnings;
