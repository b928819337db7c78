//! Calibration against worked closed forms, ray matrices, simulation with known truth, and the laws of least squares.
//! The fit itself meets published sets beside its code.

mod common;

mod close_up;
mod laws;
mod outliers;
mod pupil;
mod refusals;
mod remarks;
mod simulation;
mod worked;
mod worth;
