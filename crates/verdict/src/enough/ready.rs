//! Uses to start from. Every limit is there to be changed.

use super::requirement::{Limit, Quantity, Requirement, Source, Use};

/// From frame to picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PictureSize {
    /// The longer side of the image on film, mm.
    pub frame_mm: f64,
}

/// Contrast at which a structure counts as resolved with ease (common practice, no source): the limits below are stated at it.
const CONTRAST: f64 = 0.3;

/// Uses of a small collection that photographs beetles, seeds and minerals, for a frame of this size: a picture on a screen, a plate in
/// a journal, a print in the hand, a print on the wall, and a picture to measure in.
pub fn ready_made(size: PictureSize) -> Vec<Use> {
    vec![screen(size), plate(size), hand_print(size), wall_print(size), measuring(size)]
}

fn screen(PictureSize { frame_mm }: PictureSize) -> Use {
    let requirements = vec![
        detail(2000.0 / 2.0 / frame_mm, 0.6, "2000 pixels along the frame: a line pair takes two"),
        needs(Quantity::Fringing, frame_mm * 1000.0 / 2000.0, 0.9, "one pixel of 2000 along the frame"),
        needs(Quantity::Unevenness, 1.0, 1.0, "more is seen as a dark corner on a plain ground"),
    ];
    Use { id: "screen".into(), requirements }
}

fn plate(PictureSize { frame_mm }: PictureSize) -> Use {
    let requirements = vec![
        detail(
            5.9 * 180.0 / frame_mm,
            0.7,
            "a page 180 mm wide printed from 300 pixels to the inch: 5.9 lp/mm on paper",
        ),
        needs(Quantity::Fringing, 85.0 * frame_mm / 180.0, 0.9, "one pixel of 300 to the inch, 85 µm on paper"),
        needs(Quantity::Glare, 0.03, 1.0, "black must print as black beside white: five stops"),
        needs(Quantity::Unevenness, 0.5, 1.0, "half a stop shows on a white ground"),
    ];
    Use { id: "plate".into(), requirements }
}

fn hand_print(PictureSize { frame_mm }: PictureSize) -> Use {
    let requirements = vec![
        detail(5.0 * 300.0 / frame_mm, 0.7, "a print of 300 mm held at 250 mm: 5 lp/mm on paper, 0.2 mm a pair"),
        needs(
            Quantity::Fringing,
            100.0 * frame_mm / 300.0,
            0.9,
            "0.1 mm of colour beside an edge on paper is seen at 250 mm",
        ),
        needs(Quantity::Glare, 0.05, 1.0, "shadows stay open down to four stops below white"),
        needs(Quantity::Unevenness, 1.0, 1.0, "more is seen as a dark corner"),
    ];
    Use { id: "hand-print".into(), requirements }
}

fn wall_print(PictureSize { frame_mm }: PictureSize) -> Use {
    let requirements = vec![
        detail(
            2.5 * 600.0 / frame_mm,
            0.8,
            "a print of 600 mm seen from 500 mm: half as fine as in the hand, 2.5 lp/mm",
        ),
        needs(Quantity::Fringing, 200.0 * frame_mm / 600.0, 0.9, "0.2 mm of colour on paper is seen at 500 mm"),
        needs(Quantity::Glare, 0.05, 1.0, "shadows stay open down to four stops below white"),
    ];
    Use { id: "wall-print".into(), requirements }
}

fn measuring(PictureSize { frame_mm }: PictureSize) -> Use {
    let requirements = vec![
        detail(1000.0 / frame_mm, 0.9, "a length told to a thousandth of the frame"),
        needs(Quantity::Fringing, frame_mm, 0.9, "a thousandth of the frame: colour must not move an edge further"),
        needs(Quantity::WorkingDistance, 40.0, 0.0, "room for a ruler and a lamp beside the subject"),
    ];
    Use { id: "measuring".into(), requirements }
}

fn detail(lp_mm: f64, out_to: f64, reason: &str) -> Requirement {
    needs(Quantity::Resolution { contrast: CONTRAST }, lp_mm, out_to, reason)
}

fn needs(quantity: Quantity, value: f64, out_to: f64, reason: &str) -> Requirement {
    Requirement {
        quantity,
        bound: quantity.usual_bound(),
        limit: Limit { value, plus_minus: 0.0 },
        out_to,
        reason: reason.into(),
        source: Source::CommonPractice,
    }
}
