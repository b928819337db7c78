//! Pictures whose truth is known.
//!
//! Two things live here. [`edge`] draws one straight edge from its closed form: a step through a known transfer
//! function, so that whatever measures it can be told what it should have found. [`render`](fn@render) draws a whole
//! frame: a [`Scene`] of shapes in millimetres on the subject, photographed by a [`Capture`] with known blur, colour
//! fringing, glare, fall-off and grain, and scanned to 16 bits a colour. [`places`](Capture::places) says where on that
//! scan the edges, rulers and grey patches lie, and what is true of each.
//!
//! Everything is linear light until the very last step. There are no files here, no clock and no threads: the same
//! scene and settings give the same picture on every machine and in every order of calls.
//!
//! Coordinates: subject millimetres have their origin in the middle of the field, x to the right and y downwards as
//! the picture is seen. Film millimetres likewise, from the middle of the frame. Pixels count from the outer corner of
//! the top-left pixel, whose centre is (0.5, 0.5). Turns are clockwise as seen.

mod bands;
mod blur;
mod canvas;
mod capture;
mod card;
pub mod edge;
mod finish;
mod gauss;
mod geometry;
mod grain;
mod noise;
mod outline;
mod places;
mod point_spread;
mod raster;
mod relief;
mod render;
mod settings;
mod shade;
mod shape;
mod specimen;
mod target_card;
mod truth;

pub use capture::Capture;
pub use card::{CardError, Laid, test_card};
pub use noise::Noise;
pub use outline::{Outline, Raised};
pub use places::{EdgePlace, PatchPlace, Places, RulerPlace};
pub use point_spread::{PointSpread, PointSpreadError, PointSpreads};
pub use render::{Drawing, Rendered, render, render_rows};
pub use settings::{
    Blur, CaptureError, Channel, Focus, GlareSpot, Grain, LateralColour, Negative, Perspective, Settings,
};
pub use shade::Paint;
pub use shape::{Feature, Point, Reflectance, Scene, Shape, Side, SlopingStrip};
pub use specimen::{Specimen, specimen};
pub use target_card::{PaintError, Placement, TargetPaint, target_scene};
pub use truth::{BestFocus, TrueCode, TrueEdge, TrueRamp, Truth};
