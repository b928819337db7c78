//! Exposures against published tables and closed forms.

mod brackets;
mod exposure;
mod films;
mod flashes;
mod movements;
