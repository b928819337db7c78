//! Colour fringing: how far red and blue lie from green, on one edge and over the whole frame.

mod field;
mod zone;

pub use field::{
    Arrow, ChannelFringing, FieldValue, FringeSample, FringingError, FringingOptions, FringingRemark, FringingReport,
    fringing,
};
pub use zone::{EdgeFringe, EdgeFringeError, EdgeFringeOptions, EdgeFringeRemark, bright_normal_deg, edge_fringe};
