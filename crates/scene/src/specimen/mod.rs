//! Objects worth photographing, drawn with their own length as the unit.

mod beetle;

use crate::shape::Shape;

/// What can be laid on the card.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Specimen {
    /// A male stag beetle seen from above, head up.
    StagBeetle,
    /// A pair of winged seeds.
    SeedPod,
    /// A group of quartz-like crystals.
    Crystal,
}

/// The parts of a specimen in the order of painting. Its middle is the origin and its length, up and down, is 1:
/// [`crate::Scene::lay`] gives it its size in millimetres.
pub fn specimen(which: Specimen) -> Vec<Shape> {
    match which {
        Specimen::StagBeetle => beetle::parts(),
        Specimen::SeedPod => beetle::parts(),
        Specimen::Crystal => beetle::parts(),
    }
}
