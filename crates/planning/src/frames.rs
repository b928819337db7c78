//! The same picture on other film.

use crate::brief::{FRAME_MM, MAGNIFICATION, OutOfRange, SUBJECT_MM, within};

/// How a subject fills a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameFill {
    /// The frame as it was given, mm.
    pub frame_mm: [f64; 2],
    /// The share of the frame's short side that the subject's short side takes, and of the long side the long one's: a
    /// camera can be turned. Over 1 it does not fit.
    pub sides: [f64; 2],
}

impl FrameFill {
    /// Whether all of the subject is in the picture; rounding does not cut anything off.
    pub fn fits(&self) -> bool {
        self.tighter() <= 1.0 + 1e-9
    }

    /// The share that it takes of the tighter side.
    pub fn tighter(&self) -> f64 {
        self.sides[0].max(self.sides[1])
    }

    /// The share of the film that it takes; over 1 possible when it does not fit.
    pub fn area(&self) -> f64 {
        self.sides[0] * self.sides[1]
    }
}

/// How the same subject (its two sides, mm) at the same magnification fills different frames (mm).
pub fn compare_frames(
    subject_mm: [f64; 2],
    magnification: f64,
    frames_mm: &[[f64; 2]],
) -> Result<Vec<FrameFill>, OutOfRange> {
    within("the magnification", magnification, MAGNIFICATION, "")?;
    for side in subject_mm {
        within("a side of the subject", side, SUBJECT_MM, "mm")?;
    }
    let ordered = |[p, q]: [f64; 2]| [p.min(q), p.max(q)];
    let [short, long] = ordered(subject_mm).map(|side| side * magnification);
    let fill = |&frame_mm: &[f64; 2]| {
        for side in frame_mm {
            within("a side of the frame", side, FRAME_MM, "mm")?;
        }
        let frame = ordered(frame_mm);
        Ok(FrameFill { frame_mm, sides: [short / frame[0], long / frame[1]] })
    };
    frames_mm.iter().map(fill).collect()
}
