//! The optical model against published examples, worked closed forms, a traced patent lens and the laws of paraxial
//! optics. Nothing here is derived from the crate's own code: the tracer in `common` knows only heights and slopes.

mod common;

mod diffraction;
mod laws;
mod linearity;
mod monte_carlo;
mod patent_lens;
mod prescriptions;
mod published;
mod uncertainty;
mod worked;
