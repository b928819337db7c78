//! Frames drawn from geometry, against closed forms and their own statement of truth.

mod common;
mod frame;
mod geometry;
mod measured;
mod point_spread;
mod target;
mod truth;
