//! What is measured on pictures whose truth is known.

mod align;
mod align_picture;
mod alignment;
mod common;
mod contrast;
mod curvature;
mod edge_figures;
mod edge_intervals;
mod edge_refusals;
mod edges;
mod evenness;
mod exposed;
mod found;
mod fringing;
mod geometry;
mod grain;
mod known_values;
mod ramp;
mod ruler_mistakes;
mod rulers;
mod second_opinion;
