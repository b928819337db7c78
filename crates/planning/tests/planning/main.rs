//! Plans against worked figures, printed tables and the laws that hold for every job and every set-up.

mod common;

mod apertures;
mod choices;
mod front;
mod needs;
mod test_roll;
mod tilts;
