//! How a scan is laid over others: kept in the notebook, one document a scan.

use serde::{Deserialize, Serialize};

use super::frame::Measured;

/// Everything that is known of one scan's place.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PlacingDocument {
    /// Two details of the subject as a person picked them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub points: Option<PointsDocument>,
    /// Where it lies on other scans by what the pictures show, the newest for each.
    pub pictures: Vec<LaidDocument>,
    /// Which program in which version wrote it.
    pub made_by: String,
}

/// Two picked details.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointsDocument {
    /// The same in all scans in which the same two details were picked.
    pub set: String,
    /// Their places, pixels.
    pub at_px: [[f64; 2]; 2],
    /// This scan shows the subject mirrored against the first of its set.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub mirrored: bool,
}

/// This scan laid on another by what both show.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LaidDocument {
    /// The other scan's number.
    pub on: i64,
    /// Pixels of this scan for one of the other.
    pub scale: Measured,
    /// This scan's subject is turned by this against the other's, degrees, clockwise.
    pub turn_deg: Measured,
    /// Where the other's corner (0, 0) comes to lie in this one, pixels.
    pub origin_px: [f64; 2],
    /// Half-width of a place in the middle, pixels of this scan.
    pub place_plus_minus_px: f64,
    /// One was scanned from the other side of the film.
    #[serde(skip_serializing_if = "std::ops::Not::not", default)]
    pub mirrored: bool,
    /// Correlation of their detail, −1 to 1.
    pub likeness: f64,
    /// Share of the other scan that this one shows.
    pub shared: f64,
    /// Reservations, as sentences.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub warnings: Vec<String>,
}
