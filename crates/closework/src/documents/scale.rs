//! A measured ruler: printed by `measure scale --json` and kept in the notebook.

use measure::ScaleReport;
use planes::Region;
use serde::{Deserialize, Serialize};

/// A measured ruler.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScaleDocument {
    /// Pixels from mark to mark, square to the marks.
    pub px_per_tick: f64,
    /// Pixels that one millimetre of the subject takes.
    pub px_per_mm: f64,
    /// Half-width of the 95 % interval of `px_per_mm`.
    pub plus_minus: f64,
    /// Marks that took part.
    pub ticks: usize,
    /// Size on film over size of the subject, when the pitch is known.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub magnification: Option<f64>,
    /// Half-width of its 95 % interval; the pitch is taken as exact.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub magnification_plus_minus: Option<f64>,
    /// Angle between the drawn line and the ruler, degrees; absent when the marks are too short to show one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub obliquity_deg: Option<f64>,
    /// How numbers became light.
    #[serde(default)]
    pub transfer: String,
    /// Reservations, as sentences.
    #[serde(default)]
    pub warnings: Vec<String>,
    /// Where the marks cross the line, as points of the whole picture, pixels from its outer top left corner.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub ticks_px: Vec<[f64; 2]>,
}

impl ScaleDocument {
    /// The document of a report on a region whose top left corner lies at `corner`; `transfer` says how numbers became
    /// light, `about_file` what the file itself gave reason to say.
    pub fn of(report: &ScaleReport, corner: (u32, u32), transfer: String, about_file: Vec<String>) -> Self {
        let in_picture = |&(x, y): &(f64, f64)| [x + f64::from(corner.0), y + f64::from(corner.1)];
        Self {
            px_per_tick: report.px_per_tick,
            px_per_mm: report.px_per_mm,
            plus_minus: report.plus_minus,
            ticks: report.ticks,
            magnification: report.magnification,
            magnification_plus_minus: report.magnification_plus_minus,
            obliquity_deg: report.obliquity_deg,
            transfer,
            warnings: about_file.into_iter().chain(report.remarks.iter().map(ToString::to_string)).collect(),
            ticks_px: report.places.iter().map(in_picture).collect(),
        }
    }

    /// Magnification and half-width at a pitch in µm: a ruler outlives a corrected pitch.
    pub fn magnification_at(&self, pitch_um: f64) -> (f64, f64) {
        (self.px_per_mm * pitch_um / 1000.0, self.plus_minus * pitch_um / 1000.0)
    }
}

/// Room beside the line: a share of its length, for the marks' own reach, and pixels for short lines.
const ROOM_SHARE: f64 = 0.25;
const LEAST_ROOM_PX: f64 = 136.0;

/// The part of a picture that a line's ruler lies in: the line with room around it, cut at the picture. `None` when an
/// end lies outside the picture.
pub fn around_line(from: (f64, f64), to: (f64, f64), picture: (u32, u32)) -> Option<Region> {
    let (width, height) = (f64::from(picture.0), f64::from(picture.1));
    let inside = |(x, y): (f64, f64)| (0.0..=width).contains(&x) && (0.0..=height).contains(&y);
    if !inside(from) || !inside(to) {
        return None;
    }
    let room = LEAST_ROOM_PX.max(ROOM_SHARE * (to.0 - from.0).hypot(to.1 - from.1));
    let span = |a: f64, b: f64, end: f64| {
        let (first, last) = ((a.min(b) - room).floor().max(0.0), (a.max(b) + room).ceil().min(end));
        (first as u32, (last - first) as u32)
    };
    let ((x, width), (y, height)) = (span(from.0, to.0, width), span(from.1, to.1, height));
    Some(Region { x, y, width, height })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_region_holds_the_line_with_room_and_stays_in_the_picture() {
        let region = around_line((100.0, 500.0), (900.0, 480.5), (1000, 510)).expect("inside");
        // A quarter of the line's 800.2 pixels: 200.06 on every side, where the picture has them.
        assert_eq!(region, Region { x: 0, y: 280, width: 1000, height: 230 });
        assert_eq!(around_line((100.0, 500.0), (1000.5, 500.0), (1000, 510)), None);
        assert_eq!(around_line((-0.5, 500.0), (900.0, 500.0), (1000, 510)), None);
        assert_eq!(around_line((f64::NAN, 500.0), (900.0, 500.0), (1000, 510)), None);
    }

    #[test]
    fn a_ruler_outlives_a_corrected_pitch() {
        let kept = r#"{"px_per_tick": 50.0, "px_per_mm": 50.0, "plus_minus": 0.5, "ticks": 40}"#;
        let document: ScaleDocument = serde_json::from_str(kept).expect("document");
        // 50 pixels of 8 µm are 0.4 mm on film for each mm of the subject.
        let (m, plus_minus) = document.magnification_at(8.0);
        testkit::assert_close!(m, 0.4, relative = 1e-12);
        testkit::assert_close!(plus_minus, 0.004, relative = 1e-12);
    }
}
