//! Small numerical tools: distributions, symmetric matrices, a repeatable source of chance.

mod chance;
mod distributions;
mod matrix;

pub use chance::Chance;
pub(crate) use distributions::{
    chi_square_above, normal_below, normal_below_quick, normal_quantile, normal_quantile_quick,
};
pub(crate) use matrix::Symmetric;
