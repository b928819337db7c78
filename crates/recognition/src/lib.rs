//! The printed target card found in a picture, squared up and measured all at once.

mod codes;
mod frame;

pub use frame::{Frame, Held};
